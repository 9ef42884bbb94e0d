"""Where can the paper not hold the picture's colours, and by how much?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from printplan.colour.reach import FAR_OUT, OUT_OF_REACH
from printplan.workbook.drawings.map_layout import (
    draw_picture,
    dress_scale,
    map_figure,
    scale_picture,
)
from printplan.workbook.drawings.paint import FULL_REACH_DELTA_E, paint_reach

if TYPE_CHECKING:
    import numpy as np
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from printplan.colour.reach import ReachSummary


def draw_reach(
    picture_rgb: NDArray[np.uint8], distance: NDArray[np.floating[Any]], axes: Axes
) -> Axes:
    """
    The picture in grey with the distances painted over it.

    Parameters
    ----------
    picture_rgb : ndarray of uint8, shape (rows, columns, 3)
        sRGB, the picture's part of an overview.
    distance : ndarray of float, shape (rows, columns)
        dE00, as `pixels.maps.reach_map` gives it.
    axes : Axes

    Returns
    -------
    Axes
    """
    return draw_picture(paint_reach(picture_rgb, distance), axes)


def draw_reach_scale(axes: Axes) -> Axes:
    """
    The scale of a reach map, in dE00.

    Parameters
    ----------
    axes : Axes
        Wide and low.

    Returns
    -------
    Axes
    """
    axes.imshow(
        scale_picture(paint_reach, 0.0, FULL_REACH_DELTA_E),
        extent=(0, FULL_REACH_DELTA_E, 0, 1),
        aspect="auto",
    )
    ticks = {
        0.0: "0",
        OUT_OF_REACH: f"{OUT_OF_REACH:g}",
        FAR_OUT: f"{FAR_OUT:g}",
        10.0: "10",
        FULL_REACH_DELTA_E: f"{FULL_REACH_DELTA_E:g}+",
    }
    for limit in (OUT_OF_REACH, FAR_OUT):
        axes.axvline(limit, color="black", linewidth=2.2)
        axes.axvline(limit, color="white", linewidth=0.9)
    label = "distance from what the paper can hold (dE00)"
    return dress_scale(axes, label, ticks)


def reach_words(summary: ReachSummary) -> str:
    """
    What a reach map adds up to.

    Parameters
    ----------
    summary : ReachSummary

    Returns
    -------
    str
    """
    return (
        f"{summary.share_out:.1%} of the picture lies more than {OUT_OF_REACH:g} dE00 "
        f"from what the paper can hold, {summary.share_far_out:.1%} more than "
        f"{FAR_OUT:g}. 95 of 100 pixels keep within {summary.p95_delta_e:.1f} dE00. "
        f"Up to {OUT_OF_REACH:g} counts as held; from {FAR_OUT:g} on the difference is "
        "plain side by side."
    )


def reach_figure(
    picture_rgb: NDArray[np.uint8],
    distance: NDArray[np.floating[Any]],
    summary: ReachSummary,
    *,
    paper: str,
) -> Figure:
    """
    The proof beside its reach map, with the scale and the numbers.

    Parameters
    ----------
    picture_rgb : ndarray of uint8, shape (rows, columns, 3)
        sRGB, the picture's part of an overview.
    distance : ndarray of float, shape (rows, columns)
        dE00 of the same pixels.
    summary : ReachSummary
        Of the picture.
    paper : str
        The paper's name.

    Returns
    -------
    Figure
    """
    return map_figure(
        [
            (picture_rgb, f"Soft proof on {paper}   ·   overview"),
            (paint_reach(picture_rgb, distance), "Reach map   ·   overview"),
        ],
        draw_reach_scale,
        reach_words(summary),
    )
