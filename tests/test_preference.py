"""What picked patches say of the restore wanted."""

from math import sqrt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printplan.errors import SpecError
from printplan.sharpening.calibration import RestoreTrial, preferred_restore

OFFERED = (0.25, 0.5, 0.75, 1.0, 1.25)


def trials(*picks, offered=OFFERED):
    return [RestoreTrial(offered=offered, picked=pick) for pick in picks]


@pytest.mark.parametrize("picked", OFFERED)
def test_one_trial_gives_its_pick_with_the_spread_of_a_blind_one(picked):
    preference = preferred_restore(trials(picked))
    assert preference.value == picked
    # An even chance over a width has a standard deviation of that width over √12.
    assert preference.spread == pytest.approx(1.0 / sqrt(12))
    assert preference.count == 1


def test_the_spread_closes_in_with_trials_that_agree():
    spreads = [preferred_restore(trials(*[0.75] * n)).spread for n in (1, 2, 4, 8)]
    assert spreads == sorted(spreads, reverse=True)
    # Never surer than the patches are close: a step over √12, over √8.
    assert spreads[-1] >= 0.25 / sqrt(12) / sqrt(8)
    assert spreads[-1] < 0.2 * spreads[0]


def test_trials_that_disagree_leave_a_wider_spread():
    agreeing = preferred_restore(trials(0.75, 0.75, 0.75, 0.75, 0.75, 0.75))
    wandering = preferred_restore(trials(0.25, 1.25, 0.5, 1.0, 0.25, 1.25))
    assert wandering.spread > 2 * agreeing.spread
    assert wandering.value == pytest.approx(0.75, abs=0.01)


def test_the_spread_of_three_trials_is_that_of_the_formula():
    """The first guess counts as one trial, the scatter that is found as two."""
    wide = (0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5)
    preference = preferred_restore(trials(0.5, 0.75, 1.0, offered=wide))
    # 1.4826: the median of absolute deviations to sigma, at the normal law.
    single = (1.5**2 / 12 + 2 * (1.4826 * 0.25) ** 2) / 3
    assert preference.value == pytest.approx(0.75)
    assert preference.spread == pytest.approx(sqrt(single / 3), rel=1e-4)


def test_one_odd_pick_carries_little():
    preference = preferred_restore(trials(0.5, 0.5, 0.75, 0.5, 0.5, 1.25))
    mean = (5 * 0.5 + 0.25 + 0.75) / 6
    assert 0.5 <= preference.value < mean


def test_a_finely_stepped_trial_counts_for_more_than_a_coarse_one():
    fine = RestoreTrial(offered=(0.7, 0.8, 0.9), picked=0.8)
    coarse = RestoreTrial(offered=(0.0, 0.6, 1.2), picked=1.2)
    preference = preferred_restore([fine, coarse])
    assert abs(preference.value - 0.8) < abs(preference.value - 1.2)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(picks=st.lists(st.sampled_from(OFFERED), min_size=1, max_size=9), data=st.data())
def test_the_value_lies_among_the_picks_in_whatever_order(picks, data):
    shuffled = data.draw(st.permutations(picks))
    one, other = (preferred_restore(trials(*order)) for order in (picks, shuffled))
    assert min(picks) - 1e-9 <= one.value <= max(picks) + 1e-9
    assert one.value == pytest.approx(other.value)
    assert one.spread == pytest.approx(other.spread)
    assert one.spread > 0


def test_no_trial_is_refused():
    with pytest.raises(SpecError, match="Print one trial sheet"):
        preferred_restore([])


@pytest.mark.parametrize(
    ("offered", "picked", "told"),
    [
        ((0.5, 1.0), 0.75, r"0\.75 was not offered.*Pick one of 0\.5, 1\."),
        ((0.5, 0.5), 0.5, "1 different patches.*Offer two or more"),
        ((), 0.5, "0 different patches.*Offer two or more"),
        ((0.5, 1.6), 0.5, r"from 0\.5 to 1\.6.*from 0 to 1\.5"),
        ((-0.1, 1.0), 1.0, r"from -0\.1 to 1.*from 0 to 1\.5"),
    ],
    ids=["not-offered", "all-alike", "none", "too-much", "negative"],
)
def test_a_trial_that_cannot_be_is_refused(offered, picked, told):
    with pytest.raises(SpecError, match=told):
        RestoreTrial(offered=offered, picked=picked)
