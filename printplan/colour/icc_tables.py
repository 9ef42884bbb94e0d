"""Which stages does a profile's table convert colours through?"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from enum import StrEnum
from math import prod
from typing import TYPE_CHECKING

import numpy as np

from printplan.errors import ProfileError
from printplan.loops.colour import octave_places

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_LUT8_CURVE = 256
_CURVE_ENTRIES = 65536
_INTEGERS = {1: ("u1", 255.0), 2: (">u2", 65535.0)}
_PARAMETERS = (1, 3, 4, 5, 7)
_MOST_CHANNELS = 15
_MOST_NUMBERS = 16_000_000
"""In one table. Our choice: the finest grid that can be read, 129 points along three
axes, has 9 million with four inks; more in a small file is damage."""
_OUTERMOST = 65504.0
"""What a power far outside 0 to 1 is held to. Our choice."""


class LabCoding(StrEnum):
    """How CIELAB is coded from 0 to 1 (ICC.1:2022, 6.3.4.2 and 10.10)."""

    LEGACY_16 = "legacy-16"
    """lut16Type: L* 100 is 0xFF00 of 0xFFFF."""

    FULL = "full"
    """lut8Type, lutAToBType and lutBToAType: L* 100 is full scale."""


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """
    A curve for each channel.

    Attributes
    ----------
    entries : tuple of ndarray of float64, shape (entries,)
        Evenly spaced over 0 to 1, outside which its ends hold; or at
        `octave_places`.
    by_octave : bool
        Curves given by a formula go on outside 0 to 1, as LittleCMS takes them; a
        colour table's axes are held to 0 to 1 behind them.
    """

    entries: tuple[Floats, ...]
    by_octave: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Matrix:
    """
    A matrix, then an offset, on channels coded from 0 to 1.

    Attributes
    ----------
    matrix : ndarray of float64, shape (3, 3)
    offset : ndarray of float64, shape (3,)
    """

    matrix: Floats
    offset: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """
    A table of several dimensions.

    Attributes
    ----------
    values : ndarray of float64, shape (points, …, points, outputs)
        0 to 1. One axis for each input, the first varying slowest; the axes may
        differ in their points.
    """

    values: Floats


Stage = Curves | Matrix | Grid


@dataclass(frozen=True, slots=True, eq=False)
class LutElement:
    """
    A table of a profile, taken apart into its stages.

    Attributes
    ----------
    inputs, outputs : int
        Channels.
    lab_coding : LabCoding
        How its connection side codes CIELAB.
    stages : tuple of Curves, Matrix or Grid
        In the order in which colours pass them; stages that change nothing are left
        out.
    """

    inputs: int
    outputs: int
    lab_coding: LabCoding
    stages: tuple[Stage, ...]


def read_lut(element: bytes, *, where: str) -> LutElement:
    """
    Take a lut8Type, lut16Type, lutAToBType or lutBToAType element apart.

    Parameters
    ----------
    where : str
        The profile's name, for the error.

    Raises
    ------
    ProfileError
        If the element is of another type, shorter than its stages, or joins them in
        a way that the standard does not have.

    References
    ----------
    .. [1] ICC.1:2022, 10.10 to 10.13; curves: 10.6 and 10.18.
    """
    readers = {
        b"mft1": _read_lut8_or_16,
        b"mft2": _read_lut8_or_16,
        b"mAB ": _read_stages,
        b"mBA ": _read_stages,
    }
    reader = readers.get(element[:4])
    if reader is None:
        raise _damaged(where, f"its table is of the unknown type {element[:4]!r}")
    try:
        return reader(element, where)
    except (struct.error, IndexError, ValueError) as error:
        raise _damaged(where, "a table ends before its last stage") from error


def curve_values(element: bytes, steps: int, *, where: str) -> Floats:
    """
    A curveType or parametricCurveType element, read at even steps from 0 to 1.

    Parameters
    ----------
    steps : int
        2 or more.
    where : str
        The profile's name, for the error.

    Returns
    -------
    ndarray of float64, shape (steps,)
        Entries from 0 to 1; a formula gives what it gives, not a number included.

    Raises
    ------
    ProfileError
        If the element is of another type, or shorter than it says.
    """
    try:
        curve, _ = _read_curve(element, where)
    except (struct.error, ValueError) as error:
        raise _damaged(where, "a curve ends before its last number") from error
    x = np.linspace(0, 1, steps)
    if callable(curve):
        return curve(x)
    return np.interp(x, np.linspace(0, 1, len(curve)), curve)


def _read_lut8_or_16(element: bytes, where: str) -> LutElement:
    wide = element[:4] == b"mft2"
    width = 2 if wide else 1
    inputs, outputs, points = element[8:11]
    _require_channels(inputs, outputs, where)
    numbers = struct.unpack_from(">9i", element, 12)
    matrix = np.array(numbers, np.float64).reshape(3, 3) / 65536
    start, before, after = 48, _LUT8_CURVE, _LUT8_CURVE
    if wide:
        before, after = struct.unpack_from(">HH", element, 48)
        start = 52
    counts = (inputs * before, points**inputs * outputs, outputs * after)
    held = (len(element) - start) // width
    _require_bounded(sum(counts), where)
    if held < sum(counts) or min(before, after, points) < 2:
        raise _damaged(where, f"a table holds {held} numbers of {sum(counts)}")
    scaled = _numbers(element, width, sum(counts), start)
    first, grid, last = np.split(scaled, np.cumsum(counts)[:2])
    stages: list[Stage] = []
    # The matrix is the identity unless the input is XYZ (10.10).
    if inputs == 3 and not np.array_equal(matrix, np.eye(3)):
        stages.append(Matrix(matrix, np.zeros(3)))
    stages.append(Curves(tuple(first.reshape(inputs, before))))
    stages.append(Grid(grid.reshape(*[points] * inputs, outputs)))
    stages.append(Curves(tuple(last.reshape(outputs, after))))
    coding = LabCoding.LEGACY_16 if wide else LabCoding.FULL
    return _element(inputs, outputs, coding, stages)


def _read_stages(element: bytes, where: str) -> LutElement:
    parts = _Parts(element, where)
    to_colour = element[:4] == b"mAB "
    ends = parts.inputs, parts.outputs
    device, colour = ends if to_colour else ends[::-1]
    groups = [
        parts.curves("A", device),
        parts.grid(),
        parts.curves("M", colour),
        parts.matrix(),
        parts.curves("B", colour),
    ]
    stages = [it for group in groups[:: 1 if to_colour else -1] for it in group]
    return _element(parts.inputs, parts.outputs, LabCoding.FULL, stages)


class _Parts:
    """The stages of a lutAToBType or lutBToAType by their places; 0 is none."""

    def __init__(self, element: bytes, where: str) -> None:
        self.element, self.where = element, where
        self.inputs, self.outputs = element[8:10]
        _require_channels(self.inputs, self.outputs, where)
        names = ("B", "matrix", "M", "grid", "A")
        self.places = dict(
            zip(names, struct.unpack_from(">5I", element, 12), strict=True)
        )
        if not self.places["B"]:
            raise _damaged(where, "a table has no B curves")
        if not self.places["grid"] and self.inputs != self.outputs:
            raise _damaged(
                where,
                f"a table takes {self.inputs} channels to {self.outputs} without a "
                "grid",
            )

    def curves(self, name: str, channels: int) -> list[Stage]:
        place = self.places[name]
        if not place:
            return []
        found = []
        for _ in range(channels):
            curve, length = _read_curve(self.element[place:], self.where)
            found.append(curve)
            place += -(-length // 4) * 4
        if all(callable(curve) and curve.is_straight for curve in found):
            return []
        if any(callable(curve) for curve in found):
            return [Curves(tuple(_by_octave(curve) for curve in found), by_octave=True)]
        return [Curves(_alike([curve for curve in found if not callable(curve)]))]

    def matrix(self) -> list[Stage]:
        place = self.places["matrix"]
        if not place:
            return []
        numbers = np.array(struct.unpack_from(">12i", self.element, place)) / 65536
        return [Matrix(numbers[:9].reshape(3, 3), numbers[9:])]

    def grid(self) -> list[Stage]:
        place = self.places["grid"]
        if not place:
            return []
        points = tuple(self.element[place : place + self.inputs])
        width = self.element[place + 16]
        if width not in _INTEGERS or min(points) < 2:
            raise _damaged(
                self.where, f"a grid of {points} points has {width} bytes a number"
            )
        shape = (*points, self.outputs)
        count = prod(shape)
        _require_bounded(count, self.where)
        held = (len(self.element) - place - 20) // width
        if held < count:
            raise _damaged(self.where, f"a grid holds {held} numbers of {count}")
        values = _numbers(self.element, width, count, place + 20)
        return [Grid(values.reshape(shape))]


class _Power:
    """A parametric curve: ``(a·x + b)^g + e`` from d on, ``c·x + f`` below."""

    def __init__(self, function: int, numbers: tuple[float, ...]) -> None:
        g, a, b, c, d, e, f = (*numbers, *[0.0] * (7 - len(numbers)))
        # ICC.1:2022, table 68, functions 0 to 4 in one form.
        self.is_straight = function == 0 and g == 1.0
        if function == 0:
            a, d = 1.0, 0.0
        elif function in {1, 2}:
            e = f = c if function == 2 else 0.0
            c, d = 0.0, (-b / a if a else 0.0)
        self.g, self.a, self.b, self.c, self.d, self.e, self.f = g, a, b, c, d, e, f

    def __call__(self, x: Floats) -> Floats:
        if self.is_straight:
            return x
        base = np.maximum(self.a * x + self.b, 0.0)
        with np.errstate(over="ignore"):
            power = np.power(base, self.g, where=base > 0, out=np.zeros_like(base))
        power = np.minimum(power, _OUTERMOST)
        return np.where(x >= self.d, power + self.e, self.c * x + self.f)


def _read_curve(element: bytes, where: str) -> tuple[Floats | _Power, int]:
    """A curve, as its entries or its formula, and its length in bytes."""
    kind = element[:4]
    if kind == b"curv":
        (count,) = struct.unpack_from(">I", element, 8)
        length = 12 + 2 * count
        if length > len(element):
            raise _damaged(where, f"a curve of {count} entries is cut short")
        codes = _numbers(element, 2, count, 12)
        if count == 1:
            # A single entry is a power in 1/256 (10.6).
            return _Power(0, (float(codes[0]) * 65535 / 256,)), length
        return (codes if count else _Power(0, (1.0,))), length
    if kind == b"para":
        (function,) = struct.unpack_from(">H", element, 8)
        if function < len(_PARAMETERS):
            count = _PARAMETERS[function]
            numbers = struct.unpack_from(f">{count}i", element, 12)
            power = _Power(function, tuple(number / 65536 for number in numbers))
            return power, 12 + 4 * count
    raise _damaged(where, f"a curve in a table is of the unknown type {kind!r}")


def _alike(curves: list[Floats]) -> tuple[Floats, ...]:
    """Curves of one length: as they are, or read densely where they differ."""
    if len({len(curve) for curve in curves}) == 1:
        return tuple(curves)
    even = np.linspace(0, 1, _CURVE_ENTRIES)
    return tuple(
        np.interp(even, np.linspace(0, 1, len(curve)), curve) for curve in curves
    )


def _numbers(element: bytes, width: int, count: int, start: int) -> Floats:
    """Integers of one or two bytes, as 0 to 1."""
    kind, full_scale = _INTEGERS[width]
    integers: NDArray[np.integer] = np.frombuffer(element, np.dtype(kind), count, start)
    return integers / full_scale


def _by_octave(curve: Floats | _Power) -> Floats:
    x = octave_places()
    if callable(curve):
        return curve(x)
    return np.interp(x, np.linspace(0, 1, len(curve)), curve)


def _element(
    inputs: int, outputs: int, coding: LabCoding, stages: list[Stage]
) -> LutElement:
    kept = tuple(stage for stage in stages if not _changes_nothing(stage))
    return LutElement(inputs, outputs, coding, kept)


def _changes_nothing(stage: Stage) -> bool:
    if isinstance(stage, Curves):
        return not stage.by_octave and all(
            np.array_equal(curve, np.linspace(0, 1, len(curve)))
            for curve in stage.entries
        )
    if isinstance(stage, Matrix):
        return np.array_equal(stage.matrix, np.eye(3)) and not stage.offset.any()
    return False


def _require_channels(inputs: int, outputs: int, where: str) -> None:
    if not (0 < inputs <= _MOST_CHANNELS and 0 < outputs <= _MOST_CHANNELS):
        raise _damaged(where, f"a table takes {inputs} channels to {outputs}")


def _require_bounded(numbers: int, where: str) -> None:
    """Refuse before anything is made of it."""
    if numbers > _MOST_NUMBERS:
        raise _damaged(
            where,
            f"a table claims {numbers:.3g} numbers, and {_MOST_NUMBERS:.3g} is the "
            "most",
        )


def _damaged(where: str, what: str) -> ProfileError:
    return ProfileError(
        f"The profile {where} cannot be read: {what}.",
        remedy="Fetch the profile again; this one is damaged.",
    )
