"""How does the tone of one side of a traced edge become that of the other?"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
import scipy

from printplan.errors import SpecError
from printplan.validation import require

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.sharpening.edge_trace import Trace

    Floats = NDArray[np.float64]


LARGEST_UNEVENNESS = 0.25
"""Distance of the tone beside the edge from its side's level, over the step, at most:
more is another edge. Our choice; paper grain averages out along the edge."""

WINDOW_FLAT_SHARE = 0.6
"""Inner part of the window that leaves the profile as it is."""

# A Gaussian spread ends within 4 standard deviations (6e-5 is left outside), where the
# window is still flat, and light scattered in paper goes on.
_TRANSITION_SIGMAS, _LEAST_SIGMAS, _WINDOW_SIGMAS = 4.0, 6.0, 10.0
_LEAST_WINDOW_PX = 8.0
# From 10 to 90 % a Gaussian edge takes 2.563 standard deviations (normal quantiles).
_RISE_SIGMAS = 2.563
# A sharpened edge is steep, and its halo lies beyond its rise. Taken for a halo is what
# passes a side's level by more than the tone wanders farther out: our choice. A halo
# falls to half of its height near 1 standard deviation of its mask, so that the flat
# part of the window ends beyond 4 of them.
_LEAST_HALO, _HALO_WANDERS, _WINDOW_HALOS = 0.02, 2.0, 8.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeProfile:
    """
    Edge-spread function in bins around an edge.

    Attributes
    ----------
    levels : ndarray of float64, shape (bins,)
        Mean tone, from the dark side to the light one; the middle bin is the edge.
    counts : ndarray of intp, shape (bins,)
        Pixels in each bin.
    """

    levels: Floats
    counts: NDArray[np.intp]


def edge_profile(trace: Trace, half_px: float, oversampling: int) -> EdgeProfile:
    """
    Mean of the pixels at each distance from an edge.

    Parameters
    ----------
    half_px : float
        Distance that is covered on either side.
    oversampling : int
        Bins per pixel.

    Returns
    -------
    EdgeProfile
        As if the pixels filled each bin evenly.

    Raises
    ------
    SpecError
        If a bin stays empty, or the distance is outside its range.
    """
    require("Half of the window", half_px, 0, 100_000, "px")
    bins = int(half_px * oversampling)
    place = trace.distance_px * oversampling
    number = np.floor(place + 0.5)
    kept = np.abs(number) <= bins
    index = number[kept].astype(np.intp) + bins
    offset = (place - number)[kept]
    length = 2 * bins + 1
    counts = np.bincount(index, minlength=length)
    if not counts.all():
        raise SpecError(
            f"{np.count_nonzero(counts == 0)} of {length} bins of 1/{oversampling} px "
            f"across the edge stay empty; it is {trace.values.shape[0]} lines long.",
            remedy="Ask for 4 bins per pixel, or measure an edge twice as long.",
        )
    mean = np.bincount(index, trace.values[kept]) / counts
    # An even filling of a bin has mean 0 and variance 1/12 of its width squared.
    shift = np.bincount(index, offset) / counts
    excess = np.bincount(index, offset**2) / counts - 1 / 12
    levels = mean
    for _ in range(2):
        slope = np.gradient(levels)
        curve = np.diff(np.pad(levels, 1, mode="edge"), 2)
        levels = mean - shift * slope - excess * curve / 2
    return EdgeProfile(levels=levels, counts=counts)


def half_window_px(trace: Trace, oversampling: int) -> tuple[float, float]:
    """
    Half the width of the window that an edge needs, and where its sides begin.

    Parameters
    ----------
    oversampling : int
        Bins per pixel.

    Returns
    -------
    tuple of float
        Half the window, as far as the region reaches, and the distance from the edge
        beyond which tone shows the level of its side.

    Raises
    ------
    SpecError
        If the region is too narrow for the transition, or its sides are not even.
    """
    distance_px = trace.distance_px
    reach_px = min(-float(distance_px[:, 0].max()), float(distance_px[:, -1].min()))
    sigma_px = support_px = 0.0
    if reach_px >= _LEAST_WINDOW_PX:
        whole = edge_profile(trace, reach_px, oversampling)
        sigma_px, support_px = _extent_px(whole, trace, oversampling)
    wanted_px = max(
        _WINDOW_SIGMAS * sigma_px, _WINDOW_HALOS * support_px, 2 * _LEAST_WINDOW_PX
    )
    if reach_px < max(_LEAST_SIGMAS * sigma_px, _LEAST_WINDOW_PX):
        raise SpecError(
            f"Only {max(reach_px, 0):.0f} px lie between the edge and the region's "
            f"border; a transition like this takes {ceil(wanted_px)} px on either "
            "side.",
            remedy=f"Give a region that reaches {ceil(wanted_px)} px or more to both "
            "sides, with the edge in its middle.",
        )
    half_px = min(wanted_px, reach_px)
    return half_px, max(0.4 * half_px, _TRANSITION_SIGMAS * sigma_px)


def _extent_px(
    profile: EdgeProfile, trace: Trace, oversampling: int
) -> tuple[float, float]:
    """
    How far the transition goes, and its halo.

    The first is the standard deviation of the Gaussian that takes as long from 10 to
    90 %, the second the distance at which the wider side's halo has fallen to half of
    its height; 0 without a halo.
    """
    share = (profile.levels - trace.dark) / (trace.light - trace.dark)
    middle = share.size // 2
    far = middle // 2
    even = scipy.ndimage.uniform_filter1d(share, 2 * oversampling + 1, mode="nearest")
    off = max(
        float(np.abs(even[: middle - far]).max()),
        float(np.abs(even[middle + far + 1 :] - 1).max()),
    )
    if off > LARGEST_UNEVENNESS:
        raise SpecError(
            f"The tone beside the edge is off its side's level by {off:.0%} of the "
            f"step; {LARGEST_UNEVENNESS:.0%} is the limit.",
            remedy="Give a region with one edge and even tone on both sides of it, "
            "wide enough that the transition fills less than half of it.",
        )
    below = np.flatnonzero(share[: middle + far] < 0.1)
    above = np.flatnonzero(share[middle - far :] > 0.9) + middle - far
    first, last = below[-1] if below.size else 0, above[0] if above.size else share.size
    rise = max(float(last - first - 1), 1.0) / _RISE_SIGMAS
    least = max(_LEAST_HALO, _HALO_WANDERS * off)
    halo = max(
        _halo_bins(outward[: far + 1], least)
        for outward in (even[middle:] - 1, -even[middle::-1])
    )
    return rise / oversampling, halo / oversampling


def _halo_bins(outward: Floats, least: float) -> int:
    """Bins until a halo higher than the least has fallen to half of its height."""
    top = int(outward.argmax())
    if outward[top] <= least:
        return 0
    below = np.flatnonzero(outward[top:] < outward[top] / 2)
    return top + int(below[0]) if below.size else outward.size
