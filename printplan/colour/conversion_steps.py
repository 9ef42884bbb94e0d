"""How do curves, matrices and tables become one conversion of many pixels?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import as_strided

from printplan.loops import colour as loops
from printplan.loops.memory import empty
from printplan.loops.threads import in_parts

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

octave_places = loops.octave_places

_NO_PLANES = np.empty((1, 0, 0), np.float32)
_NO_CODES = np.empty((0, 0, 1), np.uint16)
_NO_BYTES = np.empty((0, 0, 1), np.uint8)


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """
    One step of a conversion.

    Attributes
    ----------
    kind : int
        One of those of `printplan.loops.colour`.
    numbers : ndarray of float32
        That it computes with.
    sizes : tuple of int
        What tells them apart.
    channels, inputs : int
        That come out of it, and that go in.
    """

    kind: int
    numbers: NDArray[np.float32]
    sizes: tuple[int, ...] = ()
    channels: int = 3
    inputs: int = 3


def matrix_step(matrix: Floats, offset: Floats | None = None) -> Step:
    """
    Matrix, then offset.

    Parameters
    ----------
    matrix : ndarray of float64, shape (3, 3)
    offset : ndarray of float64, shape (3,), optional
    """
    start = np.zeros(3) if offset is None else offset
    return Step(
        loops.MATRIX, np.concatenate([matrix.ravel(), start]).astype(np.float32)
    )


def f_step() -> Step:
    """X, Y and Z over those of white to CIE's f of each (CIE 015:2018, 8.2.1)."""
    return Step(loops.F_OF_LIGHT, np.empty(0, np.float32))


def light_step() -> Step:
    """The inverse of `f_step`."""
    return Step(loops.LIGHT_OF_F, np.empty(0, np.float32))


def curves_step(curves: Sequence[Floats], *, by_octave: bool = False) -> Step:
    """
    A curve for each channel, straight between its entries.

    Parameters
    ----------
    curves : sequence of ndarray of float64, shape (entries,)
        All of one length; the last serves channels up to the third that have none.
        Evenly spaced over 0 to 1, outside which the ends hold.
    by_octave : bool, optional
        Entries are at `octave_places` instead: dense near 0, and from -16 to 16.
    """
    count = max(len(curves), 3)
    each = [curves[min(channel, len(curves) - 1)] for channel in range(count)]
    kind = loops.CURVES_BY_OCTAVE if by_octave else loops.CURVES
    return Step(
        kind, np.concatenate(each).astype(np.float32), (count, len(each[0])), count
    )


def table_step(values: Floats, *, tetrahedral: bool = False) -> Step:
    """
    A table of three channels, or of four.

    Parameters
    ----------
    values : ndarray of float64, shape (points, …, points, outputs)
        The axes may differ in their points, two or more each. With four of them there
        are four outputs at most.
    tetrahedral : bool, optional
        Read between the four points of a tetrahedron instead of the eight of a cell;
        so is every table of four channels, on both sides of a colour's place along the
        first axis, and straight between (LittleCMS reads it so).
    """
    *lead, _, _, _ = points = values.shape[:-1]
    outputs = values.shape[-1]
    groups = -(-outputs // loops.LANES)
    padded = np.zeros((*points, groups * loops.LANES), np.float32)
    padded[..., :outputs] = values
    by_group = padded.reshape(*points, groups, loops.LANES)
    kind = loops.TETRAHEDRAL if tetrahedral or lead else loops.TRILINEAR
    numbers = np.moveaxis(by_group, -2, 0).ravel()
    sizes = (*points[len(lead) :], outputs, *lead)
    return Step(kind, numbers, sizes, outputs, inputs=len(points))


class Conversion:
    """
    Steps made ready for any number of pixels.

    What becomes of a pixel depends on that pixel alone. Several threads may use it.

    Parameters
    ----------
    steps : sequence of Step
        In their order.
    channels : int, optional
        That come out; those of the last step if not given.
    """

    def __init__(self, steps: Sequence[Step], channels: int | None = None) -> None:
        rows, at = np.zeros((len(steps), loops.STEP_NUMBERS), np.int64), 0
        for row, step in zip(rows, steps, strict=True):
            row[: 2 + len(step.sizes)] = (step.kind, at, *step.sizes)
            at += len(step.numbers)
        self._steps = rows
        self._numbers = np.concatenate(
            [np.zeros(0, np.float32), *(step.numbers for step in steps)]
        )
        self._most = max((max(step.channels, step.inputs) for step in steps), default=3)
        self.channels = channels or (steps[-1].channels if steps else 3)

    def from_linear(
        self, linear: NDArray[np.float32], into: NDArray[np.uint16] | None = None
    ) -> NDArray[np.uint16]:
        """
        Linear light, or X, Y and Z, to the nearest codes of 16 bits.

        Parameters
        ----------
        linear : ndarray of float32, shape (1 or 3, rows, columns)
            A single plane serves as all three.
        into : ndarray of uint16, shape (rows, columns, channels), optional
            Where they go: columns of an array that is wider, or all of one.

        Returns
        -------
        ndarray of uint16, shape (rows, columns, channels)
            `into` if that is given.

        Raises
        ------
        ValueError
            If it is of another shape, or not of columns side by side.
        """
        shape = (*linear.shape[1:], self.channels)
        out = empty(shape, np.uint16) if into is None else into
        if out.shape != shape:
            raise ValueError(f"{shape} is not {out.shape}")
        self._run(planes=linear, codes_out=out)
        return out

    def values(self, planes: NDArray[np.float32]) -> NDArray[np.float32]:
        """
        Planes to planes, not rounded.

        Parameters
        ----------
        planes : ndarray of float32, shape (1 or 3, rows, columns)

        Returns
        -------
        ndarray of float32, shape (channels, rows, columns)
        """
        out = np.empty((self.channels, *planes.shape[1:]), np.float32)
        self._run(planes=planes, planes_out=out)
        return out

    def values_of_codes(self, codes: NDArray[np.uint16]) -> NDArray[np.float32]:
        """
        Codes of 16 bits to planes, not rounded.

        Parameters
        ----------
        codes : ndarray of uint16, shape (rows, columns, 1, 3 or 4)

        Returns
        -------
        ndarray of float32, shape (channels, rows, columns)
        """
        out = np.empty((self.channels, *codes.shape[:2]), np.float32)
        self._run(codes=codes, planes_out=out)
        return out

    def bytes_of_codes(self, codes: NDArray[np.uint16]) -> NDArray[np.uint8]:
        """
        Codes of 16 bits to the nearest of 8.

        Parameters
        ----------
        codes : ndarray of uint16, shape (rows, columns, 1, 3 or 4)

        Returns
        -------
        ndarray of uint8, shape (rows, columns, channels)
        """
        out = np.empty((*codes.shape[:2], self.channels), np.uint8)
        self._run(codes=codes, bytes_out=out)
        return out

    def _run(
        self,
        *,
        planes: NDArray[np.float32] = _NO_PLANES,
        codes: NDArray[np.uint16] = _NO_CODES,
        planes_out: NDArray[np.float32] = _NO_PLANES,
        codes_out: NDArray[np.uint16] = _NO_CODES,
        bytes_out: NDArray[np.uint8] = _NO_BYTES,
    ) -> None:
        """One way in and one out; all arrays are those of the whole picture."""
        flat_in = np.ascontiguousarray(planes).reshape(len(planes), -1)
        flat_codes = np.ascontiguousarray(codes).reshape(-1, codes.shape[-1])
        flat_out = planes_out.reshape(len(planes_out), -1)
        flat_codes_out, width, whole_width = _as_rows(codes_out)
        count = max(flat_in.shape[1], len(flat_codes))

        def part(start: int, stop: int) -> None:
            loops.convert(
                start,
                stop,
                flat_in,
                flat_codes,
                self._steps,
                self._numbers,
                np.empty((3 + self._most, loops.BLOCK), np.float32),
                np.empty((3, loops.BLOCK), np.int32),
                np.empty(loops.BLOCK * loops.LANES, np.float32),
                self.channels,
                flat_out,
                flat_codes_out,
                width or count,
                whole_width,
                bytes_out.reshape(-1),
            )

        in_parts(part, count)


def _as_rows(codes: NDArray[np.uint16]) -> tuple[NDArray[np.uint16], int, int]:
    """All codes from first to last, the pixels in a row, and from row to row."""
    rows, width, channels = codes.shape
    if codes.flags.c_contiguous:
        return codes.reshape(-1), rows * width, rows * width
    step, rest = divmod(codes.strides[0], channels * codes.itemsize)
    if codes[0].flags.c_contiguous and step >= width and rest == 0:
        length = ((rows - 1) * step + width) * channels
        return as_strided(codes, (length,), codes.strides[2:]), width, step
    raise ValueError(f"columns are not side by side: {codes.strides}")
