"""The journal takes from a record what that knows, and reckons no more."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from recorded_print import MADE_ON, recorded, small_studio

from printplan.errors import RecordError
from printplan.media import MediaForm, Stock
from printplan.record.cost import CostBasis
from printplan.record.journal.entry import Outcome, PaperUnit, PaperUsed
from printplan.record.journal.from_record import entry_from_record

AFTER_DRYING = MADE_ON + timedelta(days=1)


@pytest.fixture(scope="module")
def record(studio, textured, tmp_path_factory):
    wish = small_studio(tmp_path_factory.mktemp("studio"), studio, textured)
    return recorded(wish, tmp_path_factory.mktemp("made") / "print")


def good(record, **more):
    return entry_from_record(
        record, printed_at=AFTER_DRYING, outcome=Outcome.GOOD, **more
    )


def on_a_roll(record):
    """The same print through a feed path that takes rolls."""
    feeds = (replace(it, takes=MediaForm.ROLLS) for it in record.printer.feeds)
    return replace(record, printer=replace(record.printer, feeds=tuple(feeds)))


def test_entry_says_what_the_record_does(record):
    entry = good(record, note="Dried flat.")
    assert entry.plan_id == Path(record.rendered.path).stem == "print"
    assert (entry.paper, entry.printer) == (record.paper.name, record.printer.name)
    # The plan asks for 120 mm; the master of 320 × 210 pixels sets the height.
    assert entry.width_mm == 120
    assert entry.height_mm == pytest.approx(120 * 210 / 320)
    assert entry.file_sha256 == record.rendered.sha256
    assert entry.printed_at == AFTER_DRYING
    assert (entry.note, entry.copies, entry.ink_ml) == ("Dried flat.", 1, None)


def test_sheets_are_counted_one_for_each_copy(record):
    assert good(record, copies=3).paper_used == PaperUsed(
        amount=3, unit=PaperUnit.SHEETS
    )


def test_a_roll_is_counted_by_the_length_that_went_through(record):
    """A landscape A4 enters by its shorter edge: 297 mm of roll (ISO 216)."""
    used = good(on_a_roll(record), copies=2).paper_used
    assert used.unit is PaperUnit.METRES
    assert used.amount == pytest.approx(2 * 0.297)


def test_paper_alone_is_what_a_record_knows_of_cost(record):
    price = next(it.price_each for it in record.paper.stock if it.sheet == "A4")
    cost = good(record, copies=3, currency="EUR").cost
    assert cost.amount == 3 * Decimal(str(price))
    assert cost.currency == "EUR"
    assert "ink not counted" in cost.basis


def test_currency_of_the_book_is_kept_with_its_prices(record):
    """The demo's book says once that all its prices are euros."""
    assert record.currency == good(record).cost.currency == "EUR"


def test_length_of_roll_costs_its_share_of_the_roll(record):
    """297 mm of a roll of 15 m at 60 EUR are 0.297 × 4 EUR = 1.188 EUR."""
    roll = Stock(roll_width_mm=210.0, roll_length_m=15.0, price_each=60.0)
    rolled = on_a_roll(record)
    rolled = replace(rolled, paper=replace(rolled.paper, stock=(roll,)))
    cost = good(rolled, copies=2).cost
    assert cost.amount == Decimal("2.38")
    assert "0.297 m at 4.00 EUR" in cost.basis


def test_ink_that_the_printer_counted_is_in_the_cost(record):
    price = next(it.price_each for it in record.paper.stock if it.sheet == "A4")
    entry = good(record, copies=2, ink_ml=1.25, currency="EUR")
    ink = Decimal(str(record.printer.ink_price_per_ml)) * Decimal("1.25")
    assert entry.cost.amount == 2 * (Decimal(str(price)) + ink)
    assert "1.25 ml of ink" in entry.cost.basis
    assert entry.ink_ml == 2.5


def test_given_prices_take_the_place_of_the_recorded(record):
    basis = CostBasis(
        currency="NOK",
        paper_amount=0.5,
        paper_unit="m",
        paper_price=80,
        ink_ml=2,
        ink_price_per_ml=6.125,
        source="the invoice of May",
    )
    cost = good(record, cost=basis, currency="EUR").cost
    assert (cost.amount, cost.currency) == (Decimal("52.25"), "NOK")
    assert cost.basis == (
        "per print 0.5 m at 80.00 NOK and 2 ml of ink at 6.125 NOK; by the invoice of "
        "May"
    )


def test_without_price_or_currency_there_is_no_cost(record):
    assert good(replace(record, currency=None)).cost is None
    nothing_known = replace(record, paper=replace(record.paper, stock=()))
    assert good(nothing_known, ink_ml=1.0, currency="EUR").cost is None


def test_a_misprint_wants_its_cause(record):
    with pytest.raises(RecordError, match="Give one of the journal's causes"):
        entry_from_record(record, printed_at=MADE_ON, outcome=Outcome.MISPRINT)
