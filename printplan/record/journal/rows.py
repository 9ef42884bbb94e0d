"""How does an entry become a row of the journal, and a row an entry again?"""

from __future__ import annotations

import sqlite3
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Final

from printplan.record.journal.entry import (
    JournalEntry,
    Outcome,
    PrintEntry,
    ResultPhoto,
)
from printplan.record.journal.from_record import Cost, PaperUnit, PaperUsed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.record.journal.entry import EditionNumber

    Value = str | int | float | None

ENTRY_COLUMNS: Final = (
    "printed_at",
    "plan_id",
    "paper",
    "printer",
    "width_mm",
    "height_mm",
    "outcome",
    "cause",
    "caught_by",
    "copies",
    "file_sha256",
    "record_sha256",
    "paper_amount",
    "paper_unit",
    "ink_ml",
    "cost",
    "currency",
    "cost_basis",
    "photo_path",
    "photo_sha256",
    "note",
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
    paper, cost, photo = entry.paper_used, entry.cost, entry.photo
    values: tuple[Value, ...] = (
        moment_text(entry.printed_at),
        entry.plan_id,
        entry.paper,
        entry.printer,
        float(entry.width_mm),
        float(entry.height_mm),
        entry.outcome.value,
        entry.cause or None,
        entry.caught_by or None,
        entry.copies,
        entry.file_sha256 or None,
        entry.record_sha256 or None,
        float(paper.amount) if paper is not None else None,
        paper.unit.value if paper is not None else None,
        float(entry.ink_ml) if entry.ink_ml is not None else None,
        f"{cost.amount:f}" if cost is not None else None,
        cost.currency if cost is not None else None,
        cost.basis if cost is not None else None,
        photo.path if photo is not None else None,
        photo.sha256 if photo is not None else None,
        entry.note,
    )
    return dict(zip(ENTRY_COLUMNS, values, strict=True))


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
