"""What can be drawn on a trial sheet, pixel by pixel?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.trials.neutrals import NeutralScale
    from printplan.sizing.boxes import Box

    Floats = NDArray[np.float64]
    Codes = NDArray[np.uint16]


class Mark(Protocol):
    """Something drawn in a box of the page."""

    @property
    def box(self) -> Box:
        """Where it is on the page."""

    def codes(self, part: Box) -> Codes:
        """
        File values of a part of it.

        Parameters
        ----------
        part : Box
            In the mark's own pixels, inside its box.

        Returns
        -------
        ndarray of uint16, shape (part.height, part.width, channels)
        """


@dataclass(frozen=True, slots=True, eq=False)
class Flat:
    """
    An even tone.

    Attributes
    ----------
    tone : ndarray of uint16, shape (channels,)
    """

    box: Box
    tone: Codes

    def codes(self, part: Box) -> Codes:
        """File values of a part of it; see `Mark.codes`."""
        return np.broadcast_to(self.tone, (part.height, part.width, self.tone.size))


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """
    Dark and light lines by turns, on whole pixels.

    Attributes
    ----------
    line_px : int
        Width of a line.
    is_upright : bool
        Whether lines run down the page.
    dark, light : ndarray of uint16, shape (channels,)
        The first line is dark.
    """

    box: Box
    line_px: int
    is_upright: bool
    dark: Codes
    light: Codes

    def codes(self, part: Box) -> Codes:
        """File values of a part of it; see `Mark.codes`."""
        rows, columns = _places(part)
        across = columns if self.is_upright else rows
        is_dark = across // self.line_px % 2 == 0
        lines = np.where(is_dark[..., None], self.dark, self.light)
        return np.broadcast_to(lines, (part.height, part.width, self.dark.size))


@dataclass(frozen=True, slots=True, eq=False)
class SlantedSquare:
    """
    A turned square of one tone on ground of another, in the middle of its box.

    Attributes
    ----------
    tilt_deg : float
        Clockwise positive, not 0.
    inside, ground : float
        Luminances over the paper's.
    """

    box: Box
    scale: NeutralScale
    side_px: float
    tilt_deg: float
    inside: float
    ground: float

    def codes(self, part: Box) -> Codes:
        """
        File values of a part of it; see `Mark.codes`.

        Notes
        -----
        A pixel on an edge has the luminance of its two tones by the areas that they
        take of it, exactly; at the four corners, where two edges meet in a pixel,
        the product of their shares stands for the area.
        """
        rows, columns = _places(part)
        down = rows - (self.box.height - 1) / 2
        across = columns - (self.box.width - 1) / 2
        turn = np.radians(self.tilt_deg)
        share = np.ones((part.height, part.width))
        for off in (
            across * np.cos(turn) + down * np.sin(turn),
            down * np.cos(turn) - across * np.sin(turn),
        ):
            share *= covered_share(off + self.side_px / 2, self.tilt_deg)
            share *= covered_share(self.side_px / 2 - off, self.tilt_deg)
        return self.scale.codes_of(self.ground + (self.inside - self.ground) * share)


def covered_share(distance_px: Floats, tilt_deg: float) -> Floats:
    """
    Share of a square pixel that lies on one side of a straight edge.

    Parameters
    ----------
    distance_px : ndarray of float64
        Of the pixel's middle from the edge, positive on the side that counts.
    tilt_deg : float
        Of the edge against the pixels, not 0.

    Returns
    -------
    ndarray of float64
        0 to 1.

    Notes
    -----
    Seen along the edge a pixel is a box of cos t convolved with a box of sin t, and
    the area is the second integral of their four ends.
    """
    turn = np.radians(abs(tilt_deg))
    long, short = float(np.cos(turn)), float(np.sin(turn))
    area = np.zeros_like(distance_px)
    for sign, end in (
        (1, long + short),
        (-1, long - short),
        (-1, short - long),
        (1, -long - short),
    ):
        area += sign * np.maximum(distance_px + end / 2, 0) ** 2 / 2
    return np.asarray(np.clip(area / (long * short), 0.0, 1.0))


@dataclass(frozen=True, slots=True, eq=False)
class Ink:
    """
    Writing, or any other shape in one dark tone on bare paper.

    Attributes
    ----------
    share : ndarray of uint8, shape (box.height, box.width)
        How much of each pixel is covered, 255 for all of it.
    luminance : float
        Of the ink, over the paper's.
    """

    box: Box
    scale: NeutralScale
    share: NDArray[np.uint8]
    luminance: float

    def codes(self, part: Box) -> Codes:
        """File values of a part of it; see `Mark.codes`."""
        tones = 1 + (self.luminance - 1) * np.arange(256) / 255
        table = self.scale.codes_of(tones)
        shares = self.share[part.top : part.bottom, part.left : part.right]
        return np.asarray(table[shares])


def corner(side_px: int) -> NDArray[np.uint8]:
    """
    A solid corner: the left top half of a square, along its diagonal.

    Returns
    -------
    ndarray of uint8, shape (side_px, side_px)
        255 inside.
    """
    across = np.arange(side_px)
    return np.where(across[:, None] + across < side_px, 255, 0).astype(np.uint8)


def _places(part: Box) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows and columns of a part's pixels, to be broadcast."""
    rows = np.arange(part.top, part.bottom)[:, None]
    columns = np.arange(part.left, part.right)[None, :]
    return rows, columns
