"""What is told of rolls, sides, marks and bleed is what the file holds."""

import json
from dataclasses import replace

import numpy as np
import pytest
import tifffile

from printplan.checks.edges import edge_findings, lost_at_edges_mm
from printplan.media import Surface
from printplan.pixels.block_view import block_picture
from printplan.pixels.master import open_master
from printplan.pixels.render import render
from printplan.pixels.sheet import Appearance, build_sheet
from printplan.plan import resolve
from printplan.record.cost import plan_cost
from printplan.record.decision_sheet.dialogue import dialogue_of
from printplan.record.decision_sheet.print_facts import print_section
from printplan.record.ipp.job_ticket import job_ticket, ticket_json
from printplan.record.plan_file import read_plan_file
from printplan.spec import (
    DeliverySpec,
    MountSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
    WhiteSpec,
    WrapSpec,
)


@pytest.fixture(scope="module")
def stream(studio):
    with open_master(studio.scenario.stream) as master:
        yield master


@pytest.fixture
def planned(studio, stream):
    def make(
        *,
        width_mm=300.0,
        sheet=None,
        size=None,
        surface=None,
        borderless=(),
        longest_mm=1219.0,
        **parts,
    ):
        printer = studio.book.printers[0]
        feeds = tuple(
            replace(it, borderless=borderless, longest_mm=max(longest_mm, 400))
            for it in printer.feeds
        )
        printer = replace(printer, feeds=feeds, longest_print_mm=longest_mm)
        paper = studio.book.paper("Alder Satin 260")
        paper = replace(paper, surface=surface or paper.surface)
        plan_spec = replace(
            studio_spec(studio),
            size=size or SizeSpec(rule=SizeRule.WIDTH, width_mm=width_mm, ppi=100),
            sheet=sheet or SheetSpec(media_size="610 mm roll", feed="roll unit"),
            mount=MountSpec(),
            delivery=DeliverySpec(),
            **parts,
        )
        return resolve(stream.facts, paper, printer, plan_spec)

    return make


def studio_spec(studio):
    return read_plan_file(studio.folder / "stream-on-alder-satin.toml").spec


def told(plan):
    return {row.what: row.value for row in print_section(plan).rows}


def test_roll_is_told_as_a_driver_asks(planned):
    """610 mm across and what is cut off, from plan to dialogue and ticket."""
    plan = planned(width_mm=450.0)
    across_mm, along_mm = plan.layout.in_feed_mm
    assert across_mm == 610
    assert along_mm == pytest.approx(450 * 2056 / 3088 + 6, abs=1)
    settings = {
        it.what: it.value
        for it in dialogue_of(plan, profile="p", file_profile="p").settings
    }
    assert settings["Page size"].startswith("610 mm roll, 610 × ")
    assert settings["Page size"].endswith("(across the roll × cut off it)")
    assert f"{along_mm:.1f} mm cut off" in told(plan)["Roll"]
    # 17.5 m are on the roll of the demo.
    assert f"{17.5 - along_mm / 1000:.2f} m are left" in told(plan)["Roll"]
    # By hand: of 610 mm across the picture takes 450, and of the length all but 6.
    waste = 1 - 450 * (along_mm - 6) / (610 * along_mm)
    assert f"{waste:.0%} of it beside" in told(plan)["Roll"]
    assert "cut it by hand" in " ".join(job_ticket(plan).notes)
    ticket = json.loads(ticket_json(job_ticket(plan)))
    size = ticket["media-col"]["media-size"]
    assert size == {"x-dimension": 61000, "y-dimension": round(along_mm * 100)}
    assert ticket["orientation-requested"] == 3


def test_panorama_of_four_metres_from_plan_to_ticket(planned):
    """4 m along a 610 mm roll: turned, and nothing longer than the length cut off."""
    size = SizeSpec(rule=SizeRule.FILL, width_mm=4000, height_mm=400, ppi=100)
    plan = planned(size=size, longest_mm=18_000.0)
    assert plan.layout.in_feed_mm == (610, 4006)
    assert plan.layout.turned
    ticket = json.loads(ticket_json(job_ticket(plan)))
    assert ticket["media-col"]["media-size"]["y-dimension"] == 400600
    assert ticket["orientation-requested"] == 4
    assert "4006.0 mm cut off for each print, turned a quarter" in told(plan)["Roll"]


def test_short_length_of_a_wide_roll_is_not_turned(planned):
    """A length shorter than the roll's width: the picture lies as it goes in."""
    plan = planned(width_mm=500.0)
    across_mm, along_mm = plan.layout.in_feed_mm
    assert along_mm < across_mm
    assert not plan.layout.turned
    value = {
        it.what: it.value
        for it in dialogue_of(plan, profile="p", file_profile="p").settings
    }
    assert "not turned: the page is wider than long" in value["Orientation"]


def test_sides_and_marks_are_told(planned):
    wrap = WrapSpec(bar_depth_mm=20, turn_over_mm=15, right="colour", colour="#102030")
    white = WhiteSpec(marks="corners", caption=("title",), caption_title="Stream")
    plan = planned(wrap=wrap, white=white)
    assert "a bar 20 mm deep" in " ".join(job_ticket(plan).notes)
    rows = told(plan)
    assert rows["Front"].startswith("300.0 × ")
    assert rows["Canvas"] == (
        "bar 20 mm deep, 15 mm turned over; left mirrored, top mirrored, right in sRGB "
        "#102030, bottom mirrored"
    )
    assert rows["Printed"].startswith("front and sides 370.0 × ")
    assert "marks of the folds" in rows["On the white"]
    assert "“Stream”" in rows["On the white"]
    shrinking = WrapSpec(bar_depth_mm=20, shrinks_along_percent=1.5)
    assert "for a shrinking of 1.5 % along" in told(planned(wrap=shrinking))["Printed"]


def test_sides_count_as_printed_area(planned):
    """By hand: 35 mm more on each side of 300 mm and of the height that follows."""
    plan = planned(wrap=WrapSpec(bar_depth_mm=20, turn_over_mm=15))
    height_mm = 300 * 2056 / 3088
    assert plan.printed_m2 == pytest.approx(0.37 * (height_mm + 70) / 1000, rel=1e-3)
    hourly = replace(plan, printer=replace(plan.printer, m2_per_h=2.0))
    basis = plan_cost(hourly, None, currency="EUR")
    assert basis.minutes == pytest.approx(plan.printed_m2 * 30)


def test_borderless_is_told_with_what_is_lost(planned):
    sheet = SheetSpec(
        media_size="A4", feed="sheet feeder", bleed_mm=3, orientation="portrait"
    )
    size = SizeSpec(rule=SizeRule.FILL, width_mm=216, height_mm=303, ppi=100)
    plan = planned(sheet=sheet, size=size, borderless=("A4",))
    lost = "left 3.0, top 3.0, right 3.0, foot 3.0 mm"
    assert told(plan)["Lost"] == f"beyond the sheet: {lost}"
    settings = {
        it.what: it.value
        for it in dialogue_of(plan, profile="p", file_profile="p").settings
    }
    assert settings["Margins"].startswith("none (borderless), without enlargement")
    ticket = json.loads(ticket_json(job_ticket(plan)))
    assert ticket["media-col"]["media-top-margin"] == 0
    assert ticket["print-scaling"] == "none"
    topics = [it.topic for it in edge_findings(plan)]
    assert topics == ["lost at the edges"]


def test_white_strip_names_the_area_that_cures(planned):
    sheet = SheetSpec(
        media_size="A4", feed="sheet feeder", bleed_mm=3, orientation="portrait"
    )
    size = SizeSpec(rule=SizeRule.FILL, width_mm=210, height_mm=297, ppi=100)
    plan = planned(sheet=sheet, size=size, borderless=("A4",))
    finding = next(it for it in edge_findings(plan) if it.topic == "white strip")
    area = finding.remedy.split("area of ")[1].split(" mm")[0]
    width_mm, height_mm = map(float, area.split(" × "))
    size = replace(size, width_mm=width_mm, height_mm=height_mm)
    cured = planned(sheet=sheet, size=size, borderless=("A4",))
    assert "white strip" not in {it.topic for it in edge_findings(cured)}
    assert min(lost_at_edges_mm(cured).values()) >= 2.5


def test_turn_over_names_one_that_cures(planned):
    wrap = WrapSpec(bar_depth_mm=20, turn_over_mm=1)
    plan = planned(wrap=wrap, surface=Surface.CANVAS)
    finding = next(it for it in edge_findings(plan) if it.topic == "turn-over")
    least = float(finding.remedy.split("turn-over of ")[1].split(" mm")[0])
    cured = planned(wrap=replace(wrap, turn_over_mm=least), surface=Surface.CANVAS)
    assert [it.topic for it in edge_findings(cured)] == ["canvas shrinks"]


def test_paper_that_cracks_is_warned_of(planned):
    wrap = WrapSpec(bar_depth_mm=20, turn_over_mm=20, shrinks_across_percent=1)
    assert [it.topic for it in edge_findings(planned(wrap=wrap))] == ["wrap on paper"]


def test_block_is_drawn_from_the_files_own_front_and_sides(planned, stream):
    """The fronts of both views are the overview's front, pixel for pixel."""
    wrap = WrapSpec(bar_depth_mm=30, left="colour", colour="#ff0000")
    sheet = build_sheet(stream, planned(wrap=wrap))
    look = block_picture(sheet, 500, Appearance.PAPER_ALONE)
    overview = sheet.overview(500)
    box = overview.picture
    front = sheet.proof(overview.pixels, Appearance.PAPER_ALONE)[
        box.top : box.bottom, box.left : box.right
    ]
    height, width = front.shape[:2]
    top = look.shape[0] - height - 1
    np.testing.assert_array_equal(look[top : top + height, 1 : 1 + width], front)
    np.testing.assert_array_equal(
        look[1 : 1 + height, look.shape[1] - width - 1 : look.shape[1] - 1], front
    )
    # The left side, in the second view, is the red that was asked for.
    beside = look[height // 2 + 5, look.shape[1] - width - 4]
    assert beside[0] > 2 * beside[1]


def test_four_metres_are_rendered_in_bands(planned, stream, tmp_path):
    """A long print takes no more memory than its width asks: bands, not the whole."""
    size = SizeSpec(rule=SizeRule.FILL, width_mm=4000, height_mm=500, ppi=50)
    sheet = build_sheet(stream, planned(size=size, longest_mm=18_000.0))
    made = render(sheet, tmp_path / "long.tif")
    with tifffile.TiffFile(made.path) as tiff:
        assert tiff.pages[0].shape[1] == round(4006 / 25.4 * 50)
