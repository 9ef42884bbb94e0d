"""What are the invented papers like under ink?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class AskedBlack(StrEnum):
    """What the perceptual and saturation tables of a profile print their black for."""

    ZERO = "zero"
    """Of L* 0, which version 2 profiles take at will."""

    OWN = "own"
    """Of the paper's own black: the table scales nothing, compensation has to."""

    REFERENCE = "reference"
    """Of the perceptual reference medium's, as version 4 has it (ICC.1:2022, 6.3.3)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InkedPaper:
    """
    One invented paper under the invented inks.

    Attributes
    ----------
    name : str
    black_ink : str
        The black that suits its surface.
    reflectance : float
        Of the bare paper in the middle of the spectrum.
    blue_loss : float
        Share of it that the paper swallows at 400 nm; warm papers swallow more.
    surface_reflectance : float
        Light that the surface sends back before it meets ink: it sets the deepest
        black.
    colour_density : float
        Densities of the solid colour inks on this paper, as a share of those in a
        film of ink by itself.
    black_density_blue, black_density_red : float
        Density of the solid black ink at 400 and at 700 nm.
    dot_gain : float
        Growth of a half-covered area.
    asked_black : AskedBlack
        ``REFERENCE`` for a profile of version 4, else the profile is of version 2.
    """

    name: str
    black_ink: str
    reflectance: float
    blue_loss: float
    surface_reflectance: float
    colour_density: float
    black_density_blue: float
    black_density_red: float
    dot_gain: float
    asked_black: AskedBlack = AskedBlack.ZERO


# Invented. Reflectances are set for the whites and blacks of common photo papers;
# densities for a gamut that such a paper could have.
INKED_PAPERS = (
    InkedPaper(
        name="Alder Satin 260",
        black_ink="photo black",
        reflectance=0.919,
        blue_loss=0.06,
        surface_reflectance=0.0026,
        colour_density=0.94,
        black_density_blue=2.0,
        black_density_red=2.2,
        dot_gain=0.06,
    ),
    InkedPaper(
        name="Heron Baryta 315",
        black_ink="photo black",
        reflectance=0.9255,
        blue_loss=0.03,
        surface_reflectance=0.0035,
        colour_density=0.97,
        black_density_blue=2.0,
        black_density_red=2.2,
        dot_gain=0.06,
    ),
    InkedPaper(
        name="Fen Cotton 310",
        black_ink="matte black",
        reflectance=0.898,
        blue_loss=0.09,
        surface_reflectance=0.0186,
        colour_density=0.535,
        black_density_blue=2.2,
        black_density_red=2.15,
        dot_gain=0.10,
    ),
    InkedPaper(
        name="Sorrel Gloss 255",
        black_ink="photo black",
        reflectance=0.91,
        blue_loss=0.05,
        surface_reflectance=0.0045,
        colour_density=0.90,
        black_density_blue=2.0,
        black_density_red=2.15,
        dot_gain=0.07,
        asked_black=AskedBlack.REFERENCE,
    ),
    InkedPaper(
        name="Curlew Matte 200",
        black_ink="matte black",
        reflectance=0.907,
        blue_loss=0.04,
        surface_reflectance=0.0155,
        colour_density=0.58,
        black_density_blue=2.1,
        black_density_red=2.2,
        dot_gain=0.09,
        asked_black=AskedBlack.OWN,
    ),
)
"""The papers of the studio."""
