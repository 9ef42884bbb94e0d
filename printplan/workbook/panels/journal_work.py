"""What does the journal panel ask of the journal, while nobody waits?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from printplan.record.journal.causes import CAUSES
from printplan.record.journal.csv_file import write_journal_csv
from printplan.record.journal.entry import Outcome
from printplan.record.journal.from_record import entry_from_record
from printplan.record.journal.journal import open_journal, start_journal
from printplan.record.journal.misprint_counts import overall_rate
from printplan.record.journal.view import look_into_journal
from printplan.record.record_file import parse_record_text, read_record
from printplan.record.whole_file import read_text
from printplan.workbook.bench import free_path

if TYPE_CHECKING:
    from pathlib import Path

    from printplan.record.journal.editions import Edition
    from printplan.record.journal.journal import Journal
    from printplan.record.journal.kept import KeptEntry
    from printplan.record.journal.misprint_rate import Rate


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """
    What the journal holds, and what a chosen record adds.

    Attributes
    ----------
    newest : tuple of KeptEntry
        The last first.
    count : int
        Of all entries.
    rate : Rate
    causes : tuple of str
    editions : tuple of Edition
    findings : tuple of str
        What the chosen record found, by `about`.
    """

    newest: tuple[KeptEntry, ...]
    count: int
    rate: Rate
    causes: tuple[str, ...]
    editions: tuple[Edition, ...]
    findings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Noting:
    """
    What is to be noted of a print.

    Attributes
    ----------
    record : Path
    printed_at : datetime or None
        With its zone; None for now.
    outcome : Outcome
    cause, caught_by : str
        Of a misprint; else not looked at.
    copies : int
    ink_ml : float or None
        Of one print.
    edition : str
        Title of the edition that its copies get numbers of; empty for none.
    edition_size : int or None
        Opens that edition with so many numbers first.
    note : str
    """

    record: Path
    printed_at: datetime | None
    outcome: Outcome
    cause: str
    caught_by: str
    copies: int
    ink_ml: float | None
    edition: str
    edition_size: int | None
    note: str


def look(journal: Path, record: Path | None, *, most: int) -> Seen:
    """
    Look into a journal, which need not be there yet.

    Parameters
    ----------
    journal : Path
    record : Path or None
        The print that is to be noted.
    most : int
        Entries to show.

    Returns
    -------
    Seen

    Raises
    ------
    PrintPlanError
        If one of them cannot be read.
    """
    findings = () if record is None else read_record(record).findings
    abouts = tuple(dict.fromkeys(kept.finding.about for kept in findings))
    if not journal.exists():
        return Seen(
            newest=(),
            count=0,
            rate=overall_rate(()),
            causes=CAUSES,
            editions=(),
            findings=abouts,
        )
    with look_into_journal(journal) as opened:
        entries, causes = opened.entries(), opened.causes()
        editions = opened.editions()
    return Seen(
        newest=entries[: -most - 1 : -1],
        count=len(entries),
        rate=overall_rate(entries),
        causes=causes,
        editions=editions,
        findings=abouts,
    )


def note_print(journal: Path, noting: Noting, *, currency: str = "") -> KeptEntry:
    """
    Note a print; the first one starts the journal.

    Parameters
    ----------
    journal : Path
    noting : Noting
    currency : str, optional
        Of the paper book.

    Returns
    -------
    KeptEntry

    Raises
    ------
    PrintPlanError
        If it contradicts itself, or journal or record cannot be used; then nothing
        is noted, no edition opened, and no journal started.
    """
    now = datetime.now().astimezone()
    text = read_text(noting.record)
    is_lost = noting.outcome is Outcome.MISPRINT
    entry = entry_from_record(
        parse_record_text(text, where=str(noting.record)),
        printed_at=noting.printed_at or now,
        outcome=noting.outcome,
        cause=noting.cause if is_lost else "",
        caught_by=noting.caught_by if is_lost else "",
        copies=noting.copies,
        ink_ml=noting.ink_ml,
        currency=currency,
        note=noting.note,
    )

    def add(opened: Journal) -> KeptEntry:
        if noting.edition_size is not None:
            opened.open_edition(noting.edition, noting.edition_size, opened_at=now)
        return opened.add(entry, noted_at=now, record_text=text, edition=noting.edition)

    if journal.exists():
        with open_journal(journal) as opened, opened.together():
            return add(opened)
    first: list[KeptEntry] = []
    start_journal(
        journal, started_at=now, fill=lambda opened: first.append(add(opened))
    )
    return first[0]


def export(journal: Path) -> Path:
    """
    Write all entries as a table beside the journal.

    Parameters
    ----------
    journal : Path

    Returns
    -------
    Path
        A CSV file under a name that was free.

    Raises
    ------
    RecordError
        If the journal cannot be read, or the table not be written.
    """
    with look_into_journal(journal) as opened:
        entries = opened.entries()
    path = free_path(journal.with_suffix(".csv"))
    write_journal_csv(entries, path)
    return path
