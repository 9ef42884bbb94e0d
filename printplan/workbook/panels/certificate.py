"""Which print of an edition is certified, and for which artist?"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.errors import RecordError, SpecError
from printplan.foreign_file import is_there
from printplan.free_name import free_path
from printplan.record.certificate import (
    CertificateWish,
    numbers_to_certify,
    write_certificate,
)
from printplan.record.journal.view import read_journal
from printplan.record.record_file import read_record
from printplan.shown_text import escape
from printplan.workbook.panels.book_panel import BookPanel
from printplan.workbook.panels.controls import (
    CONTROL,
    acts,
    choice,
    offer,
    show_if,
)

if TYPE_CHECKING:
    from pathlib import Path

    from printplan.errors import PrintPlanError
    from printplan.record.journal.entry import EditionNumber


class CertificateForm(BookPanel):
    """
    The certificate of a print that bears a number of an edition.

    Parameters
    ----------
    book_path : Path
        The studio's paper book.
    journal : Path
        Which need not be there yet.

    Attributes
    ----------
    number : ipywidgets.Dropdown
        Those of the chosen print that lack their certificate.
    """

    title: ClassVar[str] = "Certificate of a numbered print"
    column_px: ClassVar[int] = 400

    def __init__(self, book_path: Path, journal: Path) -> None:
        super().__init__(book_path)
        self.journal = journal
        self._record: Path | None = None
        self._looking = self._worker(self._show)
        self._writing = self._worker(self._show_written, self._fail_writing)
        self.number = choice("number", [])
        self.number.tooltip = "Of the edition; each is certified once"
        self.artist = widgets.Text(
            description="artist", tooltip="The name as it is to stand there", **CONTROL
        )
        self.picture = widgets.Text(
            description="title",
            placeholder="the edition's",
            tooltip="Of the picture; empty for that of the edition",
            **CONTROL,
        )
        self.issuer = widgets.Text(
            description="issued by",
            tooltip="Studio that issues it; may be empty",
            **CONTROL,
        )
        self.write = widgets.Button(
            description="Write the certificate",
            tooltip="One page of PDF beside the record; a number gets one",
        )
        self.write.on_click(self._guarded(self._write))
        self._lay_out(
            [
                self.number,
                self.artist,
                self.picture,
                self.issuer,
                acts(self.write),
                self.message,
            ],
            beside=self.status,
        )
        show_if(False, self.ui)

    def choose(self, record: Path | None) -> None:
        """Offer the numbers of a print that lack their certificate."""
        if record != self._record:
            self._say("")
            self.message.value = ""
        self._record = record
        self._looking.do(partial(_numbers, self.journal, record))

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until nothing is read or written.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return all(it.settle(timeout_s) for it in (self._writing, self._looking))

    def _show(self, numbers: tuple[EditionNumber, ...]) -> None:
        options = [(f"{it} of “{it.title}”", it) for it in numbers]
        offer(self.number, options, self.number.value)
        show_if(bool(numbers), self.number, self.artist, self.picture, self.issuer)
        show_if(bool(numbers), self.write)
        show_if(bool(numbers) or bool(self.status.value), self.ui)

    def _write(self) -> None:
        record, number = self._record, self.number.value
        artist = self.artist.value.strip()
        if record is None or number is None:
            raise RecordError(
                "No number is left to certify.", remedy="Choose another print."
            )
        if not artist:
            raise SpecError(
                "The certificate names no artist.", remedy='Type the name at "artist".'
            )
        wish = CertificateWish(
            artist=artist,
            number=number.number,
            title=self.picture.value.strip(),
            issuer=self.issuer.value.strip(),
        )
        name = f"certificate-{record.name.partition('.')[0]}-{number.number}.pdf"
        out = free_path(record.with_name(name))
        self.write.disabled = True
        self._say("Opening the master, for the small picture.")

        def work() -> str:
            write_certificate(record, wish, out, journal=self.journal)
            return f"Number {number} is certified in {out.name}, beside the record."

        self._writing.do(work)

    def _show_written(self, words: str) -> None:
        self.write.disabled = False
        self.status.value = f'<p role="status">{escape(words)}</p>'
        self.choose(self._record)

    def _fail_writing(self, error: PrintPlanError) -> None:
        self.write.disabled = False
        self._fail(error)


def _numbers(journal: Path, record: Path | None) -> tuple[EditionNumber, ...]:
    if record is None or not is_there(journal):
        return ()
    sha256 = read_record(record).rendered.sha256
    with read_journal(journal) as opened:
        return numbers_to_certify(opened, sha256)
