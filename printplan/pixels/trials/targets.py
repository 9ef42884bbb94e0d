"""Which targets stand on a trial sheet, and what does a scan need of them?"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians, sin
from typing import TYPE_CHECKING

import numpy as np

from printplan.errors import SpecError
from printplan.pixels.trials.lettering import (
    Letters,
    Line,
    drawn_lines,
    line_px,
    text_width_px,
    wrapped,
)
from printplan.pixels.trials.marks import Flat, Ink, Lines, SlantedSquare
from printplan.pixels.trials.neutrals import wedge_codes
from printplan.sharpening.lightness import cie_lightness
from printplan.sharpening.response import SpreadCurve, box_mtf, cycles_per_mm
from printplan.sharpening.squares import DRAWN_TILT_DEG
from printplan.sizing.boxes import Box
from printplan.spec import HIGHEST_PPI, LOWEST_PPI
from printplan.units import mm_from_px, px_from_mm, whole_px

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet
    from printplan.pixels.trials.marks import Mark
    from printplan.pixels.trials.neutrals import NeutralScale

    Floats = NDArray[np.float64]


SQUARE_MM, GROUND_MM = 8.0, 18.0
"""Side of a slanted square and of the even ground round it: at 600 ppi an edge has 189
lines, and the ground leaves 4.7 mm of quiet beside each. Our choice."""

TONE_SHARES = ((0.18, 0.45), (0.40, 0.68), (0.62, 0.90))
"""Tones of squares and lines, dark and light, as shares of the way from the paper's
black to its white in L*: shadows, middle, lights, none of them at an end that a
scanner may clip. Our choice."""

_CURVE_POINTS, _CURVE_END = 80, 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnSquares:
    """
    The slanted squares of a trial sheet, as far as a scan of it needs to know.

    Attributes
    ----------
    ppi : float
        Print pixels per inch of the sheet's file.
    tilt_deg : float
        They are turned so far, half of them to either side.
    tones : tuple of float
        Luminances that occur in them over the paper's, rising; empty if not known.
    """

    count: int
    ppi: float
    side_mm: float = SQUARE_MM
    tilt_deg: float = DRAWN_TILT_DEG
    tones: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if not (LOWEST_PPI <= self.ppi <= HIGHEST_PPI and self.count >= 1):
            raise SpecError(
                f"{self.count} squares were drawn at {self.ppi:g} ppi.",
                remedy="Take the squares from the trial sheet's key, or give their "
                f"number and a resolution from {LOWEST_PPI:g} to {HIGHEST_PPI:g} ppi.",
            )

    @property
    def file_sfr(self) -> SpreadCurve:
        """
        Response of the drawn edges, printed in whole square pixels.

        Notes
        -----
        Two boxes follow each other: a pixel's value is the mean of what lies on its
        area, and the printer lays that value down on the same area. Across an edge
        turned by t, a square pixel of side p has the response sinc(p f cos t) ·
        sinc(p f sin t), and it counts twice. What the pixels alias is left out: along
        an edge turned by 5° all phases occur, and it averages to nothing. So the
        spread that is found with this response is of ink and light, at any ppi.
        """
        pixel_mm = mm_from_px(1.0, self.ppi)
        frequency = np.linspace(0, _CURVE_END / pixel_mm, _CURVE_POINTS + 1)[1:]
        turn = radians(self.tilt_deg)
        pixel = box_mtf(frequency, pixel_mm * cos(turn)) * box_mtf(
            frequency, pixel_mm * sin(turn)
        )
        return SpreadCurve(
            cycles_per_mm=tuple(frequency.tolist()), values=tuple((pixel**2).tolist())
        )


def drawn_squares(scale: NeutralScale, ppi: float) -> DrawnSquares:
    """
    The squares that a sheet carries.

    Parameters
    ----------
    scale : NeutralScale
        Of its paper.
    """
    shares = sorted(share for pair in TONE_SHARES for share in pair)
    return DrawnSquares(
        count=2 * len(TONE_SHARES),
        ppi=ppi,
        tones=tuple(scale.luminance_at(share) for share in shares),
    )


LINES_PX = (1, 2, 3, 4)
"""Widths of drawn lines: 0.5 to 0.125 cycles per print pixel."""

WEDGE_STEPS = 21
"""L* 0, 5, … 100."""

INK_SHARE = 0.06
"""Tone of the words, as `TONE_SHARES` counts. Our choice."""

_GAP_MM = 2.0
_LINES_MM, _BETWEEN_LINES_MM, _LINES_PITCH_MM = 6.0, 1.0, 15.0
_STEP_WIDTH_MM, _STEP_HEIGHT_MM, _STEPS_IN_ROW = 7.5, 8.0, 7


class Drawing:
    """
    What draws on a trial sheet: lengths in its pixels, and words in its ink.

    Parameters
    ----------
    scale : NeutralScale
        Of its paper.
    """

    def __init__(self, sheet: Sheet, scale: NeutralScale) -> None:
        self._sheet = sheet
        self._scale = scale
        self._ppi = sheet.plan.ppi

    def _px(self, length_mm: float) -> int:
        return whole_px(px_from_mm(length_mm, self._ppi))

    def _wrapped(self, text: str, letters: Letters, width_px: int) -> list[Line]:
        return wrapped(text, letters, width_px, self._ppi)

    def _ink(self, lines: Sequence[Line], left: int, top: int, width: int) -> Ink:
        """Lines of words as a mark, as high as they need."""
        share = drawn_lines(lines, width, self._ppi)
        return Ink(
            box=Box(left, top, width, share.shape[0]),
            scale=self._scale,
            share=share,
            luminance=self._scale.luminance_at(INK_SHARE),
        )


class Targets(Drawing):
    """
    The three target blocks of a sheet: squares, lines, wedge.

    Parameters
    ----------
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
        super().__init__(sheet, scale)
        pairs = [
            "/".join(f"{cie_lightness(scale.luminance_at(s)):.0f}" for s in pair)
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
                Letters.TEXT,
                squares,
            ),
            self._wrapped("Lines in cycles/mm, at the same L*.", Letters.TEXT, lines),
            self._wrapped(f"Greys by their L*, {intent_words}.", Letters.TEXT, steps),
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

    def _width(self, text: str) -> int:
        return text_width_px(text, Letters.TEXT, self._ppi)
