"""What does a TIFF master say, and what are its pixels?"""

from __future__ import annotations

import logging
from collections import deque
from contextlib import contextmanager
from functools import partial
from itertools import islice, product
from threading import Lock
from typing import TYPE_CHECKING, Final

import numpy as np
import tifffile

from printplan.pixels.master_file import (
    ARTIST,
    BAND_PIXELS,
    COPYRIGHT,
    GPS_IFD,
    MOST_PIXELS,
    ORIENTATION,
    InPlace,
    Provenance,
    Stored,
    Transparency,
    check_area,
    clean_text,
    orientation_or_none,
    provenance_from_xmp,
    refuse,
)
from printplan.pixels.master_jpeg import strictly_decoded

if TYPE_CHECKING:
    from collections.abc import Iterator
    from concurrent.futures import Executor
    from io import BufferedReader

    from numpy.typing import NDArray

    Pixels = NDArray[np.generic]
    Begun = tuple[Pixels, Iterator[None]]
    """A band, and its parts, each when it is there."""

SIGNATURES = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
"""Little and big endian, classic and BigTIFF."""

# TIFF 6.0, PhotometricInterpretation, and what to call what is refused.
_WHITE_IS_ZERO, _BLACK_IS_ZERO, _RGB, _YCBCR = 0, 1, 2, 6
_REFUSED_COLOURS = {
    3: "a palette of at most 256 colours",
    4: "a mask",
    5: "ink values (CMYK)",
    6: "YCbCr values that are not packed as JPEG",
    8: "CIELAB values",
    9: "CIELAB values",
    10: "CIELAB values",
    32803: "the mosaic of a camera's sensor",
    34892: "the mosaic of a camera's sensor",
}
# TIFF 6.0 and its supplements: none, LZW, JPEG, deflate (two codes), PackBits;
# 34925 and 50000 are libtiff's for LZMA and Zstandard.
_JPEG, _JPEG_BITS = 7, 8
_COMPRESSIONS = {1, 5, _JPEG, 8, 32946, 32773, 34925, 50000}
_ALPHA_OF_EXTRA = {1: Transparency.PREMULTIPLIED, 2: Transparency.STRAIGHT}

MOST_PAGES: Final = 100
"""Pages of a file, smaller versions included. Our choice."""

_BANDS_AHEAD = 5
"""For each of four threads one that it decodes, and one to go on with at once."""

_ICC, _XMP = 34675, 700
_SEPARATE = 2
_CUT_SHORT = "Copy or download the file again: it is incomplete or damaged."
_ANOTHER_DEPTH = (
    "Export it again with 8 or 16 bits (whole numbers), or 16 or 32 bits (floating "
    "point) per channel."
)
_ANOTHER_PACKING = "Export it again uncompressed, or with deflate or LZW."


def describe_tiff(stream: BufferedReader) -> Stored:
    """
    What a TIFF file says of itself.

    Raises
    ------
    MasterError
        If it is not grey or RGB in a depth that is read, or is cut short.
    """
    with _opened(stream) as tiff:
        pages = _pages(tiff)
        page = pages[0]
        channels = _colour_channels(page)
        check_area(page.imagewidth, page.imagelength, MOST_PIXELS)
        _check_layout(page)
        _check_segments(page, stream.seek(0, 2))
        profile = page.tags.valueof(_ICC, b"")
        return Stored(
            file_format="TIFF",
            width_px=page.imagewidth,
            height_px=page.imagelength,
            channels=channels,
            dtype=_dtype(page),
            transparency=_transparency(page, channels),
            white_is_zero=page.photometric == _WHITE_IS_ZERO,
            orientation_flag=orientation_or_none(page.tags.valueof(ORIENTATION)),
            profile_data=profile if isinstance(profile, bytes) else b"",
            page_count=len(pages),
            in_place=_in_place(tiff, page),
            provenance=_provenance(page),
        )


def tiff_bands(
    stream: BufferedReader, pool: Executor, room: NDArray[np.generic] | None = None
) -> Iterator[NDArray[np.generic]]:
    """
    The pixels of a TIFF file from top to bottom.

    Parameters
    ----------
    pool : Executor
        Decodes the strips or tiles of one band side by side.
    room : ndarray, shape (rows, columns, samples), optional
        Takes the pixels; each band is a part of it then.

    Yields
    ------
    ndarray, shape (rows, columns, samples)
        In this machine's byte order.

    Notes
    -----
    A band is one row of strips or tiles, or several if they are small. A file of a
    single strip is therefore decoded whole.
    """
    with _opened(stream) as tiff, _warnings_refused():
        page = _pages(tiff)[0]
        lock = Lock()

        def decoded(index: int, part: NDArray[np.generic]) -> NDArray[np.generic]:
            with lock:
                stream.seek(page.dataoffsets[index])
                packed = stream.read(page.databytecounts[index])
            if page.compression == _JPEG:
                jpeg = _whole_jpeg(page.jpegtables, packed)
                whole = strictly_decoded(jpeg, 3, part)
                if page.photometric == _YCBCR:
                    return _segment(whole, page, *divmod(index, across))
            pixels: NDArray[np.generic] = np.asarray(
                page.decode(packed, index, jpegtables=page.jpegtables)[0]
            )
            return pixels.reshape(pixels.shape[1:])

        planes, down, across, segment_rows, segment_columns = _grid(page)
        height, width, dtype = page.imagelength, page.imagewidth, _dtype(page)
        segment_pixels = segment_rows * width
        together = max(1, BAND_PIXELS // segment_pixels)

        def put(band: Pixels, top: int, place: tuple[int, int, int]) -> None:
            plane, row, column = place
            first, left = row * segment_rows - top, column * segment_columns
            part = band[first : first + segment_rows, left : left + segment_columns]
            if planes > 1:
                part = part[..., plane : plane + 1]
            _put(decoded((plane * down + row) * across + column, part), part)

        def begun(first: int) -> Begun:
            last, top = min(first + together, down), first * segment_rows
            bottom = min(last * segment_rows, height)
            if room is None:
                band = np.empty((bottom - top, width, page.samplesperpixel), dtype)
            else:
                band = room[top:bottom]
            places = product(range(planes), range(first, last), range(across))
            return band, pool.map(partial(put, band, top), places)  # begins all of them

        # The next bands are decoded while one is used, where that takes little memory.
        ahead = _BANDS_AHEAD if segment_pixels <= BAND_PIXELS else 1
        bands = (begun(first) for first in range(0, down, together))
        waiting = deque(islice(bands, ahead))
        while waiting:
            band, parts = waiting.popleft()
            for _ in parts:
                pass
            yield band
            waiting.extend(islice(bands, 1))


def _put(pixels: Pixels, part: Pixels) -> None:
    """Put a strip or tile where it belongs, but for what is beyond the picture."""
    if np.may_share_memory(pixels, part):
        return
    part = part[: pixels.shape[0], : pixels.shape[1]]
    part[...] = pixels[: part.shape[0], : part.shape[1]]


def _segment(
    pixels: NDArray[np.uint8], page: tifffile.TiffPage, row: int, column: int
) -> NDArray[np.uint8]:
    """The part of a decoded JPEG that is that strip or tile."""
    _, _, _, rows, columns = _grid(page)
    wanted = (
        min(rows, page.imagelength - row * rows),
        min(columns, page.imagewidth - column * columns),
    )
    part = pixels[: wanted[0], : wanted[1]]
    if part.shape[:2] != wanted:
        refuse("A strip or tile of this TIFF is too small.", remedy=_CUT_SHORT)
    return part


def _whole_jpeg(tables: bytes | None, packed: bytes) -> bytes:
    """Put a strip together with the tables that all strips share (TIFF TN2)."""
    return packed if not tables else tables[:-2] + packed[2:]


class _Refusing(logging.Handler):
    """Takes for damage what the library only notes: a strip filled up with zeros."""

    def emit(self, record: logging.LogRecord) -> None:
        refuse(f"This TIFF is damaged ({record.getMessage()}).", remedy=_CUT_SHORT)


@contextmanager
def _warnings_refused() -> Iterator[None]:
    log, handler = logging.getLogger("tifffile"), _Refusing(logging.WARNING)
    log.addHandler(handler)
    try:
        yield
    finally:
        log.removeHandler(handler)


def _in_place(tiff: tifffile.TiffFile, page: tifffile.TiffPage) -> InPlace | None:
    if not page.is_memmappable:
        return None
    return InPlace(
        offset=page.dataoffsets[0],
        byte_order=tiff.byteorder,
        is_planar=page.planarconfig == _SEPARATE,
    )


def _opened(stream: BufferedReader) -> tifffile.TiffFile:
    stream.seek(0)
    return tifffile.TiffFile(stream)


def _pages(tiff: tifffile.TiffFile) -> list[tifffile.TiffPage]:
    """Pages that are pictures: no reduced versions (bit 0) and no masks (bit 2)."""
    tiff.pages.useframes = False
    pages: list[tifffile.TiffPage] = []
    # Asked for one by one, for to count them all is to read them all.
    for page in islice(tiff.pages, MOST_PAGES + 1):
        if len(pages) == MOST_PAGES:
            refuse(
                f"This TIFF has more than {MOST_PAGES} pages; a master has one, and a "
                "few smaller versions of it."
            )
        if isinstance(page, tifffile.TiffPage):
            pages.append(page)
    if not pages:
        refuse("This TIFF ends before its first page.", remedy=_CUT_SHORT)
    pictures = [page for page in pages if not int(page.subfiletype) & 0b101]
    if not pictures:
        refuse("This TIFF holds no picture at full size.")
    return pictures


def _colour_channels(page: tifffile.TiffPage) -> int:
    """1 or 3; refuse whatever is neither grey nor RGB."""
    meaning = page.tags.valueof(262)
    if page.bitspersample == 1:
        refuse("This TIFF holds 1 bit per pixel: black and white without greys.")
    if meaning in (_WHITE_IS_ZERO, _BLACK_IS_ZERO):
        return 1
    if meaning == _RGB or (meaning == _YCBCR and page.compression == _JPEG):
        return 3
    what = _REFUSED_COLOURS.get(
        meaning, f"colours of kind {meaning} (PhotometricInterpretation)"
    )
    return refuse(f"This TIFF holds {what}; a master is RGB or grey.")


def _dtype(page: tifffile.TiffPage) -> np.dtype[np.generic]:
    return np.dtype(page.dtype).newbyteorder("=")


def _check_layout(page: tifffile.TiffPage) -> None:
    """Refuse depths and packings that are not read."""
    if page.dtype is None or (page.dtype.kind, page.bitspersample) not in {
        ("u", 8),
        ("u", 16),
        ("f", 16),
        ("f", 32),
    }:
        refuse(
            f"This TIFF stores {page.bitspersample} bits per channel (SampleFormat "
            f"{page.sampleformat}).",
            remedy=_ANOTHER_DEPTH,
        )
    if page.compression not in _COMPRESSIONS:
        refuse(
            f"This TIFF is packed by a method that is not read here (compression "
            f"{int(page.compression)}).",
            remedy=_ANOTHER_PACKING,
        )
    if page.compression == _JPEG:
        _check_jpeg_layout(page)
    if page.imagedepth != 1:
        refuse(f"This TIFF is a stack of {page.imagedepth} slices, not a picture.")


def _check_jpeg_layout(page: tifffile.TiffPage) -> None:
    if page.planarconfig == _SEPARATE:
        refuse(
            "This TIFF is packed as JPEG with each colour by itself, which is not read "
            "here.",
            remedy=_ANOTHER_PACKING,
        )
    if page.bitspersample != _JPEG_BITS:
        refuse(
            f"This TIFF says that it has {page.bitspersample} bits per channel, and is "
            "packed as JPEG, which holds 8.",
            remedy=_ANOTHER_PACKING,
        )


def _transparency(page: tifffile.TiffPage, channels: int) -> Transparency:
    """What the channels after the colours are."""
    extra = [int(kind) for kind in page.extrasamples]
    count = page.samplesperpixel - channels
    if count == 0:
        return Transparency.NONE
    if count != 1 or len(extra) != 1 or extra[0] not in _ALPHA_OF_EXTRA:
        refuse(
            f"This TIFF holds {page.samplesperpixel} channels, {channels} of them "
            f"colours; the file does not call the other {count} transparency.",
            remedy="Delete the extra channels and export it again.",
        )
    if page.photometric == _WHITE_IS_ZERO:
        refuse("This TIFF joins transparency to values where 0 is white.")
    return _ALPHA_OF_EXTRA[extra[0]]


def _grid(page: tifffile.TiffPage) -> tuple[int, int, int, int, int]:
    """Planes, segments down and across, and rows and columns of a segment."""
    planes = page.samplesperpixel if page.planarconfig == _SEPARATE else 1
    rows = page.tilelength if page.is_tiled else page.rowsperstrip
    columns = page.tilewidth if page.is_tiled else page.imagewidth
    rows = min(rows, page.imagelength) if not page.is_tiled else rows
    if rows < 1 or columns < 1:
        refuse("This TIFF has strips or tiles without pixels.", remedy=_CUT_SHORT)
    down = -(-page.imagelength // rows)
    across = -(-page.imagewidth // columns)
    return planes, down, across, rows, columns


def _check_segments(page: tifffile.TiffPage, file_bytes: int) -> None:
    """Refuse a file that does not hold all its pixels."""
    planes, down, across, _, _ = _grid(page)
    needed = planes * down * across
    segments = list(zip(page.dataoffsets, page.databytecounts, strict=False))
    if any(offset < 0 for offset, _ in segments):
        refuse("The pixels of this TIFF begin before the file.", remedy=_CUT_SHORT)
    header_bytes = 16 if page.parent.is_bigtiff else 8
    if any(offset < header_bytes and count > 0 for offset, count in segments):
        refuse(
            "This TIFF says that its pixels begin inside its header.",
            remedy="Export it again, without BigTIFF if it is below 4 GB: the program "
            "that wrote it did not note where its pixels are.",
        )
    if page.is_contiguous:
        end = page.dataoffsets[0] + page.nbytes
    elif len(segments) < needed or any(count < 1 for _, count in segments[:needed]):
        full = sum(count > 0 for _, count in segments[:needed])
        refuse(
            f"This TIFF has {full} strips or tiles with pixels; {needed} are needed.",
            remedy=_CUT_SHORT,
        )
    else:
        end = max(offset + count for offset, count in segments[:needed])
    if end > file_bytes:
        refuse(
            f"The pixels of this TIFF end at byte {end}; the file has {file_bytes}.",
            remedy=_CUT_SHORT,
        )


def _provenance(page: tifffile.TiffPage) -> Provenance:
    """Provenance in the page's own tags, completed by its XMP packet."""
    place = page.tags.valueof(GPS_IFD)
    own = Provenance(
        clean_text(page.tags.valueof(ARTIST)),
        clean_text(page.tags.valueof(COPYRIGHT)),
        "GPSLatitude" in place if isinstance(place, dict) else place is not None,
    )
    packet = page.tags.valueof(_XMP, b"")
    return own.completed_by(
        provenance_from_xmp(
            packet if isinstance(packet, bytes) else bytes(packet or b"")
        )
    )
