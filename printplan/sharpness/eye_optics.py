"""How much does the eye's own lens blur what it looks at?"""

from __future__ import annotations

from math import radians, tan

from printplan.sharpness.eye import luminance_of_l

ADAPTED_L = 50.0
"""Middle tone of the print, to whose luminance the pupil is set: our choice."""


def eye_spread_arcmin(luminance_cd_m2: float) -> float:
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
    Barten's optical response [1]_ is the Gaussian ``exp(−2 π² σ² u²)`` with
    ``σ² = σ0² + (Cab d)²``, σ0 = 0.5 arcmin, Cab = 0.08 arcmin/mm, and the pupil
    ``d = 5 − 3 tanh(0.4 log10(L X0² / 40²))`` mm for a picture X0 = 60° wide. Good
    eyes with the right glasses; that the nerves also overlook coarse patterns is not
    in it.

    References
    ----------
    .. [1] Barten (1999), Contrast Sensitivity of the Human Eye and Its Effects on
       Image Quality, doi:10.1117/3.353254, chapter 3.

    Examples
    --------
    >>> round(eye_spread_arcmin(100), 2)
    0.55
    """
    from colour.contrast import barten1999  # noqa: PLC0415 - a second to load

    pupil_mm = barten1999.pupil_diameter_Barten1999(luminance_cd_m2)
    return 60 * float(barten1999.sigma_Barten1999(d=pupil_mm))


def eye_spread_um(distance_mm: float, white_cd_m2: float) -> float:
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
    angle_deg = eye_spread_arcmin(luminance) / 60
    return 1000 * distance_mm * tan(radians(angle_deg))
