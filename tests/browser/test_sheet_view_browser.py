"""Picture and crop are moved by mouse and keys on a real page, to the millimetre."""

import json

import pytest
from notebook_page import EXECUTE, eventually

WIDE, NARROW = (2560, 1440), (1024, 768)

CELLS = [
    """\
from printplan.units import LengthUnit
from printplan.workbook.bench import Bench
from printplan.workbook.panels.size import SizePanel
bench = Bench.open("seed-heads-on-fen-cotton.toml")""",
    "panel = SizePanel(bench)\npanel.ui",
]

PLACE = """\
import json
sheet, size = bench.spec.sheet, bench.spec.size
picture = bench.plan.layout.picture
print(json.dumps(dict(
    placement=sheet.placement,
    right=sheet.offset_right_mm,
    down=sheet.offset_down_mm,
    crop=[size.crop_centre_x_share, size.crop_centre_y_share],
    left=picture.left_mm,
    top=picture.top_mm,
)))"""
PLAIN = """\
from dataclasses import replace
from printplan.spec import *
_ = bench.change(
    size=SizeSpec(rule=SizeRule.WIDTH, width_mm=240, ppi=300),
    sheet=SheetSpec(media_size="A3", feed=bench.spec.sheet.feed),
    mount=MountSpec(),
)"""
SQUARE = """\
_ = bench.change(
    size=SizeSpec(rule=SizeRule.FILL, width_mm=160, height_mm=160, ppi=300),
    sheet=SheetSpec(media_size="A3", feed=bench.spec.sheet.feed),
)"""
MOUNTED = """\
_ = bench.change(mount=MountSpec(
    mat_opening_width_mm=250, mat_opening_height_mm=150,
    wrap_mm=20, stretcher_depth_mm=20,
))"""


@pytest.fixture(scope="module")
def notebook(new_desk, open_cells):
    """A notebook that shows the panel."""
    return open_cells(new_desk("sheet-view"), CELLS)


@pytest.fixture(scope="module")
def page(notebook):
    page = notebook.page
    page.locator("image.printplan-sheet-photo[href^=blob]").wait_for(timeout=60_000)
    return page


@pytest.fixture
def sheet(page):
    page.set_viewport_size({"width": 1600, "height": 1000})
    execute(page, PLAIN)
    picture(page).scroll_into_view_if_needed()
    return page


@pytest.fixture
def cropped(sheet):
    execute(sheet, SQUARE)
    return sheet


def execute(page, code):
    answer = page.evaluate(EXECUTE, code)
    assert answer["status"] == "ok", answer["said"]
    return answer["said"]


def place(page):
    """Where the plan has the picture, once the kernel has nothing left to do."""
    # A move that waits is sent when the one before it is answered.
    execute(page, "pass")
    execute(page, "pass")
    return json.loads(execute(page, PLACE))


def picture(page):
    return page.get_by_role("slider", name="Place of the picture on the sheet")


def crop(page):
    return page.get_by_role("slider", name="Part of the photograph that is printed")


def px_per_mm(page):
    return float(
        page.locator(".printplan-sheet-drawing").get_attribute("data-px-per-mm")
    )


def drag(page, target, right_mm, down_mm, *, to_edge=(0.5, 0.5), let_go=True):
    """With the mouse, in ten steps, from a place in the target."""
    box = target.bounding_box()
    x = box["x"] + box["width"] * to_edge[0]
    y = box["y"] + box["height"] * to_edge[1]
    scale = px_per_mm(page)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + right_mm * scale, y + down_mm * scale, steps=10)
    if let_go:
        page.mouse.up()


# The mouse


def test_a_drag_moves_the_picture_by_the_same_millimetres(sheet):
    before = place(sheet)
    drag(sheet, picture(sheet), 24.0, -15.0)
    after = place(sheet)
    assert after["placement"] == "offset"
    # A screen pixel here is more than half a millimetre of paper.
    assert after["right"] == pytest.approx(24.0, abs=1)
    assert after["down"] == pytest.approx(-15.0, abs=1)
    assert after["left"] - before["left"] == pytest.approx(24.0, abs=1)
    assert after["top"] - before["top"] == pytest.approx(-15.0, abs=1)
    drawn = picture(sheet).locator("rect").first.bounding_box()
    paper = sheet.locator(".printplan-sheet-drawing > rect").nth(1).bounding_box()
    left_mm = (drawn["x"] - paper["x"]) / px_per_mm(sheet)
    assert left_mm == pytest.approx(after["left"], abs=1)
    assert "mm right of centre" in picture(sheet).get_attribute("aria-valuetext")


def test_a_second_drag_goes_on_from_the_first(sheet):
    drag(sheet, picture(sheet), 20.0, 0.0)
    first = place(sheet)
    drag(sheet, picture(sheet), -35.0, 12.0)
    second = place(sheet)
    assert second["right"] == pytest.approx(first["right"] - 35.0, abs=1)
    assert second["down"] == pytest.approx(first["down"] + 12.0, abs=1)


def test_a_drag_beyond_the_margin_stops_there_without_complaint(sheet):
    drag(sheet, picture(sheet), -300.0, 0.0)
    margin_mm = float(execute(sheet, "print(bench.plan.layout.printable.left_mm)"))
    assert place(sheet)["left"] == pytest.approx(margin_mm, abs=0.01)
    assert sheet.locator(".printplan-problem").count() == 0


def test_escape_in_the_middle_of_a_drag_brings_the_picture_back(sheet):
    drag(sheet, picture(sheet), 30.0, 10.0, let_go=False)
    assert place(sheet)["placement"] == "offset"
    sheet.keyboard.press("Escape")
    assert place(sheet)["placement"] == "centred"
    sheet.mouse.move(10, 10)
    sheet.mouse.up()
    assert place(sheet)["placement"] == "centred"


def test_dragging_the_crop_moves_the_photograph_and_not_the_picture(cropped):
    before = place(cropped)
    drag(cropped, crop(cropped), 18.0, 0.0)
    after = place(cropped)
    # 160 mm of height hold all of the master; its width is as many times wider.
    shape = execute(
        cropped, "print(bench.plan.facts.width_px / bench.plan.facts.height_px)"
    )
    whole_mm = 160 * float(shape)
    moved = before["crop"][0] - after["crop"][0]
    assert moved == pytest.approx(18.0 / whole_mm, abs=1 / whole_mm)
    assert after["crop"][1] == before["crop"][1]
    assert (after["left"], after["top"]) == (before["left"], before["top"])


# Keys


def test_arrow_keys_move_by_a_millimetre_and_ten_with_shift(sheet):
    picture(sheet).focus()
    for key in ("ArrowRight", "ArrowRight", "Shift+ArrowRight", "Shift+ArrowUp"):
        sheet.keyboard.press(key)
    sheet.keyboard.press("ArrowDown")
    after = place(sheet)
    assert (after["right"], after["down"]) == (12.0, -9.0)
    words = picture(sheet).get_attribute("aria-valuetext")
    assert words == "picture 12.0 mm right of centre, 9.0 mm above centre"


def test_arrow_keys_move_by_hundredths_of_an_inch_for_whoever_works_in_inches(sheet):
    execute(sheet, "panel.unit.value = LengthUnit.INCHES")
    try:
        sheet.get_by_text("keys: 0.05 in, with Shift 0.5 in").wait_for()
        picture(sheet).focus()
        for key in ("ArrowRight", "ArrowRight", "Shift+ArrowDown"):
            sheet.keyboard.press(key)
        after = place(sheet)
        # The inch is 25.4 mm by definition.
        assert (after["right"], after["down"]) == pytest.approx((2.54, 12.7))
    finally:
        execute(sheet, "panel.unit.value = LengthUnit.MM")


def test_keys_that_come_faster_than_answers_all_count(sheet):
    picture(sheet).focus()
    sheet.evaluate(
        """() => {
          for (let i = 0; i < 20; i++) {
            document.activeElement.dispatchEvent(
              new KeyboardEvent('keydown', { key: 'ArrowRight', bubbles: true })
            );
          }
        }"""
    )
    assert place(sheet)["right"] == 20.0


def test_escape_brings_back_what_keys_moved(sheet):
    picture(sheet).focus()
    sheet.keyboard.press("ArrowRight")
    sheet.keyboard.press("ArrowDown")
    sheet.keyboard.press("Escape")
    assert place(sheet)["placement"] == "centred"


def test_keys_stop_at_the_margin_and_say_why_there_is_no_more(sheet):
    picture(sheet).focus()
    for _ in range(12):
        sheet.keyboard.press("Shift+ArrowRight")
    place(sheet)
    problem = sheet.locator(".printplan-problem")
    sheet.keyboard.press("ArrowRight")
    problem.wait_for()
    assert "The picture is 240.0" in problem.inner_text()
    assert "Choose" in problem.inner_text()
    # A3 on its side is 420 mm wide (ISO 216); the picture, 240.
    margin_mm = float(
        execute(sheet, "print(420 - bench.plan.layout.printable.right_mm)")
    )
    most_mm = (420 - 240) / 2 - margin_mm
    assert place(sheet)["right"] == pytest.approx(most_mm, abs=0.01)
    words = picture(sheet).get_attribute("aria-valuetext")
    assert words == f"picture {most_mm:.1f} mm right of centre"
    sheet.keyboard.press("ArrowLeft")
    problem.wait_for(state="detached")
    assert place(sheet)["right"] == pytest.approx(most_mm - 1, abs=0.01)


def test_tab_leads_to_picture_and_crop_and_the_page_hears_nothing(cropped):
    cells = cropped.locator(".jp-Cell").count()
    picture(cropped).focus()
    cropped.keyboard.press("Tab")
    assert crop(cropped).evaluate("node => node === document.activeElement")
    cropped.keyboard.press("ArrowLeft")
    # Keys that mean something to the page must not reach it from here.
    for key in ("b", "a", "d", "d"):
        cropped.keyboard.press(key)
    assert cropped.locator(".jp-Cell").count() == cells
    assert place(cropped)["crop"][0] > 0.5
    ring = crop(cropped).locator(".printplan-sheet-ring")
    assert ring.evaluate("node => getComputedStyle(node).visibility") == "visible"
    cropped.keyboard.press("Shift+Tab")
    assert ring.evaluate("node => getComputedStyle(node).visibility") == "hidden"


# The page


def is_inside(page, size):
    """Whether the drawing has followed the window: no edge is cut off."""
    view = page.locator(".printplan-sheet").bounding_box()
    drawing = page.locator(".printplan-sheet-drawing").bounding_box()
    return drawing["width"] <= view["width"] + 1 and drawing["height"] <= size[1]


@pytest.mark.parametrize("size", [NARROW, WIDE], ids=["narrow", "wide"])
def test_the_layout_holds_at_every_width(sheet, size):
    execute(sheet, MOUNTED)
    sheet.set_viewport_size({"width": size[0], "height": size[1]})
    eventually(lambda: is_inside(sheet, size), bool)
    view = sheet.locator(".printplan-sheet").bounding_box()
    output = sheet.locator(".jp-OutputArea-output").last.bounding_box()
    assert view["width"] >= 360
    assert view["x"] + view["width"] <= output["x"] + output["width"] + 1
    drawing = sheet.locator(".printplan-sheet-drawing").bounding_box()
    assert drawing["height"] <= size[1]
    paper = sheet.locator(".printplan-sheet-drawing > rect").nth(1).bounding_box()
    assert paper["x"] >= drawing["x"] - 1
    assert paper["x"] + paper["width"] <= drawing["x"] + drawing["width"] + 1
    assert paper["y"] + paper["height"] <= drawing["y"] + drawing["height"] + 1
    # A3 on its side, to scale.
    assert paper["width"] / paper["height"] == pytest.approx(420 / 297, rel=0.01)


@pytest.fixture(params=["light", "dark"])
def theme(request, notebook):
    if request.param == "dark":
        notebook.use_dark_theme()
    yield request.param
    notebook.use_light_theme()


@pytest.mark.usefixtures("theme")
def test_words_and_numbers_are_legible_in_every_theme(sheet):
    contrasts = sheet.evaluate(CONTRASTS)
    assert set(contrasts) == {"words", "numbers", "whites"}
    # WCAG 2.2, success criterion 1.4.3: 4.5 to 1 for text.
    assert min(contrasts.values()) >= 4.5, contrasts


# Relative luminance and contrast ratio as WCAG 2.2 defines them.
CONTRASTS = """() => {
  const numbers = (colour) => colour.match(/[0-9.]+/g).map(Number);
  const luminance = ([red, green, blue]) =>
    [red, green, blue]
      .map((code) => code / 255)
      .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4))
      .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const ratio = (one, other) => {
    const [low, high] = [luminance(numbers(one)), luminance(numbers(other))].sort(
      (a, b) => a - b
    );
    return (high + 0.05) / (low + 0.05);
  };
  const style = (selector) => getComputedStyle(document.querySelector(selector));
  let ground = document.querySelector('.printplan-sheet');
  while (numbers(getComputedStyle(ground).backgroundColor)[3] === 0) {
    ground = ground.parentElement;
  }
  return {
    words: ratio(
      style('.printplan-sheet-words').color, getComputedStyle(ground).backgroundColor
    ),
    numbers: Math.min(
      ...['.printplan-sheet-ruler', '.printplan-sheet-span'].map((ground) =>
        ratio(style('.printplan-sheet-number').fill, style(ground).fill)
      )
    ),
    whites: ratio(
      style('.printplan-sheet-white').fill, style('.printplan-sheet-printable').fill
    ),
  };
}"""


@pytest.mark.usefixtures("theme")
def test_nothing_in_the_view_is_hard_to_reach(cropped, axe_source):
    execute(cropped, MOUNTED)
    cropped.evaluate(axe_source)
    found = cropped.evaluate("axe.run('.printplan-sheet')")
    assert len(found["passes"]) > 3
    grave = [
        (it["id"], it["nodes"][0]["html"])
        for it in found["violations"]
        if it["impact"] in {"serious", "critical"}
    ]
    assert grave == []
