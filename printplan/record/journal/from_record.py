"""What does the record of a print tell the journal?"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.media import MediaForm
from printplan.plan import resolve
from printplan.record.cost import CostBasis, recorded_paper
from printplan.record.journal.entry import (
    Cost,
    Outcome,
    PaperUnit,
    PaperUsed,
    PrintEntry,
)
from printplan.spec import member

if TYPE_CHECKING:
    from datetime import datetime

    from printplan.record.record import PrintRecord


_CENT = Decimal("0.01")


def entry_from_record(  # noqa: PLR0913 - what only the photographer knows
    record: PrintRecord,
    *,
    printed_at: datetime,
    outcome: Outcome | str,
    cause: str = "",
    caught_by: str = "",
    copies: int = 1,
    ink_ml: float | None = None,
    cost: CostBasis | None = None,
    currency: str = "",
    note: str = "",
) -> PrintEntry:
    """
    Note how a recorded print came out.

    Parameters
    ----------
    printed_at : datetime
        With its zone; the record knows only when the file was made.
    outcome : Outcome or str
        ``"good"``, ``"misprint"`` or another word of `Outcome`.
    cause, caught_by : str, optional
        Of a misprint; see `PrintEntry`.
    ink_ml : float, optional
        Of one print, as the printer counted it.
    cost : CostBasis, optional
        Of one print; what the record tells of it if not given. Its `ink_ml` counts
        where `ink_ml` is not given.
    currency : str, optional
        Of prices that name none, which is the paper book's own (ISO 4217).

    Returns
    -------
    PrintEntry
        Called as its finished file is. Without a price of the paper, or a currency,
        it has no cost; without the amount of ink and its price the cost is that of
        the paper alone, and its basis says so.

    Raises
    ------
    PrintPlanError
        If the outcome contradicts itself, or the record's plan cannot be made.

    Notes
    -----
    Paper is counted as it went through the feed path: sheets, or the length of roll
    that the plan's page takes.
    """
    plan = resolve(record.facts, record.paper, record.printer, record.spec)
    basis = cost or recorded_paper(record) or CostBasis(currency="")
    basis = replace(
        basis,
        currency=basis.currency or currency,
        ink_ml=basis.ink_ml if ink_ml is None else ink_ml,
    )
    _, along_mm = plan.layout.in_feed_mm
    return PrintEntry(
        printed_at=printed_at,
        plan_id=Path(record.rendered.path).stem,
        paper=record.paper.name,
        printer=record.printer.name,
        width_mm=plan.picture_size.width_mm,
        height_mm=plan.picture_size.height_mm,
        outcome=member(Outcome, outcome, "Outcome"),
        cause=cause,
        caught_by=caught_by,
        copies=copies,
        file_sha256=record.rendered.sha256,
        paper_used=PaperUsed(amount=copies, unit=PaperUnit.SHEETS)
        if plan.feed.takes is MediaForm.SHEETS
        else PaperUsed(amount=copies * along_mm / 1000, unit=PaperUnit.METRES),
        ink_ml=None if basis.ink_ml is None else basis.ink_ml * copies,
        cost=_cost(basis, copies),
        note=note,
    )


def _cost(basis: CostBasis, copies: int) -> Cost | None:
    if basis.paper is None or not basis.currency:
        return None
    amount = Decimal(str(basis.paper)) + Decimal(str(basis.ink or 0))
    return Cost(
        amount=(copies * amount).quantize(_CENT),
        currency=basis.currency,
        basis=_basis_words(basis),
    )


def _basis_words(basis: CostBasis) -> str:
    price, currency = _price(basis.paper_price), basis.currency
    words = f"per print {basis.paper_amount:g} {basis.paper_unit} at {price} {currency}"
    if basis.ink is None:
        words += ", ink not counted"
    else:
        price = _price(basis.ink_price_per_ml)
        words += f" and {basis.ink_ml:g} ml of ink at {price} {currency}"
    return f"{words}; by {basis.source}" if basis.source else words


def _price(price: float | None) -> str:
    """A price with its cents, or all of its digits where they are finer."""
    return f"{price:.2f}" if price == round(price or 0.0, 2) else f"{price:g}"
