"""Does a finished picture still hold what its master has?"""

from __future__ import annotations

from threading import Lock
from typing import TYPE_CHECKING

import numpy as np

from printplan.errors import RenderError
from printplan.sharpening.lightness import cie_lightness

if TYPE_CHECKING:
    from numpy.typing import NDArray

DETAIL_L = 10.0
"""L* between the darkest and the lightest light of a channel from which a picture has
detail. Our choice: far above the noise of a picture of one grey card."""


class LastLook:
    """
    Takes note of a picture's light and of the numbers made of it, part by part.

    Notes
    -----
    Parts may come from several threads. As soon as both are known to vary, nothing more
    is looked at.
    """

    def __init__(self) -> None:
        self._darkest: NDArray[np.float32] | None = None
        self._lightest: NDArray[np.float32] | None = None
        self._value: NDArray[np.uint16] | None = None
        self._varies = False
        self._lock = Lock()

    def at_light(self, linear: NDArray[np.float32]) -> None:
        """
        Take note of a part of the master's picture.

        Parameters
        ----------
        linear : ndarray of float32, shape (channels, rows, columns)
            Linear light.
        """
        if self._has_detail:
            return
        darkest, lightest = linear.min(axis=(1, 2)), linear.max(axis=(1, 2))
        with self._lock:
            if self._darkest is not None and self._lightest is not None:
                darkest = np.minimum(darkest, self._darkest)
                lightest = np.maximum(lightest, self._lightest)
            self._darkest, self._lightest = darkest, lightest

    def at_codes(self, codes: NDArray[np.uint16]) -> None:
        """
        Take note of the numbers that the file holds of a part.

        Parameters
        ----------
        codes : ndarray of uint16, shape (rows, columns, channels)
        """
        if self._varies:
            return
        with self._lock:
            if self._value is None:
                self._value = codes[0, 0].copy()
        if (codes != self._value).any():
            self._varies = True

    def require_detail(self) -> None:
        """
        Refuse one single value in the place of a picture.

        Raises
        ------
        RenderError
            If all numbers are the same and the light has detail (`DETAIL_L`).
        """
        if self._varies or not self._has_detail:
            return
        low, high = self._range_l()
        raise RenderError(
            f"The picture has tones from L* {low:.0f} to {high:.0f}, and its file "
            "would hold one single value.",
            remedy="Turn black point compensation on, or choose another rendering "
            "intent; if that does not help, use a sound profile made for this paper.",
        )

    @property
    def _has_detail(self) -> bool:
        low, high = self._range_l()
        return high - low >= DETAIL_L

    def _range_l(self) -> tuple[float, float]:
        """L* of the channel that varies most, from black to white."""
        with self._lock:
            if self._darkest is None or self._lightest is None:
                return 0.0, 0.0
            light = np.stack([self._darkest, self._lightest]).astype(np.float64)
        low, high = cie_lightness(np.clip(np.nan_to_num(light), 0.0, 1.0))
        widest = int((high - low).argmax())
        return float(low[widest]), float(high[widest])


def require_numbers(linear: NDArray[np.float32]) -> None:
    """
    Refuse computed light that is not a number: it would print as black.

    Parameters
    ----------
    linear : ndarray of float32, shape (channels, rows, columns)

    Raises
    ------
    RenderError
    """
    # What is no number is both; found in half the time of a sum.
    if not np.isfinite([linear.min(), linear.max()]).all():
        raise RenderError(
            "The picture cannot be computed: some of its light is not a number.",
            remedy="Export the master again with a sound profile embedded.",
        )
