"""
The state of the workbook, and the way of a slider: state → plan → region → picture.

state
    `Bench.spec`, what is asked for. A control makes a whole new spec of what all
    controls of its panel say and gives it to `Bench.ask`; nothing else changes it.
plan
    `resolve` makes a plan in whole pixels of it, or refuses; then the bench stays as
    it was, and the panel shows problem and remedy. All that watch are told which
    parts of the spec changed (`Change`).
region
    A panel whose picture depends on one of these parts asks the new sheet for the box
    that it shows, in a worker that drops every job but the latest (`LatestOnly`). The
    sheet computes only what the change concerns; the rest it keeps.
picture
    The pixels of that box, encoded, are put in their place on the page, unless a newer
    plan is on its way.
"""

from __future__ import annotations

import sys
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, fields, replace
from pathlib import Path
from threading import RLock
from typing import TYPE_CHECKING, Protocol, Self
from weakref import WeakSet

from printplan.checks import check_pixels, check_plan
from printplan.errors import FitError, RecordError
from printplan.free_name import free_path as free_path  # noqa: PLC0414 - given on
from printplan.loops.machine_code import compile_loops
from printplan.pixels.master import open_master
from printplan.pixels.sheet import build_sheet, varied
from printplan.plan import resolve
from printplan.record.book_changes import record_profile
from printplan.record.leftovers import tidy
from printplan.record.paper_book import known_paper_book, read_paper_book
from printplan.record.paper_defaults import (
    defaults_path,
    moved_to,
    paper_defaults_of,
    read_defaults_of,
    write_paper_defaults,
)
from printplan.record.plan_file import open_plan_file
from printplan.spec import AlphaRule, MasterSpec
from printplan.workbook.job_files import JobFiles

if TYPE_CHECKING:
    from collections.abc import Iterator
    from contextlib import AbstractContextManager

    from printplan.checks import Finding
    from printplan.errors import PrintPlanError
    from printplan.media import Paper, Printer
    from printplan.pixels.master import Master
    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.record.paper_book import PaperBook
    from printplan.spec import (
        ColourSpec,
        DeliverySpec,
        MountSpec,
        PrintSpec,
        RoomSpec,
        SharpenSpec,
        SheetSpec,
        SizeSpec,
    )


MATERIAL = frozenset({"master", "paper", "printer", "setup"})
"""Parts of a `Change` on which all pictures depend; only the last is in the spec."""


@dataclass(frozen=True, slots=True)
class Change:
    """
    What the watchers of a bench are told.

    Attributes
    ----------
    parts : frozenset of str
        The parts of the spec that differ from before, by their names; those of
        `MATERIAL` too if they were exchanged, and ``note``.
    refusal : PrintPlanError or None
        Why a spec was refused; the plan is then the one before.
    """

    parts: frozenset[str]
    refusal: PrintPlanError | None = None


class Watcher(Protocol):
    """What shows the state of a bench."""

    def plan_changed(self, change: Change) -> None:
        """Show a new plan, or why a spec was refused."""

    def replaced(self) -> None:
        """Stop showing: a newer watcher is registered in this one's slot."""


class _OpenMasters:
    """Masters are closed when they are replaced and no worker needs them any more."""

    def __init__(self) -> None:
        self._lock = RLock()
        self._held: list[Master] = []
        self._replaced: WeakSet[Master] = WeakSet()

    @contextmanager
    def held(self, master: Master) -> Iterator[None]:
        """
        Keep a master open as long as the block runs.

        Parameters
        ----------
        master : Master
            One that was closed before stays closed, and says so when it is used.
        """
        with self._lock:
            was_open = master not in self._replaced or master in self._held
            if was_open:
                self._held.append(master)
        try:
            yield
        finally:
            with self._lock:
                if was_open:
                    self._held.remove(master)
                    self._close_unheld(master)

    def replace(self, master: Master) -> None:
        """Close a master, now or when the last worker that needs it is done."""
        with self._lock:
            self._replaced.add(master)
            self._close_unheld(master)

    def _close_unheld(self, master: Master) -> None:
        if master in self._replaced and master not in self._held:
            master.close()


class Bench:
    """
    The one state of the workbook: a spec, its plan and the sheet that follows.

    Parameters
    ----------
    sheet : Sheet
        The first one; its master stays open as long as the bench is used.
    folder : Path
        Where finished files go.
    stem : str
        What finished files are called, without ending.
    files : JobFiles, optional
        The plan file and its paper book; without them no plan can be saved and no
        other paper chosen.

    Attributes
    ----------
    sheet : Sheet
        The latest that could be made.
    master_spec : MasterSpec
        How its master was opened, with whole paths.
    refusal : PrintPlanError or None
        Why the latest spec was refused, until another one is accepted.
    note : str
        The plan's, which goes into its records; see `change_note`.
    """

    def __init__(
        self, sheet: Sheet, *, folder: Path, stem: str, files: JobFiles | None = None
    ) -> None:
        self.sheet = sheet
        self.folder = folder
        self.stem = stem
        self.files = files
        self.master_spec = (
            files.whole_wish.master
            if files is not None
            else MasterSpec(file=sheet.plan.facts.path)
        )
        self.refusal: PrintPlanError | None = None
        self.note = "" if files is None else files.wish.note
        self._watchers: dict[str, Watcher] = {}
        self._known_choices = paper_defaults_of(sheet.plan)
        self._masters = _OpenMasters()
        # A worker may change the spec while a control does.
        self._lock = RLock()

    @classmethod
    def open(cls, plan_path: str | Path, *, master: str | Path | None = None) -> Self:
        """
        Open what a plan file describes.

        Parameters
        ----------
        plan_path : str or Path
            Finished files go beside it, under its name.
        master : str or Path, optional
            Where the master lies now, if no longer where the plan says.

        Raises
        ------
        PrintPlanError
            If something that the plan names cannot be read, or the print cannot be
            made as asked.
        """
        _make_loops()
        files = JobFiles.read(plan_path)
        path = files.plan_path
        wish = files.whole_wish
        if master is not None:
            lies = replace(wish.master, file=str(Path(master).absolute()))
            wish = replace(wish, master=lies)
        tidy([path.parent, Path(wish.book).parent])
        sheet = open_plan_file(wish)
        bench = cls(sheet, folder=path.parent, stem=path.stem, files=files)
        bench.master_spec = wish.master
        return bench

    @classmethod
    def of(
        cls,
        master: Master,
        paper: Paper,
        printer: Printer,
        spec: PrintSpec,
        *,
        folder: Path | None = None,
    ) -> Self:
        """
        Begin with a master that is open already.

        Parameters
        ----------
        folder : Path, optional
            Where finished files go; the working directory if not given.

        Raises
        ------
        PrintPlanError
            If the print cannot be made as asked.
        """
        _make_loops()
        sheet = build_sheet(master, resolve(master.facts, paper, printer, spec))
        stem = Path(master.facts.path).stem
        return cls(sheet, folder=folder or Path.cwd(), stem=f"{stem}-print")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """
        Save the choices for the paper, and close the master.

        Raises
        ------
        RecordError, SpecError
            If the choices cannot be saved; the master is closed all the same.
        """
        try:
            self._keep_new_choices()
        finally:
            self._masters.replace(self.sheet.master)

    @property
    def master(self) -> Master:
        """The photograph."""
        return self.sheet.master

    @property
    def plan(self) -> PrintPlan:
        """The latest plan that could be made."""
        return self.sheet.plan

    @property
    def spec(self) -> PrintSpec:
        """What was asked for in that plan."""
        return self.plan.spec

    @property
    def paper(self) -> Paper:
        """The paper."""
        return self.plan.paper

    @property
    def printer(self) -> Printer:
        """The printer."""
        return self.plan.printer

    @property
    def findings(self) -> list[Finding]:
        """What should be known before ink is spent on this plan."""
        return [*check_plan(self.plan), *check_pixels(self.sheet)]

    def change(  # noqa: PLR0913 - the parts of a spec
        self,
        *,
        size: SizeSpec | None = None,
        sharpen: SharpenSpec | None = None,
        colour: ColourSpec | None = None,
        sheet: SheetSpec | None = None,
        mount: MountSpec | None = None,
        room: RoomSpec | None = None,
        delivery: DeliverySpec | None = None,
    ) -> PrintPlan:
        """
        Change parts of the spec; what is not named stays.

        Returns
        -------
        PrintPlan
            The new plan. The master's pixels that were computed for the one before
            are kept where size and crop did not change.

        Raises
        ------
        PrintPlanError
            If it cannot be made. The bench is as it was.
        """
        spec = self.spec
        return self.ask(
            replace(
                spec,
                size=size or spec.size,
                sharpen=sharpen or spec.sharpen,
                colour=colour or spec.colour,
                sheet=sheet or spec.sheet,
                mount=mount or spec.mount,
                room=room or spec.room,
                delivery=delivery or spec.delivery,
            )
        )

    def ask(self, spec: PrintSpec) -> PrintPlan:
        """
        Ask for a whole new spec.

        Raises
        ------
        PrintPlanError
            As for `change`.
        """
        with self._lock:
            self._set_sheet(
                self.sheet if spec == self.spec else varied(self.sheet, spec)
            )
            return self.plan

    def take(self, plan: PrintPlan) -> None:
        """
        Put back a plan that was on the bench before.

        Parameters
        ----------
        plan : PrintPlan
            Of the present master.

        Raises
        ------
        PrintPlanError
            If it is another master's, or its profile cannot be read any more.
        """
        with self._lock:
            self._set_sheet(build_sheet(self.master, plan, reuse=self.sheet))

    def change_master(
        self,
        path: str | Path,
        *,
        assume_profile: str = "",
        alpha: AlphaRule = AlphaRule.REFUSE,
    ) -> PrintPlan:
        """
        Take another master under the same spec; the one before is closed.

        Another photograph is a new job: plan and files get its name, no note comes
        along, and nothing is written over the job before. The same photograph in
        another place, or read in another way, stays the job that it was.

        Parameters
        ----------
        alpha : AlphaRule, optional
            As for `open_master`.

        Raises
        ------
        PrintPlanError
            If it cannot be opened, or the print cannot be made of it as asked. The
            bench is as it was.
        """
        master_spec = MasterSpec(
            file=str(Path(path).absolute()), assume_profile=assume_profile, alpha=alpha
        )
        master = open_master(
            master_spec.file, assume_profile=assume_profile, alpha=alpha
        )
        try:
            plan = resolve(master.facts, self.paper, self.printer, self.spec)
            sheet = build_sheet(master, plan)
        except BaseException:
            master.close()
            raise
        before = self.master
        self.master_spec = master_spec
        if master.facts.sha256 != before.facts.sha256:
            self._begin_job(plan)
        self._set_sheet(sheet)
        self._masters.replace(before)
        return plan

    def open_plan(self, path: str | Path) -> PrintPlan:
        """
        Go on with another plan file; the master before is closed.

        Parameters
        ----------
        path : str or Path
            Finished files go beside it from then on, under its name.

        Raises
        ------
        PrintPlanError
            As for `open`. The bench is as it was.
        """
        files = JobFiles.read(path)
        sheet = open_plan_file(files.whole_wish)
        try:
            self._keep_new_choices()
        except BaseException:
            sheet.master.close()
            raise
        before = self.master
        self.files, self.master_spec = files, files.whole_wish.master
        self.folder, self.stem = files.plan_path.parent, files.plan_path.stem
        self.note = files.whole_wish.note
        self._set_sheet(sheet)
        self._masters.replace(before)
        return self.plan

    def _begin_job(self, plan: PrintPlan) -> None:
        self.stem = f"{Path(self.master_spec.file).stem}-print"
        self.note = ""
        if self.files is not None:
            self.files = self.files.begun_for(plan, self.master_spec)
            self.stem = self.files.plan_path.stem

    def change_note(self, note: str) -> None:
        """Say something else about the plan; it is kept with it."""
        if note != self.note:
            self.note = note
            self._tell(Change(frozenset({"note"})))

    @property
    def book(self) -> PaperBook:
        """
        The paper book as it is now; read again only when its file is another.

        Raises
        ------
        RecordError, SpecError
            If the bench has none, or it cannot be read.
        """
        return known_paper_book(self._job().book_path)

    def change_paper(
        self, paper: str, *, printer: str | None = None, setup: str | None = None
    ) -> PrintPlan:
        """
        Take another paper, or another printer, with what was last chosen for it.

        Parameters
        ----------
        paper : str
            Name in the paper book.
        printer : str, optional
            Name in the paper book; the present one if not given.
        setup : str, optional
            Which of the paper's setups on it; the one last chosen if not given.

        Returns
        -------
        PrintPlan
            Size, crop, sheet, mount, room and copies are as before. What was kept
            for this paper on this printer comes back; see `PaperDefaults`. If
            nothing was, the rest of the spec stays too. A feed path that does not take
            the paper gives way to the first that does.

        Raises
        ------
        PrintPlanError
            If the book, or what was kept, cannot be read, or the print cannot be
            made on that paper. The bench is as it was.
        """
        job = self._job()
        book = read_paper_book(job.book_path)
        to = book.paper(paper)
        by = book.printer(printer or self.printer.name)
        kept = read_defaults_of(defaults_path(job.book_path), to, by)
        same = (to.name, by.name) == (self.paper.name, self.printer.name)
        spec = moved_to(self.spec, to, by, defaults=None if same else kept, setup=setup)
        try:
            plan = resolve(self.master.facts, to, by, spec)
        except FitError as error:
            raise FitError(
                f"On {to.name}, as it was last used: {error.problem}"
                if kept is not None
                else f"On {to.name}: {error.problem}",
                remedy=error.remedy,
            ) from error
        sheet = build_sheet(self.master, plan, reuse=self.sheet)
        self._keep_new_choices()
        self._set_sheet(sheet)
        return plan

    def record_profile(
        self, path: str | Path, *, paper: str, printer: str | None = None
    ) -> PrintPlan:
        """
        Write another profile of a paper into the paper book, and take that paper.

        Parameters
        ----------
        path : str or Path
            An ICC output profile made for this paper on this printer.
        printer : str, optional
            As for `change_paper`.

        Raises
        ------
        PrintPlanError
            If it is no output profile, the book cannot be written, or as for
            `change_paper`.
        """
        job = self._job()
        by = printer or self.printer.name
        setup = self.spec.setup if paper == self.paper.name else ""
        record_profile(job.book_path, path, paper=paper, printer=by, setup=setup)
        return self.change_paper(paper, printer=by)

    def keep(self) -> Path:
        """
        Write the plan over the plan file that the bench was opened from.

        Returns
        -------
        Path
            The plan file. What was chosen for the paper is kept too.

        Raises
        ------
        RecordError
            If the bench was not opened from one, another program changed it
            meanwhile, or it cannot be written.
        """
        self.files = self._job().keep(self.plan, self.master_spec, self.note)
        self.write_paper_defaults()
        return self.files.plan_path

    def keep_as(self, path: str | Path) -> Path:
        """
        Write the plan into a new file, which is the bench's own from then on.

        Parameters
        ----------
        path : str or Path
            A relative one begins beside the present plan file.

        Returns
        -------
        Path
            The plan file. Finished files go beside it, under its name.

        Raises
        ------
        RecordError
            If there is such a file already, or it cannot be written.
        """
        self.files = self._job().keep_as(path, self.plan, self.master_spec, self.note)
        self.folder, self.stem = self.files.plan_path.parent, self.files.plan_path.stem
        self.write_paper_defaults()
        return self.files.plan_path

    def write_paper_defaults(self) -> None:
        """
        Keep what is chosen for this paper on this printer; see `PaperDefaults`.

        Raises
        ------
        RecordError, SpecError
            If the choices that were kept before cannot be read, or these not be
            written. A bench without a paper book keeps none.
        """
        if self.files is not None:
            self._known_choices = paper_defaults_of(self.plan)
            path = defaults_path(self.files.book_path)
            write_paper_defaults(path, self._known_choices)

    def keep_master_open(self) -> AbstractContextManager[None]:
        """Keep the present master open while a worker computes in the block."""
        return self._masters.held(self.master)

    def refuse(self, error: PrintPlanError) -> None:
        """
        Tell the watchers that a spec was refused.

        Parameters
        ----------
        error : PrintPlanError
            What `change` raised, or what kept a file from being written.
        """
        self.refusal = error
        self._tell(Change(frozenset(), error))

    def watch(self, slot: str, watcher: Watcher) -> None:
        """
        Register a watcher, which is told of every change from now on.

        Parameters
        ----------
        slot : str
            Replaces the watcher registered under the same name: a cell that is run
            again leaves none behind that computes pictures nobody sees.
        """
        earlier = self._watchers.pop(slot, None)
        self._watchers[slot] = watcher
        if earlier is not None:
            earlier.replaced()

    def _job(self) -> JobFiles:
        if self.files is None:
            raise RecordError(
                "This bench was not opened from a plan file, so it has no paper book.",
                remedy="Write a plan file, and open that.",
            )
        return self.files

    def _set_sheet(self, sheet: Sheet) -> None:
        """Take another sheet and tell the watchers what differs."""
        old, new = self.plan, sheet.plan
        parts = {
            part.name
            for part in fields(new.spec)
            if getattr(new.spec, part.name) != getattr(old.spec, part.name)
        }
        parts |= {
            it for it in ("paper", "printer") if getattr(new, it) != getattr(old, it)
        }
        if sheet.master is not self.master:
            parts.add("master")
        self.sheet = sheet
        if parts & {"paper", "printer", "setup"}:
            self._known_choices = paper_defaults_of(new)
        if parts or self.refusal is not None:
            self.refusal = None
            self._tell(Change(frozenset(parts)))

    def _tell(self, change: Change) -> None:
        """Tell all watchers, even if one of them fails; then its error is raised."""
        with ExitStack() as stack:
            for watcher in reversed(list(self._watchers.values())):
                stack.callback(watcher.plan_changed, change)

    def _keep_new_choices(self) -> None:
        """Keep choices that were made here; those that came with a plan are not."""
        if paper_defaults_of(self.plan) != self._known_choices:
            self.write_paper_defaults()


def _make_loops() -> None:
    """Compile the loops over pixels, and say so where that was not done before."""

    def tell(done: int, _all: int) -> None:
        if done == 1:
            sys.stdout.write("Making the pixel loops for this machine …\n")
            sys.stdout.flush()

    compile_loops(tell)
