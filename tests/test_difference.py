"""Colour differences against a published table and another implementation."""

from pathlib import Path

import colour
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as stn

from printplan.colour.difference import (
    delta_e_2000,
    hue_angle_difference_deg,
)
from printplan.errors import SpecError

# Sharma, Wu & Dalal (2005), Color Res. Appl. 30(1), 21-30, Table 1,
# doi:10.1002/col.20070. Printed to 4 decimals, and so are the colours.
SHARMA = np.genfromtxt(
    Path(__file__).parent / "data" / "ciede2000-sharma.csv",
    delimiter=",",
    skip_header=2,
)
SHARMA_ATOL = 1e-4

colours = stn.arrays(
    np.float64,
    (7, 3),
    elements=st.floats(-130, 130, width=32),
).map(lambda lab: np.abs(lab) * [100 / 130, 0, 0] + lab * [0, 1, 1])


def away_from_opposite_hues(lab_a, lab_b):
    """The formula jumps where hues are opposite (Sharma et al., p. 24)."""
    turn = hue_angle_difference_deg(lab_a, lab_b)
    # The stretch of a* moves hues by less than 15 degrees.
    return np.abs(turn) < 150


@pytest.mark.parametrize("row", SHARMA, ids=lambda row: f"pair-{row[0]:.0f}")
def test_delta_e_2000_matches_sharma_table_1(row):
    assert abs(delta_e_2000(row[1:4], row[4:7]) - row[7]) <= SHARMA_ATOL


def test_sharma_table_1_has_34_pairs():
    assert np.array_equal(SHARMA[:, 0], np.arange(1, 35))


def test_delta_e_2000_agrees_with_colour_science_on_sharma_pairs():
    judged = colour.delta_E(SHARMA[:, 1:4], SHARMA[:, 4:7], method="CIE 2000")
    # Two codings of one formula in float64; pairs 10 and 14 are exactly opposite
    # hues and both codings keep the published side.
    ours = delta_e_2000(SHARMA[:, 1:4], SHARMA[:, 4:7])
    assert np.abs(ours - judged).max() <= 1e-10


@given(colours, colours)
@settings(max_examples=60, deadline=None)
def test_delta_e_2000_agrees_with_colour_science(lab_a, lab_b):
    keep = away_from_opposite_hues(lab_a, lab_b)
    ours = delta_e_2000(lab_a, lab_b)[keep]
    judged = colour.delta_E(lab_a, lab_b, method="CIE 2000")[keep]
    # Where two colours nearly coincide the square root doubles the rounding.
    assert np.abs(ours - judged).max(initial=0) <= 1e-6
    assert np.abs(ours**2 - judged**2).max(initial=0) <= 1e-9


@given(colours, colours)
@settings(max_examples=40, deadline=None)
def test_delta_e_2000_is_symmetric(lab_a, lab_b):
    forth, back = delta_e_2000(lab_a, lab_b), delta_e_2000(lab_b, lab_a)
    assert np.abs(forth - back).max() <= 1e-9


@given(colours)
@settings(max_examples=20, deadline=None)
def test_delta_e_2000_of_a_colour_with_itself_is_zero(lab):
    assert not delta_e_2000(lab, lab).any()


def test_delta_e_2000_in_float32_is_near_enough_to_show():
    rng = np.random.default_rng(8)
    lab_a = rng.uniform([0, -100, -100], [100, 100, 100], (50_000, 3))
    lab_b = (lab_a + rng.normal(0, 4, lab_a.shape)).astype(np.float32)
    lab_a = lab_a.astype(np.float32)
    narrow = delta_e_2000(lab_a, lab_b)
    wide = delta_e_2000(lab_a.astype(float), lab_b.astype(float))
    assert narrow.dtype == np.float32
    assert wide.dtype == np.float64
    keep = away_from_opposite_hues(lab_a, lab_b)
    # A map of differences is drawn in steps of 0.1 or more; a thousandth of that.
    assert np.abs(narrow - wide)[keep].max() <= 1e-4


def test_delta_e_2000_of_a_picture_does_not_depend_on_its_layout():
    """One colour against a picture, and pictures that are cut or strided."""
    rng = np.random.default_rng(9)
    picture = rng.uniform(-60, 60, (3, 211, 173)) + np.reshape([50, 0, 0], (3, 1, 1))
    strided = np.moveaxis(picture, 0, -1)
    single = np.array([40.0, 10, -20])
    whole = delta_e_2000(strided, single)
    assert whole.shape == (211, 173)
    packed = delta_e_2000(
        np.ascontiguousarray(strided), np.broadcast_to(single, strided.shape)
    )
    assert np.array_equal(whole, packed)
    cut = delta_e_2000(strided[17:90, 5:9], single)
    assert np.array_equal(whole[17:90, 5:9], cut)
    assert delta_e_2000(strided[:0], single).shape == (0, 173)


@given(st.floats(0, 360), st.floats(-179, 179), st.floats(1, 120))
@settings(max_examples=60, deadline=None)
def test_hue_angle_difference_is_the_turn_that_was_made(hue_deg, turn_deg, chroma):
    hues = np.radians([hue_deg, hue_deg + turn_deg])
    lab = np.stack([[50, 50], chroma * np.cos(hues), chroma * np.sin(hues)], axis=-1)
    assert hue_angle_difference_deg(lab[0], lab[1]) == pytest.approx(turn_deg, abs=1e-9)


def test_neutral_has_no_hue_difference():
    neutral, red = np.array([50.0, 0, 0]), np.array([50.0, 20, 0])
    assert hue_angle_difference_deg(red, neutral) == 0


def test_colours_that_do_not_go_together_are_refused():
    with pytest.raises(SpecError, match="last axis has length 3"):
        delta_e_2000(np.zeros((3, 4)), np.zeros((3, 4)))
    with pytest.raises(SpecError, match="two pictures of one size"):
        delta_e_2000(np.zeros((5, 3)), np.zeros((4, 3)))
