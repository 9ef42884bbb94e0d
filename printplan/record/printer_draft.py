"""What is known of a new printer, and who says so?"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from printplan.units import LengthUnit, short_words, span_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from printplan.media import FeedPath, Printer


class SaidBy(StrEnum):
    """Who says a value of a printer."""

    PRINTER = "the printer"
    OUR_CHOICE = "our choice"
    TYPED = "typed"


MARGINS_SOURCES: Final = MappingProxyType(
    {
        SaidBy.PRINTER: "the printer",
        SaidBy.OUR_CHOICE: "our choice, check with the test page",
        SaidBy.TYPED: "typed",
    }
)
"""What a feed path says of its margins in the paper book."""

PRINTER_PARTS: Final = MappingProxyType(
    {
        "name": "name",
        "driver_colour": "driver takes",
        "black_inks": "black inks",
        "inks": "all inks",
        "input_ppi": "takes without resampling",
        "bit_depths": "bits per channel",
        "longest_print_mm": "longest print",
        "media_types": "media types",
        "qualities": "print quality",
        "driver_resolutions": "driver resolution",
        "platen_gaps": "platen gap",
    }
)
"""Fields of a printer that somebody has to say, and what they are called."""

FEED_PARTS: Final = MappingProxyType(
    {
        "takes": ("takes",),
        "across the feed": ("narrowest_mm", "widest_mm"),
        "along the feed": ("shortest_mm", "longest_mm"),
        "thickness": ("thinnest_um", "thickest_um"),
        "margins": ("margins",),
        "without margins": ("borderless",),
    }
)
"""Parts of a feed path that somebody has to say, and the fields that hold them."""

_CHECKED_BY: Final = MappingProxyType(
    {
        "name": "give it one",
        "margins": "check with the test page",
        "black inks": "look at the ink cartridges",
        "thickness": "look it up in the printer's manual",
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """
    One value of a printer as people read it.

    Attributes
    ----------
    what : str
        The value's name, behind that of its feed path if it belongs to one.
    advice : str
        How to check what nobody has said; empty if the printer or a person said it.
    """

    what: str
    value: str
    by: SaidBy
    advice: str = ""

    @property
    def words(self) -> str:
        """Who says so, and how it can be checked."""
        return f"{self.by}, {self.advice}" if self.advice else str(self.by)


@dataclass(frozen=True, slots=True, kw_only=True)
class PrinterDraft:
    """
    A printer before it goes into the paper book.

    Attributes
    ----------
    printer : Printer
        Whole: what nobody has said stands in it as our choice. Each feed path says
        who said its margins.
    said : mapping of str to SaidBy
        By the keys of `PRINTER_PARTS`, and for feed paths by ``NAME: PART`` with the
        keys of `FEED_PARTS`.
    notes : tuple of str
        What else there is to know of the answer.
    """

    printer: Printer
    said: Mapping[str, SaidBy]
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        feeds = tuple(
            replace(it, margins_source=MARGINS_SOURCES[self.by(feed_key(it, _MARGINS))])
            for it in self.printer.feeds
        )
        object.__setattr__(self, "printer", replace(self.printer, feeds=feeds))

    def by(self, key: str) -> SaidBy:
        """Who says one value; what nobody has said is our choice."""
        return self.said.get(key, SaidBy.OUR_CHOICE)

    def rows(self, unit: LengthUnit = LengthUnit.MM) -> tuple[Said, ...]:
        """
        All values and who says them, for people.

        Parameters
        ----------
        unit : LengthUnit, optional
            Of the lengths told.
        """
        return tuple(self._rows(unit))

    @property
    def to_ask(self) -> tuple[Said, ...]:
        """What neither the printer nor a person has said."""
        return tuple(it for it in self.rows() if it.by is SaidBy.OUR_CHOICE)

    def typed(self, printer: Printer, *fields_said: str) -> PrinterDraft:
        """
        The draft after a person has changed the printer in it.

        Parameters
        ----------
        printer : Printer
            What differs in it from the draft's was typed.
        *fields_said : str
            Keys of `said` that were typed even if they do not differ.
        """
        said = dict(self.said)
        before, after = _values(self.printer), _values(printer)
        said |= {
            key: SaidBy.TYPED
            for key, value in after.items()
            if key not in before or before[key] != value
        }
        said |= dict.fromkeys(fields_said, SaidBy.TYPED)
        kept = {key: by for key, by in said.items() if key in after}
        return PrinterDraft(printer=printer, said=kept, notes=self.notes)

    def _rows(self, unit: LengthUnit) -> Iterator[Said]:
        for name, what in PRINTER_PARTS.items():
            value = _told(getattr(self.printer, name), unit)
            if value:
                yield self._row(what, value, self.by(name))
        for feed in self.printer.feeds:
            for part in FEED_PARTS:
                value = _feed_words(feed, part, unit)
                if value:
                    key = feed_key(feed, part)
                    yield self._row(key, value, self.by(key))

    @staticmethod
    def _row(what: str, value: str, by: SaidBy) -> Said:
        part = what.rpartition(": ")[2]
        asked = by is SaidBy.OUR_CHOICE
        advice = _CHECKED_BY.get(part, _LOOK_UP) if asked else ""
        return Said(what=what, value=value, by=by, advice=advice)


_MARGINS: Final = "margins"
_LOOK_UP: Final = "look it up in the driver or the manual"


def feed_key(feed: FeedPath, part: str) -> str:
    """
    The key of a feed path's part in `PrinterDraft.said`.

    Parameters
    ----------
    part : str
        A key of `FEED_PARTS`.
    """
    return f"{feed.name}: {part}"


def _values(printer: Printer) -> dict[str, object]:
    """What stands under each key."""
    values: dict[str, object] = {name: getattr(printer, name) for name in PRINTER_PARTS}
    for feed in printer.feeds:
        for part, names in FEED_PARTS.items():
            values[feed_key(feed, part)] = tuple(getattr(feed, it) for it in names)
    return values


def _told(value: object, unit: LengthUnit) -> str:
    """A printer's value; its one length is the longest print."""
    if isinstance(value, float):
        return short_words(unit, value)
    if isinstance(value, tuple):
        words = (f"{it:g}" if isinstance(it, float) else str(it) for it in value)
        return ", ".join(words)
    return "" if value is None else str(value)


def _feed_words(feed: FeedPath, part: str, unit: LengthUnit) -> str:
    match part:
        case "takes":
            return str(feed.takes)
        case "across the feed":
            return span_words(unit, feed.narrowest_mm, feed.widest_mm)
        case "along the feed":
            return span_words(unit, feed.shortest_mm, feed.longest_mm)
        case "thickness":
            return f"{feed.thinnest_um:g} to {feed.thickest_um:g} µm"
        case "margins":
            return ", ".join(
                f"{edge.name.removesuffix('_mm')} "
                f"{short_words(unit, getattr(feed.margins, edge.name))}"
                for edge in fields(feed.margins)
            )
        case _:
            return ", ".join(feed.borderless)
