"""`printplan price`: what do prints cost, and at which price are they sold?"""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING

import click

from printplan.cli.telling import PATH, table, tell
from printplan.errors import RecordError

if TYPE_CHECKING:
    from pathlib import Path

    from printplan.record.cost import OwnLine


def _decimal(
    _context: click.Context, _parameter: click.Parameter, text: str
) -> Decimal:
    return _number(text)


def _number(text: str) -> Decimal:
    try:
        number = Decimal(text.strip())
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite():
        raise RecordError(
            f'"{text}" is no decimal number.', remedy="Write it as 2.5 or 120."
        )
    return number


def _lines(
    _context: click.Context, _parameter: click.Parameter, typed: tuple[str, ...]
) -> tuple[OwnLine, ...]:
    from printplan.record.cost import OwnLine  # noqa: PLC0415

    lines = []
    for one in typed:
        what, _, amount = one.rpartition("=")
        if not what:
            raise RecordError(
                f'The line of cost "{one}" has no name, or no amount.',
                remedy='Write it as "mat board=4.50".',
            )
        lines.append(OwnLine(what=what.strip(), amount=_number(amount)))
    return tuple(lines)


@click.command()
@click.argument("plans", type=PATH, nargs=-1, required=True)
@click.option(
    "--mark-up",
    default="2.5",
    show_default=True,
    callback=_decimal,
    help="Factor from cost to price.",
)
@click.option(
    "--round-to",
    default="0.01",
    show_default=True,
    callback=_decimal,
    help="Step of the prices.",
)
@click.option(
    "--line",
    "own",
    multiple=True,
    callback=_lines,
    help='What else belongs to each print: "mat board=4.50".',
)
@click.option(
    "--ink-ml-m2",
    type=float,
    help="State the ink of a square metre of picture, in place of the journal.",
)
@click.option("--edition", type=click.IntRange(1), help="Prints in the edition.")
@click.option("--out", type=PATH, help="The sheet to write: .pdf or .csv.")
@click.option(
    "--page",
    type=click.Choice(["A4", "Letter"], case_sensitive=False),
    default="A4",
    show_default=True,
    help="Paper of the PDF.",
)
@click.option("--overwrite", is_flag=True, help="Replace that sheet if it is there.")
def price(  # noqa: PLR0913 - each is an option
    plans: tuple[Path, ...],
    *,
    mark_up: Decimal,
    round_to: Decimal,
    own: tuple[OwnLine, ...],
    ink_ml_m2: float | None,
    edition: int | None,
    out: Path | None,
    page: str,
    overwrite: bool,
) -> None:
    """Tell what prints of plans cost in paper, ink and time, and their price."""
    from printplan.record.decision_sheet.pdf_sheet import PageSize  # noqa: PLC0415
    from printplan.record.price_page import (  # noqa: PLC0415
        require_price_name,
        write_price_sheet,
    )
    from printplan.record.price_sheet import (  # noqa: PLC0415
        TABLE_HEAD,
        Terms,
        price_cells,
        priced,
        terms_words,
    )

    if out is not None:
        require_price_name(out, overwrite=overwrite)
    terms = Terms(
        mark_up=mark_up, step=round_to, own=own, ink_ml_m2=ink_ml_m2, edition=edition
    )
    rows = priced(plans, terms)
    tell(*table([TABLE_HEAD, *map(price_cells, rows)]))
    tell(*terms_words(rows, terms))
    if out is not None:
        written = write_price_sheet(
            rows,
            terms,
            out,
            made_on=datetime.now(tz=UTC).astimezone(),
            page=PageSize(page),
            overwrite=overwrite,
        )
        tell(f"The price sheet is {written}.")
