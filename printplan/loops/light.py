"""Linear light, CIE lightness and codes, pixel by pixel."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.loops.machine_code import inlined, loop

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Single = np.float32
    Plane = NDArray[np.float32]
    Codes = NDArray[np.uint8] | NDArray[np.uint16]

F = np.float32

KNEE_LIGHT, KNEE_F = (6 / 29) ** 3, 6 / 29
SLOPE, START, KAPPA = 841 / 108, 4 / 29, (29 / 3) ** 3
"""CIE 015:2018, 8.2.1: f(t) is the cube root above (6/29)³, else (841/108) t + 4/29;
L* = 116 f(Y) - 16, which below is (29/3)³ Y."""

DARKEST = F((0.5 / 65535) ** 2)
"""Least luminance that is reckoned with, so that a ratio to it is a number: half a step
of a scale of 65536 by its root. Our choice."""

_GUESS = np.uint32(0x54A21D2A)
_A_THIRD = F(1 / 3)


@inlined
def cube_root(x: Single) -> Single:
    """
    Cube root of a positive single precision number, to about its last bit.

    Notes
    -----
    The number's bits, as an integer, grow by its logarithm: a third of them, subtracted
    from a constant, are within 4 % of one over the root. Three of Newton's steps
    ``g ← g (4 − x g³) / 3`` leave 1e-9 of that (W. Kahan, K. C. Ng 1986, cbrt.c of
    4.3BSD, has the guess), with no division, so that processors do eight at once.
    """
    third = F(x).view(np.uint32) // np.uint32(3)
    g = np.uint32(_GUESS - third).view(np.float32)
    for _ in range(3):
        g = g * (F(4) - x * g * g * g) * _A_THIRD
    return x * g * g


@inlined
def clipped(value: Single) -> Single:
    """A number held to 0 to 1; 0 for what is none, so that no table is left."""
    value = value if value > F(0) else F(0)
    return value if value < F(1) else F(1)


@inlined
def f_of_light(light: Single) -> Single:
    """CIE's f of one of X, Y, Z over that of white."""
    root = cube_root(light if light > F(KNEE_LIGHT) else F(KNEE_LIGHT))
    line = F(SLOPE) * light + F(START)
    return root if light > F(KNEE_LIGHT) else line


@inlined
def light_of_f(f: Single) -> Single:
    """What has that f."""
    return f * f * f if f > F(KNEE_F) else (f - F(START)) * F(1 / SLOPE)


@inlined
def lightness_of(light: Single) -> Single:
    """CIE lightness of luminance: ``116 f - 16``, a multiple of it up to L* 8."""
    light = light if light > DARKEST else DARKEST
    light = light if light < F(1) else F(1)
    root = cube_root(light if light > F(KNEE_LIGHT) else F(KNEE_LIGHT))
    cubic = F(116) * root - F(16)
    return cubic if light > F(KNEE_LIGHT) else F(KAPPA) * light


@inlined
def light_of_lightness(lightness: Single) -> Single:
    """Luminance of L*."""
    f = (lightness + F(16)) * F(1 / 116)
    return f * f * f if lightness > F(8) else lightness * F(1 / KAPPA)


@loop(
    "uint8[:] int64 int64 int64 float32[:,:] float32[:,:,:]",
    "uint16[:] int64 int64 int64 float32[:,:] float32[:,:,:]",
)
def light_of_codes(
    codes: Codes,
    channel_step: int,
    row_step: int,
    column_step: int,
    tables: Plane,
    out: Plane,
) -> None:
    """
    Linear light of stored numbers, by a table for each channel.

    Parameters
    ----------
    codes : ndarray of uint8 or uint16, shape (numbers,)
    channel_step, row_step, column_step : int
        From one number to the next of the kind.
    tables : ndarray of float32, shape (channels, codes that there can be)
    out : ndarray of float32, shape (channels, rows, columns)
    """
    channels, rows, columns = out.shape
    for channel in range(channels):
        table = tables[channel]
        for row in range(rows):
            into = out[channel, row]
            at = np.uint64(channel * channel_step + row * row_step)
            for column in range(columns):
                into[column] = table[codes[at]]
                at += np.uint64(column_step)


@inlined
def means_along(strip: Plane, rows: int, factor: int, into: Plane) -> None:
    """
    Means over a row of square cells, of the sums along their columns.

    Parameters
    ----------
    strip : ndarray of float32, shape (columns of the picture,)
        Sums of so many rows.
    rows : int
    factor : int
        Columns of a cell; the last one may be cut.
    into : ndarray of float32, shape (cells,)
    """
    whole = strip.size // factor
    share = np.float64(1) / np.float64(rows * factor)
    if factor == 2:  # the two in one turn, or they do not become vectors
        for cell in range(whole):
            at = np.uint64(2) * np.uint64(cell)
            total = np.float64(strip[at]) + np.float64(strip[at + np.uint64(1)])
            into[cell] = F(total * share)
    else:
        for cell in range(whole):
            at = np.uint64(factor) * np.uint64(cell)
            total = np.float64(0)
            for _ in range(factor):
                total += np.float64(strip[at])
                at += np.uint64(1)
            into[cell] = F(total * share)
    if whole < into.size:
        total = np.float64(0)
        for column in range(whole * factor, strip.size):
            total += np.float64(strip[column])
        into[whole] = F(total / np.float64(rows * (strip.size - whole * factor)))


@loop("float32[:,:,:] int64 float32[:] int64 float32[:,:,:]")
def cell_means(light: Plane, factor: int, strip: Plane, top: int, out: Plane) -> None:
    """
    Means of linear light over square cells from the top left of a part of a picture.

    Parameters
    ----------
    light : ndarray of float32, shape (channels, rows, columns)
        Of whole rows of the picture.
    factor : int
        Edge of a cell; the last ones may be cut.
    strip : ndarray of float32, shape (columns,)
        Room.
    top : int
        First row of cells.
    out : ndarray of float32, shape (channels, rows of cells, columns of cells)
        Of the whole picture.
    """
    channels, rows, columns = light.shape
    for channel in range(channels):
        for down in range((rows + factor - 1) // factor):
            first, last = down * factor, min((down + 1) * factor, rows)
            for column in range(columns):
                strip[column] = F(0)
            for row in range(first, last):
                line = light[channel, row]
                for column in range(columns):
                    strip[column] += line[column]
            means_along(strip, last - first, factor, out[channel, top + down])


@inlined
def add_row(codes: Codes, step: int, table: Plane, strip: Plane) -> None:
    """Adds the light of a row of codes that lie so far apart."""
    for column in range(strip.size):
        strip[column] += table[codes[np.uint64(column) * np.uint64(step)]]


@inlined
def means_of_fours(
    codes: Codes, row_step: int, step: int, table: Plane, columns: int, into: Plane
) -> None:
    """Cells of two pixels by two: the same sums, of which no row is kept."""
    below, one = codes[row_step:], np.uint64(step)
    for cell in range(columns // 2):
        at = np.uint64(2) * np.uint64(cell) * one
        left = table[codes[at]] + table[below[at]]
        right = table[codes[at + one]] + table[below[at + one]]
        into[cell] = F((np.float64(left) + np.float64(right)) * np.float64(0.25))
    if columns // 2 < into.size:
        at = np.uint64(columns - 1) * one
        left = table[codes[at]] + table[below[at]]
        into[columns // 2] = F(np.float64(left) * np.float64(0.5))


@loop(
    "uint8[:] int64 int64 int64 float32[:,:] int64 int64 float32[:] int64 "
    "float32[:,:,:]",
    "uint16[:] int64 int64 int64 float32[:,:] int64 int64 float32[:] int64 "
    "float32[:,:,:]",
)
def cell_means_of_codes(
    codes: Codes,
    channel_step: int,
    row_step: int,
    column_step: int,
    tables: Plane,
    rows: int,
    factor: int,
    strip: Plane,
    top: int,
    out: Plane,
) -> None:
    """
    The same of stored numbers.

    Parameters
    ----------
    codes, channel_step, row_step, column_step, tables
        As for `light_of_codes`.
    rows : int
        Of the part.
    """
    columns = strip.size
    for channel in range(out.shape[0]):
        table = tables[channel]
        for down in range((rows + factor - 1) // factor):
            first, last = down * factor, min((down + 1) * factor, rows)
            into = out[channel, top + down]
            at = channel * channel_step + first * row_step
            if factor == 2 and last - first == 2:
                line = codes[at:]
                if column_step == 3:  # known where it is compiled: a quarter quicker
                    means_of_fours(line, row_step, 3, table, columns, into)
                else:
                    means_of_fours(line, row_step, column_step, table, columns, into)
                continue
            for column in range(columns):
                strip[column] = F(0)
            for _ in range(first, last):
                add_row(codes[at:], column_step, table, strip)
                at += row_step
            means_along(strip, last - first, factor, into)


@inlined
def lightness_along(light: Plane, row: int, weights: Plane, into: Plane) -> None:
    """
    CIE lightness L* of the luminance of a row of linear channels.

    Parameters
    ----------
    light : ndarray of float32, shape (channels, rows, columns)
    weights : ndarray of float32, shape (channels,)
    into : ndarray of float32, shape (columns,)
    """
    first = light[0, row]
    for column in range(into.size):
        into[column] = first[column] * weights[0]
    for channel in range(1, light.shape[0]):
        line, weight = light[channel, row], weights[channel]
        for column in range(into.size):
            into[column] += line[column] * weight
    for column in range(into.size):
        into[column] = lightness_of(into[column])


@loop("float32[:,:,:] float32[:] float32[:,:]")
def lightness_of_light(light: Plane, weights: Plane, out: Plane) -> None:
    """The same of all rows."""
    for row in range(out.shape[0]):
        lightness_along(light, row, weights, out[row])
