"""What do paper, ink and time of one print cost, and how is that known?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING, Final

from printplan.checks.paper import stock_for
from printplan.errors import RecordError
from printplan.foreign_file import is_regular
from printplan.plan import resolve
from printplan.record.ink_estimate import (
    InkEstimate,
    estimate_in_journal,
    journal_near,
)
from printplan.record.paper_book import read_paper_book
from printplan.spec import Delivery
from printplan.units import short_words

if TYPE_CHECKING:
    from pathlib import Path

    from printplan.media import Stock
    from printplan.plan import PrintPlan
    from printplan.record.record import PrintRecord

CENT: Final = Decimal("0.01")
"""Each part of a cost is rounded to it, halves up; a sum is that of rounded parts."""


def rounded(amount: float | Decimal, step: Decimal = CENT) -> Decimal:
    """
    An amount of money on the steps that it is told in.

    Parameters
    ----------
    step : Decimal, optional
        Such as 0.01, 1 or 5.

    Returns
    -------
    Decimal
        Halves go up.

    Examples
    --------
    >>> rounded(2.675), rounded(2.2275), rounded(137.5, Decimal(5))
    (Decimal('2.68'), Decimal('2.23'), Decimal('140'))
    """
    steps = Decimal(str(amount)) / step
    return steps.quantize(Decimal(1), rounding=ROUND_HALF_UP) * step


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnLine:
    """
    A part of a print's cost that a person typed, such as a mat or a box.

    Attributes
    ----------
    amount : Decimal
        For one print, in the currency of the rest.
    """

    what: str
    amount: Decimal

    def __post_init__(self) -> None:
        if not self.what.strip() or not self.amount.is_finite() or self.amount < 0:
            raise RecordError(
                f'The line of cost "{self.what}" is {self.amount}.',
                remedy='Give a name and 0 or more, such as "mat board" and 4.50.',
            )


_NUMBERS: Final = (
    "paper_amount",
    "paper_price",
    "ink_ml",
    "ink_price_per_ml",
    "minutes",
    "hourly_rate",
)


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
        As it was measured.
    estimate : InkEstimate or None
        Of ink that was not measured; None if there can be none.
    minutes : float or None
        That the printer prints.
    hourly_rate : float or None
        What an hour costs; time is no part of the cost where it is None.
    own : tuple of OwnLine
        What a person typed.
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
    estimate: InkEstimate | None = None
    minutes: float | None = None
    hourly_rate: float | None = None
    own: tuple[OwnLine, ...] = ()
    source: str = ""

    def __post_init__(self) -> None:
        for name in _NUMBERS:
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
        """Cost of the ink that was measured; None if not known."""
        return _product(self.ink_ml, self.ink_price_per_ml)

    @property
    def estimated_ink(self) -> tuple[float | None, float | None, float | None]:
        """Cost of the ink as estimated, and its interval; None where not known."""
        found = self.estimate or InkEstimate(ml=None, words="")
        low, middle, high = (
            _product(it, self.ink_price_per_ml)
            for it in (found.low_ml, found.ml, found.high_ml)
        )
        return middle, low, high

    @property
    def time(self) -> float | None:
        """Cost of the time; None if not known."""
        return _product(self.minutes, self.hourly_rate and self.hourly_rate / 60)

    @property
    def parts(self) -> dict[str, Decimal | None]:
        """
        Cost by what it is of, each rounded; None where it is not known.

        Time is among them only where an hour has a price.
        """
        ink = self.ink if self.ink_ml is not None else self.estimated_ink[0]
        known: dict[str, float | Decimal | None] = {"paper": self.paper, "ink": ink}
        if self.hourly_rate is not None:
            known["time"] = self.time
        known |= {it.what: it.amount for it in self.own}
        return {
            what: None if cost is None else rounded(cost)
            for what, cost in known.items()
        }

    @property
    def total(self) -> Decimal | None:
        """All parts together; None if any of them is not known."""
        parts = self.parts.values()
        if any(it is None for it in parts):
            return None
        return sum((it for it in parts if it is not None), Decimal())


def recorded_cost(
    record: PrintRecord,
    *,
    journal: str | Path | None = None,
    hourly_rate: float | None = None,
) -> CostBasis | None:
    """
    What a record tells of the cost of one print, its ink estimated by a journal.

    Parameters
    ----------
    journal : str or Path, optional
        Whose measured prints say what ink is used; the one beside the record's paper
        book if not given. It need not be there.
    hourly_rate : float, optional
        What an hour costs.

    Returns
    -------
    CostBasis or None
        As `plan_cost` gives it: what was used is in no record. None for a file that
        an outside service prints.

    Raises
    ------
    RecordError
        If the journal is there and cannot be read.
    """
    estimate = estimate_in_journal(
        record.ink_load,
        record.paper,
        record.printer,
        journal_near(record.book) if journal is None else journal,
    )
    plan = resolve(record.facts, record.paper, record.printer, record.spec)
    return plan_cost(
        plan, estimate, currency=record.currency or "", hourly_rate=hourly_rate
    )


def hourly_rate_in(book: str | Path) -> float | None:
    """
    What an hour costs by a paper book.

    Returns
    -------
    float or None
        None if the book does not say, or is not there any more.
    """
    if not str(book) or not is_regular(book):
        return None
    return read_paper_book(book).hourly_rate


def plan_cost(
    plan: PrintPlan,
    estimate: InkEstimate | None,
    *,
    currency: str,
    hourly_rate: float | None = None,
    own: tuple[OwnLine, ...] = (),
) -> CostBasis | None:
    """
    What one print of a plan costs, as far as book and journal know.

    Parameters
    ----------
    estimate : InkEstimate or None
        Of its ink; see `ink_ml_of`.
    currency : str
        Of prices that name none: the paper book's own; empty if not known.
    hourly_rate : float or None, optional
        What an hour costs.
    own : tuple of OwnLine, optional
        What else belongs to one print.

    Returns
    -------
    CostBasis or None
        None for a file that an outside service prints, and if nothing is known.
    """
    if plan.delivery.colour is Delivery.NAMED_SPACE:
        return None
    paper = planned_paper(plan, currency)
    minutes = None
    if plan.printer.m2_per_h is not None:
        minutes = plan.printed_m2 / plan.printer.m2_per_h * 60
    has_ink = estimate is not None and estimate.ml is not None
    if paper is None and minutes is None and not has_ink and not own:
        return None
    basis = paper or CostBasis(
        currency=plan.printer.currency or currency,
        ink_price_per_ml=plan.printer.ink_price_per_ml,
        source="no price of this paper is in the book",
    )
    ink_words = "ink used is not recorded" if estimate is None else estimate.words
    words = [basis.source, f"ink {ink_words}" if estimate else ink_words]
    if minutes is not None:
        words.append(f"time at {plan.printer.m2_per_h:g} m²/h, as the book has it")
    return replace(
        basis,
        estimate=estimate,
        minutes=minutes,
        hourly_rate=hourly_rate,
        own=own,
        source="; ".join(words),
    )


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
