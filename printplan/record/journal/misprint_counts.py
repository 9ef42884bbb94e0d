"""How many prints were lost, when, on what paper, to what, and what did it cost?"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from math import fsum
from typing import TYPE_CHECKING, TypeVar

from printplan.record.journal.entry import Outcome
from printplan.record.journal.misprint_rate import misprint_rate, rate_fall
from printplan.record.journal.print_used import PaperUnit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from printplan.record.journal.entry import PrintEntry
    from printplan.record.journal.kept import KeptEntry
    from printplan.record.journal.misprint_rate import Rate, RateFall

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
    before, after : Rate
    fall : RateFall or None
        None if one of the parts has no prints.
    waste_before, waste_after : Waste
    """

    since: date
    before: Rate
    after: Rate
    fall: RateFall | None
    waste_before: Waste
    waste_after: Waste


def overall_rate(entries: Iterable[KeptEntry]) -> Rate:
    """
    Share of prints lost.

    Parameters
    ----------
    entries : iterable of KeptEntry
        Trials and struck entries are left out, here and below; copies count each.

    Returns
    -------
    Rate
    """
    made, lost = _counts(entries, lambda _: "")
    return misprint_rate(lost[""], made[""])


def rates_by_month(entries: Iterable[KeptEntry]) -> dict[date, Rate]:
    """
    Share of prints lost in each month.

    Parameters
    ----------
    entries : iterable of KeptEntry

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


def rates_by_paper(entries: Iterable[KeptEntry]) -> dict[str, Rate]:
    """
    Share of prints lost on each paper.

    Parameters
    ----------
    entries : iterable of KeptEntry

    Returns
    -------
    dict of str to Rate
        In the order of the papers' names.
    """
    made, lost = _counts(entries, lambda it: it.paper)
    return {paper: misprint_rate(lost[paper], made[paper]) for paper in sorted(made)}


def rates_by_cause(entries: Iterable[KeptEntry]) -> dict[str, Rate]:
    """
    Share of all prints that each cause took.

    Parameters
    ----------
    entries : iterable of KeptEntry

    Returns
    -------
    dict of str to Rate
        The commonest cause first; every one is out of all prints.
    """
    made, lost = _counts(entries, lambda it: it.cause)
    return {
        cause: misprint_rate(count, made.total()) for cause, count in _by_count(lost)
    }


def rates_by_check(entries: Iterable[KeptEntry]) -> dict[str, Rate]:
    """
    Share of all prints that each finding would have saved.

    Parameters
    ----------
    entries : iterable of KeptEntry

    Returns
    -------
    dict of str to Rate
        By the finding's `about`, the one that would have saved most first; the empty
        name stands for misprints that no finding would have saved.
    """
    made, lost = _counts(entries, lambda it: it.caught_by)
    return {
        about: misprint_rate(count, made.total()) for about, count in _by_count(lost)
    }


def before_after(entries: Iterable[KeptEntry], since: date) -> BeforeAfter:
    """
    Misprints before a day and from it on.

    Parameters
    ----------
    entries : iterable of KeptEntry
    since : date
        The first day of the second part, as the printer's own calendar had it.

    Returns
    -------
    BeforeAfter
    """
    parts: dict[bool, list[KeptEntry]] = {True: [], False: []}
    for kept in entries:
        parts[is_after(kept, since)].append(kept)
    before, after = (overall_rate(parts[part]) for part in (False, True))
    return BeforeAfter(
        since=since,
        before=before,
        after=after,
        fall=rate_fall(before, after),
        waste_before=waste(parts[False]),
        waste_after=waste(parts[True]),
    )


def is_after(kept: KeptEntry, since: date) -> bool:
    """
    Whether a print was made on a day or later.

    Parameters
    ----------
    kept : KeptEntry
    since : date
        As the printer's own calendar had it.

    Returns
    -------
    bool
    """
    return kept.entry.printed_at.date() >= since


def waste(entries: Iterable[KeptEntry]) -> Waste:
    """
    What misprints took.

    Parameters
    ----------
    entries : iterable of KeptEntry

    Returns
    -------
    Waste
    """
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


def waste_by_cause(entries: Iterable[KeptEntry]) -> dict[str, Waste]:
    """
    What each cause of misprints took.

    Parameters
    ----------
    entries : iterable of KeptEntry

    Returns
    -------
    dict of str to Waste
        The cause that took most prints first.
    """
    kept = list(entries)
    _, lost = _counts(kept, lambda it: it.cause)
    return {
        cause: waste(one for one in kept if one.entry.cause == cause)
        for cause, _ in _by_count(lost)
    }


def _counted(entries: Iterable[KeptEntry]) -> list[PrintEntry]:
    return [
        kept.entry
        for kept in entries
        if not kept.is_struck and kept.entry.outcome is not Outcome.TRIAL
    ]


def _counts(
    entries: Iterable[KeptEntry], key: Callable[[PrintEntry], Key]
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
