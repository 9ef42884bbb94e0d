"""What is a paper, and how is it used on each printer?"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from printplan.errors import SpecError, did_you_mean
from printplan.measurements import RestorePick, SpreadReading, require_unique
from printplan.media.limits import (
    require_currency,
    require_different,
    require_name,
    require_numbers,
)
from printplan.spec import FORMERLY, UNSAID

if TYPE_CHECKING:
    from printplan.media.printer import Printer


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
    reorder_at : float or None
        Sheets, or metres of roll, at which more is to be bought; None if not said.
    """

    sheet: str | None = None
    sheets_left: int | None = None
    roll_width_mm: float | None = None
    roll_length_m: float | None = None
    left_m: float | None = None
    price_each: float | None = None
    currency: str | None = None
    reorder_at: float | None = field(default=None, metadata={UNSAID: True})

    def __post_init__(self) -> None:
        is_roll = self.roll_width_mm is not None
        if is_roll == (self.sheet is not None):
            raise SpecError(
                "A stock entry names "
                f"{'both a sheet and a roll' if is_roll else 'neither sheet nor roll'}"
                ".",
                remedy="Give a sheet, such as A3, or the width of a roll; two sizes "
                "are two entries.",
            )
        strange = ("sheets_left",) if is_roll else ("roll_length_m", "left_m")
        owner = f"The stock of {self.words}"
        for name in strange:
            if getattr(self, name) is not None:
                raise SpecError(
                    f"{owner} has {name}.",
                    remedy="Count the sheets that are left, and metres of a roll.",
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

    @property
    def left(self) -> float | None:
        """Sheets, or metres of a roll, that are left; None if nobody counts."""
        return self.left_m if self.sheet is None else self.sheets_left

    def with_left(self, left: float) -> Stock:
        """The same with so many sheets, or metres of a roll, left."""
        if self.sheet is None:
            return replace(self, left_m=left)
        return replace(self, sheets_left=round(left))


_HASH = re.compile("[0-9a-f]{64}|")

# Measured ones lie near L* 90 to 98 and within 10 of neutral; the range lets black and
# tinted papers pass. Our choice, to catch a slip.
_WHITE_LAB = ((20.0, 101.0), (-60.0, 60.0), (-60.0, 60.0))


class Surface(StrEnum):
    """Paper surface, as far as ink and sharpening care."""

    MATTE = "matte"
    SATIN = "satin"
    BARYTA = "baryta"
    GLOSS = "gloss"
    CANVAS = "canvas"


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperOnPrinter:
    """
    Settings of one paper that belong to one printer.

    Attributes
    ----------
    profile : str
        Path of the ICC output profile made for this pair.
    profile_sha256 : str
        Hash of that file when the pair was set up, 64 hexadecimal digits in lower
        case; empty if not yet taken.
    media_type : str
        The paper's name as this printer's own driver calls it; empty if not yet
        looked up.
    feeds : tuple of str
        Feed paths that take this paper.
    spread_readings : tuple of SpreadReading
        What scans of trial sheets measured of this pair.
    restore_picks : tuple of RestorePick
        Which patches of its trial sheets looked best.
    setup : str
        Tells several setups of a paper on one printer apart, such as two qualities
        with a profile each; empty for the only one.
    quality, driver_resolution, platen_gap : str
        As the driver calls them; empty if not looked up.
    ink_limit_percent : float or None
        Greatest total of all inks that was set with this profile; None if the driver
        has no such setting.
    in_use : bool
        Whether it is offered for new plans.
    """

    printer: str
    profile: str
    black_ink: str
    media_type: str
    feeds: tuple[str, ...]
    profile_sha256: str = ""
    spread_readings: tuple[SpreadReading, ...] = ()
    restore_picks: tuple[RestorePick, ...] = ()
    setup: str = field(default="", metadata={UNSAID: True})
    quality: str = field(default="", metadata={UNSAID: True})
    driver_resolution: str = field(default="", metadata={UNSAID: True})
    platen_gap: str = field(default="", metadata={UNSAID: True})
    ink_limit_percent: float | None = None
    in_use: bool = field(default=True, metadata={UNSAID: True})

    def __post_init__(self) -> None:
        require_name("A paper's setting", "printer", self.printer)
        owner = f"The setting for {self.words}"
        require_numbers(owner, self)
        require_name(owner, "profile", self.profile)
        require_name(owner, "black_ink", self.black_ink)
        require_different(owner, "feeds", self.feeds)
        if _HASH.fullmatch(self.profile_sha256) is None:
            raise SpecError(
                f"{owner} has profile_sha256 {self.profile_sha256!r}.",
                remedy="Give the 64 digits 0-9 and a-f of the profile's SHA-256, or "
                "leave it empty.",
            )
        require_unique(owner, self.spread_readings, self.restore_picks)

    @property
    def words(self) -> str:
        """Which printer, and which of several setups."""
        return f'"{self.printer}"' + (f', "{self.setup}"' if self.setup else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """
    One paper.

    Attributes
    ----------
    psf_sigma_um : float
        Standard deviation of the spread of ink and light in this paper, used
        on a printer that has no `SpreadReading` yet.
    stock : tuple of Stock
        Sizes that are kept of this paper.
    white_lab : tuple of float or None
        L*, a*, b* of the bare paper under D50 as somebody measured it; None if nobody
        has.
    drying_h : float or None
        Hours before it may be stacked, framed or shipped; None if not known.
    in_use : bool
        Whether it is offered for new plans.
    former_names : tuple of str
        By which plans of before find it.
    """

    name: str
    surface: Surface
    weight_gsm: float
    thickness_um: float
    psf_sigma_um: float = field(metadata={FORMERLY: "spread_um"})
    on_printer: tuple[PaperOnPrinter, ...]
    stock: tuple[Stock, ...] = ()
    white_lab: tuple[float, ...] | None = None
    drying_h: float | None = None
    note: str = ""
    in_use: bool = field(default=True, metadata={UNSAID: True})
    former_names: tuple[str, ...] = field(default=(), metadata={UNSAID: True})

    def __post_init__(self) -> None:
        require_name("A paper", "name", self.name)
        owner = f'The paper "{self.name}"'
        require_numbers(owner, self)
        if self.on_printer:
            require_different(owner, "on_printer", [it.words for it in self.on_printer])
        if self.stock:
            require_different(owner, "stock", [it.words for it in self.stock])
        if self.white_lab is not None:
            _require_white(owner, self.white_lab)

    @property
    def sheets(self) -> tuple[str, ...]:
        """Sizes of the cut sheets that are kept, in the order of the stock."""
        return tuple(it.sheet for it in self.stock if it.sheet is not None)

    @property
    def rolls_mm(self) -> tuple[float, ...]:
        """Widths of the rolls that are kept, in the order of the stock."""
        widths = (it.roll_width_mm for it in self.stock)
        return tuple(width_mm for width_mm in widths if width_mm is not None)

    def on(self, printer: Printer, setup: str = "") -> PaperOnPrinter:
        """
        The settings of this paper on a printer.

        Parameters
        ----------
        setup : str, optional
            Which of several; the first in use if empty, or the first at all.

        Raises
        ------
        SpecError
            If the paper was never set up for that printer, or has no such setup.
        """
        pairs = self.setups(printer)
        if not pairs:
            names = dict.fromkeys(pair.printer for pair in self.on_printer)
            raise SpecError(
                f"{self.name} has no settings for {printer.name}; it has them for "
                f"{', '.join(names) or 'none'}.",
                remedy="Add them to the paper book, with the profile made for this "
                "pair.",
            )
        if not setup:
            return next((it for it in pairs if it.in_use), pairs[0])
        for pair in pairs:
            if pair.setup == setup:
                return pair
        raise SpecError(
            f'{self.name} on {printer.name} has no setup "{setup}".',
            remedy=did_you_mean(setup, [pair.setup for pair in pairs]),
        )

    def setups(self, printer: Printer) -> tuple[PaperOnPrinter, ...]:
        """All setups of this paper on a printer."""
        return tuple(it for it in self.on_printer if it.printer == printer.name)


def can_be_white(white_lab: tuple[float, ...]) -> bool:
    """Whether L*, a*, b* can be those of a bare paper."""
    return len(white_lab) == len(_WHITE_LAB) and all(
        low <= value <= high
        for value, (low, high) in zip(white_lab, _WHITE_LAB, strict=True)
    )


def _require_white(owner: str, white_lab: tuple[float, ...]) -> None:
    if can_be_white(white_lab):
        return
    shown = ", ".join(f"{value:g}" for value in white_lab)
    raise SpecError(
        f"{owner}: white_lab is [{shown}].",
        remedy="Give L*, a*, b* of the bare paper under D50, such as [96, 0, 2].",
    )
