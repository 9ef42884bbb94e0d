"""How is a whole picture finished in order, ahead of its writer, in little memory?"""

from __future__ import annotations

import os
from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from printplan.pixels.tiles import LinearTiles
    from printplan.size.layout import Box

    Finish = Callable[[NDArray[np.float32], Box, Box], NDArray[np.uint16]]
    """Takes linear light of a region, that region, and the box inside it to finish."""

_WORKERS = max(2, min(4, os.cpu_count() or 2))


def finished_bands(
    tiles: LinearTiles, halo_px: int, finish: Finish
) -> Iterator[tuple[Box, NDArray[np.uint16]]]:
    """
    The picture's rows of tiles from top to bottom, finished.

    Parameters
    ----------
    tiles : LinearTiles
    halo_px : int
        How far finishing looks beyond its box.
    finish : callable
        Called in a few threads at once.

    Yields
    ------
    tuple of Box and ndarray of uint16
        Box of the row of tiles in the picture, and what became of it.

    Notes
    -----
    Rows of tiles and finished bands are computed ahead, and dropped when the reader
    has passed them: memory follows the width of the picture, not its area.
    """
    pool = ThreadPoolExecutor(_WORKERS, thread_name_prefix="printplan")
    rows: dict[int, Future[NDArray[np.float32]]] = {}
    ahead: deque[tuple[Box, Future[NDArray[np.uint16]]]] = deque()

    def finish_row(
        parts: dict[int, Future[NDArray[np.float32]]], grown: Box, band: Box
    ) -> NDArray[np.uint16]:
        linear = _joined(tiles, parts, grown)
        parts.clear()
        return finish(linear, grown, band)

    try:
        for row in tiles.rows_of(tiles.picture):
            band = tiles.row_box(row)
            grown = band.grown(halo_px, tiles.picture)
            needed = tiles.rows_of(grown)
            # Rows are queued before the band that waits for them, and the pool
            # serves its queue in order: no band can wait for a row behind it.
            for part in needed:
                if part not in rows:
                    rows[part] = pool.submit(tiles.row, part)
            parts = {part: rows[part] for part in needed}
            ahead.append((band, pool.submit(finish_row, parts, grown, band)))
            # What later bands look back at ends a halo above this band's foot.
            for part in needed:
                if tiles.row_box(part).bottom <= band.bottom - halo_px:
                    del rows[part]
            if len(ahead) > _WORKERS:
                done, future = ahead.popleft()
                yield done, future.result()
        while ahead:
            done, future = ahead.popleft()
            yield done, future.result()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _joined(
    tiles: LinearTiles, parts: dict[int, Future[NDArray[np.float32]]], grown: Box
) -> NDArray[np.float32]:
    """Rows of tiles as one region."""
    first = next(iter(parts.values())).result()
    linear = np.empty((len(first), grown.height, grown.width), np.float32)
    for row, future in parts.items():
        box = tiles.row_box(row)
        top, bottom = max(box.top, grown.top), min(box.bottom, grown.bottom)
        linear[:, top - grown.top : bottom - grown.top] = future.result()[
            :, top - box.top : bottom - box.top
        ]
    return linear
