"""What tables does a profile convert colours through?"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printplan.errors import ProfileError

if TYPE_CHECKING:
    from numpy.typing import NDArray

_KINDS = {b"mft1": (8, "u1", 255.0), b"mft2": (16, ">u2", 65535.0)}
_LUT8_CURVE = 256


@dataclass(frozen=True, slots=True, eq=False)
class LutElement:
    """
    Curves, a table, and curves again.

    Attributes
    ----------
    bits : int
        8 for lut8Type, 16 for lut16Type; decides how CIELAB is coded.
    before : ndarray of float64, shape (inputs, entries)
        Curve of each input channel, 0 to 1.
    grid : ndarray of float64, shape (points, …, points, outputs)
        One axis for each input, the first varying slowest.
    after : ndarray of float64, shape (outputs, entries)
    """

    bits: int
    before: NDArray[np.float64]
    grid: NDArray[np.float64]
    after: NDArray[np.float64]


def read_lut(element: bytes, *, where: str) -> LutElement | None:
    """
    Take a lut8Type or lut16Type element apart.

    Parameters
    ----------
    element : bytes
    where : str
        The profile's name, for the error.

    Returns
    -------
    LutElement or None
        None for an element of another type.

    Raises
    ------
    ProfileError
        If the element is shorter than its tables.

    References
    ----------
    .. [1] ICC.1:2022, 10.10 and 10.11. The matrix in front applies to XYZ alone.
    """
    if element[:4] not in _KINDS:
        return None
    bits, kind, full_scale = _KINDS[element[:4]]
    inputs, outputs, points = element[8:11]
    start, entries_before, entries_after = 48, _LUT8_CURVE, _LUT8_CURVE
    if bits == 16:
        entries_before, entries_after = struct.unpack_from(">HH", element, 48)
        start = 52
    counts = (
        inputs * entries_before,
        points**inputs * outputs,
        outputs * entries_after,
    )
    numbers = np.frombuffer(
        element[start:], kind, min(sum(counts), _room(element, start, bits))
    )
    if numbers.size < sum(counts) or min(counts) == 0:
        raise ProfileError(
            f"A table of {where} holds {numbers.size} numbers of {sum(counts)}.",
            remedy="Fetch the profile again; this one is damaged.",
        )
    scaled = numbers / full_scale
    before, grid, after = np.split(scaled, np.cumsum(counts)[:2])
    return LutElement(
        bits=bits,
        before=before.reshape(inputs, entries_before),
        grid=grid.reshape(*[points] * inputs, outputs),
        after=after.reshape(outputs, entries_after),
    )


def _room(element: bytes, start: int, bits: int) -> int:
    """Numbers that the element's bytes can hold."""
    return (len(element) - start) // (bits // 8)
