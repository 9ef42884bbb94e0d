"""Where does detail merge in the print, in tone or in colour?"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Any

from printplan.colour.separation import DEAD
from printplan.workbook.drawings.map_layout import (
    draw_picture,
    dress_scale,
    map_figure,
    scale_picture,
)
from printplan.workbook.drawings.paint import paint_separation

if TYPE_CHECKING:
    import numpy as np
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray


class Difference(StrEnum):
    """What has to stay apart."""

    TONE = "tone"
    CHROMA = "chroma"


_WORDS = {
    Difference.TONE: ("tone", "a small step of lightness"),
    Difference.CHROMA: ("colour", "the small step of colour that suffers most"),
}


def draw_separation(
    picture_rgb: NDArray[np.uint8], left: NDArray[np.floating[Any]], axes: Axes
) -> Axes:
    """
    The picture in grey with its lost separation painted over it.

    Parameters
    ----------
    picture_rgb : ndarray of uint8, shape (rows, columns, 3)
        sRGB, the picture's part of an overview.
    left : ndarray of float, shape (rows, columns)
        As `pixels.maps.tone_map` or `chroma_map` gives it.
    axes : Axes

    Returns
    -------
    Axes
    """
    return draw_picture(paint_separation(picture_rgb, left), axes)


def draw_separation_scale(axes: Axes, difference: Difference) -> Axes:
    """
    The scale of a separation map, with the mark from which detail has merged.

    Parameters
    ----------
    axes : Axes
        Wide and low.
    difference : Difference

    Returns
    -------
    Axes
    """
    axes.imshow(
        scale_picture(paint_separation, 1.0, 0.0), extent=(1, 0, 0, 1), aspect="auto"
    )
    axes.set_xlim(1, 0)
    axes.axvline(DEAD, color="black", linewidth=2.2)
    axes.axvline(DEAD, color="white", linewidth=0.9)
    ticks = {
        1.0: "1\nall kept",
        0.75: "0.75",
        0.5: "0.5",
        0.25: "0.25",
        DEAD: f"{DEAD:g}\nmerged",
        0.0: "0",
    }
    of_what, _ = _WORDS[difference]
    label = f"separation of {of_what} left (print's step / master's step)"
    return dress_scale(axes, label, ticks)


def separation_words(difference: Difference, share_dead: float) -> str:
    """
    What a separation map adds up to.

    Parameters
    ----------
    difference : Difference
    share_dead : float
        Share of the picture where detail has merged, 0 to 1.

    Returns
    -------
    str
    """
    of_what, step = _WORDS[difference]
    return (
        f"In {share_dead:.1%} of the picture detail of {of_what} has merged (hatched): "
        f"less than {DEAD:.0%} is left there of {step}. Whether that matters depends "
        "on whether the picture has detail there: look at those places in the loupe."
    )


def separation_figure(  # noqa: PLR0913 - a map and its four captions
    picture_rgb: NDArray[np.uint8],
    left: NDArray[np.floating[Any]],
    difference: Difference,
    share_dead: float,
    *,
    paper: str,
    choice: str,
) -> Figure:
    """
    The proof beside its map of lost separation, with the scale and the number.

    Parameters
    ----------
    picture_rgb : ndarray of uint8, shape (rows, columns, 3)
        sRGB, the picture's part of an overview.
    left : ndarray of float, shape (rows, columns)
        Separation of the same pixels.
    difference : Difference
    share_dead : float
        Share of the picture where detail has merged, 0 to 1.
    paper : str
        The paper's name.
    choice : str
        The rendering intent, as `Choice.words` gives it.

    Returns
    -------
    Figure
    """

    def draw_scale(axes: Axes) -> Axes:
        return draw_separation_scale(axes, difference)

    return map_figure(
        [
            (picture_rgb, f"{paper}, {choice}   ·   overview"),
            (
                paint_separation(picture_rgb, left),
                f"Lost separation of {_WORDS[difference][0]}   ·   overview",
            ),
        ],
        draw_scale,
        separation_words(difference, share_dead),
    )
