"""What the paper and the printer are: frozen values, without files or pixels."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from printplan.errors import SpecError
from printplan.lessons import RestorePick, SpreadReading, require_no_twins
from printplan.spec import HIGHEST_PPI, LONGEST_MM, LOWEST_PPI, SHORTEST_MM

if TYPE_CHECKING:
    from collections.abc import Sequence

BIT_DEPTHS = (8, 16)
"""Bits per channel of the files that are made."""


class _Range(NamedTuple):
    """Numbers that can be meant, and where the right one is found."""

    low: float
    high: float
    unit: str
    source: str


_MANUAL = "of the printer's manual"
_MARGIN = _Range(0, 200, "mm", f"the margin {_MANUAL}")
_SHEET_EDGE = _Range(SHORTEST_MM, LONGEST_MM, "mm", f"the sheet edge {_MANUAL}")
_PAPER_PATH = _Range(1, 5000, "µm", f"the paper thickness {_MANUAL}")

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
    "spread_um": _Range(0, 500, "µm", "the estimated spread"),
    "input_ppi": _Range(LOWEST_PPI, HIGHEST_PPI, "ppi", f"the resolution {_MANUAL}"),
}

_PAIRS = (
    ("shortest_mm", "longest_mm"),
    ("narrowest_mm", "widest_mm"),
    ("thinnest_um", "thickest_um"),
)

_HASH = re.compile("[0-9a-f]{64}|")


class Surface(StrEnum):
    """Paper surface, as far as ink and sharpening care."""

    MATTE = "matte"
    SATIN = "satin"
    BARYTA = "baryta"
    GLOSS = "gloss"
    CANVAS = "canvas"


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
        _require_numbers("The margins", self)


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedPath:
    """
    One way for paper into the printer.

    Attributes
    ----------
    name : str
    margins : Margins
    shortest_mm, longest_mm : float
        Along the feed.
    narrowest_mm, widest_mm : float
        Across the feed.
    thinnest_um, thickest_um : float
        Paper thickness taken.
    """

    name: str
    margins: Margins
    shortest_mm: float
    longest_mm: float
    narrowest_mm: float
    widest_mm: float
    thinnest_um: float
    thickest_um: float

    def __post_init__(self) -> None:
        _require_name("A feed path", "name", self.name)
        _require_numbers(f'The feed path "{self.name}"', self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Printer:
    """
    One printer.

    Attributes
    ----------
    name : str
    black_inks : tuple of str
        Inks of which one prints black at a time.
    feeds : tuple of FeedPath
    input_ppi : tuple of float
        Resolutions at which the printer takes pixels without resampling them.
    bit_depths : tuple of int
        Bits per channel that the printer takes, out of `BIT_DEPTHS`.
    """

    name: str
    black_inks: tuple[str, ...]
    feeds: tuple[FeedPath, ...]
    input_ppi: tuple[float, ...]
    bit_depths: tuple[int, ...] = BIT_DEPTHS

    def __post_init__(self) -> None:
        _require_name("A printer", "name", self.name)
        owner = f'The printer "{self.name}"'
        _require_different(owner, "black_inks", self.black_inks)
        _require_different(owner, "feeds", [feed.name for feed in self.feeds])
        _require_different(owner, "input_ppi", self.input_ppi)
        _require_different(owner, "bit_depths", self.bit_depths)
        _require_numbers(owner, self)
        for bits in self.bit_depths:
            if bits not in BIT_DEPTHS:
                raise SpecError(
                    f"{owner} has {bits} in bit_depths.",
                    remedy=f"Give {' or '.join(map(str, BIT_DEPTHS))}, or both.",
                )

    def feed(self, name: str) -> FeedPath:
        """
        The feed path of that name.

        Parameters
        ----------
        name : str

        Returns
        -------
        FeedPath

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


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperOnPrinter:
    """
    Settings of one paper that belong to one printer.

    Attributes
    ----------
    printer : str
    profile : str
        Path of the ICC output profile made for this pair.
    profile_sha256 : str
        Hash of that file when the pair was set up, 64 hexadecimal digits in lower
        case; empty if not yet taken.
    black_ink : str
    media_type : str
        The paper's name as this printer's own driver calls it; empty if not yet
        looked up.
    feeds : tuple of str
        Feed paths that take this paper.
    spread_readings : tuple of SpreadReading
        What scans of trial sheets measured of this pair.
    restore_picks : tuple of RestorePick
        Which patches of its trial sheets looked best.
    """

    printer: str
    profile: str
    black_ink: str
    media_type: str
    feeds: tuple[str, ...]
    profile_sha256: str = ""
    spread_readings: tuple[SpreadReading, ...] = ()
    restore_picks: tuple[RestorePick, ...] = ()

    def __post_init__(self) -> None:
        _require_name("A paper's setting", "printer", self.printer)
        owner = f'The setting for "{self.printer}"'
        _require_name(owner, "profile", self.profile)
        _require_name(owner, "black_ink", self.black_ink)
        _require_different(owner, "feeds", self.feeds)
        if _HASH.fullmatch(self.profile_sha256) is None:
            raise SpecError(
                f"{owner} has profile_sha256 {self.profile_sha256!r}.",
                remedy="Give the 64 digits 0-9 and a-f of the profile's SHA-256, or "
                "leave it empty.",
            )
        require_no_twins(owner, self.spread_readings, self.restore_picks)


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """
    One paper.

    Attributes
    ----------
    name : str
    surface : Surface
    weight_gsm : float
    thickness_um : float
    spread_um : float
        Standard deviation of the spread of ink and light in this paper, to reckon
        with on a printer that has no `SpreadReading` yet.
    on_printer : tuple of PaperOnPrinter
    sheets : tuple of str
        Sheet sizes kept of this paper.
    note : str
    """

    name: str
    surface: Surface
    weight_gsm: float
    thickness_um: float
    spread_um: float
    on_printer: tuple[PaperOnPrinter, ...]
    sheets: tuple[str, ...] = ()
    note: str = ""

    def __post_init__(self) -> None:
        _require_name("A paper", "name", self.name)
        owner = f'The paper "{self.name}"'
        _require_numbers(owner, self)
        printers = [pair.printer for pair in self.on_printer]
        if printers:
            _require_different(owner, "on_printer", printers)
        if self.sheets:
            _require_different(owner, "sheets", self.sheets)

    def on(self, printer: Printer) -> PaperOnPrinter:
        """
        The settings of this paper on a printer.

        Parameters
        ----------
        printer : Printer

        Returns
        -------
        PaperOnPrinter

        Raises
        ------
        SpecError
            If the paper was never set up for that printer.
        """
        for pair in self.on_printer:
            if pair.printer == printer.name:
                return pair
        names = ", ".join(pair.printer for pair in self.on_printer) or "none"
        raise SpecError(
            f"{self.name} has no settings for {printer.name}; it has them for {names}.",
            remedy="Add them to the paper book, with the profile made for this pair.",
        )


def _require_numbers(owner: str, value: Margins | FeedPath | Printer | Paper) -> None:
    """Refuse a number outside its range (a NaN is), and a pair the wrong way round."""
    numbers = {name: getattr(value, name) for name in _RANGES if hasattr(value, name)}
    for name, given in numbers.items():
        limits = _RANGES[name]
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
                remedy=f"Exchange {low} and {high}.",
            )


def _require_name(owner: str, what: str, name: str) -> None:
    if not name.strip():
        raise SpecError(f"{owner} has no {what}.", remedy=f"Write its {what}.")


def _require_different(
    owner: str, what: str, values: Sequence[str] | Sequence[float]
) -> None:
    """Refuse none at all, and one twice: to people, case makes no other name."""
    if not values:
        raise SpecError(f"{owner} has no {what}.", remedy=f"Give one or more {what}.")
    seen = set()
    for value in values:
        if isinstance(value, str):
            _require_name(f"{owner}: one of the {what}", "name", value)
        plain = value.strip().casefold() if isinstance(value, str) else value
        if plain in seen:
            raise SpecError(
                f"{owner} has {value} twice in {what}.",
                remedy="Remove one, or give each a name of its own.",
            )
        seen.add(plain)
