"""Which colour should a rendering intent aim for on a paper?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import gaussian_filter, map_coordinates

from printplan.colour.icc_file import D50_XYZ
from printplan.colour.spaces import lab_from_xyz, xyz_from_lab
from printplan.demo.inversion import (
    difference_axes,
    nearest_device,
    overshoot,
    table_lab,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

OVERSHOOT = 1 / 8
"""Device values in a table may run over by so much at both ends; curves cut them."""

_HUES, _LEVELS = 72, 51
_FACE_POINTS = 49
_HUE_WINDOW = np.radians(10.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rendering:
    """
    How colours are drawn together so that a paper can hold them.

    Attributes
    ----------
    lightness_price : float
        Chroma given up before lightness moves by 1: small keeps chroma, large
        keeps lightness.
    chroma_gain : float
        Factor on the chroma of colours that are neither grey nor at the limit.
    knee_start : float
        Share of the reachable chroma up to which colours stay as they are.
    lightness_weight : float
        Weight of lightness when the nearest printable colour is looked for.
    """

    lightness_price: float
    chroma_gain: float
    knee_start: float
    lightness_weight: float


PERCEPTUAL = Rendering(
    lightness_price=1.3, chroma_gain=1.0, knee_start=0.7, lightness_weight=1.0
)
"""Keeps differences between strong colours. Chosen by eye on proofs of the red bowl."""

SATURATION = Rendering(
    lightness_price=0.9, chroma_gain=1.25, knee_start=0.9, lightness_weight=0.5
)
"""Keeps strong colours strong, at the cost of lightness. Chosen like the other."""


def rendered_device(
    rendering: Rendering, table: Floats, lab: Floats, black: Floats
) -> Floats:
    """
    Device values that print what a rendering aims for.

    Parameters
    ----------
    rendering, table, lab, black
        As for `aims`.

    Returns
    -------
    ndarray of float64, shape (colours, 3)
        They run over 0 and 1 by up to `OVERSHOOT`.
    """
    aim = aims(rendering, table, lab, black)
    axes = difference_axes(aim, lightness_weight=rendering.lightness_weight)
    device = nearest_device(table, aim, axes)
    return overshoot(table, aim, axes, device, most=OVERSHOOT)


def colorimetric_device(table: Floats, lab: Floats) -> tuple[Floats, Floats]:
    """
    Device values that print the nearest colours, and how near these are.

    Parameters
    ----------
    table, lab
        As for `aims`.

    Returns
    -------
    device : ndarray of float64, shape (colours, 3)
        They run over 0 and 1 by up to `OVERSHOOT`.
    distance : ndarray of float64, shape (colours,)
        Colour difference, as `inversion.difference_axes` weighs it.
    """
    axes = difference_axes(lab)
    device = nearest_device(table, lab, axes)
    miss = np.einsum("nij,nj->ni", axes, table_lab(table, device)[0] - lab)
    distance = np.sqrt((miss**2).sum(axis=1))
    return overshoot(table, lab, axes, device, most=OVERSHOOT), distance


def aims(rendering: Rendering, table: Floats, lab: Floats, black: Floats) -> Floats:
    """
    Colours to print instead of those asked for.

    Parameters
    ----------
    table : ndarray of float64, shape (points, points, points, 3)
        CIELAB, relative to the paper's white, at equal steps of red, green, blue.
    lab : ndarray of float64, shape (colours, 3)
        CIELAB asked for.
    black : ndarray of float64, shape (3,)
        CIELAB of what colours call black, moved to the paper's.

    Returns
    -------
    ndarray of float64, shape (colours, 3)
        Of the same hue; mostly, but not always, within the paper's gamut.

    Notes
    -----
    Black is scaled to the paper's black in XYZ [1]_; a paper whose own black is asked
    for leaves it. Then chroma is bent along a
    curve that is straight up to a knee and rises for ever more slowly after it,
    towards the chroma that the paper reaches at that hue without moving lightness
    too far.

    References
    ----------
    .. [1] ISO 18619:2015, Black point compensation.
    """
    scaled = _scale_black(lab, black, table[0, 0, 0])
    chroma = np.hypot(scaled[:, 1], scaled[:, 2])
    most = _most_chroma_at(_most_chroma(table, rendering.lightness_price), scaled)
    share = chroma / most
    # The gain fades out towards grey, which has no hue to strengthen.
    share = share * (1 + (rendering.chroma_gain - 1) * (1 - np.exp(-8 * share)))
    bent = most * _knee(share, rendering.knee_start)
    factor = np.divide(bent, chroma, out=np.ones_like(chroma), where=chroma > 1e-9)
    return np.column_stack([scaled[:, 0], scaled[:, 1:] * factor[:, None]])


def _scale_black(lab: Floats, black: Floats, paper_black: Floats) -> Floats:
    black_xyz, paper_xyz = xyz_from_lab(black), xyz_from_lab(paper_black)
    above = (xyz_from_lab(lab) - black_xyz) / (1 - black_xyz / D50_XYZ)
    return lab_from_xyz(above * (1 - paper_xyz / D50_XYZ) + paper_xyz)


def _knee(share: Floats, start: float) -> Floats:
    """Straight up to `start`, then towards 1 without a corner."""
    beyond = np.maximum(share - start, 0.0) / (1 - start)
    return np.minimum(share, start) + (1 - start) * (1 - np.exp(-beyond))


def _most_chroma(table: Floats, lightness_price: float) -> Floats:
    """Greatest chroma in gamut at equal steps of hue and lightness."""
    hues = np.arange(_HUES) * (2 * np.pi / _HUES)
    levels = np.linspace(0.0, 100.0, _LEVELS)
    surface = _surface(table)
    chroma = np.hypot(surface[:, 1], surface[:, 2])
    hue = np.arctan2(surface[:, 2], surface[:, 1])
    most = np.zeros((_HUES, _LEVELS))
    for row, middle in enumerate(hues):
        away = np.abs((hue - middle + np.pi) % (2 * np.pi) - np.pi)
        near = away < _HUE_WINDOW
        paid = lightness_price * np.abs(surface[near, 0][:, None] - levels)
        most[row] = (chroma[near][:, None] * np.cos(away[near])[:, None] - paid).max(0)
    smooth = gaussian_filter(np.maximum(most, 0.0), 1.0, mode=("wrap", "nearest"))
    return np.maximum(smooth, 2.0)


def _most_chroma_at(most: Floats, lab: Floats) -> Floats:
    hue = np.arctan2(lab[:, 2], lab[:, 1]) % (2 * np.pi)
    places = [
        hue * (_HUES / (2 * np.pi)),
        np.clip(lab[:, 0], 0.0, 100.0) * ((_LEVELS - 1) / 100),
    ]
    closed = np.vstack([most, most[:1]])
    return np.asarray(map_coordinates(closed, places, order=1, mode="nearest"))


def _surface(table: Floats) -> Floats:
    """Colours of the six faces of the device cube."""
    steps = np.linspace(0.0, 1.0, _FACE_POINTS)
    face = np.stack(np.meshgrid(steps, steps, indexing="ij"), axis=-1).reshape(-1, 2)
    device = [
        np.insert(face, axis, end, axis=1) for axis in range(3) for end in (0.0, 1.0)
    ]
    return table_lab(table, np.concatenate(device))[0]
