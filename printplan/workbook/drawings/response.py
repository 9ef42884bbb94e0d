"""Which patterns reach the eye, and how does the strongest edge rise?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.ticker import AutoMinorLocator

from printplan.record.decision_sheet.response_graph import (
    PATTERN_LABEL,
    frequencies,
    plot_responses,
)
from printplan.sharpening.chain import (
    highest_seen_cycles_px,
    response_in_file,
    to_degrees,
)
from printplan.sharpening.eye import (
    contrast_sensitivity,
    cycles_per_degree,
    luminance_of_l,
)
from printplan.sharpening.halo import halo_arcmin
from printplan.sharpening.response import (
    NYQUIST_CYCLES_PX,
    cycles_per_mm,
    gaussian_mtf,
    resampler_mtf,
    spread_mtf,
    unsharp_mtf,
)
from printplan.workbook.drawings.page import (
    FAINT,
    LINES,
    NARROW_CSS_PX,
    dashes,
    draw_top_scale,
    dress_axes,
    new_page,
    title,
    write_legend,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from printplan.pixels.strongest_edge import StrongestEdge
    from printplan.sharpening.chain import Chain
    from printplan.sharpening.effect import SharpenEffect

    Floats = NDArray[np.float64]
    Added = Callable[[Floats], Floats] | None


_EYE = "#b9b9b9"


def draw_step_responses(
    chain: Chain, effect: SharpenEffect, axes: Axes, *, added: Added = None
) -> Axes:
    """
    What each step does to the contrast of patterns.

    Parameters
    ----------
    effect : SharpenEffect
        The gain and radius drawn; a `SharpenChoice` is one.
    axes : Axes
        With room above for a second scale.
    added : callable, optional
        Contrast that sharpening adds where a limit or a floor holds it, as
        `sharpening_effect` takes it.

    Returns
    -------
    Axes
        Cycles per millimetre below, cycles per degree above.
    """
    cycles_px = frequencies(chain)
    sharpening = unsharp_mtf(cycles_px, gain=effect.gain, blur=effect.blur)
    if added is not None:
        in_file = response_in_file(chain, cycles_px, chain.master_edge_sigma_px)
        sharpening = 1 + added(cycles_px) / np.maximum(in_file, _LEAST_IN_FILE)
    steps = {
        "sharpening": sharpening,
        "master": gaussian_mtf(cycles_px, chain.master_edge_sigma_px),
        "resampling": resampler_mtf(cycles_px, chain.enlargement),
        "printer and paper": spread_mtf(
            cycles_per_mm(cycles_px, chain.ppi), chain.spread
        ),
    }
    _dress(chain, "contrast left (1: all)", axes)
    for (name, response), style in zip(steps.items(), _STEP_STYLES, strict=True):
        axes.plot(
            cycles_per_mm(cycles_px, chain.ppi),
            response,
            color=style.colour,
            linestyle=dashes(style),
            linewidth=1.8,
            label=name,
        )
    axes.set_ylim(0, 1.12 * max(float(np.max(list(steps.values()))), 1.0))
    write_legend(axes, "lower left")
    return axes


def draw_responses(
    chain: Chain, effect: SharpenEffect, axes: Axes, *, added: Added = None
) -> Axes:
    """
    What reaches the viewer of all contrast, without and with sharpening.

    Parameters
    ----------
    effect : SharpenEffect
        The gain and radius drawn; a `SharpenChoice` is one.
    axes : Axes
        With room above for a second scale.
    added : callable, optional
        Contrast that sharpening adds where a limit or a floor holds it, as
        `sharpening_effect` takes it.

    Returns
    -------
    Axes
        Cycles per millimetre below, cycles per degree above; the eye's sensitivity,
        scaled to 1 at its highest, is the shaded ground.
    """
    _dress(chain, "contrast in the print (1: all)", axes)
    cycles_px = frequencies(chain)
    axes.fill_between(
        cycles_per_mm(cycles_px, chain.ppi),
        _eye(chain, cycles_px),
        color=_EYE,
        alpha=0.28,
        linewidth=0,
        label="the eye's sensitivity, scaled",
    )
    before, after = plot_responses(
        chain,
        axes,
        gain=effect.gain,
        blur=effect.blur,
        added=added,
        before={"color": LINES[2].colour, "ls": dashes(LINES[2]), "lw": 2.0},
        after={"color": LINES[0].colour, "ls": dashes(LINES[0]), "lw": 2.4},
    )
    # Where the curves have come down there is room above them, else below.
    is_low = after[-1] < 0.5 * max(1.0, float(before.max()), float(after.max()))
    write_legend(axes, "upper right" if is_low else "lower right")
    return axes


# Below, the file has nothing left that sharpening could be told of.
_LEAST_IN_FILE = 0.02
_STEP_STYLES = (LINES[1], LINES[3], LINES[4], LINES[2])


def _eye(chain: Chain, cycles_px: Floats) -> Floats:
    """Sensitivity over its own highest, wherever that is."""
    luminance = luminance_of_l(chain.lightness_l, chain.luminance_cd_m2)
    everywhere = np.geomspace(0.1, 60, 300, dtype=np.float64)
    highest = float(contrast_sensitivity(everywhere, luminance).max())
    return contrast_sensitivity(to_degrees(chain, cycles_px), luminance) / highest


def _dress(chain: Chain, y_label: str, axes: Axes) -> None:
    dress_axes(axes, x_label=PATTERN_LABEL, y_label=y_label)
    axes.axhline(1.0, color=FAINT, linewidth=1.0, linestyle=(0, (1, 2)))
    axes.set_xlim(0, _highest_cycles_mm(chain))
    draw_top_scale(
        float(cycles_per_degree(1.0, chain.distance_mm)),
        f"at the eye, from {chain.distance_mm:g} mm (cycles/degree)",
        axes,
    )


def response_words(chain: Chain, effect: SharpenEffect) -> str:
    """What the curves add up to."""
    highest = _highest_cycles_mm(chain)
    pixels_end = highest_seen_cycles_px(chain) == NYQUIST_CYCLES_PX
    why = "these print pixels hold" if pixels_end else "an eye sees from there"
    return (
        f"Gain {effect.gain:.2f}, radius {effect.radius_mm:.3f} mm at {chain.ppi:g} "
        f"ppi. Weighted by the eye, the print's contrast is off by "
        f"{effect.error_before:.1%} without sharpening and by {effect.error_after:.1%} "
        f"with it; its highest response is {effect.peak_mtf:.2f}. Acutance "
        f"{effect.acutance_before:.2f} before, {effect.acutance_after:.2f} after. The "
        f"curves end at {highest:.1f} cycles/mm, the finest pattern that {why}."
    )


def _highest_cycles_mm(chain: Chain) -> float:
    return float(cycles_per_mm(highest_seen_cycles_px(chain), chain.ppi))


def responses_figure(
    chain: Chain, effect: SharpenEffect, *, paper: str, added: Added = None
) -> Figure:
    """
    The responses of every step, and of all of them together.

    Parameters
    ----------
    paper : str
        The paper's name.
    added : callable, optional
        As `draw_responses` takes it.
    """
    figure = new_page(NARROW_CSS_PX, 870, "", response_words(chain, effect))
    above, below = figure.subplots(2)
    draw_step_responses(chain, effect, above, added=added)
    draw_responses(chain, effect, below, added=added)
    title(above, f"What each step does to detail, on {paper}")
    title(below, "What reaches the eye")
    return figure


# Below this an overshoot is not marked: our choice.
_LEAST_MARKED = 0.005
_BEFORE, _FILE, _PRINT = LINES[2], LINES[1], LINES[0]


def draw_edge_profile(edge: StrongestEdge, axes: Axes) -> Axes:
    """
    Lightness across an edge before sharpening, in the file and in the print.

    Parameters
    ----------
    axes : Axes
        With room above for a second scale.

    Returns
    -------
    Axes
        Millimetres on paper below, minutes of arc above; the crests of file and print
        on both sides, and the width of the print's halo, are marked.
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
    """The crests beside the edge; those of the light side are said."""
    for profile, name, style in (
        (edge.in_file, "file", _FILE),
        (edge.in_print, "print", _PRINT),
    ):
        for halo, outwards, label in (
            (profile.light, 1, f"overshoot in the {name}: {{:.1%}} of the step"),
            (profile.dark, -1, "_{}"),
        ):
            if halo.overshoot_share < _LEAST_MARKED:
                continue
            at_mm = outwards * halo.crest_mm
            axes.plot(
                at_mm,
                np.interp(at_mm, edge.position_mm, profile.lightness_l),
                style.marker,
                color=style.colour,
                markersize=7,
                label=label.format(halo.overshoot_share),
            )


def _mark_width(edge: StrongestEdge, axes: Axes) -> None:
    """A ruler across the print's halo at half of its height."""
    halo = edge.in_print.light
    if halo.overshoot_share < _LEAST_MARKED:
        return
    start = halo.begins_mm
    half = np.interp(start, edge.position_mm, edge.in_print.lightness_l)
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
    paper : str
        The paper's name.
    """
    figure = new_page(NARROW_CSS_PX, 550, f"The strongest edge, on {paper}", edge.words)
    draw_edge_profile(edge, figure.add_subplot())
    return figure
