"""Values between pixels: the nearest, or those of a cubic spline."""

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
def within(place: Double, length: int) -> Double:
    """The place, or the first or last pixel's if it lies beyond."""
    return Double(min(max(place, 0.0), length - 1.0))


@inlined
def mirrored(pixel: int, length: int) -> int:
    """A pixel's number, counted back from the first and the last one beyond them."""
    if pixel < 0:
        pixel = -pixel
    if pixel > length - 1:
        pixel = 2 * (length - 1) - pixel
    return max(pixel, 0)


@inlined
def inner(away: Double) -> Double:
    """Cubic B-spline up to 1 pixel away, times 6."""
    return 4 - 6 * away * away + 3 * away * away * away


@inlined
def outer(beyond: Double) -> Double:
    """Cubic B-spline beyond 1 pixel, up to 2, times 6."""
    left = 1 - beyond
    return left * left * left


@inlined
def in_row(
    row: Picture, left: int, a: Double, b: Double, c: Double, d: Double
) -> Double:
    """Sum over four pixels of a row, of which the second is named."""
    near = a * row[mirrored(left - 1, row.size)] + b * row[left]
    far = c * row[mirrored(left + 1, row.size)] + d * row[mirrored(left + 2, row.size)]
    return Double(near + far)


@inlined
def nearest(values: Picture, y: Double, x: Double) -> Double:
    """The nearest pixel's value."""
    return Double(values[int(y + 0.5), int(x + 0.5)])


@inlined
def spline(values: Picture, y: Double, x: Double) -> Double:
    """
    Value of a cubic spline by its coefficients, which are mirrored beyond its edges.

    M. Unser 1999, "Splines: a perfect fit for signal and image processing", IEEE Signal
    Processing Magazine 16(6), 22-38.
    """
    rows, top, left = values.shape[0], int(y), int(x)
    u, t = y - top, x - left
    a, b, c, d = outer(t), inner(t), inner(1 - t), outer(1 - t)
    above = in_row(values[mirrored(top - 1, rows)], left, a, b, c, d)
    here = in_row(values[top], left, a, b, c, d)
    below = in_row(values[mirrored(top + 1, rows)], left, a, b, c, d)
    last = in_row(values[mirrored(top + 2, rows)], left, a, b, c, d)
    upper = outer(u) * above + inner(u) * here
    lower = inner(1 - u) * below + outer(1 - u) * last
    return Double((upper + lower) / 36)


@loop(
    "float32[:,:] float64[:,:] float64[:] float64[:] int64 int64 int64 float32[:,:,:]"
)
def sampled_across(
    values: Picture,
    places: Floats,
    out: Floats,
    on: Floats,
    order: int,
    first: int,
    stop: int,
    sampled: Picture,
) -> None:
    """
    Values on lines that cross edges.

    Parameters
    ----------
    values : ndarray of float32, shape (rows, columns)
        Pixels, or the coefficients of their spline.
    places : ndarray of float64, shape (4, edges)
        Row, column, and direction across, down and right, of length 1.
    out : ndarray of float64, shape (positions,)
        Pixels across the edge.
    on : ndarray of float64, shape (lines,)
        Pixels along it.
    order : int
        0 for the nearest pixel, 3 for the spline.
    first, stop : int
        Edges to sample: the first, and the first one behind them.
    sampled : ndarray of float32, shape (edges, lines, positions)
        Takes the values.
    """
    rows, columns = values.shape
    for edge in range(first, stop):
        row, column = places[0, edge], places[1, edge]
        down, right = places[2, edge], places[3, edge]
        for line in range(on.size):
            for place in range(out.size):
                y = within(row + out[place] * down - on[line] * right, rows)
                x = within(column + out[place] * right + on[line] * down, columns)
                value = spline(values, y, x) if order == 3 else nearest(values, y, x)
                sampled[edge, line, place] = value
