"""`printplan certificate`: which print of an edition gets its certificate?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from printplan.cli.telling import PATH, tell

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@click.argument("record", type=PATH)
@click.option("--artist", required=True, help="The name as it is to stand there.")
@click.option("--out", type=PATH, required=True, help="The page to write: .pdf.")
@click.option(
    "--number",
    type=click.IntRange(1),
    help="In its edition; needed if prints of this file bear several.",
)
@click.option(
    "--proof-of",
    default="",
    help="Title of the edition that an artist's proof stands beside.",
)
@click.option("--title", default="", help="Of the picture; by default the edition's.")
@click.option("--issuer", default="", help="Studio that gives it.")
@click.option(
    "--journal", type=PATH, help="The journal; by default beside the paper book."
)
@click.option("--master", type=PATH, help="Where the master lies now.")
@click.option(
    "--page",
    type=click.Choice(["A4", "Letter"], case_sensitive=False),
    default="A4",
    show_default=True,
    help="Paper of the page.",
)
def certificate(  # noqa: PLR0913 - each is an option
    record: Path,
    *,
    artist: str,
    out: Path,
    number: int | None,
    proof_of: str,
    title: str,
    issuer: str,
    journal: Path | None,
    master: Path | None,
    page: str,
) -> None:
    """
    Write the certificate of authenticity of a print in an edition.

    Each number gets one; a number that is spoiled gets none.
    """
    from printplan.record.certificate import (  # noqa: PLC0415
        CertificateWish,
        write_certificate,
    )
    from printplan.record.decision_sheet.pdf_sheet import PageSize  # noqa: PLC0415

    wish = CertificateWish(
        artist=artist, number=number, proof_of=proof_of, title=title, issuer=issuer
    )
    made = write_certificate(
        record, wish, out, journal=journal, master=master, page=PageSize(page)
    )
    kind = "Artist's proof" if made.is_proof else "Number"
    tell(f'{kind} {made.number} of "{made.title}" is certified in {out}.')
