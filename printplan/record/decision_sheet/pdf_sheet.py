"""How does the decision sheet become one page of PDF?"""

from __future__ import annotations

import re
from bisect import bisect_left
from contextlib import closing
from dataclasses import replace
from enum import StrEnum
from typing import TYPE_CHECKING

from printplan.errors import RecordError
from printplan.record.decision_sheet.pdf_text import Rehearsal, Writer, add_fonts
from printplan.shown_text import visible

if TYPE_CHECKING:
    from printplan.pixels.small_picture import SmallPicture
    from printplan.record.decision_sheet.facts import DecisionFacts
    from printplan.record.decision_sheet.print_facts import Section
    from printplan.record.decision_sheet.sheet_drawing import VectorDrawing

_EDGE_MM = 10.0
_GAP_MM = 5.0
_PICTURE_MM = 42.0
_SIGN_MM = 12.0
_LARGEST_PT, _SMALLEST_PT, _STEP_PT = 7.6, 5.6, 0.2
"""Body sizes that are tried: the largest that fits one page. DejaVu Sans is large for
its size; 5.6 pt have the small letters of 7 pt in a book face. Our choice."""
_PIXELS = re.compile(r"(font-size: [\d.]+)px")
_LONGEST_WORDS = 400
"""Letters of a note or an answer on the page; the record keeps all. Our choice."""


class PageSize(StrEnum):
    """Paper for the decision sheet itself."""

    A4 = "A4"
    LETTER = "Letter"


def pdf_sheet(facts: DecisionFacts, *, page: PageSize = PageSize.A4) -> bytes:
    """
    The decision sheet as one page.

    Parameters
    ----------
    facts : DecisionFacts
        The same facts give the same bytes.

    Returns
    -------
    bytes
        PDF with its letters inside; words can be searched and copied. Findings that
        the page has no room for are counted on it.

    Raises
    ------
    RecordError
        If the words do not go on one page.
    """
    short, every = _shortened(facts), len(facts.findings)
    with closing(_Pages(page)) as scratch:

        def foot_free(size_pt: float, shown: int) -> bool:
            return _Layout(scratch.rehearsal(size_pt), short, shown).fits

        sizes_pt = [
            _LARGEST_PT - step * _STEP_PT
            for step in range(round((_LARGEST_PT - _SMALLEST_PT) / _STEP_PT) + 1)
        ]
        first = bisect_left(sizes_pt, True, key=lambda it: foot_free(it, every))
        # Of fewer findings the smallest letters hold as many as the page takes.
        size_pt, shown = sizes_pt[min(first, len(sizes_pt) - 1)], every
        if first == len(sizes_pt):
            shown = every - bisect_left(
                range(every + 1),
                True,
                key=lambda left_out: foot_free(size_pt, every - left_out),
            )
    if shown < 0:
        raise RecordError(
            f"The words of this decision sheet do not go on one {page} page.",
            remedy="Write it as HTML, which has as many pages as it needs.",
        )
    with closing(_Pages(page)) as pages:
        layout = _Layout(pages.new_page(size_pt), short, shown)
        layout.sign()
        return pages.finished(facts)


def _shortened(facts: DecisionFacts) -> DecisionFacts:
    """Notes and answers at a length that leaves room for the rest."""
    return replace(
        facts,
        notes=tuple(_cut(note) for note in facts.notes),
        findings=tuple(replace(it, done=_cut(it.done)) for it in facts.findings),
    )


def _cut(words: str) -> str:
    if len(words) <= _LONGEST_WORDS:
        return words
    return f"{words[:_LONGEST_WORDS].rstrip()} … (all of it is in the record)"


class _Pages:
    """Pages of one size that share their fonts."""

    def __init__(self, page: PageSize) -> None:
        from fpdf import FPDF  # noqa: PLC0415 - 0.5 s to load

        self._pdf = FPDF(unit="mm", format=page)
        self._pdf.set_auto_page_break(auto=False)
        self._pdf.set_margin(0)
        self._fonts = add_fonts(self._pdf)

    def new_page(self, size_pt: float) -> Writer:
        """A page to be set in letters of a size."""
        self._pdf.add_page()
        return Writer(self._pdf, size_pt, known=set(self._fonts[0].cmap))

    def rehearsal(self, size_pt: float) -> Writer:
        """A page on which nothing is set."""
        if not self._pdf.pages:
            self._pdf.add_page()  # fpdf2 breaks lines on a page alone
        return Rehearsal(self._pdf, size_pt, known=set(self._fonts[0].cmap))

    def finished(self, facts: DecisionFacts) -> bytes:
        """All pages as a file."""
        self._pdf.set_title(visible(f"Decision sheet: {facts.title}"))
        self._pdf.set_lang("en")
        self._pdf.set_producer("printplan decision sheet")
        self._pdf.set_creation_date(facts.made_on)
        return bytes(self._pdf.output())

    def close(self) -> None:
        """Let go of the font files."""
        for font in self._fonts:
            font.ttfont.close()


class _Layout:
    """All of the sheet but its signature, on one page; it may be too long."""

    def __init__(self, writer: Writer, facts: DecisionFacts, shown: int) -> None:
        self.pdf = writer.pdf
        self.facts = facts
        self.shown = shown
        self.writer = writer
        self.width_mm = self.pdf.w - 2 * _EDGE_MM
        self.column_mm = (self.width_mm - 2 * _GAP_MM) / 3
        top_mm = self._pictures(self._header(_EDGE_MM))
        bottoms_mm = [self._first(top_mm), self._second(top_mm), self._third(top_mm)]
        mat = () if facts.mat is None else (facts.mat,)
        for section in (*mat, facts.delivery, facts.cost):  # where there is most room
            column = bottoms_mm.index(min(bottoms_mm))
            bottoms_mm[column] = self._section(column, bottoms_mm[column], section)
        foot_mm = self._foot(max(bottoms_mm) + 1.0)
        self.fits = foot_mm <= self.pdf.h - _EDGE_MM - _SIGN_MM

    def _left(self, column: int) -> float:
        return _EDGE_MM + column * (self.column_mm + _GAP_MM)

    def _header(self, top_mm: float) -> float:
        facts, writer = self.facts, self.writer
        side_mm = 62.0
        left_mm, wide_mm = _EDGE_MM, self.width_mm - side_mm
        bottom_mm = writer.words(
            left_mm, top_mm, wide_mm, facts.title, scale=2.1, bold=True
        )
        bottom_mm = writer.words(left_mm, bottom_mm, wide_mm, facts.line, scale=1.15)
        right_mm = _EDGE_MM + wide_mm
        down_mm = writer.words(
            right_mm, top_mm, side_mm, "Decision sheet", scale=1.3, bold=True, align="R"
        )
        down_mm = writer.words(
            right_mm, down_mm, side_mm, f"File made {facts.made_at}", align="R"
        )
        if facts.edition:
            edition = f"Edition: {facts.edition}"
            down_mm = writer.words(right_mm, down_mm, side_mm, edition, align="R")
        bottom_mm = max(bottom_mm, down_mm) + 0.8
        writer.rule(_EDGE_MM, bottom_mm, self.width_mm, width_mm=0.5)
        first = "  ".join(
            f"**{row.what}**: {writer.plain(row.value)}." for row in facts.header
        )
        return writer.marked(_EDGE_MM, bottom_mm + 1.0, self.width_mm, first) + 1.5

    def _pictures(self, top_mm: float) -> float:
        facts, writer = self.facts, self.writer
        drawing = facts.sheet_drawing
        meaning = f" ({drawing.legend})" if drawing.legend else ""
        captions = (
            "The picture, overview",
            "Soft proof: the paper in the room, overview",
            f"The sheet, to scale{meaning}",
        )
        for column, picture in enumerate((facts.picture, facts.proof)):
            self._picture(picture, self._left(column), top_mm)
        self._drawing(drawing, self._left(2), top_mm)
        bottom_mm = top_mm + _PICTURE_MM + 0.6
        ends_mm = [
            writer.words(
                self._left(column), bottom_mm, self.column_mm, caption, align="C"
            )
            for column, caption in enumerate(captions)
        ]
        end_mm = max(ends_mm)
        for note in facts.notes:
            end_mm = writer.words(_EDGE_MM, end_mm + 0.6, self.width_mm, note)
        return end_mm

    def _picture(self, picture: SmallPicture, left_mm: float, top_mm: float) -> None:
        """A picture as large as its place takes it, above its caption."""
        scale = min(self.column_mm / picture.width_px, _PICTURE_MM / picture.height_px)
        width_mm, height_mm = scale * picture.width_px, scale * picture.height_px
        x = left_mm + (self.column_mm - width_mm) / 2
        y = top_mm + _PICTURE_MM - height_mm
        self.writer.picture(
            picture.jpeg, x, y, width_mm, height_mm, picture.description
        )
        self.writer.frame(x, y, width_mm, height_mm, width_mm=0.1)

    def _drawing(self, drawing: VectorDrawing, left_mm: float, top_mm: float) -> float:
        """A drawing in the middle of a column, as large as it may be; its foot."""
        scale = min(self.column_mm / drawing.width_mm, _PICTURE_MM / drawing.height_mm)
        width_mm, height_mm = scale * drawing.width_mm, scale * drawing.height_mm
        self.writer.picture(
            # fpdf2 reads a pixel in SVG as ¾ of the drawing's unit.
            _PIXELS.sub(r"\1", drawing.svg).encode(),
            left_mm + (self.column_mm - width_mm) / 2,
            top_mm,
            width_mm,
            height_mm,
            drawing.description,
        )
        return top_mm + height_mm

    def _section(self, column: int, top_mm: float, section: Section) -> float:
        left_mm, writer = self._left(column), self.writer
        down_mm = writer.heading(left_mm, top_mm, self.column_mm, section.heading)
        for row in section.rows:
            down_mm = writer.row(left_mm, down_mm, self.column_mm, row.what, row.value)
        for words in section.words:
            down_mm = writer.words(left_mm, down_mm + 0.5, self.column_mm, words)
        return down_mm

    def _first(self, top_mm: float) -> float:
        facts = self.facts
        down_mm = self._section(0, top_mm, facts.print_section)
        down_mm = self._section(0, down_mm, facts.sharpening)
        if facts.responses is not None:
            down_mm = self._drawing(facts.responses, self._left(0), down_mm + 1.0)
        return down_mm

    def _second(self, top_mm: float) -> float:
        facts, writer, left_mm = self.facts, self.writer, self._left(1)
        down_mm = self._section(1, top_mm, facts.colour)
        down_mm = writer.heading(
            left_mm, down_mm, self.column_mm, "Findings, and what was done"
        )
        if not facts.findings:
            nothing = "Nothing spoke against this print."
            down_mm = writer.words(left_mm, down_mm, self.column_mm, nothing)
        for kept in facts.findings[: self.shown]:
            found = kept.finding
            source = f" ({writer.plain(found.source)})" if found.source else ""
            words = (
                f"**{found.level}**: {writer.plain(found.problem)} "
                f"{writer.plain(found.remedy)}{source} **Done**: "
                f"{writer.plain(kept.done) or 'nothing noted'}"
            )
            down_mm = writer.marked(left_mm, down_mm, self.column_mm, words) + 0.5
        left_out = len(facts.findings) - self.shown
        if left_out:
            words = f"{left_out} more in the record, none graver than these."
            down_mm = writer.words(left_mm, down_mm, self.column_mm, words, bold=True)
        return down_mm

    def _third(self, top_mm: float) -> float:
        facts, writer = self.facts, self.writer
        inset_mm = 1.6
        left_mm, wide_mm = self._left(2) + inset_mm, self.column_mm - 2 * inset_mm
        down_mm = writer.heading(left_mm, top_mm, wide_mm, facts.dialogue.heading)
        for setting in facts.dialogue.settings:
            down_mm = writer.row(
                left_mm,
                down_mm,
                wide_mm,
                setting.what,
                setting.value,
                aside=setting.attribute,
            )
        down_mm = writer.heading(left_mm, down_mm, wide_mm, "Must be off")
        for words in facts.dialogue.off:
            down_mm = writer.item(left_mm, down_mm, wide_mm, "✗", words)
        down_mm += 1.2
        frame_top_mm = top_mm + 1.0
        self.writer.frame(
            self._left(2),
            frame_top_mm,
            self.column_mm,
            down_mm - frame_top_mm,
            width_mm=0.4,
        )
        left_mm = self._left(2)
        down_mm = writer.heading(
            left_mm, down_mm, self.column_mm, facts.by_hand_heading
        )
        for words in facts.by_hand:
            down_mm = writer.item(left_mm, down_mm, self.column_mm, "☐", words)
        return down_mm

    def _foot(self, top_mm: float) -> float:
        facts, writer = self.facts, self.writer
        down_mm = writer.heading(_EDGE_MM, top_mm, self.width_mm, "Take care")
        words = " ".join(facts.cautions)
        down_mm = writer.words(_EDGE_MM, down_mm, self.width_mm, words)
        heading = "Files and versions"
        down_mm = writer.heading(_EDGE_MM, down_mm, self.width_mm, heading)
        for one in facts.hashes:
            down_mm = writer.hash_row(
                _EDGE_MM, down_mm, self.width_mm, one.what, one.name, one.digest
            )
        words = (
            f"Hashes are SHA-256 where no other is named. Made with {facts.versions}."
        )
        if writer.missing:
            words += (
                f" {len(writer.missing)} different signs are not in this page's "
                "letters, and shown as ?; the record has them."
            )
        return writer.words(_EDGE_MM, down_mm + 0.4, self.width_mm, words)

    def sign(self) -> None:
        """Rule the lines for number, date and signature."""
        down_mm = self.pdf.h - _EDGE_MM - 3.5
        edition = self.facts.edition
        label = (
            f"Number in the edition: {edition}"
            if edition
            else ("Number in the edition")
        )
        for column, words in enumerate((label, "Printed on", "Signature")):
            left_mm = self._left(column)
            self.writer.rule(left_mm, down_mm, self.column_mm, width_mm=0.2)
            self.writer.words(left_mm, down_mm + 0.4, self.column_mm, words)
