"""How are bands of a picture computed ahead of the file that takes them?"""

from __future__ import annotations

from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from functools import partial
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

    Finish = Callable[[Before, Box], NDArray[np.uint16]]
    """Takes what gives a region's resampled light, and the box; gives its rows."""

_MOST_THREADS = 4


def finished_bands(
    light: ResampledLight, reach_px: int, finish: Finish
) -> Iterator[tuple[Box, NDArray[np.uint16]]]:
    """
    The picture's bands of rows from top to bottom, finished.

    Parameters
    ----------
    reach_px : int
        How far round its box finishing asks for light.
    finish : callable
        Called in a few threads at once.

    Yields
    ------
    tuple of Box and ndarray of uint16
        Box of the band in the picture, and what became of it.

    Notes
    -----
    Bands of light and finished bands are computed ahead, and dropped when the reader
    has passed them: memory follows the width of the picture, not its area.
    """
    threads = threads_at_most(_MOST_THREADS)
    pool = ThreadPoolExecutor(threads, "printplan", initializer=work_alone)
    rows: dict[int, Future[NDArray[np.float32]]] = {}
    ahead: deque[tuple[Box, Future[NDArray[np.uint16]]]] = deque()
    finish_band = partial(_finished, light, reach_px, finish)

    try:
        for number in light.bands_of(light.picture):
            band = light.band_box(number)
            grown = band.grown(reach_px, light.picture)
            needed = light.bands_of(grown)
            # Rows are queued before the band that waits for them, and the pool
            # serves its queue in order: no band can wait for a row behind it.
            for part in needed:
                if part not in rows:
                    rows[part] = pool.submit(light.band, part, reach_px)
            parts = {part: rows[part] for part in needed}
            ahead.append((band, pool.submit(finish_band, number, parts)))
            # What later bands look back at ends a halo above this band's foot.
            for part in needed:
                if light.band_box(part).bottom <= band.bottom - reach_px:
                    del rows[part]
            if len(ahead) > threads:
                done, future = ahead.popleft()
                yield done, future.result()
        while ahead:
            done, future = ahead.popleft()
            yield done, future.result()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
        forget_spare()


def _finished(
    light: ResampledLight,
    reach_px: int,
    finish: Finish,
    number: int,
    parts: dict[int, Future[NDArray[np.float32]]],
) -> NDArray[np.uint16]:
    """One band, finished; what it needs of others is let go of when it was taken."""
    lit = {part: future.result() for part, future in parts.items()}
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
