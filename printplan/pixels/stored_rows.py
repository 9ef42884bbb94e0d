"""How are stored numbers read from a file that others may shorten at any time?"""

from __future__ import annotations

import os
from threading import Lock
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from io import BufferedReader

    from numpy.typing import NDArray

    Bytes = NDArray[np.uint8]

_AT_ONCE_BYTES = 1_000_000
"""Whole rows read in one go where only a part of each is wanted. Our choice."""

_place_lock = Lock()


class ShortFileError(Exception):
    """A file that ends before the numbers it must hold."""


def read_rows(  # noqa: PLR0913 - a place in a file is told by these
    stream: BufferedReader,
    into: Bytes,
    *,
    start: int,
    row_bytes: int,
    top: int,
    left: int,
) -> None:
    """
    Read a part of each of some rows that lie one behind the other.

    The file is read by position and never mapped: a mapped file that gets shorter, or
    whose disk is pulled, ends the process.

    Parameters
    ----------
    into : ndarray of uint8, shape (rows, bytes)
        Is filled; C-contiguous.
    start : int
        Where in the file the first row begins.
    row_bytes : int
        From the beginning of one row to that of the next.
    top : int
        First row.
    left : int
        First byte of each row.

    Raises
    ------
    ShortFileError
    OSError
        As the system tells it.
    """
    rows, wide = into.shape
    if wide == row_bytes:
        fill(stream, start + top * row_bytes, into.reshape(-1))
        return
    if 2 * wide < row_bytes:
        for row in range(rows):
            fill(stream, start + (top + row) * row_bytes + left, into[row])
        return
    together = max(1, min(rows, _AT_ONCE_BYTES // row_bytes))
    whole = np.empty((together, row_bytes), np.uint8)
    for first in range(0, rows, together):
        some = whole[: min(together, rows - first)]
        fill(stream, start + (top + first) * row_bytes, some.reshape(-1))
        into[first : first + len(some)] = some[:, left : left + wide]


def fill(stream: BufferedReader, offset: int, into: Bytes) -> None:
    """
    Read as many bytes as there is room for, from a place of a file.

    Several threads may read one stream.

    Parameters
    ----------
    into : ndarray of uint8
        Of one dimension.

    Raises
    ------
    ShortFileError
    OSError
    """
    left = into.data
    while left:
        count = _read_at(stream, offset, left)
        if count == 0:
            raise ShortFileError(f"It ends at byte {offset}.")
        left, offset = left[count:], offset + count


if hasattr(os, "preadv"):

    def _read_at(stream: BufferedReader, offset: int, into: memoryview) -> int:
        return os.preadv(stream.fileno(), [into], offset)

else:

    def _read_at(stream: BufferedReader, offset: int, into: memoryview) -> int:
        with _place_lock:
            stream.seek(offset)
            return stream.readinto(into)
