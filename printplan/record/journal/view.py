"""What does a journal say, and how does it become a table for other programs?"""

from __future__ import annotations

import sqlite3
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Final, Self

from printplan.errors import PrintPlanError, RecordError
from printplan.record.atomic_write import FileHeader, write_text
from printplan.record.csv_text import csv_text
from printplan.record.journal.certificates import read_certificates
from printplan.record.journal.editions import numbers_by_entry, read_editions
from printplan.record.journal.file import Access, connect, reading, translated_errors
from printplan.record.journal.rows import (
    ENTRY_COLUMNS,
    causes_in_use,
    entry_ids,
    moment_text,
    read_revisions,
    row_of_entry,
)
from printplan.record.journal.schema import RESTORE_REMEDY, found_damage
from printplan.record.journal.stock_changes import read_changes

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from printplan.record.journal.certificates import Certificate
    from printplan.record.journal.editions import Edition
    from printplan.record.journal.entry import JournalEntry
    from printplan.record.journal.stock_changes import StockChange


_HEAD = ("entry_id", "revision", "changed_at", "why", "is_struck", "numbers")

_MOST_TOLD = 5

_SENSELESS: Final = (
    sqlite3.DatabaseError,
    PrintPlanError,
    ValueError,
    ArithmeticError,
    TypeError,
)
"""What a row raises that was damaged, or filled by another program."""

_HEADER: Final = FileHeader(name='","'.join(_HEAD), version=1, heading="")
"""The header line begins so: what does not is another file, and is never replaced."""


def journal_csv(entries: Iterable[JournalEntry]) -> str:
    """
    Entries as comma-separated values.

    Returns
    -------
    str
        As `csv_text` has it: one line for each, after a line of names. What is not
        known is empty.
    """
    return csv_text((*_HEAD, *ENTRY_COLUMNS), (_row(noted) for noted in entries))


def write_journal_csv(
    entries: Iterable[JournalEntry], path: str | Path, *, overwrite: bool = False
) -> None:
    """
    Write entries as comma-separated values, whole or not at all.

    Parameters
    ----------
    entries : iterable of JournalEntry
        From `Journal.entries`, with `Journal.struck_entries` or `Journal.history` if
        those are wanted too.
    path : str or Path
        UTF-8.
    overwrite : bool, optional
        Permits an earlier table of this kind to be replaced.

    Raises
    ------
    RecordError
        If it exists already, is a file of another kind, or cannot be written.
    """
    write_text(journal_csv(entries), path, _HEADER, overwrite=overwrite)


def _row(noted: JournalEntry) -> list[object]:
    return [
        noted.entry_id,
        noted.revision,
        moment_text(noted.changed_at),
        noted.why,
        int(noted.is_struck),
        "; ".join(f"{number.title} {number}" for number in noted.numbers),
        *row_of_entry(noted.entry).values(),
    ]


def read_journal(path: str | Path) -> JournalView:
    """
    Open a journal only to read it; file and folder may be write-protected.

    Returns
    -------
    JournalView
        For a ``with`` statement.

    Raises
    ------
    RecordError
        If it is missing, not a journal, of another version, or damaged so that
        nothing can be read. What can be is shown: see `JournalView.damage`.
    """
    return JournalView(Path(path), connect(Path(path), Access.LOOK))


def damage_told(opened: JournalView, path: str | Path) -> list[PrintPlanError]:
    """
    What is wrong with a journal of which the rest is shown, as problem and remedy.

    Parameters
    ----------
    path : str or Path
        Its name, for the words.
    """
    damage = opened.damage()
    if not damage:
        return []
    shown = " ".join(damage[:_MOST_TOLD])
    more = len(damage) - _MOST_TOLD
    rest = f" And {more} more." if more > 0 else ""
    return [
        RecordError(
            f"Of the journal {path} a part cannot be read; the rest is shown. {shown}"
            f"{rest}",
            remedy=RESTORE_REMEDY,
        )
    ]


class JournalView:
    """
    A journal opened to be read.

    All methods raise `RecordError` if the file cannot be used.

    Parameters
    ----------
    connection : sqlite3.Connection
        From `connect`.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self._path = path
        self._connection = connection
        self._unreadable: dict[int, str] = {}

    def damage(self) -> tuple[str, ...]:
        """
        What is wrong with the journal.

        Returns
        -------
        tuple of str
            Sentences: the first complaint of SQLite's check of the whole file, then
            one for each entry that cannot be read, with its number. Empty if nothing
            is wrong.
        """
        with self._reading() as connection:
            whole = found_damage(connection)
            self._current("1")
        told = [f"The file is damaged: {whole}."] if whole else []
        return (*told, *(self._unreadable[it] for it in sorted(self._unreadable)))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()

    def note(self) -> str:
        """What the journal says of itself."""
        with self._reading() as connection:
            (note,) = connection.execute("SELECT note FROM about").fetchone()
        return str(note)

    def entries(self) -> tuple[JournalEntry, ...]:
        """
        All entries as they stand now, in the order of their printing.

        Returns
        -------
        tuple of JournalEntry
            Without those that are struck out.
        """
        return self._latest("NOT is_struck")

    def struck_entries(self) -> tuple[JournalEntry, ...]:
        """
        The entries that are struck out.

        Returns
        -------
        tuple of JournalEntry
            With the reason in `why`.
        """
        return self._latest("is_struck")

    def history(self, entry_id: int) -> tuple[JournalEntry, ...]:
        """
        All that an entry ever said.

        Returns
        -------
        tuple of JournalEntry
            The oldest revision first; the last is how it stands.

        Raises
        ------
        RecordError
            If there is no such entry.
        """
        with self._reading() as connection:
            found = read_revisions(
                connection,
                "revision",
                "entry_id = ? ORDER BY revision",
                entry_id,
                numbers=numbers_by_entry(connection),
            )
            revisions = tuple(found)
        if not revisions:
            raise RecordError(
                f"There is no entry {entry_id} in {self._path}.",
                remedy="Choose one of those that are listed.",
            )
        return revisions

    def record_text(self, noted: JournalEntry) -> str:
        """
        The record of a print, as it was when it was noted.

        Returns
        -------
        str
            Empty if it was noted without one.

        Raises
        ------
        RecordError
            If its text no longer has the hash that was noted.
        """
        wanted = noted.entry.record_sha256
        if not wanted:
            return ""
        with self._reading() as connection:
            found = connection.execute(
                "SELECT text FROM record WHERE sha256 = ?", (wanted,)
            ).fetchone()
        if found is None or text_sha256(found[0]) != wanted:
            raise RecordError(
                f"The record of entry {noted.entry_id} is not the one that was noted.",
                remedy="Use the record's own file; this journal was changed by hand.",
            )
        return str(found[0])

    def causes(self) -> tuple[str, ...]:
        """What a misprint can be put down to."""
        with self._reading() as connection:
            return causes_in_use(connection)

    def editions(self) -> tuple[Edition, ...]:
        """All editions with the numbers given."""
        with self._reading() as connection:
            return tuple(read_editions(connection))

    def certificates(self) -> tuple[Certificate, ...]:
        """All certificates that were written, by edition and number."""
        with self._reading() as connection:
            return tuple(read_certificates(connection))

    def stock_changes(self) -> tuple[StockChange, ...]:
        """What noted prints took from the paper in stock, oldest first."""
        with self._reading() as connection:
            return tuple(read_changes(connection))

    def _latest(self, condition: str) -> tuple[JournalEntry, ...]:
        with self._reading():
            found = self._current(condition)
        return tuple(sorted(found, key=lambda it: (it.entry.printed_at, it.entry_id)))

    def _current(self, condition: str) -> list[JournalEntry]:
        """Entries as they stand, read one by one: a damaged one costs no other."""
        connection = self._connection
        found: list[JournalEntry] = []
        try:
            numbers = numbers_by_entry(connection)
        except _SENSELESS as error:
            numbers = {}
            self._unreadable[0] = f"Edition numbers cannot be read ({error})."
        for entry_id in entry_ids(connection):
            try:
                found += read_revisions(
                    connection,
                    "latest",
                    f"entry_id = ? AND {condition}",
                    entry_id,
                    numbers=numbers,
                )
            except _SENSELESS as error:
                self._unreadable[entry_id] = (
                    f"Entry {entry_id} cannot be read ({error})."
                )
        return found

    @contextmanager
    def _reading(self) -> Iterator[sqlite3.Connection]:
        with translated_errors(self._path), reading(self._connection):
            try:
                yield self._connection
            except PrintPlanError:
                raise
            except (ValueError, ArithmeticError, TypeError) as error:
                raise RecordError(
                    f"{self._path} holds a value that makes no sense ({error}).",
                    remedy=RESTORE_REMEDY,
                ) from error


def text_sha256(text: str) -> str:
    """
    Hash of a record's text.

    Returns
    -------
    str
        SHA-256 of its UTF-8.
    """
    return sha256(text.encode()).hexdigest()
