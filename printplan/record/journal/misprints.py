"""How many prints were lost, to what, at what cost, and how sure is that?"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from math import fsum, hypot
from typing import TYPE_CHECKING, TypeVar

from printplan.errors import RecordError
from printplan.record.journal.entry import Outcome, PaperUnit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from printplan.record.journal.entry import JournalEntry, PrintEntry


CONFIDENCE = 0.95
"""Share of intervals, in the long run, that hold the true share. Convention."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """
    A share with its interval.

    Attributes
    ----------
    lost, prints : int
        Misprints, out of all prints.
    share : float or None
        0 to 1; None of no prints at all.
    low, high : float
        Wilson score interval of `CONFIDENCE`; 0 and 1 of no prints.
    """

    lost: int
    prints: int
    share: float | None
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RateFall:
    """
    How much lower the second of two shares is.

    Attributes
    ----------
    fall : float
        First share less the second, -1 to 1; below 0 if it rose.
    low, high : float
        Its interval of `CONFIDENCE`. If 0 lies in it, the counts do not tell whether
        the share fell at all.
    """

    fall: float
    low: float
    high: float


def misprint_rate(lost: int, prints: int) -> Rate:
    """
    Share of prints lost, with its Wilson score interval.

    Parameters
    ----------
    prints : int
        All prints, the lost ones too.

    Raises
    ------
    RecordError
        If more are lost than were made, or a count is below 0.

    Notes
    -----
    The Wilson interval [1]_ stays within 0 and 1 and says something sensible of 0 in
    10, where share ± two standard errors says "0 to 0" [2]_. It takes each print as
    drawn by itself. Copies that were spoiled together, by one wrong setting, are
    really one loss: with many such the interval is too narrow.

    References
    ----------
    .. [1] E. B. Wilson (1927), Probable inference, the law of succession, and
       statistical inference, J. Am. Stat. Assoc. 22(158), 209-212.
    .. [2] R. G. Newcombe (1998), Two-sided confidence intervals for the single
       proportion: comparison of seven methods, Stat. Med. 17(8), 857-872.

    Examples
    --------
    >>> rate = misprint_rate(81, 263)
    >>> round(rate.low, 4), round(rate.high, 4)
    (0.2553, 0.3662)
    """
    if not 0 <= lost <= prints:
        raise RecordError(
            f"{lost} of {prints} prints are given as lost.",
            remedy="Give counts from 0 up, the lost ones being part of all.",
        )
    if prints == 0:
        return Rate(lost=0, prints=0, share=None, low=0.0, high=1.0)
    from scipy.stats import binomtest  # noqa: PLC0415 - 0.8 s to load

    interval = binomtest(lost, prints).proportion_ci(CONFIDENCE, method="wilson")
    return Rate(
        lost=lost,
        prints=prints,
        share=lost / prints,
        low=float(interval.low),
        high=float(interval.high),
    )


def rate_fall(before: Rate, after: Rate) -> RateFall | None:
    """
    How much the share fell between two sets of prints.

    Parameters
    ----------
    before, after : Rate
        Of different prints.

    Returns
    -------
    RateFall or None
        None if one of the sets is empty.

    Notes
    -----
    Newcombe's hybrid of the two Wilson intervals, method 10 of [1]_. It says how far
    the shares lie apart, and nothing about why.

    References
    ----------
    .. [1] R. G. Newcombe (1998), Interval estimation for the difference between
       independent proportions: comparison of eleven methods, Stat. Med. 17(8),
       873-890.
    """
    if before.share is None or after.share is None:
        return None
    fall = before.share - after.share
    return RateFall(
        fall=fall,
        low=fall - hypot(before.share - before.low, after.high - after.share),
        high=fall + hypot(before.high - before.share, after.share - after.low),
    )


Key = TypeVar("Key", str, date)


@dataclass(frozen=True, slots=True, kw_only=True)
class Waste:
    """
    What misprints took.

    Attributes
    ----------
    prints : int
        Copies lost.
    cost : mapping of str to Decimal
        By currency, of those with a known cost.
    prints_without_cost : int
        Copies lost whose cost is not known.
    sheets, metres : float
        Paper, as far as it is known.
    ink_ml : float
        As far as it is known.
    """

    prints: int = 0
    cost: Mapping[str, Decimal] = field(default_factory=dict)
    prints_without_cost: int = 0
    sheets: float = 0.0
    metres: float = 0.0
    ink_ml: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BeforeAfter:
    """
    Misprints before a day and from it on.

    Attributes
    ----------
    since : date
        First day of the second part.
    fall : RateFall or None
        None if one of the parts has no prints.
    """

    since: date
    before: Rate
    after: Rate
    fall: RateFall | None
    waste_before: Waste
    waste_after: Waste


def overall_rate(entries: Iterable[JournalEntry]) -> Rate:
    """
    Share of prints lost.

    Parameters
    ----------
    entries : iterable of JournalEntry
        Trials and struck entries are left out, here and below; copies count each.
    """
    made, lost = _counts(entries, lambda _: "")
    return misprint_rate(lost[""], made[""])


def rates_by_month(entries: Iterable[JournalEntry]) -> dict[date, Rate]:
    """
    Share of prints lost in each month.

    Returns
    -------
    dict of date to Rate
        By the first of the month as the printer's own calendar had it, from the first
        print to the last; months without a print have a rate of none.
    """
    made, lost = _counts(entries, lambda it: it.printed_at.date().replace(day=1))
    rates = {}
    month = min(made, default=date.max)
    while month <= max(made, default=date.min):
        rates[month] = misprint_rate(lost[month], made[month])
        years, index = divmod(month.year * 12 + month.month, 12)
        month = date(years, index + 1, 1)
    return rates


def rates_by_cause(entries: Iterable[JournalEntry]) -> dict[str, Rate]:
    """
    Share of all prints that each cause took.

    Returns
    -------
    dict of str to Rate
        The commonest cause first; every one is out of all prints.
    """
    made, lost = _counts(entries, lambda it: it.cause)
    return {
        cause: misprint_rate(count, made.total()) for cause, count in _by_count(lost)
    }


def rates_by_check(entries: Iterable[JournalEntry]) -> dict[str, Rate]:
    """
    Share of all prints that each finding would have saved.

    Returns
    -------
    dict of str to Rate
        By the finding's `topic`, the one that would have saved most first; the empty
        name stands for misprints that no finding would have saved.
    """
    made, lost = _counts(entries, lambda it: it.caught_by)
    return {
        about: misprint_rate(count, made.total()) for about, count in _by_count(lost)
    }


def before_after(entries: Iterable[JournalEntry], since: date) -> BeforeAfter:
    """
    Misprints before a day and from it on.

    Parameters
    ----------
    since : date
        The first day of the second part, as the printer's own calendar had it.
    """
    parts: dict[bool, list[JournalEntry]] = {True: [], False: []}
    for noted in entries:
        parts[is_after(noted, since)].append(noted)
    before, after = (overall_rate(parts[part]) for part in (False, True))
    return BeforeAfter(
        since=since,
        before=before,
        after=after,
        fall=rate_fall(before, after),
        waste_before=waste(parts[False]),
        waste_after=waste(parts[True]),
    )


def is_after(noted: JournalEntry, since: date) -> bool:
    """
    Whether a print was made on a day or later.

    Parameters
    ----------
    since : date
        As the printer's own calendar had it.
    """
    return noted.entry.printed_at.date() >= since


def waste(entries: Iterable[JournalEntry]) -> Waste:
    """What misprints took."""
    lost = [it for it in _counted(entries) if it.outcome is Outcome.MISPRINT]
    cost: dict[str, Decimal] = {}
    for entry in lost:
        if entry.cost is not None:
            spent = cost.get(entry.cost.currency, Decimal(0)) + entry.cost.amount
            cost[entry.cost.currency] = spent
    return Waste(
        prints=sum(entry.copies for entry in lost),
        cost=cost,
        prints_without_cost=sum(entry.copies for entry in lost if entry.cost is None),
        sheets=_paper(lost, PaperUnit.SHEETS),
        metres=_paper(lost, PaperUnit.METRES),
        ink_ml=fsum(entry.ink_ml or 0.0 for entry in lost),
    )


def waste_by_cause(entries: Iterable[JournalEntry]) -> dict[str, Waste]:
    """
    What each cause of misprints took.

    Returns
    -------
    dict of str to Waste
        The cause that took most prints first.
    """
    noted = list(entries)
    _, lost = _counts(noted, lambda it: it.cause)
    return {
        cause: waste(one for one in noted if one.entry.cause == cause)
        for cause, _ in _by_count(lost)
    }


def _counted(entries: Iterable[JournalEntry]) -> list[PrintEntry]:
    return [
        noted.entry
        for noted in entries
        if not noted.is_struck and noted.entry.outcome is not Outcome.TRIAL
    ]


def _counts(
    entries: Iterable[JournalEntry], key: Callable[[PrintEntry], Key]
) -> tuple[Counter[Key], Counter[Key]]:
    """Copies made and copies lost, by key."""
    made: Counter[Key] = Counter()
    lost: Counter[Key] = Counter()
    for entry in _counted(entries):
        made[key(entry)] += entry.copies
        if entry.outcome is Outcome.MISPRINT:
            lost[key(entry)] += entry.copies
    return made, lost


def _by_count(lost: Counter[str]) -> list[tuple[str, int]]:
    """Most first; of equal ones in the order of their names."""
    return sorted(lost.items(), key=lambda pair: (-pair[1], pair[0]))


def _paper(lost: Iterable[PrintEntry], unit: PaperUnit) -> float:
    used = (entry.paper_used for entry in lost)
    return fsum(it.amount for it in used if it is not None and it.unit is unit)
