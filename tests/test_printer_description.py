"""A printer of one's own: what it answers, what a class begins with, who said what."""

from dataclasses import replace
from pathlib import Path

import pytest
from ipp_printers import needs_printer, real_printer, service_discovery

from printplan.errors import RecordError
from printplan.media import DriverColour, Margins, MediaForm
from printplan.record.book_changes import add_printer
from printplan.record.ipp.keywords import ResolutionUnit, ValueTag
from printplan.record.ipp.media_described import _size_name, feeds_described
from printplan.record.ipp.message import (
    Attribute,
    Localised,
    Range,
    Resolution,
    Value,
    one_value,
)
from printplan.record.ipp.printer_description import (
    _inks,
    ask_printer,
    described_printer,
)
from printplan.record.paper_book import PaperBook, write_paper_book
from printplan.record.printer_classes import PrinterClass, class_for, draft_of_class
from printplan.record.printer_draft import SaidBy
from printplan.units import LengthUnit

pytestmark = pytest.mark.xdist_group("ipp-printer")

ANSWERS = Path(__file__).parent / "data" / "printers" / "photo-printer.conf"


@pytest.fixture(scope="module")
def discovery(tmp_path_factory):
    with service_discovery(tmp_path_factory.mktemp("bus")) as env:
        yield env


@pytest.fixture(scope="module")
def photo_printer(discovery, tmp_path_factory):
    folder = tmp_path_factory.mktemp("printer")
    name = "The tall one"
    with real_printer(folder, discovery, answers=ANSWERS, name=name) as made:
        yield made


@pytest.fixture(scope="module")
def asked(photo_printer):
    return ask_printer(photo_printer.uri)


# A real printer; the expected values are those of its file of answers, which is
# written in hundredths of a millimetre (PWG 5100.7).


@needs_printer
def test_each_source_has_its_own_sizes_and_margins(asked):
    main, manual, roll = asked.printer.feeds
    assert [it.name for it in (main, manual, roll)] == ["main", "manual", "roll-1"]
    # The largest of A4's and of 13x19 in's, not those of the size without margins.
    assert main.margins == Margins(
        leading_mm=3.1, trailing_mm=14, left_mm=3.4, right_mm=3.4
    )
    assert (main.narrowest_mm, main.widest_mm) == (101.6, 330.2)
    assert (main.shortest_mm, main.longest_mm) == (152.4, 482.6)
    assert main.borderless == ("4x6 in",)
    assert (manual.margins.leading_mm, manual.margins.trailing_mm) == (20, 30)
    assert (manual.shortest_mm, manual.longest_mm) == (254, 1295.4)
    assert manual.borderless == ()
    assert roll.takes is MediaForm.ROLLS
    assert (roll.narrowest_mm, roll.widest_mm) == (329, 329)
    assert (roll.shortest_mm, roll.longest_mm) == (200, 15_000)
    assert {it.margins_source for it in asked.printer.feeds} == {"the printer"}


@needs_printer
def test_what_the_printer_says_of_itself_is_filled_in(asked, photo_printer):
    printer = asked.printer
    assert printer.name == "The tall one"
    assert printer.ipp_address == photo_printer.uri
    assert printer.media_types == ("photographic-matte", "photographic-glossy")
    assert printer.qualities == ("normal", "high")
    assert printer.input_ppi == (360, 720)
    assert printer.driver_resolutions == ("360 dpi", "720 × 360 dpi", "720 dpi")
    assert printer.black_inks == ("photo black", "matte black")
    assert printer.inks == ("photo black", "matte black", "cyan")
    assert printer.driver_colour is DriverColour.RGB
    assert printer.bit_depths == (8, 16)
    assert {it.thickest_um for it in printer.feeds} == {1300}
    assert "one range of thickness" in " ".join(asked.notes)
    assert asked.to_ask == ()


@needs_printer
def test_a_plain_printer_leaves_questions_open(discovery, tmp_path):
    """It names no thickness; sizes of its list that name no source go in anywhere."""
    with real_printer(tmp_path, discovery) as made:
        draft = ask_printer(made.uri, name="Hallway")
    assert draft.printer.name == "Hallway"
    assert draft.by("name") is SaidBy.TYPED
    main, photo = draft.printer.feeds
    assert (main.name, photo.name) == ("main", "photo")
    # A4 (ISO 216) is the narrowest of them, 8.5x14 in the longest.
    assert (main.narrowest_mm, main.longest_mm) == (210, 355.6)
    assert photo.narrowest_mm == 76.2
    assert photo.borderless == ("3x5 in", "3.5x5 in", "4x6 in", "A6", "5x7 in")
    asked = {it.what: it.words for it in draft.to_ask}
    assert asked["main: thickness"] == (
        "our choice, look it up in the printer's manual"
    )
    assert not any("margins" in what for what in asked)


def test_a_printer_that_is_not_there_is_told():
    with pytest.raises(RecordError, match="is no address of a printer"):
        ask_printer("http://localhost")


# Answers that are short or strange.


def several(name, tag, *contents):
    return Attribute(name, tuple(Value(tag, content) for content in contents))


def answer(*attributes):
    return {it.name: it for it in attributes}


def keywords(name, *words):
    return several(name, ValueTag.KEYWORD, *words)


def size(x, y):
    tag = ValueTag.INTEGER
    return (
        one_value("x-dimension", tag, x),
        one_value("y-dimension", tag, y),
    )


def test_a_silent_printer_is_all_our_choice():
    draft = described_printer({})
    assert all(it.by is SaidBy.OUR_CHOICE for it in draft.rows())
    assert {it.margins_source for it in draft.printer.feeds} == {
        "our choice, check with the test page"
    }
    assert "give it one" in " ".join(draft.notes)


def test_a_brand_is_no_name():
    """Many printers carry maker and model where their owner's name for it belongs."""
    words = ValueTag.TEXT_WITHOUT_LANGUAGE
    brand = one_value("printer-make-and-model", words, "No Maker 13")
    info = one_value("printer-info", words, "no maker 13")
    name = one_value("printer-name", ValueTag.NAME_WITHOUT_LANGUAGE, "loft")
    assert described_printer(answer(brand, info, name)).printer.name == "loft"
    draft = described_printer(answer(brand, info))
    assert "No Maker" not in draft.printer.name
    assert draft.by("name") is SaidBy.OUR_CHOICE


def test_sizes_without_a_database_are_taken_from_the_list_of_sizes():
    """A sheet that is told with its longer edge across goes in by the shorter."""
    sizes = several(
        "media-size-supported",
        ValueTag.BEGIN_COLLECTION,
        size(42_000, 29_700),
        size(21_000, 29_700),
    )
    edges = ("top", "bottom", "left", "right")
    margins = [
        several(f"media-{edge}-margin-supported", ValueTag.INTEGER, 0, 300 + number)
        for number, edge in enumerate(edges)
    ]
    (feed,) = described_printer(answer(sizes, *margins)).printer.feeds
    assert (feed.narrowest_mm, feed.widest_mm) == (210, 297)
    assert (feed.shortest_mm, feed.longest_mm) == (297, 420)
    assert feed.margins == Margins(
        leading_mm=3.0, trailing_mm=3.01, left_mm=3.02, right_mm=3.03
    )


def test_a_roll_is_known_by_its_tray_or_its_word():
    tray = several(
        "printer-input-tray",
        ValueTag.OCTET_STRING,
        b"type=continuousRoll;mediafeed=0;name=rear",
        b"type=sheetFeedManual;mediafeed=0;name=manual",
    )
    sources = keywords("media-source-supported", "auto", "rear", "manual", "main-roll")
    media = feeds_described(answer(tray, sources))
    assert media.sources == ("rear", "manual", "main-roll")
    assert media.rolls == {"rear", "main-roll"}


def test_an_endless_roll_leaves_its_length_open():
    """Its length of 0 is none; widths in whole inches are those of the class."""
    entry = (
        Attribute("media-size", (Value(ValueTag.BEGIN_COLLECTION, size(61_000, 0)),)),
        one_value("media-source", ValueTag.NAME_WITH_LANGUAGE, Localised("en", "roll")),
    )
    database = one_value("media-col-database", ValueTag.BEGIN_COLLECTION, entry)
    draft = described_printer(
        answer(keywords("media-source-supported", "roll"), database)
    )
    (roll,) = draft.printer.feeds
    assert roll.widest_mm == 610
    assert draft.by("roll: across the feed") is SaidBy.PRINTER
    assert draft.by("roll: along the feed") is SaidBy.OUR_CHOICE


def test_resolutions_per_centimetre_become_those_per_inch():
    """118 dots per cm are 299.72 per inch: 118 × 2.54."""
    told = several(
        "printer-resolution-supported",
        ValueTag.RESOLUTION,
        Resolution(118, 118, ResolutionUnit.DPCM),
        Resolution(9600, 2400),
    )
    draft = described_printer(answer(told))
    assert draft.printer.input_ppi == (299.72,)
    assert draft.printer.driver_resolutions == ("118 dpcm", "9600 × 2400 dpi")


@pytest.mark.parametrize(
    ("kinds", "colour", "bits", "by"),
    [
        (["cmyk_8", "sgray_8"], DriverColour.CMYK, (8,), SaidBy.PRINTER),
        (["cmyk_16", "srgb_8"], DriverColour.RGB, (8,), SaidBy.PRINTER),
        (["sgray_8"], DriverColour.RGB, (8, 16), SaidBy.OUR_CHOICE),
    ],
)
def test_what_the_driver_takes_is_read_from_its_kinds_of_raster(
    kinds, colour, bits, by
):
    told = keywords("pwg-raster-document-type-supported", *kinds)
    draft = described_printer(answer(told))
    assert (draft.printer.driver_colour, draft.printer.bit_depths) == (colour, bits)
    assert draft.by("driver_colour") is by


def test_an_impossible_answer_is_refused_with_a_way_out():
    told = one_value(
        "media-thickness-supported", ValueTag.RANGE_OF_INTEGER, Range(1, 90_000)
    )
    with pytest.raises(RecordError, match=r"no printer can be.*thickest_um.*class"):
        described_printer(answer(told))


def test_an_impossible_size_is_refused_with_a_way_out():
    sizes = several("media-size-supported", ValueTag.BEGIN_COLLECTION, size(10, 10))
    with pytest.raises(RecordError, match=r"no printer can be.*class"):
        described_printer(answer(sizes))


# Classes


@pytest.mark.parametrize("kind", PrinterClass)
def test_a_class_begins_with_a_whole_printer(kind, tmp_path):
    """It goes into a book as it is, and everything of it is marked as our choice."""
    draft = draft_of_class(kind, "Mine")
    book = tmp_path / "book.toml"
    write_paper_book(PaperBook(printers=(), papers=()), book)
    assert add_printer(book, draft.printer) == draft.printer
    open_points = {it.what for it in draft.to_ask}
    assert {"black inks", "takes without resampling"} <= open_points
    assert {"sheet feeder: margins", "straight path: thickness"} <= open_points
    assert {it.by for it in draft.rows()} == {SaidBy.OUR_CHOICE, SaidBy.TYPED}


def test_widths_of_classes_are_those_of_their_names():
    """An inch has 25.4 mm; A3+ is 13x19 in (common practice, no source)."""
    widest = {
        kind: max(it.widest_mm for it in draft_of_class(kind).printer.feeds)
        for kind in PrinterClass
    }
    assert widest == pytest.approx(
        {
            PrinterClass.A3_PLUS: 13 * 25.4,
            PrinterClass.INCH_17: 17 * 25.4,
            PrinterClass.ROLL_24: 24 * 25.4,
            PrinterClass.ROLL_44: 44 * 25.4,
        }
    )


def test_a_printers_class_is_found_by_its_paper():
    assert class_for(0) is PrinterClass.A3_PLUS
    assert class_for(329, takes_rolls=True) is PrinterClass.ROLL_24
    assert class_for(610) is PrinterClass.ROLL_24
    assert class_for(1118) is PrinterClass.ROLL_44
    assert class_for(5000) is PrinterClass.ROLL_44


# Who said what


def test_what_a_person_changes_was_typed_and_the_rest_stays():
    draft = draft_of_class(PrinterClass.A3_PLUS, "Mine")
    printer = draft.printer
    feeder, path = printer.feeds
    wider = replace(feeder, margins=replace(feeder.margins, left_mm=3.2))
    slot = replace(path, name="rear slot")
    edited = draft.typed(replace(printer, black_inks=("black",), feeds=(wider, slot)))
    assert edited.by("black_inks") is SaidBy.TYPED
    assert edited.by("sheet feeder: margins") is SaidBy.TYPED
    assert edited.by("sheet feeder: thickness") is SaidBy.OUR_CHOICE
    assert edited.by("rear slot: thickness") is SaidBy.TYPED
    assert "straight path: thickness" not in edited.said
    assert [it.margins_source for it in edited.printer.feeds] == ["typed", "typed"]


def test_lengths_are_told_in_the_studios_unit():
    draft = draft_of_class(PrinterClass.INCH_17)
    rows = {it.what: it.value for it in draft.rows(LengthUnit.INCHES)}
    assert rows["sheet feeder: across the feed"] == "3.5 to 17 in"


def test_a_sheet_has_the_edges_that_its_name_says():
    """PWG 5101.1, 5: edges and unit end the name of a size; in hundredths of mm."""
    across, along = Range(40640, 40640), Range(50800, 50800)
    assert _size_name("custom_proof_16x20in", across, along) == "16x20 in"
    assert _size_name(None, across, along) == "406.4x508 mm"


def test_inks_of_which_one_has_no_name_are_not_told():
    supply = b"type=inkCartridge;class=supplyThatIsConsumed;colorantname=unknown;"
    cartridges = Attribute(
        "printer-supply", tuple(Value(ValueTag.OCTET_STRING, supply) for _ in range(2))
    )

    def described(*words):
        tag = ValueTag.TEXT_WITHOUT_LANGUAGE
        values = tuple(Value(tag, it) for it in words)
        return answer(cartridges, Attribute("printer-supply-description", values))

    assert _inks(described("matte black", "grey")) == ("matte black", "grey")
    assert _inks(described("matte black", "")) == ()
