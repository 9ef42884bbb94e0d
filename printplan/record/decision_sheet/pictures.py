"""Which small pictures does the decision sheet show?"""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from printplan.colour.pipelines import linear_to_device
from printplan.colour.spaces import named_profile
from printplan.pixels.comparisons import picture_proof
from printplan.pixels.sheet import Appearance
from printplan.spec import BlackPointCompensation, Intent, NamedSpace

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet

LONGEST_PX = 1200
"""Longest edge of the sheet that the pictures are cut from: 300 ppi in print for a
picture of 100 mm. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallPicture:
    """
    A picture on the decision sheet.

    Attributes
    ----------
    jpeg : bytes
        sRGB, tagged so.
    width_px, height_px : int
    description : str
        What it shows, for those who cannot see it.
    """

    jpeg: bytes
    width_px: int
    height_px: int
    description: str


def small_pictures(sheet: Sheet) -> tuple[SmallPicture, SmallPicture]:
    """
    The picture as it was decided, and its proof on the paper.

    Parameters
    ----------
    sheet : Sheet

    Returns
    -------
    tuple of SmallPicture
        The picture after crop and change of tone, and the proof of paper in the room;
        both as overviews, not sharpened. What sRGB cannot hold is cut.
    """
    overview = sheet.overview(LONGEST_PX)
    screen = linear_to_device(
        sheet.master.profile,
        named_profile(NamedSpace.SRGB),
        intent=Intent.MEDIA_RELATIVE,
        black_point_compensation=BlackPointCompensation.OFF,
    )
    codes = screen.from_linear(overview.linear).astype(np.uint32)
    picture = ((codes + 128) // 257).astype(np.uint8)
    proof = picture_proof(sheet, overview, Appearance.PAPER_IN_THE_ROOM)
    paper = sheet.plan.paper.name
    return (
        _small(picture, "The picture as it was decided, overview."),
        _small(proof, f"Soft proof of the picture on {paper}, overview."),
    )


def _small(pixels: NDArray[np.uint8], description: str) -> SmallPicture:
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
