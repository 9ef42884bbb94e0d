"""What are the sheet's drawings made of, before they are HTML or PDF?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Anchor(StrEnum):
    """Which point of a text lies at its place."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """
    A line through points.

    Attributes
    ----------
    points_mm : tuple of tuple of float
        Across and down from the drawing's left top corner.
    width_mm : float
    grey : float
        0 black to 1 white.
    dash_mm : tuple of float
        Lengths of ink and gap in turn; empty for a whole line.
    """

    points_mm: tuple[tuple[float, float], ...]
    width_mm: float = 0.2
    grey: float = 0.0
    dash_mm: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """
    A filled rectangle without outline.

    Attributes
    ----------
    left_mm, top_mm, width_mm, height_mm : float
    grey : float
        0 black to 1 white.
    """

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float
    grey: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """
    One line of words.

    Attributes
    ----------
    text : str
    across_mm, down_mm : float
        Of the anchor on the base line.
    size_mm : float
        Of the letters' body.
    anchor : Anchor
    angle_deg : float
        Turned anticlockwise about the anchor.
    grey : float
        0 black to 1 white.
    """

    text: str
    across_mm: float
    down_mm: float
    size_mm: float = 2.1
    anchor: Anchor = Anchor.START
    angle_deg: float = 0.0
    grey: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """
    A picture at its place.

    Attributes
    ----------
    jpeg : bytes
    left_mm, top_mm, width_mm, height_mm : float
    """

    jpeg: bytes
    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float


Mark = Path | Area | Text | Placed


@dataclass(frozen=True, slots=True, kw_only=True)
class VectorDrawing:
    """
    A drawing of lines, areas, words and pictures.

    Attributes
    ----------
    width_mm, height_mm : float
    marks : tuple of Mark
        Later ones lie on earlier ones.
    description : str
        What it shows, for those who cannot see it.
    """

    width_mm: float
    height_mm: float
    marks: tuple[Mark, ...]
    description: str


def outline(  # noqa: PLR0913 - four sides and a line
    left_mm: float,
    top_mm: float,
    right_mm: float,
    bottom_mm: float,
    *,
    width_mm: float = 0.2,
    grey: float = 0.0,
    dash_mm: tuple[float, ...] = (),
) -> Path:
    """
    A rectangle drawn by its four sides.

    Parameters
    ----------
    left_mm, top_mm, right_mm, bottom_mm : float
    width_mm, grey, dash_mm : optional
        As in `Path`.

    Returns
    -------
    Path
    """
    corners = (
        (left_mm, top_mm),
        (right_mm, top_mm),
        (right_mm, bottom_mm),
        (left_mm, bottom_mm),
        (left_mm, top_mm),
    )
    return Path(points_mm=corners, width_mm=width_mm, grey=grey, dash_mm=dash_mm)
