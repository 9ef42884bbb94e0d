"""How does the plan of a print become its finished file, with its record?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.checks import check_pixels, check_plan
from printplan.pixels.render import ending_of, render
from printplan.record.plan_file import open_plan_file, read_plan_file
from printplan.record.record import make_record
from printplan.record.record_file import require_recordable
from printplan.record.sidecar import free_print_path, write_sidecar_record

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.checks import Finding
    from printplan.pixels.picture_file import Progress
    from printplan.pixels.render import Rendered
    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.record.plan_file import PlanFile


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishedPrint:
    """
    A finished file and its record, both beside the plan.

    Attributes
    ----------
    plan : PrintPlan
        What the file was made from.
    findings : tuple of Finding
        As they stand in the record.
    """

    plan_path: Path
    plan: PrintPlan
    rendered: Rendered
    record_path: Path
    findings: tuple[Finding, ...]


def all_findings(sheet: Sheet) -> list[Finding]:
    """What should be known before ink is spent on a sheet."""
    return [*check_plan(sheet.plan), *check_pixels(sheet)]


def finish_print(
    plan_path: str | Path,
    *,
    check: Callable[[PlanFile, Sheet], list[Finding]] = lambda _, it: all_findings(it),
    progress: Progress | None = None,
) -> FinishedPrint:
    """
    Make the file of a plan beside it under a free name, with its record.

    Parameters
    ----------
    check : callable, optional
        Gives what was found, from the plan with whole paths and its sheet: whoever has
        checked this very print need not do it again.
    progress : Progress, optional
        As for `render`.

    Raises
    ------
    PrintPlanError
        If the plan cannot be read, the print cannot be made, or its record could not
        name it.
    """
    path = Path(plan_path)
    plan_file = read_plan_file(path).resolved(path)
    sheet = open_plan_file(plan_file)
    with sheet.master:
        findings = check(plan_file, sheet)
        ending = ending_of(sheet.plan.delivery.file_format)
        out = free_print_path(path.with_suffix(ending))
        require_recordable(sheet, out, plan_file)
        made = render(sheet, out, progress=progress)
        kept = make_record(
            sheet,
            findings,
            made,
            made_on=datetime.now(tz=UTC).astimezone(),
            plan_file=plan_file,
        )
    return FinishedPrint(
        plan_path=path,
        plan=sheet.plan,
        rendered=made,
        record_path=write_sidecar_record(kept),
        findings=tuple(findings),
    )
