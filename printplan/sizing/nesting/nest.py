"""How do many prints lie on one roll or on few sheets, and what does each take?"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from math import ceil, floor
from typing import TYPE_CHECKING

from printplan.errors import FitError, SpecError
from printplan.sizing.boxes import Edges
from printplan.sizing.layout import NO_MARGINS
from printplan.sizing.nesting.cut_list import Cut, cut_list
from printplan.sizing.nesting.free import nest_free
from printplan.sizing.nesting.guillotine import Item, nest_guillotine
from printplan.sizing.nesting.sheets import fill_sheets
from printplan.spec import LONGEST_MM
from printplan.units import LengthUnit, at_least_words, short_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from printplan.media import Margins
    from printplan.sizing.nesting.sheets import Filled

STEP_MM = 0.001
"""Lengths in inches and in tenths of a millimetre are whole numbers of these."""

_ROUNDING_MM = 1e-6

LONGEST_ROLL_MM = 1e6
"""To which length a refusal looks for what would do."""

MOST_PRINTS = 200
"""Prints nested at a time. Our choice: more make one file that no roll holds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """
    A print to be nested.

    Attributes
    ----------
    name : str
        Tells it from the others.
    width_mm, height_mm : float
        With its white border, if it has one.
    may_turn : bool
        Whether it may lie turned by 90 degrees.

    Examples
    --------
    >>> Piece(name="A4", width_mm=210, height_mm=297, copies=6).copies
    6
    """

    name: str
    width_mm: float
    height_mm: float
    copies: int = 1
    may_turn: bool = True

    def __post_init__(self) -> None:
        lengths = (self.width_mm, self.height_mm)
        if not all(0 < it <= LONGEST_MM for it in lengths) or self.copies < 1:
            raise SpecError(
                f"The print {self.name} is {self.width_mm:g} × {self.height_mm:g} mm, "
                f"{self.copies} times.",
                remedy=f"Give edges above 0 and up to {LONGEST_MM:g} mm, and 1 copy or "
                "more.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Medium:
    """
    What prints are nested on.

    Attributes
    ----------
    width_mm : float
        Across the feed.
    length_mm : float
        Along it: of a sheet, or what there is of a roll.
    is_roll : bool
        Whether as much is cut off as is used.
    sheets : int or None
        How many there are; None if nobody counts them. A roll is one.
    margins : Margins
        White edges that the feed path leaves.
    step_mm : float
        Prints are nested in whole steps, to which their edges are rounded up. Prints of
        whole pixels lose nothing if it is one pixel.

    Examples
    --------
    >>> Medium(width_mm=610, length_mm=30_000, is_roll=True).sheets is None
    True
    """

    width_mm: float
    length_mm: float
    is_roll: bool = False
    sheets: int | None = None
    margins: Margins = NO_MARGINS
    step_mm: float = STEP_MM

    def __post_init__(self) -> None:
        lengths = (self.width_mm, self.length_mm, self.step_mm)
        if not all(0 < it < 1e7 for it in lengths) or (self.sheets or 0) < 0:
            raise SpecError(
                f"The medium is {self.width_mm:g} × {self.length_mm:g} mm.",
                remedy="Give lengths above 0, and 0 sheets or more.",
            )

    def steps(self, length_mm: float) -> int:
        """Whole steps that hold a length."""
        return ceil((length_mm - _ROUNDING_MM) / self.step_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """
    Where one print lies.

    Attributes
    ----------
    name : str
        Of its piece.
    copy, copies : int
        Which of its copies, from 1, and how many there are.
    sheet : int
        From 1.
    left_mm, top_mm : float
        From the sheet's left top corner, as it goes in.
    width_mm, height_mm : float
        As it lies.
    turned : bool
        By 90 degrees anticlockwise, as `orientation-requested` 4 (RFC 8011, 5.2.10).
    """

    name: str
    copy: int
    copies: int
    sheet: int
    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float
    turned: bool

    @property
    def edges(self) -> Edges:
        """On its sheet."""
        right_mm, bottom_mm = self.left_mm + self.width_mm, self.top_mm + self.height_mm
        return Edges(self.left_mm, self.top_mm, right_mm, bottom_mm)

    @property
    def label(self) -> str:
        """Its name, and which copy it is if there are several."""
        if self.copies == 1:
            return self.name
        return f"{self.name} {self.copy}/{self.copies}"

    @property
    def area_mm2(self) -> float:
        """Paper that is print."""
        return self.width_mm * self.height_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Nesting:
    """
    Prints on their medium.

    Attributes
    ----------
    placements : tuple of Placement
        In the order of the pieces.
    used_mm : float
        Length cut off the roll; of the last sheet, down to its last print. The white
        edges that the feed path leaves are in it.
    sheets : int
        How many are used; 1 for a roll.
    is_proven : bool
        Whether it is proven that no other nesting takes less.
    """

    medium: Medium
    gap_mm: float
    placements: tuple[Placement, ...]
    used_mm: float
    sheets: int
    is_proven: bool

    @property
    def sheet(self) -> Edges:
        """One whole sheet, or the length that is cut off the roll."""
        medium = self.medium
        length_mm = self.used_mm if medium.is_roll else medium.length_mm
        return Edges(0.0, 0.0, medium.width_mm, length_mm)

    @property
    def paper_mm2(self) -> float:
        """Area of all paper that is used up."""
        return self.sheets * self.sheet.right_mm * self.sheet.bottom_mm

    @property
    def waste_share(self) -> float:
        """Share of the paper that is no print."""
        return 1 - sum(it.area_mm2 for it in self.placements) / self.paper_mm2

    def on_sheet(self, number: int) -> tuple[Placement, ...]:
        """What lies on one sheet, from 1."""
        return tuple(it for it in self.placements if it.sheet == number)

    def paper_share(self, placement: Placement) -> float:
        """
        Share of the used paper that one print is to bear.

        Notes
        -----
        By its area: waste is borne by all prints alike, whichever lies beside it.
        """
        return placement.area_mm2 / sum(it.area_mm2 for it in self.placements)

    def length_share_mm(self, placement: Placement) -> float:
        """Length of roll, or of all sheets in a row, that one print is to bear."""
        return self.paper_share(placement) * self.sheets * self.sheet.bottom_mm

    def cuts(self, sheet: int = 1) -> tuple[Cut, ...]:
        """
        The straight cuts that free the prints of one sheet; see `cut_list`.

        Raises
        ------
        FitError
            If straight cuts do not free them.
        """
        prints = {it.label: it.edges for it in self.on_sheet(sheet)}
        return cut_list(self.sheet, prints)


def nest(
    pieces: Sequence[Piece],
    medium: Medium,
    *,
    gap_mm: float = 0.0,
    straight_cuts: bool = False,
    unit: LengthUnit = LengthUnit.MM,
) -> Nesting:
    """
    Nest prints on a roll in the least length, or on the fewest sheets.

    Parameters
    ----------
    gap_mm : float, optional
        White between neighbours, 0 or more.
    straight_cuts : bool, optional
        Whether straight cuts from edge to edge must free all prints.
    unit : LengthUnit, optional
        That a refusal speaks in.

    Returns
    -------
    Nesting
        The same on every machine.

    Raises
    ------
    FitError
        If a print is larger than the medium, or the medium is too short.
    SpecError
        If names are given twice, or there are more than `MOST_PRINTS` prints.

    Notes
    -----
    A gap is put to the right of each print and below it, and once to the medium; what
    is nested then touches. Up to seven prints are nested exactly; see
    `printplan.sizing.nesting.guillotine` and `printplan.sizing.nesting.free` for how.

    Examples
    --------
    Six A4 sheets across a roll of 610 mm: two lie turned side by side.

    >>> roll = Medium(width_mm=610, length_mm=30_000, is_roll=True)
    >>> found = nest([Piece(name="A4", width_mm=210, height_mm=297, copies=6)], roll)
    >>> found.used_mm, found.placements[0].turned, found.is_proven
    (630.0, True, True)
    """
    _require_pieces(pieces, gap_mm)
    margins = medium.margins
    room_mm = (
        medium.width_mm - margins.left_mm - margins.right_mm,
        medium.length_mm - margins.leading_mm - margins.trailing_mm,
    )
    _require_room(pieces, room_mm, unit)
    steps, gap = medium.steps, medium.steps(gap_mm)
    width, height = (
        floor((it + _ROUNDING_MM) / medium.step_mm) + gap for it in room_mm
    )
    prints = [(piece, copy) for piece in pieces for copy in range(1, piece.copies + 1)]
    items = [
        Item(steps(it.width_mm) + gap, steps(it.height_mm) + gap, it.may_turn)
        for it, _ in prints
    ]
    by = nest_guillotine if straight_cuts else nest_free
    if medium.is_roll:
        packed = by(items, width, height)
        if packed is None:
            needed = by(items, width, steps(LONGEST_ROLL_MM))
            length = None if needed is None else needed.length - gap
            raise _too_short(length and length * medium.step_mm, room_mm, unit)
        filled, is_proven = [(tuple(range(len(items))), packed)], packed.is_proven
    else:
        found = fill_sheets(items, width, height, by)
        if found is None:
            raise _too_short(None, room_mm, unit)
        filled, is_proven = found
        if medium.sheets is not None and len(filled) > medium.sheets:
            raise FitError(
                f"These prints take {len(filled)} sheets; {medium.sheets} are left.",
                remedy=f"Nest fewer prints, or buy {len(filled) - medium.sheets} more.",
            )
    return Nesting(
        medium=medium,
        gap_mm=gap_mm,
        placements=_placements(prints, filled, medium),
        used_mm=margins.leading_mm
        + _length_mm(filled[-1][1].length - gap, medium)
        + margins.trailing_mm,
        sheets=len(filled),
        is_proven=is_proven,
    )


def _length_mm(steps: int, medium: Medium) -> float:
    """Told by micrometres where steps are fractions of an inch, or of a millimetre."""
    return round(steps * medium.step_mm, 6)


def _placements(
    prints: Sequence[tuple[Piece, int]], filled: Filled, medium: Medium
) -> tuple[Placement, ...]:
    places = {
        number: (sheet, spot)
        for sheet, (numbers, packed) in enumerate(filled, 1)
        for number, spot in zip(numbers, packed.spots, strict=True)
    }
    placements = []
    for number, (piece, copy) in enumerate(prints):
        sheet, spot = places[number]
        size_mm = (piece.width_mm, piece.height_mm)
        width_mm, height_mm = size_mm[::-1] if spot.turned else size_mm
        placements.append(
            Placement(
                name=piece.name,
                copy=copy,
                copies=piece.copies,
                sheet=sheet,
                left_mm=medium.margins.left_mm + _length_mm(spot.left, medium),
                top_mm=medium.margins.leading_mm + _length_mm(spot.top, medium),
                width_mm=width_mm,
                height_mm=height_mm,
                turned=spot.turned,
            )
        )
    return tuple(placements)


def _require_pieces(pieces: Sequence[Piece], gap_mm: float) -> None:
    twice = [name for name, n in Counter(it.name for it in pieces).items() if n > 1]
    if not pieces or twice:
        raise SpecError(
            f"Two prints are called {twice[0]}."
            if twice
            else "There is nothing to nest.",
            remedy="Give each print a name of its own, and its number of copies.",
        )
    count = sum(it.copies for it in pieces)
    if count > MOST_PRINTS:
        raise SpecError(
            f"{count} prints are to be nested; at most {MOST_PRINTS} are at a time.",
            remedy="Nest fewer copies, several times.",
        )
    if not 0 <= gap_mm <= LONGEST_MM:
        raise SpecError(
            f"The gap is {gap_mm:g} mm.", remedy="Give 0 mm or more, such as 5 mm."
        )


def _require_room(
    pieces: Sequence[Piece], room_mm: tuple[float, float], unit: LengthUnit
) -> None:
    for piece in pieces:
        size_mm = (piece.width_mm, piece.height_mm)
        ways = (size_mm, size_mm[::-1]) if piece.may_turn else (size_mm,)
        if any(
            way[0] <= room_mm[0] + _ROUNDING_MM and way[1] <= room_mm[1] + _ROUNDING_MM
            for way in ways
        ):
            continue
        turned = "" if piece.may_turn else " and may not be turned"
        raise FitError(
            f"The print {piece.name} is {short_words(unit, *size_mm)}{turned}; the "
            f"medium takes {short_words(unit, *(max(it, 0) for it in room_mm))} "
            "between its margins.",
            remedy="Choose a larger medium, or a smaller print.",
        )


def _too_short(
    length_mm: float | None, room_mm: tuple[float, float], unit: LengthUnit
) -> FitError:
    there = f"there are {short_words(unit, room_mm[1])} between the margins"
    if length_mm is None:
        return FitError(
            f"These prints are not nested on this medium: {there}.",
            remedy="Nest fewer prints, or choose a larger medium.",
        )
    return FitError(
        f"These prints take {at_least_words(unit, length_mm)} of the roll; {there}.",
        remedy="Nest fewer prints, or put in a roll with "
        f"{at_least_words(unit, length_mm - room_mm[1])} more.",
    )
