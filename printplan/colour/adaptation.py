"""Which straight line takes colours from one medium's white and black to another's?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.black_point import (
    compensation,
    device_black,
    has_reference_black,
    source_black,
)
from printplan.colour.icc_file import D50_XYZ, read_icc, read_numbers
from printplan.colour.spaces import xyz_from_lab
from printplan.spec import BlackPointCompensation, Intent, member

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile

    Floats = NDArray[np.float64]

_D50 = np.array(D50_XYZ)
_NEUTRAL = np.array([1.0, 0.0, 0.0])


def media_white_xyz(profile: Profile) -> Floats:
    """
    The medium's white as the ICC-absolute intent takes it.

    Parameters
    ----------
    profile : Profile

    Returns
    -------
    ndarray of float64, shape (3,)
        XYZ with D50 at Y = 1. Version 2 display profiles, and profiles without the
        tag, count as D50, as LittleCMS takes them.

    Raises
    ------
    ProfileError
        If the profile is damaged.
    """
    icc = read_icc(profile.data, where=profile.name)
    white = icc.tags.get("wtpt")
    if white is None or (profile.version < (4, 0) and profile.device_class == "mntr"):
        return _D50
    return np.array(read_numbers(white))


def is_compensated(
    target: Profile, intent: Intent, black_point_compensation: BlackPointCompensation
) -> bool:
    """
    Whether black point compensation plays a part in a rendering.

    Parameters
    ----------
    target : Profile
    intent : Intent
    black_point_compensation : BlackPointCompensation
        What is asked.

    Returns
    -------
    bool

    Notes
    -----
    Every intent but ICC-absolute can be compensated (ISO 18619:2015). Version 4 fixes
    the black of its perceptual and saturation intents, so that these are compensated
    whatever is asked (ICC.1:2022, 6.3.3).
    """
    intent = member(Intent, intent, "Intent")
    wish = member(
        BlackPointCompensation, black_point_compensation, "Black point compensation"
    )
    if intent is Intent.ICC_ABSOLUTE:
        return False
    forced = target.version >= (4, 0) and intent is not Intent.MEDIA_RELATIVE
    return forced or wish is BlackPointCompensation.ON


def adaptation(
    source: Profile | None,
    target: Profile,
    intent: Intent,
    black_point_compensation: BlackPointCompensation,
) -> tuple[Floats, Floats]:
    """
    The straight line that colours go through between two media.

    Parameters
    ----------
    source : Profile or None
        None is a working space: its white is D50, its black L* 0.
    target : Profile
    intent : Intent
    black_point_compensation : BlackPointCompensation

    Returns
    -------
    tuple of two ndarrays of float64, shape (3,)
        Scale and offset of X, Y and Z.

    Notes
    -----
    ICC-absolute scales by the two whites (ICC.1:2022, 6.3.2); compensation moves
    black to black (ISO 18619), see `is_compensated`. Both blacks are taken as neutral:
    greys stay grey. LittleCMS does so up to version 2.14 and lets a tinted black tint
    all tones in 2.18. Only the black of the perceptual reference medium is taken to the
    last digit of the standard, which is neutral within 0.05 of a*.
    """
    intent = member(Intent, intent, "Intent")
    if intent is Intent.ICC_ABSOLUTE:
        white = _D50 if source is None else media_white_xyz(source)
        return white / media_white_xyz(target), np.zeros(3)
    if not is_compensated(target, intent, black_point_compensation):
        return np.ones(3), np.zeros(3)
    black = np.zeros(3) if source is None else source_black(source, intent)
    paper_black = device_black(target, intent)
    if not has_reference_black(target, intent):
        paper_black = paper_black * _NEUTRAL
    line = compensation(
        xyz_from_lab(black * _NEUTRAL).tolist(), xyz_from_lab(paper_black).tolist()
    )
    return np.array(line.scale), np.array(line.offset)
