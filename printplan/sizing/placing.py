"""Where does the picture begin along one edge of its sheet, and what is round it?"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from printplan.sizing.boxes import Sides
from printplan.sizing.white import WhiteRoom
from printplan.sizing.wrap import printed_length
from printplan.spec import Placement

if TYPE_CHECKING:
    from printplan.media import Margins
    from printplan.spec import SheetSpec

OPTICAL_TOP_SHARE = 0.45
"""Share of the white above a picture at the optical centre; the rest lies below.
Common practice, no source: mats are cut deeper at the foot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """
    What comes round the picture on its sheet.

    Attributes
    ----------
    sides, continued : Sides
        All that is printed round the front, and what of it continues the picture.
    white : WhiteRoom or None
        White and ink round that; None for the border of the sheet's spec alone.
    shrinks_across_percent, shrinks_along_percent : float
        As in `WrapSpec`.
    """

    sides: Sides = field(default_factory=Sides)
    continued: Sides = field(default_factory=Sides)
    white: WhiteRoom | None = None
    shrinks_across_percent: float = 0.0
    shrinks_along_percent: float = 0.0


@dataclass(frozen=True, slots=True)
class Axis:
    """
    One way across the sheet as it is looked at, from left to right or from the top.

    Attributes
    ----------
    front_mm : float
        As it is to hang.
    sides, continued, white, inked, margins : tuple of float
        Before the front and after it.
    share, offset_mm : float
        Of what is left the share before it, and what is added to that.
    scale : float
        What is printed over what is to hang.
    follows : bool
        Whether the paper's length follows from what is printed.
    """

    front_mm: float
    sides: tuple[float, float]
    continued: tuple[float, float]
    white: tuple[float, float]
    inked: tuple[float, float]
    margins: tuple[float, float]
    share: float
    offset_mm: float
    scale: float
    follows: bool = False

    @property
    def block_mm(self) -> float:
        """All that is printed of the picture and its sides."""
        return (self.front_mm + sum(self.sides)) * self.scale

    @property
    def needed(self) -> tuple[float, float]:
        """White before and after it; below 0 where it goes beyond the sheet."""
        before, after = (
            margin if margin < 0 else max(margin, white, margin + ink if ink else 0.0)
            for margin, white, ink in zip(
                self.margins, self.white, self.inked, strict=True
            )
        )
        if self.follows and self.offset_mm:
            # The centre is moved by making one end longer.
            before, after = (
                max(before, after + 2 * self.offset_mm),
                max(after, before - 2 * self.offset_mm),
            )
        return before, after

    @property
    def least_mm(self) -> float:
        """Least length of paper."""
        return self.block_mm + sum(self.needed)

    def room_mm(self, sheet_mm: float) -> float:
        """The longest block that keeps the white needed before and after it."""
        before, after = self.needed
        if self.follows:
            return sheet_mm - before - after
        return min(
            sheet_mm - (before - self.offset_mm) / self.share,
            sheet_mm - (after + self.offset_mm) / (1 - self.share),
        )

    def front_room_mm(self, sheet_mm: float) -> float:
        """The longest front, as it is to hang."""
        return self.room_mm(sheet_mm) / self.scale - sum(self.sides)

    def start_mm(self, sheet_mm: float) -> float:
        """Where the block begins."""
        if self.follows:
            return self.needed[0]
        return (sheet_mm - self.block_mm) * self.share + self.offset_mm

    def stretches(self, sheet_mm: float) -> dict[str, tuple[float, float]]:
        """Where room, front, picture, block and white begin and end."""
        low, high = (min(it, 0.0) for it in self.margins)
        start = self.start_mm(sheet_mm)
        front = start + self.sides[0] * self.scale
        front_end = front + self.front_mm * self.scale
        block_end = start + self.block_mm
        more = [it * self.scale for it in self.continued]

        def clipped(before: float, after: float) -> tuple[float, float]:
            return max(start - before, low), min(block_end + after, sheet_mm - high)

        before, after = self.needed
        room = (before, sheet_mm - after)
        return {
            "room": (start, block_end) if self.follows else room,
            "front": (front, front_end),
            "picture": (front - more[0], front_end + more[1]),
            "block": (start, block_end),
            "bordered": clipped(*self.white),
            "inked": clipped(*map(max, self.white, self.inked)),
        }


def axes_of(
    picture_mm: tuple[float, float],
    margins: Margins,
    spec: SheetSpec,
    around: Around,
    *,
    turned: bool,
) -> tuple[Axis, Axis]:
    """Across and down the sheet as it is looked at."""
    border = Sides(*(spec.border_mm,) * 4)
    white = around.white or WhiteRoom(border, Sides())
    left, top, right, bottom = (
        -spec.bleed_mm if spec.bleed_mm > 0 else max(it, spec.deckle_mm)
        for it in _sides(margins, turned=turned)
    )
    shrinks = (around.shrinks_across_percent, around.shrinks_along_percent)
    scales = [printed_length(1.0, it) for it in (shrinks[::-1] if turned else shrinks)]
    places = _places(spec)
    return (
        Axis(
            picture_mm[0],
            around.sides.across_mm,
            around.continued.across_mm,
            white.inside_cut.across_mm,
            white.inked.across_mm,
            (left, right),
            *places[0],
            scales[0],
        ),
        Axis(
            picture_mm[1],
            around.sides.down_mm,
            around.continued.down_mm,
            white.inside_cut.down_mm,
            white.inked.down_mm,
            (top, bottom),
            *places[1],
            scales[1],
        ),
    )


def _sides(margins: Margins, *, turned: bool) -> tuple[float, float, float, float]:
    """Left, top, right, bottom margins of the sheet as it is looked at."""
    going_in = (
        margins.left_mm,
        margins.leading_mm,
        margins.right_mm,
        margins.trailing_mm,
    )
    left, top, right, bottom = going_in
    return (bottom, left, top, right) if turned else going_in


def _places(spec: SheetSpec) -> tuple[tuple[float, float], tuple[float, float]]:
    """Share of the white before the picture and its offset: across, then down."""
    if spec.placement is Placement.OPTICAL_CENTRE:
        return (0.5, 0.0), (OPTICAL_TOP_SHARE, 0.0)
    return (0.5, spec.offset_right_mm), (0.5, spec.offset_down_mm)
