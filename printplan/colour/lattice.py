"""How is a slow function of colour shown live, on every pixel of a picture?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from printplan.colour.processors import (
    Depth,
    Reading,
    curves_step,
    grid_step,
    packed,
    planar,
    processor,
)
from printplan.colour.spaces import lab_from_xyz
from printplan.colour.transforms import colorants_xyz

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile

    Floats = NDArray[np.float64]

MAP_POINTS = 41
"""Points along each axis of a table that is only looked at: steps of 2.5 L*."""

_CURVE_ENTRIES = 65536
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

    Returns
    -------
    Lattice
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
    part : object
        Its processor.
    scale : float
        The largest value, which the processor counts as 1.
    outputs : int
    """

    part: Any
    scale: float
    outputs: int

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
        rows, columns = linear.shape[1:]
        out = np.empty((rows, columns, 3), np.float32)
        self.part.apply(planar(linear), packed(out))
        values: NDArray[np.float32] = out[..., : self.outputs] * np.float32(self.scale)
        return values


def tabulate(lattice: Lattice, values: NDArray[np.floating[Any]]) -> LatticeTable:
    """
    Make a function on a lattice ready for pictures.

    Parameters
    ----------
    lattice : Lattice
    values : ndarray of float, shape (colours,) or (colours, up to 3)
        Not negative.

    Returns
    -------
    LatticeTable
    """
    grid, outputs = as_grid(lattice, values)
    scale = float(grid.max()) or 1.0
    steps = [lightness_step(), grid_step(grid / scale, Reading.TETRAHEDRAL)]
    return LatticeTable(processor(steps, Depth.FLOAT32, Depth.FLOAT32), scale, outputs)


def as_grid(lattice: Lattice, values: NDArray[np.floating[Any]]) -> tuple[Floats, int]:
    """
    Values of a lattice as a table of three channels.

    Parameters
    ----------
    lattice : Lattice
    values : ndarray of float, shape (colours,) or (colours, outputs)

    Returns
    -------
    tuple of ndarray of float64, shape (points, points, points, outputs), and int
        A grey line fills the cube, so that three equal channels find it.
    """
    points = lattice.points
    table = np.asarray(values, np.float64).reshape(len(lattice.linear), -1)
    outputs = table.shape[1]
    if lattice.linear.shape[1] == 1:
        line = table[:, None, None, :]
        return np.broadcast_to(line, (*[points] * 3, outputs)), outputs
    return table.reshape(*[points] * 3, outputs), outputs


def lightness_step() -> Any:
    """
    Step from linear light to the even axes of a lattice.

    Returns
    -------
    object
        For `processors.processor`.
    """
    light = np.linspace(0, 1, _CURVE_ENTRIES)
    cube = 1.16 * np.cbrt(light) - 0.16
    return curves_step([np.where(light > _KNEE_Y, cube, _SLOPE * light)])


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
