"""How far is a colour from what the paper can hold?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from printplan.colour.difference import delta_e_2000
from printplan.colour.lattice import MAP_POINTS, make_lattice, tabulate
from printplan.colour.rendering import rendered_lab
from printplan.spec import BlackPointCompensation, Intent

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.lattice import LatticeTable
    from printplan.colour.profiles import Profile

OUT_OF_REACH = 2.0
"""Distance that counts as out of reach, in dE00: colours inside the gamut of a good
profile come back within about 1.1 (99 of 100), which must not count."""

FAR_OUT = 5.0
"""Distance that is plainly seen side by side. Our choice."""


def reach_distance(lab: NDArray[np.float64], paper: Profile) -> NDArray[np.float64]:
    """
    Difference between a colour and the nearest that the paper gives for it.

    Parameters
    ----------
    lab : ndarray of float64, shape (colours, 3)
        CIELAB under D50, relative to the working space's white.
    paper : Profile

    Returns
    -------
    ndarray of float64, shape (colours,)
        dE00, 0 or more.

    Raises
    ------
    ProfileError
        If the profile has no way to its device or back.

    Notes
    -----
    To the device and back, both media-relative colorimetric and without black point
    compensation, whatever intent is chosen for the print: it tells what the paper
    can hold, not what an intent makes of it. With compensation every dark pixel
    would differ.
    """
    held = rendered_lab(lab, paper, Intent.MEDIA_RELATIVE, BlackPointCompensation.OFF)
    return np.asarray(delta_e_2000(lab, held), np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReachSummary:
    """
    How much of a picture the paper can hold.

    Attributes
    ----------
    share_out : float
        Share of the picture farther than `OUT_OF_REACH`, 0 to 1.
    share_far_out : float
        Share farther than `FAR_OUT`.
    p95_delta_e : float
        Distance that 95 of 100 pixels keep within, dE00.
    """

    share_out: float
    share_far_out: float
    p95_delta_e: float


def summarize_reach(distance: NDArray[np.floating[Any]]) -> ReachSummary:
    """
    Sum up the distances of a picture.

    Parameters
    ----------
    distance : ndarray of float
        dE00 of each pixel, any shape, not empty.

    Returns
    -------
    ReachSummary
    """
    return ReachSummary(
        share_out=float((distance > OUT_OF_REACH).mean()),
        share_far_out=float((distance > FAR_OUT).mean()),
        p95_delta_e=float(np.percentile(distance, 95)),
    )


@lru_cache(maxsize=8)
def reach_table(source: Profile, paper: Profile) -> LatticeTable:
    """
    Distances of all colours of a working space, ready for pictures.

    Parameters
    ----------
    source : Profile
        The master's: a matrix or grey profile.
    paper : Profile

    Returns
    -------
    LatticeTable
        One output, in dE00. Read between its points it is a little rounded where
        reach begins; numbers that are quoted come from `reach_distance`.

    Raises
    ------
    ProfileError
        If the paper's profile has no way to its device or back.
    """
    lattice = make_lattice(source, MAP_POINTS)
    return tabulate(lattice, reach_distance(lattice.lab, paper))
