"""Which print of an edition gets a certificate, and what is known to say on it?"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

from printplan.errors import RecordError, did_you_mean
from printplan.foreign_file import faults_named, is_regular, open_foreign
from printplan.pixels.own_files import OwnFile
from printplan.record.certificate_page import CertificateFacts, certificate_pdf
from printplan.record.decision_sheet.facts import small_pictures
from printplan.record.decision_sheet.pdf_sheet import PageSize
from printplan.record.ink_estimate import journal_near
from printplan.record.journal.certificates import Certificate
from printplan.record.journal.entry import Outcome
from printplan.record.journal.journal import open_journal
from printplan.record.page_file import require_page_file, write_page_file
from printplan.record.record_file import read_record
from printplan.record.reprint import open_record
from printplan.spec import Delivery
from printplan.units import LengthUnit, length_words

if TYPE_CHECKING:
    from printplan.pixels.sheet import Sheet
    from printplan.record.journal.editions import Edition
    from printplan.record.journal.entry import EditionNumber, JournalEntry
    from printplan.record.journal.view import JournalView
    from printplan.record.record import PrintRecord

ENDINGS: Final = (".pdf",)


@dataclass(frozen=True, slots=True, kw_only=True)
class CertificateWish:
    """
    What a person says of a certificate; the rest is in record and journal.

    Attributes
    ----------
    artist : str
        As the name is to stand there.
    number : int or None
        In the edition; None if the print has one alone that lacks its certificate.
    proof_of : str
        Edition that an artist's proof stands beside; empty for a number of it.
    title : str
        Of the picture; the edition's if empty.
    issuer : str
        Studio or person that gives it; empty for the artist.
    """

    artist: str
    number: int | None = None
    proof_of: str = ""
    title: str = ""
    issuer: str = ""


def write_certificate(  # noqa: PLR0913 - a print, what is said of it, and where to
    record_path: str | Path,
    wish: CertificateWish,
    out: str | Path,
    *,
    journal: str | Path | None = None,
    master: str | Path | None = None,
    page: PageSize = PageSize.A4,
) -> Certificate:
    """
    Write the certificate of one print of an edition, once for all.

    Parameters
    ----------
    record_path : str or Path
        The print's record.
    out : str or Path
        Ends in ``.pdf``, and is never replaced.
    journal : str or Path, optional
        The one beside the record's paper book if not given.
    master : str or Path, optional
        Where it lies now: the small picture is made from it as the file was.

    Returns
    -------
    Certificate
        As the journal has it now.

    Raises
    ------
    RecordError
        If the print bears no such number, the number is spoiled or has its
        certificate, the finished file was changed, or the page cannot be written.
    PrintPlanError
        If master or profile are not the recorded ones.

    Notes
    -----
    The journal notes it and the page gets its name in one transaction.
    """
    target = require_page_file(out, OwnFile.CERTIFICATE, ENDINGS, overwrite=False)
    record = read_record(record_path)
    found = journal_near(record.book) if journal is None else Path(journal)
    if found is None:
        raise RecordError(
            "The record names no paper book, beside which its journal would lie.",
            remedy="Name the journal.",
        )
    _require_own(record)
    with open_journal(found) as opened:
        _chosen(opened, record, wish)  # refuses before the master is opened
    sheet = open_record(record, master=master)
    with sheet.master:
        facts = _facts(record, sheet, wish)
    now = datetime.now().astimezone()
    is_written = False
    with open_journal(found) as opened:
        try:
            with opened.together():
                chosen = _chosen(opened, record, wish)
                data = certificate_pdf(facts.of(chosen.told, now), page=page)
                certificate = Certificate(
                    title=chosen.edition.title,
                    is_proof=bool(wish.proof_of),
                    number=chosen.number,
                    entry_id=chosen.entry.entry_id,
                    issued_at=now,
                    artist=wish.artist,
                    page_sha256=hashlib.sha256(data).hexdigest(),
                )
                opened.note_certificate(certificate)
                write_page_file(
                    data, target, OwnFile.CERTIFICATE, ENDINGS, overwrite=False
                )
                is_written = True
        except BaseException:
            if is_written:  # the journal could not keep it: then there is none
                target.unlink(missing_ok=True)
            raise
    return certificate


def numbers_to_certify(
    opened: JournalView, file_sha256: str
) -> tuple[EditionNumber, ...]:
    """
    Numbers that prints of a file bear, and that lack their certificate.

    Parameters
    ----------
    file_sha256 : str
        Of the finished file.

    Returns
    -------
    tuple of EditionNumber
        Sound ones, in order.
    """
    done = {(it.title, it.number) for it in opened.certificates() if not it.is_proof}
    return tuple(
        number
        for noted in opened.entries()
        if noted.entry.file_sha256 == file_sha256
        for number in noted.numbers
        if not number.spoiled and (number.title, number.number) not in done
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Chosen:
    """The print that is certified, and its number in words."""

    entry: JournalEntry
    edition: Edition
    number: int
    is_proof: bool

    @property
    def told(self) -> tuple[str, str, datetime]:
        """Title, number in words, and when the print was made."""
        size = self.edition.size
        words = (
            f"Artist's proof {self.number}, outside the edition of {size} prints"
            if self.is_proof
            else f"{self.number} of {size}"
        )
        return self.edition.title, words, self.entry.entry.printed_at


def _chosen(opened: JournalView, record: PrintRecord, wish: CertificateWish) -> _Chosen:
    own = [
        it for it in opened.entries() if it.entry.file_sha256 == record.rendered.sha256
    ]
    if not own:
        raise RecordError(
            "The journal has no print of this file that counts.",
            remedy="Note the print first; one that was struck out gets no certificate.",
        )
    if wish.proof_of:
        return _proof(opened, own, wish.proof_of)
    editions = {it.title: it for it in opened.editions()}
    free = numbers_to_certify(opened, record.rendered.sha256)
    given = [number for noted in own for number in noted.numbers]
    if not given:
        raise RecordError(
            "This print bears no number of an edition.",
            remedy="Note it with an edition, or as an artist's proof of one.",
        )
    wanted = [it for it in given if wish.number in {None, it.number}]
    _require_certifiable(opened, wish, given, wanted)
    left = [it for it in free if it in wanted]
    if len(left) > 1:
        raise RecordError(
            f"Prints of this file bear several numbers: {', '.join(map(str, left))}.",
            remedy="Say which number the certificate is for.",
        )
    (number,) = left
    (entry,) = (it for it in own if it.entry_id == number.entry_id)
    return _Chosen(
        entry=entry,
        edition=editions[number.title],
        number=number.number,
        is_proof=False,
    )


def _require_certifiable(
    opened: JournalView,
    wish: CertificateWish,
    given: list[EditionNumber],
    wanted: list[EditionNumber],
) -> None:
    """Refuse a number that was not given, is spoiled, or has its certificate."""
    numbers = ", ".join(map(str, given))
    if not wanted:
        beyond = wish.number is not None and wish.number > given[0].size
        raise RecordError(
            f"Number {wish.number} lies beyond the edition of {given[0].size}."
            if beyond
            else f"Number {wish.number} was not given to a print of this file.",
            remedy=f"Choose among {numbers}.",
        )
    if all(it.spoiled for it in wanted):
        raise RecordError(
            f"Number {wanted[0]} is spoiled ({wanted[0].spoiled}).",
            remedy="No sound print bears it: it gets no certificate.",
        )
    done = {
        (it.title, it.number): it for it in opened.certificates() if not it.is_proof
    }
    kept = [done.get((it.title, it.number)) for it in wanted if not it.spoiled]
    if all(it is not None for it in kept):
        last = next(it for it in kept if it is not None)
        raise RecordError(
            f"Number {last.number} of “{last.title}” has its certificate since "
            f"{last.issued_at:%d %B %Y}.",
            remedy="A number is certified once; look for that page.",
        )


def _proof(opened: JournalView, own: list[JournalEntry], title: str) -> _Chosen:
    """The next artist's proof, of a print that bears no number."""
    editions = {it.title: it for it in opened.editions()}
    if title not in editions:
        raise RecordError(
            f"There is no edition “{title}”.",
            remedy=did_you_mean(title, list(editions)),
        )
    proofs = [it for it in opened.certificates() if it.is_proof]
    for noted in own:
        made = sum(it.entry_id == noted.entry_id for it in proofs)
        is_sound = noted.entry.outcome is Outcome.GOOD and not noted.numbers
        if is_sound and made < noted.entry.copies:
            numbers = [it.number for it in proofs if it.title == title]
            return _Chosen(
                entry=noted,
                edition=editions[title],
                number=max(numbers, default=0) + 1,
                is_proof=True,
            )
    raise RecordError(
        "No good print of this file is left that bears no number and has no "
        "certificate.",
        remedy="Note the proof as a good print without an edition first.",
    )


def _require_own(record: PrintRecord) -> None:
    """Refuse a print of an outside service, and a file that was changed."""
    if record.spec.delivery.colour is Delivery.NAMED_SPACE:
        raise RecordError(
            "An outside service printed this file: its paper and inks are not known.",
            remedy="Ask the service for its certificate.",
        )
    path = record.rendered.path
    if not is_regular(path):
        return  # a file that was put away is still what was printed
    with (
        open_foreign(path, raises=RecordError, what="The print's file") as file,
        faults_named(path, raises=RecordError, what="The print's file"),
    ):
        found = hashlib.file_digest(file, "sha256").hexdigest()
    if found != record.rendered.sha256:
        raise RecordError(
            f"{Path(path).name} is no longer the file that was recorded.",
            remedy="Put the recorded file back, or make it again from its record.",
        )


def _facts(
    record: PrintRecord, sheet: Sheet, wish: CertificateWish
) -> CertificateFacts:
    """What record and plan know; edition and moments are the journal's."""
    plan, paper = sheet.plan, record.paper
    size, layout = plan.picture_size, plan.layout
    _, proof = small_pictures(sheet)
    other_blacks = {it for it in plan.printer.black_inks if it != plan.setup.black_ink}
    inks = [it for it in plan.printer.inks if it not in other_blacks]
    return CertificateFacts(
        artist=wish.artist,
        issuer=wish.issuer,
        title=wish.title,
        picture=proof,
        picture_size=_both(size.width_mm, size.height_mm),
        sheet_size=_both(layout.width_mm, layout.height_mm),
        paper=f"{paper.name}, {paper.surface}, {paper.weight_gsm:g} g/m²",
        inks=", ".join(inks) or f"{plan.setup.black_ink}; the others are not recorded",
        printer=record.printer.name,
        sha256=record.rendered.sha256,
    )


def _both(width_mm: float, height_mm: float) -> str:
    """Width and height in both units."""
    told = (length_words(it, width_mm, height_mm) for it in LengthUnit)
    millimetres, inches = told
    return f"{millimetres} ({inches})"
