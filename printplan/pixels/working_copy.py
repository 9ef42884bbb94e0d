"""Where is a decoded master kept, and when is it thrown away?"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
from collections import Counter
from pathlib import Path
from threading import Lock
from time import time, time_ns
from typing import TYPE_CHECKING, Final

import platformdirs

from printplan.errors import MasterError
from printplan.free_name import is_left_part, part_path
from printplan.own_folders import own_file, own_folder
from printplan.pixels.sealed_pixels import (
    DamagedError,
    Recipe,
    SealedPixels,
    recipe_in,
    write_sealed,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from io import BufferedReader

    from printplan.pixels.sealed_pixels import Decode

CACHE_LIMIT_BYTES: Final = 20 * 10**9
"""Bytes of copies kept. Chosen: some sixty 16-bit masters of 50 million pixels."""

_ABANDONED_S = 24 * 3600
"""Age at which a half-written copy is taken for abandoned. Chosen."""

_NAME = re.compile(r"master-[0-9a-f]{32}\.(pixels|planes|npy)")  # now, and before
_HALF_NAME = re.compile(r"master-.*\.part")  # of before

_in_use: Counter[Path] = Counter()
_in_use_lock = Lock()
_seen_folders: set[Path] = set()


class WorkingCopy:
    """
    The decoded pixels of one master in the cache folder.

    Attributes
    ----------
    pixels : SealedPixels
    """

    def __init__(
        self, path: Path, stream: BufferedReader, pixels: SealedPixels
    ) -> None:
        self.pixels = pixels
        self._path: Path | None = path
        self._stream = stream

    def close(self) -> None:
        """Let the copy be thrown away when room is needed."""
        with _in_use_lock:
            if self._path is not None:
                _in_use[self._path] -= 1
            self._path = None
        self._stream.close()


def default_cache_folder() -> Path:
    """
    The folder of working copies, if none is named.

    Returns
    -------
    Path
        ``PRINTPLAN_CACHE`` of the environment, or else the user's own cache folder.
    """
    named = os.environ.get("PRINTPLAN_CACHE", "")
    return Path(named) if named else own_folder(platformdirs.user_cache_path)


def copy_path(folder: Path, recipe: Recipe) -> Path:
    """Name of the copy made by a recipe."""
    key = hashlib.sha256(recipe.text.encode()).hexdigest()[:32]
    return folder / f"master-{key}.pixels"


def open_copy(path: Path, recipe: Recipe) -> WorkingCopy | None:
    """
    An earlier copy, if it is there and its seal is right.

    Returns
    -------
    WorkingCopy or None
        None if there is no copy, or one that others made, cut short or exchanged.
    """
    with _in_use_lock:
        _in_use[path] += 1
        is_first = path.parent not in _seen_folders
        _seen_folders.add(path.parent)
    if is_first:
        clear_halves(path.parent)
    copy = None
    try:
        stream = own_file(path)
        if stream is not None:
            copy = _sealed(path, stream, recipe)
    finally:
        if copy is None:
            with _in_use_lock:
                _in_use[path] -= 1
    return copy


def make_copy(path: Path, recipe: Recipe, write: Callable[[Path], None]) -> WorkingCopy:
    """
    Make a copy, whole or not at all, and open it.

    Parameters
    ----------
    write : callable
        Writes it whole into a new file of that name: see `write_copy`.

    Raises
    ------
    MasterError
        If the folder cannot be written or is full.
    """
    half = part_path(path)
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        write(half)
        # Only now, so that a damaged master costs no other one its copy.
        make_room(path.parent, recipe.file_bytes)
        with contextlib.suppress(PermissionError):
            # Windows refuses while another session reads the same copy: keep that.
            half.replace(path)
    except OSError as error:
        raise _not_kept(path.parent, recipe, error) from error
    finally:
        with contextlib.suppress(OSError):
            half.unlink(missing_ok=True)
    copy = open_copy(path, recipe)
    if copy is None:
        raise MasterError(
            f"The decoded master {path} was changed or removed while it was made.",
            remedy="Open the master again, or set PRINTPLAN_CACHE to a folder of "
            "your own.",
        )
    return copy


def write_copy(half: Path, recipe: Recipe, decode: Decode) -> None:
    """
    Write decoded pixels into a new file.

    Parameters
    ----------
    decode : callable
        See `write_sealed`.

    Raises
    ------
    MasterError
        If the folder cannot be written or is full.
    """
    try:
        with half.open("x+b") as stream:
            write_sealed(stream, recipe, decode)
    except OSError as error:
        raise _not_kept(half.parent, recipe, error) from error


def _not_kept(folder: Path, recipe: Recipe, error: OSError) -> MasterError:
    return MasterError(
        f"The decoded master ({recipe.file_bytes / 1e6:.0f} MB) cannot be kept in "
        f"{folder} ({error.strerror or error}).",
        remedy="Free space there, or set PRINTPLAN_CACHE to a folder on another disk.",
    )


def make_room(
    folder: Path, needed_bytes: int, limit_bytes: int = CACHE_LIMIT_BYTES
) -> None:
    """
    Throw away the copies longest unused until a new one fits the limit.

    Parameters
    ----------
    needed_bytes : int
        Size of the copy to come.

    Notes
    -----
    Only files named as copies are touched, and none that this process has open.
    """
    kept: list[tuple[float, int, Path]] = []
    for file in folder.iterdir():
        with contextlib.suppress(FileNotFoundError):  # another session was quicker
            facts = file.stat()
            if _NAME.fullmatch(file.name):
                kept.append((facts.st_atime, facts.st_size, file))
            elif _is_half(file.name, time() - facts.st_mtime):
                file.unlink()
    total = sum(size for _, size, _ in kept) + needed_bytes
    for _, size, file in sorted(kept):
        if total <= limit_bytes:
            return
        with _in_use_lock:
            if _in_use[file] > 0:
                continue
            # Windows keeps a file that another session has open.
            with contextlib.suppress(PermissionError):
                file.unlink(missing_ok=True)
                total -= size


def clear_halves(folder: Path) -> None:
    """Remove what was left by processes that ended while they made a copy."""
    with contextlib.suppress(OSError):
        for file in folder.iterdir():
            with contextlib.suppress(OSError):
                if _is_half(file.name, time() - file.lstat().st_mtime):
                    file.unlink()


def copies_in(folder: Path) -> Iterator[tuple[Path, str]]:
    """
    Every copy in a folder, read whole.

    Yields
    ------
    tuple of Path and str
        The copy, and what is wrong with it; empty if nothing is.
    """
    names = sorted(folder.glob("master-*.pixels")) if folder.is_dir() else []
    for path in names:
        if _NAME.fullmatch(path.name):
            yield path, _fault_of(path)


def _fault_of(path: Path) -> str:
    stream = own_file(path)
    if stream is None:
        return "It is no file of this account's."
    with stream:
        try:
            recipe = recipe_in(stream)
            if copy_path(path.parent, recipe) != path:
                return "It is the copy of another master."
            SealedPixels(stream, recipe).check()
        except DamagedError as error:
            return f"It is damaged ({error})."
    return ""


def _is_half(name: str, age_s: float) -> bool:
    """Whether a file is a half-made copy that nobody finishes."""
    of_before = _HALF_NAME.fullmatch(name) is not None and age_s > _ABANDONED_S
    return of_before or is_left_part(name, age_s)


def _sealed(path: Path, stream: BufferedReader, recipe: Recipe) -> WorkingCopy | None:
    try:
        pixels = SealedPixels(stream, recipe)
    except DamagedError:
        stream.close()
        return None
    with contextlib.suppress(OSError):  # a cache that is only readable
        changed_ns = os.fstat(stream.fileno()).st_mtime_ns
        os.utime(path, ns=(time_ns(), changed_ns))
    return WorkingCopy(path, stream, pixels)
