"""What kind of picture is it, as far as sharpening cares?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
import scipy

from printplan.errors import SpecError
from printplan.sharpening.edge_lines import LEAST_STEP_L
from printplan.sharpening.gaussian import smoothed
from printplan.sharpening.noise import (
    BANDS_L,
    BLOCK_PX,
    FINE_PX,
    MOST_NOISE_L,
    BandNoise,
    in_blocks,
    parts_of,
    picture_noise,
    resampled_noise,
)
from printplan.sharpening.picture_edges import picture_edges
from printplan.sharpening.response import (
    gaussian_mtf,
    resampler_mtf,
    sigma_at_half,
    sigma_before_resampling,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

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

GRAIN_SHARE = 0.05
"""Share of the squares, the most even ones, that are looked at for grain: our choice.
"""

EVEN_TIMES = 1.45
"""Times the lower quartile of their fine contrast that its upper one has at most, if it
is grain. Our choice: drawn grain of 1 to 3 pixels has 1.1 to 1.3, on a meadow up to
1.4, and a meadow, a stream or a dog's coat without any 2 to 6."""

MOST_GRAIN_L = 2.5
"""Deviation between the blurs up to which even fine contrast is taken for grain: our
choice. Film of coarse grain has some 1 to 2; stronger patterns are texture."""

SEEN_GRAIN_L = 0.5
"""Grain from which words and the choice of sharpening mind it: our choice."""

JUDGED_PIXELS = 4_000_000
"""Print pixels that smooth and textured shares are judged by, if there are more: our
choice. Edges and flat places are rarer, and want all that there is."""

MOST_SHARE = 0.5
"""Share of the area that makes a picture mostly smooth, or mostly texture."""

# Fine contrast is what lies between these two blurs, in print pixels.
_FINE_PX, _COARSE_PX = 1.0, 4.0
# What is left of white noise of 1 between them: 1/4πa² + 1/4πb² − 2/2π(a² + b²).
_NOISE_BETWEEN = (1 / (4 * np.pi) + 1 / (64 * np.pi) - 1 / (17 * np.pi)) ** 0.5
# Share of a square's slopes that point one way: nearly all along a single edge.
_MOST_STRAIGHT = 0.9
_FEWEST_SQUARES = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class ContentFacts:
    """
    What a picture is made of.

    Attributes
    ----------
    master_edge_sigma_px : float or None
        Standard deviation of the master's sharpest edges, in print pixels, without the
        resampling's part. None if too few strong straight edges were found.
    edge_sigma_px : float or None
        The same as found, with it.
    edge_count : int
        Places on edges that were measured.
    overshoot_share : float or None
        Overshoot that edges have already, over their step.
    already_sharpened : bool
        Whether that is more than an unsharpened picture shows.
    noise_l : float
        Standard deviation of the noise in L*, per print pixel.
    smooth_share, texture_share : float
        Shares of the area without and with fine contrast all over. The rest has single
        edges and lines.
    words : str
        One sentence on what kind of picture this is.
    edge_tones_l : tuple of float or None
        L* of the two sides of its strongest straight edge; where too few edges were
        found, those that a hundredth of the picture is darker and lighter than. None
        if the picture is even.
    grain_l : float
        Standard deviation in L* of grain that is alike all over, in what a blur of a
        print pixel takes away; 0 if what is fine differs from place to place.
    """

    master_edge_sigma_px: float | None
    edge_sigma_px: float | None
    edge_count: int
    overshoot_share: float | None
    already_sharpened: bool
    noise_l: float
    noise_by_tone: tuple[BandNoise, ...]
    smooth_share: float
    texture_share: float
    words: str
    edge_tones_l: tuple[float, float] | None = None
    grain_l: float = 0.0


def measure_content(
    lightness: NDArray[np.floating] | Sequence[NDArray[np.floating]],
    *,
    enlargement: float = 1.0,
    in_master: NDArray[np.floating] | Sequence[NDArray[np.floating]] | None = None,
) -> ContentFacts:
    """
    Measure a picture's edges, noise and texture.

    Parameters
    ----------
    lightness : ndarray of float, shape (rows, columns), or sequence of them
        L*, 0 to 100, in print pixels before sharpening: the whole picture, or parts
        that stand for it.
    enlargement : float, optional
        Print pixels per master pixel.
    in_master : ndarray of float, shape (rows, columns), or sequence of them, optional
        L* of the same picture at one pixel for each of the master's. Of an enlarged
        print, edges and noise are better measured there: it has the same ones in fewer
        pixels, and what resampling does to them is known.

    Raises
    ------
    SpecError
        If a part is too small, not in L*, or has places that are no numbers, or if
        nearly all is clipped.

    Notes
    -----
    Edges, squares and tones of all parts count together; nothing is measured across
    the border of a part. Where there are more than `JUDGED_PIXELS`, smooth and textured
    shares are those of the middle rows of each part, as many as add up to that. Work
    takes the memory of one part at a time.

    Grain differs from texture in being alike all over: in the most even squares of
    a textured picture fine contrast differs from square to square, in those of a grainy
    one it hardly does, whatever lies beneath. It counts as noise, not as texture.

    The area is judged in squares of 16 pixels by the fine contrast between blurs of
    1 and 4 pixels. A square is smooth if nine tenths of it stay below `RIPPLE_L`, and
    texture if half of it goes above and its slopes do not all point one way, as those
    of a single edge do.

    Examples
    --------
    >>> grain = np.random.default_rng(1).normal(50, 1.0, (400, 400))
    >>> round(measure_content(grain).noise_l, 1)
    1.0
    """
    parts = _checked(lightness, enlargement)
    grid = parts if in_master is None else _checked(in_master, 1.0)
    enlarged = enlargement if in_master is None else 1.0
    noise_l, by_tone = picture_noise(grid, enlarged)
    if noise_l is None:
        raise SpecError(
            "Nearly all of the picture is clipped to black or white.",
            remedy="Measure a part that has tones between L* 2 and 98.",
        )
    # Drawn from its middle, so that edges count little: noise of two tones alone would
    # seem more than L* can scatter.
    noise_l = min(noise_l, MOST_NOISE_L)
    edges = picture_edges(grid, noise_l=noise_l, enlargement=enlarged)
    found_px = edges.edge_sigma_px
    if found_px is None:
        master_edge_sigma_px = edge_sigma_px = None
    elif in_master is None:
        edge_sigma_px = found_px
        master_edge_sigma_px = sigma_before_resampling(found_px, enlargement)
    else:
        master_edge_sigma_px = found_px * enlargement
        edge_sigma_px = sigma_after_resampling(master_edge_sigma_px, enlargement)
    if in_master is not None:
        left = resampled_noise(enlargement)
        noise_l = min(left * noise_l, MOST_NOISE_L)
        by_tone = tuple(replace(band, noise_l=left * band.noise_l) for band in by_tone)
    # Texture that was taken for noise would not count as texture.
    judged = _middles(parts)
    finest, _ = picture_noise(judged, enlargement, blur_px=FINE_PX)
    surely_noise_l = noise_l if finest is None else min(noise_l, finest)
    smooth_share, texture_share, grain_l = _shares(judged, surely_noise_l)
    overshoot = edges.overshoot_share
    return ContentFacts(
        master_edge_sigma_px=master_edge_sigma_px,
        edge_sigma_px=edge_sigma_px,
        edge_count=edges.count,
        overshoot_share=overshoot,
        already_sharpened=overshoot is not None and overshoot > SHARPENED_OVERSHOOT,
        noise_l=noise_l,
        noise_by_tone=by_tone,
        smooth_share=smooth_share,
        texture_share=texture_share,
        words=_words(smooth_share, texture_share, grain_l),
        grain_l=grain_l,
        edge_tones_l=edges.strongest_l or _outermost_tones(grid),
    )


def _outermost_tones(parts: tuple[Picture, ...]) -> tuple[float, float] | None:
    """Tones between which the strongest edge may lie that was not found."""
    every = np.concatenate([part[::4, ::4].ravel() for part in parts])
    darkest, lightest = (float(it) for it in np.percentile(every, (1, 99)))
    return (darkest, lightest) if lightest - darkest >= LEAST_STEP_L else None


def sigma_after_resampling(edge_sigma_px: float, enlargement: float) -> float:
    """
    Softness of an edge after resampling; matched as in `sigma_before_resampling`.

    Parameters
    ----------
    edge_sigma_px : float
        Standard deviation in print pixels without the resampling's part.
    enlargement : float
        Print pixels per master pixel.
    """
    frequency = np.geomspace(1e-5, 1, 2000)
    left = gaussian_mtf(frequency, edge_sigma_px) * resampler_mtf(
        frequency, enlargement
    )
    return sigma_at_half(frequency, left)


def _checked(
    lightness: NDArray[np.floating] | Sequence[NDArray[np.floating]],
    enlargement: float,
) -> tuple[Picture, ...]:
    """Refuse what is no picture in L*."""
    if not 0.02 <= enlargement <= 50:
        raise SpecError(
            f"The enlargement is {enlargement:g} print px per master px.",
            remedy="Give a value from 0.02 to 50: print ppi over the effective ppi.",
        )
    given = (lightness,) if isinstance(lightness, np.ndarray) else lightness
    for part in given:
        if part.ndim != 2 or min(part.shape) < SMALLEST_PX:
            raise SpecError(
                f"The picture to measure has the shape {part.shape}.",
                remedy=f"Give rows × columns of L*, {SMALLEST_PX} px or more each way.",
            )
        lowest, highest = float(part.min()), float(part.max())
        # Rounding may leave the range by a little; a NaN is outside every range.
        if not (lowest >= -1 and highest <= 101):
            raise SpecError(
                f"The picture to measure runs from {lowest:g} to {highest:g}.",
                remedy="Give L* from 0 to 100, without gaps.",
            )
    return parts_of(given)


def _middles(parts: tuple[Picture, ...]) -> tuple[Picture, ...]:
    """Middle rows of each part, as many as the shares are judged by."""
    share = JUDGED_PIXELS / sum(part.size for part in parts)
    if share >= 1:
        return parts
    middles = []
    for part in parts:
        rows = max(ceil(share * part.shape[0] / BLOCK_PX) * BLOCK_PX, SMALLEST_PX)
        top = (part.shape[0] - rows) // 2
        middles.append(part[top : top + rows])
    return tuple(middles)


def _shares(parts: tuple[Picture, ...], noise_l: float) -> tuple[float, float, float]:
    """Shares of the area that are smooth and that are texture, and the grain in L*."""
    squares = [_Squares.of(part) for part in parts]
    grain = _even_grain(squares)
    between_l = _NOISE_BETWEEN * noise_l if grain is None else grain[0]
    ripple_l = max(RIPPLE_L, RIPPLE_NOISES * between_l)
    above = np.concatenate([(it.fine > ripple_l).mean(axis=1) for it in squares])
    straight = np.concatenate([it.straight for it in squares])
    texture = (above > 0.5) & (straight < _MOST_STRAIGHT)
    grain_l = 0.0 if grain is None else grain[1]
    return float((above <= 0.1).mean()), float(texture.mean()), grain_l


@dataclass(frozen=True, slots=True, eq=False)
class _Squares:
    """
    What the squares of a part hold.

    Attributes
    ----------
    fine : ndarray of float32, shape (squares, pixels)
        Fine contrast between two blurs, without sign.
    straight, tone, uneven, finest : ndarray of float32, shape (squares,)
        Share of slopes that point one way; mean; deviation of the coarser blur; and
        that of what the finer blur takes away.
    """

    fine: Picture
    straight: Picture
    tone: Picture
    uneven: Picture
    finest: Picture

    @classmethod
    def of(cls, part: Picture) -> _Squares:
        """Squares of a part."""
        fine = smoothed(part, _FINE_PX)
        coarse = smoothed(part, _COARSE_PX)
        straight = _straightness(fine)
        finest = in_blocks(part - fine).std(axis=1)
        fine -= coarse
        broad = in_blocks(coarse)
        return cls(
            fine=in_blocks(np.abs(fine, out=fine)),
            straight=straight,
            tone=broad.mean(axis=1),
            uneven=broad.std(axis=1),
            finest=finest,
        )


def _even_grain(squares: list[_Squares]) -> tuple[float, float] | None:
    """
    Deviation of grain between the two blurs, and in what the finer one takes away.

    None if the flattest squares differ: what they have is then texture, or nothing.
    """
    tone, uneven, finest, fine = (
        np.concatenate(values)
        for values in zip(
            *(
                (it.tone, it.uneven, it.finest, np.sqrt((it.fine**2).mean(axis=1)))
                for it in squares
            ),
            strict=True,
        )
    )
    usable = np.flatnonzero((tone > BANDS_L[0][0]) & (tone < BANDS_L[-1][1]))
    count = max(_FEWEST_SQUARES, int(GRAIN_SHARE * usable.size))
    if usable.size < _FEWEST_SQUARES:
        return None
    flattest = usable[np.argsort(uneven[usable], kind="stable")[:count]]
    low, middle, high = np.quantile(fine[flattest], (0.25, 0.5, 0.75))
    if middle > MOST_GRAIN_L or high > EVEN_TIMES * low:
        return None
    return float(middle), float(np.median(finest[flattest]))


def _straightness(picture: Picture) -> Picture:
    """Share of each square's slopes that point one way, 0 to 1."""
    down = in_blocks(scipy.ndimage.sobel(picture, axis=0))
    across = in_blocks(scipy.ndimage.sobel(picture, axis=1))
    vertical, horizontal = (down**2).sum(axis=1), (across**2).sum(axis=1)
    slanted = (down * across).sum(axis=1)
    total = np.maximum(vertical + horizontal, np.finfo(np.float32).tiny)
    return np.asarray(np.hypot(vertical - horizontal, 2 * slanted) / total)


def _words(smooth_share: float, texture_share: float, grain_l: float) -> str:
    """Say in one sentence what kind of picture this is."""
    shares = f"{smooth_share:.0%} smooth, {texture_share:.0%} fine texture"
    if grain_l >= SEEN_GRAIN_L:
        shares += f"; grain of {grain_l:.1f} L* all over is neither"
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
