"""What is the boundary of the colours that a device can make?"""

from __future__ import annotations

from enum import StrEnum
from functools import lru_cache
from itertools import combinations, product
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from printplan.colour.gamut import MID_GREY_LAB, GamutMesh, ray_crossings
from printplan.colour.transforms import device_to_lab
from printplan.errors import ProfileError, SpecError
from printplan.spec import Intent

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile

    Floats = NDArray[np.float64]
    Integers = NDArray[np.intp]


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
