"""Lightness changed, and linear channels with it, all by one factor."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.loops.light import clipped, light_of_lightness
from printplan.loops.machine_code import loop

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]

F = np.float32

LEEWAY_L = F(1e-3)
"""What single precision loses on the way is no halo: more than that, less than is seen.
Our choice."""


@loop("float32[:,:] int64 int64 float32[:,:] float32 float32 float32[:,:]")
def add_high_pass(
    lightness: Floats,
    top: int,
    left: int,
    soft: Floats,
    gain: float,
    floor_l: float,
    after: Floats,
) -> None:
    """
    ``L + gain · H``, with ``H = L - soft`` less what is no larger than the grain.

    Parameters
    ----------
    lightness : ndarray of float32, shape (source rows, source columns)
    top, left : int
        Where the part begins in it.
    soft : ndarray of float32, shape (rows, columns)
        Lightness through the blur.
    gain, floor_l : float
        H counts nothing up to the floor, all from twice the floor.
    after : ndarray of float32, shape (rows, columns)
    """
    rows, columns = after.shape
    for row in range(rows):
        before, low = lightness[top + row, left : left + columns], soft[row]
        out = after[row]
        for column in range(columns):
            high = before[column] - low[column]
            if floor_l > F(0):
                size = high if high > F(0) else -high
                high *= clipped((size - floor_l) / floor_l)
            out[column] = before[column] + gain * high


@loop(
    "float32[:,:] int64 int64 int64 float32 float32[:] float32[:] float32[:,:] "
    "float32[:,:]"
)
def hold_halo(
    around: Floats,
    top: int,
    left: int,
    reach: int,
    limit: float,
    darkest_above: Floats,
    lightest_above: Floats,
    after: Floats,
    darkest: Floats,
) -> None:
    """
    Hold lightness near the range of its surroundings, in place.

    Parameters
    ----------
    around : ndarray of float32, shape (source rows, source columns)
        Its outermost pixels are repeated beyond its edges.
    top, left : int
        Where the part begins in it.
    reach : int
        The surroundings are the pixel and eight others, so far away.
    limit : float
        By how much of the range it may leave it.
    darkest_above, lightest_above : ndarray of float32, shape (columns + 2 · reach,)
        Room.
    after : ndarray of float32, shape (rows, columns)
    darkest : ndarray of float32, shape (rows, columns)
        Takes the least that was allowed.
    """
    rows, columns = after.shape
    height, width = around.shape
    for row in range(rows):
        middle = around[top + row]
        above = around[max(top + row - reach, 0)]
        below = around[min(top + row + reach, height - 1)]
        for place in range(columns + 2 * reach):
            column = min(max(left + place - reach, 0), width - 1)
            a, b, c = above[column], middle[column], below[column]
            low, high = (a, b) if a < b else (b, a)
            darkest_above[place] = c if c < low else low
            lightest_above[place] = c if c > high else high
        out, least = after[row], darkest[row]
        for column in range(columns):
            a, b = darkest_above[column], darkest_above[column + reach]
            c = darkest_above[column + 2 * reach]
            low = a if a < b else b
            low = c if c < low else low
            a, b = lightest_above[column], lightest_above[column + reach]
            c = lightest_above[column + 2 * reach]
            high = a if a > b else b
            high = c if c > high else high
            room = (high - low) * limit + LEEWAY_L
            low, high = low - room, high + room
            value = out[column] if out[column] > low else low
            out[column] = value if value < high else high
            least[column] = low


@loop("float32[:,:] float32 float32[:,:]")
def raise_middle(lightness: Floats, rise_l: float, after: Floats) -> None:
    """``L + 4 k x (1 - x)`` with x = L/100: the parabola that keeps both ends."""
    rows, columns = after.shape
    for row in range(rows):
        before, out = lightness[row], after[row]
        for column in range(columns):
            share = before[column] * F(0.01)
            out[column] = before[column] + F(4) * rise_l * share * (F(1) - share)


@loop(
    "float32[:,:,:] float32[:,:] int64 int64 float32[:,:] float32[:,:] float32[:] "
    "float32[:,:,:]"
)
def give_lightness(
    light: Floats,
    lightness: Floats,
    top: int,
    left: int,
    after: Floats,
    darkest: Floats,
    factor: Floats,
    out: Floats,
) -> None:
    """
    Multiply all channels by luminance after over luminance before; clip to 0 to 1.

    Parameters
    ----------
    light : ndarray of float32, shape (channels, source rows, source columns)
    lightness : ndarray of float32, shape (source rows, source columns)
        Of that light.
    top, left : int
        Where the part begins in them.
    after : ndarray of float32, shape (rows, columns)
        Lightness that is wanted; counts from 0 to 100.
    darkest : ndarray of float32, shape (rows, columns) or (0, 0)
        Where lightness was below it, light is added instead: no factor brings back
        what resampling's ringing took.
    factor : ndarray of float32, shape (columns,)
        Room.
    out : ndarray of float32, shape (channels, rows, columns)
        May be the light itself.
    """
    channels, rows, columns = out.shape
    has_darkest = darkest.size > 0
    for row in range(rows):
        before, wanted = lightness[top + row, left : left + columns], after[row]
        for column in range(columns):
            value = wanted[column] if wanted[column] > F(0) else F(0)
            value = value if value < F(100) else F(100)
            factor[column] = light_of_lightness(value) / light_of_lightness(
                before[column]
            )
        for channel in range(channels):
            line, into = light[channel, top + row, left : left + columns], out[channel]
            into = into[row]
            if has_darkest:
                least = darkest[row]
                for column in range(columns):
                    value = line[column]
                    held = clipped(value) + (
                        light_of_lightness(before[column]) * (factor[column] - F(1))
                    )
                    rung = before[column] < least[column]
                    into[column] = clipped(held if rung else value * factor[column])
            else:
                for column in range(columns):
                    into[column] = clipped(line[column] * factor[column])
