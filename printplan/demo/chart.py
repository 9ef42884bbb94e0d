"""What does the studio's chart show, and where on it?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import erf

from printplan.colour.spaces import encode, xyz_d50_from_linear, xyz_from_lab
from printplan.demo.photographs import inside_romm
from printplan.size.layout import Box
from printplan.spec import NamedSpace

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

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


_ROMM_FROM_XYZ = np.linalg.inv(xyz_d50_from_linear(NamedSpace.ROMM_RGB))


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
