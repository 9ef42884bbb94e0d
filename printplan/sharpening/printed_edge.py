"""What becomes of the picture's edges in the file and in the print?"""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING

import numpy as np

from printplan.sharpening.chain import Chain, response_before, response_in_file
from printplan.sharpening.halo import (
    PIXEL_SIGMA_PX,
    Halo,
    edge_frequencies,
    edge_of_response,
    halo_of,
)
from printplan.sharpening.kernel import sigma_of
from printplan.sharpening.response import GAUSSIAN_MTF50, SpreadCurve, unsharp_mtf
from printplan.units import px_from_mm
from printplan.validation import require

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.sharpening.kernel import Blur

    Floats = NDArray[np.float64]


_EDGE_SIGMAS = 8.0
_EDGE_POSITIONS = 240


def edge_grid(chain: Chain, *, reach_px: float = 0.0) -> tuple[Floats, Floats]:
    """
    Positions beside an edge in the print, and frequencies that describe it there.

    Parameters
    ----------
    reach_px : float, optional
        Distance that the positions cover besides the edge's own width.

    Returns
    -------
    tuple of ndarray of float64
        Positions in print pixels, from the middle outwards, and cycles per pixel.

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    require("Reach", reach_px, 0, 4000, "px")
    farthest = _EDGE_SIGMAS * printed_edge_sigma_px(chain) + reach_px
    sharpest = _edge_sigma_px(chain)
    if not isinstance(chain.spread, SpreadCurve):
        sharpest = hypot(sharpest, px_from_mm(chain.spread / 1000, chain.ppi))
    position = np.linspace(0.0, farthest, _EDGE_POSITIONS, dtype=np.float64)
    return position, edge_frequencies(sharpest, farthest)


def printed_edge_sigma_px(chain: Chain) -> float:
    """
    Softness of the picture's edges in the print without sharpening.

    Returns
    -------
    float
        Standard deviation of the Gaussian that halves the contrast at the same
        frequency, in print pixels.
    """
    probe = np.geomspace(1e-4, 10, 600, dtype=np.float64)
    half = float(probe[int((edge_response(chain, probe) < 0.5).argmax())])
    return GAUSSIAN_MTF50 / half


def edge_response(chain: Chain, cycles_per_px: Floats) -> Floats:
    """
    Contrast left of the sharpest edge that pixels hold, at least, in the print.

    Parameters
    ----------
    cycles_per_px : ndarray of float64

    Returns
    -------
    ndarray of float64
    """
    return response_before(chain, cycles_per_px, edge_sigma_px=_edge_sigma_px(chain))


def _edge_sigma_px(chain: Chain) -> float:
    """Softness of edges: a pixel's own width at least."""
    return max(chain.master_edge_sigma_px, PIXEL_SIGMA_PX)


def halos(chain: Chain, gain: float, blur: Blur) -> tuple[Halo, Halo]:
    """
    Halo of the picture's edges after sharpening.

    Returns
    -------
    tuple of Halo
        In the file and in the print, widths in print pixels.
    """
    reach_px = 4 * sigma_of(blur)
    position, in_print = edge_grid(chain, reach_px=reach_px)
    softness = _edge_sigma_px(chain)
    in_file = edge_frequencies(softness, float(position[-1]))
    found = []
    for frequency, before in (
        (in_file, response_in_file(chain, in_file, softness)),
        (in_print, edge_response(chain, in_print)),
    ):
        after = before * unsharp_mtf(frequency, gain=gain, blur=blur)
        found.append(halo_of(position, edge_of_response(position, frequency, after)))
    return found[0], found[1]
