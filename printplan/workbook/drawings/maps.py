"""Where does the paper fall short of the picture, and where is it worth looking?"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Any

from matplotlib.patches import Rectangle

from printplan.colour.losses import DEAD, FAR_OUT, OUT_OF_GAMUT
from printplan.workbook.drawings.map_layout import (
    FULL_REACH_DELTA_E,
    draw_picture,
    dress_scale,
    map_figure,
    paint_reach,
    paint_separation,
    scale_picture,
)
from printplan.workbook.drawings.page import (
    FIELD,
    GROUND,
    HEADING_PT,
    INK,
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

    from printplan.colour.losses import DistanceSummary
    from printplan.pixels.look_here import LookHere
    from printplan.sizing.layout import Box


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
    return draw_picture(paint_reach(picture_rgb, distance), axes)


def draw_reach_scale(axes: Axes) -> Axes:
    """
    The scale of a reach map, in dE00.

    Parameters
    ----------
    axes : Axes
        Wide and low.
    """
    axes.imshow(
        scale_picture(paint_reach, 0.0, FULL_REACH_DELTA_E),
        extent=(0, FULL_REACH_DELTA_E, 0, 1),
        aspect="auto",
    )
    ticks = {
        0.0: "0",
        OUT_OF_GAMUT: f"{OUT_OF_GAMUT:g}",
        FAR_OUT: f"{FAR_OUT:g}",
        10.0: "10",
        FULL_REACH_DELTA_E: f"{FULL_REACH_DELTA_E:g}+",
    }
    for limit in (OUT_OF_GAMUT, FAR_OUT):
        axes.axvline(limit, color="black", linewidth=2.2)
        axes.axvline(limit, color="white", linewidth=0.9)
    label = "distance from what the paper can hold (dE00)"
    return dress_scale(axes, label, ticks)


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
    return map_figure(
        [
            (picture_rgb, f"Soft proof on {paper}   ·   overview"),
            (paint_reach(picture_rgb, distance), "Reach map   ·   overview"),
        ],
        draw_reach_scale,
        reach_words(summary),
    )


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
    return draw_picture(paint_separation(picture_rgb, left), axes)


def draw_separation_scale(axes: Axes, difference: Difference) -> Axes:
    """
    The scale of a separation map, with the mark from which detail has merged.

    Parameters
    ----------
    axes : Axes
        Wide and low.
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
    picture : Box
        The picture in file pixels.
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
