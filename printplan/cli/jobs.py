"""`printplan new`, `plan`, `check`, `render`: how is a print planned and made?"""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from importlib import import_module
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING

import click

import printplan
from printplan.child_work import get_ready
from printplan.cli.telling import (
    ASSUME_PROFILE,
    PATH,
    compile_loops_shown,
    progress_shown,
    table,
    tell,
    tell_rendered,
)
from printplan.errors import PrintPlanError, RecordError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from printplan.checks import Finding
    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.units import LengthUnit

SHOULD_STOP = 1
"""Exit status of `check` if a finding says stop."""

SOME_FAILED = 2
"""Exit status of `check` and `render` of several plans if one could not be done."""

_READS_MASTERS = "printplan.pixels.guarded_reading"
"""Loaded by the process that looks at masters, while this one loads all the rest."""

_JUDGES_PRINTS = "printplan.record.finished_print"
"""Loaded beside the hashing of the first master."""


@click.command()
@click.argument("folder", type=PATH)
@click.option("--inches", is_flag=True, help="Lengths are given and told in inches.")
def new(folder: Path, *, inches: bool) -> None:
    """Make a studio of one's own: an empty paper book, folders, the notebooks."""
    from printplan.record.new_studio import new_studio  # noqa: PLC0415
    from printplan.units import LengthUnit  # noqa: PLC0415
    from printplan.workbook.launch import copy_notebooks  # noqa: PLC0415

    unit = LengthUnit.INCHES if inches else LengthUnit.MM
    studio = new_studio(folder, lengths_in=unit)
    copy_notebooks(studio.folder)
    compile_loops_shown()
    tell(f"The studio is {studio.folder}; its paper book is {studio.book_path}.")
    tell(
        "Next, in that folder: printplan open, or printplan add printer and "
        "printplan add paper PROFILE.icc."
    )


def length_option(
    context: click.Context, _parameter: click.Parameter, text: str | None
) -> float | None:
    """Millimetres of a length with its unit, or of a bare number in the studio's."""
    if text is None:
        return None
    from printplan.units import parse_length_mm  # noqa: PLC0415

    return parse_length_mm(text, bare=_unit(context.params.get("book")))


def _unit(book: Path | None) -> LengthUnit:
    from printplan.record.paper_book import read_paper_book  # noqa: PLC0415
    from printplan.record.studio_folder import book_near  # noqa: PLC0415
    from printplan.units import LengthUnit  # noqa: PLC0415

    path = book or book_near(Path())
    return LengthUnit.MM if path is None else read_paper_book(path).lengths_in


def book_for(master: Path, named: Path | None) -> Path:
    """The book that is named, or that of the studio here, or of the master's."""
    from printplan.record.studio_folder import book_near  # noqa: PLC0415

    book = named or book_near(Path()) or book_near(master.absolute().parent)
    if book is None:
        raise RecordError(
            "Neither this folder nor the master's lies in a studio.",
            remedy="Make one with printplan new FOLDER, or name its paper book with "
            "--book.",
        )
    return book


@click.command()
@click.argument("master", type=PATH)
@click.option(
    "--book",
    type=PATH,
    is_eager=True,
    help="The paper book; by default that of this folder's studio.",
)
@click.option("--paper", default="", help="In the book; needed if it has several.")
@click.option("--printer", default="", help="In the book; needed if it has several.")
@click.option("--setup", default="", help="Which of the paper's setups on it.")
@click.option(
    "--width", callback=length_option, help="Of the picture: 400mm, 40cm, 16in."
)
@click.option("--height", callback=length_option, help="Of the picture.")
@click.option("--longest", callback=length_option, help="Longest edge of the picture.")
@click.option("--sheet", default="", help="A2, Letter, 13x19 in and the like.")
@click.option("--feed", default="", help="A feed path of the printer.")
@click.option("--border", callback=length_option, help="White kept round the picture.")
@click.option("--distance", callback=length_option, help="From eye to print: 60cm.")
@ASSUME_PROFILE
@click.option(
    "--out", type=PATH, help="The plan file; by default in the studio's jobs."
)
def plan(  # noqa: PLR0913 - each is an option
    master: Path,
    book: Path | None,
    *,
    paper: str,
    printer: str,
    setup: str,
    width: float | None,
    height: float | None,
    longest: float | None,
    sheet: str,
    feed: str,
    border: float | None,
    distance: float | None,
    assume_profile: str,
    out: Path | None,
) -> None:
    """Write a plan in which all is chosen that is not said, each choice in a line."""
    from printplan.record.job import JobWish, plan_job, write_job  # noqa: PLC0415
    from printplan.record.leftovers import tidy  # noqa: PLC0415
    from printplan.record.plan_file import open_plan, write_plan_file  # noqa: PLC0415
    from printplan.record.studio_folder import jobs_folder  # noqa: PLC0415
    from printplan.spec import MasterSpec  # noqa: PLC0415

    book = book_for(master, book)
    wish = JobWish(
        master=MasterSpec(file=str(master), assume_profile=assume_profile),
        paper=paper,
        printer=printer,
        setup=setup,
        width_mm=width,
        height_mm=height,
        longest_mm=longest,
        media_size=sheet,
        feed=feed,
        border_mm=border,
        distance_mm=distance,
    )
    tidy([book.absolute().parent, jobs_folder(book)])
    planned = plan_job(book, wish)
    for reason in planned.reasons:
        tell(reason)
    if out is None:
        path = write_job(planned, jobs_folder(book))
    else:
        write_plan_file(planned.plan_file, out)
        path = out
    composed = open_plan(path)
    with composed.master:
        tell(_worst_words(_findings(composed)))
    tell(f"The plan is {path}.")


@click.command()
@click.argument("plans", type=PATH, nargs=-1, required=True)
def check(plans: tuple[Path, ...]) -> None:
    """
    Tell what should be known before ink is spent.

    Exit 1 if a print should stop. Several plans end in one table.
    """
    get_ready(_READS_MASTERS)
    if len(plans) == 1:
        findings = _checked(plans[0])
    else:
        rows: list[tuple[str, ...]] = [("plan", "size", "paper", "worst finding")]
        findings = []

        def one(path: Path) -> tuple[str, ...]:
            sheet = _opened(path)
            with sheet.master:
                found = _findings(sheet)
            findings.extend(found)
            return (*_told(path, sheet.plan), _worst_words(found))

        failed = _each(plans, one, rows)
        if failed:
            sys.exit(SOME_FAILED)
    if any(finding.level == "stop" for finding in findings):
        sys.exit(SHOULD_STOP)


def _checked(path: Path) -> list[Finding]:
    """Tell all about one plan."""
    sheet = _opened(path)
    with sheet.master:
        findings = _findings(sheet)
    from printplan.record.decision_sheet.print_facts import (  # noqa: PLC0415
        check_header,
    )

    for row in check_header(sheet.plan, file_profile=sheet.profile.name):
        tell(f"{row.what}: {row.value}.")
    for finding in findings:
        tell(str(finding))
    if not findings:
        tell("Nothing speaks against this print.")
    return findings


@click.command()
@click.argument("plans", type=PATH, nargs=-1, required=True)
@click.option(
    "--out",
    type=PATH,
    help="The file to write, its kind decides; by default beside the plan, under its "
    "name, with its record.",
)
@click.option(
    "--record", type=PATH, help="Where to save the record that makes it again."
)
@click.option(
    "--decision-sheet", is_flag=True, help="Write the decision sheet beside the record."
)
@click.option("--overwrite", is_flag=True, help="Replace them if they are there.")
def render(
    plans: tuple[Path, ...],
    out: Path | None,
    record: Path | None,
    *,
    decision_sheet: bool,
    overwrite: bool,
) -> None:
    """Make the finished files of plans; several end in one table."""
    get_ready(_READS_MASTERS)
    if out is not None:
        if len(plans) > 1:
            raise RecordError(
                f"One file was named for {len(plans)} plans.",
                remedy="Leave --out away: each file then goes beside its plan.",
            )
        _render_as(
            plans[0],
            out,
            record,
            decision_sheet=decision_sheet,
            overwrite=overwrite,
        )
        return
    if record is not None or overwrite:
        raise RecordError(
            "--record and --overwrite go with a file that is named.",
            remedy="Name the file with --out, or leave them away: a free name is "
            "taken, and the record goes beside the file.",
        )
    head = ("plan", "size", "paper", "file", "worst finding")

    def one(path: Path) -> tuple[str, ...]:
        return _render_beside(path, decision_sheet=decision_sheet, say=len(plans) == 1)

    if len(plans) == 1:
        one(plans[0])
    elif _each(plans, one, [head]):
        sys.exit(SOME_FAILED)


def _render_as(
    path: Path,
    out: Path,
    record: Path | None,
    *,
    decision_sheet: bool,
    overwrite: bool,
) -> None:
    """Make one file under a name that was given."""
    from printplan.record.atomic_write import require_free_text  # noqa: PLC0415
    from printplan.record.plan_file import open_plan_file  # noqa: PLC0415
    from printplan.record.record_file import (  # noqa: PLC0415
        RECORD_HEADER,
        require_recordable,
    )
    from printplan.record.sidecar import (  # noqa: PLC0415
        write_sidecar_record,
        write_sidecar_sheets,
    )

    if record is not None:
        require_free_text(record, RECORD_HEADER, overwrite=overwrite)
    plan_file = printplan.read_plan_file(path).resolved(path)
    sheet = open_plan_file(plan_file)
    with sheet.master, progress_shown() as progress:
        if record is not None or decision_sheet:
            require_recordable(sheet, out, plan_file)
        made = printplan.render(sheet, out, overwrite=overwrite, progress=progress)
        tell_rendered(made)
        if record is None and not decision_sheet:
            return
        kept = printplan.make_record(
            sheet,
            _findings(sheet),
            made,
            made_on=datetime.now(tz=UTC).astimezone(),
            plan_file=plan_file,
        )
    if record is None:
        record = write_sidecar_record(kept)
    else:
        printplan.write_record(kept, record, overwrite=overwrite)
    tell(f"Its record is {record}.")
    if decision_sheet:
        for page in write_sidecar_sheets(record):
            tell(f"The decision sheet is {page}.")


def _render_beside(path: Path, *, decision_sheet: bool, say: bool) -> tuple[str, ...]:
    """Make the file of a plan beside it under a free name, with its record."""
    from printplan.record.finished_print import finish_print  # noqa: PLC0415
    from printplan.record.sidecar import write_sidecar_sheets  # noqa: PLC0415

    with progress_shown() as progress:
        made = finish_print(path, progress=progress)
    pages = write_sidecar_sheets(made.record_path) if decision_sheet else ()
    worst = _worst_words(made.findings)
    if say:
        tell_rendered(made.rendered)
        tell(f"Its record is {made.record_path}.")
        for page in pages:
            tell(f"The decision sheet is {page}.")
        tell(worst)
    return (*_told(path, made.plan), made.rendered.path.name, worst)


def _opened(path: Path) -> Sheet:
    from printplan.record.plan_file import open_plan  # noqa: PLC0415

    # Loaded while the master is hashed, which leaves the interpreter to others.
    Thread(target=import_module, args=(_JUDGES_PRINTS,), daemon=True).start()
    return open_plan(path)


def _told(path: Path, plan: PrintPlan) -> tuple[str, str, str]:
    from printplan.units import length_words  # noqa: PLC0415

    size = plan.picture_size
    words = length_words(plan.spec.lengths_in, size.width_mm, size.height_mm)
    return str(path), f"{words} on {plan.spec.sheet.media_size}", plan.paper.name


def _findings(sheet: Sheet) -> list[Finding]:
    from printplan.record.finished_print import all_findings  # noqa: PLC0415

    return all_findings(sheet)


def _worst_words(findings: Iterable[Finding]) -> str:
    from printplan.checks.finding import worst_words  # noqa: PLC0415

    return worst_words(findings)


def _each(
    plans: Sequence[Path],
    one: Callable[[Path], tuple[str, ...]],
    rows: list[tuple[str, ...]],
) -> bool:
    """Do something with each plan; one that fails does not end the run."""
    failed = False
    for path in plans:
        try:
            rows.append(one(path))
        except PrintPlanError as error:
            failed = True
            blank = ("",) * (len(rows[0]) - 2)
            rows.append((str(path), *blank, f"failed: {error.problem} {error.remedy}"))
    tell(*table(rows))
    return failed
