"""What can go wrong, each with what to do about it."""

from __future__ import annotations

import errno
from difflib import SequenceMatcher
from enum import StrEnum
from typing import TYPE_CHECKING

from printplan.shown_text import visible

if TYPE_CHECKING:
    from collections.abc import Collection


class Setting(StrEnum):
    """
    What cures an error and is set in another place by each who reads of it.

    The value is its name in Python. The command line knows its option by that name,
    the workbook its control (`printplan.workbook.remedies`).
    """

    OVERWRITE = "overwrite=True"
    MASTER = "master"
    ASSUME_PROFILE = "assume_profile"
    ALPHA = 'alpha="flatten"'
    PLAN_FILE = "plan_file"
    SCAN_PPI = "scan_ppi"
    EDGES_LEFT_OUT = "edges_left_out=True"
    WITHOUT = "without"


class PrintPlanError(Exception):
    """
    A print that cannot be made as asked.

    Parameters
    ----------
    problem : str
        What is wrong, with the measured number and its limit.
    remedy : str
        What to do: a setting and a value that works, in words that hold in Python, on
        the command line and in a panel.
    setting : Setting or None, optional
        What the remedy asks for, where each of the three has its own name for it.
    """

    def __init__(
        self, problem: str, *, remedy: str, setting: Setting | None = None
    ) -> None:
        # Names and messages of others stand in both.
        self.problem, self.remedy = visible(problem), visible(remedy)
        super().__init__(self.problem, self.remedy)
        self.setting = setting

    def __str__(self) -> str:
        told = f"{self.problem} {self.remedy}"
        return told if self.setting is None else f"{told} In Python: {self.setting}."

    def __reduce__(self) -> tuple[object, ...]:
        return (_rebuild, (type(self), self.problem, self.remedy, self.setting))


def _rebuild(
    kind: type[PrintPlanError], problem: str, remedy: str, setting: Setting | None
) -> PrintPlanError:
    """Unpickle an error: its remedy is a keyword, which pickle alone would lose."""
    return kind(problem, remedy=remedy, setting=setting)


class SpecError(PrintPlanError, ValueError):
    """A wish that contradicts itself or leaves its range."""


class FitError(SpecError):
    """A picture that does not go on the sheet."""


class MasterError(PrintPlanError):
    """A master that cannot be read as a finished photograph."""


class ProfileError(PrintPlanError):
    """A colour profile that is missing, damaged or of the wrong kind."""


class RenderError(PrintPlanError):
    """A file that could not be written, or did not read back as written."""


class RecordError(PrintPlanError):
    """A plan file, paper book or record that cannot be read or written."""


_NO_ROOM = frozenset({errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", -1)})
_NO_RIGHTS = frozenset({errno.EACCES, errno.EPERM, errno.EROFS})
_NO_FOLDER = frozenset({errno.ENOENT, errno.ENOTDIR})
_NO_NAME = frozenset({errno.ENAMETOOLONG, errno.EINVAL, errno.EILSEQ})


def is_full(error: OSError) -> bool:
    """Whether a disk, an account's share of it or its longest file is used up."""
    return error.errno in _NO_ROOM


def writing_remedy(error: OSError) -> str:
    """
    What to do when the system does not let a file be written.

    Parameters
    ----------
    error : OSError
        As the system gave it.
    """
    if is_full(error):
        return "Free space on that disk, or choose a folder on another one."
    if error.errno in _NO_RIGHTS:
        return "Choose a folder that you may write to, or allow it for this one."
    if error.errno in _NO_FOLDER:
        return "Choose a folder that exists and that you may write to."
    if error.errno in _NO_NAME:
        return "Choose a usual file name, and a shorter one."
    return "Check the disk or the connection, or choose a folder on another disk."


_NEAR = 0.6
"""Likeness from which a name is offered as the one meant (difflib's own default)."""


def did_you_mean(name: str, valid: Collection[str], *, mark: str = '"') -> str:
    """
    Remedy for a name that is not known.

    Parameters
    ----------
    name : str
        As it was written.
    valid : collection of str
        The names that are known.
    mark : str, optional
        Put round each name.

    Returns
    -------
    str
        A question with the nearest name, or with several that are as near; all
        names if none is near.
    """
    likeness = {
        known: SequenceMatcher(None, name.casefold(), known.casefold()).ratio()
        for known in valid
    }
    best = max(likeness.values(), default=0.0)
    if best >= _NEAR:
        tied = [known for known in valid if likeness[known] == best]
        # Lengths have two names each; what is as near to both means millimetres.
        near = [f"{mark}{known}{mark}" for known in tied if _twin(known) not in tied]
        return f"Did you mean {' or '.join(near)}?"
    names = [f"{mark}{it}{mark}" for it in valid if _twin(it) not in valid]
    return f"Known here: {', '.join(names) or 'none'}."


def _twin(key: str) -> str:
    """Name of the length that a key in inches stands for; empty for other keys."""
    return f"{key[:-3]}_mm" if key.endswith("_in") else ""
