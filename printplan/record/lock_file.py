"""Who changes a file now, and who waits for whom?"""

from __future__ import annotations

import logging
import os
import platform
import sys
from contextlib import contextmanager, suppress
from time import monotonic, sleep
from typing import TYPE_CHECKING, Final, NamedTuple

from printplan.errors import RecordError, writing_remedy
from printplan.foreign_file import named, read_foreign
from printplan.own_process import Maker, is_alive, maker_in, this_process

if sys.platform != "win32":
    import fcntl

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

STALE_S = 10.0
"""A lock of which nobody can say whether its maker still runs was left behind if it
has not changed for so long: a change takes milliseconds. Our choice."""

PATIENCE_S = 30.0
"""Longest wait for other writers. Our choice."""

TOLD_S = 0.5
"""From here on a person is told what is waited for. Our choice."""

WAITING: Final = logging.getLogger("printplan.waiting")
"""Told when a lock is waited for, and again when the wait is over: a terminal shows
the first by itself, as Python does with warnings that nobody takes; the workbook's
page listens to both."""

_POLL_S = 0.01
_KIND: Final = "printplan lock"
_MOST_BYTES = 1000


class _Lock(NamedTuple):
    """What lies under a lock's name: one file, told from the next, and by whom."""

    mark: tuple[int, int]
    maker: Maker | None
    host: str

    def is_dead(self) -> bool:
        return self.maker is not None and is_alive(self.maker) is False

    @property
    def holder(self) -> str:
        if self.maker is None:
            return "another program"
        return f"process {self.maker.process} on {self.host or 'another computer'}"


def lock_path(path: Path) -> Path:
    """Where the lock of a file lies: beside it, hidden."""
    return path.with_name(f".{path.name}.lock")


def is_dead_lock(path: Path) -> bool:
    """
    Whether a file is a lock of ours whose process has ended.

    Parameters
    ----------
    path : Path
        Any file.
    """
    lock = _lock_at(path)
    return lock is not None and lock.is_dead()


def take_dead_lock_away(path: Path) -> bool:
    """
    Remove a lock whose process has ended.

    Returns
    -------
    bool
        Whether it was one.
    """
    lock = _lock_at(path)
    if lock is None or not lock.is_dead():
        return False
    _take_away(path, lock)
    return True


@contextmanager
def locked(path: Path) -> Iterator[Callable[[], bool]]:
    """
    Hold the lock of a file, waiting for other writers.

    Parameters
    ----------
    path : Path
        The file; its lock is a small file beside it that says who holds it.

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
    A lock whose process has ended is taken away at once, one of a process that runs
    never. One of another computer, or of an earlier version, which says nothing, is
    taken away when it has not changed for `STALE_S`.
    """
    lock = lock_path(path)
    mark = _take(lock)

    def is_held() -> bool:
        now = _lock_at(lock)
        return now is not None and now.mark == mark

    try:
        yield is_held
    finally:
        if is_held():
            lock.unlink(missing_ok=True)


def _take(lock: Path) -> tuple[int, int]:
    """Make the lock file, waiting for others, and return its mark."""
    began_s = changed_s = monotonic()
    seen: _Lock | None = None
    told = False
    while True:
        try:
            handle = os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o644)
        except FileExistsError:
            pass
        except OSError as error:
            raise _cannot_lock(lock, error) from error
        else:
            if told:
                WAITING.info("")
            return _sign(handle, lock)
        now_s = monotonic()
        before, seen = seen, _lock_at(lock)
        if seen is None or before is None or seen.mark != before.mark:
            changed_s = now_s
        if seen is not None and _is_stale(seen, now_s - changed_s):
            _take_away(lock, seen)
            continue
        if seen is not None and not told and now_s - began_s > TOLD_S:
            told = True
            WAITING.warning(
                "Waiting for %s, held by %s.", named(lock.name), seen.holder
            )
        if now_s - began_s > PATIENCE_S:
            raise _waited_in_vain(lock, seen)
        sleep(_POLL_S)


def _is_stale(lock: _Lock, unchanged_s: float) -> bool:
    if lock.maker is not None and is_alive(lock.maker) is not None:
        return lock.is_dead()
    return unchanged_s > STALE_S


def _sign(handle: int, lock: Path) -> tuple[int, int]:
    """Write into a lock who holds it; its mark."""
    try:
        signature = f"{_KIND} {this_process()} {platform.node()}\n"
        os.write(handle, signature.encode("utf-8", "replace"))
        made = os.fstat(handle)
    except OSError as error:
        lock.unlink(missing_ok=True)
        raise _cannot_lock(lock, error) from error
    finally:
        os.close(handle)
    return made.st_ino, made.st_mtime_ns


def _take_away(lock: Path, seen: _Lock) -> None:
    """
    Remove a lock that was left behind, and no later one of that name.

    Of several that try, each holds the old file for itself while it looks: the next
    then finds another file under the name, or none.
    """
    if sys.platform == "win32":  # has no such locks, and keeps files that are open
        with suppress(OSError):
            if _is_the_same(lock, seen):
                lock.unlink(missing_ok=True)
        return
    try:
        handle = os.open(lock, os.O_RDONLY)
    except OSError:
        return
    try:
        with suppress(OSError):  # a folder of the network that has none
            fcntl.flock(handle, fcntl.LOCK_EX)
        if os.fstat(handle).st_ino == seen.mark[0] and _is_the_same(lock, seen):
            lock.unlink(missing_ok=True)
    finally:
        os.close(handle)


def _is_the_same(lock: Path, seen: _Lock) -> bool:
    now = _lock_at(lock)
    return now is not None and now.mark == seen.mark


def _lock_at(lock: Path) -> _Lock | None:
    """What lies there; None if nothing does."""
    try:
        found = lock.lstat()
    except OSError:
        return None
    mark = found.st_ino, found.st_mtime_ns
    try:
        content = read_foreign(lock, raises=RecordError, most_bytes=_MOST_BYTES)
    except RecordError:  # empty, gone, or no lock of this version
        return _Lock(mark, None, "")
    text = content.decode("utf-8", "replace")
    if not text.startswith(f"{_KIND} "):
        return _Lock(mark, None, "")
    words = text.split(maxsplit=3)
    host = words[3].strip() if len(words) > 3 else ""
    return _Lock(mark, maker_in(text), host if host.isprintable() else "")


def _cannot_lock(lock: Path, error: OSError) -> RecordError:
    return RecordError(
        f"{lock} cannot be written ({error.strerror or error}).",
        remedy=writing_remedy(error),
    )


def _waited_in_vain(lock: Path, seen: _Lock | None) -> RecordError:
    holder = "another program" if seen is None else seen.holder
    return RecordError(
        f"{lock} has been there for {PATIENCE_S:g} s, held by {holder}.",
        remedy="Wait for it or end it. Delete the lock if nothing else is changing the "
        "file beside it.",
    )
