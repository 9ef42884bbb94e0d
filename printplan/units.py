"""Lengths in one unit: where inches become millimetres, and millimetres pixels."""

from __future__ import annotations

import re
from math import floor

from printplan.errors import SpecError

MM_PER_INCH = 25.4
"""The international inch, exact by definition (1959)."""

POINTS_PER_INCH = 72.0
"""The unit of a PDF page (ISO 32000-1, 8.3.2.3)."""

_LENGTH = re.compile(r"\s*([0-9]*\.?[0-9]+)\s*(mm|cm|in|\")?\s*")
_TENTHS_PER = {None: 10, "mm": 10, "cm": 100, "in": 254, '"': 254}


def mm_from_inches(inches: float) -> float:
    """
    Millimetres in a number of inches.

    Parameters
    ----------
    inches : float

    Returns
    -------
    float
        Millimetres.

    Examples
    --------
    >>> mm_from_inches(10)
    254.0
    """
    # By tenths of a millimetre, whole numbers: 19 in is then 482.6 mm to the last bit.
    return inches * 254 / 10


def parse_length_mm(text: str) -> float:
    """
    Millimetres in a length as a person writes it.

    Parameters
    ----------
    text : str
        A number, followed by ``mm``, ``cm``, ``in`` or ``"``; millimetres if bare.

    Returns
    -------
    float
        Millimetres.

    Raises
    ------
    SpecError
        If the text is not a length.

    Examples
    --------
    >>> parse_length_mm("12 in")
    304.8
    >>> parse_length_mm("30cm")
    300.0
    """
    match = _LENGTH.fullmatch(text)
    if match is None:
        raise SpecError(
            f"{text!r} is not a length.",
            remedy='Write a number and its unit, such as "300 mm" or "12 in".',
        )
    return float(match[1]) * _TENTHS_PER[match[2]] / 10


def px_from_mm(length_mm: float, ppi: float) -> float:
    """
    Print pixels along a length, not rounded.

    Parameters
    ----------
    length_mm : float
    ppi : float
        Picture pixels per inch.

    Returns
    -------
    float
        Pixels.
    """
    return length_mm * ppi / MM_PER_INCH


def mm_from_px(length_px: float, ppi: float) -> float:
    """
    Length on paper of a number of print pixels.

    Parameters
    ----------
    length_px : float
    ppi : float
        Picture pixels per inch.

    Returns
    -------
    float
        Millimetres.
    """
    return length_px * MM_PER_INCH / ppi


def whole_px(position_px: float) -> int:
    """
    Nearest whole pixel edge, halves going up.

    Python's `round` sends halves to the even neighbour, so that two edges half a
    pixel apart could land on the same side; this rule is the same everywhere.

    Parameters
    ----------
    position_px : float

    Returns
    -------
    int
        Pixels.

    Examples
    --------
    >>> whole_px(2.5), whole_px(3.5), whole_px(-0.5)
    (3, 4, 0)
    """
    return floor(position_px + 0.5)
