"""The invented printer is a plausible one."""

import csv
from functools import cache
from pathlib import Path

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from printplan.colour.icc_file import D50_XYZ
from printplan.colour.spaces import lab_from_xyz
from printplan.demo.inks import (
    INKED_PAPERS,
    WAVELENGTHS_NM,
    demichel_shares,
    device_xyz,
    ink_densities,
    make_ink_model,
    mixed_reflectance,
    observer_weights,
    separate,
)

FOGRA39 = Path(__file__).parent / "data" / "fogra39l.csv"

SHARES = st.floats(0.0, 1.0)
PAPERS = pytest.mark.parametrize("paper", INKED_PAPERS, ids=lambda paper: paper.name)


@cache
def model_of(paper):
    return make_ink_model(paper)


def lab_of(paper, device):
    return lab_from_xyz(device_xyz(model_of(paper), np.asarray(device, float)))


def relative_lab_of(paper, device):
    """CIELAB relative to the paper's white, as profiles hold it."""
    xyz = device_xyz(model_of(paper), np.asarray(device, float))
    white = device_xyz(model_of(paper), np.ones(3))
    return lab_from_xyz(xyz / white * D50_XYZ)


def volume(lab):
    """Signed tetrahedra over the surface of a device cube of CIELAB colours."""
    last = lab.shape[0] - 1
    total = 0.0
    for axis in range(3):
        for end in (0, last):
            face = np.take(lab, end, axis=axis) - lab[last // 2, last // 2, last // 2]
            a, b, c, d = face[:-1, :-1], face[1:, :-1], face[1:, 1:], face[:-1, 1:]
            sign = (-1) ** axis * (1 if end else -1)
            for second, third in ((b, c), (c, d)):
                total += sign * np.einsum("ijk,ijk", a, np.cross(second, third)) / 6
    return abs(total)


def cube(points):
    steps = np.linspace(0, 1, points)
    return np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1)


def test_half_covered_paper_follows_yule_and_nielsen():
    # Closed form: (0.5·√0.02 + 0.5·√0.9)² = 0.297082, six decimals.
    mixed = mixed_reflectance(np.array([0.5, 0.5]), np.array([[0.02], [0.9]]), n=2)
    assert mixed[0] == pytest.approx(0.297082, abs=5e-7)


def test_without_spread_reflectances_add_by_area():
    # Murray and Davies 1936: 0.5·0.02 + 0.5·0.9.
    mixed = mixed_reflectance(np.array([0.5, 0.5]), np.array([[0.02], [0.9]]), n=1)
    assert mixed[0] == pytest.approx(0.46, abs=1e-12)


@given(coverage=st.tuples(SHARES, SHARES, SHARES, SHARES))
def test_demichel_shares_cover_the_paper_once(coverage):
    shares = demichel_shares(np.array(coverage))
    assert shares.sum() == pytest.approx(1.0, abs=1e-12)
    assert shares.min() >= 0
    # The shares of all combinations that hold an ink are that ink's coverage.
    holds = (np.arange(16)[:, None] >> np.arange(4)) & 1
    assert shares @ holds == pytest.approx(np.array(coverage), abs=1e-12)


@given(asked=st.tuples(SHARES, SHARES, SHARES))
def test_separation_stays_within_what_can_be_printed(asked):
    coverage = separate(np.array(asked))
    assert coverage.min() >= 0
    assert coverage.max() <= 1


@given(two=st.tuples(SHARES, SHARES), missing=st.integers(0, 2))
def test_no_black_without_all_three_inks(two, missing):
    coverage = separate(np.insert(np.array(two), missing, 0.0))
    assert coverage[3] < 1e-12


def test_perfect_white_is_the_white_of_profiles():
    assert observer_weights().sum(axis=0) == pytest.approx(np.array(D50_XYZ), abs=1e-12)


def test_xyz_of_an_ink_agrees_with_colour_science():
    # Its own integration from 360 to 780 nm, where ours stops at 730, and its D50
    # is the table's, not the rounded one of profiles: hence the tolerance.
    reflectance = 10 ** -ink_densities()[0]
    spectrum = colour.SpectralDistribution(
        dict(zip(WAVELENGTHS_NM.tolist(), reflectance.tolist(), strict=True))
    )
    light = colour.SDS_ILLUMINANTS["D50"]
    with colour.utilities.suppress_warnings(colour_runtime_warnings=True):
        theirs = colour.sd_to_XYZ(spectrum, illuminant=light) / 100
    assert reflectance @ observer_weights() == pytest.approx(theirs, abs=2e-3)


@PAPERS
def test_overprints_multiply_and_the_surface_adds(paper):
    # Beer's law under a surface that reflects s: (R - s)/(1 - s) multiplies.
    bare, cyan, magenta, blue = [
        (model_of(paper).primaries[number] - paper.surface_reflectance)
        / (1 - paper.surface_reflectance)
        for number in (0b0000, 0b0001, 0b0010, 0b0011)
    ]
    assert blue * bare == pytest.approx(cyan * magenta, rel=1e-9)
    assert model_of(paper).primaries.min() > paper.surface_reflectance


# What the papers are to be like: chosen, not measured. White and black L* of
# satin, baryta, matte and gloss papers, and gamut volumes that such papers could have.
@pytest.mark.parametrize(
    ("paper", "white_l", "black_l", "cubic_lab"),
    [
        (INKED_PAPERS[0], 96.7, 3.4, 697e3),
        (INKED_PAPERS[1], 97.0, 4.2, 694e3),
        (INKED_PAPERS[2], 95.8, 15.6, 379e3),
        (INKED_PAPERS[3], 96.3, 5.2, 654e3),
        (INKED_PAPERS[4], 96.3, 13.8, 430e3),
    ],
    ids=lambda value: getattr(value, "name", None),
)
def test_papers_are_as_they_were_invented(paper, white_l, black_l, cubic_lab):
    colours = lab_of(paper, cube(33))
    assert colours[-1, -1, -1, 0] == pytest.approx(white_l, abs=0.2)
    assert colours[0, 0, 0, 0] == pytest.approx(black_l, abs=0.2)
    assert colours[0, 0, 0, 0] == colours[..., 0].min()
    assert volume(colours) == pytest.approx(cubic_lab, rel=0.01)


@PAPERS
def test_grey_ramp_is_even_and_nearly_neutral(paper):
    device = np.repeat(np.linspace(0, 1, 101)[:, None], 3, axis=1)
    lab = relative_lab_of(paper, device)
    even = np.linspace(lab[0, 0], 100, 101)
    assert lab[:, 0] == pytest.approx(even, abs=0.1)
    # The black's own tint, below half a unit, is all the colour there is.
    assert np.hypot(lab[:, 1], lab[:, 2]).max() < 0.5


@PAPERS
def test_every_colour_is_printed_in_one_way_only(paper):
    # The map from device to colour keeps its handedness, so it never folds.
    steps = np.linspace(0, 1, 25)
    lab = lab_of(paper, cube(25))
    slopes = np.stack([np.gradient(lab, steps, axis=axis) for axis in range(3)], -1)
    handed = np.linalg.det(slopes)
    assert (handed > 0).all()


@PAPERS
@pytest.mark.parametrize(
    ("device", "cmy"),
    [((0, 1, 1), (100, 0, 0)), ((1, 0, 1), (0, 100, 0)), ((1, 1, 0), (0, 0, 100))],
    ids=["cyan", "magenta", "yellow"],
)
def test_solid_inks_have_the_hues_of_press_inks(paper, device, cmy):
    # FOGRA39L, measured solids. Photo inks need not match press inks: 25° is a
    # quarter of the way to the next ink's hue.
    with FOGRA39.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    ink = ("c_percent", "m_percent", "y_percent", "k_percent")
    press = next(row for row in rows if [float(row[i]) for i in ink] == [*cmy, 0])
    hue = np.arctan2(float(press["lab_b"]), float(press["lab_a"]))
    lab = lab_of(paper, device)
    away = np.degrees(np.arctan2(lab[2], lab[1]) - hue)
    assert abs((away + 180) % 360 - 180) < 25
