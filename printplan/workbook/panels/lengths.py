"""In which unit does the photographer think?"""

from __future__ import annotations

from enum import StrEnum

from printplan.units import MM_PER_INCH


class LengthUnit(StrEnum):
    """Unit of the lengths on the page; the plan is always in millimetres."""

    MM = "mm"
    INCHES = "in"


def in_unit(length_mm: float, unit: LengthUnit) -> float:
    """
    A length in the unit of the page.

    Parameters
    ----------
    length_mm : float
    unit : LengthUnit

    Returns
    -------
    float
    """
    return length_mm / MM_PER_INCH if unit is LengthUnit.INCHES else length_mm


def length_text(length_mm: float, unit: LengthUnit) -> str:
    """
    A length as it is read.

    Parameters
    ----------
    length_mm : float
    unit : LengthUnit

    Returns
    -------
    str
        Without the unit's name; a tenth of a millimetre or a hundredth of an inch.

    Examples
    --------
    >>> length_text(254, LengthUnit.INCHES), length_text(254, LengthUnit.MM)
    ('10.00', '254.0')
    """
    digits = 2 if unit is LengthUnit.INCHES else 1
    return f"{in_unit(length_mm, unit):.{digits}f}"
