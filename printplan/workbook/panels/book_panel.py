"""What do the panels share that change the paper book and need no plan?"""

from __future__ import annotations

from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, TypeVar

import ipywidgets as widgets

from printplan.errors import PrintPlanError, RecordError
from printplan.shown_text import escape
from printplan.workbook.latest_only import LatestOnly
from printplan.workbook.page_thread import page_thread
from printplan.workbook.panels.controls import Accessibility, text
from printplan.workbook.panels.panel import faults_told
from printplan.workbook.panels.tips import give_tips
from printplan.workbook.pictures import problem_html

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from contextlib import AbstractContextManager


_Result = TypeVar("_Result")

_WIDEST_COLUMN_PX = 640
"""Of the controls, where nothing is beside them: a field that fills a wide window is
hard to read. Our choice."""


class BookPanel:
    """
    A form over a paper book, with words beside it.

    Parameters
    ----------
    book_path : str or Path
        The paper book.

    Attributes
    ----------
    ui : ipywidgets.VBox
        What a notebook shows.
    """

    title: ClassVar[str] = "panel"
    """What it is called, for those who do not see it."""

    column_px: ClassVar[int] = 440
    """Width of the controls."""

    beside_px: ClassVar[int] = 380
    """Least width of what is beside them; with less room it goes below them."""

    def __init__(self, book_path: str | Path) -> None:
        self.book_path = Path(book_path).absolute()
        self.page = page_thread()
        self.message, self.status = text(), text()
        self.accessibility = Accessibility(self.title)
        self.ui = widgets.VBox()
        self.ui.add_class("printplan-panel")
        self._is_showing = False

    def _lay_out(
        self, controls: Sequence[widgets.Widget], beside: widgets.Widget
    ) -> None:
        column = widgets.VBox(
            controls,
            layout={
                "flex": f"1 1 {self.column_px}px",
                "max_width": f"{_WIDEST_COLUMN_PX}px",
            },
        )
        column.add_class("printplan-column")
        seen = widgets.VBox(
            [beside],
            layout={"padding": "0 0 0 16px", "flex": f"1000 1 {self.beside_px}px"},
        )
        seen.add_class("printplan-seen")
        body = widgets.HBox([column, seen])
        body.add_class("printplan-body")
        self.ui.children = [self.accessibility, body]
        give_tips(self.ui)
        self.accessibility.explain(self.ui)

    def _say(self, words: str) -> None:
        self.status.value = f'<p role="status">{escape(words)}</p>' if words else ""

    def _fail(self, error: PrintPlanError) -> None:
        self._say("")
        self.message.value = problem_html(error)

    def _guarded(self, action: Callable[[], object]) -> Callable[..., None]:
        """An action as a callback of a control: what goes wrong in it is shown."""

        def call(*_: object) -> None:
            if self._is_showing:
                return
            self.message.value = ""
            with self._faults_told(self._fail):
                try:
                    action()
                except PrintPlanError as error:
                    self._fail(error)

        return call

    def _worker(
        self,
        show: Callable[[_Result], None],
        fail: Callable[[PrintPlanError], None] | None = None,
    ) -> LatestOnly[_Result]:
        """Work aside whose result is shown; what goes wrong in it is shown too."""
        failed = fail or self._fail
        return LatestOnly(show, failed, partial(self._told_aside, failed), self.page)

    def _faults_told(
        self, tell: Callable[[PrintPlanError], None]
    ) -> AbstractContextManager[None]:
        """Tell a fault of our own; the kernel's log gets its trace."""
        return faults_told(
            tell,
            RecordError,
            "Look into the book before you go on, and report the fault with the "
            "notebook's log.",
        )

    def _told_aside(
        self, failed: Callable[[PrintPlanError], None]
    ) -> AbstractContextManager[None]:
        """Let the page's thread tell a fault of our own that another one met."""
        return self._faults_told(lambda error: self.page.do(partial(failed, error)))

    @contextmanager
    def _quietly(self) -> Iterator[None]:
        """Show something without taking it for the user's doing."""
        before, self._is_showing = self._is_showing, True
        try:
            yield
        finally:
            self._is_showing = before
