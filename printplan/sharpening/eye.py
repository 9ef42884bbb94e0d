"""Which patterns does the eye see from this distance, and how sharp is the whole?"""

from __future__ import annotations

from math import gamma, log, pi, radians, tan
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.barten import (
    eye_blur_deg,
    grating_sensitivity,
    pupil_diameter_mm,
)
from printplan.errors import SpecError
from printplan.validation import LARGEST, require, require_alike, require_numbers

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


ADAPTED_L = 50.0
"""Middle tone of the print, to whose luminance the pupil is set: our choice."""


def eye_psf_sigma_arcmin(luminance_cd_m2: float) -> float:
    """
    Standard deviation of the blur of the eye's optics.

    Parameters
    ----------
    luminance_cd_m2 : float
        Mean luminance of what is looked at, above 0.

    Returns
    -------
    float
        Minutes of arc.

    Notes
    -----
    Barten's optical response [1]_ is the Gaussian ``exp(−2 π² σ² u²)``, with σ of
    `eye_blur_deg` and the pupil of `pupil_diameter_mm` for a picture 60° wide. Good
    eyes with the right glasses; that the nerves also overlook coarse patterns is not
    in it.

    References
    ----------
    .. [1] Barten (1999), Contrast Sensitivity of the Human Eye and Its Effects on
       Image Quality, doi:10.1117/3.353254, chapter 3.

    Examples
    --------
    >>> round(eye_psf_sigma_arcmin(100), 2)
    0.55
    """
    return 60 * float(eye_blur_deg(pupil_diameter_mm(luminance_cd_m2)))


def eye_psf_sigma_um(distance_mm: float, white_cd_m2: float) -> float:
    """
    The eye's blur, laid back on the paper.

    Parameters
    ----------
    distance_mm : float
        Eye to paper.
    white_cd_m2 : float
        Luminance of the paper's white; the eye is adapted to a middle tone on it.

    Returns
    -------
    float
        Standard deviation in µm on paper.
    """
    luminance = luminance_of_l(ADAPTED_L, white_cd_m2)
    angle_deg = eye_psf_sigma_arcmin(luminance) / 60
    return 1000 * distance_mm * tan(radians(angle_deg))


PAPER_WHITE_CD_M2 = 0.89 * 500 / pi
"""Luminance of a paper that reflects 89 % under 500 lx: the light for practical
appraisal of prints, ISO 3664:2009 P2."""

FINEST_SEEN_CYCLES_DEG = 60.0
"""Finest pattern that counts, bars half an arcminute wide: both models of the eye have
fallen below a thousandth of their peak there."""

SQF_CYCLES_DEG = (3.0, 12.0)
"""Range of the subjective quality factor (Granger & Cupery 1972, from memory)."""

_LIGHTNESS_L = (8.0, 100.0)
_LUMINANCE_CD_M2 = (0.001, 100_000.0)
_LEAST_CYCLES_DEG = 1e-6


def cycles_per_degree(cycles_per_mm: Floats | float, distance_mm: float) -> Floats:
    """
    Spatial frequency at the eye.

    Parameters
    ----------
    cycles_per_mm : ndarray of float64 or float
        On paper.
    distance_mm : float
        Eye to paper.

    Returns
    -------
    ndarray of float64
        Cycles per degree, for small angles.

    Raises
    ------
    SpecError
        If a number is outside its range.

    Examples
    --------
    >>> round(float(cycles_per_degree(1.0, distance_mm=400)), 2)
    6.98
    """
    require("Viewing distance", distance_mm, 1, 1e6, "mm")
    require_numbers("Frequencies", cycles_per_mm, 0, LARGEST, "cycles/mm")
    return np.asarray(cycles_per_mm, np.float64) * distance_mm * pi / 180


def contrast_sensitivity(
    cycles_per_degree: Floats | float, luminance_cd_m2: float
) -> Floats:
    """
    Contrast sensitivity of the eye: one over the faintest contrast that is seen.

    Parameters
    ----------
    cycles_per_degree : ndarray of float64 or float
        Above 0.
    luminance_cd_m2 : float
        Mean luminance of the place that is looked at, above 0.

    Returns
    -------
    ndarray of float64

    Raises
    ------
    SpecError
        If a number is outside its range.

    Notes
    -----
    Barten's model [1]_ for two eyes of 20 to 30 years and a picture 60° wide; pupil
    and light in the eye follow the luminance. Contrast is ``(light − dark) /
    (light + dark)`` of a grating, found in half of the looks.

    References
    ----------
    .. [1] Barten (1999), Contrast Sensitivity of the Human Eye and Its Effects on
       Image Quality, doi:10.1117/3.353254.

    Examples
    --------
    >>> frequency = np.geomspace(0.5, 60, 500)
    >>> seen = contrast_sensitivity(frequency, luminance_cd_m2=100)
    >>> bool(2 < frequency[seen.argmax()] < 8)  # cycles per degree seen best
    True
    """
    require("Luminance", luminance_cd_m2, *_LUMINANCE_CD_M2, "cd/m²")
    require_numbers(
        "Frequencies", cycles_per_degree, _LEAST_CYCLES_DEG, LARGEST, "cycles/degree"
    )
    return grating_sensitivity(cycles_per_degree, luminance_cd_m2)


def acutance_weight(cycles_per_degree: Floats | float) -> Floats:
    """
    Sensitivity of the eye as acutance weighs it, ``75 f^0.8 exp(−0.2 f)``.

    Parameters
    ----------
    cycles_per_degree : ndarray of float64 or float

    Returns
    -------
    ndarray of float64

    Raises
    ------
    SpecError
        If a number is outside its range.

    Notes
    -----
    The luminance curve of camera-phone image quality, IEEE 1858; its constants are
    from memory.
    """
    require_numbers("Frequencies", cycles_per_degree, 0, LARGEST, "cycles/degree")
    frequency = np.asarray(cycles_per_degree, np.float64)
    return np.asarray(75 * frequency**0.8 * np.exp(-0.2 * frequency), np.float64)


def acutance(cycles_per_degree: Floats, response: Floats) -> float:
    """
    Share of the contrast that an eye sees of all contrast, weighted by the eye.

    Parameters
    ----------
    cycles_per_degree : ndarray of float64, shape (frequencies,)
        Rising, from near 0; the response counts as 0 beyond its last frequency.
    response : ndarray of float64, shape (frequencies,)

    Returns
    -------
    float
        1 for no loss; sharpening can go above.

    Raises
    ------
    SpecError
        If a number is outside its range.

    Examples
    --------
    >>> frequency = np.linspace(0.1, 60, 600)
    >>> round(acutance(frequency, np.ones(600)), 3)  # nothing lost
    1.0
    >>> acutance(frequency, np.exp(-frequency / 10)) < 0.9
    True
    """
    _require_curve(cycles_per_degree, response)
    weighted = response * acutance_weight(cycles_per_degree)
    # The weight is 0 at 0, where the curve begins at the latest.
    seen = np.trapezoid([0.0, *weighted], [0.0, *cycles_per_degree])
    # ∫ 75 f^0.8 exp(-0.2 f) df from 0 on, by the gamma function.
    return float(seen) / (75 * gamma(1.8) / float(0.2**1.8))


def subjective_quality_factor(cycles_per_degree: Floats, response: Floats) -> float:
    """
    Mean response between 3 and 12 cycles per degree, over octaves.

    Parameters
    ----------
    cycles_per_degree : ndarray of float64, shape (frequencies,)
        Rising; the response counts as 0 beyond its last frequency.
    response : ndarray of float64, shape (frequencies,)

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    _require_curve(cycles_per_degree, response)
    low, high = SQF_CYCLES_DEG
    octaves = np.geomspace(low, high, 257)
    at = np.interp(octaves, cycles_per_degree, response, right=0.0)
    return float(np.trapezoid(at, np.log(octaves))) / log(high / low)


def _require_curve(cycles_per_degree: Floats, response: Floats) -> None:
    """Refuse a response without frequencies that rise."""
    require_alike("Frequencies and responses", cycles_per_degree, response)
    require_numbers("Responses", response, -LARGEST, LARGEST, "(contrast left)")
    require_numbers("Frequencies", cycles_per_degree, 0, LARGEST, "cycles/degree")
    if (np.diff(cycles_per_degree) <= 0).any():
        raise SpecError(
            f"The {cycles_per_degree.size} frequencies do not rise.",
            remedy="Sort them, with their responses, and leave out twins.",
        )


def contrast_per_l(lightness_l: float) -> float:
    """
    Contrast of a ripple in L* of amplitude 1, at a lightness.

    Parameters
    ----------
    lightness_l : float
        Above 8, where L* is a cube root.

    Returns
    -------
    float
        ``dY / Y`` for one L*.

    Raises
    ------
    SpecError
        If a number is outside its range.

    Notes
    -----
    From L* = 116 (Y/Yn)^(1/3) − 16 (CIE 015:2018, 8.2.1): dY/Y = 3 / (L* + 16).

    Examples
    --------
    >>> round(contrast_per_l(50), 5)
    0.04545
    """
    require("Lightness", lightness_l, *_LIGHTNESS_L, "L*")
    return 3 / (lightness_l + 16)


def luminance_of_l(lightness_l: float, white_cd_m2: float) -> float:
    """
    Luminance of a tone on paper.

    Parameters
    ----------
    lightness_l : float
        Above 8.
    white_cd_m2 : float
        Of the paper.

    Returns
    -------
    float
        cd/m².

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    require("Lightness", lightness_l, *_LIGHTNESS_L, "L*")
    require("Paper white", white_cd_m2, *_LUMINANCE_CD_M2, "cd/m²")
    return white_cd_m2 * ((lightness_l + 16) / 116) ** 3
