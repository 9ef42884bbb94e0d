"""Which device values print the nearest colour that a paper can hold?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Codes = NDArray[np.uint16]


FULL = 65535

TO_LAB_POINTS = 17
TO_DEVICE_POINTS = 33

FULL_SCALE_DE = 32.0
"""Colour difference at full scale of the table that tells what is in gamut."""

_IN_GAMUT_DE = 2.0
_DENSE_AB = 92.0
_DENSE_STEPS = 14  # Of 16 on each side of a* = b* = 0.

# Device values run over; output curves cut them off, below entry 386 and above entry
# 3468. Each step is 17 codes of 65535.
_OUTPUT_STEPS, _OUTPUT_ZERO, _OUTPUT_SPAN = 3855, 386, 3082
_WHITE_MARGIN = 0.002


def lightness_nodes(black_l: float) -> Floats:
    """
    Levels of L* from 0 to 100.

    Parameters
    ----------
    black_l : float
        It gets a node of its own, and few lie below it.

    Returns
    -------
    ndarray of float64, shape (TO_DEVICE_POINTS,)
    """
    last = TO_DEVICE_POINTS - 1
    below = int(np.ceil(black_l / 8))
    return np.concatenate(
        [
            np.linspace(0.0, black_l, below + 1)[:-1],
            np.linspace(black_l, 100.0, last + 1 - below),
        ]
    )


def opponent_nodes(furthest: float) -> Floats:
    """
    Levels of an axis through neutral, such as a* or b*; few beyond any paper.

    Parameters
    ----------
    furthest : float
        Either end.

    Returns
    -------
    ndarray of float64, shape (TO_DEVICE_POINTS,)
    """
    half = TO_DEVICE_POINTS // 2
    side = np.append(
        np.linspace(0.0, _DENSE_AB, _DENSE_STEPS + 1),
        np.linspace(_DENSE_AB, furthest, half - _DENSE_STEPS + 1)[1:],
    )
    return np.concatenate([-side[:0:-1], side])


def device_grid(device: Floats) -> Codes:
    """
    Device values that run over 0 and 1, as a grid of codes for `cut_curve`.

    Parameters
    ----------
    device : ndarray of float64, shape (colours, 3)

    Returns
    -------
    ndarray of uint16, shape (points, points, points, 3)
    """
    grid = device.reshape(*(TO_DEVICE_POINTS,) * 3, 3).copy()
    middle = TO_DEVICE_POINTS // 2
    # No node is exactly a* = b* = 0 in 16 bits, so white is held by a margin.
    grid[-1, middle, middle] = 1 + _WHITE_MARGIN
    entries = (_OUTPUT_ZERO + _OUTPUT_SPAN * grid) / _OUTPUT_STEPS
    return np.round(entries * FULL).astype(np.uint16)


def cut_curve() -> Floats:
    """
    Device values, 0 to 1, at equal steps of the codes of `device_grid`.

    Returns
    -------
    ndarray of float64, shape (entries,)
    """
    steps = np.arange(_OUTPUT_STEPS + 1) - _OUTPUT_ZERO
    return np.clip(steps / _OUTPUT_SPAN, 0.0, 1.0)


def gamut_cut() -> Codes:
    """
    Curve that makes what is in gamut 0 and keeps the distance of the rest.

    Returns
    -------
    ndarray of uint16, shape (entries,)
    """
    steps = np.linspace(0.0, FULL_SCALE_DE, 257)
    out = np.round(steps / FULL_SCALE_DE * FULL)
    return np.where(steps > _IN_GAMUT_DE, out, 0).astype(np.uint16)


_MOST_STEPS = 40
_SMALL_STEP = 1e-6
_SMALL_MISS = 1e-4  # In units of colour difference.


def table_lab(table: Floats, device: Floats) -> tuple[Floats, Floats]:
    """
    Colours that a table gives, and how they change with the device values.

    Parameters
    ----------
    table : ndarray of float64, shape (points, points, points, 3)
        CIELAB at equal steps of red, green and blue.
    device : ndarray of float64, shape (colours, 3)
        0 to 1.

    Returns
    -------
    lab : ndarray of float64, shape (colours, 3)
    slopes : ndarray of float64, shape (colours, 3, 3)
        Derivative of each of L*, a*, b* by each device value.

    Notes
    -----
    Tetrahedral interpolation, as colour engines do it [1]_: of the six tetrahedra
    in a cell, the one whose order of axes is that of the falling fractions.

    References
    ----------
    .. [1] J. M. Kasson et al. (1995), Performing color space conversions with
       three-dimensional linear interpolation, J. Electronic Imaging 4(3), 226-250.
    """
    points = table.shape[0]
    place = np.clip(device, 0.0, 1.0) * (points - 1)
    corner = np.minimum(place.astype(np.intp), points - 2)
    fraction = place - corner
    order = np.argsort(-fraction, axis=1, kind="stable")
    rows = np.arange(len(device))
    before = table[corner[:, 0], corner[:, 1], corner[:, 2]]
    lab = before.copy()
    slopes = np.empty((len(device), 3, 3))
    for rank in range(3):
        axis = order[:, rank]
        corner[rows, axis] += 1
        after = table[corner[:, 0], corner[:, 1], corner[:, 2]]
        edge = after - before
        lab += edge * fraction[rows, axis][:, None]
        slopes[rows, :, axis] = edge * (points - 1)
        before = after
    return lab, slopes


def difference_axes(target: Floats, *, lightness_weight: float = 1.0) -> Floats:
    """
    Linear maps in which a distance from each target is a colour difference.

    Parameters
    ----------
    target : ndarray of float64, shape (colours, 3)
        CIELAB.
    lightness_weight : float, optional
        Below 1, lightness is given up sooner than chroma.

    Returns
    -------
    ndarray of float64, shape (colours, 3, 3)

    Notes
    -----
    Lightness, chroma and hue differences divided by the weighting functions of
    CIE94 at the target [1]_, with CIEDE2000's for lightness [2]_: near enough to
    CIEDE2000 to find the nearest colour, and quadratic.

    References
    ----------
    .. [1] CIE 116:1995, Industrial colour-difference evaluation.
    .. [2] ISO/CIE 11664-6:2014.
    """
    chroma = np.hypot(target[:, 1], target[:, 2])
    hue = np.arctan2(target[:, 2], target[:, 1])
    from_middle = (target[:, 0] - 50) ** 2
    axes = np.zeros((len(target), 3, 3))
    axes[:, 0, 0] = lightness_weight / (
        1 + 0.015 * from_middle / np.sqrt(20 + from_middle)
    )
    axes[:, 1, 1], axes[:, 1, 2] = np.cos(hue), np.sin(hue)
    axes[:, 2, 1], axes[:, 2, 2] = -np.sin(hue), np.cos(hue)
    axes[:, 1] /= (1 + 0.045 * chroma)[:, None]
    axes[:, 2] /= (1 + 0.015 * chroma)[:, None]
    return axes


def nearest_device(table: Floats, target: Floats, axes: Floats) -> Floats:
    """
    Device values of the nearest colours.

    Parameters
    ----------
    table : ndarray of float64, shape (points, points, points, 3)
        CIELAB at equal steps of red, green and blue.
    target : ndarray of float64, shape (colours, 3)
        CIELAB wanted.
    axes : ndarray of float64, shape (colours, 3, 3)
        From `difference_axes`.

    Returns
    -------
    ndarray of float64, shape (colours, 3)
        0 to 1.

    Notes
    -----
    Levenberg and Marquardt's method on all colours at once, kept inside the cube:
    a device value at its end that wants to go further stays there for that step.
    It starts at the nearest colour of the table.
    """
    points = table.shape[0]
    _distance, nearest = cKDTree(table.reshape(-1, 3)).query(target)
    node = np.stack(np.unravel_index(nearest, (points,) * 3), axis=-1)
    # A start on a face or an edge would hide the other side of the creases there.
    device: Floats = np.clip(node / (points - 1), 0.02, 0.98)
    damping = np.full(len(target), 1e-3)
    at_work = np.arange(len(target))
    lab, slopes = table_lab(table, device)
    miss = _turned(axes, lab - target)
    for _step in range(_MOST_STEPS):
        step = _bounded_step(
            device[at_work],
            miss,
            axes[at_work] @ slopes,
            damping[at_work],
        )
        tried = np.clip(device[at_work] + step, 0.0, 1.0)
        lab, tried_slopes = table_lab(table, tried)
        tried_miss = _turned(axes[at_work], lab - target[at_work])
        before, after = (miss**2).sum(axis=1), (tried_miss**2).sum(axis=1)
        better = after < before
        device[at_work[better]] = tried[better]
        miss[better], slopes[better] = tried_miss[better], tried_slopes[better]
        damping[at_work] = np.where(
            better,
            np.maximum(damping[at_work] / 5, 1e-9),
            damping[at_work] * 8,
        )
        going = np.abs(step).max(axis=1) > _SMALL_STEP
        going &= (miss**2).sum(axis=1) > _SMALL_MISS**2
        at_work, miss, slopes = at_work[going], miss[going], slopes[going]
        if len(at_work) == 0:
            break
    return device


def overshoot(
    table: Floats, target: Floats, axes: Floats, device: Floats, *, most: float
) -> Floats:
    """
    Device values that go on beyond 0 and 1, for colours just out of gamut.

    Parameters
    ----------
    table, target, axes : ndarray of float64
        As for `nearest_device`.
    device : ndarray of float64, shape (colours, 3)
        What it found.
    most : float
        Furthest a device value may lie outside 0 to 1.

    Returns
    -------
    ndarray of float64, shape (colours, 3)
        -most to 1 + most.

    Notes
    -----
    A table is interpolated between colours inside and outside the gamut of the
    paper. If the outer ones lie on a straight continuation of the inner ones, the
    colours between are right up to the last printable one. Far colours gain
    nothing, and keep the nearest device values.
    """
    lab, slopes = table_lab(table, device)
    miss = _turned(axes, lab - target)
    scaled = axes @ slopes
    normal = np.swapaxes(scaled, 1, 2) @ scaled
    normal += 1e-4 * np.trace(normal, axis1=1, axis2=2)[:, None, None] * np.eye(3)
    step = -np.linalg.solve(normal, _turned(np.swapaxes(scaled, 1, 2), miss)[..., None])
    step = step[..., 0]
    beyond = np.maximum(np.abs(step).max(axis=1) / most, 1.0)
    far = np.sqrt((miss**2).sum(axis=1))
    share = np.clip((_FAR - far) / (_FAR - _NEAR), 0.0, 1.0)
    moved = device + step * (share / beyond)[:, None]
    return np.asarray(np.clip(moved, -most, 1.0 + most))


_NEAR, _FAR = 3.0, 9.0  # Colour differences; a cell of the table is some 3 to 6 across.


def _bounded_step(
    device: Floats, miss: Floats, slopes: Floats, damping: Floats
) -> Floats:
    """One damped step for each colour, with the values that must stay held."""
    turned = np.swapaxes(slopes, 1, 2)
    gradient = _turned(turned, miss)
    held = ((device <= 0.0) & (gradient > 0)) | ((device >= 1.0) & (gradient < 0))
    normal = turned @ slopes
    ends = np.einsum("nii->ni", normal)
    ends += damping[:, None] * ends.max(axis=1, keepdims=True)
    free = ~held
    normal *= free[:, :, None] & free[:, None, :]
    ends += held
    gradient = np.where(held, 0.0, gradient)
    return np.asarray(-np.linalg.solve(normal, gradient[..., None])[..., 0], np.float64)


def _turned(axes: Floats, vectors: Floats) -> Floats:
    """Each vector through its own matrix."""
    return np.asarray(np.einsum("nij,nj->ni", axes, vectors))
