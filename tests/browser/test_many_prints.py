"""Many prints on the day's page: a table, a nesting, a family of sizes, prices."""

import re
from dataclasses import replace

import pytest
import tifffile
from accessibility import violations
from day_page import DayPage
from notebook_page import RUN_S, eventually
from test_day_page import WIDTHS, require_room

from printplan.record.plan_file import read_plan_file, write_plan_file
from printplan.record.price_sheet import TABLE_HEAD
from printplan.spec import SizeRule, SizeSpec

DESK = {"width": 1440, "height": 900}
TABLE = """master,width,paper,sheet
masters/seed-heads.tif,60 mm,Fen Cotton 310,A4
masters/stream.tif,60 mm,Alder Satin 260,A4
"""
PAINTED = "(it) => it.complete && it.naturalWidth > 20"
LARGE, SMALL = "stream-on-alder-satin", "stream-small"
GAP_MM = 12


def resized(plan, target, width_mm):
    wish = read_plan_file(plan)
    size = SizeSpec(rule=SizeRule.WIDTH, width_mm=width_mm, ppi=wish.spec.size.ppi)
    wish = replace(wish, spec=replace(wish.spec, size=size))
    write_plan_file(wish, target, overwrite=True)


@pytest.fixture(scope="module")
def many(chromium, lab, new_desk):
    """The page at "many prints", in a studio with two jobs on satin and a table."""
    folder = new_desk("many")
    resized(folder / f"{LARGE}.toml", folder / f"{LARGE}.toml", 180)
    resized(folder / f"{LARGE}.toml", folder / f"{SMALL}.toml", 90)
    (folder / "show.csv").write_text(TABLE, encoding="utf-8")
    context = chromium.new_context(viewport=DESK)
    page = DayPage(context.new_page(), lab).open_in(folder)
    page.press("many prints")
    yield page, folder
    context.close()


def require_whole(page, axe_source):
    """Nothing is cut off at any width, nothing breaks a serious rule in any light."""
    for width in WIDTHS:
        require_room(page, width)
    page.page.set_viewport_size(DESK)
    try:
        assert violations(page.page, axe_source) == []
        page.use_dark_theme()
        assert violations(page.page, axe_source) == []
    finally:
        page.use_light_theme()
    page.check()


def test_table_of_two_prints_is_planned_and_checked(many, axe_source):
    page, folder = many
    page.press("a table of prints")
    require_whole(page, axe_source)
    page.fill("table", "show.csv")
    page.press("Read this table")
    tiles = page.shown(".printplan-tiles figure")
    eventually(tiles.count, lambda it: it == 2)
    page.press("Plan and check")
    page.page.get_by_text("Done.").wait_for(timeout=RUN_S * 1e3)
    for tile, name in zip(tiles.all(), ("seed-heads", "stream"), strict=True):
        assert tile.locator("img").evaluate(PAINTED)
        words = tile.inner_text()
        assert name in words
        width, height = map(float, re.findall(r"([\d.]+) × ([\d.]+) mm", words)[0])
        with tifffile.TiffFile(folder / "masters" / f"{name}.tif") as master:
            rows, columns = master.pages[0].shape[:2]
        assert width == 60
        assert height == pytest.approx(60 * rows / columns, abs=0.1)
    plans = (folder / "show-prints").glob("*-on-*.toml")
    assert [read_plan_file(it).spec.size.width_mm for it in plans] == [60, 60]
    assert not list(folder.rglob("*.tif.record.toml"))  # checked, and nothing was made
    require_whole(page, axe_source)
    page.press("rows")
    eventually(page.shown(".printplan-rows tbody tr").count, lambda it: it == 2)
    for width in WIDTHS:
        require_room(page, width)
    page.page.set_viewport_size(DESK)
    assert violations(page.page, axe_source) == []


def test_two_jobs_lie_on_the_roll_as_the_drawing_shows(many, axe_source):
    """The drawing names both prints, and none lies nearer than asked."""
    page, _ = many
    page.press("nested on a roll or sheet")
    page.select("paper", "Alder Satin 260, Studio 24")
    for name in (LARGE, SMALL):
        count = page.page.get_by_label(re.compile(f"^{name}: "))
        count.fill("1")
        count.press("Tab")
    page.fill("roll or sheet", "610 mm roll")
    page.fill("gap (mm)", f"{GAP_MM}")
    page.press("Nest them")
    drawing = page.shown(".printplan-words img").first
    drawing.wait_for(timeout=RUN_S * 1e3)
    eventually(lambda: drawing.evaluate(PAINTED), bool)
    told = drawing.get_attribute("alt")
    assert LARGE in told
    assert SMALL in told
    rows = page.shown(".printplan-columns tbody tr")
    eventually(rows.count, lambda it: it == 2)  # words may come before their table
    boxes = [row.inner_text().split("\t") for row in rows.all()]
    assert sorted(box[0] for box in boxes) == [LARGE, SMALL]
    spans = []
    for _, size, _, place, turned, *_ in boxes:
        width, height = map(float, re.findall(r"[\d.]+", size))
        left, top = map(float, re.findall(r"[\d.]+", place))
        if turned:
            width, height = height, width
        assert left + width <= 610
        spans.append((left, top, left + width, top + height))
    (l1, t1, r1, b1), (l2, t2, r2, b2) = spans
    apart = max(l2 - r1, l1 - r2, t2 - b1, t1 - b2)
    assert apart >= GAP_MM - 0.1  # each number is told to 0.1 mm
    require_whole(page, axe_source)


def test_family_of_two_sizes_is_planned_and_shown_at_true_ratio(many, axe_source):
    page, folder = many
    page.press("one photograph in several sizes")
    page.fill("photograph", str(folder / "masters" / "stream.tif"))
    page.fill("longest edges (mm)", "120, 240")
    page.press("Plan these sizes")
    strips = page.shown("figure img")
    eventually(strips.count, lambda it: it == 2, within_s=RUN_S)
    sizes = page.shown(".printplan-columns tbody tr td:first-child").all_inner_texts()
    assert [it.partition(" ")[0] for it in sizes] == ["120.0", "240.0"]
    small, large = (it.bounding_box()["width"] for it in strips.all())
    assert large / small == pytest.approx(2, rel=0.02)  # one detail, twice as large
    require_whole(page, axe_source)
    page.press("Write these plans")
    names = {"stream-120mm-on-alder-satin-260", "stream-240mm-on-alder-satin-260"}
    jobs = folder / "jobs"
    eventually(lambda: {it.stem for it in jobs.glob("*.toml")}, lambda it: it == names)


def test_prices_of_the_jobs_are_the_cost_times_the_factor(many, axe_source):
    page, folder = many
    page.press("prices")
    page.shown("select[multiple]").select_option(label=[LARGE, SMALL])
    page.fill("mark-up factor", "3")
    page.fill("ink (ml/m²)", "12")
    page.fill("other costs", "box = 2")
    page.press("Work out the prices")
    rows = page.shown(".printplan-columns tbody tr")
    eventually(rows.count, lambda it: it == 2, within_s=RUN_S)
    for row in rows.all():
        cells = dict(zip(TABLE_HEAD, row.locator("td").all_inner_texts(), strict=True))
        parts = [cells[it] for it in ("for paper", "for ink", "other costs")]
        cost = sum(float(it.split()[0]) for it in parts)
        assert float(cells["cost"].split()[0]) == pytest.approx(cost, abs=1e-9)
        assert float(cells["price"].split()[0]) == pytest.approx(3 * cost, abs=1e-9)
        assert cells["price"].endswith("EUR")
    require_whole(page, axe_source)
    page.press("Write them as a page (PDF)")
    (written,) = eventually(lambda: list(folder.glob("prices-*.pdf")), bool)
    assert written.read_bytes().startswith(b"%PDF")
    page.check()
