"""`printplan deliver`, `verify`: how does an order of prints leave the studio?"""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import click

from printplan.cli.telling import PATH, progress_shown, tell

if TYPE_CHECKING:
    from pathlib import Path

NOT_WHOLE = 1
"""Exit status of `verify` if a file is changed, missing or more than was listed."""


@click.command()
@click.argument("plans", type=PATH, nargs=-1, required=True)
@click.option("--to", type=PATH, required=True, help="The new folder to make.")
@click.option("--service", default="", help="Refuse plans that are for another one.")
def deliver(plans: tuple[Path, ...], to: Path, *, service: str) -> None:
    """Render plans into a folder for a print service, with sums and an order sheet."""
    from printplan.record.deliver import deliver as make  # noqa: PLC0415

    with progress_shown() as progress:
        made = make(
            plans,
            to,
            made_on=datetime.now(tz=UTC).astimezone(),
            service=service,
            report=tell,
            progress=progress,
        )
    for line in made.order.lines:
        tell(
            f"{line.file}: {line.copies} × {line.size} on {line.paper}, {line.pixels}, "
            f"{line.megabytes:.2f} MB."
        )
    tell(f"Total: {made.order.total}.")
    for record in made.records:
        tell(f"Its record is {record}.")
    tell(f"The order is {made.folder}.")


@click.command()
@click.argument("folder", type=PATH)
def verify(folder: Path) -> None:
    """Compare the files of a delivered folder with its checksums; exit 1 if not so."""
    from printplan.record.sums import verify_folder  # noqa: PLC0415

    report = verify_folder(folder)
    for names, what in (
        (report.changed, "changed"),
        (report.missing, "missing"),
        (report.extra, "not listed"),
    ):
        for name in names:
            tell(f"{what}: {name}")
    if not report.is_whole:
        sys.exit(NOT_WHOLE)
    tell(f"All {len(report.sound)} files are as they were listed.")
