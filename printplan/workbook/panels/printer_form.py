"""Which fields does a printer have, and what was typed into them?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Generic, TypeVar

import ipywidgets as widgets

from printplan.errors import SpecError
from printplan.media import DriverColour, FeedPath, Margins, MediaForm
from printplan.sizing.media_sizes import canonical_media_size
from printplan.units import LengthUnit, parse_length_mm, short_words
from printplan.workbook.panels.controls import acts, choice, line, switch

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.media import Printer

_T = TypeVar("_T")

_FORMS = [("cut sheets", MediaForm.SHEETS), ("rolls", MediaForm.ROLLS)]
_BETWEEN = ";"
"""Between the words of a list: a driver's own words hold commas."""


class TypedField(Generic[_T]):
    """
    A line to type in whose value is kept exactly until it is typed anew.

    Parameters
    ----------
    label, tip : str
        What it is, and what to type.
    shown : callable
        The value as words.
    read : callable
        The value of words; what it refuses is told with the field's name.
    """

    def __init__(
        self,
        label: str,
        tip: str,
        *,
        shown: Callable[[_T], str],
        read: Callable[[str], _T],
    ) -> None:
        self.ui = line(label, tooltip=tip)
        self._label, self._words, self._read = label, shown, read
        self._shown: tuple[str, _T] | None = None

    def show(self, value: _T) -> None:
        """Show a value."""
        words = self._words(value)
        self._shown = (words, value)
        self.ui.value = words

    @property
    def value(self) -> _T:
        """The value shown, or the one typed since."""
        typed = self.ui.value.strip()
        if self._shown is not None and typed == self._shown[0].strip():
            return self._shown[1]
        try:
            return self._read(typed)
        except SpecError as error:
            raise SpecError(
                f"{self._label}: {error.problem}", remedy=error.remedy
            ) from error


def words_field(
    label: str, tip: str, each: Callable[[str], str] = str.strip
) -> TypedField[tuple[str, ...]]:
    """
    A list of words, with semicolons between them.

    Parameters
    ----------
    each : callable, optional
        What becomes of each.
    """

    def read(typed: str) -> tuple[str, ...]:
        return tuple(each(it) for it in typed.split(_BETWEEN) if it.strip())

    return TypedField(label, tip, shown=f"{_BETWEEN} ".join, read=read)


def numbers_field(label: str, tip: str) -> TypedField[tuple[float, ...]]:
    """A list of numbers, with semicolons or spaces between them."""

    def shown(numbers: tuple[float, ...]) -> str:
        return f"{_BETWEEN} ".join(f"{it:g}" for it in numbers)

    def read(typed: str) -> tuple[float, ...]:
        return tuple(_number(it) for it in typed.replace(_BETWEEN, " ").split())

    return TypedField(label, tip, shown=shown, read=read)


def length_field(label: str, tip: str, unit: LengthUnit) -> TypedField[float]:
    """A length in the studio's unit, or in the one that is typed behind it."""
    return TypedField(
        f"{label} ({unit})",
        tip,
        shown=lambda length_mm: short_words(unit, length_mm).split(" ")[0],
        read=lambda typed: parse_length_mm(typed, unit),
    )


def range_field(
    label: str, tip: str, unit: LengthUnit | None
) -> TypedField[tuple[float, float]]:
    """
    Two ends of a range.

    Parameters
    ----------
    unit : LengthUnit or None
        Of lengths; None for micrometres.
    """

    def shown(ends: tuple[float, float]) -> str:
        if unit is None:
            return " to ".join(f"{it:g}" for it in ends)
        return " to ".join(short_words(unit, it).split(" ")[0] for it in ends)

    def read(typed: str) -> tuple[float, float]:
        parts = typed.replace("–", " to ").split(" to ")
        if len(parts) != 2:
            raise SpecError(
                f"{typed!r} is no range.", remedy='Type both ends, such as "80 to 300".'
            )
        if unit is None:
            low, high = (_number(it) for it in parts)
        else:
            low, high = (parse_length_mm(it, unit) for it in parts)
        return low, high

    return TypedField(f"{label} ({unit or 'µm'})", tip, shown=shown, read=read)


def _number(typed: str) -> float:
    try:
        return float(typed)
    except ValueError as error:
        raise SpecError(
            f"{typed.strip()!r} is no number.", remedy='Type a number, such as "300".'
        ) from error


class FeedFields:
    """
    One way for paper into the printer, in a fold-out.

    Parameters
    ----------
    leave_out : callable
        Told when the person takes this path out of the form.
    """

    def __init__(
        self, feed: FeedPath, unit: LengthUnit, leave_out: Callable[[FeedFields], None]
    ) -> None:
        self._feed = feed
        self.name = line("name", tooltip="As it is called on the printer or its driver")
        self.takes = choice("takes", _FORMS)
        self.takes.tooltip = "Whether cut sheets or a roll go in here"
        self.across = range_field(
            "across", "Narrowest and widest paper, measured across the feed", unit
        )
        self.along = range_field(
            "along", "Shortest and longest paper, measured along the feed", unit
        )
        self.thickness = range_field(
            "thickness", "Thinnest and thickest paper; 1000 µm are 1 mm", None
        )
        self.margins = {
            edge: length_field(f"margin, {edge}", tip, unit)
            for edge, tip in (
                ("leading", "White at the edge that enters first"),
                ("trailing", "White at the edge that enters last"),
                ("left", "White at the left, printed side up, leading edge at the top"),
                ("right", "White at the right, seen the same way"),
            )
        }
        self.borderless = words_field(
            "without margins",
            "Sizes it prints without a margin: 4x6 in; A4",
            canonical_media_size,
        )
        away = widgets.Button(
            description="Leave this feed path out",
            tooltip="The printer has no such way for its paper",
        )
        away.on_click(lambda _: leave_out(self))
        self.ui = widgets.VBox(
            [
                self.name,
                self.takes,
                self.across.ui,
                self.along.ui,
                self.thickness.ui,
                *(field.ui for field in self.margins.values()),
                self.borderless.ui,
                acts(away),
            ]
        )
        self.show(feed)

    def show(self, feed: FeedPath) -> None:
        """Show a feed path."""
        self._feed = feed
        self.name.value, self.takes.value = feed.name, feed.takes
        self.across.show((feed.narrowest_mm, feed.widest_mm))
        self.along.show((feed.shortest_mm, feed.longest_mm))
        self.thickness.show((feed.thinnest_um, feed.thickest_um))
        for edge, field in self.margins.items():
            field.show(getattr(feed.margins, f"{edge}_mm"))
        self.borderless.show(feed.borderless)

    @property
    def feed(self) -> FeedPath:
        """The feed path as it was typed."""
        margins = Margins(
            **{f"{edge}_mm": field.value for edge, field in self.margins.items()}
        )
        (narrowest_mm, widest_mm), (shortest_mm, longest_mm), (thinnest, thickest) = (
            self.across.value,
            self.along.value,
            self.thickness.value,
        )
        return replace(
            self._feed,
            name=self.name.value.strip(),
            takes=self.takes.value,
            narrowest_mm=narrowest_mm,
            widest_mm=widest_mm,
            shortest_mm=shortest_mm,
            longest_mm=longest_mm,
            thinnest_um=thinnest,
            thickest_um=thickest,
            margins=margins,
            margins_source=self._feed.margins_source
            if margins == self._feed.margins
            else "typed",
            borderless=self.borderless.value,
        )


class PrinterForm:
    """
    All of a printer that a person can know.

    Parameters
    ----------
    unit : LengthUnit
        Of lengths shown, and of those that are typed without one.
    """

    def __init__(self, unit: LengthUnit) -> None:
        self._unit = unit
        self._printer: Printer | None = None
        self.name = line("name", tooltip="What you call this printer")
        self.driver_colour = switch("driver takes", [(it, it) for it in DriverColour])
        self.driver_colour.tooltip = (
            "What the driver is given: a paper's profile has to be for that"
        )
        self.black_inks = words_field(
            "black inks", "Those of which one prints black at a time; ; between them"
        )
        self.input_ppi = numbers_field(
            "takes (ppi)", "Resolutions that the driver does not resample"
        )
        self.words = {
            name: words_field(label, f"{tip}, in the driver's own words; ; between")
            for name, label, tip in (
                ("media_types", "media types", "Papers to choose from"),
                ("qualities", "print quality", "Qualities to choose from"),
                ("driver_resolutions", "driver resolution", "Finenesses to choose"),
                ("platen_gaps", "platen gap", "Distances of the head to choose from"),
            )
        }
        self.feeds: list[FeedFields] = []
        self.ways = widgets.Accordion()
        another = widgets.Button(
            description="Another feed path",
            tooltip="The printer has one more way for paper; begin with the last one",
        )
        another.on_click(lambda _: self._another())
        self.ui = widgets.VBox(
            [
                self.name,
                self.driver_colour,
                self.black_inks.ui,
                self.input_ppi.ui,
                *(field.ui for field in self.words.values()),
                self.ways,
                acts(another),
            ]
        )

    def show(self, printer: Printer) -> None:
        """Show a printer."""
        self._printer = printer
        self.name.value = printer.name
        self.driver_colour.value = printer.driver_colour
        self.black_inks.show(printer.black_inks)
        self.input_ppi.show(printer.input_ppi)
        for name, field in self.words.items():
            field.show(getattr(printer, name))
        self.feeds = [
            FeedFields(it, self._unit, self._leave_out) for it in printer.feeds
        ]
        self._lay_out()

    @property
    def printer(self) -> Printer:
        """
        The printer as it was typed; what the form does not hold stays as it was.

        Raises
        ------
        SpecError
            If a field says nothing that a printer can be.
        """
        shown = self._printer
        if shown is None:
            raise SpecError(
                "No printer is shown.", remedy="Choose its class, or ask the printer."
            )
        black_inks = self.black_inks.value
        typed: dict[str, Any] = {name: it.value for name, it in self.words.items()}
        if set(black_inks) - set(shown.inks):
            typed["inks"] = ()  # ours are not among them
        return replace(
            shown,
            name=self.name.value.strip(),
            driver_colour=self.driver_colour.value,
            black_inks=black_inks,
            input_ppi=self.input_ppi.value,
            feeds=tuple(it.feed for it in self.feeds),
            **typed,
        )

    def _fields(self, feed: FeedPath) -> FeedFields:
        return FeedFields(feed, self._unit, self._leave_out)

    def _another(self) -> None:
        if self.feeds:
            last = self.feeds[-1]
            try:
                feed = last.feed
            except SpecError:
                feed = last._feed  # noqa: SLF001 - the same class's, as it was shown
            feed = replace(feed, name=f"{feed.name}, another")
            self.feeds.append(self._fields(feed))
            self._lay_out()

    def _leave_out(self, fields: FeedFields) -> None:
        if len(self.feeds) > 1:
            self.feeds.remove(fields)
            self._lay_out()

    def _lay_out(self) -> None:
        self.ways.children = tuple(it.ui for it in self.feeds)
        self.ways.titles = tuple(f"Feed path: {it.name.value}" for it in self.feeds)
        self.ways.selected_index = None
