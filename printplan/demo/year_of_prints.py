"""What does a year of prints look like, before and after settings were kept?"""

from __future__ import annotations

from bisect import bisect
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from itertools import accumulate
from random import Random
from typing import TYPE_CHECKING, Final, NamedTuple, TypeVar

from printplan.demo.scenario import PRINTER_NAME, STUDIO_NAME
from printplan.record.journal.entry import (
    Cost,
    Outcome,
    PaperUnit,
    PaperUsed,
    PrintEntry,
)
from printplan.record.journal.journal import create_journal

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from printplan.record.journal.journal import Journal

Item = TypeVar("Item")

FIRST_DAY: Final = date(2024, 1, 2)
SETTINGS_KEPT_ON: Final = date(2024, 7, 1)
"""From this day on the studio kept its settings with the paper, and used them."""

LAST_DAY: Final = date(2024, 12, 20)

INVENTED: Final = f"Invented for the demo: {STUDIO_NAME}."

SEED: Final = 20240102

# About 23 % and under 5 %: common practice, no source. So many are lost exactly, and
# chance decides which.
_HALVES: Final = (
    (FIRST_DAY, SETTINGS_KEPT_ON, 132, 30),
    (SETTINGS_KEPT_ON, LAST_DAY, 128, 6),
)

_TRIALS: Final = 24

EDITION: Final = "Stream, in late light"
_EDITION_SIZE: Final = 25
_EDITION_PRINTS: Final = 11


class _Stock(NamedTuple):
    """A sheet as the invented studio buys it, and the picture that goes on it."""

    paper: str
    sheet: str
    width_mm: float
    height_mm: float
    price: Decimal


_STOCK: Final[Mapping[_Stock, int]] = {
    _Stock("Alder Satin 260", "A4", 277, 190, Decimal("0.90")): 8,
    _Stock("Alder Satin 260", "A3", 390, 267, Decimal("1.80")): 6,
    _Stock("Heron Baryta 315", "A4", 240, 160, Decimal("2.60")): 4,
    _Stock("Heron Baryta 315", "A3", 360, 240, Decimal("5.20")): 6,
    _Stock("Heron Baryta 315", "A2", 540, 360, Decimal("10.50")): 3,
    _Stock("Fen Cotton 310", "A3", 360, 240, Decimal("6.10")): 6,
    _Stock("Fen Cotton 310", "A2", 540, 360, Decimal("12.40")): 3,
}
"""Invented prices, and how often each is printed on."""

_PICTURES: Final = ("seed-heads", "red-bowl", "stream")

_INK_PRICE_ML: Final = Decimal("0.55")
_INK_ML_M2: Final = 11.0
_CURRENCY: Final = "EUR"
_BASIS: Final = (
    f"invented prices: the sheet, and ink at {_INK_PRICE_ML} {_CURRENCY} a ml"
)

# Weights of causes, and the finding (by its `topic`) that would have saved the print.
# Invented, after common practice: what settings can cure goes, what they cannot stays.
_BEFORE: Final[Mapping[tuple[str, str], int]] = {
    ("wrong profile", "profile changed"): 5,
    ("wrong media type", "black ink"): 4,
    ("colour converted twice", "converted twice"): 4,
    ("wrong size or scaled", ""): 3,
    ("too dark for the room", ""): 5,
    ("wrong place or cut off", ""): 3,
    ("wrong paper or side", ""): 2,
    ("sharpening", ""): 1,
    ("banding or clogged nozzle", ""): 2,
    ("head strike or scuff", "paper thickness"): 1,
    ("dust or damage", ""): 1,
}
_AFTER: Final[Mapping[tuple[str, str], int]] = {
    ("banding or clogged nozzle", ""): 3,
    ("dust or damage", ""): 2,
    ("wrong paper or side", ""): 1,
    ("too dark for the room", ""): 1,
}


def year_of_prints(seed: int = SEED) -> tuple[PrintEntry, ...]:
    """
    An invented year of the invented studio.

    Parameters
    ----------
    seed : int, optional
        The same seed gives the same year.

    Returns
    -------
    tuple of PrintEntry
        260 prints and some trials, in the order of their printing; every note says
        that they are invented.
    """
    # Only `random()` of a seeded generator is promised to stay the same for ever.
    chance = Random(seed)  # noqa: S311 - a story, not a secret
    entries: list[PrintEntry] = []
    for (first, end, prints, lost), causes in zip(
        _HALVES, (_BEFORE, _AFTER), strict=True
    ):
        made = [
            _print(chance, moment) for moment in _moments(chance, first, end, prints)
        ]
        for place in sorted(range(prints), key=lambda _: chance.random())[:lost]:
            cause, caught_by = _drawn(chance, causes)
            made[place] = replace(
                made[place],
                outcome=Outcome.MISPRINT,
                cause=cause,
                caught_by=caught_by,
            )
        entries += made
    entries += [
        replace(_print(chance, moment), outcome=Outcome.TRIAL)
        for moment in _moments(chance, FIRST_DAY, LAST_DAY, _TRIALS)
    ]
    return tuple(sorted(entries, key=lambda it: it.printed_at))


def make_year_of_prints(path: str | Path, *, seed: int = SEED) -> None:
    """
    Make the journal of an invented year.

    Raises
    ------
    RecordError
        If a file of that name exists already, or none can be made there.
    """
    noted_at = datetime.combine(LAST_DAY, time(18), UTC)

    def fill(journal: Journal) -> None:
        journal.open_edition(
            EDITION,
            _EDITION_SIZE,
            opened_at=datetime.combine(FIRST_DAY, time(9), UTC),
            note=INVENTED,
        )
        left = _EDITION_PRINTS
        for entry in year_of_prints(seed):
            is_numbered = (
                left > 0
                and entry.plan_id == "stream-on-heron-baryta-a3"
                and entry.outcome is not Outcome.TRIAL
            )
            left -= is_numbered
            journal.add(
                entry, noted_at=noted_at, edition=EDITION if is_numbered else ""
            )

    create_journal(path, started_at=noted_at, note=INVENTED, fill=fill)


def _print(chance: Random, moment: datetime) -> PrintEntry:
    """A good print on some sheet of the studio's stock."""
    stock = _drawn(chance, _STOCK)
    picture = _PICTURES[int(chance.random() * len(_PICTURES))]
    paper = stock.paper.rsplit(" ", 1)[0].lower().replace(" ", "-")
    area_m2 = stock.width_mm * stock.height_mm / 1e6
    ink_ml = round(area_m2 * _INK_ML_M2 * (0.8 + 0.4 * chance.random()), 2)
    ink_cost = (Decimal(str(ink_ml)) * _INK_PRICE_ML).quantize(Decimal("0.01"))
    return PrintEntry(
        printed_at=moment,
        plan_id=f"{picture}-on-{paper}-{stock.sheet.lower()}",
        paper=stock.paper,
        printer=PRINTER_NAME,
        width_mm=stock.width_mm,
        height_mm=stock.height_mm,
        outcome=Outcome.GOOD,
        paper_used=PaperUsed(amount=1, unit=PaperUnit.SHEETS),
        ink_ml=ink_ml,
        cost=Cost(amount=stock.price + ink_cost, currency=_CURRENCY, basis=_BASIS),
        note=INVENTED,
    )


def _moments(chance: Random, first: date, end: date, count: int) -> list[datetime]:
    """Moments of working days from one day up to another, in order."""
    moments: list[datetime] = []
    while len(moments) < count:
        day = first + timedelta(days=int(chance.random() * (end - first).days))
        minutes = 9 * 60 + int(chance.random() * 9 * 60)
        if day.weekday() < 5:
            start = datetime.combine(day, time(), UTC)
            moments.append(start + timedelta(minutes=minutes))
    return sorted(moments)


def _drawn(chance: Random, weights: Mapping[Item, int]) -> Item:
    """One of several, by its weight."""
    items = list(weights)
    levels = list(accumulate(weights.values()))
    return items[bisect(levels, chance.random() * levels[-1])]
