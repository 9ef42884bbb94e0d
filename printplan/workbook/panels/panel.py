"""What do all panels share? They ask the bench, show its answer and its refusals."""

from __future__ import annotations

from abc import ABC, abstractmethod
from html import escape
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.errors import PrintPlanError
from printplan.workbook.panels.mounting import SURROUND
from printplan.workbook.panels.newest import Newest

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from printplan.spec import PrintSpec
    from printplan.workbook.bench import Bench, Change

    Pictures = Sequence[tuple[widgets.Image, bytes]]
    """Pictures to show, each in its place."""

_CSS = f"""<style>
.printplan-stage {{
  background: rgb{SURROUND}; overflow: auto; border-radius: 2px;
  align-items: center; justify-content: center; min-width: 0; flex: 1 1 0;
}}
.printplan-stage img {{ flex: none; }}
.printplan-fits img {{ max-width: 100%; height: auto; }}
.printplan-exact {{ justify-content: flex-start; }}
.printplan-exact img {{ max-width: none; image-rendering: pixelated; }}
.printplan-dimmed > * {{ opacity: 0.35; }}
.printplan-column .widget-toggle-buttons {{
  display: flex; flex-flow: row nowrap; align-items: center;
}}
.printplan-column .widget-toggle-buttons > label {{
  flex: none; text-align: right; margin: 0 8px 0 0;
}}
.printplan-words .widget-html-content, .printplan-problem {{
  color: var(--jp-ui-font-color1); line-height: 1.45;
}}
.printplan-words {{ margin: 8px 4px; }}
.printplan-words ul {{ margin: 0; padding-left: 18px; }}
.printplan-words li {{ margin: 0 0 8px 0; }}
.printplan-problem {{
  border-left: 3px solid var(--jp-error-color1); padding: 2px 10px;
}}
</style>"""


class Panel(ABC):
    """
    One step of the plan with what changes it.

    A change of a control becomes a whole new wish for the bench. When the bench
    follows, every panel is told and shows what became of it; when it refuses, this
    panel says why, and the last good picture stays, dimmed.

    Parameters
    ----------
    bench : Bench

    Attributes
    ----------
    ui : ipywidgets.VBox
        What a notebook shows.
    """

    seat: ClassVar[str]
    """One panel of a kind sits at a bench."""

    depends_on: ClassVar[frozenset[str]]
    """Parts of the wish that change this panel's pictures."""

    column_px: ClassVar[int] = 312
    """Width of the controls."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.message = widgets.HTML()
        self.words = widgets.HTML()
        self.words.add_class("printplan-words")
        self.stage = widgets.HBox()
        self.stage.add_class("printplan-stage")
        self.ui = widgets.VBox()
        self._newest: Newest[Pictures] = Newest(self._show, self._complain)
        self._is_asking = False
        self._is_syncing = False

    @abstractmethod
    def _wish(self) -> PrintSpec:
        """What the controls ask for."""

    @abstractmethod
    def _sync(self) -> None:
        """Set the controls, and the words beside them, to the plan."""

    def _job(self) -> Callable[[], Pictures] | None:
        """How to compute this panel's pictures as things stand now."""
        return None

    def plan_changed(self, change: Change) -> None:
        """
        Show a new plan, or why there is none.

        Parameters
        ----------
        change : Change
        """
        if change.refusal is not None:
            if self._is_asking:
                self._complain(change.refusal)
            return
        self._be_content()
        self._sync_quietly()
        if change.parts & self.depends_on:
            self.repaint()

    def replaced(self) -> None:
        """Give way to a newer panel of this kind."""
        self.ui.children = [widgets.HTML("This panel was opened again elsewhere.")]

    def repaint(self) -> None:
        """Compute this panel's pictures anew, without waiting for them."""
        job = self._job()
        if job is not None:
            self._newest.do(job)

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until the pictures are those of the plan.

        Parameters
        ----------
        timeout_s : float, optional

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return self._newest.settle(timeout_s)

    def _open(
        self, controls: Iterable[widgets.Widget], beside: widgets.Widget | None = None
    ) -> None:
        """Put the panel together, paint it and take its seat."""
        column = widgets.VBox(
            [*controls, self.words, self.message],
            layout={"flex": f"0 0 {self.column_px}px", "margin": "0 8px 0 0"},
        )
        column.add_class("printplan-column")
        body = widgets.HBox([column, self.stage if beside is None else beside])
        self.ui.children = [widgets.HTML(_CSS), body]
        self._sync_quietly()
        job = self._job()
        if job is not None:
            self._paint(job)
        self.bench.watch(self.seat, self)

    def _paint(self, job: Callable[[], Pictures]) -> None:
        """Paint at once, so that a new panel is never empty."""
        try:
            self._show(job())
        except PrintPlanError as error:
            self._complain(error)

    def _on_wish(self, *controls: widgets.Widget) -> None:
        """Let these controls change the plan."""
        for control in controls:
            control.observe(lambda _: self._ask(), names="value")

    def _on_view(self, *controls: widgets.Widget) -> None:
        """Let these controls change what is looked at, and nothing else."""
        for control in controls:
            control.observe(lambda _: self.repaint(), names="value")

    def _ask(self) -> None:
        if self._is_syncing:
            return
        self._is_asking = True
        try:
            self.bench.ask(self._wish())
        except PrintPlanError as error:
            self.bench.refuse(error)
        finally:
            self._is_asking = False

    def _sync_quietly(self) -> None:
        self._is_syncing = True
        try:
            self._sync()
        finally:
            self._is_syncing = False

    def _show(self, pictures: Pictures) -> None:
        for place, jpeg in pictures:
            place.value = jpeg

    def _complain(self, error: PrintPlanError) -> None:
        self.message.value = problem_html(error)
        self.stage.add_class("printplan-dimmed")

    def _be_content(self) -> None:
        self.message.value = ""
        self.stage.remove_class("printplan-dimmed")


def problem_html(error: PrintPlanError) -> str:
    """
    An error as two sentences for the page.

    Parameters
    ----------
    error : PrintPlanError

    Returns
    -------
    str
    """
    return (
        f'<div class="printplan-problem" role="alert">{escape(error.problem)}<br>'
        f"<b>{escape(error.remedy)}</b></div>"
    )
