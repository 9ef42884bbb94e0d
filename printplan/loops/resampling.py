"""Weighted sums of a few source pixels for each print pixel: down, then across."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.loops.machine_code import loop

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Whole = NDArray[np.int64]

F, U = np.float32, np.uint64

LANES = 8
"""Rows that are worked on side by side, in one register of most processors."""


@loop("float32[:,:] int64[:] float32[:,:] float32[:,:]")
def down(source: Floats, first: Whole, weights: Floats, out: Floats) -> None:
    """
    Sum of some source rows for each row.

    Parameters
    ----------
    source : ndarray of float32, shape (source rows, columns)
    first : ndarray of int64, shape (rows,)
        First source row of each.
    weights : ndarray of float32, shape (rows, taps)
        Of that row and those below it, summed in this order.
    out : ndarray of float32, shape (rows, columns)
    """
    rows, columns = out.shape
    taps = weights.shape[1]
    for row in range(rows):
        sums, line, weight = out[row], source[first[row]], weights[row, 0]
        for column in range(columns):
            sums[column] = weight * line[column]
        for tap in range(1, taps):
            line, weight = source[first[row] + tap], weights[row, tap]
            for column in range(columns):
                sums[column] += weight * line[column]


@loop("float32[:,:] int64[:] float32[:,:] float32[:] float32[:] float32[:,:]")
def across(
    source: Floats,
    first: Whole,
    weights: Floats,
    turned: Floats,
    turned_out: Floats,
    out: Floats,
) -> None:
    """
    Sum of some source columns for each column.

    Parameters
    ----------
    source : ndarray of float32, shape (rows, source columns)
    first : ndarray of int64, shape (columns,)
    weights : ndarray of float32, shape (columns, taps)
    turned : ndarray of float32, shape (source columns · LANES,)
        Room for eight rows laid beside each other.
    turned_out : ndarray of float32, shape (columns · LANES,)
    out : ndarray of float32, shape (rows, columns)
    """
    rows, columns = out.shape
    taps = weights.shape[1]
    for top in range(0, rows, LANES):
        some = min(LANES, rows - top)
        for lane in range(some):
            line = source[top + lane]
            for column in range(source.shape[1]):
                turned[U(column) * U(LANES) + U(lane)] = line[column]
        for column in range(columns):
            at = U(first[column]) * U(LANES)
            weight = weights[column]
            a = b = c = d = e = f = g = h = F(0)
            for tap in range(taps):
                w = weight[tap]
                a += w * turned[at]
                b += w * turned[at + U(1)]
                c += w * turned[at + U(2)]
                d += w * turned[at + U(3)]
                e += w * turned[at + U(4)]
                f += w * turned[at + U(5)]
                g += w * turned[at + U(6)]
                h += w * turned[at + U(7)]
                at += U(LANES)
            to = U(column) * U(LANES)
            turned_out[to], turned_out[to + U(1)] = a, b
            turned_out[to + U(2)], turned_out[to + U(3)] = c, d
            turned_out[to + U(4)], turned_out[to + U(5)] = e, f
            turned_out[to + U(6)], turned_out[to + U(7)] = g, h
        for lane in range(some):
            line = out[top + lane]
            for column in range(columns):
                line[column] = turned_out[U(column) * U(LANES) + U(lane)]


@loop(
    "float32[:,:] int64[:] int64[:] int64[:] int64[:] float32 float32[:] float32[:,:]"
)
def farthest_near(
    source: Floats,
    top: Whole,
    bottom: Whole,
    left: Whole,
    right: Whole,
    sign: float,
    spare: Floats,
    out: Floats,
) -> None:
    """
    Greatest, or least, of the rectangle of source pixels near each pixel.

    Parameters
    ----------
    source : ndarray of float32, shape (source rows, source columns)
    top, bottom : ndarray of int64, shape (rows,)
        First and last source row of each row.
    left, right : ndarray of int64, shape (columns,)
        First and last source column of each column.
    sign : float
        1 for the greatest, -1 for the least.
    spare : ndarray of float32, shape (source columns,)
        Room.
    out : ndarray of float32, shape (rows, columns)
    """
    rows, columns = out.shape
    for row in range(rows):
        line, found = source[top[row]], out[row]
        for column in range(spare.size):
            spare[column] = sign * line[column]
        for further in range(top[row] + 1, bottom[row] + 1):
            line = source[further]
            for column in range(spare.size):
                value = sign * line[column]
                spare[column] = value if value > spare[column] else spare[column]
        for column in range(columns):
            most = spare[left[column]]
            for further in range(left[column] + 1, right[column] + 1):
                most = spare[further] if spare[further] > most else most
            found[column] = sign * most
