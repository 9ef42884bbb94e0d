"""Does a JPEG hold all that it says, and no more than a photograph does?"""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

from printplan.errors import MasterError
from printplan.pixels.master_file import refuse

if TYPE_CHECKING:
    from collections.abc import Iterator
    from io import BufferedReader

# ITU-T T.81 (JPEG), table B.1: markers; figure B.3: a frame, figure B.4: a scan.
_END, _SCAN = 0xD9, 0xDA
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_READ_FRAMES = frozenset({0xC0, 0xC1, 0xC2, 0xC9, 0xCA})
"""Sequential and progressive, Huffman or arithmetic; not lossless or hierarchical."""

_ALONE = frozenset({0x01, *range(0xD0, 0xD9)})
_COEFFICIENTS = 64
_BEFORE_MARKER = 0xFF
_IS_MARKER = np.ones(256, np.bool_)
_IS_MARKER[[0x00, _BEFORE_MARKER, *range(0xD0, 0xD8)]] = False
"""After entropy-coded bytes: neither a stuffed zero nor a restart (B.1.1.2)."""

_BYTES_AT_ONCE = 2**20
"""Our choice: so that little is held beside the file."""

MOST_SEGMENTS: Final = 2000
"""Our choice: a profile and XMP in many parts are some hundred."""

MOST_PIXELS_PER_BYTE: Final = 512
"""Each block of 64 pixels of the first component takes at least one bit (F.1.2)."""

_BITS = 8
_AS_TIFF = "Export it again as TIFF with 16 bits, or as an ordinary JPEG with 8 bits."

CUT_SHORT = "Copy or download the file again: it is incomplete or damaged."


@dataclass(slots=True)
class _Frame:
    """Size, and which coefficients of each component came with how many bits left."""

    width_px: int
    height_px: int
    bits_left: dict[int, list[int | None]] = field(default_factory=dict)


def check_header(stream: BufferedReader) -> None:
    """
    Refuse a JPEG for what it says before its first scan.

    Parameters
    ----------
    stream : BufferedReader
        Read no farther than that scan, where it begins early.

    Raises
    ------
    MasterError
        If its frame is larger than the bytes can hold; if it has more segments than a
        photograph has; if it is of a kind or depth that is not read.

    See Also
    --------
    check_jpeg : goes through all of it, which takes a tenth of the time of decoding.
    """
    stream.seek(0)
    file_bytes = os.fstat(stream.fileno()).st_size
    head = stream.read(_BYTES_AT_ONCE)
    try:
        _go_to_scan(head, file_bytes)
    except MasterError:
        _go_to_scan(head + stream.read(), file_bytes)


def _go_to_scan(data: bytes, file_bytes: int) -> None:
    segments = _few_segments(data)
    _frame_in(segments, file_bytes)
    for marker, _ in segments:
        if marker == _SCAN:
            return


def check_jpeg(data: bytes) -> None:
    """
    Refuse a JPEG that is cut between its scans, or made to do harm.

    Parameters
    ----------
    data : bytes
        The whole file.

    Raises
    ------
    MasterError
        As `check_header`, and if a coefficient never came, or not with all its bits.

    Notes
    -----
    ITU-T T.81, annexes B and G. What is inside the scans is for the decoder to judge.
    """
    segments = _few_segments(data)
    frame = _frame_in(segments, len(data))
    for marker, content in segments:
        if marker == _SCAN:
            _note_scan(frame, content)
    _require_all(frame)


def _frame_in(segments: Iterator[tuple[int, bytes]], file_bytes: int) -> _Frame:
    """Go on to the first frame."""
    for marker, content in segments:
        if marker in _FRAMES:
            _check_process(marker, content)
            return _frame(content, file_bytes)
    return refuse("This JPEG holds no picture.", remedy=CUT_SHORT)


def _few_segments(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Yield segments, and refuse more than a photograph has."""
    for count, segment in enumerate(_segments(data)):
        if count >= MOST_SEGMENTS:
            refuse(
                f"This JPEG has more than {MOST_SEGMENTS} segments; a photograph has "
                "some twenty."
            )
        yield segment


def _segments(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Yield marker and content of each segment up to the end mark."""
    at = 2
    for place in _places_of_markers(data):
        if place <= at:  # inside a segment
            continue
        marker, at = data[place], place + 1
        if marker == _END:
            return
        if marker not in _ALONE:
            length = int.from_bytes(data[at : at + 2])
            yield marker, data[at + 2 : at + length]
            at += max(length, 2)
    refuse("This JPEG is cut short: its end mark is missing.", remedy=CUT_SHORT)


def _places_of_markers(data: bytes) -> Iterator[int]:
    """
    Places of all bytes that may name a marker, within segments too.

    Many are looked for together: a scan has the byte that stands before a marker every
    few hundred bytes, and a search for each takes as long as decoding.
    """
    numbers = np.frombuffer(data, np.uint8)
    for start in range(0, len(numbers), _BYTES_AT_ONCE):
        part = numbers[start : start + _BYTES_AT_ONCE + 1]
        places = np.flatnonzero(part[:-1] == _BEFORE_MARKER) + 1
        yield from (start + places[_IS_MARKER[part[places]]]).tolist()


def cut_short(why: str) -> MasterError:
    """Refusal of a JPEG whose decoder warned."""
    return MasterError(f"This JPEG is damaged ({why}).", remedy=CUT_SHORT)


def _check_process(marker: int, content: bytes) -> None:
    """Refuse what the decoder does not read, before it is called damaged."""
    if marker not in _READ_FRAMES:
        refuse(
            "This JPEG is of the lossless or hierarchical kind, which is not read "
            "here.",
            remedy=_AS_TIFF,
        )
    if content and content[0] != _BITS:
        refuse(
            f"This JPEG stores {content[0]} bits per channel; 8 are read.",
            remedy=_AS_TIFF,
        )


def _frame(content: bytes, file_bytes: int) -> _Frame:
    if len(content) < 6 or len(content) < 6 + 3 * content[5]:
        return refuse("This JPEG ends within its header.", remedy=CUT_SHORT)
    height_px, width_px = (int.from_bytes(content[at : at + 2]) for at in (1, 3))
    if width_px * height_px > MOST_PIXELS_PER_BYTE * file_bytes:
        return refuse(
            f"This JPEG says that it holds {width_px} × {height_px} pixels; its "
            f"{file_bytes} bytes cannot.",
            remedy=CUT_SHORT,
        )
    names = content[6 : 6 + 3 * content[5] : 3]
    return _Frame(width_px, height_px, {it: [None] * _COEFFICIENTS for it in names})


def _note_scan(frame: _Frame, content: bytes) -> None:
    count = content[0] if content else 0
    if len(content) < 4 + 2 * count:
        refuse("This JPEG ends within the header of a scan.", remedy=CUT_SHORT)
    first, last, bits = content[1 + 2 * count : 4 + 2 * count]
    for name in content[1 : 1 + 2 * count : 2]:
        if name in frame.bits_left and first <= last < _COEFFICIENTS:
            frame.bits_left[name][first : last + 1] = [bits & 15] * (last + 1 - first)


def _require_all(frame: _Frame) -> None:
    for left in frame.bits_left.values():
        if any(left):
            refuse(
                "This JPEG ends before its details: scans that complete them are "
                "missing.",
                remedy=CUT_SHORT,
            )
        if None in left:
            refuse("This JPEG ends before all of its scans.", remedy=CUT_SHORT)
