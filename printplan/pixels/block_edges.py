"""Do the edges of JPEG blocks show?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.floating]

BLOCK_PX = 8
"""Edge of a block: ITU-T T.81 (JPEG), A.1.1."""

VISIBLE_STEP = 3.0
"""Step along a block's edge that shows in even tones, in codes of 8 bits: about 1.2 L*
in the middle tones of sRGB. Our choice."""

_LARGEST_STEP = 32.0  # Codes; above, it is an edge of the picture. Our choice.
_EVEN = 1.5  # Codes between neighbours on both sides, up to which a place is even.


def visible_block_edges(
    planes: Sequence[Floats], corners: Sequence[tuple[int, int]]
) -> float:
    """
    Share of block edges that show as a step in even tones.

    Parameters
    ----------
    planes : sequence of ndarray of float, shape (rows, columns)
        Parts of the picture's luma in its own pixels, 0 to 255.
    corners : sequence of tuple of int
        Left and top of each part in the picture.

    Returns
    -------
    float
        0 to 1: the lesser of the shares along rows and along columns; 0 for no part.

    Notes
    -----
    Along eight pixels of an edge, the step is the mean of the difference across it
    less the mean of the differences on its two sides; it shows if it reaches
    `VISIBLE_STEP` and is at least three times as large as what lies around. The
    grid's place is not known after a crop, so the share is taken for all eight; what
    the best has over the next is that of the blocks, and what a picture of straight
    lines has at several places is not. Differences
    across block edges against those inside are how blocking is measured [1]_ [2]_;
    that only even places count, because texture hides blocks, follows [2]_.

    References
    ----------
    .. [1] Z. Wang, A. C. Bovik & B. L. Evans, "Blind measurement of blocking artifacts
       in images", Proc. IEEE Int. Conf. Image Processing 2000, vol. 3, 981-984.
    .. [2] H. R. Wu & M. Yuen, "A generalized block-edge impairment metric for video
       coding", IEEE Signal Processing Letters 4(11), 1997, 317-320.
    """
    if not planes:
        return 0.0
    shares = np.zeros((2, BLOCK_PX))
    for plane, (left, top) in zip(planes, corners, strict=True):
        for axis, (along, first) in enumerate(((plane, left), (plane.T, top))):
            shares[axis] += np.roll(_steps_by_place(along), first % BLOCK_PX)
    shares /= len(planes)
    first, second = np.sort(shares, axis=1)[:, :-3:-1].T
    return float((first - second).min())


def _steps_by_place(plane: Floats) -> NDArray[np.float64]:
    """Share of visible steps, by the place of the column they lie before."""
    steps = np.diff(plane, axis=1)
    before, across, after = steps[:, 1:-3], steps[:, 2:-2], steps[:, 3:-1]
    jump = across - (before + after) / 2
    around = (abs(steps[:, :-4]) + abs(before) + abs(after) + abs(steps[:, 4:])) / 4
    rows = len(plane) // BLOCK_PX * BLOCK_PX
    columns = jump.shape[1] // BLOCK_PX * BLOCK_PX
    jump, around = (
        it[:rows, :columns].reshape(-1, BLOCK_PX, columns).mean(axis=1)
        for it in (jump, around)
    )
    size = abs(jump)
    shows = (size >= VISIBLE_STEP) & (size <= _LARGEST_STEP)
    shows &= around <= np.maximum(_EVEN, size / 3)
    return np.asarray(shows.reshape(-1, BLOCK_PX).mean(axis=0))
