"""What does a JPEG master say, and what are its pixels?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PIL.JpegImagePlugin import JpegImageFile

from printplan.pixels.master_file import (
    BAND_PIXELS,
    MOST_PIXELS_AT_ONCE,
    Stored,
    check_area,
    orientation_or_none,
    refuse,
)
from printplan.pixels.master_provenance import (
    COLOUR_SPACE,
    EXIF_IFD,
    ORIENTATION,
    parse_exif,
    provenance_from_exif,
    provenance_from_xmp,
)

if TYPE_CHECKING:
    from collections.abc import Iterator
    from io import BufferedReader

    from numpy.typing import NDArray

SIGNATURE = b"\xff\xd8\xff"
_CHANNELS = {"L": 1, "RGB": 3}
_EXIF_SRGB = 1
"""Exif 3.0, ColorSpace: 1 names sRGB, 65535 says uncalibrated."""


def describe_jpeg(stream: BufferedReader) -> Stored:
    """
    What a JPEG file says of itself.

    Parameters
    ----------
    stream : binary file

    Returns
    -------
    Stored

    Raises
    ------
    MasterError
        If it is not grey or RGB.
    """
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


def jpeg_bands(stream: BufferedReader) -> Iterator[NDArray[np.generic]]:
    """
    The pixels of a JPEG file from top to bottom.

    Parameters
    ----------
    stream : binary file

    Yields
    ------
    ndarray of uint8, shape (rows, columns, channels)

    Notes
    -----
    The picture is decoded whole: 1 byte per pixel for grey and 4 for RGB.
    """
    image = _opened(stream)
    image.load()
    rows = max(1, BAND_PIXELS // image.width)
    for top in range(0, image.height, rows):
        bottom = min(top + rows, image.height)
        band = np.asarray(image.crop((0, top, image.width, bottom)))
        yield band.reshape(bottom - top, image.width, -1)


def _opened(stream: BufferedReader) -> JpegImageFile:
    """Open by the format's own class: the general opener limits the pixels."""
    stream.seek(0)
    return JpegImageFile(stream)
