"""Do a picture's numbers look made for a smaller space than its own?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.spaces import xyz_d50_from_linear
from printplan.spec import NamedSpace

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Codes = NDArray[np.uint8] | NDArray[np.uint16]

_CLIPPED = 1 / 512  # Of full scale: half a code of 8 bits.
_NEXT = 4 / 255  # The four codes below, against which a pile is told.
_COLOURED = 0.9  # Least channel up to which a clipped pixel is a colour, not white.
_OUTSIDE = 0.003  # Linear light beyond sRGB that rounding does not explain.


@dataclass(frozen=True, slots=True, kw_only=True)
class CubeFaces:
    """
    How a picture's numbers meet the ends of their scale.

    Attributes
    ----------
    clipped_share : float
        Share of the pixels with a channel at its end and another well below.
    pile : float
        That share over the mean of the four codes before it.
    outside_share : float
        Share of the pixels whose colour lies outside sRGB, as tagged.
    """

    clipped_share: float
    pile: float
    outside_share: float


def cube_faces(
    parts: Sequence[Codes],
    tables: NDArray[np.float32],
    to_xyz: NDArray[np.float64],
) -> CubeFaces:
    """
    Measure how a picture's numbers meet the ends of their scale.

    Parameters
    ----------
    parts : sequence of ndarray of uint8 or uint16, shape (3, rows, columns)
        Parts of the picture, as stored.
    tables : ndarray of float32, shape (3, 256 or 65536)
        Linear light of each code.
    to_xyz : ndarray of float64, shape (3, 3)
        Linear light to XYZ under D50, of the space it is tagged with.

    Returns
    -------
    CubeFaces

    Notes
    -----
    A camera's highlights in warm or cool light clip one channel before the others, in
    the space that its numbers are made for: pixels pile up where that channel ends. A
    conversion to a wider space takes these colours inside its range, since the ends of
    the wide space are colours that hardly anything has (those of ROMM RGB lie
    partly beyond the spectrum, ISO 22028-2). A pile at the ends of a wide space
    therefore tells numbers that were not converted. It is no proof: an exposure can
    be clipped in the wide space itself. Pixels that equal their neighbour are left
    out, for charts and graphics hold pure colours on purpose.

    Numbers that never clip are not told apart by this, nor two spaces whose ends are
    nearly the same, as those of sRGB and opRGB in red and blue.
    """
    to_srgb = np.linalg.inv(xyz_d50_from_linear(NamedSpace.SRGB)) @ to_xyz
    at_end = before = outside = judged = 0
    for part in parts:
        top = np.iinfo(part.dtype).max
        moved = (part[:, :, 1:] != part[:, :, :-1]).any(axis=0)
        codes = part[:, :, 1:][:, moved]
        judged += moved.size
        if codes.size == 0:
            continue
        highest = codes.max(axis=0) / top
        coloured = codes.min(axis=0) < _COLOURED * top
        ends = highest >= 1 - _CLIPPED
        at_end += int((ends & coloured).sum())
        near = ~ends & (highest >= 1 - _CLIPPED - _NEXT)
        before += int((near & coloured).sum())
        light = np.stack([table[it] for table, it in zip(tables, codes, strict=True)])
        srgb = to_srgb.astype(np.float32) @ light
        beyond = (srgb < -_OUTSIDE) | (srgb > 1 + 3 * _OUTSIDE)
        outside += int(beyond.any(axis=0).sum())
    judged = max(judged, 1)
    return CubeFaces(
        clipped_share=at_end / judged,
        pile=at_end / max(before / 4, 1),
        outside_share=outside / judged,
    )
