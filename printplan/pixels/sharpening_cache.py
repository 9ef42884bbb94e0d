"""Keep what a window's sharpening begins with, while it is tried."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from printplan.sharpening.lightness import lighten
from printplan.sharpening.unsharp import blurred, sharpening_input, without_ringing

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from printplan.pixels.tiles import LinearTiles
    from printplan.sharpening.unsharp import SharpeningInput
    from printplan.sizing.layout import Box


_KEPT = 8
"""Regions: a window is worked on in four, and two windows may be looked at."""

_LARGEST_KEPT_PX = 440_000
"""Of a region; all that are kept are then less than 90 MiB."""


class SharpeningCache:
    """
    What sharpening begins with, of a picture's regions, and their blurs.

    Those of the latest small regions are kept, so that a move of the gain computes
    neither again. They are bit for bit what would be computed.

    Parameters
    ----------
    tiles : LinearTiles
        The master at print size.
    weights : ndarray of float64, shape (channels,)
        Luminance of each of its channels.
    """

    def __init__(self, tiles: LinearTiles, weights: NDArray[np.float64]) -> None:
        self._tiles = tiles
        self._weights = weights
        self._kept_start = lru_cache(_KEPT)(self._start)
        self._kept_blur = lru_cache(_KEPT)(blurred)
        self._kept_around = lru_cache(_KEPT)(self._around)

    def start(self, region: Box, lighten_l: float) -> SharpeningInput:
        """
        The start of a region.

        Parameters
        ----------
        region : Box
            In pixels of the picture.
        lighten_l : float
            See `printplan.sharpening.lightness.lighten`.

        Returns
        -------
        SharpeningInput
            Not to be changed.
        """
        small = region.width * region.height <= _LARGEST_KEPT_PX
        return (self._kept_start if small else self._start)(region, lighten_l)

    def blur(self, start: SharpeningInput, radius_px: float) -> NDArray[np.float32]:
        """
        Its lightness through the mask's Gaussian.

        Parameters
        ----------
        radius_px : float
            Standard deviation.

        Returns
        -------
        ndarray of float32, shape (rows, columns)
            Not to be changed.
        """
        small = start.lightness.size <= _LARGEST_KEPT_PX
        return (self._kept_blur if small else blurred)(start, radius_px)

    def around(self, region: Box, lighten_l: float) -> NDArray[np.float32]:
        """
        Lightness that halos of a region are held to.

        Parameters
        ----------
        region : Box
            In pixels of the picture.
        lighten_l : float
            As for `start`.

        Returns
        -------
        ndarray of float32, shape (rows, columns)
            See `without_ringing`; not to be changed.
        """
        small = region.width * region.height <= _LARGEST_KEPT_PX
        return (self._kept_around if small else self._around)(region, lighten_l)

    def around_of(
        self, start: SharpeningInput, region: Box, lighten_l: float
    ) -> NDArray[np.float32]:
        """
        The same for a start that is at hand.

        Returns
        -------
        ndarray of float32, shape (rows, columns)
        """
        near = self._tiles.tones_near(region, self._weights)
        return without_ringing(start, near, lighten_l)

    def _around(self, region: Box, lighten_l: float) -> NDArray[np.float32]:
        return self.around_of(self.start(region, lighten_l), region, lighten_l)

    def _start(self, region: Box, lighten_l: float) -> SharpeningInput:
        linear = self._tiles.region(region)
        if lighten_l != 0:
            lighten(linear, self._weights, lighten_l)
        return sharpening_input(linear, self._weights)
