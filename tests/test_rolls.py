"""A roll named by its width: its length follows from what is printed."""

from dataclasses import replace

import numpy as np
import pytest
import tifffile
from hypothesis import given
from hypothesis import strategies as st

from printplan.errors import FitError, SpecError
from printplan.media import FeedPath, Margins, MediaForm
from printplan.pixels.render import render
from printplan.pixels.sheet import build_sheet
from printplan.plan import resolve
from printplan.sizing.layout import lay_out
from printplan.spec import (
    Orientation,
    Placement,
    PrintSpec,
    RollWay,
    SheetSpec,
    SizeRule,
    SizeSpec,
)

ROLL = FeedPath(
    name="roll unit",
    takes=MediaForm.ROLLS,
    margins=Margins(leading_mm=3, trailing_mm=5, left_mm=4, right_mm=4),
    shortest_mm=100,
    longest_mm=18_000,
    narrowest_mm=203,
    widest_mm=610,
    thinnest_um=100,
    thickest_um=500,
)


def on_roll(picture_mm, width_mm=610.0, longest_mm=18_000.0, **sheet):
    spec = SheetSpec(media_size="610 mm roll", feed="roll unit", **sheet)
    return lay_out(
        picture_mm,
        (width_mm, None),
        ROLL.margins,
        spec,
        roll_lengths_mm=(ROLL.shortest_mm, longest_mm),
    )


@pytest.fixture(scope="module")
def roll_plan(studio):
    """A plan on the demo's satin with a roll unit, from facts alone."""
    own = studio.book.printers[0]
    feeds = tuple(ROLL if it.name == ROLL.name else it for it in own.feeds)
    printer = replace(own, feeds=feeds, longest_print_mm=None)
    paper = studio.book.paper("Alder Satin 260")

    def make(facts, *, width_mm=300.0, ppi=300.0, **sheet):
        spec = PrintSpec(
            size=SizeSpec(rule=SizeRule.WIDTH, width_mm=width_mm, ppi=ppi),
            sheet=SheetSpec(
                **{"media_size": "24 in roll", "feed": "roll unit"} | sheet
            ),
        )
        return resolve(facts, paper, printer, spec)

    return make


def test_upright_picture_takes_its_height_and_the_margins():
    """Trade arithmetic, common practice: 400 mm of picture and 3 + 5 mm of margins."""
    layout = on_roll((500, 400))
    assert layout.in_feed_mm == (610, 408)
    assert not layout.turned
    assert layout.orientation is Orientation.LANDSCAPE
    assert layout.picture.left_mm == pytest.approx(55)
    assert layout.picture.top_mm == pytest.approx(3)


def test_picture_is_turned_where_that_saves_length():
    """500 mm across and 300 along instead of 300 across and 500 along."""
    layout = on_roll((300, 500))
    assert layout.turned
    assert layout.in_feed_mm == (610, 308)
    # Turned anticlockwise, the trailing margin lies left and the leading one right.
    assert layout.printable.left_mm == pytest.approx(5)
    assert layout.picture.left_mm == pytest.approx(5)
    assert on_roll((300, 500), roll_way=RollWay.WIDTH_ACROSS).in_feed_mm == (610, 508)


def test_wide_picture_goes_along_the_roll():
    layout = on_roll((900, 600))
    assert layout.turned
    assert layout.in_feed_mm == (610, 908)


def test_panorama_of_four_metres():
    layout = on_roll((4000, 500))
    assert layout.turned
    assert layout.in_feed_mm == (610, 4008)
    assert (layout.width_mm, layout.height_mm) == (4008, 610)


def test_short_picture_takes_the_shortest_length_that_is_cut():
    layout = on_roll((60, 40))
    assert layout.in_feed_mm == (610, 100)
    assert layout.picture.top_mm == pytest.approx(3)


def test_border_counts_where_it_is_wider_than_the_margin():
    layout = on_roll((400, 300), border_mm=20)
    assert layout.in_feed_mm == (610, 340)


def test_offset_along_makes_the_length_longer():
    layout = on_roll(
        (400, 300), placement=Placement.OFFSET, offset_down_mm=10, offset_right_mm=-20
    )
    middle = (layout.picture.top_mm + layout.picture.bottom_mm) / 2
    assert middle - layout.height_mm / 2 == pytest.approx(10)
    assert layout.height_mm == pytest.approx(300 + 5 + 25)
    across = (layout.picture.left_mm + layout.picture.right_mm) / 2
    assert across - 305 == pytest.approx(-20)


@pytest.mark.parametrize("way", list(RollWay))
def test_too_wide_a_picture_names_one_that_fits(way):
    with pytest.raises(FitError, match="at most") as caught:
        on_roll((700, 650), roll_way=way)
    told = caught.value.remedy.split("at most ")[1]
    width, height = (float(it) for it in told.split(" mm")[0].split(" × "))
    assert on_roll((width, height), roll_way=way)


def test_too_long_a_picture_names_one_that_fits():
    with pytest.raises(FitError, match="at most") as caught:
        on_roll((4000, 500), longest_mm=1000)
    told = caught.value.remedy.split("at most ")[1]
    width, height = (float(it) for it in told.split(" mm")[0].split(" × "))
    assert on_roll((width, height), longest_mm=1000).in_feed_mm[1] <= 1000


@given(
    st.floats(50, 900),
    st.floats(50, 900),
    st.floats(0, 60),
    st.floats(-40, 40),
)
def test_length_is_the_least_that_holds_the_picture(width, height, border, offset):
    """What is printed keeps margins and border, and no shorter length does."""
    sheet = {"placement": Placement.OFFSET, "offset_down_mm": offset}
    try:
        layout = on_roll((width, height), border_mm=border, **sheet)
    except FitError:
        assert min(width, height) + 2 * max(border, 4) > 610 - 1e-6 or offset
        return
    assert layout.picture.left_mm >= layout.printable.left_mm - 1e-6
    assert layout.picture.right_mm <= layout.printable.right_mm + 1e-6
    for white, margin in (
        (layout.picture.left_mm, layout.printable.left_mm),
        (layout.picture.top_mm, layout.printable.top_mm),
    ):
        assert white >= max(margin, border) - 1e-6
    if not layout.turned:
        # An offset moves the centre by making one end longer, and no more.
        room = layout.height_mm - height
        least = max(max(3, border) + max(5, border), 100 - height)
        assert room <= max(least, 2 * max(5, border) + 2 * abs(offset)) + 1e-6


def test_width_of_the_stock_is_taken_from_the_book(roll_plan, master_of):
    """24 in are 609.6 mm; the demo's satin is kept in rolls of 610 mm."""
    facts = master_of(np.zeros((200, 300, 3), np.uint16)).facts
    assert roll_plan(facts).layout.in_feed_mm == (610.0, 208.0)


def test_cut_sheets_feed_takes_no_roll(roll_plan, master_of):
    facts = master_of(np.zeros((200, 300, 3), np.uint16)).facts
    with pytest.raises(SpecError, match="feed path for rolls"):
        roll_plan(facts, feed="sheet feeder")
    with pytest.raises(SpecError, match="by the picture"):
        roll_plan(facts, orientation="landscape")


def test_file_of_a_turned_picture_covers_the_length_cut_off(
    roll_plan, master_of, textured, tmp_path
):
    """The file stands as the picture does; the ticket turns it onto the roll."""
    master = master_of(textured)
    plan = roll_plan(master.facts, width_mm=700.0, ppi=72.0)
    made = render(build_sheet(master, plan), tmp_path / "print.tif")
    pixels = tifffile.imread(made.path)
    assert pixels.shape == (round(610 / 25.4 * 72), round(708 / 25.4 * 72), 3)
    inked = np.argwhere((pixels != 65535).any(axis=2))
    top, left = inked.min(axis=0)
    bottom, right = inked.max(axis=0) + 1
    assert right - left == pytest.approx(700 / 25.4 * 72, abs=1)
    assert bottom - top == pytest.approx(700 * 210 / 320 / 25.4 * 72, abs=1)
