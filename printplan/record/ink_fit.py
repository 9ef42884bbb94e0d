"""What does an ink cost per area, as measured prints say, and how surely?"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt
from typing import TYPE_CHECKING, Final

import numpy as np
import scipy

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

CONFIDENCE: Final = 0.90
"""Nine of ten new prints lie in their interval. Our choice."""

_SMALLEST: Final = 1e-9
"""Share of the largest singular value below which a direction was never measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """
    A response as a sum of amounts, none of which is below 0.

    Attributes
    ----------
    per_unit : ndarray of float64, shape (columns,)
        Response to one unit of each column.
    residual_sd : float
        Standard deviation of one new observation about the fit.
    spare : int
        Degrees of freedom: observations without the directions that were fitted.
    inverse : ndarray of float64, shape (columns, columns)
        Inverse of XᵀX, in the directions that were measured.
    widest : float
        Greatest leverage of any observation of the fit.
    """

    per_unit: NDArray[np.float64]
    residual_sd: float
    spare: int
    inverse: NDArray[np.float64]
    widest: float


def fitted(amounts: ArrayLike, response: ArrayLike) -> Fit:
    """
    Fit a sum of amounts by least squares, each coefficient 0 or more.

    Parameters
    ----------
    amounts : array_like, shape (observations, columns)
        Column without any amount get 0.
    response : array_like, shape (observations,)

    Returns
    -------
    Fit
        Its `spare` is 0 or less where there are too few observations; its deviation
        is then infinite.

    Notes
    -----
    Which coefficients are above 0 is found by non-negative least squares [1]_; they
    are then computed anew by singular values, which lose fewer digits. Columns are
    brought to one length before that. Deviation and inverse are those of all columns,
    as if none had been held at 0: where some are, intervals are rather too wide.

    References
    ----------
    .. [1] Lawson & Hanson (1974), Solving Least Squares Problems, chapter 23.

    Examples
    --------
    Of two inks the first takes 2 ml per square metre, the second 5:

    >>> fit = fitted([[1, 0], [0, 1], [1, 1], [2, 1]], [2, 5, 7, 9])
    >>> [round(float(it), 6) for it in fit.per_unit]
    [2.0, 5.0]
    """
    table = np.asarray(amounts, np.float64)
    values = np.asarray(response, np.float64)
    lengths = np.linalg.norm(table, axis=0)
    scaled = table / np.where(lengths > 0, lengths, 1.0)
    from scipy.optimize import nnls  # noqa: PLC0415 - 0.1 s to load

    first, _ = nnls(scaled, values)
    used = first > 0
    scaled_units = np.zeros(table.shape[1])
    scaled_units[used] = np.linalg.lstsq(scaled[:, used], values, rcond=_SMALLEST)[0]
    if (scaled_units < 0).any():  # in the last digits only: the first answer holds
        scaled_units = first
    per_unit = scaled_units / np.where(lengths > 0, lengths, 1.0)
    _, sizes, ways = np.linalg.svd(scaled, full_matrices=False)
    known = sizes > _SMALLEST * sizes.max(initial=0.0)
    ways, sizes = ways[known], sizes[known]
    half = (ways / sizes[:, None]) / np.where(lengths > 0, lengths, inf)
    inverse = half.T @ half
    spare = len(values) - int(known.sum())
    left = values - table @ per_unit
    deviation = sqrt(float(left @ left) / spare) if spare > 0 else inf
    return Fit(
        per_unit=per_unit,
        residual_sd=deviation,
        spare=spare,
        inverse=inverse,
        widest=float(np.einsum("ij,jk,ik->i", table, inverse, table).max(initial=0.0)),
    )


def predicted(
    fit: Fit, amounts: ArrayLike, *, confidence: float = CONFIDENCE
) -> tuple[float, float]:
    """
    What one new observation will be, and how far it may be off.

    Parameters
    ----------
    amounts : array_like, shape (columns,)
        Of the new one.
    confidence : float, optional
        Share of new observations that lie within.

    Returns
    -------
    tuple of float
        The value, and half of its prediction interval: t s √(1 + xᵀ (XᵀX)⁻¹ x) [1]_,
        which holds for errors that are normal and alike.

    References
    ----------
    .. [1] NIST/SEMATECH, e-Handbook of Statistical Methods, 4.5.1.2 and 4.5.2.2;
       Draper & Smith (1998), Applied Regression Analysis, 3rd ed., chapter 5 (its
       number from memory).
    """
    new = np.asarray(amounts, np.float64)
    value = float(new @ fit.per_unit)
    if fit.spare < 1:
        return value, inf
    factor = float(scipy.special.stdtrit(fit.spare, 0.5 + confidence / 2))
    return value, factor * fit.residual_sd * sqrt(1 + leverage(fit, new))


def leverage(fit: Fit, amounts: ArrayLike) -> float:
    """
    How far a new observation lies from those of the fit.

    Parameters
    ----------
    amounts : array_like, shape (columns,)
        Of the new one.

    Returns
    -------
    float
        xᵀ (XᵀX)⁻¹ x; above `Fit.widest` it lies outside what was measured.

    Notes
    -----
    Directions that no observation had are left out: `was_measured` tells of them.
    """
    new = np.asarray(amounts, np.float64)
    return float(new @ fit.inverse @ new)


def was_measured(fit: Fit, amounts: ArrayLike, *, most_share: float) -> bool:
    """
    Whether the observations of a fit had all that a new one is made of.

    Parameters
    ----------
    amounts : array_like, shape (columns,)
        Of the new one.
    most_share : float
        Of its length that may point where none of them did.
    """
    new = np.asarray(amounts, np.float64)
    known = fit.inverse @ np.linalg.pinv(fit.inverse, rcond=_SMALLEST, hermitian=True)
    return bool(np.linalg.norm(new - known @ new) <= most_share * np.linalg.norm(new))
