"""What does a plane look like through a Gaussian, and how steep is it there?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np

from printplan.loops.filtering import filtered
from printplan.loops.memory import empty
from printplan.loops.threads import in_parts

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Picture = NDArray[np.float32]

_SIGMAS = 4.0
"""The kernel's reach: beyond lies less than a ten thousandth of it."""


def smoothed(plane: Picture, sigma_px: float) -> Picture:
    """
    A plane through a Gaussian, which mirrors it beyond its edges.

    Parameters
    ----------
    plane : ndarray of float32, shape (rows, columns)

    Returns
    -------
    ndarray of float32, shape (rows, columns)
    """
    weights = _weights(sigma_px)
    return _along(_along(plane, weights, 1, axis=0), weights, 1, axis=1)


def slopes(plane: Picture, sigma_px: float) -> tuple[Picture, Picture]:
    """
    How much a plane rises from pixel to pixel, through a Gaussian.

    Parameters
    ----------
    plane : ndarray of float32, shape (rows, columns)

    Returns
    -------
    tuple of ndarray of float32, shape (rows, columns)
        Downwards and to the right.
    """
    weights = _weights(sigma_px)
    # Its derivative; before the middle a rise has come from less.
    rising = weights * (-np.arange(weights.size) / sigma_px**2)
    down = _along(_along(plane, rising, -1, axis=0), weights, 1, axis=1)
    return down, _along(_along(plane, weights, 1, axis=0), rising, -1, axis=1)


def blurred_by(plane: Picture, kernel: Floats) -> Picture:
    """
    A plane through a kernel both ways; its edges go on beyond.

    Parameters
    ----------
    plane : ndarray of float32, shape (rows, columns)
    kernel : ndarray of float64, shape (2 · reach + 1,)
        Symmetric.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
    """
    weights = np.ascontiguousarray(kernel[kernel.size // 2 :: -1])
    across = _along(plane, weights, 1, axis=1, beyond="edge")
    return _along(across, weights, 1, axis=0, beyond="edge")


def _weights(sigma_px: float) -> Floats:
    """Of the middle and of one side, the nearest first."""
    places = np.arange(int(_SIGMAS * sigma_px + 0.5) + 1)
    weights = np.exp(-0.5 * (places / sigma_px) ** 2)
    return np.asarray(weights / (weights[0] + 2 * weights[1:].sum()))


def _along(
    plane: Picture,
    weights: Floats,
    sign: Literal[1, -1],
    *,
    axis: Literal[0, 1],
    beyond: Literal["symmetric", "edge"] = "symmetric",
) -> Picture:
    """Through a kernel along columns (0) or rows (1)."""
    around = [(0, 0), (0, 0)]
    around[axis] = (weights.size - 1, weights.size - 1)
    padded = np.ascontiguousarray(np.pad(plane, around, beyond))
    rows, columns = plane.shape
    into: Picture = empty((rows, columns))

    def part(first: int, stop: int) -> None:
        room = np.empty(columns)
        filtered(padded, weights, sign, 1 - axis, first, stop, room, into)

    in_parts(part, rows, unit=columns)
    return into
