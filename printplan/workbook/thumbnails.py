"""What does a photograph look like, small and at once, before it is opened?"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from PIL.JpegImagePlugin import JpegImageFile

from printplan.colour.conversion import linear_to_device
from printplan.colour.spaces import named_profile
from printplan.errors import PrintPlanError
from printplan.pixels.master_file import own_profile
from printplan.pixels.master_png import png_bands
from printplan.pixels.master_reading import (
    WORKERS,
    damage_reported,
    describe,
    mapped_pixels,
    open_file,
)
from printplan.pixels.master_source import oriented
from printplan.pixels.master_tiff import tiff_bands
from printplan.pixels.working_pixels import (
    Working,
    code_tables,
    working_kind,
    working_planes,
    working_profile,
)
from printplan.spec import BlackPointCompensation, Intent, NamedSpace
from printplan.workbook.pictures import encoded
from printplan.workbook.previews import in_8_bits

if TYPE_CHECKING:
    from io import BufferedReader
    from pathlib import Path

    from numpy.typing import NDArray

    from printplan.pixels.master_file import Stored


THUMBNAIL_PX = 160
"""Longest edge: four beside each other fit a column of 700 px. Our choice."""

_MOST_KEPT = 2000
"""Thumbnails kept, of some 10 kB each. Our choice."""

_SAMPLES = 2
"""Pixels taken for one of the thumbnail's, each way. Our choice: with one, fine detail
breaks up; more take longer to read."""


def thumbnail(path: Path) -> bytes:
    """
    A small picture of a photograph.

    Parameters
    ----------
    path : Path
        A TIFF, PNG or JPEG file. It is read anew when it has changed.

    Returns
    -------
    bytes
        JPEG in sRGB, as it is looked at, at most `THUMBNAIL_PX` long. A file without
        a profile is shown as if it were sRGB.

    Raises
    ------
    MasterError
        If it is missing, damaged, or no finished photograph.
    ProfileError
        If its profile cannot say what its colours are.

    Notes
    -----
    Only some of the pixels are looked at: a judgement of sharpness needs the master.
    A plain TIFF or a JPEG of 50 million pixels takes 0.01 to 0.2 s on one core; what
    has to be unpacked whole takes longer: a packed TIFF 1 to 2 s, a PNG of 16 bits
    4 s (measured). So it is made aside.
    """
    with open_file(path) as stream:
        status = os.fstat(stream.fileno())
    made = _made(path, status.st_mtime_ns, status.st_size)
    if isinstance(made, PrintPlanError):
        raise made
    return made


@lru_cache(_MOST_KEPT)
def _made(path: Path, _mtime_ns: int, _size: int) -> bytes | PrintPlanError:
    """The picture, or why there is none: a damaged file is not read again and again."""
    try:
        with open_file(path) as stream:
            stored = describe(stream, path)
            # No one is asked for a profile before the photograph is chosen.
            assumed = "" if stored.profile_data else NamedSpace.SRGB
            profile = own_profile(path, stored, assumed)
            with damage_reported(path):
                few = _few_pixels(stream, path, stored)
    except PrintPlanError as error:
        return error
    kind = working_kind(stored, profile)
    planes, _ = working_planes(few, stored, profile, kind)
    planes = oriented(planes, stored.orientation_flag)
    if kind is Working.CODES:
        tables = code_tables(stored, profile)
        planes = np.stack(
            [table[codes] for table, codes in zip(tables, planes, strict=True)]
        )
    light = _means(planes.astype(np.float32))
    pipeline = linear_to_device(
        working_profile(kind, profile),
        named_profile(NamedSpace.SRGB),
        intent=Intent.MEDIA_RELATIVE,
        black_point_compensation=BlackPointCompensation.OFF,
    )
    return encoded(in_8_bits(pipeline.from_linear(light)))


def _few_pixels(
    stream: BufferedReader, path: Path, stored: Stored
) -> NDArray[np.generic]:
    """Stored numbers (rows, columns, samples) of a grid over the picture."""
    longest = max(stored.width_px, stored.height_px)
    step = max(1, longest // (_SAMPLES * THUMBNAIL_PX))
    mapped = mapped_pixels(stream, path, stored)
    if mapped is not None:
        few = mapped[:, step // 2 :: step, step // 2 :: step]
        return np.ascontiguousarray(few.transpose(1, 2, 0), few.dtype.newbyteorder("="))
    if stored.file_format == "JPEG":
        stream.seek(0)
        image = JpegImageFile(stream)
        image.draft(None, (_SAMPLES * THUMBNAIL_PX,) * 2)
        pixels = np.asarray(image)
        pixels = pixels.reshape(*pixels.shape[:2], -1)
        step = max(1, max(pixels.shape) // (_SAMPLES * THUMBNAIL_PX))
        return pixels[step // 2 :: step, step // 2 :: step]
    if stored.file_format == "PNG":
        (pixels,) = png_bands(stream, stored)
        return pixels[step // 2 :: step, step // 2 :: step]
    rows, top = [], 0
    with ThreadPoolExecutor(WORKERS) as pool:
        for band in tiff_bands(stream, pool):
            first = (step // 2 - top) % step
            rows.append(band[first::step, step // 2 :: step].copy())
            top += len(band)
    return np.concatenate(rows)


def _means(planes: NDArray[np.float32]) -> NDArray[np.float32]:
    """Planes reduced to a thumbnail's size by the means of whole cells."""
    factor = ceil(max(planes.shape) / THUMBNAIL_PX)
    channels, rows, columns = planes.shape
    down, across = max(1, rows // factor), max(1, columns // factor)
    high, wide = min(factor, rows), min(factor, columns)
    cells = planes[:, : down * high, : across * wide]
    return np.ascontiguousarray(
        cells.reshape(channels, down, high, across, wide).mean(axis=(2, 4))
    )
