"""Are a picture's tones as fine as its numbers could hold?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import maximum_filter1d

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Codes = NDArray[np.uint8] | NDArray[np.uint16]

_GENTLE = 0.06  # Share of full scale between neighbours: more is an edge, not a tone.
_ENDS = 0.01  # Share of the pixels left out at each end of the tones in use.
_FEWEST_PIXELS = 5000
_FEWEST_CODES = 32
_REACH = 17  # Codes to both sides in which a used code is looked for.
_EMPTY = 0.1  # Of the lower of the two, below which a code counts as empty.


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneLevels:
    """
    How finely a picture's tones are stored.

    Attributes
    ----------
    empty_share : float
        Share of the codes of 8 bits that stand empty between used ones, in the
        channel where it is largest.
    codes : int
        Codes of 8 bits between the darkest and lightest tones in use there.
    levels : int
        Different numbers in use, in the channel that has most.
    """

    empty_share: float
    codes: int
    levels: int


def tone_levels(parts: Sequence[Codes]) -> ToneLevels | None:
    """
    Find the codes that stand empty among the tones a picture uses.

    Parameters
    ----------
    parts : sequence of ndarray of uint8 or uint16, shape (channels, rows, columns)
        Parts of the picture, as stored.

    Returns
    -------
    ToneLevels or None
        None if too few pixels lie in gentle gradations to judge by.

    Notes
    -----
    Only pixels that differ from the next one, by less than 6 % of the scale, are
    counted: there a tone goes over into another, and a missing one shows as a contour.
    Flat patches of a chart and hard edges say nothing of that. Of the tones so counted
    the darkest and lightest hundredth are left out.

    Numbers of 16 bits are judged by the 256 codes that 8 bits would have. A code is
    empty if it has less than a tenth of what used codes have on both sides of it,
    within 17 codes: stretching leaves such gaps, a histogram's valleys do not.
    All limits are our choice.
    """
    found = [
        it for channel in _gentle(parts) if (it := _of_channel(channel)) is not None
    ]
    if not found:
        return None
    worst = max(found, key=lambda it: it.empty_share)
    return ToneLevels(
        empty_share=worst.empty_share,
        codes=worst.codes,
        levels=max(it.levels for it in found),
    )


def _gentle(parts: Sequence[Codes]) -> list[NDArray[np.int64]]:
    """Histogram of each channel's gentle gradations, over all codes."""
    if not parts:
        return []
    top = np.iinfo(parts[0].dtype).max
    counts = [np.zeros(top + 1, np.int64) for _ in parts[0]]
    for part in parts:
        for index, channel in enumerate(part):
            step = np.abs(np.diff(channel.astype(np.int32), axis=1))
            gentle = (step > 0) & (step <= _GENTLE * top)
            counts[index] += np.bincount(channel[:, :-1][gentle], minlength=top + 1)
    return counts


def _of_channel(counts: NDArray[np.int64]) -> ToneLevels | None:
    if counts.sum() < _FEWEST_PIXELS:
        return None
    levels = int(np.count_nonzero(counts))
    if len(counts) > 256:
        places = (np.arange(len(counts)) + 128) // 257
        counts = np.bincount(places, counts).astype(np.int64)
    reached = np.cumsum(counts) / counts.sum()
    first, last = np.searchsorted(reached, [_ENDS, 1 - _ENDS])
    if last - first < _FEWEST_CODES:
        return None
    # The largest count among the codes up to the reach below, and above.
    below = maximum_filter1d(counts, _REACH, origin=_REACH // 2, mode="constant")
    above = maximum_filter1d(counts, _REACH, origin=-(_REACH // 2), mode="constant")
    empty = counts < _EMPTY * np.minimum(below, above)
    return ToneLevels(
        empty_share=float(empty[first : last + 1].mean()),
        codes=int(last - first + 1),
        levels=levels,
    )
