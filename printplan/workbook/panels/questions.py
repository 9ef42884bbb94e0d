"""How does a teacher get the questions of a class session on paper?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.free_name import free_path
from printplan.shown_text import escape
from printplan.units import LengthUnit
from printplan.workbook.panels.controls import choice, plain_row
from printplan.workbook.panels.panel import Panel
from printplan.workbook.question_sheet import class_questions, write_question_sheet

if TYPE_CHECKING:
    from printplan.workbook.bench import Bench

_NAME = "questions-for-the-class.pdf"


class QuestionsPanel(Panel):
    """
    The page of questions, written into the lesson's folder at the press of a button.

    Parameters
    ----------
    notebook : str or Path
        Whose questions; one that the teacher changed and saved is read as it is then.
    """

    slot: ClassVar[str] = "questions"
    depends_on: ClassVar[frozenset[str]] = frozenset()
    title: ClassVar[str] = "Questions on paper"

    def __init__(self, bench: Bench, notebook: str | Path) -> None:
        super().__init__(bench, column_only=True)
        self._notebook = Path(notebook)
        self.paper_size = choice("page", [("A4", "a4"), ("Letter", "letter")])
        if bench.spec.lengths_in is LengthUnit.INCHES:
            self.paper_size.value = "letter"
        self.write = widgets.Button(description="Write the page of questions")
        self.write.on_click(self._guarded(self._write))
        self._open([self.paper_size, plain_row(self.write)])

    def _sync(self) -> None:
        """Nothing here depends on the plan."""

    def _write(self) -> None:
        self._clear_error()
        questions = class_questions(self._notebook)
        path = write_question_sheet(
            questions,
            free_path(self.bench.folder / _NAME),
            title="Plan one print: questions",
            page=self.paper_size.value,
        )
        self.words.value = (
            f'<p role="status">{len(questions)} questions are in '
            f"{escape(str(path))}.</p>"
        )
