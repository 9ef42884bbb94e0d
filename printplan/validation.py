"""Refuse numbers outside their range."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.errors import SpecError

if TYPE_CHECKING:
    from numpy.typing import NDArray


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
