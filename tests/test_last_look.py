"""A picture that is lost on its way leaves no file; a plain one does."""

import numpy as np
import pytest
from profile_flaws import emptied

from printplan.errors import RenderError
from printplan.pixels.last_look import DETAIL_L, LastLook, require_numbers
from printplan.pixels.master import Master
from printplan.pixels.render import render
from printplan.pixels.resampled_light import ResampledLight
from printplan.pixels.sheet import Sheet, build_sheet
from printplan.sizing.boxes import Box
from printplan.spec import (
    BlackPointCompensation,
    ColourSpec,
    Delivery,
    DeliverySpec,
    FileFormat,
)


@pytest.fixture
def picture(master_of, textured):
    return master_of(textured)


def with_output(master, plan, output):
    """A sheet on a profile that `build_sheet` would refuse."""
    size_px = (plan.picture.width, plan.picture.height)
    return Sheet(
        master, plan, ResampledLight(master, plan.picture_size.crop, size_px), output
    )


@pytest.mark.parametrize("file_format", [FileFormat.TIFF_16, FileFormat.TIFF_8])
def test_a_profile_that_prints_one_value_leaves_no_file(
    file_format, picture, plan_for, paper_profiles, tmp_path
):
    plan = plan_for(
        picture,
        width_mm=40,
        colour=ColourSpec(black_point_compensation=BlackPointCompensation.OFF),
        delivery=DeliverySpec(file_format=file_format),
    )
    empty = emptied(paper_profiles["Fen Cotton 310"], "B2A0", "B2A1", "B2A2")
    before = set(tmp_path.iterdir())
    with pytest.raises(RenderError, match="one single value") as caught:
        render(with_output(picture, plan, empty), tmp_path / "print.tif")
    assert "sound profile" in caught.value.remedy
    assert set(tmp_path.iterdir()) == before
    made = render(build_sheet(picture, plan), tmp_path / "print.tif")
    assert made.path.is_file()


def test_light_that_is_no_number_leaves_no_file(
    picture, plan_for, tmp_path, monkeypatch
):
    plan = plan_for(picture, width_mm=60)
    sheet = build_sheet(picture, plan)
    sound_light = Master.linear

    def broken_light(master, box):
        light = sound_light(master, box)
        light[0, light.shape[1] // 2, -1] = np.nan
        return light

    before = set(tmp_path.iterdir())
    monkeypatch.setattr(Master, "linear", broken_light)
    with pytest.raises(RenderError, match="sound profile embedded"):
        render(sheet, tmp_path / "print.tif")
    assert set(tmp_path.iterdir()) == before


@pytest.mark.parametrize("delivery", [None, "working"])
def test_a_master_of_one_grey_makes_a_file(delivery, master_of, plan_for, tmp_path):
    """A grey card with the noise of a camera, or with none."""
    wish = DeliverySpec(colour=Delivery.WORKING_COLOUR) if delivery else None
    noise = np.random.default_rng(3).normal(0, 200, (120, 200, 3))
    for number, grey in enumerate((noise * 0, noise)):
        card = master_of(np.rint(grey + 24_000).astype(np.uint16))
        plan = plan_for(card, width_mm=40, delivery=wish)
        made = render(build_sheet(card, plan), tmp_path / f"card-{number}.tif")
        assert made.path.is_file()


def light(low, high, channels=3):
    """Linear light between two L*, by the cube root (CIE 015:2018, 8.2.1)."""
    tones = ((np.linspace(low, high, 40) + 16) / 116) ** 3
    return np.broadcast_to(tones, (channels, 10, 40)).astype(np.float32)


def test_detail_is_counted_over_all_parts():
    """A picture of two even halves has detail, wherever its parts were cut."""
    one_value = np.full((10, 40, 3), 7, np.uint16)
    look = LastLook()
    for level in (30, 30 + DETAIL_L / 2):
        look.at_light(light(level, level))
        look.at_codes(one_value)
    look.require_detail()
    look.at_light(light(30 + DETAIL_L + 1, 30 + DETAIL_L + 1))
    with pytest.raises(RenderError, match="from L\\* 30 to 41"):
        look.require_detail()
    look.at_codes(one_value + np.uint16(1))
    look.require_detail()


def test_detail_of_one_channel_is_detail():
    red = light(20, 80).copy()
    red[1:] = 0.2
    look = LastLook()
    look.at_light(red)
    look.at_codes(np.zeros((10, 40, 3), np.uint16))
    with pytest.raises(RenderError, match="sound profile"):
        look.require_detail()


def test_numbers_are_told_from_others():
    require_numbers(light(0, 100))
    for wrong in (np.nan, np.inf):
        spoilt = light(0, 100).copy()
        spoilt[2, 5, 5] = wrong
        with pytest.raises(RenderError, match="not a number"):
            require_numbers(spoilt)


def test_a_window_of_such_light_is_refused_too(picture, plan_for, monkeypatch):
    sheet = build_sheet(picture, plan_for(picture, width_mm=60))
    place = sheet.plan.picture_in_file
    monkeypatch.setattr(
        Master,
        "linear",
        lambda master, box: np.full(
            (master.facts.channels, box.height, box.width), np.nan, np.float32
        ),
    )
    with pytest.raises(RenderError, match="not a number"):
        sheet.window(Box(place.left, place.top, 20, 20))
