"""The loop from print to scan: a known spread goes in, the same comes out."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage
from scipy.special import erf

from printplan.errors import SpecError
from printplan.sharpening.calibration import huber_mean
from printplan.sharpening.paper_spread import (
    KnownEdge,
    _thinned,
    fit_spread,
    measure_spread,
)
from printplan.sharpening.response import (
    SpreadCurve,
    box_mtf,
    gaussian_mtf,
    spread_mtf,
)
from printplan.sharpening.slanted_edge import edge_sfr
from printplan.sharpening.squares import find_edges

# What the design asks of the loop.
SIGMA_RTOL = 0.03

FINE_PPI = 4800
UM_PER_PX = 25400 / FINE_PPI
FILE_UM, OPTICS_UM = 15.0, 12.0


def srgb(linear):
    """IEC 61966-2-1, from linear light."""
    curve = 1.055 * np.maximum(linear, 0) ** (1 / 2.4) - 0.055
    return np.where(linear <= 0.0031308, 12.92 * linear, curve)


def linear_of(encoded):
    """IEC 61966-2-1, back to linear light."""
    return np.where(
        encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4
    )


def printed(tilt_deg=5.0, side_mm=4.0, sheet_mm=7.5, tones=(0.1, 0.4)):
    """A sharp dark square on paper, in fine pixels by their covered area."""
    length = round(sheet_mm * 1000 / UM_PER_PX)
    down, across = np.mgrid[:length, :length] - (length - 1) / 2
    turn = np.radians(tilt_deg)
    half = side_mm * 500 / UM_PER_PX
    inside = np.ones((length, length))
    for away in (
        across * np.cos(turn) + down * np.sin(turn),
        down * np.cos(turn) - across * np.sin(turn),
    ):
        inside *= np.clip(half - np.abs(away) + 0.5, 0, 1)
    return tones[1] + (tones[0] - tones[1]) * inside


def blurred(paper, *sigmas_um):
    for sigma_um in sigmas_um:
        paper = ndimage.gaussian_filter(paper, sigma_um / UM_PER_PX, mode="nearest")
    return paper


def scanned(paper, ppi, turn_deg, noise=0.003):
    """Optics, a square sensor pixel, a sheet that lies askew, noise, 8-bit sRGB."""
    step = FINE_PPI // ppi
    seen = ndimage.uniform_filter(blurred(paper, OPTICS_UM), step, mode="nearest")
    length = int(paper.shape[0] / step * 0.9)
    turn = np.radians(turn_deg)
    matrix = step * np.array(
        [[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]
    )
    start = (np.array(paper.shape) - 1) / 2 - matrix @ np.full(2, (length - 1) / 2)
    light = ndimage.affine_transform(
        seen, matrix, start, output_shape=(length, length), order=3, mode="nearest"
    )
    light = light + np.random.default_rng(7).normal(0, noise, light.shape)
    return np.round(srgb(np.clip(light, 0, 1)) * 255) / 255


def scanner(ppi):
    """The scanner's own response, by formula."""
    frequency = np.linspace(0, 0.95 * ppi / 25.4, 200)[1:]
    response = gaussian_mtf(frequency, OPTICS_UM / 1000) * box_mtf(
        frequency, 25.4 / ppi
    )
    return SpreadCurve(cycles_per_mm=tuple(frequency), values=tuple(response))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("sigma_um", "ppi", "turn_deg"),
    [(20, 600, 2), (40, 600, 4), (80, 600, -1), (20, 1200, 1), (50, 1200, -2)],
)
def test_a_known_spread_is_found_in_the_scan_of_its_print(sigma_um, ppi, turn_deg):
    scan = scanned(blurred(printed(), FILE_UM, sigma_um), ppi, turn_deg)
    fit = measure_spread(
        linear_of(scan),
        find_edges(scan),
        scan_ppi=ppi,
        file_sfr=FILE_UM,
        scanner_sfr=scanner(ppi),
    )
    assert fit.sigma_um == pytest.approx(sigma_um, rel=SIGMA_RTOL)
    assert fit.uncertainty_um < SIGMA_RTOL * sigma_um
    assert (fit.n_edges, fit.unfit_reason) == (4, "")
    frequency = np.array(fit.curve.cycles_per_mm)
    gaussian = gaussian_mtf(frequency, sigma_um / 1000)
    # 0.005 of the scan's response (as `test_measure` has it), over the least file and
    # scanner that are divided by, 0.2: and a little for noise and 8 bits.
    assert np.abs(np.array(fit.curve.values) - gaussian).max() < 0.03
    assert fit.residual < 0.015


def test_the_printer_s_square_pixels_belong_to_the_spread():
    """A file at 400 ppi, its edges measured in the file, printed pixel by pixel."""
    file_ppi, sigma_um = 400, 60
    step = FINE_PPI // file_ppi
    length = 120
    down, across = np.mgrid[:length, :length] - (length - 1) / 2
    turn, half, soft = np.radians(5), 32.0, 0.6 * np.sqrt(2)
    file = np.ones((length, length))
    for away in (
        across * np.cos(turn) + down * np.sin(turn),
        down * np.cos(turn) - across * np.sin(turn),
    ):
        file *= (erf((away + half) / soft) - erf((away - half) / soft)) / 2
    file = 0.4 - 0.3 * file
    left = round((length - 1) / 2 - half)
    in_file = edge_sfr(file[40:80, left - 20 : left + 20])
    paper = np.repeat(np.repeat(file, step, axis=0), step, axis=1)
    scan = scanned(blurred(paper, sigma_um), 1200, 2)
    fit = measure_spread(
        linear_of(scan),
        find_edges(scan),
        scan_ppi=1200,
        file_sfr=KnownEdge(edge=in_file, ppi=file_ppi),
        scanner_sfr=scanner(1200),
    )
    # Variances add, and that of a box is its width squared over 12.
    whole_um = np.hypot(sigma_um, 25400 / file_ppi / np.sqrt(12))
    assert fit.sigma_um == pytest.approx(whole_um, rel=SIGMA_RTOL)


def test_a_smear_over_one_edge_does_not_move_the_result():
    scan = scanned(blurred(printed(), FILE_UM, 40), 1200, 2)
    regions = find_edges(scan)
    linear = linear_of(scan)
    box = regions[1]
    # It blurs that edge from 40 to about 90 µm: 4 px of 21 µm, and what was there.
    part = np.s_[box.top : box.top + box.height, box.left : box.left + box.width]
    linear[part] = ndimage.gaussian_filter(linear[part], 4.0, mode="nearest")
    known = {"scan_ppi": 1200, "file_sfr": FILE_UM, "scanner_sfr": scanner(1200)}
    fit = measure_spread(linear, regions, **known)
    alone = measure_spread(linear, [box], **known)
    assert alone.sigma_um > 80
    assert fit.sigma_um == pytest.approx(40, rel=SIGMA_RTOL)
    assert fit.n_edges == 4


def edge(
    total_um, ppi, *, tilt_deg=5.0, noise=0.0, rows=150, seed=0, levels=(0.1, 0.4)
):
    """A scanned edge drawn by formula, all blurs in one Gaussian."""
    down, across = np.mgrid[:rows, :120].astype(float)
    turn = np.radians(tilt_deg)
    away = (across - 59.5) * np.cos(turn) + (down - rows / 2) * np.sin(turn)
    sigma_px = total_um * ppi / 25400
    rise = (1 + erf(away / sigma_px / np.sqrt(2))) / 2
    grain = np.random.default_rng(seed).normal(0, noise, rise.shape)
    return edge_sfr(levels[0] + (levels[1] - levels[0]) * rise + grain)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(
    paper_um=st.floats(20, 80),
    file_um=st.floats(0, 30),
    scanner_um=st.floats(5, 20),
    ppi=st.sampled_from([600, 1200]),
    tilt_deg=st.floats(3.2, 9.8),
)
def test_blurs_by_formula_come_apart_again(
    paper_um, file_um, scanner_um, ppi, tilt_deg
):
    total_um = np.sqrt(paper_um**2 + file_um**2 + scanner_um**2)
    fit = fit_spread(
        edge(total_um, ppi, tilt_deg=tilt_deg),
        scan_ppi=ppi,
        file_sfr=file_um,
        scanner_sfr=scanner_um,
    )
    # The scan's spread is good to 0.42 %, as its MTF50 is; what is left of its variance
    # without the file's and the scanner's carries all of that error.
    rtol = 0.0042 * (total_um / paper_um) ** 2
    assert fit.sigma_um == pytest.approx(paper_um, rel=rtol)
    assert fit.residual < 0.01


@pytest.mark.slow
def test_the_uncertainty_is_what_repeated_scans_scatter():
    fits = [
        fit_spread(
            edge(45, 600, noise=0.02, seed=seed),
            scan_ppi=600,
            file_sfr=15,
            scanner_sfr=12,
        )
        for seed in range(60)
    ]
    sigma_um = np.sqrt(45**2 - 15**2 - 12**2)
    found = np.array([fit.sigma_um for fit in fits])
    claimed = np.mean([fit.uncertainty_um for fit in fits])
    # The scatter of 60 has a standard error of 9 % itself, their mean one of 13 % of
    # the scatter; three of each.
    assert found.std() == pytest.approx(claimed, rel=0.27)
    assert found.mean() == pytest.approx(sigma_um, abs=0.39 * claimed)


def test_what_noise_adds_to_a_modulus_is_taken_off_again():
    clean = edge(40, 1200)
    noise = 0.2 * clean.sfr
    noise[0] = 0
    lifted = replace(clean, sfr=np.hypot(clean.sfr, noise), sfr_noise=noise)
    known = {"scan_ppi": 1200, "file_sfr": 0, "scanner_sfr": 0}
    expected = fit_spread(clean, **known).sigma_um
    assert fit_spread(lifted, **known).sigma_um == pytest.approx(expected, rel=1e-3)


def test_one_edge_sharper_than_its_file_is_left_out():
    edges = [edge(50, 1200), edge(50, 1200), edge(50, 1200), edge(20, 1200)]
    fit = fit_spread(edges, scan_ppi=1200, file_sfr=30, scanner_sfr=0)
    assert fit.n_edges == 3
    assert "1 of 4 edges left out. The scan shows" in fit.unfit_reason
    assert fit.sigma_um == pytest.approx(40, rel=0.01)


def test_several_edges_are_surer_than_one():
    edges = [edge(45, 600, noise=0.005, seed=seed) for seed in range(8)]
    known = {"scan_ppi": 600, "file_sfr": 15, "scanner_sfr": 12}
    many, one = fit_spread(edges, **known), fit_spread(edges[0], **known)
    assert many.uncertainty_um < 0.6 * one.uncertainty_um
    assert (many.n_edges, one.n_edges) == (8, 1)


def test_each_edge_can_have_its_own_file():
    files_um = [10.0, 20.0, 30.0]
    edges = [edge(np.hypot(50, file_um), 1200) for file_um in files_um]
    fit = fit_spread(edges, scan_ppi=1200, file_sfr=files_um, scanner_sfr=0)
    assert fit.sigma_um == pytest.approx(50, rel=0.01)


def test_the_measured_curve_can_be_used_in_place_of_its_sigma():
    fit = fit_spread(edge(50, 1200), scan_ppi=1200, file_sfr=0, scanner_sfr=0)
    frequency = np.linspace(0.2, 20, 50)
    measured = spread_mtf(frequency, fit.curve)
    assert np.abs(measured - gaussian_mtf(frequency, 0.05)).max() < 0.01


@pytest.mark.slow
def test_edges_out_of_range_are_left_out_and_told():
    """Squares turned to either side: at 3° of skew half of them stand at 2°."""
    scan = np.hstack(
        [
            scanned(blurred(printed(tilt_deg), FILE_UM, 40), 600, 3)
            for tilt_deg in (5.0, -5.0)
        ]
    )
    regions = find_edges(scan)
    assert len(regions) == 8
    fit = measure_spread(
        linear_of(scan),
        regions,
        scan_ppi=600,
        file_sfr=FILE_UM,
        scanner_sfr=scanner(600),
    )
    assert fit.n_edges == 4
    assert fit.unfit_reason.startswith("4 of 8 edges left out. The edge is tilted by 2")
    assert fit.sigma_um == pytest.approx(40, rel=SIGMA_RTOL)


@pytest.mark.slow
def test_a_scan_of_unfit_edges_is_refused_with_the_edge_s_own_remedy():
    paper = blurred(printed(tones=(0.3, 1.2)), FILE_UM, 40)
    scan = scanned(paper, 600, 2)
    with pytest.raises(
        SpecError, match=r"None of 4 edges.*clipped.*automatic exposure"
    ):
        measure_spread(
            linear_of(scan), find_edges(scan), scan_ppi=600, file_sfr=FILE_UM
        )


def test_a_scan_that_was_sharpened_is_refused():
    soft, softer = edge(40, 1200), edge(60, 1200)
    assert soft.sfr[20] > softer.sfr[20]
    with pytest.raises(SpecError, match=r"of the contrast.*Switch off sharpening"):
        fit_spread(soft, scan_ppi=1200, file_sfr=60, scanner_sfr=0)


def test_a_scan_too_coarse_for_the_spread_is_refused():
    total_um = np.hypot(8, 40)
    with pytest.raises(SpecError, match=r"300 ppi shows, .* 10% is .* at 600 ppi"):
        fit_spread(edge(total_um, 300), scan_ppi=300, file_sfr=40, scanner_sfr=0)


def test_a_spread_of_nothing_is_refused():
    with pytest.raises(SpecError, match=r"printing took 0% .*Scan at 2400 ppi"):
        fit_spread(edge(30, 1200), scan_ppi=1200, file_sfr=30, scanner_sfr=0)


def test_without_the_scanner_s_response_two_pixels_to_a_sigma_are_asked_for():
    with pytest.raises(SpecError, match=r"has 1\.4 pixels .*Scan at 2400 ppi, or give"):
        fit_spread(edge(30, 1200), scan_ppi=1200, file_sfr=0)
    assert fit_spread(edge(30, 2400), scan_ppi=2400, file_sfr=0).sigma_um == (
        pytest.approx(30, rel=0.005)
    )


def test_an_edge_that_the_file_blurs_away_is_refused():
    with pytest.raises(SpecError, match=r"cycles/mm only.*file's and the scanner's"):
        fit_spread(edge(300, 600), scan_ppi=600, file_sfr=600, scanner_sfr=0)


def test_edges_that_disagree_are_refused():
    edges = [edge(sigma_um, 1200) for sigma_um in (20, 45, 70)]
    with pytest.raises(SpecError, match=r"standard error of \d+ µm.*more or longer"):
        fit_spread(edges, scan_ppi=1200, file_sfr=0, scanner_sfr=0)


@pytest.mark.parametrize(
    ("how", "told"),
    [
        ({"scan_ppi": 0}, "has 0 ppi.*such as 1200"),
        ({"scan_ppi": float("nan")}, "has nan ppi.*such as 1200"),
        ({"file_sfr": [10.0, 10.0]}, "file_sfr has 2 responses for 1.*one for each"),
        ({"scanner_sfr": []}, "scanner_sfr has 0 responses for 1.*one for each"),
    ],
    ids=["no-ppi", "nan-ppi", "two-files", "no-scanners"],
)
def test_a_call_that_cannot_be_meant_is_refused(how, told):
    call = {"scan_ppi": 1200, "file_sfr": 0, "scanner_sfr": 0} | how
    with pytest.raises(SpecError, match=told):
        fit_spread(edge(50, 1200), **call)


def test_no_edges_at_all_are_refused():
    with pytest.raises(SpecError, match="Find the slanted squares"):
        fit_spread([], scan_ppi=600, file_sfr=0)


def test_the_robust_estimate_keeps_most_of_the_mean_s_efficiency():
    # Huber's constant 1.345: 95 % at the normal law (textbook value, from memory). The
    # ratio of two variances over the same 1500 samples is good to some 2 %.
    samples = np.random.default_rng(5).normal(0, 1, (1500, 20))
    robust = np.array([huber_mean(sample, np.ones(20)).value for sample in samples])
    efficiency = samples.mean(axis=1).var() / robust.var()
    assert efficiency == pytest.approx(0.95, abs=0.04)


def test_the_robust_estimate_stays_where_most_readings_are():
    readings = np.array([9.8, 9.9, 10.0, 10.1, 10.2, 60.0])
    assert huber_mean(readings, np.full(6, 0.2)).value == pytest.approx(10, abs=0.2)
    assert huber_mean(readings[:1], np.full(1, 0.2)) == (9.8, 0.0, pytest.approx(0.2))


def test_readings_that_scatter_more_than_they_say_are_weighed_alike():
    """One that claims to be exact does not outweigh four others a step apart."""
    readings = np.array([1.0, 2.0, 3.0, 4.0, 5.0])
    errors = np.array([0.001, 0.5, 0.5, 0.5, 0.5])
    assert huber_mean(readings, errors).value == pytest.approx(3, abs=0.2)


def test_a_short_curve_keeps_its_points():
    """Few frequencies are not made into more; above 0 each is given as it is."""
    frequency = np.linspace(0, 8, 9)
    curve = _thinned(frequency, 1 - frequency / 10)
    assert curve.cycles_per_mm == pytest.approx(np.arange(1, 9))
    assert curve.values == pytest.approx(1 - np.arange(1, 9) / 10)
