"""Can a picture be read or printed by a profile: do greys stay grey and rise?"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.conversion import xyz_to_device
from printplan.colour.icc_file import FETCH_AGAIN, read_icc
from printplan.colour.profiles import known_profile
from printplan.colour.spaces import named_profile, xyz_from_lab
from printplan.colour.transforms import TABLE_OF_INTENT, device_to_lab
from printplan.errors import ProfileError
from printplan.spec import BlackPointCompensation, Intent, NamedSpace

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile

    Floats = NDArray[np.float64]

# Limits of this module are our choice, and generous: what lies beyond them is damage.
# Poor quality is told by `profile_quality` and the findings, and is no refusal.

_STEPS = 33
_LEAST_RANGE_L = 5.0
"""From black to white; a poor paper has some 60."""
_MOST_FALL_L = 20.0
"""By which a wedge may fall back on its way to white."""
_LEAST_TONES = 5
"""Steps of the wedge that are lighter than all before them by one L* or more."""
_MOST_CHROMA = 45.0
"""C*ab of a grey. Real profiles have up to 14, old ones of displays whose white was
not adapted to D50 some 20; a colorant lost has 100."""
_WHITE_L = (40.0, 120.0)
"""Lightness of white relative to the medium, where 100 is meant."""

_OWN_NUMBERS = {"scnr", "prtr"}
"""Classes whose equal red, green and blue need not be grey: numbers of one device."""


def require_output_profile(profile: Profile) -> Profile:
    """
    The profile itself, if a print can be converted to it.

    Raises
    ------
    ProfileError
        If it is not an output profile (class ``prtr``) for grey, RGB or CMYK; if a
        table cannot be used; if greys that are sent through it and read back do not
        get lighter, or come back as strong colours.
    """
    if profile.device_class != "prtr":
        raise ProfileError(
            f"The profile {profile.name!r} is of class {profile.device_class!r}; a "
            "paper needs an output profile ('prtr').",
            remedy="Name the profile made for this paper on this printer.",
        )
    return require_target_profile(profile)


def paper_profile(profile: str) -> Profile:
    """
    Profile of a paper on a printer, by what the paper book names.

    Parameters
    ----------
    profile : str
        Path of an ICC output profile, or a named space: that of a service's paper
        which gives none.

    Raises
    ------
    ProfileError
        As `require_output_profile` and `open_profile` raise it.
    """
    if profile in set(NamedSpace):
        return named_profile(NamedSpace(profile))
    return require_output_profile(known_profile(profile))


def require_source_profile(profile: Profile) -> Profile:
    """
    The profile itself, if it says what a picture's numbers are.

    Raises
    ------
    ProfileError
        If it is for another space than grey, RGB or CMYK; if it cannot be used; if
        its greys do not get lighter, or are strong colours.
    """
    _ = profile.channels
    _require_read_greys(profile)
    return profile


def require_target_profile(profile: Profile) -> Profile:
    """
    The profile itself, if colours can be converted to it: a paper's, or a space.

    Raises
    ------
    ProfileError
        As for `require_output_profile`, of whatever class it is.
    """
    _ = profile.channels
    _require_printed_greys(profile)
    return profile


@lru_cache(maxsize=64)
def _require_printed_greys(profile: Profile) -> None:
    lab = np.linspace(0, 100, _STEPS)[:, None] * [1.0, 0.0, 0.0]
    planes = np.ascontiguousarray(xyz_from_lab(lab).T[:, None], np.float32)
    for intent in _own_tables(profile, "B2A"):
        pipeline = xyz_to_device(
            None,
            profile,
            intent=intent,
            black_point_compensation=BlackPointCompensation.OFF,
        )
        printed = device_to_lab(pipeline.from_linear(planes), profile)[0]
        _require_wedge(profile, printed, f"greys printed by its {intent} table")
        _require_grey(profile, printed, f"greys printed by its {intent} table")
    _require_proofed(profile)


def _require_proofed(profile: Profile) -> None:
    """Refuse tables from the device, which blacks and proofs are read by."""
    for intent in _own_tables(profile, "A2B"):
        read = device_to_lab(_device_wedge(profile), profile, intent=intent)[0]
        _require_wedge(profile, read, f"device values read by its {intent} table")


@lru_cache(maxsize=64)
def _require_read_greys(profile: Profile) -> None:
    read = device_to_lab(_device_wedge(profile), profile)[0]
    _require_wedge(profile, read, "its greys")
    if profile.device_class not in _OWN_NUMBERS:
        _require_grey(profile, read, "its greys")


def _device_wedge(profile: Profile) -> Floats:
    """Equal values of all channels from black to white, as one row of pixels."""
    level = np.linspace(0, 1, _STEPS)[:, None]
    if profile.space == "CMYK":
        level = 1 - level
    return (level * np.ones(profile.channels))[None]


def _own_tables(profile: Profile, way: str) -> list[Intent]:
    tags = read_icc(profile.data, where=profile.name).tags
    tried = (Intent.PERCEPTUAL, Intent.MEDIA_RELATIVE, Intent.SATURATION)
    own = [it for it in tried if f"{way}{TABLE_OF_INTENT[it]}" in tags]
    return own or [Intent.MEDIA_RELATIVE]


def _require_wedge(profile: Profile, lab: Floats, what: str) -> None:
    """Refuse a wedge that is no picture: not finite, level, falling, of few tones."""
    if not np.isfinite(lab).all():
        raise _unusable(profile, f"{what} are not finite")
    lightness = lab[:, 0]
    black_l, white_l = float(lightness[0]), float(lightness[-1])
    low, high = _WHITE_L
    if not low <= white_l <= high:
        raise _unusable(profile, f"{what} end at L* {white_l:.1f}, not 100")
    if white_l - black_l < _LEAST_RANGE_L:
        raise _unusable(
            profile,
            f"{what} run from L* {black_l:.1f} to {white_l:.1f}; a poor paper has "
            "some 60 between black and white",
        )
    highest = np.maximum.accumulate(lightness)
    fall = float((highest - lightness).max())
    if fall > _MOST_FALL_L:
        raise _unusable(
            profile, f"{what} fall back by L* {fall:.1f} on their way to white"
        )
    tones = int((np.diff(highest) >= 1).sum())
    if tones < _LEAST_TONES:
        raise _unusable(profile, f"{what} have {tones} tones in {_STEPS} steps")


def _require_grey(profile: Profile, lab: Floats, what: str) -> None:
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    worst = int(chroma.argmax())
    if chroma[worst] > _MOST_CHROMA:
        raise _unusable(
            profile,
            f"{what} are no greys (chroma {chroma[worst]:.0f} at L* "
            f"{lab[worst, 0]:.0f}; {_MOST_CHROMA:g} is the most)",
        )


def _unusable(profile: Profile, what: str) -> ProfileError:
    return ProfileError(
        f"The profile {profile.name!r} is damaged: {what}.", remedy=FETCH_AGAIN
    )
