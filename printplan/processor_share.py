"""How many threads may this process keep busy at once?"""

from __future__ import annotations

import os

_share: int | None = None


def threads_at_most(most: int) -> int:
    """
    Threads for a piece of work.

    Parameters
    ----------
    most : int
        More would not make it quicker; 2 or more.

    Returns
    -------
    int
        As many as there are processors, two at least: while one waits for a disk, the
        other computes. No more than the share of this process where it has one.

    Notes
    -----
    What is computed never depends on it.
    """
    return min(most, max(2, os.cpu_count() or 2) if _share is None else _share)


def take_share(threads: int | None) -> None:
    """
    Let this process keep so many threads busy, because others compute beside it.

    Parameters
    ----------
    threads : int or None
        1 or more; None for a process that has the machine to itself.
    """
    global _share  # noqa: PLW0603 - threads are the process's, whoever asks for them
    _share = threads
