"""How does a slider stay quick when its picture takes longer than a moment?"""

from __future__ import annotations

from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from functools import partial
from threading import Condition, Thread
from typing import TYPE_CHECKING, Generic, TypeVar

from printplan.errors import PrintPlanError
from printplan.workbook.page_thread import PageThread

if TYPE_CHECKING:
    from collections.abc import Callable


_Result = TypeVar("_Result")

_LINGER_S = 5.0
"""How long a worker waits for another job: to start a thread at each move of a slider
costs its picture some 3 ms."""


@dataclass(frozen=True, slots=True)
class _Job(Generic[_Result]):
    """Something to compute, and what keeps open what it works from."""

    compute: Callable[[], _Result]
    around: AbstractContextManager[None]


class LatestOnly(Generic[_Result]):
    """
    One worker that does the latest job; those it had no time for are dropped.

    Parameters
    ----------
    show : callable
        Takes what a job computed, unless another job is waiting.
    fail : callable
        Takes the error that a job ended in, unless another job is waiting.
    around : callable, optional
        Gives, when a job is asked for, the context that it is computed in: it keeps
        open what the job works from. See `Bench.keep_master_open`.
    page : PageThread, optional
        What shows the result or the error; without one the worker's thread does.

    Notes
    -----
    The worker's thread ends a while after the last job.
    """

    def __init__(
        self,
        show: Callable[[_Result], None],
        fail: Callable[[PrintPlanError], None],
        around: Callable[[], AbstractContextManager[None]] = nullcontext,
        page: PageThread | None = None,
    ) -> None:
        self._show = show
        self._fail = fail
        self._around = around
        self._page = page or PageThread(None)
        self._unshown = 0
        self._changed = Condition()
        self._waiting: _Job[_Result] | None = None
        self._is_busy = False
        self._is_running = False

    def do(self, compute: Callable[[], _Result]) -> None:
        """Put a job in the place of the one that waits."""
        with self._changed:
            self._waiting = _Job(compute, self._around())
            self._is_busy = True
            if self._is_running:
                self._changed.notify_all()
                return
            self._is_running = True
            Thread(target=self._work, name="printplan-panel", daemon=True).start()

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until nothing is left to do.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return self._page.wait_for(
            lambda: not (self._is_busy or self._unshown), timeout_s
        )

    def _work(self) -> None:
        try:
            while (job := self._next()) is not None:
                self._finish(job)
                # While the worker waits, what the job worked from may go.
                del job
        except BaseException:
            with self._changed:
                self._is_busy = self._is_running = False
                self._changed.notify_all()
            raise

    def _next(self) -> _Job[_Result] | None:
        """The job that waits, or comes in time; without one the worker is done."""
        with self._changed:
            if self._waiting is None:
                self._is_busy = False
                self._changed.notify_all()
                self._changed.wait_for(lambda: self._waiting is not None, _LINGER_S)
            job, self._waiting = self._waiting, None
            self._is_running = job is not None
            return job

    def _finish(self, job: _Job[_Result]) -> None:
        try:
            with job.around:
                result = job.compute()
        except PrintPlanError as error:
            self._tell(partial(self._fail, error))
        else:
            self._tell(partial(self._show, result))

    def _tell(self, act: Callable[[], None]) -> None:
        """Let the page's thread show it, unless another job is waiting already."""
        if self._waiting is not None:
            return

        def show() -> None:
            try:
                act()
            finally:
                with self._changed:
                    self._unshown -= 1

        with self._changed:
            self._unshown += 1
        self._page.do(show)
