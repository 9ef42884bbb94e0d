"""What papers and printers does the studio have, and where are they written down?"""

from __future__ import annotations

import os
import re
import secrets
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from time import monotonic, sleep
from typing import TYPE_CHECKING, Final, TypeVar

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT

from printplan.errors import RecordError
from printplan.media import Paper, PaperOnPrinter, Printer, Surface
from printplan.record.toml_values import (
    FileKind,
    did_you_mean,
    parse_text,
    read_text,
    text_from_value,
    value_from_table,
    write_into,
    write_text,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator

BOOK_KIND: Final = FileKind(
    name="printplan paper book",
    version=1,
    heading="Papers and printers of one studio. Your own comments stay. Any length\n"
    "name_mm may be given in inches instead: name_in.",
)

STALE_S = 10.0
"""A lock that has not changed for so long was left behind: a change takes
milliseconds. Our choice."""

PATIENCE_S = 30.0
"""Longest wait for other writers. Our choice."""

_POLL_S = 0.01
_MOST_TRIES = 100

_Named = TypeVar("_Named", Printer, Paper)


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperBook:
    """
    Printers, papers, and the settings of each pair; it agrees with itself.

    Attributes
    ----------
    printers : tuple of Printer
    papers : tuple of Paper
    """

    printers: tuple[Printer, ...]
    papers: tuple[Paper, ...]

    def __post_init__(self) -> None:
        _require_different("The book", "printers", (it.name for it in self.printers))
        _require_different("The book", "papers", (it.name for it in self.papers))
        for printer in self.printers:
            feeds = (feed.name for feed in printer.feeds)
            owner = f'The printer "{printer.name}"'
            _require_different(owner, "feed paths", feeds)
            _require_different(owner, "black inks", printer.black_inks)
        for paper in self.papers:
            owner = f'The paper "{paper.name}"'
            pairs = (pair.printer for pair in paper.on_printer)
            _require_different(owner, "settings for", pairs)
            for pair in paper.on_printer:
                known = [printer.name for printer in self.printers]
                _require_known(owner, "printer", [pair.printer], known)
                _require_pair(owner, pair, self.printer(pair.printer))

    def paper(self, name: str) -> Paper:
        """
        The paper of that name.

        Parameters
        ----------
        name : str

        Returns
        -------
        Paper

        Raises
        ------
        RecordError
            If the book has no such paper.
        """
        return _by_name("paper", name, self.papers)

    def printer(self, name: str) -> Printer:
        """
        The printer of that name.

        Parameters
        ----------
        name : str

        Returns
        -------
        Printer

        Raises
        ------
        RecordError
            If the book has no such printer.
        """
        return _by_name("printer", name, self.printers)


def _by_name(what: str, name: str, among: tuple[_Named, ...]) -> _Named:
    for one in among:
        if one.name == name:
            return one
    raise RecordError(
        f'The paper book has no {what} "{name}".',
        remedy=did_you_mean(name, [one.name for one in among]),
    )


def _require_different(owner: str, what: str, names: Iterable[str]) -> None:
    """Names are told apart by people, so case does not make a difference."""
    seen = set()
    for name in names:
        if not name.strip():
            raise RecordError(
                f"{owner} has {what} without a name.", remedy="Give each its name."
            )
        if name.casefold() in seen:
            raise RecordError(
                f'{owner} has {what} "{name}" twice.',
                remedy="Remove one, or give each a name of its own.",
            )
        seen.add(name.casefold())


def _require_pair(owner: str, pair: PaperOnPrinter, printer: Printer) -> None:
    owner = f'{owner} on "{printer.name}"'
    if not pair.profile.strip():
        raise RecordError(
            f"{owner} has no profile.",
            remedy="Name the file of the profile made for this pair.",
        )
    feeds = [feed.name for feed in printer.feeds]
    _require_known(owner, "black ink", [pair.black_ink], printer.black_inks)
    _require_known(owner, "feed path", pair.feeds, feeds)


def _require_known(
    owner: str, what: str, names: Iterable[str], known: Collection[str]
) -> None:
    for name in names:
        if name not in known:
            raise RecordError(
                f'{owner} names the {what} "{name}", which is not there.',
                remedy=did_you_mean(name, known),
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """A book as its file lays it out; a list without tables is left out."""

    printer: tuple[Printer, ...] | None = None
    paper: tuple[Paper, ...] | None = None


BOOK_COMMENTS: Final = {
    "printer.black_inks": "of which one prints black at a time",
    "printer.input_ppi": "taken without resampling",
    "printer.bit_depths": "per channel",
    "printer.feeds": "one table for each way in",
    "printer.feeds.shortest_mm": "along the feed",
    "printer.feeds.longest_mm": "along the feed",
    "printer.feeds.narrowest_mm": "across the feed",
    "printer.feeds.widest_mm": "across the feed",
    "printer.feeds.thinnest_um": "thickness of paper, 1000 um = 1 mm",
    "printer.feeds.thickest_um": "thickness of paper",
    "printer.feeds.margins": "what cannot be printed on",
    "printer.feeds.margins.leading_mm": "at the edge that enters first",
    "printer.feeds.margins.trailing_mm": "at the edge that enters last",
    "printer.feeds.margins.left_mm": "printed side up, leading edge at the top",
    "paper.surface": " | ".join(Surface),
    "paper.weight_gsm": "grams per square metre",
    "paper.spread_um": "standard deviation of the spread of ink and light",
    "paper.sheets": "sizes kept of this paper: A3, 13x19 in and the like",
    "paper.on_printer": "one table for each printer",
    "paper.on_printer.profile": "from this file's folder",
    "paper.on_printer.media_type": "as the printer's driver calls it",
    "paper.on_printer.profile_sha256": "of that file; empty if not yet taken",
}
"""What a new book says behind the keys of its first printer and paper."""


def _parse(text: str, where: str) -> PaperBook:
    """Read a book; its profiles' paths are as written."""
    layout = value_from_table(
        _Layout, parse_text(text, BOOK_KIND, where=where), where=where
    )
    try:
        return PaperBook(printers=layout.printer or (), papers=layout.paper or ())
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
    layout = _Layout(printer=book.printers or None, paper=papers or None)
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
        Takes the place of the paper of that name. Of its keys, those that do not
        change stay as they were typed too.

    Raises
    ------
    RecordError
        If the book has no such paper, would contradict itself, or cannot be read
        or written.
    SpecError
        If a value in the book leaves its range.

    Notes
    -----
    Writers wait for each other at a lock file beside the book. One that somebody
    left behind is taken away after `STALE_S`. A writer that lost its lock meanwhile,
    or finds that an editor has saved the book, starts again from what is there now.
    """
    target = Path(path).resolve()
    folder = Path(path).absolute().parent
    for _ in range(_MOST_TRIES):
        with _locked(target) as still_locked:
            text = read_text(target)
            edited = _with_paper(text, paper, folder, str(path))
            if edited == text or write_text(
                edited,
                target,
                BOOK_KIND,
                overwrite=True,
                permitted=lambda: still_locked() and read_text(target) == text,  # noqa: B023 - asked in this turn
            ):
                return
    raise RecordError(
        f"{path} changes all the time; it was not written.",
        remedy="Close the other programs that write it, and try again.",
    )


def _with_paper(text: str, paper: Paper, folder: Path, where: str) -> str:
    """The book's text with one paper replaced."""
    book = _parse(text, where)
    old = book.paper(paper.name)
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
        write_into(table, new, BOOK_COMMENTS, old=old, path="paper")
    except TOMLKitError as error:
        raise _cannot_edit(paper, where) from error
    edited = document.as_string()
    if text.count("\r\n") == text.count("\n"):
        edited = re.sub("\r?\n", "\r\n", edited)
    if _parse(edited, where) != wanted:
        raise _cannot_edit(paper, where)
    return edited


def _cannot_edit(paper: Paper, where: str) -> RecordError:
    return RecordError(
        f'{where}: the paper "{paper.name}" cannot be changed in place.',
        remedy="Put the tables [[paper]] one below the other, after the printers.",
    )


@contextmanager
def _locked(path: Path) -> Iterator[Callable[[], bool]]:
    """Hold the lock of a file; tells whether it is still held."""
    lock = path.with_name(f".{path.name}.lock")
    mark = _take(lock)
    try:
        yield lambda: _mark(lock) == mark
    finally:
        if _mark(lock) == mark:
            lock.unlink(missing_ok=True)


def _take(lock: Path) -> tuple[int, int]:
    """Make the lock file, waiting for others, and return its mark."""
    began_s = changed_s = monotonic()
    seen = None
    while True:
        try:
            handle = os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY)
        except FileExistsError:
            pass
        except OSError as error:
            raise RecordError(
                f"{lock} cannot be written ({error.strerror or error}).",
                remedy="Choose a paper book in a folder that you may write to.",
            ) from error
        else:
            try:
                made = os.fstat(handle)
            finally:
                os.close(handle)
            return made.st_ino, made.st_mtime_ns
        now_s = monotonic()
        if seen != (seen := _mark(lock)):
            changed_s = now_s
        elif seen is not None and now_s - changed_s > STALE_S:
            _take_away(lock)
        if now_s - began_s > PATIENCE_S:
            raise RecordError(
                f"{lock} has been there for {PATIENCE_S:g} s.",
                remedy="Delete it if nothing else is changing the paper book.",
            )
        sleep(_POLL_S)


def _take_away(lock: Path) -> None:
    """Remove a lock that was left behind; of two that try, one finds it gone."""
    aside = lock.with_name(f".printplan-{secrets.token_hex(8)}.part")
    try:
        lock.replace(aside)
        aside.unlink()
    except FileNotFoundError:
        return


def _mark(lock: Path) -> tuple[int, int] | None:
    """What tells one lock file from the next of that name."""
    try:
        found = lock.stat()
    except FileNotFoundError:
        return None
    return found.st_ino, found.st_mtime_ns
