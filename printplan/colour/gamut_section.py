"""What does a gamut look like, cut at one lightness or one hue?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.gamut import GamutMesh

    Floats = NDArray[np.float64]
    Integers = NDArray[np.intp]


def slice_at_lightness(mesh: GamutMesh, lightness: float) -> tuple[Floats, ...]:
    """
    Outline of a gamut at one lightness.

    Parameters
    ----------
    mesh : GamutMesh
    lightness : float
        L*.

    Returns
    -------
    tuple of ndarray of float64, shape (points, 2)
        a*, b* along closed lines, first point repeated at the end, counterclockwise
        round what is inside; the longest first. None where the gamut does not reach.
    """
    loops = _cut(mesh, mesh.vertices_lab[:, 0] - lightness)
    return _longest_first([loop[:, 1:] for loop in loops])


def leaf_at_hue(mesh: GamutMesh, hue_deg: float) -> tuple[Floats, ...]:
    """
    Outline of a gamut at one hue, as chroma against lightness.

    Parameters
    ----------
    mesh : GamutMesh
    hue_deg : float
        CIELAB hue angle.

    Returns
    -------
    tuple of ndarray of float64, shape (points, 2)
        C*ab, L* along lines, the longest first. The leaf itself runs from its dark
        to its light end on the grey axis, C = 0; an island of colour beside the
        axis is a closed line.

    Notes
    -----
    The mesh is cut by the plane through the grey axis; the half with the opposite
    hue is left out.
    """
    towards = np.array([np.cos(np.radians(hue_deg)), np.sin(np.radians(hue_deg))])
    beside = np.array([-towards[1], towards[0]])
    leaves = []
    for loop in _cut(mesh, mesh.vertices_lab[:, 1:] @ beside):
        outline = np.stack([loop[:, 1:] @ towards, loop[:, 0]], axis=1)
        leaves += _right_half(outline)
    return _longest_first(leaves)


def _cut(mesh: GamutMesh, height: Floats) -> list[Floats]:
    """
    Closed lines in which a mesh meets a surface that all heights are 0 on.

    Each triangle with corners on both sides has one edge going up through the cut
    and one going down, and gives a step from the first to the second; its
    neighbours begin where it ends.
    """
    above = height >= 0
    corner = mesh.triangles
    following = np.roll(corner, -1, axis=1)
    up = ~above[corner] & above[following]
    down = above[corner] & ~above[following]
    cut = np.flatnonzero(up.any(axis=1))
    side_up, side_down = up[cut].argmax(axis=1), down[cut].argmax(axis=1)
    # An edge has one name, whichever of its two triangles asks.
    low, high = corner[cut, side_up], following[cut, side_up]
    start = low * len(height) + high
    end = following[cut, side_down] * len(height) + corner[cut, side_down]
    share = (height[low] / (height[low] - height[high]))[:, None]
    points = mesh.vertices_lab[low] * (1 - share) + mesh.vertices_lab[high] * share
    names, place = np.unique(np.concatenate([start, end]), return_inverse=True)
    following_edge = np.empty(len(names), np.intp)
    following_edge[place[: len(cut)]] = place[len(cut) :]
    at_edge = np.empty((len(names), 3))
    at_edge[place[: len(cut)]] = points
    # Backwards: seen from where the heights are above 0, that is counterclockwise.
    return [at_edge[loop[::-1]] for loop in _loops(following_edge)]


def _loops(following: Integers) -> list[Integers]:
    """Cycles of a permutation, each closed by its first member."""
    count = len(following)
    if count == 0:
        return []
    graph = coo_array(
        (np.ones(count, np.int8), (np.arange(count), following)), shape=(count, count)
    )
    _, cycle = connected_components(graph, directed=True, connection="weak")
    _, starts, lengths = np.unique(cycle, return_index=True, return_counts=True)
    loops = []
    for start, length in zip(starts.tolist(), lengths.tolist(), strict=True):
        loop = np.empty(length + 1, np.intp)
        loop[0] = start
        for step in range(length):
            loop[step + 1] = following[loop[step]]
        loops.append(loop)
    return loops


def _right_half(outline: Floats) -> list[Floats]:
    """Parts of a closed line of C, L with C above 0, begun and ended on the axis."""
    chroma = outline[:-1, 0]
    right = chroma > 0
    if right.all():
        return [outline]
    leaving = np.flatnonzero(right & ~np.roll(right, 1))
    count = len(chroma)
    parts = []
    for first in leaving.tolist():
        run = 1
        while right[(first + run) % count]:
            run += 1
        members = outline[:-1][(first + np.arange(-1, run + 1)) % count].copy()
        for outer, inner in ((0, 1), (-1, -2)):
            share = members[inner, 0] / (members[inner, 0] - members[outer, 0])
            crossing = members[inner] + share * (members[outer] - members[inner])
            members[outer] = (0.0, crossing[1])
        parts.append(members if members[0, 1] <= members[-1, 1] else members[::-1])
    return parts


def _longest_first(lines: list[Floats]) -> tuple[Floats, ...]:
    def minus_length(line: Floats) -> float:
        return -float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())

    return tuple(sorted(lines, key=minus_length))
