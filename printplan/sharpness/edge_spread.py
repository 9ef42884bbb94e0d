"""What does one edge of a scan tell of the spread in its paper?"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import least_squares

from printplan.errors import SpecError
from printplan.sharpness.measure import FREQUENCY_CYCLES_PX, EdgeResponse
from printplan.sharpness.ranges import require
from printplan.sharpness.response import (
    NYQUIST_CYCLES_PX,
    SpreadCurve,
    cycles_per_px,
    spread_mtf,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LARGEST_RISE = 1.1
"""Response of print and paper, at most: ink and light only ever lose contrast, so more
is sharpening by the scanner. The tenth above 1 allows for errors; our choice."""

# Where a response is trusted: what is divided by, and what is divided, stand well
# above their errors. The hundredth stands for errors in the responses that are given.
# Our choice.
_LEAST_REFERENCE, _LEAST_SFR, _NOISES = 0.2, 0.1, 4.0
_REFERENCE_ERROR = 0.01
_FEWEST_FREQUENCIES = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownEdge:
    """
    A response that was itself measured on an edge.

    Attributes
    ----------
    edge : EdgeResponse
    ppi : float
        Resolution at which it was measured: the print file's, or the scan's.
    """

    edge: EdgeResponse
    ppi: float

    def __post_init__(self) -> None:
        require("Resolution of the known edge", self.ppi, 1, 100_000, "ppi")


Known = float | SpreadCurve | KnownEdge
"""A response known beforehand: a Gaussian's σ in µm, a curve, or a measured edge."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeSpread:
    """
    Response of print and paper at one edge, and the Gaussian in it.

    Attributes
    ----------
    response : ndarray of float64, shape (frequencies,)
        From frequency 0 to the last that is trusted.
    variance_mm2 : float
        Square of the Gaussian's standard deviation; below 0 where the scan is
        sharper than what it was printed from.
    error_mm2 : float
        Standard error of that.
    """

    response: Floats
    variance_mm2: float
    error_mm2: float


def known_response(cycles_per_mm: Floats, known: Known) -> Floats:
    """
    A response that is known beforehand, at given frequencies.

    Parameters
    ----------
    cycles_per_mm : ndarray of float64
        On paper.
    known : float, SpreadCurve or KnownEdge

    Returns
    -------
    ndarray of float64
        A measured edge counts as 0 beyond 1 cycle per pixel of its own.
    """
    if not isinstance(known, KnownEdge):
        return spread_mtf(cycles_per_mm, known)
    own = cycles_per_px(cycles_per_mm, known.ppi)
    edge = known.edge
    return np.interp(own, edge.frequency_cycles_px, edge.sfr, right=0.0)


def edge_spread(
    edge: EdgeResponse, reference: Floats, cycles_per_mm: Floats
) -> EdgeSpread:
    """
    Fit a Gaussian to what print and paper took from one edge.

    Parameters
    ----------
    edge : EdgeResponse
        Of the scan.
    reference : ndarray of float64, shape (257,)
        Response of file and scanner together, at the edge's frequencies.
    cycles_per_mm : ndarray of float64, shape (257,)
        Those frequencies on paper.

    Returns
    -------
    EdgeSpread

    Raises
    ------
    SpecError
        If too few frequencies can be trusted, or the scan was sharpened.
    """
    trusted = (
        (reference >= _LEAST_REFERENCE)
        & (edge.sfr >= np.maximum(_LEAST_SFR, _NOISES * edge.sfr_noise))
        & (FREQUENCY_CYCLES_PX <= NYQUIST_CYCLES_PX)
    )
    end = trusted.size if trusted.all() else int(np.argmin(trusted))
    if end <= _FEWEST_FREQUENCIES:
        raise SpecError(
            f"The edge can be trusted up to {cycles_per_mm[max(end - 1, 0)]:.2f} "
            f"cycles/mm only, {end - 1} of its frequencies above 0; "
            f"{_FEWEST_FREQUENCIES} are the least.",
            remedy="Scan at more ppi and with a sharper scanner, and measure longer "
            "edges; check that the file's and the scanner's own responses are right.",
        )
    known, noise = reference[:end], edge.sfr_noise[:end]
    # A modulus never falls below 0, so noise across its direction adds its square.
    scanned = np.sqrt(edge.sfr[:end] ** 2 - noise**2)
    response = scanned / known
    rise = response - 3 * noise / known
    if rise.max() > LARGEST_RISE:
        raise sharpened(float(response[int(np.argmax(rise))]))
    turns = (pi * cycles_per_mm[:end]) ** 2
    error = np.hypot(noise, _REFERENCE_ERROR * known)

    def modelled(variance: float) -> Floats:
        return np.asarray(known * np.exp(-2 * turns * variance))

    def missed(variances: Floats) -> Floats:
        return np.asarray((modelled(float(variances[0])) - scanned) / error)

    # A first guess by the logarithm, at the last frequency.
    guess = -np.log(response[-1]) / (2 * turns[-1])
    # By the frequencies' own scale, for variances in mm² are near a thousandth.
    fit = least_squares(missed, [guess], x_scale=1 / turns[-1], method="lm")
    variance = float(fit.x[0])
    # Noise is shared by frequencies closer than one over the window's width.
    shared = max(1 / (edge.window_px * FREQUENCY_CYCLES_PX[1]), 1.0)
    misfit = max(float(np.mean(missed(fit.x) ** 2)), 1.0)
    slope = 2 * turns * modelled(variance) / error
    return EdgeSpread(
        response=response,
        variance_mm2=variance,
        error_mm2=float(np.sqrt(shared * misfit / np.sum(slope**2))),
    )


def sharpened(response: float) -> SpecError:
    """
    The refusal of a scan that shows more contrast than was printed.

    Parameters
    ----------
    response : float
        Largest response of print and paper found.

    Returns
    -------
    SpecError
    """
    return SpecError(
        f"The scan shows {response:.2f} of the contrast that was printed; paper only "
        f"takes contrast, and {LARGEST_RISE:g} is the limit.",
        remedy="Switch off sharpening in the scanner, and check the resolutions, the "
        "file's own response and that the scan was decoded to linear reflectance.",
    )
