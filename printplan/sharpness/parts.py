"""Which parts of a picture are there to measure?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.errors import SpecError
from printplan.sharpness.ranges import require_plane

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Picture = NDArray[np.float32]


def parts_of(
    lightness: NDArray[np.floating] | Sequence[NDArray[np.floating]],
) -> tuple[Picture, ...]:
    """
    Parts of a picture, also where there is but one.

    Parameters
    ----------
    lightness : ndarray of float, shape (rows, columns), or sequence of them
        L* of the whole picture, or of parts that need not be neighbours.

    Returns
    -------
    tuple of ndarray of float32, shape (rows, columns)

    Raises
    ------
    SpecError
        If there is none, or one is no picture.
    """
    parts = (lightness,) if isinstance(lightness, np.ndarray) else tuple(lightness)
    if not parts:
        raise SpecError(
            "There is no part of the picture to measure.",
            remedy="Give one part or more, each rows by columns of L*.",
        )
    for part in parts:
        require_plane("The picture", part)
    return tuple(np.ascontiguousarray(part, np.float32) for part in parts)
