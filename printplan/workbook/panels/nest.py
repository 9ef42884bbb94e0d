"""Which jobs go on one roll or sheet, how do they lie, and how are they cut?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.errors import PrintPlanError, SpecError
from printplan.record.job_list import JobList, list_jobs
from printplan.record.nested_prints import (
    BLADE_CAUTION,
    USUAL_GAP_MM,
    NestWish,
    nesting_rows,
    nesting_words,
    open_nested,
    straight_cuts,
)
from printplan.record.nesting_drawing import cut_words
from printplan.record.nesting_file import draw_nested, write_nested
from printplan.record.paper_book import read_paper_book
from printplan.record.studio_folder import BOOK_NAME, JOBS_FOLDER
from printplan.shown_text import escape
from printplan.units import LengthUnit, parse_length_mm, short_words
from printplan.workbook.panels.book_panel import BookPanel
from printplan.workbook.panels.controls import (
    CONTROL,
    acts,
    choice,
    line,
    offer,
    show_if,
    switch,
    text,
)
from printplan.workbook.panels.jobs import asked_size_words
from printplan.workbook.pictures import columns_html, problem_html

if TYPE_CHECKING:
    from printplan.record.job_list import Job
    from printplan.record.nesting_file import MadeNesting

_MOST_COPIES = 200
_COUNT_PX = 88
"""Room for a number; the rest of the line is the job's name. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shown:
    """What the page shows of a nesting, and what was wished."""

    wish: NestWish
    words: str
    drawings: str
    table: str
    cuts: str


class NestPanel(BookPanel):
    """
    Jobs of a studio nested on one medium: drawing, lengths, cuts, and their file.

    Parameters
    ----------
    folder : str or Path
        The studio's, with its paper book.

    Attributes
    ----------
    ui : ipywidgets.VBox
        What a notebook shows.
    """

    title: ClassVar[str] = "Several prints on one roll or sheet"
    beside_px: ClassVar[int] = 640

    def __init__(self, folder: str | Path) -> None:
        self.folder = Path(folder).absolute()
        super().__init__(self.folder / BOOK_NAME)
        self._jobs: tuple[Job, ...] = ()
        self._unit = LengthUnit.MM
        self._shown: _Shown | None = None
        self.words, self.problems = text(), text()
        self.drawing, self.cuts = text(), text()
        self.paper = choice("paper", [])
        self.paper.tooltip = "Jobs on this paper and printer can share a file"
        self.copies: dict[Path, widgets.BoundedIntText] = {}
        self.rows = widgets.VBox()
        self.medium = widgets.Combobox(
            description="roll or sheet",
            placeholder="that of the first job",
            continuous_update=False,
            ensure_option=False,
            tooltip="A roll by its width, such as 24 in roll, or a sheet: A2",
            **CONTROL,
        )
        self.gap = line("gap", tooltip="White between prints, where a blade goes")
        self.turning = switch("turning", [("allowed", True), ("none", False)])
        self.turning.tooltip = "Whether prints may lie turned by 90 degrees"
        self.cutting = switch("cuts", [("any", False), ("straight through", True)])
        self.cutting.tooltip = "Straight through: a trimmer frees all prints"
        self.nest = widgets.Button(
            description="Nest them",
            button_style="primary",
            tooltip="Find how they take the least paper",
        )
        self.write = widgets.Button(
            description="Write the file",
            tooltip="One file with all prints, under a free name among the jobs",
        )
        self.again = widgets.Button(
            description="Look again", tooltip="Read the studio's folders anew"
        )
        self._reading = self._worker(self._show_jobs)
        self._nesting = self._worker(self._show_nesting, self._fail_nesting)
        self._writing = self._worker(self._show_written, self._fail_nesting)
        self.paper.observe(self._guarded(self._show_rows), names="value")
        for control in (self.medium, self.gap, self.turning, self.cutting):
            control.observe(self._guarded(self._outdate), names="value")
        for button, press in (
            (self.nest, self._nest),
            (self.write, self._write),
            (self.again, self.refresh),
        ):
            button.on_click(self._guarded(press))
        self._lay_out(
            [
                self.paper,
                self.rows,
                self.medium,
                self.gap,
                self.turning,
                self.cutting,
                acts(self.nest, self.write),
                acts(self.again),
                self.message,
                self.status,
                self.problems,
            ],
            beside=widgets.VBox([self.drawing, self.words, self.cuts]),
        )
        self._outdate()
        self._guarded(self.refresh)()

    def refresh(self) -> None:
        """Show the jobs that lie in the studio now."""
        folder = self.folder
        self._reading.do(lambda: list_jobs(folder))

    def settle(self, timeout_s: float = 120.0) -> bool:
        """
        Wait until nothing is being read, nested or written.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        parts = (self._reading, self._nesting, self._writing)
        return all(it.settle(timeout_s) for it in parts)

    # What is nested

    def _show_jobs(self, listed: JobList) -> None:
        self._jobs = tuple(it for it in listed.jobs if it.wish is not None)
        self.problems.value = "".join(problem_html(it) for it in listed.problems)
        pairs = dict.fromkeys(map(_pair, self._jobs))
        with self._quietly():
            offered = [
                (f"{paper}, {printer}", (paper, printer)) for paper, printer in pairs
            ]
            offer(self.paper, offered, self.paper.value)
        self._guarded(self._show_rows)()

    def _show_rows(self) -> None:
        """One number for each job on the paper; what was typed stays."""
        jobs = [it for it in self._jobs if _pair(it) == self.paper.value]
        kept = self.copies
        self.copies = {}
        for job in jobs:
            row = kept.get(job.plan_path) or self._row()
            row.description = _name(job, self.folder)  # a size may have changed
            self.copies[job.plan_path] = row
        self.rows.children = list(self.copies.values())
        show_if(bool(jobs), self.nest, self.medium, self.gap)
        if not jobs:
            self.words.value = "<p>There is no job yet.</p>"
            return
        book = read_paper_book(self.book_path)
        self._unit = book.lengths_in
        self.gap.description = f"gap ({self._unit})"
        if not self.gap.value:
            usual = short_words(self._unit, USUAL_GAP_MM)
            with self._quietly():
                self.gap.value = usual.partition(" ")[0]
        paper = book.paper(jobs[0].wish.paper if jobs[0].wish else "")
        rolls = [f"{short_words(self._unit, it)} roll" for it in paper.rolls_mm]
        self.medium.options = [*rolls, *paper.sheets]
        self.accessibility.explain(self.ui)
        self._outdate()

    def _row(self) -> widgets.BoundedIntText:
        row = widgets.BoundedIntText(
            min=0,
            max=_MOST_COPIES,
            tooltip="How many prints of this job; 0 leaves it out",
            style={"description_width": f"calc(100% - {_COUNT_PX}px)"},
            layout=CONTROL["layout"],
        )
        row.observe(self._guarded(self._outdate), names="value")
        return row

    def _outdate(self) -> None:
        """What is shown is not what is asked for any more."""
        self._shown = None
        self.write.disabled = True
        for place in (self.drawing, self.cuts):
            place.value = ""
        self.words.value = "<p>Say how many prints of each job, then nest them.</p>"

    def _wish(self) -> NestWish:
        chosen = {path: row.value for path, row in self.copies.items() if row.value}
        if not chosen:
            raise SpecError(
                "No print is chosen.", remedy="Set the number of at least one job."
            )
        return NestWish(
            plans=tuple(chosen),
            copies=tuple(chosen.values()),
            on=self.medium.value.strip(),
            gap_mm=parse_length_mm(self.gap.value.strip() or "0", self._unit),
            straight_cuts=self.cutting.value,
            may_turn=self.turning.value,
        )

    # The nesting

    def _nest(self) -> None:
        wish = self._wish()
        self._outdate()
        self._busy(is_working=True)
        self._say("Looking for the shortest way.")
        self._nesting.do(partial(_nested, wish))

    def _show_nesting(self, shown: _Shown) -> None:
        self._busy(is_working=False)
        self._say("")
        self._shown = shown
        self.write.disabled = False
        self.drawing.value, self.cuts.value = shown.drawings, shown.cuts
        self.words.value = f"<p>{escape(shown.words)}</p>{shown.table}"

    def _write(self) -> None:
        if self._shown is None:
            raise SpecError("Nothing is nested yet.", remedy="Nest the prints first.")
        self._busy(is_working=True)
        self._say("Computing all prints and writing their file.")
        wish, jobs = self._shown.wish, self.folder / JOBS_FOLDER
        self._writing.do(partial(_written, wish, jobs))

    def _show_written(self, made: MadeNesting) -> None:
        self._busy(is_working=False)
        names = ", ".join(it.path.name for it in made.files)
        beside = "" if made.record_path is None else f" and {made.record_path.name}"
        self._say(f"Written: {names}{beside}, in {made.files[0].path.parent}.")

    def _fail_nesting(self, error: PrintPlanError) -> None:
        self._busy(is_working=False)
        self._fail(error)

    def _busy(self, *, is_working: bool) -> None:
        self.nest.disabled = is_working
        self.write.disabled = is_working or self._shown is None


def _pair(job: Job) -> tuple[str, str]:
    return ("", "") if job.wish is None else (job.wish.paper, job.wish.printer)


def _name(job: Job, folder: Path) -> str:
    """Its name in the studio, and of its wish what tells it from another job."""
    place = job.plan_path.relative_to(folder).with_suffix("")
    name = place.as_posix().removeprefix(f"{JOBS_FOLDER}/")
    if job.wish is None:
        return name
    return f"{name}: {asked_size_words(job.wish)}, {job.wish.spec.size.ppi:g} ppi"


def _nested(wish: NestWish) -> _Shown:
    """Nest, and put all that is shown of it into words and drawings."""
    with open_nested(wish) as nested:
        drawings, cuts = "", ""
        for sheet in range(1, nested.nesting.sheets + 1):
            drawing = draw_nested(nested, sheet)
            drawings += (
                f'<img src="{drawing.data_uri}" alt="{escape(drawing.description)}" '
                'style="width: 100%; max-width: 900px; background: #fff">'
            )
            found = straight_cuts(nested.nesting, sheet)
            if found is None:
                cuts = (
                    "<p>No straight cuts through free these prints. Choose cuts "
                    "straight through, or cut each out along a rule.</p>"
                )
                break
            lines = "".join(f"<br>{escape(cut_words(it, nested.unit))}" for it in found)
            which = f" of sheet {sheet}" if nested.nesting.sheets > 1 else ""
            cuts += f"<p><b>Cuts{which}, in their order</b>{lines}</p>"
        head, *rows = nesting_rows(nested)
        return _Shown(
            wish=wish,
            words=nesting_words(nested),
            drawings=drawings,
            table=columns_html(head, rows, caption="Where each print lies"),
            cuts=f"{cuts}<p>{escape(BLADE_CAUTION)}</p>",
        )


def _written(wish: NestWish, jobs: Path) -> MadeNesting:
    with open_nested(wish) as nested:
        return write_nested(nested, folder=jobs if jobs.is_dir() else None)
