"""Where does a picture get no ink, and is that a lamp or a hole?"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import distance_transform_edt, find_objects, label

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Mask = NDArray[np.bool_]

NO_INK_LIGHT = 0.99
"""Linear light, in all channels, from which the paper gets no ink to speak of."""

LEAST_AREA = 0.008
"""Share of the picture from which one bare area is looked at: our choice. A sun or a
glint is smaller."""

# A lamp: its rim falls to this light within a few pixels of an overview, and what is
# beside it is this many times as light as what lies farther out. Our choice.
_RIM_LIGHT, _GLOW = 0.8, 1.2
_RIM_PX = (3.0, 6.0)
_EIGHT_NEIGHBOURS = np.ones((3, 3), np.bool_)


@dataclass(frozen=True, slots=True, kw_only=True)
class BareArea:
    """
    A connected area of bare paper inside a picture.

    Attributes
    ----------
    share : float
        Of the picture.
    is_light_source : bool
        Whether it looks like a lamp or a sun: a hard rim, and a glow around it.
    """

    share: float
    is_light_source: bool


def bare_areas(linear: NDArray[np.float32]) -> tuple[BareArea, ...]:
    """
    Find the larger areas inside a picture that get no ink.

    Parameters
    ----------
    linear : ndarray of float32, shape (channels, rows, columns)
        Linear light of an overview, 0 to 1.

    Returns
    -------
    tuple of BareArea
        Those of `LEAST_AREA` or more, largest first. What a straight way inside it
        joins to the picture's edge is left out: that is a sky.

    Notes
    -----
    A source of light is meant to be white. It has a rim, where the picture drops at
    once to what the lamp shines on, and that falls off gradually with distance. A
    surface that was overexposed has neither: it fades into white, or lies between
    tones that know nothing of it.
    """
    bare = np.asarray((linear >= NO_INK_LIGHT).all(axis=0))
    bare &= ~_reaches_edge(bare)
    numbered, _ = label(bare, _EIGHT_NEIGHBOURS)
    light = linear.mean(axis=0)
    found = []
    for number, around in enumerate(find_objects(numbered), start=1):
        area = numbered[around] == number
        share = float(area.sum()) / bare.size
        if share >= LEAST_AREA:
            source = _is_light_source(light, numbered == number)
            found.append(BareArea(share=share, is_light_source=source))
    return tuple(sorted(found, key=lambda it: -it.share))


def _is_light_source(light: NDArray[np.float32], area: Mask) -> bool:
    distance_px = distance_transform_edt(~area)
    radius_px = max(sqrt(float(area.sum()) / pi), 4 * _RIM_PX[1])
    beside = (distance_px >= _RIM_PX[0]) & (distance_px < _RIM_PX[1])
    farther = (distance_px >= 0.7 * radius_px) & (distance_px < 1.3 * radius_px)
    if not beside.any() or not farther.any():
        return False
    near, far = float(np.median(light[beside])), float(np.median(light[farther]))
    return near <= _RIM_LIGHT and near >= _GLOW * far


def _reaches_edge(mask: Mask) -> Mask:
    """Pixels from which a straight way in the mask leads to the picture's edge."""
    ways = []
    for axis in (0, 1):
        ways.append(np.logical_and.accumulate(mask, axis=axis))
        back = np.flip(np.logical_and.accumulate(np.flip(mask, axis), axis=axis), axis)
        ways.append(back)
    return np.asarray(np.logical_or.reduce(ways))
