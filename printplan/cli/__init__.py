"""The command line: make the demo, check, render, print again, open the workbook."""

from __future__ import annotations

import gc
import sys
import traceback
from dataclasses import fields
from io import TextIOWrapper
from pathlib import Path

import click

import printplan
from printplan.cli.add_paper import add_paper
from printplan.cli.add_printer import add_printer, margin_page, margins
from printplan.cli.certificate import certificate
from printplan.cli.change_book import change
from printplan.cli.deliver import deliver, verify
from printplan.cli.doctor import doctor
from printplan.cli.family import family
from printplan.cli.jobs import check, new, plan, render
from printplan.cli.nest import nest
from printplan.cli.price import price
from printplan.cli.run import run
from printplan.cli.telling import (
    PATH,
    compile_loops_shown,
    progress_shown,
    tell,
    tell_rendered,
)
from printplan.errors import PrintPlanError
from printplan.spec import MasterSpec

NOT_THE_SAME = 1
"""Exit status of `reprint` if the file is not the recorded one, byte for byte."""

MISTAKE = 2
"""Exit status of all that the user can put right."""

FAULT = 3
"""Exit status of a fault in printplan itself."""

INTERRUPTED = 130
"""Exit status after Ctrl-C: 128 and the signal's number, as shells have it."""

_DEMO_FOLDER = Path("printplan-demo")


def _tell_version(
    context: click.Context,
    _option: click.Parameter,
    asked: bool,  # noqa: FBT001 - click calls it so
) -> None:
    if asked:
        from printplan.workbook.launch import own_version  # noqa: PLC0415

        tell(f"printplan {own_version()}")
        context.exit()


@click.group(
    context_settings={"help_option_names": ["-h", "--help"]},
    invoke_without_command=True,
)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_tell_version,
    help="Show the version and end.",
)
@click.pass_context
def cli(context: click.Context) -> None:
    """Plan one photographic print: size, sharpening, paper colour, placement."""
    if context.invoked_subcommand is None:
        tell(*context.get_help().splitlines())


@cli.command()
@click.option(
    "--folder",
    type=PATH,
    default=_DEMO_FOLDER,
    show_default=True,
    help="Where to make it.",
)
def demo(folder: Path) -> None:
    """Make the invented studio, its year of prints and one print in a folder."""
    from printplan.demo.studio import (  # noqa: PLC0415
        make_demo_journal,
        make_demo_print,
        make_studio,
    )

    compile_loops_shown()
    studio = make_studio(folder, progress=tell)
    for path in studio.scenario.changed_by_user:
        tell(f"{path} was changed and was kept.")
    make_demo_journal(studio)
    with progress_shown() as progress:
        made = make_demo_print(studio, progress=progress)
    if made is None:
        tell(f"{studio.demo_print} is already there and was kept.")
    else:
        tell_rendered(made)


@cli.command()
@click.argument("record", type=PATH)
@click.option("--out", type=PATH, help="The file to write; by default beside it.")
@click.option("--master", type=PATH, help="Where the master lies now.")
@click.option("--overwrite", is_flag=True, help="Replace that file if it is there.")
def reprint(
    record: Path, out: Path | None, master: Path | None, *, overwrite: bool
) -> None:
    """Make the file of a record again; exit 1 if it is not the same."""
    from printplan.record import reprint as again  # noqa: PLC0415

    kept = printplan.read_record(record)
    target = (
        out if out is not None else again.reprint_path(kept, record.absolute().parent)
    )
    with progress_shown() as progress:
        made = again.reprint(
            kept, target, master=master, overwrite=overwrite, progress=progress
        )
    tell_rendered(made.rendered)
    tell(made.words)
    if made.outcome is not again.Outcome.IDENTICAL:
        sys.exit(NOT_THE_SAME)


@cli.command()
@click.argument("first", type=PATH)
@click.argument("second", type=PATH)
def compare(first: Path, second: Path) -> None:
    """Show side by side in what two records differ."""
    from printplan.record.reprint import side_by_side  # noqa: PLC0415

    differences = printplan.compare_records(
        printplan.read_record(first), printplan.read_record(second)
    )
    shown = side_by_side(differences, first=str(first), second=str(second))
    tell(*shown.split("\n"))


@cli.command(name="decision-sheet")
@click.argument("record", type=PATH)
@click.option(
    "--out", type=PATH, required=True, help="The page to write: .html or .pdf."
)
@click.option(
    "--page",
    type=click.Choice(["A4", "Letter"], case_sensitive=False),
    default="A4",
    show_default=True,
    help="Paper of the PDF.",
)
@click.option("--edition", default="", help='Number in its edition, such as "3 of 10".')
@click.option("--master", type=PATH, help="Where the master lies now.")
@click.option("--overwrite", is_flag=True, help="Replace that page if it is there.")
def decision_sheet(  # noqa: PLR0913 - as many as the page has sides
    record: Path,
    out: Path,
    page: str,
    edition: str,
    master: Path | None,
    *,
    overwrite: bool,
) -> None:
    """Write the page that says what was decided for a print, and why."""
    from printplan.record.cost import (  # noqa: PLC0415
        hourly_rate_in,
        recorded_cost,
    )
    from printplan.record.decision_sheet.facts import decision_facts  # noqa: PLC0415
    from printplan.record.decision_sheet.pdf_sheet import PageSize  # noqa: PLC0415
    from printplan.record.decision_sheet.write import require_page_name  # noqa: PLC0415
    from printplan.record.reprint import open_record  # noqa: PLC0415

    require_page_name(out, overwrite=overwrite)
    kept = printplan.read_record(record)
    sheet = open_record(kept, master=master)
    with sheet.master:
        cost = recorded_cost(kept, hourly_rate=hourly_rate_in(kept.book))
        facts = decision_facts(kept, sheet, cost=cost, edition=edition)
    written = printplan.write_decision_sheet(
        facts, out, page=PageSize(page), overwrite=overwrite
    )
    tell(f"The decision sheet is {written}.")


@cli.command()
@click.argument("plan", type=PATH)
@click.option("--to", required=True, help="The printer: ipp://host:port/path.")
@click.option("--media-source", default="", help="Its word for the feed path.")
@click.option("--media-type", default="", help="Its word for the paper.")
@click.option(
    "--without", multiple=True, help="An attribute that the printer may decide."
)
@click.option(
    "--wait",
    "wait_s",
    type=click.FloatRange(0, 86_400),
    default=600,
    show_default=True,
    help="Seconds to watch the job.",
)
@click.option("--dry-run", is_flag=True, help="Ask the printer, and print nothing.")
def send(  # noqa: PLR0913 - each is an option
    plan: Path,
    to: str,
    *,
    media_source: str,
    media_type: str,
    without: tuple[str, ...],
    wait_s: float,
    dry_run: bool,
) -> None:
    """Send a plan's page to a printer that speaks IPP, and watch the job."""
    from printplan.record.ipp.job_ticket import ticket_json  # noqa: PLC0415
    from printplan.record.ipp.jobs import send_plan, validate_plan  # noqa: PLC0415
    from printplan.record.ipp.support import PrinterWords  # noqa: PLC0415

    words = PrinterWords(
        media_source=media_source, media_type=media_type, leave_out=without
    )
    if dry_run:
        ticket = validate_plan(plan, to, words, report=tell)
        tell(*ticket_json(ticket).split("\n"))
        tell("The printer would take this job. Nothing was sent.")
        return
    with progress_shown() as progress:
        send_plan(plan, to, words, wait_s=wait_s, report=tell, progress=progress)


@cli.group()
def add() -> None:
    """Write a printer or a paper of one's own into the paper book."""


for command in (new, plan, check, render, run, nest, deliver, verify, family):
    cli.add_command(command)
add.add_command(add_printer)
add.add_command(add_paper)
cli.add_command(margin_page)
cli.add_command(margins)
cli.add_command(change)
cli.add_command(doctor)
cli.add_command(price)
cli.add_command(certificate)


@cli.command(name="open")
@click.option(
    "--folder",
    type=PATH,
    help="The studio's; by default this folder if it is one, else the demo's.",
)
@click.option("--no-browser", is_flag=True, help="Print the address and open nothing.")
@click.option("--voila", is_flag=True, help="Show pages without code, by Voila.")
def open_workbook(folder: Path | None, *, no_browser: bool, voila: bool) -> None:
    """Open the workbook: copy its notebooks and start JupyterLab on the day's page."""
    from printplan.record.studio_folder import BOOK_NAME  # noqa: PLC0415
    from printplan.workbook.launch import Front, launch  # noqa: PLC0415

    if folder is None:
        folder = Path() if Path(BOOK_NAME).is_file() else _DEMO_FOLDER
    front = Front.PAGES if voila else Front.LAB
    sys.exit(launch(folder, front=front, browser=not no_browser))


_OBJECTS_BETWEEN_LOOKS = 50_000
"""New ones that Python waits for before it looks for rings of them: 700 by itself."""


def main() -> None:
    """
    Run the command line; a user's mistake ends in two sentences and status 2.

    Raises
    ------
    SystemExit
        Always, with the exit status.
    """
    # What modules are made of stays: looking for what can go as they load takes time.
    gc.set_threshold(_OBJECTS_BETWEEN_LOOKS)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            # A name that this terminal cannot show must not end a finished print.
            stream.reconfigure(errors="backslashreplace")
    try:
        status = cli(prog_name="printplan", standalone_mode=False)
    except PrintPlanError as error:
        status = _end(MISTAKE, error.problem, f"{error.remedy}{_option_words(error)}")
    except click.UsageError as error:
        command = error.ctx.command_path if error.ctx is not None else "printplan"
        remedy = f'Type "{command} --help" to see what it takes.'
        status = _end(MISTAKE, error.format_message(), remedy)
    except click.Abort:
        status = _end(INTERRUPTED, "Stopped.", "No file was left half written.")
    except MemoryError:
        problem = "There is not enough memory for this print."
        status = _end(MISTAKE, problem, "Close other programs, or print it smaller.")
    except Exception as error:  # noqa: BLE001 - the last floor: nothing may get lost
        tell(*traceback.format_exc().splitlines(), err=True)
        problem = f"This is a fault in printplan ({type(error).__name__}: {error})."
        status = _end(FAULT, problem, "Report it with all the lines above.")
    sys.exit(status)


def _option_words(error: PrintPlanError) -> str:
    """By which option of the command that was called a remedy is taken, if by one."""
    if error.setting is None:
        return ""
    command: click.Command = cli
    for word in sys.argv[1:]:
        if isinstance(command, click.Group):
            command = command.commands.get(word, command)
    name = error.setting.partition("=")[0]
    options = {it.name: it.opts[0] for it in command.params}
    if name in options:
        return f" The option is {options[name]}."
    if name in {it.name for it in fields(MasterSpec)}:
        key = error.setting.replace("=", " = ")
        return f" In the plan file it is {key}, under [master]."
    return ""


def _end(status: int, problem: str, remedy: str) -> int:
    tell(problem, remedy, err=True)
    return status
