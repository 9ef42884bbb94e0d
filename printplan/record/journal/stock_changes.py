"""What did noted prints take from the paper in stock, as the journal has it?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from printplan.record.journal.entry import PaperUnit
from printplan.record.journal.rows import moment_text

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator


class Settled(StrEnum):
    """What became of a change of the stock that was noted."""

    COUNTED = "counted"
    UNSURE = "unsure"
    GONE = "gone"


@dataclass(frozen=True, slots=True, kw_only=True)
class StockChange:
    """
    Paper that a noted print takes from the stock, or that one struck out gives back.

    Attributes
    ----------
    change_id : int
        Rises, and is never used again; 0 before it is noted.
    paper, size : str
        As the paper book called them.
    before, after : float
        Sheets or metres left in the book; never below 0.
    settled : Settled or None
        None while the paper book may not have followed yet.
    """

    change_id: int = 0
    entry_id: int
    changed_at: datetime
    paper: str
    size: str
    unit: PaperUnit
    before: float
    after: float
    settled: Settled | None = None

    @property
    def taken(self) -> float:
        """Sheets or metres taken; below 0 if they were given back."""
        return round(self.before - self.after, 3)


def insert_change(connection: sqlite3.Connection, change: StockChange) -> None:
    """
    Note a change before the paper book is changed.

    Parameters
    ----------
    connection : sqlite3.Connection
        In the transaction that notes the print, or strikes it out.
    """
    connection.execute(
        "INSERT INTO stock_change (entry_id, changed_at, paper, size, unit, before, "
        "after) VALUES (?, ?, ?, ?, ?, ?, ?)",
        (
            change.entry_id,
            moment_text(change.changed_at),
            change.paper,
            change.size,
            str(change.unit),
            float(change.before),
            float(change.after),
        ),
    )


def settle_change(
    connection: sqlite3.Connection,
    change: StockChange,
    settled: Settled,
    settled_at: datetime,
) -> None:
    """
    Note what became of a change.

    Parameters
    ----------
    connection : sqlite3.Connection
        In a transaction.
    """
    connection.execute(
        "INSERT INTO stock_settled VALUES (?, ?, ?)",
        (change.change_id, moment_text(settled_at), str(settled)),
    )


def read_changes(connection: sqlite3.Connection) -> Iterator[StockChange]:
    """
    All changes in the order in which they were noted.

    Parameters
    ----------
    connection : sqlite3.Connection
    """
    for change_id, entry_id, changed_at, paper, size, unit, *rest in connection.execute(
        "SELECT change_id, entry_id, changed_at, paper, size, unit, before, after, "
        "outcome FROM stock_change LEFT JOIN stock_settled USING (change_id) "
        "ORDER BY change_id"
    ):
        before, after, settled = rest
        yield StockChange(
            change_id=change_id,
            entry_id=entry_id,
            changed_at=datetime.fromisoformat(changed_at),
            paper=paper,
            size=size,
            unit=PaperUnit(unit),
            before=before,
            after=after,
            settled=None if settled is None else Settled(settled),
        )
