"""What does the journal panel ask of the journal, and say in plain words?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from html import escape
from typing import TYPE_CHECKING

from printplan.pixels.free_name import free_path
from printplan.record.atomic_write import read_text
from printplan.record.journal.entry import CAUSES, Outcome
from printplan.record.journal.from_record import entry_from_record
from printplan.record.journal.journal import create_journal, open_journal
from printplan.record.journal.misprints import CONFIDENCE, overall_rate
from printplan.record.journal.view import read_journal, write_journal_csv
from printplan.record.record_file import parse_record_text, read_record
from printplan.workbook.panels.panel import Words

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

    from printplan.record.decision_sheet.dialogue import Dialogue
    from printplan.record.journal.editions import Edition
    from printplan.record.journal.entry import JournalEntry, PrintEntry
    from printplan.record.journal.journal import Journal
    from printplan.record.journal.misprints import Rate
    from printplan.record.reprint import Difference


_CELL = "text-align:left;vertical-align:top;overflow-wrap:normal"
_LONG_CELL = "text-align:left;vertical-align:top;overflow-wrap:anywhere"
_UNKNOWN = "not known"


def dialogue_words(dialogue: Dialogue) -> Words:
    """What to set where the file is handed to the printer, and what must be off."""
    rows = [(it.what, it.value, it.attribute) for it in dialogue.settings]
    table = _table(("what", "set it to", "its name in IPP"), rows, dialogue.heading)
    off = "".join(f"<li>{escape(it)}</li>" for it in dialogue.off)
    return Words(
        f"{table.html}<p><b>Off:</b></p><ul>{off}</ul>",
        "\n".join([table.text, "Off:", *dialogue.off]),
    )


def differences_words(
    differences: Sequence[Difference], *, first: str, second: str
) -> Words:
    """
    In what two prints differ, side by side.

    Parameters
    ----------
    first, second : str
        Names of the two prints.
    """
    if not differences:
        same = "The two records are the same."
        return Words(f"<p>{same}</p>", same)
    rows = [(it.what, it.first, it.second) for it in differences]
    return _table(("what", first, second), rows, "In what the two prints differ")


def entry_words(entry: PrintEntry) -> Words:
    """One print as the journal would note it."""
    paper = ("paper used", _UNKNOWN)
    if entry.paper_used is not None:
        paper = (f"{entry.paper_used.unit} used", f"{entry.paper_used.amount:g}")
    cost = _UNKNOWN
    if entry.cost is not None:
        cost = f"{entry.cost.amount} {entry.cost.currency}: {entry.cost.basis}"
    rows = [
        ("printed at", moment_words(entry.printed_at)),
        ("plan", entry.plan_id),
        ("on", f"{entry.paper}, {entry.printer}"),
        ("picture", f"{entry.width_mm:.1f} × {entry.height_mm:.1f} mm"),
        ("came out", outcome_words(entry)),
        ("copies", str(entry.copies)),
        paper,
        ("ink used", _UNKNOWN if entry.ink_ml is None else f"{entry.ink_ml:g} ml"),
        ("cost", cost),
        ("note", entry.note or "none"),
    ]
    return _table((), rows, "The entry")


def entries_words(entries: Sequence[JournalEntry], *, heading: str) -> Words:
    """
    Prints in a table, in the order that they are given in.

    Parameters
    ----------
    heading : str
        What they are.
    """
    head = ("printed at", "print", "came out", "cost")
    return _table(head, [_row(kept) for kept in entries], heading, cell=_CELL)


def rate_words(rate: Rate) -> str:
    """How many prints were lost, and how surely the counts say so."""
    if rate.share is None:
        return "No print is noted yet, trials aside."
    return (
        f"{rate.lost} of {rate.prints} prints were lost, {rate.share:.1%}; the counts "
        f"allow a true share of {rate.low:.1%} to {rate.high:.1%} (Wilson interval, "
        f"{CONFIDENCE:.0%}). Trials are left out."
    )


def rates_words(rates: Mapping[str, Rate], *, heading: str) -> Words:
    """
    Shares of all prints in a table, with their intervals.

    Parameters
    ----------
    rates : mapping of str to Rate
        By cause, paper or finding; the empty name is that of no finding.
    heading : str
        What they are.
    """
    rows = [
        (
            name or "no finding",
            f"{rate.lost} of {rate.prints}",
            "" if rate.share is None else f"{rate.share:.1%}",
            f"{rate.low:.1%} to {rate.high:.1%}",
        )
        for name, rate in rates.items()
    ]
    head = ("what", "prints", "share", f"Wilson interval, {CONFIDENCE:.0%}")
    return _table(head, rows, heading)


def outcome_words(entry: PrintEntry) -> str:
    """How a print came out, and what it was lost to."""
    words = f"{entry.outcome}: {entry.cause}" if entry.cause else str(entry.outcome)
    if entry.caught_by:
        words += f' (the finding "{entry.caught_by}" had said so)'
    return words


def moment_words(moment: datetime) -> str:
    """A moment as the printer's own clock had it."""
    return f"{moment.day} {moment:%b %Y, %H:%M}"


def _row(kept: JournalEntry) -> tuple[str, ...]:
    entry, numbers = kept.entry, ", ".join(str(number) for number in kept.numbers)
    parts = [entry.plan_id, entry.paper]
    if entry.copies > 1:
        parts.append(f"{entry.copies} copies")
    if numbers:
        parts.append(f"no. {numbers}")
    return (
        moment_words(entry.printed_at),
        ", ".join(parts),
        outcome_words(entry),
        ""
        if entry.cost is None
        else f"{entry.cost.amount}\N{NO-BREAK SPACE}{entry.cost.currency}",
    )


def _table(
    head: Sequence[str],
    rows: Iterable[tuple[str, ...]],
    caption: str,
    *,
    cell: str = _LONG_CELL,
) -> Words:
    """Rows whose first cell says what they are about; `cell` is for the third on."""
    rows = list(rows)
    top = "".join(f"<th scope='col' style='{_CELL}'>{escape(it)}</th>" for it in head)
    body = "".join(_row_html(row, cell) for row in rows)
    return Words(
        f"<table><caption style='text-align:left'>{escape(caption)}</caption>"
        f"{f'<thead><tr>{top}</tr></thead>' if head else ''}"
        f"<tbody>{body}</tbody></table>",
        "\n".join([caption, *(" | ".join(row) for row in (head, *rows) if row)]),
    )


def _row_html(row: tuple[str, ...], cell: str) -> str:
    first, second, *others = map(escape, row)
    cells = "".join(f"<td style='{cell}'>{it}</td>" for it in others)
    return (
        f"<tr><th scope='row' style='{_CELL}'>{first}</th>"
        f"<td style='{_LONG_CELL}'>{second}</td>{cells}</tr>"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """
    What the journal holds, and what a chosen record adds.

    Attributes
    ----------
    newest : tuple of JournalEntry
        The last first.
    count : int
        Of all entries.
    findings : tuple of str
        What the chosen record found, by `topic`.
    """

    newest: tuple[JournalEntry, ...]
    count: int
    rate: Rate
    causes: tuple[str, ...]
    editions: tuple[Edition, ...]
    findings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Noting:
    """
    What is to be noted of a print.

    Attributes
    ----------
    printed_at : datetime or None
        With its zone; None for now.
    cause, caught_by : str
        Of a misprint; else not looked at.
    ink_ml : float or None
        Of one print.
    edition : str
        Title of the edition that its copies get numbers of; empty for none.
    edition_size : int or None
        Opens that edition with so many numbers first.
    """

    record: Path
    printed_at: datetime | None
    outcome: Outcome
    cause: str
    caught_by: str
    copies: int
    ink_ml: float | None
    edition: str
    edition_size: int | None
    note: str


def look(journal: Path, record: Path | None, *, most: int) -> Seen:
    """
    Look into a journal, which need not be there yet.

    Parameters
    ----------
    record : Path or None
        The print that is to be noted.
    most : int
        Entries to show.

    Raises
    ------
    PrintPlanError
        If one of them cannot be read.
    """
    findings = () if record is None else read_record(record).findings
    abouts = tuple(dict.fromkeys(kept.finding.topic for kept in findings))
    if not journal.exists():
        return Seen(
            newest=(),
            count=0,
            rate=overall_rate(()),
            causes=CAUSES,
            editions=(),
            findings=abouts,
        )
    with read_journal(journal) as opened:
        entries, causes = opened.entries(), opened.causes()
        editions = opened.editions()
    return Seen(
        newest=entries[: -most - 1 : -1],
        count=len(entries),
        rate=overall_rate(entries),
        causes=causes,
        editions=editions,
        findings=abouts,
    )


def note_print(journal: Path, noting: Noting, *, currency: str = "") -> JournalEntry:
    """
    Note a print; the first one starts the journal.

    Parameters
    ----------
    currency : str, optional
        Of the paper book.

    Raises
    ------
    PrintPlanError
        If it contradicts itself, or journal or record cannot be used; then nothing
        is noted, no edition opened, and no journal started.
    """
    now = datetime.now().astimezone()
    text = read_text(noting.record)
    is_lost = noting.outcome is Outcome.MISPRINT
    entry = entry_from_record(
        parse_record_text(text, where=str(noting.record)),
        printed_at=noting.printed_at or now,
        outcome=noting.outcome,
        cause=noting.cause if is_lost else "",
        caught_by=noting.caught_by if is_lost else "",
        copies=noting.copies,
        ink_ml=noting.ink_ml,
        currency=currency,
        note=noting.note,
    )

    def add(opened: Journal) -> JournalEntry:
        if noting.edition_size is not None:
            opened.open_edition(noting.edition, noting.edition_size, opened_at=now)
        return opened.add(entry, noted_at=now, record_text=text, edition=noting.edition)

    if journal.exists():
        with open_journal(journal) as opened, opened.together():
            return add(opened)
    first: list[JournalEntry] = []
    create_journal(
        journal, started_at=now, fill=lambda opened: first.append(add(opened))
    )
    return first[0]


def export(journal: Path) -> Path:
    """
    Write all entries as a table beside the journal.

    Returns
    -------
    Path
        A CSV file under a name that was free.

    Raises
    ------
    RecordError
        If the journal cannot be read, or the table not be written.
    """
    with read_journal(journal) as opened:
        entries = opened.entries()
    path = free_path(journal.with_suffix(".csv"))
    write_journal_csv(entries, path)
    return path
