"""Which process made a file, and does that process still run?"""

from __future__ import annotations

import os
import platform
import re
import sys
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from typing import Final

ABANDONED_S: Final = 24 * 3600.0
"""Age from which a file is taken for left behind whose process cannot be asked
after: one of another computer, or of a system that does not tell. Our choice."""

_STAMP: Final = re.compile(r"([0-9a-f]{8})-([1-9][0-9]*)-([0-9a-z]+)")
_UNKNOWN: Final = "0"
_ENDED: Final = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Maker:
    """
    A process on a computer.

    Attributes
    ----------
    host : str
        What tells this computer, or the container on it, from others: 8 digits.
    process : int
        Its number there.
    started : str
        What tells it from a later process of that number; "0" where the system does
        not say.
    """

    host: str
    process: int
    started: str

    def __str__(self) -> str:
        return f"{self.host}-{self.process}-{self.started}"


def this_process() -> Maker:
    """The process that asks."""
    process = os.getpid()
    return Maker(host=_this_host(), process=process, started=_started(process))


def maker_in(name: str) -> Maker | None:
    """
    The maker that stands in a name or a line; None if there is none.

    Examples
    --------
    >>> maker_in(".printplan-00000000-12-0-5f.part").process
    12
    >>> maker_in("notes.txt")
    """
    found = _STAMP.search(name)
    if found is None:
        return None
    host, process, started = found.groups()
    return Maker(host=host, process=int(process), started=started)


def is_alive(maker: Maker) -> bool | None:
    """
    Whether a process still runs.

    Returns
    -------
    bool or None
        None if this cannot be known from here: it ran on another computer, or the
        system does not tell.

    Notes
    -----
    Numbers of processes are given again. Linux tells when one began [1]_; elsewhere a
    process of that number is taken for the same one, which errs on the side of leaving
    its files alone. On Windows the standard library cannot ask after a process without
    ending it.

    References
    ----------
    .. [1] Linux man-pages, proc_pid_stat(5), field 22, starttime: in clock ticks since
       the system was started. The number of that start is added.
    """
    if not is_of_this_computer(maker):
        return None
    if maker.process == os.getpid():
        return maker.started in {_started(maker.process), _UNKNOWN}
    if sys.platform == "win32":
        return None
    try:
        os.kill(maker.process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:  # it runs, for another account
        pass
    now = _started(maker.process)
    return _UNKNOWN in {now, maker.started} or now == maker.started


def is_of_this_computer(maker: Maker) -> bool:
    """Whether a process ran where the one runs that asks."""
    return maker.host == _this_host()


def is_left_behind(maker: Maker | None, age_s: float) -> bool:
    """
    Whether what a process made is nobody's any more.

    Parameters
    ----------
    maker : Maker or None
        None if it is not known.
    age_s : float
        Seconds since the file was written last.
    """
    alive = None if maker is None else is_alive(maker)
    return age_s > ABANDONED_S if alive is None else not alive


@lru_cache(1)
def _this_host() -> str:
    """Containers of one computer number their processes each for itself."""
    try:
        numbering = Path("/proc/self/ns/pid").readlink().name
    except OSError:
        numbering = ""
    return sha256(f"{platform.node()} {numbering}".encode()).hexdigest()[:8]


@lru_cache(1)
def _this_start() -> str:
    """Which start of the system this is."""
    try:
        told = Path("/proc/sys/kernel/random/boot_id").read_text("ascii")
    except (OSError, ValueError):
        return ""
    return told.strip().replace("-", "")[:8]


def _started(process: int) -> str:
    try:
        told = Path(f"/proc/{process}/stat").read_bytes()
        # The second field is the program's name in brackets, with whatever is in it.
        fields = told.rpartition(b")")[2].split()
        state, ticks = fields[0], int(fields[19])
    except (OSError, ValueError, IndexError):
        return _UNKNOWN
    # One that was killed keeps its number until its parent has asked after it.
    return _ENDED if state in b"ZX" else f"{ticks:x}x{_this_start()}"
