"""What is one finding, how much does it weigh, and where does its limit come from?"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from functools import partial
from typing import TYPE_CHECKING

from printplan.spec import FORMERLY

if TYPE_CHECKING:
    from collections.abc import Iterable


class Source(StrEnum):
    """Where a limit comes from, if from no published text."""

    COMMON_PRACTICE = "common practice, no source"
    OUR_CHOICE = "our choice"
    BOOK = "the paper book"
    MASTER = "the master itself"
    PLAN = "the plan itself"


class Level(StrEnum):
    """How much a finding weighs."""

    NOTE = "note"
    WARN = "warn"
    STOP = "stop"


_ORDER = (Level.STOP, Level.WARN, Level.NOTE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """
    One thing to know about a print that can be made.

    Attributes
    ----------
    topic : str
        What it concerns, in a word or two that do not change.
    problem : str
        The measured number and its limit.
    remedy : str
        A setting and a value that works.
    source : str
        Where the limit comes from: a standard, the paper book, *common practice, no
        source* or *our choice*. Empty only in records of before it was kept.
    """

    level: Level
    topic: str = field(metadata={FORMERLY: "about"})
    problem: str
    remedy: str
    source: str = ""

    def __str__(self) -> str:
        return f"{self.level}: {self.problem} {self.remedy}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """
    What master and profile were when the print was decided.

    Attributes
    ----------
    master_sha256, profile_sha256 : str
        Hashes, hexadecimal, of the master's file and the paper's profile.
    """

    master_sha256: str
    profile_sha256: str


note = partial(Finding, level=Level.NOTE)
"""A finding that is good to know."""

warn = partial(Finding, level=Level.WARN)
"""A finding to look at before printing."""

stop = partial(Finding, level=Level.STOP)
"""A finding that makes the print a waste of ink."""


def by_severity(findings: Iterable[Finding]) -> list[Finding]:
    """Sort findings by their weight; those of one weight keep their order."""
    return sorted(findings, key=lambda finding: _ORDER.index(finding.level))


def worst_words(findings: Iterable[Finding]) -> str:
    """How grave the gravest finding is, and what it says."""
    found = list(findings)
    for level in (Level.STOP, Level.WARN):
        told = [it for it in found if it.level == level]
        if told:
            more = f" and {len(told) - 1} more" if len(told) > 1 else ""
            return f"{level}: {told[0].problem}{more}"
    return "Nothing speaks against this print."


def weight(share: float, limits: tuple[float, float]) -> Level:
    """
    Level of a share of the picture.

    Parameters
    ----------
    share : float
        0 to 1.
    limits : tuple of float
        From which it is noted, and from which it is warned of.

    Returns
    -------
    Level
        Of a share that is noted at least.
    """
    return Level.WARN if share > limits[1] else Level.NOTE
