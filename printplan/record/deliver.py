"""How are the files of an order put into one folder, whole or not at all?"""

from __future__ import annotations

import os
import re
import shutil
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from stat import S_ISDIR
from time import time as clock
from typing import TYPE_CHECKING, Final

from printplan.checks import Level, check_pixels, check_plan
from printplan.errors import (
    PrintPlanError,
    RecordError,
    RenderError,
    SpecError,
    writing_remedy,
)
from printplan.foreign_file import is_there, named
from printplan.free_name import PART_NAME, free_path, is_left_part, part_path
from printplan.pixels.render import ending_of, render
from printplan.record.order_sheet import Order, order_csv, order_line, order_pdf
from printplan.record.plan_file import open_plan_file, read_plan_file
from printplan.record.record import make_record
from printplan.record.record_file import require_recordable, write_record
from printplan.record.sidecar import RECORD_ENDING
from printplan.record.sums import SUMS_NAME, file_sha256, sums_text
from printplan.spec import Delivery

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from datetime import datetime

    from printplan.pixels.picture_file import Progress
    from printplan.pixels.sheet import Sheet
    from printplan.record.order_sheet import OrderLine
    from printplan.record.plan_file import PlanFile
    from printplan.record.record import PrintRecord

ORDER_SHEET: Final = "order.pdf"
ORDER_TABLE: Final = "order.csv"
_OF_ORDER: Final = re.compile(
    rf"\d\d+-[a-z0-9-]+\.(tif|jpg|pdf)|{ORDER_SHEET}|{ORDER_TABLE}|{SUMS_NAME}"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivered:
    """
    An order on the disk.

    Attributes
    ----------
    folder : Path
        Absolute.
    records : tuple of Path
        Of each file, beside its plan: they are not sent.
    """

    folder: Path
    order: Order
    records: tuple[Path, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Made:
    """One file of the order, and what is kept of it."""

    plan_path: Path
    line: OrderLine
    record: PrintRecord


def deliver(  # noqa: PLR0913 - what, where, for whom, when, and who is told
    plans: Sequence[str | Path],
    folder: str | Path,
    *,
    made_on: datetime,
    service: str = "",
    report: Callable[[str], None] = lambda _: None,
    progress: Progress | None = None,
) -> Delivered:
    """
    Render plans into a new folder, with checksums, an order sheet and its table.

    Parameters
    ----------
    plans : sequence of str or Path
        Plan files, of one service, or all of a named space without one.
    folder : str or Path
        Must not be there yet, and its parent must.
    made_on : datetime
        With its zone.
    service : str, optional
        Whom the order is for: a plan for another one is refused.
    report : callable, optional
        Takes a line about what is being done now.
    progress : Progress, optional
        Told of each band of each file.

    Raises
    ------
    PrintPlanError
        If a plan cannot be made, is for another service, or goes beyond what the
        service takes; if the folder is there or cannot be written. There is no folder
        then.

    Notes
    -----
    All is written into a folder of a temporary name beside it, the checksums last,
    which then gets its name in one step.
    """
    target = _new_folder(folder)
    clear_left_orders(target.parent)
    if not plans:
        raise RecordError("No plan is named.", remedy="Name one plan file or more.")
    with _part_folder(target) as part:
        made: list[_Made] = []
        names: list[str] = [service]
        finish = ""
        for number, path in enumerate(map(Path, plans), start=1):
            report(f"Rendering {named(path)}, {number} of {len(plans)}.")
            with _naming(path), _opened(path) as (plan_file, sheet):
                finish = _require_same_service(sheet, names)
                name = _file_name(number, path, sheet)
                made.append(
                    _make(
                        path, plan_file, sheet, part / name, target, made_on, progress
                    )
                )
        order = Order(
            service=names[0],
            finish=finish,
            made_on=made_on.date(),
            lines=tuple(it.line for it in made),
        )
        _write(part / ORDER_SHEET, order_pdf(order))
        _write(part / ORDER_TABLE, order_csv(order).encode("utf-8-sig"))
        listed = [*(it.line.file for it in made), ORDER_SHEET, ORDER_TABLE]
        _write(part / SUMS_NAME, sums_text(part, listed).encode())
        part.rename(target)
    records = []
    for it in made:
        record_path = it.plan_path.absolute().parent / f"{it.line.file}{RECORD_ENDING}"
        record_path = free_path(record_path)
        write_record(it.record, record_path)
        records.append(record_path)
    return Delivered(folder=target, order=order, records=tuple(records))


def _new_folder(folder: str | Path) -> Path:
    target = Path(folder).absolute()
    if is_there(target) or target.is_symlink():
        raise RecordError(
            f"{named(target)} exists already.",
            remedy="Choose another name: an order gets a new folder.",
        )
    if not target.parent.is_dir():
        raise RecordError(
            f"There is no folder {named(target.parent)}.",
            remedy="Make that folder first, or choose one that exists.",
        )
    return target


def clear_left_orders(folder: Path) -> None:
    """
    Take away what ended processes left of orders in a folder.

    Only files that an order has go, and a folder that holds another stays.
    """
    for left in folder.glob(".printplan-*.part"):
        with suppress(OSError):
            status = left.lstat()
            if not S_ISDIR(status.st_mode) or not is_left_part(
                left.name, clock() - status.st_mtime
            ):
                continue
            for it in left.iterdir():
                if _OF_ORDER.fullmatch(it.name) or PART_NAME.fullmatch(it.name):
                    it.unlink()
            left.rmdir()


@contextmanager
def _part_folder(target: Path) -> Iterator[Path]:
    """A folder beside the one to be, gone afterwards if it did not get its name."""
    part = part_path(target)
    try:
        part.mkdir()
        yield part
    except OSError as error:
        raise RecordError(
            f"{named(target)} cannot be written ({error.strerror or error}).",
            remedy=writing_remedy(error),
        ) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)


@contextmanager
def _naming(path: Path) -> Iterator[None]:
    """Say which of several plans an error is about."""
    try:
        yield
    except PrintPlanError as error:
        raise type(error)(
            f"{named(path)}: {error.problem}",
            remedy=error.remedy,
            setting=error.setting,
        ) from error


@contextmanager
def _opened(path: Path) -> Iterator[tuple[PlanFile, Sheet]]:
    plan_file = read_plan_file(path).resolved(path)
    sheet = open_plan_file(plan_file)
    with sheet.master:
        yield plan_file, sheet


def _require_same_service(sheet: Sheet, names: list[str]) -> str:
    """
    Refuse a plan of another service; what the service wants to be told.

    The first plan decides where no service was named.
    """
    plan = sheet.plan
    own = "" if plan.printer.service is None else plan.printer.service.name
    if not names[0] and len(names) == 1:
        names[0] = own
    names.append(own)
    if own != names[0]:
        wanted = names[0] or "no print service"
        raise SpecError(
            f"The plan is for {own or 'a printer of the studio'}; the order is for "
            f"{wanted}.",
            remedy=f"Plan it for {wanted}, or deliver it by itself.",
        )
    if not own and plan.delivery.colour is not Delivery.NAMED_SPACE:
        raise SpecError(
            f"The file is to hold {plan.delivery.colour}, for a printer of the studio.",
            remedy='Choose the colour "a named space", or plan it for a print service.',
        )
    return "" if plan.printer.service is None else plan.printer.service.instructions


def _file_name(number: int, path: Path, sheet: Sheet) -> str:
    """A number for the order, the plan's name in plain letters, the usual ending."""
    plain = re.sub(r"[^a-z0-9]+", "-", path.stem.casefold()).strip("-") or "print"
    return f"{number:02d}-{plain}{ending_of(sheet.plan.delivery.file_format)}"


def _make(  # noqa: PLR0913, PLR0917 - one file, and all that its record says
    path: Path,
    plan_file: PlanFile,
    sheet: Sheet,
    part: Path,
    target: Path,
    made_on: datetime,
    progress: Progress | None,
) -> _Made:
    findings = check_plan(sheet.plan)
    for finding in findings:
        if finding.level is Level.STOP:
            raise SpecError(finding.problem, remedy=finding.remedy)
    findings = [*findings, *check_pixels(sheet)]
    require_recordable(sheet, part, plan_file)
    rendered = render(sheet, part, progress=progress)
    if file_sha256(part) != rendered.sha256:
        raise RenderError(
            f"{part.name} is no longer as it was written.",
            remedy="Deliver again; if that fails too, write to another disk.",
        )
    rendered = replace(rendered, path=target / part.name)
    record = make_record(
        sheet, findings, rendered, made_on=made_on, plan_file=plan_file
    )
    line = order_line(sheet.plan, rendered, part.name)
    return _Made(plan_path=path, line=line, record=record)


def _write(path: Path, data: bytes) -> None:
    with path.open("xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
