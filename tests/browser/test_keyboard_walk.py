"""Somebody without a pointer gets from the notebook's beginning to a finished file."""

import shutil
from pathlib import Path

import pytest
import tifffile
from accessibility import Keyboard
from notebook_page import TO_START, eventually
from playwright.sync_api import expect

FIRST = Path(__file__).parents[2] / "notebooks" / "1-print-one-photograph.ipynb"
MOST_STOPS = 300
FILE_MS = 180_000


@pytest.fixture
def desk(new_desk):
    return new_desk("keyboard")


@pytest.fixture
def notebook(desk, lab, new_page):
    shutil.copy(FIRST, desk)
    opened = new_page().open((desk / FIRST.name).relative_to(lab.folder)).run_all()
    yield opened
    opened.page.context.close()


def tab_to(keyboard, role, name):
    """Press Tab until the keyboard is at something."""
    for _ in range(MOST_STOPS):
        stop = keyboard.tab()
        if (stop.role, stop.name) == (role, name):
            return
    pytest.fail(f"Tab does not lead to the {role} {name!r}.")


def test_keys_alone_lead_from_the_beginning_to_a_finished_file(notebook, desk):
    page, keyboard = notebook.page, Keyboard(notebook.page)
    page.evaluate(TO_START)
    before = set(desk.rglob("*.tif"))
    width_mm = float(notebook.execute("print(bench.spec.size.width_mm)"))
    tab_to(keyboard, "slider", "width")
    for _ in range(4):
        page.keyboard.press("ArrowLeft")
    # A step of the slider is half a millimetre.
    eventually(
        lambda: float(notebook.execute("print(bench.spec.size.width_mm)")),
        lambda it: it == pytest.approx(width_mm - 2.0),
    )
    # The findings are weighed anew; somebody waits until they are there.
    make = page.get_by_role("button", name="Render the file")
    notebook.execute("assert bench._watchers['finish'].settle()")
    expect(make).to_be_enabled(timeout=FILE_MS)
    tab_to(keyboard, "button", "Render the file")
    page.keyboard.press("Enter")
    panels = page.locator(".printplan-panel")
    panels.get_by_text("SHA-256", exact=True).wait_for(timeout=FILE_MS)
    notebook.check()
    (made,) = set(desk.rglob("*.tif")) - before
    with tifffile.TiffFile(made) as file:
        pixels = file.pages[0]
    # The sheet is A3 on its side at 300 ppi (ISO 216: 420 × 297 mm).
    assert pixels.shape == (3508, 4961, 3)
    assert pixels.dtype == "uint16"
