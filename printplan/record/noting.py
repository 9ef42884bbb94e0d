"""How is a print noted, or struck out, and the paper in stock counted with it?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from printplan.checks.paper import stock_for
from printplan.errors import PrintPlanError, RecordError
from printplan.foreign_file import is_there
from printplan.plan import resolve
from printplan.record.book_changes import change_book
from printplan.record.journal.entry import PaperUnit
from printplan.record.journal.journal import create_journal, open_journal
from printplan.record.journal.stock_changes import Settled, StockChange
from printplan.record.paper_book import read_paper_book
from printplan.record.record_file import parse_record_text
from printplan.sizing.media_sizes import canonical_media_size
from printplan.spec import Delivery

if TYPE_CHECKING:
    from pathlib import Path

    from printplan.media import Stock
    from printplan.record.journal.entry import JournalEntry, PrintEntry
    from printplan.record.journal.journal import Journal
    from printplan.record.paper_book import PaperBook


def note_print(  # noqa: PLR0913 - a print, its edition and its paper
    journal: Path,
    entry: PrintEntry,
    record_text: str,
    *,
    edition: str = "",
    edition_size: int | None = None,
    book: Path | None = None,
) -> JournalEntry:
    """
    Note a print; the first one starts the journal.

    Parameters
    ----------
    record_text : str
        Of the print's record.
    edition : str, optional
        Title of the edition that its copies get numbers of; empty for none.
    edition_size : int or None, optional
        Opens that edition with so many numbers first.
    book : Path or None, optional
        The paper book whose stock the print's paper is taken from. `settle_stock`
        then writes it there.

    Raises
    ------
    PrintPlanError
        If journal, entry and edition do not go together, or the paper book cannot be
        read; then nothing is noted, no edition opened, and no journal started.

    Notes
    -----
    What is taken is noted together with the print, before the paper book is changed:
    a computer that stops in between loses no sheet and counts none twice.
    """
    now = datetime.now().astimezone()

    def add(opened: Journal) -> JournalEntry:
        if edition_size is not None:
            opened.open_edition(edition, edition_size, opened_at=now)
        noted = opened.add(
            entry, noted_at=now, record_text=record_text, edition=edition
        )
        taken = None if book is None else _taken(noted, record_text, book, now)
        if taken is not None:
            opened.note_stock_change(taken)
        return noted

    if is_there(journal):
        with open_journal(journal) as opened, opened.together():
            return add(opened)
    first: list[JournalEntry] = []
    create_journal(
        journal, started_at=now, fill=lambda opened: first.append(add(opened))
    )
    return first[0]


def strike_print(
    journal: Path, current: JournalEntry, *, why: str, book: Path | None = None
) -> JournalEntry:
    """
    Strike an entry out, and give its paper back to the stock.

    Parameters
    ----------
    current : JournalEntry
        As it was read.
    why : str
        The reason.
    book : Path or None, optional
        As for `note_print`.

    Raises
    ------
    RecordError
        If it was changed since it was read, or no reason is given.

    Notes
    -----
    So much is given back as the entry has taken, which is less than it used where the
    book had less.
    """
    now = datetime.now().astimezone()
    with open_journal(journal) as opened, opened.together():
        struck = opened.strike(current, changed_at=now, why=why)
        if book is not None and not current.is_struck:
            for back in _given_back(opened, struck, book, now):
                opened.note_stock_change(back)
        return struck


@dataclass(frozen=True, slots=True, kw_only=True)
class StockTold:
    """
    What became of a change of the stock.

    Attributes
    ----------
    stock : Stock or None
        As the book has it now; None if it has no such size any more.
    wanted : float or None
        What the print used, if the book had less.
    """

    change: StockChange
    settled: Settled
    stock: Stock | None
    wanted: float | None = None

    @property
    def words(self) -> str:
        """What is left, and whether more is to be bought."""
        change, stock = self.change, self.stock
        name = f"{change.paper}, {change.size}"
        if self.settled is Settled.GONE or stock is None or stock.left is None:
            return f"The paper book no longer counts {name}: nothing was changed there."
        if self.settled is Settled.UNSURE:
            return (
                f"The paper book has {_amount(stock.left, change.unit)} of {name}. "
                f"Whether the {_amount(abs(change.taken), change.unit)} of entry "
                f"{change.entry_id} are counted in that is not known, since the book "
                "was changed meanwhile: count them."
            )
        verb = "taken" if change.taken > 0 else "put back"
        words = (
            f"{name}: {_amount(abs(change.taken), change.unit)} {verb}, "
            f"{_amount(stock.left, change.unit)} left."
        )
        if self.wanted is not None:
            words += (
                f" The print used {_amount(self.wanted, change.unit)}, more than the "
                "book had: count them."
            )
        if stock.reorder_at is not None and stock.left <= stock.reorder_at:
            words += (
                f" More is to be bought at {_amount(stock.reorder_at, change.unit)}."
            )
        return words


def settle_stock(
    journal: Path, book: Path, *, noted: JournalEntry | None = None
) -> tuple[StockTold, ...]:
    """
    Bring the paper book up to what the journal noted as taken or given back.

    Parameters
    ----------
    noted : JournalEntry or None, optional
        That was noted or struck out just now: the book is known not to have followed.

    Returns
    -------
    tuple of StockTold
        Of each change that was open.

    Raises
    ------
    PrintPlanError
        If journal or book cannot be read or written. What is open stays so, and is
        made up for the next time.

    Notes
    -----
    A change that an ended process left open was written into the book if the book has
    the number after it, and was not if it has the one before. With any other number
    nobody knows: the book stays as it is, and a person is told to count. The journal
    is held meanwhile, so that two workbooks do not settle the same change.
    """
    told: list[StockTold] = []
    if not is_there(journal):
        return ()
    now = datetime.now().astimezone()
    with open_journal(journal) as opened:
        while (change := _first_open(opened)) is not None:
            is_fresh = noted is not None and change.entry_id == noted.entry_id
            with opened.together():
                if _first_open(opened) != change:
                    continue
                one = _counted(change, book, is_fresh=is_fresh)
                opened.settle_stock_change(change, one.settled, settled_at=now)
            used = noted.entry.paper_used if noted is not None and is_fresh else None
            if used is not None and change.taken > 0 and used.amount > change.before:
                one = replace(one, wanted=used.amount)
            told.append(one)
    return tuple(told)


def _first_open(journal: Journal) -> StockChange | None:
    return next((it for it in journal.stock_changes() if it.settled is None), None)


def _counted(change: StockChange, book: Path, *, is_fresh: bool) -> StockTold:
    """Write one change into the book, if it is not there already."""
    settled: list[Settled] = []

    def changed(held: PaperBook) -> PaperBook:
        settled[:] = [Settled.GONE]
        found = _stock_named(held, change.paper, change.size)
        if found is None or found.left is None:
            return held
        if is_fresh or _same(found.left, change.before):
            settled[:] = [Settled.COUNTED]
            left = max(0.0, round(found.left - change.taken, 3))
            return _with_stock(held, change.paper, found, found.with_left(left))
        settled[:] = [
            Settled.COUNTED if _same(found.left, change.after) else Settled.UNSURE
        ]
        return held

    now = change_book(book, changed)
    return StockTold(
        change=change,
        settled=settled[0],
        stock=_stock_named(now, change.paper, change.size),
    )


def _taken(
    noted: JournalEntry, record_text: str, book: Path, now: datetime
) -> StockChange | None:
    """What a print takes from the stock; None if nobody counts that."""
    used = noted.entry.paper_used
    if not record_text or used is None or not is_there(book):
        return None
    record = parse_record_text(record_text, where="the record")
    if record.spec.delivery.colour is Delivery.NAMED_SPACE:
        return None
    held = read_paper_book(book)
    try:
        paper = held.paper(record.paper.name)
    except RecordError:  # it left the book: nothing is counted there
        return None
    plan = resolve(record.facts, record.paper, record.printer, record.spec)
    stock = stock_for(replace(plan, paper=paper))
    if stock is None or not stock.left:
        return None
    return StockChange(
        entry_id=noted.entry_id,
        changed_at=now,
        paper=paper.name,
        size=stock.words,
        unit=used.unit,
        before=stock.left,
        after=max(0.0, round(stock.left - used.amount, 3)),
    )


def _given_back(
    journal: Journal, struck: JournalEntry, book: Path, now: datetime
) -> list[StockChange]:
    """What an entry took and has not given back, by the size it was taken from."""
    took: dict[tuple[str, str, PaperUnit], float] = {}
    for change in journal.stock_changes():
        if change.entry_id == struck.entry_id and change.settled in {
            None,
            Settled.COUNTED,
        }:
            key = (change.paper, change.size, change.unit)
            took[key] = round(took.get(key, 0.0) + change.taken, 3)
    back = []
    for (paper, size, unit), taken in took.items():
        found = _stock_named(read_paper_book(book), paper, size)
        if taken == 0 or found is None or found.left is None:
            continue
        back.append(
            StockChange(
                entry_id=struck.entry_id,
                changed_at=now,
                paper=paper,
                size=size,
                unit=unit,
                before=found.left,
                after=round(found.left + taken, 3),
            )
        )
    return back


def _stock_named(book: PaperBook, paper: str, size: str) -> Stock | None:
    """The size of a paper that a change names, however the book writes it now."""
    try:
        kept = book.paper(paper).stock
    except RecordError:
        return None
    return next((it for it in kept if _key(it.words) == _key(size)), None)


def _key(size: str) -> str:
    try:
        return canonical_media_size(size)
    except PrintPlanError:  # a roll, which is named by its width
        return size


def _with_stock(book: PaperBook, name: str, old: Stock, new: Stock) -> PaperBook:
    paper = book.paper(name)
    stock = tuple(new if it is old else it for it in paper.stock)
    papers = (replace(it, stock=stock) if it is paper else it for it in book.papers)
    return replace(book, papers=tuple(papers))


def _same(one: float, other: float) -> bool:
    return round(one, 3) == round(other, 3)


def _amount(amount: float, unit: PaperUnit) -> str:
    if unit is PaperUnit.SHEETS:
        return f"{amount:g} sheet{'' if amount == 1 else 's'}"
    return f"{amount:g} m"
