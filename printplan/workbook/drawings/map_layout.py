"""How do a picture, its map, the scale and the words share a page?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.workbook.drawings.ground import BODY_PT, HEADING_PT, INK, SMALL_PT
from printplan.workbook.drawings.page import (
    WIDTH_CSS_PX,
    clear_axes,
    line_height,
    new_figure,
    place_axes,
    wrapped,
    write,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

_EDGE, _GAP = 20, 20
_TALLEST, _FOOT = 560, 106
_SCALE_WIDTH, _SCALE_HEIGHT = 420, 26
_SCALE_TONES = (40, 128, 215)
_SCALE_STEPS = 512


def map_figure(
    panes: Sequence[tuple[NDArray[np.uint8], str]],
    draw_scale: Callable[[Axes], Axes],
    words: str,
) -> Figure:
    """
    Pictures in a row, and below them the scale that the last is painted in.

    Parameters
    ----------
    panes : sequence of (ndarray of uint8, str)
        sRGB of shape (rows, columns, 3), all of one shape, and the caption.
    draw_scale : callable
        Draws the scale on the axes that it is given.
    words : str
        What the map adds up to.

    Returns
    -------
    Figure
    """
    rows, columns = panes[0][0].shape[:2]
    room = (WIDTH_CSS_PX - 2 * _EDGE - _GAP * (len(panes) - 1)) / len(panes)
    scale = min(room / columns, _TALLEST / rows)
    width, height = columns * scale, rows * scale
    lines = wrapped(words, WIDTH_CSS_PX - 3 * _EDGE - _SCALE_WIDTH)
    foot = max(_FOOT, len(lines) * line_height() + _EDGE)
    caption = line_height(HEADING_PT) + 6
    top = _EDGE + caption
    figure = new_figure(WIDTH_CSS_PX, top + height + _EDGE + foot)
    page = clear_axes(
        place_axes(figure, 0, 0, WIDTH_CSS_PX, top + height + _EDGE + foot),
        WIDTH_CSS_PX,
        top + height + _EDGE + foot,
    )
    used = width * len(panes) + _GAP * (len(panes) - 1)
    left = (WIDTH_CSS_PX - used) / 2
    for pixels, name in panes:
        write(page, left, _EDGE - 4, name, size_pt=HEADING_PT)
        draw_picture(pixels, place_axes(figure, left, top, width, height))
        left += width + _GAP
    below = top + height + _EDGE
    draw_scale(
        place_axes(figure, _EDGE + 12, below + 6, _SCALE_WIDTH - 24, _SCALE_HEIGHT)
    )
    write(page, 2 * _EDGE + _SCALE_WIDTH, below, "\n".join(lines), size_pt=BODY_PT)
    return figure


def draw_picture(picture_rgb: NDArray[np.uint8], axes: Axes) -> Axes:
    """
    A picture without axes, its pixels square.

    Parameters
    ----------
    picture_rgb : ndarray of uint8, shape (rows, columns, 3)
        sRGB.
    axes : Axes

    Returns
    -------
    Axes
    """
    clear_axes(axes, picture_rgb.shape[1], picture_rgb.shape[0])
    axes.imshow(
        picture_rgb,
        extent=(0, picture_rgb.shape[1], picture_rgb.shape[0], 0),
        aspect="equal",
    )
    return axes


def scale_picture(
    paint: Callable[[NDArray[np.uint8], NDArray[np.float64]], NDArray[np.uint8]],
    first: float,
    last: float,
) -> NDArray[np.uint8]:
    """
    Paint from one value to another, over a dark, a middle and a light tone.

    Parameters
    ----------
    paint : callable
        `paint_reach` or `paint_separation`.
    first, last : float
        At the left and the right end.

    Returns
    -------
    ndarray of uint8, shape (rows, 512, 3)
        So the scale is read on the tones that a picture has.
    """
    tones = np.repeat(np.array(_SCALE_TONES, np.uint8), 12)
    ground = np.broadcast_to(tones[:, None, None], (len(tones), _SCALE_STEPS, 3))
    values = np.broadcast_to(
        np.linspace(first, last, _SCALE_STEPS), (len(tones), _SCALE_STEPS)
    )
    return paint(np.ascontiguousarray(ground), values)


def dress_scale(axes: Axes, label: str, ticks: dict[float, str]) -> Axes:
    """
    Give a painted scale its numbers.

    Parameters
    ----------
    axes : Axes
    label : str
        Quantity and unit.
    ticks : dict of float to str

    Returns
    -------
    Axes
    """
    axes.set_yticks([])
    axes.set_xticks(list(ticks), list(ticks.values()))
    axes.tick_params(colors=INK, labelsize=SMALL_PT, length=5)
    axes.set_xlabel(label, color=INK, fontsize=BODY_PT)
    for spine in axes.spines.values():
        spine.set_color(INK)
        spine.set_linewidth(0.8)
    return axes
