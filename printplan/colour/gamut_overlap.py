"""How much of one gamut, or of a picture's colours, does another gamut hold?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.gamut import Gamut, gamut_volume, mesh_of
from printplan.colour.gamut_rays import MID_GREY_LAB, is_inside, ray_crossings
from printplan.errors import SpecError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.gamut_rays import Colour, Crossings, GamutMesh

    Floats = NDArray[np.float64]
    Integers = NDArray[np.intp]

_RAYS_ALONG_EDGE = 96
_FARTHEST_LAB = 1000.0


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
    first: Gamut, second: Gamut, *, centre_lab: Colour = MID_GREY_LAB
) -> Coverage:
    """
    Part of one gamut that lies inside another.

    Parameters
    ----------
    first, second : GamutMesh, or as for `gamut.gamut_mesh`
        Both against the same white; profiles are taken against the illuminant.
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

    Examples
    --------
    opRGB has the red and blue primaries of sRGB and a stronger green, so it holds all
    of it, while sRGB holds about 832,870 / 1,208,631 = 69 % of opRGB (see
    `gamut.gamut_volume` for these volumes):

    >>> round(coverage("srgb", "oprgb").share, 2)
    1.0
    >>> round(coverage("oprgb", "srgb").share, 2)
    0.69
    """
    mesh_a, mesh_b = mesh_of(first), mesh_of(second)
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
