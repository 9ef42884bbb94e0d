"""What do the numbers of a picture become under another profile?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from printplan.colour.conversion import linear_to_device
from printplan.colour.profile_gate import (
    require_source_profile,
    require_target_profile,
)
from printplan.colour.profiles import open_profile
from printplan.colour.transforms import chosen, lcms_convert, linear_of_codes, rows_of
from printplan.spec import BlackPointCompensation, Intent
from printplan.validation import device_codes

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from printplan.colour.profiles import ProfileLike


def convert(
    pixels: ArrayLike,
    source: ProfileLike,
    target: ProfileLike,
    *,
    intent: Intent | str = Intent.MEDIA_RELATIVE,
    black_point_compensation: BlackPointCompensation | str = BlackPointCompensation.ON,
) -> NDArray[Any]:
    """
    Convert colour numbers of one profile to those of another.

    Parameters
    ----------
    pixels : array_like of uint8, uint16 or float, shape (..., channels)
        Integers count up to full scale, floats from 0 to 1 (rounded to 16 bits); CMYK
        counts ink. Grey may be (rows, columns).
    source, target : Profile, path, bytes or name of a space
        What the numbers mean, and what they are wanted for.
    intent : Intent or str, optional
        ``"perceptual"``, ``"media-relative"``, ``"saturation"`` or
        ``"icc-absolute"``.
    black_point_compensation : BlackPointCompensation or str, optional
        ``"on"`` or ``"off"``; has no effect with ``"icc-absolute"``.

    Returns
    -------
    ndarray of the same type, shape (..., channels of the target)
        In 16 bits the very numbers that a finished file holds.

    Raises
    ------
    ProfileError
        If a profile is damaged, its greys are none or do not rise, or the two cannot
        be joined.
    SpecError
        If the pixels are no such array, or a choice is unknown.

    Notes
    -----
    ``target⁻¹(scale · source(pixels) + offset)`` by way of XYZ or CIELAB under D50
    [1]_; scale and offset move black to black [2]_ or, ICC-absolute, white to white.
    Sources with a matrix or one grey curve go through `linear_to_device`, others
    through LittleCMS. A pixel's result depends on that pixel alone.

    References
    ----------
    .. [1] ICC.1:2022, 6.2, 6.3 and 8.4.
    .. [2] ISO 18619:2015.

    Examples
    --------
    sRGB and opRGB have one red primary and one white, but opRGB's primaries are
    stronger together: sRGB's full red is opRGB's red at code 219.

    >>> red_and_white = np.array([[255, 0, 0], [255, 255, 255]], np.uint8)
    >>> convert(red_and_white, "srgb", "oprgb")[:, 0].tolist()
    [219, 255]
    """
    source = require_source_profile(open_profile(source))
    target = require_target_profile(open_profile(target))
    intent, wish = chosen(intent, black_point_compensation)
    codes = device_codes(pixels, source.channels, f"Pixels of {source.name!r}")
    if source.is_table:
        device = lcms_convert(
            rows_of(codes),
            source,
            target,
            intent=intent,
            black_point_compensation=wish,
        )
    else:
        conversion = linear_to_device(
            source, target, intent=intent, black_point_compensation=wish
        )
        device = conversion.from_linear(linear_of_codes(rows_of(codes), source))
    device = device.reshape(*codes.shape[:-1], target.channels)
    given = np.asarray(pixels).dtype
    if given == np.uint16:
        return device
    if given == np.uint8:
        return eight_bits(device)
    return (device / 65535).astype(given)


def eight_bits(codes: NDArray[np.uint16]) -> NDArray[np.uint8]:
    """The nearest codes of 8 bits."""
    return ((codes.astype(np.uint32) + 128) // 257).astype(np.uint8)
