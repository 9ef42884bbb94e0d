"""Where is a decoded master kept, and when is it thrown away?"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import struct
import tempfile
from collections import Counter
from pathlib import Path
from threading import Lock
from time import time
from typing import TYPE_CHECKING, Final

import numpy as np
import platformdirs
from numpy.lib import format as npy

from printplan.errors import MasterError

if TYPE_CHECKING:
    from collections.abc import Iterable
    from typing import BinaryIO

    from numpy.typing import NDArray

CACHE_LIMIT_BYTES: Final = 20 * 10**9
"""Bytes of copies kept. Chosen: some sixty 16-bit masters of 50 million pixels."""

_ABANDONED_S = 24 * 3600
"""Age at which a half-written copy is taken for abandoned. Chosen."""

_NAME = re.compile(r"master-[0-9a-f]{32}\.npy")
_HALF_NAME = re.compile(r"master-.*\.part")
_SEAL = struct.Struct("<8sQ")
_COMPLETE = b"complete"

_in_use: Counter[Path] = Counter()
_in_use_lock = Lock()


class WorkingCopy:
    """
    The decoded pixels of one master, mapped from the cache folder.

    Attributes
    ----------
    planes : ndarray, shape (channels, rows, columns)
        Read-only.
    clipped_count : int
        Stored numbers that were clipped when the copy was made.
    """

    def __init__(
        self, path: Path, planes: NDArray[np.generic], clipped_count: int
    ) -> None:
        self.planes = planes
        self.clipped_count = clipped_count
        self._path: Path | None = path

    def close(self) -> None:
        """Let the copy be thrown away when room is needed."""
        with _in_use_lock:
            if self._path is not None:
                _in_use[self._path] -= 1
            self._path = None


def default_cache_folder() -> Path:
    """
    The folder of working copies, if none is named.

    Returns
    -------
    Path
        ``PRINTPLAN_CACHE`` of the environment, or else the user's own cache folder.
    """
    named = os.environ.get("PRINTPLAN_CACHE", "")
    return Path(named) if named else platformdirs.user_cache_path("printplan")


def copy_path(folder: Path, recipe: str) -> Path:
    """
    Name of the copy made by a recipe.

    Parameters
    ----------
    recipe : str
        All that the pixels depend on: the master's hash first of all.
    """
    key = hashlib.sha256(recipe.encode()).hexdigest()[:32]
    return folder / f"master-{key}.npy"


def open_copy(
    path: Path, shape: tuple[int, int, int], dtype: np.dtype[np.generic]
) -> WorkingCopy | None:
    """
    An earlier copy, if it is there and whole.

    Parameters
    ----------
    shape : tuple of int
        Channels, rows and columns that it must have.

    Returns
    -------
    WorkingCopy or None
        None if there is no copy, or one that was cut short or damaged in its header.
    """
    with _in_use_lock:
        _in_use[path] += 1
    copy = None
    try:
        copy = _mapped(path, shape, dtype)
    finally:
        if copy is None:
            with _in_use_lock:
                _in_use[path] -= 1
    return copy


def write_copy(
    path: Path,
    shape: tuple[int, int, int],
    dtype: np.dtype[np.generic],
    bands: Iterable[tuple[NDArray[np.generic], int]],
) -> WorkingCopy:
    """
    Make a copy, whole or not at all, and open it.

    Parameters
    ----------
    shape : tuple of int
        Channels, rows and columns.
    bands : iterable of (ndarray, int)
        Planes of some rows, from the top, and how many stored numbers were clipped.

    Raises
    ------
    MasterError
        If the folder cannot be written or is full.
    """
    needed = int(np.prod(shape, dtype=np.int64)) * dtype.itemsize
    half: Path | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        descriptor, name = tempfile.mkstemp(".part", "master-", path.parent)
        half = Path(name)
        with os.fdopen(descriptor, "wb") as stream:
            _write(stream, shape, dtype, bands)
        # Only now, so that a damaged master costs no other one its copy.
        make_room(path.parent, needed)
        with contextlib.suppress(PermissionError):
            # Windows refuses while another session reads the same copy: keep that.
            half.replace(path)
    except OSError as error:
        raise MasterError(
            f"The decoded master ({needed / 1e6:.0f} MB) cannot be kept in "
            f"{path.parent} ({error.strerror or error}).",
            remedy="Free space there, or set PRINTPLAN_CACHE to a folder on another "
            "disk.",
        ) from error
    finally:
        if half is not None:
            half.unlink(missing_ok=True)
    copy = open_copy(path, shape, dtype)
    if copy is None:
        raise MasterError(
            f"The decoded master {path} was changed or removed while it was made.",
            remedy="Open the master again, or set PRINTPLAN_CACHE to a folder of "
            "your own.",
        )
    return copy


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
                kept.append((facts.st_mtime, facts.st_size, file))
            elif (
                _HALF_NAME.fullmatch(file.name)
                and time() - facts.st_mtime > _ABANDONED_S
            ):
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


def _write(
    stream: BinaryIO,
    shape: tuple[int, int, int],
    dtype: np.dtype[np.generic],
    bands: Iterable[tuple[NDArray[np.generic], int]],
) -> None:
    """Write header, planes and seal; nothing is mapped, so a full disk is an error."""
    channels, rows, columns = shape
    npy.write_array_header_1_0(
        stream,
        {"descr": npy.dtype_to_descr(dtype), "fortran_order": False, "shape": shape},
    )
    start, row_bytes = stream.tell(), columns * dtype.itemsize
    top, clipped_count = 0, 0
    for planes, clipped in bands:
        for channel in range(channels):
            stream.seek(start + (channel * rows + top) * row_bytes)
            stream.write(np.ascontiguousarray(planes[channel], dtype).data)
        top += planes.shape[1]
        clipped_count += clipped
    stream.seek(start + channels * rows * row_bytes)
    stream.write(_SEAL.pack(_COMPLETE, clipped_count))
    stream.flush()
    os.fsync(stream.fileno())


def _mapped(
    path: Path, shape: tuple[int, int, int], dtype: np.dtype[np.generic]
) -> WorkingCopy | None:
    """Map a copy, or None if it is not what it must be."""
    try:
        stream = path.open("rb")
    except OSError:  # none yet, or not to be read: it is made anew
        return None
    with stream:
        try:
            version = npy.read_magic(stream)
            found = npy.read_array_header_1_0(stream)
        except (ValueError, EOFError):
            return None
        start = stream.tell()
        stream.seek(start + int(np.prod(shape, dtype=np.int64)) * dtype.itemsize)
        seal = stream.read()
        if version != (1, 0) or found != (shape, False, dtype):
            return None
        if len(seal) != _SEAL.size or not seal.startswith(_COMPLETE):
            return None
        with contextlib.suppress(PermissionError):  # a cache that is only readable
            os.utime(path)
        planes = np.memmap(stream, dtype, "r", start, shape)
    return WorkingCopy(path, planes, int(_SEAL.unpack(seal)[1]))
