"""How light, how wide and how far beyond its tones is an edge at one stage?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.lattice import light_of_lightness
from printplan.sharpness.edge_place import rise_px
from printplan.sharpness.halo import halo_arcmin, halo_of
from printplan.units import mm_from_px

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.sharpness.edge_place import EdgePlace

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class SideHalo:
    """
    The halo on one side of an edge.

    Attributes
    ----------
    overshoot_share : float
        Share of the edge's step in L* by which the even tone is passed, 0 or more.
    width_um, width_arcmin : float
        At half of that height, on paper and at the eye; 0 without a halo.
    """

    overshoot_share: float
    width_um: float
    width_arcmin: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeProfile:
    """
    Light across an edge at one stage.

    Attributes
    ----------
    luminance : ndarray of float64, shape (positions,)
        1 is bare paper, or the perfect white if the paper is seen in the room.
    lightness_l : ndarray of float64, shape (positions,)
        L* of that.
    light, dark : SideHalo
        On the light side, and on the dark one.
    rise_um : float
        Distance on paper from 10 to 90 % of the step.
    """

    luminance: Floats
    lightness_l: Floats
    light: SideHalo
    dark: SideHalo
    rise_um: float


def edge_profile(
    lightness: Floats,
    place: EdgePlace,
    position: Floats,
    ppi: float,
    distance_mm: float,
) -> EdgeProfile:
    """
    Light, halos and rise of the lightness across an edge.

    Parameters
    ----------
    lightness : ndarray of float64, shape (positions,)
        L*.
    place : EdgePlace
        Whose even tones count as 0 and 1.
    position : ndarray of float64, shape (positions,)
        Print pixels, from the dark side to the light one; 0 in the middle.
    ppi : float
        Print pixels per inch.
    distance_mm : float
        Eye to print.

    Returns
    -------
    EdgeProfile
    """
    edge = (lightness - place.dark_l) / (place.light_l - place.dark_l)
    middle = position.size // 2
    outwards = position[middle:]
    return EdgeProfile(
        luminance=light_of_lightness(np.maximum(lightness, 0.0) / 100),
        lightness_l=lightness,
        light=_side(outwards, edge[middle:], ppi, distance_mm),
        dark=_side(outwards, 1 - edge[middle::-1], ppi, distance_mm),
        rise_um=1000 * mm_from_px(rise_px(edge, position), ppi),
    )


def _side(outwards: Floats, edge: Floats, ppi: float, distance_mm: float) -> SideHalo:
    halo = halo_of(outwards, edge)
    width_mm = mm_from_px(halo.width, ppi)
    return SideHalo(
        overshoot_share=max(halo.overshoot, 0.0),
        width_um=1000 * width_mm,
        width_arcmin=halo_arcmin(width_mm, distance_mm),
    )
