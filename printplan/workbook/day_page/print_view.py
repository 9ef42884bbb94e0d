"""How does one print stand on the page: its picture, its steps, what will come out?"""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

import ipywidgets as widgets

from printplan.errors import PrintPlanError
from printplan.pixels.sheet import varied
from printplan.record.reprint import compare_values
from printplan.shown_text import escape
from printplan.workbook.history import History
from printplan.workbook.loupe.loupe import Loupe
from printplan.workbook.loupe.sides import SIDES, Side
from printplan.workbook.panels.controls import plain_row, show_if, switch, text
from printplan.workbook.panels.finish import FinishPanel
from printplan.workbook.panels.master import MasterPanel
from printplan.workbook.panels.mount import MountPanel
from printplan.workbook.panels.proof import ProofPanel
from printplan.workbook.panels.sharpen import SharpenPanel
from printplan.workbook.panels.size import SizePanel
from printplan.workbook.panels.trial import TrialPanel
from printplan.workbook.pictures import problem_html
from printplan.workbook.record_words import differences_words
from printplan.workbook.unsaved import UnsavedChoices
from printplan.workbook.words import print_line

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.pixels.sheet import Sheet
    from printplan.workbook.bench import Bench, Change


class Looking(StrEnum):
    """What the picture shows."""

    SHEET = "sheet"
    """The whole sheet to scale, where picture and crop are moved by hand."""

    PIXELS = "pixels"
    """The print's own pixels, two states side by side."""

    TRIAL = "trial"
    """The trial sheet that is laid out, or the scan of one."""


_LOOKINGS = [
    ("the whole sheet", Looking.SHEET),
    ("print pixels", Looking.PIXELS),
    ("trial sheet", Looking.TRIAL),
]


class _Step(NamedTuple):
    """One step: its title, and what is looked at when it is opened."""

    title: str
    looking: Looking | None = None
    sides: tuple[str, str] | None = None


_STEPS = (
    _Step("Paper and printer", Looking.SHEET),
    _Step("Size and place", Looking.SHEET),
    _Step("Mount and edges", Looking.SHEET),
    _Step("Sharpness", Looking.PIXELS, ("before", "after")),
    _Step("Trial sheet", Looking.TRIAL),
    _Step("Colour", Looking.PIXELS, ("master", "after")),
    _Step("File and record"),
)


class PrintView:
    """
    One print: the picture large, the steps beside it, what will be printed below.

    Parameters
    ----------
    bench : Bench
        Whatever is shown follows it.

    Attributes
    ----------
    ui : ipywidgets.Widget
        What the page shows.
    tools : ipywidgets.Widget
        What to look at, and stepping back and forth: for the page's bar.
    history : History
    """

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        # First, so that its pixels are under way while panels find their words.
        self.loupe = Loupe(bench, sides=(*SIDES, self._saved_side()), slot="page loupe")
        self.unsaved = UnsavedChoices(bench)
        self.history = History(bench, on_change=self._show_steps_back)
        self.material = MasterPanel(bench, column_only=True)
        self.size = SizePanel(bench, column_only=True)
        self.mount = MountPanel(bench, column_only=True)
        self.sharpen = SharpenPanel(bench, column_only=True)
        self.trial = TrialPanel(bench, column_only=True)
        self.proof = ProofPanel(bench, column_only=True)
        self.finish = FinishPanel(bench, column_only=True)
        self.panels = (
            self.material,
            self.size,
            self.mount,
            self.sharpen,
            self.trial,
            self.proof,
            self.finish,
        )
        self.looking = switch("", _LOOKINGS)
        self.undo = widgets.Button(description="Undo", tooltip="Back one choice")
        self.redo = widgets.Button(description="Redo", tooltip="Forth one choice")
        self.compare = widgets.Button(
            description="Compare with the saved plan",
            tooltip="What differs from the plan file, in words and in the picture",
        )
        self.differences = text()
        self.notice = text("printplan-notice")
        self.line = text("printplan-line")
        self.steps = widgets.Accordion(
            [it.ui for it in self.panels],
            titles=[step.title for step in _STEPS],
            selected_index=1,
        )
        self._sheet_place = _filling(self.size.view)
        self._pixels_place = _filling(self.loupe)
        self._trial_place = _filling(self.trial.view)
        self._trial_place.add_class("printplan-trial")
        self.tools = widgets.HBox([self.looking, plain_row(self.undo, self.redo)])
        self.tools.add_class("printplan-tools")
        self.ui = self._laid_out()
        self.looking.observe(lambda _: self._show_looking(), names="value")
        self.steps.observe(self._step_opened, names="selected_index")
        self.undo.on_click(lambda _: self._do(self.history.undo))
        self.redo.on_click(lambda _: self._do(self.history.redo))
        self.compare.on_click(lambda _: self._do(self._compare))
        self._show_looking()
        self._show_steps_back()
        self._describe()
        bench.watch("page", self)

    def plan_changed(self, change: Change) -> None:
        """Say what will be printed now."""
        if change.refusal is None:
            self.differences.value = ""
            self._describe()

    def replaced(self) -> None:
        """Give way to a newer page on this bench."""

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until all that is shown belongs to the present plan.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        panels = all(panel.settle(timeout_s) for panel in self.panels)
        return panels and self.loupe.settle(timeout_s)

    def close(self) -> None:
        """Write what is not saved, and close the master."""
        self.unsaved.write()
        self.bench.close()

    def _laid_out(self) -> widgets.Widget:
        finish = self.finish
        picture = widgets.VBox(
            [self._sheet_place, self._pixels_place, self._trial_place]
        )
        picture.add_class("printplan-picture")
        column = widgets.VBox([self.steps, plain_row(self.compare), self.differences])
        column.add_class("printplan-steps")
        main = widgets.HBox([picture, column])
        main.add_class("printplan-main")
        words = widgets.VBox([self.notice, self.line, finish.summary, finish.message])
        words.add_class("printplan-foot-words")
        buttons = widgets.VBox([finish.make, finish.cancel, finish.progress])
        buttons.add_class("printplan-foot-acts")
        foot = widgets.HBox([words, buttons])
        foot.add_class("printplan-foot")
        ui = widgets.VBox([main, foot])
        ui.add_class("printplan-print")
        return ui

    def _saved_side(self) -> Side:
        """The plan as its file has it, at the size and place of now."""

        def as_saved(sheet: Sheet) -> Sheet:
            files = self.bench.files
            if files is None:
                return sheet
            saved = files.whole_wish.spec
            spec = sheet.plan.spec
            return varied(
                sheet, replace(spec, sharpen=saved.sharpen, colour=saved.colour)
            )

        return Side(
            name="as saved",
            words="sharpness and colour of the saved plan",
            of=as_saved,
            appearance=SIDES[1].appearance,
        )

    def _describe(self) -> None:
        self.line.value = escape(print_line(self.bench.sheet))

    def _show_looking(self) -> None:
        places = {
            Looking.SHEET: self._sheet_place,
            Looking.PIXELS: self._pixels_place,
            Looking.TRIAL: self._trial_place,
        }
        for looking, place in places.items():
            show_if(looking is self.looking.value, place)

    def _show_steps_back(self) -> None:
        self.undo.disabled = not self.history.can_undo
        self.redo.disabled = not self.history.can_redo

    def _step_opened(self, change: dict[str, int | None]) -> None:
        """Look at what the step is about."""
        if change["new"] is None:
            return
        step = _STEPS[change["new"]]
        if step.sides is not None:
            self.loupe.show_sides(*step.sides)
        if step.looking is not None:
            self.looking.value = step.looking

    def _compare(self) -> None:
        files = self.bench.files
        if files is None:
            return
        now = self.bench.spec
        rows = compare_values(files.whole_wish.spec, now, now.lengths_in)
        self.differences.value = (
            differences_words(rows, first="saved", second="now").html
            if rows
            else "<p>Nothing differs from the saved plan.</p>"
        )
        self.loupe.show_sides("as saved", "after")

    def _do(self, act: Callable[[], None]) -> None:
        try:
            act()
        except PrintPlanError as error:
            self.notice.value = problem_html(error)
        else:
            self.notice.value = ""


def _filling(view: widgets.Widget) -> widgets.Box:
    """A place that a view takes all of."""
    place = widgets.Box([view])
    place.add_class("printplan-fills")
    return place
