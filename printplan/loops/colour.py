"""A colour conversion, step by step, over blocks of pixels that fit a cache."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.loops.light import clipped, f_of_light, light_of_f
from printplan.loops.machine_code import inlined, loop

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.loops.light import Single

    Floats = NDArray[np.float32]
    Codes = NDArray[np.uint16]
    Cells = NDArray[np.int32]
    Whole = NDArray[np.int64]
    Place = np.uint64
    Places = tuple[Place, Place, Place]

F, U = np.float32, np.uint64

BLOCK = 2048
"""Pixels that go through all steps before the next do: what they need, some 150 kB, is
then in the second cache of any processor of these years. Our choice."""

NEAREST, FARTHEST = F(2.0**-36), F(16 - 2.0**-19)
_BITS_BETWEEN = np.int32(14)
_MASK = np.int32(2**14 - 1)
_NEAREST_BITS = NEAREST.view(np.int32)

OCTAVE_ENTRIES = 2 * (2 + 40 * 512)
"""For curves by octave."""

LANES = 4
"""Outputs of a table that are read side by side."""

STEP_NUMBERS = 7

MATRIX, CURVES, CURVES_BY_OCTAVE, F_OF_LIGHT, LIGHT_OF_F = range(5)
TRILINEAR, TETRAHEDRAL = 5, 6
"""Kinds of steps. A step is a row of numbers: kind, where its own numbers begin, then

- matrix: nothing more; nine numbers row by row, then an offset of three,
- curves: channels, entries of each,
- tables: points along three axes, outputs; groups of four outputs, one whole table
  behind the other, each with the third axis running fastest. Last, points along an axis
  before these, or 0: one table of three axes stands behind the other then, and there
  are four outputs at most."""


def octave_places() -> NDArray[np.float64]:
    """
    Numbers that curves by octave have an entry for.

    Returns
    -------
    ndarray of float64, shape (OCTAVE_ENTRIES,)
        0, then 512 in each octave from 2^-36 to 16; then the same below 0.
    """
    first, last = int(_NEAREST_BITS), int(F(16).view(np.int32))
    bits = np.arange(first, last + 1, int(_MASK) + 1, dtype=np.int32)
    above = np.concatenate([[0.0], bits.view(np.float32).astype(np.float64)])
    return np.concatenate([above, -above])


@inlined
def matrix(numbers: Floats, at: int, planes: Floats, count: int) -> None:
    """Three channels by a matrix and an offset."""
    x, y, z = planes[0], planes[1], planes[2]
    a, b, c = numbers[at], numbers[at + 1], numbers[at + 2]
    d, e, f = numbers[at + 3], numbers[at + 4], numbers[at + 5]
    g, h, k = numbers[at + 6], numbers[at + 7], numbers[at + 8]
    first, second, third = numbers[at + 9], numbers[at + 10], numbers[at + 11]
    for i in range(count):
        u, v, w = x[i], y[i], z[i]
        x[i] = a * u + b * v + c * w + first
        y[i] = d * u + e * v + f * w + second
        z[i] = g * u + h * v + k * w + third


@inlined
def between(own: Floats, cell: Cells, share: Floats, line: Floats, count: int) -> None:
    """Straight between two entries of a curve that follow each other."""
    for i in range(count):
        at = U(cell[i])
        low = own[at]
        line[i] = low + share[i] * (own[at + U(1)] - low)


@inlined
def curves(
    numbers: Floats,
    at: int,
    channels: int,
    entries: int,
    planes: Floats,
    share: Floats,
    cell: Cells,
    count: int,
) -> None:
    """A curve for each channel, straight between evenly spaced entries over 0 to 1."""
    last, top = F(entries - 1), np.int32(entries - 2)
    for channel in range(channels):
        line = planes[channel]
        for i in range(count):
            place = clipped(line[i]) * last
            below = np.int32(place)
            below = below if below < top else top
            cell[i] = below
            share[i] = place - F(below)
        between(numbers[at + channel * entries :], cell, share, line, count)


@inlined
def curves_by_octave(
    numbers: Floats,
    at: int,
    channels: int,
    entries: int,
    planes: Floats,
    share: Floats,
    cell: Cells,
    count: int,
) -> None:
    """
    The same over -16 to 16, with entries at `octave_places`: dense near 0.

    An entry's place is read off the number's own bits.
    """
    half = np.int32(entries // 2)
    for channel in range(channels):
        line = planes[channel]
        for i in range(count):
            value = line[i]
            size = value if value > F(0) else -value
            size = size if size < FARTHEST else FARTHEST
            inner = size if size > NEAREST else NEAREST
            bits = F(inner).view(np.int32) - _NEAREST_BITS
            rest = F(bits & _MASK) * F(1 / (_MASK + 1))
            within = np.int32(bits >> _BITS_BETWEEN) + np.int32(1)
            below = within if size > NEAREST else np.int32(0)
            start = half if value < F(0) else np.int32(0)
            cell[i] = below + start
            share[i] = rest if size > NEAREST else size * (F(1) / NEAREST)
        between(numbers[at + channel * entries :], cell, share, line, count)


@inlined
def cells(
    points: int, step: int, line: Floats, share: Floats, cell: Cells, count: int
) -> None:
    """Adds where along one axis a value lies: its cell, and its share of the way on."""
    last, top = F(points - 1), np.int32(points - 2)
    for i in range(count):
        place = clipped(line[i]) * last
        below = np.int32(place)
        below = below if below < top else top
        share[i] = place - F(below)
        cell[i] += np.int32(below * np.int32(step))


@inlined
def trilinear(
    grid: Floats,
    at: Place,
    across: Place,
    down: Place,
    along: Place,
    x: Single,
    y: Single,
    z: Single,
) -> Single:
    """One output between the eight points of its cell."""
    c000, c001 = grid[at], grid[at + along]
    c010, c011 = grid[at + down], grid[at + down + along]
    at += across
    c100, c101 = grid[at], grid[at + along]
    c110, c111 = grid[at + down], grid[at + down + along]
    d00, d01 = c000 + z * (c001 - c000), c010 + z * (c011 - c010)
    d10, d11 = c100 + z * (c101 - c100), c110 + z * (c111 - c110)
    e0, e1 = d00 + y * (d01 - d00), d10 + y * (d11 - d10)
    return F(e0 + x * (e1 - e0))


@inlined
def read_trilinear(
    grid: Floats, steps: Places, shares: Floats, cell: Cells, four: Floats, count: int
) -> None:
    """Four outputs side by side, so that one load of a point serves them all."""
    across, down, along = steps
    x, y, z = shares[0], shares[1], shares[2]
    for i in range(count):
        at = U(cell[i])
        x_, y_, z_ = x[i], y[i], z[i]
        first = trilinear(grid, at, across, down, along, x_, y_, z_)
        second = trilinear(grid, at + U(1), across, down, along, x_, y_, z_)
        third = trilinear(grid, at + U(2), across, down, along, x_, y_, z_)
        fourth = trilinear(grid, at + U(3), across, down, along, x_, y_, z_)
        lane = U(LANES) * U(i)
        four[lane], four[lane + U(1)] = first, second
        four[lane + U(2)], four[lane + U(3)] = third, fourth


@inlined
def by_share(
    across: np.int32,
    down: np.int32,
    along: np.int32,
    shares: Floats,
    cell: Cells,
    count: int,
) -> None:
    """
    Find the tetrahedron of each pixel, by the axis of most share first.

    Shares are put in order, the most first. Behind a pixel's cell come the two points
    of its tetrahedron that are neither the cell's first nor its last.

    J. M. Kasson, S. I. Nin, W. Plouffe, J. L. Hafner 1995, J. Electron. Imaging 4(3).
    """
    near, second, third = cell[0], cell[1], cell[2]
    all_axes = across + down + along
    for i in range(count):
        x, y, z = shares[0, i], shares[1, i], shares[2, i]
        is_x = x >= y
        most, first = (x, across) if is_x else (y, down)
        least, last = (y, down) if is_x else (x, across)
        is_most, is_least = z > most, z <= least
        middle = most if is_most else (least if is_least else z)
        shares[0, i] = z if is_most else most
        shares[1, i] = middle
        shares[2, i] = z if is_least else least
        second[i] = near[i] + (along if is_most else first)
        third[i] = near[i] + (all_axes - (along if is_least else last))


@inlined
def tetrahedral(
    grid: Floats,
    near: Place,
    second: Place,
    third: Place,
    far: Place,
    w0: Single,
    w1: Single,
    w2: Single,
    w3: Single,
) -> Single:
    """One output between four points."""
    return F(
        (w0 * grid[near] + w1 * grid[second]) + (w2 * grid[third] + w3 * grid[far])
    )


@inlined
def read_tetrahedral(
    grid: Floats, far: Place, shares: Floats, cell: Cells, four: Floats, count: int
) -> None:
    """Four outputs side by side, between the points that `by_share` found."""
    for i in range(count):
        most, middle, least = shares[0, i], shares[1, i], shares[2, i]
        a, b, c = U(cell[0, i]), U(cell[1, i]), U(cell[2, i])
        d = a + far
        w0, w1, w2 = F(1) - most, most - middle, middle - least
        one = tetrahedral(grid, a, b, c, d, w0, w1, w2, least)
        a, b, c, d = a + U(1), b + U(1), c + U(1), d + U(1)
        two = tetrahedral(grid, a, b, c, d, w0, w1, w2, least)
        a, b, c, d = a + U(1), b + U(1), c + U(1), d + U(1)
        three = tetrahedral(grid, a, b, c, d, w0, w1, w2, least)
        a, b, c, d = a + U(1), b + U(1), c + U(1), d + U(1)
        fourth = tetrahedral(grid, a, b, c, d, w0, w1, w2, least)
        lane = U(LANES) * U(i)
        four[lane], four[lane + U(1)] = one, two
        four[lane + U(2)], four[lane + U(3)] = three, fourth


@inlined
def read_two_tetrahedral(
    grid: Floats,
    far: Place,
    behind: Place,
    lead: Floats,
    shares: Floats,
    cell: Cells,
    four: Floats,
    count: int,
) -> None:
    """The same in two tables, one behind the other, and straight between them."""
    for i in range(count):
        most, middle, least, part = shares[0, i], shares[1, i], shares[2, i], lead[i]
        a, b, c = U(cell[0, i]), U(cell[1, i]), U(cell[2, i])
        d = a + far
        w0, w1, w2 = F(1) - most, most - middle, middle - least
        for lane in range(LANES):
            low = tetrahedral(grid, a, b, c, d, w0, w1, w2, least)
            high = tetrahedral(
                grid, a + behind, b + behind, c + behind, d + behind, w0, w1, w2, least
            )
            four[U(LANES) * U(i) + U(lane)] = low + part * (high - low)
            a, b, c, d = a + U(1), b + U(1), c + U(1), d + U(1)


@inlined
def spread(four: Floats, planes: Floats, outputs: int, count: int) -> None:
    """Outputs of a table into their planes; three or four at a time become vectors."""
    if outputs == 3:
        a, b, c = planes[0], planes[1], planes[2]
        for i in range(count):
            lane = U(LANES) * U(i)
            a[i], b[i], c[i] = four[lane], four[lane + U(1)], four[lane + U(2)]
    elif outputs == 4:
        a, b, c, d = planes[0], planes[1], planes[2], planes[3]
        for i in range(count):
            lane = U(LANES) * U(i)
            a[i], b[i] = four[lane], four[lane + U(1)]
            c[i], d[i] = four[lane + U(2)], four[lane + U(3)]
    else:
        for channel in range(outputs):
            line = planes[channel]
            for i in range(count):
                line[i] = four[U(LANES) * U(i) + U(channel)]


@inlined
def table(
    step: Whole,
    numbers: Floats,
    planes: Floats,
    shares: Floats,
    cell: Cells,
    four: Floats,
    count: int,
) -> None:
    """Three channels through a table, or four."""
    along = LANES
    down = along * step[4]
    across = down * step[3]
    whole, lead = across * step[2], step[6]
    first = 1 if lead > 0 else 0
    near = cell[0]
    for i in range(count):
        near[i] = np.int32(0)
    if lead > 0:
        cells(lead, whole, planes[0], planes[0], near, count)
    cells(step[2], across, planes[first], shares[0], near, count)
    cells(step[3], down, planes[first + 1], shares[1], near, count)
    cells(step[4], along, planes[first + 2], shares[2], near, count)
    steps, far = (U(across), U(down), U(along)), U(across + down + along)
    is_trilinear = step[0] == TRILINEAR
    if not is_trilinear:
        by_share(np.int32(across), np.int32(down), np.int32(along), shares, cell, count)
    outputs, at = step[5], step[1]
    for group in range(0, outputs, LANES):
        if lead > 0:
            grid = numbers[at : at + lead * whole]
            read_two_tetrahedral(
                grid, far, U(whole), planes[0], shares, cell, four, count
            )
        elif is_trilinear:
            read_trilinear(numbers[at : at + whole], steps, shares, near, four, count)
        else:
            grid = numbers[at : at + whole]
            read_tetrahedral(grid, far, shares, cell, four, count)
        spread(four, planes[group:], min(outputs - group, LANES), count)
        at += whole


@inlined
def run(
    steps: Whole,
    numbers: Floats,
    planes: Floats,
    shares: Floats,
    cell: Cells,
    four: Floats,
    count: int,
) -> None:
    """Every step over a block of pixels."""
    for number in range(steps.shape[0]):
        step = steps[number]
        kind, at = step[0], step[1]
        if kind == MATRIX:
            matrix(numbers, at, planes, count)
        elif kind == CURVES:
            curves(numbers, at, step[2], step[3], planes, shares[0], cell[0], count)
        elif kind == CURVES_BY_OCTAVE:
            curves_by_octave(
                numbers, at, step[2], step[3], planes, shares[0], cell[0], count
            )
        elif kind == F_OF_LIGHT:
            for channel in range(3):
                line = planes[channel]
                for i in range(count):
                    line[i] = f_of_light(line[i])
        elif kind == LIGHT_OF_F:
            for channel in range(3):
                line = planes[channel]
                for i in range(count):
                    line[i] = light_of_f(line[i])
        else:
            table(step, numbers, planes, shares, cell, four, count)


@inlined
def load_planes(source: Floats, at: int, planes: Floats, count: int) -> None:
    """Three channels of a picture; a single one serves as all three."""
    for channel in range(3):
        line = source[min(channel, source.shape[0] - 1), at : at + count]
        into = planes[channel]
        for i in range(count):
            into[i] = line[i]


@inlined
def load_codes(source: Codes, at: int, planes: Floats, count: int) -> None:
    """The same of device codes of 16 bits, from 0 to 1."""
    part = source[at : at + count]
    a, b, c = planes[0], planes[1], planes[2]
    if source.shape[1] == 3:
        for i in range(count):
            a[i] = F(part[U(i), 0]) * F(1 / 65535)
            b[i] = F(part[U(i), 1]) * F(1 / 65535)
            c[i] = F(part[U(i), 2]) * F(1 / 65535)
    elif source.shape[1] == 4:
        d = planes[3]
        for i in range(count):
            a[i] = F(part[U(i), 0]) * F(1 / 65535)
            b[i] = F(part[U(i), 1]) * F(1 / 65535)
            c[i] = F(part[U(i), 2]) * F(1 / 65535)
            d[i] = F(part[U(i), 3]) * F(1 / 65535)
    else:
        for i in range(count):
            value = F(part[U(i), 0]) * F(1 / 65535)
            a[i], b[i], c[i] = value, value, value


@inlined
def nearest(value: Single, top: Single) -> np.int32:
    """The nearest code of 0 to 1: what is cut off rounds it."""
    return np.int32(clipped(value) * top + F(0.5))


@inlined
def interleave_codes(planes: Floats, outputs: int, count: int, out: Codes) -> None:
    """Codes pixel by pixel; three or four channels at a time become vectors."""
    top = F(65535)
    if outputs == 3:
        a, b, c = planes[0], planes[1], planes[2]
        for i in range(count):
            at = U(3) * U(i)
            out[at] = np.uint16(nearest(a[i], top))
            out[at + U(1)] = np.uint16(nearest(b[i], top))
            out[at + U(2)] = np.uint16(nearest(c[i], top))
    elif outputs == 4:
        a, b, c, d = planes[0], planes[1], planes[2], planes[3]
        for i in range(count):
            at = U(4) * U(i)
            out[at] = np.uint16(nearest(a[i], top))
            out[at + U(1)] = np.uint16(nearest(b[i], top))
            out[at + U(2)] = np.uint16(nearest(c[i], top))
            out[at + U(3)] = np.uint16(nearest(d[i], top))
    else:
        for channel in range(outputs):
            line = planes[channel]
            for i in range(count):
                code = np.uint16(nearest(line[i], top))
                out[U(outputs) * U(i) + U(channel)] = code


@inlined
def interleave_bytes(
    planes: Floats, outputs: int, count: int, out: NDArray[np.uint8]
) -> None:
    """The same of bytes."""
    top = F(255)
    if outputs == 3:
        a, b, c = planes[0], planes[1], planes[2]
        for i in range(count):
            at = U(3) * U(i)
            out[at] = np.uint8(nearest(a[i], top))
            out[at + U(1)] = np.uint8(nearest(b[i], top))
            out[at + U(2)] = np.uint8(nearest(c[i], top))
        return
    for channel in range(outputs):
        line = planes[channel]
        for i in range(count):
            code = np.uint8(nearest(line[i], top))
            out[U(outputs) * U(i) + U(channel)] = code


@loop(
    "int64 int64 float32[:,:] uint16[:,:] int64[:,:] float32[:] float32[:,:] "
    "int32[:,:] float32[:] int64 float32[:,:] uint16[:] int64 int64 uint8[:]"
)
def convert(
    start: int,
    stop: int,
    from_planes: Floats,
    from_codes: Codes,
    steps: Whole,
    numbers: Floats,
    scratch: Floats,
    cell: Cells,
    four: Floats,
    outputs: int,
    planes_out: Floats,
    codes_out: Codes,
    width: int,
    whole_width: int,
    bytes_out: NDArray[np.uint8],
) -> None:
    """
    Bring pixels through steps. Ways in and out that are not meant are empty.

    Parameters
    ----------
    start, stop : int
        The first pixel, and the first that is left out.
    from_planes : ndarray of float32, shape (1 or 3, pixels)
    from_codes : ndarray of uint16, shape (pixels, 1, 3 or 4)
    steps : ndarray of int64, shape (steps, STEP_NUMBERS)
    numbers : ndarray of float32, shape (numbers of all steps,)
    scratch : ndarray of float32, shape (3 + channels, BLOCK)
        Room, for the most channels that any step has.
    cell : ndarray of int32, shape (3, BLOCK)
        Room for places in tables.
    four : ndarray of float32, shape (BLOCK · LANES,)
        Room for outputs of a table, side by side.
    outputs : int
        Channels that come out.
    planes_out : ndarray of float32, shape (outputs, pixels)
        Not rounded.
    codes_out : ndarray of uint16, shape (numbers of all rows,)
        The nearest codes of 0 to 1.
    width, whole_width : int
        Pixels in a row, and from one row of `codes_out` to the next.
    bytes_out : ndarray of uint8, shape (pixels · outputs,)
    """
    shares, planes = scratch[:3], scratch[3:]
    at = start
    while at < stop:
        row = at // width
        column = at - row * width
        count = min(BLOCK, stop - at, width - column)
        if from_planes.shape[1] > 0:
            load_planes(from_planes, at, planes, count)
        else:
            load_codes(from_codes, at, planes, count)
        run(steps, numbers, planes, shares, cell, four, count)
        if planes_out.shape[1] > 0:
            for channel in range(outputs):
                line, into = planes[channel], planes_out[channel, at : at + count]
                for i in range(count):
                    into[i] = line[i]
        if codes_out.size > 0:
            place = row * whole_width + column
            interleave_codes(planes, outputs, count, codes_out[place * outputs :])
        if bytes_out.size > 0:
            interleave_bytes(planes, outputs, count, bytes_out[at * outputs :])
        at += count
