"""The largest good print, by closed forms of the eye's angle."""

from math import hypot, inf, radians, tan

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from printplan.errors import SpecError
from printplan.sizing.largest_size import largest_at_diagonal_mm, largest_length_mm
from printplan.sizing.print_size import acuity_ppi, effective_ppi

# ISO 8596:2017: acuity 1.0 reads a gap of one arcminute.
ARCMIN = tan(radians(1 / 60))
pixels = st.floats(100, 50_000)
distances = st.floats(100, 20_000)


def test_six_thousand_pixels_at_reading_distance():
    # 25.4 / (300 · tan 1') = 291.06 ppi, and 6000 of them are 523.6 mm.
    assert largest_length_mm(6000, 300) == pytest.approx(523.6, abs=0.05)
    assert largest_length_mm(6000, 300) == pytest.approx(6000 * 300 * ARCMIN)


@given(pixels, distances, st.floats(0.1, 1), st.sampled_from([0.0, 72.0, 150.0, 300.0]))
def test_at_the_largest_size_the_pixels_are_just_enough(count, far, share, least):
    length_mm = largest_length_mm(count, far, own_share=share, least_ppi=least)
    own_ppi = effective_ppi(count * share, length_mm)
    assert own_ppi == pytest.approx(max(acuity_ppi(far), least))


@given(pixels, pixels, st.floats(100, 1000), st.floats(0.1, 1))
def test_diagonal_case_solves_its_equation(width_px, height_px, nearest_mm, share):
    """Tried by sizes: below the largest all are good, above it none is."""
    largest = largest_at_diagonal_mm(
        width_px, height_px, nearest_mm=nearest_mm, own_share=share
    )
    longest = max(width_px, height_px)
    needed = hypot(width_px, height_px) * share * ARCMIN
    assume(abs(needed - 1) > 1e-9)

    def is_good(length_mm):
        mm_per_px = length_mm / longest
        distance_mm = max(nearest_mm, hypot(width_px, height_px) * mm_per_px)
        return mm_per_px / share <= distance_mm * ARCMIN

    if largest == inf:
        assert all(is_good(10.0**power) for power in range(7))
    else:
        assert is_good(largest * (1 - 1e-9))
        assert not any(is_good(largest * times) for times in (1.001, 2, 10, 1000))


def test_least_resolution_bounds_what_the_eye_would_allow():
    assert largest_at_diagonal_mm(6000, 4000) == inf
    # 60 px/in along 6000 px is 100 in.
    assert largest_at_diagonal_mm(6000, 4000, least_ppi=60) == pytest.approx(2540)
    # Half of it enlarged twice before: half the pixels.
    half = largest_at_diagonal_mm(6000, 4000, least_ppi=60, own_share=0.5)
    assert half == pytest.approx(1270)


@pytest.mark.parametrize(
    ("count", "far", "of"),
    [
        (0, 300, {}),
        (100, 0, {}),
        (100, 300, {"own_share": 0}),
        (100, 300, {"own_share": 1.1}),
        (100, 300, {"least_ppi": -1}),
        (float("nan"), 300, {}),
    ],
)
def test_senseless_numbers_are_refused(count, far, of):
    with pytest.raises(SpecError, match="Give"):
        largest_length_mm(count, far, **of)
