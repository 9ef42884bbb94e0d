"""How is a file of ours kept as it was, before its format changes?"""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing, contextmanager
from datetime import datetime
from typing import TYPE_CHECKING

from printplan.errors import RecordError, writing_remedy
from printplan.foreign_file import named
from printplan.free_name import give_free_name, part_path

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

_MOST_TRIES = 1000


def keep_text_before(path: Path, text: str) -> Path:
    """
    Keep the text of a file as it is now, under a name with the day.

    Returns
    -------
    Path
        Beside it: ``paper-book.toml.before-2026-11-29``, with ``-2`` and so on where
        that is taken by another text.

    Raises
    ------
    RecordError
        If it cannot be written, or does not read back as written. The file is then
        to be left as it is.
    """
    data = text.encode()
    with _kept(path) as part:
        with part.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if part.read_bytes() != data:
            raise _unlike(path)
        return _named_by_day(part, path)


def keep_journal_before(connection: sqlite3.Connection, path: Path) -> Path:
    """
    Keep a journal as it is now, under a name with the day.

    Parameters
    ----------
    connection : sqlite3.Connection
        To the journal, outside any transaction.

    Returns
    -------
    Path
        As `keep_text_before` names it.

    Raises
    ------
    RecordError
        If the copy cannot be written, is not sound, or has not as many rows in each
        table. The journal is then to be left as it is.

    Notes
    -----
    The copy is made by SQLite's own backup [1]_, which takes what is committed, also
    while another program writes.

    References
    ----------
    .. [1] SQLite documentation, SQLite Backup API.
    """
    with _kept(path) as part:
        try:
            with closing(sqlite3.connect(part)) as copy:
                connection.backup(copy)
                found = copy.execute("PRAGMA integrity_check(1)").fetchone()
                if found != ("ok",) or _row_counts(copy) != _row_counts(connection):
                    raise _unlike(path)
        except sqlite3.Error as error:
            raise RecordError(
                f"No copy of {named(path)} could be made ({error}).",
                remedy="Free space on that disk, and see that you may write there.",
            ) from error
        finally:
            part.with_name(f"{part.name}-journal").unlink(missing_ok=True)
        with part.open("rb") as file:
            os.fsync(file.fileno())
        return _named_by_day(part, path)


def _row_counts(connection: sqlite3.Connection) -> dict[str, int]:
    tables = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")
    counts = {}
    for (table,) in tables.fetchall():
        quoted = '"' + table.replace('"', '""') + '"'
        found = connection.execute(f"SELECT count(*) FROM {quoted}")  # noqa: S608 - quoted
        (counts[table],) = found.fetchone()
    return counts


@contextmanager
def _kept(path: Path) -> Iterator[Path]:
    part = part_path(path)
    try:
        yield part
    except OSError as error:
        raise RecordError(
            f"No copy of {named(path)} could be made ({error.strerror or error}).",
            remedy=writing_remedy(error),
        ) from error
    finally:
        part.unlink(missing_ok=True)


def _named_by_day(part: Path, path: Path) -> Path:
    """Give a copy its name, unless the same one is there already."""
    day = f"{datetime.now().astimezone():%Y-%m-%d}"
    for number in range(1, _MOST_TRIES):
        ending = "" if number == 1 else f"-{number}"
        target = path.with_name(f"{path.name}.before-{day}{ending}")
        try:
            give_free_name(part, target)
        except FileExistsError:
            if target.is_file() and target.read_bytes() == part.read_bytes():
                return target
        else:
            return target
    raise RecordError(
        f"{named(path)} has {_MOST_TRIES} copies of this day.",
        remedy="Move those that you do not want to another folder.",
    )


def _unlike(path: Path) -> RecordError:
    return RecordError(
        f"The copy of {named(path)} is not like it; nothing was changed.",
        remedy="Check the disk, and copy the file yourself to another one.",
    )
