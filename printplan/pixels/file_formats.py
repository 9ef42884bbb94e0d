"""How are pixels written to a TIFF or JPEG, and read back?"""

from __future__ import annotations

from fractions import Fraction
from functools import partial
from io import SEEK_CUR, BytesIO
from typing import TYPE_CHECKING, BinaryIO, cast

import tifffile
from PIL import Image
from PIL.JpegImagePlugin import JpegImageFile
from PIL.TiffImagePlugin import IFDRational

from printplan.errors import RenderError
from printplan.pixels.picture_file import MAKER, credit_xmp, require_same

if TYPE_CHECKING:
    from pathlib import Path

    from _typeshed import ReadableBuffer

    from printplan.pixels.picture_file import Check, FileForm, PixelRows


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
    """Whether a file outgrows the 32-bit counts of a classic TIFF."""
    others = len(form.profile.data) + _HEAD_BYTES
    return form.all_bytes + others > LARGEST_CLASSIC_BYTES


def write_tiff(file: BinaryIO, form: FileForm, rows: PixelRows) -> Check:
    """
    Write a TIFF, band by band, from its start to its end.

    Parameters
    ----------
    file : binary file
        Open for writing, empty.

    Returns
    -------
    Check
        `check_tiff`.

    Notes
    -----
    Strips are not compressed, so they lie one behind the other and bands of any
    height can be written as they come; one band is in memory at a time. There is no
    date: the same sheet gives the same bytes.

    TIFF 6.0 has 7-bit text only. A name with other letters is written as UTF-8 to
    the same tags (common practice, no source) and beside them as an XMP packet,
    whose standard has UTF-8.
    """
    head = _tiff_head(form)
    file.write(head)
    file.writelines(band.data for band in rows)
    return partial(check_tiff, form=form, start=len(head))


def _tiff_head(form: FileForm) -> bytes:
    """
    All that stands before the pixels.

    The library writes it behind them, once it has gone over their place.
    """
    shape = (form.height_px, form.width_px, form.channels)
    resolution = (form.ppi.numerator, form.ppi.denominator)
    whole = _HeadOnly(len(form.profile.data) + _HEAD_BYTES)
    with tifffile.TiffWriter(
        whole, bigtiff=needs_bigtiff(form), byteorder="<"
    ) as writer:
        where = writer.write(
            None,
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
            returnoffset=True,
        )
    start, _ = cast("tuple[int, int]", where)
    # It passes over up to some bytes between its tags and the pixels.
    return whole.getvalue()[:start].ljust(start, b"\0")


class _HeadOnly(BytesIO):
    """A file of which only the beginning is kept."""

    def __init__(self, length: int) -> None:
        super().__init__()
        self._length = length

    def write(self, data: ReadableBuffer, /) -> int:
        flat = memoryview(data).cast("B")
        kept = max(self._length - self.tell(), 0)
        if kept:
            super().write(flat[:kept])
        self.seek(max(len(flat) - kept, 0), SEEK_CUR)
        return len(flat)


def _credits(form: FileForm) -> list[tuple[int, bytes]]:
    """Maker and notice, as far as they are known, under their tags."""
    credit = ((_ARTIST, form.creator), (_COPYRIGHT, form.copyright_notice))
    return [(code, text.encode()) for code, text in credit if text]


def _further_tags(form: FileForm) -> list[tuple[int, int, int, bytes | int, bool]]:
    """Tags that the library has no argument for: code, type, count, value, once."""
    tags: list[tuple[int, int, int, bytes | int, bool]] = []
    tags += [(code, _ASCII, 0, text, True) for code, text in _credits(form)]
    if packet := credit_xmp(form):
        tags.append((_XMP, _BYTE, len(packet), packet, True))
    if form.channels == 4:
        tags.append((_INK_SET, _SHORT, 1, 1, True))  # 1 is CMYK
        tags.append((_NUMBER_OF_INKS, _SHORT, 1, 4, True))
    return tags


def check_tiff(path: Path, form: FileForm, start: int) -> None:
    """
    Read the tags of a TIFF back.

    Parameters
    ----------
    form : FileForm
        What was to be written.
    start : int
        Where the pixels begin: they are the rest of the file.

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
        starts, lengths = page.dataoffsets, page.databytecounts
    ends = list(map(int.__add__, starts, lengths))
    require_same("the order of its strips", list(starts), [start, *ends[:-1]])
    require_same("the end of its strips", ends[-1], start + form.all_bytes)


LONGEST_EDGE_PX = 65_500
"""Longest edge that libjpeg makes (JPEG_MAX_DIMENSION in its jmorecfg.h)."""

LEAST_QUALITY = 50
"""JPEG quality below which no remedy goes: T.81's own tables of Annex K are those of
50 on libjpeg's scale, and blocks are seen in a print below it. Our choice."""

_MODE = {1: "L", 3: "RGB"}
# Exif 3.0 (CIPA DC-008), the tags of its 0th directory.
_X_RESOLUTION, _Y_RESOLUTION, _RESOLUTION_UNIT, _INCH = 282, 283, 296, 2


def require_jpeg_can_hold(form: FileForm) -> None:
    """
    Refuse what does not go into a JPEG, before any pixel is computed.

    Raises
    ------
    RenderError
        If an edge is too long, or the colour is neither grey nor RGB.
    """
    longest = max(form.width_px, form.height_px)
    if longest > LONGEST_EDGE_PX:
        raise RenderError(
            f"The file is {form.width_px} × {form.height_px} px; a JPEG holds "
            f"{LONGEST_EDGE_PX} px along an edge.",
            remedy='Choose the format "TIFF, 8 bits", or '
            f"{int(form.ppi * LONGEST_EDGE_PX / longest)} ppi or less.",
        )
    if form.channels not in _MODE:
        raise RenderError(
            f"The file has {form.channels} channels; a JPEG holds grey or RGB here.",
            remedy='Choose the format "TIFF, 8 bits".',
        )


def write_jpeg(file: BinaryIO, form: FileForm, rows: PixelRows) -> Check:
    """
    Write a JPEG: 4:4:4, without chroma subsampling.

    Parameters
    ----------
    file : binary file
        Open for writing, empty.

    Returns
    -------
    Check
        `check_jpeg`.

    Raises
    ------
    RenderError
        If the picture is too large for the memory, the encoder refuses it, or the
        JPEG is longer than the form allows; the remedy then names the highest quality
        that was measured to fit, on this very picture.

    Notes
    -----
    The encoder takes the picture whole: 4 bytes of memory a pixel (1 if grey), and
    the finished JPEG beside it.

    JFIF counts pixels per inch in whole numbers. Any other resolution is left out
    there, and stated in Exif alone, which has fractions.
    """
    try:
        picture = Image.new(_MODE[form.channels], (form.width_px, form.height_px))
    except MemoryError as error:
        raise RenderError(
            f"A JPEG of {form.width_px} × {form.height_px} px does not fit the memory.",
            remedy='Choose the format "TIFF, 8 bits", which is written in bands.',
        ) from error
    top = 0
    for band in rows:
        pixels = band if form.channels > 1 else band[..., 0]
        picture.paste(Image.fromarray(pixels), (0, top))
        top += len(band)
    encoded = _encoded(picture, form, form.jpeg_quality)
    if form.most_bytes is not None and len(encoded) > form.most_bytes:
        raise _too_long(picture, form, len(encoded), form.most_bytes)
    file.write(encoded)
    return partial(check_jpeg, form=form)


def _encoded(picture: Image.Image, form: FileForm, quality: int) -> memoryview:
    """The whole JPEG file, in memory."""
    whole_ppi = form.ppi.numerator if form.ppi.denominator == 1 else 0
    encoded = BytesIO()
    try:
        picture.save(
            encoded,
            "JPEG",
            quality=quality,
            subsampling="4:4:4",
            optimize=False,
            icc_profile=form.profile.data,
            exif=_exif(form),
            xmp=credit_xmp(form),
            dpi=(whole_ppi, whole_ppi),
        )
    except (OSError, ValueError) as error:
        raise RenderError(
            f"The JPEG encoder refuses the picture ({error}).",
            remedy='Choose the format "TIFF, 8 bits", or shorten the copyright notice.',
        ) from error
    return encoded.getbuffer()


def _too_long(
    picture: Image.Image, form: FileForm, length: int, most_bytes: int
) -> RenderError:
    """
    The refusal of a JPEG that is too long, with a quality that was tried and fits.

    Seven encodings at most: files get longer with quality, so halving finds the
    highest that fits.
    """
    low, high = LEAST_QUALITY, form.jpeg_quality - 1
    fits = measured = 0
    while low <= high:
        middle = (low + high) // 2
        tried = len(_encoded(picture, form, middle))
        if tried <= most_bytes:
            fits, measured, low = middle, tried, middle + 1
        else:
            high = middle - 1
    problem = (
        f"The JPEG is {length / 1e6:.2f} MB at quality {form.jpeg_quality}; at most "
        f"{most_bytes / 1e6:g} MB are taken."
    )
    if fits:
        remedy = (
            f"Choose the JPEG quality {fits}: tried, it gives {measured / 1e6:.2f} MB."
        )
    else:
        remedy = (
            f"No quality from {LEAST_QUALITY} on fits: choose a lower resolution or a "
            "smaller print."
        )
    return RenderError(problem, remedy=remedy)


def _exif(form: FileForm) -> bytes:
    exif = Image.Exif()
    ppi = IFDRational(form.ppi.numerator, form.ppi.denominator)
    exif[_X_RESOLUTION] = exif[_Y_RESOLUTION] = ppi
    exif[_RESOLUTION_UNIT] = _INCH
    exif.update(_credits(form))
    return exif.tobytes()


def check_jpeg(path: Path, form: FileForm) -> None:
    """
    Read a JPEG back and decode all of it.

    Parameters
    ----------
    form : FileForm
        What was to be written.

    Raises
    ------
    RenderError
        If anything differs.
    """
    # The class itself, since Image.open warns of any picture above 89 megapixels.
    with JpegImageFile(path) as picture:
        picture.load()
        exif = picture.getexif()
        for what, found, written in (
            ("the size", picture.size, (form.width_px, form.height_px)),
            ("the mode", picture.mode, _MODE[form.channels]),
            ("the profile", picture.info.get("icc_profile"), form.profile.data),
            ("the resolution", _as_fraction(exif.get(_X_RESOLUTION)), form.ppi),
            ("the resolution", _as_fraction(exif.get(_Y_RESOLUTION)), form.ppi),
            ("its unit", exif.get(_RESOLUTION_UNIT), _INCH),
        ):
            require_same(what, found, written)


def _as_fraction(value: object) -> Fraction | None:
    if not isinstance(value, IFDRational):
        return None
    return Fraction(int(value.numerator), int(value.denominator))
