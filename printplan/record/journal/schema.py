"""What does a journal consist of, and is one as it was made?"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from printplan.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


RESTORE_REMEDY: Final = (
    "Keep the file as it is, and put your last copy of it in its place; the text of "
    "its rows may be saved with SQLite's own recovery."
)

APPLICATION_ID: Final = 0x50724A6C
"""Marks the file as a journal of ours ("PrJl"), as SQLite's header has room for."""

SCHEMA_VERSION: Final = 2
"""Raise it with every change below, and add to `UPGRADES` what brings the version
before up to it."""

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

_SECOND_TABLES: Final = f"""\
CREATE TABLE stock_change (
    change_id INTEGER PRIMARY KEY AUTOINCREMENT,
    entry_id INTEGER NOT NULL REFERENCES entry,
    changed_at TEXT NOT NULL CHECK (changed_at {_MOMENT}),
    paper TEXT NOT NULL CHECK (paper <> ''),
    size TEXT NOT NULL CHECK (size <> ''),
    unit TEXT NOT NULL CHECK (unit IN ('sheets', 'metres')),
    before REAL NOT NULL CHECK (before >= 0),
    after REAL NOT NULL CHECK (after >= 0 AND after <> before)
) STRICT;

CREATE TABLE stock_settled (
    change_id INTEGER PRIMARY KEY REFERENCES stock_change,
    settled_at TEXT NOT NULL CHECK (settled_at {_MOMENT}),
    outcome TEXT NOT NULL CHECK (outcome IN ('counted', 'unsure', 'gone'))
) STRICT;

CREATE TABLE certificate (
    title TEXT NOT NULL REFERENCES edition,
    is_proof INTEGER NOT NULL CHECK (is_proof IN (0, 1)),
    number INTEGER NOT NULL CHECK (number >= 1),
    entry_id INTEGER NOT NULL REFERENCES entry,
    issued_at TEXT NOT NULL CHECK (issued_at {_MOMENT}),
    artist TEXT NOT NULL CHECK (artist <> ''),
    page_sha256 TEXT NOT NULL CHECK ({_HASH.format("page_sha256")}),
    PRIMARY KEY (title, is_proof, number)
) STRICT, WITHOUT ROWID;
"""
"""What version 2 has more than version 1."""

_APPEND_ONLY = (
    "about",
    "record",
    "entry",
    "revision",
    "edition",
    "edition_number",
    "spoiled_number",
)
_SECOND_APPEND_ONLY = ("stock_change", "stock_settled", "certificate")
"""Tables of both whose rows are written once: what was there stays."""


def _kept(*tables: str) -> str:
    """What refuses to change or delete rows of tables."""
    return "".join(
        f"""
CREATE TRIGGER {table}_keeps_{verb.lower()} BEFORE {verb} ON {table}
BEGIN SELECT RAISE(ABORT, '{table}: what was written stays'); END;
"""
        for table in tables
        for verb in ("UPDATE", "DELETE")
    )


_SECOND: Final = _SECOND_TABLES + _kept(*_SECOND_APPEND_ONLY)

SCHEMA: Final = _TABLES + _kept(*_APPEND_ONLY) + _SECOND
"""Makes an empty journal."""

UPGRADES: Final[dict[int, str]] = {1: _SECOND}
"""Statements by the version that they bring up to the next one."""


def found_damage(connection: sqlite3.Connection) -> str:
    """
    What is wrong with a journal, as SQLite finds it.

    Returns
    -------
    str
        The first complaint; empty if it is sound.
    """
    try:
        (found,) = connection.execute("PRAGMA integrity_check(1)").fetchone()
        if found != "ok":
            return str(found)
        if connection.execute("PRAGMA foreign_key_check").fetchone() is not None:
            return "a row refers to one that is missing"
    except sqlite3.DatabaseError as error:
        if getattr(error, "sqlite_errorcode", 0) & 0xFF != sqlite3.SQLITE_CORRUPT:
            raise
        return str(error)
    return ""


def require_sound(connection: sqlite3.Connection, path: Path) -> None:
    """
    Refuse a damaged journal.

    Raises
    ------
    RecordError
        With what SQLite finds first.
    """
    damage = found_damage(connection)
    if damage:
        raise RecordError(
            f"The journal {path} is damaged ({damage}).", remedy=RESTORE_REMEDY
        )


def require_own_schema(connection: sqlite3.Connection, path: Path) -> None:
    """
    Refuse a journal in which others put something that acts, or lack something.

    Raises
    ------
    RecordError
        Naming the table, view, index or trigger.

    Notes
    -----
    A trigger or a view of others would act whenever a print is noted or read. Reading
    SQLite's list of them runs none.
    """
    found, own = _schema_of(connection), _own_schema()
    for kind, name in sorted(found.keys() - own.keys()):
        raise RecordError(
            f'The journal {path} holds the {kind} "{name}", which printplan did not '
            "put there.",
            remedy="Find out which program did, and put your last copy in its place.",
        )
    for kind, name in sorted(own.keys() - found.keys()):
        raise RecordError(
            f'The journal {path} lacks the {kind} "{name}".', remedy=RESTORE_REMEDY
        )
    for kind, name in sorted(it for it in own if found[it] != own[it]):
        raise RecordError(
            f'In the journal {path} the {kind} "{name}" is not as printplan made it.',
            remedy=RESTORE_REMEDY,
        )


def _schema_of(connection: sqlite3.Connection) -> dict[tuple[str, str], str]:
    """What a database consists of, without what SQLite makes for itself."""
    rows = connection.execute("SELECT type, name, sql FROM sqlite_schema")
    return {
        (kind, name): sql
        for kind, name, sql in rows.fetchall()
        if not str(name).startswith("sqlite_")
    }


@lru_cache(1)
def _own_schema() -> dict[tuple[str, str], str]:
    with closing(sqlite3.connect(":memory:")) as connection:
        connection.executescript(SCHEMA)
        return _schema_of(connection)


def statements_of(script: str) -> Iterator[str]:
    """The statements of a script, which `executescript` would commit one by one."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""
