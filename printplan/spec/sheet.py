"""Which paper is asked for, and where on it does the picture go?"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from printplan.errors import SpecError
from printplan.spec.ranges import (
    EDGE_WORDS,
    LONGEST_MM,
    SHORTEST_MM,
    UNSAID,
    in_range,
    take_words,
)


class Orientation(StrEnum):
    """How the sheet stands when the print is looked at."""

    PORTRAIT = "portrait"
    LANDSCAPE = "landscape"
    BY_PICTURE = "by-picture"


class Placement(StrEnum):
    """Where the picture goes on its sheet."""

    CENTRED = "centred"
    OPTICAL_CENTRE = "optical-centre"
    OFFSET = "offset"


class RollWay(StrEnum):
    """How a picture lies on a roll whose length follows from it."""

    LEAST_LENGTH = "least-length"
    WIDTH_ACROSS = "width-across"
    WIDTH_ALONG = "width-along"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSpec:
    """
    The sheet, and the picture's place on it.

    Attributes
    ----------
    media_size : str
        ``A4``, ``13x19 in`` and the like, or ``custom``; a roll by its width,
        ``24 in roll``, whose length then follows from what is printed.
    feed : str
        Feed path of the printer by name.
    width_mm, height_mm : float or None
        A custom sheet's edges. A length of roll is as wide as its roll and as high
        as it is long; cut sheets are turned, see `sheet_in_feed_mm`.
    orientation : Orientation
        `BY_PICTURE` turns the sheet as the picture lies.
    offset_right_mm, offset_down_mm : float
        With `OFFSET`, how far the picture's centre is from the sheet's centre.
    border_mm : float
        White paper kept round the picture on all four sides.
    roll_way : RollWay
        How the picture lies on such a roll: the way that takes less of it, or its
        width across or along the roll.
    deckle_mm : float
        Clearance kept from the sheet's edges, where a deckled edge is uneven.
    bleed_mm : float
        How far a borderless file reaches beyond each edge of the sheet, 0 for a print
        with margins. What lies there is lost.
    """

    media_size: str
    feed: str
    width_mm: float | None = None
    height_mm: float | None = None
    orientation: Orientation = Orientation.BY_PICTURE
    placement: Placement = Placement.CENTRED
    offset_right_mm: float = 0.0
    offset_down_mm: float = 0.0
    border_mm: float = 0.0
    roll_way: RollWay = field(default=RollWay.LEAST_LENGTH, metadata={UNSAID: True})
    deckle_mm: float = field(default=0.0, metadata={UNSAID: True})
    bleed_mm: float = field(default=0.0, metadata={UNSAID: True})

    def __post_init__(self) -> None:
        take_words(self, orientation=Orientation, placement=Placement, roll_way=RollWay)
        custom = self.media_size == "custom"
        for name in ("width_mm", "height_mm"):
            value, what = getattr(self, name), EDGE_WORDS[name]
            if custom and value is None:
                raise SpecError(
                    f"A custom sheet needs a {what}.",
                    remedy="Give its width and height, or name a sheet's size.",
                )
            if not custom and value is not None:
                raise SpecError(
                    f"The sheet {self.media_size!r} has its own size; "
                    f"a {what} of {value:g} mm is given.",
                    remedy=f"Remove the {what}, or call the sheet's size custom.",
                )
            if value is not None:
                in_range(f"Sheet {what}", value, SHORTEST_MM, LONGEST_MM, "mm")
        offset = (self.offset_right_mm, self.offset_down_mm)
        if self.placement is not Placement.OFFSET and offset != (0.0, 0.0):
            raise SpecError(
                f"The placement is {self.placement}, and an offset of "
                f"{offset[0]:g} right, {offset[1]:g} down mm is given.",
                remedy='Choose the placement "offset", or set both offsets to 0.',
            )
        for name, value in zip(("right", "down"), offset, strict=True):
            in_range(f"Offset {name}", value, -LONGEST_MM, LONGEST_MM, "mm")
        in_range("White border", self.border_mm, 0, 1000, "mm")
        in_range("Clearance of a deckled edge", self.deckle_mm, 0, 100, "mm")
        in_range("Bleed", self.bleed_mm, 0, 20, "mm")
        if self.bleed_mm > 0 and (self.border_mm > 0 or self.deckle_mm > 0):
            raise SpecError(
                f"A bleed of {self.bleed_mm:g} mm prints beyond the sheet's edges, and "
                "white is kept along them.",
                remedy="Choose a bleed, or a border and a clearance.",
            )
