"""How does a picture get its pixels for the print, in linear light?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image

from printplan.colour.linear_light import encoded_image, linear_planes
from printplan.spec import NamedSpace
from printplan.validation import require

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray


def resample(
    image: NDArray[Any],
    width_px: int,
    height_px: int,
    *,
    space: NamedSpace | str = NamedSpace.SRGB,
) -> NDArray[Any]:
    """
    Give a picture another number of pixels, in linear light.

    Parameters
    ----------
    image : ndarray, shape (rows, columns) or (rows, columns, 3)
        uint8, uint16, or float from 0 to 1. Not changed.
    width_px, height_px : int
        Of the result, 1 to 100,000.
    space : NamedSpace or str, optional
        That the picture's numbers are of.

    Returns
    -------
    ndarray, shape (height_px, width_px) or (height_px, width_px, 3)
        Of the image's number type.

    Raises
    ------
    SpecError
        If it is no such array, a size is outside its range, or there is no such space.

    Notes
    -----
    By Lanczos' kernel of three lobes (C. E. Duchon 1979, J. Appl. Meteorol. 18(8),
    1016-1022). Light adds up, codes do not: a pattern of black and white lines too fine
    for the result becomes the grey that reflects half the light.

    Examples
    --------
    >>> lines = np.tile(np.array([[0, 255]], np.uint8), (64, 32))
    >>> int(resample(lines, 8, 8)[4, 4])  # not 128: half the light, by the sRGB curve
    188
    """
    for what, length in (("Width", width_px), ("Height", height_px)):
        require(what, length, 1, 100_000, "px")
    light, _ = linear_planes(image, space)
    rows, columns = light.shape[1:]
    box = (0.0, 0.0, float(columns), float(rows))
    size = (int(width_px), int(height_px))
    done = np.stack([resample_plane(plane, box, size) for plane in light])
    return encoded_image(done, image, space)


def resample_plane(
    plane: NDArray[np.float32],
    box: tuple[float, float, float, float],
    size_px: tuple[int, int],
) -> NDArray[np.float32]:
    """
    Resample part of a plane by Lanczos' kernel of three lobes.

    Parameters
    ----------
    plane : ndarray of float32, shape (rows, columns)
        Linear light, C-contiguous.
    box : tuple of float
        Left, top, right, bottom in the plane's own pixels.
    size_px : tuple of int
        Width and height of the result.

    Returns
    -------
    ndarray of float32, shape (height, width)
        May overshoot the range of the plane a little.

    Notes
    -----
    Pillow keeps the box in single precision: hand it small planes, whose
    coordinates lose nothing by it.
    """
    image = Image.fromarray(plane)
    return np.asarray(image.resize(size_px, Image.Resampling.LANCZOS, box=box))


def main_lobe(
    start: float, step: float, places: range, length: int
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First and last source pixel inside the kernel's main lobe, for print pixels."""
    middle = start + (np.arange(places.start, places.stop) + 0.5) * step - 0.5
    half = max(step, 1.0)
    first = np.floor(middle - half).astype(np.intp) + 1
    last = np.ceil(middle + half).astype(np.intp) - 1
    return np.clip(first, 0, length - 1), np.clip(last, 0, length - 1)


def joined_near(
    plane: NDArray[np.float32],
    rows: tuple[NDArray[np.intp], NDArray[np.intp]],
    columns: tuple[NDArray[np.intp], NDArray[np.intp]],
    join: Callable[..., NDArray[np.float32]],
) -> NDArray[np.float32]:
    """
    Least or greatest of the rectangle of pixels near each place.

    Parameters
    ----------
    plane : ndarray of float32, shape (source rows, source columns)
    rows, columns : tuple of ndarray of int
        First and last source pixel of each place along that axis.
    join : callable
        `numpy.minimum` or `numpy.maximum`.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
    """
    for axis, (first, last) in enumerate((rows, columns)):
        found = np.take(plane, first, axis)
        for further in range(1, int((last - first).max()) + 1):
            there = np.take(plane, np.minimum(first + further, last), axis)
            join(found, there, out=found)
        plane = found
    return plane
