"""How do pixels and words become something that a page can show?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import as_file, files
from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw, ImageFont

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

SURROUND = (110, 110, 110)
"""sRGB grey round pictures: neutral, 16 % of white's luminance. ISO 3664:2009 wants
a neutral surround of 10 to 60 % (from memory)."""

TEXT = (245, 245, 245)

_GAP_PX = 20
_CAPTION_PX = 38
_CAPTION_SIZE_PX = 15


@dataclass(frozen=True, slots=True)
class Picture:
    """
    A picture for the page.

    Attributes
    ----------
    jpeg : bytes
        sRGB without an embedded profile, as a browser expects.
    description : str
        What it shows, for those who cannot see it.
    width_css_px : int or None
        Width on the page; None shows every pixel, however narrow the page.
    """

    jpeg: bytes
    description: str
    width_css_px: int | None = None

    def __repr__(self) -> str:
        return self.description

    def _repr_jpeg_(self) -> tuple[bytes, dict[str, int | bool]]:
        """The picture and how to show it, as IPython asks for it."""
        if self.width_css_px is None:
            return self.jpeg, {"unconfined": True}
        return self.jpeg, {"width": self.width_css_px}


@dataclass(frozen=True, slots=True)
class Words:
    """
    A few lines for the page.

    Attributes
    ----------
    html : str
    text : str
        The same without marks.
    """

    html: str
    text: str

    def __repr__(self) -> str:
        return self.text

    def _repr_html_(self) -> str:
        """The lines, as IPython asks for them."""
        return self.html


def encoded(pixels: NDArray[np.uint8]) -> bytes:
    """
    Pixels as a JPEG for the page.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (rows, columns, 3)
        sRGB.

    Returns
    -------
    bytes
        Quality 90, chroma at full resolution.
    """
    file = BytesIO()
    Image.fromarray(pixels).save(file, "JPEG", quality=90, subsampling=0)
    return file.getvalue()


def mounted(
    pictures: Sequence[tuple[NDArray[np.uint8], str]],
) -> NDArray[np.uint8]:
    """
    Pictures beside each other on neutral grey, each above its caption.

    Parameters
    ----------
    pictures : sequence of (ndarray of uint8, str)
        sRGB of shape (rows, columns, 3), which is not scaled, and the caption.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
    """
    width = _GAP_PX + sum(pixels.shape[1] + _GAP_PX for pixels, _ in pictures)
    tallest = max(pixels.shape[0] for pixels, _ in pictures)
    ground = Image.new("RGB", (width, _GAP_PX + tallest + _CAPTION_PX), SURROUND)
    draw = ImageDraw.Draw(ground)
    left = _GAP_PX
    for pixels, caption in pictures:
        ground.paste(Image.fromarray(pixels), (left, _GAP_PX))
        draw.text(
            (left, _GAP_PX + pixels.shape[0] + 10),
            caption,
            TEXT,
            caption_font(_CAPTION_SIZE_PX),
        )
        left += pixels.shape[1] + _GAP_PX
    return np.asarray(ground)


@lru_cache(maxsize=4)
def caption_font(height_px: int) -> ImageFont.FreeTypeFont:
    """
    The type of all captions: it has the signs of the trade, such as × and µ.

    Parameters
    ----------
    height_px : int

    Returns
    -------
    FreeTypeFont
        DejaVu Sans, which matplotlib brings along.
    """
    source = files("matplotlib") / "mpl-data" / "fonts" / "ttf" / "DejaVuSans.ttf"
    with as_file(source) as path:
        return ImageFont.truetype(BytesIO(path.read_bytes()), height_px)
