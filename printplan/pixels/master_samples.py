"""Which parts of a master's own pixels stand for all of it?"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, sqrt
from typing import TYPE_CHECKING

import numpy as np

from printplan.size.layout import Box

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.master import Master

SAMPLE_PX = 256
"""Edge of a sample in master pixels."""

MOST_SAMPLES = 48
"""Samples at most: three million pixels, a quarter of a second. Our choice."""

# ITU-R BT.601-7, 2.5.1: luma of coded RGB; JPEG (ITU-T T.871) compresses it.
_LUMA = np.array([0.299, 0.587, 0.114], np.float32)
# Linear light has no codes; a plain power gives it steps as even as codes have.
_POWER = 1 / 2.2


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """
    Parts of a master, spread evenly, in its own pixels.

    Attributes
    ----------
    boxes : tuple of Box
        Where they lie; each `SAMPLE_PX` wide and high.
    codes : tuple of ndarray, shape (channels, SAMPLE_PX, SAMPLE_PX)
        Stored numbers, uint8 or uint16.
    are_stored : bool
        False if the master's working pixels are linear light; `codes` are then that
        light to the power of 1/2.2, at 16 bits.
    """

    boxes: tuple[Box, ...]
    codes: tuple[NDArray[np.uint8] | NDArray[np.uint16], ...]
    are_stored: bool


def sample_master(master: Master) -> Samples:
    """
    Read the samples of a master.

    Parameters
    ----------
    master : Master

    Returns
    -------
    Samples
        None in it if the picture is smaller than one sample.

    Raises
    ------
    MasterError
        If the master was closed, or its file changed since it was opened.

    Notes
    -----
    Only what lies in the samples is read, so a master of any size takes the same time
    and 20 MB.
    """
    boxes = sample_boxes(master.facts.width_px, master.facts.height_px)
    codes = []
    are_stored = True
    for box in boxes:
        found = master.codes(box)
        if found is None:
            are_stored = False
            light = master.linear(box) ** np.float32(_POWER)
            found = np.rint(light * 65535).astype(np.uint16)
        codes.append(found)
    return Samples(boxes=boxes, codes=tuple(codes), are_stored=are_stored)


def sample_boxes(width_px: int, height_px: int) -> tuple[Box, ...]:
    """
    Where the samples of a picture lie.

    Parameters
    ----------
    width_px, height_px : int

    Returns
    -------
    tuple of Box
        `MOST_SAMPLES` at most; empty if the picture is smaller than one.
    """
    across, down = width_px // SAMPLE_PX, height_px // SAMPLE_PX
    if not across or not down:
        return ()
    step = max(1.0, sqrt(across * down / MOST_SAMPLES))
    lefts = _places(width_px, ceil(across / step))
    tops = _places(
        height_px, max(1, min(ceil(down / step), MOST_SAMPLES // len(lefts)))
    )
    return tuple(Box(left, top, SAMPLE_PX, SAMPLE_PX) for top in tops for left in lefts)


def _places(length_px: int, count: int) -> list[int]:
    last = length_px - SAMPLE_PX
    return (
        [last // 2]
        if count == 1
        else [index * last // (count - 1) for index in range(count)]
    )


def luma(codes: NDArray[np.uint8] | NDArray[np.uint16]) -> NDArray[np.float32]:
    """
    Luma of stored numbers, on the scale of 8 bits.

    Parameters
    ----------
    codes : ndarray of uint8 or uint16, shape (1 or 3, rows, columns)

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        0 to 255.
    """
    scaled = codes.astype(np.float32)
    if codes.dtype.itemsize == 2:
        scaled /= 257
    return scaled[0] if len(scaled) == 1 else np.tensordot(_LUMA, scaled, axes=1)
