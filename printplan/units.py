"""Lengths in one unit: where inches become millimetres, and millimetres pixels."""

from __future__ import annotations

import re
from enum import StrEnum
from fractions import Fraction
from math import ceil, floor
from typing import TYPE_CHECKING

from printplan.errors import SpecError

if TYPE_CHECKING:
    from collections.abc import Callable

MM_PER_INCH = 25.4
"""The international inch, exact by definition (1959)."""

POINTS_PER_INCH = 72.0
"""The unit of a PDF page (ISO 32000-1, 8.3.2.3)."""


class LengthUnit(StrEnum):
    """Unit that a person gives and reads lengths in; a plan is in millimetres."""

    MM = "mm"
    INCHES = "in"


_LENGTH = re.compile(r"\s*([0-9]*\.?[0-9]+)\s*(mm|cm|in|\")?\s*")
_TENTHS_PER = {"mm": 10, "cm": 100, "in": 254, '"': 254}


_PARTS = {LengthUnit.MM: 10, LengthUnit.INCHES: 100}
"""Lengths are told in tenths of a millimetre or hundredths of an inch."""

_ROUNDING = 1e-6


def mm_from_inches(inches: float) -> float:
    """
    Millimetres in a number of inches.

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


def parse_length_mm(text: str, bare: LengthUnit = LengthUnit.MM) -> float:
    """
    Millimetres in a length as a person writes it.

    Parameters
    ----------
    text : str
        A number, followed by ``mm``, ``cm``, ``in`` or ``"``.
    bare : LengthUnit, optional
        Unit of a number that stands alone.

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
    >>> parse_length_mm("30cm"), parse_length_mm("0.2", LengthUnit.INCHES)
    (300.0, 5.08)
    """
    match = _LENGTH.fullmatch(text)
    if match is None:
        raise SpecError(
            f"{text!r} is not a length.",
            remedy='Write a number and its unit, such as "300 mm" or "12 in".',
        )
    return float(match[1]) * _TENTHS_PER[match[2] or bare] / 10


def in_unit(length_mm: float, unit: LengthUnit) -> float:
    """A length in a person's unit."""
    return length_mm / MM_PER_INCH if unit is LengthUnit.INCHES else length_mm


def length_text(length_mm: float, unit: LengthUnit) -> str:
    """
    A length as it is read, without its unit's name.

    Returns
    -------
    str
        To a tenth of a millimetre or a hundredth of an inch.

    Examples
    --------
    >>> length_text(254, LengthUnit.INCHES), length_text(254, LengthUnit.MM)
    ('10.00', '254.0')
    """
    digits = 2 if unit is LengthUnit.INCHES else 1
    return f"{in_unit(length_mm, unit):.{digits}f}"


def length_words(unit: LengthUnit, *lengths_mm: float) -> str:
    """
    Lengths with their unit's name, such as width and height.

    Examples
    --------
    >>> length_words(LengthUnit.MM, 300, 200.04)
    '300.0 × 200.0 mm'
    """
    told = " × ".join(length_text(length_mm, unit) for length_mm in lengths_mm)
    return f"{told} {unit}"


def short_words(unit: LengthUnit, *lengths_mm: float) -> str:
    """
    The same without zeros at the end, for limits and sheets.

    Returns
    -------
    str
        Six digits in millimetres, hundredths of an inch.

    Examples
    --------
    >>> short_words(LengthUnit.MM, 297), short_words(LengthUnit.INCHES, 330.2, 482.6)
    ('297 mm', '13 × 19 in')
    """
    inches = unit is LengthUnit.INCHES
    told = (
        f"{round(in_unit(it, unit), 2):.9g}" if inches else f"{it:g}"
        for it in lengths_mm
    )
    return f"{' × '.join(told)} {unit}"


def distance_words(unit: LengthUnit, distance_mm: float) -> str:
    """
    A distance to look from: nobody measures it finer.

    Returns
    -------
    str
        Millimetres as they are, whole inches.

    Examples
    --------
    >>> distance_words(LengthUnit.MM, 400.0), distance_words(LengthUnit.INCHES, 400.0)
    ('400 mm', '16 in')
    """
    if unit is LengthUnit.INCHES:
        return f"{in_unit(distance_mm, unit):.0f} in"
    return f"{distance_mm:g} mm"


def whole_words(unit: LengthUnit, *lengths_mm: float) -> str:
    """
    Lengths of sheets and prints where a rough one does.

    Returns
    -------
    str
        Whole millimetres, hundredths of an inch.

    Examples
    --------
    >>> whole_words(LengthUnit.MM, 60.4, 45), whole_words(LengthUnit.INCHES, 60.4, 45)
    ('60 × 45 mm', '2.38 × 1.77 in')
    """
    if unit is LengthUnit.MM:
        lengths_mm = tuple(float(round(it)) for it in lengths_mm)
    return short_words(unit, *lengths_mm)


def span_words(unit: LengthUnit, low_mm: float, high_mm: float) -> str:
    """
    Two ends of a range.

    Examples
    --------
    >>> span_words(LengthUnit.MM, 203, 610)
    '203 to 610 mm'
    """
    low, high = (short_words(unit, end).split(" ")[0] for end in (low_mm, high_mm))
    return f"{low} to {high} {unit}"


def fraction_words(length_mm: float, denominator: int = 16) -> str:
    """
    A length in inches as a ruler has it.

    Parameters
    ----------
    length_mm : float
        0 or more.
    denominator : int, optional
        Marks of the ruler in an inch, 16 or 32.

    Returns
    -------
    str
        The nearest mark, its fraction reduced.

    Raises
    ------
    SpecError
        If the length is below 0, or no ruler has such marks.

    Examples
    --------
    >>> fraction_words(284), fraction_words(254), fraction_words(3, 32)
    ('11 3/16 in', '10 in', '1/8 in')
    """
    marks = _nearest_mark(length_mm, denominator)
    whole, part = divmod(marks, denominator)
    told = [str(whole)] if whole or not part else []
    if part:
        told.append(str(Fraction(part, denominator)))
    return f"{' '.join(told)} in"


RULER_MM = 0.5
"""What is read off a ruler in millimetres: half of one."""


def on_ruler_mm(length_mm: float, unit: LengthUnit, denominator: int = 16) -> float:
    """
    The nearest length that a ruler has a mark for.

    Parameters
    ----------
    length_mm : float
        0 or more.
    denominator : int, optional
        Marks in an inch; in millimetres half a one is read.

    Returns
    -------
    float
        Millimetres.

    Raises
    ------
    SpecError
        As from `fraction_words`.

    Examples
    --------
    >>> on_ruler_mm(52.85, LengthUnit.MM), on_ruler_mm(26, LengthUnit.INCHES)
    (53.0, 25.4)
    """
    if unit is LengthUnit.MM:
        return whole_px(length_mm / RULER_MM) * RULER_MM
    return mm_from_inches(_nearest_mark(length_mm, denominator) / denominator)


def ruler_words(length_mm: float, unit: LengthUnit, denominator: int = 16) -> str:
    """
    A length to be marked with a ruler, with its unit's name.

    Examples
    --------
    >>> ruler_words(52.85, LengthUnit.MM), ruler_words(52.85, LengthUnit.INCHES)
    ('53 mm', '2 1/16 in')
    """
    if unit is LengthUnit.INCHES:
        return fraction_words(length_mm, denominator)
    return f"{on_ruler_mm(length_mm, unit):.9g} mm"


_RULERS = (2, 4, 8, 16, 32, 64)


def _nearest_mark(length_mm: float, denominator: int) -> int:
    if length_mm < 0 or denominator not in _RULERS:
        raise SpecError(
            f"A ruler has no {length_mm:g} mm in parts of 1/{denominator} in.",
            remedy="Give a length of 0 or more, and 16 or 32 parts.",
        )
    return whole_px(in_unit(length_mm, LengthUnit.INCHES) * denominator)


def at_most_words(unit: LengthUnit, *lengths_mm: float) -> str:
    """
    Lengths of a remedy: rounded down, so that what is named works.

    Examples
    --------
    >>> at_most_words(LengthUnit.INCHES, 99.99 * 25.4 / 10)
    '9.99 in'
    """
    return length_words(unit, *(at_most_mm(unit, it) for it in lengths_mm))


def at_most_mm(unit: LengthUnit, length_mm: float) -> float:
    """
    The length that `at_most_words` names.

    Returns
    -------
    float
        Millimetres.
    """
    return _on_step(length_mm, unit, floor)


def at_least_words(unit: LengthUnit, *lengths_mm: float) -> str:
    """
    Lengths of a remedy: rounded up, so that what is named works.

    Returns
    -------
    str
        Without zeros at the end.

    Examples
    --------
    >>> at_least_words(LengthUnit.MM, 3), at_least_words(LengthUnit.INCHES, 3)
    ('3 mm', '0.12 in')
    """
    return short_words(unit, *(_on_step(it, unit, ceil) for it in lengths_mm))


def _on_step(
    length_mm: float, unit: LengthUnit, rounded: Callable[[float], int]
) -> float:
    """The length on the steps that lengths are told in, to one side."""
    parts = in_unit(length_mm, unit) * _PARTS[unit]
    slack = _ROUNDING if rounded is floor else -_ROUNDING
    steps = rounded(parts + slack) / _PARTS[unit]
    return mm_from_inches(steps) if unit is LengthUnit.INCHES else steps


def px_from_mm(length_mm: float, ppi: float) -> float:
    """
    Print pixels along a length, not rounded.

    Parameters
    ----------
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
