from dataclasses import replace
from time import perf_counter
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printplan.checks import Decided, Level, check_pixels, check_plan
from printplan.checks.master_pixels import times_srgb
from printplan.colour.profiles import open_profile
from printplan.colour.spaces import named_profile
from printplan.media import DriverColour, Margins, MediaForm, Stock
from printplan.pixels.master import open_master
from printplan.pixels.picture_content import picture_content
from printplan.pixels.sharpening import chosen_sharpening
from printplan.pixels.sheet import build_sheet, varied
from printplan.plan import resolve
from printplan.spec import (
    BlackPointCompensation,
    Delivery,
    Extent,
    FileFormat,
    Intent,
    NamedSpace,
    Orientation,
    Placement,
    SizeRule,
)
from printplan.units import LengthUnit


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


def mat_of(width_mm, height_mm):
    return {"mat_outer_width_mm": width_mm, "mat_outer_height_mm": height_mm}


def frame_of(width_mm, height_mm):
    return {"frame_width_mm": width_mm, "frame_height_mm": height_mm}


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
        "the media-relative or the perceptual intent",
    ),
    "saturation": (
        with_spec("colour", intent=Intent.SATURATION),
        (WARN, "saturation intent"),
        "not true",
        "the media-relative or the perceptual intent",
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
        '"TIFF, 16 bits"',
    ),
    "depth that the printer lacks": (
        with_printer(bit_depths=(8,)),
        (WARN, "bit depth"),
        "holds 16 bits; Studio 24 takes 8",
        "the format of that depth",
    ),
}

ONE_THING |= {
    "turned by a flag": (
        with_facts(orientation_flag=6),
        (NOTE, "orientation flag"),
        "(6 of 1 to 8)",
        "its top is up",
    ),
    "JPEG": (
        with_facts(file_format="JPEG"),
        (NOTE, "compressed master"),
        "8 bits per channel",
        "uncompressed original",
    ),
    "profile gone": (
        with_pair(profile="/nowhere/fen.icc"),
        (STOP, "profile missing"),
        "is not there: /nowhere/fen.icc",
        "Put it back",
    ),
    "no media type": (
        with_pair(media_type=""),
        (NOTE, "media type"),
        "what the driver of Studio 24 calls Fen Cotton 310",
        "media type that its profile was made with",
    ),
    "no hash": (
        with_pair(profile_sha256=""),
        (NOTE, "profile not kept"),
        "no hash of the profile",
        "SHA-256 into the paper book",
    ),
    "longer than it prints": (
        with_printer(longest_print_mm=419.9),
        (STOP, "longest print"),
        "is 420.0 mm long; Studio 24 prints at most 419.9 mm",
        "419.9 mm or less",
    ),
    "size not kept": (
        with_paper(stock=(Stock(sheet="A4"), Stock(roll_width_mm=297.0))),
        (WARN, "not in stock"),
        "not kept as a sheet of 297 × 420 mm; there are: A4, roll 297 mm wide",
        "Choose one of these",
    ),
    "too few left": (
        with_paper(stock=(Stock(sheet="A3", sheets_left=0),)),
        (WARN, "paper left"),
        "1 print of A3 is asked for; Fen Cotton 310 is left for 0",
        "Buy more",
    ),
    "too few for the copies": (
        with_spec("delivery", copies=12),
        (WARN, "paper left"),
        "12 prints of A3 are asked for; Fen Cotton 310 is left for 11",
        "Make 11 now, or buy 1 more",
    ),
    "150 ppi": (
        with_spec("size", ppi=199.0),
        (WARN, "low resolution"),
        "has 199 ppi, and 200 to 300 are usual; the master has 508",
        # 199 ppi, which this printer takes as well, would be found again.
        "Choose one of 300, 360, 600, 720 ppi",
    ),
    "twice what there is": (
        with_facts(width_px=1600, height_px=1066),
        (NOTE, "wasted resolution"),
        "has 720 ppi; the master has only 339",
        "Choose 300 ppi",
    ),
    "lies the other way": (
        with_spec("sheet", orientation=Orientation.PORTRAIT),
        (NOTE, "orientation"),
        "120.0 × 80.0 mm, and its sheet lies the other way, 297.0 × 420.0 mm",
        '"by the picture"',
    ),
    "place not in the file": (
        with_spec("delivery", extent=Extent.PICTURE),
        (WARN, "place lost"),
        "(optical-centre) is not in it",
        "cover the whole sheet",
    ),
    "mat too large": (
        with_spec("mount", mat_opening_width_mm=120.1, mat_opening_height_mm=74.0),
        (WARN, "mat opening"),
        "120.1 × 74.0 mm, larger than the picture of 120.0 × 80.0 mm",
        "Choose 114.0 × 74.0 mm",
    ),
    "mat as large as the picture": (
        with_spec("mount", mat_opening_width_mm=120.0, mat_opening_height_mm=80.0),
        (WARN, "mat opening"),
        "covers 0.0 mm of an edge",
        "Choose 114.0 × 74.0 mm",
    ),
    "mat that covers little": (
        with_spec("mount", mat_opening_width_mm=114.0, mat_opening_height_mm=76.0),
        (NOTE, "mat opening"),
        "covers 2.0 mm of an edge",
        "Choose 114.0 × 74.0 mm",
    ),
    "mat beyond the sheet": (
        with_spec("mount", mat_opening_width_mm=421.0, mat_opening_height_mm=74.0),
        (STOP, "mat beyond sheet"),
        "past the sheet of 420.0 × 297.0 mm",
        "larger sheet",
    ),
    "shallow wrap": (
        with_spec("mount", wrap_mm=24.9, stretcher_depth_mm=20.0),
        (WARN, "wrap"),
        "wraps 24.9 mm round a bar 20 mm deep; 25 mm cover it",
        "25 mm or more",
    ),
    "no front": (
        with_spec("mount", wrap_mm=40.0),
        (STOP, "wrap"),
        "A wrap of 40 mm on all sides leaves no front",
        "smaller wrap",
    ),
    # The picture of 120 × 80 mm lies in the middle of A3: 150 and 108.5 mm of white.
    "overlap too thin": (
        with_spec("mount", mat_overlap_mm=2.9),
        (NOTE, "mat opening"),
        "114.2 × 74.2 mm and covers 2.9 mm",
        "Choose an overlap of 3 mm.",
    ),
    "overlap leaves no opening": (
        with_spec("mount", mat_overlap_mm=37.6),
        (STOP, "no opening"),
        "covers 37.6 mm of each edge of a picture of 120.0 × 80.0 mm",
        "an overlap of 37.5 mm or less",
    ),
    "mat too narrow to be cut": (
        with_spec("mount", mat_overlap_mm=3, **mat_of(133.9, 200)),
        (STOP, "mat cut"),
        "leaves 9.9 mm of board on one side; 10.0 mm can be cut",
        "a mat of at least 134 × 94 mm",
    ),
    "white past the sheet": (
        with_spec("mount", reveal_mm=110.0),
        (STOP, "mat beyond sheet"),
        "reaches 1.5 mm past the sheet; 3.0 mm on each side hold the print",
        "Show at most 105.5 mm round the picture,",
    ),
    "little paper under the mat": (
        with_spec("mount", reveal_mm=30.0, reveal_below_mm=105.6),
        (WARN, "paper under mat"),
        "leaves 2.9 mm of paper under the mat",
        "at most 105.5 mm round the picture and 105.5 mm below it",
    ),
    "no room to sign": (
        with_spec("mount", reveal_mm=5.0, reveal_below_mm=9.9),
        (WARN, "signature room"),
        "shows 9.9 mm of white below the picture; a signature and a number take 10 mm",
        "Show 10 mm or more below it",
    ),
    "sheet wider than its mat": (
        with_spec("mount", mat_overlap_mm=3, **mat_of(400, 300)),
        (WARN, "sheet beyond mat"),
        "10.0 mm at the left, 10.0 mm at the right",
        "a mat of at least 420 × 297 mm, or trim",
    ),
    "mat larger than its frame": (
        with_spec("mount", mat_overlap_mm=3, **mat_of(500, 400), **frame_of(499, 400)),
        (STOP, "mat beyond frame"),
        "The mat is 500.0 × 400.0 mm, the frame's glass 499.0 × 400.0 mm",
        "a frame of at least 500 × 400 mm",
    ),
    "mat slips in its frame": (
        with_spec(
            "mount", mat_overlap_mm=3, **mat_of(500, 400), **frame_of(503.2, 400)
        ),
        (WARN, "loose in frame"),
        "it can slip by 3.2 mm",
        "Choose a mat of 503.2 × 400.0 mm",
    ),
    "mat's edge is seen": (
        with_spec("mount", mat_overlap_mm=3, **mat_of(500, 400), **frame_of(520, 400)),
        (STOP, "loose in frame"),
        "of which the frame hides 6.0 mm on each side: the mat's edge would be seen",
        "Choose a mat of 520.0 × 400.0 mm",
    ),
    "frame over the opening": (
        with_spec(
            "mount", mat_overlap_mm=3, **frame_of(440, 320), frame_rebate_mm=130.0
        ),
        (STOP, "frame over opening"),
        # (320 - 74) / 2 are 123 mm of board.
        "hides 130.0 mm on each side, and reaches 7.0 mm into the mat's opening",
        "a frame that hides 123.0 mm or less",
    ),
    "thin border": (
        with_spec("sheet", border_mm=2.9),
        (WARN, "thin border"),
        "is 2.9 mm; below 3 mm",
        "3 mm or more, or none",
    ),
}

# A sound plan of its own for what shows only beside another wish.
BEGUN = {
    "twice what there is": with_spec("size", ppi=720.0),
    "150 ppi": with_printer(input_ppi=(199.0, 300.0, 360.0, 600.0, 720.0)),
    "place not in the file": with_spec("sheet", placement=Placement.OPTICAL_CENTRE),
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
    "credited, located": with_facts(creator="Invented", has_location=True),
    "longest print": with_printer(longest_print_mm=420.0),
    "all sheets that are left but one": with_spec("delivery", copies=10),
    "same size by its edges": with_paper(stock=(Stock(sheet="297x420 mm"),)),
    "stock not written down": with_paper(stock=()),
    "200 ppi for such a printer": lambda plan: with_spec("size", ppi=200.0)(
        with_printer(input_ppi=(200.0, 720.0))(plan)
    ),
    "mat that covers its edges": with_spec(
        "mount", mat_opening_width_mm=114.0, mat_opening_height_mm=74.0
    ),
    "mat cut to its frame": with_spec("mount", mat_overlap_mm=3, **frame_of(500, 400)),
    "mat with as much play as a rebate": with_spec(
        "mount", mat_overlap_mm=3, **mat_of(500, 400), **frame_of(503, 403)
    ),
    "most white that is held": with_spec("mount", reveal_mm=105.5),
    "room to sign": with_spec("mount", reveal_mm=5.0, reveal_below_mm=10.0),
    "deep wrap": with_spec("mount", wrap_mm=25.0, stretcher_depth_mm=20.0),
    "border that can be cut": with_spec("sheet", border_mm=3.0),
    "picture alone, centred": with_spec("delivery", extent=Extent.PICTURE),
}


@pytest.mark.parametrize("name", ONE_THING)
def test_one_thing_changed_gives_one_finding(sound, name):
    change, (level, about), problem, remedy = ONE_THING[name]
    begun = BEGUN[name](sound) if name in BEGUN else sound
    assert check_plan(begun) == []
    (finding,) = check_plan(change(begun))
    assert (finding.level, finding.topic) == (level, about)
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
    assert [(it.level, it.topic) for it in found] == [
        (WARN, "bit depth"),
        (NOTE, "8 bits"),
    ]
    working = with_spec("delivery", colour=Delivery.WORKING_COLOUR)(eight)
    assert [it.topic for it in check_plan(with_printer(bit_depths=(16,))(working))] == [
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


@pytest.mark.parametrize(
    ("unit", "told", "width_mm"),
    # 2000 px at 200 to the inch are 10 in, or 254 mm.
    [
        (LengthUnit.MM, "254 mm wide", 254.0),
        (LengthUnit.INCHES, "10.00 in wide", 254.0),
    ],
)
def test_size_that_cures_is_told_at_once(sound, unit, told, width_mm):
    """A smaller print is looked at from nearer, so half a way smaller cures nothing."""
    large = with_facts(width_px=2000, height_px=1333)(
        with_spec(
            "sheet",
            media_size="custom",
            width_mm=800.0,
            height_mm=1000.0,
            placement=Placement.CENTRED,
        )(sound)
    )
    spec = replace(large.spec, lengths_in=unit)
    wide = with_spec("size", width_mm=850.0)(made_again(large, spec=spec))
    (finding,) = [it for it in check_plan(wide) if it.topic == "enlargement"]
    assert finding.level is WARN
    assert finding.remedy.startswith(f"Print at most {told},")
    for size_mm, found in ((504.0, True), (width_mm, False)):
        smaller = check_plan(with_spec("size", width_mm=size_mm)(wide))
        assert ("enlargement" in [it.topic for it in smaller]) is found


def test_crop_counts_only_the_master_pixels_that_it_prints(sound):
    fill = with_spec("size", rule=SizeRule.FILL, width_mm=60.0, height_mm=120.0)(sound)
    # 2400 × 1600 px cropped to 1 : 2 are 800 px wide, on 60 mm 338.7 to the inch.
    assert "enlargement" not in [it.topic for it in check_plan(fill)]
    wide = with_spec("size", rule=SizeRule.FILL, width_mm=110.0, height_mm=220.0)(sound)
    # On 110 mm they are 184.7.
    assert "gives 184.7 of its own" in check_plan(wide)[0].problem


def test_margins_alone_are_no_finding(sound):
    margins = Margins(leading_mm=60, trailing_mm=60, left_mm=60, right_mm=60)
    assert check_plan(with_feed(margins=margins)(sound)) == []


def on_a_roll(*stock):
    def change(plan):
        rolled = with_paper(stock=stock)(plan)
        return with_feed(takes=MediaForm.ROLLS)(rolled)

    return change


def test_roll_is_enough_for_as_many_prints_as_lie_on_it(sound):
    """An A3 sheet enters by its shorter edge, and takes 0.420 m of the roll."""
    enough = on_a_roll(Stock(roll_width_mm=297.0, left_m=1.26))(sound)
    assert check_plan(with_spec("delivery", copies=2)(enough)) == []
    (finding,) = check_plan(with_spec("delivery", copies=3)(enough))
    assert (finding.level, finding.topic) == (NOTE, "paper runs low")
    assert finding.problem.startswith("1.26 m of ")
    (finding,) = check_plan(with_spec("delivery", copies=4)(enough))
    assert (finding.level, finding.topic) == (WARN, "paper left")
    assert "is left for 3" in finding.problem
    (finding,) = check_plan(on_a_roll(Stock(roll_width_mm=610.0, left_m=9.0))(sound))
    assert "not kept as a roll 297 mm wide" in finding.problem


# ISO 8596, acuity 1.0: one minute of arc at 1 m is 0.29089 mm, 87.3 to the inch.
@pytest.mark.parametrize(
    ("width_px", "level"), [(412, WARN), (413, NOTE), (944, NOTE), (945, None)]
)
def test_distance_forgives_what_the_eye_does_not_resolve(sound, width_px, level):
    """On 120 mm, 412 px are 87.2 to the inch and 413 are 87.4; 945 are 200.0."""
    far = with_spec("sharpen", distance_mm=1000.0)(sound)
    found = check_plan(with_facts(width_px=width_px, height_px=width_px)(far))
    about = [it.level for it in found if it.topic == "enlargement"]
    assert about == ([level] if level else [])
    if level:
        assert "87 " in found[0].problem or "87." in found[0].problem
        assert "ISO 8596" in found[0].source


@pytest.mark.parametrize(
    ("width_mm", "height_mm", "level", "share"),
    [
        (60.0, 40.0, None, ""),
        (60.0, 45.0, NOTE, "11%"),
        (60.0, 60.0, NOTE, "33%"),
        (40.0, 60.0, WARN, "56%"),  # 3:2 laid across: 1 - 4/9
        (60.0, 20.0, NOTE, "50%"),
        (70.0, 14.0, WARN, "70%"),
    ],
)
def test_crop_is_weighed_by_what_it_cuts(sound, width_mm, height_mm, level, share):
    sizes = {"width_mm": width_mm, "height_mm": height_mm}
    found = check_plan(with_spec("size", rule=SizeRule.FILL, **sizes)(sound))
    assert [it.level for it in found] == ([level] if level else [])
    if level:
        assert f"cuts {share} of" in found[0].problem
        # Two fifths where the picture lies across its place, three where it does not.
        limit = {NOTE: "10%", WARN: "40%" if width_mm < height_mm else "60%"}[level]
        assert f"more than {limit} is" in found[0].problem


def test_border_that_reaches_into_the_margins_would_be_scaled(sound):
    """The front slot prints up to 20 mm from the short edges of a landscape sheet."""
    alone = with_spec("delivery", extent=Extent.PICTURE)(sound)
    wide = with_spec("sheet", border_mm=35.0)(with_spec("size", width_mm=330.0)(alone))
    found = [it for it in check_plan(wide) if it.topic == "driver scaling"]
    # (420 - 330) / 2 - 35 = 10 mm from the edge, 10 mm into the margin.
    assert [it.level for it in found] == [WARN]
    assert "reaches 10.0 mm into the margins" in found[0].problem
    assert "a border of 25.0 mm or less" in found[0].remedy
    less = with_spec("sheet", border_mm=25.0)(wide)
    assert "driver scaling" not in [it.topic for it in check_plan(less)]


def test_change_since_the_decision_is_told(sound):
    facts, setup = sound.facts, sound.setup
    same = Decided(master_sha256=facts.sha256, profile_sha256=setup.profile_sha256)
    assert check_plan(sound, decided=same) == []
    (finding,) = check_plan(sound, decided=replace(same, master_sha256="ab" * 32))
    assert (finding.level, finding.topic) == (WARN, "master changed")
    assert f"begins {facts.sha256[:8]}, not abababab" in finding.problem


def test_profile_that_serves_two_papers_is_told(sound, studio):
    papers = studio.book.papers
    assert check_plan(sound, papers=papers) == []
    satin = papers[0].on(sound.printer)
    for shared in (
        {"profile_sha256": sound.setup.profile_sha256},
        {"profile": sound.setup.profile, "profile_sha256": ""},
    ):
        other = replace(papers[0], on_printer=(replace(satin, **shared),))
        (finding,) = check_plan(sound, papers=(other, papers[2]))
        assert (finding.level, finding.topic) == (WARN, "profile shared")
        assert "also that of Alder Satin 260 on Studio 24 (photo" in finding.problem


def test_a_plan_is_checked_in_no_time(sound):
    """Measured at 20 to 40 µs; a slider must not feel it. Ten times that is a fault."""
    started = perf_counter()
    for _ in range(100):
        check_plan(sound)
    assert (perf_counter() - started) / 100 < 2e-3


# Chromaticities under D50 by the Bradford transform. The colorants of ICC.1 profiles of
# sRGB and opRGB, and of ROMM RGB (ISO 22028-2), as published by Lindbloom
# ("RGB/XYZ Matrices", Bradford-adapted to D50; four digits, from memory).
SRGB_D50 = [
    [0.4361, 0.3851, 0.1431],
    [0.2225, 0.7169, 0.0606],
    [0.0139, 0.0971, 0.7141],
]
OPRGB_D50 = [
    [0.6097, 0.2053, 0.1492],
    [0.3111, 0.6257, 0.0632],
    [0.0195, 0.0609, 0.7446],
]
ROMM_D50 = [[0.7977, 0.1352, 0.0313], [0.2880, 0.7119, 0.0001], [0.0, 0.0, 0.8249]]


@pytest.mark.parametrize(
    ("space", "colorants"),
    [
        (NamedSpace.SRGB, SRGB_D50),
        (NamedSpace.OPRGB, OPRGB_D50),
        (NamedSpace.ROMM_RGB, ROMM_D50),
    ],
)
def test_gamut_of_chromaticities_is_compared_under_one_white(space, colorants):
    """Both triangles under D50: sRGB is then once sRGB, and not 0.97 times."""

    def area(xyz):
        x, y = (np.array(xyz) / np.sum(xyz, axis=0))[:2]
        return abs(np.linalg.det(np.stack([x, y, np.ones(3)]))) / 2

    times = times_srgb(named_profile(space))
    assert times == pytest.approx(area(colorants) / area(SRGB_D50), rel=2e-3)


# Pixels


@pytest.fixture
def sheet(master_of, plan_for):
    """Slow waves of middle tones: nothing that a paper could not print."""
    rows, columns = np.indices((420, 640))
    wave = 0.4 + 0.15 * np.sin(rows / 60) * np.cos(columns / 85)
    codes = np.rint(wave * 65535).astype(np.uint16)
    master = master_of(np.stack([codes] * 3, axis=-1))
    return build_sheet(master, plan_for(master, width_mm=40.0))


def test_files_of_a_sound_sheet_tell_nothing(sheet):
    assert sheet.plan.setup.profile_sha256 == sheet.output.sha256
    assert check_pixels(sheet) == []


def test_other_profile_than_in_the_book_stops_the_print(sheet):
    sheet.plan = with_pair(profile_sha256="ab" * 32)(sheet.plan)
    (finding,) = check_pixels(sheet)
    assert (finding.level, finding.topic) == (STOP, "profile changed")
    assert f"begins {sheet.output.sha256[:8]}, not abababab" in finding.problem
    assert "record the new one's hash" in finding.remedy


def test_profile_without_a_recorded_hash_is_not_compared(sheet):
    sheet.plan = with_pair(profile_sha256="")(sheet.plan)
    assert check_pixels(sheet) == []


def test_profile_that_changed_since_the_decision_is_told(sheet):
    same = Decided(
        master_sha256=sheet.plan.facts.sha256, profile_sha256=sheet.output.sha256
    )
    assert check_pixels(sheet, decided=same) == []
    (finding,) = check_pixels(sheet, decided=replace(same, profile_sha256="ab" * 32))
    assert (finding.level, finding.topic) == (WARN, "profile since decision")


def test_master_in_a_printers_colour_stops_the_print(sheet, studio):
    """Converting it again would apply the paper's losses twice."""
    sheet.master.source_profile = open_profile(studio.scenario.satin_profile)
    (finding,) = check_pixels(sheet)
    assert (finding.level, finding.topic) == (STOP, "converted twice")
    assert "carries an output profile" in finding.problem
    assert "working space" in finding.remedy


def test_profile_for_other_device_colours_than_the_drivers_stops_the_print(sheet):
    """RGB numbers in a driver that takes CMYK are no colours at all."""
    assert sheet.output.space == "RGB"
    sheet.plan = with_printer(driver_colour=DriverColour.CMYK)(sheet.plan)
    (finding,) = check_pixels(sheet)
    assert (finding.level, finding.topic) == (STOP, "profile's device colour")
    assert "is for RGB, and the driver of" in finding.problem
    assert "takes CMYK" in finding.problem
    # The remedy's own setting cures.
    assert "driver takes, if that is RGB" in finding.remedy
    sheet.plan = with_printer(driver_colour=DriverColour.RGB)(sheet.plan)
    assert check_pixels(sheet) == []


def test_cmyk_profile_on_an_rgb_driver_stops_the_print(sheet, fogra39_path):
    plan = with_pair(profile=str(fogra39_path), profile_sha256="")(sheet.plan)
    found = check_pixels(build_sheet(sheet.master, plan))
    assert (STOP, "profile's device colour") in [(it.level, it.topic) for it in found]
    plan = with_printer(driver_colour=DriverColour.CMYK)(plan)
    found = check_pixels(build_sheet(sheet.master, plan))
    assert "profile's device colour" not in [it.topic for it in found]


def test_white_of_another_paper_is_told(sheet):
    """CIEDE2000 of two whites 2 L* apart is near 1.2, of 8 b* apart above 6."""
    near = replace(sheet.plan.paper, white_lab=(97.9, -0.3, 1.6))
    sheet.plan = replace(sheet.plan, paper=near)
    assert check_pixels(sheet) == []
    far = replace(near, white_lab=(95.9, -0.3, 9.6))
    sheet.plan = replace(sheet.plan, paper=far)
    (finding,) = check_pixels(sheet)
    assert (finding.level, finding.topic) == (WARN, "profile's white")


def patched(master_of, plan_for, top, left, width=64, height=42):
    pixels = np.full((420, 640, 3), 30_000, np.uint16)
    pixels[top : top + height, left : left + width] = 65_535
    master = master_of(pixels)
    # A print pixel for each of the master's: a hard edge that is resampled rings.
    sharpen = {"gain": 0.3, "halo_limit_share": 0.1}
    width_mm = 640 / 300 * 25.4
    return build_sheet(master, plan_for(master, width_mm=width_mm, **sharpen))


@pytest.mark.slow
def test_holes_of_bare_paper_are_no_sky(master_of, plan_for):
    """A hundredth of the picture without ink: inside it, and at its upper edge."""
    hole = patched(master_of, plan_for, 200, 300)
    found = {it.topic: it for it in check_pixels(hole)}
    # 64 × 42 of 640 × 420 pixels at the end of the scale are 1 %.
    assert set(found) == {"bare highlights", "ends of the scale"}
    assert found["bare highlights"].problem.startswith(("1.0%", "0.9%"))
    # 64 of 2 × (640 + 420) pixels of the edge are 3 %: not worth a word.
    (finding,) = check_pixels(patched(master_of, plan_for, 0, 300))
    assert finding.topic == "ends of the scale"


@pytest.mark.slow
def test_white_edge_is_measured_along_the_edge(master_of, plan_for):
    """640 + 2 × 42 of 2 × (640 + 420) pixels are 34 %."""
    sky = patched(master_of, plan_for, 0, 0, width=640)
    finding, ends = check_pixels(sky)
    assert ends.topic == "ends of the scale"
    assert (finding.level, finding.topic) == (WARN, "white edge")
    assert finding.problem.startswith(("34%", "33%", "35%"))


def test_content_at_hand_is_used(sheet):
    """A picture that measures as sharpened is not measured again."""
    content = picture_content(sheet)
    sharp = replace(
        content,
        edge_count=5000,
        master_edge_sigma_px=0.6,
        edge_sigma_px=0.6,
        overshoot_share=0.3,
        already_sharpened=True,
    )
    sheet.plan = with_spec("sharpen", gain=0.3)(sheet.plan)
    abouts = [it.topic for it in check_pixels(sheet, content=sharp)]
    assert "sharpened before" in abouts
    few = replace(sharp, edge_count=20)
    assert "sharpened before" not in [
        it.topic for it in check_pixels(sheet, content=few)
    ]


@pytest.mark.slow
def test_advised_sharpening_stays_within_the_limits(sheet):
    """What the choice recommends is never warned of: both use one prediction."""
    content = replace(
        picture_content(sheet),
        edge_count=5000,
        master_edge_sigma_px=0.7,
        edge_sigma_px=0.7,
        overshoot_share=0.0,
    )
    for distance_mm in (250.0, 400.0, 800.0):
        advice = chosen_sharpening(sheet.plan, content, distance_mm=distance_mm)
        advised = varied(sheet, replace(sheet.plan.spec, sharpen=advice.spec))
        assert check_pixels(advised, content=content) == []


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
    assert {it.topic for it in found} == {ONE_THING[name][1][1] for name in names}
    assert len(found) == len(names)
    levels = [it.level for it in found]
    assert levels == sorted(levels, key=[STOP, WARN, NOTE].index)
