"""What limits the sharpening, and what was chosen."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from printplan.validation import require

if TYPE_CHECKING:
    from printplan.sharpening.kernel import Kernel

LARGEST_GAIN = 10.0
"""Gain that a `SharpenSpec` takes at most."""

RADIUS_RANGE_MM = (0.01, 5.0)
"""Radius that a `SharpenSpec` takes."""

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
        Noise in L* that is reckoned with even if the picture was measured cleaner. The
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
        Lightness step up to which nothing is sharpened. It is reckoned with for the
        noise; all else is said of detail from twice this step on.
    overshoot_in_file, overshoot_in_print : float
        Halo at an edge as sharp as the picture's, as a share of its height.
    halo_width_um, halo_width_arcmin : float
        Of the halo in the print at half its height, on paper and at the eye; 0
        without one.
    noise_gain : float
        How many times stronger noise becomes in the file.
    noise_counted_l : float
        Noise in L* that was reckoned with.
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


@dataclass(frozen=True, slots=True, kw_only=True)
class SharpenChoice(SharpenEffect):
    """
    The gain and radius that were chosen, with what they do and why.

    Attributes
    ----------
    visible_noise_allowed : float
        Limit of `visible_noise_after`, in multiples of the eye's threshold. The noise
        that was reckoned with is the measured one, or the least noise if that is more.
    restored : float
        Gain over the gain that puts most of the loss back at this radius: the restore
        that is really had. 0 if nothing was lost.
    why : str
        One sentence on what decided.
    """

    visible_noise_allowed: float
    restored: float
    deciding_bound: DecidingBound
    why: str
