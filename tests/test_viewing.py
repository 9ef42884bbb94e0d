"""Light on the print, against published levels and models."""

import re

import numpy as np
import pytest
from colour.models import eotf_DICOMGSDF
from hypothesis import given, settings
from hypothesis import strategies as st

from printplan.colour import viewing
from printplan.colour.spaces import named_profile
from printplan.colour.tone import print_wedge
from printplan.colour.viewing import (
    ROOMS_LX,
    LightBalance,
    contrast_threshold,
    distinct_shadow_steps,
    match_display,
    paper_luminance_cd_m2,
    paper_reflectance,
)
from printplan.errors import ProfileError, SpecError
from printplan.spec import BlackPointCompensation, Intent, NamedSpace

NOT_ABOVE_ZERO = [0.0, -50.0, float("nan"), float("inf")]
lit = st.floats(1, 20_000)


@pytest.mark.parametrize(
    ("illuminance_lx", "luminance_cd_m2", "tolerance"),
    # E·ρ/π with ρ = 0.89; 2000 and 500 lx are P1 and P2 of ISO 3664:2009.
    # Tolerances are half of the last decimal given.
    [(2000, 566.6, 0.05), (500, 141.65, 0.005), (80, 22.7, 0.05)],
)
def test_paper_luminance_is_that_of_an_even_scatterer(
    illuminance_lx, luminance_cd_m2, tolerance
):
    luminance = paper_luminance_cd_m2(illuminance_lx, 0.89)
    assert luminance == pytest.approx(luminance_cd_m2, abs=tolerance)


def test_perfect_white_in_a_light_booth_has_the_luminance_of_cie_159():
    # CIE 159:2004, table of viewing parameters (from memory): surface colours in a
    # light booth at 1000 lx, white of 318.3 cd/m².
    assert paper_luminance_cd_m2(1000, 1.0) == pytest.approx(318.3, abs=0.05)


def test_reflectance_of_press_paper_is_y_of_its_lightness(fogra39):
    # FOGRA39 paper: L* 95 ± 0.1. CIE L*: Y = ((95 + 16) / 116)³ = 0.8762, and 0.1 of
    # L* is 0.0024 of Y.
    assert paper_reflectance(fogra39) == pytest.approx(0.8762, abs=0.0024)


def test_reflectance_of_rgb_paper_is_that_of_full_code(paper_profiles):
    # The demo paper is made with a white of L* 95.8: Y = (111.8 / 116)³ = 0.8953.
    cotton = paper_profiles["Fen Cotton 310"]
    assert paper_reflectance(cotton) == pytest.approx(0.8953, abs=0.0024)


def test_working_space_has_no_paper():
    with pytest.raises(ProfileError, match="made for this paper"):
        paper_reflectance(named_profile(NamedSpace.SRGB))


@pytest.mark.parametrize(
    ("display_cd_m2", "balance"),
    [
        (141.65, LightBalance.MATCHED),
        (141.65 * 1.25, LightBalance.MATCHED),  # 0.32 stops, the limit is 1/3
        (141.65 * 1.27, LightBalance.PAPER_DARKER),  # 0.34 stops
        (141.65 / 1.25, LightBalance.MATCHED),
        (141.65 / 1.27, LightBalance.PAPER_BRIGHTER),
    ],
)
def test_display_matches_within_a_third_of_a_stop(display_cd_m2, balance):
    assert match_display(500, 0.89, display_cd_m2).balance is balance


def test_display_of_twice_the_luminance_is_one_stop_brighter():
    match = match_display(500, 0.89, 2 * 500 * 0.89 / np.pi)
    assert match.difference_stops == pytest.approx(-1)
    assert "1.0 stops darker" in match.verdict
    assert match.illuminance_needed_lx == pytest.approx(1000)


@pytest.mark.parametrize("white_cd_m2", [81, 249])
def test_display_is_asked_for_a_white_from_80_on(white_cd_m2):
    """ISO 3664:2009 wants 80 cd/m² at least, from memory; 250 is our choice."""
    match = match_display(white_cd_m2 * np.pi / 0.9, 0.9, 400)
    assert match.advice.startswith(f"Set the display's white to {white_cd_m2} cd/m²")
    for beyond in (79, 251):
        advice = match_display(beyond * np.pi / 0.9, 0.9, 400).advice
        assert advice.startswith("Light the paper with")


@settings(max_examples=60, deadline=None)
@given(lit, st.floats(0.3, 1), st.floats(10, 2000))
def test_advice_about_the_display_works(illuminance_lx, reflectance, display_cd_m2):
    """Whoever sets what the sentence says sees print and display equally bright."""
    match = match_display(illuminance_lx, reflectance, display_cd_m2)
    advised = re.fullmatch(
        r"Set the display's white to (\d+) cd/m², or light the paper with (\d+) lx "
        r"for ([\d.]+) cd/m²\.",
        match.advice,
    )
    both = re.match(
        r"Light the paper with (\d+) lx and (?:set|leave) the display's white "
        r"(?:to|at) ([\d.]+) cd/m²",
        match.advice,
    )
    if advised:
        white, light_lx, white_then = map(float, advised.groups())
        ways = [(illuminance_lx, white), (light_lx, white_then)]
    elif both:
        ways = [tuple(map(float, both.groups()))]
    else:
        assert match.balance is LightBalance.MATCHED
        ways = [(illuminance_lx, display_cd_m2)]
    for light_lx, white in ways:
        again = match_display(light_lx, reflectance, white)
        assert again.balance is LightBalance.MATCHED


@pytest.mark.parametrize("illuminance_lx", [10.0, 2000.0])
def test_nobody_is_told_to_set_what_is_set(illuminance_lx):
    """Papers too dim or too bright for any display: at 160 cd/m² the light gives."""
    advice = match_display(illuminance_lx, 0.89, 160.0).advice
    # 160 · π / 0.89 = 564.8 lx.
    assert advice.startswith("Light the paper with 565 lx and leave the display's")
    assert "set the display" not in advice


@given(lit, st.floats(0.3, 1), st.floats(10, 2000))
def test_needed_light_matches_the_display_exactly(
    illuminance_lx, reflectance, display_cd_m2
):
    match = match_display(illuminance_lx, reflectance, display_cd_m2)
    again = match_display(match.illuminance_needed_lx, reflectance, display_cd_m2)
    assert again.difference_stops == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("wrong", NOT_ABOVE_ZERO)
def test_light_of_zero_or_less_is_refused(wrong):
    with pytest.raises(SpecError, match="such as 500"):
        paper_luminance_cd_m2(wrong, 0.89)
    with pytest.raises(SpecError, match="such as 120"):
        match_display(500, 0.89, wrong)
    with pytest.raises(SpecError, match="such as 500"):
        distinct_shadow_steps(np.arange(4.0, 9), wrong)
    with pytest.raises(SpecError, match="such as 20"):
        contrast_threshold(np.array([1.0]), wrong)
    with pytest.raises(SpecError, match="such as 2"):
        distinct_shadow_steps(np.arange(4.0, 9), 500, thresholds=wrong)


@pytest.mark.parametrize("wrong", [0.0, -0.1, 1.2, float("nan")])
def test_impossible_reflectance_is_refused(wrong):
    with pytest.raises(SpecError, match=r"near 0\.89"):
        paper_luminance_cd_m2(500, wrong)


@pytest.mark.parametrize(
    "ladder_l",
    [[5.0], [], [0.0, 1], [3.0, -1], [[3.0, 4]], [3.0, np.nan], [3.0, np.inf]],
)
def test_what_is_no_ladder_is_refused(ladder_l):
    with pytest.raises(SpecError, match="Give a row of L"):
        distinct_shadow_steps(np.array(ladder_l), 500)


def test_luminance_of_zero_has_no_threshold():
    with pytest.raises(SpecError, match="Give luminances above 0"):
        contrast_threshold(np.array([1.0, 0.0]), 20)


def test_contrast_threshold_follows_bartens_short_formula():
    # Barten (2003), Proc. SPIE 5294, 231-238, doi:10.1117/12.537476: a fit by the
    # same author to his full model for a typical eye, square field of 2°, surround as
    # bright as the target. The fit leaves pupil and photon noise out; hence 30 %.
    luminance = np.geomspace(0.05, 500, 30)
    frequency = 4.0
    short = (
        5200
        * np.exp(-0.0016 * frequency**2 * (1 + 100 / luminance) ** 0.08)
        / np.sqrt(
            (1 + 144 / 2**2 + 0.64 * frequency**2)
            * (63 / luminance**0.83 + 1 / (1 - np.exp(-0.02 * frequency**2)))
        )
    )
    ours = [contrast_threshold(np.array([value]), value)[0] for value in luminance]
    assert np.abs(np.log(np.array(ours) * short)).max() < np.log(1.3)


def test_contrast_threshold_is_near_the_greyscale_standard():
    # DICOM PS3.14 (ISO 12052): one step of its display function is one threshold of
    # the same target, by Barten's model of 1992 with k = 3.3 and a quantum efficiency
    # of 0.025 where that of 1999 has 3.0 and 0.03; hence within a factor of 1.5.
    luminance = eotf_DICOMGSDF(np.arange(1, 1024), in_int=True)
    # Table B-1 of the standard begins 0.0500, 0.0547, 0.0594, 0.0643.
    assert luminance[:4] == pytest.approx([0.0500, 0.0547, 0.0594, 0.0643], abs=5e-5)
    sums = luminance[1:] + luminance[:-1]
    published = np.diff(luminance) / sums
    ours = np.array([contrast_threshold(np.array([x]), x)[0] for x in sums[::40] / 2])
    assert np.abs(np.log(ours / published[::40])).max() < np.log(1.5)


def test_contrast_threshold_never_falls_as_the_light_goes():
    for share in (0.003, 0.03, 0.3):
        luminance = np.geomspace(1e-3, 1e3, 400)
        found = [contrast_threshold(np.array([x]), x / share)[0] for x in luminance]
        assert (np.diff(found) < 0).all()


def test_brighter_surround_hides_contrast():
    found = [contrast_threshold(np.array([0.5]), around)[0] for around in (0.5, 5, 50)]
    assert found[0] < found[1] < found[2]


@settings(max_examples=60, deadline=None)
@given(
    st.floats(0.5, 30),
    st.lists(st.floats(0.05, 4), min_size=1, max_size=30),
    lit,
    lit,
)
def test_dimmer_room_never_shows_more_steps(darkest_l, rises, one_lx, other_lx):
    ladder_l = darkest_l + np.cumsum([0, *rises]) * 0.5
    dim, bright = (
        distinct_shadow_steps(ladder_l, lx) for lx in sorted((one_lx, other_lx))
    )
    assert dim.distinct <= bright.distinct <= len(rises)


@pytest.mark.parametrize("name", ["press", "cotton", "satin"])
def test_papers_lose_shadows_in_dim_rooms(name, fogra39, paper_profiles):
    profiles = {
        "press": fogra39,
        "cotton": paper_profiles["Fen Cotton 310"],
        "satin": paper_profiles["Alder Satin 260"],
    }
    wedge = print_wedge(
        named_profile(NamedSpace.ROMM_RGB),
        profiles[name],
        intent=Intent.MEDIA_RELATIVE,
        black_point_compensation=BlackPointCompensation.ON,
        source_l=np.arange(21.0),
    )
    counts = [
        distinct_shadow_steps(wedge.printed_lab[:, 0], lx).distinct
        for lx in ROOMS_LX.values()
    ]
    assert counts == sorted(counts, reverse=True)
    # *Regression*: all steps in comparison light, fewer than half in a gallery.
    assert counts[0] == 20
    assert counts[-1] < 10


def test_count_is_of_the_contrasts_at_or_above_the_limit():
    ladder_l = np.arange(3.0, 24)
    steps = distinct_shadow_steps(ladder_l, 150, thresholds=2.5)
    assert steps.distinct == np.count_nonzero(steps.contrast_thresholds >= 2.5)
    assert 0 < steps.distinct < 20


def test_contrast_of_two_tones_is_michelsons_over_its_threshold():
    """The white of 500 lx has 500/π cd/m²; L* 20 and 30 have the Y of CIE L*."""
    white_cd_m2 = 500 / np.pi
    low, high = (white_cd_m2 * ((l_star + 16) / 116) ** 3 for l_star in (20, 30))
    needed = contrast_threshold(
        np.array([(low + high) / 2]), viewing.BACKGROUND_SHARE * white_cd_m2
    )
    steps = distinct_shadow_steps(np.array([20.0, 30.0]), 500)
    assert steps.contrast_thresholds == pytest.approx(
        (high - low) / (high + low) / needed, rel=1e-6
    )


def test_tones_that_swap_places_are_not_told_apart():
    steps = distinct_shadow_steps(np.array([20.0, 15, 10]), 2000)
    assert steps.distinct == 0
    assert (steps.contrast_thresholds < 0).all()


@pytest.mark.parametrize(
    ("darkest_l", "is_extrapolated"),
    # L* = 903.3·Y (CIE): at 50 lx, L* 3 has 0.0529 and L* 2 has 0.0352 cd/m².
    [(3.0, False), (2.0, True)],
)
def test_darker_than_the_model_is_said(darkest_l, is_extrapolated):
    steps = distinct_shadow_steps(np.array([darkest_l, 10]), 50)
    assert steps.darkest_cd_m2 == pytest.approx(
        50 / np.pi * darkest_l / 903.3, rel=1e-4
    )
    assert steps.is_extrapolated is is_extrapolated
