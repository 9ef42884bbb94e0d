"""What do paper and ink of one print cost, and how is that known?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from printplan.checks.paper import stock_for
from printplan.errors import RecordError
from printplan.plan import resolve
from printplan.spec import Delivery
from printplan.units import short_words

if TYPE_CHECKING:
    from printplan.media import Stock
    from printplan.plan import PrintPlan
    from printplan.record.record import PrintRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class CostBasis:
    """
    Prices and amounts of one print; whatever is not known is None.

    Attributes
    ----------
    currency : str
        As it is written behind a price, such as ``EUR``; empty if not known.
    paper_amount : float or None
        Sheets, or metres of a roll.
    paper_unit : str
        ``sheet`` or ``m``.
    paper_price : float or None
        For one of that unit.
    source : str
        Where the numbers come from, such as ``paper book, ink as the printer
        counted it``.
    """

    currency: str
    paper_amount: float | None = None
    paper_unit: str = "sheet"
    paper_price: float | None = None
    ink_ml: float | None = None
    ink_price_per_ml: float | None = None
    source: str = ""

    def __post_init__(self) -> None:
        for name in ("paper_amount", "paper_price", "ink_ml", "ink_price_per_ml"):
            value = getattr(self, name)
            if value is not None and not 0 <= value < 1e9:
                raise RecordError(
                    f"The cost has {name} {value:g}.",
                    remedy="Give 0 or more, or leave it out if it is not known.",
                )

    @property
    def paper(self) -> float | None:
        """Cost of the paper; None if not known."""
        return _product(self.paper_amount, self.paper_price)

    @property
    def ink(self) -> float | None:
        """Cost of the ink; None if not known."""
        return _product(self.ink_ml, self.ink_price_per_ml)


def recorded_cost(record: PrintRecord) -> CostBasis | None:
    """
    What a record tells of the cost of one print.

    Returns
    -------
    CostBasis or None
        As `recorded_paper` gives it, saying that the ink used is in no record.
    """
    basis = recorded_paper(record)
    if basis is None:
        return None
    return replace(basis, source=f"{basis.source}; ink used is not recorded")


def recorded_paper(record: PrintRecord) -> CostBasis | None:
    """
    The paper of one print at the price in the paper book, and the price of ink.

    Returns
    -------
    CostBasis or None
        One sheet, or the length of roll that is cut off. None if no price is known,
        and for a file that an outside service prints.

    Notes
    -----
    A metre of roll costs the price of a whole one over its length. The length cut
    off is that of the sheet along the feed; the feed path's white edges before and
    after the picture lie within it. What a cutter drops between two prints is not
    known, and is not counted.
    """
    plan = resolve(record.facts, record.paper, record.printer, record.spec)
    return planned_paper(plan, record.currency)


def planned_paper(plan: PrintPlan, currency: str | None) -> CostBasis | None:
    """
    The same of a plan, before its file is made.

    Parameters
    ----------
    currency : str or None
        The paper book's, of prices that name none.
    """
    if plan.delivery.colour is Delivery.NAMED_SPACE:
        return None
    stock = stock_for(plan)
    if stock is None or stock.price_each is None:
        return None
    own = currency or ""
    currency = stock.currency or own
    same = currency == (plan.printer.currency or own)
    basis = CostBasis(
        currency=currency,
        paper_amount=1.0,
        paper_price=stock.price_each,
        ink_price_per_ml=plan.printer.ink_price_per_ml if same else None,
        source="the paper book as it was",
    )
    if stock.roll_width_mm is None:
        return basis
    return _of_roll(basis, plan, stock)


def _of_roll(basis: CostBasis, plan: PrintPlan, roll: Stock) -> CostBasis:
    """The same for a length of roll, and how its cost is computed."""
    used_m = plan.layout.in_feed_mm[1] / 1000
    basis = replace(basis, paper_amount=used_m, paper_unit="m", paper_price=None)
    whole = f"{roll.price_each:.2f} {basis.currency}".rstrip()
    unit, across_mm = plan.spec.lengths_in, roll.roll_width_mm or 0.0
    if roll.roll_length_m is None:
        across = short_words(unit, across_mm)
        words = f"a roll {across} wide costs {whole}, and its length is not in the book"
        return replace(basis, source=f"{basis.source}; {words}")
    margins = plan.feed.margins
    words = (
        f"{whole} for a roll of {roll.roll_length_m:g} m, by the length cut off: "
        f"white edges of {short_words(unit, margins.leading_mm)} and "
        f"{short_words(unit, margins.trailing_mm)} are in it, waste of the cutter is "
        "not"
    )
    return replace(
        basis,
        paper_price=(roll.price_each or 0.0) / roll.roll_length_m,
        source=f"{basis.source}, {words}",
    )


def _product(amount: float | None, price: float | None) -> float | None:
    return None if amount is None or price is None else amount * price
