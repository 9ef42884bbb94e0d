"""How does a page of ours come onto the disk, and when is one replaced?"""

from __future__ import annotations

import hashlib
import os
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.errors import RecordError, Setting
from printplan.free_name import give_free_name
from printplan.pixels.own_files import OwnFile, is_as_made, remember_made
from printplan.record.atomic_write import part_beside
from printplan.record.decision_sheet.pdf_text import Writer, add_fonts
from printplan.shown_text import visible

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from fpdf.fonts import TTFFont

_WORDS = {
    OwnFile.DECISION_SHEET: "decision sheet",
    OwnFile.PRICE_SHEET: "price sheet",
    OwnFile.CERTIFICATE: "certificate",
}


def require_page_file(
    path: str | Path, kind: OwnFile, endings: tuple[str, ...], *, overwrite: bool
) -> Path:
    """
    Refuse a name early that no page can be written under.

    Parameters
    ----------
    endings : tuple of str
        That decide on the page's format, in small letters.
    overwrite : bool
        Permits a page of that kind to be replaced that nobody changed since it was
        written, and no other file.

    Returns
    -------
    Path
        Absolute.

    Raises
    ------
    RecordError
        If the ending is another, or the file exists.
    """
    target, what = Path(path).absolute(), _WORDS[kind]
    if target.suffix.lower() not in endings:
        # Of two spellings of one ending, the first is offered.
        offered = [it for it in endings if it != ".htm"]
        names = " or ".join(repr(target.with_suffix(it).name) for it in offered)
        raise RecordError(
            f"A {what} is to be named {target.name!r}.", remedy=f"Name it {names}."
        )
    if not os.path.lexists(target):
        return target
    if not overwrite:
        raise RecordError(
            f"{target} exists already.",
            remedy="Choose another name.",
            setting=Setting.OVERWRITE,
        )
    if not is_as_made(target, kind):
        raise RecordError(
            f"{target} is not a {what} as printplan wrote it; it is not replaced.",
            remedy="Choose another name, or move that file away or delete it yourself.",
        )
    return target


def write_page_file(
    data: bytes,
    target: Path,
    kind: OwnFile,
    endings: tuple[str, ...],
    *,
    overwrite: bool,
) -> None:
    """
    Write a page whole or not at all.

    Parameters
    ----------
    target : Path
        As `require_page_file` gives it.
    endings : tuple of str
        As there.
    overwrite : bool
        As there.

    Raises
    ------
    RecordError
        If the file exists, or cannot be written.
    """
    with part_beside(
        target, if_exists="Choose another name.", setting=Setting.OVERWRITE
    ) as part:
        with part.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        remember_made(hashlib.sha256(data).hexdigest(), kind)
        if overwrite and target.exists():
            require_page_file(target, kind, endings, overwrite=True)
            part.replace(target)
        else:
            give_free_name(part, target)


def pdf_page(  # noqa: PLR0913 - a page, its letters and what it says of itself
    draw: Callable[[Writer], None],
    *,
    size: str | tuple[float, float],
    size_pt: float,
    title: str,
    made_on: datetime,
    landscape: bool = False,
) -> bytes:
    """
    One page of PDF, its letters inside.

    Parameters
    ----------
    draw : callable
        Sets words and lines on the page.
    size : str or tuple of float
        ``A4`` or ``Letter``, or millimetres.
    size_pt : float
        Of the body.
    title : str
        As readers show it.
    made_on : datetime
        The same facts and the same moment give the same bytes.
    landscape : bool, optional
        Turns the page.
    """
    from fpdf import FPDF  # noqa: PLC0415 - 0.5 s to load

    pdf = FPDF(
        unit="mm", format=size, orientation="landscape" if landscape else "portrait"
    )
    pdf.set_auto_page_break(auto=False)
    pdf.set_margin(0)
    fonts = add_fonts(pdf)
    with closing(_Fonts(fonts)):
        pdf.add_page()
        draw(Writer(pdf, size_pt, known=set(fonts[0].cmap)))
        pdf.set_title(visible(title))
        pdf.set_lang("en")
        pdf.set_producer("printplan")
        pdf.set_creation_date(made_on)
        return bytes(pdf.output())


class _Fonts:
    """Font files that are let go of when all is written."""

    def __init__(self, fonts: list[TTFFont]) -> None:
        self._fonts = fonts

    def close(self) -> None:
        for font in self._fonts:
            font.ttfont.close()
