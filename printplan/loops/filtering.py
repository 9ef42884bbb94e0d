"""A plane through an even or an odd kernel, in double precision."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.loops.machine_code import inlined, loop

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Picture = NDArray[np.float32]

Double = np.float64


@inlined
def add_pair(
    sums: Floats, weight: Double, sign: Double, before: Picture, after: Picture
) -> None:
    """Pixels as far on one side as on the other."""
    for i in range(sums.size):
        sums[i] += weight * (Double(before[i]) + sign * Double(after[i]))


@loop("float32[:,:] float64[:] int64 int64 int64 int64 float64[:] float32[:,:]")
def filtered(
    padded: Picture,
    weights: Floats,
    sign: int,
    down: int,
    first: int,
    stop: int,
    sums: Floats,
    into: Picture,
) -> None:
    """
    Some rows of a plane through a kernel along columns or rows.

    Parameters
    ----------
    padded : ndarray of float32
        With as many more pixels on either side, along the kernel, as it reaches.
    weights : ndarray of float64, shape (reach + 1,)
        Of the pixel itself, and of those before it, the nearest first. They are added
        up from the farthest inwards.
    sign : int
        1 if those behind it have the same weights, -1 if the opposite ones.
    down : int
        1 along columns, 0 along rows.
    first, stop : int
        Rows: the first, and the first one behind them.
    sums : ndarray of float64, shape (columns,)
        Room.
    into : ndarray of float32, shape (rows, columns)
        Takes the sums, rounded.
    """
    columns, reach, right = into.shape[1], weights.size - 1, 1 - down
    for row in range(first, stop):
        at = right * reach
        own = padded[row + down * reach, at : at + columns]
        for column in range(columns):
            sums[column] = weights[0] * Double(own[column])
        for step in range(reach, 0, -1):
            low, high = reach - step, reach + step
            before = padded[row + down * low, right * low : right * low + columns]
            after = padded[row + down * high, right * high : right * high + columns]
            add_pair(sums, weights[step], Double(sign), before, after)
        for column in range(columns):
            into[row, column] = sums[column]
