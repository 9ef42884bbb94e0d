"""How bright is paper beside a display, and which tones are distinct in a room?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import inf, log2, pi
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.barten import grating_sensitivity
from printplan.colour.profile_gate import require_output_profile
from printplan.colour.profiles import open_profile
from printplan.colour.spaces import xyz_from_lab
from printplan.colour.transforms import device_to_lab
from printplan.errors import SpecError
from printplan.spec import Intent

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.profiles import ProfileLike

    Floats = NDArray[np.float64]


ROOMS_LX = {
    "comparison (ISO 3664 P1)": 2000.0,
    "appraisal (ISO 3664 P2)": 500.0,
    "living room": 150.0,  # common practice, no source
    "gallery, works on paper": 50.0,  # CIE 157:2004, limit for responsive materials
}
"""Light on the print in four rooms, brightest first."""

MATCH_STOPS = 1 / 3
"""Within this, paper and display count as equally bright: our choice."""

DISPLAY_RANGE_CD_M2 = (80.0, 250.0)
"""Whites that a display is asked to show: our choice. ISO 3664:2009 wants 80 at least
(from memory); few displays reach the upper one."""

_WHITEST = 1.05
"""A paper with optical brightener can send back a little more than it gets."""


class LightBalance(StrEnum):
    """How the paper stands beside the display."""

    PAPER_DARKER = "paper-darker"
    MATCHED = "matched"
    PAPER_BRIGHTER = "paper-brighter"


@dataclass(frozen=True, slots=True, kw_only=True)
class DisplayMatch:
    """
    The paper's white beside the display's.

    Attributes
    ----------
    paper_cd_m2 : float
        Luminance of the bare paper, which the display's white has to match.
    display_cd_m2 : float
        Luminance of the display's white as it is.
    illuminance_needed_lx : float
        Light on the paper that would match the display as it is.
    difference_stops : float
        Doublings of luminance from display to paper; below 0 the paper is darker.
    verdict : str
        What will be seen, in one sentence.
    advice : str
        What to set, in one sentence.
    """

    paper_cd_m2: float
    display_cd_m2: float
    illuminance_needed_lx: float
    difference_stops: float
    balance: LightBalance
    verdict: str
    advice: str


def paper_luminance_cd_m2(illuminance_lx: float, reflectance: float) -> float:
    """
    Luminance of evenly lit paper.

    Parameters
    ----------
    illuminance_lx : float
        Light on the paper, above 0.
    reflectance : float
        Share of it that the paper sends back, above 0 and up to about 1.

    Raises
    ------
    SpecError
        If either is outside its range.

    Notes
    -----
    ``E·ρ/π``: the paper scatters evenly (Lambert). Glare of a glossy surface comes
    on top and depends on where the lamps are.

    Examples
    --------
    >>> round(paper_luminance_cd_m2(2000, 0.89), 1)
    566.6
    """
    require_above_zero("Light on the paper", illuminance_lx, "lx", "500 (ISO 3664 P2)")
    if not 0 < reflectance <= _WHITEST:
        raise SpecError(
            f"The paper's reflectance is {reflectance:g}.",
            remedy="Give a share above 0 and up to 1; photo papers are near 0.89.",
        )
    return illuminance_lx * reflectance / pi


def paper_reflectance(profile: ProfileLike) -> float:
    """
    Reflectance of a profile's bare paper.

    Parameters
    ----------
    profile : Profile, path or bytes
        An output profile.

    Returns
    -------
    float
        Y of the paper against the perfect white diffuser.

    Raises
    ------
    ProfileError
        If it is no output profile, or cannot be read towards colour.

    Notes
    -----
    As it was measured for the profile: under D50, and backed as then. Thin paper on
    a dark table is darker.
    """
    profile = open_profile(profile)
    bare = 0 if require_output_profile(profile).space == "CMYK" else 65535
    device = np.full((1, 1, profile.channels), bare, np.uint16)
    lab = device_to_lab(device, profile, intent=Intent.ICC_ABSOLUTE)
    return float(xyz_from_lab(lab)[0, 0, 1])


def match_display(
    illuminance_lx: float, reflectance: float, display_cd_m2: float
) -> DisplayMatch:
    """
    Judge the paper's white against the display's.

    Parameters
    ----------
    illuminance_lx : float
        Light on the print where it is compared or will hang, above 0.
    reflectance : float
        Of the bare paper.
    display_cd_m2 : float
        Luminance of the display's white, above 0.

    Raises
    ------
    SpecError
        If a number is outside its range.

    Notes
    -----
    A picture judged on a display brighter than the lit paper comes out dark. The
    limits `MATCH_STOPS` and `DISPLAY_RANGE_CD_M2` are our choice.

    Examples
    --------
    >>> match_display(500, 0.89, 140).balance.value
    'matched'
    """
    paper = paper_luminance_cd_m2(illuminance_lx, reflectance)
    require_above_zero("The display's white", display_cd_m2, "cd/m²", "120")
    stops = log2(paper / display_cd_m2)
    facts = (
        f"paper white has {paper:.1f} cd/m² at {illuminance_lx:g} lx, the display's "
        f"white {display_cd_m2:g}"
    )
    if abs(stops) <= MATCH_STOPS:
        balance = LightBalance.MATCHED
        verdict = f"Print and display look equally bright: {facts}."
        advice = "Leave the light and the display as they are."
    else:
        balance = (
            LightBalance.PAPER_DARKER if stops < 0 else LightBalance.PAPER_BRIGHTER
        )
        word = "darker" if stops < 0 else "brighter"
        verdict = f"The print will look {abs(stops):.1f} stops {word}: {facts}."
        advice = _advice(paper, display_cd_m2, reflectance)
    return DisplayMatch(
        paper_cd_m2=paper,
        display_cd_m2=display_cd_m2,
        illuminance_needed_lx=illuminance_lx * display_cd_m2 / paper,
        difference_stops=stops,
        balance=balance,
        verdict=verdict,
        advice=advice,
    )


def _advice(paper_cd_m2: float, display_cd_m2: float, reflectance: float) -> str:
    """What to set: the display where it can follow, otherwise the light as well."""
    low, high = DISPLAY_RANGE_CD_M2
    display = min(max(display_cd_m2, low), high)
    needed_lx = display * pi / reflectance
    if not low <= paper_cd_m2 <= high and display == display_cd_m2:
        return (
            f"Light the paper with {needed_lx:.0f} lx and leave the display's white at "
            f"{display:g} cd/m²: a display is seldom set to the paper's "
            f"{paper_cd_m2:.0f} cd/m², outside {low:g} to {high:g}."
        )
    if low <= paper_cd_m2 <= high:
        return (
            f"Set the display's white to {paper_cd_m2:.0f} cd/m², or light the paper "
            f"with {needed_lx:.0f} lx for {display:g} cd/m²."
        )
    return (
        f"Light the paper with {needed_lx:.0f} lx and set the display's white to "
        f"{display:g} cd/m²: the paper's {paper_cd_m2:.0f} cd/m² is outside {low:g} to "
        f"{high:g}."
    )


def require_above_zero(what: str, value: float, unit: str, example: str) -> None:
    """
    Refuse 0, negative, infinite and missing numbers.

    Raises
    ------
    SpecError
    """
    if not 0 < value < inf:
        raise SpecError(
            f"{what} is {value:g} {unit}.",
            remedy=f"Give a finite number above 0 {unit}, such as {example}.",
        )


BACKGROUND_SHARE = 0.2
"""Share of a perfect white's luminance that the eye is adapted to: CIE 248:2022."""

DETAIL_CYCLES_PER_DEGREE, DETAIL_DEG = 4.0, 2.0
"""Grating that contrast is judged on: the Standard Target of DICOM PS3.14, clause 7."""

SURE_THRESHOLDS = 2.0
"""Contrast, in thresholds, from which two tones are distinct: our choice. The
threshold is found in half of the looks; twice of it in nearly all, if detection is a
Weibull curve of slope 3.5 (Watson & Pelli 1983, from memory)."""

LOWEST_CD_M2 = 0.05
"""Lowest luminance of DICOM PS3.14, clause 7: below, the model is extrapolated."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShadowSteps:
    """
    How many tones of a ladder are distinct in a room.

    Attributes
    ----------
    contrast_thresholds : ndarray of float64, shape (tones - 1,)
        Contrast of each two neighbours in multiples of the smallest contrast found
        in this room; below 0 where the second tone is the darker.
    distinct : int
        Neighbours with enough of it.
    darkest_cd_m2 : float
        Luminance of the darkest tone.
    is_extrapolated : bool
        Whether that is below `LOWEST_CD_M2`.
    """

    contrast_thresholds: Floats
    distinct: int
    darkest_cd_m2: float
    is_extrapolated: bool


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
    sensitivity = grating_sensitivity(DETAIL_CYCLES_PER_DEGREE, luminance, DETAIL_DEG)
    spread = 0.25 * np.log1p(144 / DETAIL_DEG**2)
    ratio = np.log(surround_cd_m2 / luminance) + spread
    lost = np.exp((ratio**2 - spread**2) / (2 * np.log(32) ** 2))
    return np.asarray(lost / sensitivity, np.float64)


def distinct_shadow_steps(
    printed_l: Floats, illuminance_lx: float, *, thresholds: float = SURE_THRESHOLDS
) -> ShadowSteps:
    """
    Count the neighbours in a ladder of tones that are distinct in a room.

    Parameters
    ----------
    printed_l : ndarray of float64, shape (tones,)
        ICC-absolute L* from dark to light, two or more, each above 0: those of a
        wedge printed through the paper's profile.
    illuminance_lx : float
        Light on the print, above 0.
    thresholds : float, optional
        Contrast needed, in multiples of the threshold, above 0.

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
    >>> [distinct_shadow_steps(ladder_l, lx).distinct for lx in (500, 50)]
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
        distinct=int((multiples >= thresholds).sum()),
        darkest_cd_m2=darkest_cd_m2,
        is_extrapolated=darkest_cd_m2 < LOWEST_CD_M2,
    )
