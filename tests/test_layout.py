import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from printplan.errors import FitError
from printplan.media import Margins
from printplan.sizing.boxes import Box
from printplan.sizing.layout import lay_out
from printplan.sizing.placing import OPTICAL_TOP_SHARE
from printplan.spec import Orientation, Placement, SheetSpec
from printplan.units import px_from_mm

A3 = (297.0, 420.0)
MARGINS = Margins(leading_mm=3, trailing_mm=14, left_mm=4, right_mm=5)


def sheet(**wishes):
    return SheetSpec(media_size="A3", feed="front", **wishes)


def test_centred_picture_has_equal_white_on_both_sides():
    layout = lay_out((200, 300), A3, MARGINS, sheet())
    picture = layout.picture
    assert picture.left_mm == pytest.approx(297 - picture.right_mm)
    assert picture.top_mm == pytest.approx(420 - picture.bottom_mm)


def test_optical_centre_lies_above_the_middle():
    layout = lay_out((200, 300), A3, MARGINS, sheet(placement=Placement.OPTICAL_CENTRE))
    assert layout.picture.top_mm == pytest.approx(120 * OPTICAL_TOP_SHARE)
    assert layout.picture.left_mm == pytest.approx(48.5)


def test_offset_moves_the_centre():
    layout = lay_out(
        (200, 300),
        A3,
        MARGINS,
        sheet(placement=Placement.OFFSET, offset_right_mm=10, offset_down_mm=-20),
    )
    assert layout.picture.left_mm == pytest.approx(58.5)
    assert layout.picture.top_mm == pytest.approx(40)


@pytest.mark.parametrize(
    ("orientation", "picture_mm", "sheet_mm"),
    [
        (Orientation.BY_PICTURE, (300, 200), (420, 297)),
        (Orientation.BY_PICTURE, (200, 300), (297, 420)),
        (Orientation.PORTRAIT, (250, 200), (297, 420)),
        (Orientation.LANDSCAPE, (200, 250), (420, 297)),
    ],
)
def test_sheet_turns_as_asked(orientation, picture_mm, sheet_mm):
    layout = lay_out(picture_mm, A3, MARGINS, sheet(orientation=orientation))
    assert (layout.width_mm, layout.height_mm) == sheet_mm


def test_landscape_turns_the_margins_with_the_sheet():
    # RFC 8011, 5.2.10: landscape is 90 degrees anticlockwise from portrait, so the
    # picture's top lies on the sheet's left edge and its right on the leading edge.
    printable = lay_out((300, 200), A3, MARGINS, sheet()).printable
    assert printable.top_mm == 4
    assert 420 - printable.right_mm == pytest.approx(3)
    assert 297 - printable.bottom_mm == pytest.approx(5)
    assert printable.left_mm == 14


def test_too_large_picture_names_a_size_that_fits():
    with pytest.raises(FitError, match=r"at most 280\.0 × 186\.6 mm") as caught:
        lay_out(
            (431.8, 287.9),
            (300.0, 420.0),
            Margins(leading_mm=10, trailing_mm=10, left_mm=10, right_mm=10),
            sheet(orientation=Orientation.PORTRAIT),
        )
    assert "takes 280.0 × 400.0 mm" in caught.value.problem


@given(
    st.floats(20, 900),
    st.floats(20, 900),
    st.sampled_from(list(Placement)),
    st.floats(-100, 100),
    st.floats(-100, 100),
    st.floats(0, 60),
)
def test_picture_keeps_margins_and_border_or_is_refused(
    width, height, placement, right, down, border
):
    offset = (right, down) if placement is Placement.OFFSET else (0, 0)
    wish = sheet(
        placement=placement,
        offset_right_mm=offset[0],
        offset_down_mm=offset[1],
        border_mm=border,
    )
    try:
        layout = lay_out((width, height), A3, MARGINS, wish)
    except FitError as refused:
        assert "Choose" in refused.remedy  # noqa: PT017 - both outcomes are right
        return
    near = 1e-5
    picture, printable = layout.picture, layout.printable
    for white, margin in (
        (picture.left_mm, printable.left_mm),
        (picture.top_mm, printable.top_mm),
        (layout.width_mm - picture.right_mm, layout.width_mm - printable.right_mm),
        (layout.height_mm - picture.bottom_mm, layout.height_mm - printable.bottom_mm),
    ):
        assert white >= max(margin, border) - near


@given(st.floats(50, 280), st.floats(0.3, 1), st.floats(72, 720))
def test_edges_are_rounded_once_and_within_half_a_pixel(width, shape, ppi):
    height = width * shape
    layout = lay_out((width, height), A3, MARGINS, sheet())
    picture, whole = layout.picture.in_px(ppi), layout.sheet.in_px(ppi)
    assert abs(picture.left - px_from_mm(layout.picture.left_mm, ppi)) <= 0.5
    assert abs(picture.right - px_from_mm(layout.picture.right_mm, ppi)) <= 0.5
    assert abs(picture.width - px_from_mm(width, ppi)) <= 1
    assert whole.common(picture) == picture


boxes = st.builds(
    Box,
    st.integers(-50, 50),
    st.integers(-50, 50),
    st.integers(1, 60),
    st.integers(1, 60),
)


@given(boxes, boxes)
def test_common_part_of_boxes_is_what_both_hold(one, other):
    shared = one.common(other)
    columns = set(range(one.left, one.right)) & set(range(other.left, other.right))
    rows = set(range(one.top, one.bottom)) & set(range(other.top, other.bottom))
    assume(columns and rows) if shared else None
    if shared is None:
        assert not (columns and rows)
    else:
        assert (shared.left, shared.right) == (min(columns), max(columns) + 1)
        assert (shared.top, shared.bottom) == (min(rows), max(rows) + 1)


def test_a_picture_in_the_middle_keeps_the_wider_margin_on_both_sides():
    """210 mm less twice 14 mm are 182 mm, whichever side the 14 mm are on."""
    wish = SheetSpec(
        media_size="A4",
        feed="front",
        placement=Placement.CENTRED,
        orientation=Orientation.PORTRAIT,
    )
    for left_mm, right_mm in ((4, 14), (14, 4)):
        margins = Margins(
            leading_mm=3, trailing_mm=3, left_mm=left_mm, right_mm=right_mm
        )
        layout = lay_out((181.9, 100.0), (210.0, 297.0), margins, wish)
        assert layout.picture.left_mm == pytest.approx(14.05)
        with pytest.raises(FitError, match="182"):
            lay_out((182.1, 100.0), (210.0, 297.0), margins, wish)
