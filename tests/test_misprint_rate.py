"""Shares of prints lost, against published intervals and a counted example."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest, norm

from printplan.errors import RecordError
from printplan.record.journal.entry import (
    Cost,
    JournalEntry,
    Outcome,
    PaperUnit,
    PaperUsed,
    PrintEntry,
)
from printplan.record.journal.misprints import (
    before_after,
    misprint_rate,
    overall_rate,
    rate_fall,
    rates_by_cause,
    rates_by_check,
    rates_by_month,
    waste,
    waste_by_cause,
)

# Printed to 4 decimals, hence half of the last one:
PRINTED = 5.01e-5


# Newcombe (1998), Stat. Med. 17(8), 857-872, Table I, the score method without
# continuity correction. The first as given with the task; the others from memory.
@pytest.mark.parametrize(
    ("lost", "prints", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_interval_is_newcombes_published_one(lost, prints, low, high):
    rate = misprint_rate(lost, prints)
    assert rate.low == pytest.approx(low, abs=PRINTED)
    assert rate.high == pytest.approx(high, abs=PRINTED)
    assert rate.share == pytest.approx(lost / prints)


@pytest.mark.slow
@given(st.integers(1, 2000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_interval_ends_where_the_score_test_just_holds(counts):
    """Wilson (1927): at each end the count lies 1.96 standard errors from the mean."""
    lost, prints = counts
    rate = misprint_rate(lost, prints)
    z = norm.ppf(0.975)
    for end in (rate.low, rate.high):
        if 1e-9 < end < 1 - 1e-9:
            error = (end * (1 - end) / prints) ** 0.5
            assert abs(lost / prints - end) / error == pytest.approx(z, rel=1e-6)
    interval = binomtest(lost, prints).proportion_ci(method="wilson")
    assert (rate.low, rate.high) == (interval.low, interval.high)
    assert 0 <= rate.low <= rate.share <= rate.high <= 1


def test_none_and_all_lost_still_have_an_interval():
    """Closed form: of 0 in n the upper end is z²/(n + z²), and all lost mirrors it."""
    z2 = norm.ppf(0.975) ** 2
    none, every = misprint_rate(0, 12), misprint_rate(12, 12)
    assert (none.low, none.share) == (0, 0)
    assert none.high == pytest.approx(z2 / (12 + z2))
    assert (every.high, every.share) == (1, 1)
    assert every.low == pytest.approx(1 - z2 / (12 + z2))


def test_no_prints_tell_nothing():
    rate = misprint_rate(0, 0)
    assert (rate.share, rate.low, rate.high) == (None, 0, 1)
    assert rate_fall(rate, misprint_rate(1, 2)) is None
    assert rate_fall(misprint_rate(1, 2), rate) is None


@pytest.mark.parametrize(("lost", "prints"), [(3, 2), (-1, 5), (0, -1)])
def test_impossible_counts_are_refused(lost, prints):
    with pytest.raises(RecordError, match="counts from 0 up"):
        misprint_rate(lost, prints)


# Newcombe (1998), Stat. Med. 17(8), 873-890, Table II, method 10. The first two as a
# public implementation tests them too; the others from memory.
@pytest.mark.parametrize(
    ("first", "second", "low", "high"),
    [
        ((56, 70), (48, 80), 0.0524, 0.3339),
        ((9, 10), (3, 10), 0.1705, 0.8090),
        ((6, 7), (2, 7), 0.0582, 0.8062),
        ((5, 56), (0, 29), -0.0381, 0.1926),
        ((0, 10), (0, 20), -0.1611, 0.2775),
        ((10, 10), (0, 20), 0.6791, 1.0),
    ],
)
def test_fall_is_newcombes_published_one(first, second, low, high):
    fall = rate_fall(misprint_rate(*first), misprint_rate(*second))
    assert fall.low == pytest.approx(low, abs=PRINTED)
    assert fall.high == pytest.approx(high, abs=PRINTED)
    assert fall.fall == pytest.approx(first[0] / first[1] - second[0] / second[1])


def kept(number, day, outcome, *, is_struck=False, **changes):
    entry = PrintEntry(
        **(
            {
                "printed_at": datetime(2024, *day, 12, tzinfo=UTC),
                "plan_id": "stream",
                "paper": "Alder Satin 260",
                "printer": "Studio 24",
                "width_mm": 240,
                "height_mm": 160,
                "outcome": outcome,
            }
            | changes
        )
    )
    return JournalEntry(
        entry_id=number,
        revision=1,
        changed_at=entry.printed_at,
        why="",
        is_struck=is_struck,
        entry=entry,
    )


def cost(amount, currency="EUR"):
    return Cost(amount=Decimal(amount), currency=currency, basis="a test")


GOOD, LOST, TRIAL = Outcome.GOOD, Outcome.MISPRINT, Outcome.TRIAL
DARK = {"cause": "too dark for the room"}
WRONG = {"cause": "wrong profile", "caught_by": "profile changed"}
SHEET = PaperUsed(amount=1, unit=PaperUnit.SHEETS)
ROLL = PaperUsed(amount=0.6, unit=PaperUnit.METRES)
YEAR = [
    kept(1, (1, 10), GOOD, copies=3),
    kept(2, (1, 31), LOST, **WRONG, copies=2, cost=cost("7.40"), paper_used=SHEET),
    kept(3, (1, 31), TRIAL),
    kept(4, (3, 1), LOST, **DARK, cost=cost("0.10"), paper_used=ROLL, ink_ml=1.5),
    kept(5, (3, 2), LOST, **DARK, paper="Fen Cotton 310", ink_ml=2.25),
    kept(6, (3, 3), GOOD, paper="Fen Cotton 310", cost=cost("99")),
    kept(7, (3, 4), LOST, **DARK, cost=cost("0.20"), is_struck=True),
    kept(8, (3, 5), LOST, **WRONG, cost=cost("0.20", "GBP")),
]
"""Counted by hand: 9 prints, 5 lost."""


def pairs(rates):
    return {key: (rate.lost, rate.prints) for key, rate in rates.items()}


def test_copies_count_and_trials_and_struck_entries_do_not():
    rate = overall_rate(YEAR)
    assert (rate.lost, rate.prints) == (5, 9)


def test_months_have_no_gap():
    assert pairs(rates_by_month(YEAR)) == {
        date(2024, 1, 1): (2, 5),
        date(2024, 2, 1): (0, 0),
        date(2024, 3, 1): (3, 4),
    }
    assert rates_by_month(YEAR)[date(2024, 2, 1)].share is None
    assert rates_by_month([]) == {}


def test_months_run_over_the_turn_of_the_year():
    late = datetime(2023, 12, 31, 23, 30, tzinfo=UTC)
    year = [kept(1, (1, 2), GOOD), kept(2, (1, 1), GOOD, printed_at=late)]
    assert list(rates_by_month(year)) == [date(2023, 12, 1), date(2024, 1, 1)]


def test_causes_and_checks_are_counted():
    assert list(pairs(rates_by_cause(YEAR)).items()) == [
        ("wrong profile", (3, 9)),
        ("too dark for the room", (2, 9)),
    ]
    assert pairs(rates_by_check(YEAR)) == {"profile changed": (3, 9), "": (2, 9)}


def test_day_parts_the_year():
    """The day itself belongs to the second part."""
    parts = before_after(YEAR, date(2024, 3, 1))
    assert (parts.before.lost, parts.before.prints) == (2, 5)
    assert (parts.after.lost, parts.after.prints) == (3, 4)
    assert parts.fall == rate_fall(misprint_rate(2, 5), misprint_rate(3, 4))
    assert parts.waste_before.cost == {"EUR": Decimal("7.40")}
    assert parts.waste_after.prints == 3


def test_waste_is_summed_by_currency_to_the_cent():
    """Binary fractions would make 0.10 and 7.40 something else than 7.50."""
    lost = waste(YEAR)
    assert lost.prints == 5
    assert lost.cost == {"EUR": Decimal("7.50"), "GBP": Decimal("0.20")}
    assert lost.prints_without_cost == 1
    assert (lost.sheets, lost.metres, lost.ink_ml) == (1, 0.6, 3.75)
    dark = waste_by_cause(YEAR)["too dark for the room"]
    assert (dark.prints, dark.cost) == (2, {"EUR": Decimal("0.10")})
