"""What is the picture in linear light, wherever one looks?"""

from __future__ import annotations

from collections import OrderedDict
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any, Self

import numpy as np

from printplan.errors import MasterError, SpecError
from printplan.loops.light import cell_means, cell_means_of_codes, light_of_codes
from printplan.loops.memory import empty
from printplan.pixels.master_file import BAND_PIXELS
from printplan.pixels.master_reading import MOST_THREADS
from printplan.pixels.master_source import Source, open_source, oriented
from printplan.processor_share import threads_at_most
from printplan.sizing.boxes import Box
from printplan.spec import AlphaRule, member

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from numpy.typing import NDArray

_KEPT_REDUCTIONS = 2
"""Reduced pictures kept: the overview in hand and the one before."""


class Master:
    """
    A finished photograph, open for reading.

    Several threads may read at once. Close it when none does any more, or use it as
    a context manager.

    Parameters
    ----------
    source : Source
        The open file and its working pixels.

    Attributes
    ----------
    profile : Profile
        In whose linear channels the pixels are given: the master's own, or ROMM RGB
        if that one is a table.
    source_profile : Profile
        The master's own.
    is_negative : bool
        Whether the smallest of its stored numbers is white.
    """

    def __init__(self, source: Source) -> None:
        self.facts = source.facts
        self.profile = source.profile
        self.source_profile = source.source_profile
        tables = source.tables
        self.is_negative = tables is not None and bool(tables[0, 0] > tables[0, -1])
        self._source: Source | None = source
        self._reductions: OrderedDict[int, NDArray[np.float32]] = OrderedDict()
        self._asked: set[int] = set()
        self._lock = Lock()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file and its working copy; the pixels are gone with them."""
        source, self._source = self._source, None
        self._reductions.clear()
        if source is not None:
            source.close()

    def linear(self, box: Box) -> NDArray[np.float32]:
        """
        Linear light of a part of the picture.

        Parameters
        ----------
        box : Box
            In pixels of the picture as it is looked at, inside it.

        Returns
        -------
        ndarray of float32, shape (channels, box.height, box.width)
            0 to 1, C-contiguous, newly made. A pixel's value does not depend on the
            box in which it is asked for.

        Raises
        ------
        SpecError
            If the box leaves the picture or holds no pixel.
        MasterError
            If the master was closed, or its file changed since it was opened.
        """
        source = self._open()
        region = oriented(self._region(source, box), self.facts.orientation_flag)
        light: NDArray[np.float32] = empty(region.shape)
        if source.tables is None:
            light[...] = region
        else:
            codes, steps = _as_they_lie(region)
            light_of_codes(codes, *steps, source.tables, light)
        return light

    def codes(self, box: Box) -> NDArray[np.uint8] | NDArray[np.uint16] | None:
        """
        The stored numbers of a part of the picture.

        Parameters
        ----------
        box : Box
            In pixels of the picture as it is looked at, inside it.

        Returns
        -------
        ndarray of uint8 or uint16, shape (channels, box.height, box.width), or None
            As stored, newly made. None if the working pixels hold linear light: then
            the stored numbers were floating-point, transparent or of a table profile.

        Raises
        ------
        SpecError
            If the box leaves the picture or holds no pixel.
        MasterError
            If the master was closed, or its file changed since it was opened.
        """
        source = self._open()
        region = self._region(source, box)
        if source.tables is None:
            return None
        kind: Any = np.uint8 if region.dtype.itemsize == 1 else np.uint16
        codes: NDArray[np.uint8] | NDArray[np.uint16] = np.array(
            oriented(region, self.facts.orientation_flag), kind, order="C"
        )
        return codes

    def _region(self, source: Source, box: Box) -> NDArray[np.generic]:
        """Working pixels of a box, in rows as stored."""
        width_px, height_px = self.facts.width_px, self.facts.height_px
        inside = 0 <= box.left < box.right <= width_px
        if not (inside and 0 <= box.top < box.bottom <= height_px):
            raise SpecError(
                f"The box {box} is not inside the picture of {width_px} × "
                f"{height_px} px.",
                remedy="Ask for a box of at least one pixel inside the picture.",
            )
        return source.read(box)

    def reduced(self, factor: int) -> NDArray[np.float32]:
        """
        The whole picture at reduced size: means of linear light over square cells.

        Parameters
        ----------
        factor : int
            Edge of a cell in pixels, 1 or more.

        Returns
        -------
        ndarray of float32, shape (channels, rows, columns)
            Height and width over the factor, rounded up; 0 to 1, not writable. It
            is kept, with one more, until the master closes.

        Raises
        ------
        SpecError
            If the factor is below 1.
        MasterError
            If the master was closed, or its file changed since it was opened.

        Notes
        -----
        Cells are counted from the left and top edges: cell (i, j) is the mean of the
        pixels from row ``i·factor`` and column ``j·factor`` on, of as many as there
        are up to ``factor`` each way. A point at x in the picture is therefore at
        ``x / factor`` in the reduced one, and the picture's right and bottom edges
        are at ``width / factor`` and ``height / factor``: within the last cell if
        that is a cut one, not at its far side.

        Sums are taken in float32 along columns of a cell and float64 along rows, so
        the mean is within ``factor · 6e-8`` of the exact one, relative to it.
        """
        if factor < 1:
            raise SpecError(
                f"The picture cannot be reduced {factor} times.",
                remedy="Give a whole factor of 1 or more.",
            )
        with self._lock:
            if factor in self._reductions:
                self._reductions.move_to_end(factor)
                return self._reductions[factor]
        rows, columns = self._reduced_size(factor)
        cells = np.empty((self.facts.channels, rows, columns), np.float32)
        step = max(1, BAND_PIXELS // (factor**2 * columns))

        def fill(top: int) -> None:
            self._put_means(factor, range(top, min(top + step, rows)), cells, top)

        with ThreadPoolExecutor(threads_at_most(MOST_THREADS)) as pool:
            list(pool.map(fill, range(0, rows, step)))
        cells.setflags(write=False)
        with self._lock:
            self._reductions[factor] = cells
            if len(self._reductions) > _KEPT_REDUCTIONS:
                self._reductions.popitem(last=False)
        return cells

    def rows_reduced(
        self, factor: int
    ) -> Callable[[Iterable[range]], Iterator[NDArray[np.float32]]]:
        """
        What goes through some rows of the picture at reduced size.

        Parameters
        ----------
        factor : int
            As for `reduced`.

        Returns
        -------
        callable
            Takes ranges of rows, and gives for each what `reduced` has there, its
            planes C-contiguous. Several threads may call it.

        Notes
        -----
        The first time these rows alone are computed, but for those at the beginning of
        a range that the one before had, and memory need not hold all; from the second
        on, all are kept: a size that is moved asks for them again and again.
        """
        with self._lock:
            is_first = factor not in self._asked
            self._asked.add(factor)
        if is_first:
            return partial(self._some_means, factor)
        whole = self.reduced(factor)
        return lambda ranges: (whole[:, it.start : it.stop] for it in ranges)

    def _reduced_size(self, factor: int) -> tuple[int, int]:
        """Rows and columns of cells, the cut ones at the far edges among them."""
        return -(-self.facts.height_px // factor), -(-self.facts.width_px // factor)

    def _some_means(
        self, factor: int, ranges: Iterable[range]
    ) -> Iterator[NDArray[np.float32]]:
        columns = self._reduced_size(factor)[1]
        held, before = range(0), empty((self.facts.channels, 0, columns))
        for rows in ranges:
            cells: NDArray[np.float32] = empty((len(before), len(rows), columns))
            known = min(held.stop, rows.stop) - rows.start
            if rows.start < held.start or known < 0:
                known = 0
            first = rows.start - held.start
            cells[:, :known] = before[:, first : first + known]
            if known < len(rows):
                self._put_means(factor, rows[known:], cells, known)
            yield cells
            held, before = rows, cells

    def _put_means(
        self, factor: int, rows: range, cells: NDArray[np.float32], at: int
    ) -> None:
        """Put means over some rows of square cells where they belong."""
        source, facts = self._open(), self.facts
        bottom_px = min(rows.stop * factor, facts.height_px)
        top_px = rows.start * factor
        box = Box(0, top_px, facts.width_px, bottom_px - top_px)
        strip = np.empty(box.width, np.float32)
        if source.tables is None:
            cell_means(self.linear(box), factor, strip, at, cells)
            return
        region = oriented(self._region(source, box), facts.orientation_flag)
        codes, steps = _as_they_lie(region)
        tables, height = source.tables, box.height
        cell_means_of_codes(codes, *steps, tables, height, factor, strip, at, cells)

    def _open(self) -> Source:
        if self._source is None:
            raise MasterError(
                f"The master {self.facts.path} was closed.",
                remedy="Open it again, and keep it open while its sheet is in use.",
            )
        return self._source


def open_master(
    path: str | Path,
    *,
    assume_profile: str = "",
    alpha: AlphaRule = AlphaRule.REFUSE,
    cache_folder: Path | None = None,
) -> Master:
    """
    Open a finished photograph for reading; its file is never written.

    Parameters
    ----------
    path : str or Path
        A TIFF, PNG or JPEG file, grey or RGB.
    assume_profile : str, optional
        For a file without a profile: a `NamedSpace` value, of which a grey file takes
        the tone curve, or the path of a profile.
    alpha : AlphaRule, optional
        Whether transparency may be laid on paper white.
    cache_folder : Path, optional
        Where decoded copies are kept; `default_cache_folder` if not given.

    Raises
    ------
    MasterError
        If the file is missing, damaged, or no finished photograph.
    ProfileError
        If it carries no usable profile, or one is named beside the one it carries.

    Notes
    -----
    Plain uncompressed TIFF files of whole numbers are read in place, by position: the
    file is never mapped. Everything else is decoded once, by a process of its own,
    into a working copy in the cache folder, under a name made from the file's hash and
    the way it is read; a damaged copy is made anew.
    """
    return Master(
        open_source(
            Path(path),
            assume_profile=assume_profile,
            alpha=member(AlphaRule, alpha, "Alpha"),
            cache_folder=cache_folder,
        )
    )


def _as_they_lie(
    codes: NDArray[np.generic],
) -> tuple[NDArray[Any], tuple[int, int, int]]:
    """Stored numbers in planes or pixel by pixel, and steps along all three axes."""
    native = codes.astype(codes.dtype.newbyteorder("="), copy=False)
    pixels = native.transpose(1, 2, 0)
    channels, rows, columns = native.shape
    steps = (1, columns * channels, channels)
    if not pixels.flags.c_contiguous:
        pixels = np.ascontiguousarray(native)
        steps = (rows * columns, columns, 1)
    return pixels.reshape(-1), steps
