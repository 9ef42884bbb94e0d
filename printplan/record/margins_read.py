"""Which margins and which scale has a printer, by what was read off its page?"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from math import ceil
from typing import TYPE_CHECKING, Final

from printplan.checks.finding import Finding, Source, note, warn
from printplan.errors import SpecError
from printplan.media import Margins
from printplan.record.book_changes import change_printer
from printplan.record.margin_sheet import LINE_MM, ruler_mm
from printplan.units import LengthUnit, length_words, short_words

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date
    from pathlib import Path

    from printplan.media import FeedPath, Printer

SAME_LINE_MM: Final = 0.5
"""What a ruler laid on a line of 100 mm tells apart, so that half a per cent is no
other scale. Our choice."""

SAME_PLACE_MM: Final = 1.5
"""How far a sheet may lie aside without anything being wrong: feeds and cut sheets
differ by about 1 mm. Our choice."""

_ROUNDING = 1e-6
_SHORTEST_LINE_MM, _LONGEST_LINE_MM = 50.0, 150.0
"""What a driver still makes of the line of 100 mm; beyond, another line was measured,
or in another unit. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarginReadings:
    """
    What a person read off the margin and scale page.

    Attributes
    ----------
    leading_mm, trailing_mm, left_mm, right_mm : float
        Where the first whole line of each ruler stands, by the ruler's own numbers.
    line_across_mm, line_along_mm : float
        Lengths of the two lines of 100 mm, by another ruler.
    cross_from_leading_mm, cross_from_left_mm : float or None
        From the paper's edge to the crossing of the lines; None if not measured,
        which takes the page's middle to lie on the sheet's.
    """

    leading_mm: float
    trailing_mm: float
    left_mm: float
    right_mm: float
    line_across_mm: float = LINE_MM
    line_along_mm: float = LINE_MM
    cross_from_leading_mm: float | None = None
    cross_from_left_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MarginsRead:
    """
    What the readings tell.

    Attributes
    ----------
    feed : FeedPath
        With the margins found, and who says so.
    scale_across, scale_along : float
        At which the page was printed; 1 where the lines are as long as they are
        drawn.
    findings : tuple of Finding
        What is to be set otherwise in the driver, or looked at again.
    """

    feed: FeedPath
    scale_across: float
    scale_along: float
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class _Way:
    """One direction of the sheet: its two edges, and the line along it."""

    first: str
    last: str
    name: str
    sheet_mm: float
    first_mm: float
    last_mm: float
    line_mm: float
    cross_mm: float | None

    @property
    def scale(self) -> float:
        apart_mm = self.line_mm - LINE_MM
        return 1.0 if abs(apart_mm) <= SAME_LINE_MM else self.line_mm / LINE_MM

    @property
    def middle_mm(self) -> float:
        """Where the page's middle lies on the paper."""
        half_mm = self.sheet_mm / 2
        if self.cross_mm is None:
            return half_mm
        if self.scale == 1.0 and abs(self.cross_mm - half_mm) <= SAME_PLACE_MM:
            return half_mm
        return self.cross_mm

    @property
    def margins_mm(self) -> tuple[float, float]:
        """White at both edges: where on the paper the first whole lines lie."""
        half_mm = self.sheet_mm / 2
        first_mm = self.middle_mm - self.scale * (half_mm - self.first_mm)
        last_mm = self.middle_mm + self.scale * (half_mm - self.last_mm)
        return first_mm, self.sheet_mm - last_mm


def margins_read(
    feed: FeedPath,
    sheet_mm: tuple[float, float],
    readings: MarginReadings,
    *,
    read_on: date,
    unit: LengthUnit = LengthUnit.MM,
) -> MarginsRead:
    """
    Find a feed path's margins from what was read off its page.

    Parameters
    ----------
    sheet_mm : tuple of float
        The page's sheet, see `sheet_on_feed_mm`.
    read_on : date
        Kept with the margins.
    unit : LengthUnit, optional
        Of what the findings tell.

    Returns
    -------
    MarginsRead
        Margins to a tenth of a millimetre, rounded up. Of a page that was not printed
        at 100 % they are corrected by the scale of its lines, and a finding says how
        to print at 100 %.

    Raises
    ------
    SpecError
        If a reading is none that the page can give, or they contradict each other.

    Notes
    -----
    A point that the page has at the distance y from its edge is printed at
    m - s (H/2 - y) from the paper's, where s is the scale, H the sheet's edge and m
    the place of the page's middle. The first whole line is the first one inside the
    margin; lines are half a millimetre apart, so the margin is found up to so much
    too wide, and never too narrow.

    Without a measured crossing m is H/2: a page that is scaled from a corner, or
    lies aside, is then found with one margin too wide and the other too narrow by
    the same length.
    """
    ways = _ways(sheet_mm, readings)
    longest_mm = ruler_mm(sheet_mm)
    for way in ways:
        _require(way, longest_mm, unit)
    (along, across) = ways
    leading_mm, trailing_mm = _on_paper(along, unit)
    left_mm, right_mm = _on_paper(across, unit)
    margins = Margins(
        leading_mm=leading_mm,
        trailing_mm=trailing_mm,
        left_mm=left_mm,
        right_mm=right_mm,
    )
    source = f"test page of {read_on.isoformat()}"
    scales = dict.fromkeys(way.scale for way in ways if way.scale != 1.0)
    if scales:
        told = " and ".join(map(_per_cent, scales))
        source = f"{source}, which was printed at {told}"
    return MarginsRead(
        feed=replace(feed, margins=margins, margins_source=source),
        scale_across=across.scale,
        scale_along=along.scale,
        findings=tuple(_findings(ways, margins, unit)),
    )


def use_margins(book: str | Path, printer: str, read: MarginsRead) -> Printer:
    """
    Write margins that were found into a paper book; all else stays as it was typed.

    Parameters
    ----------
    book : str or Path
        The paper book.
    printer : str
        Its name. The feed path is that of `read`.

    Returns
    -------
    Printer
        As the book now holds it.

    Raises
    ------
    RecordError, SpecError
        If the book has no such printer or path, or cannot be changed.
    """

    def with_margins(old: Printer) -> Printer:
        before = old.feed(read.feed.name)
        after = replace(
            before,
            margins=read.feed.margins,
            margins_source=read.feed.margins_source,
        )
        feeds = tuple(after if it is before else it for it in old.feeds)
        return replace(old, feeds=feeds)

    return change_printer(book, printer, with_margins)


def _per_cent(scale: float) -> str:
    return f"{100 * scale:.1f} %"


def _ways(sheet_mm: tuple[float, float], readings: MarginReadings) -> tuple[_Way, _Way]:
    across_mm, along_mm = sheet_mm
    return (
        _Way(
            "leading",
            "trailing",
            "along the feed",
            along_mm,
            readings.leading_mm,
            readings.trailing_mm,
            readings.line_along_mm,
            readings.cross_from_leading_mm,
        ),
        _Way(
            "left",
            "right",
            "across the feed",
            across_mm,
            readings.left_mm,
            readings.right_mm,
            readings.line_across_mm,
            readings.cross_from_left_mm,
        ),
    )


def _require(way: _Way, longest_mm: float, unit: LengthUnit) -> None:
    """Refuse what the page cannot give."""
    for edge, read_mm in ((way.first, way.first_mm), (way.last, way.last_mm)):
        if not 0 <= read_mm <= longest_mm:
            raise SpecError(
                f"The reading at the {edge} edge is {short_words(unit, read_mm)}; the "
                f"page's ruler goes from 0 to {short_words(unit, longest_mm)}.",
                remedy="Read the ruler's own number at its first whole line, counted "
                "from the paper's edge.",
            )
    if not _SHORTEST_LINE_MM <= way.line_mm <= _LONGEST_LINE_MM:
        raise SpecError(
            f"The line {way.name} was measured as {short_words(unit, way.line_mm)}; it "
            f"is {short_words(unit, LINE_MM)} long.",
            remedy="Measure it from the outside of one end's mark to that of the "
            f"other, and give its unit: {LINE_MM:g} mm are 3.94 in.",
        )
    if way.cross_mm is not None and not 0 < way.cross_mm < way.sheet_mm:
        raise SpecError(
            f"The crossing would lie {short_words(unit, way.cross_mm)} from the "
            f"{way.first} edge; the sheet measures "
            f"{short_words(unit, way.sheet_mm)} there.",
            remedy=f"Measure from the paper's {way.first} edge to where the lines "
            f"cross; at 100 % that is {short_words(unit, way.sheet_mm / 2)}.",
        )


def _on_paper(way: _Way, unit: LengthUnit) -> tuple[float, float]:
    """Both margins, rounded up; refuse what would lie beside the paper."""
    found = way.margins_mm
    for edge, margin_mm in zip((way.first, way.last), found, strict=True):
        if margin_mm < -SAME_PLACE_MM:
            raise SpecError(
                f"By these numbers the first whole line at the {edge} edge lies "
                f"{short_words(unit, -margin_mm)} beside the paper.",
                remedy=f"Measure the line {way.name} and the crossing again, and see "
                "that the page was made for this sheet.",
            )
    first_mm, last_mm = (max(0.0, ceil(it * 10 - _ROUNDING) / 10) for it in found)
    return first_mm, last_mm


def _findings(
    ways: tuple[_Way, ...], margins: Margins, unit: LengthUnit
) -> Iterator[Finding]:
    scaled = [way for way in ways if way.scale != 1.0]
    if scaled:
        lines = " and ".join(
            f"the line {way.name} is {length_words(unit, way.line_mm)} long"
            for way in scaled
        )
        at = " and ".join(dict.fromkeys(_per_cent(way.scale) for way in scaled))
        yield warn(
            topic="driver scales",
            problem=f"The page was printed at {at}: {lines} instead of "
            f"{length_words(unit, LINE_MM)}. A print would be of the wrong size by as "
            "much.",
            remedy="Set the scaling to 100 % in the print dialogue and in the driver, "
            "with no fitting to the page and no printing without borders, and print "
            "the page again; the margins are corrected for the scale until then.",
            source=f"{Source.OUR_CHOICE}: {SAME_LINE_MM:g} mm of {LINE_MM:g}",
        )
    for way in ways:
        if way.scale != 1.0 and way.cross_mm is None:
            yield note(
                topic="place of the page",
                problem=f"The page was scaled {way.name}, and from which point was "
                "not measured: it is taken as scaled about the middle of the sheet.",
                remedy=f"Measure from the paper's {way.first} edge to the crossing of "
                "the lines.",
                source=Source.OUR_CHOICE,
            )
        aside_mm = way.middle_mm - way.sheet_mm / 2
        if way.scale == 1.0 and abs(aside_mm) > SAME_PLACE_MM:
            towards = way.last if aside_mm > 0 else way.first
            yield warn(
                topic="page lies aside",
                problem=f"The page lies {length_words(unit, abs(aside_mm))} towards "
                f"the {towards} edge; up to {short_words(unit, SAME_PLACE_MM)} are "
                "usual.",
                remedy="Give the print dialogue the size of this very sheet, let it "
                "place pages on the whole sheet and not inside the margins, and set "
                "the guides of the paper; then print the page again.",
                source=Source.OUR_CHOICE,
            )
    for way in scaled:
        for edge, read_mm in ((way.first, way.first_mm), (way.last, way.last_mm)):
            if read_mm == 0:
                yield note(
                    topic="margin may be narrower",
                    problem=f"The page itself ends at the {edge} edge, before the "
                    "printer's margin cuts it: the margin found is wide enough, and "
                    "may be too wide.",
                    remedy="Print the page at 100 % and read it again.",
                    source="the page itself",
                )
    if not any(getattr(margins, it.name) for it in fields(margins)):
        yield warn(
            topic="no margins",
            problem="All four rulers were printed up to the edge: the driver prints "
            "without borders.",
            remedy="Switch printing without borders off and print the page again; "
            "what it enlarges and sprays over the edge is lost.",
            source=Source.COMMON_PRACTICE,
        )
