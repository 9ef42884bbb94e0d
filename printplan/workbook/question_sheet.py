"""Which questions does a class get on paper, on one page with lines to write on?"""

from __future__ import annotations

import re
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal

import nbformat
from fpdf import FPDF

from printplan.errors import RecordError
from printplan.free_name import give_free_name
from printplan.record.atomic_write import part_beside
from printplan.record.decision_sheet.pdf_text import Writer, add_fonts
from printplan.shown_text import visible

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fpdf.fonts import TTFFont

PageSize = Literal["a4", "letter"]

_PART: Final = re.compile(r"^## (?:[\d-]+ min: )?(.+)$", re.MULTILINE)
_QUESTION: Final = re.compile(
    r"^\*\*Ask the room\.\*\* (.+?)(?=\n\n|\Z)", re.MULTILINE | re.DOTALL
)
_MARKS: Final = re.compile(r"(?<!\\)[*`]+")

_EDGE_MM: Final = 15.0
_PART_MM: Final = 34.0
_NUMBER_MM: Final = 8.0
_GAP_MM: Final = 3.0
"""Between two questions."""

_LINE_MM, _MOST_LINES = 6.5, 3
"""From line to line for handwriting, at least, and lines for one answer, at most. Our
choice."""

_SIZES_PT: Final = (10.5, 10.0, 9.5, 9.0, 8.5)


@dataclass(frozen=True, slots=True)
class Question:
    """
    One question to the room.

    Attributes
    ----------
    part : str
        Heading of the part of the session that it belongs to.
    words : str
        Without marks.
    """

    part: str
    words: str


def class_questions(notebook: str | Path) -> list[Question]:
    """
    The questions of a class session, in order and without their answers.

    Parameters
    ----------
    notebook : str or Path
        Each question is a paragraph that begins with ``**Ask the room.**``.

    Raises
    ------
    RecordError
        If it cannot be read, or asks nothing.
    """
    path = Path(notebook)
    try:
        cells = nbformat.read(path, as_version=4).cells  # type: ignore[no-untyped-call]
    except (OSError, ValueError, nbformat.ValidationError) as error:
        raise RecordError(
            f"The notebook {path.name} cannot be read ({error}).",
            remedy="Save it, and keep its name.",
        ) from error
    found: list[Question] = []
    part = ""
    for cell in cells:
        if cell.cell_type != "markdown":
            continue
        headings = _PART.findall(cell.source)
        part = headings[0] if headings else part
        found += [
            Question(part, _MARKS.sub("", " ".join(words.split())))
            for words in _QUESTION.findall(cell.source)
        ]
    if not found:
        raise RecordError(
            f"The notebook {path.name} asks the room nothing.",
            remedy="Begin each question with **Ask the room.** in a text cell, and "
            "save the notebook.",
        )
    return found


def write_question_sheet(
    questions: Sequence[Question],
    path: str | Path,
    *,
    title: str,
    page: PageSize = "a4",
) -> Path:
    """
    Write the questions on one page.

    Parameters
    ----------
    path : str or Path
        A PDF that is not there yet.

    Returns
    -------
    Path
        The file, absolute.

    Raises
    ------
    RecordError
        If the questions do not go on one page, or the file exists or cannot be
        written.
    """
    target = Path(path).absolute()
    data = _page(questions, title, page)
    taken = "Choose another name for the page."
    with part_beside(target, if_exists=taken) as part:
        part.write_bytes(data)
        give_free_name(part, target)
    return target


def _page(questions: Sequence[Question], title: str, page: PageSize) -> bytes:
    # As many lines as fit, and then the largest letters.
    for lines in range(_MOST_LINES, 0, -1):
        for size_pt in _SIZES_PT:
            with closing(_Page(page, size_pt)) as bare:
                words_mm = _set(bare.writer, questions, title, lines=0, line_mm=0.0)
                free_mm = bare.writer.pdf.h - _EDGE_MM - words_mm
            line_mm = free_mm / lines / len(questions)
            if line_mm < _LINE_MM:
                continue
            with closing(_Page(page, size_pt)) as ruled:
                _set(ruled.writer, questions, title, lines=lines, line_mm=line_mm)
                ruled.writer.pdf.set_title(visible(title))
                ruled.writer.pdf.set_lang("en")
                return bytes(ruled.writer.pdf.output())
    raise RecordError(
        f"{len(questions)} questions do not go on one page with a line for each.",
        remedy="Shorten them, or ask fewer.",
    )


class _Page:
    """An empty page with its fonts, which hold their own files open."""

    def __init__(self, page: PageSize, size_pt: float) -> None:
        pdf = FPDF(unit="mm", format=page)
        pdf.set_auto_page_break(auto=False)
        pdf.set_margin(0)
        self._fonts: list[TTFFont] = add_fonts(pdf)
        pdf.add_page()
        self.writer = Writer(pdf, size_pt, known=set(self._fonts[0].cmap))

    def close(self) -> None:
        """Let go of the font files."""
        for font in self._fonts:
            font.ttfont.close()


def _set(
    writer: Writer,
    questions: Sequence[Question],
    title: str,
    *,
    lines: int,
    line_mm: float,
) -> float:
    """Set the page; returns its foot."""
    width_mm = writer.pdf.w - 2 * _EDGE_MM
    down_mm = writer.words(_EDGE_MM, _EDGE_MM, width_mm, title, scale=1.5, bold=True)
    down_mm += 3.0
    half_mm = width_mm / 2
    for left_mm, label in ((0.0, "Name"), (half_mm, "Date")):
        foot_mm = writer.words(_EDGE_MM + left_mm, down_mm, half_mm, label)
        writer.rule(_EDGE_MM + left_mm + 14, foot_mm, half_mm - 20, width_mm=0.15)
    down_mm = foot_mm + 4.0
    left_mm = _EDGE_MM + _PART_MM
    across_mm = width_mm - _PART_MM
    part = ""
    for number, question in enumerate(questions, 1):
        down_mm += _GAP_MM
        part_foot_mm = down_mm
        if question.part != part:
            part = question.part
            part_foot_mm = writer.words(
                _EDGE_MM, down_mm, _PART_MM - 4, part, bold=True
            )
        writer.words(left_mm, down_mm, _NUMBER_MM, f"{number}.", bold=True)
        down_mm = writer.words(
            left_mm + _NUMBER_MM, down_mm, across_mm - _NUMBER_MM, question.words
        )
        for _ in range(lines):
            down_mm += line_mm
            writer.rule(
                left_mm + _NUMBER_MM, down_mm, across_mm - _NUMBER_MM, width_mm=0.1
            )
        down_mm = max(down_mm, part_foot_mm)
    return down_mm
