"""Which prints were made, and how did each come out?"""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.errors import RecordError
from printplan.record.journal.certificates import insert_certificate
from printplan.record.journal.editions import (
    Edition,
    insert_edition,
    issue,
    numbers_by_entry,
    spoil,
)
from printplan.record.journal.entry import (
    Outcome,
    require_filled,
    require_reason,
    require_text,
    require_zone,
)
from printplan.record.journal.file import Access, connect, make_file, translated_errors
from printplan.record.journal.file import writing as in_transaction
from printplan.record.journal.rows import (
    insert_cause,
    insert_first_causes,
    insert_revision,
    moment_text,
    read_revisions,
    require_cause,
    retire_cause,
)
from printplan.record.journal.stock_changes import insert_change, settle_change
from printplan.record.journal.view import JournalView, text_sha256

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Iterator
    from datetime import datetime

    from printplan.record.journal.certificates import Certificate
    from printplan.record.journal.entry import JournalEntry, PrintEntry
    from printplan.record.journal.stock_changes import Settled, StockChange


def create_journal(
    path: str | Path,
    *,
    started_at: datetime,
    note: str = "",
    fill: Callable[[Journal], None] | None = None,
) -> None:
    """
    Start a journal, whole or not at all.

    Parameters
    ----------
    started_at : datetime
        With its zone.
    note : str, optional
        About the journal.
    fill : callable, optional
        Notes what is in it from the first moment: the file gets its name after that.

    Raises
    ------
    RecordError
        If a file of that name exists already, or none can be made there.
    """
    require_zone(started_at)
    require_text(note)

    def begin(connection: sqlite3.Connection) -> None:
        connection.execute(
            "INSERT INTO about VALUES (1, ?, ?)", (moment_text(started_at), note)
        )
        insert_first_causes(connection)
        if fill is not None:
            fill(Journal(Path(path), connection))

    make_file(Path(path), begin)


def open_journal(path: str | Path) -> Journal:
    """
    Open a journal to note in it.

    Returns
    -------
    Journal
        For a ``with`` statement; keep it open no longer than needed.

    Raises
    ------
    RecordError
        If it is missing, damaged, not a journal, of another version, or cannot be
        written.
    """
    return Journal(Path(path), connect(Path(path), Access.WRITE))


class Journal(JournalView):
    """
    An open journal: what is noted in it stays, and every change is one revision more.

    Each method that writes returns after the disk has it; until then nothing of it is
    there. Several workbooks may have one journal open and wait for each other. All
    methods raise `RecordError` if the file cannot be used.

    Parameters
    ----------
    connection : sqlite3.Connection
        From `connect`.
    """

    @contextmanager
    def together(self) -> Iterator[None]:
        """
        All that is noted inside is written, or nothing of it is.

        Yields
        ------
        None
            While other workbooks wait.
        """
        with self._writing():
            yield

    def add(
        self,
        entry: PrintEntry,
        *,
        noted_at: datetime,
        record_text: str = "",
        edition: str = "",
    ) -> JournalEntry:
        """
        Note a print.

        Parameters
        ----------
        noted_at : datetime
            With its zone.
        record_text : str, optional
            The record of the print, which is kept as it is.
        edition : str, optional
            Title of the edition whose next numbers its copies get.

        Raises
        ------
        RecordError
            If the cause is not among the journal's, or the edition has no number left.
        """
        require_zone(noted_at)
        if record_text:
            require_text(record_text)
            entry = replace(entry, record_sha256=text_sha256(record_text))
        with self._writing() as connection:
            if record_text:
                connection.execute(
                    "INSERT INTO record VALUES (?, ?) ON CONFLICT DO NOTHING",
                    (entry.record_sha256, record_text),
                )
            entry_id = _insert(connection, entry, noted_at)
            if edition:
                issue(connection, edition, entry_id, entry, noted_at)
            return _one(connection, entry_id)

    def change(
        self,
        current: JournalEntry,
        entry: PrintEntry,
        *,
        changed_at: datetime,
        why: str,
    ) -> JournalEntry:
        """
        Put an entry right; what it said before is kept.

        Parameters
        ----------
        current : JournalEntry
            As it was read: if another workbook changed it since, it stays as it is.
        entry : PrintEntry
            What it is to say. An entry that was struck out counts again.
        changed_at : datetime
            With its zone.
        why : str
            The reason.

        Raises
        ------
        RecordError
            If it was changed since it was read, no reason is given, or it contradicts
            its edition numbers.
        """
        return self._revise(current, entry, changed_at, why, is_struck=False)

    def strike(
        self, current: JournalEntry, *, changed_at: datetime, why: str
    ) -> JournalEntry:
        """
        Strike an entry out: it stays, and no longer counts.

        Parameters
        ----------
        current : JournalEntry
            As it was read.
        changed_at : datetime
            With its zone.
        why : str
            The reason; edition numbers of the entry are spoiled by it.

        Raises
        ------
        RecordError
            If it was changed since it was read, or no reason is given.
        """
        return self._revise(current, current.entry, changed_at, why, is_struck=True)

    def add_cause(self, name: str) -> None:
        """Add a cause of misprints at the end of the list, or bring one back."""
        require_text(name)
        require_filled("cause", name)
        with self._writing() as connection:
            insert_cause(connection, name)

    def retire_cause(self, name: str) -> None:
        """
        Take a cause off the list; entries that name it keep it.

        Raises
        ------
        RecordError
            If it is not on the list.
        """
        with self._writing() as connection:
            retire_cause(connection, name)

    def open_edition(
        self,
        title: str,
        size: int,
        *,
        opened_at: datetime,
        first_number: int = 1,
        note: str = "",
    ) -> None:
        """
        Open a limited edition; its size never changes.

        Parameters
        ----------
        size : int
            N of "n of N".
        opened_at : datetime
            With its zone.
        first_number : int, optional
            The first to give, if lower ones were given before this journal.

        Raises
        ------
        RecordError
            If there is one of that title, or its numbers contradict themselves.
        """
        require_zone(opened_at)
        require_text(title)
        require_text(note)
        edition = Edition(
            title=title,
            size=size,
            first_number=first_number,
            opened_at=opened_at,
            note=note,
        )
        with self._writing() as connection:
            insert_edition(connection, edition)

    def issue_numbers(
        self, current: JournalEntry, title: str, *, issued_at: datetime
    ) -> JournalEntry:
        """
        Give the next numbers of an edition to the copies of a noted print.

        Parameters
        ----------
        current : JournalEntry
            As it was read.
        issued_at : datetime
            With its zone.

        Raises
        ------
        RecordError
            If there is no such edition, too few numbers are left, or the entry is a
            trial, struck out, changed since it was read, or has numbers already.
        """
        require_zone(issued_at)
        with self._writing() as connection:
            now = _unchanged(connection, current)
            if now.is_struck:
                raise RecordError(
                    f"Entry {current.entry_id} is struck out.",
                    remedy="Choose an entry that counts.",
                )
            issue(connection, title, current.entry_id, now.entry, issued_at)
            return _one(connection, current.entry_id)

    def spoil_number(
        self, title: str, number: int, *, why: str, spoiled_at: datetime
    ) -> None:
        """
        Note that the print of a number is no more; the number is not given again.

        Parameters
        ----------
        spoiled_at : datetime
            With its zone.

        Raises
        ------
        RecordError
            If that number was not given or is spoiled already.
        """
        require_zone(spoiled_at)
        require_reason(why)
        with self._writing() as connection:
            spoil(connection, title, number, why, spoiled_at)

    def note_certificate(self, certificate: Certificate) -> None:
        """
        Note a certificate that is being written.

        Raises
        ------
        RecordError
            If that number has one already.
        """
        with self._writing() as connection:
            insert_certificate(connection, certificate)

    def note_stock_change(self, change: StockChange) -> None:
        """Note what an entry takes from the stock, before the paper book follows."""
        require_zone(change.changed_at)
        with self._writing() as connection:
            insert_change(connection, change)

    def settle_stock_change(
        self, change: StockChange, settled: Settled, *, settled_at: datetime
    ) -> None:
        """
        Note what became of a change of the stock.

        Parameters
        ----------
        change : StockChange
            One that is open.
        settled_at : datetime
            With its zone.

        Raises
        ------
        RecordError
            If it is settled already.
        """
        require_zone(settled_at)
        with self._writing() as connection:
            settle_change(connection, change, settled, settled_at)

    def _revise(
        self,
        current: JournalEntry,
        entry: PrintEntry,
        changed_at: datetime,
        why: str,
        *,
        is_struck: bool,
    ) -> JournalEntry:
        require_zone(changed_at)
        require_reason(why)
        with self._writing() as connection:
            now = _unchanged(connection, current)
            if entry.cause and entry.cause != now.entry.cause:
                require_cause(connection, entry.cause)
            _require_numbers_kept(now, entry)
            insert_revision(
                connection,
                entry,
                entry_id=now.entry_id,
                revision=now.revision + 1,
                changed_at=moment_text(changed_at),
                why=why,
                is_struck=int(is_struck),
            )
            return _one(connection, current.entry_id)

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        with translated_errors(self._path), in_transaction(self._connection):
            yield self._connection


def _insert(
    connection: sqlite3.Connection, entry: PrintEntry, noted_at: datetime
) -> int:
    """Write a new entry and return its number."""
    if entry.cause:
        require_cause(connection, entry.cause)
    noted = moment_text(noted_at)
    (entry_id,) = connection.execute(
        "INSERT INTO entry (noted_at) VALUES (?) RETURNING entry_id", (noted,)
    ).fetchone()
    insert_revision(
        connection,
        entry,
        entry_id=entry_id,
        revision=1,
        changed_at=noted,
        why="",
        is_struck=0,
    )
    return int(entry_id)


def _one(connection: sqlite3.Connection, entry_id: int) -> JournalEntry:
    numbers = numbers_by_entry(connection)
    (current,) = read_revisions(
        connection, "latest", "entry_id = ?", entry_id, numbers=numbers
    )
    return current


def _unchanged(connection: sqlite3.Connection, current: JournalEntry) -> JournalEntry:
    """The entry as it stands, if that is how the caller knows it."""
    found = read_revisions(
        connection,
        "latest",
        "entry_id = ? AND revision = ?",
        current.entry_id,
        current.revision,
        numbers=numbers_by_entry(connection),
    )
    for now in found:
        if now.entry == current.entry:
            return now
    raise RecordError(
        f"Entry {current.entry_id} was changed since it was read; it stays as it is.",
        remedy="Read it again and look at what it says now.",
    )


def _require_numbers_kept(now: JournalEntry, entry: PrintEntry) -> None:
    if not now.numbers:
        return
    if entry.copies != now.entry.copies or entry.outcome is Outcome.TRIAL:
        words = ", ".join(str(number) for number in now.numbers)
        raise RecordError(
            f"Entry {now.entry_id} bears the edition numbers {words}, one for each of "
            f"its {now.entry.copies} copies.",
            remedy="Leave its copies as they are, and note a lost one by its number.",
        )
