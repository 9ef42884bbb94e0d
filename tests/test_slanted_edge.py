"""Slanted edges against closed forms: Gaussian, pixel aperture, cosine filter."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage
from scipy.special import erf, ndtr

from printplan.demo.photographs import EDGE_SIGMA_PX, slanted_square
from printplan.errors import SpecError
from printplan.sharpening.lightness import cie_lightness
from printplan.sharpening.slanted_edge import FREQUENCY_CYCLES_PX, edge_sfr

# A Gaussian's response exp(-2 π² σ² f²) is a half at this over σ.
HALF = np.sqrt(np.log(2) / 2) / np.pi
# What the design asks of σ 0.5 to 2 px at 5°. What is left is the sampling in bins: at
# 0.5 px a bin is half a standard deviation wide, and its third moment stays as it is.
MTF50_RTOL = 0.0042
# One half-cycle per pixel of a 0.5 px edge or of a pixel's aperture is near the bins'
# own limit; the standard's reporting rounds to a hundredth.
SFR_ATOL = 0.005


def distance(tilt_deg, rows, columns, offset_px=0.0, bow_px=0.0):
    """Of each pixel's centre from an edge through the middle, to the right of it."""
    down, across = np.mgrid[:rows, :columns].astype(float)
    down -= (rows - 1) / 2
    across -= (columns - 1) / 2 + offset_px
    tilt = np.radians(tilt_deg)
    along = down / ((rows - 1) / 2)
    return (across + bow_px * along**2) * np.cos(tilt) + down * np.sin(tilt)


def gaussian_edge(
    sigma_px=1.0, tilt_deg=5.0, shape=(120, 100), levels=(0.1, 0.4), **at
):
    """An edge convolved with a Gaussian: an error function of the distance."""
    dark, light = levels
    step = (1 + erf(distance(tilt_deg, *shape, **at) / sigma_px / np.sqrt(2))) / 2
    return dark + (light - dark) * step


def aperture_edge(tilt_deg, shape=(120, 100), **at):
    """
    A sharp edge seen by square pixels: how much of each square lies beyond it.

    Along the edge's normal a square is a box of cos t convolved with a box of sin t;
    the area is the second integral of their four corners.
    """
    away = distance(tilt_deg, *shape, **at)
    long, short = np.cos(np.radians(tilt_deg)), abs(np.sin(np.radians(tilt_deg)))
    corners = [(1, long + short), (-1, long - short), (-1, short - long)]
    corners.append((1, -long - short))
    area = sum(sign * np.maximum(away + at / 2, 0) ** 2 / 2 for sign, at in corners)
    return 0.1 + 0.3 * area / (long * short)


@pytest.mark.parametrize("offset_px", [0.0, 0.13, 0.37, 0.5])
@pytest.mark.parametrize("sigma_px", [0.5, 0.6, 1.0, 1.5, 2.0])
def test_gaussian_edge_halves_contrast_where_its_formula_does(sigma_px, offset_px):
    response = edge_sfr(gaussian_edge(sigma_px, offset_px=offset_px))
    assert response.mtf50_cycles_px == pytest.approx(HALF / sigma_px, rel=MTF50_RTOL)
    assert response.angle_deg == pytest.approx(5.0, abs=0.02)


@pytest.mark.parametrize("offset_px", [0.0, 0.13, 0.37, 0.5])
@pytest.mark.parametrize("rows", [60, 173])
def test_pixels_that_meet_the_edge_at_few_places_do_not_mislead(rows, offset_px):
    """At 1 in 8 all pixels lie at eight places, two to a bin of a quarter pixel."""
    tilt_deg = np.degrees(np.arctan(1 / 8))
    region = gaussian_edge(0.5, tilt_deg, (rows, 100), offset_px=offset_px)
    response = edge_sfr(region)
    assert response.mtf50_cycles_px == pytest.approx(HALF / 0.5, rel=MTF50_RTOL)


@pytest.mark.parametrize("offset_px", np.arange(-3.0, 3.5, 0.5))
def test_a_region_cut_across_its_middle_is_turned_the_right_way(offset_px):
    """The edge ends in the middle of two borders, and each of them is half dark."""
    region = gaussian_edge(1.0, 9.0, (114, 129), offset_px=offset_px).T
    in_8_bits = np.round(region * 255) / 255
    assert edge_sfr(in_8_bits).angle_deg == pytest.approx(9.0, abs=0.05)


@pytest.mark.slow
@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    tilt_deg=st.floats(3.0, 10.0),
    left=st.booleans(),
    sigma_px=st.floats(0.5, 3.0),
    rows=st.integers(60, 200),
    offset_px=st.floats(-1.0, 1.0),
)
def test_gaussian_edge_is_measured_alike_at_every_tilt_and_length(
    tilt_deg, left, sigma_px, rows, offset_px
):
    tilt_deg = -tilt_deg if left else tilt_deg
    region = gaussian_edge(sigma_px, tilt_deg, (rows, 110), offset_px=offset_px)
    response = edge_sfr(region)
    assert response.mtf50_cycles_px == pytest.approx(HALF / sigma_px, rel=MTF50_RTOL)


def test_gaussian_edge_keeps_its_whole_curve():
    response = edge_sfr(gaussian_edge(0.6, shape=(200, 120)))
    formula = np.exp(-2 * (np.pi * 0.6 * FREQUENCY_CYCLES_PX) ** 2)
    trusted = FREQUENCY_CYCLES_PX <= 0.5
    assert np.abs(response.sfr - formula)[trusted].max() <= SFR_ATOL
    assert response.sfr[0] == 1.0


@pytest.mark.parametrize("offset_px", [0.0, 0.21, 0.5])
def test_square_pixels_leave_two_over_pi_at_their_nyquist_frequency(offset_px):
    response = edge_sfr(aperture_edge(5.0, offset_px=offset_px))
    at_half = np.interp(0.5, response.frequency_cycles_px, response.sfr)
    # sinc(1/2) = 2/π; the turned square's is within 0.0004 of it at 5°.
    assert at_half == pytest.approx(2 / np.pi, abs=SFR_ATOL)


@pytest.mark.parametrize("gain", [0.5, 3.0])
@pytest.mark.parametrize("radius_px", [0.8, 3.0, 8.0])
def test_a_sharpened_edge_shows_its_halo_s_part_too(gain, radius_px):
    """A steep rise with a wide halo: a window for the rise alone would cut the halo."""
    # Unsharp masking of a Gaussian edge in closed form, (1 + A) Φ(x/σ) − A Φ(x/τ)
    # with τ² = σ² + r², and its response.
    away, sigma_px = distance(5.0, 120, 160), 1.0
    wide_px = np.hypot(sigma_px, radius_px)
    share = (1 + gain) * ndtr(away / sigma_px) - gain * ndtr(away / wide_px)
    response = edge_sfr(0.3 + 0.2 * share)
    turns = 2 * (np.pi * FREQUENCY_CYCLES_PX) ** 2
    high_pass = 1 - np.exp(-turns * radius_px**2)
    formula = np.exp(-turns * sigma_px**2) * (1 + gain * high_pass)
    trusted = FREQUENCY_CYCLES_PX <= 0.5
    assert np.abs(response.sfr - formula)[trusted].max() <= SFR_ATOL


@pytest.mark.parametrize("tilt_deg", [-7.0, 4.0])
def test_a_filter_shows_its_own_response_between_two_edges(tilt_deg):
    before = gaussian_edge(0.6, tilt_deg, (200, 120))
    after = ndimage.correlate1d(before, [0.25, 0.5, 0.25], axis=1, mode="nearest")
    ratio = edge_sfr(after).sfr / edge_sfr(before).sfr
    # Across the columns a frequency along the edge's normal is cos t of it.
    turns = 2 * np.pi * FREQUENCY_CYCLES_PX * np.cos(np.radians(tilt_deg))
    formula = (1 + np.cos(turns)) / 2
    trusted = FREQUENCY_CYCLES_PX <= 0.4
    assert np.abs(ratio - formula)[trusted].max() <= SFR_ATOL


@pytest.mark.parametrize(
    "turned",
    [
        lambda region: region.T,
        lambda region: region[::-1],
        lambda region: region[:, ::-1],
        lambda region: region.T[::-1],
        lambda region: 0.5 - region,
        lambda region: (0.5 - region).T,
    ],
    ids=["upright", "mirrored-down", "mirrored-across", "turned", "negative", "both"],
)
def test_an_edge_is_measured_alike_whichever_way_it_lies(turned):
    region = gaussian_edge(0.8, shape=(121, 121), offset_px=0.3)
    assert edge_sfr(turned(region)).mtf50_cycles_px == pytest.approx(
        edge_sfr(region).mtf50_cycles_px, rel=1e-3
    )


@pytest.mark.parametrize("oversampling", [2, 3, 4, 8])
def test_the_number_of_bins_does_not_move_the_result(oversampling):
    response = edge_sfr(gaussian_edge(1.0), oversampling=oversampling)
    assert response.mtf50_cycles_px == pytest.approx(HALF, rel=MTF50_RTOL)


def test_the_chart_of_the_demo_holds_the_edges_it_says():
    drawing = slanted_square()
    # Its left edge, clear of the corners: half of 0.64 of the width from the middle.
    left = drawing.shape[1] / 2 - drawing.shape[1] * 0.32
    middle = drawing.shape[0] // 2
    region = drawing[middle - 100 : middle + 100, int(left) - 60 : int(left) + 60]
    response = edge_sfr(region)
    assert response.mtf50_cycles_px == pytest.approx(
        HALF / EDGE_SIGMA_PX, rel=MTF50_RTOL
    )
    assert response.light / response.dark == pytest.approx(4, rel=1e-6)


def test_a_bow_in_the_edge_does_not_blur_it():
    """Two pixels of arc, straightened; left in, they would take half of MTF50."""
    response = edge_sfr(gaussian_edge(1.0, shape=(201, 100), bow_px=2.0))
    assert response.bend_px == pytest.approx(2.0, abs=0.05)
    assert response.mtf50_cycles_px == pytest.approx(HALF, rel=MTF50_RTOL)


def test_dust_on_the_edge_is_left_out():
    region = gaussian_edge(1.0, shape=(150, 100))
    region[40:46, 44:60] = 0.05
    response = edge_sfr(region)
    assert 140 <= response.length_px <= 145
    assert response.mtf50_cycles_px == pytest.approx(HALF, rel=MTF50_RTOL)


@pytest.mark.slow
@pytest.mark.parametrize(("sigma_px", "noise"), [(1.0, 0.01), (0.6, 0.015)])
def test_the_error_of_the_response_is_what_repeated_scans_scatter(sigma_px, noise):
    generator = np.random.default_rng(20)
    shape = (150, 100)
    repeats = [
        edge_sfr(
            gaussian_edge(sigma_px, shape=shape, offset_px=generator.uniform(-1, 1))
            + generator.normal(0, noise, shape)
        )
        for _ in range(60)
    ]
    place = [8, 16, 32, 48]
    scatter = np.std([response.sfr[place] for response in repeats], axis=0)
    claimed = np.mean([response.sfr_noise[place] for response in repeats], axis=0)
    # The scatter of 60 has a standard error of 9 % itself; three of them.
    assert scatter == pytest.approx(claimed, rel=0.27)
    assert repeats[0].noise_share == pytest.approx(noise / 0.3, rel=0.05)


def test_the_contrast_is_in_lightness():
    # CIE 015: Y 18.42 % is L* 50.0 and 1 is 100, by the definition of L*.
    assert cie_lightness(1.0) == pytest.approx(100, abs=1e-9)
    assert cie_lightness(0.1842) == pytest.approx(50.0, abs=0.02)
    assert cie_lightness(0.0) == 0.0
    region = gaussian_edge(levels=(0.1842, 0.5))
    expected = 116 * np.cbrt(0.5) - 16 - 50
    assert edge_sfr(region).edge_l_contrast == pytest.approx(expected, abs=0.05)


def test_an_edge_without_blur_never_falls_to_a_half():
    sharp = np.where(distance(5.0, 120, 100) > 0, 0.4, 0.1)
    assert edge_sfr(sharp).mtf50_cycles_px == float("inf")


def noisy(noise):
    region = gaussian_edge(levels=(0.4, 0.6))
    return region + np.random.default_rng(2).normal(0, noise, region.shape)


def striped():
    """A grey stripe runs along the edge on its light side."""
    region = gaussian_edge(shape=(120, 180))
    away = distance(5.0, 120, 180)
    region[(away > 45) & (away < 62)] -= 0.12
    return region


REFUSED = {
    "straight": (gaussian_edge(tilt_deg=0.0), r"tilted by 0\.0°.*Lay the sheet"),
    "2.5°": (gaussian_edge(tilt_deg=2.5), r"tilted by 2\.5°.*Lay the sheet"),
    "11°": (gaussian_edge(tilt_deg=11.0), r"tilted by 11\.0°.*Lay the sheet"),
    "diagonal": (gaussian_edge(tilt_deg=40.0), r"tilted by .*Lay the sheet"),
    "short": (gaussian_edge(shape=(22, 80)), r"22 lines at 5\.0°.*23 lines or more"),
    "tiny": (gaussian_edge(shape=(12, 80)), r"\(12, 80\).*20 or more"),
    "narrow": (gaussian_edge(shape=(80, 22)), r"Only \d px.*16 px or more"),
    "near the border": (
        gaussian_edge(tilt_deg=9.0, shape=(120, 24)),
        r"Only [0-3] px.*16 px or more",
    ),
    "blurred away": (gaussian_edge(9.0), r"Only 4\d px.*9\d px or more"),
    "faint": (gaussian_edge(levels=(0.2, 0.21)), r"by 1\.1 L\*; it takes 8.*contrast"),
    "no edge": (np.full((80, 80), 0.3), r"by 0\.0 L\*.*edge in its middle"),
    "white": (
        np.clip(gaussian_edge(levels=(0.2, 1.1)), 0, 1),
        r"100% of its light side.*automatic exposure",
    ),
    "black and white": (
        np.clip(gaussian_edge(levels=(-0.1, 1.1)), 0, 1),
        r"dark side and 100% of its light side.*automatic exposure",
    ),
    "noise": (noisy(0.05), r"noise of \d+% of its step.*lines or more"),
    "much noise": (noisy(0.15), r"uncertain by 0\.2.*more contrast"),
    "stripe": (striped(), r"off its side's level by \d+% .*one edge"),
    "another edge": (
        np.minimum(gaussian_edge(), gaussian_edge(levels=(0.4, 0.1), offset_px=20)),
        r"by 0\.0 L\*.*edge in its middle",
    ),
    "codes": (gaussian_edge() * 255, r"values from 25\.5 to 102.*divide codes"),
    "not a number": (gaussian_edge() * np.nan, r"values from nan.*divide codes"),
    "colour": (np.zeros((40, 40, 3)), r"\(40, 40, 3\).*one grey channel"),
}


@pytest.mark.parametrize(("region", "told"), REFUSED.values(), ids=REFUSED.keys())
def test_an_unfit_edge_is_refused_with_its_number_and_a_remedy(region, told):
    with pytest.raises(SpecError, match=told):
        edge_sfr(region)


@pytest.mark.parametrize("oversampling", [1, 9, 4.0])
def test_an_odd_number_of_bins_is_refused(oversampling):
    with pytest.raises(SpecError, match="4 is the standard's"):
        edge_sfr(gaussian_edge(), oversampling=oversampling)


def test_bins_that_stay_empty_are_refused():
    """At 1 in 10 the pixels take ten places only, fewer than eight bins can share."""
    region = gaussian_edge(tilt_deg=9.5, shape=(24, 60))
    with pytest.raises(SpecError, match="Ask for 4 bins per pixel"):
        edge_sfr(region, oversampling=8)


def test_the_region_is_not_changed():
    region = gaussian_edge()
    kept = region.copy()
    edge_sfr(region)
    assert np.array_equal(region, kept)


def test_responses_cannot_be_written_to():
    response = edge_sfr(gaussian_edge(1.0, offset_px=0.0))
    for values in (response.sfr, response.sfr_noise, response.frequency_cycles_px):
        with pytest.raises(ValueError, match="read-only"):
            values[0] = 2.0
