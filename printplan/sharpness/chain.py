"""What does one print do to detail before any sharpening?"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot
from typing import TYPE_CHECKING

import numpy as np

from printplan.sharpness.choice import require
from printplan.sharpness.eye import (
    FINEST_SEEN_CYCLES_DEG,
    cycles_per_degree,
    luminance_of_l,
    sensitivity,
)
from printplan.sharpness.halo import (
    PIXEL_SIGMA_PX,
    Halo,
    edge_frequencies,
    edge_of_response,
    halo_of,
)
from printplan.sharpness.resampling import resampler_mtf
from printplan.sharpness.response import (
    GAUSSIAN_MTF50,
    NYQUIST_CYCLES_PX,
    SpreadCurve,
    cycles_per_mm,
    gaussian_mtf,
    spread_mtf,
    steps_to,
    unsharp_mtf,
)
from printplan.sharpness.visible_noise import NoiseBands, noise_bands
from printplan.spec import HIGHEST_PPI, LOWEST_PPI
from printplan.units import px_from_mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_SEEN_STEPS = 200
_EDGE_SIGMAS = 8.0
_EDGE_POSITIONS = 240


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """
    Master, resampling, paper and viewer of one print.

    Attributes
    ----------
    spread : float or SpreadCurve
        Of printer and paper: standard deviation in µm, or a measured curve.
    ppi : float
        Print pixels per inch.
    master_softness_px : float
        Standard deviation of the master's own edges, in print pixels.
    enlargement : float
        Print pixels per master pixel.
    distance_mm : float
        Eye to paper.
    luminance_cd_m2 : float
        Of the paper's white.
    lightness_l : float
        Tone that is looked at.
    """

    spread: float | SpreadCurve
    ppi: float
    master_softness_px: float
    enlargement: float
    distance_mm: float
    luminance_cd_m2: float
    lightness_l: float

    def __post_init__(self) -> None:
        if not isinstance(self.spread, SpreadCurve):
            require("Paper spread", self.spread, 0, 500, "µm")
        require("Resolution", self.ppi, LOWEST_PPI, HIGHEST_PPI, "ppi")
        require("Master softness", self.master_softness_px, 0, 20, "print px")
        require("Enlargement", self.enlargement, 0.02, 50, "print px per master px")
        require("Viewing distance", self.distance_mm, 50, 50_000, "mm")
        require("Paper white", self.luminance_cd_m2, 1, 10_000, "cd/m²")
        require("Lightness", self.lightness_l, 8, 100, "L*")


def response_before(
    chain: Chain, cycles_per_px: Floats, *, softness_px: float | None = None
) -> Floats:
    """
    Contrast left by master, resampling, printer and paper.

    Parameters
    ----------
    chain : Chain
    cycles_per_px : ndarray of float64
    softness_px : float, optional
        In place of the master's.

    Returns
    -------
    ndarray of float64
    """
    softness = chain.master_softness_px if softness_px is None else softness_px
    on_paper = spread_mtf(cycles_per_mm(cycles_per_px, chain.ppi), chain.spread)
    return on_paper * _response_in_file(chain, cycles_per_px, softness)


def _response_in_file(
    chain: Chain, cycles_per_px: Floats, softness_px: float
) -> Floats:
    return gaussian_mtf(cycles_per_px, softness_px) * resampler_mtf(
        cycles_per_px, chain.enlargement
    )


def highest_seen_cycles_px(chain: Chain) -> float:
    """
    Finest pattern that both the file can hold and the eye can see.

    Parameters
    ----------
    chain : Chain

    Returns
    -------
    float
        Cycles per print pixel, up to 0.5.
    """
    one_cycle_px = float(to_degrees(chain, np.ones(1))[0])
    return min(NYQUIST_CYCLES_PX, FINEST_SEEN_CYCLES_DEG / one_cycle_px)


def to_degrees(chain: Chain, cycles_per_px: Floats) -> Floats:
    """
    Spatial frequency at the eye.

    Parameters
    ----------
    chain : Chain
    cycles_per_px : ndarray of float64

    Returns
    -------
    ndarray of float64
        Cycles per degree.
    """
    return cycles_per_degree(cycles_per_mm(cycles_per_px, chain.ppi), chain.distance_mm)


def seen_frequencies(chain: Chain) -> Floats:
    """
    Even steps over all patterns that count.

    Parameters
    ----------
    chain : Chain

    Returns
    -------
    ndarray of float64, shape (200,)
        Cycles per print pixel, middles of the steps.
    """
    return steps_to(highest_seen_cycles_px(chain), _SEEN_STEPS)


def eye_weight(chain: Chain, cycles_per_px: Floats) -> Floats:
    """
    The eye's sensitivity to patterns in the print, as shares.

    Parameters
    ----------
    chain : Chain
    cycles_per_px : ndarray of float64, shape (frequencies,)

    Returns
    -------
    ndarray of float64, shape (frequencies,)
        Sums to 1.
    """
    luminance = luminance_of_l(chain.lightness_l, chain.luminance_cd_m2)
    weight = sensitivity(to_degrees(chain, cycles_per_px), luminance)
    return np.asarray(weight / weight.sum())


def weighted_error(weight: Floats, response: Floats) -> float:
    """
    Root mean square of what is missing or too much, weighted by the eye.

    Parameters
    ----------
    weight : ndarray of float64, shape (frequencies,)
        From `eye_weight`.
    response : ndarray of float64, shape (frequencies,)

    Returns
    -------
    float
    """
    return float(np.sqrt(weight @ (response - 1) ** 2))


def noise_of(chain: Chain) -> NoiseBands:
    """
    What each channel of the eye gets of the picture's noise.

    Parameters
    ----------
    chain : Chain

    Returns
    -------
    NoiseBands
    """
    return noise_bands(
        spread=chain.spread,
        ppi=chain.ppi,
        enlargement=chain.enlargement,
        degrees_per_cycle_mm=float(cycles_per_degree(1.0, chain.distance_mm)),
        highest_cycles_px=highest_seen_cycles_px(chain),
        luminance_cd_m2=chain.luminance_cd_m2,
        lightness_l=chain.lightness_l,
    )


def edge_grid(chain: Chain, *, reach_px: float = 0.0) -> tuple[Floats, Floats]:
    """
    Positions beside an edge in the print, and frequencies that describe it there.

    Parameters
    ----------
    chain : Chain
    reach_px : float, optional
        Distance that the positions cover besides the edge's own width.

    Returns
    -------
    tuple of ndarray of float64
        Positions in print pixels, from the middle outwards, and cycles per pixel.
    """
    farthest = _EDGE_SIGMAS * printed_softness_px(chain) + reach_px
    sharpest = _edge_softness_px(chain)
    if not isinstance(chain.spread, SpreadCurve):
        sharpest = hypot(sharpest, px_from_mm(chain.spread / 1000, chain.ppi))
    position = np.linspace(0.0, farthest, _EDGE_POSITIONS, dtype=np.float64)
    return position, edge_frequencies(sharpest, farthest)


def printed_softness_px(chain: Chain) -> float:
    """
    Softness of the picture's edges in the print without sharpening.

    Parameters
    ----------
    chain : Chain

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
    chain : Chain
    cycles_per_px : ndarray of float64

    Returns
    -------
    ndarray of float64
    """
    return response_before(chain, cycles_per_px, softness_px=_edge_softness_px(chain))


def _edge_softness_px(chain: Chain) -> float:
    """Softness of edges: a pixel's own width at least."""
    return max(chain.master_softness_px, PIXEL_SIGMA_PX)


def halos(chain: Chain, gain: float, radius_px: float) -> tuple[Halo, Halo]:
    """
    Halo of the picture's edges after sharpening.

    Parameters
    ----------
    chain : Chain
    gain, radius_px : float

    Returns
    -------
    tuple of Halo
        In the file and in the print, widths in print pixels.
    """
    reach_px = 4 * radius_px
    position, in_print = edge_grid(chain, reach_px=reach_px)
    softness = _edge_softness_px(chain)
    in_file = edge_frequencies(softness, float(position[-1]))
    found = []
    for frequency, before in (
        (in_file, _response_in_file(chain, in_file, softness)),
        (in_print, edge_response(chain, in_print)),
    ):
        after = before * unsharp_mtf(frequency, gain=gain, radius_px=radius_px)
        found.append(halo_of(position, edge_of_response(position, frequency, after)))
    return found[0], found[1]
