"""How is a file put on the disk and read back while more of it is written?"""

from __future__ import annotations

import hashlib
import os
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from io import SEEK_SET, FileIO, UnsupportedOperation
from typing import TYPE_CHECKING

from printplan.pixels.crc32 import crc32_of
from printplan.pixels.picture_file import require_same

if TYPE_CHECKING:
    from collections.abc import Callable
    from contextlib import AbstractContextManager
    from pathlib import Path

    from _typeshed import ReadableBuffer

_PUT_BYTES = 2**24
"""Written before the disk is asked to take them. Our choice."""

_PIECE_BYTES = 2**20
"""Read back at a time: it stays in a processor's cache. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadBack:
    """
    A whole file as it was read back, beside what was written.

    Attributes
    ----------
    sha256 : str
        Of what was read, hexadecimal.
    length : int
        Bytes read.
    """

    sha256: str
    length: int
    crc32: int
    written_length: int
    written_crc32: int

    def require_as_written(self) -> None:
        """
        Refuse a file of which any byte is not the one that was written.

        Raises
        ------
        RenderError
            If its length or its CRC-32 differs. Bytes that a disk changes keep that
            sum (ISO 3309) once in four billion times.
        """
        require_same("its length", self.length, self.written_length)
        require_same("the sum of its bytes", self.crc32, self.written_crc32)


class WrittenFile(FileIO):
    """
    A new file, written from its start to its end.

    Parameters
    ----------
    path : Path
        Nothing may be there.
    explained : callable
        Gives a context that translates what the system says of the disk: errors of
        writing and reading pass through it, and no others.

    Notes
    -----
    What was written is put on the disk, then read back through the file's name,
    while more is computed, so that little is left to wait for at the end. What was
    read back leaves the system's memory at once, where the system lets it be said:
    the next bytes then take its room, and other files stay in theirs.
    """

    def __init__(
        self, path: Path, explained: Callable[[], AbstractContextManager[None]]
    ) -> None:
        super().__init__(path, "x")
        self._explained = explained
        self._reader = FileIO(path)
        self._pool = ThreadPoolExecutor(1, "printplan-disk")
        self._following: Future[None] | None = None
        self._asked_length = 0
        self._written_length = self._written_crc32 = 0
        self._read_length = self._read_crc32 = 0
        self._read_hash = hashlib.sha256()
        self._room = memoryview(bytearray(_PIECE_BYTES))

    def write(self, data: ReadableBuffer, /) -> int:
        """Give the system the next bytes, or the first of them; how many it took."""
        flat = memoryview(data).cast("B")
        with self._explained():
            count = super().write(flat)
            self._written_crc32 = crc32_of(flat[:count], self._written_crc32)
            self._written_length += count
            waiting = self._written_length - self._asked_length
            if waiting >= _PUT_BYTES and self._has_followed():
                self._asked_length = self._written_length
                self._following = self._pool.submit(self._follow, self._asked_length)
        return count

    def seek(self, _position: int, _whence: int = SEEK_SET, /) -> int:
        """Refuse to go back: what was read back stays as it is."""
        raise UnsupportedOperation("A file is written from its start to its end.")

    def finish(self) -> ReadBack:
        """Wait until all is on the disk, and tell what was read back from there."""
        with self._explained():
            if self._following is not None:
                self._following.result()
            self._follow(None)
        return ReadBack(
            sha256=self._read_hash.hexdigest(),
            length=self._read_length,
            crc32=self._read_crc32,
            written_length=self._written_length,
            written_crc32=self._written_crc32,
        )

    def close(self) -> None:
        """End both the writing and the reading."""
        self._pool.shutdown()
        self._reader.close()
        super().close()

    def _has_followed(self) -> bool:
        """Whether nothing is on its way; raises what the disk said of it."""
        if self._following is not None and self._following.done():
            self._following.result()
            self._following = None
        return self._following is None

    def _follow(self, length: int | None) -> None:
        """Put what was written on the disk, and read back so many bytes, or all."""
        os.fsync(self.fileno())
        start = self._read_length
        self._read_back(length)
        if hasattr(os, "posix_fadvise"):
            count = self._read_length - start
            os.posix_fadvise(self.fileno(), start, count, os.POSIX_FADV_DONTNEED)

    def _read_back(self, length: int | None) -> None:
        """Read on up to this length of the file, or to its end."""
        while length is None or self._read_length < length:
            left = len(self._room) if length is None else length - self._read_length
            count = self._reader.readinto(self._room[:left])
            if not count:
                return
            piece = self._room[:count]
            self._read_hash.update(piece)
            self._read_crc32 = crc32_of(piece, self._read_crc32)
            self._read_length += count
