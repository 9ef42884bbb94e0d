"""How does a picture of a named space become linear light, and come back?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from printplan.colour.spaces import decode, encode, named_space, xyz_d50_from_linear
from printplan.spec import NamedSpace
from printplan.validation import image_of, image_planes

if TYPE_CHECKING:
    from numpy.typing import NDArray


def linear_planes(
    image: NDArray[Any], space: NamedSpace | str = NamedSpace.SRGB
) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
    """
    Linear light of a picture, and the luminance of its channels.

    Parameters
    ----------
    image : ndarray, shape (rows, columns) or (rows, columns, 3)
        uint8, uint16, or float from 0 to 1; grey is encoded by the space's curve.
    space : NamedSpace or str, optional
        That its numbers are of.

    Returns
    -------
    tuple of ndarray of float32, shape (channels, rows, columns), and ndarray of
    float64, shape (channels,)
        Light from 0 to 1; relative luminance Y of a full channel under D50.

    Raises
    ------
    SpecError
        If it is no such array, or there is no such space.

    Examples
    --------
    >>> light, luminance = linear_planes(np.full((1, 1, 3), 128, np.uint8))
    >>> round(float(light[0, 0, 0]), 3), round(float(luminance.sum()), 3)
    (0.216, 1.0)
    """
    named = named_space(space)
    planes, _ = image_planes(image)
    light = decode(named, planes.astype(np.float64)).astype(np.float32)
    weights = np.ones(1) if len(light) == 1 else xyz_d50_from_linear(named)[1]
    return light, np.asarray(weights, np.float64)


def encoded_image(
    linear: NDArray[np.floating],
    like: NDArray[Any],
    space: NamedSpace | str = NamedSpace.SRGB,
) -> NDArray[Any]:
    """
    A picture of linear light, the inverse of `linear_planes`.

    Parameters
    ----------
    linear : ndarray of float, shape (channels, rows, columns)
        Cut to 0 to 1.
    like : ndarray
        Gives number type, and whether there is an axis of colours.
    space : NamedSpace or str, optional
        That its numbers are to be of.

    Raises
    ------
    SpecError
        If there is no such space.
    """
    named = named_space(space)
    light = np.clip(np.asarray(linear, np.float64), 0.0, 1.0)
    return image_of(np.clip(encode(named, light), 0.0, 1.0), like)
