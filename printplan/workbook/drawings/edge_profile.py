"""How does the strongest edge rise, and how far does it overshoot?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.ticker import AutoMinorLocator

from printplan.sharpness.halo import halo_arcmin
from printplan.workbook.drawings.ground import (
    FAINT,
    HEADING_PT,
    LINES,
    dashes,
    dress_axes,
    write_legend,
)
from printplan.workbook.drawings.page import (
    clear_axes,
    line_height,
    new_figure,
    place_axes,
    wrapped,
    write,
)
from printplan.workbook.drawings.second_scale import draw_top_scale

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from printplan.pixels.strongest_edge import StrongestEdge

_WIDTH, _FIELD_HEIGHT = 860, 430
_EDGE, _LEFT, _TOP = 20, 76, 96

# Below this an overshoot is not marked: our choice.
_LEAST_MARKED = 0.005
_BEFORE, _FILE, _PRINT = LINES[2], LINES[1], LINES[0]


def draw_edge_profile(edge: StrongestEdge, axes: Axes) -> Axes:
    """
    Lightness across an edge before sharpening, in the file and in the print.

    Parameters
    ----------
    edge : StrongestEdge
    axes : Axes
        With room above for a second scale.

    Returns
    -------
    Axes
        Millimetres on paper below, minutes of arc above; the overshoot of file and
        print on the light side, and the width of the print's halo, are marked.
    """
    dress_axes(
        axes, x_label="distance across the edge on paper (mm)", y_label="lightness L*"
    )
    for level in (edge.dark_l, edge.light_l):
        axes.axhline(level, color=FAINT, linewidth=1.0, linestyle=(0, (1, 2)))
    for profile, name, style, width in (
        (edge.before, "before sharpening", _BEFORE, 1.6),
        (edge.in_file, "in the file", _FILE, 1.8),
        (edge.in_print, "in the print", _PRINT, 2.4),
    ):
        axes.plot(
            edge.position_mm,
            profile.lightness_l,
            color=style.colour,
            linestyle=dashes(style),
            linewidth=width,
            label=name,
        )
    axes.set_xlim(edge.position_mm[0], edge.position_mm[-1])
    axes.margins(y=0.08)
    _mark_overshoot(edge, axes)
    _mark_width(edge, axes)
    axes.xaxis.set_minor_locator(AutoMinorLocator(5))
    write_legend(axes, "upper left")
    at_eye = draw_top_scale(
        halo_arcmin(1.0, edge.distance_mm),
        f"at the eye, from {edge.distance_mm:g} mm (arcmin)",
        axes,
    )
    at_eye.set_minor_locator(AutoMinorLocator(5))
    return axes


def _mark_overshoot(edge: StrongestEdge, axes: Axes) -> None:
    """Highest points of file and print on the light side."""
    middle = edge.position_mm.size // 2
    for profile, name, style in (
        (edge.in_file, "file", _FILE),
        (edge.in_print, "print", _PRINT),
    ):
        share = profile.light.overshoot_share
        if share < _LEAST_MARKED:
            continue
        peak = middle + int(profile.lightness_l[middle:].argmax())
        axes.plot(
            edge.position_mm[peak],
            profile.lightness_l[peak],
            style.marker,
            color=style.colour,
            markersize=7,
            label=f"overshoot in the {name}: {share:.1%} of the step",
        )


def _mark_width(edge: StrongestEdge, axes: Axes) -> None:
    """A ruler across the print's halo at half of its height."""
    halo = edge.in_print.light
    if halo.overshoot_share < _LEAST_MARKED:
        return
    middle = edge.position_mm.size // 2
    position, lightness = edge.position_mm[middle:], edge.in_print.lightness_l[middle:]
    half = edge.light_l + halo.overshoot_share / 2 * (edge.light_l - edge.dark_l)
    # From the highest point back to half of its height, as `halo_of` goes.
    peak = int(lightness.argmax())
    below = np.flatnonzero(lightness[: peak + 1] <= half)
    first = int(below[-1]) if below.size else 0
    start = float(
        np.interp(half, lightness[first : first + 2], position[first : first + 2])
    )
    axes.plot(
        [start, start + halo.width_um / 1000],
        [half, half],
        color=_PRINT.colour,
        linewidth=1.4,
        marker="|",
        markersize=11,
        markeredgewidth=1.4,
        label=f"halo in the print: {halo.width_um:.0f} µm, "
        f"{halo.width_arcmin:.1f} arcmin",
    )


def edge_figure(edge: StrongestEdge, *, paper: str) -> Figure:
    """
    The strongest edge's profile with what it says.

    Parameters
    ----------
    edge : StrongestEdge
    paper : str
        The paper's name.

    Returns
    -------
    Figure
    """
    words = wrapped(edge.words, _WIDTH - 2 * _EDGE)
    words_top = _TOP + _FIELD_HEIGHT + 56
    height = words_top + len(words) * line_height() + _EDGE
    figure = new_figure(_WIDTH, height)
    page = clear_axes(place_axes(figure, 0, 0, _WIDTH, height), _WIDTH, height)
    write(page, _EDGE, _EDGE - 4, f"The strongest edge, on {paper}", size_pt=HEADING_PT)
    field = place_axes(figure, _LEFT, _TOP, _WIDTH - _LEFT - _EDGE - 10, _FIELD_HEIGHT)
    draw_edge_profile(edge, field)
    write(page, _EDGE, words_top, "\n".join(words))
    return figure
