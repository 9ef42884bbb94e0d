"""How does a page show which edges a printer leaves white, and at which scale?"""

from __future__ import annotations

import re
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from math import floor
from pathlib import Path
from typing import TYPE_CHECKING, Final

from printplan.free_name import give_free_name
from printplan.media import MediaForm
from printplan.record.atomic_write import part_beside
from printplan.record.decision_sheet.dialogue import CAUTIONS
from printplan.record.decision_sheet.pdf_text import Writer, add_fonts
from printplan.record.margin_sheet import BESIDE, LINE_MM, ruler_mm, sheet_on_feed_mm
from printplan.shown_text import visible
from printplan.units import (
    LengthUnit,
    length_words,
    mm_from_inches,
    short_words,
)

if TYPE_CHECKING:
    from fpdf import FPDF
    from fpdf.fonts import TTFFont

    from printplan.media import FeedPath, Printer

_LINE_WIDTH_MM: Final = 0.3
_TICK_WIDTH_MM: Final = 0.12
_BASELINE_GAP_MM: Final = 13.5
_TEXT_PT: Final = 6.6
_NUMBER_SCALE: Final = 0.75
_AWAY_MM: Final = 14.0
"""Words keep away from the edges by so much: more than most margins. Our choice."""


@dataclass(frozen=True, slots=True)
class _Scale:
    """Lines of a ruler: how far apart, which are longer, which are numbered."""

    step_mm: float
    middle_every: int
    numbered_every: int
    number_step: float
    digits: int
    unit: str


# Half millimetres are what an eye still tells apart; fiftieths of an inch are as fine
# and can be typed as they are read. Our choice.
_SCALES: Final = {
    LengthUnit.MM: _Scale(0.5, 2, 10, 5.0, 0, "mm"),
    LengthUnit.INCHES: _Scale(mm_from_inches(0.02), 5, 10, 0.2, 1, "in"),
}


def today() -> date:
    """Day of this computer's clock, for pages printed and margins read."""
    return datetime.now(tz=UTC).astimezone().date()


def margin_page_name(printer: Printer, feed: FeedPath) -> str:
    """
    A name for the page's file.

    Examples
    --------
    >>> from printplan.record.printer_classes import PrinterClass, draft_of_class
    >>> printer = draft_of_class(PrinterClass.A3_PLUS, "The tall one / loft").printer
    >>> margin_page_name(printer, printer.feeds[0])
    'margins-the-tall-one-loft-sheet-feeder.pdf'
    """
    words = re.findall(r"\w+", f"{printer.name} {feed.name}".casefold())
    return f"margins-{'-'.join(words)}.pdf"


def cautions(feed: FeedPath) -> tuple[str, ...]:
    """
    Usual cautions for those who print and cut the page.

    Returns
    -------
    tuple of str
        None for cut sheets. Common practice, no source.
    """
    if feed.takes is MediaForm.SHEETS:
        return ()
    return tuple(it for it in CAUTIONS if not it.startswith("Sprays"))


def margin_page(  # noqa: PLR0913 - what is printed, where, and in whose words
    printer: Printer,
    feed: FeedPath,
    sheet: str,
    path: str | Path,
    *,
    made_on: date,
    unit: LengthUnit = LengthUnit.MM,
) -> Path:
    """
    Write the page that shows a feed path's margins and the printer's scale.

    Parameters
    ----------
    sheet : str
        As for `sheet_on_feed_mm`.
    path : str or Path
        A PDF that is not there yet.
    made_on : date
        Printed on the page.
    unit : LengthUnit, optional
        With inches each edge has a second ruler, in inches.

    Returns
    -------
    Path
        The file, absolute: one page of the sheet's size, as the sheet goes in, with
        its leading edge at the top.

    Raises
    ------
    SpecError
        As `sheet_on_feed_mm` raises it.
    RecordError
        If the file exists or cannot be written.

    Notes
    -----
    The rulers begin at the very edges, so a printer that keeps to its margins cuts
    them there. It has to be printed at 100 %; see `margins_read` for what becomes of
    one that was not.
    """
    target = Path(path).absolute()
    sheet_mm = sheet_on_feed_mm(feed, sheet, unit)
    data = _page(printer, feed, sheet_mm, sheet, made_on, unit)
    taken = "Choose another name for the page."
    with part_beside(target, if_exists=taken) as part:
        part.write_bytes(data)
        give_free_name(part, target)
    return target


def _page(  # noqa: PLR0913, PLR0917 - as many as the page names
    printer: Printer,
    feed: FeedPath,
    sheet_mm: tuple[float, float],
    sheet: str,
    made_on: date,
    unit: LengthUnit,
) -> bytes:
    from fpdf import FPDF  # noqa: PLC0415 - 0.5 s to load

    pdf = FPDF(unit="mm", format=sheet_mm)
    pdf.set_auto_page_break(auto=False)
    pdf.set_margin(0)
    fonts = add_fonts(pdf)
    with closing(_Closing(fonts)):
        pdf.add_page()
        known = set(fonts[0].cmap)
        drawing = _Drawing(pdf, Writer(pdf, _TEXT_PT, known=known), sheet_mm, unit)
        drawing.rulers()
        drawing.cross()
        drawing.first_edge()
        drawing.words(
            (
                f"Printer: {printer.name}",
                f"Feed path: {feed.name}",
                f"Sheet: {sheet}, {length_words(unit, *sheet_mm)} as it goes in",
                f"Page made: {made_on.isoformat()}",
            ),
            _steps(sheet, unit),
        )
        pdf.set_title(visible(f"Margins and scale: {printer.name}, {feed.name}"))
        pdf.set_lang("en")
        pdf.set_producer("printplan margin and scale page")
        pdf.set_creation_date(datetime.combine(made_on, time(), UTC))
        return bytes(pdf.output())


def _steps(sheet: str, unit: LengthUnit) -> tuple[str, ...]:
    steps = (
        (
            f"Print this page at 100 %, one-sided, with {sheet} as the paper size: no "
            "fitting to the page, no enlarging, no printing without borders."
        ),
        (
            "Read each ruler from the paper's edge: where its first whole line "
            f"stands, in {_UNIT_NAMES[unit]}, is that edge's margin."
        ),
        (
            f"Measure the two lines that cross: each is exactly {LINE_MM:g} mm"
            f"{_inches(unit)}."
        ),
        (
            "If they are not, or the page lies aside: measure from the paper's leading "
            "edge and from its left edge to the crossing, too."
        ),
        "Type these numbers in where this page was made.",
    )
    return tuple(f"{number}. {step}" for number, step in enumerate(steps, 1))


_UNIT_NAMES: Final = {LengthUnit.MM: "millimetres", LengthUnit.INCHES: "inches"}


def _inches(unit: LengthUnit) -> str:
    if unit is LengthUnit.MM:
        return ""
    return f" ({short_words(unit, LINE_MM)})"


@dataclass(frozen=True, slots=True)
class _Drawing:
    """The page's parts; the page is as wide as the sheet lies across the feed."""

    pdf: FPDF
    writer: Writer
    sheet_mm: tuple[float, float]
    unit: LengthUnit

    def rulers(self) -> None:
        """One ruler from each edge inwards, with the edge's name at its end."""
        across_mm, along_mm = self.sheet_mm
        beside_x, beside_y = across_mm * BESIDE, along_mm * BESIDE
        end_mm = ruler_mm(self.sheet_mm)
        units = [LengthUnit.MM]
        units += [self.unit] if self.unit is not LengthUnit.MM else []
        for number, unit in enumerate(units):
            aside_mm = number * _BASELINE_GAP_MM
            for from_far in (False, True):
                self._ruler(unit, beside_x + aside_mm, from_far=from_far, down=True)
                self._ruler(unit, beside_y + aside_mm, from_far=from_far, down=False)
        line_mm = 3.0
        names = (
            ("leading edge", beside_x - 12, end_mm + 0.6, "L"),
            ("trailing edge", beside_x - 12, along_mm - end_mm - line_mm - 0.6, "L"),
            ("left edge", end_mm + 1.2, beside_y + 0.6, "L"),
            ("right edge", across_mm - end_mm - 26.2, beside_y + 0.6, "R"),
        )
        for name, left_mm, top_mm, align in names:
            self.writer.words(left_mm, top_mm, 25, name, bold=True, align=align)  # type: ignore[arg-type]

    def _ruler(
        self, unit: LengthUnit, base_mm: float, *, from_far: bool, down: bool
    ) -> None:
        """Lines parallel to an edge at their distances from it."""
        scale = _SCALES[unit]
        far_mm = self.sheet_mm[1] if down else self.sheet_mm[0]
        end_mm = ruler_mm(self.sheet_mm)
        count = floor(end_mm / scale.step_mm + 1e-6)
        for step in range(count + 1):
            from_edge_mm = step * scale.step_mm
            at_mm = far_mm - from_edge_mm if from_far else from_edge_mm
            numbered = step % scale.numbered_every == 0
            length_mm = 2.5
            if step % scale.middle_every == 0:
                length_mm = 4.0
            if numbered:
                length_mm = 6.5
            self._bar(base_mm, at_mm, length_mm, down=down)
            if numbered and step:
                number = step // scale.numbered_every * scale.number_step
                words = f"{number:.{scale.digits}f}"
                if step + scale.numbered_every > count:
                    words = f"{words} {scale.unit}"
                self._number(base_mm, at_mm, words, down=down)

    def _bar(
        self, base_mm: float, at_mm: float, length_mm: float, *, down: bool
    ) -> None:
        """A line of a ruler, its middle where it is to be read."""
        at_mm -= _TICK_WIDTH_MM / 2
        if down:
            self.pdf.rect(base_mm, at_mm, length_mm, _TICK_WIDTH_MM, style="F")
        else:
            self.pdf.rect(at_mm, base_mm, _TICK_WIDTH_MM, length_mm, style="F")

    def _number(self, base_mm: float, at_mm: float, words: str, *, down: bool) -> None:
        high_mm = 2.1
        if down:
            self.writer.words(
                base_mm - 8.6,
                at_mm - high_mm / 2,
                8,
                words,
                scale=_NUMBER_SCALE,
                align="R",
            )
        else:
            self.writer.words(
                at_mm - 4,
                base_mm - high_mm - 0.2,
                8,
                words,
                scale=_NUMBER_SCALE,
                align="C",
            )

    def cross(self) -> None:
        """Two lines of exactly 100 mm that cross in the middle, with marked ends."""
        x_mm, y_mm = self.sheet_mm[0] / 2, self.sheet_mm[1] / 2
        half_mm, width_mm, mark_mm = LINE_MM / 2, _LINE_WIDTH_MM, 5.0
        for down in (False, True):
            # Filled, since a stroke would reach beyond its ends.
            self._box(x_mm, y_mm, half_mm, width_mm / 2, down=down)
            for side in (-1, 1):
                end_mm = side * (half_mm - width_mm / 2)
                to_x, to_y = (0.0, end_mm) if down else (end_mm, 0.0)
                self._box(
                    x_mm + to_x, y_mm + to_y, width_mm / 2, mark_mm / 2, down=down
                )
        words = f"exactly {LINE_MM:g} mm{_inches(self.unit)}"
        self.writer.words(x_mm + 4, y_mm - 4.2, 42, words)
        self.writer.words(x_mm + 1.5, y_mm + half_mm - 5, 42, words)

    def _box(
        self, x_mm: float, y_mm: float, long_mm: float, thick_mm: float, *, down: bool
    ) -> None:
        """A filled box round a point, by half of its edges."""
        to_x, to_y = (thick_mm, long_mm) if down else (long_mm, thick_mm)
        self.pdf.rect(x_mm - to_x, y_mm - to_y, 2 * to_x, 2 * to_y, style="F")

    def first_edge(self) -> None:
        """An arrow to the edge that enters first."""
        x_mm, y_mm = 0.62 * self.sheet_mm[0], ruler_mm(self.sheet_mm) - 6
        self.pdf.polygon(
            [(x_mm, y_mm), (x_mm + 4, y_mm + 6), (x_mm - 4, y_mm + 6)], style="F"
        )
        self.writer.words(
            x_mm - 22, y_mm + 6.8, 44, "this edge enters first", bold=True, align="C"
        )

    def words(self, facts: tuple[str, ...], steps: tuple[str, ...]) -> None:
        """What the page is of, and how it is read, in the lower half."""
        across_mm, along_mm = self.sheet_mm
        top_mm, gap_mm = along_mm / 2 + 6, 4.0
        wide_mm = min(across_mm / 2 - _AWAY_MM - gap_mm, 85.0)
        down_mm = self.writer.words(
            across_mm / 2 + gap_mm,
            top_mm,
            wide_mm,
            "Margins and scale",
            scale=1.5,
            bold=True,
        )
        for fact in facts:
            down_mm = self.writer.words(
                across_mm / 2 + gap_mm, down_mm + 0.6, wide_mm, fact
            )
        down_mm = top_mm
        left_mm = across_mm / 2 - gap_mm - wide_mm
        for step in steps:
            down_mm = self.writer.words(left_mm, down_mm, wide_mm, step) + 0.8


@dataclass(frozen=True, slots=True)
class _Closing:
    """The fonts, whose files are let go of in the end."""

    fonts: list[TTFFont]

    def close(self) -> None:
        for font in self.fonts:
            font.ttfont.close()
