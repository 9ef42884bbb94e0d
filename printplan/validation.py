"""Refuse numbers outside their range, and arrays that are no picture or colours."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from printplan.errors import SpecError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


LARGEST = 1e6
"""Largest number taken where nothing narrower applies, in any unit: beyond, it is a
slip. Our choice."""


def require(what: str, value: float, low: float, high: float, unit: str) -> None:
    """
    Refuse a number outside its range (a NaN is outside every range).

    Raises
    ------
    SpecError
        If the number is not from low to high.
    """
    if not low <= value <= high:
        raise SpecError(
            f"{what} is {value:g} {unit}.",
            remedy=f"Give a value from {low:g} to {high:g} {unit}.",
        )


def require_numbers(
    what: str,
    values: NDArray[np.floating] | float,
    low: float,
    high: float,
    unit: str,
) -> None:
    """
    Refuse no numbers at all, and any outside their range (as a NaN is).

    Parameters
    ----------
    what : str
        In the plural.

    Raises
    ------
    SpecError
        If there is no number, or one is not from low to high.
    """
    array = np.asarray(values)
    if array.size == 0:
        raise SpecError(
            f"{what} are none at all.",
            remedy=f"Give one value or more, from {low:g} to {high:g} {unit}.",
        )
    lowest, highest = float(array.min()), float(array.max())
    if not low <= lowest <= highest <= high:
        raise SpecError(
            f"{what} run from {lowest:g} to {highest:g} {unit}.",
            remedy=f"Give values from {low:g} to {high:g} {unit}, without gaps.",
        )


def require_plane(what: str, plane: NDArray[np.floating]) -> None:
    """
    Refuse what is no picture: not rows by columns, empty, or with gaps.

    Raises
    ------
    SpecError
        If it has other axes, no pixels, or places that are no finite numbers.
    """
    if plane.ndim != 2 or plane.size == 0:
        raise SpecError(
            f"{what} has the shape {plane.shape}.",
            remedy="Give rows by columns of one channel.",
        )
    # A NaN anywhere is the least of all.
    if not (np.isfinite(plane.min()) and np.isfinite(plane.max())):
        raise SpecError(
            f"{what} has places that are no numbers.",
            remedy="Give a finite number for every pixel.",
        )


def require_alike(
    what: str, first: NDArray[np.floating], second: NDArray[np.floating]
) -> None:
    """
    Refuse arrays that cannot be read side by side.

    Parameters
    ----------
    what : str
        Both, in the plural.
    first, second : ndarray of float
        With one row for each other's row.

    Raises
    ------
    SpecError
        If one has more rows than the other.
    """
    if len(first) != len(second):
        raise SpecError(
            f"{what} are {len(first)} and {len(second)}.",
            remedy="Give as many of one as of the other, in the same order.",
        )


def table_of_numbers(data: bytes, what: str, remedy: str) -> NDArray[np.float64]:
    """
    Numbers of a file of comma-separated values, with points.

    Parameters
    ----------
    data : bytes
        UTF-8; lines that begin with ``#`` are skipped.
    what : str
        The file, as a sentence begins with it.

    Returns
    -------
    ndarray of float64, shape (rows, columns)

    Raises
    ------
    SpecError
        If there is none, one is no number, or lines are of different lengths.
    """
    if not data.strip():
        raise SpecError(f"{what} is empty.", remedy=remedy)
    try:
        lines = data.decode("utf-8-sig").splitlines()
        return np.loadtxt(lines, delimiter=",", ndmin=2)
    except ValueError as error:
        raise SpecError(f"{what} cannot be read ({error}).", remedy=remedy) from error


_FULL_SCALE = {np.dtype(np.uint8): 255.0, np.dtype(np.uint16): 65535.0}


def image_planes(
    image: NDArray[Any], what: str = "The image"
) -> tuple[NDArray[np.float32], float]:
    """
    Take a picture apart into planes from 0 to 1.

    Parameters
    ----------
    image : ndarray, shape (rows, columns) or (rows, columns, 3)
        uint8, uint16, or float from 0 to 1. Not changed.
    what : str, optional
        Its name in a refusal.

    Returns
    -------
    tuple of ndarray of float32, shape (channels, rows, columns), and float
        The planes, in memory of their own, and the largest number that was stored: 255,
        65535, or for floats 1e6.

    Raises
    ------
    SpecError
        If shape, number type or range are others.
    """
    array = np.asarray(image)
    if array.size == 0 or array.ndim not in {2, 3} or array.shape[2:] not in {(), (3,)}:
        raise SpecError(
            f"{what} has the shape {array.shape} of {array.dtype}.",
            remedy="Give rows by columns, grey or with 3 colours last: (M, N) or "
            "(M, N, 3).",
        )
    whole = _FULL_SCALE.get(array.dtype)
    if whole is None and array.dtype.kind != "f":
        raise SpecError(
            f"{what} has the shape {array.shape} of {array.dtype}.",
            remedy="Give uint8 or uint16, or floats from 0 to 1.",
        )
    if whole is None and not 0 <= float(array.min()) <= float(array.max()) <= 1:
        raise SpecError(
            f"{what} has the shape {array.shape} of {array.dtype} and runs from "
            f"{float(array.min()):g} to {float(array.max()):g}.",
            remedy="Give floats from 0 to 1, without gaps; divide codes by the most.",
        )
    planes = array[np.newaxis] if array.ndim == 2 else np.moveaxis(array, 2, 0)
    scaled = planes.astype(np.float32)
    if whole is not None:
        scaled /= np.float32(whole)
    return scaled, whole or 1e6


def image_of(planes: NDArray[np.floating], like: NDArray[Any]) -> NDArray[Any]:
    """
    Put planes together as a picture of another's kind.

    Parameters
    ----------
    planes : ndarray of float, shape (channels, rows, columns)
        From 0 to 1.
    like : ndarray
        Gives number type, and whether there is an axis of colours.

    Returns
    -------
    ndarray, shape (rows, columns) or (rows, columns, 3)
    """
    array = np.asarray(like)
    whole = _FULL_SCALE.get(array.dtype)
    done = planes[0] if array.ndim == 2 else np.moveaxis(planes, 0, 2)
    if whole is not None:
        done = np.rint(done * whole)
    return np.ascontiguousarray(done.astype(array.dtype))


def colour_array(colours: ArrayLike, what: str) -> NDArray[np.floating]:
    """
    Colours of three numbers, as floats.

    Parameters
    ----------
    colours : array_like of float, shape (..., 3)
        Signed integers are taken as floats; codes of a picture are no such numbers.
    what : str
        In the plural, such as ``"CIELAB colours"``.

    Returns
    -------
    ndarray of float32 or float64, shape (..., 3)
        The array itself where it is one of these.

    Raises
    ------
    SpecError
        If the last axis is not of three, the type is another, or a number is not
        finite.
    """
    array = np.asarray(colours)
    given = f"{what} of shape {array.shape} and type {array.dtype}"
    if array.shape[-1:] != (3,):
        raise SpecError(
            f"{given} are not three numbers each.",
            remedy="Give an array whose last axis has length 3.",
        )
    if array.dtype.kind not in "if":
        raise SpecError(
            f"{given} are no colours in physical units.",
            remedy="Give floats; convert a picture's codes with device_to_lab first.",
        )
    if array.dtype not in (np.float32, np.float64):
        array = array.astype(np.float64)
    # A NaN anywhere is the least of all.
    if array.size and not (np.isfinite(array.min()) and np.isfinite(array.max())):
        raise SpecError(
            f"{given} have places that are no numbers.",
            remedy="Give three finite numbers for each colour.",
        )
    return array


def device_codes(pixels: ArrayLike, channels: int, what: str) -> NDArray[np.uint16]:
    """
    Device values of a picture, as 16-bit codes.

    Parameters
    ----------
    pixels : array_like of uint8, uint16 or float, shape (..., channels)
        Integers count up to the full scale of their type, floats from 0 to 1. With
        one channel, rows and columns are enough.
    what : str
        In the plural, such as ``"Pixels"``.

    Returns
    -------
    ndarray of uint16, shape (..., channels)
        The array itself where it is one of these.

    Raises
    ------
    SpecError
        If the type is another, a float is outside 0 to 1, or the channels are not on
        the last axis.
    """
    array = np.asarray(pixels)
    given = f"{what} of shape {array.shape} and type {array.dtype}"
    if channels == 1 and (array.ndim != 3 or array.shape[-1] != 1):
        array = array[..., None]
    if array.shape[-1] != channels or array.ndim == 1 == channels:
        raise SpecError(
            f"{given} do not have {channels} channels.",
            remedy=f"Give an array whose last axis has length {channels}, or the "
            'profile that the pixels are in; grey pixels take one such as "grey srgb".',
        )
    if array.dtype == np.uint16:
        return array
    if array.dtype == np.uint8:
        return np.asarray(array.astype(np.uint16) * np.uint16(257))
    if array.dtype.kind != "f":
        raise SpecError(
            f"{given} have no full scale.",
            remedy="Give uint8 or uint16 codes, or floats from 0 to 1.",
        )
    if array.size and not 0 <= array.min() <= array.max() <= 1:
        raise SpecError(
            f"{given} run from {array.min():g} to {array.max():g}.",
            remedy="Give floats from 0 to 1, or codes as uint8 or uint16.",
        )
    codes: NDArray[np.uint16] = np.rint(array * 65535).astype(np.uint16)
    return codes
