"""What can a printer do, and which paper goes into it?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from printplan.errors import SpecError
from printplan.media.limits import (
    require_currency,
    require_different,
    require_name,
    require_numbers,
)

BIT_DEPTHS = (8, 16)
"""Bits per channel of the files that are made."""


class MediaForm(StrEnum):
    """What a feed path takes."""

    SHEETS = "sheets"
    ROLLS = "rolls"


@dataclass(frozen=True, slots=True, kw_only=True)
class Margins:
    """
    White edges that a feed path cannot print on, as the sheet enters it.

    Attributes
    ----------
    leading_mm, trailing_mm : float
        At the edge that enters first and at the edge that enters last.
    left_mm, right_mm : float
        Seen with the printed side up and the leading edge at the top.
    """

    leading_mm: float
    trailing_mm: float
    left_mm: float
    right_mm: float

    def __post_init__(self) -> None:
        require_numbers("The margins", self)


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedPath:
    """
    One way for paper into the printer.

    Attributes
    ----------
    shortest_mm, longest_mm : float
        Along the feed.
    narrowest_mm, widest_mm : float
        Across the feed.
    thinnest_um, thickest_um : float
        Paper thickness taken.
    takes : MediaForm
        Cut sheets or rolls.
    """

    name: str
    margins: Margins
    shortest_mm: float
    longest_mm: float
    narrowest_mm: float
    widest_mm: float
    thinnest_um: float
    thickest_um: float
    takes: MediaForm = MediaForm.SHEETS

    def __post_init__(self) -> None:
        require_name("A feed path", "name", self.name)
        require_numbers(f'The feed path "{self.name}"', self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Printer:
    """
    One printer.

    Attributes
    ----------
    black_inks : tuple of str
        Inks of which one prints black at a time.
    input_ppi : tuple of float
        Resolutions at which the printer takes pixels without resampling them.
    bit_depths : tuple of int
        Bits per channel that the printer takes, out of `BIT_DEPTHS`.
    inks : tuple of str
        All inks, the black ones among them; empty if not written down.
    longest_print_mm : float or None
        Longest print that printer and driver make, on any feed path.
    ink_price_per_ml : float or None
        None if not known.
    currency : str or None
        Of that price, three capital letters (ISO 4217); None for the book's own.
    """

    name: str
    black_inks: tuple[str, ...]
    feeds: tuple[FeedPath, ...]
    input_ppi: tuple[float, ...]
    bit_depths: tuple[int, ...] = BIT_DEPTHS
    inks: tuple[str, ...] = ()
    longest_print_mm: float | None = None
    ink_price_per_ml: float | None = None
    currency: str | None = None
    note: str = ""

    def __post_init__(self) -> None:
        require_name("A printer", "name", self.name)
        owner = f'The printer "{self.name}"'
        require_different(owner, "black_inks", self.black_inks)
        require_different(owner, "feeds", [feed.name for feed in self.feeds])
        require_different(owner, "input_ppi", self.input_ppi)
        require_different(owner, "bit_depths", self.bit_depths)
        require_numbers(owner, self)
        require_currency(owner, self.currency)
        self._require_inks(owner)
        for bits in self.bit_depths:
            if bits not in BIT_DEPTHS:
                raise SpecError(
                    f"{owner} has {bits} in bit_depths.",
                    remedy=f"Give {' or '.join(map(str, BIT_DEPTHS))}, or both.",
                )

    def _require_inks(self, owner: str) -> None:
        if not self.inks:
            return
        require_different(owner, "inks", self.inks)
        for black in self.black_inks:
            if black not in self.inks:
                raise SpecError(
                    f'{owner} has the black ink "{black}", which is not among its '
                    f"inks: {', '.join(self.inks)}.",
                    remedy="Write each black ink in inks as well, in the same words, "
                    "or leave inks out.",
                )

    def feed(self, name: str) -> FeedPath:
        """
        The feed path of that name.

        Raises
        ------
        SpecError
            If the printer has no such path.
        """
        for feed in self.feeds:
            if feed.name == name:
                return feed
        names = ", ".join(feed.name for feed in self.feeds)
        raise SpecError(
            f"{self.name} has no feed path {name!r}.",
            remedy=f"Choose one of: {names}.",
        )
