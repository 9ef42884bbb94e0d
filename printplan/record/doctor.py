"""What lies in a studio, is it whole, and what of it may be cleared away?"""

from __future__ import annotations

import hashlib
import tomllib
from collections import defaultdict
from contextlib import suppress
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.colour.profiles import open_profile
from printplan.errors import PrintPlanError, RecordError
from printplan.foreign_file import faults_named, is_regular, open_foreign
from printplan.own_process import is_alive, maker_in
from printplan.pixels.working_copy import copies_in, default_cache_folder
from printplan.record.atomic_write import read_text
from printplan.record.job_list import files_of_jobs, studio_folders
from printplan.record.journal.view import damage_told, read_journal
from printplan.record.leftovers import leftovers_in, tidy
from printplan.record.paper_book import BOOK_HEADER, read_paper_book
from printplan.record.paper_defaults import DEFAULTS_HEADER, read_paper_defaults
from printplan.record.plan_file import PLAN_HEADER, read_plan_file
from printplan.record.record_file import RECORD_HEADER, read_record
from printplan.record.studio_folder import JOURNAL_NAME
from printplan.record.trial_key import TRIAL_HEADER, read_trial_key

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from printplan.record.record import PrintRecord


_COPY = "decoded copy"


class Health(StrEnum):
    """How a thing was found."""

    WHOLE = "whole"
    NOTE = "worth knowing"
    BROKEN = "not whole"
    LEFT = "left behind"
    MENDED = "mended"


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """
    One thing that was looked at.

    Attributes
    ----------
    what : str
        Its kind, such as ``paper book``.
    path : Path
        Where it lies.
    words : str
        What was found, and what to do about it; empty if it is whole.
    """

    what: str
    path: Path
    health: Health
    words: str = ""


def examine(
    folder: str | Path, *, report: Callable[[str], None] = lambda _: None
) -> tuple[Checked, ...]:
    """
    Look at all that printplan keeps in a studio, and change nothing.

    Parameters
    ----------
    folder : str or Path
        The studio's.
    report : callable, optional
        Takes a line about what is being done now: masters and prints are read whole.

    Returns
    -------
    tuple of Checked
        Books, plans, trial keys, kept choices and journals, each read whole. Prints
        and masters against the hashes in their records. Unsaved choices, and what
        ended processes left. Decoded copies against their seals. Files of others are
        passed over.

    Raises
    ------
    RecordError
        If there is no such folder.
    """
    folder = Path(folder).absolute()
    if not folder.is_dir():
        raise RecordError(f"There is no folder {folder}.", remedy="Name a studio's.")
    records: list[PrintRecord] = []
    found = [*_texts(folder, records)]
    found += _journals(folder)
    found += _against_records(records, report)
    found += _unsaved(folder)
    found += _left(folder)
    found += _copies(report)
    return tuple(found)


def mend(found: Iterable[Checked]) -> tuple[Checked, ...]:
    """
    Clear away what ended processes left, damaged decoded copies, and nothing else.

    Parameters
    ----------
    found : iterable of Checked
        From `examine`.

    Returns
    -------
    tuple of Checked
        The same, with what went as mended.
    """
    found = tuple(found)
    folders = {it.path.parent for it in found if it.health is Health.LEFT}
    gone = {it.path for it in tidy(folders)}
    for it in found:
        if it.what == _COPY and it.health is Health.BROKEN:
            with suppress(OSError):  # told as it was found
                it.path.unlink()
                gone.add(it.path)
    return tuple(
        replace(it, health=Health.MENDED, words="Cleared away.")
        if it.path in gone
        else it
        for it in found
    )


def _checked(what: str, path: Path, look: Callable[[], object]) -> Checked:
    try:
        look()
    except PrintPlanError as error:
        words = f"{error.problem} {error.remedy}"
        return Checked(what=what, path=path, health=Health.BROKEN, words=words)
    return Checked(what=what, path=path, health=Health.WHOLE)


# Text files


def _texts(folder: Path, records: list[PrintRecord]) -> Iterator[Checked]:
    """Every TOML file of ours; records are kept for what comes after."""
    looks: dict[str, tuple[str, Callable[[Path], object]]] = {
        BOOK_HEADER.name: ("paper book", read_paper_book),
        DEFAULTS_HEADER.name: ("kept choices", _read_choices),
        PLAN_HEADER.name: ("plan", _resolve),
        TRIAL_HEADER.name: ("trial key", read_trial_key),
        RECORD_HEADER.name: ("record", lambda it: records.append(read_record(it))),
    }
    for path in sorted(files_of_jobs(folder, "*.toml")):
        try:
            name = _format_of(read_text(path), looks)
        except PrintPlanError as error:  # a folder, a pipe, no text
            words = f"{error.problem} {error.remedy}"
            yield Checked(
                what="text file", path=path, health=Health.BROKEN, words=words
            )
            continue
        if name in looks:
            what, look = looks[name]
            yield _checked(what, path, lambda look=look, path=path: look(path))  # type: ignore[misc]
            if name == BOOK_HEADER.name:
                yield from _profiles(path)


def _format_of(text: str, names: Iterable[str]) -> str:
    """What kind a text is, or was meant to be; empty for a file of others."""
    try:
        return str(tomllib.loads(text).get("format", ""))
    except (ValueError, RecursionError):
        return next((it for it in names if f'"{it}"' in text), "")


def _read_choices(path: Path) -> None:
    """Read all choices of a file, whichever are asked for."""
    read_paper_defaults(path, paper="", printer="")


def _resolve(path: Path) -> None:
    """Read a plan, and find all that it names."""
    wish = read_plan_file(path).resolved(path)
    book = read_paper_book(wish.book)
    book.paper(wish.paper).on(book.printer(wish.printer), wish.spec.setup)
    if not is_regular(wish.master.file):
        raise RecordError(
            f"The master {wish.master.file} is not there.",
            remedy="Connect its disk, or open the plan and say where it lies now.",
        )


def _profiles(book_path: Path) -> Iterator[Checked]:
    try:
        book = read_paper_book(book_path)
    except PrintPlanError:  # told already
        return
    paths = {setup.profile for paper in book.papers for setup in paper.on_printer}
    ordered = [it for service in book.services for it in service.papers]
    paths |= {it.proof_profile for it in ordered if it.proof_profile}
    for path in sorted(paths):
        yield _checked("profile", Path(path), lambda path=path: open_profile(path))  # type: ignore[misc]


# Journals


def _journals(folder: Path) -> Iterator[Checked]:
    for path in sorted(folder.glob("*.db")):
        try:
            with read_journal(path) as journal:
                problems = damage_told(journal, path)
                for entry in journal.entries():
                    try:
                        journal.record_text(entry)
                    except PrintPlanError as error:
                        problems.append(error)
        except PrintPlanError as error:
            if path.name != JOURNAL_NAME and "is not a journal" in error.problem:
                continue
            problems = [error]
        words = " ".join(f"{it.problem} {it.remedy}" for it in problems)
        health = Health.BROKEN if problems else Health.WHOLE
        yield Checked(what="journal", path=path, health=health, words=words)


# Masters and prints against records


def _against_records(
    records: Iterable[PrintRecord], report: Callable[[str], None]
) -> Iterator[Checked]:
    """Each file once, however many records name it."""
    prints: defaultdict[str, set[str]] = defaultdict(set)
    masters: defaultdict[str, set[str]] = defaultdict(set)
    for record in records:
        prints[record.rendered.path].add(record.rendered.sha256)
        masters[record.master.file].add(record.facts.sha256)
    for path, hashes in sorted(prints.items()):
        yield _by_hash("print", path, hashes, report)
    for path, hashes in sorted(masters.items()):
        yield _by_hash("master", path, hashes, report)


_CHANGED = {
    "print": "It is not the file that its record names: it was changed or replaced. "
    "Print it again from its record.",
    "master": "It is not the one that was printed: it was changed or replaced. Put "
    "back your copy of it, or plan a new print.",
}


def _by_hash(
    what: str, path: str, hashes: set[str], report: Callable[[str], None]
) -> Checked:
    place = Path(path)
    if not is_regular(place):
        words = "A record names it, and it is not there now."
        return Checked(what=what, path=place, health=Health.NOTE, words=words)
    report(f"Reading {place.name}.")
    try:
        found = _sha256(place)
    except PrintPlanError as error:
        words = f"{error.problem} {error.remedy}"
        return Checked(what=what, path=place, health=Health.BROKEN, words=words)
    if found in hashes:
        return Checked(what=what, path=place, health=Health.WHOLE)
    return Checked(what=what, path=place, health=Health.BROKEN, words=_CHANGED[what])


def _sha256(path: Path) -> str:
    with (
        open_foreign(path, raises=RecordError) as stream,
        faults_named(path, raises=RecordError),
    ):
        return hashlib.file_digest(stream, "sha256").hexdigest()


# What is hidden


def _unsaved(folder: Path) -> Iterator[Checked]:
    """Choices that a page of the workbook keeps until they are saved."""
    for place in studio_folders(folder):
        for path in sorted(place.glob(".*.unsaved-*.toml")):
            maker = maker_in(path.name)
            if maker is not None and is_alive(maker):
                continue
            plan = path.name[1:].partition(".unsaved-")[0]
            row = _checked("unsaved choices", path, lambda path=path: read_text(path))  # type: ignore[misc]
            words = f"A page ended before they were saved. Open {plan} to go on."
            yield (
                replace(row, health=Health.NOTE, words=words)
                if row.health is Health.WHOLE
                else row
            )


def _copies(report: Callable[[str], None]) -> Iterator[Checked]:
    """Decoded masters in the cache; one that is damaged is made anew when needed."""
    for path, fault in copies_in(default_cache_folder()):
        report(f"Reading {path.name}.")
        health = Health.BROKEN if fault else Health.WHOLE
        words = f"{fault} It is made anew when its master is opened." if fault else ""
        yield Checked(what=_COPY, path=path, health=health, words=words)


def _left(folder: Path) -> Iterator[Checked]:
    """What ended processes left in the studio, and in the cache."""
    for place in dict.fromkeys([*studio_folders(folder), default_cache_folder()]):
        for left in leftovers_in(place):
            words = f"Its process has ended; {left.bytes_held / 1e6:.1f} MB."
            yield Checked(
                what=str(left.kind), path=left.path, health=Health.LEFT, words=words
            )
