"""How does a person step back to what was chosen before, and forth again?"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.plan import PrintPlan
    from printplan.workbook.bench import Bench, Change

_ONE_MOVE_S = 1.0
"""Changes of the same parts that follow each other faster are one move of a control.
Our choice."""

_MOST_STEPS = 200


class History:
    """
    The plans that a bench had, in their order; it watches the bench.

    Parameters
    ----------
    bench : Bench
        Another master on it begins a new history.
    on_change : callable, optional
        Told whenever it became possible or impossible to step.
    clock : callable, optional
        Gives seconds.
    """

    def __init__(
        self,
        bench: Bench,
        *,
        on_change: Callable[[], None] = lambda: None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._bench = bench
        self._on_change = on_change
        self._clock = clock
        self._now = bench.plan
        self._before: list[PrintPlan] = []
        self._after: list[PrintPlan] = []
        self._last: tuple[frozenset[str], float] | None = None
        self._is_stepping = False
        bench.watch("history", self)

    @property
    def can_undo(self) -> bool:
        """Whether there is a plan before this one."""
        return bool(self._before)

    @property
    def can_redo(self) -> bool:
        """Whether there is a plan that was stepped back from."""
        return bool(self._after)

    def undo(self) -> None:
        """
        Put back the plan before this one; without one nothing happens.

        Raises
        ------
        PrintPlanError
            If the sheet cannot be made any more: the paper's profile has gone.
        """
        self._step(self._before, self._after)

    def redo(self) -> None:
        """
        Put back the plan that was stepped back from; without one nothing happens.

        Raises
        ------
        PrintPlanError
            As for `undo`.
        """
        self._step(self._after, self._before)

    def plan_changed(self, change: Change) -> None:
        """Remember the plan that was replaced."""
        new = self._bench.plan
        if change.refusal is not None or self._is_stepping or new == self._now:
            return
        if new.facts.sha256 != self._now.facts.sha256:
            self._before.clear()
        elif not self._goes_on(change.parts):
            self._before = [*self._before, self._now][-_MOST_STEPS:]
        self._after.clear()
        self._now, self._last = new, (change.parts, self._clock())
        self._on_change()

    def replaced(self) -> None:
        """Forget all: a newer history watches the bench."""
        self._before.clear()
        self._after.clear()

    def _goes_on(self, parts: frozenset[str]) -> bool:
        """Whether a control is still being moved."""
        if self._last is None or not self._before:
            return False
        before, when = self._last
        return before == parts and self._clock() - when < _ONE_MOVE_S

    def _step(self, source: list[PrintPlan], target: list[PrintPlan]) -> None:
        if not source:
            return
        self._is_stepping = True
        try:
            self._bench.take(source[-1])
        finally:
            self._is_stepping = False
        target.append(self._now)
        self._now, self._last = source.pop(), None
        self._on_change()
