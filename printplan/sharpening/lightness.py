"""How is lightness read and changed so that hue and chroma ratios stay?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from printplan.colour.linear_light import linear_planes
from printplan.loops import light as light_loops
from printplan.loops import masking
from printplan.loops.memory import empty
from printplan.spec import NamedSpace
from printplan.validation import require_numbers

if TYPE_CHECKING:
    from numpy.typing import NDArray

FULL_SCALE = 65535
"""Highest code of 16 bits."""

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


def lightness_of_light(
    linear: NDArray[np.float32], weights: NDArray[np.float64]
) -> NDArray[np.float32]:
    """
    CIE lightness of linear channels, in single precision.

    Parameters
    ----------
    linear : ndarray of float32, shape (channels, rows, columns)
        Counts from 0 to 1.
    weights : ndarray of float64, shape (channels,)
        Luminance of each channel.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        L*, above 0: a luminance below `printplan.loops.light.DARKEST` counts as that.

    Notes
    -----
    `cie_lightness`, within 1e-4; the same bits wherever a pixel lies.
    """
    linear = np.ascontiguousarray(linear)
    out: NDArray[np.float32] = empty(linear.shape[1:])
    light_loops.lightness_of_light(linear, weights.astype(np.float32), out)
    return out


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
    light = np.ascontiguousarray(linear)
    lightened(light, weights, lighten_l, out=light)
    if light is not linear:
        linear[...] = light
    return linear


def lightened(
    linear: NDArray[np.float32],
    weights: NDArray[np.float64],
    lighten_l: float,
    *,
    out: NDArray[np.float32],
) -> None:
    """
    The same into another array.

    Parameters
    ----------
    linear : ndarray of float32, shape (channels, rows, columns)
        Linear light, C-contiguous.
    out : ndarray of float32, shape (channels, rows, columns)
    """
    room = np.empty((2, linear.shape[2]), np.float32)
    each = weights.astype(np.float32)
    masking.lightened(linear, each, float(lighten_l), room, out)
