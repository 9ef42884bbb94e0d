"""How are pixels written to a tagged TIFF, and read back?"""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, BinaryIO

import tifffile

from printplan.pixels.picture_file import MAKER, credit_xmp, require_same

if TYPE_CHECKING:
    from pathlib import Path

    from printplan.pixels.picture_file import FileForm, PixelRows

LARGEST_CLASSIC_BYTES = 2**32 - 1
"""A classic TIFF counts its bytes with 32 bits (TIFF 6.0, section 2)."""

_HEAD_BYTES = 2**24
"""Room for tags and strip tables: two million strips of 8 bytes. Our choice."""

_STRIP_BYTES = 2**20
"""Near this, tens of rows of a usual print share a strip. Our choice; TIFF 6.0 has
8 KB in mind, which gives tables of a hundred thousand strips."""

# TIFF 6.0: sections 3 to 6 and 16; 33432 is in section 8, 34675 in ICC.1:2022 B.4,
# 700 in ISO 16684-3.
_ARTIST, _COPYRIGHT, _INK_SET, _NUMBER_OF_INKS, _XMP = 315, 33432, 332, 334, 700
_PHOTOMETRIC = {
    1: tifffile.PHOTOMETRIC.MINISBLACK,
    3: tifffile.PHOTOMETRIC.RGB,
    4: tifffile.PHOTOMETRIC.SEPARATED,
}
_BYTE, _ASCII, _SHORT = 1, 2, 3


def needs_bigtiff(form: FileForm) -> bool:
    """
    Whether a file outgrows the 32-bit counts of a classic TIFF.

    Parameters
    ----------
    form : FileForm

    Returns
    -------
    bool
    """
    others = len(form.profile.data) + _HEAD_BYTES
    return form.all_bytes + others > LARGEST_CLASSIC_BYTES


def write_tiff(file: BinaryIO, form: FileForm, rows: PixelRows) -> str:
    """
    Write a TIFF, band by band.

    Parameters
    ----------
    file : binary file
        Open for writing, empty.
    form : FileForm
    rows : PixelRows

    Returns
    -------
    str
        SHA-256 of the pixels, for `check_tiff`.

    Notes
    -----
    Strips are not compressed, so they lie one behind the other and bands of any
    height can be written as they come; one band is in memory at a time. There is no
    date: the same sheet gives the same bytes.

    TIFF 6.0 has 7-bit text only. A name with other letters is written as UTF-8 to
    the same tags (common practice, no source) and beside them as an XMP packet,
    whose standard has UTF-8.
    """
    shape = (form.height_px, form.width_px, form.channels)
    resolution = (form.ppi.numerator, form.ppi.denominator)
    with tifffile.TiffWriter(
        file, bigtiff=needs_bigtiff(form), byteorder="<"
    ) as writer:
        writer.write(
            (band.tobytes() for band in rows),
            shape=shape if form.channels > 1 else shape[:2],
            dtype=f"<u{form.bits // 8}",
            photometric=_PHOTOMETRIC[form.channels],
            planarconfig="contig" if form.channels > 1 else None,
            rowsperstrip=max(_STRIP_BYTES // form.row_bytes, 1),
            resolution=(resolution, resolution),
            resolutionunit="inch",
            iccprofile=form.profile.data,
            software=MAKER,
            metadata=None,
            extratags=_further_tags(form),
        )
    return rows.sha256


def _further_tags(form: FileForm) -> list[tuple[int, int, int, bytes | int, bool]]:
    """Tags that the library has no argument for: code, type, count, value, once."""
    tags: list[tuple[int, int, int, bytes | int, bool]] = []
    for code, text in ((_ARTIST, form.creator), (_COPYRIGHT, form.copyright_notice)):
        if text:
            tags.append((code, _ASCII, 0, text.encode(), True))
    if packet := credit_xmp(form):
        tags.append((_XMP, _BYTE, len(packet), packet, True))
    if form.channels == 4:
        tags.append((_INK_SET, _SHORT, 1, 1, True))  # 1 is CMYK
        tags.append((_NUMBER_OF_INKS, _SHORT, 1, 4, True))
    return tags


def check_tiff(path: Path, form: FileForm, sha256: str) -> None:
    """
    Read a TIFF back, strip by strip.

    Parameters
    ----------
    path : Path
    form : FileForm
        What was to be written.
    sha256 : str
        From `write_tiff`.

    Raises
    ------
    RenderError
        If anything differs.
    """
    resolution = (form.ppi.numerator, form.ppi.denominator)
    with tifffile.TiffFile(path) as tiff:
        page = tiff.pages.first
        found = {tag.name: tag.value for tag in page.tags}
        for name, written in (
            ("ImageWidth", form.width_px),
            ("ImageLength", form.height_px),
            ("SamplesPerPixel", form.channels),
            ("PhotometricInterpretation", _PHOTOMETRIC[form.channels]),
            ("XResolution", resolution),
            ("YResolution", resolution),
            ("ResolutionUnit", tifffile.RESUNIT.INCH),
            ("InterColorProfile", form.profile.data),
        ):
            require_same(name, found.get(name), written)
        require_same("BitsPerSample", page.bitspersample, form.bits)
        pixels = hashlib.sha256()
        for start, length in zip(page.dataoffsets, page.databytecounts, strict=True):
            tiff.filehandle.seek(start)
            pixels.update(tiff.filehandle.read(length))
    require_same("the hash of the pixels", pixels.hexdigest(), sha256)
