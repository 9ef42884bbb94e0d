"""How did a print come out, and what do all of them say together?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.errors import PrintPlanError, RecordError, SpecError
from printplan.foreign_file import is_there
from printplan.free_name import free_path
from printplan.record.atomic_write import read_text
from printplan.record.journal.entry import CAUSES, MOST_COPIES, Outcome
from printplan.record.journal.from_record import entry_from_record
from printplan.record.journal.misprints import overall_rate
from printplan.record.journal.view import damage_told, read_journal, write_journal_csv
from printplan.record.noting import note_print, settle_stock, strike_print
from printplan.record.paper_book import read_paper_book
from printplan.record.print_list import list_prints
from printplan.record.record_file import parse_record_text, read_record
from printplan.record.sidecar import RECORD_ENDING, records_in
from printplan.record.studio_folder import BOOK_NAME, JOURNAL_NAME
from printplan.shown_text import escape
from printplan.workbook.bench import Bench
from printplan.workbook.panels.book_panel import BookPanel
from printplan.workbook.panels.controls import (
    CONTROL,
    acts,
    choice,
    offer,
    plain_row,
    show_if,
    switch,
    text,
)
from printplan.workbook.pictures import problem_html
from printplan.workbook.record_words import entries_words, outcome_words, rate_words

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from printplan.record.journal.editions import Edition
    from printplan.record.journal.entry import JournalEntry
    from printplan.record.journal.misprints import Rate
    from printplan.workbook.bench import Change

MOST_SHOWN = 12
"""Prints in the table; the exported one holds all. Our choice."""


_NEW = object()
_OUTCOMES = [
    ("good", Outcome.GOOD),
    ("misprint", Outcome.MISPRINT),
    ("trial", Outcome.TRIAL),
]


_Done = tuple[widgets.HTML, str]
"""Where to say what was done, and the words."""


class JournalPanel(BookPanel):
    """
    Noting prints, the newest of them, and the share that was lost.

    Parameters
    ----------
    prints : Bench or str or Path
        The prints that can be noted: those beside a bench's finished files, or those
        of the studio in a folder.
    journal : str or Path, optional
        `JOURNAL_NAME` beside the paper book if not given; the first print that is
        noted starts it.
    on_written : callable, optional
        Told when something was noted or struck out. A panel that gives it says by
        `choose` which print is noted.

    Attributes
    ----------
    path : Path
        The journal.
    """

    column_px: ClassVar[int] = 400
    title: ClassVar[str] = "Journal of prints"

    def __init__(
        self,
        prints: Bench | str | Path,
        *,
        journal: str | Path | None = None,
        on_written: Callable[[], None] | None = None,
    ) -> None:
        super().__init__(book_of(prints))
        self._prints = prints
        self._on_written = on_written
        self.path = Path(
            self.book_path.parent / JOURNAL_NAME if journal is None else journal
        ).absolute()
        self._is_working = self._has_entries = False
        self._reading = self._worker(self._show_journal)
        self._writing = self._worker(self._show_written)
        self.record = choice("record", [])
        self.again = widgets.Button(description="Find new records")
        self.printed_at = widgets.DatetimePicker(description="printed at", **CONTROL)
        self.outcome = switch("outcome", _OUTCOMES)
        self.cause = choice("cause", [])
        self.caught_by = choice("finding that warned", [("no finding", "")])
        # A browser's field for numbers reads 1e9 as 1.
        self.copies = widgets.Text(description="copies", value="1", **CONTROL)
        self.ink_ml = widgets.BoundedFloatText(
            description="ink per copy (ml)",
            value=0,
            min=0,
            max=1000,
            step=0.01,
            **CONTROL,
        )
        self.edition = choice("edition", [("none", "")])
        self.new_title = widgets.Text(description="title", **CONTROL)
        self.new_size = widgets.BoundedIntText(
            description="edition size", value=10, min=1, max=MOST_COPIES, **CONTROL
        )
        self.note = widgets.Text(
            description="note", tooltip="What the journal should say of it", **CONTROL
        )
        self.add = widgets.Button(
            description="Add to the journal", button_style="primary"
        )
        self.table, self.rate, self.noted, self.written = (text() for _ in range(4))
        self.entry = choice("entry", [])
        self.why = widgets.Text(description="reason", **CONTROL)
        self.strike = widgets.Button(
            description="Strike it out",
            tooltip="The entry stays in the journal and counts no more",
        )
        self.export = widgets.Button(description="Export all prints (CSV)")
        self.again.on_click(self._guarded(self._look))
        self.record.observe(self._guarded(self._read), names="value")
        for control in (self.outcome, self.edition):
            control.observe(self._guarded(self._allow), names="value")
        self.add.on_click(self._guarded(self._note))
        self.export.on_click(self._guarded(self._export))
        self.strike.on_click(self._guarded(self._strike))
        self.about = text()
        self._lay_out(
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
                self.message,
                self.noted,
                self.about,
            ],
            beside=widgets.VBox(
                [
                    self.rate,
                    self.table,
                    plain_row(self.export),
                    self.written,
                    self.entry,
                    self.why,
                    plain_row(self.strike),
                ],
                layout={"min_width": "0"},
            ),
        )
        self.about.value = (
            f"<p>The journal is {escape(str(self.path))}. Without a time, a print is "
            "noted as made now; ink of 0 ml is not known. What is noted stays.</p>"
        )
        if on_written is not None:
            self.choose(None)
            return
        self._sync()
        self._read()
        if isinstance(prints, Bench):
            prints.watch("journal", self)

    def plan_changed(self, change: Change) -> None:
        """Offer the records beside another plan of the bench."""
        if change.refusal is None:
            self._guarded(self._sync)()

    def replaced(self) -> None:
        """Give way to a newer panel of this kind."""
        self.ui.children = [widgets.HTML("This panel was opened again elsewhere.")]

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until the journal is written and read.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return all(it.settle(timeout_s) for it in (self._writing, self._reading))

    def choose(self, record: Path | None) -> None:
        """Note about the print of that record, and of no other."""
        with self._quietly():
            options = [] if record is None else [(_short(record), record)]
            offer(self.record, options, record)
        show_if(False, self.record, self.again)
        self.noted.value = ""
        self._allow()
        self._read()

    def _sync(self) -> None:
        """Offer the records that lie there now."""
        chosen: Path | None = self.record.value
        records: tuple[Path, ...] = ()
        try:
            records = _records_of(self._prints)
        except RecordError as error:
            self._fail(error)
        with self._quietly():
            offer(self.record, [(_short(path), path) for path in records], chosen)
        if self.record.value != chosen:
            self._read()
        self._allow()

    def _look(self) -> None:
        """Choose the newest record there is now, and read the journal anew."""
        self._sync()
        self.record.index = 0 if self.record.options else None
        self._read()

    def _read(self) -> None:
        self._reading.do(partial(_contents, self.path, self.record.value))

    def _show_journal(self, seen: _Contents) -> None:
        """Show what the journal holds."""
        heading = f"Prints noted: {seen.count}; the newest first"
        self.rate.value = f'<p role="status">{escape(rate_words(seen.rate))}</p>'
        problems = "".join(problem_html(it) for it in seen.problems)
        entries = entries_words(seen.newest, heading=heading).html
        self.table.value = problems + (entries if seen.count else "")
        titles = [
            (f"{it.title}: next is {it.next_number}/{it.size}", it.title)
            for it in seen.editions
            if it.next_number <= it.size
        ]
        editions = [("none", ""), *titles, ("a new one", _NEW)]
        causes = [("choose it", ""), *[(it, it) for it in seen.causes]]
        offer(self.cause, causes, self.cause.value)
        offer(self.entry, [(_entry_words(it), it) for it in seen.newest], None)
        abouts = [("no finding", ""), *[(it, it) for it in seen.findings]]
        offer(self.caught_by, abouts, self.caught_by.value)
        offer(self.edition, editions, self._edition(titles))
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
        show_if(self._has_entries, self.entry, self.why, self.strike)
        self.strike.disabled = self._is_working or self.entry.value is None

    def _note(self) -> None:
        """Note the print as the controls say now."""
        path, outcome = self.record.value, self.outcome.value
        is_lost, now = outcome is Outcome.MISPRINT, datetime.now().astimezone()
        printed_at = self.printed_at.value or now
        if printed_at > now:
            raise SpecError(
                f"The print is noted as made on {printed_at:%d %B %Y, %H:%M}, which is "
                "still to come.",
                remedy='Set "printed at" to when it was made, or leave it empty.',
            )
        if is_lost and not self.cause.value:
            raise SpecError(
                "The print was lost, and no cause is chosen.",
                remedy='Choose it at "cause".',
            )
        is_new = self.edition.value is _NEW
        edition = self.new_title.value.strip() if is_new else self.edition.value
        size = self.new_size.value if is_new else None
        if outcome is Outcome.TRIAL:
            edition, size = "", None
        entry_of = partial(
            entry_from_record,
            printed_at=printed_at,
            outcome=outcome,
            cause=self.cause.value if is_lost else "",
            caught_by=self.caught_by.value if is_lost else "",
            copies=_whole_number(self.copies.value),
            ink_ml=self.ink_ml.value or None,
            currency=self._currency(),
            note=self.note.value.strip(),
        )

        book = self.book_path if self.book_path.exists() else None

        def work() -> str:
            record = read_text(path)
            entry = entry_of(parse_record_text(record, where=str(path)))
            kept = note_print(
                self.path,
                entry,
                record,
                edition=edition,
                edition_size=size,
                book=book,
            )
            numbers = ", ".join(str(it) for it in kept.numbers)
            words = f"Noted as entry {kept.entry_id}: {outcome_words(kept.entry)}"
            words = f"{words}, with number {numbers}." if numbers else f"{words}."
            return f"{words} {self._settled(kept)}".rstrip()

        self._work(self.noted, work)

    def _strike(self) -> None:
        """Strike the chosen entry out, with the reason that was given."""
        entry, why, path = self.entry.value, self.why.value.strip(), self.path
        if not why:
            raise SpecError(
                f"Entry {entry.entry_id} is to be struck out, and no reason is given.",
                remedy='Say why at "reason".',
            )
        book = self.book_path if self.book_path.exists() else None

        def work() -> str:
            struck = strike_print(path, entry, why=why, book=book)
            words = f"Entry {entry.entry_id} is struck out: {why}"
            told = self._settled(struck)
            return f"{words.removesuffix('.')}. {told}" if told else words

        self._work(self.written, work)

    def _settled(self, noted: JournalEntry) -> str:
        """What the paper book counts now; the print is noted, whatever it says."""
        if not self.book_path.exists():
            return ""
        try:
            told = settle_stock(self.path, self.book_path, noted=noted)
        except PrintPlanError as error:
            return (
                f"The stock is not counted yet: {error.problem} {error.remedy} It is "
                "made up for with the next print that is noted."
            )
        return " ".join(it.words for it in told)

    def _currency(self) -> str:
        """That of the paper book; a bench without one has none."""
        if not self.book_path.exists():
            return ""
        return read_paper_book(self.book_path).currency or ""

    def _export(self) -> None:
        self._work(self.written, lambda: _export(self.path))

    def _work(self, place: widgets.HTML, job: Callable[[], str]) -> None:
        """Do something with the journal aside; one thing at a time, and none lost."""

        def work() -> _Done:
            try:
                return place, job()
            finally:
                self._is_working = False
                self._allow()

        self.noted.value = self.written.value = ""
        self._is_working = True
        self._allow()
        self._writing.do(work)

    def _show_written(self, done: _Done) -> None:
        place, words = done
        place.value = f'<p role="status">{escape(words)}</p>'
        self._read()
        if self._on_written is not None:
            self._on_written()


def book_of(prints: Bench | str | Path) -> Path:
    """The paper book of a bench or of the studio in a folder; a studio has one."""
    if not isinstance(prints, Bench):
        return Path(prints).absolute() / BOOK_NAME
    files = prints.files
    return prints.folder / BOOK_NAME if files is None else files.book_path


def _records_of(prints: Bench | str | Path) -> tuple[Path, ...]:
    if isinstance(prints, Bench):
        return records_in(prints.folder)
    return tuple(it.record_path for it in list_prints(prints).prints)


def _entry_words(entry: JournalEntry) -> str:
    printed = entry.entry.printed_at
    return f"{entry.entry_id}: {printed:%d %B %Y}, {outcome_words(entry.entry)}"


def _whole_number(typed: str) -> int:
    """Copies as they were typed."""
    try:
        return int(typed.strip())
    except ValueError as error:
        raise SpecError(
            f"{typed!r} is no number of copies.",
            remedy=f'Type a whole number from 1 to {MOST_COPIES} at "copies".',
        ) from error


def _short(record: Path) -> str:
    return record.name.removesuffix(RECORD_ENDING)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Contents:
    """What the journal holds, and the findings of a chosen record by their topics."""

    newest: tuple[JournalEntry, ...]
    count: int
    rate: Rate
    causes: tuple[str, ...]
    editions: tuple[Edition, ...]
    findings: tuple[str, ...]
    problems: tuple[PrintPlanError, ...]


def _contents(journal: Path, record: Path | None) -> _Contents:
    """Read a journal, which need not be there yet."""
    findings = () if record is None else read_record(record).findings
    entries: tuple[JournalEntry, ...] = ()
    causes: tuple[str, ...] = CAUSES
    editions: tuple[Edition, ...] = ()
    problems: list[PrintPlanError] = []
    if is_there(journal):
        with read_journal(journal) as opened:
            entries = opened.entries()
            problems += damage_told(opened, journal)
            try:
                causes, editions = opened.causes(), opened.editions()
            except RecordError as error:
                problems.append(error)
    return _Contents(
        newest=entries[: -MOST_SHOWN - 1 : -1],
        count=len(entries),
        rate=overall_rate(entries),
        causes=causes,
        editions=editions,
        findings=tuple(dict.fromkeys(kept.finding.topic for kept in findings)),
        problems=tuple(problems),
    )


def _export(journal: Path) -> str:
    """Write all entries as a table beside the journal, under a name that is free."""
    with read_journal(journal) as opened:
        entries = opened.entries()
        problems = damage_told(opened, journal)
    path = free_path(journal.with_suffix(".csv"))
    write_journal_csv(entries, path)
    return " ".join([f"Written: {path}.", *(it.problem for it in problems)])
