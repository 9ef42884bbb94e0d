"""How does the picture lie on its sheet, drawn to scale in lines?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.record.decision_sheet.drawing import (
    Anchor,
    Area,
    Mark,
    Path,
    Placed,
    Text,
    VectorDrawing,
    outline,
)
from printplan.sizing.layout import Edges, fold_edges, mat_edges
from printplan.spec import Delivery
from printplan.units import length_text, length_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.plan import PrintPlan
    from printplan.record.decision_sheet.facts import SmallPicture

_LETTERS_MM = 2.1
_HATCH_STEP_MM = 1.4
_LEFT_MM, _TOP_MM, _RIGHT_MM, _FOOT_MM = 4.0, 4.0, 4.5, 4.0
"""Room for the lengths round the sheet."""
_LINE_MM = 3.0
_PENCIL, _HATCH = 0.35, 0.6
_DASHES, _DOTS = (1.6, 1.0), (0.4, 0.8)


def draw_sheet(
    plan: PrintPlan, picture: SmallPicture, *, width_mm: float, height_mm: float
) -> VectorDrawing:
    """
    The sheet to scale, with the lengths that matter.

    Parameters
    ----------
    picture : SmallPicture
        What lies on the sheet.
    width_mm, height_mm : float
        Room for the drawing.

    Returns
    -------
    VectorDrawing
        Hatched is what the printer cannot reach, dashed the opening of a mat, dotted
        the fold of a canvas. Lengths at top and left are the sheet's, those at right
        and foot the picture's; an arrow shows which edge enters the printer first. Of
        a print service's printer nothing is known, and nothing drawn.
    """
    legend = _legend(plan)
    foot_mm = _FOOT_MM + _LINE_MM * len(legend)
    sheet = plan.layout.sheet
    scale = min(
        (width_mm - _LEFT_MM - _RIGHT_MM) / sheet.right_mm,
        (height_mm - _TOP_MM - foot_mm) / sheet.bottom_mm,
    )
    left = _LEFT_MM + (width_mm - _LEFT_MM - _RIGHT_MM - scale * sheet.right_mm) / 2

    def drawn(edges: Edges) -> Edges:
        return Edges(
            left + scale * edges.left_mm,
            _TOP_MM + scale * edges.top_mm,
            left + scale * edges.right_mm,
            _TOP_MM + scale * edges.bottom_mm,
        )

    paper, place = drawn(sheet), drawn(plan.layout.picture)
    marks: list[Mark] = [_filled(paper, 1.0)]
    if not _is_by_service(plan):
        marks += _hatched(paper, drawn(plan.layout.printable))
    marks.append(_outlined(paper, grey=0.0))
    marks.append(
        Placed(
            jpeg=picture.jpeg,
            left_mm=place.left_mm,
            top_mm=place.top_mm,
            width_mm=place.right_mm - place.left_mm,
            height_mm=place.bottom_mm - place.top_mm,
        )
    )
    if plan.spec.sheet.border_mm > 0:
        marks.append(_outlined(drawn(plan.layout.bordered), grey=_PENCIL))
    for edges, dash in (
        (mat_edges(plan.layout.picture, plan.spec.mount), _DASHES),
        (fold_edges(plan.layout.picture, plan.spec.mount), _DOTS),
    ):
        if edges is not None:
            marks.append(_outlined(drawn(edges), grey=1.0, width_mm=0.5))
            marks.append(_outlined(drawn(edges), grey=0.0, dash_mm=dash))
    marks += _lengths(plan, paper, place)
    marks += _whites(plan, paper, place)
    if not _is_by_service(plan):
        marks += _feed_arrow(plan, paper)
    first_mm = paper.bottom_mm + _FOOT_MM + _LINE_MM - 0.6
    for number, words in enumerate(legend):
        down_mm = first_mm + number * _LINE_MM
        marks.append(_text(words, width_mm / 2, down_mm, grey=_PENCIL))
    return VectorDrawing(
        width_mm=width_mm,
        height_mm=first_mm + (len(legend) - 1) * _LINE_MM + 0.8,
        marks=tuple(marks),
        description=". ".join(
            ["The picture on its sheet, to scale", *filter(None, ["; ".join(legend)])]
        )
        + ".",
    )


def _is_by_service(plan: PrintPlan) -> bool:
    return plan.delivery.colour is Delivery.NAMED_SPACE


def _legend(plan: PrintPlan) -> list[str]:
    mount, border_mm = plan.spec.mount, plan.spec.sheet.border_mm
    lines = []
    if not _is_by_service(plan):
        lines.append(f"arrow: enters the {plan.feed.name} first")
        if plan.layout.printable != plan.layout.sheet:
            lines.append("hatched: beyond the printer's reach")
    if border_mm > 0:
        border = length_words(plan.spec.lengths_in, border_mm)
        lines.append(f"lined: white border of {border}")
    if mount.mat_opening_width_mm is not None:
        lines.append("dashed: opening of the mat")
    if mount.wrap_mm > 0:
        lines.append("dotted: fold over the stretcher bar")
    return lines


def _filled(edges: Edges, grey: float) -> Area:
    return Area(
        left_mm=edges.left_mm,
        top_mm=edges.top_mm,
        width_mm=edges.right_mm - edges.left_mm,
        height_mm=edges.bottom_mm - edges.top_mm,
        grey=grey,
    )


def _outlined(
    edges: Edges,
    *,
    grey: float,
    width_mm: float = 0.2,
    dash_mm: tuple[float, ...] = (),
) -> Path:
    sides = (edges.left_mm, edges.top_mm, edges.right_mm, edges.bottom_mm)
    return outline(*sides, width_mm=width_mm, grey=grey, dash_mm=dash_mm)


def _hatched(paper: Edges, reach: Edges) -> Iterator[Mark]:
    """Lines at 45° over the paper, covered again where the printer reaches."""
    width, height = paper.right_mm - paper.left_mm, paper.bottom_mm - paper.top_mm
    steps = int((width + height) / _HATCH_STEP_MM) + 1
    for step in range(1, steps):
        along = step * _HATCH_STEP_MM
        if along >= width + height:
            return
        low = (max(along - height, 0.0), min(along, height))
        high = (min(along, width), max(along - width, 0.0))
        yield Path(
            points_mm=tuple(
                (paper.left_mm + across, paper.top_mm + down)
                for across, down in (low, high)
            ),
            width_mm=0.1,
            grey=_HATCH,
        )
    yield _filled(reach, 1.0)
    if reach != paper:
        yield _outlined(reach, grey=_HATCH, width_mm=0.1)


def _text(words: str, across_mm: float, down_mm: float, *, grey: float = 0.0) -> Text:
    return Text(
        text=words,
        across_mm=across_mm,
        down_mm=down_mm,
        size_mm=_LETTERS_MM,
        anchor=Anchor.MIDDLE,
        grey=grey,
    )


def _upright(words: str, across_mm: float, down_mm: float) -> Text:
    return Text(
        text=words,
        across_mm=across_mm,
        down_mm=down_mm,
        size_mm=_LETTERS_MM,
        anchor=Anchor.MIDDLE,
        angle_deg=90.0,
    )


def _lengths(plan: PrintPlan, paper: Edges, place: Edges) -> Iterator[Mark]:
    layout, size, unit = plan.layout, plan.picture_size, plan.spec.lengths_in
    middle_mm = (paper.left_mm + paper.right_mm) / 2
    yield _text(length_words(unit, layout.width_mm), middle_mm, paper.top_mm - 1.2)
    middle_mm = (paper.top_mm + paper.bottom_mm) / 2
    yield _upright(length_words(unit, layout.height_mm), paper.left_mm - 1.2, middle_mm)
    foot_mm, side_mm = paper.bottom_mm + 1.0, paper.right_mm + 1.0
    yield from _measure((place.left_mm, foot_mm), (place.right_mm, foot_mm))
    middle_mm = (place.left_mm + place.right_mm) / 2
    yield _text(length_words(unit, size.width_mm), middle_mm, foot_mm + 2.4)
    yield from _measure((side_mm, place.top_mm), (side_mm, place.bottom_mm))
    middle_mm = (place.top_mm + place.bottom_mm) / 2
    yield _upright(length_words(unit, size.height_mm), side_mm + 2.6, middle_mm)


def _measure(start: tuple[float, float], end: tuple[float, float]) -> Iterator[Mark]:
    """A thin line with a tick at both ends."""
    yield Path(points_mm=(start, end), width_mm=0.15)
    across = start[1] == end[1]
    for x, y in (start, end):
        tick = ((x, y - 0.6), (x, y + 0.6)) if across else ((x - 0.6, y), (x + 0.6, y))
        yield Path(points_mm=tick, width_mm=0.15)


def _whites(plan: PrintPlan, paper: Edges, place: Edges) -> Iterator[Mark]:
    """Width of the white on each side, where there is room for the number."""
    sheet, picture = plan.layout.sheet, plan.layout.picture
    middle = (
        (place.left_mm + place.right_mm) / 2,
        (place.top_mm + place.bottom_mm) / 2,
    )
    for start, end, white_mm, across in (
        (paper.left_mm, place.left_mm, picture.left_mm, True),
        (place.right_mm, paper.right_mm, sheet.right_mm - picture.right_mm, True),
        (paper.top_mm, place.top_mm, picture.top_mm, False),
        (place.bottom_mm, paper.bottom_mm, sheet.bottom_mm - picture.bottom_mm, False),
    ):
        words = length_text(white_mm, plan.spec.lengths_in)
        if end - start < 1.5 * _LETTERS_MM:
            continue
        between = (start + end) / 2
        x, y = (between, middle[1]) if across else (middle[0], between)
        half = 0.32 * _LETTERS_MM * len(words)
        if across and end - start < 2.4 * half:
            yield Area(
                left_mm=x - 0.6 * _LETTERS_MM,
                top_mm=y - 1.15 * half,
                width_mm=1.2 * _LETTERS_MM,
                height_mm=2.3 * half,
                grey=1.0,
            )
            yield _upright(words, x + 0.36 * _LETTERS_MM, y)
            continue
        yield Area(
            left_mm=x - 1.15 * half,
            top_mm=y - 0.6 * _LETTERS_MM,
            width_mm=2.3 * half,
            height_mm=1.2 * _LETTERS_MM,
            grey=1.0,
        )
        yield _text(words, x, y + 0.36 * _LETTERS_MM)


def _feed_arrow(plan: PrintPlan, paper: Edges) -> Iterator[Mark]:
    """
    An arrow out of the edge that enters the printer first.

    See `printplan.sizing.layout.lay_out` for how a picture is turned onto its sheet.
    """
    if plan.layout.turned:
        x, y = paper.right_mm - 1.0, paper.top_mm - 1.6
        shaft = ((x - 5.0, y), (x, y))
        head = ((x - 1.2, y - 0.8), (x, y), (x - 1.2, y + 0.8))
    else:
        x, y = paper.left_mm - 1.6, paper.top_mm + 1.0
        shaft = ((x, y + 5.0), (x, y))
        head = ((x - 0.8, y + 1.2), (x, y), (x + 0.8, y + 1.2))
    yield Path(points_mm=shaft, width_mm=0.3)
    yield Path(points_mm=head, width_mm=0.3)
