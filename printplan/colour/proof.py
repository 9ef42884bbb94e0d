"""What does a colour become in the print, and how does the print look on a screen?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.black_point import media_white_xyz
from printplan.colour.conversion import (
    LAB_CODES,
    LAB_OF_F,
    LAB_START,
    XYZ_CODE,
    codes_of_light,
    read_table,
    table_steps,
    xyz_to_device,
)
from printplan.colour.conversion_steps import (
    Conversion,
    curves_step,
    light_step,
    matrix_step,
)
from printplan.colour.icc_file import D50_XYZ
from printplan.colour.icc_tables import Grid, Matrix
from printplan.colour.pixel_conversion import convert, eight_bits
from printplan.colour.profiles import open_profile
from printplan.colour.spaces import named_profile, xyz_from_lab
from printplan.colour.transforms import (
    WhiteReference,
    chosen,
    colorants_xyz,
    device_to_lab,
    lcms_convert,
    linear_of_codes,
    rows_of,
    tone_curves,
)
from printplan.spec import BlackPointCompensation, Intent, NamedSpace, member
from printplan.validation import colour_array, device_codes

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from printplan.colour.conversion_steps import Step
    from printplan.colour.profiles import Profile, ProfileLike

    Floats = NDArray[np.float64]

_D50 = np.array(D50_XYZ)


def soft_proof(  # noqa: PLR0913 - a picture, its rendering, and what white is
    pixels: ArrayLike,
    source: ProfileLike,
    paper: ProfileLike,
    *,
    intent: Intent | str = Intent.MEDIA_RELATIVE,
    black_point_compensation: BlackPointCompensation | str = BlackPointCompensation.ON,
    white: WhiteReference | str = WhiteReference.PAPER,
) -> NDArray[np.uint8]:
    """
    Show on an sRGB screen how a picture will look in print.

    Parameters
    ----------
    pixels : array_like of uint8, uint16 or float, shape (..., channels)
        As for `convert`.
    source : Profile, path, bytes or name of a space
        What the numbers mean.
    paper : Profile, path, bytes or name of a space
        Output profile of the paper on its printer.
    intent, black_point_compensation
        As for `convert`, from source to paper.
    white : WhiteReference or str, optional
        ``"paper"`` shows bare paper as the screen's white, as an eye adapted to the
        paper sees it; ``"illuminant"`` shows the paper's own tint and blacks as an
        instrument reads them.

    Returns
    -------
    ndarray of uint8, shape (..., 3)
        sRGB. Colours that the screen cannot show are clipped.

    Raises
    ------
    ProfileError, SpecError
        As for `convert`.

    Notes
    -----
    The paper's device values by `convert`, read back through the paper's own table
    media-relative or ICC-absolute [1]_, then encoded for the screen: the preview
    and the finished file share the first half.

    References
    ----------
    .. [1] ICC.1:2022, 6.2 and 8.3; ISO 12646 names the use.

    Examples
    --------
    A print in a space with a stronger green than the screen's, shown on the screen,
    is what was sent:

    >>> sent = np.uint8([[200, 120, 40]])
    >>> soft_proof(sent, "srgb", "oprgb").tolist()
    [[200, 120, 40]]
    """
    paper, source = open_profile(paper), open_profile(source)
    white = member(WhiteReference, white, "White")
    codes = device_codes(pixels, source.channels, f"Pixels of {source.name!r}")
    device = convert(
        codes,
        source,
        paper,
        intent=intent,
        black_point_compensation=black_point_compensation,
    )
    shown = device_to_screen(paper, white.intent).from_device(rows_of(device))
    return shown.reshape(*codes.shape[:-1], 3)


@dataclass(frozen=True, slots=True, eq=False)
class _FromDevice:
    """
    A conversion of device values, made ready.

    Attributes
    ----------
    conversion : Conversion or None
        None goes through LittleCMS, and what sRGB cannot hold is clipped.
    """

    profile: Profile
    intent: Intent
    conversion: Conversion | None

    def _by_littlecms(self, device: NDArray[np.uint16]) -> NDArray[np.uint16]:
        return lcms_convert(
            device,
            self.profile,
            named_profile(NamedSpace.SRGB),
            intent=self.intent,
            black_point_compensation=BlackPointCompensation.OFF,
        )


class ScreenPipeline(_FromDevice):
    """A conversion of device values to an sRGB screen, made ready."""

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
        if self.conversion is None:
            return eight_bits(self._by_littlecms(device))
        return self.conversion.bytes_of_codes(device)


class LightPipeline(_FromDevice):
    """A conversion of device values to light, made ready."""

    def from_device(self, device: NDArray[np.uint16]) -> NDArray[np.float32]:
        """
        Convert device values to linear light.

        Parameters
        ----------
        device : ndarray of uint16, shape (rows, columns, channels)

        Returns
        -------
        ndarray of float32, shape (3, rows, columns)
            Linear red, green and blue of sRGB; not rounded, and below 0 or above 1
            where a colour is outside that space.
        """
        if self.conversion is None:
            codes = self._by_littlecms(device)
            return linear_of_codes(codes, named_profile(NamedSpace.SRGB))
        return self.conversion.values_of_codes(device)


@lru_cache(maxsize=16)
def device_to_light(profile: Profile, intent: Intent) -> LightPipeline:
    """
    Pipeline from device values to the light that the print sends back.

    Parameters
    ----------
    profile : Profile
        What the device values mean.
    intent : Intent
        Media-relative gives bare paper the light 1; ICC-absolute gives it its own
        reflectance.

    Raises
    ------
    ProfileError
        If the profile is damaged.

    Notes
    -----
    The same tables as `device_to_screen`, without its screen codes: light
    that spreads in paper adds up before it is encoded or rounded.
    """
    steps = steps_to_light(profile, intent)
    return LightPipeline(profile, intent, None if steps is None else Conversion(steps))


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

    Raises
    ------
    ProfileError
        If the profile is damaged.

    Notes
    -----
    A profile with tables for RGB or CMYK is read through the stages of its own, its
    grid tetrahedrally as LittleCMS reads one on such colours; one with a matrix or one
    grey curve through these. Tables for grey go through LittleCMS.
    """
    steps = steps_to_light(profile, intent)
    if steps is None:
        return ScreenPipeline(profile, intent, None)
    steps.append(codes_of_light(named_profile(NamedSpace.SRGB)))
    return ScreenPipeline(profile, intent, Conversion(steps))


def steps_to_light(profile: Profile, intent: Intent) -> list[Step] | None:
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
    list of Step or None
        None if the profile is one for grey with tables.

    Raises
    ------
    ProfileError
        If the profile is damaged.
    """
    lut = read_table(profile, "A2B", intent)
    if lut is not None and profile.channels not in {3, 4}:
        return None
    screen = named_profile(NamedSpace.SRGB)
    scale = np.ones(3)
    if intent is Intent.ICC_ABSOLUTE:
        scale = media_white_xyz(profile) / media_white_xyz(screen)
    to_screen = np.linalg.inv(colorants_xyz(screen)) * scale
    if lut is None:
        # Of grey all three planes are alike, and the first one counts.
        to_xyz = np.zeros((3, 3))
        to_xyz[:, : profile.channels] = colorants_xyz(profile)
        curves = tone_curves(profile).astype(np.float64)
        return [curves_step(list(curves)), matrix_step(to_screen @ to_xyz)]
    if profile.pcs != "Lab":
        steps = table_steps(lut.stages, tetrahedral=True)
        return [*steps, matrix_step(to_screen / XYZ_CODE)]
    gain, start = LAB_CODES[lut.lab_coding]
    from_lab = np.linalg.inv(LAB_OF_F)
    to_f, f_start = from_lab / gain, from_lab @ (-start / gain - LAB_START)
    *before, last = lut.stages or (Matrix(np.eye(3), np.zeros(3)),)
    if isinstance(last, Grid):
        # The table may hold what the matrix behind it makes of it.
        stages = [*before, Grid(last.values @ to_f.T + f_start)]
    else:
        stages = [*before, last, Matrix(to_f, f_start)]
    return [
        *table_steps(stages, tetrahedral=True),
        light_step(),
        matrix_step(to_screen * _D50),
    ]


def rendered_device(
    lab: ArrayLike,
    target: ProfileLike,
    intent: Intent | str = Intent.MEDIA_RELATIVE,
    black_point_compensation: BlackPointCompensation | str = BlackPointCompensation.ON,
    *,
    source: ProfileLike | None = None,
) -> NDArray[np.uint16]:
    """
    Device values that an intent gives for colours of a picture.

    Parameters
    ----------
    lab : array_like of float, shape (..., 3)
        CIELAB under D50, relative to the source's white.
    target : Profile, path, bytes or name of a space
        The paper's.
    intent, black_point_compensation
        As for `convert`.
    source : Profile, path, bytes or name of a space, optional
        Where the colours come from; without it a working space whose black is L* 0.

    Returns
    -------
    ndarray of uint16, shape (..., channels)
        Computed by the stages that the file goes through.

    Raises
    ------
    ProfileError
        If the profile has no way to its device.
    SpecError
        If the colours are no such array, or a choice is unknown.
    """
    intent, wish = chosen(intent, black_point_compensation)
    conversion = xyz_to_device(
        None if source is None else open_profile(source),
        open_profile(target),
        intent=intent,
        black_point_compensation=wish,
    )
    colours = colour_array(lab, "CIELAB colours").astype(np.float64, copy=False)
    xyz = xyz_from_lab(colours.reshape(-1, 3))
    planes = np.ascontiguousarray(xyz.T[:, None], np.float32)
    device = conversion.from_linear(planes)
    return device.reshape(*colours.shape[:-1], -1)


def rendered_lab(
    lab: ArrayLike,
    target: ProfileLike,
    intent: Intent | str = Intent.MEDIA_RELATIVE,
    black_point_compensation: BlackPointCompensation | str = BlackPointCompensation.ON,
    *,
    source: ProfileLike | None = None,
) -> Floats:
    """
    Colours of a picture as they come out on the paper.

    Parameters
    ----------
    lab : array_like of float, shape (..., 3)
        CIELAB under D50, relative to the source's white; those of a picture come
        from `device_to_lab`.
    target : Profile, path, bytes or name of a space
        The paper's.
    intent, black_point_compensation
        As for `convert`.
    source : Profile, path, bytes or name of a space, optional
        Where the colours come from; without it a working space whose black is L* 0.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        CIELAB relative to the paper's white: as an eye adapted to the paper sees it.

    Raises
    ------
    ProfileError
        If the profile has no way to its device or back.
    SpecError
        If the colours are no such array, or a choice is unknown.

    Notes
    -----
    To the device by the intent and back media-relative (ICC.1:2022, 6.2.2).

    Examples
    --------
    sRGB has this grey and not this green, whose chroma of 120 comes back as less:

    >>> printed = rendered_lab([[50.0, 0, 0], [50.0, -96, 72]], "srgb")
    >>> (np.hypot(*printed.T[1:]).round() < [1, 120]).tolist()
    [True, True]
    """
    device = rendered_device(
        lab, target, intent, black_point_compensation, source=source
    )
    # As one row, because grey needs its channel's axis told from columns.
    row = device.reshape(1, -1, device.shape[-1])
    held = device_to_lab(row, target, intent=Intent.MEDIA_RELATIVE)
    return held.reshape(*device.shape[:-1], 3)
