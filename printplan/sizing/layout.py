"""Where does the picture lie on its sheet, in millimetres and in whole pixels?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from printplan.errors import FitError
from printplan.media import Margins
from printplan.sizing.boxes import Edges
from printplan.sizing.placing import Around, Axis, axes_of
from printplan.spec import (
    LONGEST_MM,
    SHORTEST_MM,
    Orientation,
    RollWay,
    SheetSpec,
)
from printplan.units import (
    LengthUnit,
    at_most_mm,
    at_most_words,
    length_words,
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


_TOUCH_MM = 1e-6
"""Lengths that differ by less touch: far below any printer, far above rounding."""


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
    printable : Edges
        What the feed path can reach.
    room : Edges
        Where the block may lie: within margins, border, and room for marks and words.
    front : Edges
        The picture as it is looked at on the wall.
    picture : Edges
        The front with what continues it from the master.
    block : Edges
        The front with all sides of a wrap; without one as large as the picture.
    bordered : Edges
        The block with the white that stays on the print.
    inked : Edges
        The same with marks and words outside it: all that a file of the picture alone
        holds.
    """

    orientation: Orientation
    turned: bool
    width_mm: float
    height_mm: float
    printable: Edges
    room: Edges
    front: Edges
    picture: Edges
    block: Edges
    bordered: Edges
    inked: Edges

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


def lay_out(  # noqa: PLR0913 - each is a fact of its own
    picture_mm: tuple[float, float],
    media_mm: tuple[float, float | None],
    margins: Margins = NO_MARGINS,
    spec: SheetSpec = _CENTRED,
    *,
    around: Around | None = None,
    roll_lengths_mm: tuple[float, float] = (0.0, LONGEST_MM),
    unit: LengthUnit = LengthUnit.MM,
) -> SheetLayout:
    """
    Lay the picture on its sheet.

    Parameters
    ----------
    picture_mm : tuple of float
        Width and height of the picture as it is looked at; of a canvas, its front.
    media_mm : tuple of float
        The sheet as it goes in: across the feed, then along it; see
        `media_in_feed_mm`. None along a roll whose length follows from the picture.
    margins : Margins, optional
        Of the feed path; by default none.
    spec : SheetSpec, optional
        Orientation, placement and white border; by default centred, without one.
    around : Around, optional
        Sides of a canvas, and white with marks and words; by default the border alone.
    roll_lengths_mm : tuple of float, optional
        Shortest and longest length that is cut off a roll.
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

    On a roll whose length follows, the picture lies in the middle across, and along
    the feed as near to the cut as margins, border and marks let it.

    Examples
    --------
    >>> layout = lay_out((300, 200), (297, 420))  # a landscape picture on A3
    >>> layout.width_mm, layout.picture.left_mm, layout.picture.top_mm
    (420, 60.0, 48.5)
    >>> layout = lay_out((900, 500), (610, None))  # on a roll
    >>> layout.turned, layout.in_feed_mm
    (True, (610, 900.0))
    """
    around = around or Around()
    across_mm, along_mm = media_mm
    if along_mm is not None:
        lies_wide = spec.orientation is Orientation.LANDSCAPE or (
            spec.orientation is Orientation.BY_PICTURE and picture_mm[0] > picture_mm[1]
        )
        turned = lies_wide is not (across_mm > along_mm)
        axes = axes_of(picture_mm, margins, spec, around, turned=turned)
        layout = _laid_out(axes, (across_mm, along_mm), turned=turned, unit=unit)
        return replace(layout, orientation=_ORIENTATIONS[lies_wide])
    shortest_mm, longest_mm = roll_lengths_mm
    ways = []
    for turned in _ROLL_WAYS[spec.roll_way]:
        axes = axes_of(picture_mm, margins, spec, around, turned=turned)
        along, across = axes if turned else axes[::-1]
        follows = replace(along, follows=True)
        both = (follows, across) if turned else (across, follows)
        excess = max(
            across.block_mm / max(across.room_mm(across_mm), _TOUCH_MM),
            follows.least_mm / longest_mm,
        )
        fits = excess <= 1 + _TOUCH_MM
        least_mm = follows.least_mm
        ways.append((not fits, least_mm if fits else excess, turned, both, least_mm))
    # Of two ways that take the same length the first stands as it goes in.
    _, _, turned, axes, least_mm = min(ways, key=lambda it: it[:3])
    roll_mm = (across_mm, min(max(least_mm, shortest_mm), longest_mm))
    return _laid_out(axes, roll_mm, turned=turned, unit=unit)


_ORIENTATIONS = {True: Orientation.LANDSCAPE, False: Orientation.PORTRAIT}

_ROLL_WAYS = {
    RollWay.LEAST_LENGTH: (False, True),
    RollWay.WIDTH_ACROSS: (False,),
    RollWay.WIDTH_ALONG: (True,),
}


def _laid_out(
    axes: tuple[Axis, Axis],
    media_mm: tuple[float, float],
    *,
    turned: bool,
    unit: LengthUnit,
) -> SheetLayout:
    """Lay it on paper of that size."""
    sheet_mm = media_mm[::-1] if turned else media_mm
    both = list(zip(axes, sheet_mm, strict=True))
    rooms = [axis.front_room_mm(length) for axis, length in both]
    fronts = (axes[0].front_mm, axes[1].front_mm)
    has_sides = any(it.sides != (0.0, 0.0) for it in axes)
    _require_room(fronts, rooms, sheet_mm, unit, has_sides=has_sides)
    across, down = (axis.stretches(length) for axis, length in both)
    (left, right), (top, bottom) = (
        [max(it, 0.0) for it in axis.margins] for axis in axes
    )
    return SheetLayout(
        orientation=_ORIENTATIONS[sheet_mm[0] > sheet_mm[1]],
        turned=turned,
        width_mm=sheet_mm[0],
        height_mm=sheet_mm[1],
        printable=Edges(left, top, sheet_mm[0] - right, sheet_mm[1] - bottom),
        **{
            name: Edges(across[name][0], down[name][0], across[name][1], down[name][1])
            for name in across
        },
    )


def _require_room(
    picture_mm: tuple[float, float],
    rooms: list[float],
    sheet_mm: tuple[float, float],
    unit: LengthUnit,
    *,
    has_sides: bool,
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
        f"between its margins and within its {'sides' if has_sides else 'border'}."
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
