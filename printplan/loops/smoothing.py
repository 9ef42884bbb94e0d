"""Lightness through a blur: along columns, then along rows, or by a plane."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.loops.machine_code import inlined, loop

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]

F = np.float32


@inlined
def add_two(
    sums: Floats, weights: Floats, a: Floats, b: Floats, c: Floats, d: Floats
) -> None:
    """Two steps outwards at once: a sum that waits in a register is stored once."""
    near, far = weights[0], weights[1]
    for i in range(sums.size):
        sums[i] = (sums[i] + near * (a[i] + b[i])) + far * (c[i] + d[i])


@inlined
def soften(
    source: Floats, row: int, left: int, weights: Floats, spare: Floats, sums: Floats
) -> None:
    """
    Some columns of a row through the same symmetric kernel both ways.

    Parameters
    ----------
    source : ndarray of float32, shape (source rows, source columns)
        Its outermost pixels are repeated beyond its edges.
    row, left : int
        The row, and the first of its columns that is wanted.
    weights : ndarray of float32, shape (reach + 1,)
        Of the pixel itself and those on either side, the nearest first. Both sides are
        added up before they are weighted, from the middle outwards.
    spare : ndarray of float32, shape (columns + 2 · reach,)
        Room.
    sums : ndarray of float32, shape (columns,)
    """
    columns, reach = sums.size, weights.size - 1
    height, width = source.shape
    start = max(left - reach, 0)
    stop = min(left + columns + reach, width)
    shift = start - (left - reach)
    middle = source[row, start:stop]
    into = spare[shift : shift + stop - start]
    for column in range(into.size):
        into[column] = weights[0] * middle[column]
    for step in range(1, reach, 2):
        a = source[max(row - step, 0), start:stop]
        b = source[min(row + step, height - 1), start:stop]
        c = source[max(row - step - 1, 0), start:stop]
        d = source[min(row + step + 1, height - 1), start:stop]
        add_two(into, weights[step : step + 2], a, b, c, d)
    if reach % 2 == 1:
        above = source[max(row - reach, 0), start:stop]
        below = source[min(row + reach, height - 1), start:stop]
        for column in range(into.size):
            into[column] += weights[reach] * (above[column] + below[column])
    for column in range(shift):
        spare[column] = spare[shift]
    last = shift + stop - start
    for column in range(last, columns + 2 * reach):
        spare[column] = spare[last - 1]
    own = spare[reach : reach + columns]
    for column in range(columns):
        sums[column] = weights[0] * own[column]
    for step in range(1, reach, 2):
        a = spare[reach - step : reach - step + columns]
        b = spare[reach + step : reach + step + columns]
        c = spare[reach - step - 1 : reach - step - 1 + columns]
        d = spare[reach + step + 1 : reach + step + 1 + columns]
        add_two(sums, weights[step : step + 2], a, b, c, d)
    if reach % 2 == 1:
        before, behind = spare[:columns], spare[2 * reach : 2 * reach + columns]
        for column in range(columns):
            sums[column] += weights[reach] * (before[column] + behind[column])


@inlined
def soften_by_plane(
    source: Floats, row: int, left: int, weights: Floats, sums: Floats
) -> None:
    """
    The same through a kernel of the plane, row by row from its top left.

    Parameters
    ----------
    weights : ndarray of float32, shape (2 · reach + 1, 2 · reach + 1)
    """
    columns, reach = sums.size, weights.shape[0] // 2
    height, width = source.shape
    for column in range(columns):
        sums[column] = F(0)
    for down in range(-reach, reach + 1):
        line = source[min(max(row + down, 0), height - 1)]
        for along in range(-reach, reach + 1):
            weight = weights[down + reach, along + reach]
            first = min(max(-(left + along), 0), columns)
            last = max(min(width - left - along, columns), first)
            for column in range(first):
                sums[column] += weight * line[0]
            part = line[left + along + first : left + along + last]
            inner = sums[first:last]
            for column in range(inner.size):
                inner[column] += weight * part[column]
            for column in range(last, columns):
                sums[column] += weight * line[width - 1]


@loop("float32[:,:] int64 int64 float32[:] float32[:,:] float32[:] float32[:,:]")
def blurred(
    source: Floats,
    top: int,
    left: int,
    weights: Floats,
    plane: Floats,
    spare: Floats,
    out: Floats,
) -> None:
    """
    A part of a plane through a kernel.

    Parameters
    ----------
    source : ndarray of float32, shape (source rows, source columns)
    top, left : int
        Where the part begins in it.
    weights : ndarray of float32, shape (reach + 1,)
        As for `soften`.
    plane : ndarray of float32, shape (2 · reach + 1, 2 · reach + 1) or (0, 0)
        As for `soften_by_plane`, in place of the weights.
    spare : ndarray of float32, shape (columns + 2 · reach,)
    out : ndarray of float32, shape (rows, columns)
    """
    for row in range(out.shape[0]):
        if plane.size > 0:
            soften_by_plane(source, top + row, left, plane, out[row])
        else:
            soften(source, top + row, left, weights, spare, out[row])
