"""Which thread writes on the page, and how do others leave it their work?"""

from __future__ import annotations

import asyncio
from collections import deque
from threading import Condition, get_ident
from time import monotonic
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

if TYPE_CHECKING:
    from collections.abc import Callable

_LOOK_S = 0.01
"""How often who waits looks whether it is done."""


class PageThread:
    """
    The thread that serves the page: it alone sets controls, pictures and words.

    A control that is set in one thread while a message from the browser sets it in
    another can end at a number that nobody chose, and a plan can be made of half of one
    move and half of the next.

    Parameters
    ----------
    loop : asyncio.AbstractEventLoop or None
        The kernel's, running in this thread. None where no page is served: then what
        is to be done is done at once, by whoever asks.
    """

    def __init__(self, loop: asyncio.AbstractEventLoop | None) -> None:
        self._loop = loop
        self._thread = get_ident()
        self._left: deque[Callable[[], object]] = deque()
        self._changed = Condition()

    def do(self, act: Callable[[], object]) -> None:
        """
        Act now if this is the page's thread, else let that one act, soon and in order.

        Parameters
        ----------
        act : callable
            What it raises goes to the log of the kernel.
        """
        if self._loop is None or get_ident() == self._thread:
            act()
            return
        self._left.append(act)
        self._loop.call_soon_threadsafe(self._act_once)
        with self._changed:
            self._changed.notify_all()

    def wait_for(self, is_done: Callable[[], bool], timeout_s: float) -> bool:
        """
        Wait until something is done.

        The page's own thread acts meanwhile on what is left to it, or nothing that
        waits for it could be done.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        ends = monotonic() + timeout_s
        is_own = self._loop is not None and get_ident() == self._thread
        while True:
            while is_own and self._left:
                self._act_once()
            if is_done():
                return True
            if monotonic() >= ends:
                return False
            with self._changed:
                self._changed.wait(_LOOK_S)

    def _act_once(self) -> None:
        if self._left:  # who waited may have acted on it already
            self._left.popleft()()


_NO_PAGE = PageThread(None)
_threads: WeakKeyDictionary[asyncio.AbstractEventLoop, PageThread] = WeakKeyDictionary()


def page_thread() -> PageThread:
    """
    Find the thread that serves the page.

    Returns
    -------
    PageThread
        One for each kernel. To be asked for in that thread: it is the one that runs
        the kernel's loop.
    """
    try:
        loop = asyncio.get_running_loop()
    except RuntimeError:
        return _NO_PAGE
    return _threads.setdefault(loop, PageThread(loop))
