from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from printplan.errors import SpecError
from printplan.media import (
    FeedPath,
    Margins,
    MediaForm,
    Paper,
    PaperOnPrinter,
    Printer,
    Stock,
    Surface,
)
from printplan.spec import HIGHEST_PPI, LONGEST_MM, LOWEST_PPI, SHORTEST_MM

# The studio, its printer and its paper are invented.
MARGINS = Margins(leading_mm=3, trailing_mm=14, left_mm=3.4, right_mm=3.4)
FEED = FeedPath(
    name="sheet slot",
    margins=MARGINS,
    shortest_mm=100,
    longest_mm=900,
    narrowest_mm=89,
    widest_mm=610,
    thinnest_um=80,
    thickest_um=1500,
)
PRINTER = Printer(
    name="Studio 24",
    black_inks=("matte black", "photo black"),
    feeds=(FEED, replace(FEED, name="roll")),
    input_ppi=(360.0, 300.0),
)
PAIR = PaperOnPrinter(
    printer="Studio 24",
    profile="fen.icc",
    black_ink="matte black",
    media_type="Cotton, thick",
    feeds=("sheet slot", "roll"),
    profile_sha256="0123456789abcdef" * 4,
)
PAPER = Paper(
    name="Fen Cotton 310",
    surface=Surface.MATTE,
    weight_gsm=310,
    thickness_um=560,
    psf_sigma_um=50,
    on_printer=(PAIR,),
    stock=(Stock(sheet="A3"), Stock(sheet="13x19 in", sheets_left=7)),
)
ROLL = Stock(roll_width_mm=610, roll_length_m=30, left_m=12.5)


def refusal(value, **changes):
    with pytest.raises(SpecError) as caught:
        replace(value, **changes)
    return caught.value


# Each with the lowest and highest number taken: what a printer, a paper or a
# plan can have. Weights and thicknesses are chosen to catch slips of the unit.
RANGES = [
    (MARGINS, "leading_mm", 0, 200, "mm"),
    (MARGINS, "trailing_mm", 0, 200, "mm"),
    (MARGINS, "left_mm", 0, 200, "mm"),
    (MARGINS, "right_mm", 0, 200, "mm"),
    (FEED, "shortest_mm", SHORTEST_MM, 900, "mm"),
    (FEED, "longest_mm", 100, LONGEST_MM, "mm"),
    (FEED, "narrowest_mm", SHORTEST_MM, 610, "mm"),
    (FEED, "widest_mm", 89, LONGEST_MM, "mm"),
    (FEED, "thinnest_um", 1, 1500, "µm"),
    (FEED, "thickest_um", 80, 5000, "µm"),
    (PAPER, "weight_gsm", 20, 1500, "g/m²"),
    (PAPER, "thickness_um", 20, 5000, "µm"),
    (PAPER, "psf_sigma_um", 0, 500, "µm"),
    (PAPER, "drying_h", 0, 720, "h"),
    (PRINTER, "longest_print_mm", SHORTEST_MM, LONGEST_MM, "mm"),
    (PRINTER, "ink_price_per_ml", 0, 1e6, "of its currency"),
    (ROLL, "roll_width_mm", 50, 3000, "mm"),
    (ROLL, "roll_length_m", 1, 500, "m"),
    (ROLL, "left_m", 0, 5000, "m"),
    (ROLL, "price_each", 0, 1e6, "of its currency"),
]


@pytest.mark.parametrize(
    ("value", "name", "low", "high", "unit"), RANGES, ids=[row[1] for row in RANGES]
)
def test_number_outside_its_range_is_refused(value, name, low, high, unit):
    assert getattr(replace(value, **{name: low}), name) == low
    assert getattr(replace(value, **{name: high}), name) == high
    beyond = (low - 0.001, high + 0.001, -1e300, float("inf"), float("nan"))
    for number in beyond:
        error = refusal(value, **{name: number})
        assert name in error.problem
        assert error.remedy.startswith(("Give the ", "Exchange "))
    assert refusal(value, **{name: -1}).problem.endswith(f" is -1 {unit}.")


@pytest.mark.parametrize("ppi", [LOWEST_PPI, HIGHEST_PPI])
def test_every_resolution_that_can_be_planned_can_be_the_printers(ppi):
    assert replace(PRINTER, input_ppi=(ppi,)).input_ppi == (ppi,)


@pytest.mark.parametrize("ppi", [0.0, 29.9, 2401.0, float("nan")])
def test_resolution_outside_its_range_is_refused(ppi):
    error = refusal(PRINTER, input_ppi=(300.0, ppi))
    assert error.problem == f'The printer "Studio 24": input_ppi is {ppi:g} ppi.'
    assert error.remedy == (
        "Give the resolution of the printer's manual, 30 to 2400 ppi."
    )


@pytest.mark.parametrize(
    ("low", "high"),
    [
        ("shortest_mm", "longest_mm"),
        ("narrowest_mm", "widest_mm"),
        ("thinnest_um", "thickest_um"),
    ],
)
def test_limits_the_wrong_way_round_are_refused(low, high):
    assert replace(FEED, **{low: 300, high: 300}) != FEED
    error = refusal(FEED, **{low: 300.5, high: 300})
    assert error.problem == (
        f'The feed path "sheet slot": {low} is 300.5 and {high} only 300.'
    )
    assert error.remedy == "Exchange the two."


@given(st.floats(), st.floats())
def test_feed_path_that_was_made_takes_some_sheet(shortest_mm, longest_mm):
    try:
        made = replace(FEED, shortest_mm=shortest_mm, longest_mm=longest_mm)
    except SpecError:
        assert not SHORTEST_MM <= shortest_mm <= longest_mm <= LONGEST_MM
    else:
        assert SHORTEST_MM <= made.shortest_mm <= made.longest_mm <= LONGEST_MM


@pytest.mark.parametrize("depths", [(8,), (16,), (16, 8)])
def test_printer_takes_8_or_16_bits(depths):
    assert replace(PRINTER, bit_depths=depths).bit_depths == depths


@pytest.mark.parametrize("bits", [0, 1, 12, 24, 32])
def test_other_bit_depth_is_refused(bits):
    error = refusal(PRINTER, bit_depths=(8, bits))
    assert f"{bits} in bit_depths" in error.problem
    assert error.remedy == "Give 8 or 16, or both."


@pytest.mark.parametrize(
    ("value", "name"),
    [
        (FEED, "name"),
        (PRINTER, "name"),
        (PAPER, "name"),
        (PAIR, "printer"),
        (PAIR, "profile"),
        (PAIR, "black_ink"),
    ],
)
@pytest.mark.parametrize("blank", ["", "  ", "\n"])
def test_name_cannot_be_blank(value, name, blank):
    error = refusal(value, **{name: blank})
    assert f"has no {name}." in error.problem
    assert error.remedy == f"Write its {name.replace('_', ' ')}."


def test_drivers_name_and_note_may_be_missing():
    assert replace(PAIR, media_type="", profile_sha256="").media_type == ""
    assert replace(PAPER, note="", stock=(), on_printer=()).sheets == ()
    assert replace(PRINTER, longest_print_mm=None, inks=()).note == ""


LISTS = [
    (PRINTER, "black_inks", ("Matte black", "matte black")),
    (PRINTER, "feeds", (FEED, replace(FEED, name="Sheet slot "))),
    (PRINTER, "input_ppi", (300.0, 360.0, 300.0)),
    (PRINTER, "bit_depths", (16, 16)),
    (PAIR, "feeds", ("roll", "roll")),
    (PAPER, "on_printer", (PAIR, replace(PAIR, media_type="other"))),
    (PAPER, "stock", (Stock(sheet="A3"), Stock(sheet="a3", sheets_left=2))),
    (PAPER, "stock", (ROLL, replace(ROLL, left_m=30))),
]


@pytest.mark.parametrize(
    ("value", "name", "twice"),
    LISTS,
    ids=[
        f"{type(value).__name__}-{name}-{twice[0]!s:.20}"
        for value, name, twice in LISTS
    ],
)
def test_list_holds_nothing_twice(value, name, twice):
    """People tell names apart, so case and blanks make no other name."""
    error = refusal(value, **{name: twice})
    assert error.problem.endswith(f" twice in {name}.")
    assert error.remedy.startswith("Remove one")
    assert getattr(replace(value, **{name: twice[:1]}), name) == twice[:1]


@pytest.mark.parametrize(
    ("value", "name"),
    [
        (PRINTER, "black_inks"),
        (PRINTER, "feeds"),
        (PRINTER, "input_ppi"),
        (PRINTER, "bit_depths"),
        (PAIR, "feeds"),
    ],
)
def test_list_that_findings_choose_from_holds_something(value, name):
    error = refusal(value, **{name: ()})
    assert error.problem.endswith(f" has no {name}.")
    assert error.remedy == f"Give one or more {name.replace('_', ' ')}."


@pytest.mark.parametrize(
    ("value", "name"),
    [(PRINTER, "black_inks"), (PAIR, "feeds")],
)
def test_name_in_a_list_cannot_be_blank(value, name):
    error = refusal(value, **{name: ("one", " ")})
    assert f"one of the {name} has no name" in error.problem
    assert error.remedy == "Write its name."


@pytest.mark.parametrize(
    "digest", ["0" * 63, "0" * 65, "g" * 64, "A" * 64, " " * 64, "0" * 64 + "\n"]
)
def test_hash_is_64_small_hexadecimal_digits(digest):
    assert replace(PAIR, profile_sha256="f" * 64).profile_sha256 == "f" * 64
    error = refusal(PAIR, profile_sha256=digest)
    assert "has profile_sha256" in error.problem
    assert error.remedy.endswith("or leave it empty.")


def test_paper_names_the_printers_that_it_is_set_up_for():
    assert PAPER.on(PRINTER) is PAIR
    with pytest.raises(SpecError, match=r"has them for Studio 24\. Add them to"):
        PAPER.on(replace(PRINTER, name="Studio 17"))
    with pytest.raises(SpecError, match=r"has them for none\. Add them to"):
        replace(PAPER, on_printer=()).on(PRINTER)


def test_printer_names_its_feed_paths():
    assert PRINTER.feed("roll") == replace(FEED, name="roll")
    with pytest.raises(SpecError, match=r"Choose one of: sheet slot, roll\."):
        PRINTER.feed("slot")


# Stock


def test_stock_is_of_sheets_or_of_a_roll():
    assert PAPER.sheets == ("A3", "13x19 in")
    assert replace(PAPER, stock=(ROLL, Stock(sheet="A4"))).sheets == ("A4",)
    with pytest.raises(SpecError, match=r"neither sheet nor roll\. Give a sheet"):
        Stock()
    with pytest.raises(SpecError, match=r"both a sheet and a roll\. .* two entries"):
        Stock(sheet="A3", roll_width_mm=610)
    with pytest.raises(SpecError, match="Write its sheet"):
        Stock(sheet=" ")


@pytest.mark.parametrize(
    ("value", "changes"),
    [
        (Stock(sheet="A3"), {"left_m": 3.0}),
        (Stock(sheet="A3"), {"roll_length_m": 30.0}),
        (ROLL, {"sheets_left": 3}),
    ],
)
def test_sheets_are_counted_and_rolls_are_measured(value, changes):
    error = refusal(value, **changes)
    assert error.problem.endswith(f" has {next(iter(changes))}.")
    assert error.remedy == "Count the sheets that are left, and metres of a roll."


@pytest.mark.parametrize("count", [-1, 100_001])
def test_count_of_sheets_has_its_range(count):
    assert replace(PAPER.stock[1], sheets_left=0).sheets_left == 0
    error = refusal(PAPER.stock[1], sheets_left=count)
    assert error.problem == f"The stock of 13x19 in: sheets_left is {count} sheets."


@pytest.mark.parametrize("value", [ROLL, PRINTER])
@pytest.mark.parametrize("code", ["", "eur", "EURO", "€", "EU\n"])
def test_currency_is_three_capital_letters(value, code):
    """ISO 4217."""
    assert replace(value, currency="EUR").currency == "EUR"
    assert '"EUR"' in refusal(value, currency=code).remedy


# Printer and paper


def test_black_inks_are_among_all_inks():
    inks = ("cyan", "matte black", "photo black")
    assert replace(PRINTER, inks=inks).inks == inks
    error = refusal(PRINTER, inks=inks[:2])
    assert 'the black ink "photo black", which is not among' in error.problem
    assert "among the inks as well" in error.remedy


def test_feed_path_takes_sheets_unless_it_says_rolls():
    assert FEED.takes is MediaForm.SHEETS
    assert replace(FEED, takes=MediaForm.ROLLS).takes == "rolls"


@pytest.mark.parametrize(
    "white", [(), (96.0, 0.0), (96.0, 0.0, 2.0, 1.0), (0.96, 0.0, 0.02), (96, 0, 99)]
)
def test_white_of_a_paper_is_three_likely_numbers(white):
    assert replace(PAPER, white_lab=(96.0, -0.5, 2.0)).white_lab == (96.0, -0.5, 2.0)
    assert "such as [96, 0, 2]" in refusal(PAPER, white_lab=white).remedy
    nan = float("nan")
    assert "white_lab" in refusal(PAPER, white_lab=(nan, 0.0, 0.0)).problem
