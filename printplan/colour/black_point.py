"""How dark is black in a profile, and how is one black mapped to another?"""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.icc_file import D50_XYZ, read_icc, read_numbers, write_icc
from printplan.colour.profiles import Profile, open_profile, profile_from_bytes
from printplan.colour.spaces import lab_from_xyz, xyz_from_lab
from printplan.colour.transforms import (
    TABLE_OF_INTENT,
    chosen,
    device_to_lab,
    lab_to_device,
)
from printplan.errors import ProfileError, SpecError
from printplan.spec import BlackPointCompensation, Intent, member
from printplan.validation import colour_array

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from printplan.colour.profiles import ProfileLike

    Floats = NDArray[np.float64]


_D50 = np.array(D50_XYZ)
_NEUTRAL = np.array([1.0, 0.0, 0.0])


def media_white_xyz(profile: Profile) -> Floats:
    """
    The medium's white as the ICC-absolute intent takes it.

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
    return np.array(read_numbers(white)[:3])


def is_compensated(
    target: Profile, intent: Intent, black_point_compensation: BlackPointCompensation
) -> bool:
    """
    Whether black point compensation plays a part in a rendering.

    Parameters
    ----------
    black_point_compensation : BlackPointCompensation
        What is asked.

    Notes
    -----
    Every intent but ICC-absolute can be compensated (ISO 18619:2015). Version 4 fixes
    the black of its perceptual and saturation intents, so that these are compensated
    whatever is asked (ICC.1:2022, 6.3.3).
    """
    intent, wish = chosen(intent, black_point_compensation)
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
    black = np.zeros(3) if source is None else source_black_point(source, intent)
    paper_black = destination_black_point(target, intent)
    if not has_reference_black(target, intent):
        paper_black = paper_black * _NEUTRAL
    return _compensation(
        xyz_from_lab(black * _NEUTRAL), xyz_from_lab(paper_black), _D50
    )


PERCEPTUAL_BLACK_XYZ = (0.00336, 0.0034731, 0.00287)
"""Black of the perceptual reference medium, relative to its white: ICC.1:2022, 6.3.3.

That is 0.30911 % of light on a paper of 89 %."""

LIGHTEST_BLACK_L = 50.0
"""A black lighter than this is cut to it: ISO 18619:2015, 4.2.3."""

_RAMP_STEPS = 256
_WITHOUT_BLACK = {"link", "abst", "nmcl"}


def compensate_black_point(
    xyz: ArrayLike,
    source_black_xyz: ArrayLike,
    destination_black_xyz: ArrayLike,
    white_xyz: ArrayLike = D50_XYZ,
) -> Floats:
    """
    Take one black to another on a straight line that leaves white alone.

    Parameters
    ----------
    xyz : array_like of float, shape (..., 3)
        Media-relative, with Y = 1 for white.
    source_black_xyz, destination_black_xyz, white_xyz : array_like of float, shape (3,)
        XYZ of the two blacks and of white.

    Returns
    -------
    ndarray of float64, shape (..., 3)

    Raises
    ------
    SpecError
        If the colours are no such array, or the source black is as light as white.

    Notes
    -----
    ``XYZ' = scale · XYZ + offset`` with ``scale = (white − destination) / (white −
    source)`` and ``offset = white · (destination − source) / (white − source)`` [1]_.

    References
    ----------
    .. [1] ISO 18619:2015, 4.2.6 and 4.2.7.

    Examples
    --------
    From a black of no light to one of 1 %, in steps of a half:

    >>> grey = np.array([[0.0], [0.5], [1.0]]) * D50_XYZ
    >>> lifted = compensate_black_point(grey, (0, 0, 0), 0.01 * np.array(D50_XYZ))
    >>> lifted[:, 1].round(3).tolist()
    [0.01, 0.505, 1.0]
    """
    scale, offset = _compensation(source_black_xyz, destination_black_xyz, white_xyz)
    return np.asarray(colour_array(xyz, "XYZ colours") * scale + offset)


def _compensation(
    source_black_xyz: ArrayLike, destination_black_xyz: ArrayLike, white_xyz: ArrayLike
) -> tuple[Floats, Floats]:
    """Scale and offset of `compensate_black_point`."""
    source, destination, white = (
        np.asarray(xyz, np.float64)
        for xyz in (source_black_xyz, destination_black_xyz, white_xyz)
    )
    if not (source < white).all():
        raise SpecError(
            f"The source black {source.tolist()} is not darker than white.",
            remedy="Give the black of the source first, with Y = 1 for white.",
        )
    scale = (destination - white) / (source - white)
    return scale, -white * (destination - source) / (source - white)


def source_black_point(
    profile: ProfileLike, intent: Intent | str = Intent.MEDIA_RELATIVE
) -> Floats:
    """
    Black of a profile that colours come from.

    Parameters
    ----------
    profile : Profile, path, bytes or name of a space
    intent : Intent or str, optional
        Any but ICC-absolute.

    Returns
    -------
    ndarray of float64, shape (3,)
        L*, a*, b*, relative to the profile's white.

    Raises
    ------
    ProfileError
        If it is a device link, an abstract or a named-colour profile.
    SpecError
        If the intent is ICC-absolute, which keeps black where it is.

    Notes
    -----
    The darkest colorant read by that intent. With CMYK output in the media-relative
    intent, what the perceptual intent prints for black, taken as neutral, since no
    press prints four solids [1]_. Version 4 tables have the perceptual reference
    medium's black in the perceptual and saturation intents [2]_.

    Where the standard leaves a choice this follows LittleCMS 2.18, whose conversions
    it must foretell: the darkest colorant keeps its tint (version 2.14 took it as
    neutral), and a profile without a table for the intent counts as black 0.

    References
    ----------
    .. [1] ISO 18619:2015, 4.2.3.
    .. [2] ICC.1:2022, 6.3.3.
    """
    profile, intent = open_profile(profile), member(Intent, intent, "Intent")
    _require_black(profile, intent)
    if has_reference_black(profile, intent):
        return lab_from_xyz(np.array(PERCEPTUAL_BLACK_XYZ))
    press = profile.device_class == "prtr" and profile.space == "CMYK"
    if press and intent is Intent.MEDIA_RELATIVE:
        if not _has_table(profile, "A2B", Intent.PERCEPTUAL):
            return np.zeros(3)
        black = _round_trip(np.zeros((1, 3)), profile, Intent.PERCEPTUAL)
        return _dark(black[0, 0], tint_ab=(0.0, 0.0))
    return _darkest_colorant(profile, intent)


def destination_black_point(
    profile: ProfileLike, intent: Intent | str = Intent.MEDIA_RELATIVE
) -> Floats:
    """
    Black of a profile that colours go to, such as a paper's.

    Parameters
    ----------
    profile : Profile, path, bytes or name of a space
    intent : Intent or str, optional
        Any but ICC-absolute.

    Returns
    -------
    ndarray of float64, shape (3,)
        L*, a*, b*, relative to the profile's white.

    Raises
    ------
    ProfileError
        If it is a device link, an abstract or a named-colour profile, or a ramp
        sent through its tables and back does not get lighter.
    SpecError
        If the intent is ICC-absolute, which keeps black where it is.

    Notes
    -----
    A ramp in L* of the first guess's tint (neutral, but for the media-relative
    intent) goes to the device by the intent and is read back colorimetrically.
    In the media-relative intent, if everything but its darkest fifth comes back
    within 4 of its L*, black is that of `source_black_point`. Otherwise, and in the
    other intents, a parabola is fitted to the shadows, and black is where it reaches
    the ramp's darkest value [1]_. Profiles without tables have the black of
    `source_black_point`.

    References
    ----------
    .. [1] ISO 18619:2015, 4.2.4 and 4.2.5.

    Examples
    --------
    A screen's black is no light at all; a paper's is not:

    >>> np.abs(destination_black_point("srgb")).round(2).tolist()
    [0.0, 0.0, 0.0]
    """
    profile, intent = open_profile(profile), member(Intent, intent, "Intent")
    _require_black(profile, intent)
    if has_reference_black(profile, intent) or not _has_table(profile, "B2A", intent):
        return source_black_point(profile, intent)
    first_guess = np.zeros(3)
    if intent is Intent.MEDIA_RELATIVE:
        first_guess = source_black_point(profile, intent)
    sent = np.tile(np.clip(first_guess, -50, 50), (_RAMP_STEPS, 1))
    sent[:, 0] = np.linspace(0.0, 100.0, _RAMP_STEPS)
    sent_l, back_l = sent[:, 0], _round_trip(sent, profile, intent)[:, 0]
    back_l[1:] = np.minimum.accumulate(back_l[:0:-1])[::-1]
    darkest_l, lightest_l = back_l[0], back_l[-1]
    if not darkest_l < lightest_l:
        raise ProfileError(
            f"Through {profile.name!r} a ramp comes back from L* {darkest_l:.1f} "
            f"to {lightest_l:.1f}, not lighter.",
            remedy="Use a sound profile made for this paper.",
        )
    shadows = (0.03, 0.25)
    if intent is Intent.MEDIA_RELATIVE:
        above = sent_l > darkest_l + 0.2 * (lightest_l - darkest_l)
        if (np.abs(sent_l - back_l)[above] < 4).all():
            return first_guess
        shadows = (0.1, 0.5)
    share = (back_l - darkest_l) / (lightest_l - darkest_l)
    fitted = (share >= shadows[0]) & (share < shadows[1])
    foot_l = _parabola_foot(sent_l[fitted], share[fitted])
    return _dark(foot_l, tint_ab=first_guess[1:])


def _parabola_foot(x: Floats, y: Floats) -> float:
    """Where a fitted parabola rises through 0; 0 if it does not."""
    if x.size < 4:
        return 0.0
    c, b, a = map(float, np.polynomial.Polynomial.fit(x, y, 2).convert().coef)
    discriminant = b * b - 4 * a * c
    if abs(a) < 1e-10 or discriminant <= 0:
        return 0.0
    return (-b + sqrt(discriminant)) / (2 * a)


def _darkest_colorant(profile: Profile, intent: Intent) -> Floats:
    """CIELAB of no light or full ink."""
    if profile.is_table:
        if not _has_table(profile, "A2B", intent):
            return np.zeros(3)
        profile = _colorimetric(profile, intent)
    ink = 65535 if profile.space == "CMYK" else 0
    device = np.full((1, 1, profile.channels), ink, np.uint16)
    lab = device_to_lab(device, profile, intent=Intent.MEDIA_RELATIVE)[0, 0]
    return _dark(lab[0], tint_ab=lab[1:])


def _round_trip(lab: Floats, profile: Profile, intent: Intent) -> Floats:
    """Colours sent to the device by an intent and read back colorimetrically."""
    device = lab_to_device(lab[None], profile, intent=intent)
    back: Floats = device_to_lab(device, profile, intent=Intent.MEDIA_RELATIVE)[0]
    return back


def _colorimetric(profile: Profile, intent: Intent) -> Profile:
    """
    The same profile with an intent's table in place of the media-relative one.

    Reading by the perceptual intent itself would compensate black away: LittleCMS
    does so unasked where the connection space is a version 4 profile.
    """
    icc = read_icc(profile.data, where=profile.name)
    tags = {**icc.tags, "A2B1": icc.tags[f"A2B{TABLE_OF_INTENT[intent]}"]}
    return profile_from_bytes(write_icc(icc.header, tags), where=profile.name)


def _has_table(profile: Profile, direction: str, intent: Intent) -> bool:
    tags = read_icc(profile.data, where=profile.name).tags
    return direction + TABLE_OF_INTENT[intent] in tags


def has_reference_black(profile: Profile, intent: Intent) -> bool:
    """
    Whether the standard fixes a profile's black for an intent.

    Returns
    -------
    bool
        It does in the perceptual and saturation tables of version 4.
    """
    rendered = intent in {Intent.PERCEPTUAL, Intent.SATURATION}
    return profile.is_table and profile.version[0] >= 4 and rendered


def _require_black(profile: Profile, intent: Intent) -> None:
    if intent is Intent.ICC_ABSOLUTE:
        raise SpecError(
            "The ICC-absolute intent keeps black where it is.",
            remedy="Ask for the media-relative, perceptual or saturation intent.",
        )
    if profile.device_class in _WITHOUT_BLACK:
        raise ProfileError(
            f"The profile {profile.name!r} is of class {profile.device_class!r} and "
            "has no black of its own.",
            remedy="Use the profile of a device or a working space.",
        )
    _ = profile.channels


def _dark(black_l: float, *, tint_ab: ArrayLike) -> Floats:
    """A black no darker than 0 and no lighter than the standard takes it."""
    return np.array([min(max(black_l, 0.0), LIGHTEST_BLACK_L), *np.asarray(tint_ab)])
