"""When may a master be closed that somebody still works from?"""

from __future__ import annotations

from contextlib import contextmanager
from threading import Lock
from typing import TYPE_CHECKING
from weakref import WeakSet

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.pixels.master import Master


class OpenMasters:
    """Masters that are held by work in other threads, and those that may go."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._held: list[Master] = []
        self._leaving: list[Master] = []
        self._gone: WeakSet[Master] = WeakSet()

    def hold(self, master: Master) -> None:
        """
        Keep a master open until it is released as often as it was held.

        Parameters
        ----------
        master : Master
        """
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
        """
        Hold a master no longer.

        Parameters
        ----------
        master : Master
        """
        with self._lock:
            self._held.remove(master)
            is_done = master in self._leaving and master not in self._held
            if is_done:
                self._leaving.remove(master)
        if is_done:
            master.close()

    def let_go(self, master: Master) -> None:
        """
        Close a master, now or when the last who holds it is done.

        Parameters
        ----------
        master : Master
        """
        with self._lock:
            self._gone.add(master)
            is_held = master in self._held
            if is_held:
                self._leaving.append(master)
        if not is_held:
            master.close()
