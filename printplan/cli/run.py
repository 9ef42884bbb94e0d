"""`printplan run`: how are the prints of a table planned, checked and made?"""

from __future__ import annotations

import sys
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import click

from printplan.cli.jobs import SHOULD_STOP, SOME_FAILED
from printplan.cli.telling import PATH, table, tell
from printplan.errors import SpecError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from contextlib import AbstractContextManager
    from pathlib import Path

    from printplan.record.run.carry_out import RunResult, Stage
    from printplan.record.run.crew import Crew


@click.command()
@click.argument("table_path", metavar="TABLE", type=PATH)
@click.option(
    "--book", type=PATH, help="The paper book; by default that of the table's studio."
)
@click.option(
    "--workers",
    type=click.IntRange(1, 256),
    help="Processes on this machine; by default one for each processor.",
)
@click.option(
    "--scheduler", default="", help="Of a dask cluster that does it: tcp://host:8786."
)
@click.option(
    "--only-check",
    is_flag=True,
    help="Plan, check and proof all rows; make no file to print.",
)
def run(
    table_path: Path,
    book: Path | None,
    *,
    workers: int | None,
    scheduler: str,
    only_check: bool,
) -> None:
    """
    Make the prints that a table asks for, each as if it were made alone.

    A row is a print; the first row names the columns: master, width, height, longest,
    paper, printer, setup, sheet, feed, border, copies, distance, note, or plan for a
    plan that is there. Plans, files and records go into a folder beside the table, with
    a contact sheet and a summary. What is there already is not made again.
    """
    from printplan.record.run.carry_out import Run  # noqa: PLC0415
    from printplan.record.run.contact_sheet import write_contact_sheet  # noqa: PLC0415
    from printplan.record.run.summary import write_summary  # noqa: PLC0415

    if scheduler and workers is not None:
        raise SpecError(
            "Workers were asked for on this machine and on a cluster.",
            remedy="Leave one of the two away.",
        )
    whole = Run(table_path, book)
    moment = datetime.now(tz=UTC).astimezone()
    with _crew(workers, scheduler) as crew, whole.alone(), _bar() as report:
        whole.prepare(crew, report)
        if not only_check:
            whole.make(crew, report)
        result = whole.result()
        pages = [write_contact_sheet(result, moment), write_summary(result)]
    _tell_result(result)
    for page in pages:
        if page is not None:
            tell(f"Written: {page}")
    if result.failed:
        sys.exit(SOME_FAILED)
    if only_check and any(it.should_stop for it in result.rows):
        sys.exit(SHOULD_STOP)


def _crew(workers: int | None, scheduler: str) -> AbstractContextManager[Crew]:
    from printplan.record.run.crew import cluster_crew, own_crew  # noqa: PLC0415

    return cluster_crew(scheduler) if scheduler else own_crew(workers)


@contextmanager
def _bar() -> Iterator[Callable[[Stage, int, int], None]]:
    """Show one bar for the whole run, in a terminal."""
    from tqdm import tqdm  # noqa: PLC0415

    before = 0
    with tqdm(unit=" rows", disable=None, leave=False) as bar:

        def show(stage: Stage, done: int, count: int) -> None:
            nonlocal before
            if done == 0:
                before = bar.n
                # Until it is known how many files are missing, all may be.
                bar.total = before + (count if before else 2 * count)
            bar.set_description(str(stage), refresh=False)
            bar.update(before + done - bar.n)
            bar.refresh()

        yield show


def _tell_result(result: RunResult) -> None:
    """One table of the rows, and what all of them need."""
    from printplan.record.run.summary import size_words  # noqa: PLC0415
    from printplan.record.run.totals import paper_need, totals_rows  # noqa: PLC0415

    rows: list[tuple[str, ...]] = [
        ("row", "plan", "size", "sheet", "paper", "copies", "file", "worst finding")
    ]
    for it in result.rows:
        told = [str(it.row.number)]
        if it.prepared is None:
            told += [it.row.name, "", "", "", ""]
        else:
            plan = it.prepared.plan
            told += [
                it.prepared.plan_path.stem,
                size_words(plan),
                paper_need(plan).sheet,
                plan.paper.name,
                str(plan.delivery.copies),
            ]
        made = "" if it.made is None else it.made.file_path.name
        kept = " (made before)" if it.made is not None and it.seconds is None else ""
        rows.append((*told, f"{made}{kept}", it.worst))
    tell(*table(rows))
    for what, value in totals_rows(result.totals, result.forecast_s, result.took_s):
        tell(f"{what[:1].upper()}{what[1:]}: {value}.")
