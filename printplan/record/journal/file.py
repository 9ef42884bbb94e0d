"""How is a journal opened so that neither a kill nor a second workbook harms it?"""

from __future__ import annotations

import sqlite3
from contextlib import closing, contextmanager
from enum import StrEnum
from typing import TYPE_CHECKING, Final

from printplan.errors import RecordError
from printplan.pixels.free_name import give_free_name
from printplan.record.atomic_write import part_beside
from printplan.record.lock_file import PATIENCE_S

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path


RESTORE_REMEDY: Final = (
    "Keep the file as it is, and put your last copy of it in its place; the text of "
    "its rows may be saved with SQLite's own recovery."
)

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


APPLICATION_ID: Final = 0x50724A6C
"""Marks the file as a journal of ours ("PrJl"), as SQLite's header has room for."""

SCHEMA_VERSION: Final = 1
"""Raise it with every change below, and teach `connect` to bring the older
version up to it."""

OLDEST_SQLITE: Final = (3, 37, 0)
"""STRICT tables came with it (SQLite's release notes)."""

_MOMENT = "GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T[0-9][0-9]:*'"
_HASH = "length({0}) = 64 AND {0} NOT GLOB '*[^0-9a-f]*'"

_TABLES: Final = f"""\
CREATE TABLE about (
    id INTEGER PRIMARY KEY CHECK (id = 1),
    started_at TEXT NOT NULL CHECK (started_at {_MOMENT}),
    note TEXT NOT NULL
) STRICT;

CREATE TABLE cause (
    name TEXT PRIMARY KEY CHECK (name <> ''),
    place INTEGER NOT NULL UNIQUE,
    is_retired INTEGER NOT NULL DEFAULT 0 CHECK (is_retired IN (0, 1))
) STRICT;

CREATE TABLE record (
    sha256 TEXT PRIMARY KEY CHECK ({_HASH.format("sha256")}),
    text TEXT NOT NULL
) STRICT;

CREATE TABLE entry (
    entry_id INTEGER PRIMARY KEY AUTOINCREMENT,
    noted_at TEXT NOT NULL CHECK (noted_at {_MOMENT})
) STRICT;

CREATE TABLE revision (
    entry_id INTEGER NOT NULL REFERENCES entry,
    revision INTEGER NOT NULL CHECK (revision >= 1),
    changed_at TEXT NOT NULL CHECK (changed_at {_MOMENT}),
    why TEXT NOT NULL CHECK (revision = 1 OR why <> ''),
    is_struck INTEGER NOT NULL CHECK (is_struck IN (0, 1)),
    printed_at TEXT NOT NULL CHECK (printed_at {_MOMENT}),
    plan_id TEXT NOT NULL CHECK (plan_id <> ''),
    paper TEXT NOT NULL CHECK (paper <> ''),
    printer TEXT NOT NULL CHECK (printer <> ''),
    width_mm REAL NOT NULL CHECK (width_mm > 0),
    height_mm REAL NOT NULL CHECK (height_mm > 0),
    outcome TEXT NOT NULL CHECK (outcome IN ('good', 'misprint', 'trial')),
    cause TEXT REFERENCES cause,
    caught_by TEXT CHECK (caught_by <> ''),
    copies INTEGER NOT NULL CHECK (copies >= 1),
    file_sha256 TEXT CHECK ({_HASH.format("file_sha256")}),
    record_sha256 TEXT REFERENCES record,
    paper_amount REAL CHECK (paper_amount > 0),
    paper_unit TEXT CHECK (paper_unit IN ('sheets', 'metres')),
    ink_ml REAL CHECK (ink_ml > 0),
    cost TEXT CHECK (cost NOT GLOB '*[^0-9.]*'),
    currency TEXT CHECK (currency GLOB '[A-Z][A-Z][A-Z]'),
    cost_basis TEXT CHECK (cost_basis <> ''),
    photo_path TEXT CHECK (photo_path <> ''),
    photo_sha256 TEXT CHECK ({_HASH.format("photo_sha256")}),
    note TEXT NOT NULL,
    PRIMARY KEY (entry_id, revision),
    CHECK ((outcome = 'misprint') = (cause IS NOT NULL)),
    CHECK (outcome = 'misprint' OR caught_by IS NULL),
    CHECK ((paper_amount IS NULL) = (paper_unit IS NULL)),
    CHECK ((cost IS NULL) = (currency IS NULL)),
    CHECK ((cost IS NULL) = (cost_basis IS NULL)),
    CHECK ((photo_path IS NULL) = (photo_sha256 IS NULL))
) STRICT, WITHOUT ROWID;

CREATE TABLE edition (
    title TEXT PRIMARY KEY CHECK (title <> ''),
    size INTEGER NOT NULL CHECK (size >= 1),
    first_number INTEGER NOT NULL CHECK (first_number BETWEEN 1 AND size),
    opened_at TEXT NOT NULL CHECK (opened_at {_MOMENT}),
    note TEXT NOT NULL
) STRICT;

CREATE TABLE edition_number (
    title TEXT NOT NULL REFERENCES edition,
    number INTEGER NOT NULL,
    entry_id INTEGER NOT NULL REFERENCES entry,
    issued_at TEXT NOT NULL CHECK (issued_at {_MOMENT}),
    PRIMARY KEY (title, number)
) STRICT, WITHOUT ROWID;

CREATE TABLE spoiled_number (
    title TEXT NOT NULL,
    number INTEGER NOT NULL,
    spoiled_at TEXT NOT NULL CHECK (spoiled_at {_MOMENT}),
    why TEXT NOT NULL CHECK (why <> ''),
    PRIMARY KEY (title, number),
    FOREIGN KEY (title, number) REFERENCES edition_number
) STRICT, WITHOUT ROWID;

CREATE INDEX number_by_entry ON edition_number (entry_id);

CREATE VIEW latest AS
    SELECT * FROM revision AS this WHERE revision =
        (SELECT max(revision) FROM revision WHERE entry_id = this.entry_id);

CREATE TRIGGER numbers_in_order BEFORE INSERT ON edition_number
WHEN NEW.number IS NOT (
    SELECT coalesce(max(given.number) + 1, edition.first_number)
    FROM edition LEFT JOIN edition_number AS given USING (title)
    WHERE title = NEW.title
) OR NEW.number > (SELECT size FROM edition WHERE title = NEW.title)
BEGIN SELECT RAISE(ABORT, 'edition numbers go up one by one to the last'); END;

CREATE TRIGGER revisions_in_order BEFORE INSERT ON revision
WHEN NEW.revision > 1 + (
    SELECT coalesce(max(revision), 0) FROM revision WHERE entry_id = NEW.entry_id
)
BEGIN SELECT RAISE(ABORT, 'revisions go up one by one'); END;
"""  # noqa: S608 - our own words

_APPEND_ONLY = (
    "about",
    "record",
    "entry",
    "revision",
    "edition",
    "edition_number",
    "spoiled_number",
)
"""Tables whose rows are written once: what was there is never changed or deleted."""

SCHEMA: Final = _TABLES + "".join(
    f"""
CREATE TRIGGER {table}_keeps_{verb.lower()} BEFORE {verb} ON {table}
BEGIN SELECT RAISE(ABORT, '{table}: what was written stays'); END;
"""
    for table in _APPEND_ONLY
    for verb in ("UPDATE", "DELETE")
)
"""Makes an empty journal."""


class Access(StrEnum):
    """What a journal is opened for."""

    LOOK = "look"
    WRITE = "write"


def connect(path: Path, access: Access) -> sqlite3.Connection:
    """
    Open a journal, and make sure that it is one and sound.

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
            remedy="Check its name and folder, or start a new one there.",
        )
    with translated_errors(path):
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
                for statement in _statements(SCHEMA):
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
            f"The journal {path} is damaged ({found}).", remedy=RESTORE_REMEDY
        )
    if connection.execute("PRAGMA foreign_key_check").fetchone() is not None:
        raise RecordError(
            f"The journal {path} is damaged (a row refers to one that is missing).",
            remedy=RESTORE_REMEDY,
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
