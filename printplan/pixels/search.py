"""Which window of a picture holds most of a quantity?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import scipy

from printplan.sharpening.gaussian import smoothed
from printplan.sizing.boxes import Box

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Values = NDArray[np.float32]


_SURROUNDINGS_PX = 2.0
"""Standard deviation of what counts as around a pixel: our choice."""

_NEAR_PX = 9
"""Edge of the square whose ends count as near: twice as far. Our choice."""


@dataclass(frozen=True, slots=True, eq=False)
class Texture:
    """
    Lightness, and how it varies.

    Attributes
    ----------
    lightness : ndarray of float32, shape (rows, columns)
        L* of each pixel.
    varies : ndarray of float32, shape (rows, columns)
        Difference from the mean of its surroundings, without sign.
    darkest, lightest : ndarray of float32, shape (rows, columns)
        Ends of lightness near it: where they are far apart there is an edge.
    """

    lightness: Values
    varies: Values
    darkest: Values
    lightest: Values


def texture_of(linear: Values, to_xyz: NDArray[np.float64]) -> Texture:
    """
    Lightness of a picture and how it varies.

    Parameters
    ----------
    linear : ndarray of float32, shape (channels, rows, columns)
        Linear light, 0 to 1.
    to_xyz : ndarray of float64, shape (3, channels)
        As `colour.transforms.colorants_xyz` gives it.
    """
    lightness = lightness_of(linear, to_xyz)
    around = smoothed(lightness, _SURROUNDINGS_PX)
    return Texture(
        lightness=lightness,
        varies=np.abs(lightness - around),
        darkest=scipy.ndimage.minimum_filter(lightness, _NEAR_PX),
        lightest=scipy.ndimage.maximum_filter(lightness, _NEAR_PX),
    )


def lightness_of(linear: Values, to_xyz: NDArray[np.float64]) -> Values:
    """
    CIE lightness of linear light.

    Parameters
    ----------
    linear : ndarray of float32, shape (channels, rows, columns)
        0 to 1.
    to_xyz : ndarray of float64, shape (3, channels)

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        L*, 0 to 100.
    """
    luminance = np.tensordot(to_xyz[1].astype(np.float32), linear, axes=1)
    # CIE 015:2018, 8.2.1.
    cube = 116 * np.cbrt(luminance) - 16
    line = np.float32((29 / 3) ** 3) * luminance
    return np.where(luminance > (6 / 29) ** 3, cube, line).astype(np.float32)


def neighbour_steps(lightness: Values) -> Values:
    """
    Mean difference of each pixel to the next ones right and below.

    Parameters
    ----------
    lightness : ndarray of float32, shape (rows, columns)

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        L*; beyond the last row and column nothing is counted.
    """
    steps = np.zeros_like(lightness)
    steps[:, :-1] += np.abs(np.diff(lightness, axis=1)) / 2
    steps[:-1] += np.abs(np.diff(lightness, axis=0)) / 2
    return steps


MOST_SHARED = 0.15
"""Share of a window that may lie in one found before. Our choice: corners touch, and
each window still shows something else."""

LEAST_OF_BEST = 0.5
"""Share of what the best place holds that another has to hold to be worth a window of
its own. Our choice."""


class Windows:
    """
    All places of a window in a picture, searched on its overview.

    Parameters
    ----------
    picture : Box
        In file pixels.
    overview_px : tuple of int
        Width and height of the picture's overview.
    window_px : tuple of int
        Width and height of the window in file pixels; cut to the picture.

    Attributes
    ----------
    taken : list of Box
        Windows found before, in file pixels.
    """

    def __init__(
        self, picture: Box, overview_px: tuple[int, int], window_px: tuple[int, int]
    ) -> None:
        self.picture = picture
        self._width = min(window_px[0], picture.width)
        self._height = min(window_px[1], picture.height)
        self._across = overview_px[0] / picture.width
        self._down = overview_px[1] / picture.height
        self._cell_width = _whole(self._width * self._across, overview_px[0])
        self._cell_height = _whole(self._height * self._down, overview_px[1])
        self.taken: list[Box] = []

    def take(self, box: Box) -> None:
        """
        Keep later windows away from this one.

        Parameters
        ----------
        box : Box
            In file pixels.
        """
        self.taken.append(box)

    def best(self, values: NDArray[np.floating[Any]]) -> Box | None:
        """
        The window with the largest sum of a quantity.

        Parameters
        ----------
        values : ndarray of float, shape (rows, columns)
            Not negative, on the overview.

        Returns
        -------
        Box or None
            In file pixels, inside the picture; of equal ones the uppermost and then
            the leftmost. A window found before, if what is left beside it holds less
            than `LEAST_OF_BEST` of what the best place does. None if there is none
            of the quantity.
        """
        sums = self._sums(values)
        most = float(sums.max())
        if not most > 0:
            return None
        free = self._peaks(sums.copy(), 1)
        if free and free[0][1] >= LEAST_OF_BEST * most:
            return free[0][0]
        row, column = divmod(int(sums.argmax()), sums.shape[1])
        box = self._box(row, column)

        def shared(other: Box) -> int:
            common = box.common(other)
            return common.width * common.height if common else 0

        # The window found before that shares most with this place.
        return max(self.taken, key=shared)

    def best_few(self, values: NDArray[np.floating[Any]], most: int) -> list[Box]:
        """
        The windows with the largest sums, each away from those before.

        Parameters
        ----------
        values : ndarray of float, shape (rows, columns)
            As for `best`.

        Returns
        -------
        list of Box
            The fullest first; none that was taken.
        """
        return [box for box, _ in self._peaks(self._sums(values), most)]

    def middle(self) -> Box:
        """
        The window in the middle of the picture.

        Returns
        -------
        Box
            In file pixels.
        """
        return self._window(
            (self.picture.width - self._width) // 2,
            (self.picture.height - self._height) // 2,
        )

    def slices(self, box: Box) -> tuple[slice, slice]:
        """
        Where a window lies on the overview.

        Parameters
        ----------
        box : Box
            From one of the other methods.

        Returns
        -------
        tuple of slice
            Rows and columns, at least one of each.
        """
        top = int((box.top - self.picture.top) * self._down + 0.5)
        left = int((box.left - self.picture.left) * self._across + 0.5)
        return (
            slice(top, top + self._cell_height),
            slice(left, left + self._cell_width),
        )

    def _sums(self, values: NDArray[np.floating[Any]]) -> NDArray[np.float64]:
        """Sum over the window at each of its places on the overview."""
        rows, columns = values.shape
        table = np.zeros((rows + 1, columns + 1))
        np.cumsum(values, axis=0, dtype=np.float64, out=table[1:, 1:])
        np.cumsum(table[1:, 1:], axis=1, out=table[1:, 1:])
        high, wide = self._cell_height, self._cell_width
        sums = table[high:, wide:] - table[:-high, wide:] - table[high:, :-wide]
        sums += table[:-high, :-wide]
        # What rounding leaves of nothing is nothing.
        sums[sums <= 1e-12 * max(float(table[-1, -1]), 1.0)] = 0.0
        return sums

    def _peaks(self, sums: NDArray[np.float64], most: int) -> list[tuple[Box, float]]:
        """The best free places and their sums; `sums` is used up."""
        for box in self.taken:
            self._close(sums, box)
        found: list[tuple[Box, float]] = []
        while len(found) < most:
            row, column = divmod(int(sums.argmax()), sums.shape[1])
            held = float(sums[row, column])
            if not held > 0:
                break
            found.append((self._box(row, column), held))
            self._close(sums, found[-1][0])
            sums[row, column] = 0.0
        return found

    def _close(self, sums: NDArray[np.float64], box: Box) -> None:
        """Rule out places that share too much with a window."""
        rows, columns = (np.arange(count, dtype=np.float64) for count in sums.shape)
        wide = _shared(
            columns / self._across, box.left - self.picture.left, self._width
        )
        high = _shared(rows / self._down, box.top - self.picture.top, self._height)
        sums[np.outer(high, wide) > MOST_SHARED] = 0.0

    def _box(self, row: int, column: int) -> Box:
        left = min(round(column / self._across), self.picture.width - self._width)
        top = min(round(row / self._down), self.picture.height - self._height)
        return self._window(left, top)

    def _window(self, left: int, top: int) -> Box:
        """The window at a place counted from the picture's corner."""
        box = Box(left, top, self._width, self._height)
        return box.moved(self.picture.left, self.picture.top)


def _whole(length: float, most: int) -> int:
    """Whole overview pixels of a window, at least one."""
    return min(max(round(length), 1), most)


def _shared(
    starts: NDArray[np.float64], other: int, length: int
) -> NDArray[np.float64]:
    """Share of a stretch that lies in another of the same length."""
    return np.asarray(np.maximum(1 - np.abs(starts - other) / length, 0.0))
