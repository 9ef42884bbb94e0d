"""Where in a picture are outlines that could be squares?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import ndimage

from printplan.sharpness.ranges import require_plane
from printplan.sharpness.square_fit import (
    CLEAR_PX,
    LEAST_SIDE_PX,
    FoundSquare,
    Slopes,
    fit_square,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

_SEARCHED_PX = 2000
"""Longest side of the reduced picture that is searched: there a square of 8 mm on an
A4 sheet has 54 px."""

# Reduced once more, noise and blur shrink against the squares that are large enough.
_FURTHER = (1, 2, 4)
_SMOOTHING_PX = 1.2
# Slopes that make an outline, from steep to shallow: a strong edge is cut free of faint
# neighbours, and a faint one is still found. Smoothed, a step rises by 0.28 of its
# height per pixel. All chosen by trial on drawn sheets.
_SLOPES = (0.08, 0.04, 0.02, 0.01, 0.005)
_NOISE_SIGMAS = 5.0
# Rayleigh's law: a fifth of pure noise's slopes are below 0.668 standard deviations.
_RAYLEIGH_FIFTH = 0.668


def search_squares(picture: NDArray[np.floating]) -> list[FoundSquare]:
    """
    Find all turned squares of one tone on even ground.

    Parameters
    ----------
    picture : ndarray of float, shape (rows, columns)
        Grey, 0 to 1.

    Returns
    -------
    list of FoundSquare
        In no order.

    Raises
    ------
    SpecError
        If a number cannot be meant.

    Notes
    -----
    Pixels on steep slopes are joined to outlines. An outline's pixels are sorted by
    the direction in which the slope rises (right, left, down, up), a line is laid
    through each sort, and four lines that enclose a square with an even inside and an
    even surrounding are kept.
    """
    require_plane("The picture", picture)
    factor = max(-(-max(picture.shape) // _SEARCHED_PX), 1)
    small = _reduced(picture, factor)
    found: list[FoundSquare] = []
    for further in _FURTHER:
        if min(small.shape) < further * LEAST_SIDE_PX:
            break
        scale = factor * further
        known = [_scaled(square, 1 / scale) for square in found]
        new = _search(_reduced(small, further), known)
        found += [_scaled(square, scale) for square in new]
    return found


def _search(small: NDArray[np.float32], known: list[FoundSquare]) -> list[FoundSquare]:
    """Squares not known yet whose outlines are joined at one slope or another."""
    right = ndimage.gaussian_filter(small, _SMOOTHING_PX, order=(0, 1))
    down = ndimage.gaussian_filter(small, _SMOOTHING_PX, order=(1, 0))
    slopes = Slopes(small, right, down, np.hypot(right, down))
    floor = _NOISE_SIGMAS * float(np.quantile(slopes.steepness, 0.2)) / _RAYLEIGH_FIFTH
    found: list[FoundSquare] = []
    for least in sorted({max(least, floor) for least in _SLOPES}, reverse=True):
        for outline in _outlines(slopes.steepness > least):
            if any(_draws(outline, square) for square in [*known, *found]):
                continue
            square = fit_square(slopes, outline.rows, outline.columns)
            if square:
                found.append(square)
    return found


def _reduced(picture: NDArray[np.floating], factor: int) -> NDArray[np.float32]:
    """Means of square blocks; what is left over at the right and below is dropped."""
    rows, columns = (length // factor for length in picture.shape)
    blocks = picture[: rows * factor, : columns * factor]
    means = blocks.reshape(rows, factor, columns, factor).mean(axis=(1, 3))
    return np.asarray(means, np.float32)


def _scaled(square: FoundSquare, factor: float) -> FoundSquare:
    """The square in a picture so many times as large."""
    return FoundSquare(
        x_px=(square.x_px + 0.5) * factor - 0.5,
        y_px=(square.y_px + 0.5) * factor - 0.5,
        side_px=square.side_px * factor,
        tilt_deg=square.tilt_deg,
        inside=square.inside,
        outside=square.outside,
        even_px=square.even_px * factor,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Outline:
    """Joined pixels by row and column, and the middle and length of their box."""

    rows: NDArray[np.intp]
    columns: NDArray[np.intp]
    x_px: float
    y_px: float
    box_px: float


def _outlines(steep: NDArray[np.bool_]) -> list[_Outline]:
    """Joined pixels whose box is large and square enough."""
    labels, _ = ndimage.label(steep, structure=np.ones((3, 3)))
    outlines = []
    for number, box in enumerate(ndimage.find_objects(labels), start=1):
        down, across = box
        height, width = down.stop - down.start, across.stop - across.start
        if min(height, width) < LEAST_SIDE_PX or not 0.8 < height / width < 1.25:
            continue
        rows, columns = np.nonzero(labels[box] == number)
        outlines.append(
            _Outline(
                rows=rows + down.start,
                columns=columns + across.start,
                x_px=(across.start + across.stop - 1) / 2,
                y_px=(down.start + down.stop - 1) / 2,
                box_px=(height + width) / 2,
            )
        )
    return outlines


def _draws(outline: _Outline, square: FoundSquare) -> bool:
    """Whether an outline is that of a square found before."""
    turn = abs(np.radians(square.tilt_deg))
    box_px = square.side_px * (np.cos(turn) + np.sin(turn)) + 2 * CLEAR_PX
    apart = np.hypot(outline.x_px - square.x_px, outline.y_px - square.y_px)
    return bool(apart + abs(outline.box_px - box_px) < 0.25 * outline.box_px)
