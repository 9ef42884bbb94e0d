"""What is read first is what is in the file, and reads alike wherever it stands."""

import html
import io
import re
from dataclasses import replace

import numpy as np
import pytest
import tifffile
from PIL import ImageCms
from recorded_print import recorded, small_studio, with_spec

from printplan.pixels.sheet import build_sheet
from printplan.record.decision_sheet.dialogue import intent_words
from printplan.record.decision_sheet.facts import decision_facts
from printplan.record.decision_sheet.print_facts import check_header
from printplan.record.decision_sheet.write import html_page
from printplan.record.plan_file import open_plan_file
from printplan.record.reprint import open_record
from printplan.spec import (
    BlackPointCompensation,
    ColourSpec,
    Delivery,
    DeliverySpec,
    FileFormat,
    Intent,
    NamedSpace,
    Placement,
    SharpenSpec,
)
from printplan.units import LengthUnit
from printplan.workbook.bench import Bench
from printplan.workbook.panels.check import CheckPanel

FIRST = ["Picture", "White edges", "Sharpening", "Intent", "File"]


@pytest.fixture(scope="module")
def wish(studio, tmp_path_factory):
    """An even grey, so that where ink ends in the file is where the picture ends."""
    grey = np.full((210, 320, 3), 20_000, np.uint16)
    plain = small_studio(tmp_path_factory.mktemp("studio"), studio, grey)
    sheet = replace(
        plain.spec.sheet,
        placement=Placement.OFFSET,
        offset_right_mm=12.0,
        offset_down_mm=-7.0,
    )
    return with_spec(plain, sheet=sheet)


def told(sheet):
    rows = check_header(sheet.plan, file_profile=sheet.profile.name)
    assert [row.what for row in rows] == FIRST
    return {row.what: row.value for row in rows}


def numbers(words):
    return [float(it) for it in re.findall(r"\d+(?:\.\d+)?", words)]


@pytest.mark.slow
@pytest.mark.parametrize("unit", LengthUnit)
@pytest.mark.parametrize(
    ("delivery", "kind"),
    [
        (DeliverySpec(), "TIFF, 16 bits"),
        (DeliverySpec(file_format=FileFormat.TIFF_8), "TIFF, 8 bits with dither"),
        (DeliverySpec(colour=Delivery.WORKING_COLOUR), "TIFF, 16 bits"),
        (
            DeliverySpec(colour=Delivery.NAMED_SPACE, named_space=NamedSpace.OPRGB),
            "TIFF, 16 bits",
        ),
    ],
)
def test_header_is_what_the_file_holds(wish, tmp_path, unit, delivery, kind):
    """Edges are measured where ink begins in the file, to half a pixel of rounding."""
    asked = with_spec(wish, delivery=delivery, lengths_in=unit)
    with open_plan_file(asked).master as master:
        words = told(build_sheet(master, open_plan_file(asked).plan))
    record = recorded(asked, tmp_path / "print")
    with tifffile.TiffFile(record.rendered.path) as file:
        pixels, page = file.asarray(), file.pages[0]
        across, per = page.tags["XResolution"].value
        profile = page.iccprofile
        bits = page.bitspersample
    inked = (pixels != pixels[0, 0]).any(axis=2)
    if bits == 8:  # paper white has no dither; ink is far from it
        inked = (pixels.astype(int) - pixels[0, 0]).min(axis=2) < -8
    rows, columns = np.flatnonzero(inked.any(axis=1)), np.flatnonzero(inked.any(axis=0))
    pixel = across / per / (1 if unit is LengthUnit.INCHES else 25.4)  # pixels per unit
    # Half a pixel of rounding, and half of the last digit told.
    near = 0.51 / pixel + (0.005 if unit is LengthUnit.INCHES else 0.05)
    height_px, width_px = pixels.shape[:2]
    measured = [
        columns[0] / pixel,
        rows[0] / pixel,
        (width_px - 1 - columns[-1]) / pixel,
        (height_px - 1 - rows[-1]) / pixel,
    ]
    assert words["White edges"].endswith(f" {unit}")
    assert numbers(words["White edges"]) == pytest.approx(measured, abs=near)
    size = [len(columns) / pixel, len(rows) / pixel, across / per]
    assert numbers(words["Picture"]) == pytest.approx(size, abs=2 * near)
    assert words["File"].startswith(f"{kind}, {width_px} × {height_px} px, ")
    assert f"{bits} bits" in words["File"]
    opened = ImageCms.ImageCmsProfile(io.BytesIO(profile)).profile
    assert words["File"].endswith(f"in {opened.profile_description}")


def test_header_says_intent_and_compensation_of_the_plan(wish):
    for intent in Intent:
        for compensation in BlackPointCompensation:
            colour = ColourSpec(intent=intent, black_point_compensation=compensation)
            sheet = open_plan_file(with_spec(wish, colour=colour))
            with sheet.master:
                assert told(sheet)["Intent"] == intent_words(sheet.plan)
    working = DeliverySpec(colour=Delivery.WORKING_COLOUR)
    sheet = open_plan_file(with_spec(wish, delivery=working))
    with sheet.master:
        assert told(sheet)["Intent"].endswith(", to be set in the print dialogue")


def test_header_says_sharpening_with_its_limit(wish):
    for sharpen, words in (
        (SharpenSpec(), "none"),
        (SharpenSpec(gain=0.8, radius_mm=0.2), "gain 0.80, radius 0.200 mm, no halo"),
        (
            SharpenSpec(gain=0.8, radius_mm=0.2, halo_limit_share=0.125),
            "gain 0.80, radius 0.200 mm, halo limit 12% in the file",
        ),
    ):
        sheet = open_plan_file(with_spec(wish, sharpen=sharpen))
        with sheet.master:
            assert told(sheet)["Sharpening"].startswith(words)


@pytest.mark.slow
def test_panel_and_decision_sheet_say_the_same(wish, tmp_path):
    asked = with_spec(wish, lengths_in=LengthUnit.INCHES)
    record = recorded(asked, tmp_path / "print")
    sheet = open_record(record)
    with sheet.master:
        words = told(sheet)
        facts = decision_facts(record, sheet)
        panel = CheckPanel(Bench(sheet, folder=tmp_path, stem="print"))
        shown = html.unescape(panel.words.value)
        assert panel.settle(120.0)
    page = html.unescape(html_page(facts))
    for what, value in words.items():
        assert value in shown
        assert f"<dt>{what}</dt><dd>{value}</dd>" in page
