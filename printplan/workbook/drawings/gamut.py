"""Which colours does each paper hold, cut at one lightness or one hue?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.collections import LineCollection
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from printplan.colour.gamut import gamut_volume, section_at_hue, section_at_lightness
from printplan.colour.gamut_overlap import coverage, picture_coverage
from printplan.errors import SpecError
from printplan.workbook.drawings.page import (
    INK,
    LINES,
    WIDTH_CSS_PX,
    clear_axes,
    dashes,
    dress_axes,
    new_page,
    screen_rgb,
    title,
    write_legend,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from printplan.colour.gamut_overlap import PictureSolid
    from printplan.colour.gamut_rays import GamutMesh

    Floats = NDArray[np.float64]


HALF_SLAB_L = 6.0
"""A slice shows the picture's colours up to so far above and below it."""

HALF_WEDGE_DEG = 15.0
"""A leaf shows the picture's colours of hues up to so far beside it."""

_FAINTEST = 0.45
_OUTLINE = "#c0c0c0"


@dataclass(frozen=True, slots=True, eq=False)
class NamedGamut:
    """A gamut with the name that a legend gives it."""

    name: str
    mesh: GamutMesh

    @property
    def words(self) -> str:
        """Name and volume, as they stand in a legend."""
        thousands = gamut_volume(self.mesh) / 1000
        return f"{self.name}: {thousands:,.0f} thousand cubic CIELAB units"


def draw_slice(
    gamuts: Sequence[NamedGamut],
    lightness: float,
    axes: Axes,
    picture: PictureSolid | None = None,
) -> Axes:
    """
    Outlines of gamuts at one lightness, over the picture's colours there.

    Parameters
    ----------
    gamuts : sequence of NamedGamut
        Up to six, all against the same white.
    lightness : float
        L*.

    Raises
    ------
    SpecError
        If there are more gamuts than lines that can be told apart.
    """
    dress_axes(
        axes,
        x_label="a* (CIELAB units)",
        y_label="b* (CIELAB units)",
    )
    title(axes, f"L* = {lightness:g}")
    if picture is not None:
        near = np.abs(picture.centres_lab[:, 0] - lightness) <= HALF_SLAB_L
        cells = picture.centres_lab[near]
        shown = np.column_stack([np.full(len(cells), lightness), cells[:, 1:]])
        places = np.rint(cells[:, 1:] / picture.edge - 0.5).astype(int)
        _draw_cells(places, shown, picture.share[near], picture.edge, axes)
    outlines = [section_at_lightness(gamut.mesh, lightness) for gamut in gamuts]
    _draw_outlines(gamuts, outlines, axes)
    axes.plot(0, 0, marker="+", color=INK, markersize=7, linestyle="none")
    limit = _limit([np.abs(lab[:, 1:]).max() for lab in _all_lab(gamuts, picture)])
    axes.set_xlim(-limit, limit)
    axes.set_ylim(-limit, limit)
    axes.set_aspect("equal")
    return axes


def draw_leaf(
    gamuts: Sequence[NamedGamut],
    hue_deg: float,
    axes: Axes,
    picture: PictureSolid | None = None,
) -> Axes:
    """
    Outlines of gamuts at one hue, over the picture's colours of that hue.

    Parameters
    ----------
    gamuts : sequence of NamedGamut
        Up to six, all against the same white.
    hue_deg : float
        CIELAB hue angle.

    Raises
    ------
    SpecError
        If there are more gamuts than lines that can be told apart.
    """
    dress_axes(
        axes,
        x_label="C*ab (CIELAB units)",
        y_label="L*",
    )
    title(axes, f"hue {hue_deg:g}°")
    towards = np.array([np.cos(np.radians(hue_deg)), np.sin(np.radians(hue_deg))])
    if picture is not None:
        lab = picture.centres_lab
        chroma = np.hypot(lab[:, 1], lab[:, 2])
        cosine = np.clip(lab[:, 1:] @ towards / np.maximum(chroma, 1e-9), -1, 1)
        near = np.degrees(np.arccos(cosine)) <= HALF_WEDGE_DEG
        cells, chroma = lab[near], chroma[near]
        shown = np.column_stack([cells[:, 0], chroma[:, None] * towards])
        places = np.floor(np.column_stack([chroma, cells[:, 0]]) / picture.edge).astype(
            int
        )
        _draw_cells(places, shown, picture.share[near], picture.edge, axes)
    outlines = [section_at_hue(gamut.mesh, hue_deg) for gamut in gamuts]
    _draw_outlines(gamuts, outlines, axes)
    farthest = [np.hypot(*lab[:, 1:].T).max() for lab in _all_lab(gamuts, picture)]
    axes.set_xlim(0, _limit(farthest))
    axes.set_ylim(0, 100)
    return axes


def _draw_cells(
    places: NDArray[np.int_],
    lab: Floats,
    share: Floats,
    edge: float,
    axes: Axes,
) -> None:
    """
    The picture's colours as squares of their own colour, fainter where few.

    `places` counts cells to the right and up from 0, 0.
    """
    if not len(places):
        return
    cells, member = np.unique(places, axis=0, return_inverse=True)
    member = member.ravel()
    area = np.bincount(member, weights=share)
    mean = np.stack(
        [np.bincount(member, weights=share * lab[:, axis]) for axis in range(3)],
        axis=-1,
    )
    colours = np.ones((len(cells), 4))
    colours[:, :3] = screen_rgb(mean / area[:, None]) / 255
    # By the root of the area: a cell of a hundredth still shows at a tenth.
    colours[:, 3] = _FAINTEST + (1 - _FAINTEST) * np.sqrt(area / area.max())
    axes.add_collection(_outline(cells, edge))
    low = cells.min(axis=0)
    columns, rows = cells.max(axis=0) - low + 1
    image = np.zeros((rows, columns, 4))
    image[cells[:, 1] - low[1], cells[:, 0] - low[0]] = colours
    axes.imshow(
        image,
        origin="lower",
        extent=(
            low[0] * edge,
            (low[0] + columns) * edge,
            low[1] * edge,
            (low[1] + rows) * edge,
        ),
        interpolation="nearest",
        aspect="auto",
    )


def _outline(cells: NDArray[np.int_], edge: float) -> LineCollection:
    """The sides of cells that have no neighbour: dark colours need them to be seen."""
    held = {(int(column), int(row)) for column, row in cells}
    sides = []
    for column, row in held:
        left, right, low, high = column, column + 1, row, row + 1
        if (column - 1, row) not in held:
            sides.append([(left, low), (left, high)])
        if (column + 1, row) not in held:
            sides.append([(right, low), (right, high)])
        if (column, row - 1) not in held:
            sides.append([(left, low), (right, low)])
        if (column, row + 1) not in held:
            sides.append([(left, high), (right, high)])
    return LineCollection(
        [[(x * edge, y * edge) for x, y in side] for side in sorted(sides)],
        colors=_OUTLINE,
        linewidths=0.6,
    )


def _draw_outlines(
    gamuts: Sequence[NamedGamut],
    outlines: Sequence[Sequence[Floats]],
    axes: Axes,
) -> None:
    if len(gamuts) > len(LINES):
        raise SpecError(
            f"{len(gamuts)} gamuts are asked for; {len(LINES)} lines can be told "
            "apart.",
            remedy=f"Compare up to {len(LINES)}.",
        )
    for gamut, loops, style in zip(gamuts, outlines, LINES, strict=False):
        for number, loop in enumerate(loops):
            axes.plot(
                loop[:, 0],
                loop[:, 1],
                color=style.colour,
                linestyle=dashes(style),
                linewidth=1.7,
                label=gamut.words if number == 0 else None,
            )


def _all_lab(
    gamuts: Sequence[NamedGamut], picture: PictureSolid | None
) -> list[Floats]:
    colours = [gamut.mesh.vertices_lab for gamut in gamuts]
    return colours if picture is None else [*colours, picture.centres_lab]


def _limit(farthest: Sequence[float]) -> float:
    """End of the axes: the same for all slices, or leaves, of one comparison."""
    return float(10 * np.ceil(max(farthest) / 10))


LIGHTNESS_LEVELS = (20.0, 40.0, 60.0, 80.0)
HUE_LEAVES_DEG = (30.0, 90.0, 150.0, 270.0)
"""CIELAB hues near red, yellow, green and blue."""


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
    levels : sequence of float, optional
        L*.
    """
    figure, fields = _page(gamuts, picture, len(levels), f"±{HALF_SLAB_L:g} L*")
    for lightness, axes in zip(levels, fields, strict=True):
        draw_slice(gamuts, lightness, axes, picture)
    _share_y(fields)
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
    hues_deg : sequence of float, optional
        CIELAB hue angles.
    """
    figure, fields = _page(gamuts, picture, len(hues_deg), f"±{HALF_WEDGE_DEG:g}°")
    for hue_deg, axes in zip(hues_deg, fields, strict=True):
        draw_leaf(gamuts, hue_deg, axes, picture)
        axes.set_box_aspect(1)
    _share_y(fields)
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


def _share_y(fields: Sequence[Axes]) -> None:
    """Name the y axis at the first field of a row only."""
    for axes in fields[1:]:
        axes.set_ylabel("")
        axes.tick_params(labelleft=False)


def _page(
    gamuts: Sequence[NamedGamut],
    picture: PictureSolid | None,
    count: int,
    slab: str,
) -> tuple[Figure, list[Axes]]:
    """A row of square fields, and below them the legend above the words."""
    handles: list[Artist] = [
        Line2D(
            [],
            [],
            color=style.colour,
            linestyle=dashes(style),
            linewidth=1.7,
            label=gamut.words,
        )
        for gamut, style in zip(gamuts, LINES, strict=False)
    ]
    if picture is not None:
        words = f"the picture's own colours within {slab}: denser where more of it"
        handles.append(Patch(facecolor="#8a6f5c", edgecolor=_OUTLINE, label=words))
    side_px = (WIDTH_CSS_PX - 60) / count - 34
    legend_px = 18.0 * len(handles) + 10
    figure = new_page(
        WIDTH_CSS_PX, side_px + legend_px + 85, "", *coverage_words(gamuts, picture)
    )
    grid = figure.add_gridspec(2, count, height_ratios=[side_px, legend_px])
    key = figure.add_subplot(grid[1, :])
    clear_axes(key)
    write_legend(key, "upper left", handles=handles)
    return figure, [figure.add_subplot(grid[0, place]) for place in range(count)]
