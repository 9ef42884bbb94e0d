"""What lies on the bench: one master, one paper, one plan, and who watches them."""

from __future__ import annotations

import os
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Protocol, Self

from printplan.checks import check_pixels, check_plan
from printplan.pixels.sheet import build_sheet, varied
from printplan.plan import resolve
from printplan.record.open_plan import open_plan

if TYPE_CHECKING:
    from types import TracebackType

    from printplan.checks import Finding
    from printplan.errors import PrintPlanError
    from printplan.media import Paper, Printer
    from printplan.pixels.master import Master
    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.spec import (
        ColourSpec,
        DeliverySpec,
        MountSpec,
        PrintSpec,
        SharpenSpec,
        SheetSpec,
        SizeSpec,
    )


@dataclass(frozen=True, slots=True)
class Change:
    """
    What the watchers of a bench are told.

    Attributes
    ----------
    parts : frozenset of str
        The parts of the spec that differ from before, by their names.
    refusal : PrintPlanError or None
        Why a wish was not followed; the plan is then the one before.
    """

    parts: frozenset[str]
    refusal: PrintPlanError | None = None


class Watcher(Protocol):
    """Somebody who shows what lies on the bench."""

    def plan_changed(self, change: Change) -> None:
        """
        Take note of a new plan, or of a wish that was refused.

        Parameters
        ----------
        change : Change
        """

    def replaced(self) -> None:
        """Stop showing: a newer watcher has taken this one's seat."""


class Bench:
    """
    The one state of the workbook: a wish, its plan and the sheet that follows.

    Parameters
    ----------
    sheet : Sheet
        What to begin with; its master stays open as long as the bench is used.
    folder : Path
        Where finished files go.
    stem : str
        What finished files are called, without ending.

    Attributes
    ----------
    sheet : Sheet
        The latest that could be made.
    refusal : PrintPlanError or None
        Why the latest wish was not followed, until another one is.
    """

    def __init__(self, sheet: Sheet, *, folder: Path, stem: str) -> None:
        self.sheet = sheet
        self.folder = folder
        self.stem = stem
        self.refusal: PrintPlanError | None = None
        self._watchers: dict[str, Watcher] = {}

    @classmethod
    def open(cls, plan_path: str | Path) -> Self:
        """
        Lay out what a plan file describes.

        Parameters
        ----------
        plan_path : str or Path
            Finished files go beside it, under its name.

        Returns
        -------
        Bench

        Raises
        ------
        PrintPlanError
            If something that the plan names cannot be read, or the print cannot be
            made as asked.
        """
        path = Path(plan_path).absolute()
        return cls(open_plan(path), folder=path.parent, stem=path.stem)

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
        Lay out a master that is open already.

        Parameters
        ----------
        master : Master
        paper : Paper
        printer : Printer
        spec : PrintSpec
        folder : Path, optional
            Where finished files go; the working directory if not given.

        Returns
        -------
        Bench

        Raises
        ------
        PrintPlanError
            If the print cannot be made as asked.
        """
        sheet = build_sheet(master, resolve(master.facts, paper, printer, spec))
        stem = Path(master.facts.path).stem
        return cls(sheet, folder=folder or Path.cwd(), stem=f"{stem}-print")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the master."""
        self.sheet.master.close()

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

    def change(  # noqa: PLR0913 - the parts of a wish
        self,
        *,
        size: SizeSpec | None = None,
        sharpen: SharpenSpec | None = None,
        colour: ColourSpec | None = None,
        sheet: SheetSpec | None = None,
        mount: MountSpec | None = None,
        delivery: DeliverySpec | None = None,
    ) -> PrintPlan:
        """
        Ask for something else; what is not named stays.

        Parameters
        ----------
        size : SizeSpec, optional
        sharpen : SharpenSpec, optional
        colour : ColourSpec, optional
        sheet : SheetSpec, optional
        mount : MountSpec, optional
        delivery : DeliverySpec, optional

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
                delivery=delivery or spec.delivery,
            )
        )

    def ask(self, spec: PrintSpec) -> PrintPlan:
        """
        Ask for a whole new wish.

        Parameters
        ----------
        spec : PrintSpec

        Returns
        -------
        PrintPlan

        Raises
        ------
        PrintPlanError
            As for `change`.
        """
        parts = frozenset(
            part.name
            for part in fields(spec)
            if getattr(spec, part.name) != getattr(self.spec, part.name)
        )
        if parts:
            self.sheet = varied(self.sheet, spec)
        if parts or self.refusal is not None:
            self.refusal = None
            self._tell(Change(parts))
        return self.plan

    def refuse(self, error: PrintPlanError) -> None:
        """
        Tell the watchers that a wish was not followed.

        Parameters
        ----------
        error : PrintPlanError
            What `change` raised, or what kept the wish from being written down.
        """
        self.refusal = error
        self._tell(Change(frozenset(), error))

    def watch(self, seat: str, watcher: Watcher) -> None:
        """
        Be told of every change from now on.

        Parameters
        ----------
        seat : str
            Whoever sat there before is replaced: a cell that is run again leaves
            nobody behind who computes for a picture that is no longer seen.
        watcher : Watcher
        """
        earlier = self._watchers.pop(seat, None)
        self._watchers[seat] = watcher
        if earlier is not None:
            earlier.replaced()

    def unwatch(self, watcher: Watcher) -> None:
        """
        Leave the bench; does nothing for somebody who is not there.

        Parameters
        ----------
        watcher : Watcher
        """
        for seat in [seat for seat, it in self._watchers.items() if it is watcher]:
            del self._watchers[seat]

    def _tell(self, change: Change) -> None:
        for watcher in list(self._watchers.values()):
            watcher.plan_changed(change)


def free_path(path: str | Path) -> Path:
    """
    That path, or the first numbered one beside it that is not taken.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    Path
        With ``-2``, ``-3`` and so on before the ending if need be.
    """
    path = Path(path)
    free, number = path, 1
    while os.path.lexists(free):
        number += 1
        free = path.with_name(f"{path.stem}-{number}{path.suffix}")
    return free
