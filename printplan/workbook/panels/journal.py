"""How did a print come out, and what do all of them say together?"""

from __future__ import annotations

from functools import partial
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.errors import RecordError
from printplan.record.journal.entry import MOST_COPIES, Outcome
from printplan.record.sidecar import RECORD_ENDING, records_in
from printplan.workbook.panels.controls import (
    CONTROL,
    acts,
    choice,
    plain_row,
    show_if,
    switch,
)
from printplan.workbook.panels.journal_work import (
    Noting,
    entries_words,
    export,
    look,
    note_print,
    outcome_words,
    rate_words,
)
from printplan.workbook.panels.latest_only import LatestOnly
from printplan.workbook.panels.panel import Panel, problem_html

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from printplan.spec import PrintSpec
    from printplan.workbook.bench import Bench
    from printplan.workbook.panels.journal_work import Seen

MOST_SHOWN = 12
"""LatestOnly prints in the table; the exported one holds all. Our choice."""

JOURNAL_NAME = "journal.db"

_NEW = object()
_OUTCOMES = [
    ("good", Outcome.GOOD),
    ("misprint", Outcome.MISPRINT),
    ("trial", Outcome.TRIAL),
]


_Done = tuple[widgets.HTML, str]
"""Where to say what was done, and the words."""


class JournalPanel(Panel):
    """
    Noting prints, the newest of them, and the share that was lost.

    Parameters
    ----------
    bench : Bench
        The records beside its finished files can be noted.
    journal : str or Path, optional
        `JOURNAL_NAME` beside the paper book if not given; the first print that is
        noted starts it.

    Attributes
    ----------
    path : Path
        The journal.
    """

    seat: ClassVar[str] = "journal"
    depends_on: ClassVar[frozenset[str]] = frozenset()
    column_px: ClassVar[int] = 400
    title: ClassVar[str] = "Journal of prints"

    def __init__(self, bench: Bench, *, journal: str | Path | None = None) -> None:
        super().__init__(bench)
        self.path = (
            _usual_journal(bench) if journal is None else Path(journal)
        ).absolute()
        self._is_working = self._has_entries = False
        self._looking: LatestOnly[Seen] = LatestOnly(self._tell, self._complain)
        self._working: LatestOnly[_Done] = LatestOnly(self._done, self._complain)
        self.record = choice("record", [])
        self.again = widgets.Button(description="Look for new records")
        self.printed_at = widgets.DatetimePicker(description="printed at", **CONTROL)
        self.outcome = switch("came out", _OUTCOMES)
        self.cause = choice("lost to", [])
        self.caught_by = choice("said so before", [("no finding", "")])
        self.copies = widgets.BoundedIntText(
            description="copies", value=1, min=1, max=MOST_COPIES, **CONTROL
        )
        self.ink_ml = widgets.BoundedFloatText(
            description="ink each (ml)", value=0, min=0, max=1000, step=0.01, **CONTROL
        )
        self.edition = choice("edition", [("none", "")])
        self.new_title = widgets.Text(description="its title", **CONTROL)
        self.new_size = widgets.BoundedIntText(
            description="its numbers", value=10, min=1, max=MOST_COPIES, **CONTROL
        )
        self.note = widgets.Text(description="note", **CONTROL)
        self.add = widgets.Button(description="Note this print", button_style="primary")
        self.table = widgets.HTML()
        self.rate = widgets.HTML()
        self.noted, self.written = widgets.HTML(), widgets.HTML()
        self.export = widgets.Button(description="Write all prints as a table (CSV)")
        for words in (self.table, self.rate, self.noted, self.written):
            words.add_class("printplan-words")
        self.again.on_click(self._guarded(self._look))
        self.record.observe(self._guarded(self._look_anew), names="value")
        for control in (self.outcome, self.edition):
            control.observe(self._guarded(self._allow), names="value")
        self.add.on_click(self._guarded(self._note))
        self.export.on_click(self._guarded(self._export))
        self._open(
            [
                self.record,
                acts(self.again),
                self.printed_at,
                self.outcome,
                self.cause,
                self.caught_by,
                self.copies,
                self.ink_ml,
                self.edition,
                self.new_title,
                self.new_size,
                self.note,
                acts(self.add),
                self.noted,
            ],
            beside=widgets.VBox(
                [self.rate, self.table, plain_row(self.export), self.written],
                layout={"min_width": "0", "padding": "0 0 0 16px"},
            ),
        )
        self._ask_journal()

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until what was asked for is noted, and shown.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return self._working.settle(timeout_s) and self._looking.settle(timeout_s)

    def _wish(self) -> PrintSpec:
        return self.bench.spec

    def _sync(self) -> None:
        """Offer the records of the bench's folder, which a plan kept anew changes."""
        chosen: Path | None = self.record.value
        records: tuple[Path, ...] = ()
        try:
            records = records_in(self.bench.folder)
        except RecordError as error:
            self.message.value = problem_html(error)
        _offer(self.record, [(_short(path), path) for path in records], chosen)
        if self.record.value != chosen:
            self._ask_journal()
        self.words.value = (
            f"<p>The journal is {escape(str(self.path))}. Without a time, a print is "
            "noted as made now; ink of 0 ml is not known. What is noted stays.</p>"
        )
        self._allow()

    def _look(self) -> None:
        """Choose the newest record there is now, and read the journal anew."""
        self._be_content()
        self._sync_quietly()
        self.record.index = 0 if self.record.options else None
        self._ask_journal()

    def _look_anew(self) -> None:
        if not self._is_syncing:
            self._ask_journal()

    def _ask_journal(self) -> None:
        work = partial(look, self.path, self.record.value, most=MOST_SHOWN)
        self._looking.do(self._with_faults_shown(work))

    def _tell(self, seen: Seen) -> None:
        """Show what the journal holds."""
        heading = f"Prints noted: {seen.count}; the newest first"
        self.rate.value = f'<p role="status">{escape(rate_words(seen.rate))}</p>'
        self.table.value = (
            entries_words(seen.newest, heading=heading).html if seen.count else ""
        )
        titles = [
            (f"{it.title}: next is {it.next_number}/{it.size}", it.title)
            for it in seen.editions
            if it.next_number <= it.size
        ]
        editions = [("none", ""), *titles, ("a new one", _NEW)]
        _offer(self.cause, [(it, it) for it in seen.causes], self.cause.value)
        abouts = [("no finding", ""), *[(it, it) for it in seen.findings]]
        _offer(self.caught_by, abouts, self.caught_by.value)
        _offer(self.edition, editions, self._edition(titles))
        self._has_entries = bool(seen.count)
        self._allow()

    def _edition(self, offered: Sequence[tuple[str, str]]) -> object:
        """What is chosen; an edition that was new a moment ago is there now."""
        title = self.new_title.value.strip()
        is_open = self.edition.value is _NEW and title in [it for _, it in offered]
        return title if is_open else self.edition.value

    def _allow(self) -> None:
        """Show the controls that matter, and let be done what makes sense now."""
        outcome = self.outcome.value
        is_numbered = outcome is not Outcome.TRIAL
        show_if(outcome is Outcome.MISPRINT, self.cause, self.caught_by)
        show_if(is_numbered, self.edition)
        is_new = is_numbered and self.edition.value is _NEW
        show_if(is_new, self.new_title, self.new_size)
        self.add.disabled = self._is_working or self.record.value is None
        self.export.disabled = self._is_working or not self._has_entries

    def _note(self) -> None:
        bench = self.bench
        currency = bench.book.currency if bench.files is not None else None
        noting = self._noting()

        def work() -> str:
            kept = note_print(self.path, noting, currency=currency or "")
            numbers = ", ".join(str(it) for it in kept.numbers)
            words = f"Noted as entry {kept.entry_id}: {outcome_words(kept.entry)}"
            return f"{words}, with number {numbers}." if numbers else f"{words}."

        self._work(self.noted, work)

    def _export(self) -> None:
        self._work(self.written, lambda: f"Written: {export(self.path)}.")

    def _noting(self) -> Noting:
        """What the controls say."""
        outcome, edition = self.outcome.value, self.edition.value
        if outcome is Outcome.TRIAL:
            edition = ""
        is_new = edition is _NEW
        return Noting(
            record=self.record.value,
            printed_at=self.printed_at.value,
            outcome=outcome,
            cause=self.cause.value or "",
            caught_by=self.caught_by.value,
            copies=self.copies.value,
            ink_ml=self.ink_ml.value or None,
            edition=self.new_title.value.strip() if is_new else edition,
            edition_size=self.new_size.value if is_new else None,
            note=self.note.value.strip(),
        )

    def _work(self, place: widgets.HTML, job: Callable[[], str]) -> None:
        """Do something with the journal aside; one thing at a time, and none lost."""

        def work() -> _Done:
            try:
                return place, job()
            finally:
                self._is_working = False
                self._allow()

        self._be_content()
        self.noted.value = self.written.value = ""
        self._is_working = True
        self._allow()
        self._working.do(self._with_faults_shown(work))

    def _done(self, done: _Done) -> None:
        place, words = done
        place.value = f'<p role="status">{escape(words)}</p>'
        self._ask_journal()


def _usual_journal(bench: Bench) -> Path:
    """Beside the paper book, since a studio has one of each."""
    files = bench.files
    return (bench.folder if files is None else files.book_path.parent) / JOURNAL_NAME


def _short(record: Path) -> str:
    return record.name.removesuffix(RECORD_ENDING)


def _offer(
    control: widgets.Dropdown, options: Sequence[tuple[str, object]], chosen: object
) -> None:
    """Offer other things; what is chosen stays if it is among them, else the first."""
    if list(control.options) != list(options):
        control.options = options
    values = [value for _, value in options]
    if chosen in values:
        control.value = chosen
    elif values:
        control.value = values[0]
