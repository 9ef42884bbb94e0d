"""In a real browser: exact pixels, a keyboard's reach, a screen that is remembered."""

from io import BytesIO

import nbformat
import numpy as np
import pytest
import tifffile
from loupe_page import CANVAS, STAGE, LoupePage, screen
from notebook_page import eventually
from PIL import Image

from printplan.colour.spaces import named_profile
from printplan.spec import NamedSpace

BOARD_PX, BOARD_PPI = (2400, 1500), 300.0
"""A master whose pixels become print pixels one for one."""

STUDIO = """
from printplan.demo.studio import make_studio
from printplan.spec import SharpenSpec
from printplan.workbook.bench import Bench
from printplan.workbook.loupe.loupe import Loupe
from printplan.workbook.loupe.sides import MASTER
studio = make_studio("studio")
"""
BOARD = f"""
from printplan.pixels.master import open_master
from printplan.spec import PrintSpec, SheetSpec, SizeRule, SizeSpec
paper, printer = studio.book.paper("Fen Cotton 310"), studio.book.printers[0]
width_mm = {BOARD_PX[0]} * 25.4 / {BOARD_PPI}
size = SizeSpec(rule=SizeRule.WIDTH, width_mm=width_mm, ppi={BOARD_PPI})
sheet = SheetSpec(media_size="A3", feed=paper.on(printer).feeds[0])
bench = Bench.of(
    open_master("board.tif"), paper, printer, PrintSpec(size=size, sheet=sheet)
)
"""
NOTEBOOKS = {
    "board": [STUDIO, BOARD, "loupe = Loupe(bench, sides=[MASTER])\nloupe"],
    "demo": [
        STUDIO,
        "bench = Bench.open(studio.plan_path)",
        "loupe = Loupe(bench, across_share=0.35, down_share=0.38)\nloupe",
    ],
    "twice": [
        STUDIO,
        "bench = Bench.open(studio.plan_path)",
        "from IPython.display import display\nloupe = Loupe(bench)",
        "display(loupe, loupe)",
    ],
}


@pytest.fixture(scope="module")
def folder(lab):
    """Notebooks with loupes below the server's folder, and a master for them."""
    made = lab.folder / "loupe"
    made.mkdir()
    rows, columns = np.indices(BOARD_PX[::-1])
    board = ((rows + columns) % 2 * 65535).astype(np.uint16)
    tifffile.imwrite(
        made / "board.tif",
        np.repeat(board[..., None], 3, axis=-1),
        photometric="rgb",
        iccprofile=named_profile(NamedSpace.SRGB).data,
        metadata=None,
    )
    for name, codes in NOTEBOOKS.items():
        notebook = nbformat.v4.new_notebook(
            cells=[nbformat.v4.new_code_cell(code.strip()) for code in codes],
            metadata={"kernelspec": {"name": "python3", "display_name": "Python 3"}},
        )
        nbformat.write(notebook, made / f"{name}.ipynb")
    return made


@pytest.fixture(scope="module")
def opened(chromium, lab, folder):
    """The demo's loupe, opened once."""
    with screen(chromium) as browser:
        yield LoupePage(browser, lab, f"{folder.name}/demo.ipynb")


@pytest.fixture
def demo(opened):
    """The demo's loupe as it was at first."""
    opened.press("p", "Home")
    if opened.page.locator(".printplan-loupe-divider").is_hidden():
        opened.press("d")
    return opened


def expected_board(loupe, shape, picture):
    """Single print pixels where the view says that it is; the paper is not in it."""
    rows, columns = np.indices(shape[:2])
    centre = loupe.shown()["centre"]
    x = columns + np.floor(centre[0] - shape[1] / 2 + 1e-6) - picture[0]
    y = rows + np.floor(centre[1] - shape[0] / 2 + 1e-6) - picture[1]
    board = ((x + y) % 2 * 255).astype(np.uint8)
    return np.repeat(board[..., None], 3, axis=-1)


@pytest.mark.parametrize("ratio", [1.0, 1.25, 1.5, 2.0])
def test_single_print_pixels_reach_the_screen(chromium, lab, folder, ratio):
    """What the kernel sent, the canvas holds, and the screen shows, is the same."""
    with screen(chromium, ratio) as browser:
        loupe = LoupePage(browser, lab, f"{folder.name}/board.ipynb")
        assert loupe.page.evaluate("devicePixelRatio") == ratio
        loupe.press("d")
        canvas = loupe.pixels()
        css_width = loupe.page.locator(CANVAS).evaluate(
            "(it) => it.getBoundingClientRect().width"
        )
        assert canvas.shape[1] == pytest.approx(css_width * ratio, abs=1.0)
        # A3 across is 4961 × 3508 print pixels at 300 ppi; the picture is centred.
        picture = ((4961 - BOARD_PX[0]) // 2, (3508 - BOARD_PX[1]) // 2)
        board = expected_board(loupe, canvas.shape, picture)
        either = (board, 255 - board)
        assert any(np.array_equal(canvas, one) for one in either)
        loupe.page.evaluate("document.activeElement.blur()")
        seen = np.asarray(
            Image.open(BytesIO(loupe.page.screenshot(scale="device"))).convert("RGB")
        )
        assert places_in(seen, inner(canvas, ratio), loupe, ratio) == 1
        loupe.close()


def inner(canvas, ratio):
    """The part of a picture on which no words lie."""
    edge = round(64 * ratio)
    return canvas[edge:-edge, edge:-edge]


def places_in(whole, part, loupe, ratio):
    """At how many places, to the pixel, a screen shows a part of the canvas."""
    box = loupe.page.locator(CANVAS).bounding_box()
    edge = round(64 * ratio)
    left, top = round(box["x"] * ratio) + edge, round(box["y"] * ratio) + edge
    rows, columns = part.shape[:2]
    found = 0
    # A checkerboard shifted by one looks inverted, so one place of a cross fits.
    for across, down in ((0, 0), (1, 0)):
        seen = whole[
            top + down : top + down + rows, left + across : left + across + columns
        ]
        visible = part[: seen.shape[0], : seen.shape[1]]
        assert visible.shape[0] > 200
        found += int(np.array_equal(seen, visible))
    return found


def test_arrow_keys_move_by_whole_pixels_and_home_comes_back(demo):
    start = demo.shown()
    width = demo.pixels().shape[1]
    moved = demo.press("ArrowRight", "ArrowDown")
    assert moved["centre"][0] - start["centre"][0] == round(width / 12)
    assert moved["centre"][1] > start["centre"][1]
    far = demo.press("Shift+ArrowLeft")
    assert moved["centre"][0] - far["centre"][0] == round(width / 2)
    assert demo.press("Home")["centre"] == start["centre"]


def test_plus_and_minus_go_through_whole_scales_to_the_whole_sheet(demo):
    assert demo.press("+")["scale"] == 2
    assert demo.press("-", "-")["zoom"] == "overview"
    assert "not sharpened" in demo.page.locator(".printplan-loupe-scale").inner_text()
    whole = demo.press("w")
    assert whole["zoom"] == "overview"
    assert demo.press("p")["scale"] == 1


def test_a_repeated_pixel_is_a_square_of_the_same_colour(demo):
    demo.press("+", "+", "+")
    assert demo.shown()["scale"] == 4
    pixels = demo.pixels()
    half = pixels[:, : pixels.shape[1] // 2 - 8]
    changes = np.flatnonzero((half[:, 1:] != half[:, :-1]).any(axis=(0, 2))) + 1
    assert len(changes) > 10
    assert len(set(changes % 4)) == 1


def test_the_divider_shows_each_side_s_own_pixels(demo):
    both = demo.pixels()
    demo.press("d")
    after = demo.pixels()
    demo.press("Enter")
    before = demo.pixels()
    middle = both.shape[1] // 2
    np.testing.assert_array_equal(both[:, : middle - 1], before[:, : middle - 1])
    np.testing.assert_array_equal(both[:, middle + 1 :], after[:, middle + 1 :])
    assert (before != after).any()
    demo.press("Enter")


def test_the_divider_is_a_slider_for_the_keyboard(demo):
    divider = demo.page.locator(".printplan-loupe-divider")
    assert divider.get_attribute("role") == "slider"
    divider.focus()
    number = demo.shown()["id"]
    demo.page.keyboard.press("End")
    assert divider.get_attribute("aria-valuenow") == "100"
    demo.page.keyboard.press("Home")
    for _ in range(5):
        demo.page.keyboard.press("Shift+ArrowRight")
    assert divider.get_attribute("aria-valuenow") == "50"
    assert "before on the left" in divider.get_attribute("aria-valuetext")
    # Both sides are there already: nothing was asked of the kernel.
    assert demo.shown()["id"] == number


def test_numbers_go_to_the_look_here_windows(demo):
    demo.page.locator(".printplan-loupe-stop").first.wait_for()
    demo.press("2")
    demo.execute(
        "left, top, width, height = loupe.stops[1]['box']\n"
        "middle = (left + width / 2, top + height / 2)"
    )
    demo.execute(f"assert middle == {demo.shown()['centre']}, middle")


def test_every_control_is_reached_by_tab_and_named(demo):
    demo.page.locator(".printplan-loupe select").first.focus()
    reached = []
    for _ in range(40):
        inside = demo.page.evaluate(
            """() => {
              const it = document.activeElement;
              if (!it.closest('.printplan-loupe')) return null;
              return [it.className || it.tagName, it.dataset.lmSuppressShortcuts];
            }"""
        )
        if inside is None:
            break
        reached.append(inside)
        demo.page.keyboard.press("Tab")
    wanted = demo.page.evaluate(
        """() => [...document.querySelectorAll(
            '.printplan-loupe :is(button, select, input, summary, [tabindex="0"])'
          )].filter((it) => it.checkVisibility()).length"""
    )
    assert len(reached) == wanted
    assert all(suppresses == "true" for _, suppresses in reached)


def test_the_notebook_does_not_hear_the_loupe_s_keys(demo):
    count = "() => jupyterapp.shell.currentWidget.content.model.cells.length"
    before = demo.page.evaluate(count)
    demo.page.locator(STAGE).focus()
    for key in ("a", "b", "x", "d", "d", "j", "k", "ArrowDown", "m"):
        demo.page.keyboard.press(key)
    demo.settle()
    assert demo.page.evaluate(count) == before
    mode = "() => jupyterapp.shell.currentWidget.content.activeCell.model.type"
    assert demo.page.evaluate(mode) == "code"


def test_what_is_shown_is_told_to_those_who_cannot_see_it(demo):
    canvas = demo.page.locator(CANVAS)
    assert canvas.get_attribute("role") == "img"
    told = canvas.get_attribute("aria-label")
    assert "left before, right after" in told
    assert "1:1" in told
    assert "% across" in told
    demo.press("r")
    assert "dE00 from what Fen Cotton 310 can hold" in canvas.get_attribute(
        "aria-label"
    )
    demo.press("r")


def test_dragging_moves_the_picture_under_the_pointer(demo):
    before = demo.pixels()
    box = demo.page.locator(CANVAS).bounding_box()
    x, y = box["x"] + box["width"] / 4, box["y"] + box["height"] / 2
    demo.page.mouse.move(x, y)
    demo.page.mouse.down()
    demo.page.mouse.move(x + 60, y - 40, steps=4)
    demo.page.mouse.up()
    demo.settle()
    after = demo.pixels()
    middle = before.shape[1] // 2
    np.testing.assert_array_equal(
        after[:-40, 60 : middle - 2], before[40:, : middle - 62]
    )


def test_the_wheel_belongs_to_the_page_until_the_picture_is_chosen(demo):
    demo.page.evaluate("document.activeElement.blur()")
    box = demo.page.locator(CANVAS).bounding_box()
    demo.page.mouse.move(box["x"] + 200, box["y"] + 200)
    demo.page.evaluate(
        "window.wheels = 0; addEventListener('wheel', () => { window.wheels += 1 })"
    )
    demo.page.mouse.wheel(0, -100)
    demo.page.wait_for_function("window.wheels > 0")
    demo.settle()
    assert demo.shown()["scale"] == 1
    demo.page.locator(STAGE).focus()
    box = demo.page.locator(CANVAS).bounding_box()
    demo.page.mouse.move(box["x"] + 200, box["y"] + 200)
    demo.page.mouse.wheel(0, -100)
    demo.settle()
    assert demo.shown()["scale"] == 2


def test_a_change_of_the_plan_is_seen_at_once(demo):
    before, number = demo.pixels(), int(demo.shown()["shown"])
    demo.execute("bench.change(sharpen=SharpenSpec(gain=2.8, radius_mm=0.2))")
    # The kernel sends it unasked, so it has the number of what was asked before.
    eventually(lambda: int(demo.shown()["shown"]), lambda count: count > number)
    demo.settle()
    after = demo.pixels()
    # The divider may have been left a few pixels from the middle.
    left, right = before.shape[1] // 2 - 20, before.shape[1] // 2 + 20
    np.testing.assert_array_equal(after[:, :left], before[:, :left])
    assert (after[:, right:] != before[:, right:]).any()


def test_columns_that_were_not_sent_come_before_the_divider_gets_there(demo):
    """While nobody is near, a new plan comes without what the divider covers."""
    demo.page.mouse.move(0, 0)
    demo.page.evaluate("document.activeElement.blur()")
    number = int(demo.shown()["shown"])
    demo.execute("bench.change(sharpen=SharpenSpec(gain=1.7, radius_mm=0.15))")
    eventually(lambda: int(demo.shown()["shown"]), lambda count: count > number)
    demo.page.locator(".printplan-loupe-divider").focus()
    demo.page.keyboard.press("Home")
    demo.settle()
    shown = demo.pixels()
    demo.press("d")
    np.testing.assert_array_equal(shown[:, 1:], demo.pixels()[:, 1:])


HOLD_BACK = """
from threading import Event
from printplan.workbook.loupe.cutter import Cutter
gate, quick = Event(), Cutter.frame
Cutter.frame = lambda self, wish: gate.wait(60) and quick(self, wish)
"""


def test_an_answer_that_comes_late_is_shown(demo):
    before = demo.shown()["id"]
    demo.execute(HOLD_BACK)
    demo.page.locator(STAGE).focus()
    demo.page.keyboard.press("+")
    demo.page.get_by_text("Waiting for the kernel").wait_for()
    demo.execute("gate.set(); Cutter.frame = quick")
    demo.wait_for_frame(before)
    demo.settle()
    assert demo.shown()["scale"] == 2


def test_a_problem_is_shown_with_its_remedy_over_the_last_good_picture(demo):
    before = demo.pixels()
    demo.execute(
        "from printplan.errors import MasterError\n"
        "from printplan.workbook.loupe.cutter import Cutter\n"
        "frame = Cutter.frame\n"
        "def lost(*_): raise MasterError('The disk is gone.', remedy='Plug it in.')\n"
        "Cutter.frame = lost"
    )
    demo.page.locator(STAGE).focus()
    demo.page.keyboard.press("+")
    problem = demo.page.locator(".printplan-loupe-problem")
    problem.get_by_text("Plug it in.").wait_for()
    assert "The disk is gone." in problem.inner_text()
    assert demo.page.locator(".printplan-loupe-stale").count() == 1
    np.testing.assert_array_equal(demo.pixels(), before)
    demo.execute("Cutter.frame = frame")
    demo.press("-")
    assert problem.inner_text() == ""
    assert demo.page.locator(".printplan-loupe-stale").count() == 0


def test_a_matched_screen_is_remembered_over_a_new_kernel(demo):
    """The true size follows from the card: 400 px for 85.60 mm are 4.673 per mm."""
    demo.page.locator(STAGE).focus()
    demo.page.keyboard.press("t")
    slider = demo.page.get_by_role("slider", name="Width of the outline")
    slider.evaluate(
        "(it) => { it.value = 399; it.dispatchEvent(new Event('input')); it.focus(); }"
    )
    demo.page.keyboard.press("ArrowRight")
    outline = demo.page.locator(".printplan-loupe-outline").bounding_box()
    assert outline["width"] == pytest.approx(400, abs=0.02)
    # ISO/IEC 7810: 85.60 × 53.98 mm.
    assert outline["height"] == pytest.approx(400 * 53.98 / 85.60, abs=0.02)
    demo.button("save this match").press("Enter")
    eventually(lambda: demo.execute("print(len(loupe.screens))"), lambda it: it == "1")
    wanted = 400 / 85.60 * 25.4 / 300
    assert demo.press("t")["scale"] == pytest.approx(wanted)
    demo.page.evaluate(
        "async () => await jupyterapp.shell.currentWidget.sessionContext"
        ".session.kernel.restart()"
    )
    demo.page.evaluate(
        "async () => await jupyterapp.commands.execute("
        "'notebook:clear-all-cell-outputs')"
    )
    demo.run_all()
    again = demo.press("t")
    assert again["zoom"] == "true-size"
    assert again["scale"] == pytest.approx(wanted)


def test_two_views_of_one_loupe_look_at_their_own_places(chromium, lab, folder):
    with screen(chromium) as browser:
        loupe = LoupePage(browser, lab, f"{folder.name}/twice.ipynb")
        canvases = loupe.page.locator(CANVAS)
        assert canvases.count() == 2
        second = canvases.nth(1).get_attribute("data-centre")
        moved = loupe.press("ArrowRight", "+")
        assert moved["scale"] == 2
        assert canvases.nth(1).get_attribute("data-centre") == second
        assert canvases.nth(1).get_attribute("data-scale") == "1"
        loupe.close()


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_core_finds_nothing_serious(demo, axe_source, theme):
    page = demo.page
    if theme == "dark":
        demo.use_dark_theme()
    else:
        demo.use_light_theme()
    page.wait_for_function("document.getAnimations().length === 0")
    page.get_by_role("button", name="match the screen").click()
    page.get_by_text("Keys, once the picture is chosen").click()
    page.evaluate(axe_source)
    found = page.evaluate("async () => (await axe.run('.printplan-loupe')).violations")
    page.get_by_role("button", name="cancel").click()
    page.get_by_text("Keys, once the picture is chosen").click()
    serious = [
        (each["id"], each["nodes"][0]["html"])
        for each in found
        if each["impact"] in {"serious", "critical"}
    ]
    assert serious == []
