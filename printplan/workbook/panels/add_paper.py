"""How does a paper come into the book by its profile, looked at and corrected first?"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.checks.output_profile import profile_lines
from printplan.errors import PrintPlanError, RecordError
from printplan.own_folders import own_home
from printplan.record.paper_book import read_paper_book
from printplan.record.paper_from_profile import (
    add_from_profile,
    judge_profile,
    propose_from,
)
from printplan.record.paper_proposal import OF_THE_PAPER, PaperWish
from printplan.record.studio_folder import PROFILES_FOLDER
from printplan.shown_text import escape
from printplan.workbook.panels.book_panel import BookPanel
from printplan.workbook.panels.controls import acts, choice, offer, show_if, text
from printplan.workbook.panels.file_chooser import FileChooser
from printplan.workbook.panels.master import PROFILE_ENDINGS
from printplan.workbook.panels.proposed_fields import proposed_fields
from printplan.workbook.pictures import table_words
from printplan.workbook.profile_folders import profile_places

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from printplan.checks.output_profile import ProfileLine
    from printplan.media import Paper
    from printplan.record.paper_from_profile import JudgedProfile
    from printplan.record.paper_proposal import PaperProposal
    from printplan.workbook.panels.proposed_fields import ProposedField


class AddPaperPanel(BookPanel):
    """
    A profile is chosen, judged, and becomes a paper of the book.

    What is typed goes before what is proposed, and what follows from it follows; an
    emptied field is proposed again.

    Parameters
    ----------
    book_path : str or Path
        The paper book; it has to hold a printer.
    on_added : callable, optional
        Told of the paper when the book holds it.

    Attributes
    ----------
    ui : ipywidgets.VBox
        What a notebook shows.
    """

    title: ClassVar[str] = "A paper by its profile"
    column_px: ClassVar[int] = 560

    def __init__(
        self,
        book_path: str | Path,
        on_added: Callable[[Paper], None] | None = None,
    ) -> None:
        super().__init__(book_path)
        self._on_added = on_added
        self._wish = PaperWish()
        self._judged: JudgedProfile | None = None
        self._proposal: PaperProposal | None = None
        self.verdict, self.facts = text(), text()
        self.printer = choice("printer", [])
        self.printer.tooltip = "The printer that the profile was made for"
        self.chooser = self._chooser()
        self.fields: dict[str, ProposedField] = proposed_fields()
        self.add = widgets.Button(
            description="Add this paper to the book",
            button_style="primary",
            tooltip="Write it into the paper book; its comments stay",
        )
        self._form = widgets.VBox(
            [*(field.ui for field in self.fields.values()), acts(self.add)]
        )
        self._reading = self._worker(self._show_read)
        self.printer.observe(self._guarded(self._read_again), names="value")
        for field in self.fields.values():
            field.when_typed(self._guarded(partial(self._typed, field)))
        self.add.on_click(self._guarded(self._add))
        self._lay_out(
            [
                self.printer,
                self.chooser.ui,
                self.message,
                self.status,
                self.verdict,
                self._form,
            ],
            beside=self.facts,
        )
        self._guarded(self.refresh)()

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until no profile is being read.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return self._reading.settle(timeout_s)

    def refresh(self) -> None:
        """
        Offer the printers that the book holds now.

        Raises
        ------
        RecordError
            If the book cannot be read or holds no printer in use.
        """
        book = read_paper_book(self.book_path)
        names = [it.name for it in book.printers if it.in_use]
        with self._quietly():
            offer(self.printer, [(it, it) for it in names], self.printer.value)
        show_if(len(names) > 1, self.printer)
        show_if(self._judged is not None, self._form)
        if not names:
            raise RecordError(
                "The paper book holds no printer in use.",
                remedy="Add the printer first, then its papers.",
            )

    def _chooser(self) -> FileChooser:
        places = profile_places()
        own = self.book_path.parent / PROFILES_FOLDER
        if own.is_dir():
            places = (("this studio's profiles", own), *places)
        return FileChooser(
            "profile",
            act="Read this profile",
            endings=PROFILE_ENDINGS,
            folder=places[0][1] if places else own_home(),
            chosen=self._read,
            places=places,
        )

    # The profile

    def _read(self, path: Path) -> None:
        """Read a profile aside: one for a press takes a second or two."""
        self._guarded(lambda: self._start(path))()

    def _read_again(self) -> None:
        if self._judged is not None:
            self._start(self._judged.path)

    def _start(self, path: Path) -> None:
        self.refresh()
        printer = read_paper_book(self.book_path).printer(self.printer.value)
        self._forget()
        self._say(f"{path.name} is being read.")
        self._reading.do(lambda: judge_profile(path, printer))

    def _forget(self) -> None:
        self._judged = self._proposal = None
        self._wish = PaperWish()
        self.verdict.value = self.facts.value = ""
        show_if(False, self._form)

    def _show_read(self, judged: JudgedProfile) -> None:
        self._judged = judged
        lines = profile_lines(judged.quality)
        self.verdict.value, self.facts.value = _verdict_html(lines), _facts_html(lines)
        self._say("")
        self._guarded(self._propose)()

    # The paper

    def _typed(self, field: ProposedField) -> None:
        if self._judged is None:
            return
        try:
            self._wish = replace(self._wish, **{field.key: field.read()})
            self._propose()
        except PrintPlanError:
            self.add.disabled = True
            raise

    def _propose(self) -> None:
        """Show what the paper would be, given what was typed."""
        judged = self._judged
        if judged is None:
            return
        book = read_paper_book(self.book_path)
        proposal = propose_from(judged, book, self._wish)
        self._proposal = proposal
        with self._quietly():
            for key, field in self.fields.items():
                field.offer(book, judged.printer)
                field.show(getattr(proposal, key))
        known = proposal.known is not None
        for key, field in self.fields.items():
            show_if(not known or key == "name" or key not in OF_THE_PAPER, field.ui)
        self.add.description = (
            "Add this setup to the paper" if known else "Add this paper to the book"
        )
        self.add.disabled = False
        show_if(True, self._form)

    def _add(self) -> None:
        judged, proposal = self._judged, self._proposal
        if judged is None or proposal is None:
            return
        # The book may have changed since: what is written is what stands here.
        added = add_from_profile(self.book_path, judged, proposal)
        self._forget()
        what = "is in the book"
        if not added.is_new_paper:
            what = f'has another setup in the book, "{added.setup.setup}"'
        copied = (
            f" Its profile was copied to {added.profile}." if added.was_copied else ""
        )
        self._say(f'"{added.paper.name}" {what}.{copied}')
        if self._on_added is not None:
            self._on_added(added.paper)


def _verdict_html(lines: Sequence[ProfileLine]) -> str:
    """What is poor in the profile, or that nothing is."""
    told = "".join(
        f"<li><b>{it.level}</b> {escape(it.problem)} {escape(it.remedy)}</li>"
        for line in lines
        if (it := line.finding) is not None
    )
    return f"<ul>{told}</ul>" if told else "<p>Nothing speaks against this profile.</p>"


def _facts_html(lines: Sequence[ProfileLine]) -> str:
    return table_words(
        [(line.what, line.value, line.means) for line in lines],
        head=("fact", "found", "what it means in a print"),
        breaks=False,
    ).html
