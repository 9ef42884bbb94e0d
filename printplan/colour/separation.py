"""Which tones and colours merge in the print?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.lattice import MAP_POINTS, make_lattice, tabulate
from printplan.colour.rendering import rendered_lab

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.lattice import LatticeTable
    from printplan.colour.profiles import Profile
    from printplan.spec import BlackPointCompensation, Intent

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
    tone : ndarray of float64, shape (colours,)
        Change of the print, in CIELAB units, for one unit of the master's L*.
    chroma : ndarray of float64, shape (colours,)
        The same for the direction of a* and b* in which least is left.
    """

    tone: NDArray[np.float64]
    chroma: NDArray[np.float64]


def separation(
    lab: NDArray[np.float64],
    paper: Profile,
    intent: Intent,
    black_point_compensation: BlackPointCompensation,
    *,
    source: Profile | None = None,
) -> Separation:
    """
    Separation that an intent leaves on a paper.

    Parameters
    ----------
    lab : ndarray of float64, shape (colours, 3)
        CIELAB under D50, relative to the working space's white.
    paper : Profile
    intent : Intent
    black_point_compensation : BlackPointCompensation
    source : Profile, optional
        Where the colours come from; without it a working space whose black is L* 0.

    Returns
    -------
    Separation

    Raises
    ------
    ProfileError
        If the profile has no way to its device or back.

    Notes
    -----
    Central differences of one unit in the map T from the master's colour to the
    print's. Tone is the length of dT/dL*; chroma is the smaller singular value of
    dT/d(a*, b*). Measures of local contrast in the picture rank intents wrongly;
    this one asks only what the map does to a difference, wherever there is one.
    Next to black and white the step is taken to one side, inside L* 0 to 100.
    """
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
    return Separation(tone, _smaller_singular(columns[1], columns[2]))


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
    paper : Profile
    intent : Intent
    black_point_compensation : BlackPointCompensation

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
