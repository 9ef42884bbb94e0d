"""How much light does the paper send back for the printer's numbers?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from printplan.colour.pipelines import steps_to_light
from printplan.colour.processors import Depth, packed, planar, processor
from printplan.colour.side_by_side import rows_side_by_side
from printplan.colour.spaces import named_profile
from printplan.colour.transforms import Precision, convert, tone_curves
from printplan.spec import BlackPointCompensation, NamedSpace

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile
    from printplan.spec import Intent


@dataclass(frozen=True, slots=True, eq=False)
class LightPipeline:
    """
    A conversion of device values to light, made ready.

    Attributes
    ----------
    profile : Profile
    intent : Intent
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
        rows_side_by_side(
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

    Returns
    -------
    LightPipeline

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
