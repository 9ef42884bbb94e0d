"""Which values does a wish take, and what does a file say of them?"""

from __future__ import annotations

from enum import StrEnum
from typing import TypeVar

from printplan.errors import SpecError
from printplan.units import LengthUnit, short_words, span_words

FORMERLY = "formerly"
"""Key of a field's metadata: the name it had in files written before. Such files are
read, and written under the name of today."""


UNSAID = "unsaid"
"""Key of a field's metadata: a new file says nothing of it while it has its default."""


SHORTEST_MM = 5.0
"""Shortest picture or sheet edge taken: below this a slip of the unit is likelier."""


LONGEST_MM = 60_000.0
"""Longest edge taken: rolls are sold up to some 30 to 60 m (common practice)."""


LOWEST_PPI, HIGHEST_PPI = 30.0, 2400.0
"""Range of output resolution taken; 200-300 ppi is common practice."""


MOST_BLEED_MM = 50.0
"""Widest bleed taken; 3 to 5 mm is common practice, no source."""


Kind = TypeVar("Kind", bound=StrEnum)


_RULER_MM = 100.0
"""Lengths that people take by ruler; finer ones are never told in inches."""


EDGE_WORDS = {
    "width_mm": "width",
    "height_mm": "height",
    "longest_mm": "longest edge",
}


def in_range(what: str, value: float, low: float, high: float, unit: str) -> None:
    """Refuse a number outside its range (a NaN is outside every range)."""
    if low <= value <= high:
        return
    told, ends = f"{value:g} {unit}", f"{low:g} to {high:g} {unit}"
    if unit == LengthUnit.MM and high >= _RULER_MM:
        # Nothing here knows the person's unit, so both are told.
        told += f" ({short_words(LengthUnit.INCHES, value)})"
        ends += f" ({span_words(LengthUnit.INCHES, low, high)})"
    raise SpecError(f"{what} is {told}.", remedy=f"Give a value from {ends}.")


def member(kind: type[Kind], value: Kind | str, what: str) -> Kind:
    """
    A word as the member of its kind.

    Parameters
    ----------
    value : StrEnum or str
        Such as ``"perceptual"``.
    what : str
        What it chooses, for the error.

    Raises
    ------
    SpecError
        If the kind has no such member; the remedy names those that it has.

    Examples
    --------
    >>> from printplan.spec import Intent
    >>> member(Intent, "perceptual", "Intent") is Intent.PERCEPTUAL
    True
    """
    try:
        return kind(value)
    except ValueError:
        offered = ", ".join(f'"{it}"' for it in kind)
        raise SpecError(
            f"{what} is {value!r}.", remedy=f"Choose one of: {offered}."
        ) from None


def take_words(spec: object, **kinds: type[StrEnum]) -> None:
    """Make members of the words that a spec was given, before it judges them."""
    for name, kind in kinds.items():
        value = getattr(spec, name)
        if value is not None:
            what = name.replace("_", " ").capitalize()
            object.__setattr__(spec, name, member(kind, value, what))
