"""What does a colour become when it is printed on a paper?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.black_point import compensation, device_black
from printplan.colour.icc_file import D50_XYZ, read_icc, read_numbers
from printplan.colour.spaces import lab_from_xyz, xyz_from_lab
from printplan.colour.transforms import device_to_lab, lab_to_device
from printplan.spec import BlackPointCompensation, Intent

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


def adaptation(
    target: Profile,
    intent: Intent,
    black_point_compensation: BlackPointCompensation,
    *,
    source_white_xyz: Floats = _D50,
    source_black_lab: Floats | None = None,
) -> tuple[Floats, Floats]:
    """
    The straight line that colours go through between two media.

    Parameters
    ----------
    target : Profile
    intent : Intent
    black_point_compensation : BlackPointCompensation
    source_white_xyz : ndarray of float64, shape (3,), optional
        Medium's white of the source; D50 for working spaces.
    source_black_lab : ndarray of float64, shape (3,), optional
        Black of the source; L* 0 for working spaces.

    Returns
    -------
    tuple of two ndarrays of float64, shape (3,)
        Scale and offset of X, Y and Z.

    Notes
    -----
    ICC-absolute scales by the two whites (ICC.1:2022, 6.3.2); compensation moves
    black to black (ISO 18619). Version 4 targets have a black of their own in the
    perceptual and saturation intents, so these are compensated whatever is asked
    (ICC.1:2022, 6.3.3). Both blacks are taken as neutral: greys stay grey. LittleCMS
    does so up to version 2.14 and lets a tinted black tint all tones in 2.18.
    """
    if intent is Intent.ICC_ABSOLUTE:
        return source_white_xyz / media_white_xyz(target), np.zeros(3)
    forced = target.version >= (4, 0) and intent is not Intent.MEDIA_RELATIVE
    if black_point_compensation is BlackPointCompensation.OFF and not forced:
        return np.ones(3), np.zeros(3)
    black = np.zeros(3) if source_black_lab is None else source_black_lab
    line = compensation(
        xyz_from_lab(black * _NEUTRAL).tolist(),
        xyz_from_lab(device_black(target, intent) * _NEUTRAL).tolist(),
    )
    return np.array(line.scale), np.array(line.offset)


def rendered_device(
    lab: Floats,
    target: Profile,
    intent: Intent,
    black_point_compensation: BlackPointCompensation,
) -> NDArray[np.uint16]:
    """
    Device values that an intent gives for colours of a working space.

    Parameters
    ----------
    lab : ndarray of float64, shape (colours, 3)
        CIELAB under D50, relative to the working space's white.
    target : Profile
        The paper's.
    intent : Intent
    black_point_compensation : BlackPointCompensation

    Returns
    -------
    ndarray of uint16, shape (colours, channels)

    Raises
    ------
    ProfileError
        If the profile has no way to its device.
    """
    scale, offset = adaptation(target, intent, black_point_compensation)
    if not (scale == 1).all() or offset.any():
        lab = lab_from_xyz(xyz_from_lab(lab) * scale + offset)
    way = Intent.MEDIA_RELATIVE if intent is Intent.ICC_ABSOLUTE else intent
    device: NDArray[np.uint16] = lab_to_device(lab[None], target, intent=way)[0]
    return device


def rendered_lab(
    lab: Floats,
    target: Profile,
    intent: Intent,
    black_point_compensation: BlackPointCompensation,
) -> Floats:
    """
    Colours of a working space as they come out on the paper.

    Parameters
    ----------
    lab : ndarray of float64, shape (colours, 3)
        CIELAB under D50, relative to the working space's white.
    target : Profile
        The paper's.
    intent : Intent
    black_point_compensation : BlackPointCompensation

    Returns
    -------
    ndarray of float64, shape (colours, 3)
        CIELAB relative to the paper's white: as an eye adapted to the paper sees it.

    Raises
    ------
    ProfileError
        If the profile has no way to its device or back.
    """
    device = rendered_device(lab, target, intent, black_point_compensation)
    printed: Floats = device_to_lab(device[None], target, intent=Intent.MEDIA_RELATIVE)[
        0
    ]
    return printed
