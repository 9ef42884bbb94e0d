"""How is a finished file named and remembered?"""

from __future__ import annotations

from datetime import datetime
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

import ipywidgets as widgets

from printplan.pixels.free_name import free_path
from printplan.record.record import make_record
from printplan.record.record_file import save_actions
from printplan.record.sidecar import write_sidecar_record, write_sidecar_sheets
from printplan.workbook.panels.check import LINE, ActionsTaken
from printplan.workbook.panels.controls import CONTROL, plain_row, show_if

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from printplan.checks import Finding
    from printplan.pixels.render import Rendered
    from printplan.pixels.sheet import Sheet
    from printplan.record.plan_file import PlanFile


class FreeName:
    """
    A name to type, or the next one that is free.

    Parameters
    ----------
    folder : callable
        Gives the folder that the file goes to.
    stem, ending : str
        What is wanted at first.
    """

    def __init__(self, folder: Callable[[], Path], stem: str, ending: str) -> None:
        self._folder = folder
        self._ending = ending
        self.ui = widgets.Text(
            description="file name", continuous_update=False, **CONTROL
        )
        self.want(stem)
        self.ui.observe(lambda change: self._on_typed(change["new"]), names="value")

    @property
    def path(self) -> Path:
        """Where the file goes."""
        return self._folder().joinpath(self.ui.value)

    def want(self, stem: str) -> None:
        """
        Ask for a name.

        Parameters
        ----------
        stem : str
            Without its ending.
        """
        self._wanted = f"{stem}{self._ending}"
        self.suggest()

    def suggest(self) -> None:
        """Show the name that is wanted, or the next of it that is free."""
        self._suggested = free_path(self._folder() / self._wanted).name
        self.ui.value = self._suggested

    def end(self, ending: str) -> None:
        """
        Give the file another ending; one that was typed stays while this is the same.

        Parameters
        ----------
        ending : str
            With its dot.
        """
        if ending != self._ending:
            self._ending = ending
            self.want(Path(self._wanted).stem)

    def _on_typed(self, name: str) -> None:
        if name != self._suggested:
            self._wanted = name


class Recording:
    """
    The record of the file that was made last, the answers in it, and its pages.

    Parameters
    ----------
    changed : callable
        Called when something was typed.

    Attributes
    ----------
    note : ipywidgets.Text
        About the next file to be made.
    keep, sheet : ipywidgets.Button
        Write changed answers into the record; write its decision sheet.
    asked, done : ipywidgets.VBox
        What to show before a file is made, and what to show of it.
    """

    def __init__(self, changed: Callable[[], None]) -> None:
        self.answers = ActionsTaken(changed)
        self.note = widgets.Text(
            description="about this print", continuous_update=False, **LINE
        )
        self.keep = widgets.Button(description="Keep the answers in the record")
        self.sheet = widgets.Button(description="Write the decision sheet")
        self._told = widgets.HTML()
        self._told.add_class("printplan-words")
        self.asked = widgets.VBox([self.answers.ui, self.note])
        self.done = widgets.VBox([plain_row(self.sheet, self.keep), self._told])
        self._path: Path | None = None
        self._kept: dict[str, str] = {}
        self.allow(is_working=False)

    @property
    def is_behind(self) -> bool:
        """Whether an answer was changed since the record was written."""
        given = self.answers.given(self._kept)
        return any(self._kept[about] != answer for about, answer in given.items())

    def allow(self, *, is_working: bool) -> None:
        """
        Let be done what makes sense now.

        Parameters
        ----------
        is_working : bool
            Whether a file is being made, or its pages.
        """
        self.keep.disabled = self.sheet.disabled = is_working
        show_if(self._path is not None, self.done)
        show_if(self.is_behind, self.keep)

    def write(
        self,
        sheet: Sheet,
        findings: Sequence[Finding],
        rendered: Rendered,
        wish: PlanFile | None,
    ) -> None:
        """
        Write the record of a file beside it.

        Parameters
        ----------
        wish : PlanFile or None
            As `make_record` takes them.

        Raises
        ------
        RecordError
            If it cannot be recorded. There is nothing to write pages of then.
        """
        self._path, self._kept = None, {}
        self._told.value = ""
        record = make_record(
            sheet,
            findings,
            rendered,
            made_on=datetime.now().astimezone(),
            wish=wish,
            actions=self.answers.given({finding.topic for finding in findings}),
            note=self.note.value.strip(),
        )
        self._path = write_sidecar_record(record)
        self._kept = {it.finding.topic: it.done for it in record.findings}
        self._tell(f"Its record is {self._path.name}, in the same folder.")

    def write_answers(self) -> None:
        """
        Write changed answers into the record.

        Raises
        ------
        PrintPlanError
            If they cannot be written.
        """
        if self._path is None or not self.is_behind:
            return
        answers = self.answers.given(self._kept)
        save_actions(self._path, answers)
        self._kept |= answers
        self._tell(f"The answers are kept in {self._path.name}.")

    def write_sheets(self, currency: str) -> None:
        """
        Write the decision sheet beside the record, which gets the answers first.

        Parameters
        ----------
        currency : str
            Of the paper book.

        Raises
        ------
        PrintPlanError
            If it cannot be written.
        """
        if self._path is None:
            return
        self.write_answers()
        try:
            pages = write_sidecar_sheets(self._path, currency=currency, told=self._tell)
        except BaseException:
            self._told.value = ""
            raise
        names = " and ".join(page.name for page in pages)
        self._tell(f"The decision sheet is {names}, beside {self._path.name}.")

    def _tell(self, words: str) -> None:
        self._told.value = f'<p role="status">{escape(words)}</p>'
