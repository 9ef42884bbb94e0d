"""Codes of 16 bits to 8, up or down by what is left over and a drawn number."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.loops.machine_code import loop

if TYPE_CHECKING:
    from numpy.typing import NDArray

F = np.float32


@loop("uint16[:] float32[:] uint8[:]")
def round_by(
    values: NDArray[np.uint16], noise: NDArray[np.float32], out: NDArray[np.uint8]
) -> None:
    """
    Round by a threshold for each number.

    Parameters
    ----------
    values : ndarray of uint16, shape (numbers,)
    noise : ndarray of float32, shape (numbers,)
        0 to 1, 1 left out.
    out : ndarray of uint8, shape (numbers,)
        A 257th, rounded up where the noise is below what the division leaves.
    """
    for i in range(values.size):
        value = np.int32(values[i])
        whole = value // np.int32(257)
        rest = F(value - whole * np.int32(257)) * F(1 / 257)
        up = np.int32(1) if noise[i] < rest else np.int32(0)
        out[i] = np.uint8(whole + up)
