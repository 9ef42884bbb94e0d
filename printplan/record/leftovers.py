"""What did processes that ended leave in a folder, and what of it may go?"""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass
from enum import StrEnum
from time import time
from typing import TYPE_CHECKING

from printplan.free_name import is_left_part
from printplan.record.lock_file import is_dead_lock, take_dead_lock_away

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path


class LeftKind(StrEnum):
    """What was left."""

    PART = "half-written file"
    LOCK = "lock"


@dataclass(frozen=True, slots=True, kw_only=True)
class Leftover:
    """
    A file of ours that belongs to no process any more.

    Attributes
    ----------
    bytes_held : int
        Length of the file.
    """

    path: Path
    kind: LeftKind
    bytes_held: int


def leftovers_in(folder: Path) -> tuple[Leftover, ...]:
    """
    What was left in a folder itself, not in those below it.

    Returns
    -------
    tuple of Leftover
        Files whose name is one that only printplan gives, and whose process has
        ended: see `is_left_behind`. Empty for a folder that cannot be read.
    """
    found = []
    try:
        with os.scandir(folder) as entries:
            names = sorted(it.name for it in entries if it.name.startswith("."))
    except (OSError, ValueError):
        return ()
    for name in names:
        path = folder / name
        with suppress(OSError):
            kind = _kind_left(path)
            if kind is not None:
                held = path.lstat().st_size
                found.append(Leftover(path=path, kind=kind, bytes_held=held))
    return tuple(found)


def tidy(folders: Iterable[Path]) -> tuple[Leftover, ...]:
    """
    Take away what ended processes left in folders.

    Parameters
    ----------
    folders : iterable of Path
        Each is looked at once; one that is not there is passed over.

    Returns
    -------
    tuple of Leftover
        What went.
    """
    gone = []
    for folder in dict.fromkeys(it.absolute() for it in folders):
        for left in leftovers_in(folder):
            with suppress(OSError):  # what may not go is no reason to stop
                if left.kind is LeftKind.PART:
                    left.path.unlink()
                elif not take_dead_lock_away(left.path):
                    continue
                gone.append(left)
    return tuple(gone)


def _kind_left(path: Path) -> LeftKind | None:
    """What a file is that nobody needs; None for any other."""
    if is_left_part(path.name, time() - path.lstat().st_mtime):
        return LeftKind.PART
    if path.name.endswith(".lock") and is_dead_lock(path):
        return LeftKind.LOCK
    return None
