"""How high and wide is the halo of a sharpened edge, and what else changes?"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, log, pi, sqrt
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtr

from printplan.errors import SpecError
from printplan.sharpening.kernel import gaussian_kernel
from printplan.sharpening.response import steps_to
from printplan.validation import LARGEST, require, require_alike, require_numbers

if TYPE_CHECKING:
    from numpy.typing import NDArray

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


def gaussian_overshoot(*, gain: float, radius: float, softness: float) -> float:
    """
    Overshoot of a Gaussian edge after unsharp masking, in closed form.

    Parameters
    ----------
    gain : float
        Share of the high-pass that is added, 0 or more.
    radius : float
        Standard deviation of the mask, above 0.
    softness : float
        Standard deviation of the edge in the same unit, above 0. Spread by paper
        afterwards adds to it in squares.

    Returns
    -------
    float
        Share of the edge's height.

    Raises
    ------
    SpecError
        If radius or softness is 0 or less, or the gain is below 0.

    Notes
    -----
    The edge is ``(1 + A) Φ(x/σ) − A Φ(x/τ)`` with τ² = σ² + r². Its slope is 0 where
    the two bells are equal, which a logarithm solves. Both kernels are continuous
    here; `sharpened_edge` has the discrete one.

    Examples
    --------
    >>> round(gaussian_overshoot(gain=1, radius=1, softness=0.6), 5)
    0.10676
    """
    if not (inf > radius > 0 and inf > softness > 0 and inf > gain >= 0):
        raise SpecError(
            f"Gain is {gain:g}, radius {radius:g} and softness {softness:g}.",
            remedy="Give a gain of 0 or more, and a radius and a softness above 0.",
        )
    if gain == 0:
        return 0.0
    wide = sqrt(softness**2 + radius**2)
    steepness = log((1 + gain) * wide / (gain * softness))
    peak = sqrt(2 * steepness / (1 / softness**2 - 1 / wide**2))
    return float((1 + gain) * ndtr(peak / softness) - gain * ndtr(peak / wide) - 1)


def sharpened_edge(
    position_px: Floats, *, edge_sigma_px: float, gain: float, radius_px: float
) -> Floats:
    """
    Profile of a Gaussian edge after unsharp masking with the discrete kernel.

    Parameters
    ----------
    position_px : ndarray of float64
        Distance from the middle of the edge.
    edge_sigma_px : float
        Standard deviation of the edge, above 0.

    Returns
    -------
    ndarray of float64
        0 far on the dark side and 1 far on the light side, at every place that a
        pixel can have on the edge.

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    require("Softness", edge_sigma_px, 1e-3, 1000, "px")
    require("Sharpening gain", gain, 0, 100, "(no unit)")
    require_numbers("Positions", position_px, -LARGEST, LARGEST, "px")
    kernel = gaussian_kernel(radius_px)
    reach = kernel.size // 2
    shifted = position_px[..., np.newaxis] - np.arange(-reach, reach + 1)
    edge = ndtr(position_px / edge_sigma_px)
    return np.asarray(edge + gain * (edge - ndtr(shifted / edge_sigma_px) @ kernel))


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
        Largest distance from the edge that will be asked for, in the same unit.

    Returns
    -------
    ndarray of float64
        The sum repeats the edge mirrored after half a period, which lies twice as
        far out as asked.

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
        width=step * (_steps_to(inner, half) + _steps_to(outer, half)),
    )


def _steps_to(falling: Floats, level: float) -> float:
    """Steps until a curve falls to a level, by straight lines; its length if never."""
    below = np.flatnonzero(falling <= level)
    if below.size == 0:
        return float(falling.size - 1)
    index = int(below[0])
    before, after = float(falling[index - 1]), float(falling[index])
    return index - 1 + (before - level) / (before - after)


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
