"""How faint a pattern does the eye find? Barten's model of its contrast sensitivity."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


WIDE_FIELD_DEG = 60.0
"""Width of a picture that fills the view."""

# Constants of a typical observer (Barten 1999, chapter 3).
_OPTICS_DEG = 0.5 / 60
_ABERRATION_DEG_PER_MM = 0.08 / 60
_SIGNAL_TO_NOISE = 3.0
_INTEGRATION_S = 0.1
_WIDEST_DEG = 12.0
_MOST_CYCLES = 15.0
_QUANTUM_EFFICIENCY = 0.03
_PHOTONS_PER_TROLAND = 1.2274e6
_NEURAL_NOISE = 3e-8
_INHIBITION_CYCLES_DEG = 7.0


def pupil_diameter_mm(
    luminance_cd_m2: Floats | float, field_deg: float = WIDE_FIELD_DEG
) -> Floats:
    """
    Diameter of the pupil.

    Parameters
    ----------
    luminance_cd_m2 : ndarray of float64 or float
        Mean of what is looked at, above 0.
    field_deg : float, optional
        Width of the square that has it.

    Returns
    -------
    ndarray of float64

    Notes
    -----
    ``5 − 3 tanh(0.4 log10(L X0² / 40²))`` mm [1]_.

    References
    ----------
    .. [1] Barten (1999), Contrast Sensitivity of the Human Eye and Its Effects on
       Image Quality, doi:10.1117/3.353254, chapter 3.

    Examples
    --------
    >>> round(float(pupil_diameter_mm(100.0)), 2)
    2.79
    """
    light = np.asarray(luminance_cd_m2, np.float64) * field_deg**2
    return np.asarray(5 - 3 * np.tanh(0.4 * np.log10(light / 40**2)))


def eye_blur_deg(pupil_mm: Floats | float) -> Floats:
    """
    Standard deviation of the blur of the eye's optics.

    Parameters
    ----------
    pupil_mm : ndarray of float64 or float
        Diameter.

    Returns
    -------
    ndarray of float64
        Degrees.

    Notes
    -----
    ``σ² = σ0² + (Cab d)²``, σ0 = 0.5 arcmin, Cab = 0.08 arcmin/mm [1]_.

    References
    ----------
    .. [1] Barten (1999), Contrast Sensitivity of the Human Eye and Its Effects on
       Image Quality, doi:10.1117/3.353254, chapter 3.

    Examples
    --------
    >>> round(float(eye_blur_deg(3.0)) * 60, 3)
    0.555
    """
    diameter_mm = np.asarray(pupil_mm, np.float64)
    return np.asarray(np.hypot(_OPTICS_DEG, _ABERRATION_DEG_PER_MM * diameter_mm))


def retinal_illuminance_td(
    luminance_cd_m2: Floats | float, pupil_mm: Floats | float
) -> Floats:
    """
    Light on the retina, less what enters at the pupil's rim and counts for little.

    Parameters
    ----------
    luminance_cd_m2 : ndarray of float64 or float
        Of what is looked at.
    pupil_mm : ndarray of float64 or float
        Diameter.

    Returns
    -------
    ndarray of float64
        Trolands.

    Notes
    -----
    The pupil's area times the luminance, times ``1 − (d / 9.7)² + (d / 12.4)⁴`` for
    the Stiles-Crawford effect [1]_.

    References
    ----------
    .. [1] Barten (1999), Contrast Sensitivity of the Human Eye and Its Effects on
       Image Quality, doi:10.1117/3.353254, chapter 3.

    Examples
    --------
    >>> round(float(retinal_illuminance_td(100.0, 2.0)), 1)
    301.0
    """
    diameter_mm = np.asarray(pupil_mm, np.float64)
    area_mm2 = pi * diameter_mm**2 / 4
    counted = 1 - (diameter_mm / 9.7) ** 2 + (diameter_mm / 12.4) ** 4
    return np.asarray(area_mm2 * luminance_cd_m2 * counted)


def grating_sensitivity(
    cycles_per_degree: Floats | float,
    luminance_cd_m2: Floats | float,
    field_deg: float = WIDE_FIELD_DEG,
) -> Floats:
    """
    One over the faintest contrast of a grating that is found in half of the looks.

    Parameters
    ----------
    cycles_per_degree : ndarray of float64 or float
        Above 0.
    luminance_cd_m2 : ndarray of float64 or float
        Mean of the grating, above 0; against the frequencies by NumPy's rules.
    field_deg : float, optional
        Width of the square that the grating fills.

    Returns
    -------
    ndarray of float64

    Notes
    -----
    Two eyes of 20 to 30 years in daylight vision [1]_. The optics blur; photons, the
    nerves' own noise and, at coarse patterns, their inhibition of each other do the
    rest.

    References
    ----------
    .. [1] Barten (1999), Contrast Sensitivity of the Human Eye and Its Effects on
       Image Quality, doi:10.1117/3.353254, chapter 3.

    Examples
    --------
    >>> round(float(grating_sensitivity(4.0, 100.0)))
    657
    """
    frequency = np.asarray(cycles_per_degree, np.float64)
    pupil_mm = pupil_diameter_mm(luminance_cd_m2, field_deg)
    left_by_optics = np.exp(-2 * pi**2 * eye_blur_deg(pupil_mm) ** 2 * frequency**2)
    # What the nerves sum up is bounded by the field, by the eye and in cycles.
    per_area = 1 / field_deg**2 + 1 / _WIDEST_DEG**2 + frequency**2 / _MOST_CYCLES**2
    light_td = retinal_illuminance_td(luminance_cd_m2, pupil_mm)
    photon_noise = 1 / (_QUANTUM_EFFICIENCY * _PHOTONS_PER_TROLAND * light_td)
    uninhibited = 1 - np.exp(-((frequency / _INHIBITION_CYCLES_DEG) ** 2))
    noise = 2 / _INTEGRATION_S * per_area * (photon_noise + _NEURAL_NOISE / uninhibited)
    return np.asarray(left_by_optics / _SIGNAL_TO_NOISE / np.sqrt(noise))
