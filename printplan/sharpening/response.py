"""How much of a fine pattern's contrast is left after each step?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import ceil, log, pi, sqrt
from typing import TYPE_CHECKING

import numpy as np

from printplan.errors import SpecError
from printplan.sharpening.kernel import kernel_mtf
from printplan.units import MM_PER_INCH
from printplan.validation import LARGEST, require, require_numbers

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.sharpening.kernel import Blur

    Floats = NDArray[np.float64]


NYQUIST_CYCLES_PX = 0.5
"""The finest pattern that pixels hold: two pixels a cycle."""

GAUSSIAN_MTF50 = sqrt(log(2) / 2) / pi
"""Cycles at which a Gaussian of standard deviation 1 halves the contrast: 0.1874, where
its response exp(-2 π² σ² f²) is ½."""

_PPI = (1.0, 100_000.0)
_WIDEST_UM = 10_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SpreadCurve:
    """
    A measured response of printer and paper.

    Attributes
    ----------
    cycles_per_mm : tuple of float
        Spatial frequencies on paper, rising, above 0.
    values : tuple of float
        Contrast left at each, 1 for all of it.
    """

    cycles_per_mm: tuple[float, ...]
    values: tuple[float, ...]

    def __post_init__(self) -> None:
        count = len(self.cycles_per_mm)
        if count < 2 or count != len(self.values):
            raise SpecError(
                f"The spread curve has {count} frequencies and "
                f"{len(self.values)} values.",
                remedy="Give one value for each frequency, two or more of both.",
            )
        first, last = self.cycles_per_mm[0], self.cycles_per_mm[-1]
        rising = bool((np.diff(self.cycles_per_mm) > 0).all())
        if not (first > 0 and rising and last <= LARGEST):
            raise SpecError(
                "The spread curve's frequencies do not rise from above 0: they go from "
                f"{first:g} to {last:g} cycles/mm.",
                remedy="Sort them, and leave out frequency 0: its value is 1.",
            )
        if not all(0 < value <= 1.2 for value in self.values):
            raise SpecError(
                f"The spread curve has values from {min(self.values):g} to "
                f"{max(self.values):g}.",
                remedy="Give contrasts above 0 and up to 1.2, with 1 for no loss; cut "
                "the curve off before it reaches 0.",
            )


def cycles_per_mm(cycles_per_px: Floats | float, ppi: float) -> Floats:
    """
    Spatial frequency on paper.

    Parameters
    ----------
    cycles_per_px : ndarray of float64 or float
        In print pixels.

    Returns
    -------
    ndarray of float64
        Cycles per millimetre.

    Raises
    ------
    SpecError
        If a number is outside its range.

    Examples
    --------
    >>> float(cycles_per_mm(0.5, ppi=254))
    5.0
    """
    require("Resolution", ppi, *_PPI, "ppi")
    require_numbers("Frequencies", cycles_per_px, 0, LARGEST, "cycles/px")
    return np.asarray(cycles_per_px, np.float64) * ppi / MM_PER_INCH


def cycles_per_px(cycles_per_mm: Floats | float, ppi: float) -> Floats:
    """
    Spatial frequency in the print file.

    Parameters
    ----------
    cycles_per_mm : ndarray of float64 or float
        On paper.

    Returns
    -------
    ndarray of float64
        Cycles per print pixel.

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    require("Resolution", ppi, *_PPI, "ppi")
    require_numbers("Frequencies", cycles_per_mm, 0, LARGEST, "cycles/mm")
    return np.asarray(cycles_per_mm, np.float64) * MM_PER_INCH / ppi


def steps_to(highest: float, count: int) -> Floats:
    """
    Middles of even steps from 0, for means and sums over frequency.

    Parameters
    ----------
    highest : float
        End of the last step.

    Returns
    -------
    ndarray of float64, shape (count,)

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    require("Highest frequency", highest, 1e-9, LARGEST, "cycles")
    require("Number of steps", count, 1, 10_000_000, "steps")
    return np.asarray((np.arange(count) + 0.5) * (highest / count), np.float64)


def gaussian_mtf(frequency: Floats | float, sigma: float) -> Floats:
    """
    Response of a Gaussian blur.

    Parameters
    ----------
    frequency : ndarray of float64 or float
        Cycles per unit of length.
    sigma : float
        Standard deviation in that unit; 0 for no blur.

    Returns
    -------
    ndarray of float64

    Raises
    ------
    SpecError
        If a number is outside its range.

    Examples
    --------
    >>> round(float(gaussian_mtf(GAUSSIAN_MTF50 / 2, sigma=2)), 6)
    0.5
    """
    require("Standard deviation", sigma, 0, LARGEST, "units of length")
    require_numbers("Frequencies", frequency, 0, LARGEST, "cycles per unit")
    turns = pi * sigma * np.asarray(frequency, np.float64)
    return np.asarray(np.exp(-2 * turns**2), np.float64)


def sigma_at_half(frequency: Floats, response: Floats) -> float:
    """
    Standard deviation of the Gaussian that halves the contrast where a response does.

    Parameters
    ----------
    frequency, response : ndarray of float64, shape (frequencies,)
        Rising, from where more than half of the contrast is left to where less is.
    """
    return GAUSSIAN_MTF50 / float(frequency[int((response < 0.5).argmax())])


def box_mtf(frequency: Floats | float, width: float = 1.0) -> Floats:
    """
    Response of a square aperture, such as one pixel.

    Parameters
    ----------
    frequency : ndarray of float64 or float
        Cycles per unit of length.
    width : float, optional
        Of the aperture, in that unit.

    Returns
    -------
    ndarray of float64
        Negative where light and dark change places.

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    require("Width of the aperture", width, 0, LARGEST, "units of length")
    require_numbers("Frequencies", frequency, 0, LARGEST, "cycles per unit")
    return np.asarray(np.sinc(np.asarray(frequency, np.float64) * width))


def unsharp_mtf(cycles_per_px: Floats | float, *, gain: float, blur: Blur) -> Floats:
    """
    Response of unsharp masking, ``1 + gain · (1 − G(f))``.

    Parameters
    ----------
    cycles_per_px : ndarray of float64 or float
    gain : float
        Share of the high-pass that is added.
    radius_px : float
        Standard deviation of the Gaussian G.

    Returns
    -------
    ndarray of float64
        1 or more wherever the kernel's response is 1 or less.

    Raises
    ------
    SpecError
        If a number is outside its range.

    Examples
    --------
    >>> round(float(unsharp_mtf(0.25, gain=1, blur=1)), 4)
    1.7088
    """
    require("Sharpening gain", gain, 0, 100, "(no unit)")
    return 1 + gain * (1 - kernel_mtf(cycles_per_px, blur))


def spread_mtf(cycles_per_mm: Floats | float, spread: float | SpreadCurve) -> Floats:
    """
    Response of printer and paper.

    Parameters
    ----------
    cycles_per_mm : ndarray of float64 or float
        On paper.
    spread : float or SpreadCurve
        Standard deviation of the spread of ink and light in µm, or a measured curve.

    Returns
    -------
    ndarray of float64

    Raises
    ------
    SpecError
        If a number is outside its range.

    Notes
    -----
    One Gaussian is a simplification: light that scatters in paper has longer tails
    [1]_. A measured curve is read by straight lines from 1 at frequency 0, and goes
    on after its last point as the Gaussian through that point.

    References
    ----------
    .. [1] Coppel et al. (2011), doi:10.1364/OE.19.025181.

    Examples
    --------
    >>> round(float(spread_mtf(5.0, 50.0)), 4)  # exp(-2 π² · (0.05 mm · 5 / mm)²)
    0.2912
    """
    require_numbers("Frequencies", cycles_per_mm, 0, LARGEST, "cycles/mm")
    frequency = np.asarray(cycles_per_mm, np.float64)
    if not isinstance(spread, SpreadCurve):
        require("Spread", spread, 0, _WIDEST_UM, "µm")
        return gaussian_mtf(frequency, spread / 1000)
    known = np.array([0.0, *spread.cycles_per_mm])
    inside = np.interp(frequency, known, np.array([1.0, *spread.values]))
    last = min(spread.values[-1], 1.0)
    beyond = np.power(last, np.maximum(frequency / known[-1], 1.0) ** 2)
    return np.asarray(np.where(frequency > known[-1], beyond, inside), np.float64)


def spread_sigma_um(spread: float | SpreadCurve) -> float:
    """Standard deviation of the Gaussian that halves the contrast where paper does."""
    if not isinstance(spread, SpreadCurve):
        return spread
    probe = np.geomspace(0.1, 200, 400, dtype=np.float64)
    return 1000 * sigma_at_half(probe, spread_mtf(probe, spread))


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
        If a number is outside its range.

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


def sigma_before_resampling(found_sigma_px: float, enlargement: float) -> float:
    """
    Softness of the master's own edges, from that of edges of the resampled picture.

    Parameters
    ----------
    found_sigma_px : float
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
        If a number is outside its range.

    Notes
    -----
    Both softnesses are Gaussians, and the pair is matched where the found one halves
    the contrast: that is where an edge's width shows.
    """
    require("Softness", found_sigma_px, 0, 1000, "print px")
    require("Enlargement", enlargement, *ENLARGEMENTS, "print px per master px")
    if found_sigma_px == 0:
        return 0.0
    half = GAUSSIAN_MTF50 / found_sigma_px
    resampled = float(resampler_mtf(half, enlargement))
    if resampled <= 0.5:
        return 0.0
    return sqrt(log(2 * min(resampled, 1.0)) / 2) / (pi * half)
