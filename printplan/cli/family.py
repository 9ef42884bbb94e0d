"""`printplan family`: how is one master planned in several sizes?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from printplan.cli.jobs import book_for, length_option
from printplan.cli.telling import ASSUME_PROFILE, PATH, table, tell

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@click.argument("master", type=PATH)
@click.option("--book", type=PATH, is_eager=True, help="The paper book.")
@click.option(
    "--size",
    "sizes",
    multiple=True,
    required=True,
    callback=lambda context, option, texts: tuple(
        length_option(context, option, it) for it in texts
    ),
    help="Longest edge of a picture; once for each size.",
)
@click.option("--paper", "papers", multiple=True, help="Once for each paper.")
@click.option("--printer", default="", help="In the book; or a print service.")
@click.option("--distance", callback=length_option, help="From eye to print: 60cm.")
@click.option(
    "--least-ppi",
    type=click.FloatRange(0, 2400),
    default=0.0,
    help="Of the master's own, whatever the distance.",
)
@ASSUME_PROFILE
@click.option("--dry-run", is_flag=True, help="Show the table, and write no plan.")
def family(  # noqa: PLR0913 - each is an option
    master: Path,
    book: Path | None,
    *,
    sizes: tuple[float, ...],
    papers: tuple[str, ...],
    printer: str,
    distance: float | None,
    least_ppi: float,
    assume_profile: str,
    dry_run: bool,
) -> None:
    """Plan one master in several sizes and papers, each sharpened for itself."""
    from printplan.record.family import (  # noqa: PLC0415
        FamilyWish,
        family_problems,
        family_rows,
        plan_family,
        write_family,
    )
    from printplan.record.studio_folder import jobs_folder  # noqa: PLC0415
    from printplan.spec import MasterSpec  # noqa: PLC0415

    book = book_for(master, book)
    wish = FamilyWish(
        master=MasterSpec(file=str(master), assume_profile=assume_profile),
        longest_mm=sizes,
        papers=papers,
        printer=printer,
        distance_mm=distance,
        least_ppi=least_ppi,
    )
    made = plan_family(book, wish, report=tell)
    tell(*table(family_rows(made)))
    tell(*family_problems(made))
    tell(made.largest_words)
    if not dry_run:
        for path in write_family(made, jobs_folder(book)):
            tell(f"The plan is {path}.")
