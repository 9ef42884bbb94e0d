"""What kind of picture is it, as far as sharpening cares?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import ndimage

from printplan.errors import SpecError
from printplan.sharpness.picture_edges import picture_edges
from printplan.sharpness.picture_noise import (
    FINE_PX,
    BandNoise,
    in_blocks,
    picture_noise,
)
from printplan.sharpness.resampling import softness_before_resampling

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Picture = NDArray[np.float32]

SMALLEST_PX = 128
"""Shortest side that is measured: below, there are too few squares to compare."""

RIPPLE_L = 1.0
"""Fine contrast that counts as texture: our choice, near the smallest difference of
lightness that is seen side by side."""

RIPPLE_NOISES = 3.0
"""The same in standard deviations of the noise between the same blurs: our choice."""

SHARPENED_OVERSHOOT = 0.06
"""Overshoot of the typical sharp edge from which a picture counts as sharpened before:
our choice. Resampling alone leaves up to 0.045, at an edge of a pixel's width."""

MOST_SHARE = 0.5
"""Share of the area that makes a picture mostly smooth, or mostly texture."""

# Fine contrast is what lies between these two blurs, in print pixels.
_FINE_PX, _COARSE_PX = 1.0, 4.0
# What is left of white noise of 1 between them: 1/4πa² + 1/4πb² − 2/2π(a² + b²).
_NOISE_BETWEEN = (1 / (4 * np.pi) + 1 / (64 * np.pi) - 1 / (17 * np.pi)) ** 0.5
# Share of a square's slopes that point one way: nearly all along a single edge.
_MOST_STRAIGHT = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class ContentFacts:
    """
    What a picture is made of.

    Attributes
    ----------
    master_softness_px : float or None
        Standard deviation of the master's sharpest edges, in print pixels, without the
        resampling's part. None if too few strong straight edges were found.
    edge_softness_px : float or None
        The same as found, with it.
    edge_count : int
        Places on edges that were measured.
    overshoot_share : float or None
        Overshoot that edges have already, over their step.
    already_sharpened : bool
        Whether that is more than an unsharpened picture shows.
    noise_l : float
        Standard deviation of the noise in L*, per print pixel.
    noise_by_tone : tuple of BandNoise
    smooth_share, texture_share : float
        Shares of the area without and with fine contrast all over. The rest has single
        edges and lines.
    words : str
        One sentence on what kind of picture this is.
    """

    master_softness_px: float | None
    edge_softness_px: float | None
    edge_count: int
    overshoot_share: float | None
    already_sharpened: bool
    noise_l: float
    noise_by_tone: tuple[BandNoise, ...]
    smooth_share: float
    texture_share: float
    words: str


def measure_content(
    lightness: NDArray[np.floating], *, enlargement: float = 1.0
) -> ContentFacts:
    """
    Measure a picture's edges, noise and texture.

    Parameters
    ----------
    lightness : ndarray of float, shape (rows, columns)
        L*, 0 to 100, in print pixels before sharpening: the whole picture, or a part
        that stands for it. A few megapixels are enough.
    enlargement : float, optional
        Print pixels per master pixel.

    Returns
    -------
    ContentFacts

    Raises
    ------
    SpecError
        If the picture is too small, not in L*, clipped all over, or has places that
        are no numbers.

    Notes
    -----
    The area is judged in squares of 16 pixels by the fine contrast between blurs of
    1 and 4 pixels. A square is smooth if nine tenths of it stay below `RIPPLE_L`, and
    texture if half of it goes above and its slopes do not all point one way, as those
    of a single edge do.
    """
    picture = _checked(lightness, enlargement)
    noise_l, by_tone = picture_noise(picture, enlargement)
    if noise_l is None:
        raise SpecError(
            "Nearly all of the picture is clipped to black or white.",
            remedy="Measure a part that has tones between L* 2 and 98.",
        )
    edges = picture_edges(picture, noise_l=noise_l, enlargement=enlargement)
    softness_px = edges.softness_px
    # Texture that was taken for noise would not count as texture.
    finest, _ = picture_noise(picture, enlargement, blur_px=FINE_PX)
    surely_noise_l = noise_l if finest is None else min(noise_l, finest)
    smooth_share, texture_share = _shares(picture, surely_noise_l)
    overshoot = edges.overshoot_share
    return ContentFacts(
        master_softness_px=None
        if softness_px is None
        else softness_before_resampling(softness_px, enlargement),
        edge_softness_px=softness_px,
        edge_count=edges.count,
        overshoot_share=overshoot,
        already_sharpened=overshoot is not None and overshoot > SHARPENED_OVERSHOOT,
        noise_l=noise_l,
        noise_by_tone=by_tone,
        smooth_share=smooth_share,
        texture_share=texture_share,
        words=_words(smooth_share, texture_share),
    )


def _checked(lightness: NDArray[np.floating], enlargement: float) -> Picture:
    """Refuse what is no picture in L*."""
    if not 0.02 <= enlargement <= 50:
        raise SpecError(
            f"The enlargement is {enlargement:g} print px per master px.",
            remedy="Give a value from 0.02 to 50: print ppi over the effective ppi.",
        )
    if lightness.ndim != 2 or min(lightness.shape) < SMALLEST_PX:
        raise SpecError(
            f"The picture to measure has the shape {lightness.shape}.",
            remedy=f"Give rows × columns of L*, {SMALLEST_PX} px or more each way.",
        )
    lowest, highest = float(lightness.min()), float(lightness.max())
    # Rounding may leave the range by a little; a NaN is outside every range.
    if not (lowest >= -1 and highest <= 101):
        raise SpecError(
            f"The picture to measure runs from {lowest:g} to {highest:g}.",
            remedy="Give L* from 0 to 100, without gaps.",
        )
    return np.ascontiguousarray(lightness, np.float32)


def _shares(picture: Picture, noise_l: float) -> tuple[float, float]:
    """Shares of the area that are smooth, and that are texture."""
    fine = ndimage.gaussian_filter(picture, _FINE_PX)
    straight = _straightness(fine)
    fine -= ndimage.gaussian_filter(picture, _COARSE_PX)
    contrast = in_blocks(np.abs(fine, out=fine))
    ripple_l = max(RIPPLE_L, RIPPLE_NOISES * _NOISE_BETWEEN * noise_l)
    above = (contrast > ripple_l).mean(axis=1)
    texture = (above > 0.5) & (straight < _MOST_STRAIGHT)
    return float((above <= 0.1).mean()), float(texture.mean())


def _straightness(picture: Picture) -> Picture:
    """Share of each square's slopes that point one way, 0 to 1."""
    down = in_blocks(ndimage.sobel(picture, axis=0))
    across = in_blocks(ndimage.sobel(picture, axis=1))
    vertical, horizontal = (down**2).sum(axis=1), (across**2).sum(axis=1)
    slanted = (down * across).sum(axis=1)
    total = np.maximum(vertical + horizontal, np.finfo(np.float32).tiny)
    return np.asarray(np.hypot(vertical - horizontal, 2 * slanted) / total)


def _words(smooth_share: float, texture_share: float) -> str:
    """Say in one sentence what kind of picture this is."""
    shares = f"{smooth_share:.0%} smooth, {texture_share:.0%} fine texture"
    if smooth_share >= MOST_SHARE:
        return (
            f"Mostly smooth tones, as in a portrait ({shares}): noise would show "
            "sooner than missing sharpness."
        )
    if texture_share >= MOST_SHARE:
        return (
            f"Texture nearly everywhere, as in foliage ({shares}): fine detail carries "
            "the picture."
        )
    return (
        f"Smooth areas beside detail ({shares}): sharpness is seen at edges, and noise "
        "in between."
    )
