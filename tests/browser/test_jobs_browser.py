"""A job is begun from a photograph by keys alone, seen at every width, by everybody."""

import shutil

import pytest
from accessibility import OURS, violations
from notebook_page import eventually
from test_paper_forms_browser import SIDEWAYS

CELLS = [
    """\
from printplan.workbook.panels.jobs import JobsPanel
opened = []
jobs = JobsPanel(".", opened.append)
jobs.ui""",
]
PAINTED = """(list) => [...list.querySelectorAll("img")].map(
  (it) => it.complete && it.naturalWidth > 20
)"""


@pytest.fixture(scope="module")
def desk(new_desk):
    desk = new_desk("jobs")
    shutil.copytree(desk / "masters", desk / "masters" / "spring")
    (desk / "masters" / "broken.jpg").write_bytes(b"\xff\xd8\xff\xe0 no more")
    return desk


@pytest.fixture(scope="module")
def page(desk, open_cells):
    return open_cells(desk, CELLS)


@pytest.fixture(scope="module")
def planned(page):
    """The panel after a photograph was picked and planned without the mouse."""
    panel = page.output(0)
    keys = page.page.keyboard
    photographs = panel.get_by_role("listbox", name="photographs and folders")
    eventually(
        lambda: photographs.evaluate(PAINTED), lambda it: len(it) > 2 and all(it)
    )
    photographs.locator('[tabindex="0"]').focus()
    keys.press("End")
    keys.press("Enter")
    button = panel.get_by_role("button", name="Plan this print")
    eventually(button.is_enabled, bool)
    button.focus()
    keys.press("Enter")
    panel.get_by_text("Chosen for this print:").wait_for()
    return panel


def test_a_picked_photograph_is_planned_opened_and_listed(page, planned):
    (chosen,) = planned.locator(
        '.printplan-pictures-tiles [aria-selected="true"]'
    ).all_inner_texts()
    name = chosen.strip().removesuffix(".tif")
    eventually(lambda: page.execute("print(len(opened))"), lambda it: it == "1")
    assert page.execute("print(opened[0].name)").startswith(f"{name}-on-")
    listed = planned.get_by_role("listbox", name="jobs, the newest first")
    first = listed.locator('[aria-selected="true"]')
    eventually(first.inner_text, lambda it: it.startswith(f"{name}-on-"))
    eventually(lambda: listed.evaluate(PAINTED), lambda it: len(it) > 2 and all(it))


def test_a_folder_is_gone_into_by_its_tile(planned):
    photographs = planned.get_by_role("listbox", name="photographs and folders")
    photographs.get_by_text("spring", exact=True).click()
    eventually(
        lambda: planned.get_by_label("photograph", exact=True).input_value(),
        lambda it: it.endswith("/masters/spring/"),
    )
    planned.get_by_role("button", name="Parent folder").click()
    photographs.get_by_text("cannot be read").wait_for()


@pytest.mark.parametrize("width", [900, 1440, 2400])
@pytest.mark.usefixtures("planned")
def test_nothing_is_wider_than_the_page(width, page):
    page.page.set_viewport_size({"width": width, "height": 900})
    eventually(lambda: page.page.evaluate(SIDEWAYS, OURS), lambda found: found == [])


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.usefixtures("planned")
def test_jobs_break_no_serious_rule(theme, page, axe_source):
    if theme == "dark":
        page.use_dark_theme()
    try:
        assert violations(page.page, axe_source) == []
    finally:
        page.use_light_theme()
