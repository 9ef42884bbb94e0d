"""Printed tones, against a press standard, ISO 18619 and closed forms."""

import numpy as np
import pytest

from printplan.colour.difference import delta_e_2000
from printplan.colour.spaces import named_profile
from printplan.colour.tone import (
    LEAST_STEP_L,
    ToneWedge,
    density_to_lightness,
    neutrality,
    print_wedge,
    tone_scale,
    tone_steps,
)
from printplan.colour.transforms import device_to_lab
from printplan.colour.viewing import distinct_shadow_steps
from printplan.errors import ProfileError, SpecError
from printplan.spec import BlackPointCompensation, Intent, NamedSpace

ON, OFF = BlackPointCompensation.ON, BlackPointCompensation.OFF

# In-gamut colours of a good profile round-trip within about 1.1 (common practice for
# a 17- or 33-point table).
TABLE_DELTA_E = 1.1

# FOGRA39's black as LittleCMS 2.14 finds it, relative to the paper, ± 0.02.
FOGRA39_BLACK_L = 9.551


def wedge_on(paper, compensation, *, intent=Intent.MEDIA_RELATIVE, source_l=None):
    return print_wedge(
        named_profile(NamedSpace.ROMM_RGB),
        paper,
        intent=intent,
        black_point_compensation=compensation,
        source_l=source_l,
    )


def wedge_of(printed_l, *, drift_a=0.0, drift_b=0.0, source_l=None):
    """A wedge made by hand, on a paper that is a perfect white."""
    printed_l = np.asarray(printed_l, float)
    lab = np.stack(
        [printed_l, *np.broadcast_arrays(printed_l, drift_a, drift_b)[1:]], axis=-1
    )
    steps = np.linspace(0, 100, printed_l.size) if source_l is None else source_l
    device = np.zeros((printed_l.size, 3), np.uint16)
    return ToneWedge(
        source_l=np.asarray(steps, float),
        device=device,
        relative_lab=lab,
        printed_lab=lab,
    )


def test_white_of_the_wedge_is_the_bare_paper(fogra39):
    # FOGRA39: paper 95, 0, -2; ± 0.1 for the rounding of the printed values.
    white = wedge_on(fogra39, ON).step(-1)
    # The tables are not exact: one ten-thousandth of the ink may be left.
    assert max(white.device) <= 6
    assert [white.printed_l, white.printed_a, white.printed_b] == pytest.approx(
        [95, 0, -2], abs=0.1
    )
    assert white.relative_l == pytest.approx(100, abs=0.05)


def test_four_inks_print_darker_than_black_alone(fogra39):
    # FOGRA39: solid black 16, 0, 0; ± 0.1. Relative and compensated greys end at the
    # darkest colour of all inks.
    black_ink = np.array([[[0, 0, 0, 65535]]], np.uint16)
    solid = device_to_lab(black_ink, fogra39, intent=Intent.ICC_ABSOLUTE)[0, 0]
    assert solid == pytest.approx([16, 0, 0], abs=0.1)
    darkest = tone_scale(wedge_on(fogra39, ON)).darkest
    assert darkest.printed_l < solid[0] - 3
    assert all(ink > 0 for ink in darkest.device)


def test_uncompensated_tones_below_the_papers_black_are_one_level(fogra39):
    # The reason for ISO 18619: without compensation what is darker than the
    # destination's black is clipped to it.
    shadows = wedge_on(fogra39, OFF, source_l=np.arange(0.0, FOGRA39_BLACK_L))
    one_level = np.array([FOGRA39_BLACK_L, 0, 0])
    off_level = delta_e_2000(shadows.relative_lab * [1.0, 0, 0], one_level)
    assert off_level.max() <= TABLE_DELTA_E
    apart = tone_steps(shadows)
    assert not apart.is_separate.any()


def test_uncompensated_tones_on_matte_paper_are_one_level_exactly(paper_profiles):
    cotton = paper_profiles["Fen Cotton 310"]
    # The paper's black is L* 15.6 (ICC-absolute) by design.
    shadows = wedge_on(cotton, OFF, source_l=np.arange(0.0, 15.1))
    # Two codes of a 16-bit L*.
    assert np.ptp(shadows.printed_lab[:, 0]) <= 2 * 100 / 65280
    apart = tone_steps(shadows)
    assert apart.first_dark is None
    assert apart.last_light is None


def test_compensated_tones_keep_their_order_and_distance(fogra39, paper_profiles):
    for paper in (fogra39, *paper_profiles.values()):
        shadows = tone_steps(wedge_on(paper, ON, source_l=np.arange(21.0)))
        assert (shadows.delta_l > 0.1).all()
        without = tone_steps(wedge_on(paper, OFF, source_l=np.arange(21.0)))
        assert shadows.first_dark.source_l < without.first_dark.source_l


def test_compensated_tones_follow_iso_18619(fogra39):
    # ISO 18619:2015: Y' = a·Y + b with a = (BPo - 1)/(BPi - 1) and b = 1 - a, for a
    # source whose black is 0. CIE L*, with Y = L*/903.3 up to L* 8.
    wedge = wedge_on(fogra39, ON)
    black_y = ((FOGRA39_BLACK_L + 16) / 116) ** 3
    source_l = wedge.source_l
    source_y = np.where(source_l > 8, ((source_l + 16) / 116) ** 3, source_l / 903.3)
    expected_l = 116 * np.cbrt((1 - black_y) * source_y + black_y) - 16
    expected = expected_l[:, None] * [1.0, 0, 0]
    off = delta_e_2000(wedge.relative_lab * [1.0, 0, 0], expected)
    assert off.max() <= TABLE_DELTA_E


@pytest.mark.parametrize("space", list(NamedSpace))
def test_source_holds_the_steps_that_were_asked(space, fogra39):
    wedge = print_wedge(
        named_profile(space),
        fogra39,
        intent=Intent.MEDIA_RELATIVE,
        black_point_compensation=ON,
    )
    # The steepest code of the three, ROMM RGB's near L* 8, is 0.003 of L* in 16 bits
    # (116·c^0.6 - 16 by its derivative at c = 0.072); two codes for three channels.
    assert np.abs(wedge.source_l - np.arange(101)).max() <= 0.006


@pytest.mark.parametrize("intent", list(Intent))
def test_greys_are_neutral_within_the_table(intent, fogra39):
    """In every intent, in the tones that the paper can hold."""
    wedge = wedge_on(fogra39, ON, intent=intent, source_l=np.arange(15.0, 91))
    if intent is Intent.ICC_ABSOLUTE:
        assert np.hypot(*wedge.printed_lab[:, 1:].T).max() <= TABLE_DELTA_E
        # The paper is bluish (b* -2), so what is neutral to D50 looks yellow on it.
        assert (neutrality(wedge).drift_b[-20:] > 1).all()
    else:
        assert neutrality(wedge).max_chroma <= TABLE_DELTA_E


def test_neutrality_finds_the_strongest_cast():
    drift_a, drift_b = np.array([0.0, 3, -1, 0, 0]), np.array([0.0, 4, 0, -2, 0])
    found = neutrality(wedge_of([5, 25, 50, 75, 95], drift_a=drift_a, drift_b=drift_b))
    assert found.chroma.tolist() == [0, 5, 1, 2, 0]
    assert found.max_chroma == 5
    assert found.mean_chroma == pytest.approx(8 / 5)
    assert found.strongest.source_l == 25
    assert np.array_equal(found.drift_a, drift_a)
    assert np.array_equal(found.drift_b, drift_b)


def test_separation_of_a_clipped_ramp_is_its_straight_part():
    source_l = np.arange(0.0, 101, 5)
    apart = tone_steps(wedge_of(np.clip(source_l, 15, 90), source_l=source_l))
    assert apart.is_separate.tolist() == [15 <= step < 90 for step in source_l[:-1]]
    assert apart.first_dark.source_l == 20
    assert apart.last_light.source_l == 85


def test_tones_that_swap_places_are_not_separate():
    """A dip after a rise hides the rise: the shadows meet again."""
    apart = tone_steps(wedge_of([10, 14, 10.2, 30, 60, 90]))
    assert apart.is_separate.tolist() == [True, False, True, True, True]
    assert apart.first_dark.printed_l == 30
    assert apart.delta_l[1] == pytest.approx(-3.8)


def test_lights_that_meet_the_white_again_are_not_apart_from_it():
    apart = tone_steps(wedge_of([10, 50, 98, 99, 98.2]))
    assert apart.last_light.printed_l == 50


def test_wandering_cast_is_no_separation():
    apart = tone_steps(wedge_of([20, 20, 20], drift_a=np.array([0.0, 5, 0])))
    assert (apart.delta_e_2000 > 3).all()
    assert not apart.is_separate.any()


def test_least_step_is_told_apart_in_appraisal_light():
    """Half a unit of L* is the default because ISO 3664 P2 light shows it."""
    ladder_l = np.arange(1.0, 100, LEAST_STEP_L)
    steps = distinct_shadow_steps(ladder_l, 500)
    assert steps.distinct == ladder_l.size - 1


@pytest.mark.parametrize(("density", "lightness"), [(2.0, 8.991), (1.6, 17.972)])
def test_density_of_a_step_is_that_of_its_lightness(density, lightness):
    # CIE L* of Y = 10^-D: D 2.0 → 8.991, 1.6 → 17.972 (ISO 5-3 for D). Three
    # decimals of L* are 4e-5 of D.
    step = wedge_of([lightness, 90]).step(0)
    assert step.density == pytest.approx(density, abs=1e-4)


def test_tone_scale_measures_range_and_density():
    ends = [density_to_lightness(2.0), density_to_lightness(0.05)]
    scale = tone_scale(wedge_of([ends[0], 50, ends[1]]))
    assert scale.density_range == pytest.approx(1.95)
    assert scale.share_kept == pytest.approx((ends[1] - ends[0]) / 100)
    part = tone_scale(wedge_of([20.0, 35], source_l=[0, 20]))
    assert part.share_kept == pytest.approx(0.75)


def test_matte_paper_keeps_less_of_the_scale(paper_profiles):
    scales = {
        name: tone_scale(wedge_on(profile, ON))
        for name, profile in paper_profiles.items()
    }
    cotton = scales.pop("Fen Cotton 310")
    # By design: black L* 15.6 is D 1.70, white 95.8 is D 0.05, all ICC-absolute.
    assert cotton.density_range == pytest.approx(1.65, abs=0.05)
    assert all(cotton.share_kept < other.share_kept for other in scales.values())


@pytest.mark.parametrize(
    ("source_l", "remedy"),
    [
        ([50.0], "Give rising L"),
        ([], "Give rising L"),
        ([[0.0, 1]], "Give rising L"),
        ([-1.0, 50], "Give rising L"),
        ([0.0, 101], "Give rising L"),
        ([0.0, np.nan], "Give rising L"),
        ([0.0, 10, 10], "from dark to light"),
        ([20.0, 10], "from dark to light"),
    ],
)
def test_what_is_no_wedge_is_refused(source_l, remedy, fogra39):
    with pytest.raises(SpecError, match=remedy):
        wedge_on(fogra39, ON, source_l=np.array(source_l))


@pytest.mark.parametrize("least_step_l", [0, -1, 101, float("nan")])
def test_impossible_least_step_is_refused(least_step_l):
    with pytest.raises(SpecError, match=r"such as 0\.5"):
        tone_steps(wedge_of([10, 90]), least_step_l=least_step_l)


def test_working_space_is_no_paper():
    with pytest.raises(ProfileError, match="made for this paper"):
        wedge_on(named_profile(NamedSpace.SRGB), ON)
