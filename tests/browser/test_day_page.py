"""From an empty folder to a finished file, and the page that shows one print."""

import hashlib
import json
import os
import re
import shutil
from functools import partial
from pathlib import Path

import numpy as np
import pytest
import tifffile
from accessibility import violations
from day_page import PAGE, SETTLED, ByKeyboard, DayPage
from ipp_printers import needs_printer, real_printer, service_discovery
from notebook_page import eventually, slider
from recorded_print import recorded, with_spec

from printplan.pixels.sheet import Appearance
from printplan.record.paper_book import read_paper_book
from printplan.record.plan_file import open_plan, read_plan_file
from printplan.record.record_file import read_record
from printplan.record.sidecar import write_sidecar_record
from printplan.sizing.boxes import Box
from printplan.spec import ColourSpec, SizeRule, SizeSpec
from printplan.workbook.unsaved import find_unsaved

DATA = Path(__file__).parents[1] / "data"
PHOTOGRAPH = DATA / "photographs" / "meadow.jpg"
MOST_CHOICES = 40
DESK = {"width": 1440, "height": 900}
HALF = DESK["width"] * DESK["height"] / 2
FIRST_PICTURE = ".printplan-sheet-drawing image[href]"


def digest(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.fixture(scope="module")
def new_day_page(chromium, lab):
    pages = []

    def make(kind=DayPage, size=DESK):
        pages.append(chromium.new_context(viewport=size))
        return kind(pages[-1].new_page(), lab)

    yield make
    for context in pages:
        context.close()


@pytest.fixture
def ipp_address(tmp_path_factory):
    folder = tmp_path_factory.mktemp("printer")
    with service_discovery(folder) as env, real_printer(folder, env) as made:
        yield made.uri


def from_profile_to_file(page, folder, profile, *, sheet):
    """From the second form on: a paper, a photograph, a file."""
    page.press("Go on: add a paper")
    page.fill("profile", str(profile))
    page.press("Read this profile")
    page.fill("sizes kept", sheet)
    page.press("Add this paper to the book")
    photograph = folder / "masters" / "own.jpg"
    shutil.copy(PHOTOGRAPH, photograph)
    before = digest(photograph)
    page.fill("photograph", str(photograph))
    page.select("its colours are", "sRGB")
    page.press("Plan this print")
    page.wait_for_print()
    eventually(page.button("Render the file").is_enabled, bool)
    page.press("Render the file")
    made = page.wait_for_file(folder / "jobs")
    assert digest(photograph) == before
    return made


def require_whole(made, profile, *, channels):
    record = read_record(made[".record.toml"])
    assert record.rendered.sha256 == digest(made[".tif"])
    with tifffile.TiffFile(made[".tif"]) as tiff:
        page = tiff.pages[0]
        assert page.samplesperpixel == channels
        assert page.tags["InterColorProfile"].value == profile.read_bytes()
        assert np.ptp(page.asarray()) > 0
    assert made[".decision.pdf"].read_bytes().startswith(b"%PDF")


@needs_printer
def test_own_printer_paper_and_photograph_in_forty_choices(
    new_day_page, lab, studio, ipp_address
):
    """A printer that answers by IPP, a paper by its RGB profile, a JPEG."""
    folder = lab.folder / "asked"
    page = new_day_page().open_in(folder)
    page.press("Make a studio in this folder")
    page.fill("address", ipp_address)
    page.press("Ask the printer")
    page.page.get_by_text("The printer answered").wait_for()
    page.fill("name", "By the window")
    page.press("Add this printer to the book")
    profile = studio.folder / "profiles" / "curlew-matte-200.icc"
    made = from_profile_to_file(page, folder, profile, sheet="A4")
    require_whole(made, profile, channels=3)
    assert page.choices <= MOST_CHOICES
    assert read_paper_book(folder / "paper-book.toml").printers[0].ipp_address
    page.check()
    page.close()


def test_keyboard_alone_from_empty_folder_to_finished_file(new_day_page, lab):
    """A printer by its class whose driver takes CMYK, and a CMYK profile."""
    folder = lab.folder / "by-keys"
    page = new_day_page(ByKeyboard).open_in(folder)
    page.press("Make a studio in this folder")
    page.fill("name", "By the door")
    page.press("CMYK")
    page.press("Add this printer to the book")
    profile = DATA / "FOGRA39L_coated.icc"
    made = from_profile_to_file(page, folder, profile, sheet="A4")
    require_whole(made, profile, channels=4)
    assert page.choices <= MOST_CHOICES
    page.check()
    page.close()


# One print on the page


@pytest.fixture(scope="module")
def open_job(new_day_page, new_desk):
    """The page, open on a job of the demo's in a folder of its own."""

    def make(name, size=DESK, change=None, kind=DayPage):
        folder = new_desk(name)
        plan = folder / "job" / "seed-heads-on-fen-cotton.toml"
        (folder / ".printplan-last-job").write_text(f"{plan.relative_to(folder)}\n")
        if change is not None:
            change(folder)
        page = new_day_page(kind, size).open_in(folder)
        return page, folder, plan

    return make


@pytest.fixture(scope="module")
def day(open_job):
    def add_photographs(folder):
        masters = folder / "masters"
        shutil.copytree(masters, masters / "spring", copy_function=os.link)
        (masters / "broken.jpg").write_bytes(b"\xff\xd8\xff\xe0 no more")

    page, folder, plan = open_job("day", change=add_photographs)
    page.wait_for_print()
    page.page.locator(FIRST_PICTURE).first.wait_for(state="attached")
    return page, folder, plan


def largest_picture(page):
    return page.page.evaluate(
        """() => Math.max(...[...document.querySelectorAll(
          ".printplan-sheet-drawing, .printplan-loupe-stage")].map((it) => {
            const box = it.getBoundingClientRect();
            return box.width * box.height;
        }))"""
    )


def test_picture_takes_half_of_the_screen_with_all_else_in_sight(day):
    page, *_ = day
    page.page.set_viewport_size(DESK)
    for title in ("Size and place", "Sharpness"):
        page.step(title)
        eventually(lambda: largest_picture(page), lambda area: area >= HALF)
        for selector in (".printplan-steps", ".printplan-foot", ".printplan-bar"):
            box = page.shown(selector).first.bounding_box()
            assert box["y"] >= 0
            assert box["y"] + box["height"] <= DESK["height"]
    assert page.button("Render the file").is_visible()


# Boxes that hold more than they show, and labels of which a part is cut off.
CUT = """() => [...document.querySelectorAll(".printplan-page *")].filter((it) => {
  if (!it.offsetParent || it.closest("svg")) return false;
  const style = getComputedStyle(it);
  const cuts = style.overflowX !== "visible" && style.display !== "inline";
  return cuts && it.scrollWidth > it.clientWidth + 1 && it.clientWidth > 0 &&
    !it.matches("select, input, option, .printplan-steps, .printplan-loupe-spoken") &&
    it.textContent.trim() !== "";
}).map((it) => `${it.className}: ${it.scrollWidth} in ${it.clientWidth}`)"""
SIDEWAYS = """() => {
  const panel = document.querySelector(".jp-WindowedPanel-outer");
  return panel.scrollWidth - panel.clientWidth;
}"""


# What is chosen in a list stands there whole, before the arrow of some 16 px.
CHOSEN_CUT = """() => [...document.querySelectorAll(".printplan-page select")].filter(
  (it) => {
    const { font, paddingLeft, paddingRight } = getComputedStyle(it);
    const context = document.createElement("canvas").getContext("2d");
    context.font = font;
    const words = it.selectedOptions[0]?.label ?? "";
    const padding = parseFloat(paddingLeft) + parseFloat(paddingRight);
    const room = it.clientWidth - padding - 16;
    return it.clientWidth > 0 && context.measureText(words).width > room;
  }).map((it) => it.selectedOptions[0].label)"""


WIDTHS = (900, 1440, 2400)


def require_room(page, width):
    """Nothing is cut off, and nothing scrolls sideways, at a width of the window."""
    page.page.set_viewport_size({"width": width, "height": 900})
    eventually(lambda: page.page.evaluate(SIDEWAYS), lambda wider: wider <= 0)
    eventually(lambda: page.page.evaluate(CUT), lambda found: found == [])
    assert page.page.evaluate(CHOSEN_CUT) == []


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_is_cut_and_nothing_scrolls_sideways(width, day):
    page, *_ = day
    for title in (
        "Paper and printer",
        "Size and place",
        "Mount and edges",
        "Sharpness",
        "Trial sheet",
        "Colour",
        "File and",
    ):
        page.step(title)
        require_room(page, width)
    page.page.set_viewport_size(DESK)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_page_breaks_no_serious_rule(theme, day, axe_source):
    page, *_ = day
    if theme == "dark":
        page.use_dark_theme()
    try:
        for title in (
            "Paper and printer",
            "Size and place",
            "Mount and edges",
            "Sharpness",
            "Trial sheet",
            "Colour",
        ):
            page.step(title)
            assert violations(page.page, axe_source) == []
        for place in (
            "all jobs",
            "many prints",
            "prints made",
            "printers and papers",
            "this print",
        ):
            page.press(place)
            page.shown(".printplan-view").wait_for()
            assert violations(page.page, axe_source) == []
    finally:
        page.use_light_theme()


PIXELS = """() => {
  const canvas = document.querySelector(".printplan-loupe-stage canvas");
  const brush = canvas.getContext("2d");
  const at = Math.round(canvas.width * 0.75);
  const { data } = brush.getImageData(at, 40, 64, 64);
  return [...data].filter((_, i) => i % 4 < 3);
}"""
WHERE = """() => {
  const canvas = document.querySelector(".printplan-loupe-stage canvas");
  return [canvas.dataset.centre, canvas.width, canvas.height,
    Math.round(canvas.width * 0.75)];
}"""


def test_picture_words_and_file_are_of_the_same_state(day):
    """After a burst of keys: what is painted, what is said and what is in the file."""
    page, _, plan = day
    page.step("Sharpness")
    page.page.wait_for_function(SETTLED)
    handle = slider(page.page.locator(".printplan-steps"), "gain")
    handle.focus()
    for _ in range(12):
        page.page.keyboard.press("ArrowRight")
    line = page.shown(".printplan-line")
    eventually(line.inner_text, lambda told: "gain 1.40" in told)
    page.page.wait_for_function(SETTLED)
    page.page.wait_for_timeout(300)
    painted = np.array(page.page.evaluate(PIXELS), np.uint8).reshape(64, 64, 3)
    centre, width, height, at = page.page.evaluate(WHERE)
    across, down = map(float, centre.split())
    # The plan as the page left it beside the plan file, rendered by another process.
    wanted = eventually(
        lambda: list(plan.parent.glob(".*.unsaved-*.toml")), lambda found: found
    )[0]
    eventually(
        lambda: read_plan_file(wanted).spec.sharpen.gain,
        lambda gain: gain == pytest.approx(1.4),
    )
    copy = plan.parent / "as-shown.toml"
    shutil.copy(wanted, copy)
    sheet = open_plan(copy)
    with sheet.master:
        corner = np.floor([across - width / 2 + 1e-6, down - height / 2 + 1e-6]).astype(
            int
        )
        box = Box(int(corner[0]) + at, int(corner[1]) + 40, 64, 64)
        proof = sheet.proof_window(box, Appearance.PAPER_ALONE)
    np.testing.assert_array_equal(painted, proof)


# The height of the view in each frame, as long as a plan is said to be checked.
HEIGHTS = """() => {
  const canvas = [...document.querySelectorAll("canvas")].find(
    (it) => it.offsetParent && it.dataset.centre);
  const summary = [...document.querySelectorAll(".printplan-summary")].find(
    (it) => it.offsetParent);
  window.heights = [canvas.height];
  const look = () => {
    if (summary.innerText.includes("Checking")) window.heights.push(canvas.height);
    requestAnimationFrame(look);
  };
  look();
}"""


def test_picture_stays_where_it_is_while_a_plan_is_checked(day):
    """Words that come and go beside it may not make it another size."""
    page, *_ = day
    page.step("Sharpness")
    page.page.wait_for_function(SETTLED)
    summary = page.shown(".printplan-summary")
    eventually(summary.inner_text, lambda told: told and "Checking" not in told)
    page.page.evaluate(HEIGHTS)
    line = page.shown(".printplan-line")
    before = line.inner_text()
    slider(page.page.locator(".printplan-steps"), "gain").focus()
    page.page.keyboard.press("ArrowLeft")
    read = partial(page.page.evaluate, "() => window.heights")
    eventually(read, lambda heights: len(heights) > 1)
    eventually(summary.inner_text, lambda told: told and "Checking" not in told)
    heights = read()
    assert set(heights) == {heights[0]}
    page.page.keyboard.press("ArrowRight")
    eventually(line.inner_text, lambda told: told == before)


def test_undo_brings_back_the_line_and_redo_takes_it_away(day):
    page, *_ = day
    page.step("Size and place")
    line = page.shown(".printplan-line")
    before = line.inner_text()
    page.field("sheet").select_option(label="A2")
    changed = eventually(line.inner_text, lambda told: "on A2" in told)
    page.press("Undo")
    eventually(line.inner_text, lambda told: told == before)
    page.press("Redo")
    eventually(line.inner_text, lambda told: told == changed)
    page.press("Undo")
    eventually(line.inner_text, lambda told: told == before)


def test_mat_and_frame_lie_over_the_sheet_at_their_size(day):
    """A frame of so many millimetres is drawn so wide, by the sheet's own scale."""
    page, *_ = day
    page.step("Mount and edges")
    page.field("mount").select_option(label="mat")
    page.field("opening by").select_option(label="what it covers")
    page.field("frame").select_option(label="by its glass")
    mat, frame = page.shown("path.printplan-sheet-shaded"), "path.printplan-sheet-dark"
    page.shown(frame).first.wait_for()
    words = page.shown(".printplan-words").filter(has_text="Borders")
    told = words.inner_text()
    (width_mm,) = re.findall(r"glass ([\d.]+) ×", told)
    scale = float(page.shown("[data-px-per-mm]").get_attribute("data-px-per-mm"))
    for ring in (mat.first, page.shown(frame).first):
        drawn_px = ring.bounding_box()["width"]
        assert drawn_px == pytest.approx(float(width_mm) * scale, abs=1.5)
    for width in WIDTHS:
        require_room(page, width)
    page.page.set_viewport_size(DESK)
    page.field("mount").select_option(label="none")
    page.shown(frame).first.wait_for(state="detached")


def test_refused_size_makes_no_file_and_says_so(day):
    page, *_ = day
    page.step("Size and place")
    page.field("sheet").select_option(label="A4")
    foot = page.shown(".printplan-foot")
    eventually(foot.inner_text, lambda told: "takes" in told and "Choose" in told)
    assert page.button("Render the file").is_disabled()
    page.field("sheet").select_option(label="A3")
    eventually(page.button("Render the file").is_enabled, bool)


def test_choices_outlive_the_kernel(open_job):
    page, _, plan = open_job("restarted")
    page.wait_for_print()
    page.field("sheet").select_option(label="A2")
    line = page.shown(".printplan-line")
    eventually(line.inner_text, lambda told: "on A2" in told)
    eventually(lambda: list(plan.parent.glob(".*.unsaved-*.toml")), lambda found: found)
    page.page.evaluate(
        "() => jupyterapp.shell.currentWidget.sessionContext.restartKernel()"
    )
    notice = page.page.get_by_text("that were not saved are back")
    notice.first.wait_for()
    eventually(page.shown(".printplan-line").inner_text, lambda told: "on A2" in told)
    assert find_unsaved(plan) is None
    page.press("Undo")
    eventually(page.shown(".printplan-line").inner_text, lambda told: "on A3" in told)
    require_said_when_hung(page)
    page.close()


def require_said_when_hung(page):
    """A kernel that does not answer is told in the page, and when it does again."""
    process = int(page.execute("import os; print(os.getpid())"))
    os.kill(process, 19)  # stopped, as if it hung
    try:
        page.page.get_by_text("The kernel is busy").wait_for(timeout=20_000)
        page.page.get_by_text("No kernel answers").wait_for(timeout=30_000)
    finally:
        os.kill(process, 18)
    page.page.locator(".printplan-banner").wait_for(state="hidden", timeout=20_000)


def test_what_has_moved_is_asked_for(open_job):
    def move(folder):
        (folder / "elsewhere").mkdir()
        for name in ("masters/seed-heads.tif", "profiles/fen-cotton-310.icc"):
            path = folder / name
            path.rename(folder / "elsewhere" / path.name)

    page, folder, _ = open_job("moved", change=move)
    page.fill("master", str(folder / "elsewhere" / "seed-heads.tif"))
    page.press("Open the job with this master")
    page.fill("profile", str(folder / "elsewhere" / "fen-cotton-310.icc"))
    page.press("Write it into the paper book")
    page.wait_for_print()
    page.close()


def test_page_of_somebody_else_is_not_run(new_day_page, lab):
    """Only the page as this program wrote it runs by itself."""
    folder = lab.folder / "strange"
    folder.mkdir()
    page = new_day_page()
    notebook = json.loads(PAGE.read_text())
    code = next(it for it in notebook["cells"] if it["cell_type"] == "code")
    code["source"] = ["open('touched', 'w').close()"]
    (folder / "print.ipynb").write_text(json.dumps(notebook))
    page.open(Path("strange") / "print.ipynb")
    page.page.wait_for_timeout(3000)
    assert not (folder / "touched").exists()
    page.close()


# A trial sheet, and prints that were made.


TRIAL_PICTURE = ".printplan-trial img"
TRIAL_AREA = """(it) => {
  const box = it.getBoundingClientRect();
  const room = it.closest(".printplan-picture").getBoundingClientRect();
  const inside = box.left >= room.left - 1 && box.right <= room.right + 1 &&
    box.top >= room.top - 1 && box.bottom <= room.bottom + 1;
  return inside && it.naturalWidth > 0 && box.height > 0.6 * room.height;
}"""


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_trial_sheet_is_laid_out_in_the_place_of_the_picture(theme, day, axe_source):
    page, folder, _ = day
    if theme == "dark":
        page.use_dark_theme()
    try:
        page.page.set_viewport_size(DESK)
        page.step("Trial sheet")
        for part in ("read its scan", "pick a patch", "make a sheet"):
            page.press(part)
            for width in WIDTHS:
                require_room(page, width)
            assert violations(page.page, axe_source) == []
        page.page.set_viewport_size(DESK)
        page.press("Lay out the trial sheet")
        picture = page.shown(TRIAL_PICTURE).first
        picture.wait_for(timeout=60_000)
        eventually(lambda: picture.evaluate(TRIAL_AREA), bool)
        eventually(page.button("Render the trial sheet").is_enabled, bool)
        for width in WIDTHS:
            require_room(page, width)
        page.page.set_viewport_size(DESK)
        assert violations(page.page, axe_source) == []
    finally:
        page.use_light_theme()
    assert list(folder.rglob("*-trial.tif")) == []


def test_prints_are_made_again_and_compared_by_keyboard_alone(open_job, axe_source):
    """Two prints of the demo's job, lighter the second time."""

    def make_two(folder):
        plan = folder / "job" / "seed-heads-on-fen-cotton.toml"
        wish = read_plan_file(plan).resolved(plan)
        size = SizeSpec(rule=SizeRule.WIDTH, width_mm=120, ppi=150)
        for name, lighten_l in (("first", 0.0), ("second", 4.0)):
            colour = ColourSpec(lighten_l=lighten_l)
            one = with_spec(wish, size=size, colour=colour)
            write_sidecar_record(recorded(one, folder / "job" / name))

    page, folder, _ = open_job("prints", change=make_two, kind=ByKeyboard)
    page.wait_for_print()
    page.press("prints made")
    listed = page.page.get_by_role("listbox", name="prints, the newest first")
    listed.get_by_text("second.tif").wait_for()
    page.press("the file again")
    page.press("Make the same file again")
    page.page.get_by_text("Identical: the same file, byte for byte.").wait_for(
        timeout=60_000
    )
    again = [*(folder / "job").glob("*-again.tif")]
    assert len(again) == 1
    made = {digest(folder / "job" / f"{it}.tif") for it in ("first", "second")}
    assert digest(again[0]) in made
    page.press("compare")
    page.shown("td").get_by_text("4 L*").first.wait_for()
    page.press("its record")
    page.press("Write the decision sheet")
    page.shown("iframe").wait_for(timeout=60_000)
    page.press("how it came out")
    page.press("Add to the journal")
    listed.get_by_text(": good").wait_for()
    try:
        for theme in ("light", "dark"):
            if theme == "dark":
                page.use_dark_theme()
            for question in (
                "its record",
                "how it came out",
                "the file again",
                "compare",
                "its plan",
            ):
                page.press(question)
                for width in WIDTHS:
                    require_room(page, width)
                page.page.set_viewport_size(DESK)
                assert violations(page.page, axe_source) == []
    finally:
        page.use_light_theme()
    page.press("Write its plan as a new job")
    page.wait_for_print()
    assert len([*(folder / "job").glob("first*.toml")]) >= 1
    page.check()
    page.close()


# Papers and jobs, on the page that is open; these come last, as they change what it
# shows.


def test_profile_becomes_a_paper_that_was_corrected_by_hand(day, axe_source):
    page, folder, _ = day
    page.press("printers and papers")
    page.press("add a paper")
    page.fill("profile", "alder-satin-260.icc")  # in the studio's own folder
    page.press("Read this profile")
    page.page.get_by_text("Nothing speaks against this profile.").wait_for()
    for width in WIDTHS:
        require_room(page, width)
    page.page.set_viewport_size(DESK)
    assert violations(page.page, axe_source) == []
    page.select("surface", "matte")
    eventually(page.field("spread (µm)").input_value, lambda told: told == "47")
    page.fill("paper", "Own Matte")
    page.press("Add this paper to the book")
    eventually(
        lambda: [it.name for it in read_paper_book(folder / "paper-book.toml").papers],
        lambda names: names[-1] == "Own Matte",
    )


PAINTED = """(list) => [...list.querySelectorAll("img")].map(
  (it) => it.complete && it.naturalWidth > 20
)"""


def test_photograph_is_picked_by_keys_planned_and_opened(day, axe_source):
    page, folder, _ = day
    page.press("all jobs")
    listed = page.page.get_by_role("listbox", name="photographs and folders")
    eventually(lambda: listed.evaluate(PAINTED), lambda it: len(it) > 2 and all(it))
    listed.get_by_text("spring", exact=True).click()
    eventually(
        page.field("photograph").input_value, lambda it: it.endswith("/masters/spring/")
    )
    page.press("Parent folder")
    listed.get_by_text("cannot be read").wait_for()
    for width in WIDTHS:
        require_room(page, width)
    page.page.set_viewport_size(DESK)
    assert violations(page.page, axe_source) == []
    eventually(lambda: listed.evaluate(PAINTED), lambda it: len(it) > 2 and all(it))
    listed.locator('[tabindex="0"]').focus()
    page.page.keyboard.press("End")
    page.page.keyboard.press("Enter")
    chosen = listed.locator('[aria-selected="true"]').inner_text().strip()
    page.select("paper", "Curlew Matte 200")
    page.press("Plan this print")
    page.wait_for_print()
    line = page.shown(".printplan-line")
    eventually(line.inner_text, lambda told: "Curlew Matte 200" in told)
    stem = Path(chosen).stem
    assert list((folder / "jobs").glob(f"{stem}-on-curlew-matte-200*.toml"))
