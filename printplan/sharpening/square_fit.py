"""Is an outline that of a turned square of one tone on even ground?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import scipy

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


LEAST_SIDE_PX = 24.0
"""Least side of a square that differs enough from other outlines."""

CLEAR_PX = 3.5
"""Distance from an edge at which the smoothed step is over."""

# Chosen by trial on drawn sheets, as are the numbers above: how unlike the sides, their
# tilts and their tones may be, and how far a side may wander.
_CLEAR_SHARE = 0.06
_LEAST_STEP = 0.03
_UNLIKE_SIDES = 0.06
_UNLIKE_TILTS_DEG = 1.5
_LARGEST_TILT_DEG = 16.0
_LARGEST_SCATTER_PX = 0.7
_EVEN_SHARE = 0.1
_SPOTTED_SHARE = 0.15
_SPOTTED_PLACES = 0.05


class Slopes(NamedTuple):
    """
    A picture and how steeply it rises at each pixel, smoothed.

    Attributes
    ----------
    picture : ndarray of float32, shape (rows, columns)
    right, down : ndarray of float32, shape (rows, columns)
        Rise per pixel to the right and downwards.
    steepness : ndarray of float32, shape (rows, columns)
        Rise in the steepest direction.
    """

    picture: NDArray[np.float32]
    right: NDArray[np.float32]
    down: NDArray[np.float32]
    steepness: NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundSquare:
    """
    A square in a picture.

    Attributes
    ----------
    x_px, y_px : float
        Its middle; whole numbers are the centres of pixels.
    tilt_deg : float
        Turn against the pixels, clockwise positive.
    inside, outside : float
        Tones beside its edges.
    even_px : float
        How far from every edge, both ways, the tone stays even.
    """

    x_px: float
    y_px: float
    side_px: float
    tilt_deg: float
    inside: float
    outside: float
    even_px: float


@dataclass(frozen=True, slots=True)
class _Line:
    """Across = at + lean · along: a line that runs nearly along one axis."""

    at: float
    lean: float


def fit_square(
    slopes: Slopes, rows: NDArray[np.intp], columns: NDArray[np.intp]
) -> FoundSquare | None:
    """
    The square that an outline draws.

    Parameters
    ----------
    slopes : Slopes
        Of the whole picture.
    rows, columns : ndarray of intp, shape (pixels,)
        The outline's pixels.

    Returns
    -------
    FoundSquare or None
        None if the outline is of something else, or its tones are not even.
    """
    rise_x, rise_y = slopes.right[rows, columns], slopes.down[rows, columns]
    weight = slopes.steepness[rows, columns]
    x, y = columns.astype(np.float64), rows.astype(np.float64)
    sideways = np.abs(rise_x) > np.abs(rise_y)
    sorts = (
        (sideways & (rise_x < 0), y, x),
        (sideways & (rise_x > 0), y, x),
        (~sideways & (rise_y < 0), x, y),
        (~sideways & (rise_y > 0), x, y),
    )
    lines = []
    for own, along, across in sorts:
        line = _line(along[own], across[own], weight[own])
        if line is None:
            return None
        lines.append(line)
    left, right, top, bottom = lines
    # On a dark square the slope falls at the left; on a light one it rises there.
    darker_inside = left.at + left.lean * y.mean() < right.at + right.lean * y.mean()
    if not darker_inside:
        left, right, top, bottom = right, left, bottom, top
    shape = _enclosed(left, right, top, bottom)
    return _toned(slopes.picture, shape) if shape else None


def _line(along: Floats, across: Floats, weight: NDArray[np.float32]) -> _Line | None:
    """Weighted line through pixels but those that lie off; None if they scatter."""
    if along.size < LEAST_SIDE_PX / 2:
        return None
    kept = np.ones(along.size, np.bool_)
    at = lean = 0.0
    for _ in range(4):
        if np.ptp(along[kept]) < LEAST_SIDE_PX / 3:
            return None
        at, lean = _least_squares(along[kept], across[kept], weight[kept])
        off = np.abs(across - at - lean * along)
        kept = off <= max(3 * float(np.median(off)), 1.0)
    # Means across the ridge, not its pixels, tell how straight the line is.
    number = along[kept].astype(np.intp)
    total = np.bincount(number, weight[kept])
    filled = total > 0
    middle = np.bincount(number, (weight * (across - at - lean * along))[kept])[filled]
    scatter = float(np.sqrt(np.mean((middle / total[filled]) ** 2)))
    if scatter > _LARGEST_SCATTER_PX:
        return None
    return _Line(at, lean)


def _least_squares(
    along: Floats, across: Floats, weight: NDArray[np.float32]
) -> tuple[float, float]:
    """Straight line by the weighted normal equations: its height at 0, and its lean."""
    middle, height = np.average([along, across], axis=1, weights=weight)
    away = along - middle
    lean = np.sum(weight * away * (across - height)) / np.sum(weight * away**2)
    return float(height - lean * middle), float(lean)


def _enclosed(
    left: _Line, right: _Line, top: _Line, bottom: _Line
) -> tuple[float, float, float, float] | None:
    """Middle, side and tilt of the square between four lines, if it is one."""
    corners = np.array(
        [_crossing(side, level) for level in (top, bottom) for side in (left, right)]
    )
    # Left top, right top, left bottom, right bottom, as complex numbers.
    lt, rt, lb, rb = corners
    sides = np.array([rt - lt, rb - lb, lb - lt, rb - rt])
    lengths = np.abs(sides)
    side = float(lengths.mean())
    # Upright sides are turned back by a quarter: all four then show one tilt.
    tilts = np.degrees(np.angle(sides * np.array([1, 1, -1j, -1j])))
    tilt = float(tilts.mean())
    fits = (
        side >= LEAST_SIDE_PX
        and float(np.ptp(lengths)) <= _UNLIKE_SIDES * side
        and float(np.ptp(tilts)) <= _UNLIKE_TILTS_DEG
        and abs(tilt) <= _LARGEST_TILT_DEG
    )
    middle = complex(corners.mean())
    return (middle.real, middle.imag, side, tilt) if fits else None


def _crossing(upright: _Line, level: _Line) -> complex:
    """Where x = a + b y meets y = c + d x."""
    x = (upright.at + upright.lean * level.at) / (1 - upright.lean * level.lean)
    return complex(x, level.at + level.lean * x)


def _toned(
    small: NDArray[np.float32], shape: tuple[float, float, float, float]
) -> FoundSquare | None:
    """The square with its tones, if it is even inside and around."""
    x, y, side, tilt = shape
    turn = np.radians(tilt)
    along = np.linspace(-0.3, 0.3, 25) * side
    away = np.arange(-0.35 * side, 0.35 * side, 0.5)
    profiles = []
    for quarter in range(4):
        # Outwards of one edge, and along it.
        out = complex(np.cos(turn), np.sin(turn)) * 1j**quarter
        places = (x + 1j * y) + out * (side / 2 + away[:, None] + 1j * along)
        profiles.append(_sampled(small, places))
    levels = np.stack(profiles)
    # Beyond the transition, which in a large square may be wide.
    clear = max(CLEAR_PX, _CLEAR_SHARE * side)
    inner = levels[:, (away < -clear) & (away > -0.3 * side)]
    near = levels[:, (away > clear) & (away < clear + 0.1 * side)]
    inside, outside = float(np.median(inner)), float(np.median(near))
    step = abs(outside - inside)
    if step < _LEAST_STEP or max(_spread(inner), _spread(near)) > _SPOTTED_SHARE * step:
        return None
    within = np.linspace(-0.4, 0.4, 41) * side
    places = (x + 1j * y) + np.exp(1j * turn) * (within[:, None] + 1j * within)
    core = _sampled(small, places)
    if np.mean(np.abs(core - inside) > 2 * _SPOTTED_SHARE * step) > _SPOTTED_PLACES:
        return None
    level = np.where(away < 0, inside, outside)
    off = np.abs(np.median(levels, axis=2) - level).max(axis=0) > _EVEN_SHARE * step
    uneven = np.abs(away[off & (np.abs(away) > clear)])
    even_px = float(uneven.min(initial=0.35 * side)) - 1
    if even_px < clear + 0.04 * side:
        return None
    return FoundSquare(
        x_px=x,
        y_px=y,
        side_px=side,
        tilt_deg=tilt,
        inside=inside,
        outside=outside,
        even_px=even_px,
    )


def _sampled(
    small: NDArray[np.float32], places: NDArray[np.complex128]
) -> NDArray[np.float32]:
    """Tones at places x + i y, between pixels by straight lines."""
    grid = np.stack([places.imag, places.real])
    return np.asarray(
        scipy.ndimage.map_coordinates(small, grid, order=1, mode="nearest")
    )


def _spread(levels: NDArray[np.float32]) -> float:
    """Standard deviation of a band's tones, blind to the odd speck."""
    return 1.4826 * float(np.median(np.abs(levels - np.median(levels))))
