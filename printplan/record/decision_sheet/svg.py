"""How does a drawing become SVG inside a page?"""

from __future__ import annotations

from base64 import b64encode
from html import escape
from typing import TYPE_CHECKING

from markupsafe import Markup

from printplan.record.decision_sheet.vector import Area, Path, Placed, Text

if TYPE_CHECKING:
    from printplan.record.decision_sheet.vector import Mark, VectorDrawing


def svg_of(drawing: VectorDrawing) -> Markup:
    """
    A drawing as an SVG element; one of its units is a millimetre.

    Parameters
    ----------
    drawing : VectorDrawing

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
    """
    A picture as an address that holds it.

    Parameters
    ----------
    jpeg : bytes

    Returns
    -------
    str
    """
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
