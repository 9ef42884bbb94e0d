"""What does it mean when SQLite refuses, and what is to be done?"""

from __future__ import annotations

import sqlite3
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

from printplan.errors import RecordError
from printplan.record.whole_file import PATIENCE_S

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

KEEP_AND_RESTORE: Final = (
    "Keep the file as it is, and put your last copy of it in its place; the text of "
    "its rows may be saved with SQLite's own recovery."
)

_MAY_NOT_WRITE = (
    "cannot be written",
    (
        "Open it in a folder that you may write to; where you may only read, look into "
        "it (look_into_journal)."
    ),
)

_WORDS: Final = {
    sqlite3.SQLITE_NOTADB: (
        "is not a journal",
        "Choose another file; nothing was changed.",
    ),
    sqlite3.SQLITE_CORRUPT: ("is damaged", KEEP_AND_RESTORE),
    sqlite3.SQLITE_BUSY: (
        f"was being written by another workbook for {PATIENCE_S:g} s",
        "Wait until it is done and try again, or close it.",
    ),
    sqlite3.SQLITE_READONLY: _MAY_NOT_WRITE,
    sqlite3.SQLITE_CANTOPEN: _MAY_NOT_WRITE,
    sqlite3.SQLITE_PERM: _MAY_NOT_WRITE,
    sqlite3.SQLITE_FULL: (
        "lies on a full disk; nothing was noted",
        "Make room on it and note the print again.",
    ),
    sqlite3.SQLITE_CONSTRAINT: (
        "refused what it was given; nothing was noted",
        "Check that what you refer to is in it and that numbers are in range.",
    ),
}
_OTHER: Final = (
    "could not be used; nothing was noted",
    "Check that its disk can be reached, and open it again.",
)


@contextmanager
def told(path: Path) -> Iterator[None]:
    """
    Tell what SQLite refuses in the words of the house.

    Parameters
    ----------
    path : Path
        The journal.

    Yields
    ------
    None

    Raises
    ------
    RecordError
        In the place of each of SQLite's own errors.
    """
    try:
        yield
    except sqlite3.Error as error:
        # The low byte of SQLite's code is the kind of it; its module has none.
        kind = getattr(error, "sqlite_errorcode", 0) & 0xFF
        problem, remedy = _WORDS.get(kind, _OTHER)
        raise RecordError(f"{path} {problem} ({error}).", remedy=remedy) from error
