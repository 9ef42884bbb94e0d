"""How do the proofs of a run stand on a page, with what should be known of each?"""

from __future__ import annotations

from contextlib import closing
from io import BytesIO
from math import ceil
from typing import TYPE_CHECKING, Final, cast

from printplan.checks.finding import worst_words
from printplan.pixels.own_files import OwnFile
from printplan.record.decision_sheet.pdf_text import Writer, add_fonts
from printplan.record.run.summary import size_words, write_own_page
from printplan.record.run.totals import paper_need, totals_rows
from printplan.shown_text import visible
from printplan.units import LengthUnit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import datetime
    from pathlib import Path

    from fpdf import FPDF
    from fpdf.fonts import TTFFont

    from printplan.record.run.carry_out import RowResult, RunResult
    from printplan.record.run.steps import Prepared

CONTACT_NAME: Final = "contact-sheet.pdf"

_EDGE_MM, _GAP_MM, _FOOT_MM = 12.0, 5.0, 9.0
_COLUMNS: Final = 3
_PICTURE_MM: Final = 44.0
_CELL_MM: Final = 79.0
"""Height of a proof with its words: three stand below each other on either page."""

_TEXT_PT: Final = 6.4
_MOST_LINES: Final = 5
"""Of the gravest finding. The table of the run has all of it."""

_NOTE: Final = (
    "Soft proofs, each with some of its paper, as seen in the room. Overviews: for "
    "colour, not for sharpness."
)


def write_contact_sheet(result: RunResult, made_on: datetime) -> Path | None:
    """
    Write the proofs of a run as a PDF into its folder.

    Parameters
    ----------
    made_on : datetime
        With its zone.

    Returns
    -------
    Path or None
        ``contact-sheet.pdf``, see `write_own_page`; None if no row was planned.

    Raises
    ------
    RecordError
        If it cannot be written.
    """
    if not any(it.prepared is not None for it in result.rows):
        return None
    data = contact_sheet(result, made_on)
    return write_own_page(data, result.folder / CONTACT_NAME, OwnFile.CONTACT_SHEET)


def contact_sheet(result: RunResult, made_on: datetime) -> bytes:
    """
    The proofs of a run on pages.

    Returns
    -------
    bytes
        PDF with its letters inside. What the prints need stands first; below each proof
        stand its name, size, sheet, paper, copies and price, and the gravest finding.
        Rows that could not be planned are listed at the end.
    """
    from fpdf import FPDF  # noqa: PLC0415 - 0.5 s to load

    shown = [it for it in result.rows if it.prepared is not None]
    in_inches = any(
        it.prepared is not None
        and it.prepared.plan.spec.lengths_in is LengthUnit.INCHES
        for it in shown
    )
    pdf = FPDF(unit="mm", format="Letter" if in_inches else "A4")
    pdf.set_auto_page_break(auto=False)
    pdf.set_margin(0)
    fonts = add_fonts(pdf)
    with closing(_Fonts(fonts)):
        writer = Writer(pdf, _TEXT_PT, known=set(fonts[0].cmap))
        pages = _Pages(pdf, writer)
        pages.head(result, made_on)
        pages.cells(shown)
        pages.refused([it for it in result.rows if it.prepared is None])
        pages.feet()
        pdf.set_title(visible(f"Contact sheet: {result.table.name}"))
        pdf.set_lang("en")
        pdf.set_producer("printplan contact sheet")
        pdf.set_creation_date(made_on)
        return bytes(pdf.output())


class _Fonts:
    """Open files of letters."""

    def __init__(self, fonts: Iterable[TTFFont]) -> None:
        self._fonts = fonts

    def close(self) -> None:
        for font in self._fonts:
            font.ttfont.close()


class _Pages:
    """Pages that are filled from the top."""

    def __init__(self, pdf: FPDF, writer: Writer) -> None:
        self.pdf, self.writer = pdf, writer
        self._down_mm = 0.0
        self._new_page()
        self._wide_mm = pdf.w - 2 * _EDGE_MM
        gaps_mm = _GAP_MM * (_COLUMNS - 1)
        self._column_mm = (self._wide_mm - gaps_mm) / _COLUMNS

    def _new_page(self) -> None:
        self.pdf.add_page()
        self._down_mm = _EDGE_MM

    @property
    def _left_mm(self) -> float:
        """Height that this page has still free."""
        return float(self.pdf.h) - _FOOT_MM - self._down_mm

    def head(self, result: RunResult, made_on: datetime) -> None:
        """What this is, and what the prints need."""
        put, wide_mm = self.writer, self._wide_mm
        foot_mm = put.words(
            _EDGE_MM, self._down_mm, wide_mm, result.table.name, scale=1.9, bold=True
        )
        foot_mm = put.words(
            _EDGE_MM, foot_mm + 0.5, wide_mm, f"Contact sheet, {made_on:%Y-%m-%d %H:%M}"
        )
        foot_mm += 1.5
        put.rule(_EDGE_MM, foot_mm, wide_mm, width_mm=0.15)
        rows = list(totals_rows(result.totals, result.forecast_s, result.took_s))
        half = ceil(len(rows) / 2)
        side_mm = (wide_mm - _GAP_MM) / 2
        ends_mm = []
        for column, part in enumerate((rows[:half], rows[half:])):
            down_mm = foot_mm + 1.5
            left_mm = _EDGE_MM + column * (side_mm + _GAP_MM)
            for what, value in part:
                down_mm = put.row(left_mm, down_mm, side_mm, what, value) + 0.5
            ends_mm.append(down_mm)
        self._down_mm = max(ends_mm) + 1.0
        put.rule(_EDGE_MM, self._down_mm, wide_mm, width_mm=0.15)
        self._down_mm += 4.0

    def cells(self, rows: Sequence[RowResult]) -> None:
        """Proofs beside and below each other."""
        for first in range(0, len(rows), _COLUMNS):
            if self._left_mm < _CELL_MM:
                self._new_page()
            for column, it in enumerate(rows[first : first + _COLUMNS]):
                if it.prepared is not None:
                    left_mm = _EDGE_MM + column * (self._column_mm + _GAP_MM)
                    self._cell(it, it.prepared, left_mm)
            self._down_mm += _CELL_MM

    def _cell(self, it: RowResult, prepared: Prepared, left_mm: float) -> None:
        proof, wide_mm = prepared.proof, self._column_mm
        scale = min(wide_mm / proof.width_px, _PICTURE_MM / proof.height_px)
        across_mm, high_mm = proof.width_px * scale, proof.height_px * scale
        down_mm = self._down_mm + _PICTURE_MM - high_mm
        self.pdf.image(
            BytesIO(proof.jpeg),
            left_mm,
            down_mm,
            across_mm,
            high_mm,
            alt_text=visible(proof.description),
        )
        # Paper is nearly as white as the page.
        self.pdf.set_draw_color(150)
        self.pdf.set_line_width(0.1)
        self.pdf.rect(left_mm, down_mm, across_mm, high_mm)
        down_mm = self._down_mm + _PICTURE_MM + 1.2
        name = f"{it.row.number} · {prepared.plan_path.stem}"
        down_mm = self._some_lines(left_mm, down_mm, name, most=2, bold=True)
        for words in cell_words(prepared):
            down_mm = self._some_lines(left_mm, down_mm, words, most=1)
        worst = worst_words(prepared.findings)
        self._some_lines(left_mm, down_mm + 0.6, worst, most=_MOST_LINES)

    def _some_lines(
        self,
        left_mm: float,
        down_mm: float,
        text: str,
        *,
        most: int,
        bold: bool = False,
    ) -> float:
        """Words in a few lines of the column; what goes beyond is cut, and says so."""
        wide_mm = self._column_mm
        lines = self._lines(text, bold=bold)
        if len(lines) > most:
            kept = " ".join(lines[:most])
            while len(self._lines(f"{kept} …", bold=bold)) > most:
                kept = kept.rpartition(" ")[0] or kept[:-1]
            text = f"{kept} …"
        return self.writer.words(left_mm, down_mm, wide_mm, text, bold=bold)

    def _lines(self, text: str, *, bold: bool) -> list[str]:
        self.pdf.set_font("DejaVu Sans", "B" if bold else "", _TEXT_PT)
        self.pdf.c_margin = 0
        told = self.pdf.multi_cell(
            self._column_mm, text=self.writer.plain(text), dry_run=True, output="LINES"
        )
        return cast("list[str]", told)

    def refused(self, rows: Sequence[RowResult]) -> None:
        """Rows without a proof, and why."""
        if not rows:
            return
        if self._left_mm < 24:
            self._new_page()
        put, wide_mm = self.writer, self._wide_mm
        self._down_mm = put.heading(
            _EDGE_MM, self._down_mm, wide_mm, "Rows that could not be planned"
        )
        for it in rows:
            if self._left_mm < 12:
                self._new_page()
            what = f"{it.row.number} · {it.row.name}"
            value = it.worst or str(it.state)
            self._down_mm = put.row(_EDGE_MM, self._down_mm, wide_mm, what, value) + 0.6

    def feet(self) -> None:
        """What the proofs are, and which page of how many this is."""
        count = self.pdf.pages_count
        for page in range(1, count + 1):
            self.pdf.page = page
            down_mm = float(self.pdf.h) - _FOOT_MM + 1
            self.writer.words(_EDGE_MM, down_mm, self._wide_mm, _NOTE, scale=0.9)
            self.writer.words(
                _EDGE_MM, down_mm, self._wide_mm, f"{page} of {count}", align="R"
            )


def cell_words(prepared: Prepared) -> Iterator[str]:
    """
    What stands below a proof, a line each.

    Yields
    ------
    str
        Size and sheet; paper; copies and price.
    """
    plan = prepared.plan
    copies = plan.delivery.copies
    yield f"{size_words(plan)} on {paper_need(plan).sheet}"
    yield plan.paper.name
    price = None if prepared.paper is None else prepared.paper.paper
    told = "price not known"
    if prepared.paper is not None and price is not None:
        told = f"paper {price * copies:.2f} {prepared.paper.currency}".rstrip()
    yield f"{copies} {'copy' if copies == 1 else 'copies'}, {told}"
