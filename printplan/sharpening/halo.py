"""How high and wide is the halo of a sharpened edge, in file and print?"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, log, pi, sqrt
from typing import TYPE_CHECKING

import numpy as np

from printplan.sharpening.chain import Chain, response_before, response_in_file
from printplan.sharpening.edge_lines import steps_to_level
from printplan.sharpening.kernel import sigma_of
from printplan.sharpening.response import (
    SpreadCurve,
    sigma_at_half,
    steps_to,
    unsharp_mtf,
)
from printplan.units import px_from_mm
from printplan.validation import LARGEST, require, require_alike, require_numbers

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.sharpening.kernel import Blur

    Floats = NDArray[np.float64]


PIXEL_SIGMA_PX = 1 / sqrt(12)
"""Standard deviation of one pixel's own square: no edge in pixels is sharper."""

# A Gaussian's response is 1e-5 at 0.764 / σ.
_LAST_RESPONSE = sqrt(log(1e5) / 2) / pi


@dataclass(frozen=True, slots=True, kw_only=True)
class Halo:
    """
    What sharpening leaves beside an edge of height 1.

    Attributes
    ----------
    overshoot : float
        Share of the edge's height by which it is passed, 0 or more, equal on the
        light and the dark side.
    width : float
        From where half of the overshoot is reached to where it is left again, in the
        unit of the positions; 0 without overshoot.
    """

    overshoot: float
    width: float


def edge_of_response(position: Floats, frequency: Floats, response: Floats) -> Floats:
    """
    Profile of an ideal edge that has passed a response.

    Parameters
    ----------
    position : ndarray of float64, shape (positions,)
        Distance from the middle of the edge.
    frequency : ndarray of float64, shape (frequencies,)
        Middles of even steps from 0 to where the response has died away, in cycles
        per unit of position; see `edge_frequencies`.
    response : ndarray of float64, shape (frequencies,) or (frequencies, responses)

    Returns
    -------
    ndarray of float64, shape (positions,) or (positions, responses)

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    require_alike("Frequencies and responses", frequency, response)
    require_numbers("Frequencies", frequency, 1e-9, LARGEST, "cycles per unit")
    require_numbers("Positions", position, -LARGEST, LARGEST, "units of length")
    require_numbers("Responses", response, -LARGEST, LARGEST, "(contrast left)")
    step = 2 * frequency[0]
    waves = np.sin(2 * pi * position[:, np.newaxis] * frequency) / (pi * frequency)
    # einsum wakes no threads; see `kernel_mtf`.
    return np.asarray(0.5 + step * np.einsum("pf,f...->p...", waves, response))


def edge_frequencies(softness: float, farthest: float) -> Floats:
    """
    Frequencies fine enough for `edge_of_response`.

    Parameters
    ----------
    softness : float
        Standard deviation of the sharpest part of the chain, above 0.
    farthest : float
        Largest distance from the edge that is looked at, in the same unit.

    Returns
    -------
    ndarray of float64
        The sum repeats the edge mirrored after half a period, which lies twice as
        far out.

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    require("Softness", softness, 1e-6, LARGEST, "units of length")
    require("Farthest place", farthest, 0, 10_000 * softness, "units of length")
    highest = _LAST_RESPONSE / softness
    count = int(4 * highest * farthest) + 64
    return steps_to(highest, count)


def halo_of(position: Floats, edge: Floats) -> Halo:
    """
    Height and width of the halo on the light side of an edge.

    Parameters
    ----------
    position : ndarray of float64, shape (positions,)
        Rising in even steps, from the middle of the edge outwards.
    edge : ndarray of float64, shape (positions,)
        From 0 on the dark side to 1 on the light side.

    Raises
    ------
    SpecError
        If a number is outside its range.

    Examples
    --------
    >>> position = np.linspace(0, 4, 4001)
    >>> edge = 1 + 0.1 * np.exp(-0.5 * ((position - 2) / 0.2) ** 2)
    >>> halo = halo_of(position, edge)  # a bell of 0.1, 2.355 · 0.2 wide at half height
    >>> round(halo.overshoot, 3), round(halo.width, 3)
    (0.1, 0.471)
    """
    require_alike("Positions and places of the edge", position, edge)
    require("Number of positions", position.size, 2, LARGEST, "places")
    require_numbers("Positions", position, -LARGEST, LARGEST, "units of length")
    require_numbers("Places of the edge", edge, -1000, 1000, "of its step")
    above = edge - 1
    top = int(above.argmax())
    overshoot = float(above[top])
    # Below a millionth of the edge there is rounding, not halo.
    if overshoot < 1e-6:
        return Halo(overshoot=0.0, width=0.0)
    half = overshoot / 2
    step = float(position[1] - position[0])
    inner, outer = above[: top + 1][::-1], above[top:]
    return Halo(
        overshoot=overshoot,
        width=step
        * sum(
            min(float(steps_to_level(-side, -half)), side.size - 1)
            for side in (inner, outer)
        ),
    )


def halo_arcmin(width_mm: float, distance_mm: float) -> float:
    """
    Angle that a halo's width takes at the eye.

    Returns
    -------
    float
        Minutes of arc.

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    require("Width of the halo", width_mm, 0, LARGEST, "mm")
    require("Viewing distance", distance_mm, 1, LARGEST, "mm")
    return width_mm / distance_mm * 180 / pi * 60


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
    return sigma_at_half(probe, edge_response(chain, probe))


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
