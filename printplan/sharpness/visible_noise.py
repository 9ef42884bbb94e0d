"""How much of the picture's noise does the eye see in the print?"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt
from typing import TYPE_CHECKING

import numpy as np

from printplan.sharpness.eye import contrast_per_l, luminance_of_l, sensitivity
from printplan.sharpness.kernel import kernel_mtf
from printplan.sharpness.ranges import LARGEST, require, require_numbers
from printplan.sharpness.resampling import resampler_mtf
from printplan.sharpness.response import (
    NYQUIST_CYCLES_PX,
    SpreadCurve,
    cycles_per_mm,
    spread_mtf,
    steps_to,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

CHANNEL_OCTAVES = 1.0
"""Width of one channel of the eye (Blakemore & Campbell 1969, J. Physiol. 203, 237-260,
from memory: patterns an octave apart hardly disturb each other)."""

CHANNEL_DIRECTIONS = 4
"""Channels of the eye side by side in direction, each 45° wide: our choice, near the
15° to 20° either side at which masking is halved (Campbell & Kulikowski 1966, J.
Physiol. 187, 437-445, from memory)."""

_STEPS = 48
_CHANNELS_PER_OCTAVE = 4
_COARSEST_OCTAVES = 4
_FARTHEST_SIGMAS = 7.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NoiseBands:
    """
    Power of noise of 1 L* in each channel of the eye, in squares of its threshold.

    Attributes
    ----------
    frequency_cycles_px : ndarray of float64, shape (steps,)
        Both axes of the plane of frequencies, one quarter of it.
    in_master, in_print : ndarray of float64, shape (channels, steps · steps)
        By place in that plane: as the master has it, and through printer and paper.
    """

    frequency_cycles_px: Floats
    in_master: Floats
    in_print: Floats


def resampled_noise_spectrum(cycles_per_px: Floats, enlargement: float) -> Floats:
    """
    Power along one axis of noise that was white in the master.

    Parameters
    ----------
    cycles_per_px : ndarray of float64, shape (frequencies,)
        0 to 0.5, in print pixels.
    enlargement : float
        Print pixels per master pixel.

    Returns
    -------
    ndarray of float64, shape (frequencies,)
        1 on the mean from 0 to 0.5.

    Notes
    -----
    A reduction folds what lies above 0.5 cycles per pixel back below it.
    """
    whole = steps_to(NYQUIST_CYCLES_PX, 256)
    mean = _resampled_power(whole, enlargement).mean()
    return np.asarray(_resampled_power(cycles_per_px, enlargement) / mean)


def resampled_noise(enlargement: float) -> float:
    """
    Standard deviation that resampling leaves of noise that was white in the master.

    Parameters
    ----------
    enlargement : float
        Print pixels per master pixel.

    Returns
    -------
    float
        Over that in the master, per pixel of each: 1 at 1.

    Raises
    ------
    SpecError
        If a number cannot be meant.

    Notes
    -----
    The variance is the mean of the power over both axes, times the print's pixels per
    one of the master's on each: its spectrum ends that much sooner.
    """
    power = _resampled_power(steps_to(NYQUIST_CYCLES_PX, 256), enlargement)
    # The square root of the variance on both axes, which are alike.
    return enlargement * float(power.mean())


def _resampled_power(cycles_per_px: Floats, enlargement: float) -> Floats:
    """Square of the resampler's response, with its first fold."""
    power = resampler_mtf(cycles_per_px, enlargement) ** 2
    if enlargement < 1:
        power = power + resampler_mtf(1 - cycles_per_px, enlargement) ** 2
    return power


def noise_bands(  # noqa: PLR0913 - print, viewer and tone
    *,
    spread: float | SpreadCurve,
    ppi: float,
    enlargement: float,
    degrees_per_cycle_mm: float,
    highest_cycles_px: float,
    luminance_cd_m2: float,
    lightness_l: float,
) -> NoiseBands:
    """
    What each channel of the eye gets of the picture's noise.

    Parameters
    ----------
    spread : float or SpreadCurve
        Of printer and paper, standard deviation in µm or a measured curve.
    ppi : float
    enlargement : float
        Print pixels per master pixel.
    degrees_per_cycle_mm : float
        Cycles per degree for one cycle per millimetre.
    highest_cycles_px : float
        Finest pattern that counts, up to 0.5.
    luminance_cd_m2 : float
        Of the paper's white.
    lightness_l : float
        Tone that carries the noise.

    Returns
    -------
    NoiseBands

    Raises
    ------
    SpecError
        If a number cannot be meant.

    Notes
    -----
    A grating of contrast m has the power m²/2, so noise in one channel is as visible
    as a grating at its threshold when twice its power, weighted by the squared
    sensitivity, is 1. Channels are an octave wide and a quarter of all directions;
    the one that gets most decides.
    """
    require("Degrees per cycle", degrees_per_cycle_mm, 1e-3, LARGEST, "(1/mm)")
    require("Finest pattern", highest_cycles_px, 1e-6, NYQUIST_CYCLES_PX, "cycles/px")
    frequency = steps_to(highest_cycles_px, _STEPS)
    across, down = (axis.ravel() for axis in np.meshgrid(frequency, frequency))
    radial_mm = cycles_per_mm(np.hypot(across, down), ppi)
    local_cd_m2 = luminance_of_l(lightness_l, luminance_cd_m2)
    seen = sensitivity(radial_mm * degrees_per_cycle_mm, local_cd_m2)
    spectrum = resampled_noise_spectrum(frequency, enlargement)
    cell = (highest_cycles_px / _STEPS / NYQUIST_CYCLES_PX) ** 2
    power = np.outer(spectrum, spectrum).ravel() * cell
    contrast = contrast_per_l(lightness_l)
    visible = 2 * power * (contrast * seen) ** 2 / CHANNEL_DIRECTIONS
    in_master = _channels(np.hypot(across, down), highest_cycles_px) * visible
    through_paper = spread_mtf(radial_mm, spread) ** 2
    return NoiseBands(
        frequency_cycles_px=frequency,
        in_master=in_master,
        in_print=in_master * through_paper,
    )


def _channels(radial: Floats, highest: float) -> Floats:
    """Which places of the plane each channel takes: 1 or 0, channels first."""
    count = (_COARSEST_OCTAVES + 1) * _CHANNELS_PER_OCTAVE
    middle = highest * 2 ** (0.5 - np.arange(count) / _CHANNELS_PER_OCTAVE)
    half = 2 ** (CHANNEL_OCTAVES / 2)
    lower, upper = middle[:, np.newaxis] / half, middle[:, np.newaxis] * half
    return ((radial >= lower) & (radial < upper)).astype(np.float64)


def past_grain_floor(floor_over_sigma: Floats) -> tuple[Floats, Floats]:
    """
    What a grain floor lets through of normally distributed noise.

    Parameters
    ----------
    floor_over_sigma : ndarray of float64, shape (ratios,)
        Grain floor over the noise's standard deviation in the high-pass.

    Returns
    -------
    tuple of ndarray of float64, shape (ratios,)
        Share that goes along with the noise, ``E[h c] / E[h²]``, and share of its
        power, ``E[c²] / E[h²]``, with h the high-pass and c what is left of it: none up
        to the floor, all from twice the floor on, rising evenly in between.

    Raises
    ------
    SpecError
        If a number cannot be meant.

    Notes
    -----
    The first share is the gain of the straight line nearest to the floor's curve, which
    for normal noise carries its whole spectrum (Bussgang 1952, MIT RLE report 216, from
    memory). The rest of the power is taken to lie where the high-pass lies.
    """
    require_numbers("Ratios", floor_over_sigma, 0, inf, "(no unit)")
    size = steps_to(_FARTHEST_SIGMAS, 800)
    weight = size**2 * np.exp(-(size**2) / 2)
    weight /= weight.sum()
    floor = np.maximum(floor_over_sigma, 1e-9)[:, np.newaxis]
    left = np.clip(size / floor - 1, 0.0, 1.0)
    # einsum wakes no threads; see `kernel_mtf`.
    return np.einsum("rs,s->r", left, weight), np.einsum("rs,s->r", left**2, weight)


def high_pass_plane(cycles_per_px: Floats, radius_px: float) -> Floats:
    """
    Response of the sharpening's high-pass over the plane of frequencies.

    Parameters
    ----------
    cycles_per_px : ndarray of float64, shape (steps,)
        Both axes.
    radius_px : float

    Returns
    -------
    ndarray of float64, shape (steps · steps,)
    """
    kernel = kernel_mtf(cycles_per_px, radius_px)
    return np.asarray(1 - np.outer(kernel, kernel).ravel())


def visible_noise(power: Floats, response: Floats | float = 1.0) -> float:
    """
    Noise in multiples of the eye's threshold, in the channel that gets most.

    Parameters
    ----------
    power : ndarray of float64, shape (channels, places)
        From `NoiseBands`, for noise of 1 L*.
    response : ndarray of float64, shape (places,), or float, optional
        What the noise passed besides.

    Returns
    -------
    float
        Multiply by the noise's standard deviation in L*.

    Raises
    ------
    SpecError
        If a number cannot be meant.
    """
    require_numbers("Noise powers", power, 0, inf, "(thresholds squared)")
    require_numbers("Responses", response, -LARGEST, LARGEST, "(contrast left)")
    passed = np.broadcast_to(np.square(response), power.shape[1:])
    return sqrt(float(np.einsum("cp,p->c", power, passed).max()))
