"""A mat is cut as framers reckon it, and what it hides is what was asked for."""

from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from printplan.errors import FitError, SpecError
from printplan.sizing.boxes import Edges, Sides
from printplan.sizing.mat_cutting import cutters_list, on_ruler, windows_in_mat
from printplan.sizing.mat_fit import LEAST_HELD_MM, mat_plan
from printplan.sizing.mats import MatBoard, mat_as_asked
from printplan.spec import MatMargins, MountSpec
from printplan.units import LengthUnit, fraction_words, on_ruler_mm, ruler_words

INCH_MM = 25.4  # the international inch, exact by definition
A3 = Edges(0, 0, 420, 297)
PICTURE = Edges(60, 48.5, 360, 248.5)  # 300 × 200 mm in the middle of it


def inches(fraction):
    return float(Fraction(fraction)) * INCH_MM


def mixed(text):
    """``7 3/4 in`` as a number of inches, read by another way than it was written."""
    return sum(Fraction(it) for it in text.removesuffix(" in").split())


# Worked examples: the arithmetic of the framing trade, common practice, no source.


def test_mat_of_400_by_300_for_a_picture_of_300_by_200():
    """3 mm of overlap leave 294 × 194; (400 - 294) / 2 and (300 - 194) / 2 are 53."""
    mount = MountSpec(mat_overlap_mm=3, mat_outer_width_mm=400, mat_outer_height_mm=300)
    mat = mat_plan(PICTURE, A3, mount)
    assert mat.opening == Edges(63, 51.5, 357, 245.5)
    assert mat.margins == Sides(53, 53, 53, 53)
    assert mat.picture_hidden == Sides(3, 3, 3, 3)
    assert mat.white_shown == Sides(0, 0, 0, 0)


def test_bottom_weighted_mat_has_so_much_more_at_its_foot():
    """106 mm of board above and below; 10 mm more at the foot: 48 and 58."""
    mount = MountSpec(
        mat_overlap_mm=3,
        mat_outer_width_mm=400,
        mat_outer_height_mm=300,
        mat_margins=MatMargins.BOTTOM_WEIGHTED,
        mat_foot_mm=10,
    )
    assert mat_plan(PICTURE, A3, mount).margins == Sides(53, 48, 53, 58)


def test_optical_centre_leaves_45_parts_above_and_55_below():
    mount = MountSpec(
        mat_overlap_mm=3,
        mat_outer_width_mm=400,
        mat_outer_height_mm=294,
        mat_margins=MatMargins.OPTICAL_CENTRE,
    )
    margins = mat_plan(PICTURE, A3, mount).margins
    assert (margins.top_mm, margins.bottom_mm) == pytest.approx((45, 55))


def test_mat_of_11_by_14_in_for_a_print_of_8_by_10_in():
    """1/8 in of overlap: 7 3/4 × 9 3/4; (11 - 7 3/4) / 2 is 1 5/8, and 2 1/8."""
    picture = Edges(0, 0, inches(8), inches(10))
    mount = MountSpec(
        mat_overlap_mm=inches("1/8"),
        mat_outer_width_mm=inches(11),
        mat_outer_height_mm=inches(14),
    )
    mat = mat_plan(picture, picture, mount, unit=LengthUnit.INCHES)
    told = {
        it.what: it.value for it in cutters_list(mat.board, LengthUnit.INCHES).lines
    }
    assert told == {
        "Mat, outside": "11 × 14 in",
        "Opening": "7 3/4 × 9 3/4 in, 1 5/8 in from the left, 2 1/8 in from the top",
        "Borders": "left 1 5/8, top 2 1/8, right 1 5/8, foot 2 1/8 in",
    }
    assert "Rounded" not in cutters_list(mat.board, LengthUnit.INCHES).notes[0]


def test_white_round_a_picture_with_more_below_for_the_signature():
    """12 mm on three sides and 30 below round 300 × 200: an opening of 324 × 242."""
    sheet = Edges(0, 0, 420, 320)
    mount = MountSpec(reveal_mm=12, reveal_below_mm=30, mat_margin_mm=60)
    mat = mat_plan(PICTURE, sheet, mount)
    assert mat.white_shown == Sides(12, 12, 12, 30)
    assert mat.picture_hidden == Sides(0, 0, 0, 0)
    assert (mat.board.width_mm, mat.board.height_mm) == (324 + 120, 242 + 120)
    # Paper under the mat: 60 - 12 at the left, 320 - 248.5 - 30 at the foot.
    assert mat.paper_held == Sides(48, 36.5, 48, 41.5)


def test_frame_hides_its_rebate_of_a_mat_that_is_cut_to_it():
    """A rebate of 6 mm leaves 388 × 288 mm of a mat of 400 × 300 in sight."""
    mount = MountSpec(mat_overlap_mm=3, frame_width_mm=400, frame_height_mm=300)
    mat = mat_plan(PICTURE, A3, mount)
    assert mat.outer == mat.glazing
    assert mat.mat_hidden == Sides(6, 6, 6, 6)
    assert mat.margins_seen == Sides(47, 47, 47, 47)
    assert mat.sight.right_mm - mat.sight.left_mm == 388


def test_grid_of_four_openings_has_bars_of_one_width():
    """2 × 100 + 25 = 225 of 345: 60 at both sides; 2 × 70 + 25 = 165 of 265: 50."""
    board = windows_in_mat([[(100, 70)] * 2] * 2, (345, 265), bar_mm=25)
    assert board.openings == (
        Edges(60, 50, 160, 120),
        Edges(185, 50, 285, 120),
        Edges(60, 145, 160, 215),
        Edges(185, 145, 285, 215),
    )
    assert board.margins == Sides(60, 50, 60, 50)
    names = [it.what for it in cutters_list(board).lines]
    assert [it for it in names if it.startswith("Opening")] == [
        f"Opening {number}" for number in range(1, 5)
    ]


# What cannot be cut


ROOM = {"mat_outer_width_mm": 313, "mat_outer_height_mm": 300}


@pytest.mark.parametrize(
    ("mount", "remedy"),
    [
        # 294 + 2 × 10 of board on each side; 194 + 2 × 10.
        (MountSpec(mat_overlap_mm=3, **ROOM), "a mat of at least 314 × 214 mm"),
        (
            MountSpec(mat_overlap_mm=3, frame_width_mm=200, frame_height_mm=300),
            "a frame of at least 314 × 214 mm",
        ),
        # 48.5 mm of white above and below, of which 3 hold the print.
        (MountSpec(reveal_mm=47), "at most 45.5 mm round the picture,"),
        (
            MountSpec(reveal_mm=50, reveal_below_mm=60),
            "at most 45.5 mm round the picture and 45.5 mm below it",
        ),
        # Half of what 200 mm are more than an opening of 5.
        (MountSpec(mat_overlap_mm=99), "an overlap of 97.5 mm or less"),
        (
            MountSpec(mat_opening_width_mm=421, mat_opening_height_mm=50),
            "an opening of 294.0 × 194.0 mm",
        ),
    ],
)
def test_mat_that_cannot_be_is_refused_with_what_can(mount, remedy):
    with pytest.raises(FitError) as caught:
        mat_plan(PICTURE, A3, mount)
    assert remedy in caught.value.remedy


def test_windows_that_do_not_go_in_are_refused():
    with pytest.raises(FitError, match="larger mat, or smaller openings"):
        windows_in_mat([[(100, 70)] * 2], (240, 200), bar_mm=25)
    with pytest.raises(FitError, match=r"Choose 10 mm or more"):
        windows_in_mat([[(100, 70)] * 2], (400, 200), bar_mm=9)
    with pytest.raises(FitError, match="Give one of the two"):
        windows_in_mat([[(100, 70)]], (400, 200), bar_mm=25, margin_mm=50)
    with pytest.raises(FitError, match="at least one opening"):
        windows_in_mat([], (400, 200), bar_mm=25)


@pytest.mark.parametrize(
    ("wish", "remedy"),
    [
        ({"mat_overlap_mm": 3, "reveal_mm": 5}, "Keep one"),
        ({"reveal_below_mm": 5}, "0 is allowed"),
        ({"frame_width_mm": 400, "frame_height_mm": 300}, "3 mm are usual"),
        ({"mat_overlap_mm": 3, "frame_width_mm": 400}, "frame's width and its height"),
        ({"mat_overlap_mm": 3, "mat_foot_mm": 5}, '"wider at the foot"'),
        ({"mat_overlap_mm": 3, "mat_margin_mm": 20, **ROOM}, "the other follows"),
        ({"mat_overlap_mm": 3, "mat_margin_mm": 9}, "10 to 2000 mm"),
    ],
)
def test_wish_that_contradicts_itself_is_refused(wish, remedy):
    with pytest.raises(SpecError) as caught:
        MountSpec(**wish)
    assert remedy in caught.value.remedy


# What holds for every mat


LENGTHS = st.floats(20, 900)


@st.composite
def mounts(draw):
    kind = draw(st.sampled_from(["overlap", "white", "size"]))
    if kind == "overlap":
        wish = {"mat_overlap_mm": draw(st.floats(0, 7))}
    elif kind == "white":
        below_mm = draw(st.none() | st.floats(0, 60))
        wish = {"reveal_mm": draw(st.floats(0, 40)), "reveal_below_mm": below_mm}
    else:
        wish = {"mat_opening_width_mm": draw(LENGTHS)}
        wish["mat_opening_height_mm"] = draw(LENGTHS)
    if draw(st.booleans()):
        wish["mat_margin_mm"] = draw(st.floats(10, 150))
    else:
        wish["mat_outer_width_mm"] = draw(st.floats(20, 2000))
        wish["mat_outer_height_mm"] = draw(st.floats(20, 2000))
    margins = draw(st.sampled_from(MatMargins))
    if margins is MatMargins.BOTTOM_WEIGHTED:
        wish["mat_foot_mm"] = draw(st.floats(0, 60))
    return MountSpec(**wish, mat_margins=margins)


@given(mounts(), LENGTHS, LENGTHS, st.floats(0, 50), st.floats(0, 50))
def test_margins_and_opening_are_the_mat(mount, width, height, left, top):
    picture = Edges(left, top, left + width, top + height)
    mat = mat_as_asked(picture, Edges(0, 0, 1000, 1000), mount)
    opening, margins, board = mat.opening, mat.margins, mat.board
    assert margins.left_mm + (
        opening.right_mm - opening.left_mm
    ) + margins.right_mm == (pytest.approx(board.width_mm, abs=1e-9))
    assert margins.top_mm + (
        opening.bottom_mm - opening.top_mm
    ) + margins.bottom_mm == (pytest.approx(board.height_mm, abs=1e-9))
    assert margins.left_mm == pytest.approx(margins.right_mm, abs=1e-9)
    # In the wider part, if any: a mat never stands on its head.
    assert margins.bottom_mm - margins.top_mm >= -1e-9 or margins.bottom_mm < 0
    if mount.mat_outer_width_mm is not None:
        asked = (mount.mat_outer_width_mm, mount.mat_outer_height_mm)
        assert (board.width_mm, board.height_mm) == pytest.approx(asked, abs=1e-9)
    else:
        three = (margins.left_mm, margins.top_mm, margins.right_mm)
        assert three == pytest.approx([mount.mat_margin_mm] * 3, abs=1e-9)


@given(mounts(), LENGTHS, LENGTHS)
def test_what_is_hidden_is_the_overlap_and_what_is_shown_the_white(
    mount, width, height
):
    mat = mat_as_asked(Edges(9, 9, 9 + width, 9 + height), A3, mount)
    if mount.mat_overlap_mm is not None:
        told = mat.picture_hidden.all_mm
        assert told == pytest.approx([mount.mat_overlap_mm] * 4, abs=1e-9)
    elif mount.reveal_mm is not None:
        below_mm = mount.reveal_below_mm
        foot_mm = mount.reveal_mm if below_mm is None else below_mm
        told = mat.white_shown.all_mm
        assert told == pytest.approx([mount.reveal_mm] * 3 + [foot_mm], abs=1e-9)
    for hidden, shown in zip(
        mat.picture_hidden.all_mm, mat.white_shown.all_mm, strict=True
    ):
        assert min(hidden, shown) == 0


@given(mounts(), LENGTHS, LENGTHS, st.floats(0, 50), st.floats(0, 50))
def test_mat_that_is_not_refused_holds_its_print(mount, width, height, left, top):
    picture = Edges(left, top, left + width, top + height)
    sheet = Edges(0, 0, picture.right_mm + 20, picture.bottom_mm + 20)
    try:
        mat = mat_plan(picture, sheet, mount)
    except FitError:
        return
    assert mat.margins.least_mm >= 10 - 1e-5
    least = LEAST_HELD_MM if mount.reveal_mm is not None else 0.0
    assert mat.paper_held.least_mm >= least - 1e-5


# By ruler


def test_fractions_are_those_of_a_ruler():
    for text, length_mm in (
        ("0 in", 0),
        ("1/16 in", inches("1/16")),
        ("7/8 in", inches("7/8")),
        ("1 in", inches("63/64")),  # nearer to 16/16 than to 15/16
        ("11 3/16 in", inches("179/16")),
    ):
        assert fraction_words(length_mm) == text
    assert fraction_words(inches("31/32"), 32) == "31/32 in"
    assert ruler_words(52.76, LengthUnit.MM) == "53 mm"
    assert ruler_words(52.74, LengthUnit.MM) == "52.5 mm"


@pytest.mark.parametrize(("length_mm", "denominator"), [(-1, 16), (10, 10)])
def test_what_no_ruler_has_is_refused(length_mm, denominator):
    with pytest.raises(SpecError, match="16 or 32 parts"):
        fraction_words(length_mm, denominator)


@given(st.floats(0, 3000), st.sampled_from([16, 32]))
def test_fraction_reads_back_within_half_a_mark(length_mm, denominator):
    told = mixed(fraction_words(length_mm, denominator))
    assert abs(float(told) * INCH_MM - length_mm) <= INCH_MM / denominator / 2 + 1e-9
    assert told.denominator <= denominator
    assert on_ruler_mm(length_mm, LengthUnit.INCHES, denominator) == pytest.approx(
        float(told) * INCH_MM
    )


@given(mounts(), LENGTHS, LENGTHS, st.sampled_from(LengthUnit))
def test_list_adds_up_whatever_is_rounded(mount, width, height, unit):
    mat = mat_as_asked(Edges(9, 9, 9 + width, 9 + height), A3, mount)
    assume(mat.margins.least_mm > 0)
    ruled = on_ruler(mat.board, unit)
    (opening,) = ruled.openings
    error_mm = max(
        abs(a - b)
        for a, b in (
            (ruled.width_mm, mat.board.width_mm),
            (ruled.height_mm, mat.board.height_mm),
            (opening.left_mm, mat.board.openings[0].left_mm),
            (opening.top_mm, mat.board.openings[0].top_mm),
            (opening.right_mm, mat.board.openings[0].right_mm),
            (opening.bottom_mm, mat.board.openings[0].bottom_mm),
        )
    )
    made = cutters_list(mat.board, unit)
    assert made.notes[0].startswith("Rounded") is (error_mm > 0.2)
    borders = next(it.value for it in made.lines if it.what == "Borders")
    size = made.lines[0].value.removesuffix(f" {unit}").split(" × ")
    inside = made.lines[1].value.split(",")[0].removesuffix(f" {unit}").split(" × ")
    left, top, right, foot = (
        mixed(it.split(maxsplit=1)[1])
        for it in borders.removesuffix(f" {unit}").split(", ")
    )
    assert left + mixed(inside[0]) + right == mixed(size[0])
    assert top + mixed(inside[1]) + foot == mixed(size[1])


def test_rounding_that_matters_is_told():
    """1 inch and a third: 16/48 are 5.33 sixteenths, off by a third of 1/16 in."""
    board = MatBoard(
        width_mm=inches(10),
        height_mm=inches(10),
        openings=(Edges(inches("4/3"), inches(2), inches(8), inches(8)),),
    )
    (note, *_) = cutters_list(board, LengthUnit.INCHES).notes
    assert note == "Rounded to 1/16 in: up to 0.5 mm off."
    (note, *_) = cutters_list(board, LengthUnit.INCHES, denominator=32).notes
    assert note == "Rounded to 1/32 in: up to 0.3 mm off."
