"""How large is a sheet, and what is it called?"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from difflib import get_close_matches
from typing import TYPE_CHECKING

from printplan.errors import SpecError
from printplan.media import MediaForm
from printplan.spec import LONGEST_MM, SHORTEST_MM, Orientation
from printplan.units import (
    LengthUnit,
    in_unit,
    mm_from_inches,
    parse_length_mm,
    short_words,
    span_words,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from printplan.media import FeedPath
    from printplan.spec import SheetSpec


SAME_MM = 1.0
"""Edges that differ by no more are the same sheet or roll: cut paper varies by about
that. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class _Sheet:
    """Edges of a sheet in portrait, exactly as they are named."""

    short: Decimal
    long: Decimal
    unit: str

    @property
    def dimensions(self) -> str:
        return f"{_digits(self.short)}x{_digits(self.long)}"

    @property
    def edges_mm(self) -> tuple[float, float]:
        short, long = float(self.short), float(self.long)
        if self.unit == "in":
            return mm_from_inches(short), mm_from_inches(long)
        return short, long


def _digits(number: Decimal) -> str:
    """A number without an exponent and without needless zeros."""
    return f"{number.normalize():f}"


def _iso_series(letter: str, short_mm: int, long_mm: int) -> dict[str, _Sheet]:
    """Sizes 0 to 10: each is half of the one before, rounded down to whole mm."""
    series = {}
    for number in range(11):
        series[f"{letter}{number}"] = _Sheet(Decimal(short_mm), Decimal(long_mm), "mm")
        short_mm, long_mm = long_mm // 2, short_mm
    return series


# ISO 216:2007, tables 1 and 2: A0 is 841 × 1189 mm, B0 is 1000 × 1414 mm. The B
# sizes of Japan (JIS P 0138) are larger and go by their edges here.
_ISO = {**_iso_series("A", 841, 1189), **_iso_series("B", 1000, 1414)}
_ISO_NAMES = {sheet: name for name, sheet in _ISO.items()}

_INCH_SIZES = (
    "4x6 in",
    "5x7 in",
    "8x10 in",
    "8.5x11 in",
    "8.5x14 in",
    "9x12 in",
    "11x14 in",
    "11x17 in",
    "12x18 in",
    "13x19 in",
    "16x20 in",
    "17x22 in",
    "18x24 in",
    "20x24 in",
    "24x30 in",
    "24x36 in",
    "30x40 in",
    "36x48 in",
)
"""Cut sheets and frames that photographers meet. Common practice, no source."""

_TRADE_NAMES = {
    "Letter": "8.5x11in",
    "Legal": "8.5x14in",
    "Tabloid": "11x17in",
    "Ledger": "11x17in",
    "A3+": "13x19in",
    "Super B": "13x19in",
}
"""Names that people type, and the sheet by its edges. Letter, tabloid and ledger:
ANSI/ASME Y14.1, sizes A and B; legal: PWG 5101.1; A3+ and super B, which papers of
329 × 483 mm are sold as too: common practice, no source."""

_TRADE_EDGES = {
    name.replace(" ", "").casefold(): edges for name, edges in _TRADE_NAMES.items()
}

_BARE_INCHES = (
    *("4x6", "5x7", "8x10", "8.5x11", "8.5x14"),
    *("11x14", "11x17", "13x19", "16x20", "17x22"),
)
"""Edges that mean inches though no unit follows: nothing is sold by the same numbers of
centimetres, as 30 × 40 is. Common practice, no source."""

# PWG 5101.1-2013, self-describing names of North American ("na") and other inch
# sizes ("oe"), by their edges in inches. From memory.
_PWG_INCH_NAMES = {
    "3.5x5": "oe_photo-l",
    "4x6": "na_index-4x6",
    "5x7": "na_5x7",
    "8x10": "na_govt-letter",
    "8.5x11": "na_letter",
    "8.5x14": "na_legal",
    "9x12": "na_arch-a",
    "10x12": "oe_photo-10r",
    "11x14": "na_edp",
    "11x17": "na_ledger",
    "12x18": "na_arch-b",
    "13x19": "na_super-b",
    "16x20": "oe_photo-16r",
    "17x22": "na_c",
    "18x24": "na_arch-c",
    "20x24": "oe_photo-20r",
    "22x34": "na_d",
    "24x30": "oe_photo-24x30",
    "24x36": "na_arch-d",
    "34x44": "na_e",
    "36x48": "na_arch-e",
}

_UNIT = r"(mm|cm|inches|inch|in|\"|″)"
_NUMBER = r"([0-9]{1,6}(?:\.[0-9]{1,6})?|\.[0-9]{1,6})"
_EDGES = re.compile(f"{_NUMBER}{_UNIT}?[x×]{_NUMBER}{_UNIT}")
_KEPT_UNIT = {"mm": ("mm", 1), "cm": ("mm", 10)}
_EXAMPLES = '"A3", "13x19 in" or "300x400 mm"'


def known_media_sizes() -> tuple[str, ...]:
    """
    Sizes to offer: ISO 216 A and B, then common inch sizes.

    Returns
    -------
    tuple of str
        Canonical names. Any other sheet goes by its edges.

    Examples
    --------
    >>> "A3" in known_media_sizes()
    True
    """
    return (*_ISO, *_INCH_SIZES)


def media_size_mm(name: str) -> tuple[float, float]:
    """
    Edges of a sheet in portrait.

    Parameters
    ----------
    name : str
        An ISO 216 size (``A0`` to ``A10``, ``B0`` to ``B10``), a size of the trade
        (``Letter``, ``Legal``, ``Tabloid``, ``A3+``, ``8x10``), or two edges and
        their unit: ``13x19 in``, ``300x400 mm``, ``30x40 cm``. Case, spaces and the
        order of the edges do not matter.

    Returns
    -------
    tuple of float
        Width and height in millimetres, the width being the shorter.

    Raises
    ------
    SpecError
        If the name is not known, or an edge is below 5 mm or above 60 m.

    References
    ----------
    .. [1] ISO 216:2007, Writing paper and certain classes of printed matter.
    .. [2] ANSI/ASME Y14.1, Decimal inch drawing sheet size and format.

    Examples
    --------
    >>> media_size_mm("A2"), media_size_mm("Letter")
    ((420.0, 594.0), (215.9, 279.4))
    >>> media_size_mm('10" × 8"')
    (203.2, 254.0)
    """
    return _sheet(name).edges_mm


def canonical_media_size(name: str) -> str:
    """
    The one name of a sheet, however it was written.

    Parameters
    ----------
    name : str
        See `media_size_mm`.

    Returns
    -------
    str
        An ISO 216 size by its name, any other by its edges, the shorter first.

    Raises
    ------
    SpecError
        As for `media_size_mm`.

    Examples
    --------
    >>> canonical_media_size(" a4"), canonical_media_size("19×13.0in")
    ('A4', '13x19 in')
    >>> canonical_media_size("29.7 x 21 cm"), canonical_media_size("Tabloid")
    ('A4', '11x17 in')
    """
    sheet = _sheet(name)
    return _ISO_NAMES.get(sheet) or f"{sheet.dimensions} {sheet.unit}"


_ROLL = re.compile(r"(?:roll)?(\d+(?:\.\d+)?(?:in|\"|mm|cm))(?:roll)?")


def pwg_media_size_name(name: str) -> str:
    """
    Self-describing name of a sheet for printers and job tickets.

    Parameters
    ----------
    name : str
        See `media_size_mm`.

    Returns
    -------
    str
        Class, size name and edges joined by underscores. A sheet that the standard
        does not list is of class ``custom`` and named by its edges.

    Raises
    ------
    SpecError
        As for `media_size_mm`.

    Notes
    -----
    The rule is the standard's grammar [1]_; which inch sizes have a name of their
    own, and which names, is written from memory of its tables. A printer also
    reads the edges from the name, so a sheet is never mistaken.

    References
    ----------
    .. [1] PWG 5101.1-2013, PWG Media Standardized Names 2.0, clause 5.

    Examples
    --------
    >>> pwg_media_size_name("A4"), pwg_media_size_name("8.5x11 in")
    ('iso_a4_210x297mm', 'na_letter_8.5x11in')
    >>> pwg_media_size_name("30x40 cm")
    'custom_300x400_300x400mm'
    """
    sheet = _sheet(name)
    custom = f"custom_{sheet.dimensions}"
    if sheet in _ISO_NAMES:
        described = f"iso_{_ISO_NAMES[sheet].lower()}"
    elif sheet.unit == "in":
        described = _PWG_INCH_NAMES.get(sheet.dimensions, custom)
    else:
        described = custom
    return f"{described}_{sheet.dimensions}{sheet.unit}"


def _sheet(name: str) -> _Sheet:
    """Read a name."""
    compact = "".join(name.split()).casefold()
    iso = _ISO.get(compact.upper())
    if iso is not None:
        return iso
    match = _EDGES.fullmatch(_with_unit(_TRADE_EDGES.get(compact, compact)))
    if match is None:
        raise _unknown(name, compact)
    first, first_unit, second, unit = match.groups()
    if first_unit not in {None, unit}:
        raise SpecError(
            f"The media size {name!r} has two units.",
            remedy=f"Give both edges in one, such as {_EXAMPLES}.",
        )
    short, long = sorted((Decimal(first), Decimal(second)))
    kept_unit, scale = _KEPT_UNIT.get(unit, ("in", 1))
    sheet = _Sheet(short * scale, long * scale, kept_unit)
    told = LengthUnit(kept_unit)
    for edge_mm in sheet.edges_mm:
        if not SHORTEST_MM <= edge_mm <= LONGEST_MM:
            raise SpecError(
                f"The media size {name!r} has an edge of {short_words(told, edge_mm)}.",
                remedy=f"Give edges from {span_words(told, SHORTEST_MM, LONGEST_MM)}, "
                f"such as {_EXAMPLES}.",
            )
    return sheet


def roll_width_mm(name: str) -> float | None:
    """
    Width of a roll, if that is what a name means.

    Parameters
    ----------
    name : str
        One length with its unit, with or without the word: ``24 in``,
        ``44 in roll``, ``610 mm``. Rolls of 24 and 44 inches are the trade's usual
        ones: common practice, no source.

    Returns
    -------
    float or None
        None for the name of a sheet.

    Examples
    --------
    >>> roll_width_mm("24 in roll"), roll_width_mm("Roll 610 mm"), roll_width_mm("A4")
    (609.6, 610.0, None)
    """
    match = _ROLL.fullmatch("".join(name.split()).casefold())
    if match is None:
        return None
    return parse_length_mm(match[1])


def roll_name(width_mm: float) -> str:
    """
    Name of a roll by its width: in inches where they are even, else in millimetres.

    Examples
    --------
    >>> roll_name(609.6), roll_name(610)
    ('24 in roll', '610 mm roll')
    """
    inches = in_unit(width_mm, LengthUnit.INCHES)
    is_even = abs(inches - round(inches, 2)) < _SAME_IN
    unit = LengthUnit.INCHES if is_even else LengthUnit.MM
    return f"{short_words(unit, width_mm)} roll"


_SAME_IN = 1e-6


def _with_unit(compact: str) -> str:
    """Edges that need no unit with the one that they mean."""
    edges = compact.replace("×", "x")
    turned = "x".join(reversed(edges.split("x")))
    return f"{edges}in" if {edges, turned} & set(_BARE_INCHES) else compact


def _unknown(name: str, compact: str) -> SpecError:
    """Say what is near; a far guess would only mislead."""
    names = (*known_media_sizes(), *_TRADE_NAMES)
    known = {size.replace(" ", "").casefold(): size for size in names}
    near = get_close_matches(compact, known, n=1, cutoff=0.8)
    meant = f'Did you mean "{known[near[0]]}"? ' if near else ""
    return SpecError(
        f"The media size {name!r} is not known.",
        remedy=f"{meant}Name an ISO 216 size, one of the trade, or two edges and "
        f"their unit, such as {_EXAMPLES}.",
    )


def media_in_feed_mm(
    sheet: SheetSpec,
    feed: FeedPath,
    *,
    rolls_mm: Iterable[float] = (),
    longest_print_mm: float | None = None,
) -> tuple[float, float | None]:
    """
    Edges of the chosen paper, as it goes through its feed path.

    Parameters
    ----------
    rolls_mm, longest_print_mm
        As for `sheet_in_feed_mm`.

    Returns
    -------
    tuple of float
        Across the feed, then along it; None along a roll that is named by its width,
        whose length follows from what is printed.

    Raises
    ------
    SpecError
        If no sheet goes by that name, or a feed path for cut sheets is to take a roll.
    """
    width_mm = roll_width_mm(sheet.media_size)
    if width_mm is None:
        return sheet_in_feed_mm(
            sheet, feed, rolls_mm=rolls_mm, longest_print_mm=longest_print_mm
        )
    if feed.takes is not MediaForm.ROLLS:
        raise SpecError(
            f"The {feed.name} takes cut sheets, and the paper is a roll "
            f"({sheet.media_size}).",
            remedy="Choose a feed path for rolls, or a sheet.",
        )
    if sheet.orientation is not Orientation.BY_PICTURE:
        raise SpecError(
            f"The orientation is {sheet.orientation}, and the length of the roll "
            "follows from the picture.",
            remedy='Choose the orientation "by the picture", and which way it lies on '
            "the roll.",
        )
    # Two names of one roll, 24 in and 610 mm, differ by less than a millimetre.
    kept = (it for it in rolls_mm if abs(it - width_mm) <= SAME_MM)
    return next(kept, width_mm), None


def sheet_in_feed_mm(
    sheet: SheetSpec,
    feed: FeedPath,
    *,
    rolls_mm: Iterable[float] = (),
    longest_print_mm: float | None = None,
) -> tuple[float, float]:
    """
    Edges of the chosen sheet, as it goes through its feed path.

    Parameters
    ----------
    rolls_mm : iterable of float, optional
        Widths of the rolls that are kept of the paper.
    longest_print_mm : float, optional
        Longest print that the printer makes on any feed path.

    Returns
    -------
    tuple of float
        Across the feed, then along it.

    Raises
    ------
    SpecError
        If no sheet goes by that name, or it is a roll without a length.

    Notes
    -----
    A cut sheet goes in by its shorter edge, as trays and slots are built (common
    practice, no source). A length of roll lies as it is cut: across goes the edge
    that is the width of a roll which is kept, whichever was named first; without such
    a roll a custom sheet's ``width_mm`` and a named sheet's shorter edge, or the
    other one where the feed path takes only that.

    Examples
    --------
    >>> from printplan.media import FeedPath, Margins
    >>> from printplan.spec import SheetSpec
    >>> feed = FeedPath(
    ...     name="roll unit", takes=MediaForm.ROLLS, margins=Margins(
    ...         leading_mm=3, trailing_mm=3, left_mm=3, right_mm=3),
    ...     shortest_mm=200, longest_mm=18_000, narrowest_mm=203, widest_mm=610,
    ...     thinnest_um=100, thickest_um=500)
    >>> sheet = SheetSpec(media_size="A2", feed="roll unit")
    >>> sheet_in_feed_mm(sheet, feed)
    (420.0, 594.0)
    >>> sheet_in_feed_mm(sheet, feed, rolls_mm=[594.0])
    (594.0, 420.0)
    """
    first_mm, second_mm = _edges_mm(sheet)
    if feed.takes is MediaForm.SHEETS:
        return min(first_mm, second_mm), max(first_mm, second_mm)
    ways = [(first_mm, second_mm), (second_mm, first_mm)]
    widths_mm = tuple(rolls_mm)
    kept = [way for way in ways if any(abs(way[0] - it) <= SAME_MM for it in widths_mm)]
    longest_mm = min(feed.longest_mm, longest_print_mm or feed.longest_mm)
    fitting = [
        (across_mm, along_mm)
        for across_mm, along_mm in ways
        if feed.narrowest_mm <= across_mm <= feed.widest_mm
        and feed.shortest_mm <= along_mm <= longest_mm
    ]
    return (kept or fitting or ways)[0]


def _edges_mm(sheet: SheetSpec) -> tuple[float, float]:
    if sheet.width_mm is not None and sheet.height_mm is not None:
        return sheet.width_mm, sheet.height_mm
    if roll_width_mm(sheet.media_size) is not None:
        raise SpecError(
            f"The paper is a roll ({sheet.media_size}), and how much of it is to be "
            "cut off is not said.",
            remedy="Give width and length, such as 24x12 in.",
        )
    return media_size_mm(sheet.media_size)
