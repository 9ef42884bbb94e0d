"""How is a drawing laid out, and how does the page show it?"""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from printplan.workbook.drawings.ground import BODY_PT, GROUND, INK, lay_ground
from printplan.workbook.panels.mounting import Picture, caption_font

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.text import Text

CSS_PX_PER_INCH = 100
"""Drawings are laid out in the page's own pixels."""

DENSITY = 2
"""Pixels of the picture for one of the page, for dense screens."""

WIDTH_CSS_PX = 1080
"""Width of drawings that hold several pictures."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """
    A finished drawing for the page.

    Attributes
    ----------
    png : bytes
        Opaque.
    description : str
        What it shows, for those who cannot see it.
    width_css_px : int
        Width on the page.
    """

    png: bytes
    description: str
    width_css_px: int

    def __repr__(self) -> str:
        return self.description

    def _repr_png_(self) -> tuple[bytes, dict[str, int]]:
        """The drawing and how wide to show it, as IPython asks for it."""
        return self.png, {"width": self.width_css_px}


def new_figure(width_css_px: float, height_css_px: float) -> Figure:
    """
    An empty drawing on the ground.

    Parameters
    ----------
    width_css_px, height_css_px : float
        On the page.

    Returns
    -------
    Figure
        Known to nobody else: it goes when it is no longer used.
    """
    figure = Figure(
        (width_css_px / CSS_PX_PER_INCH, height_css_px / CSS_PX_PER_INCH),
        dpi=CSS_PX_PER_INCH,
        facecolor=GROUND,
    )
    FigureCanvasAgg(figure)
    return figure


def place_axes(  # noqa: PLR0913 - a place is named by these four
    figure: Figure,
    left: float,
    top: float,
    width: float,
    height: float,
    *,
    projection: str = "rectilinear",
) -> Axes:
    """
    New axes at a place of the page.

    Parameters
    ----------
    figure : Figure
    left, top, width, height : float
        Of the field without its labels, in the page's pixels from the left top.
    projection : str, optional
        As matplotlib names it.

    Returns
    -------
    Axes
    """
    across, down = (float(edge) * CSS_PX_PER_INCH for edge in figure.get_size_inches())
    place = (left / across, 1 - (top + height) / down, width / across, height / down)
    return figure.add_axes(place, projection=projection)


def clear_axes(axes: Axes, width: float, height: float) -> Axes:
    """
    Make axes a bare ground, measured in the page's pixels from the left top.

    Parameters
    ----------
    axes : Axes
    width, height : float

    Returns
    -------
    Axes
    """
    lay_ground(axes)
    axes.set_axis_off()
    axes.set_xlim(0, width)
    axes.set_ylim(height, 0)
    return axes


def write(  # noqa: PLR0913 - where, what and how
    axes: Axes,
    left: float,
    top: float,
    text: str,
    *,
    size_pt: float = BODY_PT,
    bold: bool = False,
    align: str = "left",
    colour: str = INK,
) -> Text:
    """
    Words at a place of axes.

    Parameters
    ----------
    axes : Axes
    left, top : float
        Of the first line, in the axes' own numbers.
    text : str
    size_pt : float, optional
    bold : bool, optional
    align : {"left", "center", "right"}, optional
    colour : str, optional

    Returns
    -------
    Text
    """
    return axes.text(
        left,
        top,
        text,
        color=colour,
        fontsize=size_pt,
        fontweight="bold" if bold else "normal",
        horizontalalignment=align,
        verticalalignment="top",
        linespacing=1.35,
    )


def wrapped(text: str, width_css_px: float, size_pt: float = BODY_PT) -> list[str]:
    """
    Words in lines of a given width.

    Parameters
    ----------
    text : str
    width_css_px : float
    size_pt : float, optional

    Returns
    -------
    list of str
    """
    # Measured at ten times the size, so that rounding of letters plays no part.
    font = caption_font(round(size_pt * CSS_PX_PER_INCH / 7.2))
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and font.getlength(longer) > 10 * width_css_px:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def line_height(size_pt: float = BODY_PT) -> float:
    """
    Distance from line to line.

    Parameters
    ----------
    size_pt : float, optional

    Returns
    -------
    float
        In the page's pixels.
    """
    # Measured on drawings: with the spacing of `write`, 1.36 of the letters' size.
    return size_pt * CSS_PX_PER_INCH / 72 * 1.36


def as_drawing(figure: Figure, description: str) -> Drawing:
    """
    Lines and patches as a picture for the page.

    Parameters
    ----------
    figure : Figure
    description : str
        For those who cannot see it.

    Returns
    -------
    Drawing
    """
    png = _saved(figure, "png", {"compress_level": 6})
    return Drawing(png, description, _width_css_px(figure))


def as_picture(figure: Figure, description: str) -> Picture:
    """
    A drawing that holds photographs as a picture for the page.

    Parameters
    ----------
    figure : Figure
    description : str
        For those who cannot see it.

    Returns
    -------
    Picture
        Much smaller than a `Drawing` of the same.
    """
    # Quality 90 with chroma at full resolution, as all pictures of the page.
    jpeg = _saved(figure, "jpeg", {"quality": 90, "subsampling": 0})
    return Picture(jpeg, description, _width_css_px(figure))


def _saved(figure: Figure, kind: str, settings: dict[str, int]) -> bytes:
    file = BytesIO()
    figure.savefig(
        file,
        format=kind,
        dpi=CSS_PX_PER_INCH * DENSITY,
        facecolor=figure.get_facecolor(),
        pil_kwargs=settings,
    )
    return file.getvalue()


def _width_css_px(figure: Figure) -> int:
    return round(float(figure.get_size_inches()[0]) * CSS_PX_PER_INCH)
