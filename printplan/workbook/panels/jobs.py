"""Which jobs does the studio have, and which one is gone on with?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.errors import PrintPlanError, SpecError
from printplan.record.duplicate_job import duplicate_job
from printplan.record.job_list import Job, JobList, JobState, list_jobs
from printplan.record.paper_book import read_paper_book
from printplan.record.studio_folder import BOOK_NAME, JOBS_FOLDER, JOURNAL_NAME
from printplan.shown_text import escape
from printplan.spec import SizeRule
from printplan.units import LengthUnit, parse_length_mm, short_words
from printplan.workbook.panels.book_panel import BookPanel
from printplan.workbook.panels.controls import (
    CONTROL,
    acts,
    choice,
    line,
    offer,
    show_if,
    text,
)
from printplan.workbook.panels.new_job import NewJobPanel
from printplan.workbook.panels.picture_list import PictureList
from printplan.workbook.pictures import problem_html, table_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.record.plan_file import PlanFile


class JobsPanel(BookPanel):
    """
    The jobs of a studio, each with what became of it, and a new one.

    Parameters
    ----------
    folder : str or Path
        The studio's, with its paper book.
    on_open : callable
        Takes the plan file of the job to go on with: one of the list, or a new one.

    Attributes
    ----------
    ui : ipywidgets.VBox
        What a notebook shows.
    new_job : NewJobPanel
        Below the list.
    """

    title: ClassVar[str] = "Jobs of the studio"

    def __init__(self, folder: str | Path, on_open: Callable[[Path], None]) -> None:
        self.folder = Path(folder).absolute()
        super().__init__(self.folder / BOOK_NAME)
        self._on_open = on_open
        self._jobs: dict[str, Job] = {}
        self._wanted = ""
        self._unit = LengthUnit.MM
        self._is_duplicating = False
        self.words, self.problems = text(), text()
        self.jobs = PictureList(
            "jobs, the newest first", form="lines", picked=self._pick, acted=self._act
        )
        self.open = widgets.Button(
            description="Open",
            button_style="primary",
            tooltip="Go on with the chosen job",
        )
        self.again = widgets.Button(
            description="Look again",
            tooltip="Read the studio's folders anew",
        )
        self.paper = choice("on paper", [])
        self.paper.tooltip = "Paper of the copy; the other choices go with it"
        self.sheet = widgets.Combobox(
            description="sheet",
            placeholder="the same",
            continuous_update=False,
            tooltip="Sheet of the copy, such as A3 or 13x19 in; empty: the same",
            **CONTROL,
        )
        self.width = line(
            "width",
            placeholder="the same",
            tooltip="Width of the copy's picture; empty: the same",
        )
        self.duplicate = widgets.Button(
            description="Plan it once more",
            tooltip="A copy of the chosen job on this paper, in this size; notes stay",
        )
        once_more = text()
        once_more.value = "<p>The same photograph once more:</p>"
        self._copy = widgets.VBox(
            [once_more, self.paper, self.sheet, self.width, acts(self.duplicate)]
        )
        self._reading = self._worker(self._show_jobs)
        self._copying = self._worker(self._show_copied, self._fail_copying)
        self.jobs.observe(self._guarded(self._show_chosen), names="value")
        self.paper.observe(self._guarded(self._offer_sheets), names="value")
        for button, press in (
            (self.open, self._open),
            (self.again, self.refresh),
            (self.duplicate, self._duplicate),
        ):
            button.on_click(self._guarded(press))
        self._lay_out(
            [
                self.jobs,
                acts(self.open, self.again),
                self._copy,
                self.message,
                self.status,
                self.problems,
            ],
            beside=self.words,
        )
        self.new_job = NewJobPanel(self.book_path, self._planned)
        listed, self.ui = self.ui, widgets.VBox()
        self.ui.children = [
            _heading(self.title),
            listed,
            _heading(NewJobPanel.title),
            self.new_job.ui,
        ]
        self._show_chosen()
        self._guarded(self.refresh)()

    def refresh(self) -> None:
        """Show the jobs that lie in the studio now, and what its book holds."""
        folder = self.folder
        self._reading.do(lambda: list_jobs(folder, folder / JOURNAL_NAME))
        self.new_job._guarded(self.new_job.refresh)()  # noqa: SLF001 - a part of this panel
        self._offer_papers()

    def settle(self, timeout_s: float = 120.0) -> bool:
        """
        Wait until nothing is being read, copied or planned.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        parts = (self.new_job, self._copying, self._reading)
        return all(it.settle(timeout_s) for it in parts)

    @property
    def chosen(self) -> Job | None:
        """The job that is chosen in the list."""
        return self._jobs.get(self.jobs.value)

    # The list

    def _show_jobs(self, listed: JobList) -> None:
        self._jobs = {str(it.plan_path): it for it in listed.jobs}
        chosen = self._wanted or self.jobs.value
        with self._quietly():
            self.jobs.show(
                [
                    (key, self._name(it), self._line(it))
                    for key, it in self._jobs.items()
                ],
                {
                    key: Path(it.wish.master.file)
                    for key, it in self._jobs.items()
                    if it.wish is not None
                },
            )
            if chosen in self._jobs:
                self.jobs.value = chosen
            elif self._jobs:
                self.jobs.value = next(iter(self._jobs))
        self._wanted = ""
        self.problems.value = "".join(problem_html(it) for it in listed.problems)
        self._guarded(self._show_chosen)()

    def _name(self, job: Job) -> str:
        """The plan's name, with its folder where that is not the usual one."""
        place = job.plan_path.relative_to(self.folder).with_suffix("")
        return place.as_posix().removeprefix(f"{JOBS_FOLDER}/")

    def _line(self, job: Job) -> str:
        if job.wish is None:
            return job.state_words
        return f"{asked_size_words(job.wish)} on {job.wish.paper}: {job.state_words}"

    def _show_chosen(self) -> None:
        job = self.chosen
        show_if(bool(self._jobs), self.open)
        is_sound = job is not None and job.wish is not None
        self.open.disabled = not is_sound
        show_if(is_sound, self._copy)
        if job is None:
            self.words.value = (
                "" if self._jobs else "<p>There is no job yet: plan one below.</p>"
            )
        elif job.problem is not None:
            self.words.value = problem_html(job.problem)
        elif job.wish is not None:
            self.words.value = _details(job, job.wish, self.folder)
            self._offer_papers()

    def _pick(self, key: str) -> None:
        if key in self._jobs:
            self.jobs.value = key

    def _act(self, key: str) -> None:
        self._pick(key)
        if not self.open.disabled:
            self._guarded(self._open)()

    def _open(self) -> None:
        job = self.chosen
        if job is None or job.wish is None:
            raise SpecError("No job is chosen.", remedy="Choose one of the list.")
        self._on_open(job.plan_path)

    def _planned(self, path: Path) -> None:
        self._wanted = str(path)
        self.refresh()
        self._on_open(path)

    # Another print of the same picture

    def _offer_papers(self) -> None:
        job = self.chosen
        if job is None or job.wish is None:
            return
        book = read_paper_book(job.wish.book)
        by = book.printer(job.wish.printer)
        papers = [it.name for it in book.papers if it.in_use and it.setups(by)]
        with self._quietly():
            offered = [("the same", ""), *[(it, it) for it in papers]]
            offer(self.paper, offered, self.paper.value)
        self._unit = book.lengths_in
        self.width.description = f"width ({self._unit})"
        self._offer_sheets()

    def _offer_sheets(self) -> None:
        job = self.chosen
        if job is None or job.wish is None:
            return
        paper = read_paper_book(job.wish.book).paper(self.paper.value or job.wish.paper)
        self.sheet.options = list(paper.sheets)

    def _duplicate(self) -> None:
        job = self.chosen
        if job is None:
            return
        typed, sheet = self.width.value.strip(), self.sheet.value.strip()
        paper = self.paper.value or None
        if not (typed or sheet or paper):
            raise SpecError(
                "Nothing of the copy is to be different.",
                remedy="Choose another paper or sheet, or type another width.",
            )
        width_mm = parse_length_mm(typed, self._unit) if typed else None
        plan_path = job.plan_path
        self._busy(is_duplicating=True)
        self._say("Opening the master, to see whether it can be printed so.")
        self._copying.do(
            lambda: duplicate_job(
                plan_path, paper=paper, width_mm=width_mm, media_size=sheet or None
            )
        )

    def _show_copied(self, path: Path) -> None:
        self._busy(is_duplicating=False)
        self._wanted = str(path)
        self._say(f"The copy is {path.name}.")
        with self._quietly():
            self.paper.value, self.sheet.value, self.width.value = "", "", ""
        self._guarded(self.refresh)()

    def _fail_copying(self, error: PrintPlanError) -> None:
        self._busy(is_duplicating=False)
        self._fail(error)

    def _busy(self, *, is_duplicating: bool) -> None:
        self.duplicate.disabled = is_duplicating


def _heading(words: str) -> widgets.HTML:
    heading = text()
    heading.value = f"<h3>{escape(words)}</h3>"
    return heading


def asked_size_words(wish: PlanFile) -> str:
    """The size that is asked for, as it is asked for."""
    size, unit = wish.spec.size, wish.spec.lengths_in
    lengths = (size.width_mm, size.height_mm, size.longest_mm)
    told = short_words(unit, *(it for it in lengths if it is not None))
    return {
        SizeRule.WIDTH: f"{told} wide",
        SizeRule.HEIGHT: f"{told} high",
        SizeRule.LONGEST_EDGE: f"longest edge {told}",
        SizeRule.FIT: f"within {told}",
        SizeRule.FILL: f"cut to {told}",
    }[size.rule]


def _details(job: Job, wish: PlanFile, folder: Path) -> str:
    place = job.plan_path
    if place.is_relative_to(folder):
        place = place.relative_to(folder)
    rows = [
        ("photograph", Path(wish.master.file).name),
        ("size", f"{asked_size_words(wish)}, on {wish.spec.sheet.media_size}"),
        ("paper", wish.paper),
        ("printer", wish.printer),
        ("state", job.state_words),
    ]
    if job.state is JobState.CHANGED:
        rows.append(
            ("mind", "The file that lies there was made before the plan changed.")
        )
    if job.file_path is not None:
        rows.append(("file", job.file_path.name))
    rows.append(("last touched", f"{job.touched_at:%Y-%m-%d %H:%M}"))
    rows.append(("plan", str(place)))
    if wish.note:
        rows.append(("note", wish.note))
    return table_words(rows).html
