"""How are the prints of a table planned, looked at and made on the page?"""

from __future__ import annotations

from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.errors import PrintPlanError, SpecError
from printplan.record.run.carry_out import Run, RunResult, Stage
from printplan.record.run.contact_sheet import write_contact_sheet
from printplan.record.run.crew import own_crew
from printplan.record.run.glance import Glance, glance_at
from printplan.record.run.summary import write_summary
from printplan.record.studio_folder import BOOK_NAME
from printplan.shown_text import escape
from printplan.workbook.panels.book_panel import BookPanel
from printplan.workbook.panels.controls import plain_row, show_if, switch, text
from printplan.workbook.panels.file_chooser import FileChooser
from printplan.workbook.panels.making import Making
from printplan.workbook.panels.run_rows import (
    ShownRow,
    checked,
    glanced,
    rows_html,
    table_words_of,
    tiles_html,
    totals_html,
)
from printplan.workbook.pictures import problem_html, table_words

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

TABLE_ENDINGS = (".csv", ".tsv", ".txt")
_EXAMPLE = table_words(
    [
        ("heath.tif", "400 mm", "", "Fen Cotton 310", "2"),
        ("pier.tif", "", "24 in", "Alder Satin 260", "1"),
    ],
    head=("master", "width", "longest", "paper", "copies"),
    caption="Such as:",
).html
_HELP = f"""<p>A table has a row for each print. Its first row names the columns:
<b>master</b>, and of these as many as are wanted: <b>width, height, longest, paper,
printer, setup, sheet, feed, border, copies, distance, note</b>. A column <b>plan</b>
names plans in the place of masters. Save it from a spreadsheet as CSV in UTF-8.</p>
{_EXAMPLE}"""
_CANCELLED = "Cancelled. What was made stays; the next run makes what is missing."
_SHOW_S = 2.0
"""How often rows are shown anew while work goes on: pictures are long. Our choice."""


class RunPanel(BookPanel):
    """
    A table of prints: its rows, their proofs, and what makes them.

    Parameters
    ----------
    folder : str or Path
        The studio's.

    Attributes
    ----------
    ui : ipywidgets.VBox
        What a notebook shows.
    chooser : FileChooser
        For the table.
    """

    title: ClassVar[str] = "A table of prints"
    column_px: ClassVar[int] = 400

    def __init__(self, folder: str | Path) -> None:
        self.folder = Path(folder).absolute()
        super().__init__(self.folder / BOOK_NAME)
        self._run: Run | None = None
        self._rows: tuple[ShownRow, ...] = ()
        self._reading = self._worker(self._show_glances)
        self._making = Making(
            fail=self._fail,
            faults=partial(self._told_aside, self._fail),
            changed=self._allow,
        )
        self.cancel, self.progress = self._making.cancel, self._making.progress
        self.progress.layout = {"width": "auto", "margin": "4px"}
        self.chooser = FileChooser(
            "table",
            act="Read this table",
            endings=TABLE_ENDINGS,
            folder=self.folder,
            chosen=self.open_table,
        )
        self.words, self.totals, self.pages = text(), text(), text()
        self.shown, self.help = text(), text()
        self.help.value = _HELP
        self.form = switch("", [("contact sheet", True), ("rows", False)])
        self.form.tooltip = "Proofs beside each other, or a table"
        self.check = widgets.Button(
            description="Plan and check",
            tooltip="Plan the rows that have no plan yet, check all, show their proofs",
        )
        self.make = widgets.Button(
            description="Make what is missing",
            button_style="primary",
            tooltip="Plan and check, and make each file that is not there yet",
        )
        self.again = widgets.Button(
            description="Look again", tooltip="Read the table and its folder anew"
        )
        self.other = widgets.Button(
            description="Another table", tooltip="Choose another table"
        )
        for button, press in (
            (self.check, partial(self._begin, only_check=True)),
            (self.make, partial(self._begin, only_check=False)),
            (self.again, self.refresh),
            (self.other, self._close_table),
        ):
            button.on_click(self._guarded(press))
        self.form.observe(self._guarded(self._show_rows), names="value")
        self._acts = widgets.VBox(
            [
                plain_row(self.check),
                plain_row(self.make),
                plain_row(self.again, self.other),
            ]
        )
        self._lay_out(
            [
                self.words,
                self.chooser.ui,
                self._acts,
                self.progress,
                plain_row(self.cancel),
                self.message,
                self.status,
                self.totals,
                self.pages,
            ],
            beside=widgets.VBox([self.help, self.form, self.shown]),
        )
        self._allow()

    def refresh(self) -> None:
        """Read the table and its folder as they are now."""
        if self._making.is_busy:
            return
        if self._run is None:
            self.chooser.refresh()
        else:
            self.open_table(self._run.table)

    def open_table(self, path: str | Path) -> None:
        """
        Read a table, and show how far its rows are.

        Parameters
        ----------
        path : str or Path
            If it cannot be read, the panel says why.
        """
        table = Path(path).absolute()
        book = self.book_path

        def read() -> tuple[Run, tuple[Glance, ...]]:
            run = Run(table, book)
            return run, glance_at(run)

        self.message.value = ""
        self._reading.do(read)

    def settle(self, timeout_s: float = 120.0) -> bool:
        """
        Wait until nothing is being read or made.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return self._reading.settle(timeout_s) and self._making.settle(timeout_s)

    def _close_table(self) -> None:
        self._run, self._rows = None, ()
        for place in (self.words, self.totals, self.pages, self.shown):
            place.value = ""
        self._say("")
        self._allow()
        self.chooser.refresh()

    def _show_glances(self, found: tuple[Run, tuple[Glance, ...]]) -> None:
        self._run, glances = found
        self.words.value = table_words_of(
            self._run.table, len(self._run.rows), self._run.folder
        )
        self.totals.value = self.pages.value = ""
        self._show_rows([glanced(it) for it in glances])
        self._say("")
        self._allow()

    def _show_rows(self, rows: Sequence[ShownRow] | None = None) -> None:
        if rows is not None:
            self._rows = tuple(rows)
        in_tiles = bool(self.form.value)
        self.shown.value = tiles_html(self._rows) if in_tiles else rows_html(self._rows)

    def _allow(self) -> None:
        """Show what can be pressed now."""
        is_open, is_busy = self._run is not None, self._making.is_busy
        show_if(not is_open, self.chooser.ui, self.help)
        show_if(is_open, self._acts, self.form)
        show_if(self._making.is_making, self.progress, self.cancel)
        for button in (self.check, self.make, self.again, self.other):
            button.disabled = is_busy

    # Work aside

    def _begin(self, *, only_check: bool) -> None:
        if self._run is None:
            raise SpecError("No table is open.", remedy="Choose one, and read it.")
        # The table may have changed since it was read.
        run = Run(self._run.table, self.book_path)
        self._run = run
        self.pages.value = ""
        self._say("Starting the processes that do it.")
        job = partial(self._carry_out, run, only_check=only_check)
        self._making.make(job, self.status, cancelled=_CANCELLED)

    def _carry_out(self, run: Run, *, only_check: bool) -> None:
        """In a thread of its own; the processes compute, and the page stays alive."""
        report = self._reporter(run)

        def is_cancelled() -> bool:
            return self._making.is_cancelled

        try:
            with own_crew() as crew, run.alone():
                run.prepare(crew, report, is_cancelled)
                self._making.show_progress(0, 1)  # which ends it if it was cancelled
                if not only_check:
                    run.make(crew, report, is_cancelled)
                    self._making.show_progress(1, 1)
                result = run.result()
                moment = datetime.now(tz=UTC).astimezone()
                pages = [write_contact_sheet(result, moment), write_summary(result)]
        finally:
            self.page.do(partial(self._show_result, run.result()))
        told = [it.name for it in pages if it is not None]
        self.page.do(partial(self._show_pages, told, result))

    def _reporter(self, run: Run) -> Callable[[Stage, int, int], None]:
        """Show bar and words at each row, and the rows from time to time."""
        shown_s = monotonic()

        def report(stage: Stage, done: int, count: int) -> None:
            nonlocal shown_s
            self._making.show_progress(done, max(count, 1))
            words = f"{stage[:1].upper()}{stage[1:]}: {done} of {count}."
            self.page.do(partial(self._say, words))
            if done and monotonic() - shown_s > _SHOW_S:
                shown_s = monotonic()
                self.page.do(partial(self._show_result, run.result()))

        return report

    def _show_result(self, result: RunResult) -> None:
        if result.totals.files == 0 and not result.failed:
            return  # nothing was begun
        self.totals.value = totals_html(result)
        self._show_rows([checked(it) for it in result.rows])

    def _show_pages(self, names: Sequence[str], result: RunResult) -> None:
        failed = result.failed
        words = "" if not failed else f" {len(failed)} of {len(result.rows)} failed."
        self._say(f"Done.{words}")
        written = " and ".join(f"<b>{escape(it)}</b>" for it in names)
        self.pages.value = f"<p>Written into that folder: {written}.</p>"

    def _fail(self, error: PrintPlanError) -> None:
        self._say("")
        self.message.value = problem_html(error)
