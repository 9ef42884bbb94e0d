"""The master at print size in linear light, pixel by pixel the same for any cut."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from functools import cached_property
from math import log2
from threading import Lock
from typing import TYPE_CHECKING

import numpy as np

from printplan.loops.memory import empty
from printplan.loops.threads import work_alone
from printplan.pixels.last_look import require_numbers
from printplan.pixels.master_reading import MOST_THREADS
from printplan.processor_share import threads_at_most
from printplan.sharpening.lightness import luminance
from printplan.sizing.boxes import Box
from printplan.sizing.resampling import (
    Taps,
    main_lobe,
    range_near,
    resample_part,
    taps,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.master import Master
    from printplan.sizing.print_size import Crop

_BAND_PIXELS = 400_000
"""Print pixels of a band that is made at once: what is done to them finds them in the
cache that both threads share. Measured."""

_LEAST_ROWS, _MOST_ROWS, _ROWS_STEP = 32, 256, 16
_SOURCE_PIXELS = 600_000
"""Source pixels that are read at once, 7 MB of linear light: enough for a band, since
two parts would both read the rows at which they meet."""

_OVERVIEW_PIXELS = 1_000_000
"""Source pixels that are reduced at once for an overview. Measured."""

_SHARES = 2
"""Parts of an overview for each thread, so that none has much less to do: a thread
goes through its part from top to bottom, and each part begins with rows of another."""


class ResampledLight:
    """
    The printed part of a master, resampled.

    What becomes of a print pixel follows from its place, the crop and the picture's
    size, and from nothing else: a window and the finished file agree to the
    last bit, wherever they are cut.

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
        rows = max(_BAND_PIXELS // size_px[0], _LEAST_ROWS)
        self.band_rows = min(rows - rows % _ROWS_STEP, _MOST_ROWS)
        self._reduced: tuple[tuple[int, int], NDArray[np.float32]] | None = None
        self._lock = Lock()

    def serves(self, master: Master, crop: Crop, size_px: tuple[int, int]) -> bool:
        """Whether this is the light of that picture."""
        same_size = (self.picture.width, self.picture.height) == size_px
        return self.master is master and self.crop == crop and same_size

    def region(self, box: Box) -> NDArray[np.float32]:
        """
        Any box of the picture.

        Parameters
        ----------
        box : Box
            Inside the picture.

        Returns
        -------
        ndarray of float32, shape (channels, box.height, box.width)
            Linear light, a new array.

        Raises
        ------
        RenderError
            If some of it is not a number: it would print as black.
        """
        out = empty((self.master.facts.channels, box.height, box.width))
        self._fill(out, box)
        return out

    def _fill(self, out: NDArray[np.float32], box: Box) -> None:
        """Put the light of a box into an array; rows of a plane lie side by side."""
        if self._is_copied:
            left, top = int(self.crop.left_px), int(self.crop.top_px)
            out[...] = self.master.linear(box.moved(left, top))
            require_numbers(out)
            return
        columns = self._columns.some(box.left, box.right)
        left, width = columns.start, columns.stop - columns.start
        columns = columns.from_start()
        step = max(int(_SOURCE_PIXELS / (width * self._step_y)), 1)
        for top in range(box.top, box.bottom, step):
            bottom = min(top + step, box.bottom)
            rows = self._rows.some(top, bottom)
            source = Box(left, rows.start, width, rows.stop - rows.start)
            into = out[:, top - box.top : bottom - box.top]
            rows = rows.from_start()
            for plane, done in zip(self.master.linear(source), into, strict=True):
                resample_part(plane, rows, columns, done)
            require_numbers(into)

    @cached_property
    def _rows(self) -> Taps:
        places, length = range(self.picture.height), self.master.facts.height_px
        return taps(self.crop.top_px, self._step_y, places, length)

    @cached_property
    def _columns(self) -> Taps:
        places, length = range(self.picture.width), self.master.facts.width_px
        return taps(self.crop.left_px, self._step_x, places, length)

    @property
    def _is_copied(self) -> bool:
        """Whether print pixels are master pixels."""
        start = (self.crop.left_px % 1, self.crop.top_px % 1)
        return self._step_x == self._step_y == 1 and start == (0, 0)

    def bands_of(self, box: Box) -> range:
        """Bands of the picture that a box touches."""
        return range(box.top // self.band_rows, (box.bottom - 1) // self.band_rows + 1)

    def band_box(self, band: int) -> Box:
        """Where a whole band of rows lies."""
        top = band * self.band_rows
        height = min(self.band_rows, self.picture.height - top)
        return Box(0, top, self.picture.width, height)

    def band(self, band: int, around_px: int) -> NDArray[np.float32]:
        """
        A whole band of rows, with room for those above and below it.

        Parameters
        ----------
        around_px : int
            Rows on either side, as far as the picture reaches.

        Returns
        -------
        ndarray of float32, shape (channels, rows with those around, picture width)
            Of the rows around only the room is there.
        """
        box = self.band_box(band)
        whole = box.grown(around_px, self.picture)
        out = empty((self.master.facts.channels, whole.height, whole.width))
        self._fill(_rows_of(out, whole, box), box)
        return out

    def fill_around(
        self, band: int, around_px: int, lit: dict[int, NDArray[np.float32]]
    ) -> NDArray[np.float32]:
        """
        A band with the rows around it, out of other bands.

        Parameters
        ----------
        lit : dict of int to ndarray
            That band, which takes the rows, and all that have some of them: see `band`.

        Returns
        -------
        ndarray of float32, shape (channels, rows with those around, picture width)
            The band's own array.
        """
        whole = self.band_box(band).grown(around_px, self.picture)
        for number, light in lit.items():
            if number == band:
                continue
            box = self.band_box(number)
            part = box.common(whole)
            if part is not None:
                other = box.grown(around_px, self.picture)
                rows = _rows_of(lit[band], whole, part)
                rows[...] = _rows_of(light, other, part)
        return lit[band]

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
        # A power of two, so that overviews of several sizes share what takes longest.
        factor = 2 ** max(int(log2(shrink / 2)), 0)
        width, height = size_px
        facts = self.master.facts
        columns = _reduced_taps(
            crop.left_px, crop.width_px, facts.width_px, factor, width
        )
        rows = _reduced_taps(
            crop.top_px, crop.height_px, facts.height_px, factor, height
        )
        linear = np.empty((facts.channels, height, width), np.float32)
        rows_reduced = self.master.rows_reduced(factor)
        row_pixels = facts.width_px * crop.height_px / height
        step = max(1, int(_OVERVIEW_PIXELS / row_pixels))

        def fill(tops: range) -> None:
            parts = [rows.some(top, min(top + step, tops.stop)) for top in tops]
            sources = rows_reduced(range(it.start, it.stop) for it in parts)
            for top, some, planes in zip(tops, parts, sources, strict=True):
                into = linear[:, top : top + len(some.first)]
                for plane, done in zip(planes, into, strict=True):
                    resample_part(plane, some.from_start(), columns, done)
                    np.clip(done, 0.0, 1.0, out=done)

        threads = threads_at_most(MOST_THREADS)
        share = -(-height // (_SHARES * threads))
        shares = (
            range(top, min(top + share, height), step)
            for top in range(0, height, share)
        )
        with ThreadPoolExecutor(threads, initializer=work_alone) as pool:
            list(pool.map(fill, shares))
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
        if self._is_copied:
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
        step = max(int(_SOURCE_PIXELS / ((right - left) * self._step_y)), 1)
        for first in range(0, box.height, step):
            part = slice(first, min(first + step, box.height))
            top, bottom = int(rows[0][part][0]), int(rows[1][part][-1]) + 1
            source = Box(left, top, right - left, bottom - top)
            light = luminance(self.master.linear(source), weights)
            near = (rows[0][part] - top, rows[1][part] - top)
            darkest[part], lightest[part] = range_near(light, near, columns)
        return darkest, lightest


def _reduced_taps(
    start_px: float, length_px: float, edge_px: int, factor: int, count: int
) -> Taps:
    """Cells of so many pixels that so many places between two edges are sums of."""
    cells = -(-edge_px // factor)
    start = start_px / factor
    end = min((start_px + length_px) / factor, float(cells))
    return taps(start, (end - start) / count, range(count), cells)


def _rows_of(light: NDArray[np.float32], whole: Box, part: Box) -> NDArray[np.float32]:
    """Rows of a box in the light of a box as wide."""
    return light[:, part.top - whole.top : part.bottom - whole.top]
