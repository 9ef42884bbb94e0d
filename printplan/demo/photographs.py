"""How does a demo photograph become a 16-bit master with strong colours?"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from printplan.colour.spaces import (
    decode,
    encode,
    lab_from_xyz,
    xyz_d50_from_linear,
    xyz_from_lab,
)
from printplan.errors import MasterError
from printplan.spec import NamedSpace

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

BAND_ROWS = 128
"""Rows worked on at once, which bounds the memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Photograph:
    """
    One photograph that comes with the package.

    Attributes
    ----------
    name : str
        Of its file, without suffix.
    creator, rights : str
        The photographer's real credit, which goes into the master.
    tone_power : float
        Exponent of luminance: above 1 the master is darker than the photograph.
    """

    name: str
    creator: str
    rights: str
    tone_power: float = 1.0


_COLOURS = 1 << 24
_COLOURS_AT_ONCE = 1 << 16

_INSTALL_AGAIN = "Install printplan again from its wheel or its checkout."

_SOURCE = "from Debian's lomiri-wallpapers-16.04, colours strengthened for a demo"

PHOTOGRAPHS = (
    Photograph(
        name="seed-heads",
        creator="Clemens Engelhardt",
        rights=f"2018 Clemens Engelhardt, CC0 1.0, {_SOURCE}",
    ),
    Photograph(
        name="red-bowl",
        creator='Trevor "Freespace"',
        rights=f'2018 Trevor "Freespace", CC BY 4.0, {_SOURCE}',
        # Low key, so that its shadow lies where a matte paper's black is.
        tone_power=1.4,
    ),
    Photograph(
        name="stream",
        creator="Aitzol Berasategi",
        rights=f"2018 Aitzol Berasategi, CC BY 4.0, {_SOURCE}",
    ),
)
"""Credits from demo_images/README.md."""

# Our choice: greys stay, a full sRGB red gains about a quarter.
_MOST_GAIN = 0.3
_HALF_GAIN_CHROMA = 40.0
_CALM_FROM_L = 85.0  # Above, the gain fades out: there is no room at white.


def photograph_file(name: str) -> bytes:
    """
    File of a photograph, from the installed package or from the checkout.

    Parameters
    ----------
    name : str
        Without suffix.

    Returns
    -------
    bytes

    Raises
    ------
    MasterError
        If this installation does not hold it.
    """
    package = Path(str(files("printplan")))
    installed = package / "demo" / "images" / f"{name}.jpg"
    checkout = package.parent / "demo_images" / f"{name}.jpg"
    try:
        return (installed if installed.exists() else checkout).read_bytes()
    except OSError as error:
        raise MasterError(
            f"The demo photograph {name}.jpg cannot be read from {package} "
            f"({error.strerror}).",
            remedy=_INSTALL_AGAIN,
        ) from error


def photograph_pixels(name: str) -> NDArray[np.uint8]:
    """
    Pixels of an 8-bit sRGB photograph.

    Parameters
    ----------
    name : str
        Without suffix.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)

    Raises
    ------
    MasterError
        If it cannot be read.
    """
    try:
        with Image.open(BytesIO(photograph_file(name))) as picture:
            return np.asarray(picture.convert("RGB"))
    except OSError as error:
        raise MasterError(
            f"The demo photograph {name}.jpg cannot be decoded ({error}).",
            remedy=_INSTALL_AGAIN,
        ) from error


def master_bands(
    pixels: NDArray[np.uint8], tone_power: float = 1.0
) -> Iterator[NDArray[np.uint16]]:
    """
    The master of a photograph, from top to bottom.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (rows, columns, 3)
        sRGB.
    tone_power : float, optional
        Of `Photograph`.

    Yields
    ------
    ndarray of uint16, shape (up to `BAND_ROWS`, columns, 3)
        ROMM RGB.

    Notes
    -----
    An 8-bit photograph holds far fewer colours than pixels, so each colour is
    computed once.
    """
    seen = np.zeros(_COLOURS, np.bool_)
    for band in _bands(pixels):
        seen[band] = True
    numbers = np.flatnonzero(seen)
    table = np.zeros((_COLOURS, 3), np.uint16)
    for start in range(0, len(numbers), _COLOURS_AT_ONCE):
        some = numbers[start : start + _COLOURS_AT_ONCE]
        parts = np.stack([some >> 16, (some >> 8) & 255, some & 255], axis=-1)
        linear = strengthened(parts.astype(np.uint8), tone_power)
        table[some] = np.round(encode(NamedSpace.ROMM_RGB, linear) * 65535)
    for band in _bands(pixels):
        yield table[band]


def _bands(pixels: NDArray[np.uint8]) -> Iterator[NDArray[np.integer]]:
    """The picture in bands of rows, each colour as one number of 24 bits."""
    for top in range(0, len(pixels), BAND_ROWS):
        band = pixels[top : top + BAND_ROWS].astype(np.uint32)
        yield band[..., 0] << 16 | band[..., 1] << 8 | band[..., 2]


def strengthened(pixels: NDArray[np.uint8], tone_power: float = 1.0) -> Floats:
    """
    Linear ROMM RGB of sRGB pixels whose strong colours are made stronger.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (..., 3)
        sRGB.
    tone_power : float, optional
        Exponent of luminance, 1 or more.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        0 to 1.

    Notes
    -----
    An sRGB photograph holds few colours that a good paper cannot print, so it could
    not show what a demo of paper colours must show. First all channels are multiplied
    by one factor, which raises luminance to the given power. Then chroma in CIELAB
    grows by up to 30 %, the more the stronger it is, and L* and hue stay. Where that
    would leave ROMM RGB, the colour goes as far on the straight line from the
    photograph's own colour as there is room. Tones remain those of 8 bits: nothing is
    invented between them.
    """
    matrix = _ROMM_FROM_XYZ @ xyz_d50_from_linear(NamedSpace.SRGB)
    plain = np.clip(_LINEAR_OF_CODE[pixels] @ matrix.T, 0.0, 1.0)
    plain *= (plain @ _XYZ_FROM_ROMM[1])[..., None] ** (tone_power - 1)
    lab = lab_from_xyz(plain @ _XYZ_FROM_ROMM.T)
    chroma = np.hypot(lab[..., 1], lab[..., 2])
    gain = _MOST_GAIN * chroma**2 / (chroma**2 + _HALF_GAIN_CHROMA**2)
    gain *= np.clip((100.0 - lab[..., 0]) / (100.0 - _CALM_FROM_L), 0.0, 1.0)
    lab[..., 1:] *= 1 + gain[..., None]
    return inside_romm(plain, xyz_from_lab(lab) @ _ROMM_FROM_XYZ.T)


def inside_romm(plain: Floats, wished: Floats) -> Floats:
    """
    Colours on the way from plain ones to wished ones, as far as ROMM RGB reaches.

    Parameters
    ----------
    plain : ndarray of float64, shape (..., 3)
        Linear ROMM RGB, 0 to 1.
    wished : ndarray of float64, shape (..., 3)
        Linear ROMM RGB, perhaps beyond.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        The wished colour where it lies inside.
    """
    change = wished - plain
    room = np.where(change > 0, 1.0 - plain, plain)
    far = np.abs(change)
    share = np.divide(room, far, out=np.ones_like(room), where=far > room)
    inside = plain + share.min(axis=-1, keepdims=True) * change
    return np.asarray(np.clip(inside, 0.0, 1.0))


_XYZ_FROM_ROMM = xyz_d50_from_linear(NamedSpace.ROMM_RGB)
_ROMM_FROM_XYZ = np.linalg.inv(_XYZ_FROM_ROMM)
_LINEAR_OF_CODE = decode(NamedSpace.SRGB, np.arange(256) / 255)
