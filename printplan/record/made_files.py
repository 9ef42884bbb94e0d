"""Which finished files lie beside a plan, and which of them are as it asks now?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.errors import PrintPlanError, RecordError
from printplan.foreign_file import state_of
from printplan.record.paper_book import PaperBook, known_paper_book
from printplan.record.plan_file import PlanFile, with_kernel_path, with_master_paths
from printplan.record.record import absolute_path
from printplan.record.record_file import read_record
from printplan.record.sidecar import records_in
from printplan.spec import MasterSpec, MountSpec, PrintSpec, RoomSpec
from printplan.units import LengthUnit

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime


_MOST_KEPT = 4096
"""Records remembered between two looks at a studio. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """What decides on the pixels of a file."""

    master: MasterSpec
    paper: str
    printer: str
    spec: PrintSpec


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeFile:
    """
    A finished file: what it was made for, and when.

    Attributes
    ----------
    file_path : Path
        As its record names it; it may have been moved since.
    sha256 : str
        Of the file.
    asked : object
        What decided on its pixels; see `own_files`.
    """

    record_path: Path
    file_path: Path
    sha256: str
    made_at: datetime
    asked: _Asked


def made_in(folder: Path, problems: list[PrintPlanError]) -> tuple[MadeFile, ...]:
    """
    What was made into a folder, by the records that lie there.

    Parameters
    ----------
    problems : list of PrintPlanError
        Takes why a record cannot be read.
    """
    made = []
    try:
        paths = records_in(folder)
    except RecordError as error:
        problems.append(error)
        return ()
    for path in paths:
        state = state_of(path)
        if state is None:  # it went while the folder was read
            continue
        read = _read_record(path, state)
        if isinstance(read, PrintPlanError):
            problems.append(read)
        else:
            made.append(read)
    return tuple(made)


@lru_cache(_MOST_KEPT)
def _read_record(path: Path, _state: tuple[int, ...]) -> MadeFile | PrintPlanError:
    try:
        record = read_record(path)
    except PrintPlanError as error:
        return error
    return MadeFile(
        record_path=path,
        file_path=Path(record.rendered.path),
        sha256=record.rendered.sha256,
        made_at=record.moment,
        asked=_asked(
            record.master, record.paper.name, record.printer.name, record.spec
        ),
    )


def own_files(wish: PlanFile, made: Iterable[MadeFile]) -> tuple[MadeFile, ...]:
    """
    Of finished files, those that are as a plan asks now.

    Parameters
    ----------
    wish : PlanFile
        With whole paths.

    Returns
    -------
    tuple of MadeFile
        Those whose pixels were asked alike: of the same master, by the same names of
        paper and printer, or such as the book gave them since. Mat, room, copies and
        what is kept for the record alone do not count.
    """
    book = _book_of(wish)
    asked = _by_book(_asked(wish.master, wish.paper, wish.printer, wish.spec), book)
    return tuple(
        it
        for it in made
        if it.asked.master == asked.master and _by_book(it.asked, book) == asked
    )


def _asked(master: MasterSpec, paper: str, printer: str, spec: PrintSpec) -> _Asked:
    """What decides on the pixels of a file, as it can be compared."""
    return _Asked(
        master=with_master_paths(master, absolute_path),
        paper=paper,
        printer=printer,
        spec=replace(
            with_kernel_path(spec, absolute_path),
            lengths_in=LengthUnit.MM,
            mount=MountSpec(),
            room=RoomSpec(),
            delivery=replace(spec.delivery, copies=1),
            sharpen=replace(
                with_kernel_path(spec, absolute_path).sharpen,
                restore=None,
                distance_mm=None,
                print_halo_limit_share=None,
            ),
        ),
    )


def _by_book(asked: _Asked, book: PaperBook | None) -> _Asked:
    """The same with the names of today: papers and printers get new ones."""
    if book is None:
        return asked
    try:
        paper, printer = book.paper(asked.paper), book.printer(asked.printer)
    except RecordError:  # it left the book, and its files are still its own
        return asked
    return replace(asked, paper=paper.name, printer=printer.name)


def _book_of(wish: PlanFile) -> PaperBook | None:
    """The paper book of a plan; a job is listed without one, too."""
    try:
        return known_paper_book(wish.book)
    except PrintPlanError:  # opening the job says why
        return None
