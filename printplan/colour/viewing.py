"""How bright is the paper beside the display?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import inf, log2, pi
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.profiles import require_output_profile
from printplan.colour.spaces import xyz_from_lab
from printplan.colour.transforms import device_to_lab
from printplan.errors import SpecError
from printplan.spec import Intent

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile

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
    balance : LightBalance
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

    Returns
    -------
    float

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


def paper_reflectance(profile: Profile) -> float:
    """
    Reflectance of a profile's bare paper.

    Parameters
    ----------
    profile : Profile
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

    Returns
    -------
    DisplayMatch

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

    Parameters
    ----------
    what : str
    value : float
    unit, example : str

    Raises
    ------
    SpecError
    """
    if not 0 < value < inf:
        raise SpecError(
            f"{what} is {value:g} {unit}.",
            remedy=f"Give a finite number above 0 {unit}, such as {example}.",
        )
