"""What is the sharpening's Gaussian, and what does it leave of a fine pattern?"""

from __future__ import annotations

from functools import lru_cache
from math import ceil, pi
from typing import TYPE_CHECKING

import numpy as np

from printplan.validation import LARGEST, require, require_numbers

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


KERNEL_SIGMAS = 4
"""Standard deviations after which the sharpening's Gaussian is cut."""

_RADII_PX = (0.01, 500.0)


@lru_cache(maxsize=64)
def gaussian_kernel(radius_px: float) -> Floats:
    """
    Discrete Gaussian of the sharpening, cut at four standard deviations.

    Parameters
    ----------
    radius_px : float
        Standard deviation.

    Returns
    -------
    ndarray of float64, shape (2 n + 1,)
        Sums to 1, not writable.

    Raises
    ------
    SpecError
        If a number cannot be meant.
    """
    require("Sharpening radius", radius_px, *_RADII_PX, "px")
    reach = ceil(KERNEL_SIGMAS * radius_px)
    steps = np.arange(-reach, reach + 1)
    kernel = np.exp(-0.5 * (steps / radius_px) ** 2)
    kernel /= kernel.sum()
    kernel.setflags(write=False)
    return kernel


def kernel_mtf(cycles_per_px: Floats | float, radius_px: float) -> Floats:
    """
    Response of the sharpening's discrete Gaussian.

    Parameters
    ----------
    cycles_per_px : ndarray of float64 or float
    radius_px : float
        Standard deviation.

    Returns
    -------
    ndarray of float64

    Raises
    ------
    SpecError
        If a number cannot be meant.

    Notes
    -----
    The sum of cosines of the kernel itself. At 0.5 px hardly more than three pixels
    are left of the Gaussian, and the continuous one's response is 0.28 too low at
    the finest pattern.
    """
    require_numbers("Frequencies", cycles_per_px, 0, LARGEST, "cycles/px")
    kernel = gaussian_kernel(radius_px)
    reach = kernel.size // 2
    steps = np.arange(1, reach + 1)
    turns = np.asarray(cycles_per_px, np.float64)[..., np.newaxis] * steps
    one_side = kernel[reach + 1 :]
    waves = np.cos(2 * pi * turns)
    # einsum, here and below: at these sizes, waking BLAS' threads costs more than it
    # saves, and many times more on cores that are busy.
    return np.asarray(kernel[reach] + 2 * np.einsum("...t,t->...", waves, one_side))


def kernel_weights(radii_px: Floats) -> Floats:
    """
    Weights of many kernels by distance from the middle.

    Parameters
    ----------
    radii_px : ndarray of float64, shape (radii,)
        Standard deviations, rising.

    Returns
    -------
    ndarray of float64, shape (taps, radii)
        The weight of a distance is that of both sides together.

    Raises
    ------
    SpecError
        If a number cannot be meant.
    """
    require_numbers("Sharpening radii", radii_px, *_RADII_PX, "px")
    kernels = [gaussian_kernel(float(radius)) for radius in radii_px]
    weights = np.zeros((kernels[-1].size // 2 + 1, len(kernels)))
    for column, kernel in enumerate(kernels):
        middle = kernel.size // 2
        weights[0, column] = kernel[middle]
        weights[1 : middle + 1, column] = 2 * kernel[middle + 1 :]
    return weights


def kernel_responses(cycles_per_px: Floats, weights: Floats) -> Floats:
    """
    Responses of many kernels.

    Parameters
    ----------
    cycles_per_px : ndarray of float64, shape (frequencies,)
    weights : ndarray of float64, shape (taps, radii)
        From `kernel_weights`.

    Returns
    -------
    ndarray of float64, shape (frequencies, radii)

    Raises
    ------
    SpecError
        If a number cannot be meant.
    """
    require_numbers("Frequencies", cycles_per_px, 0, LARGEST, "cycles/px")
    turns = cycles_per_px[:, np.newaxis] * np.arange(weights.shape[0])
    return np.asarray(np.einsum("ft,tr->fr", np.cos(2 * pi * turns), weights))
