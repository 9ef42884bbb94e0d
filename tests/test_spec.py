"""A wish may be said in words, and means the same as the member of that name."""

from dataclasses import fields
from enum import StrEnum

import numpy as np
import pytest

from printplan.colour.black_point import adaptation
from printplan.colour.conversion import linear_to_device
from printplan.colour.spaces import named_profile
from printplan.errors import SpecError
from printplan.pixels.sheet import build_sheet
from printplan.spec import (
    BlackPointCompensation,
    ColourSpec,
    Delivery,
    DeliverySpec,
    Extent,
    FileFormat,
    Intent,
    NamedSpace,
    Orientation,
    Placement,
    SheetSpec,
    SizeRule,
    SizeSpec,
)

SHEET = {"media_size": "A4", "feed": "front slot"}
WORDS = [
    (SizeSpec, {"width_mm": 100.0, "ppi": 300.0}, "rule", SizeRule.WIDTH),
    *((ColourSpec, {}, "intent", it) for it in Intent),
    *(
        (ColourSpec, {}, "black_point_compensation", it)
        for it in BlackPointCompensation
    ),
    *((SheetSpec, SHEET, "orientation", it) for it in Orientation),
    *((SheetSpec, SHEET, "placement", it) for it in Placement),
    (DeliverySpec, {}, "colour", Delivery.WORKING_COLOUR),
    *(
        (DeliverySpec, {"colour": Delivery.NAMED_SPACE}, "named_space", it)
        for it in NamedSpace
    ),
    (DeliverySpec, {}, "file_format", FileFormat.TIFF_8),
    (DeliverySpec, {}, "extent", Extent.PICTURE),
]


@pytest.mark.parametrize(("kind", "rest", "name", "member"), WORDS)
def test_a_word_becomes_its_member(kind, rest, name, member):
    said = kind(**rest, **{name: str(member)})
    assert getattr(said, name) is member
    assert said == kind(**rest, **{name: member})


@pytest.mark.parametrize(("kind", "rest", "name", "member"), WORDS)
def test_another_word_is_refused_with_the_choices(kind, rest, name, member):
    with pytest.raises(SpecError, match=f'"{member}"'):
        kind(**rest, **{name: "colorimetric"})


def test_every_choice_of_every_spec_is_tried_above():
    kinds = {kind for kind, *_ in WORDS}
    asked = {(kind, name) for kind, _, name, _ in WORDS}
    for kind in kinds:
        for field in fields(kind):
            hint = str(field.type).removesuffix(" | None")
            if issubclass(globals().get(hint, int), StrEnum):
                assert (kind, field.name) in asked


def test_words_render_what_their_members_render(master_of, textured, plan_for):
    """Whichever is asked first, no cache gives the one for the other."""
    master = master_of(textured)
    files = {}
    for wish in ("off", "on", *BlackPointCompensation, "off"):
        colour = ColourSpec(intent="media-relative", black_point_compensation=wish)
        sheet = build_sheet(master, plan_for(master, width_mm=40.0, colour=colour))
        pixels = sheet.window(sheet.plan.picture_in_file)
        files.setdefault(str(wish), []).append(pixels)
    for same in files.values():
        assert len(same) >= 2
        assert all(np.array_equal(same[0], other) for other in same)
    assert np.abs(files["on"][0].astype(int) - files["off"][0]).max() > 1000


def test_a_conversion_asked_in_words_is_the_same(paper_profiles):
    source, paper = named_profile(NamedSpace.ROMM_RGB), paper_profiles["Fen Cotton 310"]
    linear = np.random.default_rng(3).random((3, 4, 50), np.float32) ** 3
    done = {}
    for wish in ("off", BlackPointCompensation.OFF, "on", BlackPointCompensation.ON):
        linear_to_device.cache_clear()
        pipeline = linear_to_device(
            source, paper, intent="perceptual", black_point_compensation=wish
        )
        done.setdefault(str(wish), []).append(pipeline.from_linear(linear))
    for one, other in done.values():
        assert (one == other).all()
    with pytest.raises(SpecError, match='"perceptual"'):
        adaptation(source, paper, "absolute", "on")
