"""The command line: make the demo, check, render, open the workbook."""

from __future__ import annotations

import sys
import traceback
from contextlib import ExitStack, contextmanager
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING

import click

from printplan.errors import PrintPlanError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.pixels.picture_file import Progress
    from printplan.pixels.render import Rendered

SHOULD_STOP = 1
"""Exit status of `check` if a finding says stop."""

MISTAKE = 2
"""Exit status of all that the user can put right."""

FAULT = 3
"""Exit status of a fault in printplan itself."""

INTERRUPTED = 130
"""Exit status after Ctrl-C: 128 and the signal's number, as shells have it."""

_DEMO_FOLDER = Path("printplan-demo")
_PATH = click.Path(path_type=Path)


def _tell_version(
    context: click.Context,
    _option: click.Parameter,
    asked: bool,  # noqa: FBT001 - click calls it so
) -> None:
    if asked:
        from printplan.workbook.launch import own_version  # noqa: PLC0415

        click.echo(f"printplan {own_version()}")
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
        click.echo(context.get_help())


@cli.command()
@click.option(
    "--folder",
    type=_PATH,
    default=_DEMO_FOLDER,
    show_default=True,
    help="Where to make it.",
)
def demo(folder: Path) -> None:
    """Make the invented studio and one complete print in a folder."""
    from printplan.demo.studio import make_demo_print, make_studio  # noqa: PLC0415

    studio = make_studio(folder, progress=click.echo)
    for path in studio.scenario.changed_by_user:
        click.echo(f"{path} was changed and was kept.")
    with _progress() as progress:
        made = make_demo_print(studio, progress=progress)
    if made is None:
        click.echo(f"{studio.demo_print} is already there and was kept.")
    else:
        _tell_rendered(made)


@cli.command()
@click.argument("plan", type=_PATH)
@click.option(
    "--out", type=_PATH, required=True, help="The file to write; its kind decides."
)
@click.option("--overwrite", is_flag=True, help="Replace that file if it is there.")
def render(plan: Path, out: Path, *, overwrite: bool) -> None:
    """Make the finished file of a plan."""
    from printplan.pixels.render import render as render_sheet  # noqa: PLC0415
    from printplan.record.open_plan import open_plan  # noqa: PLC0415

    sheet = open_plan(plan)
    with sheet.master, _progress() as progress:
        made = render_sheet(sheet, out, overwrite=overwrite, progress=progress)
    _tell_rendered(made)


@cli.command()
@click.argument("plan", type=_PATH)
def check(plan: Path) -> None:
    """Tell what should be known before ink is spent; exit 1 if it should stop."""
    from printplan.checks import Level, check_pixels, check_plan  # noqa: PLC0415
    from printplan.record.open_plan import open_plan  # noqa: PLC0415

    sheet = open_plan(plan)
    with sheet.master:
        findings = [*check_plan(sheet.plan), *check_pixels(sheet)]
    width_mm, height_mm = sheet.plan.page_mm
    click.echo(
        f"{sheet.size_px[0]} × {sheet.size_px[1]} px at {sheet.plan.ppi:g} ppi, "
        f"{width_mm:.1f} × {height_mm:.1f} mm, in {sheet.profile.name}."
    )
    for finding in findings:
        click.echo(str(finding))
    if not findings:
        click.echo("Nothing speaks against this print.")
    if any(finding.level is Level.STOP for finding in findings):
        sys.exit(SHOULD_STOP)


@cli.command(name="open")
@click.option(
    "--folder",
    type=_PATH,
    default=_DEMO_FOLDER,
    show_default=True,
    help="Where the notebooks are copied to.",
)
@click.option("--no-browser", is_flag=True, help="Print the address and open nothing.")
def open_workbook(folder: Path, *, no_browser: bool) -> None:
    """Open the workbook: copy its notebooks and start JupyterLab on the first."""
    from printplan.workbook.launch import launch  # noqa: PLC0415

    sys.exit(launch(folder, browser=not no_browser))


def main() -> None:
    """
    Run the command line; a user's mistake ends in two sentences and status 2.

    Raises
    ------
    SystemExit
        Always, with the exit status.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            # A name that this terminal cannot show must not end a finished print.
            stream.reconfigure(errors="backslashreplace")
    try:
        status = cli(prog_name="printplan", standalone_mode=False)
    except PrintPlanError as error:
        status = _end(MISTAKE, error.problem, error.remedy)
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
        traceback.print_exc()
        problem = f"This is a fault in printplan ({type(error).__name__}: {error})."
        status = _end(FAULT, problem, "Report it with all the lines above.")
    sys.exit(status)


def _end(status: int, problem: str, remedy: str) -> int:
    click.echo(f"{problem}\n{remedy}", err=True)
    return status


@contextmanager
def _progress() -> Iterator[Progress]:
    """Show a bar in a terminal, from the first row on."""
    with ExitStack() as stack:
        bars: list[Progress] = []

        def show(done_rows: int, all_rows: int) -> None:
            if not bars and sys.stderr.isatty():
                from printplan.pixels.render import progress_bar  # noqa: PLC0415

                bars.append(stack.enter_context(progress_bar()))
            for bar in bars:
                bar(done_rows, all_rows)

        yield show


def _tell_rendered(made: Rendered) -> None:
    click.echo(
        f"{made.path}: {made.width_px} × {made.height_px} px at {made.ppi:g} ppi."
    )
    click.echo(f"SHA-256 {made.sha256}")
