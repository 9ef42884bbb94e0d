"""How are whole pictures converted fast, by the profile's own curves and tables?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import lcm
from typing import TYPE_CHECKING, Any

import numpy as np

from printplan.colour.black_point import adaptation
from printplan.colour.icc_file import D50_XYZ, read_icc
from printplan.colour.icc_tables import (
    Curves,
    Grid,
    LabCoding,
    Matrix,
    half_floats,
    read_lut,
)
from printplan.colour.ocio import (
    Depth,
    Reading,
    curves_step,
    grid_step,
    matrix_step,
    packed,
    planar,
    processor,
)
from printplan.colour.transforms import (
    TABLE_OF_INTENT,
    code_of_light,
    colorants_xyz,
    tone_curves,
)
from printplan.errors import ProfileError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from printplan.colour.icc_tables import LutElement, Stage
    from printplan.colour.profiles import Profile
    from printplan.spec import BlackPointCompensation, Intent

    Floats = NDArray[np.float64]


CURVE_ENTRIES = 65536
_MOST_POINTS = 129

# CIE 015:2018, 8.2.1: f(t) = t^(1/3) above (6/29)^3, else (841/108) t + 4/29, and
# L* = 116 f(Y) - 16, a* = 500 (f(X) - f(Y)), b* = 200 (f(Y) - f(Z)).
_F_KNEE = (6 / 29) ** 3
F_SLOPE, F_START = 841 / 108, 4 / 29
LAB_OF_F = np.array([[0.0, 116, 0], [500, -500, 0], [0, 200, -200]])
LAB_START = np.array([-16.0, 0, 0])
# On a paper darker than the source's white, ICC-absolute asks for more than white.
_LIGHT_RANGE = 2.0
_D50 = np.array(D50_XYZ)

# CIELAB as codes from 0 to 1 (ICC.1:2022, 6.3.4.2 and 10.10): scale, then offset.
LAB_CODES = {
    LabCoding.FULL: (
        np.array([1 / 100, 1 / 255, 1 / 255]),
        np.array([0, 128 / 255, 128 / 255]),
    ),
    LabCoding.LEGACY_16: (
        np.array([652.8, 256, 256]) / 65535,
        np.array([0, 128 * 256, 128 * 256]) / 65535,
    ),
}
# X, Y, Z as codes from 0 to 1 (ICC.1:2022, 6.3.4.2): 1 + 32767/32768 is full scale.
XYZ_CODE = 32768 / 65535


@dataclass(frozen=True, slots=True, eq=False)
class Pipeline:
    """
    A colour conversion made ready for any number of pixels.

    Attributes
    ----------
    parts : tuple
        One processor for each three channels of the result.
    channels : int
        Channels of the result.
    """

    parts: tuple[Any, ...]
    channels: int

    def from_linear(self, linear: NDArray[np.float32]) -> NDArray[np.uint16]:
        """
        Convert linear light to device values.

        Parameters
        ----------
        linear : ndarray of float32, shape (1 or 3, rows, columns)
            One plane is grey.

        Returns
        -------
        ndarray of uint16, shape (rows, columns, channels)
            What becomes of a pixel depends on that pixel alone.
        """
        rows, columns = linear.shape[1:]
        if columns == 1:
            # OpenColorIO rounds a line of a single pixel in another way now and then.
            return self.from_linear(np.repeat(linear, 2, axis=2))[:, :1].copy()
        source = planar(linear)
        done = [np.empty((rows, columns, 3), np.uint16) for _ in self.parts]
        for part, out in zip(self.parts, done, strict=True):
            part.apply(source, packed(out))
        if self.channels == 3:
            return done[0]
        joined: NDArray[np.uint16] = np.concatenate(done, axis=-1)
        return np.ascontiguousarray(joined[..., : self.channels])


@lru_cache(maxsize=32)
def linear_to_device(
    source: Profile,
    target: Profile,
    *,
    intent: Intent,
    black_point_compensation: BlackPointCompensation,
) -> Pipeline:
    """
    Pipeline from the linear channels of one profile to another's device values.

    Parameters
    ----------
    source : Profile
        A matrix or grey profile; its linear channels are what goes in.
    target : Profile
        Any profile that colours can be converted to.

    Raises
    ------
    ProfileError
        If the target is damaged, or has no way from colour to device.

    Notes
    -----
    A target with tables is read through the stages of its own table of that intent, or
    of the perceptual one if it has none: curves, matrix and grid of lut8, lut16 or
    lutBToA, on CIELAB or XYZ. A grid on CIELAB is read trilinearly, as LittleCMS reads
    it, one on XYZ tetrahedrally. Other targets take a matrix and inverse curves. All
    are exact to a few 16-bit codes. Tables of floating-point stages (DToB, BToD) are
    left aside, as the standard allows.
    """
    # A grey plane is read three times: as X, Y and Z of D50's own grey.
    matrix = np.diag(_D50) if source.channels == 1 else colorants_xyz(source)
    line = adaptation(source, target, intent, black_point_compensation)
    return _to_device(matrix, line, target, intent)


@lru_cache(maxsize=32)
def xyz_to_device(
    source: Profile | None,
    target: Profile,
    *,
    intent: Intent,
    black_point_compensation: BlackPointCompensation,
) -> Pipeline:
    """
    The stages of `linear_to_device` for X, Y and Z in place of linear channels.

    Parameters
    ----------
    source : Profile or None
        Whose white and black the colours are relative to; None is a working space
        with black at L* 0.
    target, intent, black_point_compensation
        As for `linear_to_device`.

    Returns
    -------
    Pipeline
        Takes XYZ under D50 with Y = 1 for white, which may leave 0 to 1.

    Raises
    ------
    ProfileError
        As for `linear_to_device`.
    """
    line = adaptation(source, target, intent, black_point_compensation)
    return _to_device(np.eye(3), line, target, intent)


def table_tag(profile: Profile, way: str, intent: Intent) -> str | None:
    """
    Tag of the table that an intent goes through.

    Parameters
    ----------
    way : str
        ``A2B`` or ``B2A``.

    Returns
    -------
    str or None
        The perceptual one where the intent has none of its own; None without tables.
    """
    tags = read_icc(profile.data, where=profile.name).tags
    wanted = (f"{way}{TABLE_OF_INTENT[intent]}", f"{way}0")
    return next((tag for tag in wanted if tag in tags), None)


def read_table(profile: Profile, way: str, intent: Intent) -> LutElement | None:
    """The table that an intent goes through; None without tables."""
    tag = table_tag(profile, way, intent)
    if tag is None:
        return None
    tags = read_icc(profile.data, where=profile.name).tags
    return read_lut(tags[tag], where=profile.name)


def _to_device(
    matrix: Floats, line: tuple[Floats, Floats], target: Profile, intent: Intent
) -> Pipeline:
    """From channels by a matrix to XYZ, along a line, to the target's device."""
    scale, offset = line
    matrix = scale[:, None] * matrix
    lut = read_table(target, "B2A", intent)
    if lut is not None:
        return _to_table(target, lut, matrix, offset)
    if target.is_table:
        raise ProfileError(
            f"The profile {target.name!r} has no table from colour to device.",
            remedy="Name an output profile made for this paper.",
        )
    if target.channels == 1:
        # A grey device gives the luminance, whatever the colour.
        to_light, start = np.tile(matrix[1], (3, 1)), np.repeat(offset[1], 3)
    else:
        back = np.linalg.inv(colorants_xyz(target))
        to_light, start = back @ matrix, back @ offset
    steps = [matrix_step(to_light, start), codes_of_light(target)]
    part = processor(steps, Depth.FLOAT32, Depth.UINT16)
    return Pipeline((part,), target.channels)


def _to_table(
    target: Profile, lut: LutElement, matrix: Floats, offset: Floats
) -> Pipeline:
    if lut.inputs != 3 or lut.outputs != target.channels:
        raise ProfileError(
            f"A table of {target.name!r} takes {lut.inputs} channels to "
            f"{lut.outputs}; its device has {target.channels}.",
            remedy="Fetch the profile again; this one is damaged.",
        )
    if target.pcs == "Lab":
        gain, start = LAB_CODES[lut.lab_coding]
        reading = Reading.TRILINEAR
        steps = [
            matrix_step(
                matrix / _D50[:, None] / _LIGHT_RANGE, offset / _D50 / _LIGHT_RANGE
            ),
            curves_step([_f_of_light(np.linspace(0, _LIGHT_RANGE, CURVE_ENTRIES))] * 3),
            matrix_step(gain[:, None] * LAB_OF_F, gain * LAB_START + start),
        ]
    else:
        reading = Reading.TETRAHEDRAL
        steps = [matrix_step(matrix * XYZ_CODE, offset * XYZ_CODE)]
    parts = [
        processor(
            [*steps, *table_steps(_outputs_from(lut.stages, first), reading)],
            Depth.FLOAT32,
            Depth.UINT16,
        )
        for first in range(0, lut.outputs, 3)
    ]
    return Pipeline(tuple(parts), lut.outputs)


def _outputs_from(stages: tuple[Stage, ...], first: int) -> tuple[Stage, ...]:
    """The stages of three of a table's outputs: behind the grid, and its own."""
    channels = slice(first, first + 3)
    kept: list[Stage] = []
    behind = not any(isinstance(stage, Grid) for stage in stages)
    for stage in stages:
        if isinstance(stage, Grid):
            kept.append(Grid(stage.values[..., channels]))
            behind = True
        elif isinstance(stage, Curves) and behind:
            kept.append(Curves(stage.entries[channels], stage.by_half))
        else:
            kept.append(stage)
    return tuple(kept)


def table_steps(stages: Sequence[Stage], reading: Reading) -> list[Any]:
    """A table's own stages for `ocio.processor`."""
    steps = []
    for stage in stages:
        if isinstance(stage, Curves):
            steps.append(curves_step(stage.entries, by_half=stage.by_half))
        elif isinstance(stage, Matrix):
            steps.append(matrix_step(stage.matrix, stage.offset))
        else:
            steps.append(grid_step(_even_grid(stage.values), reading))
    return steps


def _even_grid(values: Floats) -> Floats:
    """A grid with as many points along each axis, equal between its points."""
    points = values.shape[:3]
    cells = lcm(*(number - 1 for number in points))
    if cells + 1 > _MOST_POINTS:
        raise ProfileError(
            f"A table of {' × '.join(map(str, points))} points cannot be read: with as "
            f"many along each axis it would have {cells + 1}; {_MOST_POINTS} is the "
            "most.",
            remedy="Have the profile made with as many points along each axis.",
        )
    for axis, number in enumerate(points):
        place = np.linspace(0, number - 1, cells + 1)
        below = np.minimum(place.astype(int), number - 2)
        share = (place - below).reshape([-1 if it == axis else 1 for it in range(4)])
        lower = np.take(values, below, axis=axis)
        values = lower + share * (np.take(values, below + 1, axis=axis) - lower)
    return values


def _f_of_light(light: Floats) -> Floats:
    return np.where(light > _F_KNEE, np.cbrt(light), F_SLOPE * light + F_START)


def codes_of_light(profile: Profile, *, by_half: bool = True) -> Any:
    """
    Inverse tone curves of a matrix profile.

    Indexed by half floats, which are fine near black, where a power is steep. Evenly
    spaced entries are read twice as fast, and do for 8 bits of sRGB, whose curve is
    straight near black.
    """
    light = np.linspace(0, 1, CURVE_ENTRIES)
    if by_half:
        light = half_floats()
    curves = [
        code_of_light(curve, light) / (CURVE_ENTRIES - 1)
        for curve in tone_curves(profile)
    ]
    return curves_step(curves, by_half=by_half)
