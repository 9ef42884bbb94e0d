"""What speaks against this print, and how is its file made?"""

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
from printplan.workbook.panels.controls import CONTROL, choice, show_if
from printplan.workbook.panels.panel import Panel, problem_html
from printplan.workbook.panels.words import file_words, findings_words, rendered_words

if TYPE_CHECKING:
    from printplan.pixels.sheet import Sheet
    from printplan.spec import PrintSpec
    from printplan.workbook.bench import Bench, Change

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


class _Stopped(Exception):  # noqa: N818 - nothing is wrong, the user had enough
    """The user stops a file that is being made."""


class FinishPanel(Panel):
    """
    Findings, the kind of file, and making it.

    Parameters
    ----------
    bench : Bench
    """

    seat: ClassVar[str] = "finish"
    depends_on: ClassVar[frozenset[str]] = frozenset()
    column_px: ClassVar[int] = 440

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench)
        self._stop = Event()
        self._worker: Thread | None = None
        self._speaks_against = False
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
        self.stop = widgets.Button(description="Stop")
        self.progress = widgets.IntProgress(layout={"width": "auto"})
        self.result = widgets.HTML()
        self.result.add_class("printplan-words")
        self._on_wish(self.delivery, self.named_space, self.file_format, self.extent)
        self.all_the_same.observe(lambda _: self._allow(), names="value")
        self.make.on_click(lambda _: self._begin())
        self.stop.on_click(lambda _: self._stop.set())
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
                widgets.HBox([self.make, self.stop]),
                self.progress,
            ],
            beside=widgets.VBox(
                [self.findings, self.all_the_same, self.result],
                layout={"flex": "1 1 0", "min_width": "0", "padding": "0 0 0 16px"},
            ),
        )
        self._allow()

    def plan_changed(self, change: Change) -> None:
        """
        Show a new plan; while a wish is refused anywhere, no file is made.

        Parameters
        ----------
        change : Change
        """
        super().plan_changed(change)
        if change.refusal is not None:
            self._complain(change.refusal)
        self._allow()

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until no file is being made.

        Parameters
        ----------
        timeout_s : float, optional

        Returns
        -------
        bool
            Whether that was so in time.
        """
        worker = self._worker
        if worker is not None:
            worker.join(timeout_s)
        return worker is None or not worker.is_alive()

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
        delivery, findings = self.bench.spec.delivery, self.bench.findings
        self.delivery.value = delivery.colour
        if delivery.named_space is not None:
            self.named_space.value = delivery.named_space
        show_if(delivery.colour is Delivery.NAMED_SPACE, self.named_space)
        self.file_format.value = delivery.file_format
        self.extent.value = delivery.extent
        self._rename(_ENDINGS[delivery.file_format])
        self.words.value = escape(f"The file: {file_words(self.bench.sheet)}")
        self.findings.value = findings_words(findings).html
        self._speaks_against = any(it.level is Level.STOP for it in findings)
        self.all_the_same.value = False
        show_if(self._speaks_against, self.all_the_same)

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
        stopped = self._speaks_against and not self.all_the_same.value
        refused = self.bench.refusal is not None
        self.make.disabled = making or stopped or refused
        self.stop.disabled = not making
        show_if(making, self.stop, self.progress)

    def _begin(self) -> None:
        self._stop.clear()
        self.message.value = self.result.value = ""
        self.progress.value = 0
        path = self.bench.folder / self.name.value
        self._worker = Thread(
            target=self._make, args=(self.bench.sheet, path), name="printplan-render"
        )
        self._allow()
        self._worker.start()

    def _make(self, sheet: Sheet, path: Path) -> None:
        try:
            rendered = render(sheet, path, progress=self._told)
        except _Stopped:
            self.result.value = "Stopped. No file was left half made."
        except PrintPlanError as error:
            self.message.value = problem_html(error)
        else:
            self.result.value = rendered_words(rendered).html
            self._suggest()
        finally:
            self._worker = None
            self._allow()

    def _told(self, done_rows: int, all_rows: int) -> None:
        """Show how far the file is; end it if the user asked for that."""
        if self._stop.is_set():
            raise _Stopped
        self.progress.max = all_rows
        self.progress.value = done_rows
