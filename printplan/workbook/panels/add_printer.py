"""How does a printer come into the paper book, and change there?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.errors import PrintPlanError, RecordError
from printplan.record.book_changes import add_printer, change_printer
from printplan.record.ipp.printer_description import ask_printer
from printplan.record.paper_book import read_paper_book
from printplan.record.printer_classes import PrinterClass, draft_of_class
from printplan.record.printer_draft import PrinterDraft, SaidBy
from printplan.shown_text import escape
from printplan.workbook.panels.book_panel import BookPanel
from printplan.workbook.panels.controls import acts, choice, line, show_if, text
from printplan.workbook.panels.margins_form import MarginsForm
from printplan.workbook.panels.printer_form import PrinterForm

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from printplan.media import Printer

_NEW = ""


class AddPrinterPanel(BookPanel):
    """
    A printer: asked or begun by its class, typed, added, changed, measured.

    Parameters
    ----------
    book_path : str or Path
        The paper book.
    on_added : callable, optional
        Told of a printer whenever the book holds it anew.

    Attributes
    ----------
    ui : ipywidgets.VBox
        What a notebook shows.
    """

    title: ClassVar[str] = "Printers of the studio"

    def __init__(
        self,
        book_path: str | Path,
        on_added: Callable[[Printer], None] | None = None,
    ) -> None:
        super().__init__(book_path)
        self._on_added = on_added
        self._draft: PrinterDraft | None = None
        self._shown: Printer | None = None
        self.said = text()
        book = read_paper_book(self.book_path)
        self.which = choice("printer", [])
        self.which.tooltip = "A printer of the paper book to change, or a new one"
        self.address = line(
            "address",
            placeholder="ipp://NAME/ipp/print",
            tooltip="Where the printer answers on this network; its own page tells it",
        )
        self.ask = widgets.Button(
            description="Ask the printer",
            tooltip="Fill the form with what the printer says of itself",
        )
        self.kind = choice("class", [(it, it) for it in PrinterClass])
        self.kind.tooltip = "Fill the form with starting values for such a printer"
        self.begin = widgets.Button(
            description="Begin with this class",
            tooltip="Fill the form with starting values, to be corrected by you",
        )
        self.form = PrinterForm(book.lengths_in)
        self.add = widgets.Button(
            description="Add this printer to the book", button_style="primary"
        )
        self.keep = widgets.Button(
            description="Write the changes into the book", button_style="primary"
        )
        self.rest = widgets.Button()
        self.margins = MarginsForm(
            self.book_path,
            book.lengths_in,
            guarded=self._guarded,
            ready=self._require_kept,
            changed=self._margins_changed,
        )
        self._asking = self._worker(self._answered, self._not_answered)
        self._start = widgets.VBox(
            [self.address, acts(self.ask), self.kind, acts(self.begin)]
        )
        self.which.observe(self._guarded(self._choose), names="value")
        for button, press in (
            (self.ask, self._ask),
            (self.begin, self._begin),
            (self.add, self._add),
            (self.keep, self._keep),
            (self.rest, self._take_out),
        ):
            button.on_click(self._guarded(press))
        self._lay_out(
            [
                self.which,
                self._start,
                self.form.ui,
                acts(self.add, self.keep),
                acts(self.rest),
            ],
            widgets.VBox([self.message, self.status, self.said, self.margins.ui]),
        )
        self.form.ways.observe(
            lambda _: self.accessibility.explain(self.ui), names="children"
        )
        self._offer(_NEW)
        self._show_new(draft_of_class(PrinterClass.A3_PLUS))

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until no printer is being asked.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return self._asking.settle(timeout_s)

    # Which printer

    def _offer(self, name: str) -> None:
        """Offer the printers of the book, and show which is chosen."""
        book = read_paper_book(self.book_path)
        offered = [("a new one", _NEW)]
        for printer in book.printers:
            rests = "" if printer.in_use else " (out of use)"
            offered.append((f"{printer.name}{rests}", printer.name))
        with self._quietly():
            self.which.options = offered
            self.which.value = name
        is_new = name == _NEW
        show_if(is_new, self._start, self.add)
        show_if(not is_new, self.keep, self.rest, self.margins.ui)

    def _choose(self) -> None:
        if self._is_showing:
            return
        name = self.which.value
        self._offer(name)
        self._say("")
        if name == _NEW:
            self._show_new(draft_of_class(self.kind.value))
        else:
            self._show_kept(read_paper_book(self.book_path).printer(name))

    def _show_new(self, draft: PrinterDraft) -> None:
        self._draft, self._shown = draft, None
        named = draft.by("name") is not SaidBy.OUR_CHOICE
        self.form.show(draft.printer)
        if not named:
            self.form.name.value = ""
        self.said.value = _said_html(draft)

    def _show_kept(self, printer: Printer) -> None:
        self._draft, self._shown = None, printer
        self.form.show(printer)
        self.said.value = _margins_html(printer)
        self.rest.description = (
            "Take it out of use" if printer.in_use else "Take it into use again"
        )
        self.rest.tooltip = (
            "New plans are not offered it; plans and records keep it"
            if printer.in_use
            else "New plans are offered it again"
        )
        self.margins.show(printer)

    # A new one

    def _ask(self) -> None:
        uri, name = self.address.value.strip(), self.form.name.value.strip()
        self.ask.disabled = True
        self._say(f"{uri} is being asked; a printer that sleeps may take a minute.")

        self._asking.do(lambda: ask_printer(uri, name=name))

    def _answered(self, draft: PrinterDraft) -> None:
        self.ask.disabled = False
        self._say("The printer answered. Look at what it left open, then add it.")
        if self.which.value == _NEW:
            self._show_new(draft)

    def _not_answered(self, error: PrintPlanError) -> None:
        self.ask.disabled = False
        self._fail(error)

    def _begin(self) -> None:
        self._say("")
        self._show_new(draft_of_class(self.kind.value, self.form.name.value))

    def _add(self) -> None:
        if self._draft is None:
            return
        printer = self._draft.typed(self.form.printer).printer
        self._written(add_printer(self.book_path, printer), "is in the book")

    # One of the book

    def _keep(self) -> None:
        shown = self._shown
        if shown is None:
            return
        wanted = self.form.printer
        self._change(lambda _: wanted)

    def _take_out(self) -> None:
        self._change(lambda old: replace(old, in_use=not old.in_use))

    def _change(self, change: Callable[[Printer], Printer]) -> None:
        """Change the printer shown, unless the book was changed meanwhile."""
        shown = self._shown
        if shown is None:
            return
        found: list[Printer] = []

        def changed(old: Printer) -> Printer:
            found[:] = [old]
            return change(old) if old == shown else old

        now = change_printer(self.book_path, shown.name, changed)
        if found[0] != shown:
            self._offer(now.name)
            self._show_kept(now)
            raise RecordError(
                f'"{now.name}" was changed in the book meanwhile; nothing was written.',
                remedy="The form shows what is there now: make your change again.",
            )
        self._written(now, "was changed in the book")

    def _require_kept(self) -> None:
        """Refuse to measure while what was typed is not in the book."""
        if self.form.printer != self._shown:
            raise RecordError(
                "The form holds changes that are not in the book.",
                remedy=f'Press "{self.keep.description}" first, or choose the printer '
                "again to drop them.",
            )

    def _margins_changed(self, printer: Printer) -> None:
        if self._on_added is not None:
            self._on_added(printer)
        self._shown = printer
        self.form.show(printer)
        self.said.value = _margins_html(printer)

    def _written(self, printer: Printer, what: str) -> None:
        self._offer(printer.name)
        self._show_kept(printer)
        self._say(f'"{printer.name}" {what}.')
        if self._on_added is not None:
            self._on_added(printer)


def _said_html(draft: PrinterDraft) -> str:
    """Who says what, and what else there is to know."""
    told: dict[str, list[str]] = {}
    for row in draft.rows():
        if row.by is SaidBy.PRINTER:
            told.setdefault("Said by the printer", []).append(row.what)
    for row in draft.to_ask:
        told.setdefault(f"Our choice: {row.advice}", []).append(row.what)
    parts = [f"<p>{escape(note)}</p>" for note in draft.notes]
    parts += [
        f"<p><b>{escape(head)}</b><br>{escape('; '.join(what))}</p>"
        for head, what in told.items()
    ]
    return "".join(parts)


def _margins_html(printer: Printer) -> str:
    """Who says the margins of each way in."""
    items = "".join(
        f"<li>{escape(feed.name)}: {escape(feed.margins_source or 'not known')}</li>"
        for feed in printer.feeds
    )
    return f"<p><b>Who says the margins</b></p><ul>{items}</ul>"
