"""How far is a colour from what the paper can hold, and where does detail merge?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from printplan.colour.conversion_steps import (
    Conversion,
    f_step,
    matrix_step,
    table_step,
)
from printplan.colour.difference import delta_e_2000
from printplan.colour.proof import rendered_lab
from printplan.colour.spaces import lab_from_xyz
from printplan.colour.transforms import colorants_xyz
from printplan.spec import BlackPointCompensation, Intent
from printplan.validation import colour_array

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from printplan.colour.profiles import Profile, ProfileLike

    Floats = NDArray[np.float64]


MAP_POINTS = 41
"""Points along each axis of a table that is only looked at: steps of 2.5 L*."""

# CIE 015:2018, 8.2.1, with Y from 0 to 1 and lightness from 0 to 1.
_KNEE_Y, _KNEE_L = (6 / 29) ** 3, 0.08
_SLOPE = (29 / 3) ** 3 / 100


@dataclass(frozen=True, slots=True, eq=False)
class Lattice:
    """
    Colours on a regular grid over the linear channels of a profile.

    Attributes
    ----------
    points : int
        Along each axis.
    linear : ndarray of float64, shape (colours, channels)
        Linear light, spaced evenly in CIE lightness: dense where it is dark.
    lab : ndarray of float64, shape (colours, 3)
        CIELAB under D50, relative to the profile's white.
    """

    points: int
    linear: Floats
    lab: Floats


def make_lattice(profile: Profile, points: int) -> Lattice:
    """
    Colours to evaluate a function on.

    Parameters
    ----------
    profile : Profile
        A matrix profile, or a grey one, whose lattice is a line.
    points : int
        2 to 129 along each axis.
    """
    light = light_of_lightness(np.linspace(0, 1, points))
    axes = np.meshgrid(*[light] * profile.channels, indexing="ij")
    linear = np.stack(axes, axis=-1).reshape(-1, profile.channels)
    lab = lab_from_xyz(linear @ colorants_xyz(profile).T)
    return Lattice(points, linear, lab)


@dataclass(frozen=True, slots=True, eq=False)
class LatticeTable:
    """
    A function known on a lattice, read tetrahedrally between its points.

    Attributes
    ----------
    conversion : Conversion
        From linear light to the function's values.
    """

    conversion: Conversion

    def from_linear(self, linear: NDArray[np.float32]) -> NDArray[np.float32]:
        """
        Values of the function at pixels.

        Parameters
        ----------
        linear : ndarray of float32, shape (1 or 3, rows, columns)
            Linear light of the lattice's profile, 0 to 1.

        Returns
        -------
        ndarray of float32, shape (rows, columns, outputs)
        """
        return np.moveaxis(self.conversion.values(linear), 0, -1)


def tabulate(lattice: Lattice, values: NDArray[np.floating[Any]]) -> LatticeTable:
    """
    Make a function on a lattice ready for pictures.

    Parameters
    ----------
    values : ndarray of float, shape (colours,) or (colours, up to 3)
    """
    table = np.asarray(values, np.float64).reshape(len(lattice.linear), -1)
    cube, outputs = (lattice.points,) * 3, table.shape[1]
    if lattice.linear.shape[1] == 1:
        # A grey line fills the cube, so that three equal channels find it.
        grid = np.broadcast_to(table[:, None, None, :], (*cube, outputs))
    else:
        grid = table.reshape(*cube, outputs)
    # From linear light to the even axes of the lattice: L*/100 is 1.16 f - 0.16.
    to_lightness = matrix_step(1.16 * np.eye(3), np.full(3, -0.16))
    steps = [f_step(), to_lightness, table_step(grid, tetrahedral=True)]
    return LatticeTable(Conversion(steps))


def light_of_lightness(lightness: Floats) -> Floats:
    """
    Linear light of CIE lightness, both from 0 to 1.

    Parameters
    ----------
    lightness : ndarray of float64

    Returns
    -------
    ndarray of float64
    """
    cube = ((lightness + 0.16) / 1.16) ** 3
    return np.where(lightness > _KNEE_L, cube, lightness / _SLOPE)


OUT_OF_GAMUT = 2.0
"""Distance that counts as out of gamut, in dE00: colours inside the gamut of a good
profile come back within about 1.1 (99 of 100), which must not count."""

FAR_OUT = 5.0
"""Distance that is plainly seen side by side. Our choice."""


def gamut_distance(lab: ArrayLike, paper: ProfileLike) -> Floats:
    """
    Difference between a colour and the nearest that the paper gives for it.

    Parameters
    ----------
    lab : array_like of float, shape (..., 3)
        CIELAB under D50, relative to the working space's white; those of a picture
        come from `device_to_lab`.
    paper : Profile, path, bytes or name of a space

    Returns
    -------
    ndarray of float64, shape (...)
        dE00, 0 or more; above `OUT_OF_GAMUT` counts as out of gamut.

    Raises
    ------
    ProfileError
        If the profile has no way to its device or back.
    SpecError
        If the colours are no such array.

    Notes
    -----
    To the device and back, both media-relative colorimetric and without black point
    compensation, whatever intent is chosen for the print: it tells what the paper
    can hold, not what an intent makes of it. With compensation every dark pixel
    would differ. The difference is CIEDE2000 (ISO/CIE 11664-6).

    Examples
    --------
    A grey is in every gamut; the green primary of opRGB is not in that of sRGB:

    >>> from printplan.colour import device_to_lab
    >>> grey_and_green = device_to_lab([[0.5, 0.5, 0.5], [0, 1.0, 0]], "oprgb")
    >>> (gamut_distance(grey_and_green, "srgb") > OUT_OF_GAMUT).tolist()
    [False, True]
    """
    held = rendered_lab(lab, paper, Intent.MEDIA_RELATIVE, BlackPointCompensation.OFF)
    return np.asarray(delta_e_2000(lab, held), np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class DistanceSummary:
    """
    How much of a picture the paper can hold.

    Attributes
    ----------
    share_out : float
        Share of the picture farther than `OUT_OF_GAMUT`, 0 to 1.
    share_far_out : float
        Share farther than `FAR_OUT`.
    p95_delta_e : float
        Distance that 95 of 100 pixels keep within, dE00.
    """

    share_out: float
    share_far_out: float
    p95_delta_e: float


def summarize_distance(distance: NDArray[np.floating[Any]]) -> DistanceSummary:
    """
    Sum up the distances of a picture.

    Parameters
    ----------
    distance : ndarray of float
        dE00 of each pixel, any shape, not empty.
    """
    return DistanceSummary(
        share_out=float((distance > OUT_OF_GAMUT).mean()),
        share_far_out=float((distance > FAR_OUT).mean()),
        p95_delta_e=float(np.percentile(distance, 95)),
    )


@lru_cache(maxsize=8)
def gamut_distance_table(source: Profile, paper: Profile) -> LatticeTable:
    """
    Distances of all colours of a working space, ready for pictures.

    Parameters
    ----------
    source : Profile
        The master's: a matrix or grey profile.

    Returns
    -------
    LatticeTable
        One output, in dE00. Read between its points it is a little rounded at the
        gamut's boundary; numbers that are quoted come from `gamut_distance`.

    Raises
    ------
    ProfileError
        If the paper's profile has no way to its device or back.
    """
    lattice = make_lattice(source, MAP_POINTS)
    return tabulate(lattice, gamut_distance(lattice.lab, paper))


DEAD = 0.1
"""Separation under which detail has merged: a tenth of what the master has."""

_STEP = 1.0
"""Size of the differences, in CIELAB units."""


@dataclass(frozen=True, slots=True, eq=False)
class Separation:
    """
    How much of a small difference is left at each colour.

    Attributes
    ----------
    tone : ndarray of float64, shape (...)
        Change of the print, in CIELAB units, for one unit of the master's L*.
    chroma : ndarray of float64, shape (...)
        The same for the direction of a* and b* in which least is left.
    """

    tone: NDArray[np.float64]
    chroma: NDArray[np.float64]


def separation(
    lab: ArrayLike,
    paper: ProfileLike,
    intent: Intent | str = Intent.MEDIA_RELATIVE,
    black_point_compensation: BlackPointCompensation | str = BlackPointCompensation.ON,
    *,
    source: ProfileLike | None = None,
) -> Separation:
    """
    How much of a small difference of tone or chroma is left in the print.

    Parameters
    ----------
    lab : array_like of float, shape (..., 3)
        CIELAB under D50, relative to the working space's white.
    paper : Profile, path, bytes or name of a space
    intent, black_point_compensation
        As for `convert`.
    source : Profile, path, bytes or name of a space, optional
        Where the colours come from; without it a working space whose black is L* 0.

    Raises
    ------
    ProfileError
        If the profile has no way to its device or back.
    SpecError
        If the colours are no such array, or a choice is unknown.

    Notes
    -----
    Central differences of one unit in the map T from the master's colour to the
    print's. Tone is the length of dT/dL*; chroma is the smaller singular value of
    dT/d(a*, b*). Measures of local contrast in the picture rank intents wrongly;
    this one asks only what the map does to a difference, wherever there is one.
    Next to black and white the step is taken to one side, inside L* 0 to 100. Our own
    measure; under `DEAD` detail counts as merged.

    Examples
    --------
    sRGB keeps the tones of a grey, and merges those of a red far outside it:

    >>> left = separation([[50.0, 0, 0], [50.0, 127, 100]], "srgb")
    >>> (left.chroma > 0.5).tolist()
    [True, False]
    """
    colours = colour_array(lab, "CIELAB colours").astype(np.float64, copy=False)
    places, lab = colours.shape[:-1], colours.reshape(-1, 3)
    columns = []
    for axis in range(3):
        step = np.zeros(3)
        step[axis] = _STEP
        above, below = lab + step, lab - step
        above[:, 0] = np.minimum(above[:, 0], 100.0)
        below[:, 0] = np.maximum(below[:, 0], 0.0)
        both = rendered_lab(
            np.concatenate([above, below]),
            paper,
            intent,
            black_point_compensation,
            source=source,
        )
        change = both[: len(lab)] - both[len(lab) :]
        columns.append(change / (above - below)[:, axis, None])
    tone = np.linalg.norm(columns[0], axis=-1)
    chroma = _smaller_singular(columns[1], columns[2])
    return Separation(tone.reshape(places), chroma.reshape(places))


def _smaller_singular(
    first: NDArray[np.float64], second: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Smaller singular value of matrices of two columns, from their Gram matrices."""
    aa = np.einsum("ni,ni->n", first, first)
    bb = np.einsum("ni,ni->n", second, second)
    ab = np.einsum("ni,ni->n", first, second)
    spread = np.hypot((aa - bb) / 2, ab)
    return np.asarray(np.sqrt(np.maximum((aa + bb) / 2 - spread, 0.0)))


def dead_share(left: NDArray[np.float64]) -> float:
    """
    Share of colours whose detail has merged.

    Parameters
    ----------
    left : ndarray of float64
        `Separation.tone` or `Separation.chroma`.

    Returns
    -------
    float
        0 to 1.
    """
    return float((left < DEAD).mean())


@lru_cache(maxsize=16)
def separation_table(
    source: Profile,
    paper: Profile,
    intent: Intent,
    black_point_compensation: BlackPointCompensation,
) -> LatticeTable:
    """
    Separation of all colours of a working space, ready for pictures.

    Parameters
    ----------
    source : Profile
        The master's: a matrix or grey profile.

    Returns
    -------
    LatticeTable
        Two outputs: tone and chroma. Read between its points it is rounded where
        separation ends; numbers that are quoted come from `separation`.

    Raises
    ------
    ProfileError
        If the paper's profile has no way to its device or back.
    """
    lattice = make_lattice(source, MAP_POINTS)
    left = separation(
        lattice.lab, paper, intent, black_point_compensation, source=source
    )
    return tabulate(lattice, np.stack([left.tone, left.chroma], axis=-1))
