"""How is a demo master written to its file?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import tifffile

from printplan.colour.spaces import named_profile
from printplan.spec import NamedSpace

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

_ARTIST, _COPYRIGHT = 315, 33432  # TIFF 6.0, section 8.
_ASCII = 2
_MASTER_PPI = 300


def write_master(  # noqa: PLR0913 - a file, its pixels and its credits
    path: Path,
    bands: Iterable[NDArray[np.uint16]],
    *,
    width_px: int,
    height_px: int,
    band_rows: int,
    creator: str,
    rights: str,
) -> None:
    """
    Write a 16-bit ROMM RGB master.

    Parameters
    ----------
    path : Path
        Not there yet.
    bands : iterable of ndarray of uint16, shape (band_rows, width_px, 3)
        From top to bottom; the last may have fewer rows.
    width_px, height_px, band_rows : int
    creator, rights : str
        In ASCII.

    Notes
    -----
    Not compressed: 16-bit photographs shrink little, and pixels that lie plain in
    the file can be read from it in any order. No date, so the same pixels give the
    same bytes.
    """
    tifffile.imwrite(
        path,
        (band.tobytes() for band in bands),
        shape=(height_px, width_px, 3),
        dtype="<u2",
        byteorder="<",
        photometric="rgb",
        planarconfig="contig",
        rowsperstrip=band_rows,
        iccprofile=named_profile(NamedSpace.ROMM_RGB).data,
        resolution=(_MASTER_PPI, _MASTER_PPI),
        resolutionunit="inch",
        software="printplan demo",
        metadata=None,
        extratags=[
            (_ARTIST, _ASCII, 0, creator.encode("ascii"), True),
            (_COPYRIGHT, _ASCII, 0, rights.encode("ascii"), True),
        ],
    )
