"""How is a journal opened so that neither a kill nor a second workbook harms it?"""

from __future__ import annotations

import sqlite3
import stat
from contextlib import closing, contextmanager
from enum import StrEnum
from typing import TYPE_CHECKING, Final

from printplan.errors import RecordError
from printplan.foreign_file import is_there, named, require_foreign
from printplan.free_name import give_free_name
from printplan.record.atomic_write import part_beside
from printplan.record.backup import keep_journal_before
from printplan.record.journal.schema import (
    APPLICATION_ID,
    RESTORE_REMEDY,
    SCHEMA,
    SCHEMA_VERSION,
    UPGRADES,
    found_damage,
    require_own_schema,
    require_sound,
    statements_of,
)
from printplan.record.lock_file import PATIENCE_S

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path


_MAY_NOT_WRITE = (
    "cannot be written",
    (
        "Open it in a folder that you may write to; where you may only read, look into "
        "it without changing it."
    ),
)

_PROBLEMS: Final = {
    sqlite3.SQLITE_NOTADB: (
        "is not a journal",
        "Choose another file; nothing was changed.",
    ),
    sqlite3.SQLITE_CORRUPT: ("is damaged", RESTORE_REMEDY),
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
_NEEDS_WRITING: Final = {sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN}
_OTHER: Final = (
    "could not be used; nothing was noted",
    "Check that its disk can be reached, and open it again.",
)


@contextmanager
def translated_errors(path: Path) -> Iterator[None]:
    """
    Raise SQLite's errors as `RecordError`, with a remedy.

    Parameters
    ----------
    path : Path
        The journal.

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
        problem, remedy = _PROBLEMS.get(kind, _OTHER)
        raise RecordError(f"{path} {problem} ({error}).", remedy=remedy) from error


_MOST_BYTES = 4_000_000_000
"""A longer file is no journal: a hundred thousand prints with their records."""

OLDEST_SQLITE: Final = (3, 37, 0)
"""STRICT tables came with it (SQLite's release notes)."""


class Access(StrEnum):
    """What a journal is opened for."""

    LOOK = "look"
    WRITE = "write"


def connect(path: Path, access: Access) -> sqlite3.Connection:
    """
    Open a journal, and make sure that it is one; to be written, that it is sound.

    Returns
    -------
    sqlite3.Connection
        In autocommit: use `reading` and `writing`.

    Raises
    ------
    RecordError
        If it is missing, not a journal, of a newer version, or holds what others put
        into it. To be written: if it is damaged, or cannot be.

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
    _require_file(path)
    with translated_errors(path):
        if access is Access.LOOK:
            return _opened_to_look(path)
        connection = _connection(path, "rw")
        try:
            version = _require_ours(connection, path)
            if version != SCHEMA_VERSION:
                _bring_up(connection, path, version)
            require_own_schema(connection, path)
            require_sound(connection, path)
            _try_writing(connection)
        except BaseException:
            connection.close()
            raise
    return connection


def _opened_to_look(path: Path) -> sqlite3.Connection:
    """
    Open a journal only to read it, a damaged one too.

    A change that a killed writer left half-written has to be undone first, for which
    the file is opened to be written; then, too, nothing else can be.
    """
    try:
        return _looking(path, "ro")
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode & 0xFF not in _NEEDS_WRITING:
            raise
    return _looking(path, "rw")


def _looking(path: Path, mode: str) -> sqlite3.Connection:
    connection = _connection(path, mode)
    try:
        version = _require_ours(connection, path)
        if version != SCHEMA_VERSION:
            connection = _brought_up_in_memory(connection, version)
        require_own_schema(connection, path)
        connection.execute("PRAGMA query_only = ON")
    except BaseException:
        connection.close()
        raise
    return connection


def make_file(path: Path, fill: Callable[[sqlite3.Connection], None]) -> None:
    """
    Make a journal, whole or not at all.

    Parameters
    ----------
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
    remedy = "Open it, or choose another name."
    with part_beside(path, if_exists=remedy) as part:
        try:
            with (
                translated_errors(path),
                closing(_connection(part, "rwc")) as connection,
                writing(connection),
            ):
                for statement in statements_of(SCHEMA):
                    connection.execute(statement)
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
                fill(connection)
            give_free_name(part, path.resolve())
        finally:
            part.with_name(f"{part.name}-journal").unlink(missing_ok=True)


@contextmanager
def writing(connection: sqlite3.Connection) -> Iterator[None]:
    """
    All that is written inside is committed, or nothing of it is.

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
    """
    is_part = connection.in_transaction
    if not is_part:
        connection.execute("BEGIN")
    try:
        yield
    finally:
        if not is_part:
            connection.rollback()


def _require_file(path: Path) -> None:
    """
    Refuse what is no regular file of bounded size, and that what SQLite lays beside it.

    None of them is opened for that: closing it would drop SQLite's own locks.
    """
    if not is_there(path):
        raise RecordError(
            f"There is no journal at {named(path)}.",
            remedy="Check its name and folder, or start a new one there.",
        )
    require_foreign(
        path, raises=RecordError, what="The journal", most_bytes=_MOST_BYTES
    )
    for ending in ("-journal", "-wal", "-shm"):
        beside = path.with_name(f"{path.name}{ending}")
        try:
            mode = beside.lstat().st_mode
        except FileNotFoundError:  # also one that another writer has just deleted
            continue
        if not stat.S_ISREG(mode):
            raise RecordError(
                f"{beside} is not what SQLite lays beside a journal.",
                remedy="Find out who put it there, and move it away.",
            )


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


def _require_ours(connection: sqlite3.Connection, path: Path) -> int:
    """Refuse other databases, and journals of newer versions; the version."""
    (application,) = connection.execute("PRAGMA application_id").fetchone()
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    if application != APPLICATION_ID:
        raise RecordError(
            f"{path} is not a journal of printplan.",
            remedy="Choose another file; nothing was changed.",
        )
    known = {SCHEMA_VERSION, *UPGRADES}
    if version not in known:
        raise RecordError(
            f"The journal {path} has version {version}; this printplan knows version "
            f"{SCHEMA_VERSION}.",
            remedy="Open it with the newest printplan; nothing was changed.",
        )
    return int(version)


def _brought_up_in_memory(
    connection: sqlite3.Connection, version: int
) -> sqlite3.Connection:
    """A copy of an earlier version's journal, brought up; the file stays as it is."""
    with closing(connection):
        copy = sqlite3.connect(":memory:", isolation_level=None)
        try:
            connection.backup(copy)
            copy.execute("PRAGMA trusted_schema = OFF")
            _upgrade(copy, version)
        except BaseException:
            copy.close()
            raise
    return copy


def _upgrade(connection: sqlite3.Connection, version: int) -> None:
    for step in range(version, SCHEMA_VERSION):
        for statement in statements_of(UPGRADES[step]):
            connection.execute(statement)
    connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")


def _bring_up(connection: sqlite3.Connection, path: Path, version: int) -> None:
    """Bring a journal of an earlier version up to this one; it is kept as it was."""
    kept = keep_journal_before(connection, path)
    with writing(connection):
        _upgrade(connection, version)
        damage = found_damage(connection)
        if damage:
            raise RecordError(
                f"The journal {path} could not be brought up to date ({damage}).",
                remedy=f"It is as it was, and a copy of it is {kept.name}.",
            )


def _try_writing(connection: sqlite3.Connection) -> None:
    """Find out now, not at the first print, whether the folder can be written."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
    finally:
        connection.rollback()
