"""Which ranges do the numbers of printers, papers and stock have?"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from printplan.errors import SpecError
from printplan.spec import (
    HIGHEST_PPI,
    LONGEST_MM,
    LOWEST_PPI,
    MOST_BLEED_MM,
    SHORTEST_MM,
)

if TYPE_CHECKING:
    from collections.abc import Sequence


class _Range(NamedTuple):
    """A range of numbers, and where the right one is found."""

    low: float
    high: float
    unit: str
    source: str


_MANUAL = "of the printer's manual"
_MARGIN = _Range(0, 200, "mm", f"the margin {_MANUAL}")
_SHEET_EDGE = _Range(SHORTEST_MM, LONGEST_MM, "mm", f"the sheet edge {_MANUAL}")
_PAPER_PATH = _Range(1, 5000, "µm", f"the paper thickness {_MANUAL}")
_PRICE = _Range(0, 1e6, "of its currency", "the price paid")

# Chosen to catch a slip of the unit (0.3 for 300 µm) and a number in the wrong line,
# not to judge papers: tracing paper has some 40 µm, mounted board 3000. Our choice.
_RANGES = {
    "leading_mm": _MARGIN,
    "trailing_mm": _MARGIN,
    "left_mm": _MARGIN,
    "right_mm": _MARGIN,
    "shortest_mm": _SHEET_EDGE,
    "longest_mm": _SHEET_EDGE,
    "narrowest_mm": _SHEET_EDGE,
    "widest_mm": _SHEET_EDGE,
    "thinnest_um": _PAPER_PATH,
    "thickest_um": _PAPER_PATH,
    "weight_gsm": _Range(20, 1500, "g/m²", "the weight on the packet"),
    "thickness_um": _Range(20, 5000, "µm", "the thickness on the data sheet"),
    "psf_sigma_um": _Range(0, 500, "µm", "the estimated spread"),
    "input_ppi": _Range(LOWEST_PPI, HIGHEST_PPI, "ppi", f"the resolution {_MANUAL}"),
    "longest_print_mm": _Range(
        SHORTEST_MM, LONGEST_MM, "mm", f"the longest print {_MANUAL}"
    ),
    "ink_price_per_ml": _PRICE,
    "drying_h": _Range(0, 720, "h", "the drying time on the data sheet"),
    "roll_width_mm": _Range(50, 3000, "mm", "the width on the roll's box"),
    "roll_length_m": _Range(1, 500, "m", "the length on the roll's box"),
    "left_m": _Range(0, 5000, "m", "the metres that are left"),
    "sheets_left": _Range(0, 100_000, "sheets", "the sheets counted"),
    "reorder_at": _Range(0, 100_000, "sheets or metres", "what more is bought at"),
    "price_each": _PRICE,
    "m2_per_h": _Range(0.05, 1000, "m²/h", "the printing rate of the printer's manual"),
    "most_pixels": _Range(10_000, 2e9, "pixels", "the most pixels that it takes"),
    "longest_px": _Range(100, 300_000, "pixels", "the longest edge that it takes"),
    "most_mb": _Range(0.1, 10_000, "MB", "the longest file that it takes"),
    "jpeg_quality": _Range(1, 100, "on libjpeg's scale", "the quality it asks for"),
    "bleed_mm": _Range(0, MOST_BLEED_MM, "mm", "the bleed that it asks for"),
    "ppi": _Range(LOWEST_PPI, HIGHEST_PPI, "ppi", "the resolution that it asks for"),
    # Total area coverage: each of up to some twelve inks at 100 %. Our choice.
    "ink_limit_percent": _Range(50, 1200, "%", "the greatest total of all inks"),
}

_PAIRS = (
    ("shortest_mm", "longest_mm"),
    ("narrowest_mm", "widest_mm"),
    ("thinnest_um", "thickest_um"),
)

# ISO 4217: three capital letters.
_CURRENCY = re.compile("[A-Z]{3}")

_UNIT = re.compile("_(mm|um|gsm|m|h|percent|per_ml|m2_per_h)$")


def _name_words(name: str) -> str:
    """A field's name in words, for remedies: forms have labels and no names."""
    return _UNIT.sub("", name).replace("_", " ")


def require_numbers(owner: str, value: object) -> None:
    """
    Refuse a number outside its range (a NaN is), and a pair the wrong way round.

    Parameters
    ----------
    owner : str
        Whose numbers they are, for the error.
    value : object
        Its numbers are known by their names; None is not judged.

    Raises
    ------
    SpecError
    """
    numbers = {name: getattr(value, name) for name in _RANGES if hasattr(value, name)}
    for name, given in numbers.items():
        limits = _RANGES[name]
        if given is None:
            continue
        for number in given if isinstance(given, tuple) else (given,):
            if not limits.low <= number <= limits.high:
                raise SpecError(
                    f"{owner}: {name} is {number:.9g} {limits.unit}.",
                    remedy=f"Give {limits.source}, {limits.low:g} to "
                    f"{limits.high:g} {limits.unit}.",
                )
    for low, high in _PAIRS:
        if low in numbers and numbers[low] > numbers[high]:
            raise SpecError(
                f"{owner}: {low} is {numbers[low]:.9g} and {high} only "
                f"{numbers[high]:.9g}.",
                remedy="Exchange the two.",
            )


def require_name(owner: str, what: str, name: str) -> None:
    """
    Refuse a name that is blank.

    Parameters
    ----------
    owner, what : str
        For the error.

    Raises
    ------
    SpecError
    """
    if not name.strip():
        raise SpecError(
            f"{owner} has no {what}.", remedy=f"Write its {_name_words(what)}."
        )


def require_different(
    owner: str, what: str, values: Sequence[str] | Sequence[float]
) -> None:
    """
    Refuse none at all, and one twice: to people, case makes no other name.

    Parameters
    ----------
    owner, what : str
        For the error.

    Raises
    ------
    SpecError
    """
    if not values:
        raise SpecError(
            f"{owner} has no {what}.", remedy=f"Give one or more {_name_words(what)}."
        )
    seen = set()
    for value in values:
        if isinstance(value, str):
            require_name(f"{owner}: one of the {what}", "name", value)
        plain = value.strip().casefold() if isinstance(value, str) else value
        if plain in seen:
            raise SpecError(
                f"{owner} has {value} twice in {what}.",
                remedy="Remove one, or give each a name of its own.",
            )
        seen.add(plain)


def require_currency(owner: str, currency: str | None) -> None:
    """
    Refuse what is no currency code; None is not judged.

    Parameters
    ----------
    owner : str
        For the error.
    currency : str or None
        Three capital letters (ISO 4217).

    Raises
    ------
    SpecError
    """
    if currency is not None and _CURRENCY.fullmatch(currency) is None:
        raise SpecError(
            f'{owner}: currency is "{currency}".',
            remedy='Give three capital letters (ISO 4217), such as "EUR".',
        )
