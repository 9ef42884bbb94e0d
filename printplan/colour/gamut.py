"""Where is the boundary of a device's colours, and how much lies within?"""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations, product
from typing import TYPE_CHECKING

import numpy as np
import scipy

from printplan.colour.gamut_rays import (
    MID_GREY_LAB,
    GamutMesh,
    ray_crossings,
)
from printplan.colour.profiles import ProfileLike, open_profile
from printplan.colour.transforms import WhiteReference, device_to_lab
from printplan.errors import ProfileError, SpecError
from printplan.spec import Intent, member

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile

    Floats = NDArray[np.float64]
    Integers = NDArray[np.intp]
    Colour = tuple[float, float, float]


_ON_BOUNDARY = 0.02  # CIELAB units
_NO_AREA = 1e-9
_LONGEST_TURN = 0.6  # Of the angle between rays, so that few triangles turn over.
_FEWEST_STEPS, _MOST_STEPS = 3, 257


Gamut = GamutMesh | ProfileLike
"""A boundary, or the profile that has it."""


def gamut_mesh(
    profile: ProfileLike,
    *,
    white: WhiteReference | str = WhiteReference.ILLUMINANT,
    steps: int = 33,
) -> GamutMesh:
    """
    Boundary of a device's colours, from its profile's colorimetric table or matrix.

    Parameters
    ----------
    profile : Profile, path, bytes or name of a space
        For RGB or CMYK.
    white : WhiteReference or str, optional
        ``"illuminant"`` takes colours as they are under D50, paper white included,
        ``"paper"`` relative to the device's own white. Makes no
        difference for matrix working spaces, whose white is D50.
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

    Examples
    --------
    The strongest blue of sRGB is the farthest of its colours from grey:

    >>> mesh = gamut_mesh("srgb")
    >>> farthest = np.hypot(*mesh.vertices_lab[:, 1:].T).argmax()
    >>> mesh.device[farthest].tolist()
    [0.0, 0.0, 1.0]
    """
    if not _FEWEST_STEPS <= steps <= _MOST_STEPS:
        raise SpecError(
            f"A gamut mesh of {steps} steps was asked for.",
            remedy=f"Give {_FEWEST_STEPS} to {_MOST_STEPS} steps; 33 is fine enough.",
        )
    white = member(WhiteReference, white, "White")
    return _mesh(open_profile(profile), white.intent, steps)


@lru_cache(maxsize=16)
def _mesh(profile: Profile, intent: Intent, steps: int) -> GamutMesh:
    def lab_of(device: Floats) -> Floats:
        codes = np.rint(device * 65535).astype(np.uint16)
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
    ink_lab = lab_of(ink)
    # Where full black hides the other inks, whole faces are one point: no ray meets
    # them, and each would be tried by all rays towards it.
    a, b, c = (ink_lab[triangles[:, corner]] for corner in range(3))
    triangles = triangles[np.linalg.norm(np.cross(b - a, c - a), axis=1) > _NO_AREA]
    faces = GamutMesh(ink_lab, triangles, ink)
    cube, outline = _cube_surface(1 + 5 * (steps - 1) // 2)
    rays = np.tan((2 * cube - 1) * np.pi / 4)
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    rays = _turned_to_ridges(rays, outline, faces)
    length, triangle = _farthest(faces, rays)
    lab = MID_GREY_LAB + rays * length[:, None]
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
    gap, ray = map(np.asarray, scipy.spatial.cKDTree(rays).query(towards))
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


def mesh_of(gamut: Gamut) -> GamutMesh:
    """A boundary, made of the profile if it is one."""
    return gamut if isinstance(gamut, GamutMesh) else gamut_mesh(gamut)


def gamut_volume(gamut: Gamut) -> float:
    """
    Volume inside a gamut's boundary.

    Parameters
    ----------
    gamut : GamutMesh, or as for `gamut_mesh`
        A profile is taken against the illuminant, at 33 steps.

    Returns
    -------
    float
        Cubic CIELAB units. Above 0 if the triangles turn as `GamutMesh` asks.

    Notes
    -----
    The sum of signed tetrahedra from one point to every triangle: exact for the
    mesh, and the point does not matter. Triangles cut the curved boundary short by
    less than 0.05 % for an RGB cube of 33 steps.

    References
    ----------
    .. [1] Lindbloom, Information about RGB working spaces, from memory: 832,870 for
       sRGB and 1,208,631 for the primaries and gamma of opRGB.

    Examples
    --------
    >>> [round(gamut_volume(space) / 1000) for space in ("srgb", "oprgb")]
    [833, 1209]
    """
    mesh = mesh_of(gamut)
    a, b, c = (
        mesh.vertices_lab[mesh.triangles[:, corner]] - MID_GREY_LAB
        for corner in range(3)
    )
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def section_at_lightness(gamut: Gamut, lightness: float) -> tuple[Floats, ...]:
    """
    Outline of a gamut at one lightness.

    Parameters
    ----------
    gamut : GamutMesh, or as for `gamut_mesh`
    lightness : float
        L*.

    Returns
    -------
    tuple of ndarray of float64, shape (points, 2)
        a*, b* along closed lines, first point repeated at the end, counterclockwise
        round what is inside; the longest first. None where the gamut does not reach.

    Notes
    -----
    The triangles of `GamutMesh` are cut where they cross the plane.

    Examples
    --------
    At the lightness of its red primary the section of sRGB holds that red (L* 54.3,
    a* 80.8, b* 69.9 under D50), as its outermost corner but for the purples:

    >>> (outline,) = section_at_lightness("srgb", 54.29)
    >>> bool(np.hypot(*(outline - [80.8, 69.9]).T).min() < 0.5)
    True
    """
    mesh = mesh_of(gamut)
    loops = _cut(mesh, mesh.vertices_lab[:, 0] - lightness)
    return _longest_first([loop[:, 1:] for loop in loops])


def section_at_hue(gamut: Gamut, hue_deg: float) -> tuple[Floats, ...]:
    """
    Outline of a gamut at one hue, as chroma against lightness.

    Parameters
    ----------
    gamut : GamutMesh, or as for `gamut_mesh`
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

    Examples
    --------
    From black to white along the grey axis, and out to the yellow primary between:

    >>> (leaf,) = section_at_hue("srgb", 99.6)
    >>> np.abs(leaf[[0, -1], 1]).round(1).tolist()
    [0.0, 100.0]
    """
    mesh = mesh_of(gamut)
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
    graph = scipy.sparse.coo_array(
        (np.ones(count, np.int8), (np.arange(count), following)), shape=(count, count)
    )
    _, cycle = scipy.sparse.csgraph.connected_components(
        graph, directed=True, connection="weak"
    )
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
