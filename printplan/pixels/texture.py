"""How much does lightness vary from place to place?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import gaussian_filter, maximum_filter, minimum_filter

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Values = NDArray[np.float32]

_SURROUNDINGS_PX = 2.0
"""Standard deviation of what counts as around a pixel: our choice."""

_NEAR_PX = 9
"""Edge of the square whose ends count as near: twice as far. Our choice."""


@dataclass(frozen=True, slots=True, eq=False)
class Texture:
    """
    Lightness, and how it varies.

    Attributes
    ----------
    lightness : ndarray of float32, shape (rows, columns)
        L* of each pixel.
    varies : ndarray of float32, shape (rows, columns)
        Difference from the mean of its surroundings, without sign.
    darkest, lightest : ndarray of float32, shape (rows, columns)
        Ends of lightness near it: where they are far apart there is an edge.
    """

    lightness: Values
    varies: Values
    darkest: Values
    lightest: Values


def texture_of(linear: Values, to_xyz: NDArray[np.float64]) -> Texture:
    """
    Lightness of a picture and how it varies.

    Parameters
    ----------
    linear : ndarray of float32, shape (channels, rows, columns)
        Linear light, 0 to 1.
    to_xyz : ndarray of float64, shape (3, channels)
        As `colour.transforms.colorants_xyz` gives it.

    Returns
    -------
    Texture
    """
    lightness = lightness_of(linear, to_xyz)
    around = gaussian_filter(lightness, _SURROUNDINGS_PX)
    return Texture(
        lightness=lightness,
        varies=np.abs(lightness - around),
        darkest=minimum_filter(lightness, _NEAR_PX),
        lightest=maximum_filter(lightness, _NEAR_PX),
    )


def lightness_of(linear: Values, to_xyz: NDArray[np.float64]) -> Values:
    """
    CIE lightness of linear light.

    Parameters
    ----------
    linear : ndarray of float32, shape (channels, rows, columns)
        0 to 1.
    to_xyz : ndarray of float64, shape (3, channels)

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        L*, 0 to 100.
    """
    luminance = np.tensordot(to_xyz[1].astype(np.float32), linear, axes=1)
    # CIE 015:2018, 8.2.1.
    cube = 116 * np.cbrt(luminance) - 16
    line = np.float32((29 / 3) ** 3) * luminance
    return np.where(luminance > (6 / 29) ** 3, cube, line).astype(np.float32)


def neighbour_steps(lightness: Values) -> Values:
    """
    Mean difference of each pixel to the next ones right and below.

    Parameters
    ----------
    lightness : ndarray of float32, shape (rows, columns)

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        L*; beyond the last row and column nothing is counted.
    """
    steps = np.zeros_like(lightness)
    steps[:, :-1] += np.abs(np.diff(lightness, axis=1)) / 2
    steps[:-1] += np.abs(np.diff(lightness, axis=0)) / 2
    return steps
