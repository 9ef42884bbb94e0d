"""How do the numbers stored in a master become linear light?"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

import imagecodecs
import numpy as np

from printplan.colour.profiles import engine_data
from printplan.colour.spaces import named_profile
from printplan.colour.transforms import tone_curves
from printplan.errors import ProfileError
from printplan.pixels.master_file import Stored, Transparency
from printplan.spec import NamedSpace

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile

_MEDIA_RELATIVE = 1
_NO_OPTIMISATION = 0x0100
"""lcms2.h: cmsFLAGS_NOOPTIMIZE, every colour through every stage of the profile."""

_TOP_CODE = 65535


class Working(StrEnum):
    """What the working pixels of a master are."""

    CODES = "codes"
    """The stored whole numbers; a table makes them linear when they are read."""

    LINEAR = "linear"
    """Linear light in the channels of the master's own profile."""

    ROMM = "romm"
    """Linear light in ROMM RGB (ISO 22028-2), converted from a table profile."""


def working_kind(stored: Stored, profile: Profile) -> Working:
    """
    What the working pixels of a master have to be.

    Parameters
    ----------
    profile : Profile
        What its numbers mean.
    """
    if profile.is_table:
        return Working.ROMM
    if stored.dtype.kind == "f" or stored.transparency is not Transparency.NONE:
        return Working.LINEAR
    return Working.CODES


def working_profile(kind: Working, profile: Profile) -> Profile:
    """
    The profile in whose channels the working pixels are.

    Parameters
    ----------
    profile : Profile
        The master's own.
    """
    return named_profile(NamedSpace.ROMM_RGB) if kind is Working.ROMM else profile


def code_tables(stored: Stored, profile: Profile) -> NDArray[np.float32]:
    """
    Linear light of every stored code.

    Parameters
    ----------
    stored : Stored
        Of 8 or 16 bits.
    profile : Profile
        With tone curves.

    Returns
    -------
    ndarray of float32, shape (channels, 256 or 65536)
        An 8-bit code stands for the 16-bit code 257 times as large.
    """
    tables = tone_curves(profile)
    if stored.dtype.itemsize == 1:
        tables = tables[:, ::257]
    if stored.white_is_zero:
        tables = tables[:, ::-1]
    return np.ascontiguousarray(tables)


def working_pixels(
    band: NDArray[np.generic], stored: Stored, profile: Profile, kind: Working
) -> tuple[NDArray[np.generic], int]:
    """
    Stored numbers as working pixels, and how many had to be clipped.

    Parameters
    ----------
    band : ndarray, shape (rows, columns, samples)
        As stored; alpha last.

    Returns
    -------
    pixels : ndarray, shape (rows, columns, channels)
        Codes as they are, or linear light as float32, 0 to 1.
    clipped_count : int
        Floating-point numbers outside 0 to 1, or not numbers; those become 0.

    Notes
    -----
    The tone curve is interpolated linearly between its 65536 samples. For a curve
    with second derivative below 4, as all powers up to 2.6 have, the interpolation
    is at most ``4/8 / 65535**2`` = 1.2e-10 off, less than a float32 can tell; the
    start of a pure power below 2 has a larger one, and is off by less than 1e-8.

    Transparency is laid on paper white in linear light: ``colour · alpha + (1 −
    alpha)``. This is how light adds where a shape covers part of a pixel.
    Premultiplied colours are divided by alpha first, as encoded numbers, since
    TIFF 6.0 (section 18) multiplies the stored ones.
    """
    if kind is Working.CODES:
        return band, 0
    encoded, clipped_count = _encoded(band)
    colours, alpha = encoded[..., : stored.channels], encoded[..., stored.channels :]
    if stored.transparency is Transparency.PREMULTIPLIED:
        solid = np.where(alpha > 0, alpha, 1.0)
        colours = np.minimum(colours / solid, 1.0)
    if stored.white_is_zero:
        colours = 1.0 - colours
    light = (
        _in_romm(colours, profile) if kind is Working.ROMM else _own(colours, profile)
    )
    if stored.transparency is not Transparency.NONE:
        light = light * alpha + (1.0 - alpha)
    return light.astype(np.float32), clipped_count


def _encoded(band: NDArray[np.generic]) -> tuple[NDArray[np.float64], int]:
    """Return stored numbers on a scale of 0 to 1, and how many lay outside."""
    if band.dtype.kind == "u":
        return band.astype(np.float64) / (256**band.dtype.itemsize - 1), 0
    values = band.astype(np.float64)
    inside = (values >= 0) & (values <= 1)
    clipped_count = values.size - int(np.count_nonzero(inside))
    if clipped_count:
        values = np.clip(np.nan_to_num(values, nan=0, posinf=1, neginf=0), 0, 1)
    return values, clipped_count


def _own(colours: NDArray[np.float64], profile: Profile) -> NDArray[np.float64]:
    """Linear light by the profile's tone curves, between their samples too."""
    light = np.empty_like(colours)
    for channel, curve in enumerate(tone_curves(profile)):
        place = colours[..., channel] * _TOP_CODE
        below = np.minimum(place.astype(np.intp), _TOP_CODE - 1)
        start = curve[below].astype(np.float64)
        step = curve[below + 1] - start
        light[..., channel] = start + step * (place - below)
    return light


def _in_romm(colours: NDArray[np.float64], profile: Profile) -> NDArray[np.float64]:
    """Linear ROMM RGB of a table profile's colours, media-relative; clipped to it."""
    xyz = _xyz(colours, profile)
    primaries = _xyz(np.eye(3)[None], named_profile(NamedSpace.ROMM_RGB))[0]
    # Term by term, so that rounding is the same on every machine.
    red, green, blue = np.linalg.inv(primaries)
    light = xyz[..., :1] * red + xyz[..., 1:2] * green + xyz[..., 2:] * blue
    inside: NDArray[np.float64] = np.clip(light, 0.0, 1.0)
    return inside


def _xyz(colours: NDArray[np.float64], profile: Profile) -> NDArray[np.float64]:
    """XYZ relative to the medium's white under D50, computed in floating point."""
    grey = profile.space == "GRAY"
    try:
        out = imagecodecs.cms_transform(
            np.ascontiguousarray(colours[..., 0] if grey else colours),
            engine_data(profile),
            imagecodecs.cms_profile("xyz"),
            colorspace="gray" if grey else "rgb",
            outcolorspace="xyz",
            outdtype="float64",
            intent=_MEDIA_RELATIVE,
            flags=_NO_OPTIMISATION,
        )
    except imagecodecs.CmsError as error:
        raise ProfileError(
            f"The master's profile {profile.name!r} does not convert ({error}).",
            remedy="Export the master again with a sound profile embedded.",
        ) from error
    return np.asarray(out, np.float64)
