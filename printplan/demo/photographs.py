"""How does a demo photograph become a 16-bit master, and what is on the chart?"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import tifffile
from PIL import Image
from scipy.special import erf

from printplan.colour.spaces import (
    decode,
    encode,
    lab_from_xyz,
    named_profile,
    xyz_d50_from_linear,
    xyz_from_lab,
)
from printplan.errors import MasterError
from printplan.sizing.boxes import Box
from printplan.spec import NamedSpace

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


_ARTIST, _COPYRIGHT = 315, 33432  # TIFF 6.0, section 8.
_ASCII = 2
_MASTER_PPI = 300
_XYZ_FROM_ROMM = xyz_d50_from_linear(NamedSpace.ROMM_RGB)
_ROMM_FROM_XYZ = np.linalg.inv(_XYZ_FROM_ROMM)


def write_master(  # noqa: PLR0913 - a file, its pixels and its credits
    path: Path,
    bands: Iterable[NDArray[np.uint16]],
    *,
    width_px: int,
    height_px: int,
    band_rows: int,
    creator: str,
    rights: str,
) -> None:
    """
    Write a 16-bit ROMM RGB master.

    Parameters
    ----------
    path : Path
        Not there yet.
    bands : iterable of ndarray of uint16, shape (band_rows, width_px, 3)
        From top to bottom; the last may have fewer rows.
    creator, rights : str
        In ASCII.

    Notes
    -----
    Not compressed: 16-bit photographs shrink little, and pixels that lie plain in
    the file can be read from it in any order. No date, so the same pixels give the
    same bytes.
    """
    tifffile.imwrite(
        path,
        (band.tobytes() for band in bands),
        shape=(height_px, width_px, 3),
        dtype="<u2",
        byteorder="<",
        photometric="rgb",
        planarconfig="contig",
        rowsperstrip=band_rows,
        iccprofile=named_profile(NamedSpace.ROMM_RGB).data,
        resolution=(_MASTER_PPI, _MASTER_PPI),
        resolutionunit="inch",
        software="printplan demo",
        metadata=None,
        extratags=[
            (_ARTIST, _ASCII, 0, creator.encode("ascii"), True),
            (_COPYRIGHT, _ASCII, 0, rights.encode("ascii"), True),
        ],
    )


CHART_WIDTH_PX, CHART_HEIGHT_PX = 3000, 2000

GREY_RAMP = Box(100, 100, 2800, 180)
"""L* 0 at the left to 100 at the right, in even steps."""

GREY_STEPS = Box(100, 320, 2800, 140)
"""Twenty-one patches, L* 0, 5, … 100."""

COLOUR_RAMPS = Box(100, 500, 2800, 540)
"""Six rows of one hue and lightness; chroma grows from 0 at the left."""

STAR = Box(100, 1100, 800, 800)
"""Spokes that turn as they grow, so that every direction meets every fineness."""

LINES = Box(950, 1100, 600, 800)
"""Lines of 1, 2, 3, 4 and 6 pixels, upright at the left and level at the right."""

SLANTED_EDGES = Box(1600, 1100, 650, 800)
"""A dark square turned by 5°, with edges for a slanted-edge measurement."""

SHADOW_STEPS = Box(2300, 1100, 600, 800)
"""Forty patches from L* 0 to 19.5, in steps of 0.5, on black."""

EDGE_ANGLE_DEG = 5.0
"""As ISO 12233:2023 turns its edges."""

EDGE_SIGMA_PX = 0.6
"""Blur of the slanted edges, a Gaussian: about a good camera's. Our choice."""

EDGE_DARK, EDGE_LIGHT = 0.1, 0.4
"""Linear light on both sides: the 4:1 contrast of ISO 12233:2023."""

SPOKES, TURN = 36, 12.0
"""Periods around the star, and how fast they turn outwards, in radians per e-fold."""

_GROUND_L = 92.0
_DARK_L, _PALE_L = 10.0, 92.0
_STRONGEST_CHROMA = 140.0
# Hue in degrees and L*, near the strongest printable colour of each hue.
_HUES = ((40, 50), (95, 85), (150, 58), (210, 62), (285, 30), (340, 48))
_LINE_WIDTHS_PX = (1, 2, 3, 4, 6)


def draw_chart() -> NDArray[np.uint16]:
    """
    The chart, computed.

    Returns
    -------
    ndarray of uint16, shape (CHART_HEIGHT_PX, CHART_WIDTH_PX, 3)
        ROMM RGB.
    """
    chart = np.empty((CHART_HEIGHT_PX, CHART_WIDTH_PX, 3), np.uint16)
    chart[:] = _codes(_linear_of_lab(np.array([_GROUND_L, 0.0, 0.0])))
    _place(chart, GREY_RAMP, _greys(np.linspace(0.0, 100.0, GREY_RAMP.width))[None])
    steps = np.floor(np.arange(GREY_STEPS.width) * 21 / GREY_STEPS.width) * 5
    _place(chart, GREY_STEPS, _greys(steps)[None])
    _place(chart, COLOUR_RAMPS, _colour_ramps())
    _place(chart, STAR, _star()[..., None])
    _place(chart, LINES, _greys(np.where(_lines(), _DARK_L, _PALE_L)))
    _place(chart, SLANTED_EDGES, slanted_square()[..., None])
    _place(chart, SHADOW_STEPS, _greys(_shadow_steps()))
    return chart


def slanted_square() -> Floats:
    """
    Linear light of the turned square.

    Returns
    -------
    ndarray of float64, shape (rows, columns)

    Notes
    -----
    A square convolved with a Gaussian is a product of differences of error
    functions along its own axes, so the edges are exact.
    """
    across, down = _centred(SLANTED_EDGES)
    turn = np.radians(EDGE_ANGLE_DEG)
    along = across * np.cos(turn) + down * np.sin(turn)
    beside = down * np.cos(turn) - across * np.sin(turn)
    half = SLANTED_EDGES.width * 0.32
    inside = _soft_slab(along, half) * _soft_slab(beside, half)
    return np.asarray(EDGE_LIGHT + (EDGE_DARK - EDGE_LIGHT) * inside)


def _soft_slab(distance: Floats, half: float) -> Floats:
    scale = EDGE_SIGMA_PX * np.sqrt(2)
    return np.asarray(
        (erf((distance + half) / scale) - erf((distance - half) / scale)) / 2
    )


def _star() -> Floats:
    """Linear light of sinusoidal spokes along logarithmic spirals."""
    across, down = _centred(STAR)
    radius = np.maximum(np.hypot(across, down), 1.0)
    phase = SPOKES * np.arctan2(down, across) + TURN * np.log(radius)
    period_px = 2 * np.pi * radius / np.hypot(SPOKES, TURN)
    # Below two pixels a period cannot be drawn; it fades to its mean before.
    contrast = np.clip((period_px - 2.0) / 1.0, 0.0, 1.0) * 0.45
    ground = float(_linear_of_lab(np.array([_GROUND_L, 0.0, 0.0]))[0])
    return np.where(radius < STAR.width * 0.48, 0.5 + contrast * np.cos(phase), ground)


def _lines() -> NDArray[np.bool_]:
    """Where the line groups are dark."""
    dark = np.zeros((LINES.height, LINES.width), np.bool_)
    for row, width in enumerate(_LINE_WIDTHS_PX):
        band = slice(row * 160 + 20, row * 160 + 140)
        dark[band, 40:280] = np.arange(240)[None, :] // width % 2 == 0
        dark[band, 320:560] = np.arange(120)[:, None] // width % 2 == 0
    return dark


def _shadow_steps() -> Floats:
    """L* of patches in eight rows of five, on black."""
    lightness = np.zeros((SHADOW_STEPS.height, SHADOW_STEPS.width))
    for number in range(40):
        row, column = divmod(number, 5)
        patch = lightness[row * 100 + 10 : row * 100 + 90, column * 120 + 10 :][:, :100]
        patch[:] = number * 0.5
    return lightness


def _colour_ramps() -> Floats:
    chroma = np.linspace(0.0, _STRONGEST_CHROMA, COLOUR_RAMPS.width)
    rows = []
    for hue_deg, lightness in _HUES:
        hue = np.radians(hue_deg)
        level = np.full_like(chroma, lightness)
        lab = np.stack([level, chroma * np.cos(hue), chroma * np.sin(hue)], axis=-1)
        rows.append(inside_romm(_greys(level), _linear_of_lab(lab)))
    each = COLOUR_RAMPS.height // len(rows)
    return np.repeat(np.stack(rows), each, axis=0)


def _greys(lightness: Floats) -> Floats:
    """Linear light of neutral colours, equal in all three channels."""
    lab = np.stack([lightness, *[np.zeros_like(lightness)] * 2], axis=-1)
    return np.repeat(xyz_from_lab(lab)[..., 1:2], 3, axis=-1)


def _linear_of_lab(lab: Floats) -> Floats:
    return np.asarray(xyz_from_lab(lab) @ _ROMM_FROM_XYZ.T)


def _centred(box: Box) -> tuple[Floats, Floats]:
    """Pixel centres of a box, across and down from its middle."""
    across = np.arange(box.width, dtype=np.float64) - (box.width - 1) / 2
    down = np.arange(box.height, dtype=np.float64) - (box.height - 1) / 2
    return np.asarray(across[None, :]), np.asarray(down[:, None])


def _codes(linear: Floats) -> NDArray[np.uint16]:
    inside = np.clip(linear, 0.0, 1.0)
    return np.round(encode(NamedSpace.ROMM_RGB, inside) * 65535).astype(np.uint16)


def _place(chart: NDArray[np.uint16], box: Box, linear: Floats) -> None:
    """Put a drawing into its box of the chart."""
    chart[box.top : box.bottom, box.left : box.right] = _codes(linear)


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


_LINEAR_OF_CODE = decode(NamedSpace.SRGB, np.arange(256) / 255)
