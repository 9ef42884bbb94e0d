"""How are parts of a picture worked on two at a time?"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

WORTH_TWO_THREADS = 100_000
"""Pixels from which a second thread saves more than it costs."""

_PARTS = 4
"""More than there are threads: one that shares its core with a browser does fewer."""


@lru_cache(maxsize=1)
def _pool() -> ThreadPoolExecutor:
    """Kept: to start threads at each move of a slider costs more than they save."""
    return ThreadPoolExecutor(2, thread_name_prefix="printplan-part")


def rows_side_by_side(
    work: Callable[[slice], None],
    rows: int,
    columns: int,
    *,
    worth_two: int = WORTH_TWO_THREADS,
) -> None:
    """
    Do the same to a few parts of a picture, two of them at a time.

    Parameters
    ----------
    work : callable
        Takes a slice of rows; must not call this function itself.
    rows, columns : int
        Of the picture; a small one is done whole, in the caller's own thread.
    worth_two : int, optional
        Pixels from which it is not.
    """
    if rows < 2 or rows * columns < worth_two:
        work(slice(0, rows))
        return
    parts = min(_PARTS, rows)
    ends = (rows * part // parts for part in range(parts + 1))
    list(_pool().map(work, [slice(*pair) for pair in pairwise(ends)]))
