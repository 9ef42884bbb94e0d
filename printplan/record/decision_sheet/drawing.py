"""What are the decision sheet's drawings made of, in SVG and on a PDF page?"""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass
from enum import StrEnum
from html import escape
from typing import TYPE_CHECKING

from markupsafe import Markup

from printplan.record.decision_sheet.pdf_text import SANS
from printplan.units import MM_PER_INCH, POINTS_PER_INCH

if TYPE_CHECKING:
    from fpdf import FPDF


class Anchor(StrEnum):
    """Which point of a text lies at its place."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """
    A line through points.

    Attributes
    ----------
    points_mm : tuple of tuple of float
        Across and down from the drawing's left top corner.
    grey : float
        0 black to 1 white.
    dash_mm : tuple of float
        Lengths of ink and gap in turn; empty for a whole line.
    """

    points_mm: tuple[tuple[float, float], ...]
    width_mm: float = 0.2
    grey: float = 0.0
    dash_mm: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """
    A filled rectangle without outline.

    Attributes
    ----------
    grey : float
        0 black to 1 white.
    """

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float
    grey: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """
    One line of words.

    Attributes
    ----------
    across_mm, down_mm : float
        Of the anchor on the base line.
    size_mm : float
        Of the letters' body.
    angle_deg : float
        Turned anticlockwise about the anchor.
    grey : float
        0 black to 1 white.
    """

    text: str
    across_mm: float
    down_mm: float
    size_mm: float = 2.1
    anchor: Anchor = Anchor.START
    angle_deg: float = 0.0
    grey: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A picture at its place."""

    jpeg: bytes
    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float


Mark = Path | Area | Text | Placed


@dataclass(frozen=True, slots=True, kw_only=True)
class VectorDrawing:
    """
    A drawing of lines, areas, words and pictures.

    Attributes
    ----------
    marks : tuple of Mark
        Later ones lie on earlier ones.
    description : str
        What it shows, for those who cannot see it.
    """

    width_mm: float
    height_mm: float
    marks: tuple[Mark, ...]
    description: str


def outline(  # noqa: PLR0913 - four sides and a line
    left_mm: float,
    top_mm: float,
    right_mm: float,
    bottom_mm: float,
    *,
    width_mm: float = 0.2,
    grey: float = 0.0,
    dash_mm: tuple[float, ...] = (),
) -> Path:
    """
    A rectangle drawn by its four sides.

    Parameters
    ----------
    width_mm, grey, dash_mm : optional
        As in `Path`.
    """
    corners = (
        (left_mm, top_mm),
        (right_mm, top_mm),
        (right_mm, bottom_mm),
        (left_mm, bottom_mm),
        (left_mm, top_mm),
    )
    return Path(points_mm=corners, width_mm=width_mm, grey=grey, dash_mm=dash_mm)


def svg_of(drawing: VectorDrawing) -> Markup:
    """
    A drawing as an SVG element; one of its units is a millimetre.

    Returns
    -------
    Markup
        With its pictures inside.
    """
    size = f"{drawing.width_mm:.2f} {drawing.height_mm:.2f}"
    label = escape(drawing.description)
    body = "".join(_element(mark) for mark in drawing.marks)
    return Markup(  # noqa: S704 - every text in it was escaped
        f'<svg viewBox="0 0 {size}" role="img" aria-label="{label}">{body}</svg>'
    )


def data_uri(jpeg: bytes) -> str:
    """A picture as an address that holds it."""
    return f"data:image/jpeg;base64,{b64encode(jpeg).decode()}"


def _element(mark: Mark) -> str:
    if isinstance(mark, Path):
        points = " ".join(f"{x:.2f},{y:.2f}" for x, y in mark.points_mm)
        dashes = " ".join(f"{length:g}" for length in mark.dash_mm)
        dash = f' stroke-dasharray="{dashes}"' if dashes else ""
        return (
            f'<polyline points="{points}" fill="none" stroke="{_grey(mark.grey)}" '
            f'stroke-width="{mark.width_mm:g}"{dash}/>'
        )
    if isinstance(mark, Area):
        return f'<rect {_place(mark)} fill="{_grey(mark.grey)}"/>'
    if isinstance(mark, Text):
        at = f"{mark.across_mm:.2f} {mark.down_mm:.2f}"
        turn = f" rotate({-mark.angle_deg:g})" if mark.angle_deg else ""
        return (
            f'<text transform="translate({at}){turn}" font-size="{mark.size_mm:g}" '
            f'text-anchor="{mark.anchor}" fill="{_grey(mark.grey)}">'
            f"{escape(mark.text)}</text>"
        )
    return (
        f'<image {_place(mark)} preserveAspectRatio="none" '
        f'href="{data_uri(mark.jpeg)}"/>'
    )


def _place(mark: Area | Placed) -> str:
    return (
        f'x="{mark.left_mm:.2f}" y="{mark.top_mm:.2f}" '
        f'width="{mark.width_mm:.2f}" height="{mark.height_mm:.2f}"'
    )


def _grey(grey: float) -> str:
    return f"#{round(grey * 255):02x}" + f"{round(grey * 255):02x}" * 2


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
