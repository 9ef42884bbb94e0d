"""What crosses a straight edge at one place?"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy import ndimage

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
    place : EdgePlace
    position_px : ndarray of float64, shape (positions,)
        From `positions_px`.

    Returns
    -------
    ndarray of float64, shape (positions,)
        By a cubic spline through the pixels, averaged over 17 pixels along the edge.
    """
    coefficients = ndimage.spline_filter(plane, order=3, output=np.float32)
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
    place : EdgePlace
    position : ndarray of float64, shape (positions,)
        Print pixels towards the light.
    order : {0, 3}, optional
        Of the spline; 0 reads the nearest pixel.

    Returns
    -------
    ndarray of float64, shape (17, positions)
    """
    down, across = place.towards_light
    on = ALONG[:, None]
    sampled = ndimage.map_coordinates(
        values,
        [
            place.row + position * down - on * across,
            place.column + position * across + on * down,
        ],
        order=order,
        prefilter=False,
        output=np.float32,
        mode="nearest",
    )
    return np.asarray(sampled, np.float64)


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
    low = _passed(1 - edge[middle::-1], 0.9)
    high = _passed(edge[middle:], 0.9)
    return (low + high) * float(position_px[1] - position_px[0])


def _passed(rising: Floats, level: float) -> float:
    """Steps until a curve first reaches a level, by straight lines; or its length."""
    beyond = np.flatnonzero(rising >= level)
    if beyond.size == 0:
        return float(rising.size - 1)
    index = int(beyond[0])
    if index == 0:
        return 0.0
    before, after = float(rising[index - 1]), float(rising[index])
    return index - 1 + (level - before) / (after - before)
