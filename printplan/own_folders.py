"""Where does an account keep its own files, and those that pass with a process?"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import stat
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory, gettempdir
from typing import TYPE_CHECKING

from printplan.own_process import is_alive, maker_in, this_process

if TYPE_CHECKING:
    from collections.abc import Callable
    from io import BufferedReader

_PASSING = re.compile(r"printplan-[0-9a-f]{8}-[0-9]+-[0-9a-z]+-.+")


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


def own_folder(proposed: Callable[[str], Path]) -> Path:
    """
    The folder for printplan's files of one kind, of the account that runs this.

    Parameters
    ----------
    proposed : callable
        Gives it by the system's conventions, for a program's name.

    Returns
    -------
    Path
        Below the folder for temporary files where the account has no home: there the
        conventions give none, or one that begins with a tilde, which would become a
        folder of that name.
    """
    try:
        folder = proposed("printplan")
    except RuntimeError:
        folder = Path("~")
    if folder.is_absolute():
        return folder
    whose = getattr(os, "getuid", lambda: "")()
    return Path(gettempdir()) / f"printplan-of-{whose}"


def passing_folder(purpose: str = "") -> TemporaryDirectory[str]:
    """
    A folder for files that nobody needs once this process has ended.

    Parameters
    ----------
    purpose : str, optional
        Part of its name.

    Returns
    -------
    TemporaryDirectory
        With the process in its name. What killed ones of this account left of theirs
        goes first.
    """
    clear_passing()
    return TemporaryDirectory(prefix=f"printplan-{this_process()}-{purpose}")


def clear_passing() -> None:
    """Remove passing folders of this account whose process has ended."""
    with suppress(OSError):
        for path in Path(gettempdir()).iterdir():
            if _PASSING.fullmatch(path.name) and _is_left(path):
                shutil.rmtree(path, ignore_errors=True)


def _is_left(path: Path) -> bool:
    """Whether a folder is this account's own, of a process that has ended."""
    maker = maker_in(path.name)
    if maker is None or is_alive(maker) is not False or path.is_symlink():
        return False
    return not hasattr(os, "getuid") or path.stat().st_uid == os.getuid()


_SEAL_BYTES = 32


def sealed(content: bytes) -> bytes:
    """What a file of ours holds that must not be read damaged: its SHA-256 first."""
    return hashlib.sha256(content).digest() + content


def unsealed(data: bytes) -> bytes | None:
    """The content of such a file; None if it is damaged, or empty."""
    digest, content = data[:_SEAL_BYTES], data[_SEAL_BYTES:]
    is_whole = content and hashlib.sha256(content).digest() == digest
    return content if is_whole else None


def own_file(path: Path) -> BufferedReader | None:
    """
    Open a file that this account wrote.

    Returns
    -------
    BufferedReader or None
        None if it is not there, of another account, or no regular file: a link or a
        pipe is not ours.
    """
    ways = os.O_RDONLY
    for name in ("O_NOFOLLOW", "O_NONBLOCK", "O_CLOEXEC", "O_BINARY"):
        ways |= getattr(os, name, 0)
    try:
        handle = os.open(path, ways)
    except OSError:  # none yet, or not to be read: it is made anew
        return None
    status = os.fstat(handle)
    is_own = not hasattr(os, "geteuid") or status.st_uid == os.geteuid()
    if stat.S_ISREG(status.st_mode) and is_own:
        return os.fdopen(handle, "rb")
    os.close(handle)
    return None
