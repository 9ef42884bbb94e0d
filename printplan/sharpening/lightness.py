"""How is lightness read and changed so that hue and chroma ratios stay?"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from printplan.colour.linear_light import linear_planes
from printplan.spec import NamedSpace
from printplan.validation import require_numbers

if TYPE_CHECKING:
    from numpy.typing import NDArray

FULL_SCALE = 65535
"""Highest code of 16 bits, and highest index of a table by root."""

_SLAB_PIXELS = 1 << 16

# The straight line near black and the L* where it ends; see `cie_lightness`.
_CIE_KAPPA = (29 / 3) ** 3
_CIE_L_KNEE = 8.0


def image_lightness(
    image: NDArray[Any], space: NamedSpace | str = NamedSpace.SRGB
) -> NDArray[np.float32]:
    """
    CIE lightness of a picture.

    Parameters
    ----------
    image : ndarray, shape (rows, columns) or (rows, columns, 3)
        uint8, uint16, or float from 0 to 1. Not changed.
    space : NamedSpace or str, optional
        That its numbers are of.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        L*, 0 to 100.

    Raises
    ------
    SpecError
        If it is no such array, or there is no such space.

    Notes
    -----
    `cie_lightness` of the relative luminance of linear light.

    Examples
    --------
    >>> grey = np.array([[0, 119, 255]], np.uint8)
    >>> [round(float(tone), 1) for tone in image_lightness(grey)[0]]
    [0.0, 50.0, 100.0]
    """
    light, weights = linear_planes(image, space)
    total = luminance(light, weights).astype(np.float64)
    return cie_lightness(total).astype(np.float32)


def cie_lightness(light: NDArray[np.float64] | float) -> NDArray[np.float64]:
    """
    CIE lightness of relative luminance.

    Parameters
    ----------
    light : ndarray of float64 or float
        Y/Yn, 1 for the white that L* refers to.

    Returns
    -------
    ndarray of float64
        L*.

    Raises
    ------
    SpecError
        If a number is outside its range.

    Notes
    -----
    ``L* = 116 (Y/Yn)^(1/3) - 16``, and ``(29/3)^3 Y/Yn`` up to L* 8 (CIE 015:2018,
    8.2.1).

    Examples
    --------
    >>> round(float(cie_lightness(0.18418)), 2)
    50.0
    """
    require_numbers("Luminance", light, -0.5, 1.5, "(1 is white)")
    cube = 116 * np.cbrt(light) - 16
    return np.where(cube > _CIE_L_KNEE, cube, _CIE_KAPPA * np.asarray(light))


def luminance(
    linear: NDArray[np.float32], weights: NDArray[np.float64]
) -> NDArray[np.float32]:
    """
    Relative luminance Y of linear channels.

    Parameters
    ----------
    linear : ndarray of float32, shape (channels, rows, columns)
    weights : ndarray of float64, shape (channels,)

    Returns
    -------
    ndarray of float32, shape (rows, columns)
    """
    total: NDArray[np.float32] = linear[0] * np.float32(weights[0])
    for plane, weight in zip(linear[1:], weights[1:], strict=True):
        total += plane * np.float32(weight)
    return total


def lighten(
    linear: NDArray[np.float32],
    weights: NDArray[np.float64],
    lighten_l: float,
) -> NDArray[np.float32]:
    """
    Raise the middle tones; black and white stay.

    Parameters
    ----------
    linear : ndarray of float32, shape (channels, rows, columns)
        Linear light, changed in place.
    weights : ndarray of float64, shape (channels,)
        Luminance of each channel.
    lighten_l : float
        Rise at L* 50, above -25 and below 25; negative darkens.

    Returns
    -------
    ndarray of float32, shape (channels, rows, columns)
        The same array, from 0 to 1.

    Notes
    -----
    With x = L*/100, L* becomes L* + 4 k x (1 - x): the one parabola that keeps both
    ends and moves the middle by k. It rises everywhere for |k| < 25.

    All channels are multiplied by one factor, the ratio of luminance after to
    luminance before.
    """
    channels, rows, columns = linear.shape
    factor_by_root = _lightening_factors(lighten_l)
    index = np.empty((rows, columns), np.uint16)
    for slab in slabs(rows, columns):
        root_index(luminance(linear[:, slab], weights), index[slab])
        factor = np.take(factor_by_root, index[slab], mode="clip")
        for channel in range(channels):
            plane = linear[channel, slab]
            np.multiply(plane, factor, out=plane)
            np.clip(plane, 0.0, 1.0, out=plane)
    return linear


@lru_cache(maxsize=8)
def _lightening_factors(lighten_l: float) -> NDArray[np.float32]:
    """Luminance after over luminance before, by the root of luminance."""
    before, one_over_luminance = root_tables()
    share = before * np.float32(0.01)
    after = before + np.float32(4 * lighten_l) * share * (1 - share)
    factors: NDArray[np.float32] = luminance_of_lightness(after) * one_over_luminance
    return factors


def slabs(rows: int, columns: int) -> list[slice]:
    """Rows by the few, so that steps that follow each other find them in cache."""
    step = max(_SLAB_PIXELS // columns, 1)
    return [slice(top, min(top + step, rows)) for top in range(0, rows, step)]


def root_index(light: NDArray[np.float32], index: NDArray[np.uint16]) -> None:
    """
    Index of linear light in a table by its root.

    Parameters
    ----------
    light : ndarray of float32
        Used up.
    index : ndarray of uint16
        Takes the result; of the same shape.
    """
    np.clip(light, 0.0, 1.0, out=light)
    np.sqrt(light, out=light)
    np.multiply(light, np.float32(FULL_SCALE), out=index, casting="unsafe")


def light_of_index() -> NDArray[np.float64]:
    """
    Linear light in the middle of each step of a table by root.

    Returns
    -------
    ndarray of float64, shape (65536,)
    """
    return np.minimum((np.arange(FULL_SCALE + 1) + 0.5) / FULL_SCALE, 1.0) ** 2


@lru_cache(maxsize=1)
def root_tables() -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """
    Lightness, and one over luminance, by the root of luminance.

    Returns
    -------
    tuple of ndarray of float32, shape (65536,)
    """
    lightness = cie_lightness(light_of_index()).astype(np.float32)
    # From the rounded lightness, so that what is not changed keeps a factor of 1.
    return lightness, np.float32(1) / luminance_of_lightness(lightness)


def luminance_of_lightness(lightness: NDArray[np.float32]) -> NDArray[np.float32]:
    """
    Y of L*, without powers: the same bits wherever a pixel lies.

    Parameters
    ----------
    lightness : ndarray of float32
        0 to 100.

    Returns
    -------
    ndarray of float32
        0 to 1.
    """
    base = lightness + np.float32(16)
    base *= np.float32(1 / 116)
    cube = base * base
    cube *= base
    low = lightness <= _CIE_L_KNEE
    if low.any():
        np.multiply(lightness, np.float32(1 / _CIE_KAPPA), out=cube, where=low)
    return cube
