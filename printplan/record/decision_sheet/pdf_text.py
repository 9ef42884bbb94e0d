"""How are words set on the page of a PDF?"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Literal, cast

from printplan.pixels.typeface import font_path
from printplan.shown_text import visible
from printplan.units import MM_PER_INCH, POINTS_PER_INCH

if TYPE_CHECKING:
    from fpdf import FPDF
    from fpdf.fonts import TTFFont

SANS, MONO = "DejaVu Sans", "DejaVu Sans Mono"
"""As drawings in SVG name them too."""

_SPACES = re.compile(r"[ \t\r\n]+")
_HELD_TOGETHER = re.compile(
    r"(?<=\d) (?=(×|mm|in|ppi|px|µm|g/m²|L\*|dE00|MB|%)(\W|$))|(?<=×) (?=\d)"
)
# What fpdf2 takes for more than a letter: a hyphen that may be, ends of lines, escapes
# and marks that are not a pair of stars.
_READ_AS_MORE = re.compile(r"[\u00ad\\\n\r\f]|\*{3,}|__|~~|--|\]\(")
_TOLERANCE_MM = 1e-9
_LEADING = 1.2
_LABEL_SHARE = 0.34
_ASIDE_SCALE = 0.84
_GREY = 70
_MARK_MM = 3.0


def mm_from_points(points: float) -> float:
    """
    Length of typographic points.

    Returns
    -------
    float
        Millimetres.
    """
    return points * MM_PER_INCH / POINTS_PER_INCH


def add_fonts(pdf: FPDF) -> list[TTFFont]:
    """
    Make the fonts known to a file.

    Returns
    -------
    list of TTFFont
        They hold their files open; close ``ttfont`` of each when all is written.
    """
    pdf.add_font(SANS, "", font_path())
    pdf.add_font(SANS, "B", font_path("DejaVuSans-Bold"))
    pdf.add_font(MONO, "", font_path("DejaVuSansMono"))
    return [cast("TTFFont", font) for font in pdf.fonts.values()]


class Writer:
    """
    Sets words at places of a page; each method returns where they end.

    Parameters
    ----------
    pdf : FPDF
        In millimetres, with a page and the fonts of `add_fonts`.
    size_pt : float
        Of the body.
    known : set of int
        Code points that the fonts have.

    Attributes
    ----------
    missing : set of str
        Letters that the fonts lack; a question mark stands for each.
    """

    def __init__(self, pdf: FPDF, size_pt: float, *, known: set[int]) -> None:
        self.pdf = pdf
        self.size_pt = size_pt
        self.missing: set[str] = set()
        self._known = known

    def words(  # noqa: PLR0913 - a place, words and their look
        self,
        left_mm: float,
        top_mm: float,
        width_mm: float,
        text: str,
        *,
        scale: float = 1.0,
        bold: bool = False,
        align: Literal["L", "R", "C"] = "L",
    ) -> float:
        """
        Set words in lines.

        Parameters
        ----------
        scale : float, optional
            Size of the letters over the body's.

        Returns
        -------
        float
            Foot of the last line.
        """
        self._set(scale=scale, bold=bold)
        return self._lines(left_mm, top_mm, width_mm, self.plain(text), align=align)

    def marked(
        self, left_mm: float, top_mm: float, width_mm: float, text: str
    ) -> float:
        """
        Set words of which some are bold.

        Parameters
        ----------
        text : str
            Two stars before and after what is bold.
        """
        self._set()
        return self._lines(left_mm, top_mm, width_mm, text, markdown=True)

    def plain(self, text: str) -> str:
        """Words that the fonts can show, and that are read as no marks."""
        text = visible(_SPACES.sub(" ", text).strip())
        text = _HELD_TOGETHER.sub("\u00a0", text)
        self.missing |= {letter for letter in text if ord(letter) not in self._known}
        shown = "".join("?" if letter in self.missing else letter for letter in text)
        for pair in ("**", "__", "~~", "--", "]("):
            shown = shown.replace(pair, "\u200b".join(pair))
        return shown

    def heading(
        self, left_mm: float, top_mm: float, width_mm: float, text: str
    ) -> float:
        """Set a heading with a rule under it."""
        foot_mm = self.words(
            left_mm, top_mm + 1.8, width_mm, text, scale=1.12, bold=True
        )
        self.rule(left_mm, foot_mm + 0.1, width_mm, width_mm=0.15)
        return foot_mm + 0.7

    def row(  # noqa: PLR0913 - a place and three kinds of words
        self,
        left_mm: float,
        top_mm: float,
        width_mm: float,
        what: str,
        value: str,
        *,
        aside: str = "",
    ) -> float:
        """
        Set a name in the left third and its value beside it.

        Parameters
        ----------
        aside : str, optional
            Small words behind the value where its last line has room, else under the
            name if they fit its column, else under the value.
        """
        label_mm = _LABEL_SHARE * width_mm
        across_mm, rest_mm = left_mm + label_mm, (1 - _LABEL_SHARE) * width_mm
        self._set(grey=_GREY)
        label_end_mm = self._lines(left_mm, top_mm, label_mm - 1, self.plain(what))
        self._set()
        text = self.plain(value)
        end_mm = self._lines(across_mm, top_mm, rest_mm, text)
        if not aside:
            return max(label_end_mm, end_mm)
        aside = self.plain(aside)
        free_mm = rest_mm - self._last_mm(rest_mm, text) - 1.5
        line_mm = self._line_mm
        self._set(scale=_ASIDE_SCALE, grey=_GREY)
        if self.pdf.get_string_width(aside) <= free_mm:
            self._beside(across_mm, end_mm - line_mm, rest_mm, aside, line_mm)
        elif label_end_mm < end_mm and self.pdf.get_string_width(aside) < label_mm:
            label_end_mm = self._lines(left_mm, label_end_mm, label_mm, aside)
        else:
            end_mm = self._lines(across_mm, end_mm, rest_mm, aside)
        return max(label_end_mm, end_mm)

    def item(
        self, left_mm: float, top_mm: float, width_mm: float, mark: str, text: str
    ) -> float:
        """
        Set one item of a list.

        Parameters
        ----------
        mark : str
            Stands before it.
        """
        self._set()
        self._lines(left_mm, top_mm, _MARK_MM + 1, mark)
        left_mm, width_mm = left_mm + _MARK_MM, width_mm - _MARK_MM
        return self._lines(left_mm, top_mm, width_mm, self.plain(text)) + 0.2

    def hash_row(  # noqa: PLR0913, PLR0917 - a place and three columns
        self,
        left_mm: float,
        top_mm: float,
        width_mm: float,
        what: str,
        name: str,
        digest: str,
    ) -> float:
        """Set a file's name and its whole hash."""
        first_mm, second_mm = 0.12 * width_mm, 0.36 * width_mm
        self._set(grey=_GREY)
        ends = [self._lines(left_mm, top_mm, first_mm, self.plain(what))]
        self._set()
        across_mm = left_mm + first_mm
        ends.append(self._lines(across_mm, top_mm, second_mm - 2, self.plain(name)))
        across_mm += second_mm
        self.pdf.set_font(MONO, "", 0.95 * self.size_pt)
        rest_mm = width_mm - first_mm - second_mm
        ends.append(self._lines(across_mm, top_mm, rest_mm, self.plain(digest)))
        return max(ends)

    def rule(
        self, left_mm: float, down_mm: float, length_mm: float, *, width_mm: float
    ) -> None:
        """Draw a line across."""
        self.pdf.set_draw_color(0)
        self.pdf.set_line_width(width_mm)
        self.pdf.line(left_mm, down_mm, left_mm + length_mm, down_mm)

    def frame(
        self,
        left_mm: float,
        top_mm: float,
        across_mm: float,
        height_mm: float,
        *,
        width_mm: float,
    ) -> None:
        """
        Draw a frame.

        Parameters
        ----------
        width_mm : float
            Of its line.
        """
        self.pdf.set_draw_color(0)
        self.pdf.set_line_width(width_mm)
        self.pdf.rect(left_mm, top_mm, across_mm, height_mm)

    @property
    def _line_mm(self) -> float:
        return _LEADING * mm_from_points(self.pdf.font_size_pt)

    def _set(self, *, scale: float = 1.0, bold: bool = False, grey: int = 0) -> None:
        self.pdf.set_font(SANS, "B" if bold else "", scale * self.size_pt)
        self.pdf.set_text_color(grey)

    def picture(  # noqa: PLR0913, PLR0917 - a place, a size and a description
        self,
        data: bytes,
        left_mm: float,
        top_mm: float,
        width_mm: float,
        height_mm: float,
        description: str,
    ) -> None:
        """Set a picture or a drawing; whoever does not see it is told its words."""
        self.pdf.image(data, left_mm, top_mm, width_mm, height_mm, alt_text=description)

    def _lines(  # noqa: PLR0913 - a place, words and how they are read
        self,
        left_mm: float,
        top_mm: float,
        width_mm: float,
        text: str,
        *,
        align: str = "L",
        markdown: bool = False,
    ) -> float:
        self.pdf.set_xy(left_mm, top_mm)
        self.pdf.c_margin = 0
        self.pdf.multi_cell(
            width_mm, self._line_mm, text, align=align, markdown=markdown
        )
        return float(self.pdf.get_y())

    def _last_mm(self, width_mm: float, text: str) -> float:
        """Length of the last line that words are broken into."""
        lines = self.pdf.multi_cell(width_mm, text=text, dry_run=True, output="LINES")
        return float(self.pdf.get_string_width(cast("list[str]", lines)[-1]))

    def _beside(
        self, left_mm: float, top_mm: float, width_mm: float, text: str, line_mm: float
    ) -> None:
        """Set words at the right end of a line."""
        self.pdf.set_xy(left_mm, top_mm)
        self.pdf.cell(width_mm, line_mm, text, align="R")


class Rehearsal(Writer):
    """
    Tells where words would end, and sets nothing: many times as quick.

    Words are broken as fpdf2 breaks them: at the last space that fits, or within a
    word that is longer than a line. Words with letters that it reads as more than
    letters are broken by itself.
    """

    def rule(
        self, left_mm: float, down_mm: float, length_mm: float, *, width_mm: float
    ) -> None:
        """Draw nothing."""

    def frame(
        self,
        left_mm: float,
        top_mm: float,
        across_mm: float,
        height_mm: float,
        *,
        width_mm: float,
    ) -> None:
        """Draw nothing."""

    def picture(  # noqa: PLR0913, PLR0917 - as it is set
        self,
        data: bytes,
        left_mm: float,
        top_mm: float,
        width_mm: float,
        height_mm: float,
        description: str,
    ) -> None:
        """Draw nothing."""

    def _lines(  # noqa: PLR0913 - as they are set
        self,
        left_mm: float,
        top_mm: float,
        width_mm: float,
        text: str,
        *,
        align: str = "L",
        markdown: bool = False,
    ) -> float:
        del left_mm, align
        self.pdf.c_margin = 0
        if not _READ_AS_MORE.search(text):
            ends_mm = self._ends_mm(width_mm, text, markdown=markdown)
            return top_mm + max(len(ends_mm), 1) * self._line_mm
        height_mm = self.pdf.multi_cell(
            width_mm,
            self._line_mm,
            text,
            markdown=markdown,
            dry_run=True,
            output="HEIGHT",
        )
        return top_mm + cast("float", height_mm)

    def _last_mm(self, width_mm: float, text: str) -> float:
        if _READ_AS_MORE.search(text):
            return super()._last_mm(width_mm, text)
        return self._ends_mm(width_mm, text)[-1]

    def _beside(
        self, left_mm: float, top_mm: float, width_mm: float, text: str, line_mm: float
    ) -> None:
        """Set nothing."""

    def _ends_mm(
        self, width_mm: float, text: str, *, markdown: bool = False
    ) -> list[float]:
        """Lengths of the lines that words are broken into."""
        font = cast("TTFFont", self.pdf.current_font)
        bold = cast("TTFFont", self.pdf.fonts[f"{SANS.lower()}B"])
        # Widths stand in thousandths of the letters' size.
        unit_mm = mm_from_points(self.pdf.font_size_pt) / 1000
        letters: list[tuple[str, float]] = []
        for number, part in enumerate(text.split("**") if markdown else [text]):
            widths = (bold if number % 2 else font).cw
            letters += [(letter, widths[ord(letter)]) for letter in part]
        ends = _line_ends(letters, (width_mm + _TOLERANCE_MM) / unit_mm)
        return [end * unit_mm for end in ends]


def _line_ends(letters: list[tuple[str, float]], room: float) -> list[float]:
    """Lengths of the lines that letters of some widths are broken into."""
    from fpdf.line_break import (  # noqa: PLC0415 - 0.5 s to load
        BREAKING_SPACE_SYMBOLS_STR,
    )

    ends: list[float] = []
    start = behind_space = at = 0
    length = before_space = 0.0
    while at < len(letters):
        letter, width = letters[at]
        is_space = letter in BREAKING_SPACE_SYMBOLS_STR
        if length + width > room and at > start:
            if is_space:  # stands at the end of the line, and is dropped
                at += 1
            elif behind_space > start:
                at, length = behind_space, before_space
            ends.append(length)
            start, length = at, 0.0
            continue
        at += 1
        if is_space:
            behind_space, before_space = at, length
        length += width
    return [*ends, length]
