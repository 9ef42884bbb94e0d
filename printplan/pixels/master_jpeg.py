"""What does a JPEG master say, and what are its pixels?"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import simplejpeg
from PIL.JpegImagePlugin import JpegImageFile

from printplan.loops.memory import find_pages
from printplan.pixels.jpeg_structure import check_header, check_jpeg, cut_short
from printplan.pixels.master_file import (
    COLOUR_SPACE,
    EXIF_IFD,
    MOST_PIXELS_AT_ONCE,
    ORIENTATION,
    Stored,
    check_area,
    orientation_or_none,
    parse_exif,
    provenance_from_exif,
    provenance_from_xmp,
    refuse,
)

if TYPE_CHECKING:
    from collections.abc import Iterator
    from concurrent.futures import Executor
    from io import BufferedReader

    from numpy.typing import NDArray


JPEG_SIGNATURE = b"\xff\xd8\xff"
_CHANNELS = {"L": 1, "RGB": 3}
_SPACES = {1: "GRAY", 3: "RGB"}
_AFTER_THE_PICTURE = "extraneous bytes before marker 0xd9"
"""A first warning that comes after the last pixel; some cameras write such files."""

_EXIF_SRGB = 1
"""Exif 3.0, ColorSpace: 1 names sRGB, 65535 says uncalibrated."""


def describe_jpeg(stream: BufferedReader) -> Stored:
    """
    What a JPEG file says of itself; whether its pixels are all there, decoding tells.

    Raises
    ------
    MasterError
        If it is not grey or RGB, or not of a kind that is read.
    """
    check_header(stream)
    image = _opened(stream)
    if image.mode not in _CHANNELS:
        refuse(
            f"This JPEG holds {image.mode} colours; a master is RGB or grey.",
            remedy="Open the file from which it was made and export that as RGB with "
            "its profile embedded.",
        )
    check_area(image.width, image.height, MOST_PIXELS_AT_ONCE)
    exif = parse_exif(image.info.get("exif", b""))
    return Stored(
        file_format="JPEG",
        width_px=image.width,
        height_px=image.height,
        channels=_CHANNELS[image.mode],
        dtype=np.dtype(np.uint8),
        orientation_flag=orientation_or_none(exif.get(ORIENTATION)),
        profile_data=image.info.get("icc_profile") or b"",
        says_srgb=exif.get_ifd(EXIF_IFD).get(COLOUR_SPACE) == _EXIF_SRGB,
        provenance=provenance_from_exif(exif).completed_by(
            provenance_from_xmp(image.info.get("xmp", b""))
        ),
    )


def jpeg_bands(
    stream: BufferedReader,
    stored: Stored,
    pool: Executor,
    room: NDArray[np.generic] | None = None,
) -> Iterator[NDArray[np.generic]]:
    """
    The pixels of a JPEG file from top to bottom.

    Parameters
    ----------
    pool : Executor
        Looks through the file, and finds the room's memory, while it is decoded.
    room : ndarray of uint8, shape (rows, columns, channels), optional
        C-contiguous: the pixels are decoded into it.

    Yields
    ------
    ndarray of uint8, shape (rows, columns, channels)

    Raises
    ------
    MasterError
        If the decoder warns: it fills what is missing with the last colour.

    Notes
    -----
    The picture is decoded whole, beside the bytes of the file.
    """
    stream.seek(0)
    data = stream.read()
    checked = pool.submit(check_jpeg, data)
    if room is not None:
        pool.submit(find_pages, room)
    try:
        pixels = _decoded(data, stored.channels, room)
    finally:
        checked.result()  # which says more of what is wrong than the decoder does
    yield pixels


def strictly_decoded(
    data: bytes, channels: int, room: NDArray[np.generic]
) -> NDArray[np.uint8]:
    """
    Pixels of a JPEG whose decoder has nothing to say against it.

    Parameters
    ----------
    room : ndarray, shape (rows, columns, channels)
        Takes the pixels, if it is C-contiguous and just as large.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, channels)

    Raises
    ------
    MasterError
    """
    check_jpeg(data)
    is_plain = room.flags.c_contiguous and room.dtype == np.uint8
    fits = is_plain and room.shape == (*_size(data), channels)
    return _decoded(data, channels, room if fits else None)


def _size(data: bytes) -> tuple[int, int]:
    """Rows and columns."""
    try:
        rows, columns, _, _ = simplejpeg.decode_jpeg_header(data)
    except ValueError as error:
        raise cut_short(str(error)) from error
    return rows, columns


def _decoded(
    data: bytes, channels: int, room: NDArray[np.generic] | None = None
) -> NDArray[np.uint8]:
    pixels: NDArray[np.uint8]
    decode = partial(simplejpeg.decode_jpeg, data, _SPACES[channels], buffer=room)
    try:
        pixels = decode()
    except ValueError as error:
        if not str(error).endswith(_AFTER_THE_PICTURE):
            raise cut_short(str(error)) from error
        pixels = decode(strict=False)
    return pixels


def _opened(stream: BufferedReader) -> JpegImageFile:
    """Open by the format's own class: the general opener limits the pixels."""
    stream.seek(0)
    return JpegImageFile(stream)
