from itertools import pairwise

import numpy as np
import pytest
from closed_forms import gaussian_overshoot, sharpened_edge
from colour.contrast import barten1999
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, ndimage
from scipy.special import exp1, ndtr

from printplan.colour.barten import grating_sensitivity
from printplan.errors import SpecError
from printplan.sharpening import kernel, unsharp
from printplan.sharpening.eye import (
    PAPER_WHITE_CD_M2,
    acutance,
    acutance_weight,
    contrast_per_l,
    contrast_sensitivity,
    cycles_per_degree,
    luminance_of_l,
    subjective_quality_factor,
)
from printplan.sharpening.halo import (
    edge_frequencies,
    edge_of_response,
    halo_arcmin,
    halo_of,
)
from printplan.sharpening.kernel import gaussian_kernel, kernel_mtf
from printplan.sharpening.noise import (
    high_pass_plane,
    noise_bands,
    past_grain_floor,
    resampled_noise,
    resampled_noise_spectrum,
    visible_noise,
)
from printplan.sharpening.response import (
    GAUSSIAN_MTF50,
    SpreadCurve,
    box_mtf,
    cycles_per_mm,
    cycles_per_px,
    gaussian_mtf,
    resampler_mtf,
    sigma_before_resampling,
    spread_mtf,
    unsharp_mtf,
)
from printplan.sizing.resampling import main_lobe, resample_plane
from printplan.spec import SharpenSpec

FREQUENCY = np.linspace(0.0, 0.5, 51)


def sharpened(plane, radius_px, **wish):
    """Grey linear light through the pixels' own sharpening."""
    spec = SharpenSpec(**wish)
    return unsharp.sharpen_lightness(plane, np.array([1.0]), spec, radius_px)


# Units


def test_a_cycle_of_two_pixels_at_254_ppi_is_a_fifth_of_a_millimetre():
    assert float(cycles_per_mm(0.5, 254)) == pytest.approx(5)
    assert float(cycles_per_px(5, 254)) == pytest.approx(0.5)


def test_degrees_follow_the_small_angle():
    # A degree at 400 mm covers 2 · 400 · tan(0.5°) mm; the small angle is 3e-5 off.
    expected = 2 * 400 * np.tan(np.radians(0.5))
    assert float(cycles_per_degree(1, 400)) == pytest.approx(expected, rel=5e-5)


# Blurs and apertures


@pytest.mark.parametrize("sigma", [0.5, 1.0, 50.0])
def test_gaussian_halves_contrast_at_0_1874_over_sigma(sigma):
    # Closed form √(ln 2 / 2)/(π σ), to the last printed digit.
    assert pytest.approx(0.1874, abs=5e-5) == GAUSSIAN_MTF50
    assert float(gaussian_mtf(GAUSSIAN_MTF50 / sigma, sigma)) == pytest.approx(0.5)


def test_one_pixel_keeps_two_over_pi_at_nyquist():
    # Closed form of the sinc: 2/π = 0.6366.
    assert float(box_mtf(0.5)) == pytest.approx(2 / np.pi)
    assert float(box_mtf(0.5)) == pytest.approx(0.6366, abs=0.005)


def test_kernel_is_the_one_that_pixels_are_sharpened_with():
    """What is predicted and what is done must not drift apart."""
    assert kernel.line_kernel is unsharp.line_kernel


@pytest.mark.parametrize("radius_px", [0.5, 0.8, 1.5, 4.0])
def test_kernel_response_is_its_fourier_transform(radius_px):
    """Independent of the sum of cosines: numpy's FFT of the padded kernel."""
    kernel = gaussian_kernel(radius_px)
    padded = np.zeros(4096)
    padded[: kernel.size] = kernel
    found = np.abs(np.fft.rfft(np.roll(padded, -(kernel.size // 2))))
    frequency = np.fft.rfftfreq(4096)
    expected = np.abs(kernel_mtf(frequency, radius_px))
    np.testing.assert_allclose(found, expected, atol=1e-12)


@pytest.mark.parametrize("radius_px", [0.5, 0.6])
def test_small_radius_is_far_from_the_continuous_gaussian(radius_px):
    """The finest pattern by hand: neighbours count against the middle."""
    near, next_ = (np.exp(-0.5 * (steps / radius_px) ** 2) for steps in (1, 2))
    by_hand = (1 - 2 * near + 2 * next_) / (1 + 2 * near + 2 * next_)
    # The third neighbours, left out by hand, have exp(−12.5) at most.
    assert float(kernel_mtf(0.5, radius_px)) == pytest.approx(by_hand, abs=2e-5)
    assert by_hand - float(gaussian_mtf(0.5, radius_px)) > 0.16


def test_unsharp_masking_at_a_quarter_cycle():
    # 1 + 1 − exp(−2 π² · 0.25²) = 1.7088; at r = 1 the discrete kernel agrees to 1e-4.
    assert float(unsharp_mtf(0.25, gain=1, blur=1)) == pytest.approx(1.7088, abs=1e-4)


def test_unsharp_response_is_what_the_stage_does_to_a_grating():
    """A grating of L*, sharpened by the pixels' own code, gains the predicted share."""
    gain, radius_px, frequency = 0.8, 0.9, 0.2
    columns = np.arange(200)
    ripple = 2 * np.sin(2 * np.pi * frequency * columns)
    light = ((50 + ripple + 16) / 116) ** 3
    plane = np.repeat(light.astype(np.float32)[np.newaxis], 40, axis=0)[np.newaxis]
    after = sharpened(plane, radius_px, gain=gain)[0, 20]
    found_l = 116 * np.cbrt(after.astype(np.float64)) - 66
    found = (found_l @ ripple) / (ripple @ ripple)
    # The stage reads L* from a table in steps below 0.003.
    expected = float(unsharp_mtf(frequency, gain=gain, blur=radius_px))
    assert found == pytest.approx(expected, abs=0.003)


# Resampling


@pytest.mark.parametrize("enlargement", [1.25, 1.6, 2.0, 3.2])
@pytest.mark.parametrize("in_master", [0.1, 0.25, 0.4])
def test_resampler_response_is_what_the_stage_does_to_a_grating(enlargement, in_master):
    """A grating of the master, resampled by the pixels' own code, keeps that share."""
    columns = np.arange(800)
    grating = np.cos(2 * np.pi * in_master * (columns + 0.5))
    plane = np.repeat(grating.astype(np.float32)[np.newaxis], 8, axis=0)
    width = round(800 * enlargement)
    after = resample_plane(plane, (0, 0, 800, 8), (width, 8))[4].astype(np.float64)
    frequency = in_master / enlargement
    middle = slice(width // 8, -width // 8)
    turns = 2 * np.pi * frequency * (np.arange(width) + 0.5)
    basis = np.stack([np.cos(turns), np.sin(turns)])[:, middle]
    found = np.linalg.lstsq(basis.T, after[middle], rcond=None)[0][0]
    # The mean over all places; a print has only some of them, at whole ratios few.
    expected = float(resampler_mtf(frequency, enlargement))
    assert found == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize("enlargement", [0.3, 0.7])
@pytest.mark.parametrize("frequency", [0.1, 0.25, 0.4])
def test_reducing_keeps_what_the_stage_keeps(enlargement, frequency):
    columns = np.arange(2000)
    grating = np.cos(2 * np.pi * frequency * enlargement * (columns + 0.5))
    plane = np.repeat(grating.astype(np.float32)[np.newaxis], 8, axis=0)
    width = round(2000 * enlargement)
    after = resample_plane(plane, (0, 0, 2000, 8), (width, 8))[4].astype(np.float64)
    basis = np.cos(2 * np.pi * frequency * (np.arange(width) + 0.5))
    middle = slice(width // 8, -width // 8)
    found = (after[middle] @ basis[middle]) / (basis[middle] @ basis[middle])
    expected = float(resampler_mtf(frequency, enlargement))
    assert found == pytest.approx(expected, abs=0.01)


def test_copying_pixels_changes_nothing():
    assert np.array_equal(resampler_mtf(FREQUENCY, 1.0), np.ones(51))


@given(edge_sigma_px=st.floats(0.6, 4), enlargement=st.floats(0.2, 1.3))
@settings(max_examples=40)
def test_softness_before_resampling_multiplies_back(edge_sigma_px, enlargement):
    before = sigma_before_resampling(edge_sigma_px, enlargement)
    half = GAUSSIAN_MTF50 / edge_sigma_px
    both = float(gaussian_mtf(half, before) * resampler_mtf(half, enlargement))
    # Lanczos' kernel passes a little more than all in places: then nothing is taken.
    assert before <= edge_sigma_px + 1e-12
    assert 0.49 <= both <= 0.56


def test_an_edge_that_resampling_alone_explains_is_perfectly_sharp():
    assert sigma_before_resampling(0.9, enlargement=4) == 0.0


# Printer and paper


def test_spread_is_a_gaussian_in_micrometres():
    # σ = 0.1874 · k_p, k_p = 1/f at MTF 0.5 (Arney, J. Imaging Sci. Technol. 47(4)).
    half = 1000 * GAUSSIAN_MTF50 / 28
    assert float(spread_mtf(half, 28.0)) == pytest.approx(0.5)


def test_measured_curve_of_a_gaussian_is_that_gaussian():
    """Dense samples of a Gaussian give it back, inside and beyond the samples."""
    known = np.linspace(0.1, 6, 200)
    curve = SpreadCurve(
        cycles_per_mm=tuple(known), values=tuple(gaussian_mtf(known, 0.04))
    )
    frequency = np.linspace(0, 9, 100)
    # Straight lines between samples 0.03 apart miss the curve by some 1e-5.
    np.testing.assert_allclose(
        spread_mtf(frequency, curve), spread_mtf(frequency, 40.0), atol=5e-5
    )


@pytest.mark.parametrize(
    ("frequencies", "values", "remedy"),
    [
        ((1.0,), (0.5,), "two or more"),
        ((1.0, 2.0), (0.5,), "one value for each"),
        ((0.0, 1.0), (1.0, 0.5), "leave out frequency 0"),
        ((2.0, 1.0), (0.9, 0.5), "Sort them"),
        ((1.0, 2.0), (0.9, 0.0), "cut the curve off"),
        ((1.0, 2.0), (90.0, 50.0), "with 1 for no loss"),
        ((1.0, float("nan")), (0.9, 0.5), "Sort them"),
    ],
)
def test_spread_curve_refuses_what_is_no_curve(frequencies, values, remedy):
    with pytest.raises(SpecError, match=remedy):
        SpreadCurve(cycles_per_mm=frequencies, values=values)


# Edges and halos


def test_overshoot_in_closed_form():
    """Solved apart from the package: gain 1, radius 1, softness 0.6 pass by 0.10676."""
    found = gaussian_overshoot(gain=1, radius=1, softness=0.6)
    assert found == pytest.approx(0.10676, abs=0.002)
    position = np.linspace(0, 5, 100_001)
    edge = 2 * ndtr(position / 0.6) - ndtr(position / np.hypot(0.6, 1))
    assert found == pytest.approx(edge.max() - 1, abs=1e-8)


@given(
    gain=st.floats(0.1, 5), radius_px=st.floats(0.8, 4), edge_sigma_px=st.floats(0.6, 3)
)
@settings(max_examples=40)
def test_discrete_kernel_overshoots_nearly_as_the_closed_form(
    gain, radius_px, edge_sigma_px
):
    position = np.linspace(0, 8 * edge_sigma_px, 800)
    edge = sharpened_edge(
        position, edge_sigma_px=edge_sigma_px, gain=gain, radius_px=radius_px
    )
    closed = gaussian_overshoot(gain=gain, radius=radius_px, softness=edge_sigma_px)
    # Sampling a Gaussian of 0.8 px and cutting it at 4 σ: below 0.002 of each gain.
    assert halo_of(position, edge).overshoot == pytest.approx(closed, abs=0.002 * gain)


@pytest.mark.parametrize(("gain", "radius_px"), [(1.0, 0.5), (2.0, 0.8), (0.6, 3.0)])
def test_edge_from_responses_is_the_edge_from_the_kernel(gain, radius_px):
    position = np.linspace(0, 10, 400)
    frequency = edge_frequencies(0.6, 10)
    response = gaussian_mtf(frequency, 0.6) * unsharp_mtf(
        frequency, gain=gain, blur=radius_px
    )
    expected = sharpened_edge(
        position, edge_sigma_px=0.6, gain=gain, radius_px=radius_px
    )
    # The response is cut where it has fallen to 1e-5.
    np.testing.assert_allclose(
        edge_of_response(position, frequency, response), expected, atol=2e-5
    )


def test_predicted_halo_is_the_one_in_sharpened_pixels():
    """An edge of L*, sharpened by the pixels' own code, against the prediction."""
    gain, radius_px, edge_sigma_px = 1.5, 0.8, 0.7
    place = np.arange(-30, 30) + 0.5 + np.linspace(0, 1, 41)[:, np.newaxis]
    light = ((40 + 20 * ndtr(place / edge_sigma_px) + 16) / 116) ** 3
    found = []
    for row in light.astype(np.float32):
        plane = np.repeat(row[np.newaxis], 9, axis=0)[np.newaxis]
        after = sharpened(plane, radius_px, gain=gain)[0, 4]
        found.append((116 * np.cbrt(after.max().astype(np.float64)) - 76) / 20)
    position = np.linspace(0, 6, 600)
    edge = sharpened_edge(
        position, edge_sigma_px=edge_sigma_px, gain=gain, radius_px=radius_px
    )
    # 0.003 L* of the stage's table, over a step of 20 L*, and a place each 1/40 px.
    predicted = halo_of(position, edge).overshoot
    assert max(found) == pytest.approx(predicted, abs=0.0005)


def test_halo_width_of_a_known_bump():
    """A triangle of height 0.2 and base 2 is 1 wide at half its height."""
    position = np.linspace(0, 4, 401)
    bump = 1 + 0.2 * np.maximum(1 - np.abs(position - 1.5), 0)
    halo = halo_of(position, bump)
    assert halo.overshoot == pytest.approx(0.2)
    assert halo.width == pytest.approx(1.0, abs=1e-6)


def test_an_unsharpened_edge_has_no_halo():
    position = np.linspace(0, 4, 100)
    halo = halo_of(position, ndtr(position))
    assert (halo.overshoot, halo.width) == (0.0, 0.0)


def test_one_arcminute_at_300_mm():
    # ISO 8596: one arcminute at 300 mm is 300 tan(1/60°) = 0.08727 mm.
    assert halo_arcmin(0.08727, 300) == pytest.approx(1, abs=1e-4)


@pytest.mark.parametrize(
    ("gain", "radius", "softness"), [(-1, 1, 1), (1, 0, 1), (1, 1, 0), (1, 1, np.nan)]
)
def test_overshoot_refuses_what_is_no_edge(gain, radius, softness):
    with pytest.raises(SpecError, match="above 0"):
        gaussian_overshoot(gain=gain, radius=radius, softness=softness)


# The eye


def test_barten_at_the_librarys_own_settings():
    # Printed in colour-science's documentation of this function, from ITU-R BT.2246.
    found = float(barten1999.contrast_sensitivity_function_Barten1999(4))
    assert found == pytest.approx(360.8691, abs=1e-3)


def test_sensitivity_at_the_librarys_luminance():
    """Pupil, blur and light in the eye, written out here from the book."""
    luminance = 1.0
    pupil_mm = barten1999.pupil_diameter_Barten1999(luminance)
    expected = barten1999.contrast_sensitivity_function_Barten1999(
        4,
        # Barten (1999), chapter 3: σ² = 0.5'² + (0.08' d)², E from the pupil's area
        # and the Stiles-Crawford factor 1 − (d/9.7)² + (d/12.4)⁴.
        sigma=np.hypot(0.5, 0.08 * pupil_mm) / 60,
        E=np.pi
        * pupil_mm**2
        / 4
        * luminance
        * (1 - (pupil_mm / 9.7) ** 2 + (pupil_mm / 12.4) ** 4),
    )
    assert float(contrast_sensitivity(4.0, luminance)) == pytest.approx(
        expected, rel=1e-9
    )


@pytest.mark.parametrize("luminance", [0.001, 1.0, 26.1, 300.0, 1e5])
@pytest.mark.parametrize("field_deg", [60.0, 2.0])
def test_sensitivity_is_the_librarys_everywhere(luminance, field_deg):
    frequency = np.geomspace(1e-6, 100, 400)
    pupil_mm = barten1999.pupil_diameter_Barten1999(luminance, field_deg)
    expected = barten1999.contrast_sensitivity_function_Barten1999(
        frequency,
        sigma=barten1999.sigma_Barten1999(d=pupil_mm),
        E=barten1999.retinal_illuminance_Barten1999(luminance, pupil_mm),
        X_0=field_deg,
    )
    found = grating_sensitivity(frequency, luminance, field_deg)
    np.testing.assert_allclose(found, expected, rtol=1e-12)


@pytest.mark.parametrize("luminance", [5.0, 50.0, 500.0])
def test_more_light_shows_finer_contrast(luminance):
    frequency = np.geomspace(2, 40, 20)
    brighter = contrast_sensitivity(frequency, 2 * luminance)
    assert (brighter > contrast_sensitivity(frequency, luminance)).all()


def test_paper_under_appraisal_light():
    # E ρ / π with ρ 0.89 and ISO 3664 P2's 500 lx.
    assert pytest.approx(141.65, abs=0.01) == PAPER_WHITE_CD_M2


def test_acutance_of_50_micrometres_at_400_mm():
    frequency = np.linspace(0, 120, 12_001)[1:]
    response = gaussian_mtf(frequency / float(cycles_per_degree(1, 400)), 0.05)
    assert acutance(frequency, response) == pytest.approx(0.89491, abs=1e-5)


def test_acutance_against_quadrature():
    def weighed(frequency):
        return float(acutance_weight(frequency)) * np.exp(-frequency / 9)

    seen = integrate.quad(weighed, 0, np.inf)[0]
    whole = integrate.quad(lambda f: float(acutance_weight(f)), 0, np.inf)[0]
    frequency = np.linspace(0, 200, 20_001)[1:]
    found = acutance(frequency, np.exp(-frequency / 9))
    assert found == pytest.approx(seen / whole, abs=1e-5)


def test_quality_factor_of_50_micrometres_at_400_mm():
    sigma_deg = 0.05 / (400 * np.pi / 180)
    # ½ (E1(x1) − E1(x2)) / ln 4 with x = 2 (π σ f)², at 3 and 12 cycles per degree.
    low, high = (2 * (np.pi * sigma_deg * f) ** 2 for f in (3, 12))
    closed = (exp1(low) - exp1(high)) / (2 * np.log(4))
    assert closed == pytest.approx(0.952549, abs=1e-6)
    frequency = np.linspace(0.01, 60, 6000)
    found = subjective_quality_factor(frequency, gaussian_mtf(frequency, sigma_deg))
    assert found == pytest.approx(closed, abs=1e-5)


def test_quality_counts_what_pixels_cannot_hold_as_lost():
    """The response ends at 6 cycles per degree: one of two octaves is left."""
    frequency = np.linspace(0.01, 6, 600)
    found = subjective_quality_factor(frequency, np.ones(600))
    assert found == pytest.approx(0.5, abs=0.005)


@pytest.mark.parametrize("lightness_l", [20.0, 50.0, 90.0])
def test_contrast_of_one_l_by_difference(lightness_l):
    low, high = (luminance_of_l(lightness_l + step, 100) for step in (-0.005, 0.005))
    slope = (high - low) / 0.01 / luminance_of_l(lightness_l, 100)
    assert contrast_per_l(lightness_l) == pytest.approx(slope, rel=1e-6)


def bands(**changed):
    given_ = {
        "spread": 0.0,
        "ppi": 300.0,
        "enlargement": 1.0,
        "degrees_per_cycle_mm": float(cycles_per_degree(1, 300)),
        "highest_cycles_px": 0.5,
        "luminance_cd_m2": PAPER_WHITE_CD_M2,
        "lightness_l": 50.0,
    }
    return noise_bands(**(given_ | changed))


def test_noise_that_the_eye_gets_against_an_integral_over_a_ring():
    """The busiest channel, integrated round a ring in closed geometry."""
    per_px = 300 / 25.4 * float(cycles_per_degree(1, 300))
    local = luminance_of_l(50, PAPER_WHITE_CD_M2)

    def in_channel(middle):
        seen = integrate.quad(
            lambda f: (
                2 * np.pi * f * float(contrast_sensitivity(f * per_px, local)) ** 2
            ),
            middle / 2**0.5,
            middle * 2**0.5,
        )[0]
        return 2 * contrast_per_l(50) ** 2 * seen / 4

    most = max(in_channel(middle) for middle in np.geomspace(0.04, 0.3, 60))
    # 48 cells each way sample the ring: a few per cent of its power.
    found = visible_noise(bands().in_master)
    assert found == pytest.approx(np.sqrt(most), rel=0.03)


def test_noise_is_seen_less_from_afar_and_on_a_softer_paper():
    near = bands()
    far = bands(
        degrees_per_cycle_mm=float(cycles_per_degree(1, 1000)),
        highest_cycles_px=60 / (300 / 25.4 * float(cycles_per_degree(1, 1000))),
    )
    soft = bands(spread=50.0)
    assert visible_noise(far.in_master) < visible_noise(near.in_master)
    assert visible_noise(soft.in_print) < visible_noise(near.in_print)
    assert np.array_equal(near.in_print, near.in_master)


def test_enlarged_noise_is_coarser_and_seen_more():
    seen = [
        visible_noise(bands(enlargement=enlargement).in_master)
        for enlargement in (1.0, 1.5, 2.0)
    ]
    assert all(finer < coarser for finer, coarser in pairwise(seen))


def test_noise_spectrum_is_that_of_resampled_noise():
    """White noise through the pixels' own resampling, its spectrum by FFT."""
    rng = np.random.default_rng(5)
    noise = rng.normal(0, 1, (64, 1500)).astype(np.float32)
    after = np.stack(
        [
            resample_plane(row[np.newaxis].repeat(4, 0), (0, 0, 1500, 4), (2400, 4))[1]
            for row in noise
        ]
    )[:, 200:2200].astype(np.float64)
    power = (np.abs(np.fft.rfft(after * np.hanning(2000), axis=1)) ** 2).mean(axis=0)
    found = power[:1000].reshape(20, 50).mean(axis=1)
    expected = resampled_noise_spectrum((np.arange(1000) + 0.5) / 2000, 1.6)
    expected = expected.reshape(20, 50).mean(axis=1)
    # 64 rows × 50 frequencies scatter by some 3 %.
    np.testing.assert_allclose(
        found / found.mean(), expected / expected.mean(), atol=0.12
    )


def test_filtering_a_picture_matches_the_two_dimensional_response():
    """The plane of frequencies is the product of both axes, as the stage blurs."""
    kernel = gaussian_kernel(1.2)
    impulse = np.zeros((64, 64))
    impulse[32, 32] = 1
    blurred = ndimage.correlate1d(ndimage.correlate1d(impulse, kernel, 0), kernel, 1)
    found = np.abs(np.fft.fft2(impulse - blurred))[:32, :32]
    expected = high_pass_plane(np.arange(32) / 64, 1.2).reshape(32, 32)
    np.testing.assert_allclose(found, np.abs(expected), atol=1e-9)


@pytest.mark.parametrize("floor_over_sigma", [0.0, 0.3, 1.0, 2.5])
def test_grain_floor_lets_through_what_it_does_of_drawn_noise(floor_over_sigma):
    """Normal numbers through the floor's own curve, as the stage has it."""
    drawn = np.random.default_rng(2).normal(0, 1, 400_000)
    floor = max(floor_over_sigma, 1e-9)
    left = drawn * np.clip((np.abs(drawn) - floor) / floor, 0, 1)
    passed, power = past_grain_floor(np.array([floor_over_sigma]))
    # 400,000 draws of squares scatter by 0.2 %.
    assert passed[0] == pytest.approx((drawn * left).mean(), abs=0.006)
    assert power[0] == pytest.approx((left * left).mean(), abs=0.006)


def test_at_the_masters_own_size_a_pixels_lobe_holds_itself_alone():
    """Lanczos' kernel crosses 0 at a distance of one pixel."""
    first, last = main_lobe(0.0, 1.0, range(5), 5)
    assert first.tolist() == last.tolist() == [0, 1, 2, 3, 4]


def test_a_picture_that_is_not_resampled_keeps_its_noise():
    """Its pixels are copied: nothing is folded back at 1."""
    assert resampled_noise(1.0) == pytest.approx(1.0, abs=1e-12)
