"""Which numbers of an edition are given, to which prints, and which are spoiled?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from printplan.errors import RecordError, did_you_mean
from printplan.record.journal.entry import EditionNumber, Outcome
from printplan.record.journal.rows import moment_text

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator

    from printplan.record.journal.entry import PrintEntry

LARGEST_EDITION = 100_000
"""A larger edition is a slip of the pen. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Edition:
    """
    A limited edition.

    Attributes
    ----------
    size : int
        N of "n of N".
    first_number : int
        Lower ones were given before the journal began.
    issued : tuple of EditionNumber
        In order and without a gap: what is missing among sound prints is spoiled,
        and says why.
    """

    title: str
    size: int
    first_number: int
    opened_at: datetime
    note: str
    issued: tuple[EditionNumber, ...] = ()

    @property
    def next_number(self) -> int:
        """The number that the next print gets; above `size` when all are given."""
        return self.first_number + len(self.issued)

    @property
    def spoiled(self) -> tuple[EditionNumber, ...]:
        """Numbers that no sound print bears."""
        return tuple(number for number in self.issued if number.spoiled)


def insert_edition(connection: sqlite3.Connection, edition: Edition) -> None:
    """
    Open an edition.

    Parameters
    ----------
    connection : sqlite3.Connection
        In a transaction.

    Raises
    ------
    RecordError
        If there is one of that title, or its numbers contradict themselves.
    """
    if not 1 <= edition.first_number <= edition.size <= LARGEST_EDITION:
        raise RecordError(
            f'The edition "{edition.title}" is of {edition.size}, from number '
            f"{edition.first_number} on.",
            remedy=f"Give a size up to {LARGEST_EDITION}, and a first number from 1 "
            "to that size.",
        )
    if not edition.title.strip():
        raise RecordError(
            "The edition has no title.", remedy="Give the picture's title."
        )
    if edition.title in _titles(connection):
        raise RecordError(
            f'The edition "{edition.title}" is open already.',
            remedy="Give its next numbers, or choose another title.",
        )
    connection.execute(
        "INSERT INTO edition VALUES (?, ?, ?, ?, ?)",
        (
            edition.title,
            edition.size,
            edition.first_number,
            moment_text(edition.opened_at),
            edition.note,
        ),
    )


def issue(
    connection: sqlite3.Connection,
    title: str,
    entry_id: int,
    entry: PrintEntry,
    issued_at: datetime,
) -> None:
    """
    Give the next numbers of an edition to the copies of an entry.

    Parameters
    ----------
    connection : sqlite3.Connection
        In a transaction.

    Raises
    ------
    RecordError
        If there is no such edition, too few numbers are left, or the entry is a trial
        or has numbers already.
    """
    edition = require_edition(connection, title)
    if entry.outcome is Outcome.TRIAL:
        raise RecordError(
            f"Entry {entry_id} is a trial, which bears no number.",
            remedy="Note it as good first.",
        )
    if numbers_by_entry(connection).get(entry_id):
        raise RecordError(
            f"Entry {entry_id} has its numbers already.",
            remedy="Note a new print for the next number.",
        )
    first = edition.next_number
    last = first + entry.copies - 1
    if last > edition.size:
        raise RecordError(
            f'Of the edition "{title}" {edition.size - first + 1} of {edition.size} '
            f"numbers are left, and {entry.copies} are asked for.",
            remedy="Print no more copies than that; a number is never given twice.",
        )
    connection.executemany(
        "INSERT INTO edition_number VALUES (?, ?, ?, ?)",
        [
            (title, number, entry_id, moment_text(issued_at))
            for number in range(first, last + 1)
        ],
    )


def spoil(
    connection: sqlite3.Connection,
    title: str,
    number: int,
    why: str,
    spoiled_at: datetime,
) -> None:
    """
    Note that the print of a number is no more, which cannot be taken back.

    Parameters
    ----------
    connection : sqlite3.Connection
        In a transaction.

    Raises
    ------
    RecordError
        If that number was not given, or is spoiled already.
    """
    edition = require_edition(connection, title)
    given = {one.number: one for one in edition.issued}
    if number not in given:
        raise RecordError(
            f'Number {number} of "{title}" was not given in this journal.',
            remedy=f"Given are {edition.first_number} to {edition.next_number - 1}."
            if given
            else "None was given yet.",
        )
    if given[number].spoiled:
        raise RecordError(
            f'Number {number} of "{title}" is spoiled already '
            f"({given[number].spoiled}).",
            remedy="Nothing is left to do.",
        )
    connection.execute(
        "INSERT INTO spoiled_number VALUES (?, ?, ?, ?)",
        (title, number, moment_text(spoiled_at), why),
    )


def read_editions(connection: sqlite3.Connection) -> Iterator[Edition]:
    """
    All editions, in the order in which they were opened.

    Parameters
    ----------
    connection : sqlite3.Connection
    """
    issued: dict[str, list[EditionNumber]] = {}
    for number in _numbers(connection):
        issued.setdefault(number.title, []).append(number)
    for title, size, first, opened_at, note in connection.execute(
        "SELECT title, size, first_number, opened_at, note FROM edition ORDER BY rowid"
    ):
        yield Edition(
            title=title,
            size=size,
            first_number=first,
            opened_at=datetime.fromisoformat(opened_at),
            note=note,
            issued=tuple(issued.get(title, ())),
        )


def require_edition(connection: sqlite3.Connection, title: str) -> Edition:
    """
    The edition of a title.

    Parameters
    ----------
    connection : sqlite3.Connection

    Raises
    ------
    RecordError
        If there is none.
    """
    for edition in read_editions(connection):
        if edition.title == title:
            return edition
    raise RecordError(
        f'There is no edition "{title}".',
        remedy=did_you_mean(title, _titles(connection)),
    )


def numbers_by_entry(connection: sqlite3.Connection) -> dict[int, list[EditionNumber]]:
    """
    All numbers that were given, by the print that they were given to.

    Parameters
    ----------
    connection : sqlite3.Connection
    """
    by_entry: dict[int, list[EditionNumber]] = {}
    for number in _numbers(connection):
        by_entry.setdefault(number.entry_id, []).append(number)
    return by_entry


def _titles(connection: sqlite3.Connection) -> list[str]:
    return [title for (title,) in connection.execute("SELECT title FROM edition")]


def _numbers(connection: sqlite3.Connection) -> Iterator[EditionNumber]:
    """Every number, with what spoiled it: its own note, or what became of its print."""
    for title, number, size, entry_id, issued_at, spoiled in connection.execute(
        """
        SELECT title, number, size, entry_id, issued_at,
            coalesce(why_spoiled, CASE WHEN is_struck THEN why ELSE cause END, '')
        FROM edition_number
        JOIN edition USING (title)
        JOIN latest USING (entry_id)
        LEFT JOIN (SELECT title, number, why AS why_spoiled FROM spoiled_number)
            USING (title, number)
        ORDER BY title, number
        """
    ):
        yield EditionNumber(
            title=title,
            number=number,
            size=size,
            entry_id=entry_id,
            issued_at=datetime.fromisoformat(issued_at),
            spoiled=spoiled,
        )
