"""How is a journal opened so that neither a kill nor a second workbook harms it?"""

from __future__ import annotations

import secrets
import sqlite3
from contextlib import closing, contextmanager
from enum import StrEnum
from typing import TYPE_CHECKING

from printplan.errors import RecordError
from printplan.pixels.free_name import give_free_name
from printplan.record.journal.refusals import KEEP_AND_RESTORE, told
from printplan.record.journal.schema import (
    APPLICATION_ID,
    OLDEST_SQLITE,
    SCHEMA,
    SCHEMA_VERSION,
)
from printplan.record.whole_file import PATIENCE_S

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path


class Access(StrEnum):
    """What a journal is opened for."""

    LOOK = "look"
    WRITE = "write"


def connect(path: Path, access: Access) -> sqlite3.Connection:
    """
    Open a journal, and make sure that it is one and sound.

    Parameters
    ----------
    path : Path
    access : Access

    Returns
    -------
    sqlite3.Connection
        In autocommit: use `reading` and `writing`.

    Raises
    ------
    RecordError
        If it is missing, damaged, not a journal, of another version, or cannot be
        written though it is opened for that.

    Notes
    -----
    The file keeps a rollback journal, not a write-ahead log. A log needs memory that
    all its users share, so it does not work on a network folder [1]_, where a studio
    may well keep its books; it cannot be read from a folder that one may not write;
    and it spreads what was committed over several files, so that a plain copy of the
    one that people see can miss it. What a log gains, readers beside a writer and
    many writes a second, nobody needs here: a print takes minutes.

    ``synchronous = EXTRA`` is FULL and also flushes the folder after the rollback
    journal is deleted [2]_; without it a power cut just after a commit may bring the
    deleted file back, and undo the commit.

    On a network folder two writers are as safe as the locks of that folder, and some
    keep none [3]_. The database file is never opened but through SQLite: closing it
    elsewhere in the same process would drop SQLite's locks [3]_.

    References
    ----------
    .. [1] SQLite documentation, Write-Ahead Logging, section 1.
    .. [2] SQLite documentation, PRAGMA synchronous.
    .. [3] SQLite documentation, How To Corrupt An SQLite Database File, section 2.
    """
    if not _is_there(path):
        raise RecordError(
            f"There is no journal at {path}.",
            remedy="Check its name and folder, or start one there (start_journal).",
        )
    with told(path):
        # A write-protected file opens read-only; a look is held to looking below.
        connection = _connection(path, "rw")
        try:
            _require_ours(connection, path)
            if access is Access.LOOK:
                connection.execute("PRAGMA query_only = ON")
            else:
                _try_writing(connection)
        except BaseException:
            connection.close()
            raise
    return connection


def make_file(path: Path, fill: Callable[[sqlite3.Connection], None]) -> None:
    """
    Make a journal, whole or not at all.

    Parameters
    ----------
    path : Path
    fill : callable
        Writes its first rows, in a transaction.

    Raises
    ------
    RecordError
        If a file of that name exists already, or none can be made there.

    Notes
    -----
    A killed process or a power cut can leave a file ``.printplan-….part`` behind.
    """
    target = path.resolve()
    part = target.with_name(f".printplan-{secrets.token_hex(8)}.part")
    try:
        with (
            told(path),
            closing(_connection(part, "rwc")) as connection,
            writing(connection),
        ):
            for statement in _statements(SCHEMA):
                connection.execute(statement)
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
            fill(connection)
        give_free_name(part, target)
    except FileExistsError as error:
        raise RecordError(
            f"{path} exists already.",
            remedy="Open it (open_journal), or choose another name.",
        ) from error
    except OSError as error:
        raise RecordError(
            f"{path} cannot be written ({error.strerror or error}).",
            remedy="Choose a folder that exists and that you may write to.",
        ) from error
    finally:
        for left in (part, part.with_name(f"{part.name}-journal")):
            left.unlink(missing_ok=True)


@contextmanager
def writing(connection: sqlite3.Connection) -> Iterator[None]:
    """
    All that is written inside is kept, or nothing of it is.

    Parameters
    ----------
    connection : sqlite3.Connection

    Yields
    ------
    None
        While no other process can begin to write.

    Notes
    -----
    Inside another `writing` it is a part of that, which can fail by itself.
    """
    # Immediate: the lock is taken before anything is read, so that what is decided
    # on (the next edition number) cannot change until it is written.
    begin, commit, undo = ("BEGIN IMMEDIATE", "COMMIT", "ROLLBACK")
    if connection.in_transaction:
        begin, commit, undo = ("SAVEPOINT one", "RELEASE one", "ROLLBACK TO one")
    connection.execute(begin)
    try:
        yield
        connection.execute(commit)
    except BaseException:
        if connection.in_transaction:
            connection.execute(undo)
        raise


@contextmanager
def reading(connection: sqlite3.Connection) -> Iterator[None]:
    """
    All that is read inside is of one moment.

    Parameters
    ----------
    connection : sqlite3.Connection

    Yields
    ------
    None
    """
    is_part = connection.in_transaction
    if not is_part:
        connection.execute("BEGIN")
    try:
        yield
    finally:
        if not is_part:
            connection.rollback()


def _is_there(path: Path) -> bool:
    try:
        return path.exists()
    except OSError:  # a folder on the way that one may not enter
        return False


def _connection(path: Path, mode: str) -> sqlite3.Connection:
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        oldest = ".".join(map(str, OLDEST_SQLITE))
        raise RecordError(
            f"This Python has SQLite {sqlite3.sqlite_version}, older than {oldest}.",
            remedy="Use a newer Python.",
        )
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode={mode}",
        uri=True,
        timeout=PATIENCE_S,
        isolation_level=None,
    )
    try:
        for pragma in (
            "foreign_keys = ON",
            "synchronous = EXTRA",
            # What a file's own text could make SQLite do, if somebody prepared it.
            "trusted_schema = OFF",
            "cell_size_check = ON",
        ):
            connection.execute(f"PRAGMA {pragma}")
    except BaseException:
        connection.close()
        raise
    return connection


def _require_ours(connection: sqlite3.Connection, path: Path) -> None:
    """Refuse other databases, journals of other versions, and damage."""
    (application,) = connection.execute("PRAGMA application_id").fetchone()
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    if application != APPLICATION_ID:
        raise RecordError(
            f"{path} is not a journal of printplan.",
            remedy="Choose another file; nothing was changed.",
        )
    if version != SCHEMA_VERSION:
        raise RecordError(
            f"The journal {path} has version {version}; this printplan knows version "
            f"{SCHEMA_VERSION}.",
            remedy="Open it with the newest printplan; nothing was changed.",
        )
    (found,) = connection.execute("PRAGMA integrity_check(1)").fetchone()
    if found != "ok":
        raise RecordError(
            f"The journal {path} is damaged ({found}).", remedy=KEEP_AND_RESTORE
        )
    if connection.execute("PRAGMA foreign_key_check").fetchone() is not None:
        raise RecordError(
            f"The journal {path} is damaged (a row refers to one that is missing).",
            remedy=KEEP_AND_RESTORE,
        )


def _try_writing(connection: sqlite3.Connection) -> None:
    """Find out now, not at the first print, whether the folder can be written."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
    finally:
        connection.rollback()


def _statements(script: str) -> Iterator[str]:
    """The statements of a script, which `executescript` would commit one by one."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""
