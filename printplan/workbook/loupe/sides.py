"""In which ways can the loupe look at the plan?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from printplan.pixels.sheet import Appearance
from printplan.workbook.previews import in_screen_colour, unsharpened

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.pixels.sheet import Sheet


class Spreading(StrEnum):
    """Whether light and ink spread before the eye sees them."""

    NONE = "none"
    """Print pixels as they stand in the file."""

    IN_PAPER = "in-paper"
    """As the plan's paper spreads them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """
    One way to look at the plan.

    Attributes
    ----------
    name : str
        One or two words, on the picture and in lists.
    words : str
        What it shows, in half a sentence.
    of : callable
        The sheet to look at, from the plan's own sheet.
    appearance : Appearance or None
        How the eye looks at the proof; None where the sheet is made for an sRGB
        screen, so that its numbers are shown as they are.
    """

    name: str
    words: str
    of: Callable[[Sheet], Sheet]
    appearance: Appearance | None
    spreading: Spreading = Spreading.NONE


def as_planned(sheet: Sheet) -> Sheet:
    """The sheet itself."""
    return sheet


BEFORE = Side(
    name="before",
    words="not sharpened",
    of=unsharpened,
    appearance=Appearance.PAPER_ALONE,
)
AFTER = Side(
    name="after",
    words="as planned",
    of=as_planned,
    appearance=Appearance.PAPER_ALONE,
)
ON_PAPER = Side(
    name="on paper",
    words="planned file, spread by the paper",
    of=as_planned,
    appearance=Appearance.PAPER_ALONE,
    spreading=Spreading.IN_PAPER,
)
IN_THE_ROOM = Side(
    name="in the room",
    words="with the paper's own white and black",
    of=as_planned,
    appearance=Appearance.PAPER_IN_THE_ROOM,
)
MASTER = Side(
    name="master",
    words="in screen colour, not sharpened",
    of=in_screen_colour,
    appearance=None,
)

SIDES = (BEFORE, AFTER, ON_PAPER, IN_THE_ROOM, MASTER)
"""All that the loupe offers, if a panel does not choose; the first two stand first."""
