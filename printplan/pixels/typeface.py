"""Which letters are words on captions, trial sheets and decision sheets set in?"""

from __future__ import annotations

from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from unicodedata import bidirectional

from PIL import ImageFont, features

from printplan.errors import SpecError
from printplan.shown_text import visible


def font_path(name: str = "DejaVuSans") -> Path:
    """
    The file of a font that matplotlib brings along.

    Parameters
    ----------
    name : str, optional
        DejaVu Sans has the signs of the trade, such as × and µ; its bold is
        ``DejaVuSans-Bold``, its fixed-width sister ``DejaVuSansMono``.

    Notes
    -----
    Only the file is looked for; nothing of matplotlib is loaded. The fonts' licence
    lets them be put into documents.
    """
    spec = find_spec("matplotlib")
    folders = (spec.submodule_search_locations if spec else None) or []
    return Path(*folders[:1], "mpl-data", "fonts", "ttf", f"{name}.ttf")


_RIGHT_TO_LEFT = {"R", "AL"}
"""Classes of Hebrew's and Arabic's letters (Unicode Standard Annex 9, table 4)."""


def font_at(
    height_px: int, name: str = "DejaVuSans", words: str = ""
) -> ImageFont.FreeTypeFont:
    """
    A font at a size, to write and to measure with.

    Parameters
    ----------
    height_px : int
        Of the letters' body.
    name : str, optional
        As for `font_path`.
    words : str, optional
        To be written.

    Notes
    -----
    Pillow spaces letters otherwise where the system has FriBiDi, so that the same
    words would be other pixels on another machine. It is left aside here but for words
    that are read from right to left, which cannot do without.
    """
    return _font(height_px, name, is_basic=not _is_leftwards(words))


def require_writable(words: str) -> None:
    """
    Refuse to print words that this machine cannot put into their order.

    Raises
    ------
    SpecError
        If they are read from right to left, and the system has no FriBiDi.
    """
    if _is_leftwards(words) and not features.check("raqm"):
        raise SpecError(
            f"{visible(words)!r} is read from right to left; this machine cannot write "
            "it in that order.",
            remedy="Install the system's library FriBiDi, or choose other words.",
        )


def _is_leftwards(words: str) -> bool:
    return any(bidirectional(sign) in _RIGHT_TO_LEFT for sign in words)


@lru_cache(maxsize=32)
def _font(height_px: int, name: str, *, is_basic: bool) -> ImageFont.FreeTypeFont:
    layout = ImageFont.Layout.BASIC if is_basic else None  # the best that is there
    return ImageFont.truetype(font_path(name), height_px, layout_engine=layout)
