"""The workbook as a page without code, for a class or a client."""

import shutil
from pathlib import Path

import pytest
from accessibility import OURS
from lab_server import voila
from notebook_page import drag, eventually, measured, slider

FIRST = Path(__file__).parents[2] / "notebooks" / "1-print-one-photograph.ipynb"
PAGE_MS = 240_000


@pytest.fixture(scope="module")
def page(tmp_path_factory, new_studio, chromium):
    folder = new_studio(tmp_path_factory.mktemp("voila") / "desk")
    shutil.copy(FIRST, folder)
    home = tmp_path_factory.mktemp("voila-home")
    with voila(home, folder) as server:
        page = chromium.new_page(viewport={"width": 1024, "height": 768})
        page.goto(f"{server.url}/voila/render/{FIRST.name}", timeout=PAGE_MS)
        page.get_by_role("button", name="Render the file").wait_for(timeout=PAGE_MS)
        yield page
        page.close()


def test_the_page_holds_every_panel_and_no_code(page):
    assert page.locator(OURS).count() >= 4
    assert page.get_by_text("import make_studio").count() == 0
    assert page.get_by_text("Traceback").count() == 0


def test_a_slider_changes_the_picture_there_too(page):
    panel = page.locator(".printplan-panel", has_text="lighten")
    picture = panel.locator(".printplan-stage img").first
    before = measured(picture)["mean"]
    drag(slider(panel, "lighten"), 0.4)
    eventually(lambda: measured(picture)["mean"], lambda it: it > before + 2)
