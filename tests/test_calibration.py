"""What the readings and picks of a paper say together."""

from datetime import date
from math import pi, sqrt
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printplan.measurements import RestorePick, SpreadReading
from printplan.media import Paper, PaperOnPrinter, Surface
from printplan.sharpening.calibration import (
    RestoreTrial,
    _joint_curve,
    preferred_restore,
    restore_on,
    spread_on,
)
from printplan.sharpening.response import SpreadCurve, spread_mtf

# The studio, its paper and its readings are invented.
PAPER = Paper(
    name="Fen Cotton 310",
    surface=Surface.MATTE,
    weight_gsm=310,
    thickness_um=560,
    psf_sigma_um=50,
    on_printer=(),
)
FREQUENCY = np.linspace(0, 12, 121)[1:]


def gaussian(frequency, sigma_um):
    """Fourier transform of a Gaussian line spread: textbook."""
    return np.exp(-2 * (pi * sigma_um / 1000 * frequency) ** 2)


def exponential(frequency, sigma_um):
    """
    Fourier transform of a two-sided exponential line spread: textbook.

    Its standard deviation is √2 times its decay length; its response falls faster
    than a Gaussian's at first and more slowly afterwards, as paper's does.
    """
    return 1 / (1 + 2 * (pi * sigma_um / 1000 * frequency) ** 2)


def reading(sigma_um, uncertainty_um=1.0, day=3, shape=gaussian, **changes):
    return SpreadReading(
        **{
            "on": date(2026, 5, day),
            "sigma_um": sigma_um,
            "uncertainty_um": uncertainty_um,
            "edges": 16,
            "scan_ppi": 1200,
            "cycles_per_mm": tuple(FREQUENCY.tolist()),
            "contrast_left": tuple(shape(FREQUENCY, sigma_um).tolist()),
        }
        | changes
    )


def setup(*readings, picks=()):
    return PaperOnPrinter(
        printer="Studio 24",
        profile="fen.icc",
        black_ink="matte black",
        media_type="",
        feeds=("roll",),
        spread_readings=readings,
        restore_picks=picks,
    )


def known(*readings):
    return spread_on(PAPER, setup(*readings))


def days(*sigmas, **changes):
    """A reading on each of several days."""
    return [reading(it, day=day, **changes) for day, it in enumerate(sigmas, 1)]


def test_paper_that_was_never_scanned_is_estimated_and_says_so():
    found = known()
    assert (found.spread, found.sigma_um, found.count) == (50, 50, 0)
    assert found.uncertainty_um is None
    assert "50 µm" in found.words
    assert "estimate, not measured" in found.words


def test_one_reading_stands_as_it_was_measured():
    only = reading(47.3, 0.8, shape=exponential)
    found = known(only)
    assert found.spread == SpreadCurve(
        cycles_per_mm=only.cycles_per_mm, values=only.contrast_left
    )
    assert found.sigma_um == pytest.approx(47.3)
    assert found.uncertainty_um == pytest.approx(0.8)
    assert found.words == (
        "The spread is 47.3 ± 0.8 µm (standard error), measured on 2026-05-03 from "
        "16 edges."
    )


def test_readings_that_agree_are_weighed_by_their_errors():
    """The mean weighted by 1/error², of standard error 1/√(Σ 1/error²): textbook."""
    sigmas, errors = np.array([48.0, 49.5, 48.6]), np.array([1.0, 2.0, 0.5])
    each = zip(sigmas, errors, (1, 2, 3), strict=True)
    found = known(*(reading(*values) for values in each))
    weights = 1 / errors**2
    mean = np.sum(weights * sigmas) / np.sum(weights)
    assert found.sigma_um == pytest.approx(mean, rel=1e-6)
    # The median deviation is 0.6 µm; made a standard deviation and divided by √3 it
    # is just above the error that the readings state.
    stated = 1 / sqrt(np.sum(weights))
    assert found.uncertainty_um == pytest.approx(max(stated, 1.4826 * 0.6 / sqrt(3)))
    assert found.count == 3
    assert "by 3 scans between 2026-05-01 and 2026-05-03." in found.words


def test_one_wrong_scan_does_not_carry_the_others_away():
    good = [48.0, 48.5, 47.6, 48.2]
    far, farther = known(*days(*good, 90.0)), known(*days(*good, 400.0))
    # Huber's influence is bounded by 1.345 standard deviations of one reading: it
    # shifts four others by a quarter and a little of that, 1 µm each here.
    assert abs(far.sigma_um - np.mean(good)) < 1.345 / 4 * 1.1
    assert farther.sigma_um == pytest.approx(far.sigma_um, rel=1e-6)
    assert "400.0 µm" in farther.words
    assert "the one of 2026-05-05 farthest off" in farther.words


# Upper critical values of chi-squared at 0.01, 1 to 3 degrees of freedom: NIST/SEMATECH
# e-Handbook of Statistical Methods, 1.3.6.7.4, printed to three decimals. The readings
# lie symmetrically, so the squares about their mean are known in closed form.
@pytest.mark.parametrize(
    ("places", "squares", "critical"),
    [
        ((-1, 1), 2, 6.635),
        ((-1, 0, 1), 2, 9.210),
        ((-1, -1, 1, 1), 4, 11.345),
    ],
)
def test_readings_are_said_to_disagree_where_chance_would_not_do_it(
    places, squares, critical
):
    error_um = 0.7
    limit_um = error_um * sqrt(critical / squares)
    for share, disagree in ((0.999, False), (1.001, True)):
        sigmas = [50 + share * limit_um * place for place in places]
        found = known(*days(*sigmas, uncertainty_um=error_um))
        assert ("farther apart than their errors allow" in found.words) is disagree
        assert found.sigma_um == pytest.approx(50, abs=1e-6)


def test_of_two_that_disagree_neither_is_called_the_odd_one():
    found = known(*days(40.0, 60.0))
    assert "from 40.0 to 60.0 µm, farther apart" in found.words
    assert "farthest off" not in found.words
    # Half the distance is the median deviation: the error grows with the scatter.
    assert found.uncertainty_um == pytest.approx(1.4826 * 10 / sqrt(2))


@pytest.mark.parametrize("shape", [gaussian, exponential])
def test_the_shape_of_the_curve_is_kept_at_the_joint_width(shape):
    found = known(*days(40.0, 60.0, shape=shape))
    assert found.sigma_um == pytest.approx(50)
    places = np.array(found.spread.cycles_per_mm)
    # Straight lines between points 0.1 cycles/mm apart, of a curve whose second
    # derivative is below 4π²σ²: h²/8 of that.
    tolerance = 0.1**2 / 8 * 4 * pi**2 * 0.06**2
    assert found.spread.values == pytest.approx(shape(places, 50), abs=2 * tolerance)
    # Half of the readings reach so far, each stretched by its own width over 50.
    assert places[-1] == pytest.approx(12 * (40 + 60) / 2 / 50)
    assert max(abs(gaussian(places, 50) - exponential(places, 50))) > 0.05


def test_one_odd_curve_does_not_bend_the_others():
    flat = reading(50.0, day=9, contrast_left=(0.9,) * FREQUENCY.size)
    found = known(*days(50.0, 50.5), flat)
    places = np.array(found.spread.cycles_per_mm)
    assert found.spread.values == pytest.approx(gaussian(places, 50.1), abs=0.01)


readings = st.builds(
    reading,
    sigma_um=st.floats(1, 500),
    uncertainty_um=st.floats(1e-9, 0.9),
    day=st.integers(1, 30),
    cycles_per_mm=st.just((0.5, 3.0, 20.0)),
    contrast_left=st.tuples(*[st.floats(1e-9, 1.2)] * 3),
)


@settings(max_examples=60)
@given(st.lists(readings, min_size=1, max_size=6, unique=True))
def test_any_readings_give_a_spread_between_them_and_a_curve(many):
    found = known(*many)
    sigmas = [each.sigma_um for each in many]
    assert min(sigmas) * (1 - 1e-9) <= found.sigma_um <= max(sigmas) * (1 + 1e-9)
    assert found.uncertainty_um > 0
    assert isinstance(found.spread, SpreadCurve)
    assert np.isfinite(spread_mtf(FREQUENCY, found.spread)).all()


def test_nobody_picked_yet():
    assert restore_on(setup()) is None


def test_picks_ask_for_what_their_trials_ask_for():
    offered = (0.5, 0.75, 1.0, 1.25)
    picks = [
        RestorePick(on=date(2026, 5, day), offered=offered, picked=picked)
        for day, picked in enumerate((0.75, 1.0, 0.75), 1)
    ]
    one = restore_on(setup(picks=(picks[0],)))
    # A blind pick is an even chance over the range offered: its width over √12.
    assert (one.value, one.count) == (0.75, 1)
    assert one.spread == pytest.approx(0.75 / sqrt(12))
    trials = [RestoreTrial(offered=offered, picked=it.picked) for it in picks]
    assert restore_on(setup(picks=tuple(picks))) == preferred_restore(trials)


def test_a_reading_with_the_scanner_in_it_gives_way_to_one_without():
    with_scanner = reading(60.0, includes_scanner=True)
    both = known(with_scanner, reading(50.0, day=4))
    assert (both.sigma_um, both.count) == (pytest.approx(50), 1)
    assert "scanner" not in both.words


def test_a_reading_with_the_scanner_in_it_only_bounds_the_estimate():
    """
    Variances add: paper and scanner together spread more than the paper.

    So 60 µm says nothing against an estimate of 50, and 40 µm says that it is too high.
    """
    above = known(reading(60.0, includes_scanner=True))
    assert (above.sigma_um, above.spread, above.count) == (50, 50, 0)
    assert above.uncertainty_um is None
    assert "estimate" in above.words
    assert "60.0 ± 1.0 µm" in above.words
    assert "scanner's own spread is in it" in above.words
    below = known(reading(40.0, includes_scanner=True))
    assert below.sigma_um == pytest.approx(40)
    assert "scanner's own spread is in it" in below.words
    assert "estimate of 50 µm is larger" in below.words


@pytest.mark.parametrize("error_um", [0.4, 0.04, 0.004, 0.0004])
def test_no_standard_error_is_told_as_nothing(error_um):
    words = known(reading(50.0, uncertainty_um=error_um)).words
    assert "± 0.0 µm" not in words
    assert "0.00 µm" not in words
    assert "±" in words


def test_readings_share_a_curve_of_even_steps_up_to_their_end():
    """Two readings alike, of a straight line: their curve is that line."""
    cycles = tuple(np.linspace(0.5, 12, 24).tolist())
    line = tuple((1 - np.array(cycles) / 20).tolist())
    one = SimpleNamespace(cycles_per_mm=cycles, contrast_left=line, sigma_um=30.0)
    curve = _joint_curve((one, one), 30.0)
    assert curve.cycles_per_mm == pytest.approx(cycles)
    assert curve.values == pytest.approx(line)
