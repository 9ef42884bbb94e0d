"""Ink is estimated from measured prints, and without enough of them not at all."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from printplan.demo.scenario import studio_printer
from printplan.media import Paper, Surface
from printplan.pixels.ink_load import InkLoad
from printplan.record.ink_estimate import (
    LEAST_PRINTS,
    InkEstimate,
    MeasuredPrint,
    estimate_in_journal,
    ink_estimate,
    measured_prints,
)
from printplan.record.journal.entry import Outcome, PrintEntry
from printplan.record.journal.journal import create_journal, open_journal
from printplan.record.journal.view import read_journal

NOON = datetime(2026, 5, 3, 12, tzinfo=UTC)
PRINTER = studio_printer()
PAPER = Paper(
    name="Fen Cotton 310",
    surface=Surface.MATTE,
    weight_gsm=310.0,
    thickness_um=520.0,
    psf_sigma_um=50.0,
    on_printer=(),
)
# Millilitres of the simulated printer for a square metre of solid colour.
TRUE_ML_M2 = np.array([9.0, 8.0, 7.0, 14.0])


def loads(count, seed=1, area_m2=0.1):
    rng = np.random.default_rng(seed)
    for _ in range(count):
        grey = rng.uniform(0.2, 0.6)
        shares = [*(grey * rng.uniform(0.05, 0.6, 3)), grey]
        cyan, magenta, yellow, black = (float(area_m2 * it) for it in shares)
        yield InkLoad(
            driver="RGB",
            cyan_m2=cyan,
            magenta_m2=magenta,
            yellow_m2=yellow,
            black_m2=black,
            printed_m2=area_m2,
        )


def used(load):
    return float(np.array(load.solid_m2) @ TRUE_ML_M2)


def measured(count, paper=PAPER.name, factor=1.0, seed=1):
    return [
        MeasuredPrint(paper=paper, printer=PRINTER.name, load=it, ml=factor * used(it))
        for it in loads(count, seed)
    ]


def test_known_inks_are_found_again_at_any_size():
    (new,) = loads(1, seed=9, area_m2=0.4)
    found = ink_estimate(new, measured(12), PAPER)
    assert found.ml == pytest.approx(used(new), rel=1e-6)
    assert found.low_ml <= found.ml <= found.high_ml
    assert "12 measured prints on Fen Cotton 310" in found.words


def test_scatter_of_the_prints_is_in_the_interval():
    rng = np.random.default_rng(4)
    (new,) = loads(1, seed=9)
    prints = [replace(it, ml=it.ml * rng.normal(1, 0.05)) for it in measured(20)]
    found = ink_estimate(new, prints, PAPER)
    assert found.low_ml < used(new) < found.high_ml
    assert 0.05 < (found.high_ml - found.low_ml) / found.ml < 0.5


@pytest.mark.parametrize("count", [0, 1, LEAST_PRINTS - 1])
def test_too_few_prints_are_no_calibration(count):
    (new,) = loads(1, seed=9)
    found = ink_estimate(new, measured(count), PAPER)
    assert (found.ml, found.low_ml, found.high_ml) == (None, None, None)
    assert found.amount_words == "not calibrated"
    assert f"{LEAST_PRINTS} are needed" in found.words
    assert ink_estimate(new, measured(LEAST_PRINTS), PAPER).ml is not None


def test_prints_on_its_own_paper_go_before_others():
    (new,) = loads(1, seed=9)
    others = measured(20, paper="Alder Satin 260", factor=0.5, seed=2)
    own = ink_estimate(new, [*measured(9), *others], PAPER)
    assert own.ml == pytest.approx(used(new), rel=1e-6)
    all_papers = ink_estimate(new, [*measured(3), *others], PAPER)
    assert all_papers.ml < 0.9 * used(new)
    assert "23 measured prints on all papers" in all_papers.words


def test_black_and_white_prints_say_nothing_of_a_colour():
    (new,) = loads(1, seed=9)
    grey = [
        replace(
            it,
            load=replace(it.load, cyan_m2=0.0, magenta_m2=0.0, yellow_m2=0.0),
            ml=14 * it.load.black_m2,
        )
        for it in measured(10)
    ]
    assert "none had such colours" in ink_estimate(new, grey, PAPER).words
    plain = replace(new, cyan_m2=0.0, magenta_m2=0.0, yellow_m2=0.0)
    found = ink_estimate(plain, grey, PAPER)
    assert found.ml == pytest.approx(14 * plain.black_m2)


def test_print_unlike_the_measured_ones_is_told():
    (new,) = loads(1, seed=9)
    assert "unlike" not in ink_estimate(new, measured(30), PAPER).words
    red = replace(new, magenta_m2=0.09, yellow_m2=0.09, black_m2=0.001)
    assert (
        "unlike those that were measured"
        in ink_estimate(red, measured(30), PAPER).words
    )


def test_other_drivers_prints_do_not_count():
    (new,) = loads(1, seed=9)
    other = [replace(it, load=replace(it.load, driver="CMYK")) for it in measured(20)]
    assert ink_estimate(new, other, PAPER).ml is None


def entry_of(load, copies=1, **changes):
    entry = PrintEntry(
        printed_at=NOON,
        plan_id="print",
        paper=PAPER.name,
        printer=PRINTER.name,
        width_mm=400,
        height_mm=250,
        outcome=Outcome.GOOD,
        copies=copies,
        ink_ml=copies * used(load),
    )
    return replace(entry, **changes)


def text_of(load):
    names = ("cyan_m2", "magenta_m2", "yellow_m2", "black_m2", "printed_m2")
    lines = [f"{it} = {float(getattr(load, it))!r}" for it in names]
    return "\n".join(["[ink_load]", f'driver = "{load.driver}"', *lines, ""])


@pytest.fixture
def journal(tmp_path):
    path = tmp_path / "journal.db"

    def fill(opened):
        for number, load in enumerate(loads(10)):
            opened.add(
                entry_of(load, copies=1 + number % 3),
                noted_at=NOON + timedelta(minutes=number),
                record_text=text_of(load),
            )

    create_journal(path, started_at=NOON, fill=fill)
    return path


def test_journal_of_measured_prints_calibrates(journal):
    (new,) = loads(1, seed=9)
    found = estimate_in_journal(new, PAPER, PRINTER, journal)
    assert found.ml == pytest.approx(used(new), rel=1e-6)
    assert estimate_in_journal(None, PAPER, PRINTER, journal) is None
    none_yet = estimate_in_journal(new, PAPER, PRINTER, journal.with_name("none.db"))
    assert none_yet.ml is None


def test_prints_that_say_nothing_of_ink_are_passed_over(journal):
    (load,) = loads(1, seed=9)
    with open_journal(journal) as opened:
        before = measured_prints(opened, PRINTER)
        for entry, text in (
            (entry_of(load, ink_ml=None), text_of(load)),
            (entry_of(load, printer="Another"), text_of(load)),
            (entry_of(load), ""),
            (entry_of(load), "[rendered]\n"),
            (entry_of(load), "no TOML"),
            (entry_of(load), "[ink_load]\ncyan_m2 = 'x'\n"),
        ):
            opened.add(entry, noted_at=NOON, record_text=text)
        struck = opened.add(entry_of(load), noted_at=NOON, record_text=text_of(load))
        opened.strike(struck, changed_at=NOON, why="Noted twice.")
    with read_journal(journal) as opened:
        assert measured_prints(opened, PRINTER) == before
        renamed = replace(PRINTER, name="New name", former_names=(PRINTER.name,))
        assert measured_prints(opened, renamed) == before
    assert len(before) == 10


def test_copies_of_one_file_err_together():
    one = InkEstimate(ml=2.0, low_ml=1.5, high_ml=2.5, words="")
    three = one.of_copies(3)
    assert (three.ml, three.low_ml, three.high_ml) == (6.0, 4.5, 7.5)
    assert InkEstimate(ml=None, words="").of_copies(3).ml is None
