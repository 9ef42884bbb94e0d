"""What does a colour become in the print, and how does the print look on a screen?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from printplan.colour.conversion import steps_to_light, xyz_to_device
from printplan.colour.ocio import Depth, packed, parallel_rows, planar, processor
from printplan.colour.spaces import named_profile, xyz_from_lab
from printplan.colour.transforms import Precision, convert, device_to_lab, tone_curves
from printplan.spec import BlackPointCompensation, Intent, NamedSpace

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class LightPipeline:
    """
    A conversion of device values to light, made ready.

    Attributes
    ----------
    part : object or None
        None goes through LittleCMS, and what sRGB cannot hold is clipped.
    """

    profile: Profile
    intent: Intent
    part: Any

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
        if self.part is None:
            return self._by_engine(device)
        rows, columns = device.shape[:2]
        light = np.empty((3, rows, columns), np.float32)
        whole = np.ascontiguousarray(device)
        parallel_rows(
            lambda part: self.part.apply(packed(whole[part]), planar(light[:, part])),
            rows,
            columns,
        )
        return light

    def _by_engine(self, device: NDArray[np.uint16]) -> NDArray[np.float32]:
        screen = named_profile(NamedSpace.SRGB)
        codes = convert(
            device,
            self.profile,
            screen,
            intent=self.intent,
            black_point_compensation=BlackPointCompensation.OFF,
            precision=Precision.FINE,
        )
        curves = tone_curves(screen)
        return np.stack(
            [
                np.take(curve, codes[..., channel])
                for channel, curve in enumerate(curves)
            ]
        )


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
    The same tables as `pipelines.device_to_screen`, without its screen codes: light
    that spreads in paper adds up before it is encoded or rounded.
    """
    steps = steps_to_light(profile, intent)
    if steps is None:
        return LightPipeline(profile, intent, None)
    return LightPipeline(profile, intent, processor(steps, Depth.UINT16, Depth.FLOAT32))


def rendered_device(
    lab: Floats,
    target: Profile,
    intent: Intent,
    black_point_compensation: BlackPointCompensation,
    *,
    source: Profile | None = None,
) -> NDArray[np.uint16]:
    """
    Device values that an intent gives for colours of a picture.

    Parameters
    ----------
    lab : ndarray of float64, shape (colours, 3)
        CIELAB under D50, relative to the source's white.
    target : Profile
        The paper's.
    source : Profile, optional
        Where the colours come from; without it a working space whose black is L* 0.

    Returns
    -------
    ndarray of uint16, shape (colours, channels)
        Computed by the stages that the file goes through.

    Raises
    ------
    ProfileError
        If the profile has no way to its device.
    """
    pipeline = xyz_to_device(
        source,
        target,
        intent=intent,
        black_point_compensation=black_point_compensation,
    )
    planes = np.ascontiguousarray(xyz_from_lab(lab).T[:, None], np.float32)
    device: NDArray[np.uint16] = pipeline.from_linear(planes)[0]
    return device


def rendered_lab(
    lab: Floats,
    target: Profile,
    intent: Intent,
    black_point_compensation: BlackPointCompensation,
    *,
    source: Profile | None = None,
) -> Floats:
    """
    Colours of a picture as they come out on the paper.

    Parameters
    ----------
    lab : ndarray of float64, shape (colours, 3)
        CIELAB under D50, relative to the source's white.
    target : Profile
        The paper's.
    source : Profile, optional
        As for `rendered_device`.

    Returns
    -------
    ndarray of float64, shape (colours, 3)
        CIELAB relative to the paper's white: as an eye adapted to the paper sees it.

    Raises
    ------
    ProfileError
        If the profile has no way to its device or back.
    """
    device = rendered_device(
        lab, target, intent, black_point_compensation, source=source
    )
    printed: Floats = device_to_lab(device[None], target, intent=Intent.MEDIA_RELATIVE)[
        0
    ]
    return printed
