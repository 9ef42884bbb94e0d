"""What does a run need: paper, ink, money and time?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from printplan.media import MediaForm
from printplan.units import short_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from printplan.plan import PrintPlan
    from printplan.record.run.places import RowPlan
    from printplan.record.run.steps import Prepared


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperNeed:
    """
    Paper of one kind.

    Attributes
    ----------
    paper : str
        Its name in the paper book.
    sheet : str
        Name of the sheet, or the width of the roll.
    amount : float
        Sheets, or metres of the roll.
    unit : str
        ``sheet`` or ``m``.
    """

    paper: str
    sheet: str
    amount: float
    unit: str

    def __str__(self) -> str:
        if self.unit == "m":
            return f"{self.amount:.2f} m of {self.paper}, {self.sheet}"
        sheets = "sheet" if self.amount == 1 else "sheets"
        return f"{self.amount:.0f} {sheets} of {self.paper}, {self.sheet}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """
    What the prints of a table need, with all their copies.

    Attributes
    ----------
    files : int
        Plans, of which each makes one file.
    prints : int
        With copies.
    prices : tuple of (str, float)
        Currency, and what the paper costs in it.
    priced : int
        Prints whose paper has a price.
    ink_ml : float or None
        None if it is not known of every print.
    """

    files: int
    prints: int
    paper: tuple[PaperNeed, ...]
    prices: tuple[tuple[str, float], ...]
    priced: int
    ink_ml: float | None

    @property
    def price_words(self) -> str:
        """What the paper costs, and of how many prints that is known."""
        if not self.prices:
            return "not known: the paper book has no price"
        told = " + ".join(f"{it:.2f} {money}".rstrip() for money, it in self.prices)
        if self.priced == self.prints:
            return told
        return f"{told} for {self.priced} of {self.prints} prints; the rest not known"


def totals_of(rows: Iterable[Prepared]) -> Totals:
    """Add up the rows that could be planned."""
    prepared = list(rows)
    paper: dict[tuple[str, str, str], float] = {}
    prices: dict[str, float] = {}
    prints = priced = 0
    ink: list[float | None] = []
    for it in prepared:
        copies = it.plan.delivery.copies
        need = paper_need(it.plan)
        key = (need.paper, need.sheet, need.unit)
        paper[key] = paper.get(key, 0.0) + need.amount
        prints += copies
        ink.append(None if it.ink_ml is None else it.ink_ml * copies)
        price = None if it.paper is None else it.paper.paper
        if it.paper is not None and price is not None:
            prices[it.paper.currency] = (
                prices.get(it.paper.currency, 0) + price * copies
            )
            priced += copies
    known = [it for it in ink if it is not None]
    return Totals(
        files=len(prepared),
        prints=prints,
        paper=tuple(
            PaperNeed(paper=name, sheet=sheet, amount=amount, unit=unit)
            for (name, sheet, unit), amount in sorted(paper.items())
        ),
        prices=tuple(sorted(prices.items())),
        priced=priced,
        ink_ml=sum(known) if known and len(known) == len(ink) else None,
    )


def paper_need(plan: PrintPlan) -> PaperNeed:
    """Paper for all copies of one plan, each on a sheet or a length of its own."""
    copies, spec = plan.delivery.copies, plan.spec
    if plan.feed.takes is MediaForm.SHEETS:
        return PaperNeed(
            paper=plan.paper.name,
            sheet=spec.sheet.media_size,
            amount=float(copies),
            unit="sheet",
        )
    across_mm, along_mm = plan.layout.in_feed_mm
    return PaperNeed(
        paper=plan.paper.name,
        sheet=f"roll {short_words(spec.lengths_in, across_mm)} wide",
        amount=copies * along_mm / 1000,
        unit="m",
    )


def forecast_s(
    rows: Sequence[Prepared], before: Iterable[RowPlan], at_once: int
) -> float | None:
    """
    How long making what is missing will take.

    Parameters
    ----------
    before : iterable of RowPlan
        Prints that were made, with their pixels and seconds.
    at_once : int
        Prints that are made side by side.

    Returns
    -------
    float or None
        Seconds on the clock; None while no print of this table was made.
    """
    timed = [it for it in before if it.seconds > 0 and it.pixels > 0]
    missing = [it.plan.file_box for it in rows if it.made is None]
    if not timed:
        return None
    rate = sum(it.seconds for it in timed) / sum(it.pixels for it in timed)
    each = [it.width * it.height * rate for it in missing]
    # Side by side, but never quicker than the longest one.
    return max(sum(each) / at_once, max(each, default=0.0))


def totals_rows(
    totals: Totals, forecast: float | None, took_s: float | None = None
) -> Iterator[tuple[str, str]]:
    """
    The same in words.

    Parameters
    ----------
    forecast : float or None
        From `forecast_s`.
    took_s : float, optional
        What making the prints took, once that is known; the forecast is not told then.

    Yields
    ------
    tuple of (str, str)
        What, and how much.
    """
    files = "file" if totals.files == 1 else "files"
    yield "prints", f"{totals.prints} from {totals.files} {files}"
    for need in totals.paper:
        yield "paper", str(need)
    yield "price of paper", totals.price_words
    yield "ink", _ink_words(totals.ink_ml)
    if took_s is not None:
        yield "time", f"{duration_words(took_s)} for the files made now"
    elif forecast is None:
        yield "time", "not known: no print of this table was made yet"
    elif forecast > 0:
        yield "time", f"about {duration_words(forecast)} for what is missing"
    else:
        yield "time", "nothing is missing"


def _ink_words(ink_ml: float | None) -> str:
    if ink_ml is None:
        return "not calibrated: too few prints were noted with the ink they took"
    return f"{ink_ml:.1f} ml, by the journal's measured prints"


def duration_words(seconds: float) -> str:
    """
    A time as it is waited for.

    Examples
    --------
    >>> duration_words(8.21), duration_words(100), duration_words(7500)
    ('8.2 s', '1 min 40 s', '2 h 5 min')
    """
    if seconds < 60:
        return f"{seconds:.1f} s"
    whole = round(seconds)
    if whole < 3600:
        return f"{whole // 60} min {whole % 60} s"
    return f"{whole // 3600} h {whole % 3600 // 60} min"
