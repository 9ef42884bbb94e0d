"""What does one gain and radius do to edges, noise and detail?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from printplan.sharpening.chain import (
    Chain,
    eye_weight,
    noise_of,
    response_before,
    seen_frequencies,
    to_degrees,
    weighted_error,
)
from printplan.sharpening.eye import acutance, subjective_quality_factor
from printplan.sharpening.halo import halo_arcmin, halos
from printplan.sharpening.kernel import Kernel, sigma_of
from printplan.sharpening.limits import LARGEST_GAIN, file_noise
from printplan.sharpening.noise import (
    FILE_STEPS,
    MOST_NOISE_L,
    high_pass_plane,
    visible_noise,
)
from printplan.sharpening.response import (
    NYQUIST_CYCLES_PX,
    cycles_per_mm,
    spread_mtf,
    steps_to,
    unsharp_mtf,
)
from printplan.units import mm_from_px
from printplan.validation import require

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from printplan.sharpening.kernel import Blur
    from printplan.sharpening.noise import NoiseBands

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class SharpenEffect:
    """
    A gain and a radius, with what they do.

    Attributes
    ----------
    radius_px, radius_mm : float
        Standard deviation of the mask, in print pixels and on paper.
    gain : float
        Share of the high-pass that is added.
    grain_floor_l : float
        Lightness step up to which nothing is sharpened. It counts for the
        noise; all else applies to detail from twice this step on.
    overshoot_in_file, overshoot_in_print : float
        Halo at an edge as sharp as the picture's, as a share of its height.
    halo_width_um, halo_width_arcmin : float
        Of the halo in the print at half its height, on paper and at the eye; 0
        without one.
    noise_gain : float
        How many times stronger noise becomes in the file.
    noise_counted_l : float
        Noise in L* that the prediction uses.
    visible_noise_in_master : float
        That noise as the master has it, seen at the print's size and distance, in
        multiples of the eye's threshold.
    visible_noise_before, visible_noise_after : float
        The same in the print, without and with sharpening.
    peak_mtf : float
        Greatest response of the whole chain after sharpening.
    sqf_before, sqf_after : float
        Subjective quality factor.
    error_before, error_after : float
        Root mean square of response − 1, weighted by the eye's sensitivity.
    kernel : Kernel or None
        In place of the Gaussian of that radius.
    """

    radius_px: float
    radius_mm: float
    gain: float
    grain_floor_l: float
    overshoot_in_file: float
    overshoot_in_print: float
    halo_width_um: float
    halo_width_arcmin: float
    noise_gain: float
    noise_counted_l: float
    visible_noise_in_master: float
    visible_noise_before: float
    visible_noise_after: float
    peak_mtf: float
    acutance_before: float
    acutance_after: float
    sqf_before: float
    sqf_after: float
    error_before: float
    error_after: float
    kernel: Kernel | None = None

    @property
    def blur(self) -> float | Kernel:
        """What the mask blurs with: the radius of its Gaussian, or a kernel."""
        return self.kernel or self.radius_px


def sharpening_effect(  # noqa: PLR0913 - sharpening, its print and its noise
    chain: Chain,
    *,
    gain: float,
    blur: Blur,
    noise_l: float,
    grain_floor_l: float = 0.0,
    noise: NoiseBands | None = None,
    noise_passed: tuple[float, float] | None = None,
    response_added: Callable[[Floats], Floats] | None = None,
) -> SharpenEffect:
    """
    Predict what a gain and a radius do in one print.

    Parameters
    ----------
    chain : Chain
        Master, resampling, paper and viewer.
    gain : float
        Share of the high-pass that is added, 0 to 10.
    blur : float or Kernel
        Radius of the mask's Gaussian in print pixels, 0.2 to 200, or a kernel.
    noise_l : float
        Standard deviation of the picture's noise in L*, per print pixel.
    grain_floor_l : float, optional
        Lightness step up to which nothing is sharpened, 0 to 10 L*.
    noise : NoiseBands, optional
        Those of the chain, if they are at hand.
    noise_passed : tuple of float, optional
        Shares of the sharpening that noise gets, as `past_grain_floor` has them; by
        default those past the grain floor.
    response_added : callable, optional
        Contrast added at given frequencies in cycles per pixel, in the file; by
        default what gain and radius add without any limit.

    Raises
    ------
    SpecError
        If a number is outside its range.

    Examples
    --------
    >>> chain = Chain(spread=50, ppi=300, distance_mm=400)
    >>> effect = sharpening_effect(chain, gain=1.0, blur=1.0, noise_l=0.5)
    >>> effect.acutance_before < effect.acutance_after
    True
    >>> effect.overshoot_in_print < effect.overshoot_in_file  # paper takes halo too
    True
    """
    require("Sharpening gain", gain, 0, LARGEST_GAIN, "(no unit)")
    radius_px = sigma_of(blur)
    require("Sharpening radius", radius_px, 0.2, 200, "px")
    require("Noise", noise_l, 0, MOST_NOISE_L, "L*")
    require("Grain floor", grain_floor_l, 0, 10, "L*")
    bands = noise_of(chain) if noise is None else noise
    frequency = seen_frequencies(chain)
    weight, degrees = eye_weight(chain, frequency), to_degrees(chain, frequency)
    before = response_before(chain, frequency)
    whole = steps_to(NYQUIST_CYCLES_PX, FILE_STEPS)
    after, sharpened = (
        response_after(chain, cycles_px, gain, blur, response_added)
        for cycles_px in (frequency, whole)
    )
    in_file, in_print = halos(chain, gain, blur)
    halo_mm = mm_from_px(in_print.width, chain.ppi)
    in_file_noise = file_noise(chain, blur, grain_floor_l, noise_l)
    if noise_passed is not None:
        along, power = (np.array([share]) for share in noise_passed)
        in_file_noise = replace(in_file_noise, passed=along, passed_square=power)
    along, power = in_file_noise.passed[0], in_file_noise.passed_square[0]
    plane = high_pass_plane(bands.frequency_cycles_px, blur)
    passed = 1 + gain * (2 * along * plane + gain * power * plane**2)
    return SharpenEffect(
        radius_px=radius_px,
        radius_mm=mm_from_px(radius_px, chain.ppi),
        gain=gain,
        grain_floor_l=grain_floor_l,
        overshoot_in_file=in_file.overshoot,
        overshoot_in_print=in_print.overshoot,
        halo_width_um=halo_mm * 1000,
        halo_width_arcmin=halo_arcmin(halo_mm, chain.distance_mm),
        noise_gain=float(in_file_noise.gain_with(gain)[0]),
        noise_counted_l=noise_l,
        visible_noise_in_master=visible_noise(bands.in_master) * noise_l,
        visible_noise_before=visible_noise(bands.in_print) * noise_l,
        visible_noise_after=visible_noise(bands.in_print, np.sqrt(passed)) * noise_l,
        peak_mtf=float(sharpened.max()),
        acutance_before=acutance(degrees, before),
        acutance_after=acutance(degrees, after),
        sqf_before=subjective_quality_factor(degrees, before),
        sqf_after=subjective_quality_factor(degrees, after),
        error_before=weighted_error(weight, before),
        error_after=weighted_error(weight, after),
        kernel=blur if isinstance(blur, Kernel) else None,
    )


def response_after(
    chain: Chain,
    cycles_px: Floats,
    gain: float,
    blur: Blur,
    added: Callable[[Floats], Floats] | None = None,
) -> Floats:
    """
    Contrast left by the whole chain with sharpening.

    Parameters
    ----------
    cycles_px : ndarray of float64
    added : callable, optional
        As `sharpening_effect` takes it.

    Returns
    -------
    ndarray of float64
    """
    before = response_before(chain, cycles_px)
    if added is None:
        return before * unsharp_mtf(cycles_px, gain=gain, blur=blur)
    on_paper = spread_mtf(cycles_per_mm(cycles_px, chain.ppi), chain.spread)
    return np.asarray(before + on_paper * added(cycles_px))
