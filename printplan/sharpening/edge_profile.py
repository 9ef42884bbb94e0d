"""What crosses a straight edge, and how wide is it?"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, inf
from typing import TYPE_CHECKING, Literal

import numpy as np
import scipy

from printplan.errors import SpecError
from printplan.validation import require

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.sharpening.edge_trace import Trace

    Floats = NDArray[np.float64]
    Picture = NDArray[np.float32]


ALONG_PX = 8
"""Half the length of edge that is averaged, in print pixels: our choice."""

ALONG = np.arange(-ALONG_PX, ALONG_PX + 1.0)
"""Places along the edge that are averaged, in print pixels from its middle."""

STEP_PX = 0.125
"""Distance between two positions of a profile."""

LEAST_STEP_L = 8.0
"""Step of an edge in a picture that counts as strong, at least: our choice."""

LEAST_STRAIGHTNESS = 0.9
"""Share of the gradient's energy in one direction, nearly all where an edge is
straight: our choice."""

MOST_UNEVENNESS = 0.1
"""Wander of the tone on either side, over the step: beyond, a halo cannot be
distinguished from what lies beside the edge. Our choice."""

# A whole number of these on each side, so that a coarser look still has a middle.
_STEPS_TOGETHER = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgePlace:
    """
    A place on a straight edge.

    Attributes
    ----------
    row, column : float
        Of its middle, in pixels of the array that was searched; 0 is the centre of
        the first.
    towards_light : tuple of float
        Direction across the edge, down and right, of length 1.
    dark_l, light_l : float
        L* of the even tones on both sides.
    steepness_l_px : float
        Greatest slope, L* per pixel.
    """

    row: float
    column: float
    towards_light: tuple[float, float]
    dark_l: float
    light_l: float
    steepness_l_px: float


def positions_px(room_px: float) -> Floats:
    """
    Places across an edge, from the dark side to the light one.

    Parameters
    ----------
    room_px : float
        Distance to go on each side.

    Returns
    -------
    ndarray of float64, shape (2 n + 1,)
        In print pixels, `STEP_PX` apart, 0 in the middle.
    """
    steps = _STEPS_TOGETHER * ceil(room_px / STEP_PX / _STEPS_TOGETHER)
    return np.asarray(np.arange(-steps, steps + 1) * STEP_PX, np.float64)


def across_edge(plane: Picture, place: EdgePlace, position_px: Floats) -> Floats:
    """
    Mean profile of a plane across an edge.

    Parameters
    ----------
    plane : ndarray of float32, shape (rows, columns)
        On the pixels that were searched.
    position_px : ndarray of float64, shape (positions,)
        From `positions_px`.

    Returns
    -------
    ndarray of float64, shape (positions,)
        By a cubic spline through the pixels, averaged over 17 pixels along the edge.
    """
    coefficients = scipy.ndimage.spline_filter(plane, order=3, output=np.float32)
    return np.asarray(lines_across(coefficients, place, position_px).mean(axis=0))


def lines_across(
    values: Picture, place: EdgePlace, position: Floats, order: Literal[0, 3] = 3
) -> Floats:
    """
    Values across an edge, line by line along it.

    Parameters
    ----------
    values : ndarray of float32, shape (rows, columns)
        A plane, or for order 3 the coefficients of its cubic spline.
    position : ndarray of float64, shape (positions,)
        Print pixels towards the light.
    order : {0, 3}, optional
        Of the spline; 0 reads the nearest pixel.

    Returns
    -------
    ndarray of float64, shape (17, positions)
    """
    places = np.array([[place.row, place.column, *place.towards_light]]).T
    lines = sampled_across(values, places, position, ALONG, order)[0]
    return np.asarray(lines, np.float64)


def sampled_across(
    values: Picture, places: Floats, out: Floats, on: Floats, order: Literal[0, 3]
) -> Picture:
    """
    Values across many edges, line by line along each.

    Parameters
    ----------
    values : ndarray of float32, shape (rows, columns)
        As `lines_across` takes them.
    places : ndarray of float64, shape (4, edges)
        Row, column, and direction towards the light, down and right.
    out : ndarray of float64, shape (positions,)
        Pixels towards the light.
    on : ndarray of float64, shape (lines,)
        Pixels along the edge.

    Returns
    -------
    ndarray of float32, shape (edges, lines, positions)
    """
    rows, columns, down, across = places[:, :, None, None]
    on = on[:, None]
    sampled = scipy.ndimage.map_coordinates(
        values,
        [rows + out * down - on * across, columns + out * across + on * down],
        order=order,
        prefilter=False,
        output=np.float32,
        mode="nearest",
    )
    return np.asarray(sampled)


def sides(
    profiles: NDArray[np.floating], position: Floats, even_from: float
) -> tuple[Floats, Floats, Floats]:
    """
    Even tones on both sides of edges.

    Parameters
    ----------
    profiles : ndarray of float, shape (..., positions)
        From the dark side to the light one.
    even_from : float
        Distance from the middle beyond which tone is even.

    Returns
    -------
    tuple of ndarray, shape (...)
        Tone of the dark side and of the light one, and how far either wanders.
    """
    dark, light = (
        profiles[..., beyond]
        for beyond in (position <= -even_from, position >= even_from)
    )
    wander = np.maximum(np.ptp(dark, axis=-1), np.ptp(light, axis=-1))
    return dark.mean(axis=-1), light.mean(axis=-1), wander


def is_straight(down: Picture, across: Picture, both: Picture) -> NDArray[np.bool_]:
    """
    Whether the gradient near a place points one way, as along a straight edge.

    Parameters
    ----------
    down, across, both : ndarray of float32
        Local means of the squares of its parts, and of their product.
    """
    along = np.hypot(down - across, 2 * both)
    return np.asarray(along >= LEAST_STRAIGHTNESS * (down + across))


def rise_px(edge: Floats, position_px: Floats) -> float:
    """
    Width of an edge from 10 to 90 % of its step.

    Parameters
    ----------
    edge : ndarray of float64, shape (positions,)
        From 0 on the dark side to 1 on the light one.
    position_px : ndarray of float64, shape (positions,)
        From `positions_px`.

    Returns
    -------
    float
        In the unit of the positions, between the places next to the middle.
    """
    middle = position_px.size // 2
    steps = [
        min(float(steps_to_level(side, 0.9)), middle)
        for side in (1 - edge[middle::-1], edge[middle:])
    ]
    return sum(steps) * float(position_px[1] - position_px[0])


def steps_to_level(rising: Floats, level: float) -> Floats:
    """
    Steps until curves first reach a level, by straight lines.

    Parameters
    ----------
    rising : ndarray of float64, shape (..., places)

    Returns
    -------
    ndarray of float64, shape (...)
        0 for a curve that begins there; infinite for one that never reaches it.
    """
    reached = rising >= level
    first = reached.argmax(axis=-1, keepdims=True)
    after = np.take_along_axis(rising, first, axis=-1)
    before = np.take_along_axis(rising, np.maximum(first - 1, 0), axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        steps = np.where(first > 0, first - 1 + (level - before) / (after - before), 0)
    return np.where(reached.any(axis=-1), steps[..., 0], inf)


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
