"""How are decoded pixels kept so that any damage to them shows?"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import struct
from dataclasses import dataclass
from errno import ENOSPC
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Final

import numpy as np

from printplan.loops.memory import empty
from printplan.pixels.crc32 import crc32_of
from printplan.pixels.stored_rows import ShortFileError, fill, read_rows

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from io import BufferedRandom, BufferedReader

    from numpy.typing import NDArray

    Pixels = NDArray[np.generic]

    Decode = Callable[[Pixels], Iterable[tuple[Pixels, int]]]

BLOCK_BYTES: Final = 1 << 20
"""Bytes that share a sum, in whole rows. Chosen: a tenth of a millisecond of adding up,
and a thousandth of a millisecond for each window to look up."""

_MOST_TRIES = 3
_SUM = struct.Struct("<I")
_SEAL_BYTES = 32
_END = struct.Struct("<8sQI32s")
_MARK = b"sealed 4"
_LONGEST_ABOUT = 10_000


class DamagedError(Exception):
    """Pixels that are not, or not any more, as they were written."""


@dataclass(frozen=True, slots=True)
class Recipe:
    """
    What sealed pixels must be.

    Attributes
    ----------
    text : str
        All that the pixels depend on: the master's hash first of all.
    shape : tuple of int
        Rows, columns and channels.
    dtype : dtype
    block_bytes : int
        About how many share a sum.
    """

    text: str
    shape: tuple[int, int, int]
    dtype: np.dtype[np.generic]
    block_bytes: int = BLOCK_BYTES

    @property
    def row_bytes(self) -> int:
        """Of one row."""
        return self.shape[1] * self.pixel_bytes

    @property
    def pixel_bytes(self) -> int:
        """Of one pixel."""
        return self.shape[2] * self.dtype.itemsize

    @property
    def block_rows(self) -> int:
        """Rows that share a sum; the last block may have fewer."""
        return max(1, self.block_bytes // self.row_bytes)

    @property
    def blocks(self) -> int:
        """Of all rows."""
        return -(-self.shape[0] // self.block_rows)

    @property
    def file_bytes(self) -> int:
        """The rows, the sums of their blocks, and the seal."""
        return self.all_rows_bytes + self.table_bytes + len(self.seal(0, b""))

    @property
    def all_rows_bytes(self) -> int:
        """Of the pixels alone."""
        return self.shape[0] * self.row_bytes

    @property
    def table_bytes(self) -> int:
        """Of the sums."""
        return self.blocks * _SUM.size

    def seal(self, clipped_count: int, table: bytes) -> bytes:
        """The end of the file: it vouches for the table, and for what it belongs to."""
        about = self._about()
        end = _END.pack(_MARK, clipped_count, len(about), bytes(_SEAL_BYTES))
        digest = hashlib.sha256(about + end + table).digest()
        return about + end[:-_SEAL_BYTES] + digest

    def _about(self) -> bytes:
        told = (self.text, self.shape, self.dtype.str, self.block_bytes)
        return json.dumps(told).encode()


def recipe_in(stream: BufferedReader) -> Recipe:
    """
    What the pixels in a file say that they are; their seal tells whether that is so.

    Raises
    ------
    DamagedError
        If they do not say it.
    """
    size = os.fstat(stream.fileno()).st_size
    last = min(size, _LONGEST_ABOUT + _END.size)
    end = np.empty(last, np.uint8)
    try:
        fill(stream, size - last, end)
        mark, _, length, _ = _END.unpack(end[-_END.size :].tobytes())
        about = end[: -_END.size].tobytes()[-length:]
        text, shape, dtype, block_bytes = json.loads(about)
        rows, columns, channels = map(int, shape)
        recipe = Recipe(
            str(text), (rows, columns, channels), np.dtype(dtype), int(block_bytes)
        )
    except (ShortFileError, OSError, ValueError, TypeError, struct.error) as error:
        raise DamagedError("it does not say what it is") from error
    if mark != _MARK or min(recipe.shape) < 1 or recipe.block_bytes < 1:
        raise DamagedError("it does not say what it is")
    return recipe


def write_sealed(stream: BufferedRandom, recipe: Recipe, decode: Decode) -> None:
    """
    Write pixels and their seal.

    Parameters
    ----------
    stream : BufferedRandom
        An empty file, open for reading and writing.
    decode : callable
        Is given the rows of the file, which it may fill. Gives some rows of pixels,
        from the top, and how many stored numbers were clipped: arrays of its own, or
        of the file's rows those that it has filled.

    Raises
    ------
    DamagedError
        If they are not all the rows.
    OSError
        If the disk has no room for them, before anything is decoded.

    Notes
    -----
    The file is mapped: a disk that is pulled meanwhile ends the process, so it is to
    be one of its own. Nobody waits for the disk: what a power cut takes away, the
    seal misses.
    """
    _take_room(stream, recipe.file_bytes)
    rows = np.memmap(stream, recipe.dtype, "r+", shape=recipe.shape)
    table = _Table(recipe.block_rows)
    top, clipped_count = 0, 0
    for band, clipped in decode(rows):
        some = rows[top : top + len(band)]
        top += len(band)
        if top > len(rows):
            break
        if not np.may_share_memory(band, some):
            some[...] = band
        table.add(some)
        clipped_count += clipped
    if top != len(rows):
        raise DamagedError(f"{top} of {len(rows)} rows")
    sums = table.done()
    stream.seek(recipe.all_rows_bytes)
    stream.write(sums + recipe.seal(clipped_count, sums))


def _take_room(stream: BufferedRandom, length: int) -> None:
    """Make a file so long that no write into it can fail for want of room."""
    if hasattr(os, "posix_fallocate"):
        os.posix_fallocate(stream.fileno(), 0, length)
        return
    if shutil.disk_usage(Path(stream.name).parent).free < length:
        raise OSError(ENOSPC, os.strerror(ENOSPC))
    stream.truncate(length)


class _Table:
    """Sums of the blocks, whose rows come in any portions."""

    def __init__(self, block_rows: int) -> None:
        self._block_rows = block_rows
        self._rows = self._open = 0
        self._sums: list[int] = []

    def add(self, part: NDArray[np.generic]) -> None:
        top = 0
        while top < len(part):
            some = part[top : top + self._block_rows - self._rows]
            self._open = crc32_of(some.data, self._open)
            self._rows += len(some)
            top += len(some)
            if self._rows == self._block_rows:
                self._close()

    def done(self) -> bytes:
        if self._rows:
            self._close()
        return b"".join(map(_SUM.pack, self._sums))

    def _close(self) -> None:
        self._sums.append(self._open)
        self._open = self._rows = 0


class SealedPixels:
    """
    Pixels in a file of their own; each block is checked when it is first read.

    Several threads may read at once. If the file changes meanwhile, every block is
    checked anew.

    Parameters
    ----------
    stream : BufferedReader
        Read by position; whoever opened it closes it.

    Raises
    ------
    DamagedError
        If the file is of another length or its seal is another.

    Attributes
    ----------
    clipped_count : int
        Stored numbers that were clipped when the pixels were made.
    """

    def __init__(self, stream: BufferedReader, recipe: Recipe) -> None:
        self.recipe = recipe
        self._stream = stream
        self._stamp = self._present_stamp()
        if self._stamp[-1] != recipe.file_bytes:
            raise DamagedError(f"{self._stamp[-1]} bytes of {recipe.file_bytes}")
        end = np.empty(recipe.file_bytes - recipe.all_rows_bytes, np.uint8)
        self._fill(recipe.all_rows_bytes, end)
        self._table = end[: recipe.table_bytes].tobytes()
        seal = end[recipe.table_bytes :].tobytes()
        self.clipped_count = int(_END.unpack(seal[-_END.size :])[1])
        if seal != recipe.seal(self.clipped_count, self._table):
            raise DamagedError("its seal")
        self._checked = bytearray(recipe.blocks)
        self._lock = Lock()

    def read(self, top: int, bottom: int, left: int, right: int) -> NDArray[np.generic]:
        """
        Numbers of a part of the picture.

        Returns
        -------
        ndarray, shape (rows, columns, channels)
            C-contiguous, newly made.

        Raises
        ------
        DamagedError
            If a block that is touched is not as it was written.
        """
        shape = (bottom - top, right - left, self.recipe.shape[2])
        found = empty(shape, self.recipe.dtype)
        for _ in range(_MOST_TRIES):
            stamp = self._known_stamp()
            self._read_blocks(top, left, found)
            if self._present_stamp() == stamp:
                return found
        raise DamagedError("written to all the time")

    def check(self) -> None:
        """
        Check every block.

        Raises
        ------
        DamagedError
        """
        for block in range(self.recipe.blocks):
            self._read_and_check(block, empty(self._shape(block), self.recipe.dtype))

    def _read_blocks(self, top: int, left: int, into: NDArray[np.generic]) -> None:
        """Read by blocks: what is checked at once need not be read again."""
        block_rows, bottom = self.recipe.block_rows, top + len(into)
        checked = self._checked
        for block in range(top // block_rows, -(-bottom // block_rows)):
            first = block * block_rows
            begin, end = max(top, first), min(bottom, first + block_rows)
            part = into[begin - top : end - top]
            if checked[block]:
                self._read_checked(begin, left, part)
                continue
            shape = self._shape(block)
            whole = part if part.shape == shape else empty(shape, part.dtype)
            self._read_and_check(block, whole)
            checked[block] = 1
            if whole is not part:
                rows = whole[begin - first : end - first]
                part[...] = rows[:, left : left + part.shape[1]]

    def _read_checked(self, top: int, left: int, into: NDArray[np.generic]) -> None:
        try:
            read_rows(
                self._stream,
                into.view(np.uint8).reshape(len(into), -1),
                start=0,
                row_bytes=self.recipe.row_bytes,
                top=top,
                left=left * self.recipe.pixel_bytes,
            )
        except (ShortFileError, OSError) as error:
            raise DamagedError(str(error)) from error

    def _shape(self, block: int) -> tuple[int, ...]:
        """Rows, columns and channels of a block."""
        recipe = self.recipe
        rows = min(recipe.block_rows, recipe.shape[0] - block * recipe.block_rows)
        return rows, *recipe.shape[1:]

    def _read_and_check(self, block: int, into: NDArray[np.generic]) -> None:
        """Read a whole block and check it."""
        recipe = self.recipe
        start = block * recipe.block_rows * recipe.row_bytes
        self._fill(start, into.view(np.uint8).reshape(-1))
        (known,) = _SUM.unpack_from(self._table, block * _SUM.size)
        if crc32_of(into.data) != known:
            raise DamagedError(f"block {block}")

    def _fill(self, offset: int, into: NDArray[np.uint8]) -> None:
        try:
            fill(self._stream, offset, into)
        except (ShortFileError, OSError) as error:
            raise DamagedError(str(error)) from error

    def _known_stamp(self) -> tuple[int, int, int]:
        """Stamp of the file now; if it is another, nothing counts as checked."""
        with self._lock:
            stamp = self._present_stamp()
            if stamp != self._stamp:
                # A new one: a block that is being checked now is of the file before.
                self._checked = bytearray(len(self._checked))
                self._stamp = stamp
            return stamp

    def _present_stamp(self) -> tuple[int, int, int]:
        status = os.fstat(self._stream.fileno())
        return status.st_ino, status.st_mtime_ns, status.st_size
