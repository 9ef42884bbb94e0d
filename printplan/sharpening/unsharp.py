"""How is a picture's lightness sharpened, and no edge beyond its limit?"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, hypot
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from printplan.colour.linear_light import encoded_image, linear_planes
from printplan.loops import masking, smoothing
from printplan.loops.memory import empty
from printplan.sharpening.kernel import Kernel, kernel_of, line_kernel, sigma_of
from printplan.sharpening.lightness import lighten, lightness_of_light
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
        Linear light, C-contiguous.
    lightness : ndarray of float32, shape (rows, columns)
        L*.
    """

    linear: NDArray[np.float32]
    lightness: NDArray[np.float32]

    @property
    def whole(self) -> Part:
        """All of it."""
        rows, columns = self.lightness.shape
        return Part(0, 0, columns, rows)


class Part(NamedTuple):
    """What of a region is sharpened, while the rest is looked at: place and size."""

    left: int
    top: int
    width: int
    height: int


def sharpening_input(
    linear: NDArray[np.float32], weights: NDArray[np.float64]
) -> SharpeningInput:
    """
    The start of a region.

    Parameters
    ----------
    linear : ndarray of float32, shape (channels, rows, columns)
        Linear light, C-contiguous.
    weights : ndarray of float64, shape (channels,)
        Luminance of each channel.

    Returns
    -------
    SharpeningInput
        Of the very array.
    """
    return SharpeningInput(linear, lightness_of_light(linear, weights))


def blurred(
    start: SharpeningInput, blur: Blur, part: Part | None = None
) -> NDArray[np.float32]:
    """
    Lightness through the blur of the mask.

    Parameters
    ----------
    blur : float or Kernel
        Radius of the Gaussian in pixels, or a kernel.
    part : Part, optional
        All of the region if not given.

    Returns
    -------
    ndarray of float32, shape (rows, columns) of the part
        Beyond the region's edges its outermost pixels are repeated.
    """
    left, top, width, height = part or start.whole
    out: NDArray[np.float32] = empty((height, width))
    weights, plane = _kernel_numbers(blur)
    room = np.empty(width + 2 * weights.size, np.float32)
    smoothing.blurred(start.lightness, top, left, weights, plane, room, out)
    return out


def _kernel_numbers(blur: Blur) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """What loops take: weights from the middle of a line outwards, or those of a plane.

    The other is empty.
    """
    if isinstance(blur, Kernel) and len(blur.weights) > 1:
        return np.empty(0, np.float32), np.array(blur.weights, np.float32)
    kernel = line_kernel(blur)
    return np.ascontiguousarray(kernel[kernel.size // 2 :], np.float32), _NONE


_NONE = np.empty((0, 0), np.float32)


def sharpen_lightness(
    linear: NDArray[np.float32],
    weights: NDArray[np.float64],
    sharpen: SharpenSpec,
    blur: Blur,
    enlargement: float = 1.0,
) -> NDArray[np.float32]:
    """
    Unsharp masking of CIE lightness: `sharpening_input` and `add_mask`.

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
    light = np.ascontiguousarray(linear)
    start = sharpening_input(light, weights)
    add_mask(start, blur, sharpen, surroundings_px(blur, enlargement), out=light)
    if light is not linear:
        linear[...] = light
    return linear


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
    one = np.ones(1)
    tones = []
    for light in near:
        plane = light[np.newaxis].copy()
        if lighten_l != 0:
            lighten(plane, one, lighten_l)
        tones.append(lightness_of_light(plane, one))
    darkest, lightest = tones
    # Even tones come out of the resampling rounded.
    leeway_l = masking.LEEWAY_L
    return np.clip(start.lightness, darkest - leeway_l, lightest + leeway_l)


def add_mask(  # noqa: PLR0913 - picture, sharpening, and what halos are held to
    start: SharpeningInput,
    blur: Blur,
    sharpen: SharpenSpec,
    reach_px: int,
    out: NDArray[np.float32],
    *,
    part: Part | None = None,
    soft: NDArray[np.float32] | None = None,
    around: NDArray[np.float32] | None = None,
) -> NDArray[np.float32]:
    """
    Unsharp masking of CIE lightness; hue and chroma ratios stay.

    Parameters
    ----------
    blur : float or Kernel
        Radius of the Gaussian in pixels, or a kernel.
    sharpen : SharpenSpec
        Gain, halo limit and grain floor.
    reach_px : int
        Where the surroundings of a halo lie; see `surroundings_px`.
    out : ndarray of float32, shape (channels, rows, columns) of the part
        Takes the result; may be the linear light of the start if that is all part.
    part : Part, optional
        All of the region if not given.
    soft : ndarray of float32, shape (rows, columns) of the part, optional
        Its lightness, `blurred` before, where that was kept.
    around : ndarray of float32, shape (rows, columns) of the start, optional
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
    left, top, _, _ = part or start.whole
    weights, plane = _kernel_numbers(blur)
    held, limit = _NONE, 0.0
    if sharpen.halo_limit_share is not None:
        held = start.lightness if around is None else around
        limit = float(sharpen.halo_limit_share)
    reach = max(reach_px, weights.size)
    room = np.empty((masking.ROWS_OF_ROOM, masking.COLUMNS + 2 * reach), np.float32)
    masking.sharpened(
        start.linear,
        start.lightness,
        top,
        left,
        weights,
        plane,
        _NONE if soft is None else soft,
        float(sharpen.gain),
        float(sharpen.grain_floor_l),
        held,
        reach_px,
        limit,
        room,
        out,
    )
    return out
