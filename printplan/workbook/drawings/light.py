"""Is the lit paper as bright as the display, and which shadows show in which room?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.colour.viewing import (
    DISPLAY_RANGE_CD_M2,
    LOWEST_CD_M2,
    MATCH_STOPS,
    ROOMS_LX,
    SURE_THRESHOLDS,
    distinct_shadow_steps,
)
from printplan.workbook.drawings.page import (
    FAINT,
    INK,
    LINES,
    SMALL_PT,
    WIDTH_CSS_PX,
    dress_axes,
    new_page,
    title,
)
from printplan.workbook.drawings.tone import (
    draw_brackets,
    draw_strip,
    dress_strips,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from printplan.colour.tone import ToneWedge
    from printplan.colour.viewing import DisplayMatch, ShadowSteps

    Floats = NDArray[np.float64]

_LUMINANCE_TICKS = (5, 10, 20, 50, 100, 200, 500, 1000)
_PAPER, _DISPLAY = LINES[1], LINES[2]


def draw_display_match(match: DisplayMatch, axes: Axes) -> Axes:
    """
    Luminance of the lit paper beside that of the display's white.

    Parameters
    ----------
    axes : Axes
        Wide and low.

    Returns
    -------
    Axes
        The band round the display's white counts as equally bright.
    """
    dress_axes(axes, x_label="luminance of the white (cd/m²)", y_label="")
    axes.set_xscale("log")
    low = min(match.paper_cd_m2, match.display_cd_m2, _LUMINANCE_TICKS[0])
    high = max(match.paper_cd_m2, match.display_cd_m2, _LUMINANCE_TICKS[-1])
    axes.set_xlim(low / 1.1, high * 1.1)
    axes.set_xticks(_LUMINANCE_TICKS, [f"{tick}" for tick in _LUMINANCE_TICKS])
    axes.minorticks_off()
    axes.set_ylim(1.6, -0.75)
    axes.set_yticks([0, 1], ["lit paper", "display"])
    axes.tick_params(axis="y", length=0)
    axes.axvspan(
        match.display_cd_m2 * 2**-MATCH_STOPS,
        match.display_cd_m2 * 2**MATCH_STOPS,
        color=FAINT,
        alpha=0.45,
        linewidth=0,
    )
    for row, (value, style) in enumerate(
        [(match.paper_cd_m2, _PAPER), (match.display_cd_m2, _DISPLAY)]
    ):
        axes.plot(value, row, style.marker, color=style.colour, markersize=11)
        axes.annotate(
            f"{value:.4g} cd/m²",
            (value, row),
            xytext=(0, 9),
            textcoords="offset points",
            horizontalalignment="center",
            color=INK,
            fontsize=SMALL_PT,
        )
    return axes


def draw_shadow_steps(
    wedge: ToneWedge, rooms: Mapping[str, tuple[float, ShadowSteps]], axes: Axes
) -> Axes:
    """
    The darkest steps as printed, with those that each room lets one tell apart.

    Parameters
    ----------
    wedge : ToneWedge
        The shadows, from the darkest upwards.
    rooms : mapping of str to (float, ShadowSteps)
        Light in lux and what is told apart of that wedge, by the room's name.
    axes : Axes
        With room to the right for words.
    """
    dress_axes(axes, x_label="L* of the master's step", y_label="")
    for row, (_, steps) in enumerate(rooms.values()):
        draw_strip(wedge.printed_lab, row, axes)
        words = f"{steps.distinct} of {len(steps.contrast_thresholds)} told apart"
        if steps.is_extrapolated:
            words += "\n(model extrapolated)"
        is_apart = steps.contrast_thresholds >= SURE_THRESHOLDS
        draw_brackets(is_apart, row, words, axes)
    names = [f"{name}\n{lux:g} lx" for name, (lux, _) in rooms.items()]
    return dress_strips(wedge.source_l, names, 2, axes)


def shadow_rooms(
    wedge: ToneWedge, rooms_lx: Mapping[str, float] = ROOMS_LX
) -> dict[str, tuple[float, ShadowSteps]]:
    """
    What is told apart of a wedge in several rooms.

    Parameters
    ----------
    rooms_lx : mapping of str to float, optional
        Light on the print by the room's name.

    Returns
    -------
    dict of str to (float, ShadowSteps)
        For `draw_shadow_steps`, in the same order.
    """
    ladder_l = wedge.printed_lab[:, 0]
    return {
        name: (lux, distinct_shadow_steps(ladder_l, lux))
        for name, lux in rooms_lx.items()
    }


def light_figure(
    match: DisplayMatch,
    wedge: ToneWedge,
    rooms: Mapping[str, tuple[float, ShadowSteps]],
    *,
    paper: str,
) -> Figure:
    """
    Paper against display with the verdict, and the shadows in each room.

    Parameters
    ----------
    wedge : ToneWedge
        The shadows.
    rooms : mapping of str to (float, ShadowSteps)
        As `shadow_rooms` gives it for that wedge.
    paper : str
        The paper's name.
    """
    rooms_px = 66.0 * len(rooms)
    verdict = f"{match.verdict} {match.advice}"
    figure = new_page(WIDTH_CSS_PX, 92 + rooms_px + 190, "", verdict, _notes(rooms))
    above, below = figure.subplots(2, height_ratios=[92, rooms_px])
    draw_display_match(match, above)
    draw_shadow_steps(wedge, rooms, below)
    title(above, f"White of {paper} beside the display's white")
    title(below, "Shadow steps told apart, by the light on the print")
    return figure


def _notes(rooms: Mapping[str, tuple[float, ShadowSteps]]) -> str:
    low, high = DISPLAY_RANGE_CD_M2
    words = (
        "Grey band: within a third of a stop of the display, which counts as equally "
        f"bright; a display is asked for {low:g} to {high:g} cd/m². Bracket: each step "
        f"has at least {SURE_THRESHOLDS:g} times the contrast that the eye just finds "
        "against its neighbour in that light. The greys are drawn alike in every "
        "room: a display cannot show its own dimness."
    )
    if any(steps.is_extrapolated for _, steps in rooms.values()):
        words += f" Below {LOWEST_CD_M2:g} cd/m² the model of the eye is extrapolated."
    return words
