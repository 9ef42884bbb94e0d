"""What do prints of several plans cost, and at which price are they sold?"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Final

from printplan.checks.paper import stock_for
from printplan.errors import RecordError
from printplan.media import MediaForm
from printplan.record.cost import (
    CENT,
    CostBasis,
    hourly_rate_in,
    plan_cost,
    rounded,
)
from printplan.record.csv_text import csv_text
from printplan.record.ink_estimate import InkEstimate, ink_ml_of, journal_near
from printplan.record.paper_book import read_paper_book
from printplan.record.plan_file import open_plan_file, read_plan_file
from printplan.spec import Delivery
from printplan.units import LengthUnit, length_words, short_words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from printplan.plan import PrintPlan
    from printplan.record.cost import OwnLine

LARGEST_MARK_UP: Final = Decimal(100)
"""A larger factor is a slip. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """
    How a price follows from a cost.

    Attributes
    ----------
    mark_up : Decimal
        Factor from cost to price, above 0.
    step : Decimal
        Prices are rounded to it, halves up.
    own : tuple of OwnLine
        What else belongs to each print.
    ink_ml_m2 : float or None
        Ink of a square metre of picture, where a person states it in place of the
        journal.
    edition : int or None
        Prints in the edition; None if it is not limited.
    """

    mark_up: Decimal = Decimal("2.5")
    step: Decimal = CENT
    own: tuple[OwnLine, ...] = ()
    ink_ml_m2: float | None = None
    edition: int | None = None

    def __post_init__(self) -> None:
        if not 0 < self.mark_up <= LARGEST_MARK_UP:
            raise RecordError(
                f"The mark-up is {self.mark_up}.",
                remedy=f"Give a factor above 0, up to {LARGEST_MARK_UP}, such as 2.5.",
            )
        if not 0 < self.step <= 10_000:
            raise RecordError(
                f"Prices are to be rounded to {self.step}.",
                remedy="Give 0.01, 1, 5 and the like.",
            )
        names = [it.what.casefold() for it in self.own]
        if len({*names, "paper", "ink", "time"}) < len(names) + 3:
            raise RecordError(
                "Two lines of cost have one name.",
                remedy="Give each a name of its own, none of them paper, ink or time.",
            )
        if self.ink_ml_m2 is not None and not 0 <= self.ink_ml_m2 <= 1000:
            raise RecordError(
                f"A square metre is to take {self.ink_ml_m2:g} ml of ink.",
                remedy="Give 0 to 1000 ml.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Priced:
    """
    One plan with its cost and price.

    Attributes
    ----------
    name : str
        Of the plan's file.
    picture, sheet : str
        Sizes in the plan's unit.
    basis : CostBasis or None
        None if nothing is known.
    price : Decimal or None
        None if a part of the cost is not known.
    """

    name: str
    picture: str
    picture_mm: tuple[float, float]
    sheet: str
    paper: str
    basis: CostBasis | None
    price: Decimal | None

    @property
    def unknown(self) -> tuple[str, ...]:
        """Parts of the cost that are not known."""
        if self.basis is None:
            return ("paper", "ink")
        return tuple(it for it, cost in self.basis.parts.items() if cost is None)


def priced(paths: Iterable[str | Path], terms: Terms) -> tuple[Priced, ...]:
    """
    Prices of plans, each from its own pipeline, paper book and journal.

    Parameters
    ----------
    paths : iterable of str or Path
        Plan files.

    Returns
    -------
    tuple of Priced
        In the order of the plans.

    Raises
    ------
    PrintPlanError
        If a plan cannot be opened, or is for a print service: its price is the
        service's.
    """
    return tuple(_priced(Path(path), terms) for path in paths)


def _priced(path: Path, terms: Terms) -> Priced:
    wish = read_plan_file(path).resolved(path)
    sheet = open_plan_file(wish)
    with sheet.master:
        plan = sheet.plan
        if plan.delivery.colour is Delivery.NAMED_SPACE:
            raise RecordError(
                f"{path.name} is printed by an outside service.",
                remedy="Ask the service for its price, and leave this plan out.",
            )
        if terms.ink_ml_m2 is None:
            ink = ink_ml_of(sheet, journal_near(wish.book))
        else:
            ink = _stated(plan, terms.ink_ml_m2)
    basis = plan_cost(
        plan,
        ink,
        currency=read_paper_book(wish.book).currency or "",
        hourly_rate=hourly_rate_in(wish.book),
        own=terms.own,
    )
    total = None if basis is None else basis.total
    size, unit = plan.picture_size, plan.spec.lengths_in
    return Priced(
        name=path.stem,
        picture=length_words(unit, size.width_mm, size.height_mm),
        picture_mm=(size.width_mm, size.height_mm),
        sheet=_sheet_words(plan),
        paper=plan.paper.name,
        basis=basis,
        price=None if total is None else rounded(total * terms.mark_up, terms.step),
    )


def _stated(plan: PrintPlan, ml_m2: float) -> InkEstimate:
    return InkEstimate(
        ml=plan.printed_m2 * ml_m2,
        words=f"as stated: {ml_m2:g} ml for a square metre of picture",
    )


def _sheet_words(plan: PrintPlan) -> str:
    across_mm, along_mm = plan.layout.in_feed_mm
    unit = plan.spec.lengths_in
    if plan.feed.takes is MediaForm.ROLLS:
        metres = (
            short_words(unit, along_mm)
            if unit is LengthUnit.INCHES
            else f"{along_mm / 1000:.3g} m"
        )
        return f"{metres} of a roll {short_words(unit, across_mm)} wide"
    stock = stock_for(plan)
    return plan.spec.sheet.media_size if stock is None else stock.words


_HEAD: Final = (
    "plan",
    "picture_width_mm",
    "picture_height_mm",
    "paper",
    "sheet",
    "currency",
    "paper_amount",
    "paper_unit",
    "paper_cost",
    "ink_ml",
    "ink_low_ml",
    "ink_high_ml",
    "ink_cost",
    "minutes",
    "time_cost",
    "own_cost",
    "cost",
    "mark_up",
    "price",
    "not_known",
    "known_by",
)


def price_csv(rows: Iterable[Priced], terms: Terms) -> str:
    """
    Prices as comma-separated values (RFC 4180), as `csv_text` writes them.

    Returns
    -------
    str
        What is not known is empty, never 0.
    """
    return csv_text(_HEAD, (_cells(row, terms) for row in rows))


def _cells(row: Priced, terms: Terms) -> list[object]:
    basis = row.basis or CostBasis(currency="")
    parts = basis.parts if row.basis is not None else {}
    ink = basis.estimate
    own = sum((it.amount for it in basis.own), Decimal())
    width_mm, height_mm = row.picture_mm
    return [
        row.name,
        round(width_mm, 2),
        round(height_mm, 2),
        row.paper,
        row.sheet,
        basis.currency,
        basis.paper_amount,
        basis.paper_unit if basis.paper_amount is not None else "",
        parts.get("paper"),
        *(
            None if ml is None else round(ml, 3)
            for ml in ((ink.ml, ink.low_ml, ink.high_ml) if ink else (None,) * 3)
        ),
        parts.get("ink"),
        None if basis.minutes is None else round(basis.minutes, 1),
        parts.get("time"),
        rounded(own) if basis.own else None,
        basis.total if row.basis is not None else None,
        terms.mark_up,
        row.price,
        ", ".join(row.unknown),
        basis.source,
    ]


NOT_KNOWN: Final = "not known"
TABLE_HEAD: Final = (
    "print",
    "paper and sheet",
    "for paper",
    "for ink",
    "for time",
    "other costs",
    "cost",
    "price",
)


def price_cells(row: Priced) -> tuple[str, ...]:
    """
    One row of the table that a person reads, below `TABLE_HEAD`.

    Returns
    -------
    tuple of str
        Amounts of money with their currency; what is not known says so.
    """
    basis = row.basis or CostBasis(currency="")
    parts = basis.parts
    own = sum((it.amount for it in basis.own), Decimal())
    time = "not counted" if basis.hourly_rate is None else _money(parts.get("time"))
    if basis.minutes is not None:
        time = f"{time} ({basis.minutes:.0f} min)"
    return (
        f"{row.name}: {row.picture}",
        f"{row.paper}, {row.sheet}",
        _money(parts["paper"]),
        _ink_cell(basis),
        time,
        _money(rounded(own)) if basis.own else "none",
        _money(basis.total, basis.currency),
        _money(row.price, basis.currency),
    )


def _ink_cell(basis: CostBasis) -> str:
    if basis.estimate is not None and basis.estimate.ml is None:
        return "not calibrated"
    _, low, high = basis.estimated_ink
    told = _money(basis.parts["ink"])
    return told if low is None or high is None else f"{told} ({low:.2f} to {high:.2f})"


def _money(amount: Decimal | None, currency: str = "") -> str:
    return NOT_KNOWN if amount is None else f"{amount} {currency}".rstrip()


def terms_words(rows: Iterable[Priced], terms: Terms) -> tuple[str, ...]:
    """What stands below the table: how a price is made, and by what it is known."""
    step = "the cent" if terms.step == CENT else f"steps of {terms.step}"
    how = (
        f"Price: cost times {terms.mark_up}, rounded to {step}, halves up; each part "
        "of the cost is rounded to the cent before. Where a part is not known there is "
        "no cost and no price. Taxes are not in it."
    )
    words = [how]
    if terms.edition is not None:
        words.append(f"For an edition of {terms.edition} prints.")
    if terms.own:
        lines = "; ".join(f"{it.what} {rounded(it.amount)}" for it in terms.own)
        words.append(f"Own lines of each print: {lines}.")
    known: dict[str, list[str]] = {}
    for it in rows:
        if it.basis is not None:
            known.setdefault(it.basis.source, []).append(it.name)
    several = len(known) > 1
    return (
        *words,
        *(
            f"{', '.join(names)}: by {source}." if several else f"By {source}."
            for source, names in known.items()
        ),
    )
