"""What is kept of a print can be meant, or is refused with a remedy."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from printplan.errors import SpecError
from printplan.measurements import RestorePick, SpreadReading
from printplan.media import PaperOnPrinter
from printplan.sharpening.calibration import RestoreTrial
from printplan.sharpening.choice import MOST_RESTORE
from printplan.sharpening.response import SpreadCurve

# The studio, its readings and its picks are invented.
READING = SpreadReading(
    on=date(2026, 5, 3),
    sigma_um=48.1,
    uncertainty_um=0.9,
    edges=16,
    scan_ppi=1200,
    cycles_per_mm=(1.0, 4.0, 8.0),
    contrast_left=(0.95, 0.48, 0.05),
)
PICK = RestorePick(
    on=date(2026, 5, 3), offered=(0.5, 0.75, 1.0, 1.25), picked=0.75, distance_mm=400
)
PAIR = PaperOnPrinter(
    printer="Studio 24",
    profile="fen.icc",
    black_ink="matte black",
    media_type="",
    feeds=("roll",),
)
NAN, INFINITE = float("nan"), float("inf")


def refusal(value, **changes):
    with pytest.raises(SpecError) as caught:
        replace(value, **changes)
    return caught.value


RANGES = [
    (READING, "sigma_um", 1, 500, "µm"),
    (READING, "edges", 1, 100_000, "edges"),
    (READING, "scan_ppi", 406.4, 20_000, "ppi"),
    (PICK, "distance_mm", 50, 50_000, "mm"),
]


@pytest.mark.parametrize(
    ("value", "name", "low", "high", "unit"), RANGES, ids=[row[1] for row in RANGES]
)
def test_number_outside_its_range_is_refused(value, name, low, high, unit):
    small = {"uncertainty_um": 0.1} if value is READING else {}
    assert getattr(replace(value, **small | {name: low}), name) == low
    assert getattr(replace(value, **small | {name: high}), name) == high
    for number in (low - 0.5, high + 1, 0, -1e300, INFINITE, -INFINITE, NAN):
        error = refusal(value, **small | {name: number})
        assert f"of 2026-05-03: {name} is" in error.problem or (
            name == "scan_ppi" and "cycles_per_mm go up" in error.problem
        )
        assert unit in error.problem
        assert error.remedy.startswith(("Give ", "Correct the scan's ppi"))


def test_slip_of_the_unit_in_the_spread_is_refused():
    error = refusal(READING, sigma_um=0.0481)
    assert error.problem.endswith("sigma_um is 0.0481 µm.")
    assert error.remedy == "Give 1 to 500 µm."


@pytest.mark.parametrize("uncertainty_um", [0, -1, 48.1, 60, NAN, INFINITE])
def test_uncertainty_lies_above_0_and_below_the_spread(uncertainty_um):
    error = refusal(READING, uncertainty_um=uncertainty_um)
    assert "uncertainty_um is" in error.problem
    assert "the spread itself 48.1 µm" in error.problem
    assert "standard error" in error.remedy


@pytest.mark.parametrize(
    ("places", "values", "problem", "remedy"),
    [
        ((1.0, 2.0), (0.9,), "has 2 cycles_per_mm and 1 ", "for each frequency"),
        ((1.0,), (0.9,), "has 1 cycles_per_mm and 1 ", "two or more"),
        ((), (), "has 0 cycles_per_mm and 0 ", "two or more"),
        ((2.0, 1.0), (0.9, 0.8), "do not rise", "Sort them"),
        ((1.0, 1.0), (0.9, 0.8), "do not rise", "Sort them"),
        ((0.0, 1.0), (1.0, 0.8), "do not rise", "leave out frequency 0"),
        ((1.0, NAN), (0.9, 0.8), "do not rise", "Sort them"),
        ((NAN, 2.0), (0.9, 0.8), "do not rise", "Sort them"),
        ((1.0, INFINITE), (0.9, 0.8), "go up to inf", "per millimetre"),
        ((1.0, 2.0), (0.9, 0.0), "contrast_left has 0.", "cut the curve off"),
        ((1.0, 2.0), (0.9, -0.1), "contrast_left has -0.1.", "above 0"),
        ((1.0, 2.0), (1.21, 0.8), "contrast_left has 1.21.", "up to 1.2"),
        ((1.0, 2.0), (0.9, NAN), "contrast_left has nan.", "above 0"),
    ],
)
def test_curve_that_is_none_is_refused(places, values, problem, remedy):
    error = refusal(READING, cycles_per_mm=places, contrast_left=values)
    assert problem in error.problem
    assert remedy in error.remedy


def test_frequency_beyond_what_the_scan_holds_is_refused():
    """Two scan pixels a cycle: 600 per inch, 600/25.4 per millimetre (sampling)."""
    limit = 600 / 25.4
    assert replace(READING, cycles_per_mm=(1.0, 4.0, limit)).scan_ppi == 1200
    error = refusal(READING, cycles_per_mm=(25.4, 101.6, 203.2))  # per inch
    assert "go up to 203.2; a scan at 1200 ppi shows 23.62 at most" in error.problem
    assert "per millimetre" in error.remedy


def test_curve_that_is_kept_can_be_reckoned_with():
    """What a reading takes, `SpreadCurve` takes."""
    kept = replace(READING, contrast_left=(1.2, 0.48, 1e-9))
    curve = SpreadCurve(cycles_per_mm=kept.cycles_per_mm, values=kept.contrast_left)
    assert curve.values == kept.contrast_left


@pytest.mark.parametrize(
    ("changes", "problem", "remedy"),
    [
        ({"picked": 0.8}, "picked is 0.8, which was not", "one of 0.5, 0.75, 1, 1.25."),
        ({"picked": NAN}, "picked is nan", "one of 0.5"),
        ({"offered": ()}, "offered 0 different", "two or more"),
        ({"offered": (0.75,)}, "offered 1 different", "two or more"),
        ({"offered": (0.75, 0.75)}, "offered 1 different", "two or more"),
        ({"offered": (0.75, -0.1)}, "offered is -0.1 of the loss", "0 to 1.5"),
        ({"offered": (0.75, 1.6)}, "offered is 1.6 of the loss", "0 to 1.5"),
        ({"offered": (0.75, 75.0)}, "offered is 75 of the loss", "0 to 1.5"),
        ({"offered": (0.75, NAN)}, "offered is nan of the loss", "0 to 1.5"),
    ],
)
def test_pick_that_is_none_is_refused(changes, problem, remedy):
    error = refusal(PICK, **changes)
    assert error.problem.startswith("The restore pick of 2026-05-03")
    assert problem in error.problem
    assert remedy in error.remedy


def test_pick_takes_what_a_trial_takes():
    whole = (0.0, MOST_RESTORE)
    assert replace(PICK, offered=whole, picked=0.0).offered == whole
    assert RestoreTrial(offered=whole, picked=0.0).offered == whole
    assert replace(PICK, distance_mm=None).distance_mm is None


@pytest.mark.parametrize("value", [READING, PICK], ids=["reading", "pick"])
@pytest.mark.parametrize(
    "on",
    [date(26, 5, 3), date(1989, 12, 31), datetime(2026, 5, 3, 12, tzinfo=UTC), "3 May"],
)
def test_day_that_cannot_be_meant_is_refused(value, on):
    error = refusal(value, on=on)
    assert f"has the date {on}." in error.problem
    assert error.remedy == "Give a day from 1990-01-01 on, such as 2026-05-03."


def test_the_same_scan_counts_once():
    later = replace(READING, on=date(2026, 5, 4))
    assert len(replace(PAIR, spread_readings=(READING, later)).spread_readings) == 2
    again = replace(READING, note="the same scan")
    error = refusal(PAIR, spread_readings=(READING, later, again))
    assert "reading of 2026-05-03 twice in spread_readings" in error.problem
    assert error.remedy.startswith("Remove one")


def test_two_viewers_may_pick_alike_if_their_notes_tell_them_apart():
    other = replace(PICK, note="second viewer")
    assert replace(PAIR, restore_picks=(PICK, other)).restore_picks[1] is other
    error = refusal(PAIR, restore_picks=(PICK, other, PICK))
    assert "pick of 2026-05-03 twice in restore_picks" in error.problem
    assert "by their notes" in error.remedy
