"""How does the whole file look at reduced size, or averaged for a coarser screen?"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from printplan.colour.spaces import decode, encode
from printplan.spec import NamedSpace
from printplan.workbook.panels.looks import unsharpened

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.workbook.loupe.sides import Side

    Bytes = NDArray[np.uint8]
    Floats = NDArray[np.float32]

_OVERVIEWS_KEPT = 6


class OverviewStore:
    """
    Overviews in screen colour that outlive a change of sharpening.

    Notes
    -----
    An overview is never sharpened, so those of plans that differ in sharpening alone
    are the same.
    """

    def __init__(self) -> None:
        self._kept: deque[tuple[Side, PrintPlan, int, Bytes]] = deque(
            maxlen=_OVERVIEWS_KEPT
        )

    def shown(self, sheet: Sheet, side: Side, longest_px: int) -> Bytes:
        """
        The whole file, reduced, as a side shows it.

        Parameters
        ----------
        sheet : Sheet
            The side's own.
        side : Side
        longest_px : int

        Returns
        -------
        ndarray of uint8, shape (rows, columns, 3)
            sRGB; not to be changed.

        Raises
        ------
        PrintPlanError
            As for `Sheet.overview`.
        """
        plan = unsharpened(sheet).plan
        for kept, old_plan, old_px, pixels in list(self._kept):
            same_look = kept.appearance == side.appearance
            if same_look and old_px == longest_px and old_plan == plan:
                return pixels
        codes = sheet.overview(longest_px).pixels
        made = (
            in_8_bits(codes)
            if side.appearance is None
            else sheet.proof(codes, side.appearance)
        )
        self._kept.append((side, plan, longest_px, made))
        return made


def averaged(pixels: Bytes, size_px: tuple[int, int]) -> Bytes:
    """
    Means of light over the squares of the screen's pixels.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (rows, columns, 3)
        sRGB.
    size_px : tuple of int
        Width and height wanted.

    Returns
    -------
    ndarray of uint8, shape (height, width, 3)
        sRGB.
    """
    light = decode(NamedSpace.SRGB, pixels / 255.0)
    planes = [
        mean_of(np.ascontiguousarray(light[..., channel], np.float32), size_px)
        for channel in range(light.shape[-1])
    ]
    means = np.clip(np.stack(planes, axis=-1), 0.0, 1.0).astype(np.float64)
    return np.rint(encode(NamedSpace.SRGB, means) * 255).astype(np.uint8)


def mean_of(plane: Floats, size_px: tuple[int, int]) -> Floats:
    """
    Means of a quantity over the squares of the screen's pixels.

    Parameters
    ----------
    plane : ndarray of float32, shape (rows, columns)
    size_px : tuple of int
        Width and height wanted; where it is finer, values repeat.

    Returns
    -------
    ndarray of float32, shape (height, width)
    """
    image = Image.fromarray(plane)
    return np.asarray(image.resize(size_px, Image.Resampling.BOX), np.float32)


def in_8_bits(codes: NDArray[np.uint8] | NDArray[np.uint16]) -> Bytes:
    """
    Screen values as a browser takes them.

    Parameters
    ----------
    codes : ndarray of uint8 or uint16
        sRGB.

    Returns
    -------
    ndarray of uint8
        Rounded to the nearest.
    """
    if codes.dtype == np.uint8:
        return codes.astype(np.uint8, copy=False)
    return ((codes.astype(np.uint32) + 128) // 257).astype(np.uint8)
