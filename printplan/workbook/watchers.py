"""Who shows what lies on the bench, and when may its master be closed?"""

from __future__ import annotations

from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING, Protocol
from weakref import WeakSet

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.errors import PrintPlanError
    from printplan.pixels.master import Master


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
        """Take note of a new plan, or of a wish that was refused."""

    def replaced(self) -> None:
        """Stop showing: a newer watcher has taken this one's seat."""


class Watchers:
    """Those who are told, each in a seat of its own."""

    def __init__(self) -> None:
        self._seats: dict[str, Watcher] = {}

    def seat(self, seat: str, watcher: Watcher) -> None:
        """Give somebody a seat; whoever sat there before is told to leave."""
        earlier = self._seats.pop(seat, None)
        self._seats[seat] = watcher
        if earlier is not None:
            earlier.replaced()

    def unseat(self, watcher: Watcher) -> None:
        """Take somebody's seat away; does nothing for somebody who has none."""
        for seat in [seat for seat, it in self._seats.items() if it is watcher]:
            del self._seats[seat]

    def tell(self, change: Change) -> None:
        """
        Tell all of a change, even if one of them fails at it.

        Raises
        ------
        Exception
            What one of them failed with, once all were told.
        """
        with ExitStack() as stack:
            for watcher in reversed(list(self._seats.values())):
                stack.callback(watcher.plan_changed, change)


class OpenMasters:
    """Masters that are held by work in other threads, and those that may go."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._held: list[Master] = []
        self._leaving: list[Master] = []
        self._gone: WeakSet[Master] = WeakSet()

    def hold(self, master: Master) -> None:
        """Keep a master open until it is released as often as it was held."""
        with self._lock:
            self._held.append(master)

    @contextmanager
    def held(self, master: Master) -> Iterator[None]:
        """
        Keep a master open as long as the block runs.

        Parameters
        ----------
        master : Master
            One that was let go before stays closed, and says so when it is used.
        """
        with self._lock:
            is_there = master not in self._gone
            if is_there:
                self._held.append(master)
        try:
            yield
        finally:
            if is_there:
                self.release(master)

    def release(self, master: Master) -> None:
        """Hold a master no longer."""
        with self._lock:
            self._held.remove(master)
            is_done = master in self._leaving and master not in self._held
            if is_done:
                self._leaving.remove(master)
        if is_done:
            master.close()

    def let_go(self, master: Master) -> None:
        """Close a master, now or when the last who holds it is done."""
        with self._lock:
            self._gone.add(master)
            is_held = master in self._held
            if is_held:
                self._leaving.append(master)
        if not is_held:
            master.close()
