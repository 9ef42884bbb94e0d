"""How many colours does a gamut hold, and how many of another's or a picture's?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from itertools import combinations, product
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from printplan.colour.gamut import (
    MID_GREY_LAB,
    Crossings,
    GamutMesh,
    is_inside,
    ray_crossings,
)
from printplan.colour.transforms import device_to_lab
from printplan.errors import ProfileError, SpecError
from printplan.spec import Intent

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile

    Floats = NDArray[np.float64]
    Integers = NDArray[np.intp]
    Colour = tuple[float, float, float]


class WhiteReference(StrEnum):
    """What a gamut's colours are measured against."""

    ILLUMINANT = "illuminant"
    """Colours as they are under D50, paper white included: ICC-absolute."""

    PAPER = "paper"
    """Relative to the device's own white: media-relative."""


_INTENT_OF_WHITE = {
    WhiteReference.ILLUMINANT: Intent.ICC_ABSOLUTE,
    WhiteReference.PAPER: Intent.MEDIA_RELATIVE,
}
_ON_BOUNDARY = 0.02  # CIELAB units
_LONGEST_TURN = 0.6  # Of the angle between rays, so that few triangles turn over.
_FEWEST_STEPS, _MOST_STEPS = 3, 257


@lru_cache(maxsize=16)
def gamut_mesh(
    profile: Profile,
    *,
    white: WhiteReference = WhiteReference.ILLUMINANT,
    steps: int = 33,
) -> GamutMesh:
    """
    Boundary of a device's colours, from its profile's colorimetric table or matrix.

    Parameters
    ----------
    profile : Profile
        For RGB or CMYK.
    white : WhiteReference, optional
        Makes no difference for matrix working spaces, whose white is D50.
    steps : int, optional
        Device values along an edge of each face, 3 to 257.

    Returns
    -------
    GamutMesh
        A closed surface; the same for the same profile.

    Raises
    ------
    ProfileError
        If the profile is for grey, whose gamut has no volume, or its colours do not
        surround mid grey.
    SpecError
        If `steps` is out of range.

    Notes
    -----
    RGB: the surface of the colour cube. Where a device's darkest or strongest colour
    lies inside the cube, the surface folds there and the volume is a little too
    small.

    CMYK: colours on the surface of the gamut have at least two inks at none or full
    [1]_, which leaves the 24 square faces of the four-dimensional cube. They overlap
    in CIELAB; from mid grey the farthest of them is taken on 5 rays for every 2
    steps, turned to tips and ridges where near. The gamut must be star-shaped seen
    from there, which those of presses are; edges between rays are cut, which at 33
    steps takes some 0.05 % of the volume.

    The rendering intent chosen for a print plays no part.

    References
    ----------
    .. [1] If the map from ink to colour does not fold inside the cube: Mahy (1997),
       Color Res. Appl. 22(6), 365-374, from memory.
    """
    if not _FEWEST_STEPS <= steps <= _MOST_STEPS:
        raise SpecError(
            f"A gamut mesh of {steps} steps was asked for.",
            remedy=f"Give {_FEWEST_STEPS} to {_MOST_STEPS} steps; 33 is fine enough.",
        )

    def lab_of(device: Floats) -> Floats:
        codes = np.rint(device * 65535).astype(np.uint16)
        intent = _INTENT_OF_WHITE[white]
        lab: Floats = device_to_lab(codes[None], profile, intent=intent)[0]
        return lab

    if profile.space == "RGB":
        return _rgb_mesh(lab_of, steps)
    if profile.space == "CMYK":
        return _cmyk_mesh(lab_of, steps)
    raise ProfileError(
        f"The profile {profile.name!r} is for {profile.space}, whose gamut has no "
        "volume.",
        remedy="Use a profile for RGB or CMYK.",
    )


def _rgb_mesh(lab_of: Callable[[Floats], Floats], steps: int) -> GamutMesh:
    device, triangles = _cube_surface(steps)
    lab = lab_of(device)
    a, b, c = (lab[triangles[:, corner]] - MID_GREY_LAB for corner in range(3))
    if np.einsum("ij,ij->", a, np.cross(b, c)) < 0:
        # The device counts ink, or its primaries turn the other way round.
        triangles = triangles[:, ::-1]
    return GamutMesh(lab, triangles, device)


def _cmyk_mesh(lab_of: Callable[[Floats], Floats], steps: int) -> GamutMesh:
    ink, triangles = _two_ink_faces(steps)
    faces = GamutMesh(lab_of(ink), triangles, ink)
    cube, outline = _cube_surface(1 + 5 * (steps - 1) // 2)
    rays = np.tan((2 * cube - 1) * np.pi / 4)
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    rays = _turned_to_ridges(rays, outline, faces)
    reach, triangle = _farthest(faces, rays)
    lab = MID_GREY_LAB + rays * reach[:, None]
    corners = triangles[triangle]
    # The ray's point as a mixture of the triangle's corners.
    places = np.swapaxes(faces.vertices_lab[corners] - MID_GREY_LAB, 1, 2)
    share = np.linalg.solve(places, (lab - MID_GREY_LAB)[..., None])[..., 0]
    device = np.clip(np.einsum("ij,ijk->ik", share, ink[corners]), 0.0, 1.0)
    return GamutMesh(lab, outline, device)


def _farthest(faces: GamutMesh, rays: Floats) -> tuple[Floats, Integers]:
    """How far out each ray meets a face for the last time, and in which triangle."""
    found = ray_crossings(faces, rays)
    order = np.lexsort((found.distance, found.ray))
    last = order[np.flatnonzero(np.diff(found.ray[order], append=-1))]
    if len(last) < len(rays):
        raise ProfileError(
            f"{len(rays) - len(last)} of {len(rays)} rays from L* = 50 meet no colour "
            "of this CMYK profile.",
            remedy="Use a sound profile; the inks of a press surround mid grey.",
        )
    return found.distance[last], found.triangle[last]


def _turned_to_ridges(rays: Floats, outline: Integers, faces: GamutMesh) -> Floats:
    """
    Rays, some turned a little to the sharp tips and ridges of a gamut.

    Those are made by full inks and by one varying ink, and rays beside them would cut
    them off: pure yellow by 3 units.
    """
    varying = ((faces.device > 0) & (faces.device < 1)).sum(axis=1)
    sharp = np.flatnonzero(varying <= 1)
    towards = faces.vertices_lab[sharp] - MID_GREY_LAB
    length = np.linalg.norm(towards, axis=1)
    towards /= length[:, None]
    outermost = length > _farthest(faces, towards)[0] - _ON_BOUNDARY
    towards, varying = towards[outermost], varying[sharp][outermost]
    gap, ray = map(np.asarray, cKDTree(rays).query(towards))
    spacing = np.pi / 2 / np.sqrt(len(rays) / 6)
    order = np.lexsort((gap, varying))
    order = order[gap[order] < _LONGEST_TURN * spacing]
    # One goal for each ray: full inks before others, then the nearest.
    _, first = np.unique(ray[order], return_index=True)
    chosen = order[first]
    turned = rays.copy()
    turned[ray[chosen]] = towards[chosen]
    inside_out = np.linalg.det(turned[outline]) <= 0
    stay = np.unique(outline[inside_out])
    turned[stay] = rays[stay]
    return turned


def _cube_surface(steps: int) -> tuple[Floats, Integers]:
    """Points on the unit cube's surface, and triangles seen from outside."""
    across, triangles = _square(steps)
    points, faces = [], []
    for axis, end in product(range(3), (0.0, 1.0)):
        points.append(np.insert(across, axis, end, axis=1))
        # Rows, columns and axis 1 make a left-handed system, the other two do not.
        outward = (end > 0) != (axis == 1)
        faces.append(triangles if outward else triangles[:, ::-1])
    stacked = np.concatenate(points)
    lattice = np.rint(stacked * (steps - 1)).astype(np.intp) @ [steps**2, steps, 1]
    _, first, merged = np.unique(lattice, return_index=True, return_inverse=True)
    joined = np.concatenate(
        [face + number * steps**2 for number, face in enumerate(faces)]
    )
    return stacked[first], merged[joined]


def _two_ink_faces(steps: int) -> tuple[Floats, Integers]:
    """The 24 faces of the ink cube on which two inks vary, each by itself."""
    across, triangles = _square(steps)
    inks: list[Floats] = []
    faces: list[Integers] = []
    for varying in combinations(range(4), 2):
        fixed = [ink for ink in range(4) if ink not in varying]
        for ends in product((0.0, 1.0), repeat=2):
            ink = np.empty((len(across), 4))
            ink[:, varying], ink[:, fixed] = across, ends
            faces.append(triangles + len(inks) * len(across))
            inks.append(ink)
    return np.concatenate(inks), np.concatenate(faces)


def _square(steps: int) -> tuple[Floats, Integers]:
    """Points of a square, and its triangles, turning from rows to columns."""
    line = np.linspace(0.0, 1.0, steps)
    rows, columns = np.meshgrid(line, line, indexing="ij")
    number = np.arange(steps * steps).reshape(steps, steps)
    here, below = number[:-1, :-1].ravel(), number[1:, :-1].ravel()
    beside, opposite = number[:-1, 1:].ravel(), number[1:, 1:].ravel()
    triangles = np.concatenate(
        [
            np.stack([here, below, opposite], axis=1),
            np.stack([here, opposite, beside], axis=1),
        ]
    )
    return np.stack([rows.ravel(), columns.ravel()], axis=1), triangles


_RAYS_ALONG_EDGE = 96
_FARTHEST_LAB = 1000.0


def gamut_volume(mesh: GamutMesh) -> float:
    """
    Volume inside a gamut's boundary.

    Returns
    -------
    float
        Cubic CIELAB units. Above 0 if the triangles turn as `GamutMesh` asks.

    Notes
    -----
    The sum of signed tetrahedra from one point to every triangle: exact for the
    mesh, and the point does not matter. Triangles cut the curved boundary short by
    less than 0.05 % for an RGB cube of 33 steps.
    """
    a, b, c = (
        mesh.vertices_lab[mesh.triangles[:, corner]] - MID_GREY_LAB
        for corner in range(3)
    )
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


@dataclass(frozen=True, slots=True)
class Coverage:
    """
    How much of one gamut lies inside another.

    Attributes
    ----------
    share : float
        Part of the first gamut's volume that is inside the second, 0 to 1.
    intersection_volume : float
        Volume that both hold, cubic CIELAB units.
    error_share : float
        The larger error of the same rays on the two gamuts' own volumes, as a part
        of each: what to expect of `intersection_volume`. `share` is a ratio of two
        volumes by the same rays, so most of it cancels there.
    """

    share: float
    intersection_volume: float
    error_share: float


def coverage(
    mesh_a: GamutMesh, mesh_b: GamutMesh, *, centre_lab: Colour = MID_GREY_LAB
) -> Coverage:
    """
    Part of one gamut that lies inside another.

    Parameters
    ----------
    mesh_a, mesh_b : GamutMesh
        Both against the same white.
    centre_lab : tuple of float, optional
        Where the rays start; best well inside both.

    Raises
    ------
    SpecError
        If the first gamut has no volume.

    Notes
    -----
    Along each of 55,296 rays, evenly spread, the stretches inside each gamut are
    found by counting its boundary's crossings, and the part common to both is summed
    as a slice of a sphere. Neither gamut need be star-shaped or hold the centre.
    """
    rays, solid_angle = _sphere()
    in_a, in_b = (
        _stretches(ray_crossings(mesh, rays, centre_lab=centre_lab), len(rays))
        for mesh in (mesh_a, mesh_b)
    )
    own = [_shells(each, each, solid_angle) for each in (in_a, in_b)]
    if not own[0] > 0:
        raise SpecError(
            f"The first gamut has a volume of {own[0]:g}.",
            remedy="Give a closed mesh whose triangles turn counterclockwise.",
        )
    common = _shells(in_a, in_b, solid_angle)
    exact = [gamut_volume(mesh) for mesh in (mesh_a, mesh_b)]
    error = max(abs(mine / true - 1) for mine, true in zip(own, exact, strict=True))
    return Coverage(common / own[0], common, error)


@dataclass(frozen=True, slots=True, eq=False)
class PictureSolid:
    """
    The colours that a picture holds, as cells of a regular grid in CIELAB.

    Attributes
    ----------
    centres_lab : ndarray of float64, shape (cells, 3)
        Centre of each occupied cell, the fullest first.
    share : ndarray of float64, shape (cells,)
        Part of the picture's colours in each cell.
    edge : float
        Edge of a cell, CIELAB units.
    """

    centres_lab: Floats
    share: Floats
    edge: float

    @property
    def volume(self) -> float:
        """
        Volume of the occupied cells, cubic CIELAB units.

        Notes
        -----
        One colour fills a cell, so this is above the volume of the colours' own
        body by up to a cell all over its surface. It grows with `edge`: compare
        pictures at one edge.
        """
        return len(self.share) * self.edge**3


def picture_solid(
    lab: Floats, *, edge: float = 4.0, kept_share: float = 0.999
) -> PictureSolid:
    """
    Count a picture's colours on a grid.

    Parameters
    ----------
    lab : ndarray of float64, shape (..., 3)
    edge : float, optional
        Edge of a cell, 0.5 to 20 CIELAB units. The default is our choice: coarse
        enough that some 100,000 colours fill their cells.
    kept_share : float, optional
        Cells are taken from the fullest on until they hold this part of the
        colours, so that stray noise does not count as gamut; above 0, up to 1. The
        default is our choice.

    Raises
    ------
    SpecError
        If there are no colours, or a number is out of range.

    Notes
    -----
    An occupancy count and not a hull: a hull would count colours between two hues
    that the picture never holds.
    """
    colours = np.asarray(lab, np.float64).reshape(-1, 3)
    if not 0 < np.abs(colours).max(initial=0) < _FARTHEST_LAB:
        raise SpecError(
            f"{len(colours)} colours were given, or some are no CIELAB.",
            remedy="Give the CIELAB colours of a picture or a part of it.",
        )
    if not 0.5 <= edge <= 20 or not 0 < kept_share <= 1:
        raise SpecError(
            f"Cells of {edge:g} and a share of {kept_share:g} were asked for.",
            remedy="Give an edge from 0.5 to 20 and a share above 0, up to 1.",
        )
    cells = np.floor(colours / edge).astype(np.int64)
    low = cells.min(axis=0)
    size = cells.max(axis=0) - low + 1
    names = np.ravel_multi_index(tuple((cells - low).T), tuple(size))
    occupied, counts = np.unique(names, return_counts=True)
    order = np.argsort(-counts, kind="stable")
    held = np.cumsum(counts[order])
    kept = order[: 1 + int(np.searchsorted(held, kept_share * len(colours)))]
    places = np.stack(np.unravel_index(occupied[kept], tuple(size)), axis=1)
    return PictureSolid(
        (places + low + 0.5) * edge, counts[kept] / len(colours), float(edge)
    )


@dataclass(frozen=True, slots=True)
class PictureCoverage:
    """
    How much of a picture's colours a gamut holds.

    Attributes
    ----------
    volume_share : float
        Part of the picture's cells inside: how much of its *variety* is reached.
    colour_share : float
        Part of its kept colours inside: how much of its *area* is reached.
    """

    volume_share: float
    colour_share: float


def picture_coverage(solid: PictureSolid, mesh: GamutMesh) -> PictureCoverage:
    """
    Part of a picture's colours that lies inside a gamut.

    Parameters
    ----------
    mesh : GamutMesh
        Against the same white.

    Notes
    -----
    A cell counts by its centre. What a pixel loses is another question: how far its
    colour moves in a round trip through the profile.
    """
    inside = is_inside(mesh, solid.centres_lab)
    return PictureCoverage(
        float(inside.mean()), float(solid.share[inside].sum() / solid.share.sum())
    )


@lru_cache(maxsize=1)
def _sphere() -> tuple[Floats, Floats]:
    """
    Rays all round, and the solid angle that each stands for.

    The middles of equal angles on the six faces of a cube, each with the exact solid
    angle of its cell.
    """
    ends = np.tan(np.linspace(-np.pi / 4, np.pi / 4, _RAYS_ALONG_EDGE + 1))
    # Solid angle of the rectangle from the face's middle to (s, t).
    s, t = np.meshgrid(ends, ends, indexing="ij")
    corner = np.arctan(s * t / np.sqrt(1 + s * s + t * t))
    cell = np.diff(np.diff(corner, axis=0), axis=1).ravel()
    angles = (np.arange(_RAYS_ALONG_EDGE) + 0.5) / _RAYS_ALONG_EDGE - 0.5
    s, t = np.meshgrid(*[np.tan(angles * np.pi / 2)] * 2, indexing="ij")
    across = np.stack([s.ravel(), t.ravel()], axis=1)
    rays = np.concatenate(
        [np.insert(across, axis, end, axis=1) for axis in range(3) for end in (1, -1)]
    )
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    return rays, np.tile(cell, 6)


def _stretches(found: Crossings, count: int) -> tuple[Integers, Floats, Integers]:
    """
    Where each ray's depth inside a mesh changes: ray, distance, change.

    At its start a ray is inside as often as it leaves more than it enters.
    """
    at_start = np.bincount(found.ray, weights=found.way, minlength=count)
    return (
        np.concatenate([np.arange(count), found.ray]),
        np.concatenate([np.zeros(count), found.distance]),
        np.concatenate([np.rint(at_start).astype(np.intp), -found.way]),
    )


def _shells(
    first: tuple[Integers, Floats, Integers],
    second: tuple[Integers, Floats, Integers],
    solid_angle: Floats,
) -> float:
    """Volume inside both of two meshes, ray by ray."""
    ray = np.concatenate([first[0], second[0]])
    distance = np.concatenate([first[1], second[1]])
    order = np.lexsort((distance, ray))
    in_both = np.ones(len(order) - 1, np.bool_)
    nothing = [np.zeros(len(each[2]), np.intp) for each in (first, second)]
    for change in (
        np.concatenate([first[2], nothing[1]]),
        np.concatenate([nothing[0], second[2]]),
    ):
        # Each ray's changes sum to 0, so the count runs on from ray to ray.
        in_both &= np.cumsum(change[order])[:-1] > 0
    cubes = distance[order] ** 3
    return float((np.diff(cubes) * solid_angle[ray[order][:-1]])[in_both].sum() / 3)
