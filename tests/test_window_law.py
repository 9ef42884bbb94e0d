"""For every box, `window` equals the same box of the rendered file, bit for bit."""

from unittest.mock import patch

import numpy as np
import pikepdf
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from printplan.colour.spaces import named_profile
from printplan.errors import SpecError
from printplan.loops import threads
from printplan.pixels.master import open_master
from printplan.pixels.render import render
from printplan.pixels.sheet import Appearance, build_sheet
from printplan.sizing.boxes import Box
from printplan.spec import (
    BlackPointCompensation,
    ColourSpec,
    Delivery,
    DeliverySpec,
    Extent,
    FileFormat,
    Intent,
    NamedSpace,
    Placement,
)

SHEET_MM = {"width_mm": 120.0, "height_mm": 160.0}
SUFFIX = {FileFormat.TIFF_16: ".tif", FileFormat.TIFF_8: ".tif", FileFormat.PDF: ".pdf"}


@pytest.fixture(scope="module")
def law_master(textured, tmp_path_factory):
    path = tmp_path_factory.mktemp("law-master") / "master.tif"
    tifffile.imwrite(
        path,
        textured,
        photometric="rgb",
        iccprofile=named_profile(NamedSpace.ROMM_RGB).data,
        metadata=None,
    )
    with open_master(path) as master:
        yield master


@st.composite
def deliveries(draw):
    colour = draw(st.sampled_from(list(Delivery)))
    return DeliverySpec(
        colour=colour,
        named_space=draw(st.sampled_from(list(NamedSpace)))
        if colour is Delivery.NAMED_SPACE
        else None,
        file_format=draw(st.sampled_from(list(SUFFIX))),
        extent=draw(st.sampled_from(list(Extent))),
        dither_seed=draw(st.integers(0, 3)),
    )


@st.composite
def wishes(draw):
    """A print from a tenth to three times the master's pixels, placed anywhere."""
    placement = draw(st.sampled_from(list(Placement)))
    offset = {}
    if placement is Placement.OFFSET:
        offset = {
            "offset_right_mm": draw(st.floats(-8, 8)),
            "offset_down_mm": draw(st.floats(-8, 8)),
        }
    return {
        "width_mm": draw(st.floats(20, 90)),
        "ppi": draw(st.sampled_from([72.0, 150.0, 254.0, 300.0])),
        "gain": draw(st.sampled_from([0.0, 0.7, 2.0])),
        "radius_mm": draw(st.floats(0.05, 0.6)),
        "halo_limit_share": draw(st.sampled_from([None, 0.0, 0.12])),
        "grain_floor_l": draw(st.sampled_from([0.0, 0.5])),
        "colour": ColourSpec(
            intent=draw(st.sampled_from(list(Intent))),
            black_point_compensation=draw(
                st.sampled_from(list(BlackPointCompensation))
            ),
            lighten_l=draw(st.sampled_from([0.0, 6.0])),
        ),
        "delivery": draw(deliveries()),
        "media_size": "custom",
        "sheet_mm": SHEET_MM,
        "placement": placement,
        "border_mm": draw(st.floats(0, 6)),
        **offset,
    }


def file_pixels(path, shape):
    """Pixels of a finished file, read by other programs' code."""
    if path.suffix == ".tif":
        return tifffile.imread(path).reshape(shape)
    with pikepdf.open(path) as document:
        image = document.pages[0].Resources.XObject.Picture
        raw = image.read_bytes()
        depth = int(image.BitsPerComponent)
    return np.frombuffer(raw, ">u2" if depth == 16 else "u1").reshape(shape)


@pytest.mark.slow
@settings(
    max_examples=200,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(wish=wishes(), data=st.data())
def test_window_equals_the_same_box_of_the_file(
    wish, data, law_master, plan_for, tmp_path_factory
):
    plan = plan_for(law_master, **wish)
    sheet = build_sheet(law_master, plan)
    folder = tmp_path_factory.mktemp("law")
    path = folder / f"print{SUFFIX[plan.delivery.file_format]}"
    render(sheet, path)
    width, height = sheet.size_px
    whole = file_pixels(path, (height, width, sheet.channels))
    left = data.draw(st.integers(0, width - 1), "left")
    top = data.draw(st.integers(0, height - 1), "top")
    box = Box(
        left,
        top,
        data.draw(st.integers(1, width - left), "width"),
        data.draw(st.integers(1, height - top), "height"),
    )
    # Small windows take one thread; some are made to take two here.
    two = data.draw(st.sampled_from([1, threads.WORTH_TWO_THREADS]), "worth two")
    with patch.object(threads, "WORTH_TWO_THREADS", two):
        window = sheet.window(box)
    assert window.dtype.itemsize == whole.dtype.itemsize
    assert np.array_equal(
        window, whole[box.top : box.bottom, box.left : box.right].astype(window.dtype)
    )
    path.unlink()


def test_proof_window_is_the_proof_of_the_file_values(law_master, plan_for):
    plan = plan_for(law_master, width_mm=60, gain=1.0)
    sheet = build_sheet(law_master, plan)
    box = plan.picture_in_file
    part = Box(box.left + 70, box.top + 40, 90, 60)
    for appearance in Appearance:
        whole = sheet.proof_window(box, appearance)
        assert np.array_equal(
            sheet.proof_window(part, appearance), whole[40:100, 70:160]
        )


def test_overview_shows_what_the_file_shows(master_of, plan_for):
    """Where the picture changes slowly, file and overview agree place by place."""
    rows, columns = np.indices((240, 360))
    slow = np.stack([rows / 240, columns / 360, (rows + columns) / 600], axis=-1)
    master = master_of(np.rint(20000 + slow * 25000).astype(np.uint16))
    plan = plan_for(master, width_mm=300, ppi=144)
    sheet = build_sheet(master, plan)
    whole = sheet.window(Box(0, 0, *sheet.size_px)).astype(float)
    small = sheet.overview(max(sheet.size_px) // 4)
    assert small.scale == pytest.approx(0.25, abs=1e-3)
    rows, columns = np.indices(small.pixels.shape[:2])
    inside = plan.picture_in_file
    # Pixels whose whole neighbourhood lies in the picture, one print pixel per four.
    keep = (
        (rows * 4 > inside.top + 16)
        & (rows * 4 < inside.bottom - 16)
        & (columns * 4 > inside.left + 16)
        & (columns * 4 < inside.right - 16)
    )
    means = (whole[1::4, 1::4] + whole[2::4, 2::4])[
        : rows.shape[0], : rows.shape[1]
    ] / 2
    difference = np.abs(means - small.pixels)[keep]
    # One overview pixel of shift would be 0.0012 of full scale here at the least.
    assert difference.mean() / 65535 <= 0.0006


@pytest.mark.parametrize("box", [(0, 0, 0, 5), (-1, 0, 5, 5), (0, 0, 99999, 5)])
def test_window_outside_the_file_is_refused(law_master, plan_for, box):
    sheet = build_sheet(law_master, plan_for(law_master))
    with pytest.raises(SpecError, match="at least one pixel inside the file"):
        sheet.window(Box(*box))


def test_plan_of_another_master_is_refused(law_master, master_of, plan_for):
    other = master_of(np.zeros((20, 30, 3), np.uint16))
    with pytest.raises(SpecError, match="Resolve the plan again"):
        build_sheet(other, plan_for(law_master))
