"""What is kept while sharpening is tried changes no bit of what is seen."""

from dataclasses import replace

import numpy as np
import pytest
import tifffile

from printplan.colour.spaces import named_profile
from printplan.pixels import stages
from printplan.pixels.master import open_master
from printplan.pixels.sheet import build_sheet, varied
from printplan.sizing.boxes import Box
from printplan.spec import NamedSpace, SharpenSpec

TRIED = [
    {"sharpen": SharpenSpec(gain=0.4, radius_mm=0.2)},
    {"sharpen": SharpenSpec(gain=1.9, radius_mm=0.2)},
    {"sharpen": SharpenSpec(gain=1.9, radius_mm=0.31)},
    {"sharpen": SharpenSpec(gain=1.9, radius_mm=0.2, halo_limit_share=0.1)},
    {"sharpen": SharpenSpec(gain=1.9, radius_mm=0.2, grain_floor_l=0.5)},
    {"sharpen": SharpenSpec(gain=0.0, radius_mm=0.2)},
]


@pytest.fixture(scope="module")
def master(textured, tmp_path_factory):
    path = tmp_path_factory.mktemp("starts") / "master.tif"
    icc = named_profile(NamedSpace.ROMM_RGB).data
    tifffile.imwrite(path, textured, photometric="rgb", iccprofile=icc, metadata=None)
    with open_master(path) as master:
        yield master


@pytest.fixture
def sheet(master, plan_for):
    return build_sheet(master, plan_for(master, width_mm=60, gain=1.0))


@pytest.fixture
def box(sheet):
    """Inside the picture, and large enough for two threads."""
    picture = sheet.plan.picture_in_file
    return Box(picture.left + 40, picture.top + 50, 420, 300)


def test_windows_of_wishes_tried_in_turn_are_those_of_new_sheets(sheet, box):
    spec = sheet.plan.spec
    lighter = replace(spec.colour, lighten_l=6.0)
    for tried in [*TRIED, {"colour": lighter}, *reversed(TRIED)]:
        sheet = varied(sheet, replace(spec, **tried))
        fresh = build_sheet(sheet.master, sheet.plan)
        assert np.array_equal(sheet.window(box), fresh.window(box))


def test_another_gain_blurs_nothing_anew(sheet, box, monkeypatch):
    blurs = []

    def blurred(start, blur, part):
        blurs.append(blur)
        return blur_of_stages(start, blur, part)

    blur_of_stages = stages.blurred
    monkeypatch.setattr(stages, "blurred", blurred)
    sheet = build_sheet(sheet.master, sheet.plan)
    spec = sheet.plan.spec
    sheet.window(box)
    first = len(blurs)
    assert first > 0
    other = replace(spec, sharpen=replace(spec.sharpen, gain=0.3))
    sheet = varied(sheet, other)
    sheet.window(box)
    assert len(blurs) == first
    wider = replace(other, sharpen=replace(other.sharpen, radius_mm=0.2))
    varied(sheet, wider).window(box)
    assert len(blurs) == 2 * first


def test_a_region_too_large_to_keep_is_not_kept(sheet, monkeypatch):
    monkeypatch.setattr(stages, "_LARGEST_KEPT_PX", 1000)
    region = Box(0, 0, 60, 40)

    def light(box):
        return sheet.cache.get("light", box, 0, lambda: sheet.light.region(box))

    one, again = light(region), light(region)
    assert one is not again
    assert np.array_equal(one, again)
    small = Box(0, 0, 30, 20)
    assert light(small) is light(small)


def test_the_cache_keeps_wishes_apart(sheet):
    """Numbers that hash alike are the same wish; all others are not."""
    box = Box(0, 0, 30, 20)
    kept = {
        wish: sheet.cache.get("wish", box, wish, lambda wish=wish: [wish])
        for wish in (0.0, 1.0, (1.0, 2.0), "1", None)
    }
    for wish, made in kept.items():
        assert sheet.cache.get("wish", box, wish, list) is made == [wish]
    assert sheet.cache.get("other", box, 0.0, list) == []
    assert sheet.cache.get("wish", Box(1, 0, 30, 20), 0.0, list) == []
