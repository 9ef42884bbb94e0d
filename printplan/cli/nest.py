"""`printplan nest`: how do the prints of several plans come onto one medium?"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from printplan.cli.telling import PATH, progress_shown, table, tell, tell_rendered

if TYPE_CHECKING:
    from pathlib import Path

    from printplan.record.nested_prints import NestedPrints

NOT_THE_SAME = 1
"""Exit status of `nest --again` if a file is not the recorded one, byte for byte."""


def _gap_mm(
    _context: click.Context, _parameter: click.Parameter, text: str | None
) -> float | None:
    if text is None:
        return None
    from printplan.units import parse_length_mm  # noqa: PLC0415

    return parse_length_mm(text)


@click.command()
@click.argument("plans", type=PATH, nargs=-1, required=True)
@click.option("--on", default="", help='A roll or a sheet: "24 in roll", A2.')
@click.option("--gap", callback=_gap_mm, help="White between prints; by default 5mm.")
@click.option(
    "--straight-cuts", is_flag=True, help="Straight cuts through free all prints."
)
@click.option("--no-turn", is_flag=True, help="No print may lie turned.")
@click.option("--dry-run", is_flag=True, help="Tell, and write no file.")
@click.option(
    "--out", type=PATH, help="The file to write; by default beside the first plan."
)
@click.option("--drawing", type=PATH, help="Where to write the drawing: an .svg file.")
@click.option(
    "--again", is_flag=True, help="Make the files of a nesting file once more."
)
@click.option("--overwrite", is_flag=True, help="Replace them if they are there.")
def nest(  # noqa: PLR0913 - each is an option
    plans: tuple[Path, ...],
    on: str,
    gap: float | None,
    *,
    straight_cuts: bool,
    no_turn: bool,
    dry_run: bool,
    out: Path | None,
    drawing: Path | None,
    again: bool,
    overwrite: bool,
) -> None:
    """
    Put the prints of several plans on one roll or few sheets.

    Each is printed as often as its plan says. A nesting file beside the result makes
    it again: printplan nest --again FILE.nesting.toml --out OTHER.tif.
    """
    from printplan.record.nested_prints import (  # noqa: PLC0415
        USUAL_GAP_MM,
        NestWish,
        open_nested,
    )
    from printplan.record.nesting_file import (  # noqa: PLC0415
        write_drawings,
        write_nested,
    )

    if again:
        _make_again(plans, out)
        return
    wish = NestWish(
        plans=plans,
        on=on,
        gap_mm=USUAL_GAP_MM if gap is None else gap,
        straight_cuts=straight_cuts,
        may_turn=not no_turn,
    )
    with open_nested(wish) as nested, progress_shown() as progress:
        _tell_nesting(nested)
        if drawing is not None:
            for written in write_drawings(nested, drawing):
                tell(f"The drawing is {written}.")
        if dry_run:
            return
        made = write_nested(nested, out, overwrite=overwrite, progress=progress)
    for file in made.files:
        tell_rendered(file)
    tell(f"Its nesting file is {made.record_path}.")


def _make_again(plans: tuple[Path, ...], out: Path | None) -> None:
    from printplan.errors import RecordError  # noqa: PLC0415
    from printplan.record.nesting_file import make_again  # noqa: PLC0415

    if len(plans) != 1 or out is None:
        raise RecordError(
            "A nesting is made again from its one file, under a new name.",
            remedy="Name the one nesting file, and a new file to write.",
        )
    with progress_shown() as progress:
        made = make_again(plans[0], out, progress=progress)
    for file in made.files:
        tell_rendered(file)
    tell(*made.differs)
    if made.differs:
        sys.exit(NOT_THE_SAME)
    tell("It is the same file, byte for byte.")


def _tell_nesting(nested: NestedPrints) -> None:
    from printplan.record.nested_prints import (  # noqa: PLC0415
        BLADE_CAUTION,
        nesting_rows,
        nesting_words,
        straight_cuts,
    )
    from printplan.record.nesting_drawing import cut_words  # noqa: PLC0415

    tell(nesting_words(nested))
    tell(*table(nesting_rows(nested)))
    for sheet in range(1, nested.nesting.sheets + 1):
        cuts = straight_cuts(nested.nesting, sheet)
        if cuts is None:
            tell("No straight cuts through free these prints: see --straight-cuts.")
            return
        if nested.nesting.sheets > 1:
            tell(f"Cuts of sheet {sheet}:")
        tell(*(cut_words(cut, nested.unit) for cut in cuts))
    tell(BLADE_CAUTION)
