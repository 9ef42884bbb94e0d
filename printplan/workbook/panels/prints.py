"""Which prints were made, and what can be done with one of them now?"""

from __future__ import annotations

from enum import StrEnum
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.errors import PrintPlanError, RecordError, Setting, SpecError
from printplan.foreign_file import is_regular, read_foreign
from printplan.record.duplicate_job import plan_of_record
from printplan.record.print_list import MadePrint, PrintList, list_prints
from printplan.record.record_file import read_record
from printplan.record.reprint import compare_records, reprint, reprint_path
from printplan.record.sidecar import sidecar_sheets, write_sidecar_sheets
from printplan.shown_text import escape
from printplan.units import length_words
from printplan.workbook.bench import Bench
from printplan.workbook.figures.decision import framed_page
from printplan.workbook.panels.book_panel import BookPanel
from printplan.workbook.panels.certificate import CertificateForm
from printplan.workbook.panels.controls import (
    choice,
    offer,
    plain_row,
    show_if,
    switch,
    text,
)
from printplan.workbook.panels.file_chooser import FileChooser
from printplan.workbook.panels.journal import JournalPanel, book_of
from printplan.workbook.panels.making import Making
from printplan.workbook.panels.master import MASTER_ENDINGS
from printplan.workbook.panels.picture_list import PictureList
from printplan.workbook.pictures import problem_html, table_words
from printplan.workbook.record_words import (
    differences_words,
    moment_words,
    outcome_words,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.record.record import PrintRecord
    from printplan.workbook.bench import Change


class Question(StrEnum):
    """What is asked of a print."""

    RECORD = "record"
    OUTCOME = "outcome"
    AGAIN = "again"
    COMPARE = "compare"
    PLAN = "plan"


_QUESTIONS = [
    ("its record", Question.RECORD),
    ("how it came out", Question.OUTCOME),
    ("the file again", Question.AGAIN),
    ("compare", Question.COMPARE),
    ("its plan", Question.PLAN),
]
_TIPS = [
    "What was decided, and the decision sheet",
    "Note it in the journal",
    "Make the same file once more, byte for byte",
    "In what two prints differ",
    "Plan a new print from what was asked for this one",
]


_LARGEST_PAGE = 50_000_000
"""Bytes of a decision sheet that is shown. Our choice."""


class PrintsPanel(BookPanel):
    """
    The prints that were made, with their records.

    Parameters
    ----------
    prints : Bench or str or Path
        Those beside a bench's finished files, or those of the studio in a folder.
    journal : str or Path, optional
        As for `JournalPanel`.
    on_open : callable, optional
        Takes a plan that was written from a record; a bench opens it itself.

    Attributes
    ----------
    prints : PictureList
        By the paths of their records.
    question : ipywidgets.ToggleButtons
        What is asked of the chosen one.
    journal : JournalPanel
        Notes how it came out.
    certificate : CertificateForm
        Of a print that bears a number of an edition.
    """

    title: ClassVar[str] = "Prints that were made"
    column_px: ClassVar[int] = 360

    def __init__(
        self,
        prints: Bench | str | Path,
        *,
        journal: str | Path | None = None,
        on_open: Callable[[Path], None] | None = None,
    ) -> None:
        super().__init__(book_of(prints))
        self._bench = prints if isinstance(prints, Bench) else None
        self._folder = None if isinstance(prints, Bench) else Path(prints).absolute()
        self._on_open = on_open
        self._prints: dict[str, MadePrint] = {}
        self._listing = self._worker(self._show_prints)
        self._working = self._worker(self._show_done, self._show_undone)
        self._is_working = False
        self._making = Making(
            fail=self._fail_reprint,
            faults=partial(self._told_aside, self._fail),
            changed=self._allow,
        )
        self.cancel, self.progress = self._making.cancel, self._making.progress
        self.prints = PictureList(
            "prints, the newest first", form="lines", picked=self._pick
        )
        self.again = widgets.Button(
            description="Look again", tooltip="Read records and journal anew"
        )
        self.problems, self.none = text(), text()
        self.question = switch("", _QUESTIONS)
        self.question.tooltip = "What is asked of the chosen print"
        self.question.tooltips = _TIPS
        self.words = text()
        self.write_sheets = widgets.Button(
            description="Write the decision sheet",
            tooltip="As HTML and PDF beside the record; it takes some seconds",
        )
        self.sheet = widgets.HTML()
        self.journal = JournalPanel(
            prints, journal=journal, on_written=self._guarded(self.refresh)
        )
        self.certificate = CertificateForm(self.book_path, self.journal.path)
        self.make = widgets.Button(
            description="Make the same file again",
            button_style="primary",
            tooltip="Under a free name beside the record; told whether it is identical",
        )
        self.master = FileChooser(
            "master",
            act="Make it again with this master",
            endings=MASTER_ENDINGS,
            folder=self.book_path.parent,
            chosen=lambda path: self._guarded(partial(self._begin, path))(),
        )
        self.made = text()
        self.other = choice("compare with", [])
        self.other.tooltip = "The other of the two prints"
        self.differences = text()
        self.plan = widgets.Button(
            description="Write its plan as a new job",
            tooltip="Beside the record under a free name; then it is opened",
        )
        self.planned = text()
        self._parts = self._laid_out()
        show_if(False, self.master.ui)
        self.prints.observe(self._guarded(self._show_chosen), names="value")
        self.question.observe(self._guarded(self._ask), names="value")
        self.other.observe(self._guarded(self._compare), names="value")
        for button, press in (
            (self.again, self.refresh),
            (self.write_sheets, self._write_sheets),
            (self.make, self._begin),
            (self.plan, self._plan),
        ):
            button.on_click(self._guarded(press))
        shown = widgets.VBox(
            [
                self.question,
                self.none,
                self.message,
                self.status,
                *self._parts.values(),
            ],
            layout={"min_width": "0"},
        )
        self._lay_out([self.prints, plain_row(self.again), self.problems], beside=shown)
        self._show_part()
        if self._bench is not None:
            self._bench.watch("prints", self)
        self._guarded(self.refresh)()

    def _laid_out(self) -> dict[Question, widgets.VBox]:
        """The parts of the page, of which one is shown."""
        again = [plain_row(self.make, self.cancel), self.progress, self.master.ui]
        parts = {
            Question.RECORD: [self.words, plain_row(self.write_sheets), self.sheet],
            Question.OUTCOME: [self.journal.ui, self.certificate.ui],
            Question.AGAIN: [*again, self.made],
            Question.COMPARE: [self.other, self.differences],
            Question.PLAN: [plain_row(self.plan), self.planned],
        }
        layout = {"min_width": "0"}
        return {key: widgets.VBox(it, layout=layout) for key, it in parts.items()}

    def refresh(self) -> None:
        """Show the prints whose records lie there now."""
        folder, journal = self.folder, self.journal.path
        self._listing.do(lambda: list_prints(folder, journal))

    @property
    def folder(self) -> Path:
        """Where the records lie."""
        if self._folder is not None:
            return self._folder
        if self._bench is None:
            raise SpecError("There is no folder.", remedy="Give a bench or a folder.")
        return self._bench.folder

    @property
    def chosen(self) -> MadePrint | None:
        """The print that is chosen in the list."""
        return self._prints.get(self.prints.value)

    def settle(self, timeout_s: float = 120.0) -> bool:
        """
        Wait until nothing is being read, made or written.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        journal, certificate = self.journal, self.certificate
        parts = (self._making, self._working, journal, self._listing, journal)
        return all(it.settle(timeout_s) for it in (*parts, certificate))

    def plan_changed(self, change: Change) -> None:
        """Show the prints beside another plan of the bench."""
        if change.refusal is None and self._listed_folder != self.folder:
            self._guarded(self.refresh)()

    def replaced(self) -> None:
        """Give way to a newer panel of this kind."""
        self.ui.children = [widgets.HTML("This panel was opened again elsewhere.")]

    # The list

    _listed_folder: Path | None = None

    def _show_prints(self, listed: PrintList) -> None:
        before = self.prints.value
        self._listed_folder = self.folder
        self._prints = {str(it.record_path): it for it in listed.prints}
        with self._quietly():
            self.prints.show(
                [
                    (key, it.file_path.name, _line(it))
                    for key, it in self._prints.items()
                ],
                {key: it.photograph for key, it in self._prints.items()},
            )
            if before in self._prints:
                self.prints.value = before
            elif self._prints:
                self.prints.value = next(iter(self._prints))
        self.problems.value = "".join(problem_html(it) for it in listed.problems)
        self.none.value = (
            ""
            if self._prints
            else "<p>No print was made here yet: each leaves its record.</p>"
        )
        show_if(bool(self._prints), self.question)
        same = self.prints.value == before != ""
        self._guarded(self._tell_record if same else self._show_chosen)()
        self._offer_certificate()

    def _offer_certificate(self) -> None:
        chosen = self.chosen
        self.certificate.choose(None if chosen is None else chosen.record_path)

    def _pick(self, key: str) -> None:
        if key in self._prints:
            self.prints.value = key

    def _show_chosen(self) -> None:
        """Show another print: what was said of the one before goes."""
        chosen = self.chosen
        self.made.value = self.planned.value = ""
        self._say("")
        show_if(False, self.master.ui)
        others = [
            (f"{it.file_path.name}, {moment_words(it.made_at)}", key)
            for key, it in self._prints.items()
            if key != self.prints.value
        ]
        with self._quietly():
            offer(self.other, others, self.other.value)
        self.journal.choose(None if chosen is None else chosen.record_path)
        self._offer_certificate()
        self._show_part()

    def _ask(self) -> None:
        """Ask something else: what was said before goes."""
        if not self._is_working:
            self._say("")
        self._show_part()

    def _show_part(self) -> None:
        has_print = self.chosen is not None
        for question, part in self._parts.items():
            show_if(has_print and question is self.question.value, part)
        self._allow()
        if not has_print:
            return
        try:
            self._tell_record()
            if self.question.value is Question.COMPARE:
                self._compare()
        except PrintPlanError as error:
            self._fail(error)

    def _allow(self) -> None:
        """Enable and show what makes sense now."""
        busy = self._making.is_busy or self._is_working
        for button in (self.make, self.write_sheets, self.plan, self.master.go):
            button.disabled = busy
        self.cancel.disabled = not self._making.is_making
        show_if(self._making.is_making, self.cancel, self.progress)

    # The record and its decision sheet

    def _tell_record(self) -> None:
        chosen = self.chosen
        if chosen is None or self.question.value is not Question.RECORD:
            return
        record = read_record(chosen.record_path)
        pages = sidecar_sheets(chosen.record_path)
        self.words.value = _details(chosen, record, pages)
        html = next((it for it in pages if it.suffix == ".html"), None)
        show_if(html is None, self.write_sheets)
        self.sheet.value = (
            ""
            if html is None
            else framed_page(_page_text(html), f"Decision sheet {html.name}").html
        )

    def _write_sheets(self) -> None:
        chosen = self._required()
        self._work(
            lambda: _told_pages(write_sidecar_sheets(chosen.record_path)),
            "Opening the master, and measuring the picture.",
        )

    # The same file again

    def _begin(self, master: Path | None = None) -> None:
        chosen = self._required()
        record = read_record(chosen.record_path)
        self.made.value = ""
        show_if(False, self.master.ui)
        if master is None and not is_regular(record.master.file):
            show_if(True, self.master.ui)
            raise RecordError(
                f"The master {record.master.file} is not there.",
                remedy="Say where it lies now; its SHA-256 begins "
                f"{record.facts.sha256[:12]}.",
                setting=Setting.MASTER,
            )
        target = reprint_path(record, chosen.record_path.parent)

        def make() -> None:
            again = reprint(
                record, target, master=master, progress=self._making.show_progress
            )
            rendered = again.rendered
            rows = [
                ("file", str(rendered.path)),
                ("its SHA-256", rendered.sha256),
                ("recorded", record.rendered.sha256),
            ]
            told = f'<p role="status">{escape(again.words)}</p>{table_words(rows).html}'
            self.page.do(partial(self._show_made, told))

        self._making.make(make, self.made)

    def _show_made(self, html: str) -> None:
        self.made.value = html

    def _fail_reprint(self, error: PrintPlanError) -> None:
        show_if(error.setting is Setting.MASTER, self.master.ui)
        self._fail(error)

    # Two records

    def _compare(self) -> None:
        first, second = self.chosen, self._prints.get(self.other.value or "")
        if first is None or second is None:
            self.differences.value = "<p>There is no other print to compare with.</p>"
            return
        rows = compare_records(
            read_record(first.record_path), read_record(second.record_path)
        )
        self.differences.value = differences_words(
            rows, first=first.file_path.name, second=second.file_path.name
        ).html

    # Its plan

    def _plan(self) -> None:
        chosen = self._required()
        self._work(
            lambda: plan_of_record(chosen.record_path),
            "Opening the master, to see whether it can be printed so today.",
        )

    def _required(self) -> MadePrint:
        chosen = self.chosen
        if chosen is None:
            raise RecordError("No print is chosen.", remedy="Choose one of the list.")
        return chosen

    def _work(self, job: Callable[[], str | Path], words: str) -> None:
        self._is_working = True
        self._allow()
        self._say(words)
        self._working.do(job)

    def _show_done(self, done: str | Path) -> None:
        """Say what was written; a plan is opened."""
        self._is_working = False
        self._allow()
        self._say("")
        if isinstance(done, str):
            self._say(done)
            self._tell_record()
            return
        self.planned.value = f"<p>The plan is {escape(str(done))}.</p>"
        on_open = self._on_open if self._bench is None else self._bench.open_plan
        if on_open is not None:
            self._guarded(lambda: on_open(done))()

    def _show_undone(self, error: PrintPlanError) -> None:
        self._is_working = False
        self._allow()
        self._fail(error)


def _told_pages(pages: tuple[Path, ...]) -> str:
    return f"The decision sheet is {' and '.join(it.name for it in pages)}."


def _line(made: MadePrint) -> str:
    """When, on what and how it came out."""
    told = f"{moment_words(made.made_at)} on {made.paper}"
    outcome = "not noted" if made.entry is None else outcome_words(made.entry.entry)
    gone = "" if made.is_there else "; the file is not there now"
    return f"{told}: {outcome}{gone}"


def _details(made: MadePrint, record: PrintRecord, pages: tuple[Path, ...]) -> str:
    rendered, unit = record.rendered, record.spec.lengths_in
    size = length_words(unit, rendered.width_mm, rendered.height_mm)
    where = str(made.file_path)
    rows = [
        ("file", where if made.is_there else f"{where}, which is not there now"),
        ("made", moment_words(record.moment)),
        ("photograph", Path(record.master.file).name),
        ("paper", f"{record.paper.name}, {record.printer.name}"),
        ("on paper", f"{size}, {rendered.ppi:g} ppi"),
        ("SHA-256", rendered.sha256),
        ("record", made.record_path.name),
        ("decision sheet", ", ".join(it.name for it in pages) or "not written"),
        (
            "outcome",
            "not noted" if made.entry is None else outcome_words(made.entry.entry),
        ),
    ]
    if record.note:
        rows.append(("note", record.note))
    rows += [
        (f"{it.finding.topic} ({it.finding.level})", it.done)
        for it in record.findings
        if it.done
    ]
    return table_words(rows).html


def _page_text(path: Path) -> str:
    """A decision sheet as HTML; one that others changed may be none."""
    data = read_foreign(
        path, raises=RecordError, what="The page", most_bytes=_LARGEST_PAGE
    )
    return data.decode("utf-8", "replace")
