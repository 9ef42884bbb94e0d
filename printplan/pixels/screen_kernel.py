"""What does each print pixel give to a pixel of the screen?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft, sparse

from printplan.sharpness.response import box_mtf, gaussian_mtf

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Light = NDArray[np.float32]

# The kernel is whole up to its core's end and fades to 0 over as many print pixels:
# only patterns within 0.06 cycles of the finest feel it.
_CORE_SIGMAS, _FADE_PX = 4.0, 16
_STEPS_PER_PX = 128


@dataclass(frozen=True, slots=True, eq=False)
class ScreenKernel:
    """
    What print pixels give to one screen pixel, along one axis.

    Attributes
    ----------
    weight : ndarray of float64, shape (distances,)
        Of a print pixel, by its distance from 0 in steps of 1/128 print pixel; not
        writable.
    reach_px : int
        Print pixels on each side that count.
    step_px : float
        Print pixels from one screen pixel to the next.
    """

    weight: Floats
    reach_px: int
    step_px: float

    @property
    def margin_px(self) -> int:
        """Neighbours needed: the outermost screen pixel may lie half outside."""
        return self.reach_px + ceil(self.step_px / 2) + 1

    def averaged(self, light: Light, size_px: tuple[int, int]) -> Light:
        """
        Light of screen pixels in the middle of the light of print pixels.

        Parameters
        ----------
        light : ndarray of float32, shape (channels, rows, columns)
            Of a window and `margin_px` neighbours on each side.
        size_px : tuple of int
            Screen pixels, width and height; no more than the window holds, give or
            take a half.

        Returns
        -------
        ndarray of float32, shape (channels, height, width)
        """
        columns, rows = size_px
        down = self._across(light.shape[1], rows)
        across = self._across(light.shape[2], columns)
        # Sparse products run on one thread: small dense ones wait for each other's
        # threads, ten times as long on a busy machine.
        return np.stack([(across @ (down @ plane).T).T for plane in light])

    def _across(self, length: int, count: int) -> sparse.csr_array[np.float32]:
        """From an axis of print pixels to one of screen pixels about its middle."""
        centres = length / 2 + (np.arange(count) - (count - 1) / 2) * self.step_px
        nearest = np.floor(centres).astype(np.intp)
        pixels = nearest[:, None] + np.arange(-self.reach_px, self.reach_px + 1)
        place = np.abs(pixels + 0.5 - centres[:, None]) * _STEPS_PER_PX
        at = np.minimum(place.astype(np.intp), self.weight.size - 2)
        low, high = self.weight[at], self.weight[at + 1]
        weights = low + np.minimum(place - at, 1.0) * (high - low)
        # Sum 1 for each screen pixel, so that an even tone stays.
        weights /= weights.sum(axis=1, keepdims=True)
        ends = np.arange(count + 1) * pixels.shape[1]
        return sparse.csr_array(
            (weights.astype(np.float32).ravel(), pixels.ravel(), ends),
            shape=(count, length),
        )


@lru_cache(maxsize=32)
def screen_kernel(sigma_px: float, step_px: float) -> ScreenKernel:
    """
    Kernel of a Gaussian blur and the average over a screen pixel.

    Parameters
    ----------
    sigma_px : float
        Standard deviation of the blur in print pixels; 0 for none.
    step_px : float
        Width of a screen pixel in print pixels, above 0.

    Returns
    -------
    ScreenKernel

    Notes
    -----
    The inverse transform of ``exp(−2 π² σ² f²) · sinc(f · step)`` up to half a cycle
    per print pixel: patterns that print pixels hold keep exactly that product, and
    their squares do not show when enlarged. Its far tails are faded out by a raised
    cosine.
    """
    core = _CORE_SIGMAS * sigma_px + step_px / 2
    reach = ceil(core) + _FADE_PX
    period = 4 * reach
    frequency = np.arange(period // 2 + 1) / period
    response = gaussian_mtf(frequency, sigma_px) * box_mtf(frequency, step_px)
    # The end of the range counts by half, as in any sum by trapezoids.
    response[-1] /= 2
    kernel = fft.irfft(response, period * _STEPS_PER_PX)
    weight = kernel[: reach * _STEPS_PER_PX + 1]
    distance = np.arange(weight.size) / _STEPS_PER_PX
    fade = np.clip((distance - core) / (reach - core), 0.0, 1.0)
    weight *= (1 + np.cos(np.pi * fade)) / 2
    weight.setflags(write=False)
    return ScreenKernel(weight, reach, step_px)
