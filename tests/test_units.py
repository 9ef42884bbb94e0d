import pytest
from hypothesis import given
from hypothesis import strategies as st

from printplan.errors import SpecError
from printplan.units import mm_from_px, parse_length_mm, px_from_mm, whole_px


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("300", 300),
        ("300 mm", 300),
        (" 12.5cm ", 125),
        ("10 in", 254),
        ('8"', 203.2),
        (".5in", 12.7),
    ],
)
def test_length_reads_as_written(text, mm):
    # The inch is 25.4 mm by definition (international yard and pound, 1959).
    assert parse_length_mm(text) == pytest.approx(mm, rel=1e-12)


@pytest.mark.parametrize("text", ["", "wide", "-3 mm", "3 px", "3 mm mm", "1e9"])
def test_length_refuses_other_text(text):
    with pytest.raises(SpecError, match="Write a number and its unit"):
        parse_length_mm(text)


@given(st.floats(0.1, 1e4), st.floats(30, 2400))
def test_pixels_and_millimetres_undo_each_other(length_mm, ppi):
    assert mm_from_px(px_from_mm(length_mm, ppi), ppi) == pytest.approx(length_mm)


@given(st.floats(-1e6, 1e6))
def test_whole_px_is_nearest_and_never_half_up_and_down(position):
    assert abs(whole_px(position) - position) <= 0.5
    assert whole_px(position + 1) == pytest.approx(whole_px(position) + 1, abs=1)
