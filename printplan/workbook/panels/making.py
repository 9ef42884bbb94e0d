"""How is a file made aside, with its progress and a way to cancel it?"""

from __future__ import annotations

from contextlib import ExitStack
from functools import partial
from threading import Event, Thread
from typing import TYPE_CHECKING

import ipywidgets as widgets

from printplan.errors import PrintPlanError
from printplan.workbook.page_thread import page_thread

if TYPE_CHECKING:
    from collections.abc import Callable
    from contextlib import AbstractContextManager


class _Cancelled(Exception):  # noqa: N818 - nothing is wrong, the user had enough
    """The user cancels a file that is being made."""


class Making:
    """
    One piece of work aside that is never dropped; a file's can be cancelled.

    Parameters
    ----------
    fail : callable
        Takes the error that the work ended in.
    faults : callable
        Gives the context that tells faults of our own, met in another thread.
    changed : callable
        Told when work begins and when it has ended: what can be pressed changes.

    Attributes
    ----------
    cancel : ipywidgets.Button
    progress : ipywidgets.IntProgress
        Both for the panel to lay out, and to show while `is_making`.

    Notes
    -----
    The page's thread calls `fail` and `changed`.
    """

    def __init__(
        self,
        *,
        fail: Callable[[PrintPlanError], None],
        faults: Callable[[], AbstractContextManager[None]],
        changed: Callable[[], None],
    ) -> None:
        self._fail, self._faults, self._changed = fail, faults, changed
        self._page = page_thread()
        self._cancelled = Event()
        self._thread: Thread | None = None
        self._is_told = True
        self._is_making = False
        self.cancel = widgets.Button(
            description="Cancel", tooltip="Stop; no file is written"
        )
        self.progress = widgets.IntProgress(
            layout={"width": "auto", "margin": "2px 4px 6px 144px"}
        )
        self.cancel.on_click(lambda _: self._cancelled.set())

    @property
    def is_busy(self) -> bool:
        """Whether anything is being done."""
        return self._thread is not None

    @property
    def is_cancelled(self) -> bool:
        """Whether the user had enough of what is being made."""
        return self._cancelled.is_set()

    @property
    def is_making(self) -> bool:
        """Whether a file is being made, which can be cancelled."""
        return self._is_making

    def do(self, job: Callable[[], None]) -> None:
        """Do something that takes long aside."""
        self._begin(job)

    def make(
        self,
        job: Callable[[], None],
        told: widgets.HTML,
        held: AbstractContextManager[None] | None = None,
        *,
        cancelled: str = "Cancelled. No file was written.",
    ) -> None:
        """
        Make a file aside.

        Parameters
        ----------
        job : callable
            Gives `show_progress` to what it calls.
        told : ipywidgets.HTML
            Says so if the user cancelled it: then no file was written.
        held : context manager, optional
            Entered at once, and left when the job has ended: what it works from stays
            open.
        cancelled : str, optional
            What is said then.
        """
        self._cancelled.clear()
        self.progress.value = 0
        self._is_making = True
        until_made = ExitStack()
        if held is not None:
            until_made.enter_context(held)

        def tell_cancelled() -> None:
            told.value = f"<p>{cancelled}</p>"

        def work() -> None:
            try:
                with until_made:
                    job()
            except _Cancelled:
                self._page.do(tell_cancelled)

        self._begin(work)

    def show_progress(self, done_rows: int, all_rows: int) -> None:
        """Show how far the file is; end it if the user asked for that."""
        if self._cancelled.is_set():
            raise _Cancelled

        def show() -> None:
            self.progress.max = all_rows
            self.progress.value = done_rows

        self._page.do(show)

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until nothing is being done, and that is shown.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return self._page.wait_for(lambda: self._is_told, timeout_s)

    def _begin(self, job: Callable[[], None]) -> None:
        def work() -> None:
            try:
                with self._faults():
                    job()
            except PrintPlanError as error:
                self._page.do(partial(self._fail, error))
            finally:
                self._page.do(self._ended)

        self._is_told = False
        self._thread = Thread(target=work, name="printplan-making")
        self._changed()
        self._thread.start()

    def _ended(self) -> None:
        self._thread, self._is_making = None, False
        try:
            self._changed()
        finally:
            self._is_told = True
