"""`printplan doctor`: is all that lies in a studio whole?"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from printplan.cli.telling import table, tell

if TYPE_CHECKING:
    from collections.abc import Sequence

    from printplan.record.doctor import Checked

NOT_WHOLE = 1
"""Exit status of `doctor` if something is not whole, or was left behind."""


@click.command()
@click.argument("folder", type=click.Path(path_type=Path), default=Path())
@click.option(
    "--mend",
    "mends",
    is_flag=True,
    help="Clear away what ended processes left; nothing else is touched.",
)
def doctor(folder: Path, *, mends: bool) -> None:
    """
    Look at books, plans, records, prints, masters and journal of a studio.

    Each is read whole, and compared with the hash in its record. Exit 1 if something
    is not whole.
    """
    from printplan.record.doctor import Health, examine, mend  # noqa: PLC0415

    def report(line: str) -> None:
        if sys.stderr.isatty():
            tell(line, err=True)

    found = examine(folder, report=report)
    if mends:
        found = mend(found)
    for it in found:
        if it.health is not Health.WHOLE:
            tell(f"{it.health}: {it.what} {it.path}")
            tell(f"    {it.words}")
    tell(*table(_summary(found)))
    if any(it.health is Health.LEFT for it in found):
        tell("What was left behind is cleared away with --mend.")
    if {it.health for it in found} & {Health.BROKEN, Health.LEFT}:
        sys.exit(NOT_WHOLE)


def _summary(found: Sequence[Checked]) -> list[tuple[str, ...]]:
    """How many of each kind were found how."""
    from printplan.record.doctor import Health  # noqa: PLC0415

    rows: list[tuple[str, ...]] = [("what", *Health)]
    for what in dict.fromkeys(it.what for it in found):
        of_it = [it.health for it in found if it.what == what]
        rows.append((what, *(str(of_it.count(it) or "") for it in Health)))
    return rows
