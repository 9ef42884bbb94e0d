"""A roll whose length follows, and a canvas with its sides, on the day's page."""

import re
from dataclasses import replace

import numpy as np
import pytest
import tifffile
from day_page import DayPage
from notebook_page import eventually

from printplan.record.plan_file import open_plan, read_plan_file, write_plan_file
from printplan.spec import SizeRule, SizeSpec
from printplan.units import px_from_mm

DESK = {"width": 1440, "height": 900}
PAPER = "rect.printplan-sheet-printable"


@pytest.fixture
def satin(chromium, lab, new_desk):
    """The page, open on the demo's job on satin, which is kept in a roll too."""
    folder = new_desk("satin")
    plan = folder / "stream-on-alder-satin.toml"
    wish = read_plan_file(plan)
    size = SizeSpec(rule=SizeRule.WIDTH, width_mm=360, ppi=300)
    a2 = replace(wish.spec.sheet, media_size="A2")
    spec = replace(wish.spec, size=size, sheet=a2)
    write_plan_file(replace(wish, spec=spec), plan, overwrite=True)
    (folder / ".printplan-last-job").write_text(f"{plan.name}\n")
    context = chromium.new_context(viewport=DESK)
    page = DayPage(context.new_page(), lab).open_in(folder)
    page.wait_for_print()
    yield page, folder, plan
    context.close()


def told_length_mm(page):
    """The length of roll that is cut off, as the sheet's description says."""
    told = page.shown(".printplan-sheet-drawing").get_attribute("aria-label")
    return sorted(float(it) for it in re.findall(r"([\d.]+)(?= × | mm)", told)[:2])


def test_roll_and_canvas_come_out_as_the_page_shows_them(satin):
    page, folder, plan = satin
    page.step("Size and place")
    page.select("sheet", "610 mm roll")
    page.field("on the roll").wait_for()
    page.page.wait_for_function(
        "() => document.querySelector('.printplan-sheet-drawing')"
        ".getAttribute('aria-label').includes('610')"
    )
    short_mm, long_mm = told_length_mm(page)
    page.select("on the roll", "its width along")
    eventually(lambda: told_length_mm(page), lambda it: it != [short_mm, long_mm])
    page.select("on the roll", "the way of least length")
    eventually(lambda: told_length_mm(page), lambda it: it == [short_mm, long_mm])
    page.step("Mount and edges")
    page.select("canvas sides", "mirrored at the fold")
    page.select("cut marks", "at the corners")
    page.fill("caption: title", "Stream")
    page.shown("img.printplan-block").wait_for()
    page.press("Render the file")
    made = page.wait_for_file(folder)
    page.check()
    pixels = tifffile.imread(made[".tif"])
    page.button("Save this plan")
    page.step("File and record")
    page.press("Save this plan")
    eventually(lambda: "[wrap]" in plan.read_text(encoding="utf-8"), bool)
    sheet = open_plan(plan)
    with sheet.master:
        own = sheet.plan
        assert pixels.shape[:2] == sheet.size_px[::-1]
        front = own.in_file(own.front)
        across = px_from_mm(610, own.ppi)
        assert min(abs(it - across) for it in pixels.shape[:2]) <= 1
        side = pixels[front.top : front.bottom, front.left - 200 : front.left]
        inner = pixels[front.top : front.bottom, front.left : front.left + 200]
        np.testing.assert_array_equal(side, inner[:, ::-1])
