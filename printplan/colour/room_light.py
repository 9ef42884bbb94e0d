"""What is told apart in this room, and how do colours look in its light?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.icc_file import D50_XYZ
from printplan.colour.spaces import xyz_from_lab
from printplan.colour.viewing import paper_luminance_cd_m2, require_above_zero
from printplan.errors import SpecError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

BACKGROUND_SHARE = 0.2
"""Share of a perfect white's luminance that the eye is adapted to: CIE 248:2022."""

DETAIL_CYCLES_PER_DEGREE, DETAIL_DEG = 4.0, 2.0
"""Grating that contrast is judged on: the Standard Target of DICOM PS3.14, clause 7."""

SURE_THRESHOLDS = 2.0
"""Contrast, in thresholds, from which two tones are told apart: our choice. The
threshold is found in half of the looks; twice of it in nearly all, if detection is a
Weibull curve of slope 3.5 (Watson & Pelli 1983, from memory)."""

LOWEST_CD_M2 = 0.05
"""Lowest luminance of DICOM PS3.14, clause 7: below, the model is extrapolated."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Appearance:
    """
    Colours as an adapted eye sees them, by CIECAM16.

    Attributes
    ----------
    lightness_j : ndarray of float64
        Against the white of the room, which has 100.
    brightness_q, colourfulness_m : ndarray of float64
        Without such a reference: they fall with the light.
    """

    lightness_j: Floats
    brightness_q: Floats
    colourfulness_m: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShadowSteps:
    """
    How much of a ladder of tones is told apart in a room.

    Attributes
    ----------
    contrast_thresholds : ndarray of float64, shape (tones - 1,)
        Contrast of each two neighbours in multiples of the smallest contrast found
        in this room; below 0 where the second tone is the darker.
    told_apart : int
        Neighbours with enough of it.
    darkest_cd_m2 : float
        Luminance of the darkest tone.
    is_extrapolated : bool
        Whether that is below `LOWEST_CD_M2`.
    """

    contrast_thresholds: Floats
    told_apart: int
    darkest_cd_m2: float
    is_extrapolated: bool


def print_appearance(printed_lab: Floats, illuminance_lx: float) -> Appearance:
    """
    How printed colours look under a given light.

    Parameters
    ----------
    printed_lab : ndarray of float64, shape (..., 3)
        ICC-absolute L*, a*, b*.
    illuminance_lx : float
        Light on the print, above 0.

    Returns
    -------
    Appearance

    Raises
    ------
    SpecError
        If there is no light.

    Notes
    -----
    CIECAM16 [1]_. White is the perfect diffuser under D50 and not the paper, so that
    papers can be compared; the background has 20 % of it, and the surround is
    *average*, since print and wall share their light. A spotlit print in a dark room
    and warm lamps are not covered. The model was fitted to how single patches look,
    not to thresholds of shadow detail, and knows neither glare nor rods: J of shadow
    steps hardly changes with the light, so `shadow_steps_told_apart` does not use it.

    References
    ----------
    .. [1] CIE 248:2022; Li et al. (2017), doi:10.1002/col.22131.
    """
    white_cd_m2 = paper_luminance_cd_m2(illuminance_lx, 1.0)
    xyz = xyz_from_lab(np.asarray(printed_lab, np.float64))
    return _ciecam16(xyz, D50_XYZ, BACKGROUND_SHARE * white_cd_m2)


def _ciecam16(
    xyz: Floats, white_xyz: Sequence[float], adapting_cd_m2: float
) -> Appearance:
    """Run the model on XYZ with Y = 1 for white."""
    import colour  # noqa: PLC0415 - takes over a second to load

    seen = colour.XYZ_to_CIECAM16(
        xyz * 100,
        np.asarray(white_xyz) * 100,
        adapting_cd_m2,
        BACKGROUND_SHARE * 100,
        colour.VIEWING_CONDITIONS_CIECAM16["Average"],
        compute_H=False,
    )
    return Appearance(
        lightness_j=np.asarray(seen.J, np.float64),
        brightness_q=np.asarray(seen.Q, np.float64),
        colourfulness_m=np.asarray(seen.M, np.float64),
    )


def contrast_threshold(luminance_cd_m2: Floats, surround_cd_m2: float) -> Floats:
    """
    Smallest contrast that the eye finds at a luminance inside a brighter picture.

    Parameters
    ----------
    luminance_cd_m2 : ndarray of float64
        Mean of the light and dark bars, above 0.
    surround_cd_m2 : float
        What lies around them, above 0.

    Returns
    -------
    ndarray of float64
        Modulation ``(light − dark) / (light + dark)`` found in half of the looks.

    Raises
    ------
    SpecError
        If a luminance is 0 or less.

    Notes
    -----
    The inverse of Barten's sensitivity [1]_ for a grating of 4 cycles per degree, 2°
    wide. Dim light costs contrast because fewer photons reach the eye and its wider
    pupil blurs. The factor for the surround is Barten's too [2]_, its constants 144
    and 32 from memory; it depends on the ratio of the luminances alone, so it lowers
    all rooms' counts alike. Eyes of 20 to 30 years, two of them, photopic vision.

    References
    ----------
    .. [1] Barten (1999), Contrast Sensitivity of the Human Eye and Its Effects on
       Image Quality, doi:10.1117/3.353254.
    .. [2] Barten (2003), Proc. SPIE 5294, 231-238, doi:10.1117/12.537476.
    """
    require_above_zero("Surround luminance", surround_cd_m2, "cd/m²", "20")
    luminance = np.asarray(luminance_cd_m2, np.float64)
    if not (luminance > 0).all():
        raise SpecError(
            f"The darkest luminance is {luminance.min():g} cd/m².",
            remedy="Give luminances above 0; no ink is without reflection.",
        )
    from colour.contrast import barten1999  # noqa: PLC0415 - a second to load

    pupil_mm = barten1999.pupil_diameter_Barten1999(luminance, DETAIL_DEG)
    sensitivity = barten1999.contrast_sensitivity_function_Barten1999(
        DETAIL_CYCLES_PER_DEGREE,
        sigma=barten1999.sigma_Barten1999(d=pupil_mm),
        E=barten1999.retinal_illuminance_Barten1999(luminance, pupil_mm),
        X_0=DETAIL_DEG,
    )
    spread = 0.25 * np.log1p(144 / DETAIL_DEG**2)
    ratio = np.log(surround_cd_m2 / luminance) + spread
    lost = np.exp((ratio**2 - spread**2) / (2 * np.log(32) ** 2))
    return np.asarray(lost / sensitivity, np.float64)


def shadow_steps_told_apart(
    printed_l: Floats, illuminance_lx: float, *, thresholds: float = SURE_THRESHOLDS
) -> ShadowSteps:
    """
    Count the neighbours in a ladder of tones that are told apart in a room.

    Parameters
    ----------
    printed_l : ndarray of float64, shape (tones,)
        ICC-absolute L* from dark to light, two or more, each above 0: those of a
        wedge printed through the paper's profile.
    illuminance_lx : float
        Light on the print, above 0.
    thresholds : float, optional
        Contrast needed, in multiples of the threshold, above 0.

    Returns
    -------
    ShadowSteps

    Raises
    ------
    SpecError
        If an argument is outside its range.

    Notes
    -----
    The ratio of two printed luminances is the same in every room; what changes is
    the smallest ratio that the eye finds. So `contrast_threshold` carries this count
    and not an appearance model, and a dimmer room never counts more. Coarse detail,
    without glare: gloss, age and fine detail leave less.

    Examples
    --------
    >>> ladder_l = np.arange(4.0, 15.0)
    >>> [shadow_steps_told_apart(ladder_l, lx).told_apart for lx in (500, 50)]
    [10, 0]
    """
    require_above_zero("Contrast needed", thresholds, "thresholds", "2")
    ladder_l = np.asarray(printed_l, np.float64)
    printable = (ladder_l > 0) & np.isfinite(ladder_l)
    if ladder_l.ndim != 1 or ladder_l.size < 2 or not printable.all():
        raise SpecError(
            f"The ladder of shape {ladder_l.shape} is no row of two tones or more, or "
            "has one at L* 0 or less.",
            remedy="Give a row of L* as printed (ICC-absolute), each above 0.",
        )
    white_cd_m2 = paper_luminance_cd_m2(illuminance_lx, 1.0)
    luminance = white_cd_m2 * xyz_from_lab(ladder_l[:, None] * [1.0, 0, 0])[:, 1]
    sums = luminance[1:] + luminance[:-1]
    threshold = contrast_threshold(sums / 2, BACKGROUND_SHARE * white_cd_m2)
    multiples = np.diff(luminance) / sums / threshold
    darkest_cd_m2 = float(luminance.min())
    return ShadowSteps(
        contrast_thresholds=multiples,
        told_apart=int((multiples >= thresholds).sum()),
        darkest_cd_m2=darkest_cd_m2,
        is_extrapolated=darkest_cd_m2 < LOWEST_CD_M2,
    )
