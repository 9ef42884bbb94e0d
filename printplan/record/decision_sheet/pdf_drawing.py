"""How is a drawing laid on the page of a PDF, in lines and letters?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.record.decision_sheet.pdf_text import SANS
from printplan.record.decision_sheet.vector import Anchor, Area, Path, Text
from printplan.units import MM_PER_INCH, POINTS_PER_INCH

if TYPE_CHECKING:
    from fpdf import FPDF

    from printplan.record.decision_sheet.vector import Mark, VectorDrawing

_SHIFT = {Anchor.START: 0.0, Anchor.MIDDLE: 0.5, Anchor.END: 1.0}


def lay_drawing(  # noqa: PLR0913 - a drawing and its room
    pdf: FPDF,
    drawing: VectorDrawing,
    *,
    left_mm: float,
    top_mm: float,
    width_mm: float,
    height_mm: float,
) -> float:
    """
    Lay a drawing on a page, as large as its room takes it.

    Parameters
    ----------
    pdf : FPDF
        In millimetres, with the font `SANS`.
    drawing : VectorDrawing
    left_mm, top_mm, width_mm, height_mm : float
        Room; the drawing lies in its middle across, and at its foot.

    Returns
    -------
    float
        Height that it takes.
    """
    scale = min(width_mm / drawing.width_mm, height_mm / drawing.height_mm)
    left_mm += (width_mm - scale * drawing.width_mm) / 2
    for mark in drawing.marks:
        _lay(pdf, mark, left_mm, top_mm, scale)
    return scale * drawing.height_mm


def _lay(pdf: FPDF, mark: Mark, left_mm: float, top_mm: float, scale: float) -> None:
    if isinstance(mark, Path):
        pdf.set_draw_color(round(mark.grey * 255))
        pdf.set_line_width(scale * mark.width_mm)
        points = [(left_mm + scale * x, top_mm + scale * y) for x, y in mark.points_mm]
        if mark.dash_mm:
            ink, gap = mark.dash_mm
            pdf.set_dash_pattern(dash=scale * ink, gap=scale * gap)
        pdf.polyline(points)
        pdf.set_dash_pattern()
    elif isinstance(mark, Area):
        pdf.set_fill_color(round(mark.grey * 255))
        pdf.rect(
            left_mm + scale * mark.left_mm,
            top_mm + scale * mark.top_mm,
            scale * mark.width_mm,
            scale * mark.height_mm,
            style="F",
        )
    elif isinstance(mark, Text):
        size_pt = scale * mark.size_mm * POINTS_PER_INCH / MM_PER_INCH
        pdf.set_font(SANS, "", size_pt)
        pdf.set_text_color(round(mark.grey * 255))
        x, y = left_mm + scale * mark.across_mm, top_mm + scale * mark.down_mm
        back_mm = _SHIFT[mark.anchor] * pdf.get_string_width(mark.text)
        with pdf.rotation(mark.angle_deg, x, y):
            pdf.text(x - back_mm, y, mark.text)
    else:
        pdf.image(
            mark.jpeg,
            left_mm + scale * mark.left_mm,
            top_mm + scale * mark.top_mm,
            scale * mark.width_mm,
            scale * mark.height_mm,
        )
