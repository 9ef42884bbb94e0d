"""What does a PNG master say, and what are its pixels?"""

from __future__ import annotations

import os
import zlib
from typing import TYPE_CHECKING

import imagecodecs
import numpy as np

from printplan.errors import MasterError
from printplan.pixels.master_file import (
    MOST_PIXELS_AT_ONCE,
    ORIENTATION,
    Provenance,
    Stored,
    Transparency,
    check_area,
    clean_text,
    orientation_or_none,
    parse_exif,
    provenance_from_exif,
    provenance_from_xmp,
    refuse,
)

if TYPE_CHECKING:
    from collections.abc import Iterator
    from io import BufferedReader

    from numpy.typing import NDArray


# ISO/IEC 15948 (PNG): 5.2 signature, 5.3 chunk layout, 11.2.2 colour types.
PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_COLOUR_TYPES = {
    0: (1, Transparency.NONE),
    2: (3, Transparency.NONE),
    4: (1, Transparency.STRAIGHT),
    6: (3, Transparency.STRAIGHT),
}
_PALETTE = 3
_XMP_KEYWORD = b"XML:com.adobe.xmp"
_DESCRIBING = frozenset({b"IHDR", b"iCCP", b"sRGB", b"tRNS", b"eXIf", b"tEXt", b"iTXt"})
_MOST_CHUNKS = 1_000_000
"""Our choice: pixels come in chunks of 8 kB and more."""

_MOST_DESCRIBING = 64_000_000
_KEYWORDS = frozenset({b"Author", b"Copyright", _XMP_KEYWORD})
_LARGEST_UNPACKED = 64_000_000
"""Bytes taken from one compressed chunk; profiles with tables reach a few million."""

_CUT_SHORT = "Copy or download the file again: it is incomplete or damaged."


def describe_png(stream: BufferedReader) -> Stored:
    """
    What a PNG file says of itself.

    Raises
    ------
    MasterError
        If it is damaged, holds a palette, or fewer than 8 bits per channel.
    """
    chunks: dict[bytes, bytes] = {}
    for name, content in _chunks(stream):
        if name in (b"tEXt", b"iTXt"):
            _add_text(chunks, name, content)
        else:
            chunks[name] = content
    header = chunks.get(b"IHDR", b"")
    if len(header) != 13:
        refuse("This PNG has no header.", remedy=_CUT_SHORT)
    width_px, height_px = (int.from_bytes(header[at : at + 4]) for at in (0, 4))
    bits, colour_type = header[8], header[9]
    if colour_type == _PALETTE:
        refuse("This PNG holds a palette of at most 256 colours, not a photograph.")
    if colour_type not in _COLOUR_TYPES or bits not in (8, 16):
        refuse(f"This PNG stores {bits}-bit numbers (colour type {colour_type}).")
    check_area(width_px, height_px, MOST_PIXELS_AT_ONCE)
    channels, transparency = _COLOUR_TYPES[colour_type]
    exif = parse_exif(chunks.get(b"eXIf", b""))
    return Stored(
        file_format="PNG",
        width_px=width_px,
        height_px=height_px,
        channels=channels,
        dtype=np.dtype(np.uint8 if bits == 8 else np.uint16),
        transparency=Transparency.STRAIGHT if b"tRNS" in chunks else transparency,
        orientation_flag=orientation_or_none(exif.get(ORIENTATION)),
        profile_data=_profile(chunks.get(b"iCCP", b"")),
        says_srgb=b"sRGB" in chunks,
        provenance=provenance_from_exif(exif)
        # Under the keywords that the standard sets aside (11.3.3.1).
        .completed_by(
            Provenance(
                clean_text(chunks.get(b"Author")), clean_text(chunks.get(b"Copyright"))
            )
        )
        .completed_by(provenance_from_xmp(chunks.get(_XMP_KEYWORD, b""))),
    )


def png_bands(
    stream: BufferedReader, stored: Stored, room: NDArray[np.generic] | None = None
) -> Iterator[NDArray[np.generic]]:
    """
    The pixels of a PNG file from top to bottom.

    Parameters
    ----------
    stored : Stored
        What `describe_png` found.
    room : ndarray, shape (rows, columns, samples), optional
        C-contiguous: the pixels are decoded into it.

    Yields
    ------
    ndarray of uint8 or uint16, shape (rows, columns, samples)
        One colour named transparent (chunk tRNS) comes as an alpha channel.

    Notes
    -----
    One band: the picture is decoded whole, beside the bytes of the file.
    """
    stream.seek(0)
    out = room[..., 0] if room is not None and stored.samples == 1 else room
    pixels = imagecodecs.png_decode(stream.read(), out=out)
    shape = (stored.height_px, stored.width_px, stored.samples)
    if pixels.size != np.prod(shape) or pixels.dtype != stored.dtype:
        refuse(
            f"This PNG decodes to {pixels.shape}, not to {shape}.", remedy=_CUT_SHORT
        )
    yield pixels.reshape(shape)


def _chunks(stream: BufferedReader) -> Iterator[tuple[bytes, bytes]]:
    """Yield name and content of the chunks that describe."""
    stream.seek(len(PNG_SIGNATURE))
    left_bytes, file_bytes = _MOST_DESCRIBING, os.fstat(stream.fileno()).st_size
    for _ in range(_MOST_CHUNKS):
        head = stream.read(8)
        if len(head) < 8:
            refuse("This PNG ends before its last chunk.", remedy=_CUT_SHORT)
        length, name = int.from_bytes(head[:4]), head[4:]
        if name == b"IEND":
            return
        if name not in _DESCRIBING:
            stream.seek(length + 4, 1)
            continue
        if stream.tell() + length + 4 > file_bytes:
            refuse(
                f"The chunk {name.decode('latin-1')} of this PNG is cut short.",
                remedy=_CUT_SHORT,
            )
        left_bytes -= length
        if left_bytes < 0:
            refuse(
                f"This PNG says more than {_MOST_DESCRIBING / 1e6:.0f} MB about itself."
            )
        content, check = stream.read(length), stream.read(4)
        if zlib.crc32(name + content) != int.from_bytes(check):
            refuse(
                f"The chunk {name.decode('latin-1')} of this PNG is damaged.",
                remedy=_CUT_SHORT,
            )
        yield name, content
    refuse(f"This PNG has more than {_MOST_CHUNKS} chunks.")


def _add_text(chunks: dict[bytes, bytes], name: bytes, content: bytes) -> None:
    """Add the text of a chunk (11.3.3) under its keyword, the first of each we read."""
    keyword, _, text = content.partition(b"\0")
    if keyword not in _KEYWORDS or keyword in chunks:
        return
    if name == b"iTXt":
        packed, rest = text[:1] == b"\1", text[2:]
        text = rest.partition(b"\0")[2].partition(b"\0")[2]
        if packed:
            text = _unpacked(text)
    chunks[keyword] = text


def _profile(chunk: bytes) -> bytes:
    """Content of the profile chunk (11.3.2.3): a name, a method, packed data."""
    return _unpacked(chunk.partition(b"\0")[2][1:]) if chunk else b""


def _unpacked(data: bytes) -> bytes:
    unpacker = zlib.decompressobj()
    try:
        content = unpacker.decompress(data, _LARGEST_UNPACKED)
    except zlib.error as error:
        raise MasterError(
            f"A packed chunk of this PNG is damaged ({error}).", remedy=_CUT_SHORT
        ) from error
    if not unpacker.eof:
        refuse(
            "A packed chunk of this PNG is cut short, or larger than "
            f"{_LARGEST_UNPACKED / 1e6:.0f} MB.",
        )
    return content
