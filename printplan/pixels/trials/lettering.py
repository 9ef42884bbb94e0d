"""How are words drawn in print pixels, large enough to be read at arm's length?"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw

from printplan.pixels.typeface import font_at, require_writable
from printplan.shown_text import visible
from printplan.units import px_from_mm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from PIL import ImageFont


NAME_X_HEIGHT_MM = 2.2
"""Height of a small letter in the names of patches: 11 arcminutes at 700 mm, twice what
acuity 1.0 reads (ISO 8596: letters of 5 arcminutes). Our choice."""

TEXT_X_HEIGHT_MM = 1.6
"""The same in all other words: 8 arcminutes at 700 mm. Our choice."""

# DejaVu Sans and its bold: sxHeight 1120 of 2048 units (their OS/2 tables).
_X_HEIGHT_SHARE = 1120 / 2048
_LEADING = 1.3


class Letters(StrEnum):
    """Kinds of writing on a trial sheet."""

    NAME = "name"
    TEXT = "text"


@dataclass(frozen=True, slots=True)
class Line:
    """One line of writing."""

    text: str
    letters: Letters


def line_px(letters: Letters, ppi: float) -> int:
    """
    Distance from one line to the next.

    Returns
    -------
    int
        Print pixels.
    """
    return ceil(_LEADING * _font(letters, ppi).size)


def text_width_px(text: str, letters: Letters, ppi: float) -> int:
    """
    Length of a line of text.

    Returns
    -------
    int
        Print pixels.
    """
    return ceil(_font(letters, ppi, text).getlength(text))


def wrapped(text: str, letters: Letters, width_px: int, ppi: float) -> list[Line]:
    """
    Break a text into lines, at spaces where that is possible.

    Parameters
    ----------
    text : str
        No-break spaces hold together what must not part.

    Returns
    -------
    list of Line
        None is wider, unless a single letter is.
    """
    lines: list[str] = []
    for word in filter(None, visible(text).split(" ")):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width_px(longer, letters, ppi) <= width_px:
            lines[-1] = longer
            continue
        lines.append(word)
        while (
            len(rest := lines[-1]) > 1 and text_width_px(rest, letters, ppi) > width_px
        ):
            shorter = range(2, len(rest))
            wide_px = partial(_start_px, rest, letters, ppi)
            fits = 1 + bisect_right(shorter, width_px, key=wide_px)
            lines[-1:] = rest[:fits], rest[fits:]
    return [Line(line, letters) for line in lines]


def _start_px(text: str, letters: Letters, ppi: float, count: int) -> int:
    return text_width_px(text[:count], letters, ppi)


def lines_px(lines: Sequence[Line], ppi: float) -> int:
    """
    Height of several lines.

    Returns
    -------
    int
        Print pixels.
    """
    return sum(line_px(line.letters, ppi) for line in lines)


def drawn_lines(lines: Sequence[Line], width_px: int, ppi: float) -> NDArray[np.uint8]:
    """
    Draw lines one under the other, flush left.

    Parameters
    ----------
    lines : sequence of Line
        One or more.
    width_px : int
        What is wider is cut off.

    Returns
    -------
    ndarray of uint8, shape (lines_px, width_px)
        Share of each pixel that is covered by ink, 255 for all of it.
    """
    sheet = Image.new("L", (width_px, lines_px(lines, ppi)), 0)
    draw = ImageDraw.Draw(sheet)
    top = 0
    for line in lines:
        require_writable(line.text)
        font = _font(line.letters, ppi, line.text)
        draw.text((0, top + round(font.size)), line.text, 255, font, anchor="ls")
        top += line_px(line.letters, ppi)
    return np.asarray(sheet)


def _font(letters: Letters, ppi: float, text: str = "") -> ImageFont.FreeTypeFont:
    """DejaVu Sans at its size on paper, to write that text with."""
    name = "DejaVuSans-Bold" if letters is Letters.NAME else "DejaVuSans"
    x_height_mm = NAME_X_HEIGHT_MM if letters is Letters.NAME else TEXT_X_HEIGHT_MM
    x_height_px = ceil(px_from_mm(x_height_mm, ppi))
    return font_at(ceil(x_height_px / _X_HEIGHT_SHARE), name, text)
