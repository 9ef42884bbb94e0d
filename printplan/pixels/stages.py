"""What is done to pixels between master and file: array functions, nothing else."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.transforms import code_of_light
from printplan.sharpening.lightness import (
    FULL_SCALE,
    light_of_index,
    root_index,
    slabs,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray


def encoding_tables(curves: NDArray[np.float32]) -> NDArray[np.uint16]:
    """
    Tables from the root of linear light to the 16-bit codes of a profile.

    Parameters
    ----------
    curves : ndarray of float32, shape (channels, 65536)
        Linear light of each code, rising.

    Returns
    -------
    ndarray of uint16, shape (channels, 65536)
        Code for linear light ((i + ½) / 65535)², i the index.
    """
    light = light_of_index()
    return np.stack([np.rint(code_of_light(curve, light)) for curve in curves]).astype(
        np.uint16
    )


def encode(
    linear: NDArray[np.float32], tables: NDArray[np.uint16]
) -> NDArray[np.uint16]:
    """
    Device codes of linear light.

    Parameters
    ----------
    linear : ndarray of float32, shape (channels, rows, columns)
        Clipped to 0 to 1.
    tables : ndarray of uint16, shape (channels, 65536)
        From `encoding_tables`.

    Returns
    -------
    ndarray of uint16, shape (rows, columns, channels)
    """
    channels, rows, columns = linear.shape
    out = np.empty((rows, columns, channels), np.uint16)
    for slab in slabs(rows, columns):
        for channel in range(channels):
            light = linear[channel, slab].copy()
            index = np.empty(light.shape, np.uint16)
            root_index(light, index)
            out[slab, :, channel] = np.take(tables[channel], index, mode="clip")
    return out


def paper_white(space: str) -> int:
    """
    Device code that puts no ink on paper.

    Parameters
    ----------
    space : str
        ICC signature of the device space.

    Returns
    -------
    int
        0 for CMYK, which counts ink, else 65535.
    """
    return 0 if space == "CMYK" else FULL_SCALE


DITHER_TILE_PX = 256


def dithered_to_8_bit(
    values: NDArray[np.uint16], left: int, top: int, seed: int
) -> NDArray[np.uint8]:
    """
    Round 16-bit codes to 8 bits, up or down at random by what is left over.

    Parameters
    ----------
    values : ndarray of uint16, shape (rows, columns, channels)
    left, top : int
        Where the array lies in the file; the noise belongs to the place, so that
        any cut of the file is rounded alike.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, channels)
        Codes that 8 bits hold exactly, paper white among them, stay exact.

    Notes
    -----
    Rounding by a uniform random threshold keeps the mean of every area, so a slow
    gradient shows no steps (Roberts 1962, IRE Trans. Inf. Theory 8(2)).
    """
    rows, columns, channels = values.shape
    noise = np.empty(values.shape, np.float32)
    tile = DITHER_TILE_PX
    for tile_row in range(top // tile, (top + rows - 1) // tile + 1):
        for tile_column in range(left // tile, (left + columns - 1) // tile + 1):
            key = np.array([seed, tile_row << 32 | tile_column], np.uint64)
            generator = np.random.Generator(np.random.Philox(key=key))
            drawn = generator.random((tile, tile, channels), np.float32)
            row_from, column_from = tile_row * tile - top, tile_column * tile - left
            into = noise[
                max(row_from, 0) : row_from + tile,
                max(column_from, 0) : column_from + tile,
            ]
            row_skip, column_skip = max(-row_from, 0), max(-column_from, 0)
            into[...] = drawn[
                row_skip : row_skip + into.shape[0],
                column_skip : column_skip + into.shape[1],
            ]
    whole = values // np.uint16(257)
    rest = (values - whole * np.uint16(257)).astype(np.float32) / np.float32(257)
    return (whole + (noise < rest)).astype(np.uint8)
