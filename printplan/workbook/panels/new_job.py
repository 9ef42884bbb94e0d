"""How does a photograph become a plan in which everything is chosen?"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.errors import PrintPlanError, RecordError, SpecError
from printplan.own_folders import own_home
from printplan.pixels.guarded_reading import described
from printplan.pixels.master_file import Transparency
from printplan.record.job import JobWish, Planned, plan_job, write_job
from printplan.record.paper_book import read_paper_book
from printplan.record.studio_folder import MASTERS_FOLDER, PROFILES_FOLDER, jobs_folder
from printplan.shown_text import escape
from printplan.spec import AlphaRule, MasterSpec, NamedSpace
from printplan.units import LengthUnit, parse_length_mm
from printplan.workbook.panels.book_panel import BookPanel
from printplan.workbook.panels.controls import (
    CONTROL,
    acts,
    choice,
    choose,
    line,
    offer,
    show_if,
    text,
)
from printplan.workbook.panels.file_chooser import FileChooser
from printplan.workbook.panels.master import PROFILE_ENDINGS
from printplan.workbook.panels.photo_chooser import PhotoChooser

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from printplan.pixels.master_file import Stored
    from printplan.record.paper_book import PaperBook


_BY_FILE = "by-file"
_UNTAGGED = [
    ("not said", ""),
    *[(str(space), str(space)) for space in NamedSpace],
    ("those of a profile, chosen below", _BY_FILE),
]
_TRANSPARENT = [
    ("refuse it", AlphaRule.REFUSE),
    ("lay it on paper white", AlphaRule.FLATTEN),
]


class NewJobPanel(BookPanel):
    """
    A photograph, and the little that a person has to say about its print.

    Parameters
    ----------
    book_path : str or Path
        The paper book.
    on_planned : callable
        Takes the new plan file.

    Attributes
    ----------
    ui : ipywidgets.VBox
        What a notebook shows.
    """

    title: ClassVar[str] = "A new job"

    def __init__(
        self, book_path: str | Path, on_planned: Callable[[Path], None]
    ) -> None:
        super().__init__(book_path)
        self._on_planned = on_planned
        self._is_planning = False
        self._unit = LengthUnit.MM
        self._stored: Stored | None = None
        self.reasons = text()
        self.untagged = choice("its colours are", _UNTAGGED)
        self.untagged.tooltip = (
            "This photograph carries no profile: say in which space it is"
        )
        profiles = self.book_path.parent / PROFILES_FOLDER
        self.assumed = FileChooser(
            "its profile",
            act="Take this profile",
            endings=PROFILE_ENDINGS,
            folder=profiles if profiles.is_dir() else self.book_path.parent,
            chosen=self._assume,
        )
        self.transparent = choice("transparency", _TRANSPARENT)
        self.transparent.tooltip = "What to do where the photograph lets through"
        self.printer = choice("printer", [])
        self.printer.tooltip = "Which printer of the paper book prints it"
        self.paper = choice("paper", [])
        self.paper.tooltip = "Which paper of the paper book it is printed on"
        self.setup = choice("setup", [])
        self.setup.tooltip = "One of several ways to print on this paper"
        self.sheet = widgets.Combobox(
            description="sheet",
            placeholder="the first kept size that takes it",
            continuous_update=False,
            tooltip="Size of the sheet, such as A3 or 13x19 in; empty: chosen for you",
            **CONTROL,
        )
        self.width = line(
            "width",
            placeholder="the largest that the sheet takes",
            tooltip="Width of the picture on paper; empty: as large as the sheet takes",
        )
        self.distance = line(
            "distance",
            placeholder="what is usual at its size",
            tooltip="Eye to print; farther away it is sharpened more broadly",
        )
        self.plan = widgets.Button(
            description="Plan this print",
            button_style="primary",
            tooltip="Choose size, intent and sharpening, say why, and write the plan",
        )
        masters = self.book_path.parent / MASTERS_FOLDER
        places = [("this studio's masters", masters)] if masters.is_dir() else []
        places += [("my own folder", own_home())]
        self.chooser = PhotoChooser(
            folder=places[0][1], changed=self._photograph_changed, places=places
        )
        self._planning = self._worker(self._show_planned, self._fail_planning)
        self.untagged.observe(self._guarded(self._show_assumed), names="value")
        for control in (self.printer, self.paper):
            control.observe(self._guarded(self._offer_below), names="value")
        self.plan.on_click(self._guarded(self._start))
        self._lay_out(
            [
                self.untagged,
                self.assumed.ui,
                self.transparent,
                self.printer,
                self.paper,
                self.setup,
                self.sheet,
                self.width,
                self.distance,
                acts(self.plan),
                self.message,
                self.status,
            ],
            beside=self.reasons,
        )
        # Over the whole width: more photographs are in sight.
        accessibility, body = self.ui.children
        self.ui.children = [accessibility, self.chooser.ui, body]
        self.accessibility.explain(self.ui)
        self._photograph_changed()
        self._guarded(self.refresh)()

    def settle(self, timeout_s: float = 120.0) -> bool:
        """
        Wait until nothing is being planned.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return self._planning.settle(timeout_s)

    def refresh(self) -> None:
        """
        Offer what the book holds now.

        Raises
        ------
        RecordError
            If the book cannot be read, or no paper can be printed on.
        """
        book = self._offer()
        if not self.paper.options:
            what = "printer" if not self.printer.options else "paper for this printer"
            raise RecordError(
                f"The paper book holds no {what} in use.",
                remedy="Add the printer first, then a paper by its profile.",
            )
        self._unit = book.lengths_in
        self.width.description = f"width ({self._unit})"
        self.distance.description = f"distance ({self._unit})"

    # What is offered

    def _offer(self) -> PaperBook:
        """Offer printers, the papers of the one chosen, and what goes with that."""
        book = read_paper_book(self.book_path)
        with self._quietly():
            printers = [it for it in book.makers if it.in_use]
            names = [(it.name, it.name) for it in printers]
            offer(self.printer, names, self.printer.value)
            by = next((it for it in printers if it.name == self.printer.value), None)
            papers = [] if by is None else book.papers_on(by)
            names = [(it.name, it.name) for it in papers]
            offer(self.paper, names, self.paper.value)
            to = next((it for it in papers if it.name == self.paper.value), None)
            setups = (
                []
                if by is None or to is None
                else [it.setup for it in to.setups(by) if it.in_use]
            )
            names = [(it or "the only one", it) for it in setups]
            offer(self.setup, names, self.setup.value)
            self.sheet.options = [] if to is None else list(to.sheets)
        show_if(len(printers) > 1, self.printer)
        show_if(len(setups) > 1, self.setup)
        return book

    def _offer_below(self) -> None:
        self._offer()

    def _photograph_changed(self) -> None:
        """Ask of a photograph only what its file does not say."""
        path, self._stored = self.chooser.selected, None
        if path is not None:
            self._guarded(lambda: self._look_into(path))()
        self._ask_of_photograph()
        self.plan.disabled = self._is_planning or path is None

    def _ask_of_photograph(self) -> None:
        show_if(self._is_untagged, self.untagged)
        show_if(self._is_transparent, self.transparent)
        self.untagged.value = ""
        self._show_assumed()

    def _show_assumed(self) -> None:
        show_if(self._is_untagged and self.untagged.value == _BY_FILE, self.assumed.ui)

    def _assume(self, profile: Path) -> None:
        """Read the photograph by a profile's file, which is offered from then on."""
        choose(self.untagged, str(profile))

    @property
    def _is_untagged(self) -> bool:
        return self._stored is not None and not self._stored.profile_data

    @property
    def _is_transparent(self) -> bool:
        stored = self._stored
        return stored is not None and stored.transparency is not Transparency.NONE

    def _look_into(self, path: Path) -> None:
        _, self._stored = described(path)

    # The plan

    def _start(self) -> None:
        path = self.chooser.selected
        if path is None:
            raise SpecError(
                "No photograph is chosen.", remedy="Pick one of the folder above."
            )
        wish = self._wish(path)
        book_path = self.book_path
        folder = jobs_folder(book_path)

        def say(words: str) -> None:
            self.page.do(partial(self._say, words))

        def work() -> tuple[Planned, Path]:
            planned = plan_job(book_path, wish, say)
            say("Writing the plan.")
            return planned, write_job(planned, folder)

        self.reasons.value = ""
        self._busy(is_planning=True)
        self._planning.do(work)

    def _wish(self, path: Path) -> JobWish:
        untagged, see_through = self._is_untagged, self._is_transparent
        if untagged and self.untagged.value == _BY_FILE:
            raise SpecError(
                f"No profile is chosen for {path.name}.",
                remedy='Choose its file at "its profile".',
            )
        if untagged and not self.untagged.value:
            says = self._stored is not None and self._stored.says_srgb
            raise SpecError(
                f"{path.name} carries no colour profile"
                f"{', and says that it is sRGB' if says else ''}.",
                remedy='Choose below the photographs what "its colours are", or export '
                "it again with its profile embedded.",
            )
        if see_through and self.transparent.value is AlphaRule.REFUSE:
            raise SpecError(
                f"{path.name} carries transparency.",
                remedy='Choose at "transparency" to lay it on paper white, or export '
                "it again without.",
            )
        return JobWish(
            master=MasterSpec(
                file=str(path),
                assume_profile=self.untagged.value if untagged else "",
                alpha=self.transparent.value if see_through else AlphaRule.REFUSE,
            ),
            paper=self.paper.value or "",
            printer=self.printer.value or "",
            setup=self.setup.value or "",
            width_mm=self._length_mm(self.width),
            media_size=self.sheet.value.strip(),
            distance_mm=self._length_mm(self.distance),
        )

    def _length_mm(self, control: widgets.Text) -> float | None:
        typed = control.value.strip()
        if not typed:
            return None
        try:
            return parse_length_mm(typed, self._unit)
        except SpecError as error:
            what = control.description.split(" ")[0]
            raise SpecError(f"{what}: {error.problem}", remedy=error.remedy) from error

    def _show_planned(self, done: tuple[Planned, Path]) -> None:
        planned, path = done
        self._busy(is_planning=False)
        lines = "".join(f"<li>{escape(it)}</li>" for it in planned.reasons)
        self.reasons.value = f"<p>Chosen for this print:</p><ul>{lines}</ul>"
        self._say(f"The plan is {path.name}.")
        self._guarded(lambda: self._on_planned(path))()

    def _fail_planning(self, error: PrintPlanError) -> None:
        self._busy(is_planning=False)
        self._fail(error)

    def _busy(self, *, is_planning: bool) -> None:
        self._is_planning = is_planning
        self.plan.disabled = is_planning or self.chooser.selected is None
