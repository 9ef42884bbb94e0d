"""What is done for one row of a table, wherever there is a processor for it?"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from time import perf_counter
from typing import TYPE_CHECKING

from printplan.errors import PrintPlanError, RecordError
from printplan.foreign_file import faults_named, is_regular, is_there, open_foreign
from printplan.pixels.sheet import Appearance
from printplan.pixels.small_picture import SmallPicture, small_picture
from printplan.plan import resolve
from printplan.processor_share import take_share
from printplan.record.atomic_write import read_text
from printplan.record.cost import CostBasis, planned_paper
from printplan.record.finished_print import FinishedPrint, all_findings, finish_print
from printplan.record.ink_estimate import ink_ml_of, journal_near
from printplan.record.job import JobWish, plan_job, write_job_as
from printplan.record.made_files import made_in, own_files
from printplan.record.paper_book import read_paper_book
from printplan.record.plan_file import (
    PlanFile,
    open_plan_file,
    parse_plan_text,
    save_plan,
)
from printplan.record.record_file import read_record
from printplan.sizing.boxes import Box

if TYPE_CHECKING:
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

    from printplan.checks import Finding
    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.record.record import PrintRecord

PROOF_PX = 400
"""Longest edge of a proofed picture: 180 pixels an inch on the contact sheet. Our
choice."""

_PAPER_PX = 12
"""Paper that is shown round it, where the file has any. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ToPrepare:
    """
    A row that wants its plan, its findings and its proof.

    Attributes
    ----------
    plan_path : Path
        Where its plan is, or is to be written.
    book : str
        Path of the paper book.
    wish : JobWish or None
        None where the row names a plan.
    copies : int or None
    note : str
        What the table says of them; nothing said leaves the plan's own.
    threads : int
        That may be kept busy.
    """

    number: int
    plan_path: Path
    book: str
    wish: JobWish | None
    copies: int | None
    note: str
    threads: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """
    A file that lies there and is as its plan asks now.

    Attributes
    ----------
    record_path : Path
        Of the record whose hash the file has.
    """

    file_path: Path
    record_path: Path
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """
    A row that is planned and checked.

    Attributes
    ----------
    asked : PlanFile
        The plan file with whole paths.
    plan : PrintPlan
        What it comes to.
    is_new : bool
        Whether the plan was written just now.
    proof : SmallPicture
        The picture with some of the paper round it, in the room.
    paper : CostBasis or None
        Of one print, from the paper book; None if no price is known.
    ink_ml : float or None
        Of one print, by the journal's measured prints; None if they are too few.
    made : Made or None
        The finished file, if it need not be made any more.
    """

    number: int
    plan_path: Path
    asked: PlanFile
    plan: PrintPlan
    is_new: bool
    findings: tuple[Finding, ...]
    proof: SmallPicture
    paper: CostBasis | None
    ink_ml: float | None
    made: Made | None


def prepare(row: ToPrepare) -> Prepared:
    """
    Plan a row, unless it was planned before, and check its print.

    Raises
    ------
    PrintPlanError
        If it cannot be planned, or its master or profile not be opened.
    """
    take_share(row.threads)
    is_new = row.wish is not None and not is_there(row.plan_path)
    if is_new and row.wish is not None:
        planned = plan_job(row.book, row.wish).plan_file
        write_job_as(_with_told(planned, row), row.plan_path)
    asked = _asked(row)
    sheet = open_plan_file(asked)
    with sheet.master:
        found = _made_file(row.plan_path, asked, sheet)
        if found is None:
            made, findings = None, all_findings(sheet)
        else:
            made, record = found
            findings = [it.finding for it in record.findings]
        proof = _proof(sheet)
        ink = ink_ml_of(sheet, journal_near(asked.book))
    plan = sheet.plan
    return Prepared(
        number=row.number,
        plan_path=row.plan_path,
        asked=asked,
        plan=plan,
        is_new=is_new,
        findings=tuple(findings),
        proof=small_picture(
            proof, f"Soft proof of {row.plan_path.stem} on {plan.paper.name}, overview."
        ),
        paper=planned_paper(plan, read_paper_book(asked.book).currency),
        ink_ml=None if ink is None else ink.ml,
        made=made,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ToMake:
    """
    A print to be made.

    Attributes
    ----------
    asked : PlanFile
        The plan that `findings` are of.
    master_sha256 : str
        The master that they are of.
    threads : int
        That may be kept busy.
    """

    number: int
    plan_path: Path
    asked: PlanFile
    findings: tuple[Finding, ...]
    master_sha256: str
    threads: int


@dataclass(frozen=True, slots=True, kw_only=True)
class JustMade:
    """
    A print that was made.

    Attributes
    ----------
    seconds : float
        On the clock, from the plan file to the record.
    """

    number: int
    finished: FinishedPrint
    seconds: float

    @property
    def made(self) -> Made:
        """The file, as a later run finds it."""
        return Made(
            file_path=self.finished.rendered.path,
            record_path=self.finished.record_path,
            sha256=self.finished.rendered.sha256,
        )


def make(row: ToMake) -> JustMade:
    """
    Make the file of a row, with its record.

    Raises
    ------
    PrintPlanError
        If it cannot be made.

    Notes
    -----
    What was found when the row was prepared counts if plan and master are still the
    same; else the print is checked again, so that the record tells of its own file.
    """
    take_share(row.threads)
    began_s = perf_counter()

    def checked(asked: PlanFile, sheet: Sheet) -> list[Finding]:
        is_same = asked == row.asked and sheet.plan.facts.sha256 == row.master_sha256
        return list(row.findings) if is_same else all_findings(sheet)

    finished = finish_print(row.plan_path, check=checked)
    return JustMade(
        number=row.number, finished=finished, seconds=perf_counter() - began_s
    )


def _with_told(plan_file: PlanFile, row: ToPrepare) -> PlanFile:
    """The plan with the copies and the note of the table, where it has them."""
    delivery = plan_file.spec.delivery
    copies = delivery.copies if row.copies is None else row.copies
    return replace(
        plan_file,
        note=row.note or plan_file.note,
        spec=replace(plan_file.spec, delivery=replace(delivery, copies=copies)),
    )


def _asked(row: ToPrepare) -> PlanFile:
    """What the plan file asks, after the table's copies and note went into it."""
    text = read_text(row.plan_path)
    written = parse_plan_text(text, where=str(row.plan_path))
    told = _with_told(written, row)
    if told != written:
        save_plan(told, row.plan_path, as_read=text)
    return told.resolved(row.plan_path)


def _proof(sheet: Sheet) -> NDArray[np.uint8]:
    """The picture and the paper next to it, as the file has them."""
    picture, longest = sheet.plan.picture_in_file, max(sheet.size_px)
    share = max(picture.width, picture.height) / longest
    overview = sheet.overview(min(round(PROOF_PX / share), longest))
    rows, columns = overview.pixels.shape[:2]
    seen = overview.picture.grown(_PAPER_PX, Box(0, 0, columns, rows))
    return sheet.proof(
        overview.pixels[seen.top : seen.bottom, seen.left : seen.right],
        Appearance.PAPER_IN_THE_ROOM,
    )


def _made_file(
    plan_path: Path, asked: PlanFile, sheet: Sheet
) -> tuple[Made, PrintRecord] | None:
    """The newest file that is as its record says, and as the plan comes out now."""
    folder, problems = plan_path.absolute().parent, list[PrintPlanError]()
    files = own_files(asked, made_in(folder, problems))
    for it in sorted(files, key=lambda file: file.made_at, reverse=True):
        if not is_regular(it.file_path) or _sha256(it.file_path) != it.sha256:
            continue
        record = read_record(it.record_path)
        if _is_of_today(record, sheet):
            made = Made(
                file_path=it.file_path, record_path=it.record_path, sha256=it.sha256
            )
            return made, record
    return None


def _is_of_today(record: PrintRecord, sheet: Sheet) -> bool:
    """Whether master, profiles and the pixels' places are what the record says."""
    then = resolve(record.facts, record.paper, record.printer, record.spec)
    now = sheet.plan
    return (
        record.facts.sha256 == now.facts.sha256
        and record.profile.sha256 == sheet.output.sha256
        and record.file_profile.sha256 == sheet.profile.sha256
        and (then.file_box, then.picture, then.radius_px)
        == (now.file_box, now.picture, now.radius_px)
    )


def _sha256(path: Path) -> str:
    what = "The print"
    with (
        open_foreign(path, raises=RecordError, what=what) as stream,
        faults_named(path, raises=RecordError, what=what),
    ):
        return hashlib.file_digest(stream, "sha256").hexdigest()
