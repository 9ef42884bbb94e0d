"""How are parts of a picture worked on side by side?"""

from __future__ import annotations

import ctypes
import os
import sys
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from functools import lru_cache
from itertools import pairwise
from threading import get_native_id, local
from typing import TYPE_CHECKING

from printplan.processor_share import threads_at_most

if TYPE_CHECKING:
    from collections.abc import Callable

WORTH_TWO_THREADS = 100_000
"""Pixels from which a second thread saves more than it costs."""

_PARTS = 4
"""More than there are threads: one that shares its core with a browser does fewer."""

_this_thread = local()


def work_alone() -> None:
    """Let this thread do its parts by itself: others like it work beside it."""
    _this_thread.is_one_of_many = True


@lru_cache(maxsize=1)
def _helper() -> tuple[ThreadPoolExecutor, int]:
    """Kept: to start a thread at each move of a slider costs more than it saves."""
    pool = ThreadPoolExecutor(1, "printplan-part", initializer=work_alone)
    return pool, pool.submit(get_native_id).result()


if sys.platform == "linux":
    _system = ctypes.CDLL(None)

    def _keep_apart(thread: int) -> None:
        """
        Let a thread wake up on another processor than this one.

        Of two processors, Linux wakes it on this one even while the other is idle, and
        both take turns until it looks again: 6 of 19 ms for a window after a pause.
        """
        own = os.sched_getaffinity(0)
        with suppress(OSError):  # not allowed here
            here = _system.sched_getcpu()
            os.sched_setaffinity(thread, own - {here} or own)

else:

    def _keep_apart(thread: int) -> None:
        """Leave it to the system."""


def in_parts(work: Callable[[int, int], None], count: int, *, unit: int = 1) -> None:
    """
    Do the same to a few parts of a picture, by this thread and one that helps it.

    Parameters
    ----------
    work : callable
        Takes the first of a part, and the first behind it.
    count : int
        Of pixels, or of rows.
    unit : int, optional
        Pixels in each: 1, or those of a row.

    Notes
    -----
    All is done in the caller's own thread below `WORTH_TWO_THREADS`, where that thread
    is itself one of many, and where this process has one for its share. Nor does it
    wait for a helper that has not begun: a processor that slept wakes up late.
    """
    is_alone = getattr(_this_thread, "is_one_of_many", False)
    is_small = count < 2 or count * unit < WORTH_TWO_THREADS
    if is_small or is_alone or threads_at_most(2) < 2:
        work(0, count)
        return
    parts = min(_PARTS, count)
    ends = (count * part // parts for part in range(parts + 1))
    waiting = iter(list(pairwise(ends)))  # each part is given out once

    def take() -> None:
        for first, stop in waiting:
            work(first, stop)

    pool, thread = _helper()
    _keep_apart(thread)
    helped = pool.submit(take)
    work_alone()
    try:
        take()
    finally:
        _this_thread.is_one_of_many = False
        if not helped.cancel():
            helped.result()
