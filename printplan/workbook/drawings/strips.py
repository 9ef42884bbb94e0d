"""How are rows of printed greys drawn, and which of them stay apart?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.workbook.drawings.ground import GROUND, INK, SMALL_PT
from printplan.workbook.drawings.screen import screen_rgb

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from numpy.typing import NDArray

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
    axes : Axes

    Returns
    -------
    Axes
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
    axes : Axes

    Returns
    -------
    Axes
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
    axes : Axes

    Returns
    -------
    Axes
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
