"""Who shows what lies on the bench, and what are they told?"""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from printplan.errors import PrintPlanError

LAID_ANEW = frozenset({"master", "paper", "printer"})
"""Parts of a `Change` that are not wishes: all pictures depend on them."""


@dataclass(frozen=True, slots=True)
class Change:
    """
    What the watchers of a bench are told.

    Attributes
    ----------
    parts : frozenset of str
        The parts of the spec that differ from before, by their names; those of
        `LAID_ANEW` too if they were exchanged.
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


class Watchers:
    """Those who are told, each in a seat of its own."""

    def __init__(self) -> None:
        self._seats: dict[str, Watcher] = {}

    def seat(self, seat: str, watcher: Watcher) -> None:
        """
        Give somebody a seat; whoever sat there before is told to leave.

        Parameters
        ----------
        seat : str
        watcher : Watcher
        """
        earlier = self._seats.pop(seat, None)
        self._seats[seat] = watcher
        if earlier is not None:
            earlier.replaced()

    def unseat(self, watcher: Watcher) -> None:
        """
        Take somebody's seat away; does nothing for somebody who has none.

        Parameters
        ----------
        watcher : Watcher
        """
        for seat in [seat for seat, it in self._seats.items() if it is watcher]:
            del self._seats[seat]

    def tell(self, change: Change) -> None:
        """
        Tell all of a change, even if one of them fails at it.

        Parameters
        ----------
        change : Change

        Raises
        ------
        Exception
            What one of them failed with, once all were told.
        """
        with ExitStack() as stack:
            for watcher in reversed(list(self._seats.values())):
                stack.callback(watcher.plan_changed, change)
