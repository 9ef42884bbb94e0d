"""How does an entry stand in the journal, and which edition numbers does it bear?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime

    from printplan.record.journal.entry import PrintEntry


@dataclass(frozen=True, slots=True, kw_only=True)
class EditionNumber:
    """
    One number of an edition, which is never given twice.

    Attributes
    ----------
    title : str
        Of the edition.
    number, size : int
        Number n of N.
    entry_id : int
        The print that it was given to.
    issued_at : datetime
    spoiled : str
        Why no sound print bears it; empty if one does.
    """

    title: str
    number: int
    size: int
    entry_id: int
    issued_at: datetime
    spoiled: str = ""

    def __str__(self) -> str:
        return f"{self.number}/{self.size}"


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptEntry:
    """
    An entry as it stands, or stood, in the journal.

    Attributes
    ----------
    entry_id : int
        Rises, and is never used again.
    revision : int
        1 as first noted, higher after each change.
    changed_at : datetime
        When this revision was written.
    why : str
        The reason for the change; empty in the first.
    is_struck : bool
        Struck out: kept, and left out of all counts.
    entry : PrintEntry
    numbers : tuple of EditionNumber
        Those that its copies bear.
    """

    entry_id: int
    revision: int
    changed_at: datetime
    why: str
    is_struck: bool
    entry: PrintEntry
    numbers: tuple[EditionNumber, ...] = ()
