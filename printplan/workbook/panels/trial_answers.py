"""What did a printed trial sheet teach about its paper?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.errors import PrintPlanError, RecordError, SpecError
from printplan.pixels.picture_content import picture_content
from printplan.pixels.sharpening import chosen_sharpening
from printplan.pixels.sharpening_spec import (
    usual_distance_mm,
    usual_restore,
    wished_limits,
)
from printplan.pixels.trials.scan import spread_in_scan
from printplan.pixels.trials.scan_file import read_scan
from printplan.record.margin_page import today
from printplan.record.paper_measurements import save_restore_pick, save_spread_reading
from printplan.record.scanner_response import read_response
from printplan.record.trial_key import trial_keys_in
from printplan.sharpening.calibration import restore_on, spread_on
from printplan.shown_text import escape
from printplan.spec import NamedSpace
from printplan.workbook.figures.sharpness import scan_picture
from printplan.workbook.panels.controls import (
    CONTROL,
    LengthSlider,
    acts,
    choice,
    line,
    offer,
    show_if,
    text,
)
from printplan.workbook.panels.file_chooser import FileChooser
from printplan.workbook.panels.master import MASTER_ENDINGS
from printplan.workbook.panels.panel import Panel

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date
    from pathlib import Path

    from printplan.media import Paper, PaperOnPrinter
    from printplan.pixels.trials.scan import ScanReading
    from printplan.pixels.trials.steps import TrialKey
    from printplan.plan import PrintPlan
    from printplan.record.trial_key import SavedTrialKey
    from printplan.spec import SharpenSpec
    from printplan.workbook.bench import Bench
    from printplan.workbook.pictures import Picture


class Answer(StrEnum):
    """What a printed trial sheet is asked."""

    SCAN = "scan"
    PICK = "pick"


_SPACES = [
    ("as its own profile says", ""),
    *[(str(space), str(space)) for space in NamedSpace],
]
_BY_FILE = "by-file"
_SCANNERS = [
    ("response not known", ""),
    ("that of a file, chosen below", _BY_FILE),
]


@dataclass(frozen=True, slots=True)
class _Read:
    """A scan that was read for one of the trial sheets."""

    key_path: Path
    reading: ScanReading
    picture: Picture


class TrialAnswersPanel(Panel):
    """
    The scan of a printed trial sheet, and the pick of its best patch.

    Parameters
    ----------
    bench : Bench
        The trial sheets whose keys lie beside its finished files can be chosen; what
        they teach goes into its paper book.
    on_shown : callable, optional
        Told when another sheet is chosen, and when the picture of a scan is there or
        gone.

    Attributes
    ----------
    trial : ipywidgets.Dropdown
        Which sheet, by the path of its key.
    picture : ipywidgets.Image
        The scan; shown by the panel that holds this one.
    """

    slot: ClassVar[str] = "trial answers"
    depends_on: ClassVar[frozenset[str]] = frozenset()
    column_px: ClassVar[int] = 400
    title: ClassVar[str] = "Scan and pick of a trial sheet"

    def __init__(
        self, bench: Bench, on_shown: Callable[[], None] = lambda: None
    ) -> None:
        super().__init__(bench, column_only=True)
        self._on_shown = on_shown
        self._keys: dict[Path, SavedTrialKey] = {}
        self._read: _Read | None = None
        self._response: Path | None = None
        self._reading = self._worker(self._show_read, self._show_unread)
        self._choosing = self._worker(self._take_choice)
        self.trial = choice("trial sheet", [])
        self.trial.tooltip = "Made before, by the keys that lie beside the plan"
        self.again = widgets.Button(
            description="Look again", tooltip="Read the folder of the plan anew"
        )
        folder = bench.folder
        self.scan = FileChooser(
            "scan",
            act="Read this scan",
            endings=MASTER_ENDINGS,
            folder=folder,
            chosen=lambda path: self._guarded(lambda: self._begin(path))(),
        )
        self.scan_ppi = line("scanned at (ppi)", placeholder="as its file says")
        self.scan_ppi.tooltip = "Resolution that the scanner was set to"
        self.space = choice("its colours are", _SPACES)
        self.space.tooltip = "Space that the scanner was set to"
        self.scanner = choice("scanner", _SCANNERS)
        self.scanner.tooltip = (
            "What it makes of a sharp edge, such as a blade's; not known, its blur "
            "counts as the paper's"
        )
        self.response = FileChooser(
            "its response",
            act="Use this response",
            endings=(".csv",),
            folder=folder,
            chosen=self._use_response,
        )
        self.none, self.said = text(), text()
        self.left_out = widgets.Checkbox(
            description="some edges were left out: write it all the same",
            indent=False,
            tooltip="They are known to be damaged, and the others are enough",
        )
        self.patch = choice("best patch", [])
        self.patch.tooltip = "The one you would hang, seen from its distance"
        self.distance = LengthSlider(
            "looked at from", 150.0, 3000.0, step_mm=10.0, digits=0
        )
        self.distance.ui.tooltip = "From eye to sheet when the patch was picked"
        plan = bench.plan
        self.distance.show_length(
            plan.spec.sharpen.distance_mm or usual_distance_mm(plan),
            plan.spec.lengths_in,
        )
        self.day = widgets.DatePicker(
            description="day", value=today(), tooltip="Of the scan or pick", **CONTROL
        )
        self.note = line("note")
        self.note.tooltip = "What should be known of it in the paper book"
        self.write_reading, self.write_pick = (
            widgets.Button(
                description="Write into the paper book",
                button_style="primary",
                tooltip=tip,
            )
            for tip in (
                "Keep this spread with paper and printer",
                "Keep this pick with paper and printer",
            )
        )
        self.written = text()
        self._scan_part = widgets.VBox(
            [
                self.scan.ui,
                self.scan_ppi,
                self.space,
                self.scanner,
                self.response.ui,
                self.said,
                self.left_out,
            ]
        )
        self._pick_part = widgets.VBox([self.patch, self.distance.ui])
        self.picture = widgets.Image(format="jpeg")
        self.answer = Answer.SCAN
        self.trial.observe(self._guarded(self._show_trial), names="value")
        self.scanner.observe(self._guarded(self._show_choosers), names="value")
        self.again.on_click(self._guarded(self.find))
        self.write_reading.on_click(self._guarded(self._write_reading))
        self.write_pick.on_click(self._guarded(self._write_pick))
        self._open(
            [
                self.none,
                self.trial,
                acts(self.again),
                self._scan_part,
                self._pick_part,
                self.day,
                self.note,
                acts(self.write_reading, self.write_pick),
                self.written,
            ]
        )
        self._guarded(self.find)()
        self.show(self.answer)

    def find(self, chosen: Path | None = None) -> None:
        """
        List the trial sheets whose keys lie beside the plan now.

        Parameters
        ----------
        chosen : Path, optional
            The key of the one to choose; the present one stays if not given.
        """
        keys, problems = trial_keys_in(self.bench.folder)
        self._keys = dict(keys)
        wanted = chosen if chosen in self._keys else self.trial.value
        offer(self.trial, [(_listed(it, key), it) for it, key in keys], wanted)
        self._show_trial()
        for chooser in (self.scan, self.response):
            chooser.refresh()
        for problem in problems:
            self._show_problem(problem)

    @property
    def key(self) -> TrialKey | None:
        """What the patches of the chosen sheet are; None if there is no sheet."""
        saved = self._keys.get(self.trial.value)
        return None if saved is None else saved.key

    def show(self, answer: Answer) -> None:
        """Show the controls of one of the two questions."""
        self.answer = answer
        is_scan = answer is Answer.SCAN
        show_if(is_scan, self._scan_part, self.write_reading)
        show_if(not is_scan, self._pick_part, self.write_pick)
        self.written.value = ""
        self._clear_error()
        self._show_choosers()
        self._allow()

    def _sync(self) -> None:
        plan = self.bench.plan
        self.distance.show_length(self.distance.value_mm, plan.spec.lengths_in)
        known = restore_on(plan.setup)
        told = [spread_on(plan.paper, plan.setup).words]
        if known is not None:
            told.append(
                f"Picked so far: restore {known.value:.2f} ± {known.spread:.2f}, by "
                f"{known.count} {'pick' if known.count == 1 else 'picks'}."
            )
        self.words.value = (
            f"<p>Known of {escape(plan.paper.name)} on {escape(plan.printer.name)}: "
            f"{escape(' '.join(told))}</p>"
        )

    def _show_choosers(self) -> None:
        show_if(self.scanner.value == _BY_FILE, self.response.ui)

    def _show_trial(self) -> None:
        """Offer the patches of the sheet; a reading of another one goes."""
        key = self._keys.get(self.trial.value)
        if self._read is not None and self._read.key_path != self.trial.value:
            self._forget()
        patches = [] if key is None else key.key.patches
        offer(
            self.patch,
            [(f"{it.name}: {it.label}", it.name) for it in patches],
            self.patch.value,
        )
        self.none.value = (
            ""
            if self._keys
            else "<p>No trial sheet lies beside this plan yet: make one first.</p>"
        )
        show_if(bool(self._keys), self.trial)
        self._allow()
        self._on_shown()

    def _allow(self) -> None:
        """Enable and show what makes sense now."""
        read, is_scan = self._read, self.answer is Answer.SCAN
        self.write_reading.disabled = read is None
        self.write_pick.disabled = self.patch.value is None
        damaged = read is not None and bool(read.reading.fit.unfit_reason)
        show_if(is_scan and damaged, self.left_out)

    def _chosen(self) -> tuple[Path, SavedTrialKey]:
        path: Path | None = self.trial.value
        if path is None or path not in self._keys:
            raise RecordError(
                f"No key of a trial sheet lies in {self.bench.folder}.",
                remedy="Render a trial sheet first: its key is written beside it.",
            )
        return path, self._keys[path]

    # The scan

    def _use_response(self, path: Path) -> None:
        self._response = path
        self.said.value = f"<p>The scanner's response is {escape(path.name)}.</p>"

    def _forget(self) -> None:
        self._read = None
        self.said.value, self.picture.value = "", b""
        self.left_out.value = False
        self._allow()
        self._on_shown()

    def _begin(self, path: Path) -> None:
        """Read a scan as the controls say."""
        key_path, saved = self._chosen()
        self._clear_error()
        self._forget()
        squares = saved.key.squares
        if squares is None:
            raise SpecError(
                f"{key_path.stem} has no slanted squares, so a scan tells nothing.",
                remedy='Make a sheet with squares among its "targets".',
            )
        scan_ppi = _ppi(self.scan_ppi.value)
        space, response = self.space.value, None
        if self.scanner.value == _BY_FILE:
            response = self._response
            if response is None:
                raise SpecError(
                    "The scanner's response is not chosen.",
                    remedy='Choose its file at "its response", or say at "scanner" '
                    "that it is not known.",
                )
        self.said.value = f'<p role="status">Reading {escape(path.name)} …</p>'

        def compute() -> _Read:
            sfr = None if response is None else read_response(response)
            scan = read_scan(path, scan_ppi=scan_ppi, assume_profile=space)
            reading = spread_in_scan(scan, squares, scanner_sfr=sfr)
            return _Read(key_path, reading, scan_picture(scan))

        self._reading.do(compute)

    def _show_read(self, read: _Read) -> None:
        if read.key_path != self.trial.value:
            return
        self._read = read
        self.said.value = f'<p role="status">{escape(read.reading.words)}</p>'
        self.picture.value = read.picture.jpeg
        self.accessibility.describe(self.picture, read.picture.description)
        self._allow()
        self._on_shown()

    def _show_unread(self, error: PrintPlanError) -> None:
        self.said.value = ""
        self._show_problem(error)

    def _write_reading(self) -> None:
        key_path, saved = self._chosen()
        read = self._read
        if read is None or read.key_path != key_path:
            raise SpecError(
                "No scan of this trial sheet is read.",
                remedy='Choose its file at "scan" first.',
            )
        paper = save_spread_reading(
            self._book(),
            *self._pair(saved),
            read.reading.fit,
            on=self._day(),
            scan_ppi=read.reading.scan_ppi,
            note=self.note.value.strip(),
            edges_left_out=self.left_out.value,
        )
        self._written(paper, saved, spread_on(paper, self._setup(saved)).words)

    # The pick

    def _write_pick(self) -> None:
        _, saved = self._chosen()
        paper = save_restore_pick(
            self._book(),
            *self._pair(saved),
            saved.key.restore_trial(self.patch.value or ""),
            on=self._day(),
            distance_mm=self.distance.value_mm,
            note=self.note.value.strip(),
        )
        known = restore_on(self._setup(saved))
        told = "" if known is None else f"Restore {known.value:.2f} is wanted now."
        self._written(paper, saved, told)

    def _book(self) -> Path:
        files = self.bench.files
        if files is None:
            raise RecordError(
                "This bench was not opened from a plan file, so it has no paper book.",
                remedy="Open a plan file: its paper book is written into.",
            )
        return files.book_path

    def _pair(self, saved: SavedTrialKey) -> tuple[str, str]:
        """Paper and printer of a sheet, as the book calls them today."""
        book = self.bench.book
        return book.paper(saved.paper).name, book.printer(saved.printer).name

    def _setup(self, saved: SavedTrialKey) -> PaperOnPrinter:
        """What the book now holds of the sheet's paper on its printer."""
        book = self.bench.book
        return book.paper(saved.paper).on(book.printer(saved.printer))

    def _day(self) -> date:
        day: date = self.day.value or today()
        if day > today():
            raise SpecError(
                f"The day is {day:%d %B %Y}, which is still to come.",
                remedy='Set "day" to when it was measured or picked.',
            )
        return day

    # What changes by it

    def _written(self, paper: Paper, saved: SavedTrialKey, told: str) -> None:
        """Lay the paper on the bench as the book knows it now, and choose anew."""
        self._clear_error()
        bench, book = self.bench, self._book()
        words = f"Written into {book.name}. {told}"
        self._say(words)
        here = (bench.paper.name, bench.printer.name)
        if here != self._pair(saved):
            self._say(f"{words} The print on the bench is on another paper.")
            return
        before, is_pick = bench.plan.spec.sharpen, self.answer is Answer.PICK
        self._do(lambda: bench.change_paper(paper.name, setup=bench.spec.setup))
        if before.restore is None or before.distance_mm is None:
            self._say(f"{words} The sharpening was set by hand and stays.")
            return
        sheet, restore = bench.sheet, before.restore
        if is_pick:
            restore = usual_restore(bench.plan)

        def compute() -> tuple[PrintPlan, SharpenSpec, SharpenSpec, str]:
            advice = chosen_sharpening(
                sheet.plan,
                picture_content(sheet),
                distance_mm=before.distance_mm or usual_distance_mm(sheet.plan),
                restore=restore,
                limits=wished_limits(before),
            )
            return sheet.plan, before, advice.spec, words

        self._choosing.do(compute)

    def _take_choice(
        self, chosen: tuple[PrintPlan, SharpenSpec, SharpenSpec, str]
    ) -> None:
        """Ask for the sharpening that paper and pick want now, if nothing else was."""
        plan, before, wanted, words = chosen
        bench = self.bench
        now = bench.plan
        if replace(now.spec, sharpen=wanted) != replace(plan.spec, sharpen=wanted):
            return
        self._do(lambda: bench.change(sharpen=wanted))
        self._say(
            f"{words} The sharpening was chosen anew: gain {wanted.gain:.2f}, "
            f"{wanted.blur_words}; before, gain {before.gain:.2f}, "
            f"{before.blur_words}."
        )

    def _say(self, words: str) -> None:
        self.written.value = f'<p role="status">{escape(words)}</p>'


def _listed(path: Path, saved: SavedTrialKey) -> str:
    day = "" if saved.on is None else f"{saved.on:%Y-%m-%d}, "
    return f"{day}{saved.paper}, {saved.printer}: {path.stem}"


def _ppi(typed: str) -> float | None:
    """Resolution as it was typed; None for that of the file."""
    if not typed.strip():
        return None
    try:
        return float(typed)
    except ValueError as error:
        raise SpecError(
            f"{typed!r} is no resolution.",
            remedy='Type pixels per inch at "scanned at", such as 1200, or nothing.',
        ) from error
