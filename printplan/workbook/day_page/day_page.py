"""What does a person see who comes to print, today as yesterday?"""

from __future__ import annotations

from contextlib import suppress
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

import ipywidgets as widgets

from printplan.errors import MasterError, PrintPlanError, ProfileError, RecordError
from printplan.foreign_file import is_regular, read_foreign
from printplan.record.atomic_write import part_beside
from printplan.record.book_changes import record_profile
from printplan.record.job_list import studio_folders
from printplan.record.leftovers import tidy
from printplan.record.new_studio import new_studio
from printplan.record.paper_book import read_paper_book
from printplan.record.studio_folder import BOOK_NAME
from printplan.shown_text import escape
from printplan.workbook.bench import Bench
from printplan.workbook.day_page.frame import Frame
from printplan.workbook.day_page.many_view import ManyView
from printplan.workbook.day_page.print_view import PrintView
from printplan.workbook.day_page.studio_view import StudioView
from printplan.workbook.day_page.waiting import WaitingWords
from printplan.workbook.job_files import JobFiles
from printplan.workbook.panels.controls import Accessibility, switch, text
from printplan.workbook.panels.file_chooser import FileChooser
from printplan.workbook.panels.jobs import JobsPanel
from printplan.workbook.panels.master import MASTER_ENDINGS, PROFILE_ENDINGS
from printplan.workbook.panels.prints import PrintsPanel
from printplan.workbook.pictures import problem_html
from printplan.workbook.remedies import remedy_words
from printplan.workbook.unsaved import apply_unsaved, find_unsaved, open_elsewhere

if TYPE_CHECKING:
    from collections.abc import Callable

LAST_JOB_NAME = ".printplan-last-job"
"""Holds the plan that the page opens on, as a path from the studio's folder."""

_MOST_BYTES = 10_000
"""Of that file: paths are shorter."""


class Place(StrEnum):
    """What the page shows."""

    PRINT = "print"
    JOBS = "jobs"
    MANY = "many"
    PRINTS = "prints"
    STUDIO = "studio"


_PLACES = [
    ("this print", Place.PRINT),
    ("all jobs", Place.JOBS),
    ("many prints", Place.MANY),
    ("prints made", Place.PRINTS),
    ("printers and papers", Place.STUDIO),
]


class DayPage:
    """
    The page for the day's work in one studio.

    It opens on the last job. Without one it asks for what comes first: a printer, a
    paper, a photograph.

    Parameters
    ----------
    folder : str or Path
        The studio's.

    Attributes
    ----------
    ui : ipywidgets.Widget
        What a notebook shows.
    print_view : PrintView or None
        The job that is open.
    jobs : JobsPanel or None
        All jobs, once they were looked at.
    many : ManyView or None
        Tables of prints, once they were looked at.
    prints : PrintsPanel or None
        What was printed, once it was looked at.
    studio : StudioView or None
        Printers and papers, once they were looked at.
    """

    def __init__(self, folder: str | Path = ".") -> None:
        self.folder = Path(folder).absolute()
        tidy(studio_folders(self.folder))
        self.print_view: PrintView | None = None
        self.jobs: JobsPanel | None = None
        self.many: ManyView | None = None
        self.prints: PrintsPanel | None = None
        self.studio: StudioView | None = None
        self.place = switch("", _PLACES)
        self.title = text("printplan-bar-title")
        self.view = widgets.Box()
        self.view.add_class("printplan-view")
        self._tools = widgets.Box()
        bar = widgets.HBox([self.place, self.title, self._tools])
        bar.add_class("printplan-bar")
        told = WaitingWords().place
        self.ui = widgets.VBox(
            [Accessibility("The day's page"), Frame(), bar, told, self.view]
        )
        self.ui.add_class("printplan-panel")
        self.ui.add_class("printplan-page")
        self.place.observe(lambda _: self._show_place(), names="value")
        self._open_first()

    def open_job(
        self, plan_path: str | Path, *, master: str | Path | None = None
    ) -> None:
        """
        Open a job, and close the one that was open.

        Parameters
        ----------
        plan_path : str or Path
            If it cannot be opened, the page says why, and asks for the file that is
            missing.
        master : str or Path, optional
            Where the master lies now, if no longer where the plan says.
        """
        path = Path(plan_path).absolute()
        try:
            bench = Bench.open(path, master=master)
        except PrintPlanError as error:
            self._show_unopened(path, error, master)
            return
        self._close_job()
        self.print_view = PrintView(bench)
        self.print_view.notice.value = escape(_brought_back(bench, path))
        self._remember(path)
        self._go(Place.PRINT)

    def _show_place(self) -> None:
        show: dict[Place, Callable[[], widgets.Widget]] = {
            Place.PRINT: self._print_ui,
            Place.JOBS: self._jobs_ui,
            Place.MANY: self._many_ui,
            Place.PRINTS: self._prints_ui,
            Place.STUDIO: self._studio_ui,
        }
        try:
            shown = show[self.place.value]()
        except PrintPlanError as error:
            shown = widgets.HTML(problem_html(error))
        self.view.children = [shown]
        self.title.value = self._title()
        view = self.print_view if self.place.value is Place.PRINT else None
        self._tools.children = [] if view is None else [view.tools]

    def _go(self, place: Place) -> None:
        if self.place.value is place:
            self._show_place()
        else:
            self.place.value = place

    def _print_ui(self) -> widgets.Widget:
        if self.print_view is not None:
            return self.print_view.ui
        return widgets.HTML("No job is open: choose one under “all jobs”.")

    def _jobs_ui(self) -> widgets.Widget:
        if self.jobs is None:
            self.jobs = JobsPanel(self.folder, self.open_job)
        else:
            self.jobs.refresh()
        return self.jobs.ui

    def _many_ui(self) -> widgets.Widget:
        if self.many is None:
            self.many = ManyView(self.folder)
        else:
            self.many.refresh()
        return self.many.ui

    def _prints_ui(self) -> widgets.Widget:
        if self.prints is None:
            self.prints = PrintsPanel(self.folder, on_open=self.open_job)
        else:
            self.prints.refresh()
        return self.prints.ui

    def _studio_ui(self) -> widgets.Widget:
        self.studio = StudioView(self.book_path, lambda: self._go(Place.JOBS))
        return self.studio.ui

    @property
    def book_path(self) -> Path:
        """The studio's paper book."""
        return self.folder / BOOK_NAME

    def _title(self) -> str:
        view = self.print_view
        if self.place.value is not Place.PRINT or view is None:
            return ""
        master = Path(view.bench.master_spec.file).name
        return f"<b>{escape(master)}</b> {escape(view.bench.stem)}"

    def _open_first(self) -> None:
        """Open the last job, or ask for what comes before one."""
        if not self.book_path.is_file():
            self._ask_for_studio()
            return
        last = self._last_job()
        if last is not None:
            self.open_job(last)
        elif self._can_plan():
            self._go(Place.JOBS)
        else:
            self._go(Place.STUDIO)

    def _can_plan(self) -> bool:
        try:
            book = read_paper_book(self.book_path)
        except PrintPlanError:
            return True  # the list of jobs says what is wrong with the book
        printers = any(it.in_use for it in book.printers)
        return printers and any(it.in_use for it in book.papers)

    def _ask_for_studio(self) -> None:
        """Offer to make a studio in a folder that is none."""
        make = widgets.Button(
            description="Make a studio in this folder",
            button_style="primary",
            tooltip="An empty paper book, and folders for masters, profiles and jobs",
            layout={"width": "auto"},
        )
        told = text()
        told.value = (
            f"<p>{escape(str(self.folder))} is no studio yet: it holds no paper book."
            "</p>"
        )

        def begin(_: widgets.Button) -> None:
            try:
                new_studio(self.folder)
            except PrintPlanError as error:
                told.value = problem_html(error)
            else:
                self._go(Place.STUDIO)

        make.on_click(begin)
        self.view.children = [widgets.VBox([told, make])]

    def _show_unopened(
        self, path: Path, error: PrintPlanError, master: str | Path | None = None
    ) -> None:
        """Say why a job cannot be opened, and ask for the file that is missing."""
        asked: list[widgets.Widget] = []
        if isinstance(error, MasterError):
            asked = [
                FileChooser(
                    "master",
                    act="Open the job with this master",
                    endings=MASTER_ENDINGS,
                    folder=self.folder,
                    chosen=lambda master: self.open_job(path, master=master),
                ).ui
            ]
        elif isinstance(error, ProfileError):
            asked = [
                FileChooser(
                    "profile",
                    act="Write it into the paper book",
                    endings=PROFILE_ENDINGS,
                    folder=self.folder,
                    chosen=lambda profile: self._take_profile(path, profile, master),
                ).ui
            ]
        told = widgets.HTML(problem_html(error))
        self.view.children = [widgets.VBox([told, *asked])]
        self.title.value = escape(path.name)

    def _take_profile(
        self, path: Path, profile: Path, master: str | Path | None
    ) -> None:
        """Write the profile of a job's paper into the book, and open the job."""
        try:
            wish = JobFiles.read(path).whole_wish
            record_profile(
                wish.book,
                profile,
                paper=wish.paper,
                printer=wish.printer,
                setup=wish.spec.setup,
            )
        except PrintPlanError as error:
            self._show_unopened(path, error, master)
        else:
            self.open_job(path, master=master)

    def _close_job(self) -> None:
        if self.print_view is not None:
            with suppress(PrintPlanError):  # the choices for the paper, no more
                self.print_view.close()

    # The job that was open last

    def _last_job(self) -> Path | None:
        try:
            data = read_foreign(
                self.folder / LAST_JOB_NAME, raises=RecordError, most_bytes=_MOST_BYTES
            )
            told = data.decode().strip()
        except (RecordError, UnicodeDecodeError):
            return None
        path = self.folder / told
        return path if told and is_regular(path) else None

    def _remember(self, path: Path) -> None:
        told = path
        with suppress(ValueError):
            told = path.relative_to(self.folder)
        target = self.folder / LAST_JOB_NAME
        # A page that forgets is no reason to stop.
        with (
            suppress(RecordError),
            part_beside(target, if_exists="Delete that file.") as part,
        ):
            part.write_text(f"{told}\n", encoding="utf-8")
            part.replace(target)


def _brought_back(bench: Bench, path: Path) -> str:
    """Bring back what a kernel that ended had not saved, and say so."""
    if open_elsewhere(path):
        return (
            "This job has unsaved choices on another page: the page that saves second "
            "is refused, and can save under another name."
        )
    found = find_unsaved(path)
    if found is None:
        return ""
    try:
        apply_unsaved(bench, found)
    except PrintPlanError as error:
        return f"{error.problem} {remedy_words(error)}"
    return (
        f"Choices of {found.at:%d %B, %H:%M} that were not saved are back. “Undo” "
        "returns to the saved plan."
    )
