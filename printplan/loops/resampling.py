"""Weighted sums of a few source pixels for each print pixel: down, then across."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.loops.machine_code import inlined, loop

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Whole = NDArray[np.int64]

F, U = np.float32, np.uint64

LANES = 8
"""Rows that are worked on side by side, in one register of most processors."""


@inlined
def add_up(source: Floats, first: int, weights: Floats, sums: Floats) -> None:
    """
    Sum of some rows, each by its weight, added in their order.

    Three go in at a time: a sum that waits in a register is stored a third as often.
    """
    taps, columns = weights.size, sums.size
    for tap in range(0, taps - 2, 3):
        a, b = source[first + tap], source[first + tap + 1]
        c = source[first + tap + 2]
        u, v, w = weights[tap], weights[tap + 1], weights[tap + 2]
        if tap == 0:
            for column in range(columns):
                sums[column] = u * a[column] + v * b[column] + w * c[column]
        else:
            for column in range(columns):
                sums[column] = (
                    sums[column] + u * a[column] + v * b[column] + w * c[column]
                )
    for tap in range(taps - taps % 3, taps):
        line, weight = source[first + tap], weights[tap]
        for column in range(columns):
            before = sums[column] if tap > 0 else F(0)
            sums[column] = before + weight * line[column]


@inlined
def turn(few: Floats, turned: Floats) -> None:
    """Lay eight rows beside each other; all eight at a time become vectors."""
    a, b, c, d = few[0], few[1], few[2], few[3]
    e, f, g, h = few[4], few[5], few[6], few[7]
    for column in range(few.shape[1]):
        to = U(column) * U(LANES)
        turned[to], turned[to + U(1)] = a[column], b[column]
        turned[to + U(2)], turned[to + U(3)] = c[column], d[column]
        turned[to + U(4)], turned[to + U(5)] = e[column], f[column]
        turned[to + U(6)], turned[to + U(7)] = g[column], h[column]


@inlined
def turn_back(turned: Floats, rows: Floats) -> None:
    """The inverse of `turn`."""
    a, b, c, d = rows[0], rows[1], rows[2], rows[3]
    e, f, g, h = rows[4], rows[5], rows[6], rows[7]
    for column in range(rows.shape[1]):
        at = U(column) * U(LANES)
        a[column], b[column] = turned[at], turned[at + U(1)]
        c[column], d[column] = turned[at + U(2)], turned[at + U(3)]
        e[column], f[column] = turned[at + U(4)], turned[at + U(5)]
        g[column], h[column] = turned[at + U(6)], turned[at + U(7)]


@loop(
    "float32[:,:] int64[:] float32[:,:] int64[:] float32[:,:] float32[:,:] float32[:] "
    "float32[:] float32[:,:]"
)
def resampled(
    source: Floats,
    first_row: Whole,
    down: Floats,
    first_column: Whole,
    across: Floats,
    few: Floats,
    turned: Floats,
    turned_out: Floats,
    out: Floats,
) -> None:
    """
    Sum of some source rows for each row, then of some columns for each column.

    Parameters
    ----------
    source : ndarray of float32, shape (source rows, source columns)
    first_row : ndarray of int64, shape (rows,)
        First source row of each.
    down : ndarray of float32, shape (rows, taps)
        Weights of that row and those below it, summed in this order.
    first_column : ndarray of int64, shape (columns,)
    across : ndarray of float32, shape (columns, taps)
        The same of columns.
    few : ndarray of float32, shape (LANES, source columns)
        Room for eight rows on their way.
    turned : ndarray of float32, shape (source columns · LANES,)
        Room for the same, laid beside each other.
    turned_out : ndarray of float32, shape (columns · LANES,)
    out : ndarray of float32, shape (rows, columns)
    """
    rows, columns = out.shape
    taps = across.shape[1]
    for top in range(0, rows, LANES):
        some = min(LANES, rows - top)
        for lane in range(some):
            line = few[lane]
            add_up(source, first_row[top + lane], down[top + lane], line)
        turn(few, turned)
        for column in range(columns):
            at = U(first_column[column]) * U(LANES)
            weight = across[column]
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
        if some == LANES:
            turn_back(turned_out, out[top : top + LANES])
        else:
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
