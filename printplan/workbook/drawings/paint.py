"""How is a quantity laid over a picture?"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
import numpy as np
from PIL import Image

from printplan.colour.losses import DEAD, OUT_OF_GAMUT
from printplan.errors import SpecError

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Bytes = NDArray[np.uint8]


FULL_REACH_DELTA_E = 16.0
"""Distance at the end of the scale; what is farther looks the same. Our choice."""

# The light half of a perceptual scale, from L* 55 to 95. The dark half is left out:
# from blue to yellow it passes grey for people without red or green cones, and
# nothing dark is seen on shadows.
_SCALE_NAME, _SCALE_START = "plasma", 0.55

# Paint grows from nothing at the first distance to its thickest at the second, and
# never hides the picture. In-gamut colours come back within about 1.1, so at that
# distance hardly any is laid on. Chosen by eye on three photographs.
_BARE_DELTA_E, _THICK_DELTA_E = 0.5, 2.0 * OUT_OF_GAMUT
_BARE_LOST, _THICK_LOST = 0.1, 0.8
_THICKEST = 0.7

# The picture underneath is grey, and its shadows are lifted so that paint has
# something to lie on. Chosen by eye.
_LIFT_GAMMA, _LIFT_BASE, _LIFT_GAIN = 0.7, 20.0, 0.75

_HATCH_STEP_PX, _HATCH_WIDTH_PX = 12, 2
_HATCH_TONE = (20, 20, 20)


def paint_reach(
    picture_rgb: Bytes, distance: NDArray[np.floating[Any]]
) -> NDArray[np.uint8]:
    """
    Lay distances from what the paper can hold over a picture.

    Parameters
    ----------
    picture_rgb : ndarray of uint8, shape (rows, columns, 3)
        sRGB; shown grey, so that every colour in the result is paint.
    distance : ndarray of float, shape (rows, columns)
        dE00.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB. Bare picture at 0, then from rose through orange to light yellow at
        `FULL_REACH_DELTA_E` and beyond.

    Raises
    ------
    SpecError
        If the two have not the same size.

    Examples
    --------
    >>> grey = np.full((1, 3, 3), 128, np.uint8)
    >>> painted = paint_reach(grey, np.array([[0.0, 0.4, 9.0]]))
    >>> [bool(np.ptp(pixel) > 0) for pixel in painted[0]]
    [False, False, True]
    """
    _require_same_size(picture_rgb, distance)
    levels = _in_levels(distance, 255 / FULL_REACH_DELTA_E)
    return _painted(picture_rgb, levels, _reach_paint())


def paint_separation(
    picture_rgb: Bytes, left: NDArray[np.floating[Any]]
) -> NDArray[np.uint8]:
    """
    Lay lost separation over a picture.

    Parameters
    ----------
    picture_rgb : ndarray of uint8, shape (rows, columns, 3)
        sRGB; shown grey.
    left : ndarray of float, shape (rows, columns)
        Separation left, of tone or of chroma: 1 keeps all.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB. Bare picture where all is kept, light yellow where nothing is; hatched
        as well where detail has merged (`separation.DEAD`).

    Raises
    ------
    SpecError
        If the two have not the same size.
    """
    _require_same_size(picture_rgb, left)
    lost = 1.0 - np.asarray(left, np.float32)
    painted = _painted(picture_rgb, _in_levels(lost, 255.0), _separation_paint())
    rows, columns = painted.shape[:2]
    across = np.arange(rows)[:, None] + np.arange(columns)[None]
    hatched = (across % _HATCH_STEP_PX < _HATCH_WIDTH_PX) & (left < DEAD)
    painted[hatched] = _HATCH_TONE
    return painted


def _require_same_size(picture_rgb: Bytes, values: NDArray[np.floating[Any]]) -> None:
    if picture_rgb.shape != (*values.shape, 3):
        raise SpecError(
            f"The picture has the shape {picture_rgb.shape} and its map "
            f"{values.shape}.",
            remedy="Take both from one overview: the picture's box and its map.",
        )


def _in_levels(values: NDArray[np.floating[Any]], per_unit: float) -> Bytes:
    scaled = np.asarray(values, np.float32) * np.float32(per_unit)
    return np.clip(scaled, 0, 255, out=scaled).astype(np.uint8)


def _painted(picture_rgb: Bytes, levels: Bytes, paint: NDArray[np.uint32]) -> Bytes:
    """Read each pixel's colour from a table of tone and level."""
    tones = np.asarray(Image.fromarray(picture_rgb).convert("L"))
    places = tones.astype(np.uint16)
    places <<= 8
    places |= levels
    colours = np.take(paint, places).view(np.uint8).reshape(*levels.shape, 4)
    return np.ascontiguousarray(colours[..., :3])


@lru_cache(maxsize=1)
def _reach_paint() -> NDArray[np.uint32]:
    distance = np.arange(256) * (FULL_REACH_DELTA_E / 255)
    return _paint_table(_rise(distance, _BARE_DELTA_E, _THICK_DELTA_E))


@lru_cache(maxsize=1)
def _separation_paint() -> NDArray[np.uint32]:
    return _paint_table(_rise(np.arange(256) / 255, _BARE_LOST, _THICK_LOST))


def _rise(
    values: NDArray[np.floating[Any]], bare: float, thick: float
) -> NDArray[np.float64]:
    """Thickness of paint: flat at both ends, so that no edge is drawn by it."""
    share = np.clip((values - bare) / (thick - bare), 0.0, 1.0)
    return np.asarray(_THICKEST * share * share * (3 - 2 * share))


def _paint_table(thickness: NDArray[np.float64]) -> NDArray[np.uint32]:
    """Red, green, blue and a spare byte for each of 256 tones and 256 levels."""
    scale = mpl.colormaps[_SCALE_NAME](np.linspace(_SCALE_START, 1.0, 256))[:, :3]
    tones = 255 * (np.arange(256) / 255) ** _LIFT_GAMMA * _LIFT_GAIN + _LIFT_BASE
    under = tones[:, None, None] * (1 - thickness)[None, :, None]
    over = 255 * scale * thickness[:, None]
    table = np.zeros((256, 256, 4), np.uint8)
    table[..., :3] = np.rint(under + over[None])
    return table.view(np.uint32).ravel()


_SCALE_TONES = (40, 128, 215)
_SCALE_STEPS = 512


def scale_picture(
    paint: Callable[[NDArray[np.uint8], NDArray[np.float64]], NDArray[np.uint8]],
    first: float,
    last: float,
) -> NDArray[np.uint8]:
    """
    Paint from one value to another, over a dark, a middle and a light tone.

    Parameters
    ----------
    paint : callable
        `paint_reach` or `paint_separation`.
    first, last : float
        At the left and the right end.

    Returns
    -------
    ndarray of uint8, shape (rows, 512, 3)
        So the scale is read on the tones that a picture has.
    """
    tones = np.repeat(np.array(_SCALE_TONES, np.uint8), 12)
    ground = np.broadcast_to(tones[:, None, None], (len(tones), _SCALE_STEPS, 3))
    values = np.broadcast_to(
        np.linspace(first, last, _SCALE_STEPS), (len(tones), _SCALE_STEPS)
    )
    return paint(np.ascontiguousarray(ground), values)
