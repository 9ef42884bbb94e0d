import ast
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printplan import checks
from printplan.checks import Level, check_pixels, check_plan
from printplan.colour.profiles import open_profile
from printplan.media import Margins
from printplan.pixels.master import open_master
from printplan.pixels.sheet import build_sheet
from printplan.plan import resolve
from printplan.spec import (
    BlackPointCompensation,
    Delivery,
    FileFormat,
    Intent,
    NamedSpace,
    SizeRule,
)


@pytest.fixture(scope="module")
def sound(studio, plan_for):
    """A plan against which nothing speaks: 120 mm wide at 300 ppi from 2400 px."""
    with open_master(studio.scenario.chart) as master:
        facts = replace(master.facts, width_px=2400, height_px=1600)
    return plan_for(SimpleNamespace(facts=facts))


def made_again(plan, *, facts=None, paper=None, printer=None, spec=None):
    """The plan of the same print with one thing changed."""
    return resolve(
        facts or plan.facts,
        paper or plan.paper,
        printer or plan.printer,
        spec or plan.spec,
    )


def with_facts(**changes):
    return lambda plan: made_again(plan, facts=replace(plan.facts, **changes))


def with_paper(**changes):
    return lambda plan: made_again(plan, paper=replace(plan.paper, **changes))


def with_printer(**changes):
    return lambda plan: made_again(plan, printer=replace(plan.printer, **changes))


def with_pair(**changes):
    def change(plan):
        pair = replace(plan.setup, **changes)
        return made_again(plan, paper=replace(plan.paper, on_printer=(pair,)))

    return change


def with_feed(**changes):
    """The printer's feed path for this paper is another."""

    def change(plan):
        feed = replace(plan.feed, **changes)
        return made_again(plan, printer=replace(plan.printer, feeds=(feed,)))

    return change


def with_spec(part, **changes):
    def change(plan):
        changed = replace(getattr(plan.spec, part), **changes)
        return made_again(plan, spec=replace(plan.spec, **{part: changed}))

    return change


NAMED = {"colour": Delivery.NAMED_SPACE, "named_space": NamedSpace.SRGB}
STOP, WARN, NOTE = Level.STOP, Level.WARN, Level.NOTE

# What is changed; what is found; what the problem and the remedy say.
ONE_THING = {
    "profile assumed": (
        with_facts(profile_is_assumed=True, profile_name="opRGB"),
        (WARN, "profile assumed"),
        "read as opRGB",
        "export it with its profile",
    ),
    "flattened": (
        with_facts(alpha_was_flattened=True),
        (NOTE, "transparency"),
        "lies on paper white",
        "Flatten it yourself",
    ),
    "two pages": (
        with_facts(page_count=2),
        (NOTE, "pages"),
        "holds 2 pages",
        "Export the wanted page",
    ),
    "clipped": (
        with_facts(clipped_share=0.0123),
        (WARN, "clipped values"),
        "1.23% of",
        "Bring them into range",
    ),
    "other feed path": (
        with_pair(feeds=("sheet feeder",)),
        (STOP, "feed path"),
        "does not go through the front slot of Studio 24",
        "Choose one of: sheet feeder.",
    ),
    "paper too thick": (
        with_paper(thickness_um=1500.5),
        (STOP, "paper thickness"),
        "takes 200 to 1500 µm",
        "another paper",
    ),
    "paper too thin": (
        with_paper(thickness_um=199.9),
        (STOP, "paper thickness"),
        "is 199.9 µm thick",
        "another feed path",
    ),
    "sheet too narrow": (
        with_feed(narrowest_mm=297.1),
        (STOP, "sheet in feed path"),
        "is 297.0 mm wide; the front slot takes 297.1 to 610 mm",
        "another sheet",
    ),
    "sheet too wide": (
        with_feed(widest_mm=296.9),
        (STOP, "sheet in feed path"),
        "is 297.0 mm wide; the front slot takes 203 to 296.9 mm",
        "another sheet",
    ),
    "sheet too short": (
        with_feed(shortest_mm=420.1),
        (STOP, "sheet in feed path"),
        "is 420.0 mm long; the front slot takes 420.1 to 1219 mm",
        "another feed path",
    ),
    "sheet too long": (
        with_feed(longest_mm=419.9),
        (STOP, "sheet in feed path"),
        "is 420.0 mm long; the front slot takes 279 to 419.9 mm",
        "another feed path",
    ),
    "ink that the printer lacks": (
        with_pair(black_ink="grey"),
        (STOP, "black ink"),
        "wants grey; Studio 24 has photo black, matte black",
        "Correct the black ink",
    ),
    "few master pixels": (
        with_facts(width_px=900, height_px=600),
        (WARN, "enlargement"),
        # 900 px on 120 mm are 190.5 to the inch, by the definition of the inch.
        "gives 190.5 of its own pixels",
        "Print at most 114 mm wide",
    ),
    "other resolution": (
        with_spec("size", ppi=299.0),
        (NOTE, "printer resolution"),
        "has 299 ppi; Studio 24 resamples what is not 300, 360, 600, 720 ppi",
        "Choose one of these",
    ),
    "absolute": (
        with_spec("colour", intent=Intent.ICC_ABSOLUTE),
        (WARN, "absolute intent"),
        "as a tint",
        '"media-relative" or "perceptual"',
    ),
    "saturation": (
        with_spec("colour", intent=Intent.SATURATION),
        (WARN, "saturation intent"),
        "not true",
        '"media-relative" or "perceptual"',
    ),
    "no compensation": (
        with_spec("colour", black_point_compensation=BlackPointCompensation.OFF),
        (NOTE, "compensation off"),
        "become one",
        "Switch it on",
    ),
    "8 bits": (
        with_spec("delivery", file_format=FileFormat.TIFF_8),
        (NOTE, "8 bits"),
        "holds 8 bits",
        '"tiff-16"',
    ),
    "depth that the printer lacks": (
        with_printer(bit_depths=(8,)),
        (WARN, "bit depth"),
        "holds 16 bits; Studio 24 takes 8",
        "file format of that depth",
    ),
}

# Changes at the very edge of what is taken, or that concern another delivery.
SILENT = {
    "nothing": lambda plan: plan,
    "thickest paper": with_paper(thickness_um=1500.0),
    "thinnest paper": with_paper(thickness_um=200.0),
    "narrowest sheet": with_feed(narrowest_mm=297.0),
    "widest sheet": with_feed(widest_mm=297.0),
    "shortest sheet": with_feed(shortest_mm=420.0),
    "longest sheet": with_feed(longest_mm=420.0),
    "fewest master pixels": with_facts(width_px=945, height_px=630),
    "printer's other resolution": with_spec("size", ppi=720.0),
    "perceptual without compensation": with_spec(
        "colour",
        intent=Intent.PERCEPTUAL,
        black_point_compensation=BlackPointCompensation.OFF,
    ),
    "printer's only depth": with_printer(bit_depths=(16,)),
    "named space in 8 bits": with_spec(
        "delivery", file_format=FileFormat.TIFF_8, **NAMED
    ),
    "16-bit page": with_spec("delivery", file_format=FileFormat.PDF),
    "portrait": with_facts(width_px=1600, height_px=2400),
    "credited, located, turned": with_facts(
        creator="Invented", has_location=True, orientation_flag=6
    ),
}


@pytest.mark.parametrize("name", ONE_THING)
def test_one_thing_changed_gives_one_finding(sound, name):
    change, (level, about), problem, remedy = ONE_THING[name]
    (finding,) = check_plan(change(sound))
    assert (finding.level, finding.about) == (level, about)
    assert problem in finding.problem
    assert remedy in finding.remedy
    assert finding.problem.endswith(".")
    assert finding.remedy.endswith(".")
    assert str(finding) == f"{level}: {finding.problem} {finding.remedy}"


@pytest.mark.parametrize("name", SILENT)
def test_nothing_is_said_of_a_sound_plan(sound, name):
    assert check_plan(SILENT[name](sound)) == []


def test_8_bit_file_for_a_16_bit_printer_is_told_twice(sound):
    """Its own eight bits are a note; a printer that takes none of them is a warning."""
    eight = with_spec("delivery", file_format=FileFormat.TIFF_8)(sound)
    found = check_plan(with_printer(bit_depths=(16,))(eight))
    assert [(it.level, it.about) for it in found] == [
        (WARN, "bit depth"),
        (NOTE, "8 bits"),
    ]
    working = with_spec("delivery", colour=Delivery.WORKING_COLOUR)(eight)
    assert [it.about for it in check_plan(with_printer(bit_depths=(16,))(working))] == [
        "8 bits"
    ]


def test_turned_sheet_enters_by_its_shorter_edge(sound):
    """A landscape print is a portrait sheet for the printer (RFC 8011, 5.2.10)."""
    tall = with_facts(width_px=1600, height_px=2400)(sound)
    assert sound.layout.orientation != tall.layout.orientation
    for plan in (sound, tall):
        fits = with_feed(
            narrowest_mm=297, widest_mm=297, shortest_mm=420, longest_mm=420
        )
        assert check_plan(fits(plan)) == []
        across = with_feed(
            narrowest_mm=420, widest_mm=420, shortest_mm=297, longest_mm=297
        )
        assert [it.level for it in check_plan(across(plan))] == [STOP, STOP]


def test_following_the_remedy_silences_a_low_resolution(sound):
    few = with_facts(width_px=900, height_px=600)(sound)
    (finding,) = check_plan(few)
    (width_mm,) = [int(word) for word in finding.remedy.split() if word.isdigit()]
    assert check_plan(with_spec("size", width_mm=float(width_mm))(few)) == []


def test_crop_counts_only_the_master_pixels_that_it_prints(sound):
    fill = with_spec("size", rule=SizeRule.FILL, width_mm=60.0, height_mm=120.0)(sound)
    # 2400 × 1600 px cropped to 1 : 2 are 800 px wide, on 60 mm 338.7 to the inch.
    assert check_plan(fill) == []
    wide = with_spec("size", rule=SizeRule.FILL, width_mm=110.0, height_mm=220.0)(sound)
    # On 110 mm they are 184.7.
    assert "gives 184.7 of its own" in check_plan(wide)[0].problem


def test_margins_alone_are_no_finding(sound):
    margins = Margins(leading_mm=60, trailing_mm=60, left_mm=60, right_mm=60)
    assert check_plan(with_feed(margins=margins)(sound)) == []


def abouts(function_names):
    """Every subject that the module can name, by its syntax tree."""
    tree = ast.parse(Path(checks.__file__).read_text(encoding="utf-8"))
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef) and function.name in function_names:
            for node in ast.walk(function):
                if isinstance(node, ast.keyword) and node.arg == "about":
                    yield ast.literal_eval(node.value)


def test_every_finding_of_a_plan_is_tried_here():
    names = {"_about_master", "_about_paper", "_about_size", "_about_colour"}
    assert set(abouts(names)) == {about for _, (_, about), _, _ in ONE_THING.values()}
    assert set(abouts({"check_pixels"})) == {"profile changed", "converted twice"}


@pytest.fixture
def sheet(master_of, textured, plan_for):
    master = master_of(textured)
    return build_sheet(master, plan_for(master, width_mm=40.0))


def test_files_of_a_sound_sheet_tell_nothing(sheet):
    assert sheet.plan.setup.profile_sha256 == sheet.output.sha256
    assert check_pixels(sheet) == []


def test_other_profile_than_in_the_book_stops_the_print(sheet):
    sheet.plan = with_pair(profile_sha256="ab" * 32)(sheet.plan)
    (finding,) = check_pixels(sheet)
    assert (finding.level, finding.about) == (STOP, "profile changed")
    assert f"begins {sheet.output.sha256[:8]}, not abababab" in finding.problem
    assert "record the new one's hash" in finding.remedy


def test_profile_without_a_recorded_hash_is_not_compared(sheet):
    sheet.plan = with_pair(profile_sha256="")(sheet.plan)
    assert check_pixels(sheet) == []


def test_master_in_a_printers_colour_stops_the_print(sheet, studio):
    """Converting it again would apply the paper's losses twice."""
    sheet.master.source_profile = open_profile(studio.scenario.satin_profile)
    (finding,) = check_pixels(sheet)
    assert (finding.level, finding.about) == (STOP, "converted twice")
    assert "carries an output profile" in finding.problem
    assert "working space" in finding.remedy


TOGETHER = [
    "profile assumed",
    "flattened",
    "two pages",
    "clipped",
    "paper too thick",
    "sheet too narrow",
    "ink that the printer lacks",
    "few master pixels",
    "other resolution",
    "absolute",
    "depth that the printer lacks",
]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(TOGETHER), unique=True))
def test_findings_add_up_and_the_gravest_come_first(sound, names):
    """What is found does not depend on what else is."""
    plan = sound
    for name in names:
        plan = ONE_THING[name][0](plan)
    found = check_plan(plan)
    assert {it.about for it in found} == {ONE_THING[name][1][1] for name in names}
    assert len(found) == len(names)
    levels = [it.level for it in found]
    assert levels == sorted(levels, key=[STOP, WARN, NOTE].index)
