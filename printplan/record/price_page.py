"""How do prices come onto one page of PDF, or into a table, and onto the disk?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from printplan.errors import RecordError
from printplan.pixels.own_files import OwnFile
from printplan.record.decision_sheet.pdf_sheet import PageSize
from printplan.record.page_file import (
    pdf_page,
    require_page_file,
    write_page_file,
)
from printplan.record.price_sheet import (
    TABLE_HEAD,
    price_cells,
    price_csv,
    terms_words,
)

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime
    from pathlib import Path

    from printplan.record.decision_sheet.pdf_text import Writer
    from printplan.record.price_sheet import Priced, Terms

ENDINGS: Final = (".pdf", ".csv")

_EDGE_MM: Final = 15.0
_GAP_MM: Final = 3.0
_BODY_PT: Final = 8.4
_SHARES: Final = (0.22, 0.20, 0.075, 0.14, 0.115, 0.08, 0.085, 0.085)
_FIRST_NUMBER: Final = 2
_ROW_GAP_MM: Final = 1.3


def require_price_name(path: str | Path, *, overwrite: bool = False) -> Path:
    """
    Refuse a name early that no price sheet can be written under.

    Returns
    -------
    Path
        Absolute.

    Raises
    ------
    RecordError
        If the ending is another than ``.pdf`` or ``.csv``, or the file exists.
    """
    return require_page_file(path, OwnFile.PRICE_SHEET, ENDINGS, overwrite=overwrite)


def write_price_sheet(  # noqa: PLR0913 - rows, how they came about, and where to
    rows: Sequence[Priced],
    terms: Terms,
    path: str | Path,
    *,
    made_on: datetime,
    page: PageSize = PageSize.A4,
    overwrite: bool = False,
) -> Path:
    """
    Write prices as one page of PDF or as comma-separated values.

    Parameters
    ----------
    path : str or Path
        Its ending decides: ``.pdf`` or ``.csv``.
    made_on : datetime
        With its zone.
    page : PageSize, optional
        Of the PDF, laid across.
    overwrite : bool, optional
        Permits a price sheet of that name to be replaced that nobody changed.

    Returns
    -------
    Path
        The file, absolute.

    Raises
    ------
    RecordError
        If the ending is another, the file exists or cannot be written, or the prices
        do not go on one page.
    """
    target = require_price_name(path, overwrite=overwrite)
    if target.suffix.lower() == ".csv":
        data = price_csv(rows, terms).encode()
    else:
        data = price_pdf(rows, terms, made_on=made_on, page=page)
    write_page_file(data, target, OwnFile.PRICE_SHEET, ENDINGS, overwrite=overwrite)
    return target


def price_pdf(
    rows: Sequence[Priced],
    terms: Terms,
    *,
    made_on: datetime,
    page: PageSize = PageSize.A4,
) -> bytes:
    """
    Prices as one page of PDF.

    Raises
    ------
    RecordError
        If they do not go on one page.
    """

    def draw(writer: Writer) -> None:
        width_mm = writer.pdf.w - 2 * _EDGE_MM
        down_mm = writer.words(
            _EDGE_MM, _EDGE_MM, width_mm, "Prices of prints", scale=2.0, bold=True
        )
        words = f"For the studio's own use. {made_on.day} {made_on:%B %Y}."
        down_mm = writer.words(_EDGE_MM, down_mm + 0.5, width_mm, words) + 4.0
        down_mm = _row(writer, down_mm, width_mm, TABLE_HEAD, bold=True)
        writer.rule(_EDGE_MM, down_mm, width_mm, width_mm=0.4)
        for row in rows:
            down_mm = _row(
                writer, down_mm + _ROW_GAP_MM, width_mm, price_cells(row), bold=False
            )
            writer.rule(_EDGE_MM, down_mm + _ROW_GAP_MM, width_mm, width_mm=0.08)
            down_mm += _ROW_GAP_MM
        down_mm += 3.0
        for sentence in terms_words(rows, terms):
            down_mm = writer.words(_EDGE_MM, down_mm, width_mm, sentence) + 0.8
        if writer.missing:
            words = f"{len(writer.missing)} signs are not in this page's letters: ?."
            down_mm = writer.words(_EDGE_MM, down_mm, width_mm, words)
        if down_mm > writer.pdf.h - _EDGE_MM:
            raise RecordError(
                f"{len(rows)} prints do not go on one {page} page.",
                remedy="Give fewer plans, or write them as .csv.",
            )

    return pdf_page(
        draw,
        size=page,
        size_pt=_BODY_PT,
        title="Prices of prints",
        made_on=made_on,
        landscape=True,
    )


def _row(
    writer: Writer, top_mm: float, width_mm: float, cells: Sequence[str], *, bold: bool
) -> float:
    """Set one row; amounts end at the right of their column."""
    left_mm, ends_mm = _EDGE_MM, [top_mm]
    for column, (cell, share) in enumerate(zip(cells, _SHARES, strict=True)):
        across_mm = share * width_mm
        is_number = column >= _FIRST_NUMBER
        ends_mm.append(
            writer.words(
                left_mm + (_GAP_MM if is_number else 0.0),
                top_mm,
                across_mm - _GAP_MM,
                cell,
                bold=bold or column == len(cells) - 1,
                align="R" if is_number else "L",
            )
        )
        left_mm += across_mm
    return max(ends_mm)
