"""Which sheet does a feed path's margin and scale page go on?"""

from __future__ import annotations

from math import floor
from typing import TYPE_CHECKING, Final

from printplan.errors import SpecError
from printplan.media import MediaForm
from printplan.sizing.media_sizes import SAME_MM, media_size_mm
from printplan.units import (
    LengthUnit,
    in_unit,
    mm_from_inches,
    short_words,
    span_words,
)

if TYPE_CHECKING:
    from printplan.media import FeedPath

LINE_MM: Final = 100.0
"""Length of the two lines that cross in the middle of the sheet."""

SHORTEST_EDGE_MM: Final = 120.0
SHORTEST_ALONG_MM: Final = 170.0
"""A smaller sheet has no room for the lines between two margins, and for the words.
Our choice; 5x7 in has it."""

_LONGEST_RULER_MM: Final = 50.0
"""Margins of sheets rarely pass 30 mm. Common practice, no source."""

_RULER_STEP_MM: Final = 5.0
BESIDE: Final = 0.25
"""Share of the edge at which its ruler stands: aside, so that the middle is free."""


def sheet_on_feed_mm(
    feed: FeedPath, sheet: str, unit: LengthUnit = LengthUnit.MM
) -> tuple[float, float]:
    """
    Edges of a sheet as it goes through a feed path.

    Parameters
    ----------
    sheet : str
        ``A4``, ``13x19 in`` and the like; for a roll its width and a length to cut.
    unit : LengthUnit, optional
        Of a refusal.

    Returns
    -------
    tuple of float
        Across the feed, then along it, in millimetres. A cut sheet goes in by its
        shorter edge; of a length of roll the longer edge that the path takes lies
        across, which wastes least.

    Raises
    ------
    SpecError
        If no sheet goes by that name, it does not go through, or it is smaller than
        120 × 170 mm.

    Examples
    --------
    >>> from printplan.record.printer_classes import PrinterClass, draft_of_class
    >>> feeder, _, roll = draft_of_class(PrinterClass.ROLL_24).printer.feeds
    >>> sheet_on_feed_mm(feeder, "A4"), sheet_on_feed_mm(roll, "24x12 in")
    ((210.0, 297.0), (609.6, 304.8))
    """
    short_mm, long_mm = media_size_mm(sheet)
    across_mm, along_mm = short_mm, long_mm
    if feed.takes is MediaForm.ROLLS and long_mm <= feed.widest_mm + SAME_MM:
        across_mm, along_mm = long_mm, short_mm
    if not (
        feed.narrowest_mm - SAME_MM <= across_mm <= feed.widest_mm + SAME_MM
        and feed.shortest_mm - SAME_MM <= along_mm <= feed.longest_mm + SAME_MM
    ):
        raise SpecError(
            f"{sheet} does not go through the {feed.name}: it is "
            f"{short_words(unit, across_mm, along_mm)}, and the path takes "
            f"{span_words(unit, feed.narrowest_mm, feed.widest_mm)} across and "
            f"{span_words(unit, feed.shortest_mm, feed.longest_mm)} along.",
            remedy="Name a sheet that goes through, such as "
            f"{usual_sheet(feed, unit)}.",
        )
    if across_mm < SHORTEST_EDGE_MM or along_mm < SHORTEST_ALONG_MM:
        raise SpecError(
            f"{sheet} is {short_words(unit, across_mm, along_mm)} as it goes in; the "
            f"page needs {short_words(unit, SHORTEST_EDGE_MM, SHORTEST_ALONG_MM)}, for "
            f"lines of {short_words(unit, LINE_MM)} between the margins.",
            remedy=_larger(feed),
        )
    return across_mm, along_mm


def _larger(feed: FeedPath) -> str:
    if feed.widest_mm < SHORTEST_EDGE_MM or feed.longest_mm < SHORTEST_ALONG_MM:
        return (
            f"The {feed.name} takes none: measure the white edges of any print that it "
            "cut, and type them in as its margins."
        )
    return "Name a larger sheet; margins are the same for all that go this way."


def usual_sheet(feed: FeedPath, unit: LengthUnit) -> str:
    """
    A sheet for the page that is at hand and goes through.

    Returns
    -------
    str
        Office paper of the studio's unit, the whole width of a roll, or the largest
        sheet of the path if it takes no office paper.
    """
    inches = unit is LengthUnit.INCHES
    office = ["8.5x11 in", "A4"] if inches else ["A4", "8.5x11 in"]
    if feed.takes is MediaForm.ROLLS:
        piece_mm = mm_from_inches(_ROLL_PIECE_IN) if inches else _ROLL_PIECE_MM
        along_mm = max(feed.shortest_mm, min(piece_mm, feed.longest_mm))
        return _edges_name(unit, feed.widest_mm, along_mm)
    for name in office:
        short_mm, long_mm = media_size_mm(name)
        if (
            feed.narrowest_mm <= short_mm <= feed.widest_mm
            and feed.shortest_mm <= long_mm <= feed.longest_mm
        ):
            return name
    return _edges_name(unit, feed.widest_mm, feed.longest_mm)


_ROLL_PIECE_MM: Final = 210.0
_ROLL_PIECE_IN: Final = 8.5
"""Length that is cut off a roll for the page. Our choice."""


def _edges_name(unit: LengthUnit, *edges_mm: float) -> str:
    """A sheet by its edges."""
    return f"{'x'.join(f'{in_unit(edge, unit):g}' for edge in edges_mm)} {unit}"


def ruler_mm(sheet_mm: tuple[float, float]) -> float:
    """
    Length of the page's rulers.

    Parameters
    ----------
    sheet_mm : tuple of float
        Edges of the sheet.

    Returns
    -------
    float
        Millimetres: a quarter of the shorter edge, in steps of 5, at most 50.

    Examples
    --------
    >>> ruler_mm((210, 297)), ruler_mm((127, 178))
    (50.0, 30.0)
    """
    steps = floor(min(sheet_mm) * BESIDE / _RULER_STEP_MM)
    return min(_LONGEST_RULER_MM, steps * _RULER_STEP_MM)
