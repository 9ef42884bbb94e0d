"""How much white lies round what is printed, and where on it do marks and words go?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from printplan.sizing.boxes import Sides
from printplan.spec import Marks

if TYPE_CHECKING:
    from printplan.spec import WhiteSpec

MARK_GAP_MM = 2.0
"""From a cut to the marks for it, so that none is left on the print when a cut wanders
(by about 1 mm: common practice, no source)."""

MARK_LENGTH_MM = 5.0
FOLD_MARK_LENGTH_MM = 2.5
"""Lengths of a mark at a corner, and of one at a fold. Our choice."""

MARK_WIDTH_MM = 0.25
"""Thickness of marks and cut lines: 0.7 pt, a hairline that most printers hold. Our
choice."""

LINE_WHITE_MM = 1.0
"""White left between picture and cut line, so that they never touch. Our choice."""

LINE_ROOM_MM = 1.0
"""Room for a line that is thinner: it is at least one pixel wide, at 30 ppi 0.85 mm."""

CAPTION_LINE_SHARE = 1.7
"""Height of a caption's line over that of its capitals: from the top of an accent on
them to the foot of a g. Our choice."""


@dataclass(frozen=True, slots=True)
class WhiteRoom:
    """
    What lies round the printed area.

    Attributes
    ----------
    inside_cut : Sides
        White that stays on the print: border, key line, and a caption without marks.
    inked : Sides
        How far ink reaches from the printed area.
    """

    inside_cut: Sides
    inked: Sides

    @property
    def whole(self) -> Sides:
        """The larger of the two at each edge."""
        return _largest(self.inside_cut, self.inked)


def white_room(white: WhiteSpec, border_mm: float, *, folds: bool = False) -> WhiteRoom:
    """
    White needed round the printed area.

    Parameters
    ----------
    border_mm : float
        White kept on all sides at least.
    folds : bool, optional
        Whether there are folds to be marked.

    Examples
    --------
    >>> from printplan.spec import WhiteSpec
    >>> white_room(WhiteSpec(marks="corners"), border_mm=10).inked.left_mm
    17.0
    """
    line_mm = line_ink_mm = 0.0
    if white.key_line_mm > 0:
        line_mm = white.key_line_gap_mm + white.key_line_mm
        line_ink_mm = max(line_mm, white.key_line_gap_mm + LINE_ROOM_MM)
    caption_mm = caption_height_mm(white)
    cut_mm = max(border_mm, line_mm)
    if white.marks is Marks.LINE:
        cut_mm = max(cut_mm, LINE_WHITE_MM + line_mm)
    if white.marks is Marks.NONE:
        foot_mm = line_ink_mm
        if caption_mm:
            foot_mm += white.caption_gap_mm + caption_mm
        inside = Sides(cut_mm, cut_mm, cut_mm, max(cut_mm, foot_mm))
        return WhiteRoom(inside, Sides(*(line_ink_mm,) * 3, foot_mm))
    marks_mm = MARK_GAP_MM + MARK_LENGTH_MM
    if white.marks is Marks.LINE:
        marks_mm = MARK_GAP_MM + FOLD_MARK_LENGTH_MM if folds else LINE_ROOM_MM
    inked_mm = max(cut_mm + marks_mm, line_ink_mm)
    foot_mm = inked_mm + (white.caption_gap_mm + caption_mm if caption_mm else 0.0)
    return WhiteRoom(
        Sides(cut_mm, cut_mm, cut_mm, cut_mm),
        Sides(inked_mm, inked_mm, inked_mm, foot_mm),
    )


def caption_top_mm(white: WhiteSpec, border_mm: float, *, folds: bool = False) -> float:
    """How far below the printed area a caption's line begins."""
    room = white_room(white, border_mm, folds=folds)
    return room.inked.bottom_mm - caption_height_mm(white)


def caption_height_mm(white: WhiteSpec) -> float:
    """Height of a caption's line; 0 without one."""
    return CAPTION_LINE_SHARE * white.caption_mm if white.caption else 0.0


def _largest(one: Sides, other: Sides) -> Sides:
    return Sides(
        max(one.left_mm, other.left_mm),
        max(one.top_mm, other.top_mm),
        max(one.right_mm, other.right_mm),
        max(one.bottom_mm, other.bottom_mm),
    )
