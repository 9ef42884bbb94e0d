"""What no calculation of sharpness takes: each refused with what to give instead."""

import re
from math import inf, nan

import closed_forms
import numpy as np
import pytest

from printplan import validation
from printplan.errors import SpecError
from printplan.sharpening import (
    calibration,
    chain,
    choice,
    content,
    edge_trace,
    effect,
    eye,
    halo,
    kernel,
    lightness,
    noise,
    paper_spread,
    picture_edges,
    response,
    slanted_edge,
    squares,
)
from printplan.sharpening import limits as sharpening_limits
from printplan.sharpening.limits import SharpenLimits

NONE = np.array([])
GAPS = np.array([0.1, nan])
FEW = np.linspace(0.01, 0.5, 5)
FLAT = np.full((200, 200), 0.5, np.float32)
EMPTY = np.zeros((0, 0), np.float32)
HOLED = np.full((200, 200), nan, np.float32)
CUBE = np.zeros((200, 200, 3), np.float32)


def a_chain(**changed):
    given = {
        "spread": 30.0,
        "ppi": 300.0,
        "master_edge_sigma_px": 0.6,
        "enlargement": 1.0,
        "distance_mm": 400.0,
        "luminance_cd_m2": 141.65,
        "lightness_l": 50.0,
    }
    return chain.Chain(**(given | changed))


def choose_with(**changed):
    given = {
        "paper_psf_sigma_um": 30.0,
        "ppi": 300.0,
        "master_edge_sigma_px": 0.6,
        "noise_l": 0.2,
        "distance_mm": 400.0,
    }
    return choice.choose_sharpening(**(given | changed))


def bands(**changed):
    given = {
        "spread": 30.0,
        "ppi": 300.0,
        "enlargement": 1.0,
        "degrees_per_cycle_mm": 7.0,
        "highest_cycles_px": 0.5,
        "luminance_cd_m2": 141.65,
        "lightness_l": 50.0,
    }
    return noise.noise_bands(**(given | changed))


def table(range_px=(0.5, 1.0), noise_l=0.2, noise_allowed=1.0):
    return sharpening_limits.gain_table(
        a_chain(),
        SharpenLimits(),
        range_px,
        bands(),
        noise_l=noise_l,
        noise_allowed=noise_allowed,
    )


def limits(**changed):
    return SharpenLimits(**changed)


def overshoot(**changed):
    return closed_forms.gaussian_overshoot(
        **({"gain": 1.0, "radius": 1.0, "softness": 1.0} | changed)
    )


def edge(**changed):
    given = {"edge_sigma_px": 1.0, "gain": 1.0, "radius_px": 1.0}
    return closed_forms.sharpened_edge(FEW, **(given | changed))


def effects(**changed):
    given = {"gain": 1.0, "blur": 1.0, "noise_l": 0.2}
    return effect.sharpening_effect(a_chain(), **(given | changed))


def noise_in_file(grain_floor_l=0.0, noise_l=0.2):
    kernels = 1.0
    return sharpening_limits.file_noise(a_chain(), kernels, grain_floor_l, noise_l)


def known_edge(ppi):
    away = np.arange(100) - 49.5 + np.arange(100)[:, None] / 12 - 50 / 12
    return paper_spread.KnownEdge(
        edge=slanted_edge.edge_sfr(0.5 + 0.2 * np.tanh(away)), ppi=ppi
    )


OUTSIDE = squares.EdgeRegion(
    square=0,
    side=squares.Side.TOP,
    left=190,
    top=190,
    width=20,
    height=20,
    tilt_deg=5.0,
    dark=0.1,
    light=0.3,
)

# Every function by name, with what it is given, and what it asks for instead.
REFUSED = {
    # Contradictory or absurd wishes.
    "halo limit 0": (lambda: limits(halo_limit=0.0), r"0\.005 to 1"),
    "halo limit nan": (lambda: limits(halo_limit=nan), r"0\.005 to 1"),
    "least radius nan": (lambda: limits(least_radius_px=nan), r"0\.3 to 16"),
    "peak below 1": (lambda: limits(peak_mtf=0.5), "1 to 5"),
    "least radius above largest": (
        lambda: choose_with(ppi=30.0, limits=limits(least_radius_px=16)),
        "Lower the least radius to 5.91",
    ),
    "radii the wrong way round": (lambda: table((2.0, 1.0)), "from 2 to 32 px"),
    "radius 0 in a table": (lambda: table((0.0, 1.0)), r"0\.01 to 500"),
    "table noise nan": (lambda: table(noise_l=nan), "0 to 50"),
    "table noise allowed nan": (lambda: table(noise_allowed=nan), "0 to 1e"),
    "no distance": (lambda: choose_with(distance_mm=0.0), "50 to 50000 mm"),
    "no ppi": (lambda: choose_with(ppi=0.0), "30 to 2400 ppi"),
    "spread below 0": (lambda: choose_with(paper_psf_sigma_um=-30.0), "0 to 500 µm"),
    "spread nan": (lambda: choose_with(paper_psf_sigma_um=nan), "0 to 500 µm"),
    "spread of 10 m": (lambda: choose_with(paper_psf_sigma_um=1e7), "0 to 500 µm"),
    "restore nan": (lambda: choose_with(restore=nan), r"0 to 1\.5"),
    "enlargement nan": (lambda: choose_with(enlargement=nan), r"0\.02 to 50"),
    "softness below 0": (lambda: a_chain(master_edge_sigma_px=-1.0), "0 to 20"),
    "lightness below 8": (lambda: a_chain(lightness_l=0.0), "8 to 100"),
    "gain nan": (lambda: effects(gain=nan), "0 to 10"),
    "radius of 10 m": (lambda: effects(blur=1e6), r"0\.2 to 200"),
    "noise below 0": (lambda: effects(noise_l=-1.0), "0 to 50"),
    # Scans and pictures.
    "region empty": (lambda: slanted_edge.edge_sfr(EMPTY), "20 or more"),
    "region nan": (lambda: slanted_edge.edge_sfr(HOLED), "reflectance from 0 to 1"),
    "region without edge": (lambda: slanted_edge.edge_sfr(FLAT), "holds the edge"),
    "region of colour": (lambda: slanted_edge.edge_sfr(CUBE), "one grey channel"),
    "half a bin": (
        lambda: slanted_edge.edge_sfr(FLAT, oversampling=0.5),
        "from 2 to 8",
    ),
    "trace empty": (lambda: edge_trace.trace_edge(EMPTY), "20 or more"),
    "trace nan": (lambda: edge_trace.trace_edge(HOLED), "reflectance from 0 to 1"),
    "reflectance nan": (lambda: lightness.cie_lightness(nan), r"-0\.5 to 1\.5"),
    "reflectance in codes": (lambda: lightness.cie_lightness(255.0), r"-0\.5 to 1\.5"),
    "scan without edges": (lambda: squares.find_edges(FLAT), "Scan the whole trial"),
    "scan empty": (lambda: squares.find_edges(EMPTY), "one grey channel"),
    "scan nan": (lambda: squares.find_edges(HOLED), "Divide its codes"),
    "search empty": (lambda: squares.search_squares(EMPTY), "rows by columns"),
    "search nan": (lambda: squares.search_squares(HOLED), "every pixel"),
    "no squares": (lambda: squares.ExpectedSquares(count=0), "one square or more"),
    "tilt nan": (
        lambda: squares.ExpectedSquares(count=1, tilt_deg=nan),
        "less than 45",
    ),
    "region elsewhere": (lambda: squares.cut_edge(FLAT, OUTSIDE), "that was searched"),
    "no edges": (
        lambda: paper_spread.fit_spread([], scan_ppi=600, file_sfr=0),
        "Find the slanted squares",
    ),
    "no regions": (
        lambda: paper_spread.measure_spread(FLAT, [], scan_ppi=600, file_sfr=0),
        "Find the slanted squares",
    ),
    "scan of 0 ppi": (
        lambda: paper_spread.fit_spread([], scan_ppi=0, file_sfr=0),
        "such as 1200",
    ),
    "known edge of 0 ppi": (lambda: known_edge(0.0), "1 to 100000 ppi"),
    "known spread nan": (
        lambda: paper_spread.known_response(FEW, nan),
        "0 to 10000 µm",
    ),
    "known spread below 0": (
        lambda: paper_spread.known_response(FEW, -5.0),
        "0 to 10000 µm",
    ),
    "picture empty": (lambda: content.measure_content(EMPTY), "128 px or more"),
    "picture nan": (lambda: content.measure_content(HOLED), "without gaps"),
    "picture of colour": (lambda: content.measure_content(CUBE), "rows × columns"),
    "picture enlargement nan": (
        lambda: content.measure_content(FLAT, enlargement=nan),
        r"0\.02 to 50",
    ),
    "edges of nothing": (
        lambda: picture_edges.picture_edges(EMPTY, noise_l=0.1, enlargement=1.0),
        "rows by columns",
    ),
    "edges of gaps": (
        lambda: picture_edges.picture_edges(HOLED, noise_l=0.1, enlargement=1.0),
        "every pixel",
    ),
    "edges in noise nan": (
        lambda: picture_edges.picture_edges(FLAT, noise_l=nan, enlargement=1.0),
        "0 to 100",
    ),
    "edges enlarged by 0": (
        lambda: picture_edges.picture_edges(FLAT, noise_l=0.1, enlargement=0.0),
        r"0\.02 to 50",
    ),
    "squares of a line": (lambda: noise.in_blocks(FEW), "rows by columns"),
    "noise of nothing": (
        lambda: noise.picture_noise(EMPTY, 1.0),
        "rows by columns",
    ),
    "noise of gaps": (lambda: noise.picture_noise(HOLED, 1.0), "every pixel"),
    "noise enlarged by 0": (
        lambda: noise.picture_noise(FLAT, 0.0),
        r"0\.02 to 50",
    ),
    "noise without blur": (
        lambda: noise.picture_noise(FLAT, 1.0, blur_px=0.0),
        r"0\.1 to 10",
    ),
    # Trials and readings.
    "trial without patches": (
        lambda: calibration.RestoreTrial(offered=(), picked=1.0),
        "two or more",
    ),
    "trial of nan": (
        lambda: calibration.RestoreTrial(offered=(nan, 1.0), picked=1.0),
        r"0 to 1\.5",
    ),
    "no trials": (lambda: calibration.preferred_restore([]), "Print one trial"),
    "no readings": (lambda: calibration.huber_mean(NONE, NONE), "one reading or more"),
    "reading nan": (
        lambda: calibration.huber_mean(GAPS, np.ones(2)),
        "one reading or more",
    ),
    "reading without error": (
        lambda: calibration.huber_mean(np.ones(2), np.zeros(2)),
        "error above 0",
    ),
    "error missing": (
        lambda: calibration.huber_mean(np.ones(2), np.ones(3)),
        "its own error",
    ),
    # Responses.
    "curve of gaps": (
        lambda: response.SpreadCurve(cycles_per_mm=(1.0, nan), values=(1.0, 0.5)),
        "Sort them",
    ),
    "curve without end": (
        lambda: response.SpreadCurve(cycles_per_mm=(1.0, inf), values=(1.0, 0.5)),
        "Sort them",
    ),
    "curve empty": (
        lambda: response.SpreadCurve(cycles_per_mm=(), values=()),
        "two or more",
    ),
    "cycles per mm at 0 ppi": (lambda: response.cycles_per_mm(0.5, 0.0), "100000 ppi"),
    "cycles per mm of gaps": (
        lambda: response.cycles_per_mm(GAPS, 300.0),
        "without gaps",
    ),
    "cycles per px at 0 ppi": (lambda: response.cycles_per_px(5.0, 0.0), "100000 ppi"),
    "cycles per px of nan": (
        lambda: response.cycles_per_px(nan, 300.0),
        "without gaps",
    ),
    "steps to nan": (lambda: response.steps_to(nan, 5), "1e-09 to 1e"),
    "no steps": (lambda: response.steps_to(1.0, 0), "from 1 to"),
    "blur below 0": (lambda: response.gaussian_mtf(FEW, -1.0), "0 to 1e"),
    "blur nan": (lambda: response.gaussian_mtf(FEW, nan), "0 to 1e"),
    "blur without end": (lambda: response.gaussian_mtf(FEW, inf), "0 to 1e"),
    "blur of gaps": (lambda: response.gaussian_mtf(GAPS, 1.0), "without gaps"),
    "blur at a frequency below 0": (
        lambda: response.gaussian_mtf(FEW - 0.1, 1.0),
        "0 to 1e",
    ),
    "blur of nothing": (lambda: response.gaussian_mtf(NONE, 1.0), "one value or more"),
    "aperture nan": (lambda: response.box_mtf(FEW, nan), "0 to 1e"),
    "aperture below 0": (lambda: response.box_mtf(FEW, -1.0), "0 to 1e"),
    "aperture of gaps": (lambda: response.box_mtf(GAPS), "without gaps"),
    "kernel of 0": (lambda: kernel.gaussian_kernel(0.0), r"0\.01 to 500 px"),
    "kernel below 0": (lambda: kernel.gaussian_kernel(-1.0), r"0\.01 to 500 px"),
    "kernel nan": (lambda: kernel.gaussian_kernel(nan), r"0\.01 to 500 px"),
    "kernel of 10 m": (lambda: kernel.gaussian_kernel(1e12), r"0\.01 to 500 px"),
    "kernel response of gaps": (
        lambda: kernel.kernel_mtf(GAPS, 1.0),
        "without gaps",
    ),
    "sharpening nan": (
        lambda: response.unsharp_mtf(FEW, gain=nan, blur=1.0),
        "0 to 100",
    ),
    "sharpening below 0": (
        lambda: response.unsharp_mtf(FEW, gain=-1.0, blur=1.0),
        "0 to 100",
    ),
    "paper nan": (lambda: response.spread_mtf(FEW, nan), "0 to 10000 µm"),
    "paper below 0": (lambda: response.spread_mtf(FEW, -1.0), "0 to 10000 µm"),
    "paper of 10 m": (lambda: response.spread_mtf(FEW, 1e7), "0 to 10000 µm"),
    "paper of gaps": (lambda: response.spread_mtf(GAPS, 30.0), "without gaps"),
    "enlarged by 0": (lambda: response.resampler_mtf(FEW, 0.0), r"0\.02 to 50"),
    "enlarged by nan": (lambda: response.resampler_mtf(FEW, nan), r"0\.02 to 50"),
    "enlarged without end": (
        lambda: response.resampler_mtf(FEW, inf),
        r"0\.02 to 50",
    ),
    "reduced to nothing": (lambda: response.resampler_mtf(FEW, 1e-9), r"0\.02 to 50"),
    "resampling of gaps": (lambda: response.resampler_mtf(GAPS, 2.0), "without gaps"),
    "found softness nan": (
        lambda: response.sigma_before_resampling(nan, 1.0),
        "0 to 1000",
    ),
    "found softness below 0": (
        lambda: response.sigma_before_resampling(-1.0, 1.0),
        "0 to 1000",
    ),
    "found softness enlarged by 0": (
        lambda: response.sigma_before_resampling(1.0, 0.0),
        r"0\.02 to 50",
    ),
    "chain of gaps": (lambda: chain.response_before(a_chain(), GAPS), "without gaps"),
    "weights below 0": (
        lambda: chain.weighted_error(FEW - 0.1, FEW),
        r"0 to 1 \(shares\)",
    ),
    "chain with softness below 0": (
        lambda: chain.response_before(a_chain(), FEW, edge_sigma_px=-1.0),
        "0 to 20",
    ),
    "file with softness of 10 m": (
        lambda: chain.response_in_file(a_chain(), FEW, 1e6),
        "0 to 20",
    ),
    "degrees of gaps": (lambda: chain.to_degrees(a_chain(), GAPS), "without gaps"),
    "eye on nothing": (lambda: chain.eye_weight(a_chain(), NONE), "one value or more"),
    "eye at frequency 0": (
        lambda: chain.eye_weight(a_chain(), np.zeros(3)),
        "1e-06 to",
    ),
    "error of nothing": (lambda: chain.weighted_error(NONE, NONE), "one value or more"),
    "error of gaps": (
        lambda: chain.weighted_error(np.full(2, 0.5), GAPS),
        "without gaps",
    ),
    "error of other lengths": (
        lambda: chain.weighted_error(np.full(2, 0.5), FEW),
        "as many",
    ),
    # The eye.
    "degrees from 0 mm": (lambda: eye.cycles_per_degree(1.0, 0.0), "1 to 1e"),
    "degrees below 0": (lambda: eye.cycles_per_degree(-1.0, 400.0), "0 to 1e"),
    "sensitivity at 0": (lambda: eye.contrast_sensitivity(0.0, 100.0), "1e-06 to"),
    "sensitivity in the dark": (
        lambda: eye.contrast_sensitivity(FEW, 0.0),
        r"0\.001 to",
    ),
    "sensitivity of gaps": (
        lambda: eye.contrast_sensitivity(GAPS, 100.0),
        "without gaps",
    ),
    "acutance weight below 0": (lambda: eye.acutance_weight(-1.0), "0 to 1e"),
    "acutance of nothing": (lambda: eye.acutance(NONE, NONE), "one value or more"),
    "acutance of gaps": (lambda: eye.acutance(GAPS, GAPS), "without gaps"),
    "acutance backwards": (lambda: eye.acutance(FEW[::-1], FEW), "Sort them"),
    "acutance of other lengths": (lambda: eye.acutance(FEW, FEW[1:]), "as many"),
    "quality of nothing": (
        lambda: eye.subjective_quality_factor(NONE, NONE),
        "one value or more",
    ),
    "quality of gaps": (
        lambda: eye.subjective_quality_factor(np.ones(2), GAPS),
        "without gaps",
    ),
    "contrast of L* 0": (lambda: eye.contrast_per_l(0.0), "8 to 100"),
    "contrast of nan": (lambda: eye.contrast_per_l(nan), "8 to 100"),
    "luminance of nan": (lambda: eye.luminance_of_l(nan, 100.0), "8 to 100"),
    "luminance on black paper": (lambda: eye.luminance_of_l(50.0, 0.0), r"0\.001 to"),
    # Edges and halos.
    "overshoot gain nan": (lambda: overshoot(gain=nan), "gain of 0 or more"),
    "overshoot radius 0": (lambda: overshoot(radius=0.0), "above 0"),
    "overshoot radius without end": (lambda: overshoot(radius=inf), "above 0"),
    "overshoot softness below 0": (lambda: overshoot(softness=-1.0), "above 0"),
    "edge softness 0": (lambda: edge(edge_sigma_px=0.0), r"0\.001 to 1000"),
    "edge gain nan": (lambda: edge(gain=nan), "0 to 100"),
    "edge radius 0": (lambda: edge(radius_px=0.0), r"0\.01 to 500"),
    "edge of no response": (
        lambda: halo.edge_of_response(FEW, NONE, NONE),
        "one value or more",
    ),
    "edge of gaps": (
        lambda: halo.edge_of_response(FEW, np.ones(2), GAPS),
        "without gaps",
    ),
    "edge of frequency 0": (
        lambda: halo.edge_of_response(FEW, np.zeros(5), np.ones(5)),
        "1e-09 to",
    ),
    "edge of other lengths": (
        lambda: halo.edge_of_response(FEW, FEW, FEW[1:]),
        "as many",
    ),
    "frequencies of softness 0": (
        lambda: halo.edge_frequencies(0.0, 1.0),
        "1e-06 to",
    ),
    "frequencies of softness nan": (
        lambda: halo.edge_frequencies(nan, 1.0),
        "1e-06 to",
    ),
    "frequencies for a place 10 m away": (
        lambda: halo.edge_frequencies(1.0, 1e7),
        "0 to 10000",
    ),
    "halo of nothing": (lambda: halo.halo_of(NONE, NONE), "from 2 to"),
    "halo of one place": (lambda: halo.halo_of(np.ones(1), np.ones(1)), "from 2 to"),
    "halo of gaps": (lambda: halo.halo_of(np.arange(2.0), GAPS), "without gaps"),
    "halo of other lengths": (lambda: halo.halo_of(FEW, FEW[1:]), "as many"),
    "angle from 0 mm": (lambda: halo.halo_arcmin(1.0, 0.0), "1 to 1e"),
    "angle of nan": (lambda: halo.halo_arcmin(nan, 400.0), "0 to 1e"),
    "grid reach nan": (
        lambda: halo.edge_grid(a_chain(), reach_px=nan),
        "0 to 4000",
    ),
    "grid reach below 0": (
        lambda: halo.edge_grid(a_chain(), reach_px=-100.0),
        "0 to 4000",
    ),
    "edge response of gaps": (
        lambda: halo.edge_response(a_chain(), GAPS),
        "without gaps",
    ),
    "halos of gain nan": (lambda: halo.halos(a_chain(), nan, 1.0), "0 to 100"),
    "halos of radius 0": (
        lambda: halo.halos(a_chain(), 1.0, 0.0),
        r"0\.01 to 500",
    ),
    "halos of radius below 0": (
        lambda: halo.halos(a_chain(), 1.0, -1.0),
        "0 to 4000",
    ),
    # Noise.
    "kernels of radius 0": (
        lambda: kernel.kernel_weights(np.zeros(1)),
        r"0\.01 to 500",
    ),
    "kernels of radius nan": (
        lambda: kernel.kernel_weights(np.full(1, nan)),
        r"0\.01 to 500",
    ),
    "file noise with floor nan": (lambda: noise_in_file(nan), "0 to 10"),
    "file noise below 0": (lambda: noise_in_file(noise_l=-1.0), "0 to 50"),
    "spectrum enlarged by 0": (
        lambda: noise.resampled_noise_spectrum(FEW, 0.0),
        r"0\.02 to 50",
    ),
    "bands at 0 ppi": (lambda: bands(ppi=0.0), "100000 ppi"),
    "bands of spread nan": (lambda: bands(spread=nan), "0 to 10000 µm"),
    "bands enlarged by nan": (lambda: bands(enlargement=nan), r"0\.02 to 50"),
    "bands from 0 mm": (lambda: bands(degrees_per_cycle_mm=0.0), r"0\.001 to"),
    "bands up to 0": (lambda: bands(highest_cycles_px=0.0), r"1e-06 to 0\.5"),
    "bands in the dark": (lambda: bands(luminance_cd_m2=0.0), r"0\.001 to"),
    "bands at L* 0": (lambda: bands(lightness_l=0.0), "8 to 100"),
    "floor below 0": (
        lambda: noise.past_grain_floor(np.array([-1.0])),
        "0 to inf",
    ),
    "floor of nothing": (
        lambda: noise.past_grain_floor(NONE),
        "one value or more",
    ),
    "plane of radius 0": (
        lambda: noise.high_pass_plane(FEW, 0.0),
        r"0\.01 to 500",
    ),
    "plane of gaps": (lambda: noise.high_pass_plane(GAPS, 1.0), "without gaps"),
    "visible noise of nothing": (
        lambda: noise.visible_noise(EMPTY),
        "one value or more",
    ),
    "visible noise of gaps": (
        lambda: noise.visible_noise(HOLED),
        "without gaps",
    ),
    # The refusals themselves.
    "number nan": (lambda: validation.require("Radius", nan, 0, 1, "px"), "0 to 1 px"),
    "numbers beyond": (
        lambda: validation.require_numbers("Radii", FEW, 0, 0.1, "px"),
        r"0 to 0\.1 px",
    ),
    "plane of colour": (lambda: validation.require_plane("It", CUBE), "one channel"),
    "lists of other lengths": (
        lambda: validation.require_alike("Both", FEW, NONE),
        "in the same order",
    ),
}


@pytest.mark.parametrize(("call", "remedy"), REFUSED.values(), ids=REFUSED.keys())
def test_bad_input_is_refused_with_a_remedy(call, remedy):
    with pytest.raises(SpecError) as refusal:
        call()
    assert re.search(remedy, refusal.value.remedy)
    assert "nan" not in refusal.value.remedy


def test_numbers_at_the_ends_of_their_range_are_taken():
    """A range that shut out a good number would be a bad remedy."""
    validation.require("Radius", 0.0, 0, 1, "px")
    validation.require("Radius", 1.0, 0, 1, "px")
    validation.require_numbers("Radii", np.array([0.0, 1.0]), 0, 1, "px")
    validation.require_plane("It", FLAT)
    validation.require_alike("Both", FEW, FEW)
