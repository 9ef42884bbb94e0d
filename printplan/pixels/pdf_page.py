"""How are pixels written to a PDF page of the sheet's exact size, and read back?"""

from __future__ import annotations

import hashlib
import re
import zlib
from functools import partial
from math import ceil
from typing import TYPE_CHECKING, BinaryIO

import numpy as np

from printplan.errors import RenderError
from printplan.pixels.picture_file import MAKER, credit_xmp, require_same
from printplan.units import MM_PER_INCH, POINTS_PER_INCH

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from numpy.typing import NDArray

    from printplan.pixels.picture_file import Check, FileForm, PixelRows

# Clauses are those of ISO 32000-1:2008 (PDF 1.7).
LONGEST_PAGE_UNITS = 14_400
"""Longest edge of a page in its own units (Annex C.2)."""

LARGEST_STREAM_BYTES = 2**31 - 1
"""Largest whole number, hence /Length, that every reader takes (Annex C.2)."""

_CATALOG, _PAGES, _PAGE, _CONTENTS, _IMAGE, _IMAGE_LENGTH, _PROFILE, _INFO, _CREDIT = (
    range(1, 10)
)
_DEVICE_SPACE = {1: b"/DeviceGray", 3: b"/DeviceRGB", 4: b"/DeviceCMYK"}
_CHUNK_BYTES = 2**20


def write_pdf(file: BinaryIO, form: FileForm, rows: PixelRows) -> Check:
    """
    Write one page that holds the pixels at their physical size.

    Parameters
    ----------
    file : binary file
        Open for writing, empty.

    Returns
    -------
    Check
        `check_pdf` with the SHA-256 of the samples as they were compressed.

    Raises
    ------
    RenderError
        If the compressed pixels outgrow `LARGEST_STREAM_BYTES`.

    Notes
    -----
    The picture's top left corner is the page's. The page is the paper's size and
    the picture is a whole number of pixels, so they differ by up to half a pixel at
    the right and the bottom.

    Libraries for PDF want a picture whole. The nine objects of this page are
    written here instead, so that one band is in memory at a time. There is no date,
    and the file identifier is made from the contents: the same sheet gives the same
    bytes.
    """
    offsets: dict[int, int] = {}
    file.write(_header(form))
    for number, body in _small_objects(form).items():
        offsets[number] = file.tell()
        file.write(_object(number, body))
    offsets[_IMAGE] = file.tell()
    file.write(_image_head(form))
    start = file.tell()
    # Run lengths suit filtered samples as well as a full search, in less than half
    # the time, and shrink white paper (zlib manual, deflateInit2, Z_RLE).
    deflate = zlib.compressobj(level=1, strategy=zlib.Z_RLE)
    compressed = hashlib.sha256()
    for band in rows:
        samples = _filtered(band).data
        compressed.update(samples)
        file.write(deflate.compress(samples))
        _require_stream_fits(file.tell() - start)
    file.write(deflate.flush())
    length = file.tell() - start
    _require_stream_fits(length)
    file.write(_STREAM_END)
    offsets[_IMAGE_LENGTH] = file.tell()
    file.write(_object(_IMAGE_LENGTH, b"%d" % length))
    file.write(_tail(form, offsets, file.tell(), compressed.hexdigest()))
    return partial(check_pdf, form=form, sha256=compressed.hexdigest())


def _header(form: FileForm) -> bytes:
    """
    File header (7.5.2), and four bytes that mark a binary file.

    The version is the lowest that has all that is used: Tables 30, 67 and 150.
    """
    version = b"1.7" if form.profile.version >= (4, 0) else b"1.6"
    return b"%%PDF-%s\n%%\xe2\xe3\xcf\xd3\n" % version


def _object(number: int, body: bytes) -> bytes:
    """Indirect object (7.3.10)."""
    return b"%d 0 obj\n%s\nendobj\n" % (number, body)


def _stream(entries: bytes, data: bytes) -> bytes:
    """Stream of known length (7.3.8)."""
    return b"<< %s /Length %d >>\nstream\n%s\nendstream" % (entries, len(data), data)


_STREAM_END = b"\nendstream\nendobj\n"


def _small_objects(form: FileForm) -> dict[int, bytes]:
    """Everything but the picture, by object number."""
    packet = credit_xmp(form)
    objects = {
        # Catalog (7.7.2). The print dialogue is asked not to scale (12.2, Table 150).
        _CATALOG: b"<< /Type /Catalog /Pages %d 0 R%s"
        b" /ViewerPreferences << /PrintScaling /None >> >>"
        % (_PAGES, b" /Metadata %d 0 R" % _CREDIT if packet else b""),
        _PAGES: b"<< /Type /Pages /Kids [%d 0 R] /Count 1 >>" % _PAGE,
        _PAGE: _page(form),
        _CONTENTS: _stream(b"", _placement(form)),
        # ICCBased colour space (8.6.5.5).
        _PROFILE: _stream(
            b"/N %d /Alternate %s" % (form.channels, _DEVICE_SPACE[form.channels]),
            form.profile.data,
        ),
        # Document information (14.3.3).
        _INFO: b"<<%s /Producer (%s) >>"
        % (b" /Author " + _text(form.creator) if form.creator else b"", MAKER.encode()),
    }
    if packet:
        # Metadata stream (14.3.2): Info has no place for a notice of rights.
        objects[_CREDIT] = _stream(b"/Type /Metadata /Subtype /XML", packet)
    return objects


def _page(form: FileForm) -> bytes:
    """Page object (7.7.3.3), in points or in whole multiples of them (UserUnit)."""
    unit = _unit_points(form)
    width, height = _page_units(form)
    return (
        b"<< /Type /Page /Parent %d 0 R /MediaBox [0 0 %s %s]%s"
        b" /Resources << /XObject << /Picture %d 0 R >> >> /Contents %d 0 R >>"
    ) % (
        _PAGES,
        _number(width),
        _number(height),
        b" /UserUnit %d" % unit if unit > 1 else b"",
        _IMAGE,
        _CONTENTS,
    )


def _unit_points(form: FileForm) -> int:
    longest = max(form.page_mm) * POINTS_PER_INCH / MM_PER_INCH
    return max(ceil(longest / LONGEST_PAGE_UNITS), 1)


def _page_units(form: FileForm) -> tuple[float, float]:
    scale = POINTS_PER_INCH / MM_PER_INCH / _unit_points(form)
    return form.page_mm[0] * scale, form.page_mm[1] * scale


def _placement(form: FileForm) -> bytes:
    """Content stream: the unit square of the image on the page (8.3.4, 8.9.5)."""
    scale = POINTS_PER_INCH / float(form.ppi) / _unit_points(form)
    width, height = form.width_px * scale, form.height_px * scale
    bottom = _page_units(form)[1] - height
    return b"q %s 0 0 %s 0 %s cm /Picture Do Q" % (
        _number(width),
        _number(height),
        _number(bottom),
    )


def _number(value: float) -> bytes:
    """Number to a millionth of a point: far below any printer (7.3.3)."""
    return f"{value:z.6f}".rstrip("0").rstrip(".").encode()


def _text(text: str) -> bytes:
    """Text string in UTF-16, written in hexadecimal (7.9.2.2, 7.3.4.3)."""
    return b"<FEFF%s>" % text.encode("utf-16-be").hex().upper().encode()


def _image_head(form: FileForm) -> bytes:
    """Image dictionary (8.9.5) whose length follows the stream (7.3.8.2)."""
    return (
        b"%d 0 obj\n<< /Type /XObject /Subtype /Image /Width %d /Height %d"
        b" /ColorSpace [/ICCBased %d 0 R] /BitsPerComponent %d"
        b" /Filter /FlateDecode /DecodeParms << /Predictor 11 /Colors %d"
        b" /BitsPerComponent %d /Columns %d >> /Length %d 0 R >>\nstream\n"
    ) % (
        _IMAGE,
        form.width_px,
        form.height_px,
        _PROFILE,
        form.bits,
        form.channels,
        form.bits,
        form.width_px,
        _IMAGE_LENGTH,
    )


def _filtered(
    band: NDArray[np.uint8] | NDArray[np.uint16],
) -> NDArray[np.uint8]:
    """
    Samples, high byte first (8.9.5.2), each byte less the one a pixel before it.

    That is filter type 1 of PNG (7.4.4.4; ISO/IEC 15948, 9.2), named at the head of
    each row.
    """
    rows, columns, channels = band.shape
    step = channels * band.dtype.itemsize
    big_endian = np.ascontiguousarray(band, band.dtype.newbyteorder(">"))
    samples = big_endian.view(np.uint8).reshape(rows, columns * step)
    filtered = np.empty((rows, 1 + columns * step), np.uint8)
    filtered[:, 0] = 1
    filtered[:, 1 : 1 + step] = samples[:, :step]
    np.subtract(samples[:, step:], samples[:, :-step], out=filtered[:, 1 + step :])
    return filtered


def _require_stream_fits(length: int) -> None:
    if length > LARGEST_STREAM_BYTES:
        raise RenderError(
            f"The compressed pixels take more than {LARGEST_STREAM_BYTES / 1e6:.0f} "
            "MB, the most that a PDF page can count on.",
            remedy='Choose the format "TIFF, 16 bits", or a lower resolution.',
        )


def _tail(form: FileForm, offsets: dict[int, int], start: int, sha256: str) -> bytes:
    """
    Cross-reference table (7.5.4) and trailer (7.5.5).

    The file identifier (14.4) is made from the contents.
    """
    contents = b"".join(_small_objects(form).values()) + sha256.encode()
    identifier = hashlib.sha256(contents).hexdigest()[:32].upper().encode()
    entries = [b"%010d 00000 n \n" % offsets[number] for number in sorted(offsets)]
    size = len(offsets) + 1
    return (
        b"xref\n0 %d\n0000000000 65535 f \n%strailer\n"
        b"<< /Size %d /Root %d 0 R /Info %d 0 R /ID [<%s> <%s>] >>\n"
        b"startxref\n%d\n%%%%EOF\n"
    ) % (
        size,
        b"".join(entries),
        size,
        _CATALOG,
        _INFO,
        identifier,
        identifier,
        start,
    )


def check_pdf(path: Path, form: FileForm, sha256: str) -> None:
    """
    Read a PDF back through its own cross-reference table.

    Parameters
    ----------
    form : FileForm
        What was to be written.
    sha256 : str
        Of the samples.

    Raises
    ------
    RenderError
        If anything differs.
    """
    with path.open("rb") as file:
        header = _header(form)
        require_same("the header", file.read(len(header)), header)
        offsets, start = _read_xref(file)
        file.seek(start)
        require_same("the trailer", file.read(), _tail(form, offsets, start, sha256))
        for number, body in _small_objects(form).items():
            written = _object(number, body)
            file.seek(offsets[number])
            require_same(f"object {number}", file.read(len(written)), written)
        file.seek(offsets[_IMAGE_LENGTH])
        file.readline()
        length = int(file.readline())
        head = _image_head(form)
        file.seek(offsets[_IMAGE])
        require_same("the image dictionary", file.read(len(head)), head)
        samples = hashlib.sha256()
        for data in _inflated(file, length):
            samples.update(data)
        require_same("the end of the stream", file.read(len(_STREAM_END)), _STREAM_END)
        require_same("the hash of the samples", samples.hexdigest(), sha256)


def _read_xref(file: BinaryIO) -> tuple[dict[int, int], int]:
    """Offsets of the objects and of their table, found from the end of the file."""
    file.seek(max(file.seek(0, 2) - 1024, 0))
    start = int(re.findall(rb"startxref\n(\d+)\n%%EOF\n\Z", file.read())[0])
    file.seek(start)
    lines = file.read().split(b"\n")
    count = int(lines[1].split()[1])
    entries = enumerate(lines[2 : 2 + count])
    return {number: int(line[:10]) for number, line in entries if number}, start


def _inflated(file: BinaryIO, length: int) -> Iterator[bytes]:
    inflate = zlib.decompressobj()
    while length > 0:
        data = file.read(min(length, _CHUNK_BYTES))
        require_same("the end of the file", bool(data), written=True)
        length -= len(data)
        while data:
            yield inflate.decompress(data, _CHUNK_BYTES)
            data = inflate.unconsumed_tail
    yield inflate.flush()
    require_same("the end of the compressed data", inflate.eof, written=True)
