"""Misprints are drawn with what the counts say, and no more."""

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from matplotlib.colors import to_hex
from matplotlib.figure import Figure

from printplan.demo.year_of_prints import SETTINGS_KEPT_ON, year_of_prints
from printplan.errors import SpecError
from printplan.record.journal.entry import JournalEntry, Outcome
from printplan.record.journal.misprints import (
    before_after,
    rates_by_month,
    waste,
    waste_by_cause,
)
from printplan.workbook.drawings.misprints import (
    draw_cause_costs,
    draw_month_rates,
    misprint_words,
    misprints_figure,
)
from printplan.workbook.drawings.page import FIELD, GROUND, LINES, as_drawing

MOMENT = datetime(2024, 12, 31, tzinfo=UTC)


def kept_of(entries):
    return [
        JournalEntry(
            entry_id=number,
            revision=1,
            changed_at=MOMENT,
            why="",
            is_struck=False,
            entry=entry,
        )
        for number, entry in enumerate(entries)
    ]


YEAR = kept_of(year_of_prints())
LOST = [it for it in YEAR if it.entry.outcome is Outcome.MISPRINT]
PARTS = before_after(YEAR, SETTINGS_KEPT_ON)


@pytest.fixture
def axes():
    return Figure().add_subplot()


def words_of(axes):
    return [text.get_text() for text in axes.texts]


def test_each_month_stands_at_its_share(axes):
    months = rates_by_month(YEAR)
    draw_month_rates(months, PARTS, axes)
    drawn = {
        line.get_gid(): line.get_ydata()[0] for line in axes.lines if line.get_gid()
    }
    assert drawn == {
        f"{month:%Y-%m}": pytest.approx(100 * rate.lost / rate.prints)
        for month, rate in months.items()
    }


def test_interval_of_each_month_stands_whole_inside_the_field(axes):
    months = rates_by_month(YEAR)
    draw_month_rates(months, PARTS, axes)
    whiskers = [
        tuple(line.get_ydata())
        for line in axes.lines
        if len(line.get_xdata()) == 2
        and line.get_xdata()[0] == line.get_xdata()[1]
        and list(line.get_ydata()) != [0, 1]
    ]
    assert whiskers == [(100 * it.low, 100 * it.high) for it in months.values()]
    assert axes.get_ylim()[1] > max(high for _, high in whiskers)


def test_parts_are_told_apart_without_colour(axes):
    draw_month_rates(rates_by_month(YEAR), PARTS, axes)
    markers = [line.get_marker() for line in axes.lines if line.get_gid()]
    assert markers == [LINES[1].marker] * 6 + [LINES[2].marker] * 6
    names = [text.get_text() for text in axes.get_legend().get_texts()]
    assert names == ["before: 30 of 132, 22.7%", "since: 6 of 128, 4.7%"]


def test_day_of_change_stands_between_its_months(axes):
    draw_month_rates(rates_by_month(YEAR), PARTS, axes)
    (line,) = [it for it in axes.lines if list(it.get_ydata()) == [0, 1]]
    assert list(line.get_xdata()) == [5.5, 5.5]  # 1 July: after the sixth of them


@pytest.mark.parametrize("since", [date(2020, 1, 1), date(2030, 1, 1)])
def test_day_outside_the_year_leaves_one_part(axes, since):
    draw_month_rates(rates_by_month(YEAR), before_after(YEAR, since), axes)
    assert len(axes.get_legend().get_texts()) == 1


def test_month_without_prints_has_no_mark(axes):
    few = [it for it in YEAR if it.entry.printed_at.month != 3]
    draw_month_rates(rates_by_month(few), before_after(few, SETTINGS_KEPT_ON), axes)
    assert "2024-03" not in [line.get_gid() for line in axes.lines]
    assert [tick.get_text() for tick in axes.get_xticklabels()][2] == "Mar\n0"


@pytest.mark.slow
def test_bars_add_up_to_the_waste(axes):
    early = waste_by_cause(it for it in YEAR if it.entry.printed_at.month < 7)
    late = waste_by_cause(it for it in YEAR if it.entry.printed_at.month >= 7)
    draw_cause_costs(early, late, "EUR", axes)
    before, after = (sum(bar.get_width() for bar in bars) for bars in axes.containers)
    assert before == pytest.approx(float(PARTS.waste_before.cost["EUR"]))
    assert after == pytest.approx(float(PARTS.waste_after.cost["EUR"]))
    ends = [bar.get_x() + bar.get_width() for bar in axes.containers[1]]
    assert ends == sorted(ends, reverse=True)
    assert axes.get_xlim()[1] > ends[0]
    assert {bar.get_hatch() for bar in axes.containers[0]} == {""}
    assert {bar.get_hatch() for bar in axes.containers[1]} == {"///"}


def test_unknown_cost_is_said(axes):
    unpriced = kept_of([replace(LOST[0].entry, cost=None, cause="other")])
    draw_cause_costs(waste_by_cause(unpriced), {}, "EUR", axes)
    assert words_of(axes) == ["1 print, cost of 1 not known"]
    parts = before_after([*unpriced, *YEAR], SETTINGS_KEPT_ON)
    assert "The cost of 1 of them is not known and not in it." in misprint_words(parts)


def test_words_say_the_counts_and_their_intervals():
    words = misprint_words(PARTS)
    assert words.startswith("Before 1 July 2024: 30 of 132 prints lost, 22.7%")
    assert "Since then: 6 of 128 prints lost, 4.7%" in words
    assert "The share fell by 18.0 points" in words
    total = waste(YEAR).cost["EUR"]
    told = [
        Decimal(word)
        for word in words.split()
        if word.count(".") == 1
        and word.replace(".", "").isdigit()
        and word.index(".") == len(word) - 3
    ]
    assert sum(told) == total


def test_words_do_not_claim_what_the_counts_do_not_tell():
    few = [it for it in YEAR if it.entry.printed_at.day == 3]
    words = misprint_words(before_after(few, SETTINGS_KEPT_ON))
    assert "The counts do not tell whether the share changed." in words


def test_rise_is_called_a_rise():
    turned = [
        replace(
            it,
            entry=replace(
                it.entry,
                printed_at=MOMENT
                - (it.entry.printed_at - datetime(2024, 1, 1, tzinfo=UTC)),
            ),
        )
        for it in YEAR
    ]
    assert "The share rose by" in misprint_words(before_after(turned, SETTINGS_KEPT_ON))


def test_part_without_prints_is_said():
    words = misprint_words(before_after(YEAR, date(2020, 1, 1)))
    assert words.startswith("Before 1 January 2020: no prints. Since then: 36 of 260")


@pytest.mark.slow
def test_figure_is_opaque_and_made_of_the_house_ground():
    figure = misprints_figure(YEAR, SETTINGS_KEPT_ON, heading="a test")
    assert to_hex(figure.get_facecolor()) == GROUND
    fields = {to_hex(axes.get_facecolor()) for axes in figure.axes}
    assert fields == {FIELD}
    assert as_drawing(figure, "misprints").width_css_px == 860


def test_year_without_misprints_can_be_drawn():
    good = [it for it in YEAR if it.entry.outcome is Outcome.GOOD]
    as_drawing(misprints_figure(good, SETTINGS_KEPT_ON, heading="a test"), "none lost")


def test_empty_journal_is_told():
    with pytest.raises(SpecError, match="Note a print first"):
        misprints_figure([], SETTINGS_KEPT_ON, heading="a test")
