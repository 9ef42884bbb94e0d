"""How is the file made and recorded, and the plan saved?"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from functools import partial
from pathlib import Path
from time import sleep
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.checks import Level
from printplan.errors import PrintPlanError, SpecError
from printplan.free_name import free_path
from printplan.pixels.render import ending_of, render
from printplan.record.deliver import deliver
from printplan.record.record import make_record
from printplan.record.record_file import require_recordable, save_actions
from printplan.record.sidecar import (
    free_print_path,
    write_sidecar_record,
    write_sidecar_sheets,
)
from printplan.shown_text import escape
from printplan.spec import Delivery, Extent, FileFormat, NamedSpace
from printplan.workbook.cost_words import cost_of_sheet
from printplan.workbook.panels.check import findings_of
from printplan.workbook.panels.controls import (
    LONG_LABEL,
    acts,
    choice,
    line,
    plain_row,
    show_if,
    text,
)
from printplan.workbook.panels.making import Making
from printplan.workbook.panels.panel import Panel
from printplan.workbook.panels.service import PLAIN, ServiceControls
from printplan.workbook.words import (
    file_words,
    findings_words,
    order_words,
    rendered_words,
    summary_words,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from printplan.checks import Finding
    from printplan.pixels.sheet import Sheet
    from printplan.record.plan_file import PlanFile
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
_EXTENTS = [
    ("the whole sheet", Extent.SHEET),
    ("the picture and its border", Extent.PICTURE),
]
_CHECK_WAIT_S = 0.25
_ASKED = "<p>What was done about it? A few words for the record:</p>"


class FinishPanel(Panel):
    """
    The kind of file, making and recording it, and saving the plan.

    Attributes
    ----------
    fields : dict of str to ipywidgets.Text
        What was done about each finding that warns or stops, by its `topic`; an
        answer stays here while its finding is gone.
    note : ipywidgets.Text
        About the next file to be made.
    cost : ipywidgets.HTML
        Paper, ink and time of one print, and what is left in stock.
    summary : ipywidgets.HTML
        What speaks against the print, in one line.
    make, cancel : ipywidgets.Button
    progress : ipywidgets.IntProgress
        Where only the controls are shown, the page has its own place for these. Then
        a file is made together with its decision sheet, and the plan is saved.
    """

    slot: ClassVar[str] = "finish"
    depends_on: ClassVar[frozenset[str]] = frozenset()
    column_px: ClassVar[int] = 440
    title: ClassVar[str] = "Render the file and save the plan"

    _summed = ""
    """What the findings of before came to."""

    def __init__(self, bench: Bench, *, column_only: bool = False) -> None:
        super().__init__(bench, column_only=column_only)
        self._making = Making(
            fail=self._show_problem,
            faults=partial(self._faults_shown, aside=True),
            changed=self._allow,
        )
        self.cancel, self.progress = self._making.cancel, self._making.progress
        self._found: list[Finding] | None = None
        self._record_path: Path | None = None
        self._of = bench.master.facts.sha256
        self._recorded: dict[str, str] = {}
        self._checking = self._worker(self._show_findings)
        self._costing = self._worker(self._show_cost, self._show_problem)
        self.delivery = choice("colour", _DELIVERIES)
        self.named_space = choice("space", [(it, it) for it in NamedSpace])
        self.file_format = choice("format", _FORMATS)
        self.extent = choice("covers", _EXTENTS)
        self.service = ServiceControls(bench)
        self.name = line("file name")
        self._ending = ending_of(bench.spec.delivery.file_format)
        self._want_name(bench.stem)
        self.make = widgets.Button(
            description="Render the file", button_style="primary"
        )
        self.plan_name, self.plan_note = line("plan file"), line("note in the plan")
        self._plan_path: Path | None = None
        if bench.files is not None:
            self._plan_path = bench.files.plan_path
            self.plan_name.value = bench.files.plan_path.name
        self.keep = widgets.Button(description="Save this plan")
        self.kept, self.result, self.recorded = text(), text(), text()
        self.summary = text("printplan-summary")
        self.findings, self.cost = text(), text()
        self.fields: dict[str, widgets.Text] = {}
        self.answers = widgets.VBox()
        self._asked = widgets.VBox([_words(_ASKED), self.answers])
        self.note = line("note", style=LONG_LABEL)
        self.despite = widgets.Checkbox(
            description="Render despite findings", indent=False
        )
        self.decision_sheet = widgets.Button(description="Write the decision sheet")
        self.update = widgets.Button(description="Write the answers into the record")
        self.done = widgets.VBox(
            [plain_row(self.decision_sheet, self.update), self.recorded]
        )
        kind = (self.delivery, self.named_space, self.file_format, self.extent)
        self._on_wish(*kind, *self.service.wishes)
        self.service.maker.observe(self._guarded(self._change_maker), names="value")
        self.name.observe(self._guarded(self._name_typed), names="value")
        self.despite.observe(self._guarded(self._allow), names="value")
        for button, press in (
            (self.make, self._begin),
            (self.keep, self._keep),
            (self.service.order, self._deliver),
            (self.update, partial(self._making.do, self._write_answers)),
            (self.decision_sheet, partial(self._making.do, self._write_sheets)),
        ):
            button.on_click(self._guarded(partial(self._pressed, press)))
        file = self.service.around(kind, self.name)
        self.plan_note.observe(self._guarded(self._note_typed), names="value")
        plan = [self.plan_name, self.plan_note, acts(self.keep), self.kept]
        told = [
            self.findings,
            self._asked,
            self.cost,
            self.note,
            self.despite,
            self.result,
            self.done,
        ]
        if column_only:
            self._open([*file, *told, *plan])
        else:
            self._open(
                [*file, acts(self.make, self.cancel), self.progress, *plan],
                beside=widgets.VBox(
                    told, layout={"min_width": "0", "padding": "0 0 0 16px"}
                ),
            )
        self._check()

    def plan_changed(self, change: Change) -> None:
        """Show a new plan; while a spec is refused anywhere, no file is made."""
        if self._is_of_another_job():
            self._begin_job()
        super().plan_changed(change)
        if change.refusal is None:
            if change.parts != {"note"}:
                self._check()
        else:
            self._show_error(change.refusal)
            self.summary.value = ""  # the message says why there is no print
            self._allow()

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until the findings are those of the plan and nothing is being made.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        is_checked = super().settle(timeout_s)
        return self._making.settle(timeout_s) and is_checked

    def _spec(self) -> PrintSpec:
        named = self.delivery.value is Delivery.NAMED_SPACE
        delivery = replace(
            self.bench.spec.delivery,
            colour=self.delivery.value,
            named_space=self.named_space.value if named else None,
            file_format=self.file_format.value,
            extent=self.extent.value,
            **PLAIN,
        )
        return self.service.spec(self.bench.spec, delivery)

    def _sync(self) -> None:
        delivery, files = self.bench.spec.delivery, self.bench.files
        self.delivery.value = delivery.colour
        if delivery.named_space is not None:
            self.named_space.value = delivery.named_space
        show_if(delivery.colour is Delivery.NAMED_SPACE, self.named_space)
        self.file_format.value = delivery.file_format
        self.extent.value = delivery.extent
        self.service.sync()
        show_if(self.service.is_ordered and files is not None, self.service.order)
        ending = ending_of(delivery.file_format)
        if ending != self._ending:  # else a name that was typed stays
            self._ending = ending
            self._want_name(Path(self._wanted).stem)
        self.words.value = escape(f"The file: {file_words(self.bench.sheet)}")
        self.kept.value = ""
        self.plan_note.value = self.bench.note
        show_if(files is not None, self.plan_name, self.plan_note, self.keep)

    def _change_maker(self) -> None:
        if not self._is_syncing and (change := self.service.change_maker()) is not None:
            self._do(change)

    def _note_typed(self) -> None:
        self.bench.change_note(self.plan_note.value.strip())

    def _is_of_another_job(self) -> bool:
        """Whether what is said here is of another photograph, or of another plan."""
        files = self.bench.files
        plan_path = None if files is None else files.plan_path
        return (self._of, self._plan_path) != (
            self.bench.master.facts.sha256,
            plan_path,
        )

    def _begin_job(self) -> None:
        """Take nothing along that was said of the job before."""
        bench = self.bench
        self._of = bench.master.facts.sha256
        self._record_path, self._recorded = None, {}
        self.fields.clear()
        self.answers.children = ()
        for place in (self.note, self.result, self.recorded, self.kept):
            place.value = ""
        if bench.files is not None:
            self._plan_path = bench.files.plan_path
            self.plan_name.value = bench.files.plan_path.name
        self._want_name(bench.stem)

    # The name

    def _want_name(self, stem: str) -> None:
        self._wanted = f"{stem}{self._ending}"
        self._suggest_name()

    def _suggest_name(self) -> None:
        """Show the name that is wanted, or the next of it that is free."""
        self._suggested = free_print_path(self.bench.folder / self._wanted).name
        self.name.value = self._suggested

    def _name_typed(self) -> None:
        if self.name.value != self._suggested:
            self._wanted = self.name.value

    # Findings, and what was done about them

    def _check(self) -> None:
        """Check a new plan; until it is checked no file is made."""
        self._found = None
        # In the place of the words of before, unseen: what stands above must not jump.
        self.summary.value = (
            '<div class="printplan-in-place">'
            '<span role="status">Checking this plan …</span>'
            f'<div aria-hidden="true">{self._summed}</div></div>'
        )
        self.despite.value = False
        self._allow()
        sheet = self.bench.sheet

        def check() -> tuple[Sheet, list[Finding]]:
            sleep(_CHECK_WAIT_S)  # the pictures first; a newer plan drops this one
            return (
                (sheet, findings_of(sheet))
                if sheet is self.bench.sheet
                else (sheet, [])
            )

        self._checking.do(check)
        files = self.bench.files
        book = None if files is None else files.book_path

        def reckon() -> tuple[Sheet, str]:
            sleep(2 * _CHECK_WAIT_S)  # the findings first
            is_now = sheet is self.bench.sheet
            return sheet, cost_of_sheet(sheet, book).html if is_now else ""

        self._costing.do(reckon)

    def _show_cost(self, reckoned: tuple[Sheet, str]) -> None:
        sheet, html = reckoned
        if sheet is self.bench.sheet:
            self.cost.value = html

    def _show_findings(self, checked: tuple[Sheet, list[Finding]]) -> None:
        sheet, findings = checked
        if sheet is not self.bench.sheet:
            return
        self._found = findings
        self.findings.value = findings_words(findings).html
        if self.bench.refusal is None:
            self._summed = self.summary.value = summary_words(findings).html
        grave = {it.topic: None for it in findings if it.level is not Level.NOTE}
        fields = tuple(map(self._field, grave))
        if self.answers.children != fields:  # who is typing stays in the field
            self.answers.children = fields
        self._allow()

    def _field(self, topic: str) -> widgets.Text:
        if topic not in self.fields:
            field = line(topic, style=LONG_LABEL)
            field.observe(self._guarded(self._allow), names="value")
            self.fields[topic] = field
        return self.fields[topic]

    def _answered(self, topics: Iterable[str]) -> dict[str, str]:
        """What was done, by topic; empty where an answer was taken back."""
        return {it: self.fields[it].value.strip() for it in topics if it in self.fields}

    @property
    def _is_behind(self) -> bool:
        """Whether an answer was changed since the record was written."""
        answered = self._answered(self._recorded)
        return any(
            self._recorded[topic] != answer for topic, answer in answered.items()
        )

    def _allow(self) -> None:
        """Enable and show what makes sense now."""
        working, found = self._making.is_busy, self._found
        against = found is not None and any(it.level is Level.STOP for it in found)
        stopped = found is None or (against and not self.despite.value)
        refused = self.bench.refusal is not None
        self.make.disabled = working or stopped or refused
        self.keep.disabled = refused
        self.service.order.disabled = working or stopped or refused
        self.cancel.disabled = not self._making.is_making
        self.update.disabled = self.decision_sheet.disabled = working
        show_if(self._making.is_making, self.cancel, self.progress)
        show_if(against, self.despite)
        show_if(bool(self.answers.children), self._asked)
        show_if(self._record_path is not None, self.done)
        show_if(self._is_behind, self.update)

    # Making and recording the file

    def _pressed(self, act: Callable[[], None]) -> None:
        self.message.value = ""
        act()

    def _begin(self) -> None:
        bench = self.bench
        path = bench.folder / _plain_name(self.name)
        self.result.value = ""
        try:
            if self._column_only and bench.files is not None:
                self._keep()
            else:
                bench.write_paper_defaults()
        except PrintPlanError as error:  # no reason not to print
            self._show_problem(error)
        sheet, found = bench.sheet, self._found
        told = {topic: it.value.strip() for topic, it in self.fields.items()}
        note = self.note.value.strip()
        wish = None
        if bench.files is not None:
            wish = replace(
                bench.files.whole_wish, master=bench.master_spec, note=bench.note
            )
        make = partial(self._render, sheet, path, found, wish, (told, note))
        self._making.make(make, self.result, bench.keep_master_open())

    def _render(
        self,
        sheet: Sheet,
        path: Path,
        found: list[Finding] | None,
        wish: PlanFile | None,
        told: tuple[dict[str, str], str],
    ) -> None:
        """
        Make the file and write its record beside it.

        Answers and note that were typed meanwhile count, unless they are another
        photograph's by now.
        """
        if wish is not None:
            require_recordable(sheet, path, wish)
        rendered = render(sheet, path, progress=self._making.show_progress)
        words = rendered_words(rendered, sheet.plan.spec.lengths_in)
        # Without a record there is nothing to write pages of.
        self._record_path, self._recorded = None, {}
        self.page.do(partial(self._show_made, words.html))
        findings = findings_of(sheet) if found is None else found
        topics = {finding.topic for finding in findings}
        answers, note = told
        is_same = sheet.plan.facts.sha256 == self._of
        if is_same:
            answers, note = self._answered(topics), self.note.value.strip()
        record = make_record(
            sheet,
            findings,
            rendered,
            made_on=datetime.now().astimezone(),
            plan_file=wish,
            actions={topic: it for topic, it in answers.items() if topic in topics},
            note=note,
        )
        path = write_sidecar_record(record)
        if not is_same:
            return
        self._record_path = path
        self._recorded = {it.finding.topic: it.done for it in record.findings}
        self._show_recorded(f"Its record is {path.name}, in the same folder.")
        if self._column_only:
            self._write_sheets()

    def _deliver(self) -> None:
        """Save the plan, and make the order of it in a new folder beside it."""
        self.result.value = ""
        self._keep()
        files = self.bench.files
        if files is None:
            return
        path = files.plan_path
        folder = free_path(path.parent / f"{path.stem}-order")

        def make() -> None:
            made = deliver(
                [path],
                folder,
                made_on=datetime.now().astimezone(),
                progress=self._making.show_progress,
            )
            self.page.do(partial(self._show_made, order_words(made).html))

        self._making.make(make, self.result, self.bench.keep_master_open())

    def _show_made(self, html: str) -> None:
        self.result.value, self.recorded.value = html, ""
        self._suggest_name()

    def _write_answers(self) -> None:
        """Write changed answers into the record."""
        path = self._record_path
        if path is None or not self._is_behind:
            return
        answers = self._answered(self._recorded)
        save_actions(path, answers)
        self._recorded |= answers
        self._show_recorded(f"The answers are saved in {path.name}.")

    def _write_sheets(self) -> None:
        """Write the decision sheet beside the record, which gets the answers first."""
        bench, path = self.bench, self._record_path
        if path is None:
            return
        self._write_answers()
        currency = bench.book.currency if bench.files is not None else None
        try:
            pages = write_sidecar_sheets(
                path, currency=currency or "", report=self._show_recorded
            )
        except BaseException:
            self._show_recorded("")
            raise
        names = " and ".join(page.name for page in pages)
        self._show_recorded(f"The decision sheet is {names}, beside {path.name}.")

    def _show_recorded(self, words: str) -> None:
        html = f'<p role="status">{escape(words)}</p>' if words else ""

        def show() -> None:
            self.recorded.value = html

        self.page.do(show)

    def _keep(self) -> None:
        """Write the plan over its own file, or into a new one of the name given."""
        self.kept.value = ""
        files, name = self.bench.files, _plain_name(self.plan_name)
        if files is None or name in {"", files.plan_path.name}:
            kept = self.bench.keep()
        else:
            kept = self._plan_path = self.bench.keep_as(name)
            self._want_name(self.bench.stem)
        self.plan_name.value = kept.name
        self.kept.value = f"<p>Saved in {escape(str(kept))}.</p>"


def _plain_name(field: widgets.Text) -> str:
    """
    What is typed as a file's name.

    Raises
    ------
    SpecError
        If it names a folder: all files of a job lie in one.
    """
    name: str = field.value.strip()
    if Path(name).name != name or "\\" in name:
        raise SpecError(
            f"“{name}” names a folder; the files of a job lie beside its plan.",
            remedy=f'Type a name without a folder at "{field.description}".',
        )
    return name


def _words(told: str) -> widgets.HTML:
    place = text()
    place.value = told
    return place
