"""Which patterns reach the eye, and how does the strongest edge rise?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.ticker import AutoMinorLocator

from printplan.sharpening.chain import (
    highest_seen_cycles_px,
    response_before,
    response_in_file,
    to_degrees,
)
from printplan.sharpening.effect import response_after
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
    HEADING_PT,
    LINES,
    LineStyle,
    clear_axes,
    dashes,
    draw_top_scale,
    dress_axes,
    line_height,
    new_figure,
    place_axes,
    wrapped,
    write,
    write_legend,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from printplan.pixels.strongest_edge import StrongestEdge
    from printplan.sharpening.chain import Chain
    from printplan.sharpening.limits import SharpenEffect

    Floats = NDArray[np.float64]
    Added = Callable[[Floats], Floats] | None


_WIDTH = 860
_EDGE, _LEFT, _FIELD_HEIGHT = 20, 76, 300
_POINTS = 400
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
    cycles_px = _frequencies(chain)
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
        _draw(chain, response, name, style, 1.8, axes)
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
    cycles_px = _frequencies(chain)
    before = response_before(chain, cycles_px)
    after = response_after(chain, cycles_px, effect.gain, effect.blur, added)
    _dress(chain, "contrast in the print (1: all)", axes)
    eye = _eye(chain, cycles_px)
    per_mm = cycles_per_mm(cycles_px, chain.ppi)
    axes.fill_between(
        per_mm,
        eye,
        color=_EYE,
        alpha=0.28,
        linewidth=0,
        label="the eye's sensitivity, scaled",
    )
    _draw(chain, before, "without sharpening", LINES[2], 2.0, axes)
    _draw(chain, after, "with sharpening", LINES[0], 2.4, axes)
    highest = max(float(after.max()), float(before.max()), 1.0)
    axes.set_ylim(0, 1.12 * highest)
    # Where the curves have come down there is room above them, else below.
    write_legend(axes, "upper right" if after[-1] < 0.5 * highest else "lower right")
    return axes


# Below, the file has nothing left that sharpening could be told of.
_LEAST_IN_FILE = 0.02
_STEP_STYLES = (LINES[1], LINES[3], LINES[4], LINES[2])


def _frequencies(chain: Chain) -> Floats:
    """Cycles per print pixel, from above 0 to the finest that counts."""
    highest = highest_seen_cycles_px(chain)
    return np.linspace(highest / _POINTS, highest, _POINTS)


def _eye(chain: Chain, cycles_px: Floats) -> Floats:
    """Sensitivity over its own highest, wherever that is."""
    luminance = luminance_of_l(chain.lightness_l, chain.luminance_cd_m2)
    everywhere = np.geomspace(0.1, 60, 300, dtype=np.float64)
    highest = float(contrast_sensitivity(everywhere, luminance).max())
    return contrast_sensitivity(to_degrees(chain, cycles_px), luminance) / highest


def _dress(chain: Chain, y_label: str, axes: Axes) -> None:
    dress_axes(axes, x_label="pattern on paper (cycles/mm)", y_label=y_label)
    axes.axhline(1.0, color=FAINT, linewidth=1.0, linestyle=(0, (1, 2)))
    axes.set_xlim(0, _highest_cycles_mm(chain))
    draw_top_scale(
        float(cycles_per_degree(1.0, chain.distance_mm)),
        f"at the eye, from {chain.distance_mm:g} mm (cycles/degree)",
        axes,
    )


def _draw(  # noqa: PLR0913, PLR0917 - a line is named by these
    chain: Chain,
    response: Floats,
    name: str,
    style: LineStyle,
    width: float,
    axes: Axes,
) -> None:
    axes.plot(
        cycles_per_mm(_frequencies(chain), chain.ppi),
        response,
        color=style.colour,
        linestyle=dashes(style),
        linewidth=width,
        label=name,
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
    words = wrapped(response_words(chain, effect), _WIDTH - 2 * _EDGE)
    tops = (104.0, 104.0 + _FIELD_HEIGHT + 140)
    words_top = tops[1] + _FIELD_HEIGHT + 56
    height = words_top + len(words) * line_height() + _EDGE
    figure = new_figure(_WIDTH, height)
    page = clear_axes(place_axes(figure, 0, 0, _WIDTH, height), _WIDTH, height)
    width = _WIDTH - _LEFT - _EDGE - 10
    for top, heading, draw in (
        (tops[0], f"What each step does to detail, on {paper}", draw_step_responses),
        (tops[1], "What reaches the eye", draw_responses),
    ):
        write(page, _EDGE, top - 88, heading, size_pt=HEADING_PT)
        field = place_axes(figure, _LEFT, top, width, _FIELD_HEIGHT)
        draw(chain, effect, field, added=added)
    write(page, _EDGE, words_top, "\n".join(words))
    return figure


_PROFILE_WIDTH, _PROFILE_FIELD_HEIGHT = 860, 430
_PROFILE_EDGE, _PROFILE_LEFT, _TOP = 20, 76, 96

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
    paper : str
        The paper's name.
    """
    words = wrapped(edge.words, _PROFILE_WIDTH - 2 * _PROFILE_EDGE)
    words_top = _TOP + _PROFILE_FIELD_HEIGHT + 56
    height = words_top + len(words) * line_height() + _PROFILE_EDGE
    figure = new_figure(_PROFILE_WIDTH, height)
    page = clear_axes(
        place_axes(figure, 0, 0, _PROFILE_WIDTH, height), _PROFILE_WIDTH, height
    )
    write(
        page,
        _PROFILE_EDGE,
        _PROFILE_EDGE - 4,
        f"The strongest edge, on {paper}",
        size_pt=HEADING_PT,
    )
    field = place_axes(
        figure,
        _PROFILE_LEFT,
        _TOP,
        _PROFILE_WIDTH - _PROFILE_LEFT - _PROFILE_EDGE - 10,
        _PROFILE_FIELD_HEIGHT,
    )
    draw_edge_profile(edge, field)
    write(page, _PROFILE_EDGE, words_top, "\n".join(words))
    return figure
