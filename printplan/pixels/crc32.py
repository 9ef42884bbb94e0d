"""By what sum does one tell whether bytes are still those that were written?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import imagecodecs

if TYPE_CHECKING:
    from _typeshed import ReadableBuffer


def crc32_of(data: ReadableBuffer, before: int = 0) -> int:
    """
    CRC-32 of bytes (ISO 3309), which a change of them keeps once in four billion times.

    Parameters
    ----------
    data : buffer
        C-contiguous.
    before : int, optional
        That of the bytes before these.

    Notes
    -----
    By a library that takes a tenth of the time of `zlib` and of SHA-256.
    """
    flat: Any = memoryview(data).cast("B")
    return int(imagecodecs.deflate_crc32(flat, before))
