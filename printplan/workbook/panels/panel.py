"""What do all panels share? They ask the bench, show its answer and its refusals."""

from __future__ import annotations

from abc import ABC, abstractmethod
from contextlib import contextmanager
from enum import StrEnum
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar

import ipywidgets as widgets

from printplan.errors import PrintPlanError, RenderError
from printplan.shown_text import escape
from printplan.workbook.bench import MATERIAL
from printplan.workbook.latest_only import LatestOnly
from printplan.workbook.page_thread import page_thread
from printplan.workbook.panels.controls import (
    Accessibility,
    text,
    ui_of,
    when_changed,
)
from printplan.workbook.panels.tips import give_tips
from printplan.workbook.pictures import problem_html

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from contextlib import AbstractContextManager

    from printplan.spec import PrintSpec
    from printplan.workbook.bench import Bench, Change
    from printplan.workbook.panels.controls import Control

    Pictures = Sequence[tuple[widgets.Image, bytes]]
    """Pictures to show, each in its place."""

_Result = TypeVar("_Result")


class Exactness(StrEnum):
    """What the pictures of a panel may be judged by."""

    EXACT = "Exact print pixels."
    OVERVIEW = "Overview: for colour and place only."


@contextmanager
def faults_told(
    tell: Callable[[PrintPlanError], None], kind: type[PrintPlanError], remedy: str
) -> Iterator[None]:
    """
    Tell a fault of our own; the kernel's log gets its trace.

    Parameters
    ----------
    kind : type of PrintPlanError
        What it is told as.
    remedy : str
        What to do about it.
    """
    try:
        yield
    except PrintPlanError:
        raise
    except Exception as error:
        problem = f"This is a fault in printplan ({type(error).__name__}: {error})."
        tell(kind(problem, remedy=remedy))
        raise


class Panel(ABC):
    """
    One step of the plan with what changes it.

    A change of a control becomes a whole new spec for the bench. If that can be
    planned, every panel is told and shows the new plan; if not, this panel says why,
    and the last good picture stays, dimmed.

    Attributes
    ----------
    ui : ipywidgets.VBox
        What a notebook shows.

    Parameters
    ----------
    column_only : bool, optional
        Whether the page shows the controls alone, and the pictures by other means:
        then none are computed here.
    """

    slot: ClassVar[str]
    """A bench has one panel of a kind; see `Bench.watch`."""

    depends_on: ClassVar[frozenset[str]]
    """Parts of the spec that change this panel's pictures."""

    column_px: ClassVar[int] = 312
    """Width of the controls."""

    title: ClassVar[str] = "panel"
    """What it is called, for those who do not see it."""

    exactness: ClassVar[Exactness | None] = None
    """What its pictures may be judged by; see `_show_status` for one that changes."""

    fits_stage: ClassVar[bool] = False
    """Whether its pictures are made for the width of their place on the page."""

    def __init__(self, bench: Bench, *, column_only: bool = False) -> None:
        self.bench = bench
        self._column_only = column_only
        self.message = widgets.HTML()
        self.words = text()
        self.status = text("printplan-status")
        self.stage = widgets.HBox()
        self.stage.add_class("printplan-stage")
        self.accessibility = Accessibility(self.title)
        self.ui = widgets.VBox()
        self.ui.add_class("printplan-panel")
        self.page = page_thread()
        self._workers: list[LatestOnly[Any]] = []
        self._painter = self._worker(self._show)
        self._is_asking = False
        self._is_syncing = False

    def _spec(self) -> PrintSpec:
        """What the controls ask for."""
        return self.bench.spec

    @abstractmethod
    def _sync(self) -> None:
        """Set the controls, and the words beside them, to the plan."""

    def _job(self) -> Callable[[], Pictures] | None:
        """How to compute this panel's pictures of the present plan."""
        return None

    def _pictures(self) -> Callable[[], Pictures] | None:
        return None if self._column_only else self._job()

    def plan_changed(self, change: Change) -> None:
        """Show a new plan, or why this panel's spec was refused."""
        if change.refusal is not None:
            if self._is_asking:
                self._show_error(change.refusal)
            return
        with self._faults_shown():
            self._clear_error()
            self._sync_quietly()
            if change.parts & (self.depends_on | MATERIAL):
                self.repaint()

    def replaced(self) -> None:
        """Give way to a newer panel of this kind."""
        self.ui.children = [widgets.HTML("This panel was opened again elsewhere.")]

    def repaint(self) -> None:
        """Compute this panel's pictures anew, without waiting for them."""
        job = self._pictures()
        if job is not None:
            self._painter.do(job)

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until all that is shown belongs to the present plan.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        # The later ones can give work to the earlier ones.
        return all(it.settle(timeout_s) for it in reversed(self._workers))

    def _open(
        self, controls: Iterable[Control], beside: widgets.Widget | None = None
    ) -> None:
        """Put the panel together, paint it at once, and watch the bench."""
        column = widgets.VBox(
            [*map(ui_of, controls), self.message, self.words],
            layout={"flex": f"1 1 {self.column_px}px"},
        )
        column.add_class("printplan-column")
        seen = widgets.VBox([self.stage if beside is None else beside, self.status])
        seen.add_class("printplan-seen")
        body = widgets.HBox([column] if self._column_only else [column, seen])
        body.add_class("printplan-body")
        self.ui.children = [self.accessibility, body]
        give_tips(self.ui)
        self.accessibility.explain(self.ui)
        self.accessibility.observe(self._guarded(self._resized), names="stage_px")
        if self.exactness is not None:
            self._show_status(self.exactness)
        self._sync_quietly()
        job = self._pictures()
        if job is not None:
            self._guarded(lambda: self._show(job()))()
        self.bench.watch(self.slot, self)

    def _resized(self) -> None:
        if self.fits_stage:
            self.repaint()

    def _on_wish(self, *controls: Control) -> None:
        """Let these controls change the plan."""
        for control in controls:
            when_changed(control, self._guarded(self._ask))

    def _on_view(self, *controls: Control) -> None:
        """Let these controls change what is looked at, and nothing else."""
        for control in controls:
            when_changed(control, self._guarded(self.repaint))

    def _ask(self) -> None:
        if self._is_syncing:
            return
        self._do(lambda: self.bench.ask(self._spec()))

    def _do(self, change: Callable[[], object]) -> None:
        """Change the bench; a refusal is shown here and told to all."""
        self._is_asking = True
        try:
            with self._faults_shown():
                try:
                    change()
                except PrintPlanError as error:
                    self.bench.refuse(error)
        finally:
            self._is_asking = False

    def _guarded(self, action: Callable[[], object]) -> Callable[..., None]:
        """An action as a callback of a control: what goes wrong in it is shown."""

        def call(*_: object) -> None:
            with self._faults_shown():
                try:
                    action()
                except PrintPlanError as error:
                    self._show_error(error)

        return call

    def _worker(
        self,
        show: Callable[[_Result], None],
        fail: Callable[[PrintPlanError], None] | None = None,
    ) -> LatestOnly[_Result]:
        """Work aside whose result is shown; what goes wrong in it is shown too."""

        def around() -> AbstractContextManager[None]:
            held = self.bench.keep_master_open()

            @contextmanager
            def compute() -> Iterator[None]:
                with held, self._faults_shown(aside=True):
                    yield

            return compute()

        worker: LatestOnly[_Result] = LatestOnly(
            self._shown_by(show), fail or self._show_error, around, self.page
        )
        self._workers.append(worker)
        return worker

    def _shown_by(self, show: Callable[[_Result], None]) -> Callable[[_Result], None]:
        def shown(result: _Result) -> None:
            with self._faults_shown():
                show(result)

        return shown

    def _faults_shown(self, *, aside: bool = False) -> AbstractContextManager[None]:
        """Show a fault of our own here; the kernel's log gets its trace."""

        def tell(error: PrintPlanError) -> None:
            self.page.do(partial(self._show_error, error))

        return faults_told(
            tell if aside else self._show_error,
            RenderError,
            "The last plan is still here: save it, and report the fault with the "
            "notebook's log.",
        )

    def _sync_quietly(self) -> None:
        self._is_syncing = True
        try:
            self._sync()
        finally:
            self._is_syncing = False

    def _show(self, pictures: Pictures) -> None:
        for place, jpeg in pictures:
            place.value = jpeg

    def _show_status(self, judged_by: Exactness | str) -> None:
        """Say what the pictures may be judged by; the words before a colon first."""
        strong, _, rest = escape(judged_by).partition(":")
        rest = f":{rest}" if rest else ""
        self.status.value = f'<div role="status"><b>{strong}</b>{rest}</div>'

    def _show_error(self, error: PrintPlanError) -> None:
        """Say why the picture is not that of the controls, and dim it."""
        self._show_problem(error)
        self.stage.add_class("printplan-dimmed")

    def _show_problem(self, error: PrintPlanError) -> None:
        """Say what went wrong beside the picture, which is right."""
        self.message.value = problem_html(error)

    def _clear_error(self) -> None:
        self.message.value = ""
        self.stage.remove_class("printplan-dimmed")
