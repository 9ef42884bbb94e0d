"""Which radius and gain put back what paper and distance take away?"""

from __future__ import annotations

from dataclasses import dataclass, fields
from math import inf
from typing import TYPE_CHECKING

import numpy as np

from printplan.errors import SpecError
from printplan.sharpening.chain import (
    Chain,
    eye_weight,
    noise_of,
    response_before,
    seen_frequencies,
    weighted_error,
)
from printplan.sharpening.effect import SharpenEffect, sharpening_effect
from printplan.sharpening.eye import PAPER_WHITE_CD_M2
from printplan.sharpening.halo import printed_edge_sigma_px
from printplan.sharpening.limits import (
    LARGEST_RADIUS_PX,
    DecidingBound,
    GainTable,
    SharpenLimits,
    gain_table,
)
from printplan.sharpening.noise import MOST_NOISE_L, visible_noise
from printplan.units import LengthUnit, distance_words, px_from_mm
from printplan.validation import require

if TYPE_CHECKING:
    from printplan.sharpening.response import SpreadCurve


CALM_SHARE = 0.1
"""Share of what can be put back that is given up for calm: of all radii that put back
at least the rest, the one is taken that raises noise in the file least, the grain floor
aside. The best fit alone ends at the least radius with a high gain and is hardly
better. Our choice."""

MOST_SOFTNESSES = 2.0
"""Radius over the softness of the printed edge, at most: a wider mask lifts whole areas
and shows as a glow. Our choice."""

MOST_RESTORE = 1.5
"""Largest restore."""

RADIUS_RANGE_MM = (0.01, 5.0)
"""Radius that a `SharpenSpec` takes."""

_DEFAULT_LIMITS = SharpenLimits()


@dataclass(frozen=True, slots=True, kw_only=True)
class SharpenChoice(SharpenEffect):
    """
    The gain and radius that were chosen, with what they do and why.

    Attributes
    ----------
    visible_noise_allowed : float
        Limit of `visible_noise_after`, in multiples of the eye's threshold. The noise
        itself is the measured one, or the least noise if that is more.
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


def choose_sharpening(  # noqa: PLR0913 - paper, size, picture, viewer and wish
    *,
    paper_psf_sigma_um: float | SpreadCurve,
    ppi: float,
    master_edge_sigma_px: float,
    noise_l: float,
    distance_mm: float,
    enlargement: float = 1.0,
    luminance_cd_m2: float = PAPER_WHITE_CD_M2,
    lightness_l: float = 50.0,
    restore: float = 1.0,
    limits: SharpenLimits = _DEFAULT_LIMITS,
    unit: LengthUnit = LengthUnit.MM,
) -> SharpenChoice:
    """
    Radius and gain of unsharp masking for one picture, paper, size and distance.

    Parameters
    ----------
    paper_psf_sigma_um : float or SpreadCurve
        Standard deviation of the spread of ink and light, or a measured curve.
    ppi : float
        Print pixels per inch.
    master_edge_sigma_px : float
        Standard deviation of the master's sharpest edges, in print pixels and without
        the resampling's part.
    noise_l : float
        Standard deviation of the picture's noise in L*, per print pixel.
    distance_mm : float
        Eye to paper.
    enlargement : float, optional
        Print pixels per master pixel.
    luminance_cd_m2 : float, optional
        Of the paper's white.
    lightness_l : float, optional
        Tone that is looked at.
    restore : float, optional
        Share of the gain to use, 0 to 1.5: 0 leaves the picture alone, 1 puts the
        loss back as far as the limits allow.
    unit : LengthUnit, optional
        Of the distance in its words.

    Raises
    ------
    SpecError
        If a number is outside its range, or no radius is left.

    Notes
    -----
    At each radius, the gain brings master × resampling × sharpening × paper nearest to
    1 in least squares, weighted by the eye's sensitivity, and stops at the first limit:
    halo in the print, peak of the response, noise. Noise that the master hides stays
    under the eye's threshold; noise that it shows may look stronger by
    ``limits.noise_rise``. Of the radii that come near the best, the calmest is taken
    (`CALM_SHARE`). That making up for the print's own response pleases observers was
    shown by Bonnier & Lindner [1]_.

    Lightness is taken as linear, though resampling works on light and paper spreads
    light: right for low contrast. In rendered edges of 40 L* that were resampled, the
    halo in the print was up to 0.04 of the step higher than predicted on the dark side
    and up to 0.02 lower on the light side; of stronger ones it is more. A print's
    choice is therefore held to its strongest edge in `pixels.sharpening`.

    One gain serves all tones. Bonnier & Lindner's correction does depend on local
    lightness, but no measured spread by lightness is at hand to justify one.

    References
    ----------
    .. [1] Bonnier & Lindner (2010), doi:10.1117/1.3272958.

    Examples
    --------
    >>> picture = {"master_edge_sigma_px": 0.6, "noise_l": 0.3}
    >>> choice = choose_sharpening(
    ...     paper_psf_sigma_um=30, ppi=300, distance_mm=400, **picture
    ... )
    >>> choice.error_after < choice.error_before / 2
    True
    """
    require("Noise", noise_l, 0, MOST_NOISE_L, "L*")
    require("Restore", restore, 0, MOST_RESTORE, "(share of the loss)")
    chain = Chain(
        spread=paper_psf_sigma_um,
        ppi=ppi,
        master_edge_sigma_px=master_edge_sigma_px,
        enlargement=enlargement,
        distance_mm=distance_mm,
        luminance_cd_m2=luminance_cd_m2,
        lightness_l=lightness_l,
    )
    noise = noise_of(chain)
    counted_l = max(noise_l, limits.least_noise_l)
    in_master = visible_noise(noise.in_master) * counted_l
    allowed = max(1.0, (1 + limits.noise_rise) * in_master)
    table = gain_table(
        chain,
        limits,
        _radius_range_px(chain, limits),
        noise,
        noise_l=counted_l,
        noise_allowed=allowed,
    )
    radius_px, gain, bound, whole_gain = _picked(chain, table, restore)
    effect = sharpening_effect(
        chain,
        gain=gain,
        blur=radius_px,
        noise_l=counted_l,
        grain_floor_l=limits.grain_floor_l,
        noise=noise,
    )
    return SharpenChoice(
        **{field.name: getattr(effect, field.name) for field in fields(effect)},
        visible_noise_allowed=allowed,
        restored=gain / whole_gain if whole_gain > _NO_GAIN else 0.0,
        deciding_bound=bound,
        why=_why(bound, chain, limits, unit, shown=allowed > 1),
    )


_INSIDE = 1 + 1e-9


def _radius_range_px(chain: Chain, limits: SharpenLimits) -> tuple[float, float]:
    """Radii that the limits, the edges and the range of a `SharpenSpec` leave."""
    shortest_mm, longest_mm = RADIUS_RANGE_MM
    # A hair inside the range, so that rounding to millimetres does not leave it.
    least = max(limits.least_radius_px, px_from_mm(shortest_mm, chain.ppi) * _INSIDE)
    largest = min(LARGEST_RADIUS_PX, px_from_mm(longest_mm, chain.ppi) / _INSIDE)
    if least > largest:
        raise SpecError(
            f"The least radius is {least:.2f} px; at {chain.ppi:g} ppi the largest "
            f"that a plan takes is {largest:.2f} px.",
            remedy=f"Lower the least radius to {largest:.2f} or less.",
        )
    widest = MOST_SOFTNESSES * printed_edge_sigma_px(chain)
    return least, max(least, min(largest, widest))


def _picked(
    chain: Chain, table: GainTable, restore: float
) -> tuple[float, float, DecidingBound, float]:
    """Calmest radius near the best, its gain, what held it, and the gain wanted."""
    frequency = seen_frequencies(chain)
    before = weighted_error(
        eye_weight(chain, frequency), response_before(chain, frequency)
    )
    best = float(table.error.min())
    near = table.error <= best + CALM_SHARE * max(before - best, 0.0)
    at = int(np.where(near, table.noise_gain, inf).argmin())
    radius_px, gain = float(table.radius_px[at]), float(table.gain[at])
    limits_here = {bound: float(gains[at]) for bound, gains in table.bounds.items()}
    bound = min(limits_here, key=limits_here.__getitem__)
    whole = limits_here[DecidingBound.LOSS_PUT_BACK]
    if whole <= _NO_GAIN or restore == 0:
        wanted = restore == 0 and gain > _NO_GAIN
        nothing = DecidingBound.RESTORE if wanted else DecidingBound.NOTHING_LOST
        return radius_px, 0.0, nothing, whole
    if restore < 1:
        return radius_px, restore * gain, DecidingBound.RESTORE, whole
    if restore > 1:
        del limits_here[DecidingBound.LOSS_PUT_BACK]
        first = min(limits_here, key=limits_here.__getitem__)
        room = max(limits_here[first], 0.0)
        if restore * gain <= room:
            return radius_px, restore * gain, DecidingBound.RESTORE, whole
        return radius_px, room, first, whole
    if bound is DecidingBound.LOSS_PUT_BACK and at == 0:
        bound = DecidingBound.LEAST_RADIUS
    return radius_px, gain, bound, whole


# Below a thousandth of the high-pass there is nothing to see.
_NO_GAIN = 1e-3


def _why(
    bound: DecidingBound,
    chain: Chain,
    limits: SharpenLimits,
    unit: LengthUnit,
    *,
    shown: bool,
) -> str:
    """Say in one sentence what held the gain where it is."""
    noise = (
        f"more gain would make noise look over {limits.noise_rise:.0%} stronger than "
        "the master shows it"
        if shown
        else "more gain would sharpen noise that the master hides into view"
    )
    seen = f"seen from {distance_words(unit, chain.distance_mm)}"
    return {
        DecidingBound.NOTHING_LOST: f"Nothing to put back: {seen}, the print loses "
        "nothing that the eye would miss.",
        DecidingBound.LOSS_PUT_BACK: f"The loss decided: {seen}, more gain would lift "
        "detail above its own contrast.",
        DecidingBound.LEAST_RADIUS: "The least radius decided: a radius below "
        f"{limits.least_radius_px:g} px would put back more.",
        DecidingBound.HALO_LIMIT: halo_words(limits.halo_limit),
        DecidingBound.PEAK_MTF: "The peak decided: more gain would lift some detail "
        f"above {limits.peak_mtf:g} times its contrast.",
        DecidingBound.NOISE: f"Noise decided: {noise}.",
        DecidingBound.LARGEST_GAIN: "The largest gain that a plan takes decided.",
        DecidingBound.RESTORE: "Your wish decided: restore asks for this much.",
    }[bound]


def halo_words(halo_limit: float) -> str:
    """
    Say that the halo limit held the gain.

    Parameters
    ----------
    halo_limit : float
        Greatest overshoot in the print, as a share of the edge.
    """
    return (
        "The halo limit decided: more gain would overshoot edges in the print by more "
        f"than {halo_limit:.0%}."
    )
