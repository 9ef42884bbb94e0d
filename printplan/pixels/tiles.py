"""The master at print size in linear light, on one fixed grid of tiles."""

from __future__ import annotations

from collections import OrderedDict
from math import ceil, floor
from threading import Lock
from typing import TYPE_CHECKING

import numpy as np

from printplan.sharpening.lightness import luminance
from printplan.sizing.boxes import Box
from printplan.sizing.resampling import joined_near, main_lobe, resample_plane

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.master import Master
    from printplan.sizing.print_size import Crop

_LARGEST_TILE_PX = 256
_SMALLEST_TILE_PX = 32
# A row of tiles is held in memory while a file is written, so wide pictures take
# flat tiles; a tile's source is too, so strong reductions take narrow ones.
_ROW_PIXELS = 1 << 21
_SOURCE_EDGE_PX = 1536
_CACHE_BYTES = 192 * 2**20
_LOBES = 3
# Source pixels that are looked through at once for the tones near print pixels.
_RANGE_PIXELS = 1 << 20


class LinearTiles:
    """
    The printed part of a master, resampled tile by tile.

    The grid starts at the picture's corner and depends on nothing but the crop and
    the picture's pixels: a window and the finished file are cut from the same
    tiles, and so agree to the last bit.

    Parameters
    ----------
    crop : Crop
        In master pixels.
    size_px : tuple of int
        Width and height of the picture in print pixels.
    """

    def __init__(self, master: Master, crop: Crop, size_px: tuple[int, int]) -> None:
        self.master = master
        self.crop = crop
        self.picture = Box(0, 0, *size_px)
        self._step_x = crop.width_px / size_px[0]
        self._step_y = crop.height_px / size_px[1]
        self.tile_width = _tile_edge(self._step_x, _SOURCE_EDGE_PX)
        self.tile_height = min(
            _tile_edge(self._step_y, _SOURCE_EDGE_PX),
            _tile_edge(size_px[0], _ROW_PIXELS),
        )
        self._kept: OrderedDict[tuple[int, int], NDArray[np.float32]] = OrderedDict()
        self._kept_bytes = 0
        self._reduced: tuple[tuple[int, int], NDArray[np.float32]] | None = None
        self._lock = Lock()

    def serves(self, master: Master, crop: Crop, size_px: tuple[int, int]) -> bool:
        """Whether these are the tiles of that picture."""
        same_size = (self.picture.width, self.picture.height) == size_px
        return self.master is master and self.crop == crop and same_size

    def region(self, box: Box) -> NDArray[np.float32]:
        """
        Any box of the picture, from kept tiles where there are any.

        Parameters
        ----------
        box : Box
            Inside the picture.

        Returns
        -------
        ndarray of float32, shape (channels, box.height, box.width)
            Linear light, a new array.
        """
        out = np.empty((self.master.facts.channels, box.height, box.width), np.float32)
        for row in self.rows_of(box):
            for column in range(
                box.left // self.tile_width, (box.right - 1) // self.tile_width + 1
            ):
                tile = self._tile_box(row, column)
                part = tile.common(box)
                if part is not None:
                    inside = part.moved(-tile.left, -tile.top)
                    target = part.moved(-box.left, -box.top)
                    out[:, target.top : target.bottom, target.left : target.right] = (
                        self._tile(row, column)[
                            :, inside.top : inside.bottom, inside.left : inside.right
                        ]
                    )
        return out

    def rows_of(self, box: Box) -> range:
        """Rows of the grid that a box touches."""
        return range(
            box.top // self.tile_height, (box.bottom - 1) // self.tile_height + 1
        )

    def row_box(self, row: int) -> Box:
        """Where a whole row of tiles lies."""
        top = row * self.tile_height
        height = min(self.tile_height, self.picture.height - top)
        return Box(0, top, self.picture.width, height)

    def row(self, row: int) -> NDArray[np.float32]:
        """
        A whole row of tiles, computed afresh and not kept.

        Returns
        -------
        ndarray of float32, shape (channels, rows, picture width)
        """
        box = self.row_box(row)
        out = np.empty((self.master.facts.channels, box.height, box.width), np.float32)
        for column in range(ceil(box.width / self.tile_width)):
            tile = self._tile_box(row, column)
            self._compute(tile, out[:, :, tile.left : tile.right])
        return out

    def reduced(self, size_px: tuple[int, int]) -> NDArray[np.float32]:
        """
        The whole picture at a smaller size, for overviews.

        Parameters
        ----------
        size_px : tuple of int
            Width and height.

        Returns
        -------
        ndarray of float32, shape (channels, height, width)
            Linear light from 0 to 1; the latest is kept, and not writable.
        """
        with self._lock:
            if self._reduced is not None and self._reduced[0] == size_px:
                return self._reduced[1]
        crop = self.crop
        shrink = min(crop.width_px / size_px[0], crop.height_px / size_px[1])
        factor = max(int(shrink / 2), 1)
        planes = self.master.reduced(factor)
        box = (
            crop.left_px / factor,
            crop.top_px / factor,
            min((crop.left_px + crop.width_px) / factor, float(planes.shape[2])),
            min((crop.top_px + crop.height_px) / factor, float(planes.shape[1])),
        )
        linear = np.stack([resample_plane(plane, box, size_px) for plane in planes])
        np.clip(linear, 0.0, 1.0, out=linear)
        linear.setflags(write=False)
        with self._lock:
            self._reduced = (size_px, linear)
        return linear

    def tones_near(
        self, box: Box, weights: NDArray[np.float64]
    ) -> tuple[NDArray[np.float32], NDArray[np.float32]] | None:
        """
        Darkest and lightest luminance that the master has near each print pixel.

        Parameters
        ----------
        box : Box
            Inside the picture.
        weights : ndarray of float64, shape (channels,)
            Luminance of each channel.

        Returns
        -------
        tuple of ndarray of float32, shape (box.height, box.width), or None
            None where pixels are copied, not resampled.

        Notes
        -----
        Near is as far as the main lobe of the resampling's kernel reaches, in a square.
        What a resampled pixel has beyond these tones is the kernel's own ringing. Each
        value depends on its place alone, not on the box.
        """
        crop, facts = self.crop, self.master.facts
        if self._step_x == self._step_y == 1 and (
            crop.left_px % 1,
            crop.top_px % 1,
        ) == (0, 0):
            return None
        rows = main_lobe(
            crop.top_px, self._step_y, range(box.top, box.bottom), facts.height_px
        )
        columns = main_lobe(
            crop.left_px, self._step_x, range(box.left, box.right), facts.width_px
        )
        left, right = int(columns[0][0]), int(columns[1][-1]) + 1
        columns = (columns[0] - left, columns[1] - left)
        darkest = np.empty((box.height, box.width), np.float32)
        lightest = np.empty_like(darkest)
        step = max(int(_RANGE_PIXELS / ((right - left) * self._step_y)), 1)
        for first in range(0, box.height, step):
            part = slice(first, min(first + step, box.height))
            top, bottom = int(rows[0][part][0]), int(rows[1][part][-1]) + 1
            source = Box(left, top, right - left, bottom - top)
            light = luminance(self.master.linear(source), weights)
            near = (rows[0][part] - top, rows[1][part] - top)
            for join, out in ((np.minimum, darkest), (np.maximum, lightest)):
                out[part] = joined_near(light, near, columns, join)
        return darkest, lightest

    def forget(self, from_px: int) -> None:
        """
        Let go of kept tiles that begin at a column or right of it.

        Parameters
        ----------
        from_px : int
            A column of the picture; 0 for all.
        """
        with self._lock:
            for key in [it for it in self._kept if it[1] * self.tile_width >= from_px]:
                self._kept_bytes -= self._kept.pop(key).nbytes

    def _tile_box(self, row: int, column: int) -> Box:
        left, top = column * self.tile_width, row * self.tile_height
        return Box(
            left,
            top,
            min(self.tile_width, self.picture.width - left),
            min(self.tile_height, self.picture.height - top),
        )

    def _tile(self, row: int, column: int) -> NDArray[np.float32]:
        """A tile from memory, or computed and kept; the longest unused go first."""
        with self._lock:
            kept = self._kept.get((row, column))
            if kept is not None:
                self._kept.move_to_end((row, column))
                return kept
        tile = self._tile_box(row, column)
        channels = self.master.facts.channels
        pixels = np.empty((channels, tile.height, tile.width), np.float32)
        self._compute(tile, pixels)
        with self._lock:
            if (row, column) not in self._kept:
                self._kept[row, column] = pixels
                self._kept_bytes += pixels.nbytes
            while self._kept_bytes > _CACHE_BYTES:
                _, dropped = self._kept.popitem(last=False)
                self._kept_bytes -= dropped.nbytes
        return pixels

    def _compute(self, tile: Box, out: NDArray[np.float32]) -> None:
        left, right, source_left, source_right = _reach(
            self.crop.left_px + tile.left * self._step_x,
            self.crop.left_px + tile.right * self._step_x,
            self._step_x,
            self.master.facts.width_px,
        )
        top, bottom, source_top, source_bottom = _reach(
            self.crop.top_px + tile.top * self._step_y,
            self.crop.top_px + tile.bottom * self._step_y,
            self._step_y,
            self.master.facts.height_px,
        )
        source = self.master.linear(
            Box(
                source_left,
                source_top,
                source_right - source_left,
                source_bottom - source_top,
            )
        )
        for channel, plane in enumerate(source):
            out[channel] = resample_plane(
                plane, (left, top, right, bottom), (tile.width, tile.height)
            )


def _tile_edge(weight: float, limit: float) -> int:
    """Largest tile edge, by halves, whose weighted length keeps under a limit."""
    edge = _LARGEST_TILE_PX
    while edge > _SMALLEST_TILE_PX and edge * weight > limit:
        edge //= 2
    return edge


def _reach(
    start: float, stop: float, step: float, length: int
) -> tuple[float, float, int, int]:
    """
    Stretch of source that a tile reads, and the tile's edges counted from its start.

    The kernel reaches three lobes of the coarser of the two grids to each side.
    """
    margin = _LOBES * max(step, 1.0) + 2
    source_start = max(floor(start - margin), 0)
    source_stop = min(ceil(stop + margin), length)
    extent = float(source_stop - source_start)
    return (
        max(start - source_start, 0.0),
        min(stop - source_start, extent),
        source_start,
        source_stop,
    )
