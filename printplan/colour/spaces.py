"""What are the named colour spaces, in numbers and as profiles?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.icc_file import (
    D50_XYZ,
    IccHeader,
    fixed_element,
    gamma_curve_element,
    identity_curve_element,
    localized_element,
    toe_curve_element,
    write_icc,
    xyz_element,
)
from printplan.colour.profiles import Profile, profile_from_bytes
from printplan.errors import SpecError
from printplan.spec import NamedSpace

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

BRADFORD = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)
"""XYZ to sharpened cone responses: ICC.1:2022, annex E."""

_KNEE = 6 / 29
"""Where CIELAB's cube root gives way to a straight line: ISO/CIE 11664-4."""

_RIGHTS = "No rights reserved."


@dataclass(frozen=True, slots=True, kw_only=True)
class RgbSpace:
    """
    An additive RGB space: primaries, white and one tone curve.

    Attributes
    ----------
    title : str
        Name with its standard, as the profile carries it.
    red_xy, green_xy, blue_xy : tuple of float
        Chromaticities of the primaries.
    white_xyz : tuple of float
        Of R = G = B = 1, with Y = 1.
    gamma, scale, offset : float
        ``linear = (scale·code + offset)^gamma`` from `toe_end` up.
    toe_slope, toe_end : float
        ``linear = toe_slope·code`` below the code `toe_end`.
    """

    title: str
    red_xy: tuple[float, float]
    green_xy: tuple[float, float]
    blue_xy: tuple[float, float]
    white_xyz: tuple[float, float, float]
    gamma: float
    scale: float = 1.0
    offset: float = 0.0
    toe_slope: float = 1.0
    toe_end: float = 0.0


_D65_XYZ = (0.3127 / 0.3290, 1.0, 0.3583 / 0.3290)
"""From x = 0.3127, y = 0.3290: IEC 61966-2-1 and IEC 61966-2-5."""

RGB_SPACES = {
    # IEC 61966-2-1:1999 with Amendment 1:2003.
    NamedSpace.SRGB: RgbSpace(
        title="sRGB (IEC 61966-2-1)",
        red_xy=(0.64, 0.33),
        green_xy=(0.30, 0.60),
        blue_xy=(0.15, 0.06),
        white_xyz=_D65_XYZ,
        gamma=2.4,
        scale=1 / 1.055,
        offset=0.055 / 1.055,
        toe_slope=1 / 12.92,
        toe_end=0.04045,
    ),
    # IEC 61966-2-5:2007. The exponent is 2 + 51/256 = 2.19921875; there is no toe.
    NamedSpace.OPRGB: RgbSpace(
        title="opRGB (IEC 61966-2-5)",
        red_xy=(0.64, 0.33),
        green_xy=(0.21, 0.71),
        blue_xy=(0.15, 0.06),
        white_xyz=_D65_XYZ,
        gamma=2 + 51 / 256,
    ),
    # ISO 22028-2:2013. The toe ends at the linear value 16^(1.8/(1-1.8)) = 1/512.
    NamedSpace.ROMM_RGB: RgbSpace(
        title="ROMM RGB (ISO 22028-2)",
        red_xy=(0.7347, 0.2653),
        green_xy=(0.1596, 0.8404),
        blue_xy=(0.0366, 0.0001),
        white_xyz=D50_XYZ,
        gamma=1.8,
        toe_slope=1 / 16,
        toe_end=16 / 512,
    ),
}
"""The spaces by name."""


def decode(space: NamedSpace | str, codes: ArrayLike) -> NDArray[np.float64]:
    """
    Linear light of encoded values, by the formula of the space's standard.

    Parameters
    ----------
    space : NamedSpace or str
        ``"srgb"``, ``"oprgb"`` or ``"romm rgb"``.
    codes : array_like of float, uint8 or uint16
        Floats from 0 to 1: values below follow the toe, values above the power law.
        Integers count up to the full scale of their type.

    Returns
    -------
    ndarray of float64
        0 to 1, of the same shape.

    Raises
    ------
    SpecError
        If the space is unknown, or the codes are of another type.

    Notes
    -----
    ``((code + 0.055) / 1.055)^2.4`` above 0.04045 and ``code / 12.92`` below for sRGB
    [1]_; ``code^2.19921875`` for opRGB [2]_; ``code^1.8`` above 1/32 and ``code / 16``
    below for ROMM RGB [3]_.

    References
    ----------
    .. [1] IEC 61966-2-1:1999.
    .. [2] IEC 61966-2-5:2007.
    .. [3] ISO 22028-2:2013.

    Examples
    --------
    Half of the code is a fifth of the light:

    >>> round(float(decode("srgb", 0.5)), 4)
    0.214
    """
    numbers = RGB_SPACES[named_space(space)]
    codes = _scaled(codes, "Codes")
    power = np.maximum(numbers.scale * codes + numbers.offset, 0.0) ** numbers.gamma
    return np.where(codes >= numbers.toe_end, power, numbers.toe_slope * codes)


def encode(space: NamedSpace | str, linear: ArrayLike) -> NDArray[np.float64]:
    """
    Encoded values of linear light, the inverse of `decode`.

    Parameters
    ----------
    space : NamedSpace or str
        As for `decode`.
    linear : array_like of float
        0 to 1.

    Returns
    -------
    ndarray of float64
        0 to 1, of the same shape.

    Raises
    ------
    SpecError
        As for `decode`.

    Examples
    --------
    A card that sends back 18 % of the light, in codes of 8 bits:

    >>> round(float(encode("srgb", 0.18)) * 255)
    118
    """
    numbers = RGB_SPACES[named_space(space)]
    linear = _scaled(linear, "Values of light")
    root = np.maximum(linear, 0.0) ** (1 / numbers.gamma)
    return np.where(
        linear >= numbers.toe_slope * numbers.toe_end,
        (root - numbers.offset) / numbers.scale,
        linear / numbers.toe_slope,
    )


def named_space(name: NamedSpace | str) -> NamedSpace:
    """
    A space by its name, in any spelling.

    Raises
    ------
    SpecError
        If there is no such space.
    """
    spaces = {_folded(space): space for space in NamedSpace}
    try:
        return spaces[_folded(name)]
    except KeyError:
        offered = ", ".join(f'"{space}"' for space in NamedSpace)
        raise SpecError(
            f"Colour space is {name!r}.", remedy=f"Choose one of: {offered}."
        ) from None


def _folded(name: str) -> str:
    return name.lower().replace(" ", "").replace("-", "")


def _scaled(values: ArrayLike, what: str) -> NDArray[np.floating]:
    """Codes of integers as shares of their full scale, floats as they are."""
    array = np.asarray(values)
    if array.dtype in (np.uint8, np.uint16):
        return array / np.iinfo(array.dtype).max
    if array.dtype.kind != "f":
        raise SpecError(
            f"{what} of shape {array.shape} and type {array.dtype} have no full scale.",
            remedy="Give floats from 0 to 1, or codes as uint8 or uint16.",
        )
    return array


def adaptation_to_d50(white_xyz: tuple[float, float, float]) -> NDArray[np.float64]:
    """
    Matrix that turns XYZ under one white into XYZ under D50.

    Returns
    -------
    ndarray of float64, shape (3, 3)

    Notes
    -----
    The linear Bradford transform, which the profile standard recommends [1]_.

    References
    ----------
    .. [1] ICC.1:2022, annex E.
    """
    gains = (BRADFORD @ D50_XYZ) / (BRADFORD @ white_xyz)
    return np.linalg.solve(BRADFORD, gains[:, None] * BRADFORD)


def xyz_d50_from_linear(space: NamedSpace) -> NDArray[np.float64]:
    """
    Matrix that turns linear RGB into XYZ under D50.

    Returns
    -------
    ndarray of float64, shape (3, 3)
        One primary in each column; R = G = B = 1 gives D50 with Y = 1.

    Notes
    -----
    The primaries' luminances are those whose sum is the white: SMPTE RP 177.
    """
    numbers = RGB_SPACES[space]
    columns = np.array(
        [
            [x / y, 1.0, (1 - x - y) / y]
            for x, y in (numbers.red_xy, numbers.green_xy, numbers.blue_xy)
        ]
    ).T
    luminances = np.linalg.solve(columns, numbers.white_xyz)
    matrix: NDArray[np.float64] = adaptation_to_d50(numbers.white_xyz) @ (
        columns * luminances
    )
    return matrix


def lab_from_xyz(xyz: NDArray[np.float64]) -> NDArray[np.float64]:
    """
    CIELAB of XYZ under D50.

    Parameters
    ----------
    xyz : ndarray of float64, shape (..., 3)
        With Y = 1 for white.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        L*, a*, b*.

    References
    ----------
    .. [1] ISO/CIE 11664-4:2019. The white is that of ICC.1:2022, 7.2.16.
    """
    share = xyz / D50_XYZ
    root = np.where(share > _KNEE**3, np.cbrt(share), share / (3 * _KNEE**2) + 4 / 29)
    fx, fy, fz = np.moveaxis(root, -1, 0)
    return np.stack([116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)], axis=-1)


def xyz_from_lab(lab: NDArray[np.float64]) -> NDArray[np.float64]:
    """
    XYZ under D50 of CIELAB, the inverse of `lab_from_xyz`.

    Parameters
    ----------
    lab : ndarray of float64, shape (..., 3)

    Returns
    -------
    ndarray of float64, shape (..., 3)
    """
    fy = (lab[..., 0] + 16) / 116
    root = np.stack([fy + lab[..., 1] / 500, fy, fy - lab[..., 2] / 200], axis=-1)
    share = np.where(root > _KNEE, root**3, 3 * _KNEE**2 * (root - 4 / 29))
    return np.asarray(share * D50_XYZ)


@lru_cache(maxsize=len(NamedSpace))
def named_profile(space: NamedSpace) -> Profile:
    """
    Profile of a named space.

    Returns
    -------
    Profile
        The same bytes at every call and on every machine.

    Notes
    -----
    Version 4, because its parametric curves hold the standards' own formulas;
    version 2 would need a sampled curve, which is wrong between its points.
    """
    return _matrix_profile(space, RGB_SPACES[space].title, _tone_curve(space))


@lru_cache(maxsize=len(NamedSpace))
def grey_profile(space: NamedSpace) -> Profile:
    """
    Profile of grey pixels that carry the tone curve of a named space.

    Returns
    -------
    Profile
        A grey code has the lightness of the same code in all three channels of the
        space, and no colour.

    Notes
    -----
    A monochrome display profile: white point and one tone curve (ICC.1:2022, 8.4.4).
    """
    title = f"Grey, tone curve of {RGB_SPACES[space].title}"
    tags = {
        "desc": localized_element(title),
        "cprt": localized_element(_RIGHTS),
        "wtpt": xyz_element(D50_XYZ),
        "kTRC": _tone_curve(space),
    }
    header = IccHeader(version=(4, 4), device_class="mntr", space="GRAY", pcs="XYZ")
    return profile_from_bytes(write_icc(header, tags), where=title)


def _tone_curve(space: NamedSpace) -> bytes:
    numbers = RGB_SPACES[space]
    if numbers.toe_end == 0:
        return gamma_curve_element(numbers.gamma)
    return toe_curve_element(
        numbers.gamma,
        numbers.scale,
        numbers.offset,
        numbers.toe_slope,
        numbers.toe_end,
    )


def space_profile(name: str) -> Profile | None:
    """Profile of a space, or of grey with its curve, by name; None for another name."""
    folded = _folded(name)
    for space in NamedSpace:
        if folded == _folded(space):
            return named_profile(space)
        if folded == "grey" + _folded(space):
            return grey_profile(space)
    return None


@lru_cache(maxsize=1)
def linear_romm_profile() -> Profile:
    """Profile of ROMM RGB's primaries without a tone curve, for linear pixels."""
    return _matrix_profile(
        NamedSpace.ROMM_RGB, "Linear ROMM RGB", identity_curve_element()
    )


def _matrix_profile(space: NamedSpace, title: str, curve: bytes) -> Profile:
    """Matrix profile of class display (ICC.1:2022, 8.4.3)."""
    colorants = np.round(xyz_d50_from_linear(space) * 65536) / 65536
    # Green takes what rounding leaves, so that white is D50 to the last bit.
    white = np.round(np.array(D50_XYZ) * 65536) / 65536
    colorants[:, 1] = white - colorants[:, 0] - colorants[:, 2]
    adaptation = adaptation_to_d50(RGB_SPACES[space].white_xyz)
    tags = {
        "desc": localized_element(title),
        "cprt": localized_element(_RIGHTS),
        "wtpt": xyz_element(D50_XYZ),
        "chad": fixed_element(adaptation.ravel().tolist()),
        **{
            name: xyz_element(colorants[:, column].tolist())
            for column, name in enumerate(("rXYZ", "gXYZ", "bXYZ"))
        },
        **dict.fromkeys(("rTRC", "gTRC", "bTRC"), curve),
    }
    header = IccHeader(version=(4, 4), device_class="mntr", space="RGB", pcs="XYZ")
    return profile_from_bytes(write_icc(header, tags), where=title)
