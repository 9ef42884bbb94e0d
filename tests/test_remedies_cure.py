"""
Whoever follows a remedy that names a value is rid of the finding.

A small machine reads the value out of the remedy's own words and changes the plan as
they say; `HOW` is its table, one line for each kind of finding. A refusal that it meets
on the way is followed as well. What it does not know may name no value.
"""

import re
from dataclasses import replace
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, assume, event, given, settings
from hypothesis import strategies as st
from test_seeded_faults import FAULTS, Desk

from printplan.checks import Level, check_pixels, check_plan
from printplan.errors import FitError, SpecError
from printplan.media import MediaForm, Stock
from printplan.pixels.master import open_master
from printplan.pixels.sheet import varied
from printplan.plan import resolve
from printplan.spec import (
    BlackPointCompensation,
    ColourSpec,
    Delivery,
    DeliverySpec,
    Extent,
    FileFormat,
    Intent,
    MatMargins,
    MountSpec,
    NamedSpace,
    Orientation,
    Placement,
    PrintSpec,
    RoomSpec,
    SharpenSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
)
from printplan.units import LengthUnit

MM = {"mm": 1.0, "in": 25.4}  # the international inch, exact by definition
NUMBER = r"(\d+(?:\.\d+)?)"
LENGTH = rf"{NUMBER}(?: × {NUMBER})? (mm|in)\b"


# The machine: what the words ask for


def lengths_mm(words):
    """One or two lengths in the words, in millimetres."""
    found = re.search(LENGTH, words)
    first, second, unit = found.groups()
    return [float(it) * MM[unit] for it in (first, second) if it is not None]


def sized(plan, words):
    """The wish with the length that the words name, under the rule that it has."""
    size = plan.spec.size
    named = lengths_mm(words)
    if size.rule in {SizeRule.FIT, SizeRule.FILL}:
        changed = {"width_mm": named[0], "height_mm": named[1]}
    else:
        (length_mm,) = named
        field, said = {
            SizeRule.WIDTH: ("width_mm", "wide"),
            SizeRule.HEIGHT: ("height_mm", "high"),
            SizeRule.LONGEST_EDGE: ("longest_mm", "along its longest edge"),
        }[size.rule]
        assert said in words
        changed = {field: length_mm}
    return replace(plan.spec, size=replace(size, **changed))


def part(plan, name, **changes):
    return replace(plan.spec, **{name: replace(getattr(plan.spec, name), **changes)})


def print_smaller(plan, words):
    if found := re.match(r"Print at most ([^,]*),", words):
        yield sized(plan, found[1])


def choose_ppi(plan, words):
    if found := re.search(r"Choose (?:one of )?([\d., ]+) ppi", words):
        for ppi in found[1].split(", "):
            yield part(plan, "size", ppi=float(ppi))


def fit_or_exchange(plan, words):
    if found := re.search(r"Exchange width and height \(([^)]*)\)", words):
        width_mm, height_mm = lengths_mm(found[1])
        yield part(plan, "size", width_mm=width_mm, height_mm=height_mm)
    assert '"fit in an area"' in words
    yield part(plan, "size", rule=SizeRule.FIT)


def print_larger(plan, words):
    told = r"[Cc]hoose ([^.]*?(?:\.\d[^.]*?)*)(?: or more|\. )"
    for found in re.findall(told, words):
        yield sized(plan, found)


def by_picture(plan, words):
    assert '"by the picture"' in words
    yield part(plan, "sheet", orientation=Orientation.BY_PICTURE)


def border_or_sheet(plan, words):
    if found := re.search(r"a border of ([^,]*) or less", words):
        (border_mm,) = lengths_mm(found[1])
        yield part(plan, "sheet", border_mm=border_mm)
    else:
        assert "no border" in words
        yield part(plan, "sheet", border_mm=0.0)
    assert "cover the whole sheet" in words
    yield part(plan, "delivery", extent=Extent.SHEET)


def whole_sheet(plan, words):
    assert "cover the whole sheet" in words
    yield part(plan, "delivery", extent=Extent.SHEET)


def wider_border(plan, words):
    if found := re.match(r"Choose ([^,]*) or more", words):
        (border_mm,) = lengths_mm(found[1])
        yield part(plan, "sheet", border_mm=border_mm)
    assert "none" in words
    yield part(plan, "sheet", border_mm=0.0)


def smaller_opening(plan, words):
    if not re.search(LENGTH, words):
        return
    width_mm, height_mm = lengths_mm(words)
    opening = {"mat_opening_width_mm": width_mm, "mat_opening_height_mm": height_mm}
    yield part(plan, "mount", **opening)


def other_opening(plan, words):
    if found := re.match(r"Choose an overlap of ([^,]*)\.", words):
        (overlap_mm,) = lengths_mm(found[1])
        yield part(plan, "mount", mat_overlap_mm=overlap_mm)
    else:
        yield from smaller_opening(plan, words)


def smaller_overlap(plan, words):
    if found := re.match(r"Choose an overlap of ([^,]*) or less", words):
        (overlap_mm,) = lengths_mm(found[1])
        yield part(plan, "mount", mat_overlap_mm=overlap_mm)


def other_size(plan, words):
    """A mat or a frame of the size that the words name."""
    if found := re.match(r"Choose a (frame|mat) of (?:at least )?(.*?(mm|in)),", words):
        width_mm, height_mm = lengths_mm(found[2])
        name = {"frame": "frame", "mat": "mat_outer"}[found[1]]
        sizes = {f"{name}_width_mm": width_mm, f"{name}_height_mm": height_mm}
        if name == "mat_outer":
            sizes["mat_margin_mm"] = None
        yield part(plan, "mount", **sizes)


def less_white(plan, words):
    """The white that a mat may show, or the opening of one of a given size."""
    told = r"Show at most (.*?) round the picture(?: and (.*?) below it)?,"
    if found := re.match(told, words):
        (reveal_mm,) = lengths_mm(found[1])
        below = {} if found[2] is None else {"reveal_below_mm": lengths_mm(found[2])[0]}
        yield part(plan, "mount", reveal_mm=reveal_mm, **below)
    elif plan.spec.mount.reveal_mm is None:
        yield from smaller_opening(plan, words)


def room_to_sign(plan, words):
    if found := re.match(r"Show (.*) or more below it", words):
        (below_mm,) = lengths_mm(found[1])
        yield part(plan, "mount", reveal_below_mm=below_mm)


def narrower_rebate(plan, words):
    if found := re.match(r"Choose a frame that hides (.*?) or less", words):
        (rebate_mm,) = lengths_mm(found[1])
        yield part(plan, "mount", frame_rebate_mm=rebate_mm)


def deeper_wrap(plan, words):
    if found := re.match(r"Choose a wrap of ([^,]*) or more", words):
        (wrap_mm,) = lengths_mm(found[1])
        yield part(plan, "mount", wrap_mm=wrap_mm)


def other_feed(plan, words):
    for name in re.match(r"Choose one of: (.*)\.", words)[1].split(", "):
        yield part(plan, "sheet", feed=name)


def shorter_sheet(plan, words):
    (length_mm,) = lengths_mm(words)
    across_mm = plan.layout.in_feed_mm[0]
    if plan.feed.takes is MediaForm.SHEETS:
        across_mm = min(across_mm, length_mm)
    else:
        length_mm -= 5.0  # or less: 419.9 mm could be another roll's width, too
    sheet = replace(
        plan.spec.sheet,
        media_size="custom",
        width_mm=across_mm,
        height_mm=length_mm,
    )
    yield replace(plan.spec, sheet=sheet)


def fewer_copies(plan, words):
    if found := re.match(r"Make (\d+) now", words):
        yield part(plan, "delivery", copies=int(found[1]))


def other_intents(plan, words):
    for intent in re.findall(r'"([a-z-]+)"', words):
        yield part(plan, "colour", intent=Intent(intent))


def compensated(plan, words):
    if re.match(r"Switch (it|black point compensation) on", words):
        on = BlackPointCompensation.ON
        yield part(plan, "colour", black_point_compensation=on)


def keeps_apart(plan, words):
    told = r'Set the intent to "([a-z-]+)" with black point compensation (on|off)'
    if found := re.match(told, words):
        yield part(plan, "colour", intent=found[1], black_point_compensation=found[2])


def wider_space(plan, words):
    if found := re.match(r'Deliver in "([^"]+)"', words):
        yield part(plan, "delivery", named_space=found[1])


def smaller(plan, words):
    (found,) = re.findall(rf"smaller: {NUMBER} mm wide", words)
    size = SizeSpec(rule=SizeRule.WIDTH, width_mm=float(found), ppi=plan.spec.size.ppi)
    yield replace(plan.spec, size=size)


SHARPEN_WORDS = {
    "gain": rf"a gain of {NUMBER}",
    "radius_mm": rf"a radius of {NUMBER} mm",
    "halo_limit_share": rf"a halo limit of {NUMBER}",
    "grain_floor_l": rf"a grain floor of {NUMBER} L\*",
}


def sharpening_in(words):
    found = {name: re.search(told, words) for name, told in SHARPEN_WORDS.items()}
    return {name: float(it[1]) for name, it in found.items() if it is not None}


def sharpened(plan, words):
    yield part(plan, "sharpen", **sharpening_in(words))


def gentler(plan, words):
    """Each of the settings alone is said to be enough."""
    for name, value in sharpening_in(words).items():
        yield part(plan, "sharpen", **{name: value})


def sixteen_bits(plan, words):
    assert '"TIFF, 16 bits"' in words
    yield part(plan, "delivery", file_format=FileFormat.TIFF_16)


def light_or_display(plan, words):
    """Each way that the sentence offers to make paper and display alike."""
    way = re.match(
        rf"Set the display's white to {NUMBER} cd/m², or light the paper with {NUMBER} "
        rf"lx for {NUMBER} cd/m²\.",
        words,
    )
    if way:
        white, light_lx, white_then = map(float, way.groups())
        yield part(plan, "room", display_cd_m2=white)
        yield part(plan, "room", illuminance_lx=light_lx, display_cd_m2=white_then)
        return
    way = re.match(
        rf"Light the paper with {NUMBER} lx and (set|leave) the display's white "
        rf"(?:to|at) {NUMBER} cd/m²",
        words,
    )
    light_lx, verb, white = float(way[1]), way[2], float(way[3])
    is_set = white == pytest.approx(plan.spec.room.display_cd_m2, rel=1e-5)
    assert (verb == "leave") is is_set  # nobody is told to set what is set
    yield part(plan, "room", illuminance_lx=light_lx, display_cd_m2=white)


def better_quality(plan, words):
    (quality,) = re.findall(r"JPEG quality (\d+)", words)
    yield part(plan, "delivery", jpeg_quality=int(quality))


def with_bleed(plan, words):
    (bleed_mm,) = lengths_mm(words)
    yield part(plan, "delivery", bleed_mm=bleed_mm)


def longer_turn_over(plan, words):
    (turn_over_mm,) = lengths_mm(words)
    yield part(plan, "wrap", turn_over_mm=turn_over_mm)


def fills_beyond_the_sheet(plan, words):
    width_mm, height_mm = lengths_mm(words)
    assert "centred" in words
    size = {"rule": SizeRule.FILL, "width_mm": width_mm, "height_mm": height_mm}
    placed = part(plan, "sheet", placement=Placement.CENTRED)
    yield replace(placed, size=replace(placed.size, **size))


HOW = {
    "service's limits": choose_ppi,
    "JPEG quality": better_quality,
    "bleed asked for": with_bleed,
    "enlargement": print_smaller,
    "low resolution": choose_ppi,
    "wasted resolution": choose_ppi,
    "file size": choose_ppi,
    "crop": fit_or_exchange,
    "small on its sheet": print_larger,
    "orientation": by_picture,
    "driver scaling": border_or_sheet,
    "place lost": whole_sheet,
    "thin border": wider_border,
    "mat opening": other_opening,
    "mat beyond sheet": less_white,
    "paper under mat": less_white,
    "mat cut": other_size,
    "no opening": smaller_overlap,
    "sheet beyond mat": other_size,
    "mat beyond frame": other_size,
    "loose in frame": other_size,
    "frame over opening": narrower_rebate,
    "signature room": room_to_sign,
    "wrap": deeper_wrap,
    "turn-over": longer_turn_over,
    "white strip": fills_beyond_the_sheet,
    "feed path": other_feed,
    "longest print": shorter_sheet,
    "paper left": fewer_copies,
    "absolute intent": other_intents,
    "saturation intent": other_intents,
    "no table for intent": other_intents,
    "compensation off": compensated,
    "compensation fixed": compensated,
    "closed shadows": keeps_apart,
    "lost separation": keeps_apart,
    "cut to the space": wider_space,
    "soft master": smaller,
    "not sharpened": sharpened,
    "halo": gentler,
    "noise": gentler,
    "8 bits": sixteen_bits,
    "display and room": light_or_display,
}
"""What each kind of finding asks for, by its `about`."""

ELSEWHERE = {
    *("bare highlights", "white edge", "8-bit wide gamut"),
    *("posterised tones", "8-bit tones", "compression blocks", "tagged space"),
}
"""Their values are for the master's own pixels, which no plan changes."""

VALUE = re.compile(rf'{LENGTH}|{NUMBER}|"[a-z0-9-]+"')


def says_value(remedy):
    return VALUE.search(remedy.replace("SHA-256", "").replace("sha256", "")) is not None


def remade(plan, spec):
    """The plan of another wish; None if a refusal on the way names no value."""
    while True:
        try:
            return resolve(plan.facts, plan.paper, plan.printer, spec)
        except FitError as refused:
            if "at most" not in refused.remedy:
                return None
            spec = followed_refusal(spec, refused)
        except SpecError as refused:
            spec = with_fewer_pixels(spec, refused)
            return resolve(plan.facts, plan.paper, plan.printer, spec)


def with_fewer_pixels(spec, refused):
    """The wish that the refusal of a file of too many pixels advises."""
    (ppi,) = re.findall(rf"Choose {NUMBER} ppi or less", refused.remedy)
    return replace(spec, size=replace(spec.size, ppi=float(ppi)))


def followed_refusal(spec, refused):
    """The wish that a refusal advises."""
    width_mm, height_mm = lengths_mm(refused.remedy)
    rule, size = spec.size.rule, spec.size
    lengths = {
        SizeRule.WIDTH: {"width_mm": width_mm},
        SizeRule.HEIGHT: {"height_mm": height_mm},
        SizeRule.LONGEST_EDGE: {"longest_mm": max(width_mm, height_mm)},
    }.get(rule, {"width_mm": width_mm, "height_mm": height_mm})
    return replace(spec, size=replace(size, **lengths))


GRAVITY = [Level.NOTE, Level.WARN, Level.STOP]


def is_there(finding, found):
    """Whether a finding of that kind, as grave or graver, is among others."""
    return any(
        it.topic == finding.topic
        and GRAVITY.index(it.level) >= GRAVITY.index(finding.level)
        for it in found
    )


# Plans of all kinds


MEDIA = ["A4", "A3", "A2", "13x19 in", "custom"]
EDGES = st.floats(5, 900).map(lambda it: round(it, 2))


@st.composite
def size_specs(draw):
    rule = draw(st.sampled_from(SizeRule))
    names = {
        SizeRule.WIDTH: ["width_mm"],
        SizeRule.HEIGHT: ["height_mm"],
        SizeRule.LONGEST_EDGE: ["longest_mm"],
    }.get(rule, ["width_mm", "height_mm"])
    return SizeSpec(
        rule=rule,
        ppi=draw(st.sampled_from([72.0, 150.0, 200.0, 300.0, 360.0, 720.0, 1440.0])),
        **{name: draw(EDGES) for name in names},
    )


@st.composite
def sheet_specs(draw):
    media = draw(st.sampled_from(MEDIA))
    moved = draw(st.booleans())
    custom = media == "custom"
    return SheetSpec(
        media_size=media,
        width_mm=draw(EDGES) if custom else None,
        height_mm=draw(EDGES) if custom else None,
        feed=draw(st.sampled_from(["front slot", "sheet feeder"])),
        orientation=draw(st.sampled_from(Orientation)),
        placement=draw(
            st.just(Placement.OFFSET)
            if moved
            else st.sampled_from([Placement.CENTRED, Placement.OPTICAL_CENTRE])
        ),
        offset_right_mm=draw(st.floats(-20, 20)) if moved else 0.0,
        offset_down_mm=draw(st.floats(-20, 20)) if moved else 0.0,
        border_mm=draw(st.sampled_from([0.0, 1.0, 2.5, 4.0, 12.0, 25.0])),
    )


@st.composite
def openings(draw):
    kind = draw(st.sampled_from(["none", "size", "overlap", "white", "signed"]))
    if kind == "size":
        return {
            "mat_opening_width_mm": draw(EDGES),
            "mat_opening_height_mm": draw(EDGES),
        }
    if kind == "overlap":
        return {"mat_overlap_mm": draw(st.sampled_from([0.0, 2.5, 3.0, 40.0]))}
    if kind == "none":
        return {}
    below = {"reveal_below_mm": draw(st.sampled_from([0.0, 7.0, 25.0]))}
    reveal_mm = draw(st.sampled_from([0.0, 5.0, 18.3]))
    return {"reveal_mm": reveal_mm} | (below if kind == "signed" else {})


@st.composite
def boards(draw):
    """How large a mat and its frame are, for one that has an opening."""
    found = {}
    kind = draw(st.sampled_from(["frame", "size", "margin"]))
    if kind == "size":
        found = {"mat_outer_width_mm": draw(EDGES), "mat_outer_height_mm": draw(EDGES)}
    if kind == "margin":
        found = {"mat_margin_mm": draw(st.sampled_from([10.0, 33.3, 60.0]))}
    if kind == "frame" or draw(st.booleans()):
        rebate_mm = draw(st.sampled_from([0.0, 6.0, 14.0]))
        found |= {"frame_width_mm": draw(EDGES), "frame_height_mm": draw(EDGES)}
        found |= {"frame_rebate_mm": rebate_mm}
    margins = draw(st.sampled_from(MatMargins))
    if margins is MatMargins.BOTTOM_WEIGHTED:
        found["mat_foot_mm"] = draw(st.sampled_from([0.0, 12.0, 30.0]))
    return found | {"mat_margins": margins}


@st.composite
def mount_specs(draw):
    opening = draw(openings())
    if opening and draw(st.booleans()):
        opening |= draw(boards())
    depth_mm = draw(st.sampled_from([0.0, 6.0, 20.0, 38.0]))
    wrap_mm = draw(st.sampled_from([0.0, 8.0, 25.0, 40.0]))
    return MountSpec(**opening, wrap_mm=wrap_mm, stretcher_depth_mm=depth_mm)


@st.composite
def delivery_specs(draw):
    named = draw(st.integers(0, 3)) == 0
    colour = Delivery.NAMED_SPACE if named else Delivery.PRINTER_COLOUR
    formats = [FileFormat.TIFF_8, FileFormat.TIFF_16, FileFormat.PDF]
    return DeliverySpec(
        colour=colour,
        named_space=NamedSpace.SRGB if named else None,
        file_format=draw(st.sampled_from(formats)),
        extent=draw(st.sampled_from(Extent)),
        copies=draw(st.integers(1, 20)),
    )


SPECS = st.builds(
    PrintSpec,
    size=size_specs(),
    sheet=sheet_specs(),
    sharpen=st.builds(
        SharpenSpec, distance_mm=st.none() | st.floats(200, 5000), gain=st.just(0.3)
    ),
    colour=st.builds(ColourSpec),
    mount=mount_specs(),
    delivery=delivery_specs(),
    lengths_in=st.sampled_from(LengthUnit),
)

STOCKS = st.sampled_from(
    [
        (),
        tuple(Stock(sheet=it, sheets_left=3) for it in ("A4", "A3", "A2", "13x19 in")),
        (Stock(roll_width_mm=210.0, left_m=1.5), Stock(roll_width_mm=420.0, left_m=2)),
    ]
)


@pytest.fixture(scope="module")
def known(studio):
    with open_master(studio.scenario.chart) as master:
        return SimpleNamespace(facts=master.facts, book=studio.book)


@st.composite
def drawn_plans(draw, known):
    """A plan that may have any fault; a wish that is refused follows the refusal."""
    facts = replace(
        known.facts,
        width_px=draw(st.integers(40, 12_000)),
        height_px=draw(st.integers(40, 12_000)),
    )
    printer = known.book.printers[0]
    takes = draw(st.sampled_from([MediaForm.SHEETS, MediaForm.SHEETS, MediaForm.ROLLS]))
    printer = replace(
        printer,
        feeds=tuple(replace(it, takes=takes) for it in printer.feeds),
        longest_print_mm=draw(st.sampled_from([280.0, 419.9, 1219.0])),
        input_ppi=draw(st.sampled_from([(300.0, 360.0, 720.0), (150.0, 199.0, 600.0)])),
    )
    paper = replace(draw(st.sampled_from(known.book.papers)), stock=draw(STOCKS))
    spec = draw(SPECS)
    while True:
        try:
            return resolve(facts, paper, printer, spec)
        except FitError as refused:
            assume("at most" in refused.remedy)
            spec = followed_refusal(spec, refused)
        except SpecError as refused:
            return resolve(facts, paper, printer, with_fewer_pixels(spec, refused))


@settings(
    max_examples=400,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
@given(data=st.data())
def test_remedy_of_any_plan_cures(known, data):
    """Of 400 plans of all kinds, every finding that names a value goes by it."""
    plan = data.draw(drawn_plans(known))
    for finding in check_plan(plan):
        ways = list(HOW.get(finding.topic, lambda *_: [])(plan, finding.remedy))
        if not ways:
            assert finding.topic in HOW or not says_value(finding.remedy), finding
            continue
        event(finding.topic)
        for spec in ways:
            cured = remade(plan, spec)
            if cured is None:
                event(f"{finding.topic}: does not go on the sheet")
                continue
            found = check_plan(cured)
            assert not is_there(finding, found), f"{finding}\n{spec}\n{found}"


# What only pixels tell


@pytest.fixture(scope="module")
def desk(studio, tmp_path_factory):
    made = Desk(studio, tmp_path_factory.mktemp("cured"))
    yield made
    for master in made.opened.values():
        master.close()


TOLD_BY_PLANS = {
    *("enlargement", "low resolution", "wasted resolution", "crop", "wrap"),
    *("small on its sheet", "orientation", "driver scaling", "place lost"),
    *("thin border", "mat opening", "mat beyond sheet", "feed path", "paper left"),
    *("longest print", "absolute intent", "saturation intent", "8 bits"),
}
"""What plans without pixels tell, and the test above follows."""


def seeded(fault):
    _, _, (_, about) = FAULTS[fault]
    return about not in TOLD_BY_PLANS


@pytest.mark.slow
@pytest.mark.parametrize("name", [it for it in FAULTS if seeded(it)])
def test_remedy_of_a_seeded_fault_cures(desk, name):
    """The same of faults that are seeded one by one, each with its own pixels."""
    sound, change, (level, about) = FAULTS[name]
    job = sound.but(**change)
    (finding,) = [
        it for it in desk.findings(job) if (it.level, it.topic) == (level, about)
    ]
    sheet = desk.last_sheet.get(desk.master(job))
    plan = desk.plan(job, desk.master(job))
    ways = list(HOW.get(about, lambda *_: [])(plan, finding.remedy))
    if not ways:
        allowed = about in HOW or about in ELSEWHERE
        assert allowed or not says_value(finding.remedy), finding
    for spec in ways:
        remade_sheet = varied(sheet, remade(plan, spec).spec)
        found = [*check_plan(remade_sheet.plan), *check_pixels(remade_sheet)]
        assert not is_there(finding, found), f"{finding}\n{spec}"


@pytest.fixture(scope="module")
def small_sheet(desk):
    job = FAULTS["150 ppi"][0]
    desk.findings(job)
    return desk.last_sheet[desk.master(job)]


@pytest.mark.slow
@settings(max_examples=40)
@given(st.floats(1, 20_000), st.floats(10, 5_000))
def test_remedy_for_display_and_room_cures(small_sheet, light_lx, white_cd_m2):
    room = RoomSpec(illuminance_lx=light_lx, display_cd_m2=white_cd_m2)
    sheet = varied(small_sheet, replace(small_sheet.plan.spec, room=room))
    for finding in check_pixels(sheet):
        if finding.topic == "display and room":
            for spec in light_or_display(sheet.plan, finding.remedy):
                cured = check_pixels(varied(sheet, spec))
                assert "display and room" not in [it.topic for it in cured]
