"""A slider moved by hand changes the picture as it says; what is refused says why."""

from functools import partial
from operator import eq

import pytest
from notebook_page import drag, eventually, measured, slider

PLAN = "seed-heads-on-fen-cotton.toml"
CELLS = [
    f"""\
from printplan.workbook.bench import Bench
bench = Bench.open("{PLAN}")""",
    """\
from printplan.workbook.panels.size import SizePanel
size = SizePanel(bench)
size.ui""",
    """\
from printplan.workbook.panels.sharpen import SharpenPanel
sharpen = SharpenPanel(bench, across_share=0.25, down_share=0.3)
sharpen.ui""",
    """\
from printplan.workbook.panels.proof import ProofPanel
proof = ProofPanel(bench)
proof.ui""",
    """\
from printplan.workbook.panels.finish import FinishPanel
finish = FinishPanel(bench)
finish.ui""",
    """\
from printplan.workbook.loupe.loupe import Loupe
loupe = Loupe(bench, across_share=0.25, down_share=0.3)
loupe""",
]
SIZE, SHARPEN, PROOF, FINISH, LOUPE = range(1, 6)
# Once it is decoded.
BYTES_SHOWN = """async (image) => {
  await image.decode().catch(() => {}); // replaced meanwhile
  return (await (await fetch(image.src)).blob()).size;
}"""
BACK_TO_BEGIN = """\
from printplan.spec import ColourSpec, SharpenSpec, SizeRule, SizeSpec
_ = bench.change(
    size=SizeSpec(rule=SizeRule.WIDTH, width_mm=240, ppi=300),
    sharpen=SharpenSpec(gain=0.3, radius_mm=0.127),
    colour=ColourSpec(),
)
assert all(it.settle() for it in (size, sharpen, proof, finish, loupe))"""


@pytest.fixture(scope="module")
def desk(new_desk):
    return new_desk("panels")


@pytest.fixture(scope="module")
def opened(desk, open_cells):
    return open_cells(desk, CELLS)


@pytest.fixture
def bench(opened):
    """Every panel on one page, with the plan as it was at first."""
    # A slider holds its last step back until the kernel has answered the one before.
    opened.execute("pass")
    opened.execute("pass")
    opened.execute(BACK_TO_BEGIN)
    eventually(lambda: width_on_paper_mm(opened.output(SIZE)), near(240))
    for number_of_cell, name in ((SHARPEN, "sharpen.window"), (PROOF, "proof.picture")):
        picture = opened.output(number_of_cell).locator(".printplan-stage img").first
        held = int(opened.execute(f"print(len({name}.value))"))
        eventually(partial(picture.evaluate, BYTES_SHOWN), partial(eq, held))
    yield opened
    assert opened.exceptions == []


def near(expected, by=1):
    return lambda found: found == pytest.approx(expected, abs=by)


def number(bench, what):
    """A number of the plan, as the kernel has it."""
    return float(bench.execute(f"print(bench.spec.{what})"))


def width_on_paper_mm(panel):
    """Width of the drawn picture, on the drawing's own scale."""
    drawing = panel.locator(".printplan-sheet-drawing")
    drawn = panel.locator(".printplan-sheet-picture rect").first.bounding_box()
    return drawn["width"] / float(drawing.get_attribute("data-px-per-mm"))


def test_more_width_draws_a_wider_picture_on_the_same_sheet(bench):
    panel = bench.output(SIZE)
    drag(slider(panel, "width"), 0.2)
    eventually(lambda: number(bench, "size.width_mm"), lambda it: it > 280)
    # The last steps of the slider may still be on their way.
    eventually(
        lambda: width_on_paper_mm(panel) - number(bench, "size.width_mm"), near(0)
    )


def test_more_gain_gives_more_local_contrast_at_the_same_lightness(bench):
    panel = bench.output(SHARPEN)
    window = panel.locator(".printplan-exact img").first
    before = measured(window)
    drag(slider(panel, "gain"), 0.2)
    eventually(lambda: number(bench, "sharpen.gain"), lambda it: it > 0.8)
    after = eventually(
        lambda: measured(window),
        lambda it: it["local_contrast"] > 1.1 * before["local_contrast"],
    )
    # Neighbours move apart and not the whole; what leaves paper white is cut off.
    assert after["mean"] == pytest.approx(before["mean"], abs=2)


def test_lighten_gives_a_lighter_proof(bench):
    panel = bench.output(PROOF)
    picture = panel.locator(".printplan-stage img").first
    before = measured(picture)
    drag(slider(panel, "lighten"), 0.4)
    eventually(lambda: number(bench, "colour.lighten_l"), lambda it: it > 5)
    eventually(lambda: measured(picture), lambda it: it["mean"] > before["mean"] + 2)


def test_the_loupe_follows_the_plan_and_its_divider_uncovers_it(bench):
    loupe = bench.output(LOUPE)
    loupe.scroll_into_view_if_needed()
    canvas = loupe.locator(".printplan-loupe-stage canvas")

    def local_contrast():
        return measured(canvas)["local_contrast"]

    before = eventually(local_contrast, lambda it: it > 0)
    bench.execute("_ = bench.change(sharpen=SharpenSpec(gain=2.5, radius_mm=0.127))")
    after = eventually(local_contrast, lambda it: it > 1.1 * before)
    # The side before sharpening takes the room of the side after it.
    loupe.get_by_role("slider", name="Divider").focus()
    for _ in range(30):
        bench.page.keyboard.press("ArrowRight")
    eventually(local_contrast, lambda it: it < (before + after) / 2)


def test_a_width_that_does_not_fit_is_refused_in_problem_and_remedy(bench):
    panel = bench.output(SIZE)
    drag(slider(panel, "width"), 1.0)
    alert = panel.get_by_role("alert")
    alert.wait_for()
    problem, _, remedy = alert.inner_text().partition("\n")
    assert problem.startswith("The picture is")
    assert remedy.startswith("Choose")
    # The last plan that works stays, and its drawing stands back.
    assert number(bench, "size.width_mm") < 420
    assert panel.locator(".printplan-dimmed").count() == 1
    drag(slider(panel, "width"), -0.5)
    alert.wait_for(state="detached")


def test_a_file_that_is_cancelled_leaves_nothing_behind(bench, desk):
    # Some 36 million pixels take long enough to change one's mind.
    bench.execute(
        "_ = bench.change(size=SizeSpec(rule=SizeRule.WIDTH, width_mm=380, ppi=720))"
    )
    bench.execute("assert finish.settle(240)")
    before = {path.name for path in desk.iterdir()}
    panel = bench.output(FINISH)
    panel.get_by_role("button", name="Render the file").click()
    panel.get_by_role("button", name="Cancel").click()
    panel.get_by_text("No file was written").wait_for()
    # What was chosen for the paper is kept when a file is asked for.
    made = {path.name for path in desk.iterdir()} - before
    assert made <= {"paper-book-choices.toml"}


# 11 px is the smallest text that is still read without leaning forward: our choice.
# Captions in a picture are drawn for the width that the browser told; how large they
# then are is in tests/test_panels.py.
FITS = """(stage) => {
  const image = stage.querySelector("img");
  return [stage.clientWidth, stage.scrollWidth, image.clientWidth, image.naturalWidth];
}"""
SMALLEST_TEXT = """(panel) => Math.min(...[...panel.querySelectorAll("*")]
  .filter((it) => it.checkVisibility() && [...it.childNodes].some(
    (node) => node.nodeType === 3 && node.textContent.trim()))
  .map((it) => parseFloat(getComputedStyle(it).fontSize)))"""


@pytest.mark.parametrize("width", [900, 1440, 2400])
def test_pictures_fit_their_place_and_words_can_be_read(bench, width):
    """Of the second half of *both* and *as seen*, all is in sight."""
    page = bench.page
    page.set_viewport_size({"width": width, "height": 900})
    sharpen, proof = bench.output(SHARPEN), bench.output(PROOF)
    stage = sharpen.locator(".printplan-exact")
    for view in ("after", "both", "as seen"):
        sharpen.get_by_role("button", name=view, exact=True).click()
        eventually(
            partial(stage.evaluate, FITS),
            lambda it: it[1] <= it[0] and it[2] == it[3] >= min(it[0] - 4, 1500),
        )
    assert sharpen.evaluate(SMALLEST_TEXT) >= 11
    assert proof.evaluate(SMALLEST_TEXT) >= 11
    fitting = proof.locator(".printplan-fits")

    def room():
        inside, scrolled, shown, own = fitting.evaluate(FITS)
        told = int(bench.execute("print(proof.accessibility.stage_px)"))
        return inside - 20 - told, scrolled - inside, own < 900, shown >= min(told, own)

    # Told right, not scrolled, one below the other where it is narrow, and all of it.
    narrow = width < 1900
    eventually(
        room, lambda it: abs(it[0]) <= 2 and it[1] <= 0 and it[2] == narrow and it[3]
    )
    sharpen.get_by_role("button", name="after", exact=True).click()


# A thousand clicks on the units, in turn with keys on a slider where asked, as fast as
# the page takes them.
# A cell that waits while controls are used.
WAITING = """() => {
  const kernel = jupyterapp.shell.currentWidget.sessionContext.session.kernel;
  const code = "import asyncio; await asyncio.sleep(2)";
  window.waiting = kernel.requestExecute({ code }).done.then(() => true);
}"""


def test_controls_are_heard_while_a_cell_waits_and_after_it(bench):
    """
    By the one thread that serves the page, and the page is told that they were.

    A kernel that leaves its word of that out is never sent another move of the control.
    """
    unit = {
        name: bench.output(SIZE).get_by_role("button", name=name)
        for name in ("inches", "millimetres")
    }
    bench.execute(
        "import threading\n"
        "threads = set()\n"
        "hear = lambda _: threads.add(threading.current_thread().name)\n"
        "size.unit.observe(hear, names='value')"
    )
    bench.page.evaluate(WAITING)
    unit["inches"].click()
    unit["millimetres"].click()
    assert bench.page.evaluate("() => window.waiting")
    for name, short in (("inches", "in"), ("millimetres", "mm")):
        unit[name].click()
        told = "print(bench.spec.lengths_in)"
        eventually(partial(bench.execute, told), partial(eq, short))
    bench.execute("size.unit.unobserve(hear, names='value')")
    assert bench.execute("print(*threads)") == "MainThread"


STRESS = """async ([panel, moves]) => {
  const buttons = [...panel.querySelectorAll(".widget-toggle-button")].filter(
    (it) => ["inches", "millimetres"].includes(it.textContent.trim()));
  const handle = [...panel.querySelectorAll(".noUi-handle")].find(
    (it) => it.getAttribute("aria-label") === "width");
  for (let i = 0; i < 1000; i++) {
    buttons[(i + 1) % 2].click();
    if (moves) {
      const key = i % 4 < 2 ? "ArrowLeft" : "ArrowRight";
      handle.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true }));
    }
    if (i % 10 === 0) await new Promise(requestAnimationFrame);
  }
  buttons.find((it) => it.textContent.trim() === "millimetres").click();
}"""


@pytest.mark.parametrize("moves", [False, True], ids=["units", "units and moves"])
def test_a_thousand_changes_of_the_unit_change_nothing_else(bench, moves):
    """A thread that went on beside the page's own once made 40 mm of 205."""
    panel = bench.output(SIZE)
    bench.execute("before = bench.spec")
    panel.evaluate("(panel, moves) => (" + STRESS + ")([panel, moves])", moves)
    bench.execute("pass")
    told = "print(bench.spec.lengths_in, size.unit.value, bench.refusal)"
    # A page and a kernel that share a busy machine are minutes behind such hands.
    eventually(lambda: bench.execute(told), partial(eq, "mm mm None"), within_s=480)
    bench.execute("assert all(it.settle() for it in (size, sharpen, proof, finish))")
    width_mm = number(bench, "size.width_mm")
    if not moves:
        assert width_mm == 240
    # Keys move the width, by whole steps; what the slider shows is what is planned.
    assert width_mm == pytest.approx(240, abs=40)
    told = float(bench.execute("print(size.lengths['width_mm'].ui.value)"))
    assert told == pytest.approx(width_mm, abs=0.26)
    bench.execute("from dataclasses import replace")
    same = "replace(bench.spec, size=replace(bench.spec.size, width_mm=240.0))"
    assert bench.execute(f"print({same} == before)").strip() == "True"
