"""What is done to pixels between master and file: array functions, nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, hypot
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image
from scipy import ndimage

from printplan.colour.transforms import code_of_light
from printplan.pixels.lightness import (
    FULL_SCALE,
    light_of_index,
    lighten,
    luminance,
    luminance_of_lightness,
    root_index,
    root_tables,
    slabs,
)
from printplan.sharpening.kernel import KERNEL_SIGMAS, gaussian_kernel

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from printplan.spec import SharpenSpec


def resample(
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
    Pillow keeps the box in single precision: hand it small planes, whose
    coordinates lose nothing by it.
    """
    image = Image.fromarray(plane)
    return np.asarray(image.resize(size_px, Image.Resampling.LANCZOS, box=box))


_EDGE_PX = 0.6
"""Softness of a sharp edge in pixels of its master, or of the print if reduced."""


def surroundings_px(radius_px: float, enlargement: float) -> int:
    """
    How far away the surroundings lie that a halo is held to.

    Parameters
    ----------
    enlargement : float
        Print pixels per master pixel.

    Returns
    -------
    int
        Three deviations of a sharp edge widened by the mask: there it is level.
    """
    return ceil(3 * hypot(radius_px, _EDGE_PX * max(enlargement, 1.0)))


def support_px(sharpen: SharpenSpec, radius_px: float, enlargement: float) -> int:
    """
    How far round a pixel the sharpening looks.

    Parameters
    ----------
    enlargement : float
        Print pixels per master pixel.

    Returns
    -------
    int
        Print pixels.
    """
    if sharpen.gain == 0:
        return 0
    mask = ceil(KERNEL_SIGMAS * radius_px)
    if sharpen.halo_limit_share is None:
        return mask
    return max(mask, surroundings_px(radius_px, enlargement))


@dataclass(frozen=True, slots=True, eq=False)
class SharpeningInput:
    """
    What sharpening starts from: a region, and its CIE lightness.

    Attributes
    ----------
    linear : ndarray of float32, shape (channels, rows, columns)
        Linear light.
    lightness : ndarray of float32, shape (rows, columns)
        L*, read from a table that steps by less than 0.003 everywhere.
    by_root : ndarray of uint16, shape (rows, columns)
        Index of the luminance in the tables by root.
    """

    linear: NDArray[np.float32]
    lightness: NDArray[np.float32]
    by_root: NDArray[np.uint16]


def sharpening_input(
    linear: NDArray[np.float32], weights: NDArray[np.float64]
) -> SharpeningInput:
    """
    The start of a region.

    Parameters
    ----------
    linear : ndarray of float32, shape (channels, rows, columns)
        Linear light.
    weights : ndarray of float64, shape (channels,)
        Luminance of each channel.

    Returns
    -------
    SharpeningInput
        Of the very array.
    """
    _, rows, columns = linear.shape
    lightness = np.empty((rows, columns), np.float32)
    by_root = np.empty((rows, columns), np.uint16)
    lightness_by_root, _ = root_tables()
    for slab in slabs(rows, columns):
        root_index(luminance(linear[:, slab], weights), by_root[slab])
        np.take(lightness_by_root, by_root[slab], mode="clip", out=lightness[slab])
    return SharpeningInput(linear, lightness, by_root)


def blurred(start: SharpeningInput, radius_px: float) -> NDArray[np.float32]:
    """
    Lightness through the mask's Gaussian.

    Parameters
    ----------
    radius_px : float
        Standard deviation.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        Beyond the array's edges its outermost pixels are repeated.
    """
    kernel = gaussian_kernel(radius_px)
    soft = ndimage.correlate1d(start.lightness, kernel, axis=0, mode="nearest")
    ndimage.correlate1d(soft, kernel, axis=1, mode="nearest", output=soft)
    return soft


def sharpen_lightness(  # noqa: PLR0913 - picture, sharpening and size
    linear: NDArray[np.float32],
    weights: NDArray[np.float64],
    sharpen: SharpenSpec,
    radius_px: float,
    enlargement: float = 1.0,
    *,
    around: Callable[[SharpeningInput], NDArray[np.float32]] | None = None,
) -> NDArray[np.float32]:
    """
    Unsharp masking of CIE lightness: `sharpening_input`, `blurred` and `add_mask`.

    Parameters
    ----------
    linear : ndarray of float32, shape (channels, rows, columns)
        Linear light, changed in place.
    weights : ndarray of float64, shape (channels,)
        Luminance of each channel.
    sharpen : SharpenSpec
        Gain, halo limit and grain floor.
    radius_px : float
        Standard deviation of the Gaussian.
    enlargement : float, optional
        Print pixels per master pixel: enlarged edges are wider.
    around : callable, optional
        Gives the lightness that halos are held to, as `add_mask` takes it; asked only
        if there is a halo limit.

    Returns
    -------
    ndarray of float32, shape (channels, rows, columns)
        The same array.
    """
    start = sharpening_input(linear, weights)
    soft = blurred(start, radius_px)
    reach_px = surroundings_px(radius_px, enlargement)
    held_to = None
    if around is not None and sharpen.halo_limit_share is not None:
        held_to = around(start)
    return add_mask(start, soft, sharpen, reach_px, out=linear, around=held_to)


def without_ringing(
    start: SharpeningInput,
    near: tuple[NDArray[np.float32], NDArray[np.float32]] | None,
    lighten_l: float = 0.0,
) -> NDArray[np.float32]:
    """
    Lightness without what resampling by itself adds beside strong edges.

    Parameters
    ----------
    near : tuple of ndarray of float32, shape (rows, columns), or None
        Darkest and lightest luminance that the master has near each pixel; None where
        nothing was resampled.
    lighten_l : float, optional
        As the start was lightened.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        L*; that of the start where it lies within the master's tones.

    Notes
    -----
    Lanczos' kernel overshoots an edge by up to a tenth of its step of light, which in
    the dark is many L*: beside a step from L* 20 to 85 a reduced print has pixels of
    L* 0. Counted among the surroundings of a halo, they would allow what they are.
    """
    if near is None:
        return start.lightness
    by_root, _ = root_tables()
    tones = []
    # Even tones come out of the resampling rounded: a step of the table is leeway.
    for light, leeway in zip(near, (-1, 1), strict=True):
        index = np.empty(light.shape, np.uint16)
        plane = light[None].copy()
        if lighten_l != 0:
            lighten(plane, np.ones(1), lighten_l)
        root_index(plane[0], index)
        tones.append(np.take(by_root, index.astype(np.int32) + leeway, mode="clip"))
    darkest, lightest = tones
    return np.clip(start.lightness, darkest, lightest)


def add_mask(  # noqa: PLR0913 - picture, sharpening, and what halos are held to
    start: SharpeningInput,
    soft: NDArray[np.float32],
    sharpen: SharpenSpec,
    reach_px: int,
    out: NDArray[np.float32],
    *,
    around: NDArray[np.float32] | None = None,
) -> NDArray[np.float32]:
    """
    Unsharp masking of CIE lightness; hue and chroma ratios stay.

    Parameters
    ----------
    soft : ndarray of float32, shape (rows, columns)
        Its lightness, `blurred`.
    sharpen : SharpenSpec
        Gain, halo limit and grain floor.
    reach_px : int
        Where the surroundings of a halo lie; see `surroundings_px`.
    out : ndarray of float32, shape (channels, rows, columns)
        Takes the result; may be the linear light of the start.
    around : ndarray of float32, shape (rows, columns), optional
        Lightness that halos are held to, `without_ringing`; that of the start if it is
        not given.

    Returns
    -------
    ndarray of float32, shape (channels, rows, columns)
        `out`.

    Notes
    -----
    The high-pass H = L* - G(L*) is added with the gain. With a grain floor f, H counts
    nothing up to f, all from 2 f, and in between more and more. With a halo limit, the
    result leaves the range of its surroundings by no more than that share of the
    range; surroundings are the pixel itself and eight others, `reach_px` away, as they
    are without the resampling's own ringing, which so is part of the halo.

    All channels are multiplied by one factor, the ratio of luminance after to
    luminance before, and end at 0 and 1, the limits of their space. Where ringing had
    left less light than the halo limit allows, perhaps none, no factor brings it back:
    there the missing luminance is added to all channels alike.
    """
    before = start.lightness
    rows, columns = before.shape
    _, one_over_luminance_by_root = root_tables()
    limit = sharpen.halo_limit_share
    around = before if around is None else around
    if limit is not None:
        around = np.pad(around, reach_px, mode="edge")
    for slab in slabs(rows, columns):
        after = before[slab] - soft[slab]
        if sharpen.grain_floor_l > 0:
            _spare_grain(after, sharpen.grain_floor_l)
        after *= np.float32(sharpen.gain)
        after += before[slab]
        rung = None
        if limit is not None:
            darkest = _limit_halo(after, around, slab, reach_px, limit)
            rung = before[slab] < darkest
        np.clip(after, 0.0, 100.0, out=after)
        light = luminance_of_lightness(after)
        one_over = np.take(one_over_luminance_by_root, start.by_root[slab], mode="clip")
        factor = light * one_over
        for plane, done in zip(start.linear[:, slab], out[:, slab], strict=True):
            # Before `out` is written, which may be the very plane.
            raised = None if rung is None or not rung.any() else plane[rung]
            np.multiply(plane, factor, out=done)
            if raised is not None:
                np.maximum(raised, 0, out=raised)
                done[rung] = raised + (light[rung] - 1 / one_over[rung])
            np.clip(done, 0.0, 1.0, out=done)
    return out


def _spare_grain(high_pass: NDArray[np.float32], floor_l: float) -> None:
    """Leave out of a high-pass what is no larger than the grain."""
    share = np.abs(high_pass)
    share -= np.float32(floor_l)
    share *= np.float32(1 / floor_l)
    np.clip(share, 0.0, 1.0, out=share)
    high_pass *= share


def _limit_halo(
    after: NDArray[np.float32],
    around: NDArray[np.float32],
    slab: slice,
    reach: int,
    limit: float,
) -> NDArray[np.float32]:
    """Hold rows of lightness near the range of their surroundings; the darkest left."""
    rows, columns = after.shape
    # Along rows first, then along columns: six looks instead of nine.
    band = around[slab.start : slab.stop + 2 * reach]
    across = [band[:, right : right + columns] for right in (0, reach, 2 * reach)]
    lightest = np.maximum(np.maximum(across[0], across[1]), across[2])
    darkest = np.minimum(np.minimum(across[0], across[1]), across[2])
    lightest, darkest = (
        join(join(line[:rows], line[reach : reach + rows]), line[2 * reach :])
        for join, line in ((np.maximum, lightest), (np.minimum, darkest))
    )
    room = lightest - darkest
    room *= np.float32(limit)
    lightest += room
    darkest -= room
    np.clip(after, darkest, lightest, out=after)
    return darkest


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
