"""
A short length of roll is everywhere what it is: wide as its roll, long as it is cut.

Layout, findings, stock, cost, the list for the dialogue, the job ticket and the sheet
view are asked for the same print and must agree. The printer and its roll are invented.
"""

from dataclasses import replace
from types import SimpleNamespace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from printplan.checks import Level, check_plan
from printplan.checks.paper import prints_left, stock_for
from printplan.errors import FitError
from printplan.media import FeedPath, Margins, MediaForm, Stock
from printplan.pixels.master import open_master
from printplan.plan import resolve
from printplan.record.decision_sheet.dialogue import dialogue_of
from printplan.record.decision_sheet.print_facts import print_section
from printplan.record.ipp.job_ticket import job_ticket, json_table
from printplan.spec import Orientation, SheetSpec, SizeRule, SizeSpec
from printplan.units import LengthUnit
from printplan.workbook.sheet_view.geometry import sheet_geometry

MARGINS = Margins(leading_mm=3, trailing_mm=30, left_mm=6, right_mm=7)
ROLL_UNIT = FeedPath(
    name="roll unit",
    margins=MARGINS,
    shortest_mm=200,
    longest_mm=18_000,
    narrowest_mm=203,
    widest_mm=620,
    thinnest_um=80,
    thickest_um=600,
    takes=MediaForm.ROLLS,
)
ROLL = Stock(roll_width_mm=610.0, roll_length_m=30.0, left_m=17.5, price_each=120.0)


@pytest.fixture(scope="module")
def on_roll(studio, plan_for):
    """A maker of plans: custom edges, picture width and a master's shape."""
    with open_master(studio.scenario.chart) as master:
        known = master.facts
    sound = plan_for(SimpleNamespace(facts=replace(known, width_px=9000)))

    def make(
        edges_mm, picture_mm, *, rolls=(ROLL,), feed=ROLL_UNIT, unit=LengthUnit.MM, **up
    ):
        width_mm, height_mm = picture_mm
        facts = replace(
            known, width_px=9000, height_px=max(round(9000 * height_mm / width_mm), 1)
        )
        pair = replace(sound.setup, feeds=(feed.name,))
        paper = replace(sound.paper, on_printer=(pair,), stock=rolls)
        printer = replace(
            sound.printer, feeds=(feed,), longest_print_mm=feed.longest_mm
        )
        spec = replace(
            sound.spec,
            size=SizeSpec(rule=SizeRule.WIDTH, width_mm=width_mm, ppi=300),
            sheet=SheetSpec(
                media_size="custom",
                feed=feed.name,
                width_mm=edges_mm[0],
                height_mm=edges_mm[1],
                **up,
            ),
            lengths_in=unit,
        )
        return resolve(facts, paper, printer, spec)

    return make


def settings_of(plan):
    dialogue = dialogue_of(plan, profile="paper", file_profile="paper")
    return {it.what: it.value for it in dialogue.settings}


def ticket_of(plan):
    return json_table(job_ticket(plan).attributes)


def test_landscape_print_across_a_roll_agrees_everywhere(on_roll):
    """500 × 333 mm on 400 mm of a roll of 610 mm lies as the paper goes in."""
    plan = on_roll((610, 400), (500, 333.3))
    layout, printable = plan.layout, plan.layout.printable
    assert (layout.width_mm, layout.height_mm) == (610, 400)
    assert (layout.in_feed_mm, layout.turned) == ((610, 400), False)
    assert layout.orientation is Orientation.LANDSCAPE
    # Its top enters first.
    assert (printable.top_mm, 400 - printable.bottom_mm) == (3, 30)
    assert (printable.left_mm, 610 - printable.right_mm) == (6, 7)
    assert [it for it in check_plan(plan) if it.level is not Level.NOTE] == []
    assert stock_for(plan) == ROLL
    assert prints_left(plan, ROLL) == 43  # 17.5 m / 0.4 m
    settings = settings_of(plan)
    assert settings["Page size"].startswith("custom size, 610 × 400 mm")
    assert settings["Orientation"].startswith("landscape, not turned")
    media = ticket_of(plan)["media-col"]
    # PWG 5100.7 (from memory): x lies along the bottom edge, across the feed.
    assert media["media-size"] == {"x-dimension": 61000, "y-dimension": 40000}
    assert (media["media-top-margin"], media["media-bottom-margin"]) == (300, 3000)
    assert (media["media-left-margin"], media["media-right-margin"]) == (600, 700)
    assert ticket_of(plan)["orientation-requested"] == 3  # RFC 8011: not turned
    drawn = sheet_geometry(plan, LengthUnit.MM)
    assert drawn["sheet"] == [0, 0, 610, 400]
    assert drawn["printable"] == [6, 3, 603, 370]
    told = {row.what: row.value for row in print_section(plan).rows}
    assert told["Sheet"].endswith("610.0 × 400.0 mm, landscape, 610 mm across the roll")


def test_upright_print_on_a_short_length_is_turned_onto_it(on_roll):
    """300 × 450 mm: seen upright it is 400 × 610 mm, and its left edge enters last."""
    plan = on_roll((610, 400), (300, 450))
    layout, printable = plan.layout, plan.layout.printable
    assert (layout.width_mm, layout.height_mm) == (400, 610)
    assert (layout.in_feed_mm, layout.turned) == ((610, 400), True)
    # Turned anticlockwise, its top lies on the paper's left edge (RFC 8011, 5.2.10).
    assert (printable.top_mm, 610 - printable.bottom_mm) == (6, 7)
    assert (printable.left_mm, 400 - printable.right_mm) == (30, 3)
    assert settings_of(plan)["Orientation"].startswith("portrait, a quarter turned")
    ticket = ticket_of(plan)
    assert ticket["orientation-requested"] == 4
    assert ticket["media-col"]["media-size"]["x-dimension"] == 61000


def test_long_print_down_a_roll_is_what_it_was(on_roll):
    plan = on_roll((610, 900), (500, 750))
    assert plan.layout.in_feed_mm == (610, 900)
    assert not plan.layout.turned
    assert settings_of(plan)["Page size"].startswith("custom size, 610 × 900 mm")
    assert settings_of(plan)["Orientation"] == "portrait"
    assert ticket_of(plan)["orientation-requested"] == 3
    wide = on_roll((610, 900), (750, 500))
    assert (wide.layout.in_feed_mm, wide.layout.turned) == ((610, 900), True)
    assert ticket_of(wide)["orientation-requested"] == 4


@pytest.mark.parametrize(
    ("edges_mm", "rolls", "in_feed_mm"),
    [
        # Plans of before name the shorter edge first: the roll that is kept decides.
        ((400, 610), (ROLL,), (610, 400)),
        ((432, 610), (replace(ROLL, roll_width_mm=432.0),), (432, 610)),
        ((610, 432), (replace(ROLL, roll_width_mm=432.0),), (432, 610)),
        # Both rolls are kept, or none is written down: as it is named.
        ((610, 432), (ROLL, replace(ROLL, roll_width_mm=432.0)), (610, 432)),
        ((432, 610), (ROLL, replace(ROLL, roll_width_mm=432.0)), (432, 610)),
        ((610, 432), (), (610, 432)),
        # The feed path takes 203 to 620 mm.
        ((900, 610), (), (610, 900)),
        # A roll is cut within a millimetre of its width.
        ((609.6, 300), (ROLL,), (609.6, 300)),
    ],
)
def test_roll_that_is_kept_decides_which_edge_goes_across(
    on_roll, edges_mm, rolls, in_feed_mm
):
    assert on_roll(edges_mm, (150, 100), rolls=rolls).layout.in_feed_mm == in_feed_mm


@pytest.mark.parametrize("edges_mm", [(500, 300), (300, 500)])
def test_cut_sheet_goes_in_by_its_shorter_edge(on_roll, edges_mm):
    slot = replace(ROLL_UNIT, name="slot", takes=MediaForm.SHEETS)
    for picture_mm in ((200, 100), (100, 200)):
        plan = on_roll(edges_mm, picture_mm, feed=slot)
        assert plan.layout.in_feed_mm == (300, 500)
        assert plan.layout.turned is (picture_mm[0] > picture_mm[1])
        assert settings_of(plan)["Page size"] == "custom size, 300 × 500 mm"


@given(
    st.floats(210, 3000),
    st.floats(40, 550),
    st.floats(40, 550),
    st.sampled_from(Orientation),
)
def test_any_length_is_told_alike(on_roll, length_mm, width_mm, height_mm, orientation):
    try:
        plan = on_roll((610, length_mm), (width_mm, height_mm), orientation=orientation)
    except FitError:
        assume(False)
    layout = plan.layout
    across_mm, along_mm = layout.in_feed_mm
    assert (across_mm, along_mm) == (610, length_mm)
    seen_mm = (layout.height_mm, layout.width_mm) if layout.turned else None
    assert (seen_mm or (layout.width_mm, layout.height_mm)) == (across_mm, along_mm)
    lies_wide = layout.orientation is Orientation.LANDSCAPE
    assert lies_wide is (layout.width_mm > layout.height_mm)
    abouts = {it.topic for it in check_plan(plan)}
    assert not abouts & {"sheet in feed path", "not in stock", "longest print"}
    ticket = ticket_of(plan)
    assert ticket["media-col"]["media-size"]["x-dimension"] == 61000
    assert (ticket["orientation-requested"] == 4) is layout.turned
    # Where the page is turned anticlockwise, its right edge enters first.
    printable = layout.printable
    leading_mm = (
        layout.width_mm - printable.right_mm if layout.turned else printable.top_mm
    )
    assert leading_mm == pytest.approx(3)


def test_short_length_is_told_in_inches_where_it_was_asked_so(on_roll):
    plan = on_roll((609.6, 304.8), (254, 169.3), unit=LengthUnit.INCHES)
    assert settings_of(plan)["Page size"].startswith("custom size, 24 × 12 in")
    told = {row.what: row.value for row in print_section(plan).rows}
    assert told["Picture"] == "10.00 × 6.67 in (254.0 × 169.3 mm)"
