"""How does a paper book change without losing what a person typed?"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from printplan.colour.profile_gate import require_output_profile
from printplan.colour.profiles import open_profile
from printplan.errors import RecordError
from printplan.media import Paper, Printer
from printplan.record.atomic_write import change_text
from printplan.record.paper_book import (
    BOOK_COMMENTS,
    BOOK_HEADER,
    book_layout,
    parse_book,
    profile_path_below,
    read_paper_book,
    whole_profile_path,
    with_book_profiles,
)
from printplan.record.toml_writing import cannot_edit, edited_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.record.paper_book import PaperBook

_Named = TypeVar("_Named", Printer, Paper)


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
        As `change_book` raises them.
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
        Makes the new paper out of the one that the book holds, its profiles' paths
        absolute. Under a new name it is found by its former one too.

    Returns
    -------
    Paper
        As the book now holds it.

    Raises
    ------
    RecordError, SpecError
        As `change_book` raises them.
    """
    changed: list[Paper] = []

    def with_it(book: PaperBook) -> PaperBook:
        old = book.paper(name)
        _require_own("paper", old.name, [it.name for it in book.papers])
        changed[:] = [_with_former_name(old, change(old))]
        return replace(
            book,
            papers=tuple(changed[0] if it is old else it for it in book.papers),
        )

    return change_book(path, with_it).paper(changed[0].name)


def _require_own(what: str, name: str, own: list[str]) -> None:
    if name not in own:
        raise RecordError(
            f'"{name}" is no {what} of the studio, but of a print service.',
            remedy="Change the service's table in the paper book itself.",
        )


def record_profile(
    path: str | Path,
    profile: str | Path,
    *,
    paper: str,
    printer: str,
    setup: str = "",
) -> Paper:
    """
    Write another profile of a paper on a printer into a book.

    Parameters
    ----------
    path : str or Path
        The paper book.
    profile : str or Path
        An ICC output profile made for this paper on this printer.
    paper, printer : str
        Their names.
    setup : str, optional
        As for `Paper.on`.

    Returns
    -------
    Paper
        As the book now holds it.

    Raises
    ------
    ProfileError
        If it is no output profile.
    RecordError, SpecError
        As `change_book` raises them.
    """
    whole = str(Path(profile).absolute())
    sha256 = require_output_profile(open_profile(whole)).sha256
    by = read_paper_book(path).printer(printer)

    def recorded(old: Paper) -> Paper:
        before = old.on(by, setup)
        new = replace(before, profile=whole, profile_sha256=sha256)
        pairs = (new if it is before else it for it in old.on_printer)
        return replace(old, on_printer=tuple(pairs))

    return change_paper(path, paper, recorded)


def change_printer(
    path: str | Path, name: str, change: Callable[[Printer], Printer]
) -> Printer:
    """
    Change one printer in a book from what it is now; all else stays as it was typed.

    Parameters
    ----------
    path : str or Path
        The paper book.
    name : str
        Of the printer.
    change : callable
        Makes the new printer out of the one that the book holds. Under a new name it
        is found by its former one too, and the papers' settings follow.

    Returns
    -------
    Printer
        As the book now holds it.

    Raises
    ------
    RecordError, SpecError
        As `change_book` raises them.
    """
    changed: list[Printer] = []

    def with_it(book: PaperBook) -> PaperBook:
        old = book.printer(name)
        _require_own("printer", old.name, [it.name for it in book.printers])
        changed[:] = [_with_former_name(old, change(old))]
        new = changed[0]
        return replace(
            book,
            printers=tuple(new if it is old else it for it in book.printers),
            papers=tuple(_following(it, old.name, new.name) for it in book.papers),
        )

    return change_book(path, with_it).printer(changed[0].name)


def add_printer(path: str | Path, printer: Printer) -> Printer:
    """
    Write another printer into a book; all else stays as it was typed.

    Raises
    ------
    RecordError, SpecError
        If the book has one of that name, or as `change_book` raises them.
    """
    return change_book(
        path, lambda book: replace(book, printers=(*book.printers, printer))
    ).printer(printer.name)


def add_paper(path: str | Path, paper: Paper) -> Paper:
    """
    Write another paper into a book; all else stays as it was typed.

    Parameters
    ----------
    paper : Paper
        A profile below the book's folder is written as a relative path.

    Raises
    ------
    RecordError, SpecError
        If the book has one of that name, or as `change_book` raises them.
    """
    return change_book(
        path, lambda book: replace(book, papers=(*book.papers, paper))
    ).paper(paper.name)


def change_book(
    path: str | Path, change: Callable[[PaperBook], PaperBook]
) -> PaperBook:
    """
    Change a book from what it is now; all that does not differ stays as it was typed.

    Parameters
    ----------
    path : str or Path
        The paper book.
    change : callable
        Makes the new book out of the present one, its profiles' paths absolute. It
        may be asked several times.

    Returns
    -------
    PaperBook
        As it is now.

    Raises
    ------
    RecordError
        If the book would contradict itself, or cannot be read or written.
    SpecError
        If a value leaves its range.

    Notes
    -----
    No change of another writer is lost; see `change_text`.
    """
    folder, where = Path(path).absolute().parent, str(path)
    text = change_text(
        path, BOOK_HEADER, lambda text: _changed(text or "", change, folder, where)
    )
    return with_book_profiles(
        parse_book(text, where), lambda it: whole_profile_path(folder, it)
    )


def _with_former_name(old: _Named, new: _Named) -> _Named:
    """A printer or paper that is still found by the name it had."""
    if new.name == old.name:
        return new
    former = (it for it in (*new.former_names, old.name) if it != new.name)
    return replace(new, former_names=tuple(dict.fromkeys(former)))


def _following(paper: Paper, old_name: str, new_name: str) -> Paper:
    """A paper whose settings name a printer by its new name."""
    pairs = (
        replace(it, printer=new_name) if it.printer == old_name else it
        for it in paper.on_printer
    )
    return replace(paper, on_printer=tuple(pairs))


def _changed(
    text: str,
    change: Callable[[PaperBook], PaperBook],
    folder: Path,
    where: str,
) -> str:
    """The text of a changed book."""
    book = parse_book(text, where)
    pairs = (pair for paper in book.papers for pair in paper.on_printer)
    typed = {whole_profile_path(folder, it.profile): it.profile for it in pairs}
    whole = with_book_profiles(book, lambda it: whole_profile_path(folder, it))
    wanted = with_book_profiles(
        change(whole), lambda it: typed.get(it) or profile_path_below(folder, it)
    )
    before, after = book_layout(book), book_layout(wanted)
    edited = edited_text(text, before, after, BOOK_COMMENTS, where=where)
    # Papers in brackets would lose the comments between them.
    in_brackets = any(
        getattr(before, name) and f"[[{name}]]" not in text
        for name in ("printer", "paper")
    )
    if in_brackets or parse_book(edited, where) != wanted:
        raise cannot_edit(where)
    return edited
