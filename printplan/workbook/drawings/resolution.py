"""From how far away does the master have enough pixels at this size?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.pixels.sharpening_spec import usual_distance_words
from printplan.sizing.print_size import acuity_ppi
from printplan.units import LengthUnit, distance_words, mm_from_inches, whole_words
from printplan.workbook.drawings.page import (
    FAINT,
    INK,
    LINES,
    NARROW_CSS_PX,
    SMALL_PT,
    dashes,
    dress_axes,
    new_page,
    write_legend,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from printplan.sizing.print_size import PictureSize

DISTANCES_MM = (200.0, 4000.0)
"""From a print held close to one across a room: our choice."""

_DISTANCE_TICKS_MM = {
    LengthUnit.MM: {it: float(it) for it in (200, 300, 500, 1000, 2000, 4000)},
    LengthUnit.INCHES: {it: mm_from_inches(it) for it in (8, 12, 20, 40, 80, 160)},
}
_PPI_TICKS = (20, 50, 100, 200, 300, 500)
_NEED, _MASTER, _SENT = LINES[0], LINES[1], LINES[2]


def enough_from_mm(ppi: float) -> float:
    """
    Distance from which so many pixels per inch are one arcminute each, or finer.

    Parameters
    ----------
    ppi : float
        Above 0.

    Examples
    --------
    >>> round(enough_from_mm(acuity_ppi(300)))
    300
    """
    # The angle of a pixel goes with its size over the distance.
    return acuity_ppi(1.0) / ppi


def draw_resolution(
    master_ppi: float,
    sent_ppi: float,
    usual_mm: float,
    axes: Axes,
    unit: LengthUnit = LengthUnit.MM,
) -> Axes:
    """
    Pixels per inch that the eye can use, over the distance it looks from.

    Parameters
    ----------
    master_ppi : float
        The master's own pixels per inch at this size.
    sent_ppi : float
        Those that the printer is sent.
    usual_mm : float
        Distance that a print of this size is usually looked at from.
    """
    dress_axes(
        axes, x_label=f"eye to paper ({unit})", y_label="pixels per inch of paper (ppi)"
    )
    axes.set_xscale("log")
    axes.set_yscale("log")
    distances = np.geomspace(*DISTANCES_MM, 200)
    axes.plot(
        distances,
        acuity_ppi(1.0) / distances,
        color=_NEED.colour,
        linewidth=2.2,
        label="the eye can use: one arcminute a pixel (acuity 1.0, ISO 8596)",
    )
    for ppi, name, style in (
        (master_ppi, "the master gives at this size", _MASTER),
        (sent_ppi, "the printer is sent", _SENT),
    ):
        axes.axhline(
            ppi,
            color=style.colour,
            linestyle=dashes(style),
            linewidth=1.8,
            label=f"{name}: {ppi:.0f} ppi",
        )
    enough = enough_from_mm(master_ppi)
    if DISTANCES_MM[0] <= enough <= DISTANCES_MM[1]:
        axes.plot(enough, master_ppi, _MASTER.marker, color=_MASTER.colour, zorder=4)
        axes.annotate(
            f"enough from {distance_words(unit, round(enough))} on",
            (enough, master_ppi),
            xytext=(10, 8),
            textcoords="offset points",
            color=INK,
            fontsize=SMALL_PT,
        )
    axes.axvline(
        usual_mm,
        color=FAINT,
        linewidth=1.6,
        label=f"usually looked at from {distance_words(unit, round(usual_mm))} "
        "(common practice)",
    )
    axes.set_xlim(*DISTANCES_MM)
    axes.set_ylim(_PPI_TICKS[0], max(800.0, 1.2 * sent_ppi, 1.2 * master_ppi))
    ticks = _DISTANCE_TICKS_MM[unit]
    axes.set_xticks([*ticks.values()], [f"{told}" for told in ticks])
    axes.set_yticks(_PPI_TICKS, [f"{tick}" for tick in _PPI_TICKS])
    axes.minorticks_off()
    write_legend(axes, "lower left")
    return axes


def resolution_words(
    size: PictureSize, usual_mm: float, unit: LengthUnit = LengthUnit.MM
) -> str:
    """
    Whether the master has enough pixels, in words.

    Parameters
    ----------
    usual_mm : float
        Distance that a print of this size is usually looked at from.
    """
    why = usual_distance_words(size.width_mm, size.height_mm)
    usual = distance_words(unit, round(usual_mm))
    enough_mm = enough_from_mm(size.effective_ppi)
    return (
        f"At {whole_words(unit, size.width_mm, size.height_mm)} the master gives "
        f"{size.effective_ppi:.0f} of its own pixels per inch: one arcminute each, or "
        f"finer, from {distance_words(unit, round(enough_mm))} on. A print of this "
        f"size is usually looked at from {usual}, {why} (common "
        f"practice, no source), where {acuity_ppi(usual_mm):.0f} ppi would do. Sharp "
        "eyes and fine lines want more; a sheet laid on a table is looked at from "
        "nearer."
    )


def resolution_figure(
    size: PictureSize,
    sent_ppi: float,
    usual_mm: float,
    unit: LengthUnit = LengthUnit.MM,
) -> Figure:
    """
    What the master gives beside what the eye can use, and what follows.

    Parameters
    ----------
    sent_ppi : float
        Pixels per inch that the printer is sent.
    usual_mm : float
        Distance that a print of this size is usually looked at from.
    """
    figure = new_page(
        NARROW_CSS_PX,
        420,
        "Pixels and distance",
        resolution_words(size, usual_mm, unit),
    )
    draw_resolution(size.effective_ppi, sent_ppi, usual_mm, figure.add_subplot(), unit)
    return figure
