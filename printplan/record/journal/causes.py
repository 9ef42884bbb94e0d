"""What can a misprint be put down to, in one journal?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.errors import RecordError
from printplan.record.near_names import did_you_mean

if TYPE_CHECKING:
    import sqlite3

CAUSES = (
    "wrong profile",
    "wrong media type",
    "wrong paper or side",
    "colour converted twice",
    "wrong size or scaled",
    "wrong place or cut off",
    "too dark for the room",
    "banding or clogged nozzle",
    "head strike or scuff",
    "dust or damage",
    "sharpening",
    "other",
)
"""What a print is lost to, as a new journal lists it (common practice, no source)."""


def insert_first_causes(connection: sqlite3.Connection) -> None:
    """
    Write the list that a new journal begins with.

    Parameters
    ----------
    connection : sqlite3.Connection
        In a transaction.
    """
    connection.executemany(
        "INSERT INTO cause (name, place) VALUES (?, ?)",
        [(name, place) for place, name in enumerate(CAUSES)],
    )


def insert_cause(connection: sqlite3.Connection, name: str) -> None:
    """
    Add a cause at the end of the list, or bring one back to its place.

    Parameters
    ----------
    connection : sqlite3.Connection
        In a transaction.
    name : str
    """
    connection.execute(
        "INSERT INTO cause (name, place) "
        "VALUES (?, (SELECT coalesce(max(place), 0) + 1 FROM cause)) "
        "ON CONFLICT (name) DO UPDATE SET is_retired = 0",
        (name,),
    )


def retire(connection: sqlite3.Connection, name: str) -> None:
    """
    Take a cause off the list; entries that name it keep it.

    Parameters
    ----------
    connection : sqlite3.Connection
        In a transaction.
    name : str

    Raises
    ------
    RecordError
        If it is not on the list.
    """
    require_cause(connection, name)
    connection.execute("UPDATE cause SET is_retired = 1 WHERE name = ?", (name,))


def causes_in_use(connection: sqlite3.Connection) -> tuple[str, ...]:
    """
    The list as it stands.

    Parameters
    ----------
    connection : sqlite3.Connection

    Returns
    -------
    tuple of str
    """
    found = connection.execute(
        "SELECT name FROM cause WHERE NOT is_retired ORDER BY place"
    )
    return tuple(name for (name,) in found)


def require_cause(connection: sqlite3.Connection, name: str) -> None:
    """
    Refuse a cause that is not on the list.

    Parameters
    ----------
    connection : sqlite3.Connection
    name : str

    Raises
    ------
    RecordError
        If it is not, or no longer.
    """
    known = causes_in_use(connection)
    if name not in known:
        raise RecordError(
            f'"{name}" is not among the causes of this journal.',
            remedy=did_you_mean(name, known),
        )
