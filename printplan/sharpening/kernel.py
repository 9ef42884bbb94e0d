"""What does sharpening blur with, and what does that leave of a fine pattern?"""

from __future__ import annotations

from functools import lru_cache
from math import ceil, pi
from typing import TYPE_CHECKING

import numpy as np

from printplan.spec import Kernel
from printplan.validation import LARGEST, require, require_numbers

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Blur = float | Kernel
    """Radius of the Gaussian in print pixels, or a kernel of one's own."""


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


def line_kernel(blur: Blur) -> Floats:
    """
    What a blur does across a straight upright or level edge.

    Parameters
    ----------
    blur : float or Kernel
        Radius of the Gaussian in pixels, or a kernel.

    Returns
    -------
    ndarray of float64, shape (2 n + 1,)
        A kernel of the plane, summed along the edge.
    """
    if isinstance(blur, Kernel):
        return np.asarray(np.asarray(blur.weights, np.float64).sum(axis=0))
    return gaussian_kernel(blur)


def sigma_of(blur: Blur) -> float:
    """Standard deviation of a blur along one axis, in pixels."""
    return blur.sigma_px if isinstance(blur, Kernel) else blur


def plane_response(cycles_per_px: Floats, blur: Blur) -> Floats:
    """
    Response of a blur over the plane of frequencies.

    Parameters
    ----------
    cycles_per_px : ndarray of float64, shape (steps,)
        Both axes.
    blur : float or Kernel

    Returns
    -------
    ndarray of float64, shape (steps, steps)
    """
    if not isinstance(blur, Kernel) or len(blur.weights) == 1:
        along = kernel_mtf(cycles_per_px, blur)
        return np.outer(along, along)
    weights = np.asarray(blur.weights, np.float64)
    middle = len(weights) // 2
    turns = 2 * pi * np.outer(cycles_per_px, np.arange(-middle, middle + 1))
    # Transposed it is the same, so the products of sines cancel out.
    waves = np.cos(turns)
    return np.asarray(np.einsum("fr,rc,gc->fg", waves, weights, waves))


def kernel_mtf(cycles_per_px: Floats | float, blur: Blur) -> Floats:
    """
    Response of the sharpening's blur across a straight edge.

    Parameters
    ----------
    cycles_per_px : ndarray of float64 or float
    blur : float or Kernel
        Radius of the Gaussian in pixels, or a kernel.

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
    kernel = line_kernel(blur)
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
