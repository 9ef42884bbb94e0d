"""Which prints of an edition have their certificate?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from printplan.record.journal.entry import (
    require_filled,
    require_hash,
    require_text,
    require_zone,
)
from printplan.record.journal.rows import moment_text

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """
    A certificate that was written for one print.

    Attributes
    ----------
    title : str
        Of the edition.
    is_proof : bool
        Of an artist's proof, which stands beside the numbers of the edition.
    number : int
        In the edition, or of the proof.
    entry_id : int
        The print.
    artist : str
        As the person gave the name.
    page_sha256 : str
        Of the page's file.
    """

    title: str
    is_proof: bool
    number: int
    entry_id: int
    issued_at: datetime
    artist: str
    page_sha256: str

    def __post_init__(self) -> None:
        require_zone(self.issued_at)
        require_text(self.artist)
        require_filled("artist's name", self.artist)
        require_hash("certificate", self.page_sha256)


def insert_certificate(
    connection: sqlite3.Connection, certificate: Certificate
) -> None:
    """
    Note a certificate, which is never written twice.

    Parameters
    ----------
    connection : sqlite3.Connection
        In a transaction.
    """
    connection.execute(
        "INSERT INTO certificate VALUES (?, ?, ?, ?, ?, ?, ?)",
        (
            certificate.title,
            int(certificate.is_proof),
            certificate.number,
            certificate.entry_id,
            moment_text(certificate.issued_at),
            certificate.artist,
            certificate.page_sha256,
        ),
    )


def read_certificates(connection: sqlite3.Connection) -> Iterator[Certificate]:
    """
    All certificates, by edition and number.

    Parameters
    ----------
    connection : sqlite3.Connection
    """
    for (
        title,
        is_proof,
        number,
        entry_id,
        issued_at,
        artist,
        sha256,
    ) in connection.execute("SELECT * FROM certificate ORDER BY 1, 2, 3"):
        yield Certificate(
            title=title,
            is_proof=bool(is_proof),
            number=number,
            entry_id=entry_id,
            issued_at=datetime.fromisoformat(issued_at),
            artist=artist,
            page_sha256=sha256,
        )
