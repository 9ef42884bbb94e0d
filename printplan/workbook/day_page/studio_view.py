"""How do printers, papers and the unit of lengths come into a studio, on the page?"""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from typing import TYPE_CHECKING

import ipywidgets as widgets

from printplan.errors import PrintPlanError
from printplan.record.book_changes import change_book
from printplan.record.paper_book import read_paper_book
from printplan.shown_text import escape
from printplan.units import LengthUnit
from printplan.workbook.panels.add_paper import AddPaperPanel
from printplan.workbook.panels.add_printer import AddPrinterPanel
from printplan.workbook.panels.controls import show_if, switch, text
from printplan.workbook.panels.paper_list import PaperList
from printplan.workbook.pictures import problem_html

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from printplan.media import Paper, Printer
    from printplan.record.paper_book import PaperBook


class Part(StrEnum):
    """What of the studio is looked at."""

    PRINTERS = "printers"
    NEW_PAPER = "new-paper"
    PAPERS = "papers"
    LENGTHS = "lengths"


_PARTS = [
    ("printers", Part.PRINTERS),
    ("add a paper", Part.NEW_PAPER),
    ("papers", Part.PAPERS),
    ("lengths", Part.LENGTHS),
]
_UNITS = [("millimetres", LengthUnit.MM), ("inches", LengthUnit.INCHES)]


class StudioView:
    """
    The paper book of a studio: printers, papers, and the unit of its lengths.

    Parameters
    ----------
    book_path : Path
        The paper book.
    on_ready : callable
        Told when a paper came into a book that had none: a print can be planned.
    """

    def __init__(self, book_path: Path, on_ready: Callable[[], None]) -> None:
        self._book_path = book_path
        self._on_ready = on_ready
        self.part = switch("", _PARTS)
        self.notice = text("printplan-notice")
        self.form: AddPrinterPanel | AddPaperPanel | PaperList | None = None
        self.go_on = widgets.Button(
            description="Go on: add a paper",
            button_style="primary",
            tooltip="The next thing that a print needs",
            layout={"width": "auto", "display": "none"},
        )
        self.go_on.on_click(lambda _: self._go(Part.NEW_PAPER))
        self.unit = switch("lengths in", _UNITS)
        self.unit.tooltips = ["New plans are in millimetres", "New plans are in inches"]
        self._body = widgets.VBox()
        self._is_showing = False
        head = widgets.HBox([self.part])
        head.add_class("printplan-bar")
        self.ui = widgets.VBox([head, self.notice, self.go_on, self._body])
        self.part.observe(lambda _: self._show_part(), names="value")
        self.unit.observe(lambda _: self._take_unit(), names="value")
        self._begin()

    def _begin(self) -> None:
        """Ask for what the studio lacks first."""
        book = self._book()
        if book is None:
            return
        if not any(it.in_use for it in book.printers):
            self.notice.value = escape(
                "First, the printer: ask it, if it answers in your network, or begin "
                "with its class. All can be changed later."
            )
            self._go(Part.PRINTERS)
        elif not any(it.in_use for it in book.papers):
            self.notice.value = escape(
                "Now a paper: choose the ICC profile that its maker, or you, made for "
                "this printer."
            )
            self._go(Part.NEW_PAPER)
        else:
            self._go(Part.PAPERS)

    def _go(self, part: Part) -> None:
        if self.part.value is part:
            self._show_part()
        else:
            self.part.value = part

    def _book(self) -> PaperBook | None:
        try:
            return read_paper_book(self._book_path)
        except PrintPlanError as error:
            self._body.children = [widgets.HTML(problem_html(error))]
            return None

    def _show_part(self) -> None:
        book = self._book()
        if book is None:
            return
        part, self.form = self.part.value, None
        if part is not Part.PRINTERS:
            show_if(False, self.go_on)
        try:
            if part is Part.PRINTERS:
                self.form = AddPrinterPanel(self._book_path, self._printer_added)
            elif part is Part.NEW_PAPER:
                self.form = AddPaperPanel(self._book_path, self._paper_added)
            elif part is Part.PAPERS:
                self.form = PaperList(self._book_path)
        except PrintPlanError as error:
            self._body.children = [widgets.HTML(problem_html(error))]
            return
        if self.form is not None:
            self._body.children = [self.form.ui]
            return
        self._is_showing = True
        try:
            self.unit.value = book.lengths_in
        finally:
            self._is_showing = False
        self._body.children = [self.unit]

    def _printer_added(self, printer: Printer) -> None:
        book = self._book()
        if book is not None and not book.papers:
            self.notice.value = escape(
                f"{printer.name} is in the book; its margin page can be printed now or "
                "later."
            )
            show_if(True, self.go_on)

    def _paper_added(self, paper: Paper) -> None:
        book = self._book()
        if book is not None and len(book.papers) == 1:
            self._on_ready()
        self.notice.value = escape(f"{paper.name} is in the book.")

    def _take_unit(self) -> None:
        if self._is_showing:
            return
        unit = self.unit.value
        try:
            change_book(self._book_path, lambda book: replace(book, lengths_in=unit))
        except PrintPlanError as error:
            self.notice.value = problem_html(error)
        else:
            told = "inches" if unit is LengthUnit.INCHES else "millimetres"
            self.notice.value = escape(f"New plans are in {told}.")
