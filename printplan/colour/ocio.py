"""How are curves, matrices and tables handed to OpenColorIO, rows in parallel?"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from enum import Enum
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import PyOpenColorIO as Ocio

from printplan.processor_share import threads_at_most

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray


WORTH_TWO_THREADS = 100_000
"""Pixels from which a second thread saves more than it costs."""

_PARTS = 4
"""More than there are threads: one that shares its core with a browser does fewer."""


@lru_cache(maxsize=1)
def _pool() -> ThreadPoolExecutor:
    """Kept: to start threads at each move of a slider costs more than they save."""
    return ThreadPoolExecutor(2, thread_name_prefix="printplan-part")


def parallel_rows(
    work: Callable[[slice], None],
    rows: int,
    columns: int,
    *,
    worth_two: int = WORTH_TWO_THREADS,
) -> None:
    """
    Do the same to a few parts of a picture, two of them at a time.

    Parameters
    ----------
    work : callable
        Takes a slice of rows; must not call this function itself.
    rows, columns : int
        Of the picture; a small one is done whole, in the caller's own thread, and so
        is any where this process has one thread for its share.
    worth_two : int, optional
        Pixels from which it is not.
    """
    if rows < 2 or rows * columns < worth_two or threads_at_most(2) < 2:
        work(slice(0, rows))
        return
    parts = min(_PARTS, rows)
    ends = (rows * part // parts for part in range(parts + 1))
    list(_pool().map(work, [slice(*pair) for pair in pairwise(ends)]))


class Depth(Enum):
    """Number type of pixels going in or coming out."""

    FLOAT32 = Ocio.BIT_DEPTH_F32
    UINT16 = Ocio.BIT_DEPTH_UINT16
    UINT8 = Ocio.BIT_DEPTH_UINT8


class Reading(Enum):
    """How a table is read between its points."""

    TRILINEAR = Ocio.INTERP_LINEAR
    TETRAHEDRAL = Ocio.INTERP_TETRAHEDRAL


_DEPTH_OF = {
    np.dtype(np.float32): Depth.FLOAT32,
    np.dtype(np.uint16): Depth.UINT16,
    np.dtype(np.uint8): Depth.UINT8,
}


def matrix_step(
    matrix: NDArray[np.float64], offset: NDArray[np.float64] | None = None
) -> Any:
    """
    Matrix, then offset.

    Parameters
    ----------
    matrix : ndarray of float64, shape (3, 3)
    offset : ndarray of float64, shape (3,), optional

    Returns
    -------
    object
        For `processor`.
    """
    square = np.eye(4)
    square[:3, :3] = matrix
    start = [0.0] * 3 if offset is None else offset.tolist()
    return Ocio.MatrixTransform(square.ravel().tolist(), [*start, 0.0])


def curves_step(
    curves: Sequence[NDArray[np.float64]] | NDArray[np.float64],
    *,
    by_half: bool = False,
) -> Any:
    """
    A curve for each channel, read linearly between its entries.

    Parameters
    ----------
    curves : sequence of ndarray of float64, shape (entries,)
        One to three; the last serves channels that have none. Over 0 to 1, outside
        which the ends hold.
    by_half : bool, optional
        Entries are indexed by the 65536 half floats instead, fine near 0.

    Returns
    -------
    object
        For `processor`.
    """
    three = [curves[min(channel, len(curves) - 1)] for channel in range(3)]
    entries = np.stack(three, axis=-1).astype(np.float32)
    step = Ocio.Lut1DTransform(len(entries), by_half)
    step.setInterpolation(Ocio.INTERP_LINEAR)
    step.setData(entries.ravel())
    return step


def grid_step(grid: NDArray[np.float64], reading: Reading) -> Any:
    """
    Table of three channels.

    Parameters
    ----------
    grid : ndarray of float64, shape (points, points, points, outputs)
        The first channel varies slowest; up to three outputs, 0 to 1.

    Returns
    -------
    object
        For `processor`. Missing outputs are 0.
    """
    filled = np.zeros((*grid.shape[:3], 3), np.float32)
    filled[..., : grid.shape[-1]] = grid
    step = Ocio.Lut3DTransform(len(grid))
    step.setInterpolation(reading.value)
    step.setData(filled.ravel())
    return step


def processor(steps: Sequence[Any], depth_in: Depth, depth_out: Depth) -> Any:
    """
    Join steps into something whose ``apply(source, target)`` runs them all.

    Returns
    -------
    object
        Safe to be used by several threads at once.
    """
    group = Ocio.GroupTransform()
    for step in steps:
        group.appendTransform(step)
    # Not optimised: that may merge curves into coarser ones.
    return (
        Ocio.Config.CreateRaw()
        .getProcessor(group)
        .getOptimizedCPUProcessor(
            depth_in.value, depth_out.value, Ocio.OPTIMIZATION_NONE
        )
    )


def packed(pixels: NDArray[Any]) -> Any:
    """
    Describe interleaved pixels.

    Parameters
    ----------
    pixels : ndarray of uint8, uint16 or float32, shape (rows, columns, 3)
        C-contiguous; outlives the description.

    Returns
    -------
    object
        For ``apply``.
    """
    rows, columns, _ = pixels.shape
    step = pixels.itemsize
    return Ocio.PackedImageDesc(
        pixels,
        columns,
        rows,
        Ocio.CHANNEL_ORDERING_RGB,
        _DEPTH_OF[pixels.dtype].value,
        step,
        3 * step,
        3 * step * columns,
    )


def planar(planes: NDArray[np.float32]) -> Any:
    """
    Describe pixels in planes.

    Parameters
    ----------
    planes : ndarray of float32, shape (1 or 3, rows, columns)
        One plane serves as all three; copied if its planes are not C-contiguous.

    Returns
    -------
    object
        For ``apply``.
    """
    whole = [np.ascontiguousarray(plane) for plane in planes]
    three = whole * 3 if len(whole) == 1 else whole
    rows, columns = planes.shape[1:]
    return Ocio.PlanarImageDesc(*three, columns, rows)
