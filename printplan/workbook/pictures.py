"""How do pictures and words get onto a notebook's page?"""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw

from printplan.pixels.typeface import font_at
from printplan.shown_text import escape
from printplan.workbook.remedies import remedy_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from printplan.errors import PrintPlanError


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

    def _repr_html_(self) -> str:
        """The picture with its description, as IPython asks for it."""
        return image_html(self.jpeg, "jpeg", self.description, self.width_css_px)


@dataclass(frozen=True, slots=True)
class Words:
    """
    A few lines for the page.

    Attributes
    ----------
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


def image_html(
    data: bytes, kind: str, description: str, width_css_px: int | None
) -> str:
    """
    A picture that stays in the notebook and says what it shows.

    Parameters
    ----------
    kind : str
        ``jpeg`` or ``png``.
    description : str
        For those who cannot see it.
    width_css_px : int or None
        As for `Picture`.

    Notes
    -----
    JupyterLab shows a bare JPEG or PNG without alternative text.
    """
    source = f"data:image/{kind};base64,{b64encode(data).decode('ascii')}"
    image = f'<img src="{source}" alt="{escape(description)}"'
    if width_css_px is None:
        return f'<div style="overflow-x: auto">{image} style="max-width: none"></div>'
    return f'{image} width="{width_css_px}" style="max-width: 100%; height: auto">'


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
    *,
    shown_px: int | None = None,
    is_column: bool = False,
) -> NDArray[np.uint8]:
    """
    Pictures beside each other on neutral grey, each above its caption.

    Parameters
    ----------
    pictures : sequence of (ndarray of uint8, str)
        sRGB of shape (rows, columns, 3), which is not scaled, and the caption.
    shown_px : int, optional
        Width that the page has for all of it; captions are drawn so large that they
        can be read there. Without it, nothing is scaled on the page.
    is_column : bool, optional
        Whether the pictures stand one below the other.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
    """
    across = [pixels.shape[1] for pixels, _ in pictures]
    inside = max(across) if is_column else sum(across) + _GAP_PX * (len(across) - 1)
    width = inside + 2 * _GAP_PX
    scale = max(width / shown_px, 1.0) if shown_px else 1.0
    caption_px = round(_CAPTION_PX * scale)
    below = [pixels.shape[0] + caption_px for pixels, _ in pictures]
    height = _GAP_PX + (sum(below) if is_column else max(below))
    ground = Image.new("RGB", (width, height), SURROUND)
    draw = ImageDraw.Draw(ground)
    left = top = _GAP_PX
    for pixels, caption in pictures:
        ground.paste(Image.fromarray(pixels), (left, top))
        place = (left, top + pixels.shape[0] + round(10 * scale))
        font = font_at(round(_CAPTION_SIZE_PX * scale), words=caption)
        draw.text(place, caption, TEXT, font)
        if is_column:
            top += pixels.shape[0] + caption_px
        else:
            left += pixels.shape[1] + _GAP_PX
    return np.asarray(ground)


_CELL = "text-align:left;vertical-align:top;overflow-wrap:normal"
_LONG_CELL = "text-align:left;vertical-align:top;overflow-wrap:anywhere"


def table_words(
    rows: Iterable[Sequence[str]],
    *,
    head: Sequence[str] = (),
    caption: str = "",
    breaks: bool = True,
    between: str = " | ",
) -> Words:
    """
    A table whose first column says what each row is about.

    Parameters
    ----------
    rows : iterable of sequence of str
        Two or more cells each.
    breaks : bool, optional
        Whether long words may break from the third column on; in the second they may.
    between : str, optional
        What stands between the cells without marks.
    """
    rows = list(rows)
    html = ["<table>"]
    if caption:
        html.append(f"<caption style='text-align:left'>{escape(caption)}</caption>")
    if head:
        cells = "".join(
            f"<th scope='col' style='{_CELL}'>{escape(it)}</th>" for it in head
        )
        html.append(f"<thead><tr>{cells}</tr></thead>")
    html.append("<tbody>")
    for first, *others in rows:
        cells = "".join(
            f"<td style='{_LONG_CELL if breaks or not column else _CELL}'>"
            f"{escape(it)}</td>"
            for column, it in enumerate(others)
        )
        html.append(
            f"<tr><th scope='row' style='{_CELL}'>{escape(first)}</th>{cells}</tr>"
        )
    lines = [caption, *(between.join(row).rstrip() for row in (head, *rows))]
    return Words("".join([*html, "</tbody></table>"]), "\n".join(filter(None, lines)))


def columns_html(
    head: Sequence[str], rows: Iterable[Sequence[str]], *, caption: str = ""
) -> str:
    """
    A table of several columns: numbers stay whole, words break between words.

    Parameters
    ----------
    head : sequence of str
        What each column is.
    caption : str, optional
        Above the table.
    """
    said = f"<caption style='text-align:left'>{escape(caption)}</caption>"
    html = [f"<table class='printplan-columns'>{said if caption else ''}"]
    cells = "".join(f"<th scope='col'>{escape(it)}</th>" for it in head)
    html.append(f"<thead><tr>{cells}</tr></thead><tbody>")
    html += [f"<tr>{''.join(map(_column_cell, row))}</tr>" for row in rows]
    return "".join([*html, "</tbody></table>"])


_LONGEST_WHOLE = 20
"""Letters of a cell that does not break. Our choice."""


def _column_cell(words: str) -> str:
    is_number = any(it.isdigit() for it in words) and len(words) <= _LONGEST_WHOLE
    style = " style='white-space:nowrap'" if is_number else ""
    return f"<td{style}>{escape(words)}</td>"


def problem_html(error: PrintPlanError) -> str:
    """An error's two sentences for the page."""
    return (
        f'<div class="printplan-problem" role="alert">{escape(error.problem)}<br>'
        f"<b>{escape(remedy_words(error))}</b></div>"
    )
