"""How are whole pictures converted fast, by the profile's own curves and tables?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from printplan.colour.black_point import source_black
from printplan.colour.icc_file import D50_XYZ, read_icc
from printplan.colour.icc_tables import read_lut
from printplan.colour.lattice import as_grid, lightness_step, make_lattice
from printplan.colour.processors import (
    Depth,
    Reading,
    curves_step,
    grid_step,
    matrix_step,
    packed,
    planar,
    processor,
)
from printplan.colour.rendering import (
    adaptation,
    media_white_xyz,
    rendered_device,
)
from printplan.colour.side_by_side import rows_side_by_side
from printplan.colour.spaces import named_profile
from printplan.colour.transforms import (
    Precision,
    code_of_light,
    colorants_xyz,
    convert,
    tone_curves,
)
from printplan.spec import BlackPointCompensation, Intent, NamedSpace

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from printplan.colour.icc_tables import LutElement
    from printplan.colour.profiles import Profile

    Floats = NDArray[np.float64]

# Tables of each intent (ICC.1:2022, 9.2.1): absolute is computed from the relative.
_TABLE_NUMBER = {
    Intent.PERCEPTUAL: 0,
    Intent.MEDIA_RELATIVE: 1,
    Intent.SATURATION: 2,
    Intent.ICC_ABSOLUTE: 1,
}
_CURVE_ENTRIES = 65536
_LINK_POINTS = 129

# CIE 015:2018, 8.2.1: f(t) = t^(1/3) above (6/29)^3, else (841/108) t + 4/29, and
# L* = 116 f(Y) - 16, a* = 500 (f(X) - f(Y)), b* = 200 (f(Y) - f(Z)).
_F_KNEE = (6 / 29) ** 3
_F_SLOPE, _F_START = 841 / 108, 4 / 29
_LAB_OF_F = np.array([[0.0, 116, 0], [500, -500, 0], [0, 200, -200]])
_LAB_START = np.array([-16.0, 0, 0])
# Colours lighter than white in one of X, Y, Z: a* = 128 at L* = 100 has f = 1.26.
_F_RANGE = 1.5
# On a paper darker than the source's white, ICC-absolute asks for more than white.
_LIGHT_RANGE = 2.0
_D50 = np.array(D50_XYZ)

# CIELAB as codes from 0 to 1 (ICC.1:2022, 6.3.4.2 and 10.10): scale, then offset.
_LAB_CODES = {
    8: (np.array([1 / 100, 1 / 255, 1 / 255]), np.array([0, 128 / 255, 128 / 255])),
    16: (
        np.array([652.8, 256, 256]) / 65535,
        np.array([0, 128 * 256, 128 * 256]) / 65535,
    ),
}


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


@dataclass(frozen=True, slots=True, eq=False)
class ScreenPipeline:
    """
    A conversion of device values to an sRGB screen, made ready.

    Attributes
    ----------
    profile : Profile
    intent : Intent
    part : object or None
        None goes through LittleCMS.
    """

    profile: Profile
    intent: Intent
    part: Any

    def from_device(self, device: NDArray[np.uint16]) -> NDArray[np.uint8]:
        """
        Convert device values for the screen.

        Parameters
        ----------
        device : ndarray of uint16, shape (rows, columns, channels)

        Returns
        -------
        ndarray of uint8, shape (rows, columns, 3)
            sRGB.
        """
        if self.part is None:
            shown = convert(
                device,
                self.profile,
                named_profile(NamedSpace.SRGB),
                intent=self.intent,
                black_point_compensation=BlackPointCompensation.OFF,
                precision=Precision.FINE,
            )
            return ((shown.astype(np.uint32) + 128) // 257).astype(np.uint8)
        if device.shape[1] == 1:
            # As in `Pipeline.from_linear`.
            return self.from_device(np.repeat(device, 2, axis=1))[:, :1].copy()
        out = np.empty(device.shape, np.uint8)
        whole = np.ascontiguousarray(device)
        rows_side_by_side(
            lambda rows: self.part.apply(packed(whole[rows]), packed(out[rows])),
            *whole.shape[:2],
        )
        return out


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
    intent : Intent
    black_point_compensation : BlackPointCompensation

    Returns
    -------
    Pipeline

    Raises
    ------
    ProfileError
        If the target is damaged, or has no way from colour to device.

    Notes
    -----
    Three kinds of target are served. A matrix profile: matrix and inverse curves. A
    profile with lut8 or lut16 tables on CIELAB, as nearly all papers have: matrix,
    CIELAB, then its own curves and table, read between its own points as LittleCMS
    reads a table on CIELAB, trilinearly. Any other: one table of 129 points an axis
    over lightness-like codes, each point computed by LittleCMS. The first two are
    exact to a few 16-bit codes; the last is not exact between its points.
    """
    # A grey plane is read three times: as X, Y and Z of D50's own grey.
    matrix = np.diag(_D50) if source.channels == 1 else colorants_xyz(source)
    compensated = intent is not Intent.ICC_ABSOLUTE
    scale, offset = adaptation(
        target,
        intent,
        black_point_compensation,
        source_white_xyz=media_white_xyz(source),
        source_black_lab=source_black(source, intent) if compensated else None,
    )
    if not target.is_table and target.channels == 3:
        return _to_matrix_profile(target, scale[:, None] * matrix, offset)
    lut = _table_on_lab(target, "B2A", intent)
    if lut is not None:
        return _to_table(lut, scale[:, None] * matrix, offset)
    return _to_link(source, target, intent, black_point_compensation)


@lru_cache(maxsize=32)
def device_to_screen(profile: Profile, intent: Intent) -> ScreenPipeline:
    """
    Pipeline from device values to an sRGB screen.

    Parameters
    ----------
    profile : Profile
        What the device values mean.
    intent : Intent
        Media-relative makes the profile's white the screen's white; ICC-absolute
        shows white and black as they are.

    Returns
    -------
    ScreenPipeline

    Raises
    ------
    ProfileError
        If the profile is damaged.

    Notes
    -----
    An RGB profile with lut8 or lut16 tables on CIELAB is read through its own table,
    tetrahedrally as LittleCMS reads a table on RGB. Others go through LittleCMS and a
    table of 49 points an axis.
    """
    steps = steps_to_light(profile, intent)
    if steps is None:
        return ScreenPipeline(profile, intent, None)
    steps.append(_codes_of_light(named_profile(NamedSpace.SRGB), by_half=False))
    return ScreenPipeline(profile, intent, processor(steps, Depth.UINT16, Depth.UINT8))


def steps_to_light(profile: Profile, intent: Intent) -> list[Any] | None:
    """
    Steps from device values to linear light of sRGB, which may leave 0 to 1.

    Parameters
    ----------
    profile : Profile
        What the device values mean.
    intent : Intent
        As for `device_to_screen`.

    Returns
    -------
    list of object or None
        For `processors.processor`; None if the profile is not one of RGB with lut8
        or lut16 tables on CIELAB.

    Raises
    ------
    ProfileError
        If the profile is damaged.
    """
    lut = _table_on_lab(profile, "A2B", intent)
    if lut is None or profile.channels != 3:
        return None
    screen = named_profile(NamedSpace.SRGB)
    scale = np.ones(3)
    if intent is Intent.ICC_ABSOLUTE:
        scale = media_white_xyz(profile) / media_white_xyz(screen)
    gain, start = _LAB_CODES[lut.bits]
    from_lab = np.linalg.inv(_LAB_OF_F) / _F_RANGE
    to_f, f_start = from_lab / gain, from_lab @ (-start / gain - _LAB_START)
    after = _curves(lut.after)
    # Without curves between them, the table may hold what the matrix makes of it.
    grid = lut.grid if after else lut.grid @ to_f.T + f_start
    light = _light_of_f(np.linspace(0, _F_RANGE, _CURVE_ENTRIES))
    return [
        *_curves(lut.before),
        grid_step(grid, Reading.TETRAHEDRAL),
        *([*after, matrix_step(to_f, f_start)] if after else []),
        curves_step([light] * 3),
        matrix_step(np.linalg.inv(colorants_xyz(screen)) * (scale * _D50)),
    ]


def _table_on_lab(profile: Profile, way: str, intent: Intent) -> LutElement | None:
    """Table of an intent, or else of the perceptual one, if it is on CIELAB."""
    icc = read_icc(profile.data, where=profile.name)
    for tag in (f"{way}{_TABLE_NUMBER[intent]}", f"{way}0"):
        if tag in icc.tags:
            lut = read_lut(icc.tags[tag], where=profile.name)
            return lut if profile.pcs == "Lab" else None
    return None


def _curves(curves: Sequence[Floats] | Floats) -> list[Any]:
    """A table's own curves, unless they are straight: it holds its ends by itself."""
    straight = all(
        np.array_equal(curve, np.linspace(0, 1, len(curve))) for curve in curves
    )
    return [] if straight else [curves_step(curves)]


def _to_matrix_profile(target: Profile, matrix: Floats, offset: Floats) -> Pipeline:
    back = np.linalg.inv(colorants_xyz(target))
    steps = [matrix_step(back @ matrix, back @ offset), _codes_of_light(target)]
    return Pipeline((processor(steps, Depth.FLOAT32, Depth.UINT16),), 3)


def _to_table(lut: LutElement, matrix: Floats, offset: Floats) -> Pipeline:
    gain, start = _LAB_CODES[lut.bits]
    steps = [
        matrix_step(
            matrix / _D50[:, None] / _LIGHT_RANGE, offset / _D50 / _LIGHT_RANGE
        ),
        curves_step([_f_of_light(np.linspace(0, _LIGHT_RANGE, _CURVE_ENTRIES))] * 3),
        matrix_step(gain[:, None] * _LAB_OF_F, gain * _LAB_START + start),
        *_curves(lut.before),
    ]
    outputs = len(lut.after)
    parts = [
        processor(
            [
                *steps,
                grid_step(lut.grid[..., first : first + 3], Reading.TRILINEAR),
                *_curves(lut.after[first : first + 3]),
            ],
            Depth.FLOAT32,
            Depth.UINT16,
        )
        for first in range(0, outputs, 3)
    ]
    return Pipeline(tuple(parts), outputs)


def _to_link(
    source: Profile, target: Profile, intent: Intent, wish: BlackPointCompensation
) -> Pipeline:
    """A table over the linear channels, computed by LittleCMS."""
    lattice = make_lattice(source, _LINK_POINTS)
    device = rendered_device(lattice.lab, target, intent, wish)
    grid, outputs = as_grid(lattice, device / 65535)
    parts = [
        processor(
            [
                lightness_step(),
                grid_step(grid[..., first : first + 3], Reading.TETRAHEDRAL),
            ],
            Depth.FLOAT32,
            Depth.UINT16,
        )
        for first in range(0, outputs, 3)
    ]
    return Pipeline(tuple(parts), outputs)


def _f_of_light(light: Floats) -> Floats:
    return np.where(light > _F_KNEE, np.cbrt(light), _F_SLOPE * light + _F_START)


def _light_of_f(f: Floats) -> Floats:
    return np.where(f > 6 / 29, f**3, (f - _F_START) / _F_SLOPE)


def _codes_of_light(profile: Profile, *, by_half: bool = True) -> Any:
    """
    Inverse tone curves of a matrix profile.

    Indexed by half floats, which are fine near black, where a power is steep. Evenly
    spaced entries are read twice as fast, and do for 8 bits of sRGB, whose curve is
    straight near black.
    """
    light = np.linspace(0, 1, _CURVE_ENTRIES)
    if by_half:
        halves = np.arange(_CURVE_ENTRIES, dtype=np.uint16).view(np.float16)
        light = np.nan_to_num(halves.astype(np.float64), nan=0, posinf=1, neginf=0)
    curves = [
        code_of_light(curve, np.clip(light, 0, 1)) / (_CURVE_ENTRIES - 1)
        for curve in tone_curves(profile)
    ]
    return curves_step(curves, by_half=by_half)
