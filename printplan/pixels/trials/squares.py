"""What does a scan need to know of the slanted squares that were drawn?"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians, sin
from typing import TYPE_CHECKING

import numpy as np

from printplan.errors import SpecError
from printplan.sharpness.edges import DRAWN_TILT_DEG
from printplan.sharpness.response import SpreadCurve, box_mtf
from printplan.spec import HIGHEST_PPI, LOWEST_PPI
from printplan.units import mm_from_px

if TYPE_CHECKING:
    from printplan.pixels.trials.neutral import NeutralScale

SQUARE_MM, GROUND_MM = 8.0, 18.0
"""Side of a slanted square and of the even ground round it: at 600 ppi an edge has 189
lines, and the ground leaves 4.7 mm of quiet beside each. Our choice."""

TONE_SHARES = ((0.18, 0.45), (0.40, 0.68), (0.62, 0.90))
"""Tones of squares and lines, dark and light, as shares of the way from the paper's
black to its white in L*: shadows, middle, lights, none of them at an end that a
scanner may clip. Our choice."""

_CURVE_POINTS, _CURVE_END = 80, 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnSquares:
    """
    The slanted squares of a trial sheet, as far as a scan of it needs to know.

    Attributes
    ----------
    count : int
    ppi : float
        Print pixels per inch of the sheet's file.
    side_mm : float
    tilt_deg : float
        They are turned so far, half of them to either side.
    tones : tuple of float
        Luminances that occur in them over the paper's, rising; empty if not known.
    """

    count: int
    ppi: float
    side_mm: float = SQUARE_MM
    tilt_deg: float = DRAWN_TILT_DEG
    tones: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if not (LOWEST_PPI <= self.ppi <= HIGHEST_PPI and self.count >= 1):
            raise SpecError(
                f"{self.count} squares were drawn at {self.ppi:g} ppi.",
                remedy="Take the squares from the trial sheet's key, or give their "
                f"number and a resolution from {LOWEST_PPI:g} to {HIGHEST_PPI:g} ppi.",
            )

    @property
    def file_sfr(self) -> SpreadCurve:
        """
        Response of the drawn edges, printed in whole square pixels.

        Notes
        -----
        Two boxes follow each other: a pixel's value is the mean of what lies on its
        area, and the printer lays that value down on the same area. Across an edge
        turned by t, a square pixel of side p has the response sinc(p f cos t) ·
        sinc(p f sin t), and it counts twice. What the pixels alias is left out: along
        an edge turned by 5° all phases occur, and it averages to nothing. So the
        spread that is found with this response is of ink and light, at any ppi.
        """
        pixel_mm = mm_from_px(1.0, self.ppi)
        frequency = np.linspace(0, _CURVE_END / pixel_mm, _CURVE_POINTS + 1)[1:]
        turn = radians(self.tilt_deg)
        pixel = box_mtf(frequency, pixel_mm * cos(turn)) * box_mtf(
            frequency, pixel_mm * sin(turn)
        )
        return SpreadCurve(
            cycles_per_mm=tuple(frequency.tolist()), values=tuple((pixel**2).tolist())
        )


def drawn_squares(scale: NeutralScale, ppi: float) -> DrawnSquares:
    """
    The squares that a sheet carries.

    Parameters
    ----------
    scale : NeutralScale
        Of its paper.
    ppi : float

    Returns
    -------
    DrawnSquares
    """
    shares = sorted(share for pair in TONE_SHARES for share in pair)
    return DrawnSquares(
        count=2 * len(TONE_SHARES),
        ppi=ppi,
        tones=tuple(scale.luminance_at(share) for share in shares),
    )
