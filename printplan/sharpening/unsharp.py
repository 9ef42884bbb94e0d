"""How is a picture's lightness sharpened, and no edge beyond its limit?"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, hypot
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy import ndimage

from printplan.colour.linear_light import encoded_image, linear_planes
from printplan.sharpening.kernel import Kernel, kernel_of, line_kernel, sigma_of
from printplan.sharpening.lightness import (
    lighten,
    luminance,
    luminance_of_lightness,
    root_index,
    root_tables,
    slabs,
)
from printplan.spec import NamedSpace, SharpenSpec
from printplan.validation import require

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from printplan.sharpening.kernel import Blur


def unsharp_mask(  # noqa: PLR0913 - picture, mask and limits
    image: NDArray[Any],
    *,
    gain: float,
    radius_px: float = 1.0,
    kernel: ArrayLike | Kernel | None = None,
    halo_limit: float | None = None,
    grain_floor_l: float = 0.0,
    enlargement: float = 1.0,
    space: NamedSpace | str = NamedSpace.SRGB,
) -> NDArray[Any]:
    """
    Sharpen a picture's CIE lightness by unsharp masking; hue and chroma ratios stay.

    Parameters
    ----------
    image : ndarray, shape (rows, columns) or (rows, columns, 3)
        uint8, uint16, or float from 0 to 1. Not changed.
    gain : float
        Share of the high-pass that is added back, 0 to 10.
    radius_px : float, optional
        Standard deviation of the mask's Gaussian, 0.01 to 500; not used with a kernel.
    kernel : array_like, shape (n,) or (n, n), optional
        A low-pass kernel of one's own, see `kernel_of`.
    halo_limit : float, optional
        Greatest overshoot at an edge, as a share of the edge, 0 to 2; by default none.
    grain_floor_l : float, optional
        Lightness step up to which nothing is sharpened, 0 to 10 L*.
    enlargement : float, optional
        Pixels per pixel of the master: edges that were enlarged are wider.
    space : NamedSpace or str, optional
        That the picture's numbers are of.

    Returns
    -------
    ndarray
        Of the image's shape and number type.

    Raises
    ------
    SpecError
        If it is no such array, a number is outside its range, or the kernel cannot
        sharpen.

    Notes
    -----
    ``L*' = L* + gain · (L* − blur(L*))``, held to the limit and spared by the floor as
    `add_mask` says. These are the steps that a print's file goes through.

    Examples
    --------
    >>> edge = np.repeat(np.array([[90, 160]], np.uint8), 8, axis=1)
    >>> sharper = unsharp_mask(edge, gain=1, radius_px=1)
    >>> bool(sharper.min() < 90), bool(sharper.max() > 160)  # a halo on both sides
    (True, True)
    >>> held = unsharp_mask(edge, gain=1, radius_px=1, halo_limit=0)
    >>> int(held.min()), int(held.max())
    (90, 160)
    """
    sharpen = SharpenSpec(
        gain=gain, halo_limit_share=halo_limit, grain_floor_l=grain_floor_l
    )
    blur: Blur = radius_px
    if kernel is not None:
        blur = kernel if isinstance(kernel, Kernel) else kernel_of(kernel)
    require("Enlargement", enlargement, 0.001, 1000, "px per px of the master")
    light, weights = linear_planes(image, space)
    if gain > 0:
        sharpen_lightness(light, weights, sharpen, blur, enlargement)
    return encoded_image(light, image, space)


_EDGE_PX = 0.6
"""Softness of a sharp edge in pixels of its master, or of the print if reduced."""


def surroundings_px(blur: Blur, enlargement: float) -> int:
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
    return ceil(3 * hypot(sigma_of(blur), _EDGE_PX * max(enlargement, 1.0)))


def support_px(sharpen: SharpenSpec, blur: Blur, enlargement: float) -> int:
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
    mask = line_kernel(blur).size // 2
    if sharpen.halo_limit_share is None:
        return mask
    return max(mask, surroundings_px(blur, enlargement))


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


def blurred(start: SharpeningInput, blur: Blur) -> NDArray[np.float32]:
    """
    Lightness through the blur of the mask.

    Parameters
    ----------
    blur : float or Kernel
        Radius of the Gaussian in pixels, or a kernel.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        Beyond the array's edges its outermost pixels are repeated.
    """
    if isinstance(blur, Kernel) and len(blur.weights) > 1:
        plane = np.asarray(blur.weights, np.float64)
        return np.asarray(ndimage.correlate(start.lightness, plane, mode="nearest"))
    kernel = line_kernel(blur)
    soft = ndimage.correlate1d(start.lightness, kernel, axis=0, mode="nearest")
    ndimage.correlate1d(soft, kernel, axis=1, mode="nearest", output=soft)
    return soft


def sharpen_lightness(
    linear: NDArray[np.float32],
    weights: NDArray[np.float64],
    sharpen: SharpenSpec,
    blur: Blur,
    enlargement: float = 1.0,
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
    blur : float or Kernel
        Radius of the Gaussian in pixels, or a kernel.
    enlargement : float, optional
        Print pixels per master pixel: enlarged edges are wider.

    Returns
    -------
    ndarray of float32, shape (channels, rows, columns)
        The same array.
    """
    start = sharpening_input(linear, weights)
    soft = blurred(start, blur)
    reach_px = surroundings_px(blur, enlargement)
    return add_mask(start, soft, sharpen, reach_px, out=linear)


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
