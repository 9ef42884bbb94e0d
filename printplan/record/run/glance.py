"""How far is each row of a table, before anything is opened or computed?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from printplan.checks.finding import worst_words
from printplan.errors import PrintPlanError
from printplan.foreign_file import is_regular
from printplan.record.cost import recorded_paper
from printplan.record.made_files import made_in, own_files
from printplan.record.plan_file import PlanFile, read_plan_file
from printplan.record.record_file import read_record
from printplan.record.run.places import known_plans

if TYPE_CHECKING:
    from pathlib import Path

    from printplan.record.cost import CostBasis
    from printplan.record.record import PrintRecord
    from printplan.record.run.carry_out import Run
    from printplan.record.run.table import RunRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Glance:
    """
    A row, and what lies there of it.

    Attributes
    ----------
    plan_path : Path or None
        None where the row was not planned yet.
    asked : PlanFile or None
        The plan with whole paths.
    record : PrintRecord or None
        Of the newest file that was made as the plan asks now and is there; whether it
        is still as its record says, a run looks at.
    problem : PrintPlanError or None
        Why row or plan cannot be read.
    """

    row: RunRow
    plan_path: Path | None = None
    asked: PlanFile | None = None
    record: PrintRecord | None = None
    problem: PrintPlanError | None = None

    @property
    def paper(self) -> CostBasis | None:
        """Of one print, at the price that its record knows."""
        return None if self.record is None else recorded_paper(self.record)

    @property
    def worst(self) -> str:
        """The gravest finding of the record, or the problem."""
        if self.problem is not None:
            return f"{self.problem.problem} {self.problem.remedy}"
        if self.record is None:
            return ""
        return worst_words(it.finding for it in self.record.findings)


def glance_at(run: Run) -> tuple[Glance, ...]:
    """
    The rows of a table, from the small files that lie in its folder now.

    Raises
    ------
    RecordError
        If the list of its plans cannot be read.
    """
    known = known_plans(run.folder, run.rows)
    return tuple(_glance(row, known.get(row.number)) for row in run.rows)


def _glance(row: RunRow, path: Path | None) -> Glance:
    if row.problem is not None:
        return Glance(row=row, problem=row.problem)
    if path is None or (row.wish is not None and not path.exists()):
        return Glance(row=row)
    try:
        asked = read_plan_file(path).resolved(path)
        problems: list[PrintPlanError] = []
        files = own_files(asked, made_in(path.parent, problems))
        there = [it for it in files if is_regular(it.file_path)]
        newest = max(there, key=lambda it: it.made_at, default=None)
        record = None if newest is None else read_record(newest.record_path)
    except PrintPlanError as error:
        return Glance(row=row, plan_path=path, problem=error)
    return Glance(row=row, plan_path=path, asked=asked, record=record)
