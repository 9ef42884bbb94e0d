"""What do paper and ink of one print cost, and how is that known?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from printplan.errors import RecordError
from printplan.record.decision_sheet.section import NOT_KNOWN

if TYPE_CHECKING:
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
    ink_ml : float or None
    ink_price_per_ml : float or None
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

    Parameters
    ----------
    record : PrintRecord

    Returns
    -------
    CostBasis or None
        One sheet of that size at the price in the paper book, and the price of ink;
        how much ink was used is never in a record. None if no price is.
    """
    size = record.spec.sheet.media_size
    ink_price = record.printer.ink_price_per_ml
    for kept in record.paper.stock:
        if kept.sheet == size and kept.price_each is not None:
            same = kept.currency == record.printer.currency
            return CostBasis(
                currency=kept.currency or "",
                paper_amount=1.0,
                paper_price=kept.price_each,
                ink_price_per_ml=ink_price if same else None,
                source="the paper book as it was; ink used is not recorded",
            )
    return None


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
