"""How much noise does a picture have, and how much of it does the eye see?"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt
from typing import TYPE_CHECKING

import numpy as np

from printplan.errors import SpecError
from printplan.sharpening.eye import (
    contrast_per_l,
    contrast_sensitivity,
    luminance_of_l,
)
from printplan.sharpening.gaussian import blurred_by
from printplan.sharpening.kernel import (
    gaussian_kernel,
    kernel_responses,
    plane_response,
)
from printplan.sharpening.response import (
    ENLARGEMENTS,
    NYQUIST_CYCLES_PX,
    SpreadCurve,
    cycles_per_mm,
    resampler_mtf,
    spread_mtf,
    steps_to,
)
from printplan.validation import LARGEST, require, require_numbers, require_plane

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from printplan.sharpening.kernel import Blur

    Picture = NDArray[np.float32]
    Floats = NDArray[np.float64]


def parts_of(
    lightness: NDArray[np.floating] | Sequence[NDArray[np.floating]],
) -> tuple[Picture, ...]:
    """
    Parts of a picture, also where there is but one.

    Parameters
    ----------
    lightness : ndarray of float, shape (rows, columns), or sequence of them
        L* of the whole picture, or of parts that need not be neighbours.

    Returns
    -------
    tuple of ndarray of float32, shape (rows, columns)

    Raises
    ------
    SpecError
        If there is none, or one is no picture.
    """
    parts = (lightness,) if isinstance(lightness, np.ndarray) else tuple(lightness)
    if not parts:
        raise SpecError(
            "There is no part of the picture to measure.",
            remedy="Give one part or more, each rows by columns of L*.",
        )
    for part in parts:
        require_plane("The picture", part)
    return tuple(np.ascontiguousarray(part, np.float32) for part in parts)


BLOCK_PX = 16
"""Side of the squares that a picture is judged in."""

MOST_NOISE_L = 50.0
"""Largest standard deviation that L* can have, half at 0 and half at 100."""

BANDS_L = ((2.0, 20.0), (20.0, 40.0), (40.0, 60.0), (60.0, 80.0), (80.0, 98.0))
"""Tones that noise is measured in. Beyond both ends, clipping hides it."""

FLATTEST_SHARE = 0.02
"""Share of the squares that count as flat: our choice. In pictures with texture all
over, more of them would hold texture and not noise."""

BROAD_PX, FINE_PX = 2.0, 0.5
"""Blurs that noise is measured by: one that leaves hardly any noise, and one that takes
away only the finest, of which texture has less."""

FILE_STEPS = 128
"""Steps over all frequencies that pixels hold."""

_FEWEST_BLOCKS = 8
# Standard deviation of a normal distribution over its median absolute deviation.
_NORMAL_PER_MAD = 1.482602218505602


@dataclass(frozen=True, slots=True, kw_only=True)
class BandNoise:
    """
    Noise in one range of tones.

    Attributes
    ----------
    lowest_l, highest_l : float
        The range.
    noise_l : float
        Standard deviation in L*.
    """

    lowest_l: float
    highest_l: float
    noise_l: float


def in_blocks(picture: Picture) -> Picture:
    """
    Squares of a picture, one per row; rests at the right and lower edge are left out.

    Parameters
    ----------
    picture : ndarray of float32, shape (rows, columns)

    Returns
    -------
    ndarray of float32, shape (blocks, 256)

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    require_plane("The picture", picture)
    down, across = (length // BLOCK_PX for length in picture.shape)
    whole = picture[: down * BLOCK_PX, : across * BLOCK_PX]
    squares = whole.reshape(down, BLOCK_PX, across, BLOCK_PX).swapaxes(1, 2)
    return squares.reshape(down * across, BLOCK_PX * BLOCK_PX)


def picture_noise(
    lightness: Picture | Sequence[Picture],
    enlargement: float,
    *,
    blur_px: float = BROAD_PX,
) -> tuple[float | None, tuple[BandNoise, ...]]:
    """
    Noise of a picture, overall and by tone.

    Parameters
    ----------
    lightness : ndarray of float32, shape (rows, columns), or sequence of them
        L*, in print pixels: the picture, or parts that stand for it.
    enlargement : float
        Print pixels per master pixel.
    blur_px : float, optional
        What a blur of this standard deviation takes away is looked at, in pixels of
        the coarser side.

    Returns
    -------
    tuple of float or None and tuple of BandNoise
        Standard deviation in L*: None, and no bands, where all is clipped.

    Raises
    ------
    SpecError
        If a number is outside its range.

    Notes
    -----
    Flat squares are found by what is left after a blur, and noise is measured by what
    the blur takes away: its median absolute deviation, so that specks do not count.
    The two hardly depend on each other, so picking flat squares does not pick quiet
    ones. What the blur keeps of the noise itself is put back by the spectrum of noise
    that was white before resampling. Fine even texture counts as noise: in a picture
    without one flat place the number is an upper bound. A finer blur sees less of the
    texture, and less of noise that is not white.
    """
    parts = parts_of(lightness)
    require("Enlargement", enlargement, *ENLARGEMENTS, "print px per master px")
    require("Blur", blur_px, 0.1, 10, "px")
    blur_px *= max(enlargement, 1.0)
    squares = np.concatenate([_squares(part, blur_px) for part in parts])
    tone, unevenness, fine = squares.T
    # Of the noise's variance, what is left of it less its blur.
    _, kept = high_pass_means(blur_px, enlargement)
    noise = fine * (_NORMAL_PER_MAD / sqrt(kept[0]))
    usable = (tone >= BANDS_L[0][0]) & (tone < BANDS_L[-1][1])
    bands = [
        BandNoise(lowest_l=low, highest_l=high, noise_l=found)
        for low, high in BANDS_L
        if (found := _of_flattest(noise, unevenness, (tone >= low) & (tone < high)))
        is not None
    ]
    return _of_flattest(noise, unevenness, usable), tuple(bands)


def _squares(part: Picture, blur_px: float) -> Picture:
    """Tone, unevenness and median of what the blur takes, shape (squares, 3)."""
    blurred = _blurred(part, blur_px)
    broad = in_blocks(blurred if blur_px >= BROAD_PX else _blurred(part, BROAD_PX))
    taken = in_blocks(np.abs(part - blurred))
    # The mean of both middle ones is what `numpy.median` gives, at a third of its time.
    half = taken.shape[1] // 2
    taken.partition((half - 1, half), axis=1)
    middle = taken[:, half - 1 : half + 1].mean(axis=1)
    return np.stack([broad.mean(axis=1), broad.std(axis=1), middle], axis=1)


def _blurred(picture: Picture, blur_px: float) -> Picture:
    return blurred_by(picture, gaussian_kernel(blur_px))


def _of_flattest(
    noise: Picture, unevenness: Picture, among: NDArray[np.bool_]
) -> float | None:
    """Median noise of the flattest squares, None if there are too few."""
    candidates = np.flatnonzero(among)
    if candidates.size < _FEWEST_BLOCKS:
        return None
    count = max(_FEWEST_BLOCKS, int(FLATTEST_SHARE * candidates.size))
    order = np.argsort(unevenness[candidates], kind="stable")
    return float(np.median(noise[candidates[order[:count]]]))


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
        If a number is outside its range.

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

    Raises
    ------
    SpecError
        If a number is outside its range.

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
    seen = contrast_sensitivity(radial_mm * degrees_per_cycle_mm, local_cd_m2)
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
        If a number is outside its range.

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


def high_pass_plane(cycles_per_px: Floats, blur: Blur) -> Floats:
    """
    Response of the sharpening's high-pass over the plane of frequencies.

    Parameters
    ----------
    cycles_per_px : ndarray of float64, shape (steps,)
        Both axes.

    Returns
    -------
    ndarray of float64, shape (steps · steps,)
    """
    return np.asarray(1 - plane_response(cycles_per_px, blur).ravel())


def high_pass_means(blurs: Floats | Blur, enlargement: float) -> tuple[Floats, Floats]:
    """
    Mean response of high-passes to noise that was white in the master, and its square.

    Parameters
    ----------
    blurs : ndarray of float64, shape (taps, radii), or float or Kernel
        Kernels from `kernel_weights`, or one blur.
    enlargement : float
        Print pixels per master pixel.

    Returns
    -------
    tuple of ndarray of float64, shape (radii,)
        Weighted by the noise's power over the plane of frequencies.
    """
    frequency = steps_to(NYQUIST_CYCLES_PX, FILE_STEPS)
    spectrum = resampled_noise_spectrum(frequency, enlargement) / frequency.size
    if isinstance(blurs, np.ndarray):  # A product of two lines.
        kernels = kernel_responses(frequency, blurs)
        mean, mean_square = (
            np.einsum("f,fr->r", spectrum, response) ** 2
            for response in (kernels, kernels**2)
        )
    else:
        plane = plane_response(frequency, blurs)
        mean, mean_square = (
            np.einsum("f,g,fg->", spectrum, spectrum, response)[np.newaxis]
            for response in (plane, plane**2)
        )
    return 1 - mean, 1 - 2 * mean + mean_square


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
        If a number is outside its range.
    """
    require_numbers("Noise powers", power, 0, inf, "(thresholds squared)")
    require_numbers("Responses", response, -LARGEST, LARGEST, "(contrast left)")
    passed = np.broadcast_to(np.square(response), power.shape[1:])
    return sqrt(float(np.einsum("cp,p->c", power, passed).max()))
