"""How far may sharpening go, and how much gain is that at each radius?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from printplan.sharpening.chain import (
    Chain,
    eye_weight,
    response_before,
    seen_frequencies,
)
from printplan.sharpening.halo import edge_grid, edge_of_response, edge_response
from printplan.sharpening.kernel import kernel_responses, kernel_weights
from printplan.sharpening.noise import (
    FILE_STEPS,
    MOST_NOISE_L,
    NoiseBands,
    high_pass_means,
    past_grain_floor,
)
from printplan.sharpening.response import NYQUIST_CYCLES_PX, steps_to
from printplan.validation import require

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.sharpening.kernel import Blur

    Floats = NDArray[np.float64]


LARGEST_GAIN = 10.0
"""Gain that a `SharpenSpec` takes at most."""

LARGEST_RADIUS_PX = 32.0
"""Radius that is tried at most: 2.7 mm at 300 ppi, far beyond any paper's spread."""


class DecidingBound(StrEnum):
    """What kept the gain from being higher."""

    NOTHING_LOST = "nothing-lost"
    LOSS_PUT_BACK = "loss-put-back"
    LEAST_RADIUS = "least-radius"
    HALO_LIMIT = "halo-limit"
    PEAK_MTF = "peak-mtf"
    NOISE = "noise"
    LARGEST_GAIN = "largest-gain"
    RESTORE = "restore"


@dataclass(frozen=True, slots=True, kw_only=True)
class SharpenLimits:
    """
    How far sharpening may go; all values are our choice, none has a source.

    Attributes
    ----------
    halo_limit : float
        Greatest overshoot at an edge in the print, as a share of the edge.
    peak_mtf : float
        Greatest response of the whole chain, 1 or more.
    least_radius_px : float
        Smallest standard deviation of the mask. Below 0.5 px its Gaussian is hardly
        more than one pixel, and the gain that it needs grows without end.
    grain_floor_l : float
        Lightness step up to which the print is not sharpened, as a `SharpenSpec` has
        it: what it spares of the noise leaves room for gain.
    least_noise_l : float
        Least noise in L* that is used, even if the picture was measured cleaner. The
        default is twice the rounding noise of an 8-bit master in the middle tones.
    noise_rise : float
        Share by which noise that shows already in the master may look stronger in
        the print. A quarter stays below what is just noticed: that is four tenths for
        a contrast of ten thresholds, if it grows as contrast to the power 0.6 (Legge
        & Foley 1980, J. Opt. Soc. Am. 70, 1458-1471, from memory).
    """

    halo_limit: float = 0.12
    peak_mtf: float = 1.25
    least_radius_px: float = 0.5
    grain_floor_l: float = 0.0
    least_noise_l: float = 0.2
    noise_rise: float = 0.25

    def __post_init__(self) -> None:
        require("Halo limit", self.halo_limit, 0.005, 1, "of the edge")
        require("Peak MTF", self.peak_mtf, 1, 5, "(contrast left)")
        require("Least radius", self.least_radius_px, 0.3, 16, "px")
        require("Grain floor", self.grain_floor_l, 0, 10, "L*")
        require("Least noise", self.least_noise_l, 0, 10, "L*")
        require("Noise rise", self.noise_rise, 0, 10, "(share)")


RADIUS_STEP = 1.02
"""Ratio of neighbouring radii that are tried: our choice, finer than shows."""

# Below this there is no noise, and ratios to it would have no meaning.
_NO_NOISE_L = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GainTable:
    """
    Gains by radius.

    Attributes
    ----------
    radius_px : ndarray of float64, shape (radii,)
    bounds : dict of DecidingBound to ndarray of float64, shape (radii,)
        Gain that puts most of the loss back, and the gain that each limit allows.
    gain : ndarray of float64, shape (radii,)
        The least of them.
    error : ndarray of float64, shape (radii,)
        Weighted error with that gain.
    noise_gain : ndarray of float64, shape (radii,)
        How many times stronger noise would become in the file without a grain floor.
    """

    radius_px: Floats
    bounds: dict[DecidingBound, Floats]
    gain: Floats
    error: Floats
    noise_gain: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FileNoise:
    """
    Noise of 1 in the file's high-pass, by radius.

    Attributes
    ----------
    high_pass, high_pass_square : ndarray of float64, shape (radii,)
        Mean response of the high-pass to noise, and mean of its square.
    passed, passed_square : ndarray of float64, shape (radii,)
        Shares that get past the grain floor: of what goes along with the noise, and of
        its power.
    """

    high_pass: Floats
    high_pass_square: Floats
    passed: Floats
    passed_square: Floats

    def gain_with(self, gain: Floats | float) -> Floats:
        """
        How many times stronger noise becomes in the file.

        Parameters
        ----------
        gain : ndarray of float64 or float
            Share of the high-pass that is added.

        Returns
        -------
        ndarray of float64, shape (radii,)
        """
        along = self.passed * self.high_pass
        power = self.passed_square * self.high_pass_square
        return np.sqrt(1 + gain * (2 * along + gain * power))


def gain_table(  # noqa: PLR0913 - print, limits and noise
    chain: Chain,
    limits: SharpenLimits,
    radius_range_px: tuple[float, float],
    noise: NoiseBands,
    *,
    noise_l: float,
    noise_allowed: float,
) -> GainTable:
    """
    Gains of least squares and of the limits, by radius.

    Parameters
    ----------
    radius_range_px : tuple of float
        Least and largest radius.
    noise : NoiseBands
        Of the chain.
    noise_l : float
        Standard deviation of the picture's noise in L*.
    noise_allowed : float
        Visible noise allowed in the print, in multiples of the eye's threshold.

    Raises
    ------
    SpecError
        If a number is outside its range.

    Notes
    -----
    At one radius all is simple in the gain A. The response is B + A·B·K, with B the
    chain before and K the high-pass: its squared error is a parabola, its peak a
    straight line at each frequency, and so is the edge's overshoot at each place.
    Noise power is a parabola. So each limit is solved exactly, for all radii at once.
    """
    least_px, largest_px = radius_range_px
    require("Largest radius", largest_px, least_px, LARGEST_RADIUS_PX, "px")
    require("Visible noise allowed", noise_allowed, 0, 1e6, "thresholds")
    radii, table = _kernels(least_px, largest_px)
    wanted, error_of = _least_squares(chain, table)
    spared = file_noise(chain, table, limits.grain_floor_l, noise_l)
    bounds = {
        DecidingBound.LOSS_PUT_BACK: wanted,
        DecidingBound.NOISE: _noise_bound(
            noise, table, spared, noise_allowed / max(noise_l, _NO_NOISE_L)
        ),
        DecidingBound.HALO_LIMIT: _halo_bound(chain, table, limits.halo_limit),
        DecidingBound.PEAK_MTF: _peak_bound(chain, table, limits.peak_mtf),
        DecidingBound.LARGEST_GAIN: np.full(radii.size, LARGEST_GAIN),
    }
    gain = np.maximum(np.min(list(bounds.values()), axis=0), 0.0)
    constant, linear, square = error_of
    squared = constant + gain * (2 * linear + gain * square)
    return GainTable(
        radius_px=radii,
        bounds=bounds,
        gain=gain,
        error=np.sqrt(np.maximum(squared, 0.0)),
        noise_gain=file_noise(chain, table, 0.0, noise_l).gain_with(gain),
    )


@lru_cache(maxsize=16)
def _kernels(least_px: float, largest_px: float) -> tuple[Floats, Floats]:
    """Radii, and the weights of their kernels, shape (taps, radii)."""
    require("Sharpening radius", least_px, 0.01, 500, "px")
    count = int(np.log(largest_px / least_px) / np.log(RADIUS_STEP)) + 1
    radii = np.asarray(least_px * RADIUS_STEP ** np.arange(count), np.float64)
    return radii, kernel_weights(radii)


def _least_squares(
    chain: Chain, table: Floats
) -> tuple[Floats, tuple[float, Floats, Floats]]:
    """Gain of least weighted error, and that error's parabola in the gain."""
    frequency = seen_frequencies(chain)
    weight = eye_weight(chain, frequency)
    before = response_before(chain, frequency)
    high_pass = before[:, np.newaxis] * (1 - kernel_responses(frequency, table))
    constant = float(weight @ (before - 1) ** 2)
    linear = np.einsum("f,fr->r", weight * (before - 1), high_pass)
    square = np.einsum("f,fr->r", weight, high_pass**2)
    return -linear / square, (constant, linear, square)


def _noise_bound(
    noise: NoiseBands, table: Floats, file: FileNoise, allowed: float
) -> Floats:
    """Gain at which the first channel of the eye has as much noise as allowed."""
    kernels = kernel_responses(noise.frequency_cycles_px, table)
    steps = noise.frequency_cycles_px.size
    # Both axes are alike: places beyond the diagonal count twice instead.
    down, across = np.triu_indices(steps)
    power = noise.in_print.reshape(-1, steps, steps)[:, down, across]
    power *= np.where(down == across, 1.0, 2.0)
    high_pass = 1 - kernels[down] * kernels[across]
    room = allowed**2 - power.sum(axis=1)[:, np.newaxis]
    linear = file.passed * np.einsum("cp,pr->cr", power, high_pass)
    square = file.passed_square * np.einsum("cp,pr->cr", power, high_pass**2)
    # The root of square·A² + 2·linear·A = room, in the form that cancels nothing.
    root = np.sqrt(np.maximum(linear**2 + square * room, 0.0))
    return _least_gain(room, linear + root, 0)


def _halo_bound(chain: Chain, table: Floats, limit: float) -> Floats:
    """Gain at which the first place beside an edge overshoots as far as allowed."""
    position, frequency = edge_grid(chain)
    before = edge_response(chain, frequency)
    high_pass = before[:, np.newaxis] * (1 - kernel_responses(frequency, table))
    edge = edge_of_response(position, frequency, before)[:, np.newaxis]
    rise = edge_of_response(position, frequency, high_pass) - 0.5
    # A ten-thousandth of the edge per unit of gain is 0.001 at the largest gain.
    return _least_gain(1 + limit - edge, rise, 1e-4)


def _peak_bound(chain: Chain, table: Floats, peak: float) -> Floats:
    """Gain at which the first frequency has as much contrast as allowed."""
    frequency = steps_to(NYQUIST_CYCLES_PX, FILE_STEPS)
    before = response_before(chain, frequency)[:, np.newaxis]
    high_pass = before * (1 - kernel_responses(frequency, table))
    return _least_gain(peak - before, high_pass, 1e-9)


def _least_gain(room: Floats, per_gain: Floats, least: float) -> Floats:
    """Gain that first uses up the room; infinite where it takes the least or less."""
    gain = np.full_like(per_gain, np.inf)
    np.divide(room, per_gain, out=gain, where=per_gain > least)
    return np.asarray(gain.min(axis=0))


def file_noise(
    chain: Chain, blurs: Floats | Blur, grain_floor_l: float, noise_l: float
) -> FileNoise:
    """
    Noise in the high-pass of the file, and what the grain floor lets through of it.

    Parameters
    ----------
    blurs : ndarray of float64, shape (taps, radii), or float or Kernel
        Kernels from `kernel_weights`, or one blur.
    grain_floor_l, noise_l : float
        In L*; the noise was white in the master.

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    require("Grain floor", grain_floor_l, 0, 10, "L*")
    require("Noise", noise_l, 0, MOST_NOISE_L, "L*")
    high_pass, high_pass_square = high_pass_means(blurs, chain.enlargement)
    sigma_l = np.maximum(noise_l, _NO_NOISE_L) * np.sqrt(high_pass_square)
    passed, passed_square = past_grain_floor(grain_floor_l / sigma_l)
    return FileNoise(
        high_pass=high_pass,
        high_pass_square=high_pass_square,
        passed=passed,
        passed_square=passed_square,
    )
