"""What did a print take, and what did that cost?"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from printplan.errors import RecordError
from printplan.record.journal.limits import require_amount

LARGEST_COST = 10**9
"""Above the price of any print in any currency. Our choice."""

_CURRENCY = re.compile("[A-Z]{3}")


class PaperUnit(StrEnum):
    """What paper is counted in."""

    SHEETS = "sheets"
    METRES = "metres"


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperUsed:
    """
    Paper that went through the printer.

    Attributes
    ----------
    amount : float
        Of all copies together, above 0.
    unit : PaperUnit
        Sheets, or metres of roll.
    """

    amount: float
    unit: PaperUnit

    def __post_init__(self) -> None:
        require_amount("Paper used", self.amount, self.unit)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """
    What the print cost.

    Attributes
    ----------
    amount : Decimal
        Of all copies together, 0 or more.
    currency : str
        Three letters (ISO 4217).
    basis : str
        How it was reckoned: prices of a sheet and of a millilitre, and their day.
    """

    amount: Decimal
    currency: str
    basis: str

    def __post_init__(self) -> None:
        is_number = isinstance(self.amount, Decimal) and self.amount.is_finite()
        if not is_number or not 0 <= self.amount <= LARGEST_COST:
            raise RecordError(
                f"The cost is {self.amount!r}; it must be a Decimal from 0 to "
                f"{LARGEST_COST}.",
                remedy='Give it as Decimal("7.40").',
            )
        if _CURRENCY.fullmatch(self.currency) is None:
            raise RecordError(
                f"The currency is {self.currency!r}, which is not three capitals.",
                remedy="Give its code by ISO 4217, such as EUR.",
            )
        if not self.basis:
            raise RecordError(
                "The cost does not say how it was reckoned.",
                remedy="Give the prices of paper and ink, and of which day they are.",
            )
