"""Which papers are in use, and what are they called?"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.errors import RecordError
from printplan.record.book_changes import change_paper
from printplan.record.paper_book import read_paper_book
from printplan.workbook.panels.book_panel import BookPanel
from printplan.workbook.panels.controls import acts, choice, line, offer, show_if, text
from printplan.workbook.pictures import table_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.media import Paper, PaperOnPrinter

_REST, _USE = "Take it out of use", "Take it into use again"


class PaperList(BookPanel):
    """
    The papers of a book: renamed, taken out of use and back, whole or by setup.

    Parameters
    ----------
    book_path : str or Path
        The paper book.
    on_changed : callable, optional
        Told of a paper when the book holds its change.

    Attributes
    ----------
    ui : ipywidgets.VBox
        What a notebook shows.
    """

    title: ClassVar[str] = "Papers of the studio"

    def __init__(
        self,
        book_path: str | Path,
        on_changed: Callable[[Paper], None] | None = None,
    ) -> None:
        super().__init__(book_path)
        self._on_changed = on_changed
        self.words = text()
        self.paper = choice("paper", [])
        self.paper.tooltip = "The paper to look at and change"
        self.name = line("name", tooltip="Plans and records still find its former name")
        self.rename = widgets.Button(
            description="Rename", tooltip="Write the name into the paper book"
        )
        self.rest = widgets.Button(
            description=_REST,
            tooltip="Whether new plans are offered it; plans and records keep it",
        )
        self.setup = choice("setup", [])
        self.setup.tooltip = "One of several ways to print on this paper"
        self.rest_setup = widgets.Button(
            description=_REST, tooltip="Whether new plans are offered this setup"
        )
        self.paper.observe(self._guarded(self._show), names="value")
        self.setup.observe(self._guarded(self._show_buttons), names="value")
        for button, press in (
            (self.rename, self._rename),
            (self.rest, self._turn),
            (self.rest_setup, self._turn_setup),
        ):
            button.on_click(self._guarded(press))
        self._lay_out(
            [
                self.paper,
                acts(self.rest),
                self.name,
                acts(self.rename),
                self.setup,
                acts(self.rest_setup),
                self.message,
                self.status,
            ],
            beside=self.words,
        )
        self._guarded(self.refresh)()

    def refresh(self, name: str | None = None) -> None:
        """
        Show what the book holds now.

        Parameters
        ----------
        name : str, optional
            Of the paper to show; the present one if not given.

        Raises
        ------
        RecordError, SpecError
            If the book cannot be read.
        """
        papers = read_paper_book(self.book_path).papers
        wanted = name if name is not None else self.paper.value
        with self._quietly():
            offered = [
                (it.name if it.in_use else f"{it.name} (out of use)", it.name)
                for it in papers
            ]
            offer(self.paper, offered, wanted)
        self._show()

    @property
    def _chosen(self) -> Paper | None:
        name = self.paper.value
        return None if name is None else read_paper_book(self.book_path).paper(name)

    def _show(self) -> None:
        paper = self._chosen
        show_if(paper is not None, self.paper, self.name, self.rename, self.rest)
        if paper is None:
            self.words.value = "<p>The paper book holds no paper yet.</p>"
            show_if(False, self.setup, self.rest_setup)
            return
        with self._quietly():
            self.name.value = paper.name
            setups = [(_setup_words(it), it.words) for it in paper.on_printer]
            offer(self.setup, setups, self.setup.value)
        self.words.value = _paper_html(paper)
        self._show_buttons()

    def _show_buttons(self) -> None:
        paper = self._chosen
        if paper is None:
            return
        self.rest.description = _REST if paper.in_use else _USE
        several = len(paper.on_printer) > 1
        show_if(several, self.setup, self.rest_setup)
        for setup in paper.on_printer:
            if setup.words == self.setup.value:
                self.rest_setup.description = _REST if setup.in_use else _USE

    def _rename(self) -> None:
        name = self.name.value.strip()
        if not name:
            raise RecordError("The paper has no name.", remedy="Type its new name.")
        self._change(lambda old: replace(old, name=name), f'is called "{name}" now')

    def _turn(self) -> None:
        rests = self.rest.description == _REST
        self._change(lambda old: replace(old, in_use=not rests), _turned(rests))

    def _turn_setup(self) -> None:
        rests, words = self.rest_setup.description == _REST, self.setup.value

        def turned(old: Paper) -> Paper:
            setups = (
                replace(it, in_use=not rests) if it.words == words else it
                for it in old.on_printer
            )
            return replace(old, on_printer=tuple(setups))

        self._change(turned, f"on {words} {_turned(rests)}")

    def _change(self, change: Callable[[Paper], Paper], what: str) -> None:
        before: str | None = self.paper.value
        if before is None:
            return
        paper = change_paper(self.book_path, before, change)
        self.refresh(paper.name)
        self._say(f'"{before}" {what}.')
        if self._on_changed is not None:
            self._on_changed(paper)


def _turned(rests: bool) -> str:  # noqa: FBT001 - reads as its name
    return "is out of use" if rests else "is in use again"


def _setup_words(setup: PaperOnPrinter) -> str:
    words = f"{setup.printer}{f', {setup.setup}' if setup.setup else ''}"
    return words if setup.in_use else f"{words} (out of use)"


def _paper_html(paper: Paper) -> str:
    rows = [
        ("surface", f"{paper.surface}"),
        (
            "weight and thickness",
            f"{paper.weight_gsm:g} g/m², {paper.thickness_um:g} µm",
        ),
    ]
    if paper.note:
        rows.append(("note", paper.note))
    for setup in paper.on_printer:
        told = [setup.black_ink, setup.media_type, setup.quality]
        told.append(Path(setup.profile).name)
        rows.append((_setup_words(setup), ", ".join(it for it in told if it)))
    return table_words(rows, caption=paper.name).html
