"""What lightness does a densitometer's reading mean?"""

from __future__ import annotations

from math import log10

import numpy as np

from printplan.colour.icc_file import D50_XYZ
from printplan.colour.spaces import lab_from_xyz, xyz_from_lab
from printplan.errors import SpecError


def density_to_lightness(density: float) -> float:
    """
    CIE lightness of a neutral of given reflection density.

    Parameters
    ----------
    density : float
        ``-log10`` of the reflectance, 0 or more, against the same white as L*.

    Returns
    -------
    float
        L*, 0 to 100.

    Raises
    ------
    SpecError
        If the density is below 0.

    References
    ----------
    .. [1] ISO 5-3:2009 for density, ISO/CIE 11664-4:2019 for lightness.

    Examples
    --------
    >>> round(density_to_lightness(2.0), 3)
    8.991
    """
    if not density >= 0:
        raise SpecError(
            f"Density is {density:g}.",
            remedy="Give 0 or more; a gloss paper's black is near 2.3.",
        )
    white = np.array(D50_XYZ)
    return float(lab_from_xyz(white * 10.0**-density)[0])


def lightness_to_density(lightness: float) -> float:
    """
    Reflection density of a neutral of given CIE lightness.

    Parameters
    ----------
    lightness : float
        L*, above 0 and up to 100.

    Returns
    -------
    float
        Against the same white as L*.

    Raises
    ------
    SpecError
        If the lightness is outside its range: that of L* = 0 has no end.

    Examples
    --------
    >>> round(lightness_to_density(17.972), 3)
    1.6
    """
    if not 0 < lightness <= 100:
        raise SpecError(
            f"Lightness is {lightness:g}.", remedy="Give L* above 0 and up to 100."
        )
    return -log10(float(xyz_from_lab(np.array([lightness, 0.0, 0.0]))[1]))
