"""Which tones separate on this paper, and do its greys stay grey?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.tone import LEAST_STEP_L, neutrality, tone_scale, tone_steps
from printplan.workbook.drawings.page import (
    FAINT,
    GROUND,
    INK,
    LINES,
    SMALL_PT,
    WIDTH_CSS_PX,
    dashes,
    dress_axes,
    new_page,
    screen_rgb,
    title,
    write_legend,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from printplan.colour.tone import Neutrality, ToneScale, ToneWedge

    Floats = NDArray[np.float64]


HALF_STRIP = 0.24
"""Half the height of a strip; rows are 1 apart."""

_BRACKET_BELOW, _BRACKET_END = 0.34, 0.05


def draw_strip(printed_lab: Floats, row: float, axes: Axes) -> Axes:
    """
    Greys side by side, without gaps.

    Parameters
    ----------
    printed_lab : ndarray of float64, shape (steps, 3)
        ICC-absolute CIELAB; the first lies round 0 of the x axis, the next round 1.
    row : float
        Middle of the strip on the y axis.
    """
    axes.imshow(
        screen_rgb(printed_lab)[None],
        extent=(-0.5, len(printed_lab) - 0.5, row + HALF_STRIP, row - HALF_STRIP),
        interpolation="nearest",
        aspect="auto",
        zorder=2,
    )
    return axes


def draw_brackets(
    is_apart: NDArray[np.bool_], row: float, words: str, axes: Axes
) -> Axes:
    """
    Brackets under the greys of a strip that are all told from their neighbours.

    Parameters
    ----------
    is_apart : ndarray of bool, shape (steps - 1,)
        Whether each two neighbours are.
    row : float
        Middle of the strip on the y axis, which runs downwards.
    words : str
        Written to the right of the strip.
    """
    below, end = row + _BRACKET_BELOW, row + _BRACKET_BELOW - _BRACKET_END
    for first, last in runs(is_apart):
        # From the first grey of the first pair to the second of the last.
        left, right = first - 0.44, last + 1.44
        axes.plot(
            [left, left, right, right],
            [end, below, below, end],
            color=INK,
            linewidth=1.6,
            solid_joinstyle="miter",
            clip_on=False,
        )
    axes.text(
        len(is_apart) + 0.8,
        row,
        words,
        color=INK,
        fontsize=SMALL_PT,
        verticalalignment="center",
        clip_on=False,
    )
    return axes


def runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """
    Stretches of flags that are set.

    Parameters
    ----------
    flags : ndarray of bool, shape (count,)

    Returns
    -------
    list of (int, int)
        First and last of each stretch.

    Examples
    --------
    >>> runs(np.array([False, True, True, False, True]))
    [(1, 2), (4, 4)]
    """
    ends = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]])))
    return [
        (int(first), int(after) - 1)
        for first, after in zip(ends[::2], ends[1::2], strict=True)
    ]


def dress_strips(
    source_l: Floats, row_names: Sequence[str], every: int, axes: Axes
) -> Axes:
    """
    Give rows of strips their names, and steps their lightness.

    Parameters
    ----------
    source_l : ndarray of float64, shape (steps,)
        L* of each step in the master.
    row_names : sequence of str
        From above; row 0 is the first.
    every : int
        How many steps from one number to the next.
    """
    axes.set_xlim(-0.5, len(source_l) - 0.5)
    axes.set_ylim(len(row_names) - 0.5, -0.45)
    places = list(range(0, len(source_l), every))
    axes.set_xticks(places, [f"{source_l[place]:.0f}" for place in places])
    axes.set_yticks(range(len(row_names)), list(row_names))
    axes.tick_params(axis="y", length=0)
    axes.grid(visible=False)
    # On the ground, which lies between the deepest tones and the lightest.
    axes.set_facecolor(GROUND)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    return axes


END_STEPS = 21
"""Steps shown at each end of the wedge."""


def draw_wedge_end(wedge: ToneWedge, *, light: bool, axes: Axes) -> Axes:
    """
    The darkest or the lightest steps as printed, with those that separate.

    Parameters
    ----------
    light : bool
        Whether to draw the light end.
    axes : Axes
        With room to the right for words.

    Returns
    -------
    Axes
        Brackets join steps that rise by `tone.LEAST_STEP_L` from one to the next.
    """
    dress_axes(axes, x_label="L* of the master's step", y_label="")
    part = slice(-END_STEPS, None) if light else slice(END_STEPS)
    result = tone_steps(wedge)
    pairs = slice(-(END_STEPS - 1), None) if light else slice(END_STEPS - 1)
    is_apart = result.is_separate[pairs]
    last = result.last_light if light else result.first_dark
    words = f"{int(is_apart.sum())} of {len(is_apart)} separate\n"
    if last is None:
        words += f"none apart from {'white' if light else 'black'}"
    elif light:
        words += f"apart from white up to\nL* {last.source_l:.0f}"
    else:
        words += f"apart from black from\nL* {last.source_l:.0f} on"
    draw_strip(wedge.printed_lab[part], 0, axes)
    draw_brackets(is_apart, 0, words, axes)
    name = "lightest" if light else "darkest"
    return dress_strips(wedge.source_l[part], [name], 2, axes)


def draw_tone_curve(wedge: ToneWedge, scale: ToneScale, axes: Axes) -> Axes:
    """
    Printed lightness against the master's.

    Parameters
    ----------
    scale : ToneScale
        Of that wedge.
    """
    dress_axes(
        axes,
        x_label="L* of the master",
        y_label="L* of the print (ICC-absolute)",
    )
    title(axes, "Tone")
    axes.plot(
        [0, 100],
        [0, 100],
        color=FAINT,
        linestyle=(0, (1, 2)),
        linewidth=1.4,
        label="print = master",
    )
    axes.plot(
        wedge.source_l,
        wedge.printed_lab[:, 0],
        color=LINES[1].colour,
        linewidth=2.0,
        label="this paper",
    )
    for step, words, place, align in (
        (scale.darkest, "deepest", (36.0, 6.0), "left"),
        (scale.lightest, "lightest", (97.0, 42.0), "right"),
    ):
        axes.annotate(
            f"{words}: L* {step.printed_l:.1f}, density {step.density:.2f}",
            (step.source_l, step.printed_l),
            xytext=place,
            arrowprops={"arrowstyle": "-", "color": FAINT, "linewidth": 0.9},
            horizontalalignment=align,
            color=INK,
            fontsize=SMALL_PT,
        )
        axes.plot(
            step.source_l,
            step.printed_l,
            LINES[1].marker,
            color=LINES[1].colour,
            clip_on=False,
            zorder=4,
        )
    axes.set_xlim(0, 100)
    axes.set_ylim(0, 100)
    write_legend(axes, "upper left")
    return axes


def draw_grey_drift(wedge: ToneWedge, cast: Neutrality, axes: Axes) -> Axes:
    """
    The cast of the printed greys along the ramp.

    Parameters
    ----------
    cast : Neutrality
        Of that wedge.
    """
    dress_axes(
        axes,
        x_label="L* of the master",
        y_label="a*, b* of the print (CIELAB units)",
    )
    title(axes, "Greys against the paper's white")
    axes.axhline(0, color=INK, linewidth=0.8)
    for values, name, style in (
        (cast.drift_a, "a*: red above, green below", LINES[1]),
        (cast.drift_b, "b*: yellow above, blue below", LINES[2]),
    ):
        axes.plot(
            wedge.source_l,
            values,
            color=style.colour,
            linestyle=dashes(style),
            linewidth=1.8,
            label=name,
        )
    strongest = cast.strongest
    axes.axvline(strongest.source_l, color=FAINT, linewidth=1.0)
    reach = max(3.0, float(np.ceil(cast.max_chroma * 1.3)))
    axes.set_xlim(0, 100)
    axes.set_ylim(-reach, reach)
    write_legend(axes, "upper right")
    return axes


def tone_words(scale: ToneScale, cast: Neutrality) -> str:
    """What the tone test adds up to."""
    return (
        f"The print keeps {scale.share_kept:.0%} of the master's range of L* and has a "
        f"density range of {scale.density_range:.2f}. Its greys are "
        f"{cast.mean_chroma:.1f} CIELAB units from the paper's hue on average, and "
        f"{cast.max_chroma:.1f} at most, at L* {cast.strongest.source_l:.0f} of the "
        f"master. Bracket: each step is at least {LEAST_STEP_L:g} L* lighter in print "
        "than the one before. What the profile foretells, not a measured print."
    )


def tone_figure(wedge: ToneWedge, *, paper: str, choice: str) -> Figure:
    """
    The tone test: both ends of the wedge, the tone curve and the drift of greys.

    Parameters
    ----------
    wedge : ToneWedge
        Of 101 steps, as `tone.print_wedge` makes it.
    paper : str
        The paper's name.
    choice : str
        The rendering intent, as `Choice.words` gives it.
    """
    scale, cast = tone_scale(wedge), neutrality(wedge)
    heading = f"Tone test on {paper}, {choice}"
    figure = new_page(WIDTH_CSS_PX, 790, heading, tone_words(scale, cast))
    above, below = figure.subfigures(2, squeeze=False, height_ratios=[280, 460]).ravel()
    for light, axes in zip((False, True), above.subplots(2), strict=True):
        draw_wedge_end(wedge, light=light, axes=axes)
    left, right = below.subplots(1, 2)
    draw_tone_curve(wedge, scale, left)
    draw_grey_drift(wedge, cast, right)
    return figure
