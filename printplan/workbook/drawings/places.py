"""Where in the picture lie the windows worth looking into?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from matplotlib.patches import Rectangle

from printplan.workbook.drawings.ground import (
    FIELD,
    GROUND,
    HEADING_PT,
    INK,
)
from printplan.workbook.drawings.map_layout import draw_picture
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
    from collections.abc import Sequence

    import numpy as np
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from printplan.pixels.look_here import LookHere
    from printplan.size.layout import Box

_EDGE = 20
_WIDEST, _TALLEST = 620, 560


def draw_places(
    picture_rgb: NDArray[np.uint8], boxes: Sequence[Box], picture: Box, axes: Axes
) -> Axes:
    """
    Numbered frames on the picture.

    Parameters
    ----------
    picture_rgb : ndarray of uint8, shape (rows, columns, 3)
        sRGB, the picture's part of an overview.
    boxes : sequence of Box
        In file pixels, inside the picture; the first has the number 1.
    picture : Box
        The picture in file pixels.
    axes : Axes

    Returns
    -------
    Axes
    """
    draw_picture(picture_rgb, axes)
    rows, columns = picture_rgb.shape[:2]
    across, down = columns / picture.width, rows / picture.height
    for number, box in enumerate(boxes, start=1):
        left = (box.left - picture.left) * across
        top = (box.top - picture.top) * down
        for colour, width in ((GROUND, 4.0), (INK, 1.8)):
            axes.add_patch(
                Rectangle(
                    (left, top),
                    box.width * across,
                    box.height * down,
                    facecolor="none",
                    edgecolor=colour,
                    linewidth=width,
                )
            )
        axes.annotate(
            f"{number}",
            (left, top),
            xytext=(4, -3),
            textcoords="offset points",
            verticalalignment="top",
            color=INK,
            fontsize=HEADING_PT,
            fontweight="bold",
            bbox={"facecolor": FIELD, "edgecolor": INK, "pad": 2.5},
        )
    return axes


def places_figure(
    picture_rgb: NDArray[np.uint8], places: Sequence[LookHere], picture: Box
) -> Figure:
    """
    The picture with its numbered windows, beside the reason for each.

    Parameters
    ----------
    picture_rgb : ndarray of uint8, shape (rows, columns, 3)
        sRGB, the picture's part of an overview.
    places : sequence of LookHere
    picture : Box
        The picture in file pixels.

    Returns
    -------
    Figure
    """
    rows, columns = picture_rgb.shape[:2]
    scale = min(_WIDEST / columns, _TALLEST / rows)
    width, height = columns * scale, rows * scale
    left = width + 2 * _EDGE
    lines: list[str] = []
    for number, place in enumerate(places, start=1):
        room = WIDTH_CSS_PX - left - _EDGE
        reasons = " ".join([place.words, *place.also])
        lines += [*wrapped(f"{number}   {reasons}", room), ""]
    caption = line_height(HEADING_PT) + 8
    tallest = max(height, len(lines) * line_height()) + caption + 2 * _EDGE
    figure = new_figure(WIDTH_CSS_PX, tallest)
    page = clear_axes(
        place_axes(figure, 0, 0, WIDTH_CSS_PX, tallest), WIDTH_CSS_PX, tallest
    )
    write(page, _EDGE, _EDGE - 4, "Look here   ·   overview", size_pt=HEADING_PT)
    write(page, left, _EDGE + caption, "\n".join(lines))
    axes = place_axes(figure, _EDGE, _EDGE + caption, width, height)
    draw_places(picture_rgb, [place.box for place in places], picture, axes)
    return figure
