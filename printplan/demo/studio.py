"""The invented studio as a folder to work in: masters, paper book, plans, a print."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.demo.scenario import (
    STUDIO_CURRENCY,
    make_scenario,
    studio_papers,
    studio_printer,
)
from printplan.demo.year_of_prints import make_year_of_prints
from printplan.pixels.render import Rendered, render
from printplan.record.paper_book import (
    PaperBook,
    read_paper_book,
    with_profile_paths,
    write_paper_book,
)
from printplan.record.plan_file import (
    PlanFile,
    open_plan,
    read_plan_file,
    write_plan_file,
)
from printplan.record.studio_folder import BOOK_NAME, make_folder
from printplan.spec import (
    ColourSpec,
    Intent,
    MasterSpec,
    Placement,
    PrintSpec,
    SharpenSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.demo.scenario import Scenario
    from printplan.pixels.picture_file import Progress


_JOB_FOLDER = "job"
_LESSON_FOLDER = "lesson"
_JOURNAL_NAME = "invented-year.db"


@dataclass(frozen=True, slots=True, kw_only=True)
class Studio:
    """
    Where everything of the demo lies.

    Attributes
    ----------
    scenario : Scenario
        Profiles and masters.
    plan_path : Path
        The plan that the demo prints.
    plan_paths : tuple of Path
        All plans, that one first.
    job_path : Path
        The plan of a job in a folder of its own: what is kept there does not change
        the demo's plans.
    lesson_path : Path
        A copy of that plan to practise on, with a copy of the paper book beside it.
    demo_print : Path
        The finished file of `plan_path`, if `make_demo_print` was called.
    journal_path : Path
        The journal of an invented year, if `make_demo_journal` was called.
    """

    folder: Path
    scenario: Scenario
    book_path: Path
    book: PaperBook
    plan_path: Path
    plan_paths: tuple[Path, ...]
    job_path: Path
    lesson_path: Path
    demo_print: Path
    journal_path: Path


def make_studio(
    folder: str | Path, *, progress: Callable[[str], None] | None = None
) -> Studio:
    """
    Make the invented studio in a folder; what is already there is kept.

    Parameters
    ----------
    progress : callable, optional
        Takes one line for each thing made.

    Raises
    ------
    RecordError
        If the folder cannot be written, or the paper book in it cannot be read.
    """
    folder = Path(folder)
    scenario = make_scenario(folder, progress=progress)
    book_path = folder / BOOK_NAME
    if not book_path.exists():
        book = PaperBook(
            printers=(studio_printer(),),
            papers=studio_papers(folder),
            currency=STUDIO_CURRENCY,
        )
        write_paper_book(book, book_path)
    plans = {folder / f"{name}.toml": plan for name, plan in _plans().items()}
    for path, plan in plans.items():
        if not path.exists():
            write_plan_file(plan, path)
    first = next(iter(plans))
    job_path = folder / _JOB_FOLDER / first.name
    if not job_path.exists():
        _make_job(job_path, plans[first])
    lesson_path = folder / _LESSON_FOLDER / first.name
    if not lesson_path.exists():
        _make_lesson(lesson_path, job_path)
    return Studio(
        folder=folder,
        scenario=scenario,
        book_path=book_path,
        book=read_paper_book(book_path),
        plan_path=first,
        plan_paths=tuple(plans),
        job_path=job_path,
        lesson_path=lesson_path,
        demo_print=first.with_suffix(".tif"),
        journal_path=folder / _JOURNAL_NAME,
    )


def make_demo_print(
    studio: Studio, *, progress: Progress | None = None
) -> Rendered | None:
    """
    Make the finished file of the demo's first plan.

    Returns
    -------
    Rendered or None
        None if the file is there already; it is kept as it is.

    Raises
    ------
    PrintPlanError
        If the plan was edited into one that cannot be made.
    """
    if studio.demo_print.exists():
        return None
    sheet = open_plan(studio.plan_path)
    with sheet.master:
        return render(sheet, studio.demo_print, progress=progress)


def make_demo_journal(studio: Studio) -> Path:
    """
    Make the journal of the studio's invented year.

    Returns
    -------
    Path
        One that is there already is kept as it is.

    Raises
    ------
    RecordError
        If it cannot be written.
    """
    if not studio.journal_path.exists():
        make_year_of_prints(studio.journal_path)
    return studio.journal_path


def _make_job(path: Path, plan: PlanFile) -> None:
    """Lay a plan out in a folder below the studio's own."""
    make_folder(path.parent)
    master = replace(plan.master, file=f"../{plan.master.file}")
    write_plan_file(replace(plan, master=master, book=f"../{plan.book}"), path)


def _make_lesson(path: Path, job_path: Path) -> None:
    """Copy a job and its paper book, so that practice changes neither."""
    folder = path.parent
    make_folder(folder)
    whole = read_plan_file(job_path).resolved(job_path)

    def seen_from_copy(file: str) -> str:
        return Path(os.path.relpath(file, folder.absolute())).as_posix()

    if not (folder / BOOK_NAME).exists():
        book = read_paper_book(whole.book)
        papers = [with_profile_paths(it, seen_from_copy) for it in book.papers]
        write_paper_book(replace(book, papers=tuple(papers)), folder / BOOK_NAME)
    master = replace(whole.master, file=seen_from_copy(whole.master.file))
    write_plan_file(replace(whole, master=master, book=BOOK_NAME), path)


def _plans() -> dict[str, PlanFile]:
    """One plan for each photograph, the demo's own first."""
    return {
        "seed-heads-on-fen-cotton": _plan(
            "seed-heads",
            "Fen Cotton 310",
            SizeSpec(rule=SizeRule.WIDTH, width_mm=360, ppi=300),
            SheetSpec(
                media_size="A3",
                feed="front slot",
                placement=Placement.OPTICAL_CENTRE,
            ),
            note="Backlit seed heads; the deep green must not close up.",
        ),
        "red-bowl-on-heron-baryta": _plan(
            "red-bowl",
            "Heron Baryta 315",
            SizeSpec(rule=SizeRule.LONGEST_EDGE, longest_mm=240, ppi=300),
            SheetSpec(media_size="A4", feed="front slot"),
            intent=Intent.PERCEPTUAL,
            note="Saturated reds: look at what the paper cannot hold.",
        ),
        "stream-on-alder-satin": _plan(
            "stream",
            "Alder Satin 260",
            SizeSpec(rule=SizeRule.FILL, width_mm=200, height_mm=200, ppi=360),
            SheetSpec(media_size="A4", feed="sheet feeder", border_mm=4),
            gain=0.4,
            note="Texture everywhere, cropped square.",
        ),
    }


def _plan(  # noqa: PLR0913 - a plan has that many sides
    master: str,
    paper: str,
    size: SizeSpec,
    sheet: SheetSpec,
    *,
    intent: Intent = Intent.MEDIA_RELATIVE,
    gain: float = 0.8,
    note: str,
) -> PlanFile:
    return PlanFile(
        master=MasterSpec(file=f"masters/{master}.tif"),
        book=BOOK_NAME,
        paper=paper,
        printer=studio_printer().name,
        spec=PrintSpec(
            size=size,
            sheet=sheet,
            # Common practice, no source: a radius near ppi / 200 px, here in mm.
            sharpen=SharpenSpec(gain=gain, radius_mm=0.127),
            colour=ColourSpec(intent=intent),
        ),
        note=note,
    )
