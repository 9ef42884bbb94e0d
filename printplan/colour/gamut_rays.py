"""Where does a ray from mid grey cross a gamut's boundary?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from printplan.errors import ProfileError
from printplan.validation import colour_array

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Integers = NDArray[np.intp]
    Colour = tuple[float, float, float]


MID_GREY_LAB = (50.0, 0.0, 0.0)
"""Centre of the rays: inside every printer's and display's gamut."""

_CELLS = 96
"""Cells along an edge of each cube face on which triangles are looked up."""

_CELL_EDGE_SLACK = 1e-6
_WIDE_COSINE = np.cos(np.radians(30))
_RAYS_AT_ONCE = 32_768
_PAIRS_AT_ONCE = 4_000_000
_MOST_LISTED = 10_000_000
"""Triangles over all cells. Our choice: a real profile that prints black ink alone, all
in needles, has 3.8 million, tables of noise have 26."""

# Added to rays of length 1, so that none meets a vertex or an edge exactly: at a
# chroma of 100 this moves a colour by a ten-millionth.
_OFF_AXIS = 1e-9 * np.array([0.3172, -0.7431, 0.5889])


@dataclass(frozen=True, slots=True, eq=False)
class GamutMesh:
    """
    The boundary of a set of colours, as triangles in CIELAB under D50.

    Attributes
    ----------
    vertices_lab : ndarray of float64, shape (vertices, 3)
        L*, a*, b*.
    triangles : ndarray of int, shape (triangles, 3)
        Vertices of each, counterclockwise seen from outside; together they close.
    device : ndarray of float64, shape (vertices, channels)
        Device colour of each vertex, 0 to 1; CMYK counts ink. No channels if the
        mesh belongs to no device.

    Notes
    -----
    Keeps read-only copies, so what was once computed of a mesh stays true.
    """

    vertices_lab: Floats
    triangles: Integers
    device: Floats

    def __post_init__(self) -> None:
        kinds = {"vertices_lab": np.float64, "triangles": np.intp, "device": np.float64}
        for name, kind in kinds.items():
            kept = np.array(getattr(self, name), dtype=kind)
            kept.setflags(write=False)
            object.__setattr__(self, name, kept)


@dataclass(frozen=True, slots=True, eq=False)
class Crossings:
    """
    Where rays cross a mesh.

    Attributes
    ----------
    ray : ndarray of int
        Which ray, ascending; a ray may cross several times, or never.
    distance : ndarray of float64
        From the centre in CIELAB, above 0.
    way : ndarray of int
        1 where the ray leaves the mesh, -1 where it enters.
    triangle : ndarray of int
        The triangle crossed.
    """

    ray: Integers
    distance: Floats
    way: Integers
    triangle: Integers


def ray_crossings(
    mesh: GamutMesh, directions: Floats, *, centre_lab: Colour = MID_GREY_LAB
) -> Crossings:
    """
    All crossings of rays from one centre with a mesh.

    Parameters
    ----------
    directions : ndarray of float64, shape (rays, 3)
        In L*, a*, b*, each of length 1.

    Raises
    ------
    ProfileError
        If the mesh is no surface, but triangles all over.

    Notes
    -----
    Two triangles judge their common edge by the same product with opposite sign, so
    no ray slips through between them or counts twice [1]_.

    References
    ----------
    .. [1] Woop, Benthin & Wald (2013), Watertight ray/triangle intersection, J.
       Computer Graphics Techniques 2(1), 65-82, for the idea.
    """
    index = _index(mesh, centre_lab)
    # At least one part, so that no rays give empty arrays of the right kinds.
    parts = [
        _crossings_of(index, directions[start:stop], start)
        for start, stop in _portions(index, directions)
    ]
    return Crossings(*map(np.concatenate, zip(*parts, strict=True)))


def _portions(index: _RayIndex, directions: Floats) -> Iterator[tuple[int, int]]:
    """Rays that can be followed at once: so many, with so many triangles in view."""
    cell = _cells_of_rays(directions + _OFF_AXIS)
    pairs = np.cumsum(index.first[cell + 1] - index.first[cell])
    start = 0
    while True:
        before = pairs[start - 1] if start else 0
        in_view = int(np.searchsorted(pairs, before + _PAIRS_AT_ONCE, side="right"))
        stop = min(start + _RAYS_AT_ONCE, max(in_view, start + 1), len(directions))
        yield start, stop
        start = stop
        if start >= len(directions):
            return


def is_inside(
    mesh: GamutMesh, lab: Floats, *, centre_lab: Colour = MID_GREY_LAB
) -> NDArray[np.bool_]:
    """
    Whether colours are inside a gamut.

    Parameters
    ----------
    lab : ndarray of float64, shape (..., 3)
    centre_lab : tuple of float, optional
        Where the rays start; the answer does not depend on it.

    Returns
    -------
    ndarray of bool, shape (...)

    Raises
    ------
    SpecError
        If the last axis is not L*, a*, b*.

    Notes
    -----
    From each colour the ray away from the centre is followed, and leaving counts 1,
    entering -1. So the gamut need not be star-shaped, and the centre need not be
    inside it.
    """
    length, found = _follow(mesh, lab, centre_lab)
    return _turns_beyond(length, found) > 0


def _follow(
    mesh: GamutMesh, lab: Floats, centre_lab: Colour
) -> tuple[Floats, Crossings]:
    """Distance of colours from the centre, and what their rays cross."""
    rays = colour_array(lab, "CIELAB colours").astype(np.float64) - centre_lab
    length: Floats = np.linalg.norm(rays, axis=-1)
    rays[length == 0] = (1.0, 0.0, 0.0)  # The centre itself looks towards white.
    rays /= np.where(length == 0, 1.0, length)[..., None]
    return length, ray_crossings(mesh, rays.reshape(-1, 3), centre_lab=centre_lab)


def _turns_beyond(length: Floats, found: Crossings) -> Integers:
    """Times that the mesh surrounds each colour."""
    beyond = found.distance > length.ravel()[found.ray]
    turns = np.bincount(
        found.ray[beyond], weights=found.way[beyond], minlength=length.size
    )
    return np.rint(turns).astype(np.intp).reshape(length.shape)


@dataclass(frozen=True, slots=True, eq=False)
class _RayIndex:
    """
    Triangles seen from a centre, listed by the cells of direction that they touch.

    `edges` holds the cross product of each edge's ends, three to a triangle, and
    `volume` six times the signed volume that the triangle spans with the centre.
    """

    edges: Floats
    volume: Floats
    first: Integers
    listed: Integers


@lru_cache(maxsize=8)
def _index(mesh: GamutMesh, centre_lab: Colour) -> _RayIndex:
    corners = (mesh.vertices_lab - centre_lab)[mesh.triangles]
    edges = np.cross(corners, np.roll(corners, -1, axis=1))
    volume = np.einsum("ij,ij->i", corners[:, 2], edges[:, 0])
    cells, owners = map(np.concatenate, zip(*_cells_of_triangles(corners), strict=True))
    counts = np.bincount(cells, minlength=6 * _CELLS**2)
    first = np.concatenate([[0], np.cumsum(counts)])
    return _RayIndex(edges, volume, first, owners[np.argsort(cells, kind="stable")])


def _cells_of_triangles(corners: Floats) -> Iterator[tuple[Integers, Integers]]:
    """
    Cells of a cube round the centre that triangles may cover, and whose they are.

    A triangle in front of a face's plane through the centre lies, projected on the
    face, within its corners' box. One that reaches behind covers none of the face
    if it is seen under less than 35 degrees; a wider one is listed all over.
    """
    length = np.linalg.norm(corners, axis=2, keepdims=True)
    unit = corners / np.where(length == 0, 1.0, length)
    cosine = np.einsum("ijk,ijk->ij", unit, np.roll(unit, -1, axis=1)).min(axis=1)
    listed = 0
    for face in range(6):
        axis, sign = face % 3, 1 - 2 * (face // 3)
        depth = sign * corners[..., axis]
        in_front = np.asarray((depth > 0).all(axis=1))
        all_over = ~in_front & (depth > 0).any(axis=1) & (cosine < _WIDE_COSINE)
        safe_depth: Floats = np.where(in_front[:, None], depth, 1.0)
        slope = np.delete(corners, axis, axis=2) / safe_depth[..., None]
        low = _cell(slope.min(axis=1) - _CELL_EDGE_SLACK)
        high = _cell(slope.max(axis=1) + _CELL_EDGE_SLACK)
        low[all_over], high[all_over] = 0, _CELLS - 1
        meets = (low < _CELLS).all(axis=1) & (high >= 0).all(axis=1)
        owner = np.flatnonzero(np.logical_and(meets, in_front | all_over))
        low, high = np.maximum(low[owner], 0), np.minimum(high[owner], _CELLS - 1)
        size = high - low + 1
        listed += int(size.prod(axis=1).sum())
        _require_surface(listed)
        which, place = _counted(size.prod(axis=1))
        row = low[which, 0] + place // size[which, 1]
        column = low[which, 1] + place % size[which, 1]
        yield (face * _CELLS + row) * _CELLS + column, owner[which]


def _require_surface(listed: int) -> None:
    """Refuse a torn surface before the memory is filled with it."""
    if listed > _MOST_LISTED:
        raise ProfileError(
            "The colours of this profile make no surface: neighbours in its table lie "
            "far apart all over.",
            remedy="Fetch the profile again; this table is damaged.",
        )


def _cells_of_rays(rays: Floats) -> Integers:
    axis = np.abs(rays).argmax(axis=1)
    number = np.arange(len(rays))
    depth = rays[number, axis]
    across = np.array([[1, 2], [0, 2], [0, 1]])[axis]
    slope = rays[number[:, None], across] / np.abs(depth)[:, None]
    row, column = np.clip(_cell(slope), 0, _CELLS - 1).T
    cell: Integers = ((axis + 3 * (depth < 0)) * _CELLS + row) * _CELLS + column
    return cell


def _cell(slope: Floats) -> Integers:
    """Row or column of a slope from -1 to 1; one outside lands beside the face."""
    place = np.clip((slope + 1) * (_CELLS / 2), -1, _CELLS)
    return np.floor(place).astype(np.intp)


def _counted(counts: Integers) -> tuple[Integers, Integers]:
    """For each owner in turn its number, repeated, and a count from 0."""
    owner = np.repeat(np.arange(len(counts)), counts)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    return owner, place


def _crossings_of(
    index: _RayIndex, directions: Floats, start: int
) -> tuple[Integers, Floats, Integers, Integers]:
    """The fields of `Crossings`, for some of the rays."""
    rays = directions + _OFF_AXIS
    cell = _cells_of_rays(rays)
    begin = index.first[cell]
    ray, place = _counted(index.first[cell + 1] - begin)
    triangle = index.listed[begin[ray] + place]
    side = np.einsum("ijk,ik->ij", index.edges[triangle], rays[ray])
    volume = index.volume[triangle]
    leaves = (side > 0).all(axis=1) & (volume > 0)
    enters = (side < 0).all(axis=1) & (volume < 0)
    kept = np.flatnonzero(leaves | enters)
    way = np.where(leaves[kept], 1, -1)
    distance = volume[kept] / side[kept].sum(axis=1)
    return ray[kept] + start, distance, way, triangle[kept]
