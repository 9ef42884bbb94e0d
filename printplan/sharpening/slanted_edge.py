"""How sharp is a slanted edge in a scan or a file?"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

import numpy as np

from printplan.errors import SpecError
from printplan.sharpening.edge_lines import steps_to_level
from printplan.sharpening.edge_profile import (
    WINDOW_FLAT_SHARE,
    EdgeProfile,
    edge_profile,
    half_window_px,
)
from printplan.sharpening.edge_trace import trace_edge

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


FREQUENCY_CYCLES_PX: Floats = np.arange(257) / 256
"""Frequencies of every response, across the edge: 0 to 1 cycle per pixel."""
FREQUENCY_CYCLES_PX.setflags(write=False)

LARGEST_SFR_NOISE = 0.05
"""Standard error of the response at a half, at most; our choice. A Gaussian's response
falls there by 0.0069 for each percent of frequency, so MTF50 is then 7 % uncertain."""

OVERSAMPLING = (2, 8)
"""Least and most bins per pixel; the standard has 4."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeResponse:
    """
    Spatial frequency response of one slanted edge.

    Attributes
    ----------
    frequency_cycles_px : ndarray of float64, shape (257,)
        Across the edge, 0 to 1 in even steps; not writable.
    sfr : ndarray of float64, shape (257,)
        Response, 1 at frequency 0; not writable.
    sfr_noise : ndarray of float64, shape (257,)
        Standard error of the response, as the noise of both sides makes it.
    mtf50_cycles_px : float
        Lowest frequency at which the response falls to a half; infinite if it does
        not up to 1 cycle per pixel.
    angle_deg : float
        Tilt of the edge against the nearer pixel axis, unsigned.
    bend_px : float
        Height of the arc that the edge makes over the region, unsigned.
    dark, light : float
        Levels of both sides, in the region's unit.
    edge_l_contrast : float
        L* of the light side less that of the dark side, both read as reflectance.
    noise_share : float
        Standard deviation of the sides' pixels over the step between them.
    length_px : int
        Lines across the edge that were used.
    window_px : float
        Width of the window across the edge: frequencies closer than one over it
        share their noise.
    """

    frequency_cycles_px: Floats
    sfr: Floats
    sfr_noise: Floats
    mtf50_cycles_px: float
    angle_deg: float
    bend_px: float
    dark: float
    light: float
    edge_l_contrast: float
    noise_share: float
    length_px: int
    window_px: float


def edge_sfr(region: NDArray[np.floating], *, oversampling: int = 4) -> EdgeResponse:
    """
    Spatial frequency response of the one slanted edge in a region.

    Parameters
    ----------
    region : ndarray of float, shape (rows, columns)
        Linear reflectance, 0 to 1. The edge runs nearly along the rows or nearly along
        the columns, right through, with even tone on both sides.
    oversampling : int, optional
        Bins per pixel across the edge, 2 to 8.

    Raises
    ------
    SpecError
        If there is no such edge, its tilt is outside 3 to 10°, it is too short, too
        faint, clipped or too noisy.

    Notes
    -----
    The edge-based response of ISO 12233 [1]_: an edge position in every line by the
    centroid of its derivative, one curve through them (here a parabola, since paper
    is transported unevenly), all pixels sorted by their distance from it into bins of
    a quarter pixel, derivative, window, Fourier transform [2]_. Distances are taken
    at right angles to the edge, so a response does not depend on the tilt.

    Three things differ from the letter of the standard. The difference of
    neighbouring bins stands for the derivative, which costs sinc(f/n) for n bins per
    pixel; averaging over a bin costs the same again; both are divided out. Pixels do
    not fill the bins evenly (at a tilt of 1 in 8 there are two positions in each
    quarter): the mean and the variance of the positions found are corrected to those
    of an even filling. The window is flat over its inner six tenths with raised
    cosines outside, for a window that bends everywhere narrows a wide spread; it
    reaches beyond the halo of an edge that was sharpened.

    Where tone is not linear (a scan in its gamma-encoded numbers) the result is the
    response of something else; decode first.

    References
    ----------
    .. [1] ISO 12233:2017, Electronic still picture imaging - Resolution and spatial
       frequency responses, edge-based SFR.
    .. [2] P. D. Burns, "Slanted-edge MTF for digital camera and scanner analysis",
       Proc. IS&T PICS Conference (2000), 135-138.

    Examples
    --------
    >>> import numpy as np
    >>> from scipy.special import erf
    >>> down, across = np.mgrid[:100, :80]
    >>> distance = (across - 40) * np.cos(0.1) + (down - 50) * np.sin(0.1)
    >>> response = edge_sfr(0.25 + 0.15 * erf(distance / np.sqrt(2)))
    >>> round(response.mtf50_cycles_px, 3), round(response.angle_deg, 2)
    (0.187, 5.73)
    """
    low, high = OVERSAMPLING
    if not (isinstance(oversampling, int) and low <= oversampling <= high):
        raise SpecError(
            f"Oversampling is {oversampling!r} bins per pixel.",
            remedy=f"Give a whole number from {low} to {high}; 4 is the standard's.",
        )
    trace = trace_edge(region)
    half_px, beyond = half_window_px(trace, oversampling)
    dark_side = trace.values[trace.distance_px < -beyond]
    light_side = trace.values[trace.distance_px > beyond]
    dark, light = float(dark_side.mean()), float(light_side.mean())
    noise = float(np.sqrt((dark_side.var() + light_side.var()) / 2))
    sfr, sfr_noise = _response(
        edge_profile(trace, half_px, oversampling), noise, half_px, oversampling
    )
    response = EdgeResponse(
        frequency_cycles_px=FREQUENCY_CYCLES_PX,
        sfr=sfr,
        sfr_noise=sfr_noise,
        mtf50_cycles_px=float(steps_to_level(-sfr, -0.5) * FREQUENCY_CYCLES_PX[1]),
        angle_deg=trace.angle_deg,
        bend_px=trace.bend_px,
        dark=dark,
        light=light,
        edge_l_contrast=trace.l_contrast,
        noise_share=noise / (light - dark),
        length_px=trace.values.shape[0],
        window_px=2 * half_px,
    )
    return _quiet_enough(response)


def _response(
    profile: EdgeProfile, noise: float, half_px: float, oversampling: int
) -> tuple[Floats, Floats]:
    """Response and its standard error, from the profile's bins."""
    bins = profile.levels.size // 2
    place_px = (np.arange(2 * bins) - bins + 0.5) / oversampling
    wave = np.exp(-2j * np.pi * FREQUENCY_CYCLES_PX[:, None] * place_px)
    # Flat inside, a half cosine down to 0 at the window's end (Tukey's window).
    outer = (np.abs(place_px / half_px) - WINDOW_FLAT_SHARE) / (1 - WINDOW_FLAT_SHARE)
    weighted = wave * ((1 + np.cos(np.pi * np.clip(outer, 0, 1))) / 2)
    # Differences weighted and summed are levels weighted and summed: one matrix.
    matrix = -np.diff(weighted, axis=1, prepend=0, append=0)
    spectrum = matrix @ profile.levels
    step = float(spectrum[0].real)
    size = np.abs(spectrum)
    cost = np.sinc(FREQUENCY_CYCLES_PX / oversampling) ** 2
    sfr = size / step / cost
    # How each bin's error moves the response: along the spectrum's own direction,
    # less what it does to the step that all is divided by.
    turned = matrix * np.conj(spectrum / np.maximum(size, 1e-12 * step))[:, None]
    moved = (turned.real - (size / step)[:, None] * matrix[0].real) / step
    variance = moved**2 @ (noise**2 / profile.counts)
    sfr_noise = np.sqrt(variance) / cost
    sfr.setflags(write=False)
    sfr_noise.setflags(write=False)
    return sfr, sfr_noise


def _quiet_enough(response: EdgeResponse) -> EdgeResponse:
    """Refuse a response whose half is uncertain."""
    place = min(response.mtf50_cycles_px, 0.5)
    error = float(np.interp(place, response.frequency_cycles_px, response.sfr_noise))
    if error > LARGEST_SFR_NOISE:
        longer = ceil(response.length_px * (error / LARGEST_SFR_NOISE) ** 2)
        raise SpecError(
            f"The edge is too noisy: noise of {response.noise_share:.0%} of its step "
            f"leaves the response uncertain by {error:.2f} at {place:.2f} cycles/px; "
            f"{LARGEST_SFR_NOISE:g} is the limit.",
            remedy=f"Measure an edge of {longer} lines or more, one with more "
            "contrast, or average several scans.",
        )
    return response
