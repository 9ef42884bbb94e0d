"""Where on a scanned sheet are the slanted squares?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import scipy

from printplan.errors import SpecError
from printplan.sharpening.gaussian import slopes
from printplan.sharpening.square_fit import (
    CLEAR_PX,
    LEAST_SIDE_PX,
    FoundSquare,
    Slopes,
    fit_square,
)
from printplan.validation import require_plane

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
        If a number is outside its range.

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
    down, right = slopes(small, _SMOOTHING_PX)
    steep = Slopes(small, right, down, np.hypot(right, down))
    floor = _NOISE_SIGMAS * float(np.quantile(steep.steepness, 0.2)) / _RAYLEIGH_FIFTH
    found: list[FoundSquare] = []
    for least in sorted({max(least, floor) for least in _SLOPES}, reverse=True):
        for outline in _outlines(steep.steepness > least):
            if any(_draws(outline, square) for square in [*known, *found]):
                continue
            square = fit_square(steep, outline.rows, outline.columns)
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
    return replace(
        square,
        x_px=(square.x_px + 0.5) * factor - 0.5,
        y_px=(square.y_px + 0.5) * factor - 0.5,
        side_px=square.side_px * factor,
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
    labels, _ = scipy.ndimage.label(steep, structure=np.ones((3, 3)))
    outlines = []
    for number, box in enumerate(scipy.ndimage.find_objects(labels), start=1):
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


DRAWN_TILT_DEG = 5.0
"""Tilt at which the squares are drawn on their sheet, as ISO 12233:2023 turns them."""

# A region stays clear of the corners, and of tone that is no longer even.
_ALONG_SHARE = 0.6
_AGREEING_DEG = 1.0
_AGREEING_SIDE_SHARE = 0.1
_ROW_SHARE = 0.5


class Side(StrEnum):
    """Edge of a square, as the picture is looked at."""

    TOP = "top"
    LEFT = "left"
    RIGHT = "right"
    BOTTOM = "bottom"


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedSquares:
    """
    What is known of the sheet before it is scanned.

    Attributes
    ----------
    count : int
        Squares on the sheet.
    tilt_deg : float
        How far they are turned on it, to either side; above 0.
    """

    count: int
    tilt_deg: float = DRAWN_TILT_DEG

    def __post_init__(self) -> None:
        if self.count < 1 or not 0 < self.tilt_deg < 45:
            raise SpecError(
                f"{self.count} squares are expected, turned by {self.tilt_deg:g}°.",
                remedy="Expect one square or more, turned by more than 0 and less "
                f"than 45°; {DRAWN_TILT_DEG:g}° is usual.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeRegion:
    """
    Box of a picture with one slanted edge in its middle.

    Attributes
    ----------
    square : int
        Number of the square in reading order, from 0.
    side : Side
        Which of its edges. Left and right ones run nearly upright.
    left, top, width, height : int
        The box in whole pixels, right and bottom excluded.
    tilt_deg : float
        Of the edge against the pixels, clockwise positive.
    dark, light : float
        Tones beside the edge, in the picture's unit.
    """

    square: int
    side: Side
    left: int
    top: int
    width: int
    height: int
    tilt_deg: float
    dark: float
    light: float


def find_edges(
    picture: NDArray[np.floating], *, expected: ExpectedSquares | None = None
) -> list[EdgeRegion]:
    """
    Find the edges of all slanted squares in a scan.

    Parameters
    ----------
    picture : ndarray of float, shape (rows, columns)
        Grey, 0 to 1, best as the scanner encodes it: in linear light dark squares
        would hardly show.
    expected : ExpectedSquares, optional
        How many there must be, and how they are turned.

    Returns
    -------
    list of EdgeRegion
        Squares in reading order; of each the top, left, right and bottom edge.

    Raises
    ------
    SpecError
        If no square is found, or another number than expected.

    Notes
    -----
    A target is a square of one tone on even ground of another, lighter or darker,
    turned by some 15° at most. Text, pictures and rulers are no such thing. A square
    that stands straight on its sheet is left out when the sheet holds more squares
    that are turned: all must agree on how the sheet lies.
    """
    picture = _checked(picture)
    tilt_deg = expected.tilt_deg if expected else DRAWN_TILT_DEG
    squares = search_squares(picture)
    if not squares:
        raise SpecError(
            f"No slanted square was found in {picture.shape[1]} × "
            f"{picture.shape[0]} px.",
            remedy="Scan the whole trial sheet as greys or colour at 600 ppi or more, "
            "upright to within 4°, and give values from 0 to 1.",
        )
    squares, sheet_deg = _on_one_sheet(squares, tilt_deg)
    if expected:
        squares = _as_many(squares, expected.count)
    return [
        region
        for number, square in enumerate(_in_reading_order(squares, sheet_deg))
        for region in _regions(number, square, picture.shape)
    ]


def cut_edge(picture: NDArray[np.floating], region: EdgeRegion) -> NDArray[np.floating]:
    """
    The part of a picture that a region covers.

    Parameters
    ----------
    picture : ndarray of float, shape (rows, columns)
        Of the size that was searched; decoded to linear reflectance for measuring.

    Returns
    -------
    ndarray of float, shape (region.height, region.width)
        A view.

    Raises
    ------
    SpecError
        If the region does not lie in the picture.
    """
    rows, columns = picture.shape
    right, bottom = region.left + region.width, region.top + region.height
    if not (0 <= region.left < right <= columns and 0 <= region.top < bottom <= rows):
        raise SpecError(
            f"The region ends at column {right} and row {bottom}; the picture has "
            f"{columns} × {rows} px.",
            remedy="Cut it from the picture that was searched, at the same size.",
        )
    return picture[region.top : bottom, region.left : right]


def _checked(picture: NDArray[np.floating]) -> NDArray[np.floating]:
    is_grey = picture.ndim == 2 and picture.size > 0
    if not is_grey or not np.issubdtype(picture.dtype, np.floating):
        raise SpecError(
            f"The picture has the shape {picture.shape} and the type {picture.dtype}.",
            remedy="Give one grey channel, rows by columns, as floating point.",
        )
    low, high = float(picture.min()), float(picture.max())
    if not (low >= -0.5 and high <= 1.5):
        raise SpecError(
            f"The picture holds values from {low:g} to {high:g}.",
            remedy="Divide its codes by the largest, so that they go from 0 to 1.",
        )
    return picture


def _on_one_sheet(
    squares: list[FoundSquare], tilt_deg: float
) -> tuple[list[FoundSquare], float]:
    """Squares that agree on how their sheet lies, and how it does, in degrees."""
    turns = np.array(
        [square.tilt_deg - np.copysign(tilt_deg, square.tilt_deg) for square in squares]
    )
    agreeing = np.abs(turns[:, None] - turns) <= _AGREEING_DEG
    kept = agreeing[int(np.argmax(agreeing.sum(axis=1)))]
    chosen = [square for square, keep in zip(squares, kept, strict=True) if keep]
    return chosen, float(np.median(turns[kept]))


def _as_many(squares: list[FoundSquare], count: int) -> list[FoundSquare]:
    """The number expected; where there are more, those of the usual size."""
    if len(squares) > count:
        usual = float(np.median([square.side_px for square in squares]))
        squares = [
            square
            for square in squares
            if abs(square.side_px - usual) <= _AGREEING_SIDE_SHARE * usual
        ]
    if len(squares) != count:
        raise SpecError(
            f"{len(squares)} slanted squares were found; the sheet has {count}.",
            remedy="Scan that whole sheet and nothing beside it, upright to within 4° "
            "and free of dust, at 600 ppi or more.",
        )
    return squares


def _in_reading_order(
    squares: list[FoundSquare], sheet_deg: float
) -> list[FoundSquare]:
    """Row by row, rows as they run on the sheet."""
    turn = np.radians(sheet_deg)

    def down(square: FoundSquare) -> float:
        return float(square.y_px * np.cos(turn) - square.x_px * np.sin(turn))

    falling = sorted(squares, key=down)
    rows = [[falling[0]]]
    for above, below in pairwise(falling):
        if down(below) - down(above) > _ROW_SHARE * below.side_px:
            rows.append([])
        rows[-1].append(below)
    # Within a row, a sheet a few degrees askew cannot change the order.
    return [square for row in rows for square in sorted(row, key=lambda it: it.x_px)]


def _regions(
    number: int, square: FoundSquare, shape: tuple[int, ...]
) -> list[EdgeRegion]:
    """Boxes round the four edges, cut to the picture."""
    rows, columns = shape
    turn = np.radians(square.tilt_deg)
    outward = {
        Side.TOP: (np.sin(turn), -np.cos(turn)),
        Side.LEFT: (-np.cos(turn), -np.sin(turn)),
        Side.RIGHT: (np.cos(turn), np.sin(turn)),
        Side.BOTTOM: (-np.sin(turn), np.cos(turn)),
    }
    along_px = _ALONG_SHARE * square.side_px / 2
    dark, light = sorted((square.inside, square.outside))
    regions = []
    for side, (right, down) in outward.items():
        x = square.x_px + right * square.side_px / 2
        y = square.y_px + down * square.side_px / 2
        upright = side in {Side.LEFT, Side.RIGHT}
        half_width, half_height = (
            (square.even_px, along_px) if upright else (along_px, square.even_px)
        )
        left, top = max(round(x - half_width), 0), max(round(y - half_height), 0)
        regions.append(
            EdgeRegion(
                square=number,
                side=side,
                left=left,
                top=top,
                width=min(round(x + half_width) + 1, columns) - left,
                height=min(round(y + half_height) + 1, rows) - top,
                tilt_deg=square.tilt_deg,
                dark=dark,
                light=light,
            )
        )
    return regions
