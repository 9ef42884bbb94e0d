"""How different do two colours look, and in what?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from printplan.errors import SpecError
from printplan.validation import colour_array

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.floating[Any]]
    Channels = tuple[Floats, Floats, Floats]

_PIECE = 16384
"""Colours worked on at once, so that some twenty arrays of them stay in cache."""


def delta_e_2000(lab_a: ArrayLike, lab_b: ArrayLike) -> Floats:
    """
    CIEDE2000 colour difference, with all parametric factors 1.

    Parameters
    ----------
    lab_a, lab_b : ndarray of float32 or float64, shape (..., 3)
        L*, a*, b*; their shapes are broadcast, so one colour may stand against a
        picture.

    Returns
    -------
    ndarray, shape (...)
        0 or more: float32 if both are float32, float64 otherwise.

    Raises
    ------
    SpecError
        If the last axis is not L*, a*, b*, or the shapes do not go together.

    Notes
    -----
    Worked in pieces, so a picture needs no more than its result beside it. The
    formula jumps where two hues are exactly opposite [1]_: there a rounding error
    decides on which side the mean hue lies, and float32 and float64 can differ.

    References
    ----------
    .. [1] Sharma, Wu & Dalal (2005), Color Res. Appl. 30(1), 21-30,
       doi:10.1002/col.20070; the formula is ISO/CIE 11664-6:2014.

    Examples
    --------
    The first two pairs of Sharma's table 1:

    >>> first = [[50, 2.6772, -79.7751], [50, 3.1571, -77.2803]]
    >>> delta_e_2000(first, [50, 0, -82.7485]).round(4).tolist()
    [2.0425, 2.8615]
    """
    return _in_pieces(_delta_e_2000, lab_a, lab_b)


def hue_angle_difference_deg(lab_a: ArrayLike, lab_b: ArrayLike) -> Floats:
    """
    Turn from the first hue to the second, by the shorter way.

    Parameters
    ----------
    lab_a, lab_b : ndarray of float32 or float64, shape (..., 3)

    Returns
    -------
    ndarray, shape (...)
        Degrees, -180 to 180, counterclockwise above 0; 0 if either is neutral.

    Raises
    ------
    SpecError
        If the last axis is not L*, a*, b*, or the shapes do not go together.

    Examples
    --------
    >>> float(hue_angle_difference_deg(np.array([50.0, 9, 0]), np.array([50.0, 0, 9])))
    90.0
    """
    return _in_pieces(_hue_angle_difference_deg, lab_a, lab_b)


def _in_pieces(
    quantity: Callable[[Channels, Channels], Floats], lab_a: ArrayLike, lab_b: ArrayLike
) -> Floats:
    """Broadcast two pictures and hand their channels over in contiguous pieces."""
    first, second = (colour_array(lab, "CIELAB colours") for lab in (lab_a, lab_b))
    try:
        np.broadcast_shapes(first.shape, second.shape)
    except ValueError as error:
        raise SpecError(
            f"Colours of shapes {first.shape} and {second.shape} do not go together.",
            remedy="Give two pictures of one size, or one colour and a picture.",
        ) from error
    narrow = first.dtype == second.dtype == np.float32
    pieces = np.nditer(
        [*np.moveaxis(first, -1, 0), *np.moveaxis(second, -1, 0), None],
        flags=["external_loop", "buffered", "zerosize_ok"],
        op_dtypes=[np.float32 if narrow else np.float64] * 7,
        casting="same_kind",
        order="C",
        buffersize=_PIECE,
    )
    with pieces:
        for piece in pieces:
            l_a, a_a, b_a, l_b, a_b, b_b = map(np.ascontiguousarray, piece[:6])
            piece[6][...] = quantity((l_a, a_a, b_a), (l_b, a_b, b_b))
        return pieces.operands[6]


def _hue_angle_difference_deg(first: Channels, second: Channels) -> Floats:
    (_, a_a, b_a), (_, a_b, b_b) = first, second
    return np.degrees(np.arctan2(a_a * b_b - b_a * a_b, a_a * a_b + b_a * b_b))


def _delta_e_2000(first: Channels, second: Channels) -> Floats:
    """Sharma, Wu & Dalal (2005), equations 2 to 22."""
    (l_a, a_a, b_a), (l_b, a_b, b_b) = first, second
    full_turn = l_a.dtype.type(2 * np.pi)
    mean_chroma = (_chroma(a_a, b_a) + _chroma(a_b, b_b)) / 2
    stretch = 1.5 - 0.5 * _grey_share(mean_chroma)
    a_a, a_b = a_a * stretch, a_b * stretch
    chroma_a, chroma_b = _chroma(a_a, b_a), _chroma(a_b, b_b)
    hue_a, hue_b = _hue_rad(a_a, b_a), _hue_rad(a_b, b_b)

    turn, both = hue_b - hue_a, hue_a + hue_b
    # Where the way round the other side is shorter, the mean hue is there too.
    far = (np.abs(turn) > np.pi).astype(turn.dtype)
    turn -= np.copysign(full_turn, turn) * far
    mean_hue = both / 2 - np.copysign(full_turn / 2, both - full_turn) * far

    d_lightness = l_b - l_a
    d_chroma = chroma_b - chroma_a
    d_hue = 2 * np.sqrt(chroma_a * chroma_b) * np.sin(turn / 2)

    mean_chroma = (chroma_a + chroma_b) / 2
    from_middle = np.square((l_a + l_b) / 2 - 50)
    weight_lightness = 1 + 0.015 * from_middle / np.sqrt(20 + from_middle)
    weight_chroma = 1 + 0.045 * mean_chroma
    hue_term = (
        1
        - 0.17 * np.cos(mean_hue - np.pi / 6)
        + 0.24 * np.cos(2 * mean_hue)
        + 0.32 * np.cos(3 * mean_hue + np.pi / 30)
        - 0.20 * np.cos(4 * mean_hue - np.pi * 63 / 180)
    )
    weight_hue = 1 + 0.015 * mean_chroma * hue_term
    near_blue = np.exp(-np.square((np.degrees(mean_hue) - 275) / 25))
    rotation = -2 * _grey_share(mean_chroma) * np.sin(np.pi / 3 * near_blue)

    d_lightness /= weight_lightness
    d_chroma /= weight_chroma
    d_hue /= weight_hue
    squares = d_lightness**2 + d_chroma**2 + d_hue**2 + rotation * d_chroma * d_hue
    # Rounding can leave a little less than 0 where the terms cancel.
    difference: Floats = np.sqrt(np.maximum(squares, 0))
    return difference


def _chroma(a: Floats, b: Floats) -> Floats:
    return np.sqrt(a * a + b * b)


def _hue_rad(a: Floats, b: Floats) -> Floats:
    """Hue angle, 0 to 2π; that of a neutral is 0 and is multiplied by its chroma."""
    hue = np.arctan2(b, a)
    hue += (hue < 0).astype(hue.dtype) * hue.dtype.type(2 * np.pi)
    return hue


def _grey_share(chroma: Floats) -> Floats:
    """√(C⁷ / (C⁷ + 25⁷)): near 0 for greys, 1 for strong colours."""
    seventh: Floats = chroma**7
    share: Floats = np.sqrt(seventh / (seventh + 25.0**7))
    return share
