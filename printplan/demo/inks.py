"""What colour do the invented inks give on the invented papers?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import least_squares

from printplan.colour.icc_file import D50_XYZ
from printplan.colour.spaces import lab_from_xyz

if TYPE_CHECKING:
    from numpy.typing import NDArray


YULE_NIELSEN_N = 2.0
"""Light that spreads in the paper fully mixes at 2; real prints fit 1.8 to 2.2."""

_FIRST_NM, _LAST_NM, _STEP_NM = 380, 730, 5
WAVELENGTHS_NM = np.arange(_FIRST_NM, _LAST_NM + 1, _STEP_NM, dtype=np.float64)
"""Wavelengths at which ink and paper are known."""

_GREY_LEVELS = 33
_INK_IS_ON = (np.arange(16)[:, None] >> np.arange(4)) & 1
"""Which of cyan, magenta, yellow and black lie on each of the 16 primaries."""

# Grey component replacement: our choice, gentle enough that no colour is printed in
# two ways.
_BLACK_ONSET = 2.5  # Black grows with this power of the grey component.
_COLOUR_REMOVED = 0.4  # Share of that black taken out of each colour ink.
_LEAST_SHARPNESS = 4.0  # The grey component is a smooth least of three.


@dataclass(frozen=True, slots=True)
class InkModel:
    """
    Paper and inks, ready to be amounts for colours.

    Attributes
    ----------
    primaries : ndarray of float64, shape (16, wavelengths)
        Reflectance of each combination of solid inks.
    grey_curve : ndarray of float64, shape (levels, 3)
        Cyan, magenta and yellow amounts for at equal steps of a neutral device ramp
        from white to black.
    """

    paper: InkedPaper
    primaries: NDArray[np.float64]
    grey_curve: NDArray[np.float64]


def make_ink_model(paper: InkedPaper) -> InkModel:
    """
    Model of a printer that is in balance on a paper.

    Returns
    -------
    InkModel
        Equal device values give a ramp whose L* falls in equal steps and whose
        tint goes smoothly from the paper's to the black's.

    Notes
    -----
    A plausible printer, not any real one: the form (spectral Neugebauer with
    Beer's law for overprints, dot gain, Demichel's shares and Yule and Nielsen's
    mixing) describes press work to a few dE00, and every number in it is invented.

    References
    ----------
    .. [1] D. R. Wyble and R. S. Berns (2000), A critical review of spectral models
       applied to binary color printing, Color Research and Application 25(1), 4-19.
    """
    primaries = _solid_primaries(paper)
    return InkModel(paper, primaries, _balance(primaries, paper.dot_gain))


def device_xyz(model: InkModel, device: NDArray[np.float64]) -> NDArray[np.float64]:
    """
    Colour that device values print.

    Parameters
    ----------
    device : ndarray of float64, shape (..., 3)
        Red, green and blue, 0 to 1; 1 leaves the paper bare.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        XYZ under D50; Y is 1 for a perfect white, so paper is below.
    """
    levels = np.linspace(0.0, 1.0, len(model.grey_curve))
    amounts = np.stack(
        [
            PchipInterpolator(levels, model.grey_curve[:, ink])(1 - device[..., ink])
            for ink in range(3)
        ],
        axis=-1,
    )
    return _amounts_xyz(amounts, model.primaries, model.paper.dot_gain)


def mixed_reflectance(
    shares: NDArray[np.float64], reflectances: NDArray[np.float64], n: float
) -> NDArray[np.float64]:
    """
    Reflectance of paper that is covered in parts.

    Parameters
    ----------
    shares : ndarray of float64, shape (..., parts)
        Area of each part; they sum to 1.
    reflectances : ndarray of float64, shape (parts, wavelengths)
        0 to 1.
    n : float
        1 if light leaves where it entered (Murray and Davies), more if it spreads.

    Returns
    -------
    ndarray of float64, shape (..., wavelengths)

    References
    ----------
    .. [1] J. A. C. Yule and W. J. Nielsen (1951), The penetration of light into
       paper and its effect on halftone reproduction, TAGA Proceedings 3, 65-76.
    """
    return np.asarray((shares @ reflectances ** (1 / n)) ** n)


def demichel_shares(coverage: NDArray[np.float64]) -> NDArray[np.float64]:
    """
    Area of each combination of four inks that fall independently.

    Parameters
    ----------
    coverage : ndarray of float64, shape (..., 4)
        Area that each ink covers, 0 to 1.

    Returns
    -------
    ndarray of float64, shape (..., 16)
        They sum to 1.

    References
    ----------
    .. [1] E. Demichel (1924), Procédé 26, 17-21 and 26-27.
    """
    each = coverage[..., None, :]
    return np.asarray(np.where(_INK_IS_ON == 1, each, 1 - each).prod(axis=-1))


def separate(amounts: NDArray[np.float64]) -> NDArray[np.float64]:
    """
    Coverage of four inks for amounts of three, by smooth grey replacement.

    Parameters
    ----------
    amounts : ndarray of float64, shape (..., 3)
        Cyan, magenta and yellow, 0 to 1.

    Returns
    -------
    ndarray of float64, shape (..., 4)
        Cyan, magenta, yellow and black, 0 to 1.

    Notes
    -----
    The grey component is the power mean of exponent -4 of the three, which is
    smooth where their least is not, so the printed colours have no creases.
    """
    some = np.clip(amounts, 1e-9, 1.0)
    grey = np.mean(some**-_LEAST_SHARPNESS, axis=-1) ** (-1 / _LEAST_SHARPNESS)
    black = grey[..., None] ** _BLACK_ONSET
    return np.concatenate([np.clip(some - _COLOUR_REMOVED * black, 0, 1), black], -1)


def _amounts_xyz(
    amounts: NDArray[np.float64], primaries: NDArray[np.float64], dot_gain: float
) -> NDArray[np.float64]:
    coverage = separate(amounts)
    coverage = coverage + 4 * dot_gain * coverage * (1 - coverage)
    mixed = mixed_reflectance(demichel_shares(coverage), primaries, YULE_NIELSEN_N)
    return np.asarray(mixed @ observer_weights())


@lru_cache(maxsize=1)
def observer_weights() -> NDArray[np.float64]:
    """
    Weights that turn a reflectance into XYZ under D50.

    Returns
    -------
    ndarray of float64, shape (wavelengths, 3)
        Each column sums to the D50 of profiles, so a perfect white is exact.

    References
    ----------
    .. [1] CIE 15:2018: the 1931 observer and illuminant D50, as colour-science
       tabulates them.
    """
    import colour  # noqa: PLC0415 - takes over a second to load

    shape = colour.SpectralShape(_FIRST_NM, _LAST_NM, _STEP_NM)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    light = colour.SDS_ILLUMINANTS["D50"]
    weights = (
        observer.copy().align(shape).values * light.copy().align(shape).values[:, None]
    )
    return np.asarray(weights / weights.sum(axis=0) * D50_XYZ, dtype=np.float64)


def _solid_primaries(paper: InkedPaper) -> NDArray[np.float64]:
    """Reflectance of bare paper and of every overprint of solid inks."""
    bare = paper.reflectance * (
        1 - paper.blue_loss * np.exp(-(WAVELENGTHS_NM - 400) / 45)
    )
    black = np.interp(
        WAVELENGTHS_NM, [400, 700], [paper.black_density_blue, paper.black_density_red]
    )
    density = _INK_IS_ON @ np.vstack([paper.colour_density * ink_densities(), black])
    through = (1 - paper.surface_reflectance) * bare * 10.0**-density
    return np.asarray(paper.surface_reflectance + through)


def ink_densities() -> NDArray[np.float64]:
    """
    Optical density of a film of each colour ink.

    Returns
    -------
    ndarray of float64, shape (3, wavelengths)
        Cyan, magenta, yellow.

    Notes
    -----
    Invented bands, each with the unwanted absorption that keeps real cyan and
    magenta from being pure.
    """
    cyan = 2.6 * _band(577, 18, 760, 30) + 0.20 * _band(370, 10, 450, 35) + 0.03
    magenta = 2.45 * _band(489, 12, 588, 8) + 0.32 * _band(370, 10, 470, 30) + 0.015
    yellow = 2.3 * _band(350, 10, 492, 9) + 0.01
    return np.stack([cyan, magenta, yellow])


def _band(
    rise_nm: float, rise_width_nm: float, fall_nm: float, fall_width_nm: float
) -> NDArray[np.float64]:
    """Absorption between two soft edges, 0 to 1."""
    rise = 1 / (1 + np.exp(-(WAVELENGTHS_NM - rise_nm) / rise_width_nm))
    fall = 1 / (1 + np.exp(-(fall_nm - WAVELENGTHS_NM) / fall_width_nm))
    return np.asarray(rise * fall)


def _balance(primaries: NDArray[np.float64], dot_gain: float) -> NDArray[np.float64]:
    """Amounts of three inks that make a neutral ramp even in L*."""
    ends = _amounts_xyz(np.array([[0.0] * 3, [1.0] * 3]), primaries, dot_gain)
    paper_xyz = ends[0] / D50_XYZ
    black_lab = lab_from_xyz(ends[1] / paper_xyz)

    def miss(amounts: NDArray[np.float64], wanted: NDArray[np.float64]) -> list[float]:
        xyz = _amounts_xyz(amounts, primaries, dot_gain) / paper_xyz
        return list(lab_from_xyz(xyz) - wanted)

    curve = [np.zeros(3)]
    for level in np.linspace(0.0, 1.0, _GREY_LEVELS)[1:-1]:
        # The black's own tint enters late, where it cannot be seen.
        wanted = np.array([100.0, 0.0, 0.0]) + (black_lab - [100.0, 0.0, 0.0]) * [
            level,
            level**4,
            level**4,
        ]
        start = np.clip(curve[-1] + 1 / _GREY_LEVELS, 0, 1)
        found = least_squares(miss, start, bounds=(0.0, 1.0), args=(wanted,))
        curve.append(found.x)
    return np.array([*curve, np.ones(3)])


class PerceptualBlack(StrEnum):
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
    perceptual_black : PerceptualBlack
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
    perceptual_black: PerceptualBlack = PerceptualBlack.ZERO


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
        perceptual_black=PerceptualBlack.REFERENCE,
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
        perceptual_black=PerceptualBlack.OWN,
    ),
)
"""The papers of the studio."""
