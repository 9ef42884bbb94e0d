"""How much of a paper is kept, in which sizes and at which price?"""

from __future__ import annotations

from dataclasses import dataclass

from printplan.errors import SpecError
from printplan.media.limits import (
    require_currency,
    require_name,
    require_numbers,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """
    One size of a paper that is kept: a cut sheet, or a roll.

    Attributes
    ----------
    sheet : str or None
        Size of the cut sheet: ``A3``, ``13x19 in`` and the like; None for a roll.
    sheets_left : int or None
        Whole sheets; None if nobody counts them.
    roll_width_mm : float or None
        Width of the roll; None for cut sheets.
    roll_length_m : float or None
        Length of a new roll.
    left_m : float or None
        What is left of all rolls of that width; None if nobody measures it.
    price_each : float or None
        Of one sheet, or of one whole roll; None if not known.
    currency : str or None
        Of the price, three capital letters (ISO 4217); None for the book's own.
    """

    sheet: str | None = None
    sheets_left: int | None = None
    roll_width_mm: float | None = None
    roll_length_m: float | None = None
    left_m: float | None = None
    price_each: float | None = None
    currency: str | None = None

    def __post_init__(self) -> None:
        is_roll = self.roll_width_mm is not None
        if is_roll == (self.sheet is not None):
            raise SpecError(
                "A stock entry names "
                f"{'both a sheet and a roll' if is_roll else 'neither sheet nor roll'}"
                ".",
                remedy='Give sheet = "A3" and the like, or roll_width_mm; two sizes '
                "are two entries.",
            )
        strange = ("sheets_left",) if is_roll else ("roll_length_m", "left_m")
        owner = f"The stock of {self.words}"
        for name in strange:
            if getattr(self, name) is not None:
                raise SpecError(
                    f"{owner} has {name}.",
                    remedy="Count sheets in sheets_left, and rolls in left_m.",
                )
        if self.sheet is not None:
            require_name("A stock entry", "sheet", self.sheet)
        require_numbers(owner, self)
        require_currency(owner, self.currency)

    @property
    def words(self) -> str:
        """Which size it is."""
        if self.sheet is not None:
            return self.sheet
        return f"roll {self.roll_width_mm:g} mm wide"
