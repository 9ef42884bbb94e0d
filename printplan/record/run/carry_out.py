"""How do the rows of a table become prints, each the same as if made alone?"""

from __future__ import annotations

from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING

from printplan.checks.finding import Level, worst_words
from printplan.errors import PrintPlanError, RecordError
from printplan.record.leftovers import tidy
from printplan.record.lock_file import locked
from printplan.record.paper_book import read_paper_book
from printplan.record.run.crew import Crew, outcomes
from printplan.record.run.places import (
    name_plans,
    note_times,
    read_row_plans,
    run_folder,
)
from printplan.record.run.steps import (
    JustMade,
    Made,
    Prepared,
    ToMake,
    ToPrepare,
    make,
    prepare,
)
from printplan.record.run.table import RunRow, read_run_table
from printplan.record.run.totals import Totals, forecast_s, totals_of
from printplan.record.studio_folder import book_near, make_folder

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


class Stage(StrEnum):
    """What a run is doing."""

    PREPARE = "planning and checking"
    MAKE = "making"


class RowState(StrEnum):
    """How far a row has come."""

    WANTED = "not planned yet"
    PLANNED = "planned"
    MADE = "made now"
    KEPT = "made before"
    FAILED = "failed"


@dataclass(frozen=True, slots=True, kw_only=True)
class RowResult:
    """
    A row, and what became of it.

    Attributes
    ----------
    prepared : Prepared or None
        Its plan, findings and proof.
    made : Made or None
        The finished file.
    seconds : float or None
        That making it took in this run.
    error : PrintPlanError or None
        Why it went no further.
    """

    row: RunRow
    prepared: Prepared | None = None
    made: Made | None = None
    seconds: float | None = None
    error: PrintPlanError | None = None

    @property
    def state(self) -> RowState:
        """How far it has come."""
        if self.error is not None:
            return RowState.FAILED
        if self.made is not None:
            return RowState.KEPT if self.seconds is None else RowState.MADE
        return RowState.WANTED if self.prepared is None else RowState.PLANNED

    @property
    def worst(self) -> str:
        """The gravest finding, or why it failed."""
        if self.error is not None:
            return f"failed: {self.error.problem} {self.error.remedy}"
        return "" if self.prepared is None else worst_words(self.prepared.findings)

    @property
    def should_stop(self) -> bool:
        """Whether a finding says that the print is a waste of ink."""
        found = () if self.prepared is None else self.prepared.findings
        return any(it.level is Level.STOP for it in found)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunResult:
    """
    What a run came to.

    Attributes
    ----------
    folder : Path
        Of its plans and prints.
    rows : tuple of RowResult
        In the order of the table.
    totals : Totals
        Of the rows that are planned.
    forecast_s : float or None
        Seconds for what was missing before prints were made; None if not known.
    took_s : float or None
        Seconds that making them took; None if none was made.
    """

    table: Path
    folder: Path
    rows: tuple[RowResult, ...]
    totals: Totals
    forecast_s: float | None
    took_s: float | None = None

    @property
    def failed(self) -> tuple[RowResult, ...]:
        """Rows that did not become what was asked."""
        return tuple(it for it in self.rows if it.state is RowState.FAILED)


class Run:
    """
    One table, taken through planning, checking and making.

    Parameters
    ----------
    table : str or Path
        See `read_run_table`.
    book : str or Path, optional
        The paper book; by default that of the studio that the table lies in.

    Attributes
    ----------
    rows : tuple of RunRow
    folder : Path
        Of plans, prints and records: beside the table.

    Raises
    ------
    RecordError
        If the table or the paper book cannot be read.
    """

    def __init__(self, table: str | Path, book: str | Path | None = None) -> None:
        self.table = Path(table).absolute()
        found = book_near(self.table.parent) if book is None else Path(book)
        if found is None:
            raise RecordError(
                f"The table {self.table.name} does not lie in a studio.",
                remedy="Put it into the studio's folder, or name the paper book.",
            )
        self.book = found.absolute()
        unit = read_paper_book(self.book).lengths_in
        self.rows = read_run_table(self.table, lengths_in=unit)
        self.folder = run_folder(self.table)
        self._results = {
            it.number: RowResult(row=it, error=it.problem) for it in self.rows
        }
        self._forecast_s: float | None = None
        self._took_s: float | None = None

    def result(self) -> RunResult:
        """What it has come to so far."""
        results = tuple(self._results[it.number] for it in self.rows)
        prepared = [it.prepared for it in results if it.prepared is not None]
        return RunResult(
            table=self.table,
            folder=self.folder,
            rows=results,
            totals=totals_of(prepared),
            forecast_s=self._forecast_s,
            took_s=self._took_s,
        )

    @contextmanager
    def alone(self) -> Iterator[None]:
        """
        Keep another run of the same table away, as long as the block runs.

        Raises
        ------
        RecordError
            If there is one already, or the folder cannot be made.
        """
        make_folder(self.folder)
        tidy([self.folder])
        with locked(self.folder / "run"):
            yield

    def prepare(
        self,
        crew: Crew,
        report: Callable[[Stage, int, int], None] = lambda *_: None,
        is_cancelled: Callable[[], bool] = lambda: False,
    ) -> None:
        """
        Plan the rows that have no plan yet, and check all of them.

        Parameters
        ----------
        report : callable, optional
            Takes what is being done, how many rows are done, and how many there are.
        is_cancelled : callable, optional
            Whether the user had enough.

        Raises
        ------
        RecordError
            If the folder of the plans cannot be written.
        """
        sound = [it for it in self.rows if it.problem is None]
        paths = name_plans(self.folder, sound)
        tasks = [
            ToPrepare(
                number=it.number,
                plan_path=paths[it.number],
                book=str(self.book),
                wish=it.wish,
                copies=it.copies,
                note=it.note,
                threads=crew.threads,
            )
            for it in sound
        ]
        report(Stage.PREPARE, 0, len(tasks))
        for done, it in enumerate(outcomes(crew, prepare, tasks, is_cancelled), 1):
            number = it.task.number
            self._results[number] = replace(
                self._results[number],
                prepared=it.found,
                made=None if it.found is None else it.found.made,
                error=it.error,
            )
            report(Stage.PREPARE, done, len(tasks))
        self._forecast_s = forecast_s(
            [it.prepared for it in self._results.values() if it.prepared is not None],
            read_row_plans(self.folder),
            crew.at_once,
        )

    def missing(self) -> tuple[Prepared, ...]:
        """Planned rows whose file is to be made, the largest first."""
        open_rows = [
            it.prepared
            for it in self._results.values()
            if it.prepared is not None and it.made is None
        ]
        # What takes long is begun early, or all would wait for the last one.
        return tuple(sorted(open_rows, key=_pixels, reverse=True))

    def make(
        self,
        crew: Crew,
        report: Callable[[Stage, int, int], None] = lambda *_: None,
        is_cancelled: Callable[[], bool] = lambda: False,
    ) -> None:
        """
        Make the files that are missing, each with its record.

        Parameters
        ----------
        report, is_cancelled
            As for `prepare`.
        """
        missing = self.missing()
        tasks = [
            ToMake(
                number=it.number,
                plan_path=it.plan_path,
                asked=it.asked,
                findings=it.findings,
                master_sha256=it.plan.facts.sha256,
                threads=crew.threads,
            )
            for it in missing
        ]
        times: dict[str, tuple[int, float]] = {}
        began_s = perf_counter()
        report(Stage.MAKE, 0, len(tasks))
        with ExitStack() as stack:
            stack.callback(lambda: note_times(self.folder, times))
            for done, it in enumerate(outcomes(crew, make, tasks, is_cancelled), 1):
                self._take(it.task, it.found, it.error)
                if it.found is not None and it.task.plan_path.parent == self.folder:
                    times[it.task.plan_path.name] = _time_of(it.found)
                report(Stage.MAKE, done, len(tasks))
        if tasks:
            self._took_s = perf_counter() - began_s

    def _take(
        self, task: ToMake, found: JustMade | None, error: PrintPlanError | None
    ) -> None:
        self._results[task.number] = replace(
            self._results[task.number],
            made=None if found is None else found.made,
            seconds=None if found is None else found.seconds,
            error=error,
        )


def _time_of(made: JustMade) -> tuple[int, float]:
    rendered = made.finished.rendered
    return rendered.width_px * rendered.height_px, made.seconds


def _pixels(it: Prepared) -> int:
    return it.plan.file_box.width * it.plan.file_box.height
