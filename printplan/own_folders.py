"""Where does an account keep its own files, if it has a place for them at all?"""

from __future__ import annotations

import os
from pathlib import Path
from tempfile import gettempdir


def own_home() -> Path:
    """
    The folder of the account that runs this.

    Returns
    -------
    Path
        The current folder for an account that has none: no entry in the list of
        users, and no HOME.
    """
    try:
        return Path.home()
    except RuntimeError:
        return Path.cwd()


def expanded(path: str | Path) -> Path:
    """A path in which a tilde stands for a home, if there is that home."""
    try:
        return Path(path).expanduser()
    except RuntimeError:
        return Path(path)


def own_folder(proposed: Path) -> Path:
    """
    A folder that was proposed for files of an account, if it can be meant.

    Parameters
    ----------
    proposed : Path
        As the system's conventions give it.

    Returns
    -------
    Path
        Below the folder for temporary files where the account has no home: there the
        proposal begins with a tilde, which would become a folder of that name.
    """
    if proposed.parts[:1] != ("~",) and proposed.is_absolute():
        return proposed
    whose = getattr(os, "getuid", lambda: "")()
    return Path(gettempdir()) / f"{proposed.name}-{whose}"
