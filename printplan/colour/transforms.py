"""What do colour numbers become in another profile's space?"""

from __future__ import annotations

from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING, TypeVar

import imagecodecs
import numpy as np

from printplan.colour.profiles import (
    Profile,
    ProfileLike,
    engine_data,
    open_profile,
)
from printplan.errors import ProfileError
from printplan.spec import BlackPointCompensation, Intent, member
from printplan.validation import colour_array, device_codes

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


Pixel = TypeVar("Pixel", bound=np.generic)


class WhiteReference(StrEnum):
    """What the colours of a medium are measured against."""

    ILLUMINANT = "illuminant"
    """Colours as they are under D50, paper white included: ICC-absolute."""

    PAPER = "paper"
    """Relative to the device's own white: media-relative."""

    @property
    def intent(self) -> Intent:
        """The intent that reads colours so."""
        absolute = self is WhiteReference.ILLUMINANT
        return Intent.ICC_ABSOLUTE if absolute else Intent.MEDIA_RELATIVE


# lcms2.h: cmsFLAGS_NOOPTIMIZE, cmsFLAGS_BLACKPOINTCOMPENSATION. Without the first, a
# CMYK profile is read through a table of its own that takes seconds to fill and was
# measured up to 10 of 255 wrong.
_EXACT, _COMPENSATE = 0x0100, 0x2000

_INTENT_NUMBER = {
    Intent.PERCEPTUAL: 0,
    Intent.MEDIA_RELATIVE: 1,
    Intent.SATURATION: 2,
    Intent.ICC_ABSOLUTE: 3,
}
TABLE_OF_INTENT = {
    Intent.PERCEPTUAL: "0",
    Intent.MEDIA_RELATIVE: "1",
    Intent.SATURATION: "2",
    Intent.ICC_ABSOLUTE: "1",
}
"""Last sign of a table's tag, as in A2B0: ICC.1:2022, 9.2.1. The absolute intent is
computed from the media-relative table."""

_LAYOUT = {"RGB": "rgb", "GRAY": "gray", "CMYK": "cmyk"}


def chosen(
    intent: Intent | str, black_point_compensation: BlackPointCompensation | str
) -> tuple[Intent, BlackPointCompensation]:
    """
    A rendering in words as the members of its choices.

    Raises
    ------
    SpecError
        If one is unknown; the remedy names those that are known.
    """
    return (
        member(Intent, intent, "Intent"),
        member(
            BlackPointCompensation, black_point_compensation, "Black point compensation"
        ),
    )


def lcms_convert(
    pixels: NDArray[np.uint16],
    source: Profile,
    target: Profile,
    *,
    intent: Intent,
    black_point_compensation: BlackPointCompensation,
) -> NDArray[np.uint16]:
    """
    Convert device values of one profile to those of another by LittleCMS, exactly.

    Parameters
    ----------
    pixels : ndarray of uint16, shape (rows, columns, channels)
        Full scale is 65535; CMYK counts ink.
    source, target : Profile
        Their spaces give the numbers of channels.
    black_point_compensation : BlackPointCompensation
        Has no effect with `Intent.ICC_ABSOLUTE`.

    Returns
    -------
    ndarray of uint16, shape (rows, columns, channels of the target)

    Raises
    ------
    ProfileError
        If LittleCMS cannot join the two profiles.

    Notes
    -----
    The result at a pixel depends on that pixel alone, so any cut of a picture
    gives the same numbers. Version 4 profiles with the perceptual or saturation
    intent are compensated whatever is asked: their perceptual black is fixed
    (ICC.1:2022, 6.3.3).
    """
    intent, wish = chosen(intent, black_point_compensation)
    flags = _COMPENSATE if wish is BlackPointCompensation.ON else 0
    out = _run(pixels, source, target, intent=intent, flags=flags, out_type="uint16")
    return out.astype(np.uint16, copy=False)


def device_to_lab(
    pixels: ArrayLike,
    profile: ProfileLike,
    *,
    intent: Intent | str = Intent.MEDIA_RELATIVE,
) -> NDArray[np.float64]:
    """
    CIELAB of device values, computed exactly.

    Parameters
    ----------
    pixels : array_like of uint8, uint16 or float, shape (..., channels)
        Integers count up to full scale, floats from 0 to 1 (rounded to 16 bits); CMYK
        counts ink. Grey may be (rows, columns).
    profile : Profile, path, bytes or name of a space
        What the numbers mean.
    intent : Intent or str, optional
        ``"icc-absolute"`` gives the colour as it is, others relative to its white.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        L*, a*, b* under D50.

    Raises
    ------
    ProfileError
        If LittleCMS cannot read the profile in that direction.
    SpecError
        If the pixels are no such array, or the intent is unknown.

    Notes
    -----
    Curves and matrix or tables of the profile [1]_, then CIELAB [2]_.

    References
    ----------
    .. [1] ICC.1:2022, 8.2 to 8.4 and annex F.
    .. [2] ISO/CIE 11664-4:2019.

    Examples
    --------
    The eye's middle grey, L* 50, is code 119 of 255; the red primary is L* 54.3:

    >>> grey_and_red = np.array([[119, 119, 119], [255, 0, 0]], np.uint8)
    >>> device_to_lab(grey_and_red, "srgb")[:, 0].round(1).tolist()
    [50.0, 54.3]
    """
    profile = open_profile(profile)
    intent = member(Intent, intent, "Intent")
    codes = device_codes(pixels, profile.channels, f"Pixels of {profile.name!r}")
    lab = _run(
        rows_of(codes),
        profile,
        _lab(intent),
        intent=intent,
        out_type="float64",
    )
    return lab.reshape(*codes.shape[:-1], 3)


def lab_to_device(
    lab: ArrayLike,
    profile: ProfileLike,
    *,
    intent: Intent | str = Intent.MEDIA_RELATIVE,
) -> NDArray[np.uint16]:
    """
    Device values that a profile gives for CIELAB colours, computed exactly.

    Parameters
    ----------
    lab : array_like of float, shape (..., 3)
        L*, a*, b* under D50.
    profile : Profile, path, bytes or name of a space
        Of the device.
    intent : Intent or str, optional
        ``"icc-absolute"`` asks for the colour as it is, others relative to white.

    Returns
    -------
    ndarray of uint16, shape (..., channels)
        Full scale is 65535; CMYK counts ink. Colours outside the gamut are moved into
        it as the profile has it.

    Raises
    ------
    ProfileError
        If LittleCMS cannot use the profile in that direction.
    SpecError
        If the colours are no such array, or the intent is unknown.

    References
    ----------
    .. [1] ICC.1:2022, 8.2 to 8.4 and annex F.

    Examples
    --------
    >>> (lab_to_device([50.0, 0, 0], "srgb") / 257).round().tolist()
    [119.0, 119.0, 119.0]
    """
    profile = open_profile(profile)
    colours = colour_array(lab, "CIELAB colours").astype(np.float64, copy=False)
    out = _run(
        rows_of(colours),
        _lab(Intent.MEDIA_RELATIVE),
        profile,
        intent=member(Intent, intent, "Intent"),
        out_type="uint16",
    )
    return out.astype(np.uint16, copy=False).reshape(*colours.shape[:-1], -1)


def rows_of(pixels: NDArray[Pixel]) -> NDArray[Pixel]:
    """Pixels in rows and columns: as they are, or all in one row."""
    if pixels.ndim == 3:
        return pixels
    return pixels.reshape(1, -1, pixels.shape[-1])


@lru_cache(maxsize=16)
def tone_curves(profile: Profile) -> NDArray[np.float32]:
    """
    Linear light of each 16-bit code of a matrix or grey profile.

    Returns
    -------
    ndarray of float32, shape (channels, 65536)
        0 to 1, not writable.

    Raises
    ------
    ProfileError
        If the profile reads its colours through tables.
    """
    ramp = np.zeros((profile.channels, 65536, profile.channels), np.uint16)
    for channel in range(profile.channels):
        ramp[channel, :, channel] = np.arange(65536)
    xyz = _linear_xyz(ramp, profile)
    full = xyz[:, -1, :]
    # The largest of X, Y, Z at full scale: a blue's Y can be near zero.
    strongest = full.argmax(axis=1)
    rows = np.arange(profile.channels)
    curves = xyz[rows, :, strongest] / full[rows, strongest][:, None]
    clipped: NDArray[np.float32] = np.clip(curves, 0.0, 1.0).astype(np.float32)
    clipped.setflags(write=False)
    return clipped


def linear_of_codes(codes: NDArray[np.uint16], profile: Profile) -> NDArray[np.float32]:
    """
    Linear light of a picture in a matrix or grey profile.

    Parameters
    ----------
    codes : ndarray of uint16, shape (rows, columns, channels)

    Returns
    -------
    ndarray of float32, shape (channels, rows, columns)

    Raises
    ------
    ProfileError
        If the profile reads its colours through tables.
    """
    planes = zip(tone_curves(profile), np.moveaxis(codes, -1, 0), strict=True)
    return np.stack([np.take(curve, plane) for curve, plane in planes])


def code_of_light(
    curve: NDArray[np.float32], light: NDArray[np.floating]
) -> NDArray[np.float64]:
    """
    16-bit code of linear light: the inverse of one tone curve.

    Parameters
    ----------
    curve : ndarray of float32, shape (65536,)
        Linear light of each code, rising; one of `tone_curves`.
    light : ndarray of float
        Linear light.

    Returns
    -------
    ndarray of float64
        0 to 65535, not rounded. Of codes with the same light, the lowest is meant.
    """
    level, first = np.unique(curve, return_index=True)
    codes: NDArray[np.float64] = np.interp(
        light, level.astype(np.float64), first.astype(np.float64)
    )
    return codes


@lru_cache(maxsize=16)
def colorants_xyz(profile: Profile) -> NDArray[np.float64]:
    """
    XYZ of each linear channel of a matrix or grey profile at full scale.

    Returns
    -------
    ndarray of float64, shape (3, channels)
        One channel in each column, D50 with Y = 1 for white; not writable.

    Raises
    ------
    ProfileError
        If the profile reads its colours through tables.
    """
    full = np.eye(profile.channels, dtype=np.uint16)[None] * np.uint16(65535)
    columns = np.ascontiguousarray(_linear_xyz(full, profile)[0].T)
    columns.setflags(write=False)
    return columns


@lru_cache(maxsize=16)
def luminance_weights(profile: Profile) -> NDArray[np.float64]:
    """
    Share of each linear channel in luminance Y.

    Parameters
    ----------
    profile : Profile
        A matrix or grey profile.

    Returns
    -------
    ndarray of float64, shape (channels,)
        Sums to 1, not writable.

    Raises
    ------
    ProfileError
        If the profile reads its colours through tables.
    """
    luminance = colorants_xyz(profile)[1]
    weights: NDArray[np.float64] = luminance / luminance.sum()
    weights.setflags(write=False)
    return weights


def _linear_xyz(pixels: NDArray[np.uint16], profile: Profile) -> NDArray[np.float64]:
    if profile.is_table:
        raise ProfileError(
            f"The profile {profile.name!r} reads colours through tables; it has no "
            "tone curve of its own.",
            remedy="Convert to a matrix space, such as ROMM RGB, first.",
        )
    return _run(
        pixels,
        profile,
        _xyz(),
        intent=Intent.MEDIA_RELATIVE,
        out_type="float64",
    )


@lru_cache(maxsize=2)
def _lab(intent: Intent) -> Profile:
    """
    CIELAB as LittleCMS' connection space.

    To a version 4 space it compensates the perceptual and saturation intents unasked,
    which would read every black as L* 0; version 2 is read as it is.
    """
    compensated = intent in {Intent.PERCEPTUAL, Intent.SATURATION}
    return _built_in("lab2" if compensated else "lab4", "Lab")


@lru_cache(maxsize=1)
def _xyz() -> Profile:
    return _built_in("xyz", "XYZ")


def _built_in(kind: str, space: str) -> Profile:
    """Profile of a connection space, as LittleCMS builds it."""
    return Profile(
        data=bytes(imagecodecs.cms_profile(kind)),
        name=f"CIE {space}",
        device_class="abst",
        space=space,
        pcs=space,
        version=(4, 4),
        is_table=False,
        sha256="",
    )


def _run(  # noqa: PLR0913 - the engine's own arguments
    pixels: NDArray[np.uint16] | NDArray[np.float64],
    source: Profile,
    target: Profile,
    *,
    intent: Intent,
    out_type: str,
    flags: int = 0,
) -> NDArray[np.float64]:
    """Call LittleCMS; grey goes in and comes out without its channel axis."""
    grey_in = source.space == "GRAY"
    rows, columns = pixels.shape[:2]
    try:
        out = imagecodecs.cms_transform(
            np.ascontiguousarray(pixels[..., 0] if grey_in else pixels),
            engine_data(source),
            engine_data(target),
            colorspace=_LAYOUT.get(source.space, source.space.lower()),
            outcolorspace=_LAYOUT.get(target.space, target.space.lower()),
            outdtype=out_type,
            intent=_INTENT_NUMBER[intent],
            flags=_EXACT | flags,
        )
    except imagecodecs.CmsError as error:
        raise ProfileError(
            f"No {intent} conversion from {source.name!r} to {target.name!r} "
            f"({error}).",
            remedy="Choose another intent, or a sound profile made for this paper.",
        ) from error
    return np.asarray(out).reshape(rows, columns, -1)
