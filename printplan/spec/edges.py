"""What is asked for round the picture: sides of a canvas, ink on the white?"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from printplan.errors import SpecError
from printplan.spec.ranges import in_range, member, take_words


class WrapSide(StrEnum):
    """What is printed on one side of a canvas round its bar."""

    MIRRORED = "mirrored"
    STRETCHED = "stretched"
    CONTINUED = "continued"
    COLOUR = "colour"
    EDGE_MEAN = "edge-mean"


@dataclass(frozen=True, slots=True, kw_only=True)
class WrapSpec:
    """
    A canvas that is printed to go round a bar.

    The size asked is that of the front; the sides are added to it.

    Attributes
    ----------
    bar_depth_mm : float
        Depth of the bar, which the visible side covers; 0 without a wrap.
    turn_over_mm : float
        Printed further, to be fixed at the back.
    left, top, right, bottom : WrapSide
        What each side shows: the front mirrored at the fold, its edge mirrored and
        stretched, the master continued, one colour, or the mean of the front's edge.
    colour : str
        Of `COLOUR`: sRGB (IEC 61966-2-1) as ``#rrggbb``.
    edge_mm : float
        How much of the front's edge is stretched, or gives the mean.
    shrinks_across_percent, shrinks_along_percent : float
        How much shorter the canvas is when stretched and dry than as printed, across
        and along the feed; below 0 if it gets longer. What is printed is longer by as
        much, so that the front has the size asked when it hangs.
    """

    bar_depth_mm: float = 0.0
    turn_over_mm: float = 0.0
    left: WrapSide = WrapSide.MIRRORED
    top: WrapSide = WrapSide.MIRRORED
    right: WrapSide = WrapSide.MIRRORED
    bottom: WrapSide = WrapSide.MIRRORED
    colour: str = "#ffffff"
    edge_mm: float = 10.0
    shrinks_across_percent: float = 0.0
    shrinks_along_percent: float = 0.0

    def __post_init__(self) -> None:
        sides = dict.fromkeys(("left", "top", "right", "bottom"), WrapSide)
        take_words(self, **sides)
        in_range("Bar depth", self.bar_depth_mm, 0, 500, "mm")
        in_range("Turn-over", self.turn_over_mm, 0, 500, "mm")
        in_range("Edge of the front", self.edge_mm, 0.5, 500, "mm")
        for way in ("across", "along"):
            share = getattr(self, f"shrinks_{way}_percent")
            in_range(f"Shrinking {way} the feed", share, -5, 5, "%")
        if _COLOUR.fullmatch(self.colour) is None:
            raise SpecError(
                f"The colour of a side is {self.colour!r}.",
                remedy="Give red, green and blue of sRGB in two hexadecimal digits "
                'each, such as "#f4efe6".',
            )
        if self.turn_over_mm > 0 and not self.is_wrapped:
            raise SpecError(
                f"The turn-over is {self.turn_over_mm:g} mm, and there is no bar.",
                remedy="Give the bar's depth, or set the turn-over to 0.",
            )

    @property
    def is_wrapped(self) -> bool:
        """Whether there is a bar to go round."""
        return self.bar_depth_mm > 0

    @property
    def side_mm(self) -> float:
        """Printed round each edge of the front: bar and turn-over."""
        return self.bar_depth_mm + self.turn_over_mm

    def is_continued(self, side: str) -> bool:
        """Whether a side, by its name, shows more of the master."""
        return self.is_wrapped and getattr(self, side) is WrapSide.CONTINUED


_COLOUR = re.compile("#[0-9a-fA-F]{6}")


class Marks(StrEnum):
    """What shows where to cut, and where a canvas folds."""

    NONE = "none"
    CORNERS = "corners"
    LINE = "line"


class CaptionPart(StrEnum):
    """What a caption tells."""

    TITLE = "title"
    EDITION = "edition"
    PAPER = "paper"
    SIZE = "size"
    DATE = "date"


@dataclass(frozen=True, slots=True, kw_only=True)
class WhiteSpec:
    """
    What is printed on the white outside the picture.

    Attributes
    ----------
    key_line_mm : float
        Thickness of a line round the picture; 0 for none.
    key_line_gap_mm : float
        White between picture and line.
    key_line_l : float
        Its lightness on the master's scale, 0 to 100 L*.
    marks : Marks
        Marks at the corners to cut by, or a line to cut along, outside picture and
        border; either with marks where a canvas folds.
    caption : tuple of CaptionPart
        What a line below the picture tells, in this order; empty for no caption.
    caption_title, caption_edition, caption_date : str
        What those parts say.
    caption_mm : float
        Height of the caption's capitals.
    caption_gap_mm : float
        White above the caption: below the picture, or below the cut if there are
        marks.
    """

    key_line_mm: float = 0.0
    key_line_gap_mm: float = 2.0
    key_line_l: float = 0.0
    marks: Marks = Marks.NONE
    caption: tuple[CaptionPart, ...] = ()
    caption_title: str = ""
    caption_edition: str = ""
    caption_date: str = ""
    caption_mm: float = 3.0
    caption_gap_mm: float = 5.0

    def __post_init__(self) -> None:
        take_words(self, marks=Marks)
        parts = tuple(member(CaptionPart, it, "Caption") for it in self.caption)
        object.__setattr__(self, "caption", parts)
        in_range("Key line", self.key_line_mm, 0, 20, "mm")
        in_range("White inside the key line", self.key_line_gap_mm, 0, 200, "mm")
        in_range("Lightness of the key line", self.key_line_l, 0, 100, "L*")
        in_range("Height of the caption's letters", self.caption_mm, 1, 50, "mm")
        in_range("White above the caption", self.caption_gap_mm, 0.5, 500, "mm")
        for part in self.caption:
            text = getattr(self, f"caption_{part}", None)
            if text is not None and not text.strip():
                raise SpecError(
                    f"The caption is to tell the {part}, and none is given.",
                    remedy=f"Write the {part}, or leave it out of the caption.",
                )
