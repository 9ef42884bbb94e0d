"""What does sharpening blur with, and what does that leave of a fine pattern?"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache
from hashlib import sha256
from math import ceil, fsum, pi, sqrt
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from printplan.errors import SpecError
from printplan.foreign_file import named, read_foreign, read_when_changed
from printplan.validation import (
    LARGEST,
    require,
    require_numbers,
    table_of_numbers,
)

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import ArrayLike, NDArray

    from printplan.spec import SharpenSpec

    Floats = NDArray[np.float64]


KERNEL_SIGMAS = 4
"""Standard deviations after which the sharpening's Gaussian is cut."""

_RADII_PX = (0.01, 500.0)


_WIDEST_KERNEL_PX = 129
_KERNEL_LEEWAY = 1e-6
_LONGEST_FILE = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Kernel:
    """
    A blur of one's own, in place of the Gaussian of unsharp masking.

    Attributes
    ----------
    weights : tuple of tuple of float
        In print pixels, row by row, an odd number each way, up to 129; they sum to 1.
        A single row is applied along both axes; more are a kernel of the plane, as many
        rows as columns. Mirrored and transposed it must be the same, so that it moves
        nothing, and upright and level edges are sharpened alike.
    sha256 : str
        Hash of the file that it was read from, hexadecimal; empty for an array.
    """

    weights: tuple[tuple[float, ...], ...]
    sha256: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        rows, columns = len(self.weights), len(self.weights[0]) if self.weights else 0
        if any(len(row) != columns for row in self.weights) or (
            rows not in {1, columns}
        ):
            raise SpecError(
                f"The kernel has {rows} rows; the first has {columns} weights.",
                remedy="Give one row, or as many rows as columns.",
            )
        if columns % 2 == 0 or not 3 <= columns <= _WIDEST_KERNEL_PX:
            raise SpecError(
                f"The kernel is {columns} pixels wide.",
                remedy=f"Give an odd number of weights, 3 to {_WIDEST_KERNEL_PX}, so "
                "that one of them is the middle.",
            )
        total = fsum(fsum(row) for row in self.weights)
        if not abs(total - 1) <= _KERNEL_LEEWAY:
            raise SpecError(
                f"The kernel's weights sum to {total:g}, not to 1.",
                remedy="Divide them by their sum.",
            )
        weights = np.asarray(self.weights, np.float64)
        turned = weights.T if rows > 1 else weights
        off = np.abs([weights - weights[:, ::-1], weights - turned]).max()
        if off > _KERNEL_LEEWAY:
            raise SpecError(
                "The kernel is not the same mirrored and transposed.",
                remedy="Give one that is symmetric: mean it with its mirror image and "
                "its transpose.",
            )
        if self.variance_px2 <= 0:
            raise SpecError(
                f"The kernel does not blur: its variance is {self.variance_px2:g} px².",
                remedy="Give a low-pass kernel; what it takes away is what is added.",
            )

    @property
    def variance_px2(self) -> float:
        """Second moment along one axis."""
        middle = len(self.weights[0]) // 2
        return fsum(
            weight * (column - middle) ** 2
            for row in self.weights
            for column, weight in enumerate(row)
        )

    @property
    def sigma_px(self) -> float:
        """Standard deviation along one axis: the radius of a like Gaussian."""
        return sqrt(self.variance_px2)


Blur: TypeAlias = float | Kernel
"""Radius of the Gaussian in print pixels, or a kernel of one's own."""


def kernel_of(weights: ArrayLike) -> Kernel:
    """
    A kernel from an array.

    Parameters
    ----------
    weights : array_like, shape (n,) or (n, n)
        Along both axes, or of the plane; see `Kernel`.

    Raises
    ------
    SpecError
        If it is no kernel that can sharpen.

    Examples
    --------
    >>> binomial = kernel_of(np.array([1, 4, 6, 4, 1]) / 16)
    >>> binomial.sigma_px
    1.0
    """
    given = np.asarray(weights)
    if given.ndim not in {1, 2} or given.dtype.kind not in "iuf":
        raise SpecError(
            f"The kernel has the shape {given.shape} of {given.dtype}.",
            remedy="Give numbers in one row, or in as many rows as columns.",
        )
    return Kernel(weights=tuple(map(tuple, np.atleast_2d(given).tolist())))


@read_when_changed(16)
def read_kernel(path: str | Path) -> Kernel:
    """
    Read a kernel from a CSV file: numbers with points, rows of the kernel as lines.

    Raises
    ------
    SpecError
        If it cannot be read, or is no kernel that can sharpen.
    """
    data = read_foreign(
        path, raises=SpecError, what="The kernel", most_bytes=_LONGEST_FILE
    )
    remedy = "Write its numbers with points and commas, a row on a line."
    weights = table_of_numbers(data, f"The kernel {named(path)}", remedy)
    return replace(
        kernel_of(weights[0] if len(weights) == 1 else weights),
        sha256=sha256(data).hexdigest(),
    )


def blur_of(sharpen: SharpenSpec, radius_px: float) -> Blur:
    """
    What a sharpening blurs with: its kernel, or the radius of its Gaussian.

    Parameters
    ----------
    radius_px : float
        That of the sharpening at the print's resolution.

    Raises
    ------
    SpecError
        If the file of the kernel cannot be read.
    """
    return read_kernel(sharpen.kernel) if sharpen.kernel else radius_px


def gaussian_kernel(radius_px: float) -> Floats:
    """
    Discrete Gaussian of the sharpening, cut at four standard deviations.

    Parameters
    ----------
    radius_px : float
        Standard deviation.

    Returns
    -------
    ndarray of float64, shape (2 n + 1,)
        Sums to 1, not writable.

    Raises
    ------
    SpecError
        If a number is outside its range.

    Examples
    --------
    >>> kernel = gaussian_kernel(1.5)
    >>> kernel.size, round(float(kernel.sum()), 12)
    (13, 1.0)
    """
    return _gaussian_kernel(radius_px)


@lru_cache(maxsize=64)
def _gaussian_kernel(radius_px: float) -> Floats:
    require("Sharpening radius", radius_px, *_RADII_PX, "px")
    reach = ceil(KERNEL_SIGMAS * radius_px)
    steps = np.arange(-reach, reach + 1)
    kernel = np.exp(-0.5 * (steps / radius_px) ** 2)
    kernel /= kernel.sum()
    kernel.setflags(write=False)
    return kernel


def line_kernel(blur: Blur) -> Floats:
    """
    What a blur does across a straight upright or level edge.

    Parameters
    ----------
    blur : float or Kernel
        Radius of the Gaussian in pixels, or a kernel.

    Returns
    -------
    ndarray of float64, shape (2 n + 1,)
        A kernel of the plane, summed along the edge.
    """
    if isinstance(blur, Kernel):
        return np.asarray(np.asarray(blur.weights, np.float64).sum(axis=0))
    return gaussian_kernel(blur)


def sigma_of(blur: Blur) -> float:
    """Standard deviation of a blur along one axis, in pixels."""
    return blur.sigma_px if isinstance(blur, Kernel) else blur


def plane_response(cycles_per_px: Floats, blur: Blur) -> Floats:
    """
    Response of a blur over the plane of frequencies.

    Parameters
    ----------
    cycles_per_px : ndarray of float64, shape (steps,)
        Both axes.
    blur : float or Kernel

    Returns
    -------
    ndarray of float64, shape (steps, steps)
    """
    if not isinstance(blur, Kernel) or len(blur.weights) == 1:
        along = kernel_mtf(cycles_per_px, blur)
        return np.outer(along, along)
    weights = np.asarray(blur.weights, np.float64)
    middle = len(weights) // 2
    turns = 2 * pi * np.outer(cycles_per_px, np.arange(-middle, middle + 1))
    # Transposed it is the same, so the products of sines cancel out.
    waves = np.cos(turns)
    return np.asarray(np.einsum("fr,rc,gc->fg", waves, weights, waves))


def kernel_mtf(cycles_per_px: Floats | float, blur: Blur) -> Floats:
    """
    Response of the sharpening's blur across a straight edge.

    Parameters
    ----------
    cycles_per_px : ndarray of float64 or float
    blur : float or Kernel
        Radius of the Gaussian in pixels, or a kernel.

    Returns
    -------
    ndarray of float64

    Raises
    ------
    SpecError
        If a number is outside its range.

    Notes
    -----
    The sum of cosines of the kernel itself. At 0.5 px hardly more than three pixels
    are left of the Gaussian, and the continuous one's response is 0.28 too low at
    the finest pattern.
    """
    require_numbers("Frequencies", cycles_per_px, 0, LARGEST, "cycles/px")
    kernel = line_kernel(blur)
    reach = kernel.size // 2
    steps = np.arange(1, reach + 1)
    turns = np.asarray(cycles_per_px, np.float64)[..., np.newaxis] * steps
    one_side = kernel[reach + 1 :]
    waves = np.cos(2 * pi * turns)
    # einsum, here and below: at these sizes, waking BLAS' threads costs more than it
    # saves, and many times more on cores that are busy.
    return np.asarray(kernel[reach] + 2 * np.einsum("...t,t->...", waves, one_side))


def kernel_weights(radii_px: Floats) -> Floats:
    """
    Weights of many kernels by distance from the middle.

    Parameters
    ----------
    radii_px : ndarray of float64, shape (radii,)
        Standard deviations, rising.

    Returns
    -------
    ndarray of float64, shape (taps, radii)
        The weight of a distance is that of both sides together.

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    require_numbers("Sharpening radii", radii_px, *_RADII_PX, "px")
    kernels = [gaussian_kernel(float(radius)) for radius in radii_px]
    weights = np.zeros((kernels[-1].size // 2 + 1, len(kernels)))
    for column, kernel in enumerate(kernels):
        middle = kernel.size // 2
        weights[0, column] = kernel[middle]
        weights[1 : middle + 1, column] = 2 * kernel[middle + 1 :]
    return weights


def kernel_responses(cycles_per_px: Floats, weights: Floats) -> Floats:
    """
    Responses of many kernels.

    Parameters
    ----------
    cycles_per_px : ndarray of float64, shape (frequencies,)
    weights : ndarray of float64, shape (taps, radii)
        From `kernel_weights`.

    Returns
    -------
    ndarray of float64, shape (frequencies, radii)

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    require_numbers("Frequencies", cycles_per_px, 0, LARGEST, "cycles/px")
    turns = cycles_per_px[:, np.newaxis] * np.arange(weights.shape[0])
    return np.asarray(np.einsum("ft,tr->fr", np.cos(2 * pi * turns), weights))
