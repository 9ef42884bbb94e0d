import random
import re
import tomllib
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import get_type_hints

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printplan.errors import RecordError, SpecError
from printplan.record import plan_file as plan_module
from printplan.record.plan_file import (
    PLAN_COMMENTS,
    PlanFile,
    parse_plan_text,
    plan_file_text,
    read_plan_file,
    save_plan,
    write_plan_file,
)
from printplan.spec import (
    AlphaRule,
    BlackPointCompensation,
    CaptionPart,
    ColourSpec,
    Delivery,
    DeliverySpec,
    Extent,
    FileFormat,
    Intent,
    Marks,
    MasterSpec,
    MatMargins,
    MountSpec,
    NamedSpace,
    Orientation,
    Placement,
    PrintSpec,
    RollWay,
    RoomSpec,
    SharpenSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
    WhiteSpec,
    WrapSide,
    WrapSpec,
)
from printplan.units import LengthUnit

NEEDED_LENGTHS = {
    SizeRule.WIDTH: ["width_mm"],
    SizeRule.HEIGHT: ["height_mm"],
    SizeRule.LONGEST_EDGE: ["longest_mm"],
    SizeRule.FIT: ["width_mm", "height_mm"],
    SizeRule.FILL: ["width_mm", "height_mm"],
}

edges_mm = st.floats(5, 60_000)
offsets_mm = st.floats(-60_000, 60_000)
shares = st.floats(0, 1)
names = st.text(min_size=1).filter(str.strip)


@st.composite
def size_specs(draw):
    rule = draw(st.sampled_from(SizeRule))
    return SizeSpec(
        rule=rule,
        ppi=draw(st.floats(30, 2400)),
        crop_centre_x_share=draw(shares),
        crop_centre_y_share=draw(shares),
        **{name: draw(edges_mm) for name in NEEDED_LENGTHS[rule]},
    )


@st.composite
def sheet_specs(draw):
    custom = draw(st.booleans())
    moved = draw(st.booleans())
    bleeds = draw(st.booleans())
    still = [Placement.CENTRED, Placement.OPTICAL_CENTRE]
    return SheetSpec(
        media_size="custom" if custom else draw(st.text()),
        feed=draw(st.text()),
        width_mm=draw(edges_mm) if custom else None,
        height_mm=draw(edges_mm) if custom else None,
        orientation=draw(st.sampled_from(Orientation)),
        placement=Placement.OFFSET if moved else draw(st.sampled_from(still)),
        offset_right_mm=draw(offsets_mm) if moved else 0.0,
        offset_down_mm=draw(offsets_mm) if moved else 0.0,
        border_mm=0.0 if bleeds else draw(st.floats(0, 1000)),
        roll_way=draw(st.sampled_from(RollWay)),
        deckle_mm=0.0 if bleeds else draw(st.floats(0, 100)),
        bleed_mm=draw(st.floats(0, 20)) if bleeds else 0.0,
    )


@st.composite
def wrap_specs(draw):
    depth_mm = draw(st.floats(0, 500))
    sides = {side: draw(st.sampled_from(WrapSide)) for side in ("left", "bottom")}
    return WrapSpec(
        bar_depth_mm=depth_mm,
        turn_over_mm=draw(st.floats(0, 500)) if depth_mm else 0.0,
        colour=draw(st.from_regex("#[0-9a-f]{6}", fullmatch=True)),
        edge_mm=draw(st.floats(0.5, 500)),
        shrinks_across_percent=draw(st.floats(-5, 5)),
        shrinks_along_percent=draw(st.floats(-5, 5)),
        **sides,
    )


@st.composite
def white_specs(draw):
    return WhiteSpec(
        key_line_mm=draw(st.floats(0, 20)),
        key_line_gap_mm=draw(st.floats(0, 200)),
        key_line_l=draw(st.floats(0, 100)),
        marks=draw(st.sampled_from(Marks)),
        caption=tuple(draw(st.lists(st.sampled_from(CaptionPart), unique=True))),
        caption_title=draw(names),
        caption_edition=draw(names),
        caption_date=draw(names),
        caption_mm=draw(st.floats(1, 50)),
        caption_gap_mm=draw(st.floats(0.5, 500)),
    )


def without_both_wraps(parts):
    """The parts of a spec, of which two would each wrap the picture."""
    if parts["wrap"].is_wrapped:
        parts["mount"] = replace(parts["mount"], wrap_mm=0.0)
    return PrintSpec(**parts)


@st.composite
def mat_sizes(draw):
    found = {"frame_rebate_mm": draw(st.floats(0, 500))}
    margins = draw(st.sampled_from(MatMargins))
    found["mat_margins"] = margins
    if margins is MatMargins.BOTTOM_WEIGHTED:
        found["mat_foot_mm"] = draw(st.floats(0, 500))
    kind = draw(st.sampled_from(["none", "size", "margin"]))
    if kind == "size":
        found["mat_outer_width_mm"] = draw(edges_mm)
        found["mat_outer_height_mm"] = draw(edges_mm)
    elif kind == "margin":
        found["mat_margin_mm"] = draw(st.floats(10, 2000))
    if draw(st.booleans()):
        found["frame_width_mm"] = draw(edges_mm)
        found["frame_height_mm"] = draw(edges_mm)
    return found


@st.composite
def mount_specs(draw):
    opening = {}
    kind = draw(st.sampled_from(["none", "size", "overlap", "white"]))
    if kind == "size":
        opening["mat_opening_width_mm"] = draw(edges_mm)
        opening["mat_opening_height_mm"] = draw(edges_mm)
    elif kind == "overlap":
        opening["mat_overlap_mm"] = draw(st.floats(0, 500))
    elif kind == "white":
        opening["reveal_mm"] = draw(st.floats(0, 1000))
        opening["reveal_below_mm"] = draw(st.none() | st.floats(0, 1000))
    if opening:
        opening |= draw(mat_sizes())
    return MountSpec(
        **opening,
        wrap_mm=draw(st.floats(0, 500)),
        stretcher_depth_mm=draw(st.floats(0, 500)),
    )


@st.composite
def delivery_specs(draw):
    colour = draw(st.sampled_from(Delivery))
    named = colour is Delivery.NAMED_SPACE
    formats = [it for it in FileFormat if named or it is not FileFormat.JPEG]
    file_format = draw(st.sampled_from(formats))
    extent = draw(st.sampled_from(Extent))
    is_exact = extent is Extent.PICTURE and draw(st.booleans())
    of_jpeg = st.none() | st.integers(1, 100)
    return DeliverySpec(
        colour=colour,
        named_space=draw(st.sampled_from(NamedSpace)) if named else None,
        file_format=file_format,
        extent=extent,
        jpeg_quality=draw(of_jpeg) if file_format is FileFormat.JPEG else None,
        exact_width_px=draw(st.integers(1, 500_000)) if is_exact else None,
        exact_height_px=draw(st.integers(1, 500_000)) if is_exact else None,
        bleed_mm=draw(st.floats(0, 50)) if extent is Extent.PICTURE else 0.0,
        dither_seed=draw(st.integers(0, 2**32 - 1)),
        copies=draw(st.integers(1, 9999)),
    )


plan_files = st.builds(
    PlanFile,
    master=st.builds(
        MasterSpec,
        file=names,
        assume_profile=st.text(),
        alpha=st.sampled_from(AlphaRule),
    ),
    book=names,
    paper=names,
    printer=names,
    note=st.text(),
    spec=st.builds(
        dict,
        size=size_specs(),
        sheet=sheet_specs(),
        sharpen=st.builds(
            SharpenSpec,
            gain=st.floats(0, 10),
            radius_mm=st.floats(0.01, 5),
            halo_limit_share=st.none() | st.floats(0, 2),
            grain_floor_l=st.floats(0, 10),
            restore=st.none() | st.floats(0, 1.5),
            distance_mm=st.none() | st.floats(50, 50_000),
            print_halo_limit_share=st.none() | st.floats(0.005, 1),
        ),
        colour=st.builds(
            ColourSpec,
            intent=st.sampled_from(Intent),
            black_point_compensation=st.sampled_from(BlackPointCompensation),
            lighten_l=st.floats(-15, 15),
        ),
        setup=st.text(),
        mount=mount_specs(),
        room=st.builds(
            RoomSpec,
            illuminance_lx=st.none() | st.floats(1, 20_000),
            display_cd_m2=st.none() | st.floats(10, 5_000),
        ),
        wrap=wrap_specs(),
        white=white_specs(),
        delivery=delivery_specs(),
        lengths_in=st.sampled_from(LengthUnit),
    ).map(without_both_wraps),
)


def plan(
    size=None,
    sheet=None,
    sharpen=None,
    mount=None,
    wrap=None,
    white=None,
    room=None,
    unit=LengthUnit.MM,
    setup="",
    **delivery,
):
    return PlanFile(
        master=MasterSpec(file="masters/red-bowl.tif"),
        book="papers.toml",
        paper="Fen Cotton 310",
        printer="Studio 24",
        spec=PrintSpec(
            size=SizeSpec(
                ppi=360, **(size or {"rule": SizeRule.LONGEST_EDGE, "longest_mm": 300})
            ),
            sheet=SheetSpec(**(sheet or {"media_size": "A3", "feed": "front"})),
            sharpen=SharpenSpec(**(sharpen or {})),
            mount=MountSpec(**(mount or {})),
            wrap=WrapSpec(**(wrap or {})),
            white=WhiteSpec(**(white or {})),
            room=RoomSpec(**(room or {})),
            delivery=DeliverySpec(**delivery),
            lengths_in=unit,
            setup=setup,
        ),
    )


# Together these have a line for every key that a plan can have.
FULL_TEXT = plan_file_text(
    plan(
        size={"rule": SizeRule.FILL, "width_mm": 200, "height_mm": 150},
        sheet={
            "media_size": "custom",
            "feed": "front",
            "width_mm": 250,
            "height_mm": 300,
            "placement": Placement.OFFSET,
            "deckle_mm": 8,
        },
        white={"marks": Marks.CORNERS},
        room={"illuminance_lx": 50, "display_cd_m2": 120},
        mount={
            "mat_opening_width_mm": 190,
            "mat_opening_height_mm": 140,
            "mat_outer_width_mm": 300,
            "mat_outer_height_mm": 250,
            "frame_width_mm": 301,
            "frame_height_mm": 251,
            "frame_rebate_mm": 7,
        },
        sharpen={
            "halo_limit_share": 0.24,
            "restore": 1,
            "distance_mm": 400,
            "print_halo_limit_share": 0.12,
        },
        unit=LengthUnit.INCHES,
        setup="matte black, best",
        colour=Delivery.NAMED_SPACE,
        named_space=NamedSpace.SRGB,
        file_format=FileFormat.JPEG,
        extent=Extent.PICTURE,
        jpeg_quality=90,
        exact_width_px=3000,
        exact_height_px=2000,
        bleed_mm=3,
    )
)
LONGEST_TEXT = plan_file_text(plan())
ROLL_TEXT = plan_file_text(
    plan(
        sheet={
            "media_size": "24 in roll",
            "feed": "roll",
            "roll_way": RollWay.WIDTH_ALONG,
            "bleed_mm": 3,
        },
        wrap={"bar_depth_mm": 40},
    )
)
WHITE_TEXT = plan_file_text(
    plan(
        mount={
            "reveal_mm": 12,
            "reveal_below_mm": 25,
            "mat_margin_mm": 50,
            "mat_margins": MatMargins.BOTTOM_WEIGHTED,
            "mat_foot_mm": 15,
        }
    )
)
OVERLAP_TEXT = plan_file_text(plan(mount={"mat_overlap_mm": 3}))
TEXTS = (FULL_TEXT, LONGEST_TEXT, WHITE_TEXT, OVERLAP_TEXT, ROLL_TEXT)


def parse(text):
    return parse_plan_text(text, where="plan.toml")


def with_line(text, table, key, line):
    """The text with one key's line replaced."""
    changed, count = re.subn(
        rf"(?ms)^(\[{table}\].*?^){key} = [^\n]*$", rf"\g<1>{line}", text, count=1
    )
    if not table:
        changed, count = re.subn(rf"(?m)^{key} = .*$", line, text, count=1)
    assert count == 1, (table, key)
    return changed


def keys_of(text):
    """Table and key of every line; ``('', key)`` at the top."""
    found = tomllib.loads(text)
    for name, value in found.items():
        if isinstance(value, dict):
            yield from ((name, key) for key in value)
        elif not name.startswith("format"):
            yield "", name


ALL_KEYS = sorted({it for text in TEXTS for it in keys_of(text)})


def text_with(table, key):
    """The first of the texts that has a line for a key."""
    return next(text for text in TEXTS if (table, key) in set(keys_of(text)))


def test_texts_of_these_tests_have_every_key():
    layout = get_type_hints(plan_module.PlanLayout)
    paths = {("", name) for name, kind in layout.items() if not is_dataclass(kind)}
    for name, kind in layout.items():
        if is_dataclass(kind):
            paths |= {(name, field.name) for field in fields(kind)}
    assert set(ALL_KEYS) == paths


@pytest.mark.slow
@settings(max_examples=100)
@given(plan_files)
def test_any_plan_comes_back_exactly(plan_file):
    text = plan_file_text(plan_file)
    assert parse(text) == plan_file
    assert plan_file_text(parse(text)) == text


def test_size_in_inches_is_answered_in_inches(tmp_path):
    """The unit is that of the size, or the one that is named; a change keeps it."""
    asked = with_line(LONGEST_TEXT, "size", "longest_mm", "longest_in = 12")
    in_inches = parse(asked)
    assert in_inches.spec.lengths_in is LengthUnit.INCHES
    assert in_inches.spec.size.longest_mm == pytest.approx(304.8)
    assert parse(LONGEST_TEXT).spec.lengths_in is LengthUnit.MM
    border = with_line(LONGEST_TEXT, "sheet", "border_mm", "border_in = 0.5")
    assert parse(border).spec.lengths_in is LengthUnit.MM
    path = tmp_path / "plan.toml"
    for size_mm in (304.8, 250.0):
        for unit in LengthUnit:
            path.write_text(asked, encoding="utf-8")
            size = replace(in_inches.spec.size, longest_mm=size_mm)
            spec = replace(in_inches.spec, size=size, lengths_in=unit)
            wanted = replace(in_inches, spec=spec)
            assert parse(save_plan(wanted, path, as_read=asked)) == wanted


def test_plan_is_laid_out_for_people():
    """Each part is a table of its own, and nothing is called spec."""
    text = plan_file_text(plan())
    assert re.findall(r"(?m)^\[(.*?)\]", text) == [
        "master",
        "size",
        "sheet",
        "sharpen",
        "colour",
        "mount",
        "room",
        "delivery",
    ]
    assert text.splitlines()[1:3] == ['format = "printplan plan"', "format_version = 1"]


def test_tables_with_defaults_may_be_left_out():
    text = plan_file_text(plan())
    assert parse(text[: text.index("[sharpen]")]) == plan()


def one_letter_wrong(key, rng):
    """A letter missing, doubled, exchanged with its neighbour, and another one."""
    at = rng.randrange(len(key) - 1)
    yield key[:at] + key[at + 1 :]
    yield key[: at + 1] + key[at:]
    yield key[:at] + key[at + 1] + key[at] + key[at + 2 :]
    yield key[:at] + rng.choice("bjqvz") + key[at + 1 :]


@pytest.mark.parametrize(("table", "key"), ALL_KEYS)
def test_misspelt_key_names_the_right_one(table, key):
    text = text_with(table, key)
    place = f"[{table}] " if table else ""
    # Seeded by the key, so that a failure comes again.
    for wrong in one_letter_wrong(key, random.Random(key)):  # noqa: S311 - not a secret
        if (table, wrong) in ALL_KEYS:
            continue
        with pytest.raises(RecordError) as caught:
            parse(with_line(text, table, key, f"{wrong} = 1"))
        assert caught.value.problem == (
            f"plan.toml: {place}{wrong}: there is no such key."
        )
        named = caught.value.remedy.removeprefix("Did you mean ").rstrip("?")
        assert key in named.split(" or ")


@pytest.mark.parametrize(
    "table",
    ["master", "size", "sheet", "sharpen", "colour", "mount", "room", "delivery"],
)
def test_misspelt_table_names_the_right_one(table):
    for wrong in one_letter_wrong(table, random.Random(table)):  # noqa: S311
        if wrong == table:
            continue
        with pytest.raises(RecordError, match=f"Did you mean {table}?"):
            parse(LONGEST_TEXT.replace(f"[{table}]", f"[{wrong}]"))


ENUM_KEYS = [
    ("master", "alpha", AlphaRule),
    ("size", "rule", SizeRule),
    ("sheet", "orientation", Orientation),
    ("sheet", "placement", Placement),
    ("colour", "intent", Intent),
    ("delivery", "colour", Delivery),
    ("delivery", "named_space", NamedSpace),
    ("delivery", "file_format", FileFormat),
    ("delivery", "extent", Extent),
]


@pytest.mark.parametrize(("table", "key", "kind"), ENUM_KEYS)
def test_misspelt_word_names_the_right_one_and_the_list(table, key, kind):
    for word in kind:
        wrong = word[:1] + word[2:]
        with pytest.raises(RecordError) as caught:
            parse(with_line(FULL_TEXT, table, key, f'{key} = "{wrong}"'))
        assert (
            caught.value.problem == f'plan.toml: [{table}] {key} is the text "{wrong}".'
        )
        nearest, allowed = caught.value.remedy.split("? ")
        assert f'"{word}"' in nearest
        assert all(f'"{each}"' in allowed for each in kind)


@pytest.mark.parametrize(("table", "key"), ALL_KEYS)
def test_wrong_kind_of_value_is_named(table, key):
    text = text_with(table, key)
    place = f"[{table}] {key}" if table else key
    for wrong, described in (
        ("true", "true"),
        ("[]", "a list"),
        ("1979-05-27", "1979-05-27"),
    ):
        if (key, wrong) == ("caption", "[]"):
            continue  # a caption of no parts
        with pytest.raises(RecordError) as caught:
            parse(with_line(text, table, key, f"{key} = {wrong}"))
        assert caught.value.problem == f"plan.toml: {place} is {described}."
        assert caught.value.remedy.startswith("Give ")


SHORT_LENGTHS = {
    *("radius_mm", "bleed_mm", "deckle_mm"),
    *("key_line_mm", "key_line_gap_mm", "caption_mm"),
}
LENGTH_KEYS = [(table, key) for table, key in ALL_KEYS if key.endswith("_mm")]


@pytest.mark.parametrize(("table", "key"), LENGTH_KEYS)
def test_every_length_may_be_in_inches_but_not_in_both(table, key):
    text = text_with(table, key)
    # By the international inch of exactly 25.4 mm.
    inches, length_mm = (0.05, 1.27) if key in SHORT_LENGTHS else (8.5, 215.9)
    in_inches = f"{key[:-3]}_in = {inches}"
    made = parse(with_line(text, table, key, in_inches))
    assert getattr(getattr(made.spec, table), key) == pytest.approx(length_mm, 1e-15)
    with pytest.raises(RecordError, match="Keep one of the two"):
        parse(with_line(text, table, key, f"{key} = 5\n{in_inches}"))


@pytest.mark.parametrize(
    ("table", "key"),
    [
        (place.split(".")[0], place.split(".")[1])
        for place, comment in PLAN_COMMENTS.items()
        if re.search(r"\d (?:\w+ )?to \d", comment)
    ],
)
def test_range_in_a_comment_is_the_range_taken(table, key):
    text = text_with(table, key)
    low, high = re.search(
        r"(-?[\d.]+)(?: left| top)? to ([\d.]+)", PLAN_COMMENTS[f"{table}.{key}"]
    ).groups()
    for limit, beyond in ((low, float(low) - 1e-6), (high, float(high) * (1 + 1e-6))):
        made = parse(with_line(text, table, key, f"{key} = {limit}"))
        assert getattr(getattr(made.spec, table), key) == float(limit)
        with pytest.raises(SpecError, match=rf"plan.toml: \[{table}\] .*from"):
            parse(with_line(text, table, key, f"{key} = {beyond:.9f}"))


def test_every_comment_belongs_to_a_key():
    known = {f"{table}.{key}".lstrip(".") for table, key in ALL_KEYS}
    known |= {table for table, _ in ALL_KEYS}
    assert set(PLAN_COMMENTS) <= known


def test_contradiction_keeps_its_own_remedy():
    with pytest.raises(SpecError) as caught:
        parse(with_line(LONGEST_TEXT, "size", "rule", 'rule = "width"'))
    assert caught.value.problem == "plan.toml: [size] A size by width needs a width."
    assert caught.value.remedy == "Add the width, or choose another size rule."


@pytest.mark.parametrize("key", ["book", "paper", "printer"])
def test_plan_names_all_that_it_needs(key):
    with pytest.raises(RecordError, match=r"plan.toml: The plan names no .* Give the"):
        parse(with_line(LONGEST_TEXT, "", key, f'{key} = " "'))
    with pytest.raises(RecordError, match=f"Add {key}"):
        parse(with_line(LONGEST_TEXT, "", key, ""))


def test_newer_plan_is_not_guessed_at():
    newer = LONGEST_TEXT.replace("format_version = 1", "format_version = 2\nmood = 1")
    with pytest.raises(RecordError, match="Open it with a newer printplan"):
        parse(newer)


def test_paper_book_is_not_taken_for_a_plan():
    book = 'format = "printplan paper book"\nformat_version = 1\n'
    with pytest.raises(RecordError, match='begins with format = "printplan plan"'):
        parse(book)


def test_paths_begin_in_the_folder_of_the_plan(tmp_path):
    assumed = replace(plan().master, assume_profile="profiles/old scanner.icc")
    found = replace(plan(), master=assumed).resolved(tmp_path / "plan.toml")
    assert Path(found.master.file) == tmp_path / "masters" / "red-bowl.tif"
    assert Path(found.master.assume_profile) == tmp_path / "profiles/old scanner.icc"
    assert Path(found.book) == tmp_path / "papers.toml"


def test_whole_paths_and_names_of_spaces_stay(tmp_path):
    master = MasterSpec(file=str(tmp_path / "m.tif"), assume_profile="sRGB")
    whole = replace(plan(), master=master, book=str(tmp_path / "papers.toml"))
    assert whole.resolved("elsewhere/plan.toml") == whole


def test_plan_file_is_written_once(tmp_path):
    path = tmp_path / "plan.toml"
    write_plan_file(plan(), path)
    assert read_plan_file(path) == plan()
    with pytest.raises(RecordError, match=r"another name\. In Python: overwrite=True"):
        write_plan_file(replace(plan(), note="second"), path)
    assert read_plan_file(path) == plan()
    write_plan_file(replace(plan(), note="second"), path, overwrite=True)
    assert read_plan_file(path).note == "second"
    assert [it.name for it in tmp_path.iterdir()] == ["plan.toml"]


def test_error_names_the_file(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text(LONGEST_TEXT.replace("ppi = 360", "ppj = 360"))
    with pytest.raises(RecordError, match=r"plan.toml: \[size\] ppj.*mean ppi"):
        read_plan_file(path)
