"""What does resampling from master to print pixels do to detail?"""

from __future__ import annotations

from functools import lru_cache
from math import ceil, log, pi, sqrt
from typing import TYPE_CHECKING

import numpy as np

from printplan.sharpness.ranges import LARGEST, require, require_numbers
from printplan.sharpness.response import GAUSSIAN_MTF50

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LANCZOS_LOBES = 3
"""Half-width of the resampling kernel, in pixels of the coarser side."""

ENLARGEMENTS = (0.02, 50.0)
"""Print pixels per master pixel that are taken: our choice."""

_STEPS_PER_TAP = 32


def resampler_mtf(cycles_per_px: Floats | float, enlargement: float) -> Floats:
    """
    Response of the resampling from master to print pixels.

    Parameters
    ----------
    cycles_per_px : ndarray of float64 or float
        In print pixels.
    enlargement : float
        Print pixels per master pixel, above 0.

    Returns
    -------
    ndarray of float64

    Raises
    ------
    SpecError
        If a number cannot be meant.

    Notes
    -----
    Lanczos' kernel of three lobes, its weights divided by their sum at each pixel, as
    the resampling does, and averaged over all places of a print pixel between master
    pixels. A reduction stretches the kernel over as many master pixels as go into a
    print pixel. At exactly 1 the pixels are copied and nothing changes.

    References
    ----------
    .. [1] Duchon (1979), Lanczos filtering in one and two dimensions, J. Appl.
       Meteorol. 18, 1016-1022.
    """
    require("Enlargement", enlargement, *ENLARGEMENTS, "print px per master px")
    require_numbers("Frequencies", cycles_per_px, 0, LARGEST, "cycles/px")
    frequency = np.asarray(cycles_per_px, np.float64)
    if enlargement == 1:
        return np.ones_like(frequency)
    response = _lanczos_response(frequency.tobytes(), enlargement)
    return response.reshape(frequency.shape)


@lru_cache(maxsize=64)
def _lanczos_response(frequency: bytes, enlargement: float) -> Floats:
    """Response at float64 frequencies, kept: a choice asks for the same many times."""
    place, weight = _lanczos_weights(min(enlargement, 1.0))
    coarse = np.frombuffer(frequency) * max(enlargement, 1.0)
    response = np.asarray(np.cos(2 * pi * coarse[..., np.newaxis] * place) @ weight)
    response.setflags(write=False)
    return response


@lru_cache(maxsize=64)
def _lanczos_weights(spacing: float) -> tuple[Floats, Floats]:
    """
    Mean kernel over all places: distances in coarse pixels, and weights of sum 1.

    `spacing` is the distance of master pixels, in coarse pixels.
    """
    steps = 2 * LANCZOS_LOBES * _STEPS_PER_TAP
    place = (np.arange(steps) + 0.5) / _STEPS_PER_TAP - LANCZOS_LOBES
    reach = ceil(2 * LANCZOS_LOBES / spacing)
    neighbours = place[:, np.newaxis] + spacing * np.arange(-reach, reach + 1)
    weight = _lanczos(place) / _lanczos(neighbours).sum(axis=1)
    return place, weight / weight.sum()


def _lanczos(distance: Floats) -> Floats:
    """Lanczos' kernel, not normalised."""
    windowed = np.sinc(distance) * np.sinc(distance / LANCZOS_LOBES)
    return np.where(np.abs(distance) < LANCZOS_LOBES, windowed, 0.0)


def softness_before_resampling(found_softness_px: float, enlargement: float) -> float:
    """
    Softness that the master's own edges have, told from edges of the resampled picture.

    Parameters
    ----------
    found_softness_px : float
        Standard deviation of an edge after resampling, in print pixels.
    enlargement : float
        Print pixels per master pixel.

    Returns
    -------
    float
        Standard deviation, still in print pixels; 0 if resampling alone is as soft.

    Raises
    ------
    SpecError
        If a number cannot be meant.

    Notes
    -----
    Both softnesses are Gaussians, and the pair is matched where the found one halves
    the contrast: that is where an edge's width shows.
    """
    require("Softness", found_softness_px, 0, 1000, "print px")
    require("Enlargement", enlargement, *ENLARGEMENTS, "print px per master px")
    if found_softness_px == 0:
        return 0.0
    half = GAUSSIAN_MTF50 / found_softness_px
    resampled = float(resampler_mtf(half, enlargement))
    if resampled <= 0.5:
        return 0.0
    return sqrt(log(2 * min(resampled, 1.0)) / 2) / (pi * half)
