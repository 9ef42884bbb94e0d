"""What crosses a straight edge, and how wide is it?"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, inf
from typing import TYPE_CHECKING, Literal

import numpy as np
import scipy

from printplan.loops import sampling
from printplan.loops.memory import empty
from printplan.loops.threads import in_parts

if TYPE_CHECKING:
    from numpy.typing import NDArray

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
    values, places, out, on = map(np.ascontiguousarray, (values, places, out, on))
    sampled: Picture = empty((places.shape[1], on.size, out.size))

    def part(first: int, stop: int) -> None:
        sampling.sampled_across(values, places, out, on, order, first, stop, sampled)

    in_parts(part, places.shape[1], unit=on.size * out.size)
    return sampled


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
