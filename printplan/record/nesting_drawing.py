"""How do nested prints lie on their medium, drawn to scale in SVG?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.pixels.typeface import font_at
from printplan.record.decision_sheet.sheet_drawing import VectorDrawing
from printplan.shown_text import escape
from printplan.sizing.boxes import Edges
from printplan.sizing.nesting.cut_list import Direction
from printplan.units import LengthUnit, length_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from printplan.sizing.nesting.cut_list import Cut
    from printplan.sizing.nesting.nest import Nesting, Placement

_ROOM_MM = (170.0, 230.0)
"""Width and height of a drawing at most: it goes on A4."""

_LETTERS_MM = 2.6
_EDGE_MM = 8.0
"""Room for lengths and cut numbers round the medium."""

_HEAD_MM = 5.0
_NUMBER_MM = 1.7


def draw_nesting(
    nesting: Nesting,
    *,
    unit: LengthUnit = LengthUnit.MM,
    sheet: int = 1,
    cuts: Sequence[Cut] = (),
    prices: Mapping[str, str] | None = None,
) -> VectorDrawing:
    """
    One sheet, or the length cut off the roll, with all that lies on it.

    Parameters
    ----------
    sheet : int, optional
        From 1.
    cuts : sequence of Cut, optional
        Drawn as dashed lines with their numbers.
    prices : mapping of str to str, optional
        What each print is to bear, by its label.

    Returns
    -------
    VectorDrawing
        Grey is what the printer cannot reach; the thick edge of a print is its top;
        the arrow shows what enters the printer first.
    """
    paper, margins = nesting.sheet, nesting.medium.margins
    scale = min(
        (_ROOM_MM[0] - 2 * _EDGE_MM) / paper.right_mm,
        (_ROOM_MM[1] - 2 * _EDGE_MM - _HEAD_MM) / paper.bottom_mm,
    )

    def drawn(edges: Edges) -> Edges:
        left, top = _EDGE_MM, _EDGE_MM + _HEAD_MM
        return Edges(
            left + scale * edges.left_mm,
            top + scale * edges.top_mm,
            left + scale * edges.right_mm,
            top + scale * edges.bottom_mm,
        )

    printable = Edges(
        margins.left_mm,
        margins.leading_mm,
        paper.right_mm - margins.right_mm,
        paper.bottom_mm - margins.trailing_mm,
    )
    placed = nesting.on_sheet(sheet)
    width_mm = max(scale * paper.right_mm + 2 * _EDGE_MM, 60.0)
    height_mm = scale * paper.bottom_mm + 2 * _EDGE_MM + _HEAD_MM
    words = _head(nesting, unit, sheet)
    parts = [
        _text(words, 0.5, _LETTERS_MM + 0.6, anchor="start"),
        _rect(drawn(paper), 'class="paper" fill="#e4e4e4" stroke="#000"'),
        _rect(drawn(printable), 'class="reach" fill="#fff" stroke="none"'),
    ]
    for it in placed:
        price = (prices or {}).get(it.label, "")
        parts += _print(it, drawn(it.edges), price, unit)
    for cut in cuts:
        parts += _cut(cut, drawn(cut.line))
    parts += _lengths(paper, drawn(paper), unit)
    listed = "; ".join(
        f"{it.label}, {length_words(unit, it.width_mm, it.height_mm)}"
        + (", turned" if it.turned else "")
        for it in placed
    )
    legend = "grey: beyond the printer's reach; thick edge: top of the print"
    if cuts:
        legend += "; dashed: cuts, in their order"
    return VectorDrawing(
        svg='<svg xmlns="http://www.w3.org/2000/svg" '
        f'width="{width_mm:.2f}mm" height="{height_mm:.2f}mm" '
        f'viewBox="0 0 {width_mm:.2f} {height_mm:.2f}" font-family="DejaVu Sans" '
        f'font-size="{_LETTERS_MM}" stroke-width="0.2">{"".join(parts)}</svg>',
        width_mm=width_mm,
        height_mm=height_mm,
        description=f"{words}: {listed}. {legend}.",
        legend=legend,
    )


def _head(nesting: Nesting, unit: LengthUnit, sheet: int) -> str:
    paper = nesting.sheet
    size = length_words(unit, paper.right_mm, paper.bottom_mm)
    which = "" if nesting.sheets == 1 else f"sheet {sheet} of {nesting.sheets}, "
    return f"{which}{size}, waste {100 * nesting.waste_share:.1f} %"


def _rect(edges: Edges, look: str) -> str:
    return (
        f'<rect x="{edges.left_mm:.2f}" y="{edges.top_mm:.2f}" '
        f'width="{edges.right_mm - edges.left_mm:.2f}" '
        f'height="{edges.bottom_mm - edges.top_mm:.2f}" {look}/>'
    )


def _text(
    words: str, x: float, y: float, *, anchor: str = "middle", upright: bool = False
) -> str:
    turn = " rotate(-90)" if upright else ""
    return (
        f'<text transform="translate({x:.2f} {y:.2f}){turn}" '
        f'text-anchor="{anchor}" fill="#000">{escape(words)}</text>'
    )


def _print(
    placed: Placement, place: Edges, price: str, unit: LengthUnit
) -> Iterator[str]:
    yield _rect(place, 'class="print" fill="#cfdbe6" stroke="#000"')
    left, top = place.left_mm, place.top_mm
    # Turned anticlockwise, the top of a print lies along its left edge.
    end = f"V{place.bottom_mm:.2f}" if placed.turned else f"H{place.right_mm:.2f}"
    yield f'<path class="top" d="M{left:.2f} {top:.2f}{end}" stroke="#000" '
    yield 'stroke-width="0.9" fill="none"/>'
    size = (
        (placed.height_mm, placed.width_mm)
        if placed.turned
        else (
            placed.width_mm,
            placed.height_mm,
        )
    )
    lines = [placed.label, length_words(unit, *size), price]
    yield from _lines([it for it in lines if it], place, upright=placed.turned)


def _lines(lines: Sequence[str], place: Edges, *, upright: bool) -> Iterator[str]:
    """As many lines as there is room for, the way the print is read."""
    wide, high = place.right_mm - place.left_mm, place.bottom_mm - place.top_mm
    along, across = (high, wide) if upright else (wide, high)
    step = 1.25 * _LETTERS_MM
    shown = [
        it if _length(it) <= along - 2 else _cut_short(it, along - 2) for it in lines
    ]
    shown = [it for it in shown if it][: max(int((across - 1.5) / step), 0)]
    x, y = (place.left_mm + place.right_mm) / 2, (place.top_mm + place.bottom_mm) / 2
    for number, words in enumerate(shown):
        off = (number - (len(shown) - 1) / 2) * step + 0.36 * _LETTERS_MM
        at = (x + off, y) if upright else (x, y + off)
        yield _text(words, *at, upright=upright)


def _cut_short(words: str, room_mm: float) -> str:
    while words and _length(f"{words}…") > room_mm:
        words = words[:-1]
    return f"{words}…" if len(words) > 2 else ""


def _length(words: str) -> float:
    # Measured large, so that rounding of letters plays no part.
    return font_at(100).getlength(words) / 100 * _LETTERS_MM


def _cut(cut: Cut, line: Edges) -> Iterator[str]:
    """A dashed line; its number stands on it, further in the higher it is."""
    yield (
        f'<path class="cut" d="M{line.left_mm:.2f} {line.top_mm:.2f}'
        f'L{line.right_mm:.2f} {line.bottom_mm:.2f}" stroke="#9a0000" '
        'stroke-width="0.35" stroke-dasharray="1.6 0.9" fill="none"/>'
    )
    share = 0.12 + 0.76 * ((cut.number * 0.382) % 1)
    x = line.left_mm + share * (line.right_mm - line.left_mm)
    y = line.top_mm + share * (line.bottom_mm - line.top_mm)
    yield (
        f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{_NUMBER_MM}" fill="#fff" '
        'stroke="#9a0000"/>'
    )
    yield (
        f'<text x="{x:.2f}" y="{y + 0.36 * 2.2:.2f}" font-size="2.2" '
        f'text-anchor="middle" fill="#9a0000">{cut.number}</text>'
    )


def _lengths(paper: Edges, place: Edges, unit: LengthUnit) -> Iterator[str]:
    x, y = (place.left_mm + place.right_mm) / 2, (place.top_mm + place.bottom_mm) / 2
    yield _text(length_words(unit, paper.right_mm), x, place.top_mm - 1.4)
    length = length_words(unit, paper.bottom_mm)
    yield _text(length, place.left_mm - 1.4, y, upright=True)
    x, y = place.right_mm + 2.5, place.top_mm
    yield (
        f'<path class="arrow" d="M{x:.2f} {y + 6:.2f}v-6m-.9 1.4l.9 -1.4l.9 1.4" '
        'stroke="#000" stroke-width="0.3" fill="none"/>'
    )


def cut_words(cut: Cut, unit: LengthUnit) -> str:
    """
    A cut as one line of the list.

    Returns
    -------
    str
        Number, direction, what the trimmer is set to, and what comes of it.
    """
    edge = "top" if cut.direction is Direction.ACROSS else "left"
    head = (
        f"{cut.number}. {cut.direction}, {length_words(unit, cut.set_mm)} from the "
        f"{edge} edge of the part"
    )
    off = cut.falls_off
    if off is not None:
        size = length_words(
            unit, off.right_mm - off.left_mm, off.bottom_mm - off.top_mm
        )
        return f"{head}: {size} of white fall off."
    return f"{head}: {_names(cut.first)} | {_names(cut.second)}."


def _names(names: Sequence[str]) -> str:
    return ", ".join(names) if len(names) <= 3 else f"{len(names)} prints"
