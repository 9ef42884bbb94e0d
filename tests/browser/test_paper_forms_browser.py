"""A profile becomes a paper by hand in a browser, at every width, for everybody."""

import pytest
from accessibility import OURS, violations
from notebook_page import eventually

CELLS = [
    """\
from printplan.workbook.panels.add_paper import AddPaperPanel
form = AddPaperPanel("paper-book.toml")
form.ui""",
    """\
from printplan.workbook.panels.paper_list import PaperList
papers = PaperList("paper-book.toml")
papers.ui""",
]
FORM, PAPERS = range(2)
# Wider than what holds it, or cut off by it.
SIDEWAYS = """(roots) => [...document.querySelectorAll(roots)].flatMap(
  (root) => [root, ...root.querySelectorAll("*")]
).filter((it) => it.scrollWidth > it.clientWidth + 1 && it.clientWidth > 0 &&
  !it.matches("select, input, option") &&
  getComputedStyle(it).overflowX !== "visible" &&
  getComputedStyle(it).display !== "inline"
).map((it) => `${it.className}: ${it.scrollWidth} in ${it.clientWidth}`)"""


@pytest.fixture(scope="module")
def page(new_desk, open_cells):
    return open_cells(new_desk("paper-forms"), CELLS)


@pytest.fixture(scope="module")
def read(page):
    """The panel after a profile was typed and read."""
    panel = page.output(FORM)
    path = panel.get_by_label("profile", exact=True)
    # The chooser begins in the studio's own folder of profiles.
    path.fill("alder-satin-260.icc")
    path.press("Tab")
    panel.get_by_role("button", name="Read this profile").click()
    panel.get_by_text("Nothing speaks against this profile.").wait_for()
    return panel


@pytest.mark.parametrize("width", [900, 1440, 2400])
@pytest.mark.usefixtures("read")
def test_nothing_is_wider_than_the_page(width, page):
    page.page.set_viewport_size({"width": width, "height": 900})
    eventually(lambda: page.page.evaluate(SIDEWAYS, OURS), lambda found: found == [])


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.usefixtures("read")
def test_forms_break_no_serious_rule(theme, page, axe_source):
    if theme == "dark":
        page.use_dark_theme()
    try:
        assert violations(page.page, axe_source) == []
    finally:
        page.use_light_theme()


def test_typing_a_surface_moves_what_follows(page, read):
    read.get_by_label("surface", exact=True).select_option("matte")
    eventually(
        lambda: read.get_by_label("spread (µm)", exact=True).input_value(),
        lambda spread: spread == "47",
    )
    name = read.get_by_label("paper", exact=True)
    name.fill("Own Matte")
    name.press("Enter")
    read.get_by_role("button", name="Add this paper to the book").click()
    read.get_by_text('"Own Matte" is in the book.').wait_for()
    assert page.execute("papers.refresh(); print(len(papers.paper.options))") == "6"
