"""How do a feed path's true margins come from its page into the book?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import ipywidgets as widgets

from printplan.errors import SpecError
from printplan.free_name import free_path
from printplan.record.margin_page import (
    cautions,
    margin_page,
    margin_page_name,
    today,
)
from printplan.record.margin_sheet import LINE_MM, sheet_on_feed_mm, usual_sheet
from printplan.record.margins_read import MarginReadings, margins_read, use_margins
from printplan.shown_text import escape
from printplan.units import LengthUnit, parse_length_mm, short_words
from printplan.workbook.panels.controls import (
    LONG_LABEL,
    acts,
    choice,
    line,
    offer,
    text,
)
from printplan.workbook.words import findings_words

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from printplan.media import FeedPath, Printer
    from printplan.record.margins_read import MarginsRead

_EDGES = ("leading", "trailing", "left", "right")
_RULER = "Where the first whole line of the {}'s ruler stands"


class MarginsForm:
    """
    The page of rulers of one feed path, and what was read off it.

    Parameters
    ----------
    guarded : callable
        Makes an action a callback: what it refuses is shown by the panel.
    ready : callable
        Refuses while the book must not be changed from here.
    changed : callable
        Told of the printer after its margins were written into the book.

    Attributes
    ----------
    readings : dict of str to ipywidgets.Text
        By the fields of `MarginReadings`, without their unit; empty ones are as drawn
        on the page.
    """

    def __init__(
        self,
        book: Path,
        unit: LengthUnit,
        *,
        guarded: Callable[[Callable[[], object]], Callable[..., None]],
        ready: Callable[[], None],
        changed: Callable[[Printer], None],
    ) -> None:
        self._book, self._unit = book, unit
        self._ready, self._changed = ready, changed
        self._printer: Printer | None = None
        self.feed = choice("feed path", [])
        self.feed.tooltip = "The way for paper whose margins are measured"
        self.sheet = line(
            "sheet", tooltip="What the page is printed on: A4, 8.5x11 in, 300x400 mm"
        )
        self.write = widgets.Button(
            description="Write the margin page",
            tooltip="A PDF with rulers up to every edge, beside the paper book",
        )
        self.written = text()
        self.readings = {
            name: line(f"{label} ({unit})", tooltip=tip, style=LONG_LABEL)
            for name, label, tip in (
                *((it, f"{it} edge", _RULER.format(f"{it} edge")) for it in _EDGES),
                ("line_across", "line across", "Its length by your own ruler"),
                ("line_along", "line along", "Its length by your own ruler"),
                (
                    "cross_from_leading",
                    "leading to crossing",
                    (
                        "If a line is not 100 mm, or the page lies aside: leading edge "
                        "of the paper to the crossing"
                    ),
                ),
                (
                    "cross_from_left",
                    "left to crossing",
                    (
                        "If a line is not 100 mm, or the page lies aside: left edge of "
                        "the paper to the crossing"
                    ),
                ),
            )
        }
        self.use = widgets.Button(
            description="Use these margins",
            tooltip="Write them into the paper book, with today's date",
        )
        self.found = text()
        self.feed.observe(guarded(self._suggest_sheet), names="value")
        self.write.on_click(guarded(self._write))
        self.use.on_click(guarded(self._use))
        heading = text()
        heading.value = (
            "<p><b>True margins</b>: print a page of rulers at 100 %, and type in what "
            "you read off it.</p>"
        )
        self.ui = widgets.VBox(
            [
                heading,
                self.feed,
                self.sheet,
                acts(self.write),
                self.written,
                widgets.VBox([*self.readings.values()], layout={"max_width": "440px"}),
                acts(self.use),
                self.found,
            ]
        )

    def show(self, printer: Printer) -> None:
        """Offer the feed paths of a printer that is in the book."""
        self._printer = printer
        names = [(feed.name, feed.name) for feed in printer.feeds]
        offer(self.feed, names, self.feed.value)
        self._suggest_sheet()

    def forget(self) -> None:
        """Empty what belongs to another printer or feed path."""
        for field in self.readings.values():
            field.value = ""
        lines = (self.readings["line_across"], self.readings["line_along"])
        for field in lines:
            field.value = short_words(self._unit, LINE_MM).split(" ")[0]
        self.written.value = self.found.value = ""

    def _way(self) -> tuple[Printer, FeedPath]:
        if self._printer is None or self.feed.value is None:
            raise SpecError(
                "No printer of the book is shown.",
                remedy="Add this printer to the book, or choose one that is in it.",
            )
        return self._printer, self._printer.feed(self.feed.value)

    def _suggest_sheet(self) -> None:
        if self.feed.value is not None:
            _, feed = self._way()
            self.sheet.value = usual_sheet(feed, self._unit)
            self.forget()

    def _write(self) -> None:
        self.written.value = ""
        printer, feed = self._way()
        path = margin_page(
            printer,
            feed,
            self.sheet.value,
            free_path(self._book.parent / margin_page_name(printer, feed)),
            made_on=today(),
            unit=self._unit,
        )
        said = (
            (
                f"The page is {path.name}, beside the paper book. Print it at 100 % "
                f"through the {feed.name}, with {self.sheet.value} as the paper size; "
                "how it is read stands on it."
            ),
            *cautions(feed),
        )
        self.written.value = "".join(f"<p>{escape(it)}</p>" for it in said)

    def _use(self) -> None:
        self.found.value = ""
        self._ready()
        printer, feed = self._way()
        read = margins_read(
            feed,
            sheet_on_feed_mm(feed, self.sheet.value, self._unit),
            self._typed(),
            read_on=today(),
            unit=self._unit,
        )
        now = use_margins(self._book, printer.name, read)
        self._printer = now
        self._changed(now)
        self.found.value = self._told(read)

    def _typed(self) -> MarginReadings:
        """What was typed; an empty reading of a ruler is none."""
        lengths_mm = {}
        for name, field in self.readings.items():
            if field.value.strip():
                try:
                    length_mm = parse_length_mm(field.value, self._unit)
                except SpecError as error:
                    raise SpecError(
                        f"{field.description}: {error.problem}", remedy=error.remedy
                    ) from error
                lengths_mm[f"{name}_mm"] = length_mm
            elif name in _EDGES:
                raise SpecError(
                    f"The {name} edge has no reading.",
                    remedy="Type the number of the first whole line of its ruler; 0 if "
                    "its line at the very edge was printed.",
                )
        return MarginReadings(**lengths_mm)

    def _told(self, read: MarginsRead) -> str:
        margins_mm = {edge: getattr(read.feed.margins, f"{edge}_mm") for edge in _EDGES}
        margins = ", ".join(
            f"{edge} {short_words(self._unit, it)}" for edge, it in margins_mm.items()
        )
        words = (
            f'<p role="status">The margins of the {escape(read.feed.name)} are in the '
            f"book: {escape(margins)} ({escape(read.feed.margins_source)}).</p>"
        )
        return words + (findings_words(read.findings).html if read.findings else "")
