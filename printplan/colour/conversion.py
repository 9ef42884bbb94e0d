"""How are whole pictures converted fast, by the profile's own curves and tables?"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.black_point import adaptation
from printplan.colour.conversion_steps import (
    Conversion,
    curves_step,
    f_step,
    matrix_step,
    octave_places,
    table_step,
)
from printplan.colour.icc_file import D50_XYZ, read_icc
from printplan.colour.icc_tables import Curves, LabCoding, Matrix, read_lut
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

    from printplan.colour.conversion_steps import Step
    from printplan.colour.icc_tables import LutElement, Stage
    from printplan.colour.profiles import Profile
    from printplan.spec import BlackPointCompensation, Intent

    Floats = NDArray[np.float64]


_TOP_CODE = 65535

# CIE 015:2018, 8.2.1: L* = 116 f(Y) - 16, a* = 500 (f(X) - f(Y)) and
# b* = 200 (f(Y) - f(Z)).
LAB_OF_F = np.array([[0.0, 116, 0], [500, -500, 0], [0, 200, -200]])
LAB_START = np.array([-16.0, 0, 0])
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


@lru_cache(maxsize=32)
def linear_to_device(
    source: Profile,
    target: Profile,
    *,
    intent: Intent,
    black_point_compensation: BlackPointCompensation,
) -> Conversion:
    """
    Conversion from the linear channels of one profile to another's device values.

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
) -> Conversion:
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
    Conversion
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
    """
    The table that an intent goes through; None without tables.

    Raises
    ------
    ProfileError
        If it is damaged, or is not one between colour and the profile's device.
    """
    tag = table_tag(profile, way, intent)
    if tag is None:
        return None
    tags = read_icc(profile.data, where=profile.name).tags
    lut = read_lut(tags[tag], where=profile.name)
    ends = (profile.channels, 3) if way == "A2B" else (3, profile.channels)
    if (lut.inputs, lut.outputs) != ends:
        raise ProfileError(
            f"A table of {profile.name!r} takes {lut.inputs} channels to "
            f"{lut.outputs}; its device has {profile.channels}.",
            remedy="Fetch the profile again; this one is damaged.",
        )
    return lut


def _to_device(
    matrix: Floats, line: tuple[Floats, Floats], target: Profile, intent: Intent
) -> Conversion:
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
    return Conversion(steps, target.channels)


def _to_table(
    target: Profile, lut: LutElement, matrix: Floats, offset: Floats
) -> Conversion:
    if target.pcs == "Lab":
        gain, start = LAB_CODES[lut.lab_coding]
        steps = [
            matrix_step(matrix / _D50[:, None], offset / _D50),
            f_step(),
            matrix_step(gain[:, None] * LAB_OF_F, gain * LAB_START + start),
        ]
    else:
        steps = [matrix_step(matrix * XYZ_CODE, offset * XYZ_CODE)]
    steps += table_steps(lut.stages, tetrahedral=target.pcs != "Lab")
    return Conversion(steps, lut.outputs)


def table_steps(stages: Sequence[Stage], *, tetrahedral: bool) -> list[Step]:
    """A table's own stages as steps of a conversion."""
    steps = []
    for stage in stages:
        if isinstance(stage, Curves):
            steps.append(curves_step(stage.entries, by_octave=stage.by_octave))
        elif isinstance(stage, Matrix):
            steps.append(matrix_step(stage.matrix, stage.offset))
        else:
            steps.append(table_step(stage.values, tetrahedral=tetrahedral))
    return steps


@lru_cache(maxsize=8)
def linear_to_codes(profile: Profile) -> Conversion:
    """
    Conversion from the linear channels of a profile to its own codes.

    Parameters
    ----------
    profile : Profile
        A matrix or grey profile.
    """
    return Conversion([codes_of_light(profile)], profile.channels)


def codes_of_light(profile: Profile) -> Step:
    """Inverse tone curves of a matrix or grey profile: a step from light to codes."""
    return inverse_curves_step(tone_curves(profile))


def inverse_curves_step(curves: NDArray[np.float32]) -> Step:
    """
    A step from light to codes, from 0 to 1.

    Parameters
    ----------
    curves : ndarray of float32, shape (channels, 65536)
        Linear light of each 16-bit code, rising.
    """
    light = octave_places().clip(0, 1)
    codes = [code_of_light(curve, light) / _TOP_CODE for curve in curves]
    return curves_step(codes, by_octave=True)
