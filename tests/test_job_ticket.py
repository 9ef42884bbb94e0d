import json
from contextlib import suppress
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from printplan.errors import RecordError
from printplan.record.ipp.job_ticket import job_ticket, ticket_json
from printplan.record.ipp.keywords import (
    GroupTag,
    Operation,
    ResolutionUnit,
    Status,
    ValueTag,
)
from printplan.record.ipp.message import (
    DEEPEST_COLLECTION,
    Attribute,
    Group,
    Localised,
    Message,
    Range,
    Resolution,
    Value,
    decode_message,
    encode_message,
)
from printplan.record.ipp.support import PrinterWords, fit_ticket
from printplan.spec import (
    BlackPointCompensation,
    ColourSpec,
    Delivery,
    DeliverySpec,
    Extent,
    Intent,
)

WIDE, TALL = np.zeros((40, 60, 3), np.uint16), np.zeros((60, 40, 3), np.uint16)


def one(name, tag, *contents):
    return Attribute(name, tuple(Value(tag, content) for content in contents))


def words(name, *contents):
    return one(name, ValueTag.KEYWORD, *contents)


def numbers(name, *contents):
    return one(name, ValueTag.INTEGER, *contents)


def ranges(name, *contents):
    return one(name, ValueTag.RANGE_OF_INTEGER, *contents)


def size(*edges):
    names = ("x-dimension", "y-dimension")
    kinds = [ranges if isinstance(edge, Range) else numbers for edge in edges]
    return tuple(kind(*it) for kind, *it in zip(kinds, names, edges, strict=True))


@pytest.fixture
def ticket_for(master_of, plan_for):
    def make(pixels=WIDE, **choices):
        return job_ticket(plan_for(master_of(pixels), **choices))

    return make


def as_json(ticket):
    return json.loads(ticket_json(ticket))


# The ticket. Attribute names, syntaxes and units: RFC 8011, 5.2 and PWG 5100.7,
# 5100.13 and 5101.1, from memory.


def test_ticket_says_all_that_the_plan_decided(ticket_for):
    """A3 is 297 × 420 mm (ISO 216); the rest is what the demo's paper book says."""
    assert as_json(ticket_for(delivery=DeliverySpec(copies=3))) == {
        "document-format": "application/pdf",
        "copies": 3,
        "sides": "one-sided",
        "media-col": {
            "media-size": {"x-dimension": 29700, "y-dimension": 42000},
            "media-top-margin": 2000,
            "media-bottom-margin": 2000,
            "media-left-margin": 500,
            "media-right-margin": 500,
            "media-source": "front slot",
            "media-type": "Cotton, very heavy",
            "media-thickness": 52,
            "media-weight-metric": 310,
        },
        # RFC 8011, 5.2.10: 4 is landscape; 5.2.13: 5 is high.
        "orientation-requested": 4,
        "printer-resolution": {"across": 300, "along": 300, "unit": "dpi"},
        "print-quality": 5,
        "print-color-mode": "color",
        "print-rendering-intent": "relative",
        "print-scaling": "none",
    }


def test_sheet_is_told_in_portrait_whichever_way_the_picture_lies(ticket_for):
    wide, tall = (as_json(ticket_for(it, width_mm=100)) for it in (WIDE, TALL))
    assert wide["media-col"] == tall["media-col"]
    assert (wide["orientation-requested"], tall["orientation-requested"]) == (4, 3)


@pytest.mark.parametrize(
    ("sheet", "edges", "name"),
    [
        ({"media_size": "A3"}, (29700, 42000), "iso_a3_297x420mm"),
        # 25.4 mm to the inch, exactly.
        ({"media_size": "13x19 in"}, (33020, 48260), "na_super-b_13x19in"),
        (
            {"media_size": "custom", "width_mm": 300.25, "height_mm": 500},
            (30025, 50000),
            "custom_300.25x500_300.25x500mm",
        ),
    ],
)
def test_media_size_is_in_hundredths_of_a_millimetre(ticket_for, sheet, edges, name):
    ticket = ticket_for(sheet_mm=sheet)
    told = as_json(ticket)["media-col"]["media-size"]
    assert (told["x-dimension"], told["y-dimension"]) == edges
    assert ticket.media == name


ON, OFF = BlackPointCompensation


@pytest.mark.parametrize(
    ("intent", "compensation", "word"),
    [
        (Intent.PERCEPTUAL, ON, "perceptual"),
        (Intent.SATURATION, OFF, "saturation"),
        (Intent.ICC_ABSOLUTE, OFF, "absolute"),
        (Intent.MEDIA_RELATIVE, OFF, "relative"),
        (Intent.MEDIA_RELATIVE, ON, "relative-bpc"),
    ],
)
def test_intent_is_the_plans_only_where_the_printer_converts(
    ticket_for, intent, compensation, word
):
    colour = ColourSpec(intent=intent, black_point_compensation=compensation)
    working = DeliverySpec(colour=Delivery.WORKING_COLOUR)
    converting = ticket_for(colour=colour, delivery=working)
    assert as_json(converting)["print-rendering-intent"] == word
    # PWG 5100.13 has a word for compensation with the relative intent alone.
    told = word in {"perceptual", "saturation"}
    assert len(converting.notes) == told
    for note in converting.notes:
        assert f"compensation {compensation}" in note
    converted = ticket_for(colour=colour)
    assert as_json(converted)["print-rendering-intent"] == "relative"
    assert "corrects no colours" in converted.notes[0]


def test_resolution_that_ipp_cannot_hold_is_not_rounded(ticket_for):
    ticket = ticket_for(ppi=300.5)
    assert "printer-resolution" not in as_json(ticket)
    assert any("not told 300.5 ppi" in note for note in ticket.notes)


@pytest.mark.parametrize(
    ("setup", "told", "notes"),
    [
        # RFC 8011, 5.2.13: 3 is draft, 4 is normal.
        ({"quality": "Normal"}, {"print-quality": 4}, []),
        ({"quality": "fine, slow"}, {"print-quality": None}, ['told "fine, slow"']),
        ({"driver_resolution": "720 dpi"}, {"printer-resolution": (720, 720)}, []),
        (
            {"driver_resolution": "2880 × 1440 dpi"},
            {"printer-resolution": (2880, 1440)},
            [],
        ),
        (
            {"driver_resolution": "finest"},
            {"printer-resolution": None},
            ['told "finest"'],
        ),
        ({"platen_gap": "wide", "ink_limit_percent": 260.0}, {}, []),
    ],
)
def test_what_the_profile_was_made_with_is_asked_for(
    master_of, plan_for, setup, told, notes
):
    """Attributes that the set-up does not touch stay as they are without it."""
    plan = plan_for(master_of(WIDE))
    plain = job_ticket(plan)
    ticket = job_ticket(replace(plan, setup=replace(plan.setup, **setup)))
    expected = as_json(plain)
    for name, value in told.items():
        if value is None:
            del expected[name]
        elif isinstance(value, tuple):
            across, along = value
            expected[name] = {"across": across, "along": along, "unit": "dpi"}
        else:
            expected[name] = value
    assert as_json(ticket) == expected
    new = [it for it in ticket.notes if it not in plain.notes]
    assert len(new) == len(notes)
    for words, note in zip(notes, new, strict=True):
        assert words in note


def test_picture_without_its_sheet_is_refused(ticket_for):
    with pytest.raises(RecordError, match="cover the whole sheet"):
        ticket_for(delivery=DeliverySpec(extent=Extent.PICTURE))


# What a printer takes.

KNOWN_MEMBERS = words(
    "media-col-supported",
    "media-size",
    *(f"media-{edge}-margin" for edge in ("top", "bottom", "left", "right")),
    "media-source",
    "media-type",
    "media-weight-metric",
)
MEDIA_SIZES = one(
    "media-size-supported",
    ValueTag.BEGIN_COLLECTION,
    size(21000, 29700),
    size(Range(10000, 61000), Range(14800, 91400)),
)


def printer(**changes):
    """An invented printer that knows most of a ticket, and takes the demo's A3."""
    offered = [
        words("document-format-supported", "image/jpeg", "application/pdf"),
        ranges("copies-supported", Range(1, 99)),
        words("sides-supported", "one-sided"),
        KNOWN_MEMBERS,
        MEDIA_SIZES,
        numbers("media-top-margin-supported", 0, 300, 1900, 2500),
        ranges("media-bottom-margin-supported", Range(0, 1400)),
        numbers("media-left-margin-supported", 500),
        ranges("media-right-margin-supported", Range(100, 700)),
        words("media-source-supported", "auto", "front slot"),
        words("media-type-supported", "stationery", "photographic-matte"),
        ranges("media-weight-metric-supported", Range(60, 400)),
        one("orientation-requested-supported", ValueTag.ENUM, 3, 4),
        one("printer-resolution-supported", ValueTag.RESOLUTION, Resolution(300, 300)),
        one("print-quality-supported", ValueTag.ENUM, 3, 4, 5),
        words("print-color-mode-supported", "color", "monochrome"),
        words("print-rendering-intent-supported", "auto", "relative"),
    ]
    table = {it.name: it for it in offered}
    changed = {f"{key.replace('_', '-')}-supported": it for key, it in changes.items()}
    return {name: it for name, it in (table | changed).items() if it is not None}


MATTE = PrinterWords(media_type="photographic-matte")


def test_printer_is_told_in_its_own_words_and_syntax(ticket_for):
    fitted = fit_ticket(ticket_for(), printer(), MATTE)
    media = as_json(fitted)["media-col"]
    assert media["media-type"] == "photographic-matte"
    (collection,) = (it for it in fitted.attributes if it.name == "media-col")
    tags = {it.name: it.values[0].tag for it in collection.values[0].content}
    assert tags["media-type"] == tags["media-source"] == ValueTag.KEYWORD


def test_name_in_a_language_is_taken_too(ticket_for):
    offered = one(
        "media-type-supported",
        ValueTag.NAME_WITH_LANGUAGE,
        Localised("en", "Cotton, very heavy"),
    )
    fitted = fit_ticket(ticket_for(), printer(media_type=offered), PrinterWords())
    assert as_json(fitted)["media-col"]["media-type"] == "Cotton, very heavy"


def test_margin_is_the_printers_largest_within_the_plans(ticket_for):
    media = as_json(fit_ticket(ticket_for(), printer(), MATTE))["media-col"]
    sides = [media[f"media-{it}-margin"] for it in ("top", "bottom", "left", "right")]
    # The book has 20, 20, 5 and 5 mm; the printer above lists what is beside it.
    assert sides == [1900, 1400, 500, 500]


def test_margin_that_would_cut_the_picture_is_refused(ticket_for):
    offered = printer(media_top_margin=numbers("media-top-margin-supported", 2100))
    with pytest.raises(RecordError, match="does not take media-top-margin 2000"):
        fit_ticket(ticket_for(), offered, MATTE)


def test_everything_the_printer_lacks_is_told_at_once(ticket_for):
    offered = printer(
        media_source=words("media-source-supported", "auto", "main", "manual"),
        media_size=one(
            "media-size-supported", ValueTag.BEGIN_COLLECTION, size(21000, 29700)
        ),
        copies=ranges("copies-supported", Range(1, 2)),
    )
    ticket = ticket_for(delivery=DeliverySpec(copies=3))
    with pytest.raises(RecordError) as caught:
        fit_ticket(ticket, offered, PrinterWords())
    assert caught.value.problem == (
        "The printer does not take copies 3; media-size 297 × 420 mm; media-source "
        "front slot; media-type Cotton, very heavy."
    )
    assert caught.value.remedy == (
        "It takes copies: 1-2; media-size: 210 × 297 mm; media-source: auto, main, "
        "manual; media-type: stationery, photographic-matte. Say its own word with "
        "--media-source WORD and --media-type WORD. Choose one of its sheets in the "
        "plan. Change the plan, or let the printer decide: --without copies."
    )


def test_attribute_is_left_to_the_printer_only_when_named(ticket_for):
    offered = printer(
        print_rendering_intent=words("print-rendering-intent-supported", "auto")
    )
    with pytest.raises(RecordError, match="--without print-rendering-intent"):
        fit_ticket(ticket_for(), offered, MATTE)
    permitted = replace(MATTE, leave_out=("print-rendering-intent", "media-source"))
    told = as_json(fit_ticket(ticket_for(), offered, permitted))
    assert "print-rendering-intent" not in told
    assert "media-source" not in told["media-col"]
    misspelt = replace(MATTE, leave_out=("print-intent",))
    with pytest.raises(RecordError, match='Did you mean "print'):
        fit_ticket(ticket_for(), offered, misspelt)


def test_attribute_the_printer_never_heard_of_is_told_to_the_user(ticket_for):
    fitted = fit_ticket(ticket_for(), printer(), MATTE)
    told = as_json(fitted)
    assert "print-scaling" not in told
    assert "media-thickness" not in told["media-col"]
    assert any("media-thickness, print-scaling" in note for note in fitted.notes)


def test_paper_without_a_media_type_asks_for_one(master_of, plan_for):
    plan = plan_for(master_of(WIDE))
    bare = replace(plan, setup=replace(plan.setup, media_type=""))
    with pytest.raises(RecordError, match="takes media-type: stationery"):
        fit_ticket(job_ticket(bare), printer(), PrinterWords())
    fitted = fit_ticket(job_ticket(bare), printer(), MATTE)
    assert as_json(fitted)["media-col"]["media-type"] == "photographic-matte"


def test_printer_without_media_col_gets_the_sheets_name(ticket_for):
    sheets = words("media-supported", "iso_a4_210x297mm", "iso_a3_297x420mm")
    fitted = fit_ticket(
        ticket_for(), printer(media_col=None, media=sheets), PrinterWords()
    )
    told = as_json(fitted)
    assert told["media"] == "iso_a3_297x420mm"
    assert "media-col" not in told
    assert any("set feed path and media type" in note for note in fitted.notes)


def test_printer_that_takes_no_page_is_refused(ticket_for):
    offered = printer(document_format=words("document-format-supported", "image/jpeg"))
    with pytest.raises(RecordError, match=r"takes image/jpeg\. Make the file with"):
        fit_ticket(ticket_for(), offered, MATTE)


# Bytes.


def field(tag, name, value):
    """One attribute by hand (RFC 8010, 3.1.4): tag, name and value, each counted."""
    counted = [len(part).to_bytes(2, "big") + part for part in (name, value)]
    return bytes([tag]) + b"".join(counted)


# RFC 8010, appendix A.1, Print-Job request: a 1.1 request of number 1 for the
# printer "pinetree" with 20 copies on both sides. Its fields from memory.
PRINT_JOB_REQUEST = (
    bytes.fromhex("0101 0002 00000001")
    + b"\x01"
    + field(0x47, b"attributes-charset", b"utf-8")
    + field(0x48, b"attributes-natural-language", b"en-us")
    + field(0x45, b"printer-uri", b"ipp://printer.example.com/ipp/print/pinetree")
    + field(0x42, b"job-name", b"foobar")
    + field(0x22, b"ipp-attribute-fidelity", b"\x01")
    + b"\x02"
    + field(0x21, b"copies", bytes.fromhex("00000014"))
    + field(0x44, b"sides", b"two-sided-long-edge")
    + b"\x03"
)

# RFC 8010, appendix A.3, a response that names two attributes as unsupported: the
# first with its value, the second unknown. Its fields from memory.
IGNORED_RESPONSE = (
    bytes.fromhex("0101 0001 00000001")
    + b"\x01"
    + field(0x47, b"attributes-charset", b"utf-8")
    + field(0x48, b"attributes-natural-language", b"en-us")
    + b"\x05"
    + field(0x21, b"copies", bytes.fromhex("00000014"))
    + field(0x10, b"sides", b"")
    + b"\x02"
    + field(0x21, b"job-id", bytes.fromhex("00000093"))
    + field(0x23, b"job-state", bytes.fromhex("00000003"))
    + b"\x03"
)

# RFC 8010, 3.1.7: a collection's members are values without a name, each after one
# that holds the member's name; here PWG 5100.7's media-size of an A4 sheet.
COLLECTION = (
    bytes.fromhex("0200 0004 00000007")
    + b"\x02"
    + field(0x34, b"media-col", b"")
    + field(0x4A, b"", b"media-size")
    + field(0x34, b"", b"")
    + field(0x4A, b"", b"x-dimension")
    + field(0x21, b"", (21000).to_bytes(4, "big"))
    + field(0x4A, b"", b"y-dimension")
    + field(0x21, b"", (29700).to_bytes(4, "big"))
    + field(0x37, b"", b"")
    + field(0x37, b"", b"")
    + field(0x44, b"sides", b"one-sided")
    + field(0x44, b"", b"two-sided-long-edge")
    + field(0x32, b"printer-resolution", bytes.fromhex("0000012C 00000168 03"))
    + b"\x03"
)


def operation(*more):
    return Group(
        GroupTag.OPERATION_ATTRIBUTES,
        (
            one("attributes-charset", ValueTag.CHARSET, "utf-8"),
            one("attributes-natural-language", ValueTag.NATURAL_LANGUAGE, "en-us"),
            *more,
        ),
    )


EXAMPLES = {
    "rfc-8010-a1": (
        PRINT_JOB_REQUEST,
        Message(
            code=Operation.PRINT_JOB,
            groups=(
                operation(
                    one(
                        "printer-uri",
                        ValueTag.URI,
                        "ipp://printer.example.com/ipp/print/pinetree",
                    ),
                    one("job-name", ValueTag.NAME_WITHOUT_LANGUAGE, "foobar"),
                    one("ipp-attribute-fidelity", ValueTag.BOOLEAN, True),
                ),
                Group(
                    GroupTag.JOB_ATTRIBUTES,
                    (numbers("copies", 20), words("sides", "two-sided-long-edge")),
                ),
            ),
        ),
    ),
    "rfc-8010-a3": (
        IGNORED_RESPONSE,
        Message(
            code=Status.SUCCESSFUL_OK_IGNORED_OR_SUBSTITUTED_ATTRIBUTES,
            groups=(
                operation(),
                Group(
                    GroupTag.UNSUPPORTED_ATTRIBUTES,
                    (
                        numbers("copies", 20),
                        one("sides", ValueTag.UNSUPPORTED, None),
                    ),
                ),
                Group(
                    GroupTag.JOB_ATTRIBUTES,
                    (numbers("job-id", 147), one("job-state", ValueTag.ENUM, 3)),
                ),
            ),
        ),
    ),
    "collection": (
        COLLECTION,
        Message(
            code=Operation.VALIDATE_JOB,
            request_id=7,
            version=(2, 0),
            groups=(
                Group(
                    GroupTag.JOB_ATTRIBUTES,
                    (
                        one(
                            "media-col",
                            ValueTag.BEGIN_COLLECTION,
                            (
                                one(
                                    "media-size",
                                    ValueTag.BEGIN_COLLECTION,
                                    size(21000, 29700),
                                ),
                            ),
                        ),
                        words("sides", "one-sided", "two-sided-long-edge"),
                        one(
                            "printer-resolution",
                            ValueTag.RESOLUTION,
                            Resolution(300, 360, ResolutionUnit.DPI),
                        ),
                    ),
                ),
            ),
        ),
    ),
}


@pytest.mark.parametrize(("octets", "message"), EXAMPLES.values(), ids=EXAMPLES)
def test_bytes_of_a_message_are_those_of_the_standard(octets, message):
    assert encode_message(message) == octets
    assert decode_message(octets + b"%PDF-1.7 and what else follows") == message


@pytest.mark.parametrize(
    "attribute",
    [
        numbers("copies", 2**31),
        one("printer-resolution", ValueTag.RESOLUTION, Resolution(300, -(2**40))),
        # RFC 8011, 5.1.3 and 5.1.4: names and keywords have 255 octets at most.
        one("job-name", ValueTag.NAME_WITHOUT_LANGUAGE, "é" * 128),
        words("sides", "x" * 256),
        one("date", ValueTag.OCTET_STRING, b"x" * 40_000),
        words("sides"),
        one("copies", ValueTag.INTEGER, "three"),
    ],
    ids=lambda attribute: attribute.name,
)
def test_what_the_protocol_cannot_hold_is_refused(attribute):
    group = Group(GroupTag.JOB_ATTRIBUTES, (attribute,))
    with pytest.raises(RecordError, match=attribute.name.replace("date", "date|bytes")):
        encode_message(Message(code=Operation.PRINT_JOB, groups=(group,)))


def nested(depth):
    opened = field(0x34, b"", b"") + field(0x4A, b"", b"deeper")
    ends = field(0x37, b"", b"") * depth
    first = field(0x34, b"media-col", b"") + field(0x4A, b"", b"deeper")
    return PRINT_JOB_REQUEST[:8] + b"\x02" + first + opened * (depth - 1) + ends + b"\3"


def test_collections_are_followed_as_deep_as_said_and_no_deeper():
    decode_message(nested(DEEPEST_COLLECTION))
    for depth in (DEEPEST_COLLECTION + 1, 100_000):
        with pytest.raises(RecordError, match="collections lie in one another"):
            decode_message(nested(depth))


@pytest.mark.parametrize(
    "octets",
    [
        b"",
        PRINT_JOB_REQUEST[:8],
        PRINT_JOB_REQUEST[:-1],
        PRINT_JOB_REQUEST[:8] + b"\x00\x03",
        PRINT_JOB_REQUEST[:8] + b"\x01" + field(0x44, b"", b"no name") + b"\x03",
        PRINT_JOB_REQUEST[:8] + b"\x01" + field(0x21, b"copies", b"\0\0\1") + b"\x03",
        PRINT_JOB_REQUEST[:8] + b"\x01" + field(0x37, b"", b"") + b"\x03",
        PRINT_JOB_REQUEST[:8] + b"\x01\x44\xff\xff",
        b"<html><body>Not found</body></html>",
    ],
    ids=range(9),
)
def test_broken_message_is_refused(octets):
    with pytest.raises(RecordError, match="ipp://NAME:631/ipp/print"):
        decode_message(octets)


# Anything but an error of ours, a wait without end included, fails these two.
@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(octets):
    for whole in (octets, PRINT_JOB_REQUEST[:8] + b"\x01" + octets):
        with suppress(RecordError):
            decode_message(whole)


@given(st.data(), st.sampled_from([octets for octets, _ in EXAMPLES.values()]))
def test_damaged_message_is_read_or_refused(data, octets):
    at = data.draw(st.integers(0, len(octets) - 1))
    damage = data.draw(st.binary(max_size=6))
    with suppress(RecordError):
        decode_message(octets[:at] + damage + octets[at + len(damage) :])


INT32 = st.integers(-(2**31), 2**31 - 1)
SHORT = st.text(max_size=15)
NAMES = st.text("abcdefgh-", min_size=1, max_size=20)
PLAIN_VALUES = st.one_of(
    st.builds(Value, st.just(ValueTag.INTEGER), INT32),
    st.builds(Value, st.just(ValueTag.ENUM), INT32),
    st.builds(Value, st.just(ValueTag.BOOLEAN), st.booleans()),
    st.builds(Value, st.sampled_from([ValueTag.KEYWORD, ValueTag.URI]), SHORT),
    st.builds(Value, st.just(ValueTag.DATE_TIME), st.binary(max_size=11)),
    st.builds(
        Value,
        st.just(ValueTag.RESOLUTION),
        st.builds(Resolution, INT32, INT32, st.integers(-128, 127)),
    ),
    st.builds(
        Value, st.just(ValueTag.RANGE_OF_INTEGER), st.builds(Range, INT32, INT32)
    ),
    st.builds(
        Value, st.just(ValueTag.TEXT_WITH_LANGUAGE), st.builds(Localised, SHORT, SHORT)
    ),
    st.builds(Value, st.just(ValueTag.NO_VALUE), st.none()),
)


def attributes_of(values):
    some = st.lists(values, min_size=1, max_size=3).map(tuple)
    return st.lists(st.builds(Attribute, NAMES, some), max_size=4).map(tuple)


VALUES = st.recursive(
    PLAIN_VALUES,
    lambda inner: st.builds(
        Value, st.just(ValueTag.BEGIN_COLLECTION), attributes_of(inner)
    ),
    max_leaves=6,
)
GROUP_TAGS = st.sampled_from([1, 2, 4, 5])
MESSAGES = st.builds(
    Message,
    code=st.integers(0, 0xFFFF),
    request_id=INT32,
    groups=st.lists(
        st.builds(Group, GROUP_TAGS, attributes_of(VALUES)), max_size=3
    ).map(tuple),
    version=st.tuples(st.integers(0, 255), st.integers(0, 255)),
)


@pytest.mark.slow
@given(MESSAGES)
def test_message_reads_back_as_it_was_written(message):
    assert decode_message(encode_message(message)) == message
