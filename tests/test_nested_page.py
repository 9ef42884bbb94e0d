"""A file of nested prints holds each print as its own file holds it."""

import tracemalloc
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from printplan.colour.spaces import named_profile
from printplan.errors import RenderError, SpecError
from printplan.pixels import sheet as sheet_module
from printplan.pixels.master import open_master
from printplan.pixels.nested_page import NestedPage, NestedPrint
from printplan.pixels.render import render
from printplan.pixels.sheet import build_sheet, varied
from printplan.sizing.boxes import Box
from printplan.spec import (
    Delivery,
    DeliverySpec,
    Extent,
    FileFormat,
    NamedSpace,
    WrapSpec,
)

PPI = 150.0
FORMATS = [
    DeliverySpec(extent=Extent.PICTURE, file_format=FileFormat.TIFF_16),
    DeliverySpec(extent=Extent.PICTURE, file_format=FileFormat.TIFF_8, dither_seed=3),
]


@pytest.fixture(scope="module")
def page_master(textured, tmp_path_factory):
    path = tmp_path_factory.mktemp("nested") / "master.tif"
    tifffile.imwrite(
        path,
        textured,
        photometric="rgb",
        iccprofile=named_profile(NamedSpace.ROMM_RGB).data,
        metadata=None,
    )
    with open_master(path) as master:
        yield master


@pytest.fixture(scope="module")
def page_of(page_master, plan_for):
    """Three prints, two of them side by side, one with a white border and one large."""

    def make(delivery):
        def sheet(width_mm, border_mm=0.0, gain=0.8):
            plan = plan_for(
                page_master,
                width_mm=width_mm,
                ppi=PPI,
                gain=gain,
                border_mm=border_mm,
                delivery=delivery,
            )
            return build_sheet(page_master, plan)

        prints = [
            NestedPrint(sheet=sheet(61.3), left_mm=3.1, top_mm=4.2),
            NestedPrint(
                sheet=sheet(40, border_mm=5), left_mm=70.03, top_mm=2, turned=True
            ),
            NestedPrint(sheet=sheet(95, gain=0), left_mm=9, top_mm=57.77, turned=True),
        ]
        return NestedPage(prints, (115.0, 160.0))

    return make


@pytest.fixture(scope="module", params=FORMATS, ids=["16 bits", "8 bits"])
def rendered(request, page_of, tmp_path_factory):
    """A page, its file's pixels, and those of the single files of its prints."""
    page = page_of(request.param)
    folder = tmp_path_factory.mktemp("files")
    whole = tifffile.imread(render(page, folder / "page.tif").path)
    singles = [
        tifffile.imread(render(it.anew().sheet, folder / f"print-{number}.tif").path)
        for number, it in enumerate(page.prints)
    ]
    return page, whole, singles


def test_every_print_is_its_single_file_bit_for_bit_and_all_else_is_white(rendered):
    page, whole, singles = rendered
    assert whole.shape == (945, 679, 3)  # 160 and 115 mm at 150 to the inch
    rest = np.ones(whole.shape[:2], bool)
    for each, single in zip(page.prints, singles, strict=True):
        expected = np.rot90(single) if each.turned else single
        top, left = round(each.top_mm * PPI / 25.4), round(each.left_mm * PPI / 25.4)
        rows = slice(top, top + expected.shape[0])
        columns = slice(left, left + expected.shape[1])
        assert np.array_equal(whole[rows, columns], expected)
        rest[rows, columns] = False
    assert (whole[rest] == np.iinfo(whole.dtype).max).all()
    assert rest.any()


def test_a_turned_print_has_its_top_at_the_left(rendered):
    """Anticlockwise, as `orientation-requested` 4 says (RFC 8011, 5.2.10)."""
    page, whole, singles = rendered
    large, single = page.prints[2], singles[2]
    first_column = whole[large.box.top : large.box.bottom, large.box.left]
    assert np.array_equal(first_column, single[0, ::-1])


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_window_equals_the_same_box_of_the_file(data, rendered):
    page, whole, _ = rendered
    width, height = page.size_px
    left, top = (data.draw(st.integers(0, edge - 1)) for edge in (width, height))
    box = Box(
        left,
        top,
        data.draw(st.integers(1, min(width - left, 400))),
        data.draw(st.integers(1, min(height - top, 400))),
    )
    window = page.window(box)
    assert window.dtype == whole.dtype
    assert np.array_equal(window, whole[top : box.bottom, left : box.right])


def test_cmyk_prints_lie_on_paper_without_ink(page_master, plan_for, fogra39_path):
    plan = plan_for(page_master, width_mm=30, ppi=72, delivery=FORMATS[1])
    cmyk = replace(plan.setup, profile=str(fogra39_path), profile_sha256="")
    sheet = build_sheet(page_master, replace(plan, setup=cmyk))
    page = NestedPage([NestedPrint(sheet=sheet, left_mm=5, top_mm=5)], (50.0, 50.0))
    whole = np.concatenate([band for _, band in page.bands()])
    assert whole.shape[2] == 4
    assert not whole[:10].any()
    assert whole.any()


@pytest.mark.parametrize("turned", [False, True])
def test_memory_follows_the_page_not_the_number_of_prints(
    turned, page_master, plan_for, tmp_path, monkeypatch
):
    """A file of six prints needs about what one of its prints needs alone."""
    # Several threads hold more or fewer bands at once, as the machine lets them.
    monkeypatch.setattr("printplan.processor_share._share", 1)
    # What lies in mapped memory is not traced: here all of it is numpy's own.
    monkeypatch.setattr("printplan.loops.memory._LEAST_BYTES", 10**12)
    plan = plan_for(page_master, width_mm=150, ppi=200, delivery=FORMATS[0])
    sheet = build_sheet(page_master, plan)
    prints = [
        NestedPrint(sheet=sheet, left_mm=0, top_mm=160 * at, turned=turned)
        for at in range(6)
    ]

    def peak(page, name):
        tracemalloc.start()
        render(page, tmp_path / name)
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return most

    many = peak(NestedPage(prints, (150.5, 160.0 * 6)), "many.tif")
    assert many < 1.5 * peak(build_sheet(page_master, plan), "single.tif")


REFUSED = {
    "paper": {"paper": "Mere Baryta 300"},
    "resolution": {"ppi": 72.0},
    "file format": {"delivery": FORMATS[1]},
    "whole sheet": {"delivery": DeliverySpec()},
    "profile of the file": {
        "delivery": replace(
            FORMATS[0], colour=Delivery.NAMED_SPACE, named_space=NamedSpace.SRGB
        )
    },
}


@pytest.mark.parametrize("what", REFUSED)
def test_prints_that_differ_in_what_a_file_has_once_are_refused(
    what, page_master, plan_for, studio
):
    wish = {"width_mm": 30, "ppi": PPI, "delivery": FORMATS[0]}
    first = build_sheet(page_master, plan_for(page_master, **wish))
    other_paper = next(
        it.name for it in studio.book.papers if it.name != first.plan.paper.name
    )
    changed = {"paper": other_paper} if what == "paper" else REFUSED[what]
    other = build_sheet(page_master, plan_for(page_master, **(wish | changed)))
    prints = [
        NestedPrint(sheet=first, left_mm=0, top_mm=0),
        NestedPrint(sheet=other, left_mm=50, top_mm=0),
    ]
    with pytest.raises(SpecError, match=what):
        NestedPage(prints, (100.0, 100.0))


@pytest.mark.parametrize(
    ("left_mm", "problem"), [(20, "lie on each other"), (80, "is not inside")]
)
def test_prints_on_each_other_or_beyond_the_page_are_refused(
    left_mm, problem, page_master, plan_for
):
    plan = plan_for(page_master, width_mm=30, ppi=72, delivery=FORMATS[0])
    sheet = build_sheet(page_master, plan)
    prints = [NestedPrint(sheet=sheet, left_mm=at, top_mm=0) for at in (0, left_mm)]
    with pytest.raises(SpecError, match=problem):
        NestedPage(prints, (100.0, 100.0))


def test_the_credits_of_all_masters_are_joined(page_master, plan_for):
    plan = plan_for(page_master, width_mm=30, ppi=72, delivery=FORMATS[0])
    sheets = []
    for number, name in enumerate(("A. Rowan", "B. Tarn", "A. Rowan")):
        sheet = build_sheet(page_master, plan)
        facts = replace(page_master.facts, creator=name)
        sheet.master = type("Named", (), {"facts": facts})()
        sheets.append(NestedPrint(sheet=sheet, left_mm=40 * number, top_mm=0))
    page = NestedPage(sheets, (150.0, 50.0))
    assert page.master.facts.creator == "A. Rowan; B. Tarn"


@pytest.mark.parametrize("turned", [False, True])
def test_a_print_that_became_one_single_value_is_refused(
    turned, page_master, plan_for, monkeypatch, tmp_path
):
    plan = plan_for(page_master, width_mm=30, ppi=72, delivery=FORMATS[0])
    sheet = build_sheet(page_master, plan)

    def one_value(linear, into=None):
        codes = np.full((*linear.shape[1:], 3), 7, np.uint16)
        if into is not None:
            into[...] = codes
        return codes if into is None else into

    flat = SimpleNamespace(from_linear=one_value)
    monkeypatch.setattr(sheet_module, "linear_to_device", lambda *_, **__: flat)
    page = NestedPage(
        [NestedPrint(sheet=sheet, left_mm=0, top_mm=0, turned=turned)], (60.0, 60.0)
    )
    with pytest.raises(RenderError, match="one single value"):
        render(page, tmp_path / "page.tif")
    assert not list(tmp_path.iterdir())


def test_a_varied_sheet_nests_like_a_new_one(page_master, plan_for):
    """Copies share an open master; nothing that one keeps may reach another."""
    plan = plan_for(page_master, width_mm=30, ppi=72, delivery=FORMATS[0])
    sheet = build_sheet(page_master, plan)
    sharper = varied(
        sheet,
        replace(plan.spec, sharpen=replace(plan.spec.sharpen, gain=1.5)),
    )
    page = NestedPage(
        [
            NestedPrint(sheet=sheet, left_mm=0, top_mm=0),
            NestedPrint(sheet=sharper, left_mm=40, top_mm=0),
        ],
        (80.0, 40.0),
    )
    for each in page.prints:
        own = build_sheet(page_master, each.sheet.plan)
        alone = own.window(Box(0, 0, *own.size_px))
        assert np.array_equal(page.window(each.box), alone)


@pytest.mark.parametrize("turned", [False, True])
def test_a_canvas_whose_sides_continue_is_its_single_file(
    turned, page_master, plan_for, tmp_path
):
    """What is resampled is more of the master than the front shows."""
    plan = plan_for(page_master, width_mm=30, ppi=72, delivery=FORMATS[0])
    wrap = WrapSpec(bar_depth_mm=4, left="continued", top="continued")
    sheet = build_sheet(page_master, plan)
    wrapped = varied(sheet, replace(plan.spec, wrap=wrap))
    single = tifffile.imread(render(wrapped, tmp_path / "single.tif").path)
    place = NestedPrint(sheet=wrapped, left_mm=0, top_mm=0, turned=turned)
    page = NestedPage([place], (60.0, 60.0))
    whole = tifffile.imread(render(page, tmp_path / "page.tif").path)
    expected = np.rot90(single) if turned else single
    high, wide = expected.shape[:2]
    np.testing.assert_array_equal(whole[:high, :wide], expected)
