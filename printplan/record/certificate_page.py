"""How does the certificate of a print become one page?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from printplan.errors import RecordError
from printplan.record.decision_sheet.pdf_sheet import PageSize
from printplan.record.page_file import pdf_page

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from printplan.pixels.small_picture import SmallPicture
    from printplan.record.decision_sheet.pdf_text import Writer

_EDGE_MM: Final = 28.0
_PICTURE_MM: Final = (120.0, 84.0)
_BODY_PT: Final = 9.6
_LABEL_MM: Final = 38.0
_ROW_GAP_MM: Final = 1.7
_SIGN_MM: Final = 24.0
_SHORT: Final = 12
"""Digits of a hash that a person compares. Our choice: 48 bits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CertificateFacts:
    """
    All that a certificate says.

    Attributes
    ----------
    artist, title, issuer : str
        As a person gave them; the last may be empty.
    number : str
        Such as ``3 of 25``.
    printed_at, issued_at : datetime or None
        None before the journal was asked.
    sha256 : str
        Of the file that was printed.
    """

    artist: str
    issuer: str
    title: str
    picture: SmallPicture
    picture_size: str
    sheet_size: str
    paper: str
    inks: str
    printer: str
    sha256: str
    number: str = ""
    printed_at: datetime | None = None
    issued_at: datetime | None = None

    def of(
        self, told: tuple[str, str, datetime], issued_at: datetime
    ) -> CertificateFacts:
        """
        The same with what the journal knows.

        Parameters
        ----------
        told : tuple
            Title of the edition, number in words, moment of printing.
        """
        title, number, printed_at = told
        return replace(
            self,
            title=self.title or title,
            number=number,
            printed_at=printed_at,
            issued_at=issued_at,
        )

    @property
    def rows(self) -> Iterator[tuple[str, str]]:
        """What is said, by its name."""
        yield "Number", self.number
        yield "Picture", self.picture_size
        yield "Sheet", self.sheet_size
        yield "Paper", self.paper
        yield "Inks", self.inks
        yield "Printer", self.printer
        if self.printed_at is not None:
            yield "Printed on", f"{self.printed_at.day} {self.printed_at:%B %Y}"
        if self.issuer:
            yield "Given by", self.issuer
        yield "File", f"{self.sha256[:_SHORT]} (first digits of its SHA-256)"


def certificate_pdf(facts: CertificateFacts, *, page: PageSize = PageSize.A4) -> bytes:
    """
    A certificate as one page of PDF.

    Parameters
    ----------
    facts : CertificateFacts
        Complete; the same facts give the same bytes.

    Raises
    ------
    RecordError
        If the words do not go on one page, or the journal was not asked.
    """
    if facts.issued_at is None:
        raise RecordError(
            "The certificate has no date.", remedy="Take its number from the journal."
        )
    return pdf_page(
        lambda writer: _draw(writer, facts),
        size=page,
        size_pt=_BODY_PT,
        title=f"Certificate of authenticity: {facts.title}, {facts.number}",
        made_on=facts.issued_at,
    )


def _draw(writer: Writer, facts: CertificateFacts) -> None:
    pdf = writer.pdf
    width_mm = pdf.w - 2 * _EDGE_MM
    down_mm = writer.words(
        _EDGE_MM,
        _EDGE_MM,
        width_mm,
        "Certificate of authenticity",
        scale=2.1,
        align="C",
    )
    middle_mm = 30.0
    writer.rule((pdf.w - middle_mm) / 2, down_mm + 4.0, middle_mm, width_mm=0.25)
    down_mm = _picture(writer, facts.picture, down_mm + 11.0) + 8.0
    down_mm = writer.words(
        _EDGE_MM, down_mm, width_mm, facts.title, scale=1.75, bold=True, align="C"
    )
    down_mm = writer.words(
        _EDGE_MM, down_mm + 1.2, width_mm, facts.artist, scale=1.3, align="C"
    )
    down_mm += 8.0
    writer.rule(_EDGE_MM, down_mm, width_mm, width_mm=0.1)
    for what, value in facts.rows:
        down_mm = _row(writer, down_mm + _ROW_GAP_MM, width_mm, what, value)
        writer.rule(_EDGE_MM, down_mm + _ROW_GAP_MM, width_mm, width_mm=0.1)
        down_mm += _ROW_GAP_MM
    down_mm = writer.words(
        _EDGE_MM + _LABEL_MM,
        down_mm + 1.6,
        width_mm - _LABEL_MM,
        facts.sha256,
        scale=0.66,
    )
    sign_mm = pdf.h - _EDGE_MM - 4.0
    if writer.missing:
        words = f"{len(writer.missing)} signs are not in this page's letters: ?."
        down_mm = writer.words(_EDGE_MM, down_mm + 1.0, width_mm, words, scale=0.8)
    if down_mm > sign_mm - _SIGN_MM + 8.0:
        raise RecordError(
            "The words of this certificate do not go on one page.",
            remedy="Give a shorter title, name of the artist, or issuer.",
        )
    gap_mm = 10.0
    line_mm = (width_mm - gap_mm) / 2
    for left_mm, words in (
        (_EDGE_MM, "Signature of the artist"),
        (_EDGE_MM + line_mm + gap_mm, "Place and date"),
    ):
        writer.rule(left_mm, sign_mm, line_mm, width_mm=0.25)
        writer.words(left_mm, sign_mm + 1.0, line_mm, words, scale=0.85)


def _picture(writer: Writer, picture: SmallPicture, top_mm: float) -> float:
    """The picture in the middle of the page, in a fine frame; its foot."""
    across_mm, high_mm = _PICTURE_MM
    scale = min(across_mm / picture.width_px, high_mm / picture.height_px)
    width_mm, height_mm = scale * picture.width_px, scale * picture.height_px
    left_mm = (writer.pdf.w - width_mm) / 2
    writer.pdf.image(
        picture.jpeg,
        left_mm,
        top_mm,
        width_mm,
        height_mm,
        alt_text=picture.description,
    )
    writer.frame(left_mm, top_mm, width_mm, height_mm, width_mm=0.1)
    return top_mm + height_mm


def _row(
    writer: Writer, top_mm: float, width_mm: float, what: str, value: str
) -> float:
    label_end_mm = writer.words(_EDGE_MM, top_mm, _LABEL_MM - 3, what, bold=True)
    end_mm = writer.words(_EDGE_MM + _LABEL_MM, top_mm, width_mm - _LABEL_MM, value)
    return max(label_end_mm, end_mm)
