"""How does a picture get its pixels for the print, in linear light?"""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from printplan.colour.linear_light import encoded_image, linear_planes
from printplan.loops import resampling as loops
from printplan.loops.memory import empty
from printplan.loops.threads import in_parts
from printplan.spec import NamedSpace
from printplan.validation import require

if TYPE_CHECKING:
    from numpy.typing import NDArray


def resample(
    image: NDArray[Any],
    width_px: int,
    height_px: int,
    *,
    space: NamedSpace | str = NamedSpace.SRGB,
) -> NDArray[Any]:
    """
    Give a picture another number of pixels, in linear light.

    Parameters
    ----------
    image : ndarray, shape (rows, columns) or (rows, columns, 3)
        uint8, uint16, or float from 0 to 1. Not changed.
    width_px, height_px : int
        Of the result, 1 to 100,000.
    space : NamedSpace or str, optional
        That the picture's numbers are of.

    Returns
    -------
    ndarray, shape (height_px, width_px) or (height_px, width_px, 3)
        Of the image's number type.

    Raises
    ------
    SpecError
        If it is no such array, a size is outside its range, or there is no such space.

    Notes
    -----
    By Lanczos' kernel of three lobes (C. E. Duchon 1979, J. Appl. Meteorol. 18(8),
    1016-1022). Light adds up, codes do not: a pattern of black and white lines too fine
    for the result becomes the grey that reflects half the light.

    Examples
    --------
    >>> lines = np.tile(np.array([[0, 255]], np.uint8), (64, 32))
    >>> int(resample(lines, 8, 8)[4, 4])  # not 128: half the light, by the sRGB curve
    188
    """
    for what, length in (("Width", width_px), ("Height", height_px)):
        require(what, length, 1, 100_000, "px")
    light, _ = linear_planes(image, space)
    rows, columns = light.shape[1:]
    box = (0.0, 0.0, float(columns), float(rows))
    size = (int(width_px), int(height_px))
    done = np.stack([resample_plane(plane, box, size) for plane in light])
    return encoded_image(done, image, space)


def resample_plane(
    plane: NDArray[np.float32],
    box: tuple[float, float, float, float],
    size_px: tuple[int, int],
) -> NDArray[np.float32]:
    """
    Resample part of a plane by Lanczos' kernel of three lobes.

    Parameters
    ----------
    plane : ndarray of float32, shape (rows, columns)
        Linear light, C-contiguous.
    box : tuple of float
        Left, top, right, bottom in the plane's own pixels.
    size_px : tuple of int
        Width and height of the result.

    Returns
    -------
    ndarray of float32, shape (height, width)
        May overshoot the range of the plane a little.

    Notes
    -----
    Each pixel's weights follow from its place alone, in double precision; products are
    summed in single precision, down the columns first.
    """
    left, top, right, bottom = box
    width, height = size_px
    rows = taps(top, (bottom - top) / height, range(height), plane.shape[0])
    columns = taps(left, (right - left) / width, range(width), plane.shape[1])
    out = np.empty((height, width), np.float32)

    def part(first: int, stop: int) -> None:
        resample_part(plane, rows.some(first, stop), columns, out[first:stop])

    in_parts(part, height, unit=width)
    return out


class Taps(NamedTuple):
    """
    Source pixels that print pixels are sums of, along one axis.

    Attributes
    ----------
    first : ndarray of int64, shape (pixels,)
        First source pixel of each.
    weights : ndarray of float32, shape (pixels, taps)
        Of that one and those behind it; they sum to 1.
    """

    first: NDArray[np.int64]
    weights: NDArray[np.float32]

    @property
    def start(self) -> int:
        """The first source pixel that any of them needs."""
        return int(self.first[0])

    @property
    def stop(self) -> int:
        """The first behind them that none does."""
        return int(self.first[-1]) + len(self.weights[0])

    def some(self, first: int, stop: int) -> Taps:
        """Those of some print pixels."""
        return Taps(self.first[first:stop], self.weights[first:stop])

    def from_start(self) -> Taps:
        """The same for a source that begins where they start."""
        return Taps(self.first - self.first[0], self.weights)


_LOBES = 3
_NOTHING = 1e-9


def taps(start: float, step: float, places: range, length: int) -> Taps:
    """
    Weights of Lanczos' kernel of three lobes.

    Parameters
    ----------
    start : float
        Where pixel 0 begins in the source.
    step : float
        Source pixels per pixel. The kernel is as wide as the coarser of both grids.
    places : range
        Pixels, one after the other.
    length : int
        Of the source; beyond its ends nothing is counted.

    Notes
    -----
    ``sinc(x) · sinc(x / 3)`` for |x| below 3 (C. E. Duchon 1979, J. Appl. Meteorol.
    18(8), 1016-1022), normalised to a sum of 1. A pixel's weights depend on its own
    place and on nothing else.
    """
    wide = max(step, 1.0)
    count = min(ceil(2 * _LOBES * wide), length)
    centre = start + (np.arange(places.start, places.stop) + 0.5) * step
    first = np.floor(centre - _LOBES * wide + 0.5).astype(np.int64)
    first = np.clip(first, 0, length - count)
    x = (first[:, np.newaxis] + np.arange(count) + 0.5 - centre[:, np.newaxis]) / wide
    weights = np.where(np.abs(x) < _LOBES, np.sinc(x) * np.sinc(x / _LOBES), 0.0)
    # The kernel's zeros come out as rounding errors.
    weights[np.abs(weights) < _NOTHING] = 0.0
    weights /= weights.sum(axis=1, keepdims=True)
    return Taps(first, weights.astype(np.float32))


def resample_part(
    plane: NDArray[np.float32],
    rows: Taps,
    columns: Taps,
    out: NDArray[np.float32] | None = None,
) -> NDArray[np.float32]:
    """
    Resample a plane to the pixels of two sets of taps.

    Parameters
    ----------
    plane : ndarray of float32, shape (source rows, source columns)
    rows, columns : Taps
        Counted in the plane's own pixels.
    out : ndarray of float32, shape (pixels of rows, pixels of columns), optional
        Takes the result; C-contiguous.

    Returns
    -------
    ndarray of float32, shape (pixels of rows, pixels of columns)
    """
    height, width = len(rows.first), len(columns.first)
    source = np.ascontiguousarray(plane)
    if out is None:
        out = empty((height, width))
    loops.resampled(
        source,
        rows.first,
        rows.weights,
        columns.first,
        columns.weights,
        np.empty((loops.LANES, source.shape[1]), np.float32),
        np.empty(source.shape[1] * loops.LANES, np.float32),
        np.empty(width * loops.LANES, np.float32),
        out,
    )
    return out


def main_lobe(
    start: float, step: float, places: range, length: int
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First and last source pixel inside the kernel's main lobe, for print pixels."""
    middle = start + (np.arange(places.start, places.stop) + 0.5) * step - 0.5
    half = max(step, 1.0)
    first = np.floor(middle - half).astype(np.intp) + 1
    last = np.ceil(middle + half).astype(np.intp) - 1
    return np.clip(first, 0, length - 1), np.clip(last, 0, length - 1)


def range_near(
    plane: NDArray[np.float32],
    rows: tuple[NDArray[np.intp], NDArray[np.intp]],
    columns: tuple[NDArray[np.intp], NDArray[np.intp]],
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """
    Least and greatest of the rectangle of pixels near each place.

    Parameters
    ----------
    plane : ndarray of float32, shape (source rows, source columns)
    rows, columns : tuple of ndarray of int
        First and last source pixel of each place along that axis.

    Returns
    -------
    tuple of ndarray of float32, shape (rows, columns)
    """
    source = np.ascontiguousarray(plane)
    room = np.empty(source.shape[1], np.float32)
    top, bottom = (it.astype(np.int64) for it in rows)
    left, right = (it.astype(np.int64) for it in columns)

    def farthest(sign: float) -> NDArray[np.float32]:
        out = np.empty((len(top), len(left)), np.float32)
        loops.farthest_near(source, top, bottom, left, right, sign, room, out)
        return out

    return farthest(-1.0), farthest(1.0)
