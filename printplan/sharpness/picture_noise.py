"""How much noise does a picture have where nothing else is?"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np
from scipy import ndimage

from printplan.sharpness.kernel import gaussian_kernel, kernel_mtf
from printplan.sharpness.parts import parts_of
from printplan.sharpness.ranges import require, require_plane
from printplan.sharpness.resampling import ENLARGEMENTS
from printplan.sharpness.response import NYQUIST_CYCLES_PX, steps_to
from printplan.sharpness.visible_noise import resampled_noise_spectrum

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Picture = NDArray[np.float32]

BLOCK_PX = 16
"""Side of the squares that a picture is judged in."""

BANDS_L = ((2.0, 20.0), (20.0, 40.0), (40.0, 60.0), (60.0, 80.0), (80.0, 98.0))
"""Tones that noise is measured in. Beyond both ends, clipping hides it."""

FLATTEST_SHARE = 0.02
"""Share of the squares that count as flat: our choice. In pictures with texture all
over, more of them would hold texture and not noise."""

BROAD_PX, FINE_PX = 2.0, 0.5
"""Blurs that noise is measured by: one that leaves hardly any noise, and one that takes
away only the finest, of which texture has less."""

_FEWEST_BLOCKS = 8
# Standard deviation of a normal distribution over its median absolute deviation.
_NORMAL_PER_MAD = 1.482602218505602


@dataclass(frozen=True, slots=True, kw_only=True)
class BandNoise:
    """
    Noise in one range of tones.

    Attributes
    ----------
    lowest_l, highest_l : float
        The range.
    noise_l : float
        Standard deviation in L*.
    """

    lowest_l: float
    highest_l: float
    noise_l: float


def in_blocks(picture: Picture) -> Picture:
    """
    Squares of a picture, one per row; rests at the right and lower edge are left out.

    Parameters
    ----------
    picture : ndarray of float32, shape (rows, columns)

    Returns
    -------
    ndarray of float32, shape (blocks, 256)

    Raises
    ------
    SpecError
        If a number cannot be meant.
    """
    require_plane("The picture", picture)
    down, across = (length // BLOCK_PX for length in picture.shape)
    whole = picture[: down * BLOCK_PX, : across * BLOCK_PX]
    squares = whole.reshape(down, BLOCK_PX, across, BLOCK_PX).swapaxes(1, 2)
    return squares.reshape(down * across, BLOCK_PX * BLOCK_PX)


def picture_noise(
    lightness: Picture | Sequence[Picture],
    enlargement: float,
    *,
    blur_px: float = BROAD_PX,
) -> tuple[float | None, tuple[BandNoise, ...]]:
    """
    Noise of a picture, overall and by tone.

    Parameters
    ----------
    lightness : ndarray of float32, shape (rows, columns), or sequence of them
        L*, in print pixels: the picture, or parts that stand for it.
    enlargement : float
        Print pixels per master pixel.
    blur_px : float, optional
        What a blur of this standard deviation takes away is looked at, in pixels of
        the coarser side.

    Returns
    -------
    tuple of float or None and tuple of BandNoise
        Standard deviation in L*: None, and no bands, where all is clipped.

    Raises
    ------
    SpecError
        If a number cannot be meant.

    Notes
    -----
    Flat squares are found by what is left after a blur, and noise is measured by what
    the blur takes away: its median absolute deviation, so that specks do not count.
    The two hardly depend on each other, so picking flat squares does not pick quiet
    ones. What the blur keeps of the noise itself is put back by the spectrum of noise
    that was white before resampling. Fine even texture cannot be told from noise: in
    a picture without one flat place the number is an upper bound. A finer blur sees
    less of the texture, and less of noise that is not white.
    """
    parts = parts_of(lightness)
    require("Enlargement", enlargement, *ENLARGEMENTS, "print px per master px")
    require("Blur", blur_px, 0.1, 10, "px")
    blur_px *= max(enlargement, 1.0)
    squares = np.concatenate([_squares(part, blur_px) for part in parts])
    tone, unevenness, fine = squares.T
    noise = fine * (_NORMAL_PER_MAD / _share_kept(blur_px, enlargement))
    usable = (tone >= BANDS_L[0][0]) & (tone < BANDS_L[-1][1])
    bands = [
        BandNoise(lowest_l=low, highest_l=high, noise_l=found)
        for low, high in BANDS_L
        if (found := _of_flattest(noise, unevenness, (tone >= low) & (tone < high)))
        is not None
    ]
    return _of_flattest(noise, unevenness, usable), tuple(bands)


def _squares(part: Picture, blur_px: float) -> Picture:
    """Tone, unevenness and median of what the blur takes, shape (squares, 3)."""
    blurred = _blurred(part, blur_px)
    broad = in_blocks(blurred if blur_px >= BROAD_PX else _blurred(part, BROAD_PX))
    taken = in_blocks(np.abs(part - blurred))
    # The mean of both middle ones is what `numpy.median` gives, at a third of its time.
    half = taken.shape[1] // 2
    taken.partition((half - 1, half), axis=1)
    middle = taken[:, half - 1 : half + 1].mean(axis=1)
    return np.stack([broad.mean(axis=1), broad.std(axis=1), middle], axis=1)


def _blurred(picture: Picture, blur_px: float) -> Picture:
    kernel = gaussian_kernel(blur_px)
    across = ndimage.correlate1d(picture, kernel, axis=1, mode="nearest")
    return np.asarray(ndimage.correlate1d(across, kernel, axis=0, mode="nearest"))


def _of_flattest(
    noise: Picture, unevenness: Picture, among: NDArray[np.bool_]
) -> float | None:
    """Median noise of the flattest squares, None if there are too few."""
    candidates = np.flatnonzero(among)
    if candidates.size < _FEWEST_BLOCKS:
        return None
    count = max(_FEWEST_BLOCKS, int(FLATTEST_SHARE * candidates.size))
    order = np.argsort(unevenness[candidates], kind="stable")
    return float(np.median(noise[candidates[order[:count]]]))


def _share_kept(blur_px: float, enlargement: float) -> float:
    """Standard deviation of noise less its blur, over that of the noise."""
    frequency = steps_to(NYQUIST_CYCLES_PX, 128)
    spectrum = resampled_noise_spectrum(frequency, enlargement) / frequency.size
    blur = kernel_mtf(frequency, blur_px)
    mean = float((spectrum * blur).sum()) ** 2
    mean_square = float((spectrum * blur**2).sum()) ** 2
    return sqrt(1 - 2 * mean + mean_square)
