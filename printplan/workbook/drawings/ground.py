"""What do all drawings stand on, in light pages and in dark ones?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

from printplan.workbook.panels.mounting import SURROUND, TEXT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    RGB = tuple[int, int, int]


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


def dress_axes(axes: Axes, *, x_label: str, y_label: str, title: str = "") -> Axes:
    """
    Give axes the ground, the field and their labels.

    Parameters
    ----------
    axes : Axes
        Its figure is put on the ground too.
    x_label, y_label : str
        Quantity and unit.
    title : str, optional

    Returns
    -------
    Axes
    """
    lay_ground(axes)
    axes.set_facecolor(FIELD)
    axes.tick_params(which="both", colors=INK, labelsize=SMALL_PT)
    for spine in axes.spines.values():
        spine.set_color(INK)
        spine.set_linewidth(0.8)
    axes.set_xlabel(x_label, color=INK, fontsize=BODY_PT)
    axes.set_ylabel(y_label, color=INK, fontsize=BODY_PT)
    if title:
        axes.set_title(title, color=INK, fontsize=HEADING_PT, loc="left")
    axes.grid(visible=True, color=FAINT, linewidth=0.5, alpha=0.5)
    axes.set_axisbelow(True)
    return axes


def write_legend(
    axes: Axes, place: Literal["upper left", "upper right", "lower left", "lower right"]
) -> None:
    """
    Name the lines of axes.

    Parameters
    ----------
    axes : Axes
    place : {"upper left", "upper right", "lower left", "lower right"}
    """
    legend = axes.legend(
        loc=place,
        fontsize=SMALL_PT,
        labelcolor=INK,
        facecolor=FIELD,
        edgecolor=FAINT,
        framealpha=0.9,
        handlelength=3.2,
    )
    legend.set_zorder(10)


def dashes(style: LineStyle) -> str | tuple[float, Sequence[float]]:
    """
    Dashes of a line as matplotlib takes them.

    Parameters
    ----------
    style : LineStyle

    Returns
    -------
    str or tuple
    """
    return (0, style.dashes) if style.dashes else "solid"


def lay_ground(axes: Axes) -> None:
    """
    Put the figure of some axes on the ground.

    Parameters
    ----------
    axes : Axes
    """
    figure = axes.get_figure()
    if figure is not None:
        figure.set_facecolor(GROUND)
