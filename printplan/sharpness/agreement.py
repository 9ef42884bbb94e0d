"""What do repeated measurements of one number agree on?"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from printplan.errors import SpecError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_HUBER_SIGMAS = 1.345
"""Huber (1964), doi:10.1214/aoms/1177703732: a reading this many standard deviations
off starts to count less. At 1.345 the estimate keeps 95 % of the mean's efficiency
where all is normal (textbook value, from memory)."""

# The median of absolute deviations of a normal law, to its standard deviation.
_NORMAL_MAD = 1.4826


class Agreed(NamedTuple):
    """
    One number out of several readings.

    Attributes
    ----------
    value : float
    scatter : float
        Standard deviation of one reading among the others, blind to outliers; 0 if
        there is one reading only.
    error : float
        Standard error of the value.
    """

    value: float
    scatter: float
    error: float


def agreed(readings: Floats, errors: Floats) -> Agreed:
    """
    Huber's estimate of what readings of one number agree on.

    Parameters
    ----------
    readings : ndarray of float64, shape (count,)
        One or more.
    errors : ndarray of float64, shape (count,)
        Their own standard errors, above 0.

    Returns
    -------
    Agreed

    Raises
    ------
    SpecError
        If there is no reading, or one or its error is no number or not above 0.

    Notes
    -----
    Readings that scatter more than their errors say have something more between
    them; its variance is added to all of theirs. The error of the value is the
    larger of what errors and scatter make of it.

    Examples
    --------
    >>> readings = np.array([0.9, 1.0, 1.1, 7.0])
    >>> round(agreed(readings, np.full(4, 0.1)).value, 2)
    1.07
    """
    if not (
        0 < readings.size == errors.size
        and np.isfinite(readings).all()
        and np.isfinite(errors).all()
        and (errors > 0).all()
    ):
        raise SpecError(
            f"{readings.size} readings and {errors.size} errors are to agree; some may "
            "be no numbers, or their errors not above 0.",
            remedy="Give one reading or more, each with its own error above 0.",
        )
    centre = float(np.median(readings))
    scatter = _NORMAL_MAD * float(np.median(np.abs(readings - centre)))
    between = max(scatter**2 - float(np.median(errors**2)), 0.0)
    weights = 1 / (errors**2 + between)
    for _ in range(50):
        off = np.abs(readings - centre) * np.sqrt(weights)
        kept = weights * np.minimum(1, _HUBER_SIGMAS / np.maximum(off, 1e-12))
        moved = centre + float(np.sum(kept * (readings - centre)) / np.sum(kept))
        done = abs(moved - centre) <= 1e-9 * max(abs(centre), 1e-12)
        centre = moved
        if done:
            break
    by_errors = float(1 / np.sqrt(np.sum(1 / errors**2)))
    by_scatter = scatter / np.sqrt(readings.size)
    return Agreed(centre, scatter, max(by_errors, float(by_scatter)))
