"""Which name is free, and how does a file get it without replacing another?"""

from __future__ import annotations

import os
import re
import secrets
from pathlib import Path
from typing import Final

from printplan.own_process import is_left_behind, maker_in, this_process

PART_NAME: Final = re.compile(r"\.printplan-[0-9a-z-]*[0-9a-f]{16}\.part(-journal)?")
"""How a file is called while it is being written; SQLite keeps one more beside it."""


def part_path(target: Path) -> Path:
    """
    A name in the folder of a file, for the time until that file is whole.

    Returns
    -------
    Path
        ``.printplan-….part``, with the process that writes it in its name.
    """
    token = secrets.token_hex(8)
    return target.with_name(f".printplan-{this_process()}-{token}.part")


def is_left_part(name: str, age_s: float) -> bool:
    """Whether a name is that of a file whose process has ended while writing it."""
    return PART_NAME.fullmatch(name) is not None and is_left_behind(
        maker_in(name), age_s
    )


def free_path(path: str | Path) -> Path:
    """
    That path, or the first numbered one beside it that is free.

    Returns
    -------
    Path
        With ``-2``, ``-3`` and so on before the ending if need be.
    """
    path = Path(path)
    (free,) = free_paths(path.parent, path.stem, (path.suffix,))
    return free


def free_paths(folder: Path, name: str, endings: tuple[str, ...]) -> tuple[Path, ...]:
    """One name for files of several endings, of which none is there."""
    number, numbered = 1, name
    while any(os.path.lexists(folder / f"{numbered}{it}") for it in endings):
        number += 1
        numbered = f"{name}-{number}"
    return tuple(folder / f"{numbered}{ending}" for ending in endings)


def give_free_name(part: Path, target: Path) -> None:
    """
    Give a file a name that nobody has, in one step that cannot replace another.

    Parameters
    ----------
    part : Path
        The finished file under its temporary name, which it may keep as well.
    target : Path
        In the same folder.

    Raises
    ------
    FileExistsError
        If that name is taken.
    OSError
        If the disk refuses.
    """
    try:
        os.link(part, target)
    except FileExistsError:
        raise
    except OSError:
        # This disk has no second names. An empty file, made only if there is none,
        # holds the place until the finished one replaces it.
        target.open("xb").close()
        try:
            part.replace(target)
        except BaseException:
            target.unlink()
            raise
