"""The loupe shows the print's own pixels, says what it shows, and knows its screen."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printplan.errors import RecordError, SpecError
from printplan.pixels.sheet import Appearance, build_sheet
from printplan.spec import ColourSpec, Intent, SharpenSpec
from printplan.workbook.bench import Bench
from printplan.workbook.loupe.card_match import (
    CARD_MM,
    MatchedScreen,
    matched_screens,
    remember_match,
    screens_path,
)
from printplan.workbook.loupe.cutter import Cutter
from printplan.workbook.loupe.frames import (
    FrameWish,
    Layer,
    Zoom,
    place_overview,
    place_print_pixels,
    place_true_size,
    shown_px,
)
from printplan.workbook.loupe.loupe import Loupe, cut_frame
from printplan.workbook.loupe.overviews import OverviewStore, averaged
from printplan.workbook.loupe.sides import AFTER, BEFORE, MASTER, ON_PAPER, SIDES
from printplan.workbook.previews import in_screen_colour, unsharpened

# A view's corner may be written a hair before the pixel that it means.
ROUNDING_PX = 1e-6


@pytest.fixture(autouse=True)
def own_config(tmp_path, monkeypatch):
    """Keep the user's own matched screens out of the tests."""
    folder = tmp_path / "config"
    monkeypatch.setenv("PRINTPLAN_CONFIG", str(folder))
    return folder


@pytest.fixture
def bench(master_of, textured, plan_for, tmp_path):
    master = master_of(textured)
    sheet = build_sheet(master, plan_for(master, gain=0.8, width_mm=120.0))
    return Bench(sheet, folder=tmp_path, stem="print")


@pytest.fixture
def cutter(bench):
    return Cutter(bench.sheet, SIDES, OverviewStore())


@pytest.fixture
def loupe(bench, monkeypatch):
    """A loupe that keeps what it would send."""
    made = Loupe(bench)
    made.sent = []
    monkeypatch.setattr(
        made, "send", lambda message, buffers: made.sent.append((message, buffers))
    )
    return made


def wish(sheet, **changes):
    picture = sheet.plan.picture_in_file
    asked = {
        "centre_px": (
            picture.left + picture.width / 2,
            picture.top + picture.height / 2,
        ),
        "zoom": Zoom.PRINT_PIXELS,
        "scale": 1,
        "width_px": 300,
        "height_px": 200,
        "sides": ("before", "after"),
    }
    return FrameWish(**(asked | changes))


def message(bench, **changes):
    asked = wish(bench.sheet)
    return {
        "kind": "frame",
        "view": "one",
        "id": 1,
        "centre": list(asked.centre_px),
        "zoom": "print-pixels",
        "scale": 1,
        "width": asked.width_px,
        "height": asked.height_px,
        "sides": list(asked.sides),
        "layer": "none",
    } | changes


def ask(loupe, bench, **changes):
    loupe._handle_custom_msg(message(bench, **changes), [])
    assert loupe.settle()
    return loupe.sent[-1]


# Print pixels


def test_print_pixels_are_those_of_the_file_bit_for_bit(bench, cutter):
    asked = wish(bench.sheet)
    frame = cutter.frame(asked)
    box = place_print_pixels(bench.sheet.size_px, asked).box
    assert (box.width, box.height) == (300, 200)
    before, after = (cut.pixels for cut in frame.cuts)
    alone = Appearance.PAPER_ALONE
    np.testing.assert_array_equal(after, bench.sheet.proof_window(box, alone))
    plain = unsharpened(bench.sheet)
    np.testing.assert_array_equal(before, plain.proof_window(box, alone))
    assert (before != after).any()
    assert frame.words == "1:1, each print pixel is one pixel of the screen"


def test_the_master_is_shown_by_its_own_numbers(bench, cutter):
    frame = cutter.frame(wish(bench.sheet, sides=("master",)))
    box = place_print_pixels(bench.sheet.size_px, wish(bench.sheet)).box
    codes = in_screen_colour(bench.sheet).window(box)
    expected = np.rint(codes / 257.0).astype(np.uint8)
    np.testing.assert_array_equal(frame.cuts[0].pixels, expected)


@settings(max_examples=200, deadline=None)
@given(
    repeat=st.integers(1, 8),
    across=st.floats(0, 500),
    down=st.floats(0, 400),
    width=st.integers(1, 700),
    height=st.integers(1, 700),
)
def test_every_device_pixel_shows_the_print_pixel_that_lies_there(
    repeat, across, down, width, height
):
    """Device pixel x is in print pixel floor((x + corner) / repeat), or on no paper."""
    size_px = (500, 400)
    asked = FrameWish(
        centre_px=(across, down),
        zoom=Zoom.PRINT_PIXELS,
        scale=repeat,
        width_px=width,
        height_px=height,
        sides=("after",),
    )
    corner = (
        np.floor(across * repeat - width / 2 + ROUNDING_PX),
        np.floor(down * repeat - height / 2 + ROUNDING_PX),
    )
    wanted = np.floor((np.arange(width) + corner[0]) / repeat)
    on_paper = (wanted >= 0) & (wanted < size_px[0])
    rows = np.floor((np.arange(height) + corner[1]) / repeat)
    if not on_paper.any() or not ((rows >= 0) & (rows < size_px[1])).any():
        # A view of one pixel whose middle lies on the sheet's far edge.
        with pytest.raises(SpecError, match="Press Home"):
            place_print_pixels(size_px, asked)
        return
    place = place_print_pixels(size_px, asked)
    shown = np.full(width, -1.0)
    columns = np.arange(place.box.left, place.box.right).repeat(repeat)
    for x, column in enumerate(columns, start=place.left):
        if 0 <= x < width:
            shown[x] = column
    np.testing.assert_array_equal(shown[on_paper], wanted[on_paper])
    assert (shown[~on_paper] == -1).all()


def test_light_spread_in_the_paper_takes_single_pixels_away(master_of, plan_for):
    """
    A Gaussian of σ loses all but exp(−2π²σ²f²) of a pattern.

    Single pixels at 300 ppi have f = 8.4 cycles per mm: at 50 µm 3 % are left, and
    10 % of the light's swing is at most 20 % of the codes' here.
    """
    rows, columns = np.indices((200, 320))
    board = ((rows + columns) % 2 * 20000 + 20000).astype(np.uint16)
    master = master_of(np.repeat(board[..., None], 3, axis=-1))
    plan = plan_for(master, width_mm=320 * 25.4 / 300)
    assert plan.paper.psf_sigma_um >= 50
    sheet = build_sheet(master, plan)
    cutter = Cutter(sheet, SIDES, OverviewStore())
    asked = wish(
        sheet, scale=2, width_px=200, height_px=120, sides=("after", "on paper")
    )
    sharp, soft = cutter.frame(asked).cuts
    assert (sharp.repeat, soft.repeat) == (2, 1)
    assert soft.pixels.shape[:2] == (120, 200)
    assert sharp.pixels.shape[:2] == (60, 100)
    assert np.ptp(sharp.pixels[..., 1]) > 60
    assert np.ptp(soft.pixels[..., 1]) < 0.2 * np.ptp(sharp.pixels[..., 1])


@pytest.mark.parametrize(
    ("changes", "remedy"),
    [
        ({"scale": 1.5}, "Use 1, 2 or 4"),
        ({"scale": 0}, "Use 1, 2 or 4"),
        ({"zoom": Zoom.OVERVIEW, "scale": 1.0}, "between 0 and 1"),
        ({"zoom": Zoom.TRUE_SIZE, "scale": 0.0}, "above 0"),
        ({"scale": float("nan")}, "finite numbers"),
        ({"width_px": 0}, "window smaller"),
        ({"sides": ()}, "Ask for one side"),
    ],
)
def test_a_wish_that_cannot_be_shown_is_refused(bench, changes, remedy):
    with pytest.raises(SpecError, match=remedy):
        wish(bench.sheet, **changes)


def test_a_side_that_is_not_there_is_refused(bench):
    cutter = Cutter(bench.sheet, (BEFORE, AFTER), OverviewStore())
    with pytest.raises(SpecError, match="Choose one of: before, after"):
        cutter.frame(wish(bench.sheet, sides=("master",)))


# Overviews


def test_an_overview_says_so_and_is_never_sharpened(bench, cutter):
    asked = wish(bench.sheet, zoom=Zoom.OVERVIEW, scale=0.1)
    frame = cutter.frame(asked)
    assert frame.words.startswith("overview 1:10, not sharpened")
    np.testing.assert_array_equal(frame.cuts[0].pixels, frame.cuts[1].pixels)


def test_the_whole_sheet_fits_the_view_it_was_asked_for(bench, cutter):
    width, height = bench.sheet.size_px
    scale = min(300 / width, 200 / height)
    asked = wish(
        bench.sheet,
        zoom=Zoom.OVERVIEW,
        scale=scale,
        centre_px=(width / 2, height / 2),
    )
    frame = cutter.frame(asked)
    rows, columns = frame.cuts[0].pixels.shape[:2]
    assert (columns, rows) == (round(width * scale), round(height * scale))
    assert abs(2 * frame.left + columns - 300) <= 1
    assert abs(2 * frame.top + rows - 200) <= 1


def test_overviews_are_kept_while_only_sharpening_changes(bench):
    store = OverviewStore()
    first = store.shown(bench.sheet, AFTER, 200)
    bench.change(sharpen=SharpenSpec(gain=2.0))
    assert store.shown(bench.sheet, AFTER, 200) is first
    bench.change(colour=ColourSpec(intent=Intent.SATURATION))
    assert store.shown(bench.sheet, AFTER, 200) is not first


# True size


@pytest.mark.parametrize("device_px_per_mm", [3.78, 5.5, 14.0])
def test_true_size_covers_the_paper_s_millimetres(bench, device_px_per_mm):
    """ISO 216: A3 is 297 × 420 mm; so many pixels of the screen must cover it."""
    sheet = bench.sheet
    scale = device_px_per_mm * 25.4 / sheet.plan.ppi
    asked = wish(sheet, zoom=Zoom.TRUE_SIZE, scale=scale, width_px=8000, height_px=8000)
    place = place_true_size(sheet.size_px, asked)
    edges = sorted(shown_px(place.box, scale))
    assert edges == pytest.approx(
        [297 * device_px_per_mm, 420 * device_px_per_mm], abs=1.0
    )


@settings(max_examples=200, deadline=None)
@given(
    scale=st.floats(0.1, 3.0),
    across=st.floats(0, 3000),
    down=st.floats(0, 2000),
)
def test_true_size_lies_within_half_a_pixel_of_its_place(scale, across, down):
    asked = FrameWish(
        centre_px=(across, down),
        zoom=Zoom.TRUE_SIZE,
        scale=scale,
        width_px=300,
        height_px=200,
        sides=("after",),
    )
    place = place_true_size((3000, 2000), asked)
    corner = np.floor(across * scale - 150 + ROUNDING_PX)
    middle = place.left + shown_px(place.box, scale)[0] / 2
    wanted = (place.box.left + place.box.width / 2) * scale - corner
    assert abs(middle - wanted) <= 0.5 + 1e-9


def test_true_size_is_averaged_in_linear_light():
    """Half the light is code 187.5 of sRGB (IEC 61966-2-1), not 127.5."""
    rows, columns = np.indices((40, 40))
    board = np.repeat((((rows + columns) % 2) * 255)[..., None], 3, axis=-1)
    half = averaged(board.astype(np.uint8), (20, 20))
    assert set(np.unique(half)) <= {187, 188}


def test_true_size_shows_every_side_at_the_same_size(bench, cutter):
    names = tuple(side.name for side in (AFTER, ON_PAPER))
    asked = wish(bench.sheet, zoom=Zoom.TRUE_SIZE, scale=0.32, sides=names)
    frame = cutter.frame(asked)
    master = cutter.frame(replace(asked, sides=(MASTER.name,)))
    shapes = {cut.pixels.shape for cut in (*frame.cuts, *master.cuts)}
    assert len(shapes) == 1
    assert frame.words.startswith("true size, 3.12 print pixels")


# The reach map


@pytest.mark.parametrize(
    ("zoom", "scale"),
    [(Zoom.PRINT_PIXELS, 1), (Zoom.PRINT_PIXELS, 3), (Zoom.OVERVIEW, 0.2)],
)
def test_the_reach_map_lies_over_the_last_side_only(bench, cutter, zoom, scale):
    asked = wish(bench.sheet, zoom=zoom, scale=scale)
    bare = cutter.frame(asked)
    painted = cutter.frame(replace(asked, layer=Layer.REACH))
    np.testing.assert_array_equal(painted.cuts[0].pixels, bare.cuts[0].pixels)
    assert (painted.cuts[1].pixels != bare.cuts[1].pixels).any()
    assert "dE00 from what Fen Cotton 310 can hold" in painted.layer_words
    assert bare.layer_words == ""


def test_bare_paper_is_not_painted(bench, cutter):
    picture = bench.sheet.plan.picture_in_file
    asked = wish(
        bench.sheet,
        centre_px=(picture.left / 2, picture.top / 2),
        width_px=20,
        height_px=20,
        layer=Layer.REACH,
    )
    frame = cutter.frame(asked)
    assert frame.layer_words.startswith("Bare paper")
    # Shown grey, as all that the paper holds.
    assert np.ptp(frame.cuts[-1].pixels, axis=-1).max() == 0


# The widget


def test_a_view_gets_the_pixels_it_asks_for(bench, loupe):
    reply, buffers = ask(loupe, bench, id=7)
    assert (reply["view"], reply["id"]) == ("one", 7)
    expected = Cutter(bench.sheet, SIDES, OverviewStore()).frame(wish(bench.sheet))
    for cut, laid, buffer in zip(expected.cuts, reply["cuts"], buffers, strict=True):
        shape = (laid["rows"], laid["columns"], 4)
        pixels = np.frombuffer(buffer, np.uint8).reshape(shape)
        np.testing.assert_array_equal(pixels[..., :3], cut.pixels)
        assert (pixels[..., 3] == 255).all()


def test_two_views_that_ask_at_once_are_both_answered(bench, loupe):
    for view in ("one", "two"):
        loupe._handle_custom_msg(message(bench, view=view), [])
    assert loupe.settle()
    assert {reply["view"] for reply, _ in loupe.sent} == {"one", "two"}


def test_a_view_that_has_gone_leaves_nothing_behind(bench, loupe):
    ask(loupe, bench)
    loupe._handle_custom_msg({"kind": "gone", "view": "one"}, [])
    assert not loupe._views


def test_a_new_plan_reaches_views_and_their_pixels(bench, loupe):
    number = loupe.plan["number"]
    first = ask(loupe, bench)[1]
    bench.change(sharpen=SharpenSpec(gain=2.5))
    assert loupe.plan["number"] == number + 1
    later = ask(loupe, bench)[1]
    assert first[0] == later[0]
    assert first[1] != later[1]


def shown(held, reply, buffers):
    """What a view shows after a reply: what is kept comes from what it has."""
    return [
        held[number] if cut["kept"] else buffers[number]
        for number, cut in enumerate(reply["cuts"])
    ]


def test_a_view_that_follows_gets_a_new_plan_unasked_and_only_what_changed(
    bench, loupe
):
    first = ask(loupe, bench, id=3, follows=True)
    bench.change(sharpen=SharpenSpec(gain=2.5))
    assert loupe.settle()
    reply, buffers = loupe.sent[-1]
    assert len(loupe.sent) == 2
    assert (reply["id"], reply["base"]) == (3, 3)
    assert [cut["kept"] for cut in reply["cuts"]] == [True, False]
    fresh = Cutter(bench.sheet, SIDES, OverviewStore()).frame(wish(bench.sheet))
    now = shown(shown([], *first), reply, buffers)
    for cut, pixels in zip(fresh.cuts, now, strict=True):
        got = np.frombuffer(pixels, np.uint8).reshape((*cut.pixels.shape[:2], 4))
        np.testing.assert_array_equal(got[..., :3], cut.pixels)


@pytest.mark.parametrize("divider", [0.0, 0.31, 0.5, 1.0])
def test_a_new_plan_is_sent_as_far_as_each_side_is_seen(bench, loupe, divider):
    """All columns that the divider leaves in sight, each at its place, and exact."""
    ask(loupe, bench, id=3, follows=True, divider=0.9)
    loupe._handle_custom_msg({"kind": "divider", "view": "one", "divider": divider}, [])
    bench.change(
        sharpen=SharpenSpec(gain=2.5), colour=ColourSpec(intent=Intent.SATURATION)
    )
    assert loupe.settle()
    reply, buffers = loupe.sent[-1]
    assert reply["part"]
    fresh = Cutter(bench.sheet, SIDES, OverviewStore()).frame(wish(bench.sheet))
    for number, whole in enumerate(fresh.cuts):
        cut = reply["cuts"][number]
        shape = (cut["rows"], cut["columns"], 4)
        got = np.frombuffer(buffers[number], np.uint8).reshape(shape)[..., :3]
        here = slice(cut["from"], cut["from"] + cut["columns"])
        np.testing.assert_array_equal(got, whole.pixels[:, here])
        at = divider * wish(bench.sheet).width_px - reply["left"]
        seen_from, seen_until = ((0, at), (at, np.inf))[number]
        assert here.start * whole.repeat <= max(seen_from, 0)
        width_px = whole.pixels.shape[1] * whole.repeat
        assert here.stop * whole.repeat >= min(seen_until, width_px)
    sent = sum(cut["columns"] for cut in reply["cuts"])
    assert sent < 1.2 * fresh.cuts[0].pixels.shape[1]


def test_a_view_that_asks_after_a_part_gets_the_whole(bench, loupe):
    ask(loupe, bench, id=3, follows=True, divider=0.5)
    bench.change(sharpen=SharpenSpec(gain=2.5))
    assert loupe.settle()
    reply, _ = ask(loupe, bench, id=4, has=3, divider=0.5)
    assert not reply["part"]
    assert [cut["kept"] for cut in reply["cuts"]] == [True, False]
    assert {cut["from"] for cut in reply["cuts"]} == {0}


def test_sharpening_leaves_the_side_before_it_alone(bench, loupe):
    """Also its radius, which says nothing where there is no gain."""
    ask(loupe, bench, id=3, follows=True)
    bench.change(sharpen=SharpenSpec(gain=1, radius_mm=0.2, halo_limit_share=0.1))
    assert loupe.settle()
    assert [cut["kept"] for cut in loupe.sent[-1][0]["cuts"]] == [True, False]


def test_a_change_of_colour_sends_both_sides(bench, loupe):
    ask(loupe, bench, id=3, follows=True)
    bench.change(colour=ColourSpec(intent=Intent.SATURATION))
    assert loupe.settle()
    assert [cut["kept"] for cut in loupe.sent[-1][0]["cuts"]] == [False, False]


def test_a_view_that_has_another_frame_gets_all_of_it(bench, loupe):
    ask(loupe, bench, id=3)
    reply, _ = ask(loupe, bench, id=4, has=2)
    assert not any(cut["kept"] for cut in reply["cuts"])
    reply, _ = ask(loupe, bench, id=5, has=4)
    assert all(cut["kept"] for cut in reply["cuts"])


def test_a_frame_that_was_dropped_is_not_taken_for_what_a_view_has(bench, loupe):
    """Only what was sent counts: a dropped frame had the other colours first."""
    first = ask(loupe, bench, id=3)
    colour = bench.spec.colour
    bench.change(colour=ColourSpec(intent=Intent.SATURATION))
    cutter = Cutter(bench.sheet, SIDES, OverviewStore(), loupe._views["one"].cuts)
    cut_frame(cutter, message(bench, id=4, has=3))  # never sent
    reply, _ = ask(loupe, bench, id=5, has=3)
    assert not any(cut["kept"] for cut in reply["cuts"])
    bench.change(colour=colour)
    reply, buffers = ask(loupe, bench, id=6, has=5)
    assert shown([b"", b""], reply, buffers) == shown([], *first)


def test_another_size_is_left_to_the_view_to_ask_for(bench, loupe):
    ask(loupe, bench, id=3, follows=True)
    bench.change(size=replace(bench.spec.size, ppi=bench.spec.size.ppi / 2))
    assert loupe.settle()
    assert len(loupe.sent) == 1


def test_a_refused_wish_changes_nothing(bench, loupe):
    number = loupe.plan["number"]
    bench.refuse(SpecError("Too wide.", remedy="Choose less."))
    assert loupe.plan["number"] == number


def test_what_cannot_be_shown_is_answered_with_problem_and_remedy(bench, loupe):
    reply, buffers = ask(loupe, bench, centre=[-900.0, 10.0])
    assert "outside the file" in reply["problem"]
    assert reply["remedy"].startswith("Press Home")
    assert buffers == []


def test_a_newer_loupe_takes_the_slot(bench, loupe):
    newer = Loupe(bench)
    assert loupe.closed
    assert not newer.closed
    loupe._handle_custom_msg(message(bench), [])
    assert loupe.settle()
    assert loupe.sent == []
    number = loupe.plan["number"]
    bench.change(sharpen=SharpenSpec(gain=0.1))
    assert loupe.plan["number"] == number
    assert newer.plan["number"] == number + 1


def test_loupes_in_other_slots_live_side_by_side(bench, loupe):
    Loupe(bench, slot="beside the sharpening")
    assert not loupe.closed


@pytest.mark.slow
def test_look_here_windows_are_searched_once_a_view_asks(bench, loupe):
    assert loupe.stops == []
    loupe._handle_custom_msg({"kind": "stops"}, [])
    assert loupe.settle()
    assert loupe.stops
    picture = bench.sheet.plan.picture_in_file
    for stop in loupe.stops:
        left, top, width, height = stop["box"]
        assert picture.left <= left
        assert left + width <= picture.right
        assert picture.top <= top
        assert top + height <= picture.bottom
        assert stop["words"]


def test_pixels_are_never_saved_with_the_notebook(bench, loupe):
    ask(loupe, bench)
    state = loupe.get_state()
    state.pop("_esm")
    state.pop("_css")
    assert len(repr(state)) < 20_000


# The screen


def test_the_card_is_the_standard_s():
    """ISO/IEC 7810:2019: an ID-1 card is 85.60 × 53.98 mm."""
    assert CARD_MM == (85.60, 53.98)


def test_a_match_is_remembered_in_the_user_s_own_folder(loupe, bench, own_config):
    known = {"width_px": 2560, "height_px": 1440, "device_px_per_mm": 4.29}
    loupe._handle_custom_msg({"kind": "match", **known}, [])
    assert loupe.screens == [[2560, 1440, 4.29]]
    assert screens_path() == own_config / "screens.toml"
    assert matched_screens().screens == (MatchedScreen(**known),)
    assert Loupe(bench).screens == loupe.screens


def test_a_screen_is_known_again_under_a_browser_s_zoom():
    """2560 × 1440 at 110 % reads as 2327 × 1309 CSS pixels, 2559.7 × 1439.9 of it."""
    remember_match(MatchedScreen(width_px=2560, height_px=1440, device_px_per_mm=4.0))
    again = MatchedScreen(
        width_px=round(2327 * 1.1), height_px=round(1309 * 1.1), device_px_per_mm=4.3
    )
    assert remember_match(again).screens == (again,)


def test_two_screens_are_remembered_apart():
    one = MatchedScreen(width_px=2560, height_px=1440, device_px_per_mm=4.3)
    other = MatchedScreen(width_px=2880, height_px=1800, device_px_per_mm=8.7)
    remember_match(one)
    assert remember_match(other).screens == (one, other)


def test_a_density_no_screen_has_is_refused(loupe, own_config):
    wrong = {"width_px": 2560, "height_px": 1440, "device_px_per_mm": 0.4}
    loupe._handle_custom_msg({"kind": "match", **wrong}, [])
    assert "0.4 device pixels per mm" in loupe.problem["problem"]
    assert "Lay the card flat" in loupe.problem["remedy"]
    assert not own_config.exists()


def test_a_file_that_is_not_ours_is_said_and_left_alone(bench, own_config):
    own_config.mkdir()
    path = own_config / "screens.toml"
    path.write_text('format = "something else"\n')
    loupe = Loupe(bench)
    assert "something else" in loupe.problem["problem"]
    assert loupe.screens == []
    screen = MatchedScreen(width_px=800, height_px=600, device_px_per_mm=4.0)
    with pytest.raises(RecordError, match="begins with format"):
        remember_match(screen)
    assert path.read_text() == 'format = "something else"\n'


def test_a_folder_that_cannot_be_made_is_said(own_config):
    own_config.write_text("in the way")
    screen = MatchedScreen(width_px=800, height_px=600, device_px_per_mm=4.0)
    with pytest.raises(RecordError, match="Set PRINTPLAN_CONFIG to a folder"):
        remember_match(screen)


def test_an_overview_s_part_lies_where_the_view_wants_it():
    asked = FrameWish(
        centre_px=(1000.0, 500.0),
        zoom=Zoom.OVERVIEW,
        scale=0.5,
        width_px=100,
        height_px=100,
        sides=("after",),
    )
    place = place_overview((1000, 500), asked)
    assert (place.box.left, place.box.top) == (450, 200)
    assert (place.left, place.top) == (0, 0)
