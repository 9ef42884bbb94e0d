"""How does an array get the memory of one that nobody uses any more?"""

from __future__ import annotations

import mmap as maps
import sys
from contextlib import suppress
from math import prod
from mmap import mmap
from threading import RLock
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

_LEAST_BYTES = 256_000
"""Of an array whose memory is kept; smaller ones get theirs quickly enough."""

_PART_MORE, _TIMES = 8, 1.5
"""New memory has room for an eighth more, and an array takes what has room for up to
half of it more: bands differ by the rows that they look round. Our choice."""

_MOST_BYTES = 64_000_000
"""In use and spare together: beyond, what is spare goes back to the system. Chosen:
what two bands of a print in work, and those ahead of them, need."""

_MOST_PIECES = 8
"""The same for prints so wide that their bands need more: as much as so many of the
largest arrays. Measured."""

_LEAST_SPARE_BYTES = 6_000_000
"""Spare at least, however much is in use: a workbook keeps what it made of several
windows, and works on one in parts. Measured."""

_POPULATE_WRITE, _STEP_BYTES = 23, 1 << 20
"""Linux's own number, since 5.14: finds memory as if each page were written to. So
much at once, since Python lets no other thread run meanwhile. Our choice."""

_OWN = (
    {"flags": maps.MAP_PRIVATE | maps.MAP_ANONYMOUS}
    if hasattr(maps, "MAP_PRIVATE")
    else {}
)
"""Of this process alone, and not in its heap, which would not shrink again."""


class _Spare:
    """
    Memory of arrays that have ended.

    A thread may take the lock that it has: an array can end at any moment, in here too.
    """

    def __init__(self) -> None:
        self._pieces: list[mmap] = []
        self._bytes = self._largest = 0
        self._lock = RLock()

    def taken(self, size: int) -> mmap:
        """Memory of that many bytes or a few more: some that is spare, or new."""
        with self._lock:
            fitting = [it for it in self._pieces if size <= len(it) <= _TIMES * size]
            if fitting:
                piece = min(fitting, key=len)
                self._pieces.remove(piece)
                return piece
            length = size + size // _PART_MORE
            self._largest = max(self._largest, length)
            self._make_room(length)
            try:
                piece = mmap(-1, length, **_OWN)
            except OSError as error:
                raise MemoryError(f"{size} bytes") from error
            self._bytes += length
            return piece

    def given(self, piece: mmap) -> None:
        """Keep memory that is not used any more."""
        with self._lock:
            self._pieces.append(piece)
            self._make_room(0)

    def forget(self) -> None:
        """Give all that is spare back to the system."""
        with self._lock:
            self._bytes -= sum(map(len, self._pieces))
            self._pieces.clear()
            self._largest = 0

    def _make_room(self, length: int) -> None:
        """Give back what has been spare for longest, until so much more has room."""
        in_use = self._bytes - sum(map(len, self._pieces))
        of_largest = _MOST_PIECES * self._largest
        most = max(_MOST_BYTES, of_largest, in_use + _LEAST_SPARE_BYTES)
        while self._pieces and self._bytes + length > most:
            self._bytes -= len(self._pieces.pop(0))


_spare = _Spare()
forget_spare = _spare.forget


class _Lent:
    """
    Memory of one array and of all views of it, spare again when the last has ended.

    Attributes
    ----------
    __array_interface__ : dict
        By which `numpy` finds it.
    """

    def __init__(
        self, memory: mmap, shape: tuple[int, ...], dtype: np.dtype[Any]
    ) -> None:
        self._memory = memory
        place = np.frombuffer(self._memory, np.uint8).ctypes.data
        self.__array_interface__ = {
            "shape": shape,
            "typestr": dtype.str,
            "data": (place, False),
            "version": 3,
        }

    # Bound here: the module's names may be gone before the last array is.
    def __del__(self, give: Callable[[mmap], None] = _spare.given) -> None:
        give(self._memory)


def empty(shape: tuple[int, ...], dtype: Any = np.float32) -> NDArray[Any]:
    """
    `numpy.empty`, in memory that this process has touched already if there is some.

    The system clears each page of new memory when it is first written to: for the
    arrays of a band that takes as long as some of what is computed in them.

    Parameters
    ----------
    shape : tuple of int
    dtype : dtype, optional

    Returns
    -------
    ndarray
        C-contiguous; its numbers may be anything.
    """
    kind = np.dtype(dtype)
    needed = prod(shape) * kind.itemsize
    if needed < _LEAST_BYTES:
        return np.empty(shape, kind)
    return np.asarray(_Lent(_spare.taken(needed), shape, kind))


def find_pages(array: NDArray[Any]) -> None:
    """
    Have the system find memory for a mapped file before that is written to.

    It would find each page when it is written to first: an eighth of the time of
    decoding a JPEG into it, which one thread does while another may find pages.

    Parameters
    ----------
    array : ndarray
        Of a mapped file, or a view of one; its numbers stay as they are. For any other
        array, and on systems that cannot be asked, nothing is done.
    """
    memory: Any = array
    while isinstance(memory, np.ndarray):
        memory = memory.base
    if sys.platform != "linux" or not isinstance(memory, mmap):
        return
    with suppress(OSError):  # of a system from before 2021
        for start in range(0, len(memory), _STEP_BYTES):
            length = min(_STEP_BYTES, len(memory) - start)
            memory.madvise(_POPULATE_WRITE, start, length)
