"""Which marks, lines and words are printed on the white outside the picture?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw

from printplan.colour.spaces import xyz_from_lab
from printplan.errors import FitError
from printplan.pixels.typeface import font_at, require_writable
from printplan.shown_text import visible
from printplan.sizing.boxes import Box, Edges
from printplan.sizing.white import (
    CAPTION_LINE_SHARE,
    FOLD_MARK_LENGTH_MM,
    MARK_GAP_MM,
    MARK_LENGTH_MM,
    MARK_WIDTH_MM,
    caption_height_mm,
    caption_top_mm,
)
from printplan.spec import CaptionPart, Marks
from printplan.units import length_words, mm_from_px, px_from_mm, short_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from printplan.plan import PrintPlan

_ASCENT_SHARE = 1.3 / CAPTION_LINE_SHARE
"""Of a caption's line, from its top to the foot of its capitals."""

# DejaVu Sans: capitals are 1493 of 2048 units high (its OS/2 table, sCapHeight).
_CAPITAL_SHARE = 1493 / 2048

_BETWEEN = "   ·   "


@dataclass(frozen=True, slots=True)
class Drawn:
    """
    Something printed on the white.

    Attributes
    ----------
    box : Box
        In file pixels.
    lightness_l : float
        Of its ink, L* on the master's scale.
    coverage : ndarray of uint8, shape (box.height, box.width), or None
        Share of each pixel that is covered, 255 for all of it; None for a full box.
    """

    box: Box
    lightness_l: float = 0.0
    coverage: NDArray[np.uint8] | None = None


def caption_words(plan: PrintPlan) -> str:
    """What a print's caption says; empty without one."""
    white, size = plan.spec.white, plan.picture_size
    told = {
        CaptionPart.TITLE: white.caption_title,
        CaptionPart.EDITION: white.caption_edition,
        CaptionPart.PAPER: plan.paper.name,
        CaptionPart.SIZE: length_words(
            plan.spec.lengths_in, size.width_mm, size.height_mm
        ),
        CaptionPart.DATE: white.caption_date,
    }
    return _BETWEEN.join(visible(told[part].strip()) for part in white.caption)


def drawn_on_white(plan: PrintPlan, scale: float = 1.0) -> tuple[Drawn, ...]:
    """
    All that is printed outside the picture.

    Parameters
    ----------
    scale : float, optional
        Pixels for each file pixel, for an overview: nothing is thinner than one.

    Raises
    ------
    FitError
        If the caption is wider than what the feed path can print.
    """
    white = plan.spec.white
    ink = [
        Drawn(_box(edges, plan, scale), white.key_line_l) for edges in _key_line(plan)
    ]
    ink += [Drawn(_box(edges, plan, scale)) for edges in mark_edges(plan)]
    if white.caption:
        ink.append(_caption(plan, scale))
    return tuple(ink)


def light_of_grey(lightness_l: float, channels: int) -> NDArray[np.float64]:
    """
    A grey in linear light, alike in every space.

    Parameters
    ----------
    lightness_l : float
        L*, 0 to 100.

    Returns
    -------
    ndarray of float64, shape (channels,)
    """
    return np.full(channels, xyz_from_lab(np.array([lightness_l, 0.0, 0.0]))[1])


def _box(edges: Edges, plan: PrintPlan, scale: float) -> Box:
    """In pixels of the file, or of its overview."""
    box = edges.in_px(plan.ppi * scale)
    left, top = plan.file_box.left, plan.file_box.top
    return box.moved(-round(left * scale), -round(top * scale))


def _key_line(plan: PrintPlan) -> Iterator[Edges]:
    """The four strips of the line round the printed area."""
    white = plan.spec.white
    if white.key_line_mm > 0:
        yield from _frame(plan.layout.block, white.key_line_gap_mm, white.key_line_mm)


def _frame(inner: Edges, gap_mm: float, width_mm: float) -> Iterator[Edges]:
    """Four strips round a rectangle."""
    near, far = _grown(inner, gap_mm), _grown(inner, gap_mm + width_mm)
    yield Edges(far.left_mm, far.top_mm, far.right_mm, near.top_mm)
    yield Edges(far.left_mm, near.bottom_mm, far.right_mm, far.bottom_mm)
    yield Edges(far.left_mm, near.top_mm, near.left_mm, near.bottom_mm)
    yield Edges(near.right_mm, near.top_mm, far.right_mm, near.bottom_mm)


def _grown(inner: Edges, by_mm: float) -> Edges:
    return Edges(
        inner.left_mm - by_mm,
        inner.top_mm - by_mm,
        inner.right_mm + by_mm,
        inner.bottom_mm + by_mm,
    )


def mark_edges(plan: PrintPlan) -> Iterator[Edges]:
    """
    Where the marks for cuts and folds lie.

    Yields
    ------
    Edges
        Millimetres on the sheet; all of them outside the picture and its sides.
    """
    marks, cut = plan.spec.white.marks, plan.layout.bordered
    if marks is Marks.NONE:
        return
    if marks is Marks.LINE:
        yield from _frame(cut, 0.0, MARK_WIDTH_MM)
    else:
        yield from _ticks(cut, cut, MARK_LENGTH_MM)
    if plan.spec.wrap.is_wrapped:
        yield from _ticks(plan.layout.front, cut, FOLD_MARK_LENGTH_MM)


def _ticks(at: Edges, outside: Edges, length_mm: float) -> Iterator[Edges]:
    """Two marks for each edge of one rectangle, outside another."""
    half = MARK_WIDTH_MM / 2
    above = outside.top_mm - MARK_GAP_MM
    below = outside.bottom_mm + MARK_GAP_MM
    for x_mm in (at.left_mm, at.right_mm):
        yield Edges(x_mm - half, above - length_mm, x_mm + half, above)
        yield Edges(x_mm - half, below, x_mm + half, below + length_mm)
    before = outside.left_mm - MARK_GAP_MM
    after = outside.right_mm + MARK_GAP_MM
    for y_mm in (at.top_mm, at.bottom_mm):
        yield Edges(before - length_mm, y_mm - half, before, y_mm + half)
        yield Edges(after, y_mm - half, after + length_mm, y_mm + half)


def _caption(plan: PrintPlan, scale: float) -> Drawn:
    """The caption's line, in the middle below the picture."""
    white, layout, ppi = plan.spec.white, plan.layout, plan.ppi * scale
    words = caption_words(plan)
    require_writable(words)
    capital_px = px_from_mm(white.caption_mm, ppi)
    font = font_at(max(round(capital_px / _CAPITAL_SHARE), 1), words=words)
    width_px = max(round(font.getlength(words)), 1)
    wide_mm = mm_from_px(width_px, ppi)
    low_mm, high_mm = layout.printable.left_mm, layout.printable.right_mm
    if wide_mm > high_mm - low_mm:
        unit = plan.spec.lengths_in
        raise FitError(
            f"The caption is {short_words(unit, wide_mm)} wide; "
            f"{short_words(unit, high_mm - low_mm)} can be printed.",
            remedy="Choose smaller letters, or fewer words.",
        )
    middle_mm = (layout.block.left_mm + layout.block.right_mm) / 2
    left_mm = min(max(middle_mm - wide_mm / 2, low_mm), high_mm - wide_mm)
    top_mm = layout.block.bottom_mm + caption_top_mm(
        white, plan.spec.sheet.border_mm, folds=plan.spec.wrap.is_wrapped
    )
    foot_mm = top_mm + caption_height_mm(white)
    box = _box(Edges(left_mm, top_mm, left_mm + wide_mm, foot_mm), plan, scale)
    line = Image.new("L", (box.width, box.height), 0)
    foot = round(box.height * _ASCENT_SHARE)
    ImageDraw.Draw(line).text((0, foot), words, 255, font, anchor="ls")
    return Drawn(box, coverage=np.asarray(line))
