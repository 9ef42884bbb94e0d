"""Where does this operating system keep colour profiles?"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.own_folders import own_home

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

USERS, MACHINES = "this user's profiles", "this computer's profiles"


def profile_folders(
    platform: str = sys.platform,
    *,
    environment: Mapping[str, str] | None = None,
    home: Path | None = None,
) -> tuple[tuple[str, Path], ...]:
    """
    Folders of colour profiles, whether they exist or not.

    Parameters
    ----------
    platform : str, optional
        As `sys.platform` has it: ``darwin``, ``win32``; all others keep to XDG.
    environment : mapping of str to str, optional
        Variables that move the folders; those of this process if not given.
    home : Path, optional
        Of the user.

    Returns
    -------
    tuple of (str, Path)
        Whose profiles they are, and where; the user's own first.

    Notes
    -----
    Linux and other Unix systems: ``color/icc`` in the data folders of XDG [1]_ [2]_
    and the older ``~/.color/icc``; ``icc`` in the user's own, where colord looks
    too; ``/var/lib/color/icc`` for what belongs to the machine. macOS: the
    ``ColorSync/Profiles`` folders of user and machine [3]_, and ``/Library/Printers``,
    where drivers put theirs (common practice, no source). Windows: the *color
    directory* in ``spool/drivers`` [4]_.

    References
    ----------
    .. [1] OpenICC, directory proposal 0.2 (2010).
    .. [2] freedesktop.org, XDG base directory specification 0.8.
    .. [3] Apple, ColorSync: profile locations, from memory.
    .. [4] Microsoft, Win32 API, GetColorDirectory and InstallColorProfile.
    """
    variables = os.environ if environment is None else environment
    home = own_home() if home is None else home
    if platform == "darwin":
        return (
            (USERS, home / "Library/ColorSync/Profiles"),
            (MACHINES, Path("/Library/ColorSync/Profiles")),
            ("printer drivers' profiles", Path("/Library/Printers")),
        )
    if platform == "win32":
        root = variables.get("SystemRoot") or "C:/Windows"
        return ((MACHINES, Path(root) / "System32/spool/drivers/color"),)
    return tuple(dict.fromkeys(_of_xdg(variables, home)))


def _of_xdg(variables: Mapping[str, str], home: Path) -> Iterator[tuple[str, Path]]:
    own = Path(variables.get("XDG_DATA_HOME") or home / ".local/share")
    yield from ((USERS, it) for it in (own / "color/icc", own / "icc"))
    yield USERS, home / ".color/icc"
    for folder in (variables.get("XDG_DATA_DIRS") or "").split(":"):
        # The specification bids to pass over what is relative.
        if folder.startswith("/"):
            yield MACHINES, Path(folder) / "color/icc"
    for whole in ("/usr/local/share", "/usr/share", "/var/lib"):
        yield MACHINES, Path(whole) / "color/icc"


def profile_places() -> tuple[tuple[str, Path], ...]:
    """Those of `profile_folders` that are there, each with its path in words."""
    return tuple(
        (f"{whose}: {folder}", folder)
        for whose, folder in profile_folders()
        if folder.is_dir()
    )
