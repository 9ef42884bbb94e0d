"""Where do the nodes of a profile's tables lie, and how are device values kept?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Codes = NDArray[np.uint16]

FULL = 65535

TO_LAB_POINTS = 17
TO_DEVICE_POINTS = 33

FULL_REACH_DE = 32.0
"""Colour difference at full scale of the table that tells what is in reach."""

_IN_REACH_DE = 2.0
_DENSE_AB = 92.0
_DENSE_STEPS = 14  # Of 16 on each side of a* = b* = 0.

# Device values run over; output curves cut them off, below entry 386 and above entry
# 3468. Each step is 17 codes of 65535.
_OUTPUT_STEPS, _OUTPUT_ZERO, _OUTPUT_SPAN = 3855, 386, 3082
_WHITE_MARGIN = 0.002


def lightness_nodes(black_l: float) -> Floats:
    """
    Levels of L* from 0 to 100.

    Parameters
    ----------
    black_l : float
        It gets a node of its own, and few lie below it.

    Returns
    -------
    ndarray of float64, shape (TO_DEVICE_POINTS,)
    """
    last = TO_DEVICE_POINTS - 1
    below = int(np.ceil(black_l / 8))
    return np.concatenate(
        [
            np.linspace(0.0, black_l, below + 1)[:-1],
            np.linspace(black_l, 100.0, last + 1 - below),
        ]
    )


def opponent_nodes(furthest: float) -> Floats:
    """
    Levels of an axis through neutral, such as a* or b*; few where no paper reaches.

    Parameters
    ----------
    furthest : float
        Either end.

    Returns
    -------
    ndarray of float64, shape (TO_DEVICE_POINTS,)
    """
    half = TO_DEVICE_POINTS // 2
    side = np.append(
        np.linspace(0.0, _DENSE_AB, _DENSE_STEPS + 1),
        np.linspace(_DENSE_AB, furthest, half - _DENSE_STEPS + 1)[1:],
    )
    return np.concatenate([-side[:0:-1], side])


def device_grid(device: Floats) -> Codes:
    """
    Device values that run over 0 and 1, as a grid of codes for `cut_curve`.

    Parameters
    ----------
    device : ndarray of float64, shape (colours, 3)

    Returns
    -------
    ndarray of uint16, shape (points, points, points, 3)
    """
    grid = device.reshape(*(TO_DEVICE_POINTS,) * 3, 3).copy()
    middle = TO_DEVICE_POINTS // 2
    # No node is exactly a* = b* = 0 in 16 bits, so white is held by a margin.
    grid[-1, middle, middle] = 1 + _WHITE_MARGIN
    entries = (_OUTPUT_ZERO + _OUTPUT_SPAN * grid) / _OUTPUT_STEPS
    return np.round(entries * FULL).astype(np.uint16)


def cut_curve() -> Floats:
    """
    Device values, 0 to 1, at equal steps of the codes of `device_grid`.

    Returns
    -------
    ndarray of float64, shape (entries,)
    """
    steps = np.arange(_OUTPUT_STEPS + 1) - _OUTPUT_ZERO
    return np.clip(steps / _OUTPUT_SPAN, 0.0, 1.0)


def reach_cut() -> Codes:
    """
    Curve that makes what is in reach 0 and keeps the distance of the rest.

    Returns
    -------
    ndarray of uint16, shape (entries,)
    """
    steps = np.linspace(0.0, FULL_REACH_DE, 257)
    out = np.round(steps / FULL_REACH_DE * FULL)
    return np.where(steps > _IN_REACH_DE, out, 0).astype(np.uint16)
