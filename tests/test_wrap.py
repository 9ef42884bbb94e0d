"""A canvas round its bar: the front has the size asked, its sides are made of it."""

import gc
import weakref
from dataclasses import replace

import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from printplan.colour.spaces import named_profile
from printplan.errors import FitError, SpecError
from printplan.pixels.master import open_master
from printplan.pixels.render import render
from printplan.pixels.sheet import build_sheet
from printplan.plan import resolve
from printplan.sizing.boxes import Box
from printplan.sizing.print_size import picture_size
from printplan.sizing.wrap import front_size, printed_length, shrinkage_percent
from printplan.spec import (
    Delivery,
    DeliverySpec,
    Extent,
    FileFormat,
    Marks,
    MountSpec,
    NamedSpace,
    PrintSpec,
    SizeRule,
    SizeSpec,
    WhiteSpec,
    WrapSide,
    WrapSpec,
)

ALL = ("left", "top", "right", "bottom")


def with_sides(kind, **wrap):
    return WrapSpec(bar_depth_mm=8, turn_over_mm=4, **dict.fromkeys(ALL, kind), **wrap)


@pytest.fixture(scope="module")
def canvas(textured, tmp_path_factory):
    path = tmp_path_factory.mktemp("canvas") / "master.tif"
    tifffile.imwrite(
        path,
        textured,
        photometric="rgb",
        iccprofile=named_profile(NamedSpace.ROMM_RGB).data,
        metadata=None,
    )
    with open_master(path) as master:
        yield master


@pytest.fixture
def wrapped(plan_for, canvas):
    def make(wrap, *, white=None, size=None, delivery=None, **wish):
        plan = plan_for(canvas, **{"width_mm": 60.0, "ppi": 150.0} | wish)
        spec = replace(
            plan.spec,
            wrap=wrap,
            white=white or WhiteSpec(),
            size=size or plan.spec.size,
            delivery=delivery or DeliverySpec(),
        )
        return build_sheet(
            canvas, resolve(canvas.facts, plan.paper, plan.printer, spec)
        )

    return make


def pixels_of(sheet, path):
    return tifffile.imread(render(sheet, path).path)


def cut(pixels, box):
    return pixels[box.top : box.bottom, box.left : box.right]


def test_worked_example_of_a_canvas(plan_for, canvas):
    """
    Trade arithmetic, common practice: a front of 150 × 100 mm round a bar 20 mm deep,
    with 15 mm at the back, is printed 150 + 2 · 35 by 100 + 2 · 35 mm.
    """
    plan = plan_for(canvas)
    spec = replace(
        plan.spec,
        size=SizeSpec(rule=SizeRule.FILL, width_mm=150, height_mm=100, ppi=300),
        wrap=WrapSpec(bar_depth_mm=20, turn_over_mm=15),
    )
    layout = resolve(canvas.facts, plan.paper, plan.printer, spec).layout
    block = layout.block
    assert block.right_mm - block.left_mm == pytest.approx(220)
    assert block.bottom_mm - block.top_mm == pytest.approx(170)
    assert layout.front.left_mm - block.left_mm == pytest.approx(35)


@pytest.mark.parametrize("kind", list(WrapSide))
def test_front_has_the_size_asked(wrapped, kind):
    sheet = wrapped(with_sides(kind))
    front, ppi = sheet.plan.front, sheet.plan.ppi
    assert abs(front.width - 60 / 25.4 * ppi) <= 1
    if kind is not WrapSide.CONTINUED:
        assert abs(front.height - 60 * 210 / 320 / 25.4 * ppi) <= 1
    # Told sizes and resolution are the front's.
    assert sheet.plan.picture_size.width_mm == pytest.approx(60)
    assert sheet.plan.enlargement == pytest.approx(
        sheet.plan.ppi / sheet.plan.effective_ppi, rel=0.01
    )


def test_front_is_the_picture_that_is_printed_without_a_bar(wrapped):
    plain = wrapped(WrapSpec(), gain=0.8)
    sheet = wrapped(with_sides(WrapSide.MIRRORED), gain=0.8)
    own = plain.window(plain.plan.in_file(plain.plan.picture))
    front = sheet.window(sheet.plan.in_file(sheet.plan.front))
    np.testing.assert_array_equal(front, own)


def test_mirrored_sides_are_exact_mirrors_at_the_fold(wrapped, tmp_path):
    sheet = wrapped(with_sides(WrapSide.MIRRORED), gain=0.8, halo_limit_share=0.1)
    plan = sheet.plan
    pixels = pixels_of(sheet, tmp_path / "print.tif")
    block, front = (plan.in_file(it) for it in (plan.block, plan.front))
    left, right = front.left - block.left, block.right - front.right
    top, bottom = front.top - block.top, block.bottom - front.bottom
    whole, picture = cut(pixels, block), cut(pixels, front)
    np.testing.assert_array_equal(
        whole, np.pad(picture, ((top, bottom), (left, right), (0, 0)), "symmetric")
    )


def test_mirror_turns_again_beyond_a_narrow_front(wrapped, tmp_path):
    sheet = wrapped(
        WrapSpec(bar_depth_mm=30, turn_over_mm=20), width_mm=30.0, ppi=100.0
    )
    plan = sheet.plan
    pixels = pixels_of(sheet, tmp_path / "print.tif")
    block, front = (plan.in_file(it) for it in (plan.block, plan.front))
    pads = (
        (front.top - block.top, block.bottom - front.bottom),
        (front.left - block.left, block.right - front.right),
        (0, 0),
    )
    assert pads[0][0] > front.height
    np.testing.assert_array_equal(
        cut(pixels, block), np.pad(cut(pixels, front), pads, "symmetric")
    )


def test_stretched_sides_are_continuous(wrapped, tmp_path):
    """No step at the fold is larger than the steps that lie beside it in the front."""
    sheet = wrapped(with_sides(WrapSide.STRETCHED, edge_mm=3))
    plan = sheet.plan
    pixels = pixels_of(sheet, tmp_path / "print.tif").astype(int)
    front = plan.in_file(plan.front)
    rows = slice(front.top, front.bottom)
    side = pixels[rows, front.left - 40 : front.left + 20]
    steps = np.abs(np.diff(side, axis=1))
    # Drawn out four times, the side's own steps are at most those of the front.
    assert steps[:, :39].max() <= steps[:, 40:].max()
    np.testing.assert_array_less(
        np.abs(side[:, 39] - side[:, 40]), steps[:, 40:43].max(axis=1) + 1
    )
    # Its outer end shows the depth that was asked: 3 mm, 17.7 pixels, inside.
    outer = pixels[rows, plan.in_file(plan.block).left]
    low, high = (pixels[rows, front.left + it] for it in (17, 18))
    within = np.minimum(low, high) - 1
    assert (outer >= np.minimum(within, pixels[rows, front.left + 16])).all()


def test_continued_sides_are_the_master(wrapped, tmp_path):
    """The print with continued sides is a print of the whole, sides and all."""
    size = SizeSpec(rule=SizeRule.FILL, width_mm=60, height_mm=40, ppi=150)
    sheet = wrapped(with_sides(WrapSide.CONTINUED), size=size)
    whole = wrapped(WrapSpec(), size=replace(size, width_mm=84, height_mm=64))
    np.testing.assert_array_equal(
        pixels_of(sheet, tmp_path / "sides.tif"), pixels_of(whole, tmp_path / "all.tif")
    )
    assert sheet.plan.crop == whole.plan.crop


@pytest.mark.parametrize("rule", list(SizeRule))
def test_continued_sides_leave_the_front_of_every_rule(rule):
    """The part of the master on the front has the shape that the rule gives."""
    lengths = {
        SizeRule.WIDTH: {"width_mm": 300},
        SizeRule.HEIGHT: {"height_mm": 300},
        SizeRule.LONGEST_EDGE: {"longest_mm": 300},
        SizeRule.FIT: {"width_mm": 300, "height_mm": 300},
        SizeRule.FILL: {"width_mm": 300, "height_mm": 200},
    }[rule]
    spec = SizeSpec(rule=rule, ppi=300, **lengths)
    wrap = WrapSpec(bar_depth_mm=40, left="continued", right="continued")
    front, crop = front_size(6000, 4000, spec, wrap)
    per_mm = crop.width_px / (front.width_mm + 80)
    assert front.crop.left_px - crop.left_px == pytest.approx(40 * per_mm)
    assert front.crop.width_px == pytest.approx(front.width_mm * per_mm)
    asked = {
        SizeRule.WIDTH: front.width_mm,
        SizeRule.HEIGHT: front.height_mm,
        SizeRule.LONGEST_EDGE: max(front.width_mm, front.height_mm),
        SizeRule.FIT: max(front.width_mm, front.height_mm),
        SizeRule.FILL: front.width_mm,
    }[rule]
    assert asked == pytest.approx(300)


def test_no_sides_leave_size_and_crop_as_they_were():
    spec = SizeSpec(rule=SizeRule.FILL, width_mm=300, height_mm=280, ppi=300)
    size = picture_size(6000, 4000, spec)
    assert front_size(6000, 4000, spec, WrapSpec()) == (size, size.crop)
    mirrored = with_sides(WrapSide.MIRRORED)
    assert front_size(6000, 4000, spec, mirrored) == (size, size.crop)


def test_side_of_a_chosen_colour_prints_that_colour(wrapped, tmp_path):
    """sRGB's curve (IEC 61966-2-1) gives the light, ROMM RGB's (ISO 22028-2) codes."""
    sheet = wrapped(
        with_sides(WrapSide.COLOUR, colour="#808080"),
        delivery=DeliverySpec(colour=Delivery.WORKING_COLOUR),
    )
    pixels = pixels_of(sheet, tmp_path / "print.tif")
    block = sheet.plan.in_file(sheet.plan.block)
    side = cut(pixels, Box(block.left, block.top, 10, block.height))
    light = ((128 / 255 + 0.055) / 1.055) ** 2.4
    # The adaptation from D65 to D50 keeps grey grey within a few codes of 16 bits.
    np.testing.assert_allclose(side, 65535 * light ** (1 / 1.8), atol=30)


def test_side_of_the_edges_mean(wrapped, tmp_path):
    """By another path: the mean light of the front's edge in the working file."""
    edge_mm = 4.0
    sheet = wrapped(
        with_sides(WrapSide.EDGE_MEAN, edge_mm=edge_mm),
        delivery=DeliverySpec(colour=Delivery.WORKING_COLOUR),
    )
    pixels = pixels_of(sheet, tmp_path / "print.tif")
    front = sheet.plan.in_file(sheet.plan.front)
    block = sheet.plan.in_file(sheet.plan.block)
    strip_px = round(edge_mm / 25.4 * sheet.plan.ppi)
    strip = cut(pixels, Box(front.left, front.top, strip_px, front.height)) / 65535
    # ROMM RGB's curve (ISO 22028-2): a power of 1.8 above a short straight part.
    light = np.where(strip < 16 / 512, strip / 16, strip**1.8).mean(axis=(0, 1))
    side = pixels[block.top + block.height // 2, block.left] / 65535
    np.testing.assert_allclose(side**1.8, light, atol=2e-4)


@settings(
    settings.get_profile("few"),
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_window_equals_the_file_with_sides_marks_and_words(wrapped, tmp_path, data):
    """The window law holds for wraps, key lines, marks and captions."""
    wrap = WrapSpec(
        bar_depth_mm=data.draw(st.floats(2, 12)),
        turn_over_mm=data.draw(st.floats(0, 6)),
        edge_mm=data.draw(st.floats(0.5, 8)),
        shrinks_across_percent=data.draw(st.sampled_from([0.0, 1.5])),
        **{side: data.draw(st.sampled_from(WrapSide)) for side in ALL},
    )
    white = WhiteSpec(
        key_line_mm=data.draw(st.sampled_from([0.0, 0.4])),
        key_line_l=40,
        marks=data.draw(st.sampled_from(Marks)),
        caption=("title", "paper", "size"),
        caption_title="Red bowl",
        caption_mm=data.draw(st.floats(1, 2)),
    )
    delivery = DeliverySpec(
        file_format=data.draw(st.sampled_from([FileFormat.TIFF_16, FileFormat.TIFF_8])),
        extent=data.draw(st.sampled_from(Extent)),
    )
    sheet = wrapped(
        wrap,
        white=white,
        delivery=delivery,
        ppi=100.0,
        gain=data.draw(st.sampled_from([0.0, 0.8])),
        border_mm=data.draw(st.sampled_from([0.0, 6.0])),
    )
    path = tmp_path / "print.tif"
    pixels = pixels_of(sheet, path)
    path.unlink()
    width, height = sheet.size_px
    for _ in range(4):
        left = data.draw(st.integers(0, width - 1))
        top = data.draw(st.integers(0, height - 1))
        box = Box(
            left,
            top,
            data.draw(st.integers(1, width - left)),
            data.draw(st.integers(1, height - top)),
        )
        np.testing.assert_array_equal(sheet.window(box), cut(pixels, box))


def test_shrinking_canvas_is_printed_longer(wrapped):
    """500 mm printed that hang at 495 shrink by 1 %: by the rule of three."""
    percent = shrinkage_percent(500, 495)
    assert percent == pytest.approx(1)
    assert printed_length(495, percent) == pytest.approx(500)
    sheet = wrapped(with_sides(WrapSide.MIRRORED, shrinks_across_percent=2))
    front, plan = sheet.plan.layout.front, sheet.plan
    across, along = front.right_mm - front.left_mm, front.bottom_mm - front.top_mm
    if plan.layout.turned:
        across, along = along, across
    size = plan.picture_size
    nominal = (size.width_mm, size.height_mm)
    across_mm, along_mm = nominal[::-1] if plan.layout.turned else nominal
    assert across * 0.98 == pytest.approx(across_mm)
    assert along == pytest.approx(along_mm)


def test_overview_shows_the_sides(wrapped):
    """Of a reduced view only colour and place are judged: its sides are the mirror."""
    sheet = wrapped(with_sides(WrapSide.MIRRORED), white=WhiteSpec(marks="corners"))
    overview = sheet.overview(200)
    picture = overview.picture
    left = overview.pixels[picture.top + 5, picture.left - 3 : picture.left]
    own = overview.pixels[picture.top + 5, picture.left : picture.left + 3]
    np.testing.assert_array_equal(left, own[::-1])
    assert (overview.pixels != 65535).any(axis=2).sum() > picture.width * picture.height


def test_two_ways_of_wrapping_are_refused(plan_for, canvas):
    plan = plan_for(canvas)
    with pytest.raises(SpecError, match="Choose one of the two"):
        PrintSpec(
            size=plan.spec.size,
            sheet=plan.spec.sheet,
            wrap=WrapSpec(bar_depth_mm=20),
            mount=MountSpec(wrap_mm=20),
        )


def test_sides_that_leave_no_front_are_refused():
    spec = SizeSpec(rule=SizeRule.WIDTH, width_mm=40, ppi=300)
    wrap = WrapSpec(bar_depth_mm=40, top="continued", bottom="continued")
    with pytest.raises(FitError, match="mirrored sides"):
        front_size(6000, 1000, replace(spec, width_mm=100), wrap)


@pytest.mark.parametrize(
    "bad",
    [
        {"colour": "red"},
        {"turn_over_mm": 10.0, "bar_depth_mm": 0.0},
        {"bar_depth_mm": -1.0},
        {"shrinks_along_percent": 20.0},
        {"left": "folded"},
    ],
)
def test_what_no_canvas_has_is_refused(bad):
    with pytest.raises(SpecError):
        WrapSpec(**{"bar_depth_mm": 20.0} | bad)


@pytest.mark.parametrize("wrap", [WrapSpec(), with_sides(WrapSide.EDGE_MEAN)])
def test_sheet_that_is_let_go_is_gone(wrapped, wrap):
    """Its tiles and caches are large: none waits for a collector of cycles."""
    gc.disable()
    try:
        sheet = wrapped(wrap)
        sheet.window(Box(0, 0, 8, 8))
        seen = weakref.ref(sheet)
        del sheet
        assert seen() is None
    finally:
        gc.enable()
