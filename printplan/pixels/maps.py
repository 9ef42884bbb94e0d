"""Where in the picture does the paper fall short?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.losses import gamut_distance_table, separation_table
from printplan.colour.spaces import lab_from_xyz
from printplan.colour.transforms import colorants_xyz

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile
    from printplan.pixels.sheet import Overview, Sheet
    from printplan.sizing.boxes import Box


@dataclass(frozen=True, slots=True, eq=False)
class PictureMap:
    """
    A quantity over the picture at reduced size.

    Attributes
    ----------
    values : ndarray of float32, shape (rows, columns)
    box : Box
        Where they lie in the overview.
    """

    values: NDArray[np.float32]
    box: Box


def reach_map(sheet: Sheet, overview: Overview) -> PictureMap:
    """
    Distance of each pixel from what the paper can hold.

    Parameters
    ----------
    overview : Overview
        Of that sheet.

    Returns
    -------
    PictureMap
        dE00; the same whatever intent is chosen.

    Raises
    ------
    ProfileError
        If the paper's profile has no way to its device or back.
    """
    table = gamut_distance_table(sheet.master.profile, sheet.delivered)
    return PictureMap(table.from_linear(overview.linear)[..., 0], overview.picture)


def tone_map(sheet: Sheet, overview: Overview) -> PictureMap:
    """
    How much of a small difference of tone the plan's intent leaves.

    Parameters
    ----------
    overview : Overview
        Of that sheet.

    Returns
    -------
    PictureMap
        1 keeps all; under `separation.DEAD` detail has merged.

    Raises
    ------
    ProfileError
        If the paper's profile has no way to its device or back.
    """
    return PictureMap(_separation(sheet, overview)[..., 0], overview.picture)


def chroma_map(sheet: Sheet, overview: Overview) -> PictureMap:
    """
    How much of a small difference of colour the plan's intent leaves.

    Parameters
    ----------
    overview : Overview
        Of that sheet.

    Returns
    -------
    PictureMap
        1 keeps all, in the direction in which least is left.

    Raises
    ------
    ProfileError
        If the paper's profile has no way to its device or back.
    """
    return PictureMap(_separation(sheet, overview)[..., 1], overview.picture)


def _separation(sheet: Sheet, overview: Overview) -> NDArray[np.float32]:
    colour = sheet.plan.spec.colour
    table = separation_table(
        sheet.master.profile,
        sheet.delivered,
        colour.intent,
        colour.black_point_compensation,
    )
    return table.from_linear(overview.linear)


def lab_of(
    linear: NDArray[np.float32], profile: Profile, most: int | None = None
) -> NDArray[np.float64]:
    """
    Colours of linear light.

    Parameters
    ----------
    linear : ndarray of float32, shape (channels, rows, columns)
    profile : Profile
        In whose channels it is.
    most : int, optional
        Pixels to take at most, evenly spread; by default all.

    Returns
    -------
    ndarray of float64, shape (colours, 3)
        CIELAB under D50, relative to the profile's white.
    """
    pixels = linear.reshape(len(linear), -1)
    step = -(-pixels.shape[1] // most) if most else 1
    sample = pixels[:, ::step].T.astype(np.float64)
    return lab_from_xyz(sample @ colorants_xyz(profile).T)
