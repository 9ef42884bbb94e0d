"""What does a colour become when it is printed on a paper?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.pipelines import xyz_to_device
from printplan.colour.spaces import xyz_from_lab
from printplan.colour.transforms import device_to_lab
from printplan.spec import BlackPointCompensation, Intent

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile

    Floats = NDArray[np.float64]


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
    intent : Intent
    black_point_compensation : BlackPointCompensation
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
    intent : Intent
    black_point_compensation : BlackPointCompensation
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
