"""Where are the studio's papers and printers written down, and how are they changed?"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT

from printplan.errors import RecordError
from printplan.media import Paper, Printer, Surface
from printplan.record.old_books import OLD_LIST, with_stock
from printplan.record.paper_book import PaperBook as PaperBook  # noqa: PLC0414 - given on
from printplan.record.toml_reading import parse_text, value_from_table
from printplan.record.toml_writing import text_from_value, write_into
from printplan.record.whole_file import FileKind, locked, read_text, write_text

if TYPE_CHECKING:
    from collections.abc import Callable

BOOK_KIND: Final = FileKind(
    name="printplan paper book",
    version=1,
    heading="Papers and printers of one studio. Your own comments stay. Any length\n"
    "name_mm may be given in inches instead: name_in.",
)

_MOST_TRIES = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """A book as its file lays it out; a list without tables is left out."""

    currency: str | None = None
    printer: tuple[Printer, ...] | None = None
    paper: tuple[Paper, ...] | None = None


BOOK_COMMENTS: Final = {
    "currency": "of all prices that name none: ISO 4217, such as EUR",
    "printer.black_inks": "of which one prints black at a time",
    "printer.input_ppi": "taken without resampling",
    "printer.bit_depths": "per channel",
    "printer.inks": "all of them",
    "printer.longest_print_mm": "that printer and driver make",
    "printer.ink_price_per_ml": "in the book's currency",
    "printer.feeds": "one table for each way in",
    "printer.feeds.shortest_mm": "along the feed",
    "printer.feeds.longest_mm": "along the feed",
    "printer.feeds.narrowest_mm": "across the feed",
    "printer.feeds.widest_mm": "across the feed",
    "printer.feeds.thinnest_um": "thickness of paper, 1000 um = 1 mm",
    "printer.feeds.thickest_um": "thickness of paper",
    "printer.feeds.takes": "sheets | rolls",
    "printer.feeds.margins": "what cannot be printed on",
    "printer.feeds.margins.leading_mm": "at the edge that enters first",
    "printer.feeds.margins.trailing_mm": "at the edge that enters last",
    "printer.feeds.margins.left_mm": "printed side up, leading edge at the top",
    "paper.surface": " | ".join(Surface),
    "paper.weight_gsm": "grams per square metre",
    "paper.spread_um": "estimated spread of ink and light (standard deviation); a "
    "reading goes before it",
    "paper.white_lab": "bare paper as measured: L*, a*, b* under D50",
    "paper.drying_h": "hours before stacking, framing or shipping",
    "paper.stock": "one table for each size that is kept; a roll has roll_width_mm, "
    "roll_length_m and left_m",
    "paper.stock.sheet": "A3, 13x19 in and the like",
    "paper.stock.sheets_left": "leave it out if nobody counts",
    "paper.stock.price_each": "of one sheet, or of one whole roll",
    "paper.on_printer": "one table for each printer",
    "paper.on_printer.profile": "from this file's folder",
    "paper.on_printer.media_type": "as the printer's driver calls it",
    "paper.on_printer.profile_sha256": "of that file; empty if not yet taken",
    "paper.on_printer.spread_readings": "one table for each scan of a trial sheet; "
    "delete a wrong one",
    "paper.on_printer.spread_readings.sigma_um": "spread of ink and light (standard "
    "deviation)",
    "paper.on_printer.spread_readings.uncertainty_um": "its standard error",
    "paper.on_printer.spread_readings.edges": "that it was taken from",
    "paper.on_printer.spread_readings.includes_scanner": "whether the scanner's own "
    "spread is in it",
    "paper.on_printer.restore_picks": "one table for each trial sheet; delete a wrong "
    "one",
    "paper.on_printer.restore_picks.picked": "the patch that looked best",
    "paper.on_printer.restore_picks.distance_mm": "that it was looked at from",
}
"""What a new book says behind the keys of its first printer and paper."""


def _parse(text: str, where: str) -> PaperBook:
    """Read a book; its profiles' paths are as written."""
    tables = with_stock(parse_text(text, BOOK_KIND, where=where), where)
    layout = value_from_table(_Layout, tables, where=where)
    try:
        return PaperBook(
            printers=layout.printer or (),
            papers=layout.paper or (),
            currency=layout.currency,
        )
    except RecordError as error:
        raise RecordError(f"{where}: {error.problem}", remedy=error.remedy) from error


def _with_profiles(paper: Paper, rewrite: Callable[[str], str]) -> Paper:
    pairs = (replace(it, profile=rewrite(it.profile)) for it in paper.on_printer)
    return replace(paper, on_printer=tuple(pairs))


def _below(folder: Path, profile: str) -> str:
    """Path from the book's folder if the profile lies below it."""
    path = Path(profile)
    return (
        path.relative_to(folder).as_posix() if path.is_relative_to(folder) else profile
    )


def read_paper_book(path: str | Path) -> PaperBook:
    """
    Read a paper book.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    PaperBook
        The profiles' paths are absolute. The profiles are not opened.

    Raises
    ------
    RecordError
        If it cannot be read, is not a paper book, or contradicts itself.
    SpecError
        If a value leaves its range.
    """
    folder = Path(path).absolute().parent
    book = _parse(read_text(path), str(path))
    papers = (
        _with_profiles(paper, lambda profile: str(folder / profile))
        for paper in book.papers
    )
    return replace(book, papers=tuple(papers))


def write_paper_book(
    book: PaperBook, path: str | Path, *, overwrite: bool = False
) -> None:
    """
    Write a new paper book, whole or not at all.

    Parameters
    ----------
    book : PaperBook
        A profile below the folder of `path` is written as a relative path.
    path : str or Path
    overwrite : bool, optional
        Permits a book of that name to be replaced, with all comments in it; see
        `update_paper` for a change that keeps them.

    Raises
    ------
    RecordError
        If it exists already or cannot be written.
    """
    folder = Path(path).absolute().parent
    papers = tuple(
        _with_profiles(paper, lambda profile: _below(folder, profile))
        for paper in book.papers
    )
    layout = _Layout(
        currency=book.currency,
        printer=book.printers or None,
        paper=papers or None,
    )
    text = text_from_value(layout, BOOK_KIND, BOOK_COMMENTS)
    write_text(text, path, BOOK_KIND, overwrite=overwrite)


def update_paper(path: str | Path, paper: Paper) -> None:
    """
    Replace one paper in a book; all else stays as it was typed.

    Parameters
    ----------
    path : str or Path
        The paper book.
    paper : Paper
        Takes the place of the paper of that name, whatever was changed in it
        meanwhile; see `change_paper` for a change that keeps that too.

    Raises
    ------
    RecordError, SpecError
        As `change_paper` raises them.
    """
    change_paper(path, paper.name, lambda _: paper)


def change_paper(
    path: str | Path, name: str, change: Callable[[Paper], Paper]
) -> Paper:
    """
    Change one paper in a book from what it is now; all else stays as it was typed.

    Parameters
    ----------
    path : str or Path
        The paper book.
    name : str
        Of the paper.
    change : callable
        Makes the new paper, of the same name, out of the one that the book holds,
        its profiles' paths absolute. It may be asked several times. Of the paper's
        keys, those that it does not change stay as they were typed too.

    Returns
    -------
    Paper
        As the book now holds it.

    Raises
    ------
    RecordError
        If the book has no such paper, would contradict itself, or cannot be read
        or written.
    SpecError
        If a value in the book leaves its range.

    Notes
    -----
    Writers wait for each other at a lock file beside the book, and each reads the
    book after it got the lock, so no change is lost; see `locked`. A writer that
    lost its lock meanwhile, or finds that an editor has saved the book, starts again
    from what is there now.
    """
    target = Path(path).resolve()
    folder = Path(path).absolute().parent
    for _ in range(_MOST_TRIES):
        with locked(target) as still_locked:
            text = read_text(target)
            edited, paper = _changed(text, name, change, folder, str(path))
            if edited == text or write_text(
                edited,
                target,
                BOOK_KIND,
                overwrite=True,
                permitted=lambda: still_locked() and read_text(target) == text,  # noqa: B023 - asked in this turn
            ):
                return paper
    raise RecordError(
        f"{path} changes all the time; it was not written.",
        remedy="Close the other programs that write it, and try again.",
    )


def _changed(
    text: str, name: str, change: Callable[[Paper], Paper], folder: Path, where: str
) -> tuple[str, Paper]:
    """The book's text with one paper changed, and that paper."""
    book = _parse(text, where)
    old = book.paper(name)
    paper = change(_with_profiles(old, lambda profile: str(folder / profile)))
    if paper.name != name:
        raise RecordError(
            f'{where}: the paper "{name}" would become "{paper.name}".',
            remedy="Keep its name here; type a new name into the paper book itself.",
        )
    typed = {str(folder / it.profile): it.profile for it in old.on_printer}
    new = _with_profiles(paper, lambda it: typed.get(it) or _below(folder, it))
    papers = (new if it is old else it for it in book.papers)
    wanted = replace(book, papers=tuple(papers))
    try:
        document = tomlkit.parse(text)
        tables = document["paper"]
        # Tables of two lists in turn are read, but not kept in their order.
        if not isinstance(tables, AoT) or document.as_string() != text:
            raise _cannot_edit(paper, where)
        table = tables[book.papers.index(old)]
        known = old
        if new.stock != old.stock and OLD_LIST in table:
            del table[OLD_LIST]
            known = replace(old, stock=())
        write_into(table, new, BOOK_COMMENTS, old=known, path="paper")
    except TOMLKitError as error:
        raise _cannot_edit(paper, where) from error
    edited = document.as_string()
    if text.count("\r\n") == text.count("\n"):
        edited = re.sub("\r?\n", "\r\n", edited)
    if _parse(edited, where) != wanted:
        raise _cannot_edit(paper, where)
    return edited, paper


def _cannot_edit(paper: Paper, where: str) -> RecordError:
    return RecordError(
        f'{where}: the paper "{paper.name}" cannot be changed in place.',
        remedy="Put the tables [[paper]] one below the other, after the printers.",
    )
