"""What a hand moves on the sheet becomes a plan, to the millimetre."""

from dataclasses import replace

import numpy as np
import pytest
import tifffile
from hypothesis import assume, given
from hypothesis import strategies as st

from printplan.colour.spaces import named_profile
from printplan.pixels.master import open_master
from printplan.pixels.sheet import Appearance, build_sheet
from printplan.plan import resolve
from printplan.sizing.boxes import Edges
from printplan.sizing.layout import fold_edges
from printplan.sizing.mats import mat_edges
from printplan.spec import (
    ColourSpec,
    Intent,
    MatMargins,
    MountSpec,
    NamedSpace,
    Orientation,
    Placement,
    SizeRule,
    SizeSpec,
)
from printplan.units import LengthUnit
from printplan.workbook.bench import Bench
from printplan.workbook.panels.size import SizePanel
from printplan.workbook.sheet_view.geometry import place_words, sheet_geometry
from printplan.workbook.sheet_view.moves import (
    CENTRE_PULL_SHARE,
    Hand,
    Handle,
    Move,
    place_mm,
    reach_mm,
    wish_after,
)
from printplan.workbook.sheet_view.sheet_view import (
    LONGEST_PX,
    SheetView,
    whole_preview,
    whole_sheet,
)


@pytest.fixture
def bench(master_of, textured, plan_for, tmp_path):
    """A picture of 120 × 78.75 mm on A3, which then lies 420 × 297 mm."""
    master = master_of(textured)
    sheet = build_sheet(master, plan_for(master, width_mm=120.0))
    return Bench(sheet, folder=tmp_path, stem="print")


@pytest.fixture
def cropped(bench):
    """The same cut to a square of 100 mm: 52.4 mm are cut of its width."""
    size = SizeSpec(rule=SizeRule.FILL, width_mm=100, height_mm=100, ppi=300)
    bench.change(size=size)
    return bench


class Browser:
    """What the page does: it sends wishes to a view and takes its answers."""

    def __init__(self, view):
        self.view = view
        self.received = []
        self.number = 0
        view.send = lambda message, buffers=None: self.received.append(
            (message, buffers)
        )

    def say(self, **message):
        self.number += 1
        sent = {"view": "one", "number": self.number, "gesture": 1, **message}
        self.view._on_message(self.view, sent, [])

    def move(self, right_mm, down_mm, *, handle="picture", hand="keys", gesture=1):
        self.say(
            kind="move",
            handle=handle,
            hand=hand,
            right_mm=right_mm,
            down_mm=down_mm,
            gesture=gesture,
        )


@pytest.fixture
def panel(bench):
    return SizePanel(bench)


@pytest.fixture
def browser(panel):
    return Browser(panel.view)


def to(right_mm, down_mm, handle=Handle.PICTURE, hand=Hand.POINTER):
    return Move(handle=handle, hand=hand, right_mm=right_mm, down_mm=down_mm)


# Place


def test_keys_put_the_picture_exactly_where_they_say(bench):
    spec = wish_after(bench.plan, to(12.3, -4.25, hand=Hand.KEYS))
    layout = bench.ask(spec).layout
    # A3 on its side is 420 × 297 mm (ISO 216).
    across_mm = (layout.picture.left_mm + layout.picture.right_mm) / 2
    down_mm = (layout.picture.top_mm + layout.picture.bottom_mm) / 2
    assert across_mm == pytest.approx(420 / 2 + 12.3)
    assert down_mm == pytest.approx(297 / 2 - 4.25)


def test_a_pointer_stands_on_half_millimetres(bench):
    sheet = wish_after(bench.plan, to(12.3, -34.2)).sheet
    assert (sheet.offset_right_mm, sheet.offset_down_mm) == (12.5, -34.0)


def test_a_pointer_near_the_centre_means_the_centre(bench):
    near_mm = 420 * CENTRE_PULL_SHARE * 0.9
    sheet = wish_after(bench.plan, to(near_mm, 40.0)).sheet
    assert (sheet.offset_right_mm, sheet.offset_down_mm) == (0.0, 40.0)
    assert wish_after(bench.plan, to(-near_mm, 9)).sheet.offset_right_mm == 0.0
    by_keys = wish_after(bench.plan, to(1.0, 0.0, hand=Hand.KEYS)).sheet
    assert by_keys.offset_right_mm == 1.0


@given(
    right_mm=st.floats(-2000, 2000),
    down_mm=st.floats(-2000, 2000),
    border_mm=st.floats(0, 60),
    width_mm=st.floats(60, 200),
    orientation=st.sampled_from(Orientation),
)
def test_a_pointer_stops_where_the_printer_ends(
    sheet_plan, right_mm, down_mm, border_mm, width_mm, orientation
):
    """Wherever it is dragged, the picture stays on paper that can be printed."""
    # On the short edge of A3 (ISO 216) with margins of 20 mm at the most.
    assume(width_mm <= 297 - 2 * max(border_mm, 20))
    plan = sheet_plan(border_mm=border_mm, width_mm=width_mm, orientation=orientation)
    layout = sheet_plan(spec=wish_after(plan, to(right_mm, down_mm))).layout
    free = layout.printable
    slip = 1e-5
    assert layout.picture.left_mm >= max(free.left_mm, border_mm) - slip
    assert layout.picture.top_mm >= max(free.top_mm, border_mm) - slip
    assert layout.picture.right_mm <= free.right_mm + slip
    assert layout.picture.right_mm <= layout.width_mm - border_mm + slip
    assert layout.picture.bottom_mm <= free.bottom_mm + slip
    assert layout.picture.bottom_mm <= layout.height_mm - border_mm + slip


@pytest.fixture(scope="module")
def sheet_plan(tmp_path_factory, textured, plan_for):
    """Plans of one master on A3, from a few lengths or a whole wish."""
    path = tmp_path_factory.mktemp("sheet") / "master.tif"
    profile = named_profile(NamedSpace.ROMM_RGB).data
    tifffile.imwrite(path, textured, photometric="rgb", iccprofile=profile)
    with open_master(path) as master:
        first = plan_for(master)

        def make(spec=None, **lengths):
            if spec is None:
                return plan_for(master, **lengths)
            return resolve(master.facts, first.paper, first.printer, spec)

        yield make


def test_a_drag_ends_at_the_margin_itself(bench):
    layout = bench.ask(wish_after(bench.plan, to(-1000, 1000))).layout
    assert layout.picture.left_mm == pytest.approx(layout.printable.left_mm, abs=1e-3)
    assert layout.picture.bottom_mm == pytest.approx(
        layout.printable.bottom_mm, abs=1e-3
    )


def test_where_a_picture_is_can_be_asked_for_again(bench):
    """The optical centre, told as an offset, is the same place."""
    bench.change(sheet=replace(bench.spec.sheet, placement=Placement.OPTICAL_CENTRE))
    before = bench.plan.layout.picture
    place = place_mm(bench.plan, Handle.PICTURE)
    after = bench.ask(wish_after(bench.plan, to(*place, hand=Hand.KEYS))).layout.picture
    assert (after.left_mm, after.top_mm) == pytest.approx(
        (before.left_mm, before.top_mm), abs=1e-3
    )


# Crop


def test_dragging_the_photograph_to_the_right_shows_more_of_its_left(cropped):
    plan = cropped.plan
    spec = wish_after(plan, to(10.0, 0.0, Handle.CROP, Hand.KEYS))
    crop = cropped.ask(spec).picture_size.crop
    # The height of 210 px fills 100 mm, so 10 mm are 21 px of the 320.
    assert crop.left_px == pytest.approx((320 - 210) / 2 - 21)
    assert spec.size.crop_centre_x_share == pytest.approx(0.5 - 21 / 320)
    assert spec.sheet == plan.spec.sheet


def test_a_crop_stops_at_the_edge_of_the_photograph(cropped):
    for hand in Hand:
        spec = wish_after(cropped.plan, to(500.0, 500.0, Handle.CROP, hand))
        assert cropped.ask(spec).picture_size.crop.left_px == pytest.approx(0, abs=1e-3)
        # Nothing is cut above or below, and nothing is moved there.
        assert spec.size.crop_centre_y_share == 0.5


def test_the_whole_photograph_lies_behind_its_picture(cropped):
    drawn = sheet_geometry(cropped.plan, LengthUnit.MM)
    picture, whole = drawn["picture"], drawn["whole"]
    # 320 × 210 px at 2.1 px to the millimetre.
    assert whole[2] - whole[0] == pytest.approx(320 / 2.1)
    assert whole[1::2] == pytest.approx(picture[1::2])
    assert whole[0] + whole[2] == pytest.approx(picture[0] + picture[2])


def test_a_crop_is_offered_only_where_something_is_cut(bench):
    assert sheet_geometry(bench.plan, LengthUnit.MM)["crop_grip"] is None
    size = SizeSpec(rule=SizeRule.FILL, width_mm=160, height_mm=105, ppi=300)
    bench.change(size=size)
    assert sheet_geometry(bench.plan, LengthUnit.MM)["crop_grip"] is None
    bench.change(size=replace(size, height_mm=100))
    reach = reach_mm(bench.plan, Handle.CROP)
    # 160 mm need a height of 105: 5 mm are cut, half of them on each side.
    assert (reach.right_mm, reach.bottom_mm) == pytest.approx((0, 2.5))
    assert sheet_geometry(bench.plan, LengthUnit.MM)["crop_grip"] is not None


# Mount


def test_the_mat_is_centred_on_a_picture_that_is_not_centred():
    mount = MountSpec(mat_opening_width_mm=220, mat_opening_height_mm=160)
    assert mat_edges(Edges(30, 50, 230, 190), mount) == Edges(20, 40, 240, 200)
    assert mat_edges(Edges(30, 50, 230, 190), MountSpec()) is None


def test_a_wrap_takes_its_width_from_each_side():
    picture = Edges(30, 50, 230, 190)
    assert fold_edges(picture, MountSpec(wrap_mm=40)) == Edges(70, 90, 190, 150)
    assert fold_edges(picture, MountSpec()) is None


def test_a_wrap_that_leaves_no_front_is_said_not_drawn(bench):
    bench.change(mount=MountSpec(wrap_mm=40.0, stretcher_depth_mm=20.0))
    drawn = sheet_geometry(bench.plan, LengthUnit.MM)
    assert drawn["fold"] is None
    assert "no front" in drawn["legend"][-1]["words"]


def test_the_legend_tells_what_is_drawn_and_nothing_else(bench):
    kinds = [
        mark["kind"] for mark in sheet_geometry(bench.plan, LengthUnit.MM)["legend"]
    ]
    assert kinds == ["hatched"]
    bench.change(
        sheet=replace(bench.spec.sheet, border_mm=5.0),
        mount=MountSpec(
            mat_opening_width_mm=130, mat_opening_height_mm=80, wrap_mm=10.0
        ),
    )
    legend = sheet_geometry(bench.plan, LengthUnit.INCHES)["legend"]
    assert [mark["kind"] for mark in legend] == [
        "hatched",
        "lined",
        "dashed",
        "dotted",
    ]
    # 130 mm are 5.12 in, 80 mm are 3.15 in: 25.4 mm to the inch by definition.
    assert legend[2]["words"].endswith("5.12 × 3.15 in")


def test_mat_and_frame_are_drawn_past_the_sheet(bench):
    """A sheet of A4 in a mat of 400 × 300 mm, 12 mm wider at the foot."""
    mount = MountSpec(
        mat_overlap_mm=3,
        mat_margins=MatMargins.BOTTOM_WEIGHTED,
        mat_foot_mm=12,
        frame_width_mm=400,
        frame_height_mm=300,
        frame_rebate_mm=8,
    )
    bench.change(mount=mount)
    drawn = sheet_geometry(bench.plan, LengthUnit.MM)
    mat, frame = drawn["covers"]
    sizes = {
        kind["kind"]: [
            (it[2] - it[0], it[3] - it[1]) for it in (kind["outer"], kind["inner"])
        ]
        for kind in (mat, frame)
    }
    size = bench.plan.picture_size
    opening = pytest.approx((size.width_mm - 6, size.height_mm - 6))
    assert sizes["shaded"] == [pytest.approx((400, 300)), opening]
    assert sizes["dark"] == [pytest.approx((400, 300)), pytest.approx((384, 284))]
    above_mm = mat["inner"][1] - mat["outer"][1]
    assert mat["outer"][3] - mat["inner"][3] == pytest.approx(above_mm + 12)
    # What is drawn holds the sheet and the frame, and nothing else.
    extent, sheet = drawn["extent"], drawn["sheet"]
    assert extent == [
        min(sheet[0], mat["outer"][0]),
        min(sheet[1], mat["outer"][1]),
        max(sheet[2], mat["outer"][2]),
        max(sheet[3], mat["outer"][3]),
    ]
    assert extent != sheet
    kinds = [mark["kind"] for mark in drawn["legend"]]
    assert kinds == ["hatched", "dashed", "shaded", "dark"]


def test_mat_that_cannot_be_cut_is_not_drawn(bench):
    bench.change(
        mount=MountSpec(mat_overlap_mm=3, frame_width_mm=50, frame_height_mm=50)
    )
    drawn = sheet_geometry(bench.plan, LengthUnit.MM)
    assert drawn["covers"] == []
    assert drawn["mat"] is not None
    assert drawn["extent"] == drawn["sheet"]


# Words


@pytest.mark.parametrize(
    ("right_mm", "down_mm", "words"),
    [
        (12.0, 0.0, "12.0 mm right of centre"),
        (-7.25, 3.0, "7.2 mm left of centre, 3.0 mm below centre"),
        (0.04, -20.0, "20.0 mm above centre"),
        (0.0, 0.0, "in the centre"),
    ],
)
def test_a_place_is_told_in_words(right_mm, down_mm, words):
    assert place_words(right_mm, down_mm, LengthUnit.MM) == words


# The panel and the hand


def test_a_move_changes_the_plan_and_comes_back_drawn(bench, panel, browser):
    browser.move(12.0, -3.0)
    assert bench.spec.sheet.placement is Placement.OFFSET
    assert bench.spec.sheet.offset_right_mm == 12.0
    grip = panel.view.geometry["picture_grip"]
    assert grip["words"] == "picture 12.0 mm right of centre, 3.0 mm above centre"
    assert panel.right.ui.value == 12.0
    assert browser.received == [({"kind": "answer", "view": "one", "number": 1}, None)]


def test_keys_that_want_more_than_there_is_are_told_and_nothing_moves(
    bench, panel, browser
):
    browser.move(1000.0, 0.0)
    layout = bench.plan.layout
    assert layout.picture.right_mm == pytest.approx(layout.printable.right_mm, abs=2e-3)
    assert panel.message.value == ""
    drawn, plan = panel.view.geometry, bench.plan
    browser.move(1001.0, 0.0)
    assert bench.plan is plan
    assert panel.view.geometry == drawn
    assert "The picture is 120.0" in panel.message.value
    assert "Choose" in panel.message.value
    assert browser.received[-1][0]["kind"] == "answer"
    browser.move(5.0, 0.0)
    assert panel.message.value == ""


def test_escape_brings_back_the_place_and_the_way_it_was_given(bench, browser):
    asked = replace(bench.spec.sheet, placement=Placement.OPTICAL_CENTRE)
    bench.change(sheet=asked)
    browser.move(5.0, 0.0, gesture=7)
    browser.move(9.0, 4.0, gesture=7)
    browser.say(kind="restore", gesture=7)
    assert bench.spec.sheet == asked


def test_escape_of_another_gesture_brings_back_nothing(bench, browser):
    browser.move(5.0, 0.0, gesture=7)
    browser.say(kind="restore", gesture=8)
    assert bench.spec.sheet.offset_right_mm == 5.0


def test_escape_leaves_what_was_changed_meanwhile_elsewhere(bench, browser):
    browser.move(5.0, 0.0)
    bench.change(size=replace(bench.spec.size, width_mm=90.0))
    browser.say(kind="restore")
    assert bench.spec.size.width_mm == 90.0
    assert bench.spec.sheet.placement is Placement.CENTRED


def test_an_error_of_our_own_does_not_leave_the_page_waiting():
    def fail(_):
        raise RuntimeError

    view = SheetView(on_move=fail, on_begin=lambda: None, on_restore=lambda: None)
    browser = Browser(view)
    with pytest.raises(RuntimeError):
        browser.move(1.0, 1.0)
    assert browser.received[-1][0] == {"kind": "answer", "view": "one", "number": 1}


def test_a_view_gets_the_picture_when_it_asks(panel, browser):
    assert panel.settle()
    browser.view._on_message(browser.view, {"kind": "picture"}, [])
    message, buffers = browser.received[-1]
    assert message == {"kind": "picture", "is_printed": False}
    assert buffers == [panel.view.value]
    assert panel.view.value[:2] == b"\xff\xd8"


# The photograph as it will look


def test_the_whole_photograph_is_shown_whatever_is_cut(cropped):
    look = whole_preview(whole_sheet(cropped.sheet))
    # 320 × 210 px, as large as it is looked at.
    assert look.shape[1] == pytest.approx(LONGEST_PX, abs=1)
    assert look.shape[1] / look.shape[0] == pytest.approx(320 / 210, abs=0.01)


def test_the_photograph_follows_the_colour_and_not_the_place(bench, panel, monkeypatch):
    shown = []
    monkeypatch.setattr(panel.view, "_send_picture", lambda: shown.append(1))
    bench.change(size=replace(bench.spec.size, width_mm=90.0))
    browser = Browser(panel.view)
    browser.move(3.0, 3.0)
    assert panel.settle()
    assert shown == []
    before = panel.view.value
    bench.change(colour=ColourSpec(intent=Intent.SATURATION))
    assert panel.settle()
    assert shown == [1]
    assert panel.view.value != before


def test_the_photograph_is_the_soft_proof(bench):
    """Its colours are those of the print's own overview, where nothing is cut."""
    whole = whole_preview(whole_sheet(bench.sheet)).astype(float)
    overview = bench.sheet.overview(1000)
    proof = bench.sheet.proof(overview.pixels, Appearance.PAPER_ALONE).astype(float)
    part = overview.picture
    proof = proof[part.top : part.bottom, part.left : part.right]
    apart = np.abs(whole.mean((0, 1)) - proof.mean((0, 1)))
    # The same photograph at two sizes: its mean stays within a code or so.
    assert apart.max() < 1.5
