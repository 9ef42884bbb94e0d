"""Where does the paper fall short of the picture, and where is it worth looking?"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Any

from matplotlib.patches import Rectangle

from printplan.colour.losses import DEAD, FAR_OUT, OUT_OF_GAMUT
from printplan.workbook.drawings.page import (
    FIELD,
    GROUND,
    HEADING_PT,
    INK,
    WIDTH_CSS_PX,
    dress_axes,
    new_page,
    show_picture,
    title,
)
from printplan.workbook.drawings.paint import (
    FULL_REACH_DELTA_E,
    paint_reach,
    paint_separation,
    scale_picture,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from printplan.colour.losses import DistanceSummary
    from printplan.pixels.look_here import LookHere
    from printplan.sizing.boxes import Box


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
    """
    return show_picture(paint_reach(picture_rgb, distance), axes)


def draw_reach_scale(axes: Axes) -> Axes:
    """
    The scale of a reach map, in dE00.

    Parameters
    ----------
    axes : Axes
        Wide and low.
    """
    ticks = {
        0.0: "0",
        OUT_OF_GAMUT: f"{OUT_OF_GAMUT:g}",
        FAR_OUT: f"{FAR_OUT:g}",
        10.0: "10",
        FULL_REACH_DELTA_E: f"{FULL_REACH_DELTA_E:g}+",
    }
    return _draw_scale(
        scale_picture(paint_reach, 0.0, FULL_REACH_DELTA_E),
        (0.0, FULL_REACH_DELTA_E),
        (OUT_OF_GAMUT, FAR_OUT),
        ticks,
        "distance from what the paper can hold (dE00)",
        axes,
    )


def _draw_scale(  # noqa: PLR0913, PLR0917 - a scale and its numbers
    painted: NDArray[np.uint8],
    ends: tuple[float, float],
    limits: Sequence[float],
    ticks: dict[float, str],
    label: str,
    axes: Axes,
) -> Axes:
    """A painted scale with its numbers, and a mark at each limit."""
    dress_axes(axes, x_label=label, y_label="")
    axes.grid(visible=False)
    axes.imshow(painted, extent=(*ends, 0, 1), aspect="auto")
    for limit in limits:
        axes.axvline(limit, color="black", linewidth=2.2)
        axes.axvline(limit, color="white", linewidth=0.9)
    axes.set_xlim(*ends)
    axes.set_yticks([])
    axes.set_xticks(list(ticks), list(ticks.values()))
    return axes


def reach_words(summary: DistanceSummary) -> str:
    """What a reach map adds up to."""
    return (
        f"{summary.share_out:.1%} of the picture lies more than {OUT_OF_GAMUT:g} dE00 "
        f"from what the paper can hold, {summary.share_far_out:.1%} more than "
        f"{FAR_OUT:g}. 95 of 100 pixels keep within {summary.p95_delta_e:.1f} dE00. "
        f"Up to {OUT_OF_GAMUT:g} counts as held; from {FAR_OUT:g} on the difference is "
        "plain side by side."
    )


def reach_figure(
    picture_rgb: NDArray[np.uint8],
    distance: NDArray[np.floating[Any]],
    summary: DistanceSummary,
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
    summary : DistanceSummary
        Of the picture.
    paper : str
        The paper's name.
    """
    (proof, painted, scale), figure = _panes(picture_rgb, reach_words(summary))
    title(show_picture(picture_rgb, proof), f"Soft proof on {paper}   ·   overview")
    title(draw_reach(picture_rgb, distance, painted), "Reach map   ·   overview")
    draw_reach_scale(scale)
    return figure


_TALLEST_PX, _SCALE_PX = 560.0, 26.0


def _panes(
    picture_rgb: NDArray[np.uint8], words: str
) -> tuple[tuple[Axes, Axes, Axes], Figure]:
    """Axes for a picture, for its map, and below that for the map's scale."""
    rows, columns = picture_rgb.shape[:2]
    height = min((WIDTH_CSS_PX - 70) / 2 * rows / columns, _TALLEST_PX)
    figure = new_page(WIDTH_CSS_PX, height + _SCALE_PX + 110, "", words)
    grid = figure.add_gridspec(2, 2, height_ratios=[height, _SCALE_PX])
    places = (grid[0, 0], grid[0, 1], grid[1, 1])
    proof, painted, scale = (figure.add_subplot(place) for place in places)
    return (proof, painted, scale), figure


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
    """
    return show_picture(paint_separation(picture_rgb, left), axes)


def draw_separation_scale(axes: Axes, difference: Difference) -> Axes:
    """
    The scale of a separation map, with the mark from which detail has merged.

    Parameters
    ----------
    axes : Axes
        Wide and low.
    """
    ticks = {
        1.0: "1\nall kept",
        0.75: "0.75",
        0.5: "0.5",
        0.25: "0.25",
        DEAD: f"{DEAD:g}\nmerged",
        0.0: "0",
    }
    of_what, _ = _WORDS[difference]
    return _draw_scale(
        scale_picture(paint_separation, 1.0, 0.0),
        (1.0, 0.0),
        (DEAD,),
        ticks,
        f"separation of {of_what} left (print's step / master's step)",
        axes,
    )


def separation_words(difference: Difference, share_dead: float) -> str:
    """
    What a separation map adds up to.

    Parameters
    ----------
    share_dead : float
        Share of the picture where detail has merged, 0 to 1.
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
    share_dead : float
        Share of the picture where detail has merged, 0 to 1.
    paper : str
        The paper's name.
    choice : str
        The rendering intent, as `Choice.words` gives it.
    """
    (proof, painted, scale), figure = _panes(
        picture_rgb, separation_words(difference, share_dead)
    )
    title(show_picture(picture_rgb, proof), f"{paper}, {choice}   ·   overview")
    title(
        draw_separation(picture_rgb, left, painted),
        f"Lost separation of {_WORDS[difference][0]}   ·   overview",
    )
    draw_separation_scale(scale, difference)
    return figure


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
    """
    show_picture(picture_rgb, axes)
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
    The picture with its numbered windows, above the reason for each.

    Parameters
    ----------
    picture_rgb : ndarray of uint8, shape (rows, columns, 3)
        sRGB, the picture's part of an overview.
    picture : Box
        The picture in file pixels.
    """
    rows, columns = picture_rgb.shape[:2]
    height = min((WIDTH_CSS_PX - 40) * rows / columns, _TALLEST_PX)
    reasons = (
        f"{number}: {' '.join([place.words, *place.also])}"
        for number, place in enumerate(places, start=1)
    )
    heading = "Look here   ·   overview"
    figure = new_page(WIDTH_CSS_PX, height, heading, *reasons)
    boxes = [place.box for place in places]
    draw_places(picture_rgb, boxes, picture, figure.add_subplot())
    return figure
