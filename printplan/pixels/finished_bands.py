"""How are bands of a picture computed ahead of the file that takes them?"""

from __future__ import annotations

from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from functools import partial
from itertools import islice
from threading import Lock
from typing import TYPE_CHECKING

import numpy as np

from printplan.loops.memory import forget_spare
from printplan.loops.threads import work_alone
from printplan.processor_share import threads_at_most

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from printplan.pixels.resampled_light import ResampledLight
    from printplan.pixels.stages import Before
    from printplan.sizing.boxes import Box

    Ahead = tuple[Box, Future[NDArray[np.uint16]]]
    """A band, and what it will become."""

    Finish = Callable[[Before, Box], NDArray[np.uint16]]
    """Takes what gives a region's resampled light, and the box; gives its rows."""

_MOST_THREADS = 4


@contextmanager
def finished_bands(
    light: ResampledLight, reach_px: int, finish: Finish
) -> Iterator[Iterator[tuple[Box, NDArray[np.uint16]]]]:
    """
    The picture's bands of rows from top to bottom, finished; the first begin at once.

    Parameters
    ----------
    reach_px : int
        How far round its box finishing asks for light.
    finish : callable
        Called in a few threads at once.

    Yields
    ------
    iterator of (Box, ndarray of uint16)
        Box of the band in the picture, and what became of it.

    Notes
    -----
    Bands of light and finished bands are computed ahead, and dropped when the reader
    has passed them: memory follows the width of the picture, not its area.
    """
    threads = threads_at_most(_MOST_THREADS)
    pool = ThreadPoolExecutor(threads, "printplan", initializer=work_alone)
    try:
        begun = _begun(pool, light, reach_px, finish)
        ahead = deque(islice(begun, threads + 1))
        yield _in_turn(begun, ahead)
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
        forget_spare()


def _in_turn(
    begun: Iterator[Ahead], ahead: deque[Ahead]
) -> Iterator[tuple[Box, NDArray[np.uint16]]]:
    """Each band when it is done; one more is begun for each that is taken."""
    while ahead:
        band, future = ahead.popleft()
        yield band, future.result()
        ahead.extend(islice(begun, 1))


def _begun(
    pool: ThreadPoolExecutor, light: ResampledLight, reach_px: int, finish: Finish
) -> Iterator[Ahead]:
    """Bands that a pool is told to finish, as they are asked for."""
    rows: dict[int, _Rows] = {}
    finish_band = partial(_finished, light, reach_px, finish)
    for number in light.bands_of(light.picture):
        band = light.band_box(number)
        needed = light.bands_of(band.grown(reach_px, light.picture))
        for part in needed:
            if part not in rows:
                rows[part] = _Rows(partial(light.band, part, reach_px))
        parts = {part: rows[part] for part in needed}
        # What later bands look back at ends a halo above this band's foot.
        for part in needed:
            if light.band_box(part).bottom <= band.bottom - reach_px:
                del rows[part]
        yield band, pool.submit(finish_band, number, parts)


class _Rows:
    """
    Light of a band of rows, computed once, by the first thread that begins it.

    A thread begins all that nobody began before it waits for any: whom it waits for
    computes, and waits for nobody.
    """

    def __init__(self, compute: Callable[[], NDArray[np.float32]]) -> None:
        self._compute = compute
        self._lock = Lock()
        self._light: NDArray[np.float32] | None = None

    def begin(self) -> None:
        """Compute it, unless another thread does."""
        if self._lock.acquire(blocking=False):
            try:
                self._computed()
            finally:
                self._lock.release()

    def light(self) -> NDArray[np.float32]:
        """Linear light; it may still have to be waited for."""
        with self._lock:
            return self._computed()

    def _computed(self) -> NDArray[np.float32]:
        if self._light is None:
            self._light = self._compute()
        return self._light


def _finished(
    light: ResampledLight,
    reach_px: int,
    finish: Finish,
    number: int,
    parts: dict[int, _Rows],
) -> NDArray[np.uint16]:
    """One band, finished; what it needs of others is let go of when it was taken."""
    for rows in parts.values():
        rows.begin()
    lit = {part: rows.light() for part, rows in parts.items()}
    parts.clear()
    whole = light.fill_around(number, reach_px, lit)
    lit.clear()
    band = light.band_box(number)
    around = band.grown(reach_px, light.picture)

    def source(region: Box) -> NDArray[np.float32]:
        if region == around:
            return whole
        inner = region.moved(-around.left, -around.top)
        part = whole[:, inner.top : inner.bottom, inner.left : inner.right]
        return np.ascontiguousarray(part)

    return finish(source, band)
