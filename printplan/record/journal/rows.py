"""How do entries and causes become rows of the journal, and rows entries again?"""

from __future__ import annotations

import sqlite3
from dataclasses import fields
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from printplan.errors import RecordError, did_you_mean
from printplan.record.journal.entry import (
    CAUSES,
    Cost,
    JournalEntry,
    Outcome,
    PaperUnit,
    PaperUsed,
    PrintEntry,
    ResultPhoto,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.record.journal.entry import EditionNumber

    Value = str | int | float | None

_PARTS: Final = {
    "paper_used": ("paper_amount", "paper_unit"),
    "cost": ("cost", "currency", "cost_basis"),
    "photo": ("photo_path", "photo_sha256"),
}
"""Columns of what an entry holds in parts."""

ENTRY_COLUMNS: Final = tuple(
    column
    for field in fields(PrintEntry)
    for column in _PARTS.get(field.name, (field.name,))
)
"""What is noted of a print, by the columns of the table of revisions."""


def moment_text(moment: datetime) -> str:
    """
    A moment as the journal holds it.

    Parameters
    ----------
    moment : datetime
        With its zone.

    Returns
    -------
    str
        ISO 8601, to the second, with its offset from UTC.
    """
    return moment.isoformat(timespec="seconds")


def row_of_entry(entry: PrintEntry) -> dict[str, Value]:
    """
    An entry by the columns of the table of revisions.

    Returns
    -------
    dict of str to str, int, float or None
        None for what is not known; in the order of `ENTRY_COLUMNS`.
    """
    row: dict[str, Value] = dict.fromkeys(ENTRY_COLUMNS)
    for field in fields(entry):
        value = getattr(entry, field.name)
        if field.name not in _PARTS:
            row[field.name] = _stored(value)
        elif value is not None:
            parts = (_stored(getattr(value, part.name)) for part in fields(value))
            row.update(zip(_PARTS[field.name], parts, strict=True))
    return row | {"note": entry.note}


def _stored(value: Any) -> Value:
    """A value as its column holds it; None for empty text."""
    match value:
        case datetime():
            return moment_text(value)
        case Decimal():
            return f"{value:f}"
        case str():
            return str(value) or None
        case int() | None:
            return value
    return float(value)


def insert_revision(
    connection: sqlite3.Connection,
    entry: PrintEntry,
    **head: Value,
) -> None:
    """
    Write one revision of an entry.

    Parameters
    ----------
    connection : sqlite3.Connection
        In a transaction.
    **head
        The columns ``entry_id``, ``revision``, ``changed_at``, ``why``, ``is_struck``.
    """
    row = head | row_of_entry(entry)
    columns = ", ".join(row)
    marks = ", ".join(f":{column}" for column in row)
    connection.execute(
        f"INSERT INTO revision ({columns}) VALUES ({marks})",  # noqa: S608 - our columns
        row,
    )


def entry_ids(connection: sqlite3.Connection) -> range:
    """
    Numbers of all entries that were ever noted.

    Parameters
    ----------
    connection : sqlite3.Connection

    Notes
    -----
    Counted, not listed: in a damaged file the list itself may be what cannot be read.
    An entry is never deleted, so none is missing between the first and the last.
    """
    found = connection.execute("SELECT seq FROM sqlite_sequence WHERE name = 'entry'")
    row = found.fetchone()
    return range(1, 1 + (row[0] if row and isinstance(row[0], int) else 0))


def read_revisions(
    connection: sqlite3.Connection,
    source: str,
    condition: str,
    *values: Value,
    numbers: dict[int, list[EditionNumber]],
) -> Iterator[JournalEntry]:
    """
    Entries as they stand in the table of revisions.

    Parameters
    ----------
    connection : sqlite3.Connection
    source : {"latest", "revision"}
        Only the newest revision of each entry, or all.
    condition : str
        What follows WHERE.
    *values
        For its question marks.
    numbers : dict of int to list of EditionNumber
        Edition numbers by entry.
    """
    cursor = connection.cursor()
    cursor.row_factory = sqlite3.Row
    found = cursor.execute(
        f"SELECT * FROM {source} WHERE {condition}",  # noqa: S608 - our words
        values,
    )
    for row in found:
        yield JournalEntry(
            entry_id=row["entry_id"],
            revision=row["revision"],
            changed_at=datetime.fromisoformat(row["changed_at"]),
            why=row["why"],
            is_struck=bool(row["is_struck"]),
            entry=_entry_of_row(row),
            numbers=tuple(numbers.get(row["entry_id"], ())),
        )


def _entry_of_row(row: sqlite3.Row) -> PrintEntry:
    paper = cost = photo = None
    if row["paper_amount"] is not None:
        unit = PaperUnit(row["paper_unit"])
        paper = PaperUsed(amount=row["paper_amount"], unit=unit)
    if row["cost"] is not None:
        cost = Cost(
            amount=Decimal(row["cost"]),
            currency=row["currency"],
            basis=row["cost_basis"],
        )
    if row["photo_path"] is not None:
        photo = ResultPhoto(path=row["photo_path"], sha256=row["photo_sha256"])
    return PrintEntry(
        printed_at=datetime.fromisoformat(row["printed_at"]),
        plan_id=row["plan_id"],
        paper=row["paper"],
        printer=row["printer"],
        width_mm=row["width_mm"],
        height_mm=row["height_mm"],
        outcome=Outcome(row["outcome"]),
        cause=row["cause"] or "",
        caught_by=row["caught_by"] or "",
        copies=row["copies"],
        file_sha256=row["file_sha256"] or "",
        record_sha256=row["record_sha256"] or "",
        paper_used=paper,
        ink_ml=row["ink_ml"],
        cost=cost,
        photo=photo,
        note=row["note"],
    )


def insert_first_causes(connection: sqlite3.Connection) -> None:
    """
    Write the list that a new journal begins with.

    Parameters
    ----------
    connection : sqlite3.Connection
        In a transaction.
    """
    connection.executemany(
        "INSERT INTO cause (name, place) VALUES (?, ?)",
        [(name, place) for place, name in enumerate(CAUSES)],
    )


def insert_cause(connection: sqlite3.Connection, name: str) -> None:
    """
    Add a cause at the end of the list, or bring one back to its place.

    Parameters
    ----------
    connection : sqlite3.Connection
        In a transaction.
    """
    connection.execute(
        "INSERT INTO cause (name, place) "
        "VALUES (?, (SELECT coalesce(max(place), 0) + 1 FROM cause)) "
        "ON CONFLICT (name) DO UPDATE SET is_retired = 0",
        (name,),
    )


def retire_cause(connection: sqlite3.Connection, name: str) -> None:
    """
    Take a cause off the list; entries that name it keep it.

    Parameters
    ----------
    connection : sqlite3.Connection
        In a transaction.

    Raises
    ------
    RecordError
        If it is not on the list.
    """
    require_cause(connection, name)
    connection.execute("UPDATE cause SET is_retired = 1 WHERE name = ?", (name,))


def causes_in_use(connection: sqlite3.Connection) -> tuple[str, ...]:
    """
    The list as it stands.

    Parameters
    ----------
    connection : sqlite3.Connection
    """
    found = connection.execute(
        "SELECT name FROM cause WHERE NOT is_retired ORDER BY place"
    )
    return tuple(name for (name,) in found)


def require_cause(connection: sqlite3.Connection, name: str) -> None:
    """
    Refuse a cause that is not on the list.

    Parameters
    ----------
    connection : sqlite3.Connection

    Raises
    ------
    RecordError
        If it is not, or no longer.
    """
    known = causes_in_use(connection)
    if name not in known:
        raise RecordError(
            f'"{name}" is not among the causes of this journal.',
            remedy=did_you_mean(name, known),
        )
