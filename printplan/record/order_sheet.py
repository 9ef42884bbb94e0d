"""What is ordered from a print service, as a page of PDF and as a table?"""

from __future__ import annotations

import csv
import io
from contextlib import closing
from dataclasses import dataclass, fields
from datetime import UTC, date, datetime, time
from typing import TYPE_CHECKING, Final

from printplan.record.decision_sheet.pdf_text import Writer, add_fonts
from printplan.shown_text import visible
from printplan.spec import Delivery
from printplan.units import length_words, short_words

if TYPE_CHECKING:
    from fpdf import FPDF
    from fpdf.fonts import TTFFont

    from printplan.pixels.render import Rendered
    from printplan.plan import PrintPlan

INSTRUCTIONS: Final = (
    "No correction of colour, tone or sharpness: each file is final as it is.",
    "No scaling: 100 %, at the resolution in the file. No cropping but the bleed.",
    "Colours from the profile that the file carries.",
    "If a file differs from its SHA-256 here, please ask for it again.",
)
"""Common practice, no source."""

_PAGE_MM: Final = (210.0, 297.0)
_EDGE_MM: Final = 18.0
_BODY_PT: Final = 9.0
_FORMULA_SIGNS: Final = ("=", "+", "-", "@", "\t", "\r")
"""A text that begins so is taken for a formula (OWASP, CSV Injection)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """
    One file of an order.

    Attributes
    ----------
    size : str
        Of the print on paper, trimmed, with its border, in the plan's unit.
    bleed, border : str
        As lengths; ``none`` without.
    pixels : str
        Of the file, with its resolution.
    """

    file: str
    paper: str
    copies: int
    size: str
    bleed: str
    border: str
    pixels: str
    colour: str
    megabytes: float
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """
    All that is ordered at once.

    Attributes
    ----------
    service : str
        Its name; empty if the plans name none.
    finish : str
        What else it wants to be told.
    """

    service: str
    finish: str
    made_on: date
    lines: tuple[OrderLine, ...]

    @property
    def total(self) -> str:
        """How many prints of how many files, and their length."""
        prints = sum(it.copies for it in self.lines)
        length = sum(it.megabytes for it in self.lines)
        return (
            f"{prints} print{'s' * (prints != 1)} of {len(self.lines)} "
            f"file{'s' * (len(self.lines) != 1)}, {length:.1f} MB"
        )


def order_line(plan: PrintPlan, rendered: Rendered, file: str) -> OrderLine:
    """
    What is ordered of one file, from its own plan and from what was written.

    Parameters
    ----------
    file : str
        Its name in the folder.
    """
    unit, delivery = plan.spec.lengths_in, plan.delivery
    bleed_mm, border_mm = delivery.bleed_mm, plan.spec.sheet.border_mm
    width_mm, height_mm = (edge - 2 * bleed_mm for edge in plan.page_mm)
    colour = (
        str(delivery.named_space)
        if delivery.colour is Delivery.NAMED_SPACE
        else f"profile of {plan.paper.name}"
    )
    return OrderLine(
        file=file,
        paper=plan.paper.name,
        copies=delivery.copies,
        size=length_words(unit, width_mm, height_mm),
        bleed=short_words(unit, bleed_mm) if bleed_mm > 0 else "none",
        border=short_words(unit, border_mm) if border_mm > 0 else "none",
        pixels=f"{rendered.width_px} × {rendered.height_px} px at {rendered.ppi:g} ppi",
        colour=colour,
        megabytes=rendered.bytes_written / 1e6,
        sha256=rendered.sha256,
    )


def order_csv(order: Order) -> str:
    """
    The lines of an order as a table, one file a row.

    Returns
    -------
    str
        RFC 4180. A text that begins as a formula does gets an apostrophe before it.
    """
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\r\n")
    columns = [it.name for it in fields(OrderLine)]
    writer.writerow(columns)
    for line in order.lines:
        writer.writerow([_cell(getattr(line, column)) for column in columns])
    return file.getvalue()


def _cell(value: str | float) -> str:
    if isinstance(value, float):
        return f"{value:.3f}"
    if isinstance(value, str) and value.startswith(_FORMULA_SIGNS):
        return f"'{value}"
    return str(value)


def order_pdf(order: Order) -> bytes:
    """
    The order sheet: as many pages of A4 as it needs, each file whole on one.

    Returns
    -------
    bytes
        PDF.
    """
    from fpdf import FPDF  # noqa: PLC0415 - 0.5 s to load

    pdf = FPDF(unit="mm", format=_PAGE_MM)
    pdf.set_auto_page_break(auto=False)
    pdf.set_margin(0)
    fonts = add_fonts(pdf)
    with closing(_Fonts(fonts)):
        writer = Writer(pdf, _BODY_PT, known=set(fonts[0].cmap))
        _Pages(pdf, writer, order).set()
        pdf.set_title(visible(f"Order, {order.made_on.isoformat()}"))
        pdf.set_lang("en")
        pdf.set_producer("printplan order sheet")
        pdf.set_creation_date(datetime.combine(order.made_on, time(), UTC))
        return bytes(pdf.output())


class _Fonts:
    """Files of fonts that have to be closed."""

    def __init__(self, fonts: list[TTFFont]) -> None:
        self._fonts = fonts

    def close(self) -> None:
        for font in self._fonts:
            font.ttfont.close()


class _Pages:
    """An order on its way onto pages."""

    def __init__(self, pdf: FPDF, writer: Writer, order: Order) -> None:
        self._pdf, self._writer, self._order = pdf, writer, order
        self._across_mm = _PAGE_MM[0] - 2 * _EDGE_MM
        self._down_mm = 0.0
        self._number = 0

    def set(self) -> None:
        order, write = self._order, self._writer
        self._begin_page()
        title = f"Order to {order.service}" if order.service else "Order of prints"
        self._down_mm = write.words(
            _EDGE_MM, self._down_mm, self._across_mm, title, scale=1.7, bold=True
        )
        for what, value in (
            ("Date", order.made_on.isoformat()),
            ("Total", order.total),
            ("Finish", order.finish or "as usual"),
        ):
            self._row(what, value)
        self._down_mm = write.heading(
            _EDGE_MM, self._down_mm + 2, self._across_mm, "For all files"
        )
        for number, words in enumerate(INSTRUCTIONS, start=1):
            self._down_mm = write.item(
                _EDGE_MM, self._down_mm, self._across_mm, f"{number}", words
            )
        for number, line in enumerate(order.lines, start=1):
            self._line(number, line)
        self._keep_together(12)
        self._down_mm = write.words(
            _EDGE_MM,
            self._down_mm + 4,
            self._across_mm,
            f"Total: {order.total}",
            bold=True,
            scale=1.12,
        )

    def _begin_page(self) -> None:
        self._pdf.add_page()
        self._number += 1
        self._writer.words(
            _EDGE_MM,
            _PAGE_MM[1] - _EDGE_MM + 4,
            self._across_mm,
            f"Page {self._number}",
            scale=0.84,
            align="R",
        )
        self._down_mm = _EDGE_MM

    def _keep_together(self, height_mm: float) -> None:
        if self._down_mm + height_mm > _PAGE_MM[1] - _EDGE_MM:
            self._begin_page()

    def _line(self, number: int, line: OrderLine) -> None:
        write = self._writer
        copies = f"{line.copies} print{'s' * (line.copies != 1)}"
        # A heading and eight rows, of which names may take a second line.
        self._keep_together(58)
        self._down_mm = write.heading(
            _EDGE_MM,
            self._down_mm + 2,
            self._across_mm,
            f"{number}. {line.size} on {line.paper}, {copies}",
        )
        for what, value in (
            ("File", line.file),
            ("Size on paper", line.size),
            ("Bleed to be trimmed", line.bleed),
            ("White border in it", line.border),
            ("Paper", line.paper),
            ("Copies", str(line.copies)),
            ("Pixels", line.pixels),
            ("Colour", f"{line.colour}, {line.megabytes:.2f} MB"),
            ("SHA-256", f"{line.sha256[:32]} {line.sha256[32:]}"),
        ):
            self._row(what, value)

    def _row(self, what: str, value: str) -> None:
        self._down_mm = (
            self._writer.row(_EDGE_MM, self._down_mm, self._across_mm, what, value)
            + 0.4
        )
