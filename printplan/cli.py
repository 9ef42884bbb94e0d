"""The command line: make the demo, check, render, open the workbook."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from printplan.errors import PrintPlanError

if TYPE_CHECKING:
    from printplan.pixels.sheet import Sheet

_DEMO_FOLDER = Path("printplan-demo")
_EXISTING = click.Path(path_type=Path)


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="printplan")
def cli() -> None:
    """Plan one photographic print: size, sharpening, paper colour, placement."""


@cli.command()
@click.option(
    "--folder",
    type=_EXISTING,
    default=_DEMO_FOLDER,
    show_default=True,
    help="Where to make it.",
)
def demo(folder: Path) -> None:
    """Make the invented studio and one complete print in a folder."""
    from printplan.demo.studio import make_demo_print, make_studio  # noqa: PLC0415

    studio = make_studio(folder, progress=click.echo)
    made = make_demo_print(studio)
    if made is None:
        click.echo(f"{studio.demo_print} is already there and was kept.")
        return
    _tell_rendered(made.path, made.sha256, made.width_px, made.height_px, made.ppi)


@cli.command()
@click.argument("plan", type=_EXISTING)
@click.option(
    "--out", type=_EXISTING, required=True, help="The file to write; its kind decides."
)
@click.option("--overwrite", is_flag=True, help="Replace that file if it is there.")
def render(plan: Path, out: Path, *, overwrite: bool) -> None:
    """Make the finished file of a plan."""
    from printplan.pixels.render import render as render_sheet  # noqa: PLC0415
    from printplan.pixels.render import progress_bar  # noqa: PLC0415

    sheet = _sheet_of(plan)
    with sheet.master, progress_bar() as progress:
        made = render_sheet(sheet, out, overwrite=overwrite, progress=progress)
    _tell_rendered(made.path, made.sha256, made.width_px, made.height_px, made.ppi)


@cli.command()
@click.argument("plan", type=_EXISTING)
def check(plan: Path) -> None:
    """Tell what should be known before ink is spent; exit 1 if it should stop."""
    from printplan.checks import Level, check_pixels, check_plan  # noqa: PLC0415

    sheet = _sheet_of(plan)
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
        sys.exit(1)


@cli.command(name="open")
@click.option(
    "--folder",
    type=_EXISTING,
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
    try:
        cli(standalone_mode=False)
    except PrintPlanError as error:
        click.echo(f"{error.problem}\n{error.remedy}", err=True)
        sys.exit(2)
    except click.Abort:
        click.echo("Stopped.\nNo file was left half written.", err=True)
        sys.exit(130)
    except click.ClickException as error:
        error.show()
        sys.exit(2)
    sys.exit(0)


def _sheet_of(plan_path: Path) -> Sheet:
    """Sheet of a plan file; the caller closes its master."""
    from printplan.record.open_plan import open_plan  # noqa: PLC0415

    return open_plan(plan_path)


def _tell_rendered(
    path: Path, sha256: str, width_px: int, height_px: int, ppi: float
) -> None:
    click.echo(f"{path}: {width_px} × {height_px} px at {ppi:g} ppi.")
    click.echo(f"SHA-256 {sha256}")
