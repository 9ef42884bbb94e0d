"""What does a journal say?"""

from __future__ import annotations

from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Self

from printplan.errors import RecordError
from printplan.record.journal.causes import causes_in_use
from printplan.record.journal.editions import numbers_by_entry, read_editions
from printplan.record.journal.file import Access, connect, reading
from printplan.record.journal.refusals import told
from printplan.record.journal.rows import read_revisions

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator
    from types import TracebackType

    from printplan.record.journal.editions import Edition
    from printplan.record.journal.kept import KeptEntry


def look_into_journal(path: str | Path) -> JournalView:
    """
    Open a journal only to read it; file and folder may be write-protected.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    JournalView
        For a ``with`` statement.

    Raises
    ------
    RecordError
        If it is missing, damaged, not a journal, or of another version.
    """
    return JournalView(Path(path), connect(Path(path), Access.LOOK))


class JournalView:
    """
    A journal opened to be read.

    All methods raise `RecordError` if the file cannot be used.

    Parameters
    ----------
    path : Path
    connection : sqlite3.Connection
        From `journal_file.connect`.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self._path = path
        self._connection = connection

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()

    def note(self) -> str:
        """
        What the journal says of itself.

        Returns
        -------
        str
        """
        with self._reading() as connection:
            (note,) = connection.execute("SELECT note FROM about").fetchone()
        return str(note)

    def entries(self) -> tuple[KeptEntry, ...]:
        """
        All entries as they stand now, in the order of their printing.

        Returns
        -------
        tuple of KeptEntry
            Without those that are struck out.
        """
        return self._latest("NOT is_struck")

    def struck_entries(self) -> tuple[KeptEntry, ...]:
        """
        The entries that are struck out.

        Returns
        -------
        tuple of KeptEntry
            With the reason in `why`.
        """
        return self._latest("is_struck")

    def history(self, entry_id: int) -> tuple[KeptEntry, ...]:
        """
        All that an entry ever said.

        Parameters
        ----------
        entry_id : int

        Returns
        -------
        tuple of KeptEntry
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
                remedy="Choose one of those that entries() lists.",
            )
        return revisions

    def record_text(self, kept: KeptEntry) -> str:
        """
        The record of a print, as it was when it was noted.

        Parameters
        ----------
        kept : KeptEntry

        Returns
        -------
        str
            Empty if it was noted without one.

        Raises
        ------
        RecordError
            If its text no longer has the hash that was noted.
        """
        wanted = kept.entry.record_sha256
        if not wanted:
            return ""
        with self._reading() as connection:
            found = connection.execute(
                "SELECT text FROM record WHERE sha256 = ?", (wanted,)
            ).fetchone()
        if found is None or text_sha256(found[0]) != wanted:
            raise RecordError(
                f"The record of entry {kept.entry_id} is not the one that was noted.",
                remedy="Use the record's own file; this journal was changed by hand.",
            )
        return str(found[0])

    def causes(self) -> tuple[str, ...]:
        """
        What a misprint can be put down to.

        Returns
        -------
        tuple of str
        """
        with self._reading() as connection:
            return causes_in_use(connection)

    def editions(self) -> tuple[Edition, ...]:
        """
        All editions with the numbers given.

        Returns
        -------
        tuple of Edition
        """
        with self._reading() as connection:
            return tuple(read_editions(connection))

    def _latest(self, condition: str) -> tuple[KeptEntry, ...]:
        with self._reading() as connection:
            numbers = numbers_by_entry(connection)
            found = read_revisions(connection, "latest", condition, numbers=numbers)
            return tuple(
                sorted(found, key=lambda it: (it.entry.printed_at, it.entry_id))
            )

    @contextmanager
    def _reading(self) -> Iterator[sqlite3.Connection]:
        with told(self._path), reading(self._connection):
            yield self._connection


def text_sha256(text: str) -> str:
    """
    Hash of a record's text.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        SHA-256 of its UTF-8.
    """
    return sha256(text.encode()).hexdigest()
