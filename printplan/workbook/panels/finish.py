"""How is the file made, and the plan kept?"""

from __future__ import annotations

from dataclasses import replace
from html import escape
from pathlib import Path
from threading import Event, Thread
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.checks import Level
from printplan.errors import PrintPlanError
from printplan.pixels.render import render
from printplan.spec import Delivery, Extent, FileFormat, NamedSpace
from printplan.workbook.bench import free_path
from printplan.workbook.panels.check import check_of
from printplan.workbook.panels.controls import CONTROL, acts, choice, show_if
from printplan.workbook.panels.newest import Newest
from printplan.workbook.panels.panel import Panel, problem_html
from printplan.workbook.panels.words import file_words, findings_words, rendered_words

if TYPE_CHECKING:
    from printplan.checks import Finding
    from printplan.pixels.sheet import Sheet
    from printplan.spec import PrintSpec
    from printplan.workbook.bench import Bench
    from printplan.workbook.watchers import Change

_DELIVERIES = [
    ("printer colour, converted", Delivery.PRINTER_COLOUR),
    ("working colour, not converted", Delivery.WORKING_COLOUR),
    ("a named space", Delivery.NAMED_SPACE),
]
_FORMATS = [
    ("TIFF, 16 bits", FileFormat.TIFF_16),
    ("TIFF, 8 bits", FileFormat.TIFF_8),
    ("PDF page, exact size", FileFormat.PDF),
    ("JPEG", FileFormat.JPEG),
]
_ENDINGS = {
    FileFormat.TIFF_16: ".tif",
    FileFormat.TIFF_8: ".tif",
    FileFormat.PDF: ".pdf",
    FileFormat.JPEG: ".jpg",
}
_EXTENTS = [
    ("the whole sheet", Extent.SHEET),
    ("the picture and its border", Extent.PICTURE),
]


_Checked = tuple["Sheet", "list[Finding]"]


class _Cancelled(Exception):  # noqa: N818 - nothing is wrong, the user had enough
    """The user cancels a file that is being made."""


class FinishPanel(Panel):
    """
    The kind of file, making it, and keeping the plan.

    Parameters
    ----------
    bench : Bench
    """

    seat: ClassVar[str] = "finish"
    depends_on: ClassVar[frozenset[str]] = frozenset()
    column_px: ClassVar[int] = 440
    title: ClassVar[str] = "Make the file and keep the plan"

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench)
        self._cancelled = Event()
        self._worker: Thread | None = None
        self._speaks_against: bool | None = None
        self._checking: Newest[_Checked] = Newest(
            self._weigh, self._complain, bench.holding
        )
        self.delivery = choice("colour", _DELIVERIES)
        self.named_space = choice("space", [(it, it) for it in NamedSpace])
        self.file_format = choice("format", _FORMATS)
        self.extent = choice("covers", _EXTENTS)
        self.findings = widgets.HTML()
        self.findings.add_class("printplan-words")
        self.all_the_same = widgets.Checkbox(
            description="Make the file all the same", indent=False
        )
        self.name = widgets.Text(
            description="file name", continuous_update=False, **CONTROL
        )
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
        self._on_wish(self.delivery, self.named_space, self.file_format, self.extent)
        self.all_the_same.observe(self._guarded(self._allow), names="value")
        self.make.on_click(self._guarded(self._begin))
        self.cancel.on_click(self._guarded(self._cancelled.set))
        self.keep.on_click(self._guarded(self._keep))
        self._ending = _ENDINGS[bench.spec.delivery.file_format]
        self._wanted = f"{bench.stem}{self._ending}"
        self._suggest()
        self.name.observe(lambda change: self._want(change["new"]), names="value")
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
                [self.findings, self.all_the_same, self.result],
                layout={"min_width": "0", "padding": "0 0 0 16px"},
            ),
        )
        self._check()

    def plan_changed(self, change: Change) -> None:
        """
        Show a new plan; while a wish is refused anywhere, no file is made.

        Parameters
        ----------
        change : Change
        """
        super().plan_changed(change)
        if change.refusal is None:
            self._check()
        else:
            self._complain(change.refusal)
            self._allow()

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until the findings are those of the plan and no file is being made.

        Parameters
        ----------
        timeout_s : float, optional

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
        self._rename(_ENDINGS[delivery.file_format])
        self.words.value = escape(f"The file: {file_words(self.bench.sheet)}")
        self.kept.value = ""
        show_if(files is not None, self.plan_name, self.keep)

    def _check(self) -> None:
        """Weigh the findings of a new plan; until then no file is made."""
        self._speaks_against = None
        self.all_the_same.value = False
        self._allow()
        sheet = self.bench.sheet
        findings = check_of(sheet)
        self._checking.do(self._with_faults_shown(lambda: (sheet, findings())))

    def _weigh(self, checked: _Checked) -> None:
        sheet, findings = checked
        if sheet is not self.bench.sheet:
            return
        self._speaks_against = any(it.level is Level.STOP for it in findings)
        self.findings.value = findings_words(findings).html
        self._allow()

    def _rename(self, ending: str) -> None:
        """Give the file another ending when its format changes."""
        if ending != self._ending:
            self._ending = ending
            self._wanted = str(Path(self._wanted).with_suffix(ending))
            self._suggest()

    def _suggest(self) -> None:
        """Show the name that is wanted, or the next of it that is free."""
        self._suggested = free_path(self.bench.folder / self._wanted).name
        self.name.value = self._suggested

    def _want(self, name: str) -> None:
        """Take the name that the user typed."""
        if name != self._suggested:
            self._wanted = name

    def _allow(self) -> None:
        """Let a file be made, or stopped, if that makes sense now."""
        making = self._worker is not None
        against = self._speaks_against
        stopped = against is None or (against and not self.all_the_same.value)
        refused = self.bench.refusal is not None
        self.make.disabled = making or stopped or refused
        self.keep.disabled = refused
        self.cancel.disabled = not making
        show_if(making, self.cancel, self.progress)
        show_if(bool(against), self.all_the_same)

    def _begin(self) -> None:
        self._cancelled.clear()
        self.message.value = self.result.value = ""
        self.progress.value = 0
        try:
            self.bench.keep_choices()
        except PrintPlanError as error:  # no reason not to print
            self.message.value = problem_html(error)
        path = self.bench.folder / self.name.value
        self._worker = Thread(
            target=self._make, args=(self.bench.hold(), path), name="printplan-render"
        )
        self._allow()
        self._worker.start()

    def _make(self, sheet: Sheet, path: Path) -> None:
        try:
            with self._faults_shown():
                self._render(sheet, path)
        except PrintPlanError as error:
            self.message.value = problem_html(error)
        finally:
            self.bench.release(sheet)
            self._worker = None
            self._allow()

    def _render(self, sheet: Sheet, path: Path) -> None:
        try:
            rendered = render(sheet, path, progress=self._told)
        except _Cancelled:
            self.result.value = "<p>Cancelled. No file was left half made.</p>"
        else:
            self.result.value = rendered_words(rendered).html
            self._suggest()

    def _keep(self) -> None:
        """Write the plan over its own file, or into a new one of the name given."""
        self.kept.value = self.message.value = ""
        files, name = self.bench.files, self.plan_name.value.strip()
        if files is None or name in {"", files.plan_path.name}:
            kept = self.bench.keep()
        else:
            kept = self.bench.keep_as(name)
            self._wanted = f"{self.bench.stem}{self._ending}"
            self._suggest()
        self.plan_name.value = kept.name
        self.kept.value = f"<p>Kept in {escape(str(kept))}.</p>"

    def _told(self, done_rows: int, all_rows: int) -> None:
        """Show how far the file is; end it if the user asked for that."""
        if self._cancelled.is_set():
            raise _Cancelled
        self.progress.max = all_rows
        self.progress.value = done_rows
