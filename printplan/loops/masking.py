"""Lightness changed, and linear channels with it, all by one factor."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.loops.light import clipped, light_of_lightness, lightness_along
from printplan.loops.machine_code import inlined, loop
from printplan.loops.smoothing import soften, soften_by_plane

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]

F = np.float32

LEEWAY_L = F(1e-3)
"""What single precision loses on the way is no halo: more than that, less than is seen.
Our choice."""


COLUMNS = 1024
"""What is made of a row is made of so many columns at once, row below row: what a blur
reads of the rows above is then in the second cache of any processor of these years."""

ROWS_OF_ROOM = 6
"""Rows of numbers on their way, each of `COLUMNS` and twice the reach."""


@inlined
def add_high_pass(
    before: Floats, soft: Floats, gain: float, floor_l: float, after: Floats
) -> None:
    """
    ``L + gain · H``, with ``H = L - soft`` less what is no larger than the grain.

    Parameters
    ----------
    before, soft : ndarray of float32, shape (columns,)
        Lightness, and lightness through the blur.
    gain, floor_l : float
        H counts nothing up to the floor, all from twice the floor.
    after : ndarray of float32, shape (columns,)
    """
    for column in range(after.size):
        high = before[column] - soft[column]
        if floor_l > F(0):
            size = high if high > F(0) else -high
            high *= clipped((size - floor_l) / floor_l)
        after[column] = before[column] + gain * high


@inlined
def hold_halo(
    around: Floats,
    row: int,
    left: int,
    reach: int,
    limit: float,
    room: Floats,
    after: Floats,
    least: Floats,
) -> None:
    """
    Hold lightness near the range of its surroundings, in place.

    Parameters
    ----------
    around : ndarray of float32, shape (source rows, source columns)
        Its outermost pixels are repeated beyond its edges.
    row, left : int
        The row in it, and the first column.
    reach : int
        The surroundings are the pixel and eight others, so far away.
    limit : float
        By how much of the range it may leave it.
    room : ndarray of float32, shape (2, columns + 2 · reach or more)
    after : ndarray of float32, shape (columns,)
    least : ndarray of float32, shape (columns,)
        Takes the least that was allowed.
    """
    columns = after.size
    height, width = around.shape
    darkest, lightest = room[0], room[1]
    middle = around[row]
    above, below = around[max(row - reach, 0)], around[min(row + reach, height - 1)]
    for place in range(columns + 2 * reach):
        column = min(max(left + place - reach, 0), width - 1)
        a, b, c = above[column], middle[column], below[column]
        low, high = (a, b) if a < b else (b, a)
        darkest[place] = c if c < low else low
        lightest[place] = c if c > high else high
    for column in range(columns):
        a, b = darkest[column], darkest[column + reach]
        c = darkest[column + 2 * reach]
        low = a if a < b else b
        low = c if c < low else low
        a, b = lightest[column], lightest[column + reach]
        c = lightest[column + 2 * reach]
        high = a if a > b else b
        high = c if c > high else high
        leeway = (high - low) * limit + LEEWAY_L
        low, high = low - leeway, high + leeway
        value = after[column] if after[column] > low else low
        after[column] = value if value < high else high
        least[column] = low


@inlined
def raise_middle(before: Floats, rise_l: float, after: Floats) -> None:
    """``L + 4 k x (1 - x)`` with x = L/100: the parabola that keeps both ends."""
    for column in range(after.size):
        share = before[column] * F(0.01)
        after[column] = before[column] + F(4) * rise_l * share * (F(1) - share)


@inlined
def factors(before: Floats, after: Floats) -> None:
    """
    Luminance after over luminance before, in the place of lightness after.

    Parameters
    ----------
    before, after : ndarray of float32, shape (columns,)
        Lightness; after counts from 0 to 100.
    """
    for column in range(after.size):
        value = after[column] if after[column] > F(0) else F(0)
        value = value if value < F(100) else F(100)
        after[column] = light_of_lightness(value) / light_of_lightness(before[column])


@inlined
def multiply(line: Floats, factor: Floats, into: Floats) -> None:
    """One channel by those factors, clipped to 0 to 1."""
    for column in range(into.size):
        into[column] = clipped(line[column] * factor[column])


@inlined
def multiply_or_add(
    line: Floats, before: Floats, factor: Floats, least: Floats, into: Floats
) -> None:
    """
    The same, but light is added where lightness was below the least that is allowed.

    No factor brings back what resampling's ringing took.
    """
    for column in range(into.size):
        value = line[column]
        held = clipped(value) + (
            light_of_lightness(before[column]) * (factor[column] - F(1))
        )
        rung = before[column] < least[column]
        into[column] = clipped(held if rung else value * factor[column])


@loop("float32[:,:,:] float32[:] float32 float32[:,:] float32[:,:,:]")
def lightened(
    light: Floats, weights: Floats, rise_l: float, room: Floats, out: Floats
) -> None:
    """
    All channels by one factor that raises the middle of lightness.

    Parameters
    ----------
    light : ndarray of float32, shape (channels, rows, columns)
        Linear light.
    weights : ndarray of float32, shape (channels,)
        Luminance of each channel.
    rise_l : float
        Rise at L* 50.
    room : ndarray of float32, shape (2, columns)
    out : ndarray of float32, shape (channels, rows, columns)
        May be the light itself.
    """
    channels, rows, _ = out.shape
    before, after = room[0], room[1]
    for row in range(rows):
        lightness_along(light, row, weights, before)
        raise_middle(before, rise_l, after)
        factors(before, after)
        for channel in range(channels):
            multiply(light[channel, row], after, out[channel, row])


@loop(
    "float32[:,:,:] float32[:,:] int64 int64 float32[:] float32[:,:] float32[:,:] "
    "float32 float32 float32[:,:] int64 float32 float32[:,:] float32[:,:,:]"
)
def sharpened(
    light: Floats,
    lightness: Floats,
    top: int,
    left: int,
    weights: Floats,
    plane: Floats,
    soft: Floats,
    gain: float,
    floor_l: float,
    around: Floats,
    reach: int,
    limit: float,
    room: Floats,
    out: Floats,
) -> None:
    """
    Unsharp masking of lightness; all channels are multiplied by one factor.

    Parameters
    ----------
    light : ndarray of float32, shape (channels, source rows, source columns)
    lightness : ndarray of float32, shape (source rows, source columns)
        Of that light.
    top, left : int
        Where the part begins in them.
    weights, plane : ndarray of float32
        Kernel of the blur, as for `printplan.loops.smoothing.blurred`.
    soft : ndarray of float32, shape (rows, columns) or (0, 0)
        Lightness through that blur, where it was kept.
    gain, floor_l : float
        As for `add_high_pass`.
    around : ndarray of float32, shape (source rows, source columns) or (0, 0)
        Lightness that halos are held to, as for `hold_halo`; none for no limit.
    reach : int
        Of those surroundings.
    limit : float
    room : ndarray of float32, shape (ROWS_OF_ROOM, COLUMNS + 2 · the longer reach)
    out : ndarray of float32, shape (channels, rows, columns)
        May be the light itself, if the part is all of it.
    """
    channels, rows, columns = out.shape
    spare, halos = room[0], room[1:3]
    for first in range(0, columns, COLUMNS):
        count = min(COLUMNS, columns - first)
        start, stop = left + first, left + first + count
        low, after, least = room[3, :count], room[4, :count], room[5, :count]
        for row in range(rows):
            at = top + row
            before = lightness[at, start:stop]
            if soft.size > 0:
                kept = soft[row, first : first + count]
                add_high_pass(before, kept, gain, floor_l, after)
            else:
                if plane.size > 0:
                    soften_by_plane(lightness, at, start, plane, low)
                else:
                    soften(lightness, at, start, weights, spare, low)
                add_high_pass(before, low, gain, floor_l, after)
            if around.size > 0:
                hold_halo(around, at, start, reach, limit, halos, after, least)
            factors(before, after)
            for channel in range(channels):
                line = light[channel, at, start:stop]
                into = out[channel, row, first : first + count]
                if around.size > 0:
                    multiply_or_add(line, before, after, least, into)
                else:
                    multiply(line, after, into)
