"""Which targets stand on a trial sheet, and where in their blocks?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.pixels.trials.letters import (
    Letters,
    Line,
    drawn_lines,
    line_px,
    text_width_px,
    wrapped,
)
from printplan.pixels.trials.marks import Flat, Ink, Lines, SlantedSquare
from printplan.pixels.trials.neutral import wedge_codes
from printplan.pixels.trials.squares import GROUND_MM, SQUARE_MM, TONE_SHARES
from printplan.sharpness.edge_trace import lightness
from printplan.sharpness.edges import DRAWN_TILT_DEG
from printplan.sharpness.response import cycles_per_mm
from printplan.size.layout import Box
from printplan.units import px_from_mm, whole_px

if TYPE_CHECKING:
    from collections.abc import Sequence

    from printplan.pixels.sheet import Sheet
    from printplan.pixels.trials.marks import Mark
    from printplan.pixels.trials.neutral import NeutralScale

LINES_PX = (1, 2, 3, 4)
"""Widths of drawn lines: 0.5 to 0.125 cycles per print pixel."""

WEDGE_STEPS = 21
"""L* 0, 5, … 100."""

INK_SHARE = 0.06
"""Tone of the words, as `TONE_SHARES` counts. Our choice."""

_GAP_MM = 2.0
_LINES_MM, _BETWEEN_LINES_MM, _LINES_PITCH_MM = 6.0, 1.0, 15.0
_STEP_WIDTH_MM, _STEP_HEIGHT_MM, _STEPS_IN_ROW = 7.5, 8.0, 7


class Targets:
    """
    The three target blocks of a sheet: squares, lines, wedge.

    Parameters
    ----------
    sheet : Sheet
    scale : NeutralScale
        Of its paper.
    intent_words : str
        The way that the wedge's greys go.

    Attributes
    ----------
    sizes_px : tuple of tuple of int
        Width and height of each block, words included.
    """

    def __init__(self, sheet: Sheet, scale: NeutralScale, intent_words: str) -> None:
        self._sheet = sheet
        self._scale = scale
        self._ppi = sheet.plan.ppi
        pairs = [
            "/".join(f"{lightness(scale.luminance_at(s)):.0f}" for s in pair)
            for pair in TONE_SHARES
        ]
        self._pairs = pairs
        gap, ground = self._px(_GAP_MM), self._px(GROUND_MM)
        across = len(TONE_SHARES)
        squares = across * ground + (across - 1) * gap
        self._label_px = max(self._width(pair) for pair in pairs) + self._px(1.5)
        lines = (
            self._label_px
            + len(LINES_PX) * self._px(_LINES_PITCH_MM)
            - self._px(_GAP_MM)
            + 2 * self._px(_BETWEEN_LINES_MM)
        )
        steps = _STEPS_IN_ROW * self._px(_STEP_WIDTH_MM)
        self._words = (
            self._wrapped(
                f"Slanted squares, L* {', '.join(pairs)}. Scan them at 1200 ppi or "
                "more, unsharpened.",
                squares,
            ),
            self._wrapped("Lines in cycles/mm, at the same L*.", lines),
            self._wrapped(f"Greys by their L*, {intent_words}.", steps),
        )
        text = line_px(Letters.TEXT, self._ppi)
        heights = (
            2 * ground + gap,
            across * self._px(_LINES_MM + 3 * _BETWEEN_LINES_MM) + text,
            -(-WEDGE_STEPS // _STEPS_IN_ROW) * (self._px(_STEP_HEIGHT_MM) + text),
        )
        self._tallest = max(heights)
        self.sizes_px = tuple(
            (width, self._tallest + self._px(1.0) + len(words) * text)
            for width, words in zip((squares, lines, steps), self._words, strict=True)
        )

    def marks(self, blocks: Sequence[Box]) -> list[Mark]:
        """
        Everything drawn in the blocks.

        Parameters
        ----------
        blocks : sequence of Box
            Places of the three, of `sizes_px`.

        Returns
        -------
        list of Mark
            Later ones lie on earlier ones.
        """
        squares, lines, wedge = blocks
        marks: list[Mark] = [
            *self._squares(squares),
            *self._lines(lines),
            *self._wedge(wedge),
        ]
        for block, words in zip(blocks, self._words, strict=True):
            top = block.top + self._tallest + self._px(1.0)
            marks.append(self._ink(words, block.left, top, block.width))
        return marks

    def _squares(self, block: Box) -> list[Mark]:
        ground, gap = self._px(GROUND_MM), self._px(_GAP_MM)
        return [
            SlantedSquare(
                box=Box(
                    block.left + column * (ground + gap),
                    block.top + row * (ground + gap),
                    ground,
                    ground,
                ),
                scale=self._scale,
                side_px=px_from_mm(SQUARE_MM, self._ppi),
                tilt_deg=tilt_deg,
                inside=self._scale.luminance_at(dark),
                ground=self._scale.luminance_at(light),
            )
            for row, tilt_deg in enumerate((DRAWN_TILT_DEG, -DRAWN_TILT_DEG))
            for column, (dark, light) in enumerate(TONE_SHARES)
        ]

    def _lines(self, block: Box) -> list[Mark]:
        """Rows by tone, on ground of the lines' own mean; columns by fineness."""
        marks: list[Mark] = []
        text = line_px(Letters.TEXT, self._ppi)
        group, between = self._px(_LINES_MM), self._px(_BETWEEN_LINES_MM)
        pitch = self._px(_LINES_PITCH_MM)
        left = block.left + self._label_px
        row_px = group + 2 * between
        for row, shares in enumerate(TONE_SHARES):
            dark, light = (self._scale.luminance_at(share) for share in shares)
            top = block.top + text + row * (row_px + between)
            marks.append(
                Flat(
                    Box(left, top, block.right - left, row_px),
                    self._scale.codes_of((dark + light) / 2),
                )
            )
            label = [Line(self._pairs[row], Letters.TEXT)]
            middle = top + (row_px - text) // 2
            marks.append(self._ink(label, block.left, middle, self._label_px))
            for column, width in enumerate(LINES_PX):
                # Whole periods: lines that merge are as light as their ground.
                length = group // (2 * width) * 2 * width
                for is_upright in (True, False):
                    start = left + between + column * pitch
                    start += 0 if is_upright else group + between
                    marks.append(
                        Lines(
                            box=Box(start, top + between, length, length),
                            line_px=width,
                            is_upright=is_upright,
                            dark=self._scale.codes_of(dark),
                            light=self._scale.codes_of(light),
                        )
                    )
        for column, width in enumerate(LINES_PX):
            fineness = float(cycles_per_mm(1 / (2 * width), self._ppi))
            start = left + between + column * pitch
            label = [Line(f"{fineness:.2f}", Letters.TEXT)]
            marks.append(self._ink(label, start, block.top, pitch))
        return marks

    def _wedge(self, block: Box) -> list[Mark]:
        text = line_px(Letters.TEXT, self._ppi)
        width, height = self._px(_STEP_WIDTH_MM), self._px(_STEP_HEIGHT_MM)
        source_l = np.linspace(0, 100, WEDGE_STEPS, dtype=np.float64)
        marks: list[Mark] = []
        for number, tone in enumerate(wedge_codes(self._sheet, source_l)):
            row, column = divmod(number, _STEPS_IN_ROW)
            left = block.left + column * width
            top = block.top + row * (height + text)
            marks.append(Flat(Box(left, top, width, height), tone))
            label = Line(f"{source_l[number]:.0f}", Letters.TEXT)
            shift = (width - self._width(label.text)) // 2
            marks.append(
                self._ink([label], left + max(shift, 0), top + height, width - shift)
            )
        return marks

    def _ink(self, lines: Sequence[Line], left: int, top: int, width: int) -> Ink:
        return written(lines, Box(left, top, width, 0), self._scale, self._ppi)

    def _px(self, length_mm: float) -> int:
        return whole_px(px_from_mm(length_mm, self._ppi))

    def _width(self, text: str) -> int:
        return text_width_px(text, Letters.TEXT, self._ppi)

    def _wrapped(self, text: str, width_px: int) -> list[Line]:
        return wrapped(text, Letters.TEXT, width_px, self._ppi)


def written(lines: Sequence[Line], place: Box, scale: NeutralScale, ppi: float) -> Ink:
    """
    Lines of words as a mark.

    Parameters
    ----------
    lines : sequence of Line
        One or more.
    place : Box
        Left, top and width of the words; they are as high as they need.
    scale : NeutralScale
    ppi : float

    Returns
    -------
    Ink
    """
    share = drawn_lines(lines, place.width, ppi)
    return Ink(
        box=Box(place.left, place.top, place.width, share.shape[0]),
        scale=scale,
        share=share,
        luminance=scale.luminance_at(INK_SHARE),
    )
