"""What is printed on the white: it lies where it is told, and never on the picture."""

from dataclasses import replace

import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from printplan.colour.spaces import named_profile
from printplan.errors import FitError, SpecError
from printplan.pixels.master import open_master
from printplan.pixels.render import render
from printplan.pixels.sheet import build_sheet
from printplan.pixels.white_ink import caption_words, drawn_on_white, mark_edges
from printplan.plan import resolve
from printplan.sizing.white import white_room
from printplan.spec import (
    CaptionPart,
    Delivery,
    DeliverySpec,
    Extent,
    Marks,
    NamedSpace,
    SheetSpec,
    SizeRule,
    SizeSpec,
    WhiteSpec,
    WrapSpec,
)


@pytest.fixture(scope="module")
def master(textured, tmp_path_factory):
    path = tmp_path_factory.mktemp("white") / "master.tif"
    tifffile.imwrite(
        path,
        textured,
        photometric="rgb",
        iccprofile=named_profile(NamedSpace.ROMM_RGB).data,
        metadata=None,
    )
    with open_master(path) as opened:
        yield opened


@pytest.fixture
def planned(plan_for, master):
    def make(white=None, *, wrap=None, size=None, delivery=None, **wish):
        plan = plan_for(master, **{"width_mm": 100.0, "ppi": 100.0} | wish)
        spec = replace(
            plan.spec,
            white=white or WhiteSpec(),
            wrap=wrap or WrapSpec(),
            size=size or plan.spec.size,
            delivery=delivery or DeliverySpec(),
        )
        return resolve(master.facts, plan.paper, plan.printer, spec)

    return make


@pytest.fixture
def printed(master, tmp_path):
    def make(plan):
        sheet = build_sheet(master, plan)
        path = tmp_path / f"{len(list(tmp_path.iterdir()))}.tif"
        return tifffile.imread(render(sheet, path).path)

    return make


def ink_outside(pixels, plan):
    """Where there is ink, with the picture and its sides blanked."""
    inked = (pixels != 65535).any(axis=2)
    block = plan.in_file(plan.block)
    inked[block.top : block.bottom, block.left : block.right] = False
    return inked


def test_key_line_lies_where_it_is_asked(planned, printed):
    """1 mm of line 4 mm outside: counted in the file's own pixels at 254 ppi."""
    plan = planned(WhiteSpec(key_line_mm=1.0, key_line_gap_mm=4.0), ppi=254.0)
    inked = ink_outside(printed(plan), plan)
    block = plan.in_file(plan.block)
    across = np.flatnonzero(inked[block.top + block.height // 2])
    left = across[across < block.left]
    assert len(left) == pytest.approx(10, abs=1)
    assert block.left - left.max() - 1 == pytest.approx(40, abs=1)
    rows = np.flatnonzero(inked.any(axis=1))
    assert rows.min() == pytest.approx(block.top - 50, abs=1)
    assert rows.max() + 1 == pytest.approx(block.bottom + 50, abs=1)


def test_key_line_has_the_lightness_asked(planned, printed):
    """L* 50 is 0.18419 of white (CIE L*); ROMM RGB writes it as its 1.8th root."""
    plan = planned(
        WhiteSpec(key_line_mm=2.0, key_line_l=50.0),
        delivery=DeliverySpec(colour=Delivery.WORKING_COLOUR),
    )
    pixels = printed(plan)
    values = pixels[ink_outside(pixels, plan)]
    light = ((50 + 16) / 116) ** 3
    np.testing.assert_allclose(values, 65535 * light ** (1 / 1.8), atol=2)


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_nothing_on_the_white_touches_picture_or_margins(planned, data):
    """All boxes are outside the picture and its sides, and inside what is printed."""
    wrap = data.draw(
        st.sampled_from([WrapSpec(), WrapSpec(bar_depth_mm=10, turn_over_mm=5)])
    )
    white = WhiteSpec(
        key_line_mm=data.draw(st.sampled_from([0.0, 0.5])),
        key_line_gap_mm=data.draw(st.floats(0, 10)),
        marks=data.draw(st.sampled_from(Marks)),
        caption=data.draw(st.sampled_from([(), ("title", "date")])),
        caption_title="A bowl",
        caption_date="autumn",
        caption_gap_mm=data.draw(st.floats(0.5, 20)),
    )
    border = data.draw(st.floats(0, 30))
    extent = data.draw(st.sampled_from(Extent))
    delivery = DeliverySpec(extent=extent)
    plan = planned(white, wrap=wrap, border_mm=border, delivery=delivery)
    block = plan.in_file(plan.block)
    printable = plan.in_file(plan.layout.printable.in_px(plan.ppi))
    for drawn in drawn_on_white(plan):
        assert drawn.box.common(block) is None
        assert drawn.box.left >= printable.left - 1
        assert drawn.box.top >= printable.top - 1
        assert drawn.box.right <= printable.right + 1
        assert drawn.box.bottom <= printable.bottom + 1
        # A file of the picture alone holds all of it.
        assert drawn.box.left >= 0
        assert drawn.box.top >= 0
        assert drawn.box.right <= plan.file_box.width
        assert drawn.box.bottom <= plan.file_box.height


def test_corner_marks_point_at_the_cut(planned):
    """Two marks for each corner, in line with the edges of picture and border."""
    plan = planned(WhiteSpec(marks=Marks.CORNERS), border_mm=12.0)
    marks = list(mark_edges(plan))
    assert len(marks) == 8
    cut = plan.layout.bordered
    assert cut.left_mm == pytest.approx(plan.layout.picture.left_mm - 12)
    for mark in marks:
        across = (mark.left_mm + mark.right_mm) / 2
        down = (mark.top_mm + mark.bottom_mm) / 2
        assert (
            min(abs(across - cut.left_mm), abs(across - cut.right_mm)) < 1e-9
            or min(abs(down - cut.top_mm), abs(down - cut.bottom_mm)) < 1e-9
        )


def test_fold_marks_point_at_the_folds(planned):
    plan = planned(
        WhiteSpec(marks=Marks.LINE), wrap=WrapSpec(bar_depth_mm=10, turn_over_mm=5)
    )
    front = plan.layout.front
    ticks = list(mark_edges(plan))[4:]
    assert len(ticks) == 8
    middles = {
        round((it.left_mm + it.right_mm) / 2, 6)
        for it in ticks
        if it.right_mm - it.left_mm < 1
    }
    assert middles == {round(front.left_mm, 6), round(front.right_mm, 6)}


def test_caption_tells_its_parts_in_order(planned):
    white = WhiteSpec(
        caption=("title", "edition", "paper", "date"),
        caption_title="Seed heads",
        caption_edition="3/25",
        caption_date="2026",
    )
    words = caption_words(planned(white))
    assert [it.strip() for it in words.split("·")] == [
        "Seed heads",
        "3/25",
        "Fen Cotton 310",
        "2026",
    ]


def test_caption_lies_below_the_picture_and_has_its_height(planned, printed):
    """Capitals 4 mm high, at 254 ppi 40 pixels, 6 mm and their accents' room below."""
    white = WhiteSpec(
        caption=("title",), caption_title="HHH", caption_mm=4.0, caption_gap_mm=6.0
    )
    plan = planned(white, ppi=254.0)
    inked = ink_outside(printed(plan), plan)
    rows = np.flatnonzero(inked.any(axis=1))
    assert len(rows) == pytest.approx(40, abs=2)
    # Of the line, 1.7 times as high, 0.3 are kept for accents.
    assert rows.min() - plan.in_file(plan.block).bottom == pytest.approx(72, abs=2)
    columns = np.flatnonzero(inked.any(axis=0))
    middle = (columns.min() + columns.max()) / 2
    picture = plan.picture_in_file
    assert middle == pytest.approx(picture.left + picture.width / 2, abs=3)


def test_caption_too_wide_is_refused(planned, master):
    white = WhiteSpec(caption=("title",), caption_title="A very long title " * 12)
    with pytest.raises(FitError, match="smaller letters"):
        build_sheet(master, planned(white))


@pytest.mark.parametrize("part", sorted(set(CaptionPart) - {"paper", "size"}))
def test_caption_part_without_words_is_refused(part):
    with pytest.raises(SpecError, match="leave it out"):
        WhiteSpec(caption=(part,))


def test_white_room_by_hand():
    """
    Trade arithmetic, common practice: corner marks 5 mm long, 2 mm off the cut, need
    7 mm beyond a border of 10.
    """
    room = white_room(WhiteSpec(marks=Marks.CORNERS), 10)
    assert room.inside_cut.left_mm == 10
    assert room.inked.left_mm == 17


def test_deckled_edges_stay_clear(planned):
    plan = planned(deckle_mm=25.0, width_mm=120.0)
    assert plan.layout.printable.left_mm == 25
    with pytest.raises(FitError):
        planned(deckle_mm=25.0, width_mm=400.0)


# Borderless: the demo's sheet feeder is said to print A4 without margins.


@pytest.fixture
def borderless(studio, plan_for, master):
    def make(bleed_mm=3.0, *, media_size="A4", width_mm=216.0, **delivery):
        plan = plan_for(master)
        printer = studio.book.printers[0]
        feeds = tuple(replace(it, borderless=("A4",)) for it in printer.feeds)
        spec = replace(
            plan.spec,
            size=SizeSpec(
                rule=SizeRule.FILL, width_mm=width_mm, height_mm=303.0, ppi=100.0
            ),
            sheet=SheetSpec(
                media_size=media_size,
                feed=plan.feed.name,
                bleed_mm=bleed_mm,
                orientation="portrait",
            ),
            delivery=DeliverySpec(**delivery),
        )
        return resolve(master.facts, plan.paper, replace(printer, feeds=feeds), spec)

    return make


def test_borderless_file_reaches_beyond_the_sheet(borderless, printed):
    """A4 with 3 mm on each side is 216 × 303 mm: nothing of it stays white."""
    plan = borderless()
    pixels = printed(plan)
    assert pixels.shape[:2] == (pytest.approx(1193, abs=1), pytest.approx(850, abs=1))
    assert plan.page_mm == (216, 303)
    assert (pixels != 65535).any(axis=2)[:, 0].any()
    lost = plan.layout.picture
    assert lost.left_mm == pytest.approx(-3)
    assert lost.bottom_mm - plan.layout.height_mm == pytest.approx(3)


def test_borderless_needs_a_path_that_offers_it(borderless, plan_for, master):
    with pytest.raises(FitError, match="prints A4 without margins, not A3"):
        borderless(media_size="A3")
    plan = plan_for(master)
    spec = replace(plan.spec, sheet=replace(plan.spec.sheet, bleed_mm=2.0))
    with pytest.raises(FitError, match="prints no size without margins"):
        resolve(master.facts, plan.paper, plan.printer, spec)


def test_borderless_picture_larger_than_sheet_and_bleed_is_refused(borderless):
    with pytest.raises(FitError, match="at most"):
        borderless(width_mm=230.0)


def test_bleed_and_border_contradict_each_other():
    with pytest.raises(SpecError, match="a bleed, or a border"):
        SheetSpec(media_size="A4", feed="any", bleed_mm=3, border_mm=5)
