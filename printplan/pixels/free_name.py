"""How does a finished file get its name without replacing another?"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


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
