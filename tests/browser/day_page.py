"""What a person does on the page for the day's work, and how much of it."""

import shutil
from pathlib import Path
from urllib.parse import quote

from accessibility import Keyboard
from notebook_page import RUN_S, NotebookPage, eventually

PAGE = Path(__file__).parents[2] / "notebooks" / "print.ipynb"

MOST_STOPS = 200
FOLDS = ".printplan-steps > .widget-accordion .jupyter-widget-Collapse-header"

SETTLED = """() => {
  const canvas = document.querySelector(".printplan-loupe-stage canvas");
  return Boolean(canvas) && canvas.offsetParent !== null &&
    canvas.dataset.asked === canvas.dataset.answered;
}"""


class DayPage(NotebookPage):
    """The page in JupyterLab, and a count of what was chosen on it."""

    def __init__(self, page, server):
        super().__init__(page, server)
        self.choices = 0

    def open_in(self, folder):
        """Put the page into a folder of the server's, and open it as a person does."""
        folder.mkdir(parents=True, exist_ok=True)
        shutil.copy(PAGE, folder / PAGE.name)
        path = (folder / PAGE.name).relative_to(self.server.folder)
        # Without what was open there before.
        address = self.server.address(f"lab/tree/{quote(path.as_posix())}")
        self.page.goto(f"{address}&reset")
        self.page.locator(".printplan-page").wait_for(timeout=RUN_S * 1e3)
        return self

    def shown(self, selector):
        return self.page.locator(selector).locator("visible=true")

    def button(self, name):
        return (
            self.page.get_by_role("button", name=name, exact=True)
            .locator("visible=true")
            .first
        )

    def field(self, label):
        return self.page.get_by_label(label, exact=True).locator("visible=true").first

    def press(self, name):
        """One click on a button."""
        self.choices += 1
        self.button(name).click()

    def fill(self, label, words):
        """One field typed: counted as one choice, however long the name is."""
        self.choices += 1
        field = self.field(label)
        field.fill(words)
        field.press("Tab")

    def select(self, label, option):
        self.choices += 1
        self.field(label).select_option(label=option)

    def step(self, title):
        """Unfold one of the steps beside the picture, if it is not unfolded."""
        self.choices += 1
        header = self.shown(FOLDS).filter(has_text=title)
        if header.get_attribute("aria-expanded") != "true":
            header.click()

    def wait_for_print(self):
        self.shown(".printplan-foot").wait_for(timeout=RUN_S * 1e3)

    def wait_for_file(self, folder):
        """The finished file, its record and both pages of its decision sheet."""
        endings = (".tif", ".record.toml", ".decision.html", ".decision.pdf")

        def made():
            files = [it for it in folder.iterdir() if it.is_file()]
            return {
                ending: it
                for ending in endings
                for it in files
                if it.name.endswith(ending) and not it.name.startswith(".")
            }

        return eventually(made, lambda found: set(found) == set(endings), within_s=120)


class ByKeyboard(DayPage):
    """The same page under the hands of somebody who has no pointer."""

    def __init__(self, page, server):
        super().__init__(page, server)
        self.keyboard = Keyboard(page)

    def reach(self, name, role=None):
        """Tab to what a screen reader calls so."""
        met = []
        for _ in range(MOST_STOPS):
            stop = self.keyboard.stop()
            if stop.name == name and role in {None, stop.role}:
                return stop
            met.append(stop.name)
            self.keyboard.tab()
        raise AssertionError(f"Tab does not reach {name!r}: {met}")

    def press(self, name):
        self.choices += 1
        self.button(name).wait_for()
        eventually(self.button(name).is_enabled, bool)
        self.reach(name, "button")
        self.page.keyboard.press("Enter")

    def fill(self, label, words):
        self.choices += 1
        self.field(label).wait_for()
        self.reach(label)
        self.page.keyboard.press("ControlOrMeta+a")
        self.page.keyboard.type(words)
        self.page.keyboard.press("Tab")

    def select(self, label, option):
        self.choices += 1
        self.field(label).wait_for()
        self.reach(label)
        self.page.keyboard.type(option)
        self.page.keyboard.press("Tab")
