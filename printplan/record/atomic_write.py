"""How is a file written whole or not at all, and changed in place?"""

from __future__ import annotations

import os
import secrets
import shutil
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from time import monotonic, sleep
from typing import TYPE_CHECKING

from printplan.errors import RecordError, Setting
from printplan.pixels.free_name import give_free_name

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


LARGEST_BYTES = 16_000_000
"""A longer file is not one of ours: some hundred thousand prints. Our choice."""

STALE_S = 10.0
"""A lock that has not changed for so long was left behind: a change takes
milliseconds. Our choice."""

PATIENCE_S = 30.0
"""Longest wait for other writers. Our choice."""

_POLL_S = 0.01
_MOST_TRIES = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class FileHeader:
    """
    What the first lines of a file of ours say: its format and version.

    Attributes
    ----------
    name : str
        The text after ``format =``.
    version : int
        Newest ``format_version`` that is understood.
    heading : str
        Comment at the top of a new file.
    """

    name: str
    version: int
    heading: str


def read_text(path: str | Path) -> str:
    """
    Read a file of ours.

    Returns
    -------
    str
        With the line ends that the file has.

    Raises
    ------
    RecordError
        If there is none, or it is not text.
    """
    try:
        with Path(path).open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise RecordError(
            f"{path} cannot be read ({reason}).",
            remedy="Check its name and folder, and that you may read it.",
        ) from error
    if len(data) > LARGEST_BYTES:
        raise RecordError(
            f"{path} is longer than {LARGEST_BYTES / 1e6:g} MB.",
            remedy="Choose a plan file or a paper book; this is another file.",
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise RecordError(
            f"{path} is not UTF-8 text (byte {error.start}).",
            remedy="Choose a text file, or save it again as UTF-8.",
        ) from error


def write_text(
    text: str,
    path: str | Path,
    header: FileHeader,
    *,
    overwrite: bool = False,
    permitted: Callable[[], bool] | None = None,
) -> bool:
    """
    Write a file whole or not at all.

    Parameters
    ----------
    header : FileHeader
        What the text is.
    overwrite : bool, optional
        Permits a file of that name to be replaced if it is of the same kind: a
        master is never replaced by its plan.
    permitted : callable, optional
        Asked when all is on the disk, just before the file gets its name.

    Returns
    -------
    bool
        False if it was not permitted; then nothing has changed.

    Raises
    ------
    RecordError
        If it exists already, is a file of another kind, or cannot be written.

    Notes
    -----
    A killed process or a power cut can leave a file ``.printplan-….part`` behind.
    """
    target = Path(path).resolve()
    with part_beside(
        target, if_exists="Choose another name.", setting=Setting.OVERWRITE
    ) as part:
        with part.open("xb") as file:
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())
        if permitted is not None and not permitted():
            return False
        if overwrite:
            if target.exists():
                _require_kind(target, header)
                shutil.copymode(target, part)
            part.replace(target)
        else:
            give_free_name(part, target)
    return True


@contextmanager
def part_beside(
    path: Path, *, if_exists: str, setting: Setting | None = None
) -> Iterator[Path]:
    """
    Give a name for a file while it is being written, and clear it up afterwards.

    Parameters
    ----------
    path : Path
        The name that the file gets inside, when it is whole.
    if_exists : str
        Remedy where that name is taken.
    setting : Setting or None, optional
        What cures that as well.

    Yields
    ------
    Path
        In the folder of `path`: ``.printplan-….part``.

    Raises
    ------
    RecordError
        In the place of the errors of the disk.
    """
    part = path.resolve().with_name(f".printplan-{secrets.token_hex(8)}.part")
    try:
        yield part
    except FileExistsError as error:
        raise RecordError(
            f"{path} exists already.", remedy=if_exists, setting=setting
        ) from error
    except OSError as error:
        raise RecordError(
            f"{path} cannot be written ({error.strerror or error}).",
            remedy="Choose a folder that exists and that you may write to.",
        ) from error
    finally:
        part.unlink(missing_ok=True)


def change_text(
    path: str | Path,
    header: FileHeader,
    change: Callable[[str | None], str],
    *,
    create: bool = False,
) -> str:
    """
    Change a file from what it holds now.

    Parameters
    ----------
    header : FileHeader
        What the file is.
    change : callable
        Makes the new text out of the present one. It may be asked several times.
    create : bool, optional
        Permits the file to be missing: `change` is then given None.

    Returns
    -------
    str
        What the file holds now.

    Raises
    ------
    RecordError
        If it cannot be read or written, or others change it all the time. It is then
        as it was.

    Notes
    -----
    Writers wait for each other at a lock file beside it, and each reads the file after
    it got the lock, so no change is lost; see `locked`. A writer that lost its lock
    meanwhile, or finds that an editor has saved the file, starts again from what is
    there now.
    """
    target = Path(path).resolve()

    def present() -> str | None:
        return None if create and not target.exists() else read_text(target)

    for _ in range(_MOST_TRIES):
        with locked(target) as still_locked:
            before = present()
            after = change(before)
            if after == before or write_text(
                after,
                target,
                header,
                overwrite=before is not None,
                permitted=lambda: still_locked() and present() == before,  # noqa: B023 - asked in this turn
            ):
                return after
    raise RecordError(
        f"{path} changes all the time; it was not written.",
        remedy="Close the other programs that write it, and try again.",
    )


def _require_kind(target: Path, header: FileHeader) -> None:
    with target.open("rb") as file:
        found = file.read(LARGEST_BYTES)
    if found and f'"{header.name}"'.encode() not in found:
        raise RecordError(
            f"{target} is not a {header.name}; it was not replaced.",
            remedy="Choose another name.",
        )


@contextmanager
def locked(path: Path) -> Iterator[Callable[[], bool]]:
    """
    Hold the lock of a file, waiting for other writers.

    Parameters
    ----------
    path : Path
        The file; its lock is an empty file beside it.

    Yields
    ------
    callable
        Tells whether the lock is still held.

    Raises
    ------
    RecordError
        If the lock cannot be made, or another holds it for `PATIENCE_S`.

    Notes
    -----
    A lock that has not changed for `STALE_S` is taken away.
    """
    lock = path.with_name(f".{path.name}.lock")
    mark = _take(lock)
    try:
        yield lambda: _mark(lock) == mark
    finally:
        if _mark(lock) == mark:
            lock.unlink(missing_ok=True)


def _take(lock: Path) -> tuple[int, int]:
    """Make the lock file, waiting for others, and return its mark."""
    began_s = changed_s = monotonic()
    seen = None
    while True:
        try:
            handle = os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY)
        except FileExistsError:
            pass
        except OSError as error:
            raise RecordError(
                f"{lock} cannot be written ({error.strerror or error}).",
                remedy="Choose a folder that you may write to.",
            ) from error
        else:
            try:
                made = os.fstat(handle)
            finally:
                os.close(handle)
            return made.st_ino, made.st_mtime_ns
        now_s = monotonic()
        if seen != (seen := _mark(lock)):
            changed_s = now_s
        elif seen is not None and now_s - changed_s > STALE_S:
            _take_away(lock)
        if now_s - began_s > PATIENCE_S:
            raise RecordError(
                f"{lock} has been there for {PATIENCE_S:g} s.",
                remedy="Delete it if nothing else is changing the file beside it.",
            )
        sleep(_POLL_S)


def _take_away(lock: Path) -> None:
    """Remove a lock that was left behind; of two that try, one finds it gone."""
    aside = lock.with_name(f".printplan-{secrets.token_hex(8)}.part")
    try:
        lock.replace(aside)
        aside.unlink()
    except FileNotFoundError:
        return


def _mark(lock: Path) -> tuple[int, int] | None:
    """What tells one lock file from the next of that name."""
    try:
        found = lock.stat()
    except FileNotFoundError:
        return None
    return found.st_ino, found.st_mtime_ns
