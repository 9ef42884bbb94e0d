"""A price follows from the plan's own paper, ink and time, and from nothing unknown."""

import csv
import subprocess
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from io import StringIO

import numpy as np
import pytest
from click.testing import CliRunner
from recorded_print import small_studio, with_spec

from printplan.cli import cli
from printplan.errors import RecordError
from printplan.record.book_changes import change_book, change_printer
from printplan.record.cost import CostBasis, OwnLine, recorded_cost, rounded
from printplan.record.ink_estimate import InkEstimate, ink_ml_of
from printplan.record.journal.entry import Outcome, PrintEntry
from printplan.record.journal.journal import create_journal
from printplan.record.plan_file import open_plan, write_plan_file
from printplan.record.price_page import price_pdf, write_price_sheet
from printplan.record.price_sheet import (
    TABLE_HEAD,
    Terms,
    price_cells,
    price_csv,
    priced,
    terms_words,
)
from printplan.record.studio_folder import JOURNAL_NAME
from printplan.spec import Delivery, DeliverySpec, NamedSpace

NOON = datetime(2026, 5, 3, 12, tzinfo=UTC)
# Area of the picture: 120 mm wide, by a master of 320 × 210 pixels.
AREA_M2 = 0.120 * 0.120 * 210 / 320
STATED = Terms(ink_ml_m2=100.0)


@pytest.fixture(scope="module")
def folder(studio, textured, tmp_path_factory):
    folder = tmp_path_factory.mktemp("studio")
    wish = small_studio(folder, studio, textured)
    write_plan_file(wish, folder / "plan.toml")
    return folder


@pytest.fixture(scope="module")
def plan(folder):
    return folder / "plan.toml"


def with_time(folder, hourly_rate, m2_per_h):
    book = folder / "book.toml"
    change_book(book, lambda it: replace(it, hourly_rate=hourly_rate))
    change_printer(book, "Studio 24", lambda it: replace(it, m2_per_h=m2_per_h))


@pytest.fixture
def paid(folder):
    """The studio pays for its time while this test runs."""
    with_time(folder, 36.0, 4.5)
    yield
    with_time(folder, None, None)


@pytest.mark.usefixtures("paid")
def test_price_is_the_cost_of_its_parts_times_the_mark_up(plan):
    """
    A4 of the cotton at 2.40; 100 ml/m² at 0.60; 36.00 an hour at 4.5 m²/h; a mat.

    0.945 ml at 0.60 = 0.567 → 0.57; 0.126 min at 0.60 = 0.0756 → 0.08.
    2.40 + 0.57 + 0.08 + 4.50 = 7.55, times 3 = 22.65.
    """
    mat = OwnLine(what="mat board", amount=Decimal("4.50"))
    terms = Terms(mark_up=Decimal(3), own=(mat,), ink_ml_m2=100.0)
    (row,) = priced([plan], terms)
    assert row.basis.estimate.ml == pytest.approx(100 * AREA_M2)
    assert row.basis.minutes == pytest.approx(AREA_M2 / 4.5 * 60)
    assert row.basis.parts == {
        "paper": Decimal("2.40"),
        "ink": Decimal("0.57"),
        "time": Decimal("0.08"),
        "mat board": Decimal("4.50"),
    }
    assert row.basis.total == Decimal("7.55")
    assert row.price == Decimal("22.65")
    assert price_cells(row)[-2:] == ("7.55 EUR", "22.65 EUR")
    (row,) = priced([plan], replace(terms, step=Decimal(5)))
    assert row.price == 25


def test_what_is_not_known_is_never_nothing(plan):
    (row,) = priced([plan], Terms())
    assert (row.price, row.basis.total, row.unknown) == (None, None, ("ink",))
    cells = dict(zip(TABLE_HEAD, price_cells(row), strict=True))
    assert cells["for ink"] == "not calibrated"
    assert cells["cost"] == cells["price"] == "not known"
    assert cells["for time"] == "not counted"
    told = read_csv(price_csv([row], Terms()))
    assert (told["ink_ml"], told["ink_cost"], told["cost"], told["price"]) == ("",) * 4
    assert told["not_known"] == "ink"
    assert float(told["paper_cost"]) == 2.4


def test_time_that_costs_is_missed_when_no_rate_of_printing_is_known(plan, folder):
    with_time(folder, 36.0, None)
    try:
        (row,) = priced([plan], STATED)
    finally:
        with_time(folder, None, None)
    assert row.unknown == ("time",)
    assert row.price is None


def read_csv(text):
    (row,) = csv.DictReader(StringIO(text, newline=""))
    return row


@pytest.mark.usefixtures("paid")
def test_table_for_other_programs_holds_what_the_page_tells(plan):
    (row,) = priced([plan], STATED)
    told = read_csv(price_csv([row], STATED))
    assert told["currency"] == "EUR"
    assert Decimal(told["price"]) == row.price
    parts = ("paper_cost", "ink_cost", "time_cost")
    assert sum(Decimal(told[it]) for it in parts) == Decimal(told["cost"])
    assert float(told["picture_width_mm"]) == 120
    sinister = replace(row, name="=1+1")
    assert read_csv(price_csv([sinister], STATED))["plan"] == "'=1+1"


def test_print_of_a_service_has_the_services_price(plan, folder):
    delivery = DeliverySpec(colour=Delivery.NAMED_SPACE, named_space=NamedSpace.SRGB)
    with open_plan(plan).master:
        pass
    from printplan.record.plan_file import read_plan_file  # noqa: PLC0415

    wish = with_spec(read_plan_file(plan).resolved(plan), delivery=delivery)
    path = folder / "service.toml"
    write_plan_file(wish, path)
    with pytest.raises(RecordError, match="Ask the service"):
        priced([path], STATED)


@pytest.mark.parametrize(
    "wrong",
    [
        {"mark_up": Decimal(0)},
        {"mark_up": Decimal(101)},
        {"step": Decimal(0)},
        {"ink_ml_m2": -1.0},
        {"own": (OwnLine(what="Ink", amount=Decimal(1)),)},
        {"own": (OwnLine(what="box", amount=Decimal(1)),) * 2},
    ],
)
def test_senseless_terms_are_refused(wrong):
    with pytest.raises(RecordError, match="Give "):
        Terms(**wrong)


@pytest.mark.parametrize("amount", [Decimal(-1), Decimal("NaN")])
def test_senseless_line_is_refused(amount):
    with pytest.raises(RecordError, match="Give a name and 0 or more"):
        OwnLine(what="mat", amount=amount)


@pytest.mark.parametrize(
    ("amount", "step", "told"),
    [
        (0.125, "0.01", "0.13"),
        (2.5, "1", "3"),
        (7.49, "5", "5"),
        (7.5, "5", "10"),
        (1.005, "0.01", "1.01"),
    ],
)
def test_halves_go_up(amount, step, told):
    assert rounded(amount, Decimal(step)) == Decimal(told)


def test_sum_is_that_of_rounded_parts():
    """0.004 and 0.004 are 0.00 each: no cent is paid that no line of the bill has."""
    basis = CostBasis(
        currency="EUR",
        paper_amount=1,
        paper_price=0.004,
        ink_ml=1,
        ink_price_per_ml=0.004,
    )
    assert basis.total == Decimal("0.00")


def measured_entry(sheet_load, factor, ml_m2):
    load = {
        it: factor[number] * getattr(sheet_load, it)
        for number, it in enumerate(("cyan_m2", "magenta_m2", "yellow_m2", "black_m2"))
    }
    # As a plain number: how NumPy writes its own depends on what was imported.
    lines = [f"{name} = {float(value)!r}" for name, value in load.items()]
    text = "\n".join(
        [
            "[ink_load]",
            f'driver = "{sheet_load.driver}"',
            *lines,
            f"printed_m2 = {sheet_load.printed_m2!r}",
            "",
        ]
    )
    entry = PrintEntry(
        printed_at=NOON,
        plan_id="print",
        paper="Fen Cotton 310",
        printer="Studio 24",
        width_mm=120,
        height_mm=78.75,
        outcome=Outcome.GOOD,
        ink_ml=float(np.array(list(load.values())) @ ml_m2),
    )
    return entry, text


def test_ink_is_learnt_from_the_journal_beside_the_book(plan, folder):
    ml_m2 = np.array([90.0, 80.0, 70.0, 140.0])
    from printplan.pixels.ink_load import ink_load  # noqa: PLC0415

    sheet = open_plan(plan)
    with sheet.master:
        load = ink_load(sheet)
        rng = np.random.default_rng(2)
        journal = folder / JOURNAL_NAME

        def fill(opened):
            for _ in range(10):
                factor = rng.uniform(0.5, 1.0, 4)
                entry, text = measured_entry(load, factor, ml_m2)
                opened.add(entry, noted_at=NOON, record_text=text)

        create_journal(journal, started_at=NOON, fill=fill)
        try:
            found = ink_ml_of(sheet, journal)
            (row,) = priced([plan], Terms())
        finally:
            journal.unlink()
    truth = float(np.array(load.solid_m2) @ ml_m2)
    assert found.ml == pytest.approx(truth, rel=1e-6)
    assert row.basis.estimate == found
    assert row.basis.parts["ink"] == rounded(truth * 0.6)
    assert row.price is not None


def test_recorded_cost_tells_the_estimate_with_its_interval(studio, tmp_path, textured):
    from recorded_print import recorded  # noqa: PLC0415

    from printplan.record.decision_sheet.print_facts import (  # noqa: PLC0415
        cost_section,
    )

    wish = small_studio(tmp_path / "studio", studio, textured)
    record = recorded(wish, tmp_path / "print")
    basis = recorded_cost(record, hourly_rate=30.0)
    told = {it.what: it.value for it in cost_section(basis, by_service=False).rows}
    assert told["Ink"] == "not calibrated"
    assert told["Time"] == "not known"
    assert "Together" not in told
    assert "not calibrated: no measured prints" in told["By"]
    known = replace(
        basis,
        estimate=InkEstimate(ml=2.5, low_ml=2.0, high_ml=3.0, words=""),
        minutes=10.0,
    )
    told = {it.what: it.value for it in cost_section(known, by_service=False).rows}
    # 2.5 ml at 0.60 = 1.50, from 1.20 to 1.80; 10 min at 30.00 an hour = 5.00.
    assert told["Ink"] == (
        "1.50 EUR, 1.20 to 1.80 (estimated 2.50 ml (2.00 to 3.00) at 0.60)"
    )
    assert told["Time"] == "5.00 EUR (10 min at 30.00 an hour)"
    assert told["Together"] == "8.90 EUR"


@pytest.mark.usefixtures("paid")
@pytest.mark.tools("pdftotext")
def test_page_says_what_the_table_does(plan, tmp_path):
    (row,) = priced([plan], STATED)
    rows = [
        row,
        replace(row, name="<b>other</b>\N{RIGHT-TO-LEFT OVERRIDE}", price=None),
    ]
    path = write_price_sheet(rows, STATED, tmp_path / "prices.pdf", made_on=NOON)
    text = subprocess.run(
        ["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True
    ).stdout
    for cell in price_cells(row)[2:]:
        assert cell in " ".join(text.split())
    assert "not known" in text
    assert "<b>other</b>" in text
    assert "\N{RIGHT-TO-LEFT OVERRIDE}" not in text
    flat = " ".join(text.split())
    for sentence in terms_words(rows, STATED):
        assert sentence[:60] in flat
    assert text.count("\f") == 1
    assert price_pdf(rows, STATED, made_on=NOON) == path.read_bytes()


def test_more_prints_than_a_page_takes_are_refused(plan):
    (row,) = priced([plan], STATED)
    assert price_pdf([row] * 12, STATED, made_on=NOON)
    with pytest.raises(RecordError, match="fewer plans"):
        price_pdf([row] * 60, STATED, made_on=NOON)


def test_sheet_replaces_only_its_own_kind(plan, tmp_path):
    rows = priced([plan], STATED)
    path = tmp_path / "prices.csv"
    write_price_sheet(rows, STATED, path, made_on=NOON)
    with pytest.raises(RecordError, match="Choose another name"):
        write_price_sheet(rows, STATED, path, made_on=NOON)
    write_price_sheet(rows, STATED, path, made_on=NOON, overwrite=True)
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(RecordError, match="not replaced"):
        write_price_sheet(rows, STATED, path, made_on=NOON, overwrite=True)
    with pytest.raises(RecordError, match="Name it 'prices"):
        write_price_sheet(rows, STATED, tmp_path / "prices.txt", made_on=NOON)
    assert path.read_text(encoding="utf-8") == "mine"


def run(*arguments):
    return CliRunner().invoke(cli, ["price", *map(str, arguments)])


def test_command_tells_the_table_and_writes_the_sheet(plan, tmp_path):
    out = tmp_path / "prices.csv"
    ended = run(
        plan, "--ink-ml-m2", "100", "--line", "box=2", "--mark-up", "2", "--out", out
    )
    assert ended.exit_code == 0, ended.output
    # 2.40 + 0.57 + 2.00 = 4.97, times 2.
    assert "4.97 EUR" in ended.output
    assert "9.94 EUR" in ended.output
    assert Decimal(read_csv(out.read_text("utf-8"))["price"]) == Decimal("9.94")


@pytest.mark.parametrize(
    ("option", "value"),
    [("--line", "box"), ("--line", "=3"), ("--line", "box=x"), ("--mark-up", "much")],
)
def test_command_refuses_what_is_no_number(plan, option, value):
    ended = run(plan, option, value)
    assert isinstance(ended.exception, RecordError)
