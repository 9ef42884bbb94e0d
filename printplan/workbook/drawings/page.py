"""How is a drawing laid out on light and dark pages, and how is it shown?"""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from math import ceil
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine

from printplan.colour.spaces import encode, xyz_d50_from_linear, xyz_from_lab
from printplan.pixels.typeface import font_at
from printplan.shown_text import visible
from printplan.spec import NamedSpace
from printplan.workbook.pictures import SURROUND, TEXT, Picture, image_html

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.axis import Axis
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    RGB = tuple[int, int, int]


def screen_rgb(lab: Floats) -> NDArray[np.uint8]:
    """
    Screen colours for patches and solids.

    Parameters
    ----------
    lab : ndarray of float64, shape (..., 3)
        CIELAB under D50; its white becomes the screen's white.

    Returns
    -------
    ndarray of uint8, shape (..., 3)
        sRGB. What the screen cannot show keeps its lightness as far as it goes and
        loses chroma.

    Notes
    -----
    Chroma is drawn back towards the grey of the same lightness until the colour fits,
    so that hue stays: a gamut's outer colours are approximations on any screen.
    """
    colours = np.asarray(lab, np.float64)
    grey = colours * [1.0, 0.0, 0.0]
    grey[..., 0] = np.clip(grey[..., 0], 0.0, 100.0)
    xyz_of_linear = xyz_d50_from_linear(NamedSpace.SRGB)
    to_linear = np.linalg.inv(xyz_of_linear).T.astype(np.float64)
    whole = np.zeros(colours.shape[:-1])
    step = 1.0
    fits = _fits(colours, to_linear)
    whole[fits] = 1.0
    # Halving finds the largest chroma that fits to a thousandth of the way.
    for _ in range(10):
        step /= 2
        tried = np.where(fits, 1.0, whole + step)
        inside = _fits(grey + (colours - grey) * tried[..., None], to_linear)
        whole = np.where(inside, tried, whole)
    shown = grey + (colours - grey) * whole[..., None]
    linear = np.clip(xyz_from_lab(shown) @ to_linear, 0.0, 1.0)
    return np.rint(encode(NamedSpace.SRGB, linear) * 255).astype(np.uint8)


def _fits(lab: Floats, to_linear: Floats) -> NDArray[np.bool_]:
    """Whether colours are within the screen's, give or take an 8-bit step."""
    linear = xyz_from_lab(lab) @ to_linear
    slack = 1e-4
    return np.asarray(((linear >= -slack) & (linear <= 1 + slack)).all(axis=-1))


def draw_top_scale(per_unit: float, label: str, axes: Axes) -> Axis:
    """
    A scale that is a multiple of the one below.

    Parameters
    ----------
    per_unit : float
        Units of the upper scale in one of the lower, above 0.
    label : str
        Quantity and unit.

    Returns
    -------
    Axis
        For finer ticks.
    """
    above = axes.secondary_xaxis(
        "top",
        functions=(
            lambda values: np.multiply(values, per_unit),
            lambda values: np.divide(values, per_unit),
        ),
    )
    above.set_xlabel(label, color=INK, fontsize=BODY_PT)
    above.tick_params(which="both", colors=INK, labelsize=SMALL_PT)
    above.spines["top"].set_color(INK)
    return above.xaxis


def _hex(rgb: RGB) -> str:
    return "#{:02x}{:02x}{:02x}".format(*rgb)


GROUND = _hex(SURROUND)
"""Opaque neutral grey, the same that pictures are mounted on: no page shows through,
so a drawing is the same in a light notebook and in a dark one."""

INK = _hex(TEXT)
"""Words and axes, on the ground and on the field."""

FIELD = "#2e2e2e"
"""Where lines are drawn: dark and neutral, L* 19."""

FAINT = "#8c8c8c"
"""Grid lines on the field: to be overlooked."""


class LineStyle(NamedTuple):
    """How one of several lines is told from the others, in colour and without."""

    colour: str
    dashes: tuple[float, ...]
    marker: str


LINES = (
    LineStyle(INK, (), "o"),
    LineStyle("#e69f00", (6, 2), "s"),
    LineStyle("#56b4e9", (2, 1.5), "^"),
    LineStyle("#f0e442", (7, 2, 1.5, 2), "D"),
    LineStyle("#cc79a7", (1, 1.5), "v"),
    LineStyle("#009e73", (9, 2, 3, 2), "P"),
)
"""Ink and five of a set that people with any colour vision tell apart (Okabe & Ito
2008, Color Universal Design), each with dashes and a marker of its own."""

BODY_PT, SMALL_PT, HEADING_PT = 9.5, 8.5, 11.0


def dress_axes(axes: Axes, *, x_label: str, y_label: str) -> Axes:
    """
    Give axes the ground, the field and their labels.

    Parameters
    ----------
    axes : Axes
        Its figure is put on the ground too.
    x_label, y_label : str
        Quantity and unit.
    """
    lay_ground(axes)
    axes.set_facecolor(FIELD)
    axes.tick_params(which="both", colors=INK, labelsize=SMALL_PT)
    for spine in axes.spines.values():
        spine.set_color(INK)
        spine.set_linewidth(0.8)
    axes.set_xlabel(x_label, color=INK, fontsize=BODY_PT)
    axes.set_ylabel(y_label, color=INK, fontsize=BODY_PT)
    axes.grid(visible=True, color=FAINT, linewidth=0.5, alpha=0.5)
    axes.set_axisbelow(True)
    return axes


def write_legend(axes: Axes, place: str, **entries: Any) -> None:
    """
    Name the lines of axes.

    Parameters
    ----------
    place, entries
        As matplotlib's `legend` takes them.
    """
    look: dict[str, Any] = {
        "loc": place,
        "fontsize": SMALL_PT,
        "labelcolor": INK,
        "facecolor": FIELD,
        "edgecolor": FAINT,
        "framealpha": 0.9,
        "handlelength": 3.2,
    }
    legend = axes.legend(**look, **entries)
    legend.set_zorder(10)
    for words in legend.get_texts():
        words.set_text(plain(words.get_text()))


def plain(text: str) -> str:
    """Words that matplotlib takes for no formula, on lines of their own."""
    return "\n".join(map(visible, text.split("\n"))).replace("$", r"\$")


def dashes(
    style: LineStyle,
) -> Literal["solid"] | tuple[float, Sequence[float]]:
    """Dashes of a line as matplotlib takes them."""
    return (0, style.dashes) if style.dashes else "solid"


def lay_ground(axes: Axes) -> None:
    """Put the figure of some axes on the ground."""
    figure = axes.get_figure()
    if figure is not None:
        figure.set_facecolor(GROUND)


_CSS_PX_PER_INCH = 100
_DENSITY = 2
"""Pixels of the picture for one of the page, for dense screens."""

WIDTH_CSS_PX, NARROW_CSS_PX = 1080, 860
"""Widths of drawings that hold several pictures, and of those of one field."""

_EDGE_CSS_PX = 16
# DejaVu Sans stands 1.17 of its size from line to line.
_LINE_CSS_PX = BODY_PT * _CSS_PX_PER_INCH / 72 * 1.17 * 1.15


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

    def _repr_html_(self) -> str:
        """The drawing with its description, as IPython asks for it."""
        return image_html(self.png, "png", self.description, self.width_css_px)


def new_page(
    width_css_px: float, height_css_px: float, heading: str, *words: str
) -> Figure:
    """
    An empty drawing on the ground, with its heading above and words below.

    Parameters
    ----------
    width_css_px : float
        On the page.
    height_css_px : float
        Room for fields with their labels.
    heading : str
        Empty for none.
    words : str
        Sentences that each begin a line.

    Returns
    -------
    Figure
        Its fields find their places by themselves (matplotlib's constrained layout).
        Known to nobody else: it goes when it is no longer used.
    """
    lines = [
        line
        for sentence in words
        for line in wrapped(sentence, width_css_px - 2 * _EDGE_CSS_PX)
    ]
    height = height_css_px + (len(lines) + 1.5 * bool(heading)) * _LINE_CSS_PX
    height = ceil(height + 2 * _EDGE_CSS_PX)
    edge = _EDGE_CSS_PX / _CSS_PX_PER_INCH
    figure = Figure(
        (width_css_px / _CSS_PX_PER_INCH, height / _CSS_PX_PER_INCH),
        dpi=_CSS_PX_PER_INCH,
        facecolor=GROUND,
        layout=ConstrainedLayoutEngine(w_pad=edge, h_pad=0.75 * edge),
    )
    FigureCanvasAgg(figure)
    left = _EDGE_CSS_PX / width_css_px
    look: dict[str, Any] = {"x": left, "ha": "left", "color": INK}
    if heading:
        figure.suptitle(plain(heading), fontsize=HEADING_PT, **look)
    if lines:
        figure.supxlabel(
            plain("\n".join(lines)), fontsize=BODY_PT, linespacing=1.15, **look
        )
    return figure


def title(axes: Axes, text: str, **look: Any) -> None:
    """Write words above axes."""
    usual: dict[str, Any] = {"loc": "left", "color": INK, "fontsize": HEADING_PT}
    axes.set_title(plain(text), **(usual | look))


def clear_axes(axes: Axes) -> None:
    """Make axes a bare ground."""
    lay_ground(axes)
    axes.set_axis_off()
    axes.set(xticks=[], yticks=[])


def show_picture(picture_rgb: NDArray[np.uint8], axes: Axes) -> Axes:
    """
    A picture without axes, its pixels square.

    Parameters
    ----------
    picture_rgb : ndarray of uint8, shape (rows, columns, 3)
        sRGB.
    """
    clear_axes(axes)
    rows, columns = picture_rgb.shape[:2]
    # With its own opaque alpha, bytes stay bytes; matplotlib would make floats of three
    # channels, eight times as large.
    opaque = np.dstack([picture_rgb, np.full((rows, columns), 255, np.uint8)])
    axes.imshow(opaque, extent=(0, columns, rows, 0), aspect="equal")
    return axes


def wrapped(text: str, width_css_px: float, size_pt: float = BODY_PT) -> list[str]:
    """Words in lines of a given width."""
    # Measured at ten times the size, so that rounding of letters plays no part.
    font = font_at(round(size_pt * _CSS_PX_PER_INCH / 7.2))
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and font.getlength(longer) > 10 * width_css_px:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def as_drawing(figure: Figure, description: str) -> Drawing:
    """
    Lines and patches as a picture for the page.

    Parameters
    ----------
    description : str
        For those who cannot see it.
    """
    png = _saved(figure, "png", {"compress_level": 6})
    return Drawing(png, description, _width_css_px(figure))


def as_picture(figure: Figure, description: str) -> Picture:
    """
    A drawing that holds photographs as a picture for the page.

    Parameters
    ----------
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
        dpi=_CSS_PX_PER_INCH * _DENSITY,
        facecolor=figure.get_facecolor(),
        pil_kwargs=settings,
    )
    return file.getvalue()


def _width_css_px(figure: Figure) -> int:
    return round(float(figure.get_size_inches()[0]) * _CSS_PX_PER_INCH)
