"""What does one print do to detail before any sharpening?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printplan.sharpening.eye import (
    FINEST_SEEN_CYCLES_DEG,
    PAPER_WHITE_CD_M2,
    contrast_sensitivity,
    cycles_per_degree,
    luminance_of_l,
)
from printplan.sharpening.noise import NoiseBands, noise_bands
from printplan.sharpening.response import (
    ENLARGEMENTS,
    NYQUIST_CYCLES_PX,
    SpreadCurve,
    cycles_per_mm,
    gaussian_mtf,
    resampler_mtf,
    spread_mtf,
    steps_to,
)
from printplan.spec import HIGHEST_PPI, LOWEST_PPI
from printplan.validation import require, require_alike, require_numbers

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


SOFTNESS_PX = (0.0, 20.0)
"""Softness of edges that is taken, in print pixels: our choice."""

_SEEN_STEPS = 200


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
    master_edge_sigma_px : float
        Standard deviation of the master's own edges, in print pixels; the default is
        near that of sharp photographs, our choice.
    enlargement : float
        Print pixels per master pixel.
    distance_mm : float
        Eye to paper.
    luminance_cd_m2 : float
        Of the paper's white.
    lightness_l : float
        Tone that is looked at.

    Notes
    -----
    Print pixels count as the samples they are. The square that a printer may lay down
    for each would take sinc(f) more, a tenth at 0.25 cycles per pixel; printers differ
    in it, and it is left out of prediction and choice alike.

    Examples
    --------
    >>> chain = Chain(spread=50, ppi=300, distance_mm=400)
    >>> half = response_before(chain, np.array([0.25]))[0]  # at half the finest pattern
    >>> bool(0 < half < spread_mtf(0.25 * 300 / 25.4, 50.0))  # less than paper alone
    True
    """

    spread: float | SpreadCurve
    ppi: float
    distance_mm: float
    master_edge_sigma_px: float = 0.55
    enlargement: float = 1.0
    luminance_cd_m2: float = PAPER_WHITE_CD_M2
    lightness_l: float = 50.0

    def __post_init__(self) -> None:
        if not isinstance(self.spread, SpreadCurve):
            require("Paper spread", self.spread, 0, 500, "µm")
        require("Resolution", self.ppi, LOWEST_PPI, HIGHEST_PPI, "ppi")
        require("Master softness", self.master_edge_sigma_px, *SOFTNESS_PX, "print px")
        require(
            "Enlargement", self.enlargement, *ENLARGEMENTS, "print px per master px"
        )
        require("Viewing distance", self.distance_mm, 50, 50_000, "mm")
        require("Paper white", self.luminance_cd_m2, 1, 10_000, "cd/m²")
        require("Lightness", self.lightness_l, 8, 100, "L*")


def response_before(
    chain: Chain, cycles_per_px: Floats, *, edge_sigma_px: float | None = None
) -> Floats:
    """
    Contrast left by master, resampling, printer and paper.

    Parameters
    ----------
    cycles_per_px : ndarray of float64
    edge_sigma_px : float, optional
        In place of the master's.

    Returns
    -------
    ndarray of float64

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    softness = chain.master_edge_sigma_px if edge_sigma_px is None else edge_sigma_px
    on_paper = spread_mtf(cycles_per_mm(cycles_per_px, chain.ppi), chain.spread)
    return on_paper * response_in_file(chain, cycles_per_px, softness)


def response_in_file(
    chain: Chain, cycles_per_px: Floats, edge_sigma_px: float
) -> Floats:
    """
    Contrast left by master and resampling.

    Parameters
    ----------
    cycles_per_px : ndarray of float64
    edge_sigma_px : float
        Of the master's edges, in print pixels.

    Returns
    -------
    ndarray of float64

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    require("Softness", edge_sigma_px, *SOFTNESS_PX, "print px")
    return gaussian_mtf(cycles_per_px, edge_sigma_px) * resampler_mtf(
        cycles_per_px, chain.enlargement
    )


def highest_seen_cycles_px(chain: Chain) -> float:
    """
    Finest pattern that both the file can hold and the eye can see.

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
    cycles_per_px : ndarray of float64, shape (frequencies,)

    Returns
    -------
    ndarray of float64, shape (frequencies,)
        Sums to 1.
    """
    luminance = luminance_of_l(chain.lightness_l, chain.luminance_cd_m2)
    weight = contrast_sensitivity(to_degrees(chain, cycles_per_px), luminance)
    return np.asarray(weight / weight.sum())


def weighted_error(weight: Floats, response: Floats) -> float:
    """
    Root mean square of what is missing or too much, weighted by the eye.

    Parameters
    ----------
    weight : ndarray of float64, shape (frequencies,)
        From `eye_weight`.
    response : ndarray of float64, shape (frequencies,)

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    require_alike("Weights and responses", weight, response)
    require_numbers("Weights", weight, 0, 1, "(shares)")
    require_numbers("Responses", response, -1000, 1000, "(contrast left)")
    return float(np.sqrt(weight @ (response - 1) ** 2))


def noise_of(chain: Chain) -> NoiseBands:
    """What each channel of the eye gets of the picture's noise."""
    return noise_bands(
        spread=chain.spread,
        ppi=chain.ppi,
        enlargement=chain.enlargement,
        degrees_per_cycle_mm=float(cycles_per_degree(1.0, chain.distance_mm)),
        highest_cycles_px=highest_seen_cycles_px(chain),
        luminance_cd_m2=chain.luminance_cd_m2,
        lightness_l=chain.lightness_l,
    )
