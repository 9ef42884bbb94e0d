"""How is the file made and remembered, and the plan kept?"""

from __future__ import annotations

from dataclasses import replace
from html import escape
from threading import Event, Thread
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.checks import Level
from printplan.errors import PrintPlanError
from printplan.pixels.render import render
from printplan.spec import Delivery, NamedSpace
from printplan.workbook.panels.check import check_of
from printplan.workbook.panels.controls import CONTROL, acts, choice, show_if
from printplan.workbook.panels.file_chooser import (
    DELIVERIES,
    ENDINGS,
    EXTENTS,
    FORMATS,
)
from printplan.workbook.panels.latest_only import LatestOnly
from printplan.workbook.panels.panel import Panel, problem_html
from printplan.workbook.panels.recording import FreeName, Recording
from printplan.workbook.panels.words import file_words, findings_words, rendered_words

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from printplan.checks import Finding
    from printplan.pixels.sheet import Sheet
    from printplan.record.plan_file import PlanFile
    from printplan.spec import PrintSpec
    from printplan.workbook.bench import Bench
    from printplan.workbook.watchers import Change

_Checked = tuple["Sheet", "list[Finding]"]


class _Cancelled(Exception):  # noqa: N818 - nothing is wrong, the user had enough
    """The user cancels a file that is being made."""


class FinishPanel(Panel):
    """The kind of file, making and recording it, and keeping the plan."""

    seat: ClassVar[str] = "finish"
    depends_on: ClassVar[frozenset[str]] = frozenset()
    column_px: ClassVar[int] = 440
    title: ClassVar[str] = "Make the file and keep the plan"

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench)
        self._cancelled = Event()
        self._worker: Thread | None = None
        self._is_making = False
        self._found: list[Finding] | None = None
        self._checking: LatestOnly[_Checked] = LatestOnly(
            self._weigh, self._complain, bench.holding
        )
        self.delivery = choice("colour", DELIVERIES)
        self.named_space = choice("space", [(it, it) for it in NamedSpace])
        self.file_format = choice("format", FORMATS)
        self.extent = choice("covers", EXTENTS)
        self.findings = widgets.HTML()
        self.findings.add_class("printplan-words")
        self.all_the_same = widgets.Checkbox(
            description="Make the file all the same", indent=False
        )
        ending = ENDINGS[bench.spec.delivery.file_format]
        self._name = FreeName(lambda: bench.folder, bench.stem, ending)
        self.name = self._name.ui
        self.make = widgets.Button(description="Make the file", button_style="primary")
        self.cancel = widgets.Button(description="Cancel")
        self.progress = widgets.IntProgress(
            layout={"width": "auto", "margin": "2px 4px 6px 120px"}
        )
        self.plan_name = widgets.Text(
            description="plan file", continuous_update=False, **CONTROL
        )
        if bench.files is not None:
            self.plan_name.value = bench.files.plan_path.name
        self.keep = widgets.Button(description="Keep this plan")
        self.kept = widgets.HTML()
        self.kept.add_class("printplan-words")
        self.result = widgets.HTML()
        self.result.add_class("printplan-words")
        self.recording = Recording(self._allow)
        self._on_wish(self.delivery, self.named_space, self.file_format, self.extent)
        self.all_the_same.observe(self._guarded(self._allow), names="value")
        self.make.on_click(self._guarded(self._begin))
        self.cancel.on_click(self._guarded(self._cancelled.set))
        self.keep.on_click(self._guarded(self._keep))
        self.recording.keep.on_click(self._guarded(self._begin_actions))
        self.recording.sheet.on_click(self._guarded(self._begin_sheets))
        self._open(
            [
                self.delivery,
                self.named_space,
                self.file_format,
                self.extent,
                self.name,
                acts(self.make, self.cancel),
                self.progress,
                self.plan_name,
                acts(self.keep),
                self.kept,
            ],
            beside=widgets.VBox(
                [
                    self.findings,
                    self.recording.asked,
                    self.all_the_same,
                    self.result,
                    self.recording.done,
                ],
                layout={"min_width": "0", "padding": "0 0 0 16px"},
            ),
        )
        self._check()

    def plan_changed(self, change: Change) -> None:
        """Show a new plan; while a wish is refused anywhere, no file is made."""
        super().plan_changed(change)
        if change.refusal is None:
            self._check()
        else:
            self._complain(change.refusal)
            self._allow()

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until the findings are those of the plan and nothing is being made.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        is_weighed = self._checking.settle(timeout_s)
        worker = self._worker
        if worker is not None:
            worker.join(timeout_s)
        return is_weighed and (worker is None or not worker.is_alive())

    def _wish(self) -> PrintSpec:
        named = self.delivery.value is Delivery.NAMED_SPACE
        delivery = replace(
            self.bench.spec.delivery,
            colour=self.delivery.value,
            named_space=self.named_space.value if named else None,
            file_format=self.file_format.value,
            extent=self.extent.value,
        )
        return replace(self.bench.spec, delivery=delivery)

    def _sync(self) -> None:
        delivery, files = self.bench.spec.delivery, self.bench.files
        self.delivery.value = delivery.colour
        if delivery.named_space is not None:
            self.named_space.value = delivery.named_space
        show_if(delivery.colour is Delivery.NAMED_SPACE, self.named_space)
        self.file_format.value = delivery.file_format
        self.extent.value = delivery.extent
        self._name.end(ENDINGS[delivery.file_format])
        self.words.value = escape(f"The file: {file_words(self.bench.sheet)}")
        self.kept.value = ""
        show_if(files is not None, self.plan_name, self.keep)

    def _check(self) -> None:
        """Weigh the findings of a new plan; until then no file is made."""
        self._found = None
        self.all_the_same.value = False
        self._allow()
        sheet = self.bench.sheet
        findings = check_of(sheet)
        self._checking.do(self._with_faults_shown(lambda: (sheet, findings())))

    def _weigh(self, checked: _Checked) -> None:
        sheet, findings = checked
        if sheet is not self.bench.sheet:
            return
        self._found = findings
        self.findings.value = findings_words(findings).html
        self.recording.answers.show(findings)
        self._allow()

    def _allow(self) -> None:
        """Let a file be made, or stopped, if that makes sense now."""
        working, found = self._worker is not None, self._found
        against = found is not None and any(it.level is Level.STOP for it in found)
        stopped = found is None or (against and not self.all_the_same.value)
        refused = self.bench.refusal is not None
        self.make.disabled = working or stopped or refused
        self.keep.disabled = refused
        self.cancel.disabled = not self._is_making
        show_if(self._is_making, self.cancel, self.progress)
        show_if(against, self.all_the_same)
        self.recording.allow(is_working=working)

    def _begin(self) -> None:
        self._cancelled.clear()
        self.message.value = self.result.value = ""
        self.progress.value = 0
        try:
            self.bench.write_paper_defaults()
        except PrintPlanError as error:  # no reason not to print
            self.message.value = problem_html(error)
        path, wish, found = self._name.path, self._planned(), self._found
        sheet = self.bench.hold()

        def make() -> None:
            try:
                self._render(sheet, path, found, wish)
            finally:
                self.bench.release(sheet)

        self._is_making = True
        self._work(make)

    def _begin_actions(self) -> None:
        self.message.value = ""
        self._work(self.recording.write_answers)

    def _begin_sheets(self) -> None:
        self.message.value = ""
        self._work(self._write_sheets)

    def _work(self, job: Callable[[], None]) -> None:
        """Do something that takes long aside; what goes wrong in it is shown."""

        def work() -> None:
            try:
                with self._faults_shown():
                    job()
            except PrintPlanError as error:
                self.message.value = problem_html(error)
            finally:
                self._worker, self._is_making = None, False
                self._allow()

        self._worker = Thread(target=work, name="printplan-finish")
        self._allow()
        self._worker.start()

    def _planned(self) -> PlanFile | None:
        """The plan file's words on this print, with the master as it lies here."""
        files = self.bench.files
        if files is None:
            return None
        return replace(files.whole_wish, master=self.bench.master_spec)

    def _render(
        self,
        sheet: Sheet,
        path: Path,
        found: list[Finding] | None,
        wish: PlanFile | None,
    ) -> None:
        try:
            rendered = render(sheet, path, progress=self._told)
        except _Cancelled:
            self.result.value = "<p>Cancelled. No file was left half made.</p>"
        else:
            unit = sheet.plan.spec.lengths_in
            self.result.value = rendered_words(rendered, unit).html
            self._name.suggest()
            findings = check_of(sheet)() if found is None else found
            self.recording.write(sheet, findings, rendered, wish)

    def _write_sheets(self) -> None:
        bench = self.bench
        currency = bench.book.currency if bench.files is not None else None
        self.recording.write_sheets(currency or "")

    def _keep(self) -> None:
        """Write the plan over its own file, or into a new one of the name given."""
        self.kept.value = self.message.value = ""
        files, name = self.bench.files, self.plan_name.value.strip()
        if files is None or name in {"", files.plan_path.name}:
            kept = self.bench.keep()
        else:
            kept = self.bench.keep_as(name)
            self._name.want(self.bench.stem)
        self.plan_name.value = kept.name
        self.kept.value = f"<p>Kept in {escape(str(kept))}.</p>"

    def _told(self, done_rows: int, all_rows: int) -> None:
        """Show how far the file is; end it if the user asked for that."""
        if self._cancelled.is_set():
            raise _Cancelled
        self.progress.max = all_rows
        self.progress.value = done_rows
