"""Where does the picture lie on its sheet, in millimetres and in whole pixels?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from printplan.errors import FitError
from printplan.media import Margins
from printplan.spec import SHORTEST_MM, Orientation, Placement, SheetSpec
from printplan.units import (
    LengthUnit,
    at_most_mm,
    at_most_words,
    length_words,
    px_from_mm,
    whole_px,
)

if TYPE_CHECKING:
    from printplan.spec import MountSpec


def fold_edges(picture: Edges, mount: MountSpec) -> Edges | None:
    """
    Where the picture folds over a stretcher bar; what lies inside is its front.

    Parameters
    ----------
    picture : Edges
        In millimetres.

    Returns
    -------
    Edges or None
        None without a wrap, and where the wraps of two sides leave no front.
    """
    wrap_mm = mount.wrap_mm
    front = Edges(
        picture.left_mm + wrap_mm,
        picture.top_mm + wrap_mm,
        picture.right_mm - wrap_mm,
        picture.bottom_mm - wrap_mm,
    )
    is_front = front.left_mm < front.right_mm and front.top_mm < front.bottom_mm
    return front if wrap_mm > 0 and is_front else None


OPTICAL_TOP_SHARE = 0.45
"""Share of the white above a picture at the optical centre; the rest lies below.
Common practice, no source: mats are cut deeper at the foot."""

_TOUCH_MM = 1e-6
"""Lengths that differ by less touch: far below any printer, far above rounding."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle of whole pixels; right and bottom are excluded."""

    left: int
    top: int
    width: int
    height: int

    @property
    def right(self) -> int:
        """First column after the box."""
        return self.left + self.width

    @property
    def bottom(self) -> int:
        """First row after the box."""
        return self.top + self.height

    def moved(self, right: int, down: int) -> Box:
        """
        The same rectangle elsewhere.

        Parameters
        ----------
        right, down : int
            Pixels to move by.
        """
        return Box(self.left + right, self.top + down, self.width, self.height)

    def common(self, other: Box) -> Box | None:
        """
        The part that two boxes share.

        Returns
        -------
        Box or None
            None if they share no pixel.
        """
        left, top = max(self.left, other.left), max(self.top, other.top)
        width = min(self.right, other.right) - left
        height = min(self.bottom, other.bottom) - top
        return Box(left, top, width, height) if width > 0 and height > 0 else None

    def grown(self, by: int, within: Box) -> Box:
        """
        The box and its surroundings, as far as another box reaches.

        Parameters
        ----------
        by : int
            Pixels added on each side.
        within : Box
            Holds the result; must hold this box too.
        """
        left, top = max(self.left - by, within.left), max(self.top - by, within.top)
        right = min(self.right + by, within.right)
        bottom = min(self.bottom + by, within.bottom)
        return Box(left, top, right - left, bottom - top)


@dataclass(frozen=True, slots=True)
class Edges:
    """A rectangle in millimetres from the sheet's left top corner."""

    left_mm: float
    top_mm: float
    right_mm: float
    bottom_mm: float

    @property
    def words(self) -> str:
        """Its edges."""
        return (
            f"left {self.left_mm:.1f}, top {self.top_mm:.1f}, right "
            f"{self.right_mm:.1f}, bottom {self.bottom_mm:.1f} mm"
        )

    def in_px(self, ppi: float) -> Box:
        """
        The rectangle in whole pixels, each edge rounded once.

        Returns
        -------
        Box
            Neighbours that share an edge in millimetres share it in pixels. No
            side is shorter than one pixel.
        """
        left, top, right, bottom = (
            whole_px(px_from_mm(edge, ppi))
            for edge in (self.left_mm, self.top_mm, self.right_mm, self.bottom_mm)
        )
        return Box(left, top, max(right - left, 1), max(bottom - top, 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLayout:
    """
    The sheet and what lies on it.

    Attributes
    ----------
    orientation : Orientation
        Portrait or landscape, decided.
    width_mm, height_mm : float
        The sheet as it is looked at.
    turned : bool
        Whether the picture lies on the paper turned by 90 degrees, anticlockwise as
        the paper goes in.
    printable, picture, bordered : Edges
        What the feed path can reach; the picture; the picture with its border.
    """

    orientation: Orientation
    turned: bool
    width_mm: float
    height_mm: float
    printable: Edges
    picture: Edges
    bordered: Edges

    @property
    def sheet(self) -> Edges:
        """The whole sheet."""
        return Edges(0.0, 0.0, self.width_mm, self.height_mm)

    @property
    def in_feed_mm(self) -> tuple[float, float]:
        """The sheet as it goes in: across the feed, then along it."""
        seen_mm = self.width_mm, self.height_mm
        return seen_mm[::-1] if self.turned else seen_mm


NO_MARGINS = Margins(leading_mm=0, trailing_mm=0, left_mm=0, right_mm=0)
"""Of a feed path that prints to every edge."""

_CENTRED = SheetSpec(media_size="A4", feed="")  # Its size and feed are not used.


def lay_out(
    picture_mm: tuple[float, float],
    media_mm: tuple[float, float],
    margins: Margins = NO_MARGINS,
    spec: SheetSpec = _CENTRED,
    *,
    unit: LengthUnit = LengthUnit.MM,
) -> SheetLayout:
    """
    Lay the picture on its sheet.

    Parameters
    ----------
    picture_mm : tuple of float
        Width and height of the picture as it is looked at.
    media_mm : tuple of float
        The sheet as it goes in: across the feed, then along it; see
        `sheet_in_feed_mm`.
    margins : Margins, optional
        Of the feed path; by default none.
    spec : SheetSpec, optional
        Orientation, placement and white border; by default centred, without one.
    unit : LengthUnit, optional
        That a refusal speaks in.

    Raises
    ------
    FitError
        If picture and border do not fit at that place.

    Notes
    -----
    The picture is centred on the sheet, not on the printable area. Where the sheet
    is looked at the other way than it goes in, the picture is turned 90 degrees
    anticlockwise onto it, as `orientation-requested` 4 of IPP says (RFC 8011,
    5.2.10): the picture's top then lies along the sheet's left edge. That is a
    landscape picture on a cut sheet, and an upright one on a short length of a wide
    roll; a landscape one lies on that as it goes in.

    Examples
    --------
    >>> layout = lay_out((300, 200), (297, 420))  # a landscape picture on A3
    >>> layout.width_mm, layout.picture.left_mm, layout.picture.top_mm
    (420, 60.0, 48.5)
    """
    lies_wide = spec.orientation is Orientation.LANDSCAPE or (
        spec.orientation is Orientation.BY_PICTURE and picture_mm[0] > picture_mm[1]
    )
    turned = lies_wide is not (media_mm[0] > media_mm[1])
    sheet_mm = media_mm[::-1] if turned else media_mm
    left, top, right, bottom = _sides(margins, turned=turned)
    horizontal, vertical = _axes(spec)
    starts, rooms = [], []
    for (share, offset), length, sheet, before, after in (
        (horizontal, picture_mm[0], sheet_mm[0], left, right),
        (vertical, picture_mm[1], sheet_mm[1], top, bottom),
    ):
        starts.append((sheet - length) * share + offset)
        # The longest picture that keeps the white needed before and after it.
        room_before = sheet - (max(before, spec.border_mm) - offset) / share
        room_after = sheet - (max(after, spec.border_mm) + offset) / (1 - share)
        rooms.append(min(room_before, room_after))
    _require_room(picture_mm, rooms, sheet_mm, unit)
    picture = Edges(
        starts[0], starts[1], starts[0] + picture_mm[0], starts[1] + picture_mm[1]
    )
    border = spec.border_mm
    return SheetLayout(
        orientation=Orientation.LANDSCAPE if lies_wide else Orientation.PORTRAIT,
        turned=turned,
        width_mm=sheet_mm[0],
        height_mm=sheet_mm[1],
        printable=Edges(left, top, sheet_mm[0] - right, sheet_mm[1] - bottom),
        picture=picture,
        bordered=Edges(
            max(picture.left_mm - border, 0.0),
            max(picture.top_mm - border, 0.0),
            min(picture.right_mm + border, sheet_mm[0]),
            min(picture.bottom_mm + border, sheet_mm[1]),
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


def _axes(spec: SheetSpec) -> tuple[tuple[float, float], tuple[float, float]]:
    """Share of the white before the picture and its offset: across, then down."""
    if spec.placement is Placement.OPTICAL_CENTRE:
        return (0.5, 0.0), (OPTICAL_TOP_SHARE, 0.0)
    return (0.5, spec.offset_right_mm), (0.5, spec.offset_down_mm)


def _require_room(
    picture_mm: tuple[float, float],
    rooms: list[float],
    sheet_mm: tuple[float, float],
    unit: LengthUnit,
) -> None:
    if all(
        length <= room + _TOUCH_MM
        for length, room in zip(picture_mm, rooms, strict=True)
    ):
        return
    width, height = picture_mm
    problem = (
        f"The picture is {length_words(unit, width, height)}; the sheet of "
        f"{length_words(unit, *sheet_mm)} takes "
        f"{length_words(unit, *(max(room, 0) for room in rooms))} at this place, "
        "between its margins and within its border."
    )
    shrink = min(rooms[0] / width, rooms[1] / height)
    if at_most_mm(unit, min(width, height) * shrink) < SHORTEST_MM:
        raise FitError(
            problem,
            remedy="Choose a smaller offset or border, or a larger sheet.",
        )
    raise FitError(
        problem,
        remedy="Choose a picture of at most "
        f"{at_most_words(unit, width * shrink, height * shrink)}, another place, or a "
        "larger sheet.",
    )
