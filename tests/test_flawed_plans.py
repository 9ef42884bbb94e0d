"""
Plans with one flaw each are caught by the finding that is meant for it.

A row is a sound print, what is changed in it, and the finding that must follow; the
sound print must not have it, and following its remedy is `test_remedies_cure`'s part.
Rows are added to `FLAWS`; `Job` and `desk` are those of `test_seeded_faults`, whose
pictures are drawn and whose studio is invented.
"""

from dataclasses import replace

import pytest
from test_seeded_faults import (
    IN_SRGB,
    MATTED,
    NOTE,
    ON_SATIN,
    PLAIN,
    SMALL_SHEET,
    STOP,
    STRETCHED,
    WARN,
    Desk,
    a,
    fill,
)

from printplan.media import MediaForm, Stock
from printplan.spec import (
    Delivery,
    Extent,
    Orientation,
    Placement,
    SizeRule,
)
from printplan.units import LengthUnit

ROLL = Stock(roll_width_mm=610.0, left_m=2.0)
ON_ROLL = ON_SATIN.but(
    feed_has={"takes": MediaForm.ROLLS},
    paper_has={"stock": (ROLL,)},
    sheet={"media_size": "custom", "width_mm": 610.0, "height_mm": 300.0},
    size=a(300.0),
    sharpen={"distance_mm": 3000.0},
)
BY_HEIGHT = {"rule": SizeRule.HEIGHT, "height_mm": 40.0, "ppi": 300.0}


@pytest.fixture(scope="module")
def desk(studio, tmp_path_factory):
    made = Desk(studio, tmp_path_factory.mktemp("flawed"))
    yield made
    for master in made.opened.values():
        master.close()


# A name; a sound print; the flaw; the finding's weight and what it is about.
FLAWS = [
    # Sizes
    (
        "centimetres typed as millimetres",
        PLAIN.but(sheet={"media_size": "A2"}, size=a(100.0)),
        {"size": a(38.0)},
        (WARN, "small on its sheet"),
    ),
    (
        "the same by its height",
        PLAIN.but(sheet={"media_size": "A2"}, size=BY_HEIGHT | {"height_mm": 90.0}),
        {"size": BY_HEIGHT | {"height_mm": 25.0}},
        (WARN, "small on its sheet"),
    ),
    (
        "too large for the chosen distance",
        PLAIN.but(sharpen={"distance_mm": 400.0}),
        {"size": a(150.0)},
        (WARN, "enlargement"),
    ),
    (
        "low resolution for a print service",
        IN_SRGB,
        {"size": a(60.0, 120.0)},
        (WARN, "low resolution"),
    ),
    (
        "many pixels for nothing, for a print service",
        IN_SRGB,
        {"size": a(60.0, 1200.0)},
        (NOTE, "wasted resolution"),
    ),
    (
        "width and height exchanged",
        PLAIN.but(size=fill(60.0, 42.0)),
        {"size": fill(42.0, 60.0)},
        (WARN, "crop"),
    ),
    # Short lengths of roll
    (
        "short length on a roll that is not kept",
        ON_ROLL,
        {"sheet": {"width_mm": 432.0}},
        (WARN, "not in stock"),
    ),
    (
        "more short lengths than are left",
        ON_ROLL,
        {"delivery": {"copies": 7}},  # 2 m hold six of 300 mm
        (WARN, "paper left"),
    ),
    (
        "length below what the path cuts",
        ON_ROLL.but(size=a(100.0)),
        {"sheet": {"height_mm": 120.0}},
        (STOP, "sheet in feed path"),
    ),
    (
        "length above what the printer makes",
        ON_ROLL.but(feed_has={"longest_mm": 18_000.0}),
        {"sheet": {"height_mm": 1400.0}},
        (STOP, "longest print"),
    ),
    (
        "roll wider than the path",
        ON_ROLL,
        {"feed_has": {"widest_mm": 600.0}},
        (STOP, "sheet in feed path"),
    ),
    # Place and border
    (
        "upright sheet under a wide picture by hand",
        ON_ROLL.but(size=a(250.0)),
        {"sheet": {"orientation": Orientation.PORTRAIT}},
        (NOTE, "orientation"),
    ),
    (
        "border that cannot be cut evenly, in inches",
        PLAIN,
        {"sheet": {"border_mm": 2.54}},
        (WARN, "thin border"),
    ),
    (
        "offset that the file does not hold",
        SMALL_SHEET,
        {"sheet": {"placement": Placement.OFFSET, "offset_right_mm": 5.0}},
        (WARN, "place lost"),
    ),
    (
        "border into the margins of the picture's own file",
        PLAIN.but(delivery={"extent": Extent.PICTURE}, size=a(200.0)),
        {"sheet": {"border_mm": 37.0}},
        (WARN, "driver scaling"),
    ),
    # Mount
    (
        "mat as large as the picture",
        MATTED,
        {"mount": {"mat_opening_width_mm": 60.0, "mat_opening_height_mm": 40.0}},
        (WARN, "mat opening"),
    ),
    (
        "mat that covers one edge by half a millimetre",
        MATTED,
        {"mount": {"mat_opening_height_mm": 39.0}},
        (WARN, "mat opening"),
    ),
    (
        "mat that covers less than usual",
        MATTED,
        {"mount": {"mat_opening_width_mm": 56.0}},
        (NOTE, "mat opening"),
    ),
    (
        "bar so deep that no wrap is left",
        STRETCHED,
        {"mount": {"stretcher_depth_mm": 30.0}},
        (WARN, "wrap"),
    ),
    # Paper
    (
        "sheet too thick for the path, in working colour too",
        PLAIN.but(delivery={"colour": Delivery.WORKING_COLOUR}),
        {"paper_has": {"thickness_um": 360.0}},
        (STOP, "paper thickness"),
    ),
    (
        "size of sheet that is kept as a roll alone",
        PLAIN,
        {"paper_has": {"stock": (replace(ROLL, roll_width_mm=210.0),)}},
        (WARN, "not in stock"),
    ),
]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("sound", "flaw", "wanted"), [it[1:] for it in FLAWS], ids=[it[0] for it in FLAWS]
)
def test_flaw_is_caught_by_the_finding_meant_for_it(desk, sound, flaw, wanted):
    assert wanted not in abouts(desk.findings(sound))
    found = desk.findings(sound.but(**flaw))
    assert wanted in abouts(found), "\n".join(map(str, found))


def abouts(found):
    return [(it.level, it.topic) for it in found]


def test_every_flaw_has_a_name_of_its_own():
    assert len({name for name, *_ in FLAWS}) == len(FLAWS) >= 15


OF_OUR_STUDIO = {
    "stock": {"paper_has": {"stock": (Stock(sheet="A0", sheets_left=0),)}},
    "copies": {"delivery": {"copies": 999}},
    "feed path": {"feed_has": {"widest_mm": 150.0, "narrowest_mm": 140.0}},
    "thickness": {"paper_has": {"thickness_um": 3000.0}},
    "longest print": {"printer_has": {"longest_print_mm": 100.0}},
    "black ink": {"printer_has": {"black_inks": ("matte black",)}},
    "media type": {"pair_has": {"media_type": ""}},
    "hash": {"pair_has": {"profile_sha256": ""}},
    "other profile's hash": {"pair_has": {"profile_sha256": "ab" * 32}},
    "resolution": {"size": a(60.0, 310.0)},
    "profile of another paper": {"pair_has": {"profile": "Alder Satin 260"}},
}


@pytest.mark.slow
@pytest.mark.parametrize("name", OF_OUR_STUDIO)
def test_print_service_hears_nothing_of_our_printer(desk, name):
    """What stops or delays us at our own printer says nothing to somebody else's."""
    assert desk.findings(PLAIN.but(**OF_OUR_STUDIO[name])) != desk.findings(PLAIN)
    found = desk.findings(IN_SRGB.but(**OF_OUR_STUDIO[name]))
    assert abouts(found) == abouts(desk.findings(IN_SRGB))


@pytest.mark.slow
def test_findings_speak_the_unit_that_was_asked_in(desk):
    """Problem and remedy of everything that has a length, and no millimetre in it."""
    of_lengths = {
        "small on its sheet",
        "thin border",
        "mat opening",
        "mat beyond sheet",
        "wrap",
        "sheet in feed path",
        "longest print",
        "not in stock",
        "orientation",
        "driver scaling",
        "place lost",
        "enlargement",
    }
    told = set()
    for _, sound, flaw, (_, about) in FLAWS:
        for it in desk.findings(sound.but(**flaw, unit=LengthUnit.INCHES)):
            if it.topic == about and about in of_lengths:
                words = f"{it.problem} {it.remedy}"
                assert " mm" not in words, it
                assert " in" in words, it
                told.add(about)
    assert len(told) >= 9
