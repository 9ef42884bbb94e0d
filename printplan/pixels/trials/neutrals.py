"""Which file values of a sheet are neutral, and how light do they print?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.conversion import linear_to_codes, linear_to_device
from printplan.colour.spaces import xyz_from_lab
from printplan.colour.transforms import (
    code_of_light,
    device_to_lab,
    lab_to_device,
    tone_curves,
)
from printplan.pixels.stages import paper_white
from printplan.sharpening.lightness import cie_lightness
from printplan.spec import Delivery, Intent

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet

    Floats = NDArray[np.float64]


_STEPS = 2001


@dataclass(frozen=True, slots=True, eq=False)
class NeutralScale:
    """
    Neutral file values of a sheet, and how light they print.

    Attributes
    ----------
    luminance : ndarray of float64, shape (steps,)
        Y of the print over that of its bare paper, rising.
    codes : ndarray of float64, shape (steps, channels)
        File values on the 16-bit scale.
    """

    luminance: Floats
    codes: Floats

    def codes_of(self, luminance: Floats | float) -> NDArray[np.uint16]:
        """
        File values that print so light.

        Parameters
        ----------
        luminance : ndarray of float64 or float
            Over the paper's; what the paper cannot hold becomes its black or white.

        Returns
        -------
        ndarray of uint16, shape (..., channels)
        """
        wanted = np.asarray(luminance, np.float64)
        planes = [
            np.interp(wanted, self.luminance, channel) for channel in self.codes.T
        ]
        return np.asarray(np.rint(np.stack(planes, axis=-1)), np.uint16)

    def luminance_at(self, share: float) -> float:
        """
        Luminance at a share of the way from black to white, in even steps of L*.

        Parameters
        ----------
        share : float
            0 for the darkest neutral, 1 for the lightest.
        """
        darkest_l, lightest_l = self.lightness_range
        wanted_l = darkest_l + share * (lightest_l - darkest_l)
        return float(xyz_from_lab(np.array([wanted_l, 0.0, 0.0]))[1])

    @property
    def lightness_range(self) -> tuple[float, float]:
        """L* of the darkest and lightest neutral, against the paper's white."""
        darkest_l, lightest_l = cie_lightness(self.luminance[[0, -1]]).tolist()
        return darkest_l, lightest_l


def neutral_scale(sheet: Sheet) -> NeutralScale:
    """
    Read from the paper's profile which file values print as neutrals.

    Raises
    ------
    ProfileError
        If the paper's profile has no way to its device or back.

    Notes
    -----
    A file in printer colour takes what the profile gives for L* with a* = b* = 0,
    media-relative without compensation. A file that a print dialogue or a service
    is still to convert takes equal linear light, sent through the plan's intent as
    they are to send it. Either way the profile's own reading of the printer's numbers
    says how light they print, so drawn luminance comes out in proportion as far as
    the profile is true.
    """
    if sheet.plan.delivery.colour is Delivery.PRINTER_COLOUR:
        lab = np.linspace(0, 100, _STEPS)[None, :, None] * [1.0, 0.0, 0.0]
        codes = lab_to_device(lab, sheet.output, intent=Intent.MEDIA_RELATIVE)
        device = codes
    else:
        light = np.linspace(0, 1, _STEPS) ** 2
        curves = tone_curves(sheet.profile)
        codes = np.rint(np.stack([code_of_light(c, light) for c in curves], axis=-1))
        codes = codes.astype(np.uint16)[None]
        device = sheet.printer_values(codes)
    printed = device_to_lab(device, sheet.output, intent=Intent.MEDIA_RELATIVE)[0]
    luminance = xyz_from_lab(printed * [1.0, 0.0, 0.0])[:, 1]
    # Below the paper's black the profile stands still, or even turns back a little.
    rising = luminance > np.maximum.accumulate(np.append(-1.0, luminance[:-1]))
    rising &= luminance < 1
    # Bare paper is no ink, whatever a profile's table makes of L* 100.
    bare = np.full((1, sheet.channels), paper_white(sheet.profile.space), np.float64)
    return NeutralScale(
        np.append(luminance[rising], 1.0), np.concatenate([codes[0][rising], bare])
    )


def wedge_codes(sheet: Sheet, source_l: Floats) -> NDArray[np.uint16]:
    """
    Neutrals of the master's space as the plan's intent sends them.

    Parameters
    ----------
    source_l : ndarray of float64, shape (steps,)
        L* in the master's space.

    Returns
    -------
    ndarray of uint16, shape (steps, channels)
        File values: what the pixels of a picture of these tones become.
    """
    lab = source_l[:, None] * [1.0, 0.0, 0.0]
    source = sheet.master.profile
    light = np.clip(xyz_from_lab(lab)[:, 1], 0, 1).astype(np.float32)
    linear = np.repeat(light[None, None], source.channels, axis=0)
    if sheet.plan.delivery.colour is Delivery.WORKING_COLOUR:
        return np.asarray(linear_to_codes(source).from_linear(linear)[0])
    colour = sheet.plan.spec.colour
    pipeline = linear_to_device(
        source,
        sheet.profile,
        intent=colour.intent,
        black_point_compensation=colour.black_point_compensation,
    )
    return np.asarray(pipeline.from_linear(linear)[0])
