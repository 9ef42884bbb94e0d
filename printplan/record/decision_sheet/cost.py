"""How is the cost of one print told?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.record.decision_sheet.section import NOT_KNOWN

if TYPE_CHECKING:
    from printplan.record.cost import CostBasis


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


def _told(basis: CostBasis, cost: float | None, amount: float | None, unit: str) -> str:
    if cost is None:
        known = "" if amount is None else f" ({amount:g} {unit})"
        return f"{NOT_KNOWN}{known}"
    price = basis.paper_price if unit == basis.paper_unit else basis.ink_price_per_ml
    each = f"{price:g}" if price is None or round(price, 2) != price else f"{price:.2f}"
    total = f"{cost:.2f} {basis.currency}".rstrip()
    return f"{total} ({amount:g} {unit} at {each})"
