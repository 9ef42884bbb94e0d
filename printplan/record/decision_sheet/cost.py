"""What do paper and ink of one print cost, and how is that known?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from printplan.checks.paper import stock_for
from printplan.errors import RecordError
from printplan.plan import resolve
from printplan.record.decision_sheet.section import NOT_KNOWN
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
    after the picture lie within it. What a cutter drops between two prints is known
    to nobody here, and is not counted.
    """
    if record.spec.delivery.colour is Delivery.NAMED_SPACE:
        return None
    plan = resolve(record.facts, record.paper, record.printer, record.spec)
    kept = stock_for(plan)
    if kept is None or kept.price_each is None:
        return None
    own = record.currency or ""
    currency = kept.currency or own
    same = currency == (record.printer.currency or own)
    basis = CostBasis(
        currency=currency,
        paper_amount=1.0,
        paper_price=kept.price_each,
        ink_price_per_ml=record.printer.ink_price_per_ml if same else None,
        source="the paper book as it was",
    )
    if kept.roll_width_mm is None:
        return basis
    return _of_roll(basis, plan, kept)


def _of_roll(basis: CostBasis, plan: PrintPlan, roll: Stock) -> CostBasis:
    """The same for a length of roll, and how it is reckoned."""
    used_m = plan.layout.in_feed_mm[1] / 1000
    basis = replace(basis, paper_amount=used_m, paper_unit="m", paper_price=None)
    whole = f"{roll.price_each:.2f} {basis.currency}".rstrip()
    if roll.roll_length_m is None:
        words = f"a {roll.words} costs {whole}, and its length is not in the book"
        return replace(basis, source=f"{basis.source}; {words}")
    margins, unit = plan.feed.margins, plan.spec.lengths_in
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


def service_rows() -> tuple[tuple[str, str], ...]:
    """
    Cost of a print that an outside service makes.

    Returns
    -------
    tuple of tuple of str
        As from `cost_rows`: paper and ink of this studio play no part.
    """
    return (("Price", f"the print service's, {NOT_KNOWN} here"),)


def cost_rows(basis: CostBasis | None) -> tuple[tuple[str, str], ...]:
    """
    Cost of one print in words.

    Parameters
    ----------
    basis : CostBasis or None
        None if nothing is known.

    Returns
    -------
    tuple of tuple of str
        What, and its cost with the numbers behind it. There is no sum of which a
        part is missing.
    """
    if basis is None:
        return (("Paper", NOT_KNOWN), ("Ink", NOT_KNOWN))
    paper, ink = basis.paper, basis.ink
    rows = [
        ("Paper", _told(basis, paper, basis.paper_amount, basis.paper_unit)),
        ("Ink", _told(basis, ink, basis.ink_ml, "ml")),
    ]
    if paper is not None and ink is not None:
        rows.append(("Together", f"{paper + ink:.2f} {basis.currency}".rstrip()))
    rows.append(("By", basis.source or NOT_KNOWN))
    return tuple(rows)


def _product(amount: float | None, price: float | None) -> float | None:
    return None if amount is None or price is None else amount * price


def _told(basis: CostBasis, cost: float | None, amount: float | None, unit: str) -> str:
    if cost is None:
        known = "" if amount is None else f" ({amount:g} {unit})"
        return f"{NOT_KNOWN}{known}"
    price = basis.paper_price if unit == basis.paper_unit else basis.ink_price_per_ml
    each = f"{price:g}" if price is None or round(price, 2) != price else f"{price:.2f}"
    total = f"{cost:.2f} {basis.currency}".rstrip()
    return f"{total} ({amount:g} {unit} at {each})"
