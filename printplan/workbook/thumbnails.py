"""What does a photograph look like, small and at once, before it is opened?"""

from __future__ import annotations

import os
from functools import lru_cache
from math import ceil
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.conversion import linear_to_device
from printplan.colour.spaces import named_profile
from printplan.errors import PrintPlanError
from printplan.pixels.few_pixels import few_pixels
from printplan.pixels.master_file import own_profile
from printplan.pixels.master_reading import open_file
from printplan.pixels.master_source import oriented
from printplan.pixels.working_pixels import (
    Working,
    code_tables,
    working_kind,
    working_pixels,
    working_profile,
)
from printplan.spec import BlackPointCompensation, Intent, NamedSpace
from printplan.workbook.pictures import encoded
from printplan.workbook.previews import in_8_bits

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray


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
        stored, few = few_pixels(path, _SAMPLES * THUMBNAIL_PX)
        # No one is asked for a profile before the photograph is chosen.
        assumed = "" if stored.profile_data else NamedSpace.SRGB
        profile = own_profile(path, stored, assumed)
    except PrintPlanError as error:
        return error
    kind = working_kind(stored, profile)
    pixels, _ = working_pixels(few, stored, profile, kind)
    planes = oriented(pixels.transpose(2, 0, 1), stored.orientation_flag)
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
