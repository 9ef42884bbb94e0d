"""How do cuts through gamuts, their volumes and what they cover share a page?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.gamut_volume import coverage, picture_coverage
from printplan.workbook.drawings.gamut import (
    HALF_SLAB_L,
    HALF_WEDGE_DEG,
    draw_leaf,
    draw_slice,
)
from printplan.workbook.drawings.ground import (
    BODY_PT,
    FIELD,
    HEADING_PT,
    LINES,
    SMALL_PT,
    dashes,
)
from printplan.workbook.drawings.page import (
    WIDTH_CSS_PX,
    clear_axes,
    line_height,
    new_figure,
    place_axes,
    wrapped,
    write,
)
from printplan.workbook.drawings.screen import screen_rgb

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from printplan.colour.gamut_volume import PictureSolid
    from printplan.workbook.drawings.gamut import NamedGamut

LIGHTNESS_LEVELS = (20.0, 40.0, 60.0, 80.0)
HUE_LEAVES_DEG = (30.0, 90.0, 150.0, 270.0)
"""CIELAB hues near red, yellow, green and blue."""

_EDGE, _TOP = 20, 40
_WORDS_LEFT = 505


def slices_figure(
    gamuts: Sequence[NamedGamut],
    picture: PictureSolid | None = None,
    *,
    levels: Sequence[float] = LIGHTNESS_LEVELS,
) -> Figure:
    """
    Slices at several lightnesses, with volumes and coverage in words.

    Parameters
    ----------
    gamuts : sequence of NamedGamut
        Up to six, all against the same white; the others are told against the
        first.
    picture : PictureSolid, optional
    levels : sequence of float, optional
        L*.

    Returns
    -------
    Figure
    """
    figure, fields = _page(gamuts, picture, len(levels), f"±{HALF_SLAB_L:g} L*")
    for number, (lightness, axes) in enumerate(zip(levels, fields, strict=True)):
        draw_slice(gamuts, lightness, axes, picture)
        _quiet_after_first(axes, number)
    return figure


def leaves_figure(
    gamuts: Sequence[NamedGamut],
    picture: PictureSolid | None = None,
    *,
    hues_deg: Sequence[float] = HUE_LEAVES_DEG,
) -> Figure:
    """
    Leaves at several hues, with volumes and coverage in words.

    Parameters
    ----------
    gamuts : sequence of NamedGamut
        As for `slices_figure`.
    picture : PictureSolid, optional
    hues_deg : sequence of float, optional
        CIELAB hue angles.

    Returns
    -------
    Figure
    """
    figure, fields = _page(gamuts, picture, len(hues_deg), f"±{HALF_WEDGE_DEG:g}°")
    for number, (hue_deg, axes) in enumerate(zip(hues_deg, fields, strict=True)):
        draw_leaf(gamuts, hue_deg, axes, picture)
        _quiet_after_first(axes, number)
    return figure


def coverage_words(
    gamuts: Sequence[NamedGamut], picture: PictureSolid | None = None
) -> list[str]:
    """
    How much of each other, and of the picture, gamuts hold.

    Parameters
    ----------
    gamuts : sequence of NamedGamut
        All against the same white.
    picture : PictureSolid, optional

    Returns
    -------
    list of str
        A sentence for each gamut after the first, and one for each on the picture.
    """
    first = gamuts[0]
    sentences = [
        f"{first.name} holds {coverage(other.mesh, first.mesh).share:.0%} of "
        f"{other.name}'s volume; the reverse is "
        f"{coverage(first.mesh, other.mesh).share:.0%}."
        for other in gamuts[1:]
    ]
    if picture is not None:
        held = [picture_coverage(picture, gamut.mesh) for gamut in gamuts]
        sentences += [
            f"{gamut.name} holds {share.colour_share:.0%} of the picture's area and "
            f"{share.volume_share:.0%} of its colours."
            for gamut, share in zip(gamuts, held, strict=True)
        ]
    return sentences


def _page(
    gamuts: Sequence[NamedGamut],
    picture: PictureSolid | None,
    count: int,
    slab: str,
) -> tuple[Figure, list[Axes]]:
    """A row of square fields, and below them the legend beside the words."""
    side = (WIDTH_CSS_PX - 2 * _EDGE - 56 - 26 * (count - 1)) / count
    lines = [
        line
        for sentence in coverage_words(gamuts, picture)
        for line in wrapped(sentence, WIDTH_CSS_PX - _EDGE - _WORDS_LEFT)
    ]
    entries = len(gamuts) + (picture is not None)
    foot = max(len(lines), entries * 1.25) * line_height() + _EDGE
    below = _TOP + side + 62
    figure = new_figure(WIDTH_CSS_PX, below + foot)
    page = clear_axes(
        place_axes(figure, 0, 0, WIDTH_CSS_PX, below + foot),
        WIDTH_CSS_PX,
        below + foot,
    )
    _draw_key(gamuts, picture, slab, below, page)
    write(page, _WORDS_LEFT, below, "\n".join(lines))
    fields = [
        place_axes(figure, _EDGE + 56 + number * (side + 26), _TOP, side, side)
        for number in range(count)
    ]
    return figure, fields


def _draw_key(
    gamuts: Sequence[NamedGamut],
    picture: PictureSolid | None,
    slab: str,
    top: float,
    page: Axes,
) -> None:
    """The legend, on the ground: each line with its colour, dashes, name and volume."""
    step = 1.25 * line_height()
    for number, (gamut, style) in enumerate(zip(gamuts, LINES, strict=False)):
        middle = top + number * step + 8
        page.plot(
            [_EDGE, _EDGE + 44],
            [middle, middle],
            color=FIELD,
            linewidth=9,
            solid_capstyle="butt",
        )
        page.plot(
            [_EDGE, _EDGE + 44],
            [middle, middle],
            color=style.colour,
            linestyle=dashes(style),
            linewidth=1.7,
        )
        write(page, _EDGE + 56, middle - 8, gamut.words)
    if picture is not None:
        middle = top + len(gamuts) * step + 8
        swatch = screen_rgb(np.array([[[60.0, 40, 40], [60, -30, 40], [60, 0, -40]]]))
        page.imshow(
            swatch,
            extent=(_EDGE, _EDGE + 44, middle + 7, middle - 7),
            aspect="auto",
            interpolation="nearest",
        )
        words = f"the picture's own colours within {slab}: denser where more of it"
        write(page, _EDGE + 56, middle - 8, words)


def _quiet_after_first(axes: Axes, number: int) -> None:
    """Share the labels of the y axis among fields in a row."""
    axes.title.set_fontsize(HEADING_PT)
    axes.xaxis.label.set_fontsize(SMALL_PT)
    axes.yaxis.label.set_fontsize(BODY_PT)
    if number:
        axes.set_ylabel("")
        axes.set_yticklabels([])
