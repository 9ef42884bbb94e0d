"""How is a small picture kept that a page shows?"""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

from PIL import Image

from printplan.colour.spaces import named_profile
from printplan.spec import NamedSpace

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallPicture:
    """
    A picture on a page, ready to be laid into it.

    Attributes
    ----------
    jpeg : bytes
        sRGB, tagged so.
    description : str
        What it shows, for those who cannot see it.
    """

    jpeg: bytes
    width_px: int
    height_px: int
    description: str


def small_picture(pixels: NDArray[np.uint8], description: str) -> SmallPicture:
    """
    A picture for a page.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (rows, columns, 3)
        sRGB.
    description : str
        What it shows.

    Returns
    -------
    SmallPicture
        JPEG of quality 90, chroma at full resolution.
    """
    file = BytesIO()
    Image.fromarray(pixels).save(
        file,
        "JPEG",
        quality=90,
        subsampling=0,
        icc_profile=named_profile(NamedSpace.SRGB).data,
    )
    return SmallPicture(
        jpeg=file.getvalue(),
        width_px=pixels.shape[1],
        height_px=pixels.shape[0],
        description=description,
    )
