"""How does the picture lie on its sheet, drawn to scale in SVG?"""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypedDict

from printplan.pixels.typeface import font_at
from printplan.shown_text import escape
from printplan.sizing.boxes import Edges
from printplan.sizing.layout import fold_edges
from printplan.sizing.mats import mat_as_asked, mat_edges, size_mm
from printplan.spec import Delivery
from printplan.units import LengthUnit, length_text, length_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.plan import PrintPlan
    from printplan.sizing.mats import MatPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class VectorDrawing:
    """
    A drawing in SVG; it asks for no other file.

    Attributes
    ----------
    width_mm, height_mm : float
        On a page.
    description : str
        What it shows, for those who cannot see it.
    legend : str
        What its kinds of line mean; empty if it says so itself.
    """

    svg: str
    width_mm: float
    height_mm: float
    description: str
    legend: str = ""

    @property
    def data_uri(self) -> str:
        """An address that holds it."""
        return data_uri(self.svg.encode(), "svg+xml")


def data_uri(data: bytes, kind: str = "jpeg") -> str:
    """A picture as an address that holds it."""
    return f"data:image/{kind};base64,{b64encode(data).decode()}"


class Mark(TypedDict):
    """A line of the legend: how something is drawn, and what it is."""

    kind: str
    words: str


def legend_marks(plan: PrintPlan, unit: LengthUnit) -> list[Mark]:
    """
    What the kinds of line and ground mean, as far as they are drawn.

    Returns
    -------
    list of Mark
        ``kind`` is ``hatched``, ``lined``, ``dashed``, ``shaded``, ``dark`` or
        ``dotted``.
    """
    mount, border_mm = plan.spec.mount, plan.spec.sheet.border_mm
    marks: list[Mark] = []
    if plan.layout.printable != plan.layout.sheet:
        marks.append({"kind": "hatched", "words": "beyond the printer's reach"})
    if border_mm > 0:
        words = f"white border, {length_text(border_mm, unit)} {unit}"
        marks.append({"kind": "lined", "words": words})
    mat = mat_edges(plan.layout.picture, mount)
    if mat is not None:
        size = size_text(mat, unit)
        marks.append({"kind": "dashed", "words": f"opening of the mat, {size}"})
    marks += [{"kind": it.kind, "words": it.words} for it in mat_covers(plan, unit)]
    if mount.wrap_mm > 0:
        fold = fold_edges(plan.layout.picture, mount)
        told = f"{length_text(mount.wrap_mm, unit)} {unit}"
        words = (
            f"no front: a wrap of {told} on each side takes all of the picture"
            if fold is None
            else f"fold of the canvas, {told} of wrap; front {size_text(fold, unit)}"
        )
        marks.append({"kind": "dotted", "words": words})
    wrap = plan.spec.wrap
    if wrap.is_wrapped:
        bar, over = (
            f"{length_text(it, unit)} {unit}"
            for it in (wrap.bar_depth_mm, wrap.turn_over_mm)
        )
        words = f"fold of the canvas: a bar of {bar}, {over} turned over"
        marks.append({"kind": "dotted", "words": words})
    return marks


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """
    A ring that hides what lies under it.

    Attributes
    ----------
    kind : str
        ``shaded`` for the mat, ``dark`` for the frame.
    outer, inner : Edges
    words : str
        What it is, and what it hides.
    """

    kind: str
    outer: Edges
    inner: Edges
    words: str


def mat_covers(plan: PrintPlan, unit: LengthUnit) -> list[Cover]:
    """What mat and frame hide, as far as their sizes are decided."""
    mat = mat_of(plan)
    if mat is None or mat.outer is None or not _holds(mat.outer, mat.opening):
        return []
    covers = [
        Cover(
            kind="shaded",
            outer=mat.outer,
            inner=mat.opening,
            words=f"under the mat of {size_text(mat.outer, unit)}",
        )
    ]
    glass, sight = mat.glazing, mat.sight
    if (
        glass is not None
        and sight is not None
        and _holds(glass, sight)
        and (glass != sight)
    ):
        hides = f"{length_text(plan.spec.mount.frame_rebate_mm, unit)} {unit}"
        covers.append(
            Cover(
                kind="dark",
                outer=glass,
                inner=sight,
                words=f"under the frame, {hides}; glass {size_text(glass, unit)}",
            )
        )
    return covers


def mat_of(plan: PrintPlan) -> MatPlan | None:
    """The mat and frame that a plan asks for."""
    layout = plan.layout
    return mat_as_asked(layout.picture, layout.sheet, plan.spec.mount)


def drawn_extent(plan: PrintPlan) -> Edges:
    """The sheet, with mat and frame round it as far as they are drawn."""
    unit = plan.spec.lengths_in
    around = [plan.layout.sheet, *(it.outer for it in mat_covers(plan, unit))]
    return Edges(
        min(it.left_mm for it in around),
        min(it.top_mm for it in around),
        max(it.right_mm for it in around),
        max(it.bottom_mm for it in around),
    )


def _holds(outer: Edges, inner: Edges) -> bool:
    return (
        outer.left_mm <= inner.left_mm < inner.right_mm <= outer.right_mm
        and outer.top_mm <= inner.top_mm < inner.bottom_mm <= outer.bottom_mm
    )


class White(TypedDict):
    """The white on one side of the picture, and where its width is written."""

    x_mm: float
    y_mm: float
    room_mm: float
    is_across: bool
    text: str


def whites(plan: PrintPlan, unit: LengthUnit) -> list[White]:
    """White paper to the left, to the right, above and below the picture."""
    sheet, picture = plan.layout.sheet, plan.layout.block
    middle_x = (picture.left_mm + picture.right_mm) / 2
    middle_y = (picture.top_mm + picture.bottom_mm) / 2
    found: list[White] = []
    for start_mm, end_mm, is_across in (
        (0.0, picture.left_mm, True),
        (picture.right_mm, sheet.right_mm, True),
        (0.0, picture.top_mm, False),
        (picture.bottom_mm, sheet.bottom_mm, False),
    ):
        between = (start_mm + end_mm) / 2
        found.append(
            {
                "x_mm": between if is_across else middle_x,
                "y_mm": middle_y if is_across else between,
                "room_mm": end_mm - start_mm,
                "is_across": is_across,
                "text": length_text(end_mm - start_mm, unit),
            }
        )
    return found


def sheet_description(plan: PrintPlan, unit: LengthUnit) -> str:
    """The sheet and the picture on it, for those who cannot see them."""
    layout = plan.layout
    return (
        f"Sheet {size_text(layout.sheet, unit)}, {layout.orientation}, to scale, with "
        f"a picture of {size_text(layout.front, unit)}"
        f"{_sides_words(plan)}."
    )


def _sides_words(plan: PrintPlan) -> str:
    return " with its sides round it" if plan.spec.wrap.is_wrapped else ""


def fold_of(plan: PrintPlan) -> Edges | None:
    """Where the picture folds: round its own edges, or at sides that are added."""
    if plan.spec.wrap.is_wrapped:
        return plan.layout.front
    return fold_edges(plan.layout.picture, plan.spec.mount)


def size_text(edges: Edges, unit: LengthUnit) -> str:
    """Width and height of a rectangle."""
    width = length_text(edges.right_mm - edges.left_mm, unit)
    return f"{width} × {length_text(edges.bottom_mm - edges.top_mm, unit)} {unit}"


_LETTERS_MM = 2.1
_HATCH_STEP_MM = 1.4
_EDGE_MM = 4.5
"""Room for the lengths round the sheet."""


def draw_sheet(
    plan: PrintPlan, jpeg: bytes, *, width_mm: float, height_mm: float
) -> VectorDrawing:
    """
    The sheet to scale, with the lengths that matter.

    Parameters
    ----------
    jpeg : bytes
        All that is printed on the sheet; see `PrintPlan.printed`.
    width_mm, height_mm : float
        Room for the drawing.

    Returns
    -------
    VectorDrawing
        Hatched is what the printer cannot reach, dashed the opening of a mat, shaded
        what the mat hides, dark what the frame hides, dotted the fold of a canvas.
        Lengths at top and left are the sheet's, those at right and foot the
        picture's; an arrow shows which edge enters the printer first. Of a print
        service's printer nothing is known, and nothing drawn.
    """
    sheet, unit = plan.layout.sheet, plan.spec.lengths_in
    by_service = plan.delivery.colour is Delivery.NAMED_SPACE
    extent = drawn_extent(plan)
    across_mm, down_mm = size_mm(extent)
    scale = min(
        (width_mm - 2 * _EDGE_MM) / across_mm, (height_mm - 2 * _EDGE_MM) / down_mm
    )
    width_mm = scale * across_mm + 2 * _EDGE_MM
    height_mm = scale * down_mm + 2 * _EDGE_MM

    def drawn(edges: Edges) -> Edges:
        return Edges(
            _EDGE_MM + scale * (edges.left_mm - extent.left_mm),
            _EDGE_MM + scale * (edges.top_mm - extent.top_mm),
            _EDGE_MM + scale * (edges.right_mm - extent.left_mm),
            _EDGE_MM + scale * (edges.bottom_mm - extent.top_mm),
        )

    paper, picture = drawn(sheet), drawn(plan.layout.front)
    parts = [_rect(paper, 'class="paper" fill="#fff"')]
    if not by_service:
        parts += _hatched(paper, drawn(plan.layout.printable))
    parts.append(_rect(paper, _line()))
    parts.append(
        f'<image class="picture" {_place(drawn(plan.printed))} '
        f'xlink:href="{data_uri(jpeg)}"/>'
    )
    if plan.spec.sheet.border_mm > 0:
        parts.append(_rect(drawn(plan.layout.bordered), _line(grey="#595959")))
    for cover in mat_covers(plan, unit):
        parts += _covered(cover.kind, drawn(cover.outer), drawn(cover.inner))
    for edges, name, dash in (
        (mat_edges(plan.layout.picture, plan.spec.mount), "mat", "1.6 1"),
        (fold_of(plan), "fold", "0.4 0.8"),
    ):
        if edges is not None:
            parts.append(_rect(drawn(edges), _line(0.5, "#fff")))
            dashed = f'class="{name}" {_line()} stroke-dasharray="{dash}"'
            parts.append(_rect(drawn(edges), dashed))
    parts += _lengths(plan, drawn(extent), paper, picture)
    for white in whites(plan, unit):
        parts += _white_width(white, scale, paper)
    legend = [f"{it['kind']}: {it['words']}" for it in legend_marks(plan, unit)]
    if by_service:
        legend = [words for words in legend if not words.startswith("hatched")]
    else:
        parts.append(_feed_arrow(paper, turned=plan.layout.turned))
        legend.insert(0, f"arrow: enters the {plan.feed.name} first")
    description = sheet_description(plan, unit)
    words = "; ".join(legend)
    return VectorDrawing(
        svg='<svg xmlns="http://www.w3.org/2000/svg" '
        'xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'width="{width_mm:.2f}mm" height="{height_mm:.2f}mm" '
        f'viewBox="0 0 {width_mm:.2f} {height_mm:.2f}" font-family="DejaVu Sans" '
        f'font-size="{_LETTERS_MM}" text-anchor="middle">{"".join(parts)}</svg>',
        width_mm=width_mm,
        height_mm=height_mm,
        description=f"{description} {words}." if words else description,
        legend=words,
    )


def _place(edges: Edges) -> str:
    return (
        f'x="{edges.left_mm:.2f}" y="{edges.top_mm:.2f}" '
        f'width="{edges.right_mm - edges.left_mm:.2f}" '
        f'height="{edges.bottom_mm - edges.top_mm:.2f}"'
    )


def _rect(edges: Edges, look: str) -> str:
    return f"<rect {_place(edges)} {look}/>"


def _line(width_mm: float = 0.2, grey: str = "#000") -> str:
    return f'fill="none" stroke="{grey}" stroke-width="{width_mm}"'


def _path(data: str, look: str) -> str:
    return f'<path d="{data}" {look}/>'


def _hatched(paper: Edges, reach: Edges) -> Iterator[str]:
    """Lines at 45° over the paper, covered again where the printer reaches."""
    width, height = paper.right_mm - paper.left_mm, paper.bottom_mm - paper.top_mm
    data = ""
    for step in range(1, int((width + height) / _HATCH_STEP_MM) + 1):
        along = step * _HATCH_STEP_MM
        left, foot = max(along - height, 0.0), min(along, height)
        right, top = min(along, width), max(along - width, 0.0)
        data += (
            f"M{paper.left_mm + left:.2f} {paper.top_mm + foot:.2f}"
            f"L{paper.left_mm + right:.2f} {paper.top_mm + top:.2f}"
        )
    yield _path(data, f'class="hatch" {_line(0.1, "#999")}')
    yield _rect(reach, 'class="reach" fill="#fff"')
    if reach != paper:
        yield _rect(reach, _line(0.1, "#999"))


_COVERS = {"shaded": 'fill="#777" fill-opacity="0.45"', "dark": 'fill="#222"'}


def _covered(kind: str, outer: Edges, inner: Edges) -> Iterator[str]:
    """A ring over what it hides, with its outer edge."""
    hole = (
        f"M{inner.left_mm:.2f} {inner.top_mm:.2f}V{inner.bottom_mm:.2f}"
        f"H{inner.right_mm:.2f}V{inner.top_mm:.2f}Z"
    )
    yield _path(
        f"M{outer.left_mm:.2f} {outer.top_mm:.2f}H{outer.right_mm:.2f}"
        f"V{outer.bottom_mm:.2f}H{outer.left_mm:.2f}Z{hole}",
        f'class="{kind}" {_COVERS[kind]} fill-rule="evenodd"',
    )
    yield _rect(outer, _line(0.2))


def _words(words: str, x: float, y: float, *, upright: bool = False) -> str:
    """Words centred on a point of their base line; upright they read upwards."""
    turn = " rotate(-90)" if upright else ""
    return (
        f'<text transform="translate({x:.2f} {y:.2f}){turn}" fill="#000">'
        f"{escape(words)}</text>"
    )


def _lengths(
    plan: PrintPlan, around: Edges, paper: Edges, picture: Edges
) -> Iterator[str]:
    """Lengths of the sheet at top and left, of the picture at foot and right."""
    layout, size, unit = plan.layout, plan.picture_size, plan.spec.lengths_in
    x, y = (paper.left_mm + paper.right_mm) / 2, (paper.top_mm + paper.bottom_mm) / 2
    yield _words(length_words(unit, layout.width_mm), x, around.top_mm - 1.2)
    height = length_words(unit, layout.height_mm)
    yield _words(height, around.left_mm - 1.2, y, upright=True)
    foot, side = around.bottom_mm + 1.0, around.right_mm + 1.0
    left, top, right, bottom = (
        f"{edge:.2f}"
        for edge in (
            picture.left_mm,
            picture.top_mm,
            picture.right_mm,
            picture.bottom_mm,
        )
    )
    yield _path(
        f"M{left} {foot:.2f}H{right}M{left} {foot - 0.6:.2f}v1.2"
        f"M{right} {foot - 0.6:.2f}v1.2M{side:.2f} {top}V{bottom}"
        f"M{side - 0.6:.2f} {top}h1.2M{side - 0.6:.2f} {bottom}h1.2",
        _line(0.15),
    )
    x = (picture.left_mm + picture.right_mm) / 2
    y = (picture.top_mm + picture.bottom_mm) / 2
    yield _words(length_words(unit, size.width_mm), x, foot + 2.4)
    yield _words(length_words(unit, size.height_mm), side + 2.6, y, upright=True)


def _white_width(white: White, scale: float, paper: Edges) -> Iterator[str]:
    """Width of the white, where there is room for the number."""
    room = scale * white["room_mm"]
    if room < 1.5 * _LETTERS_MM:
        return
    # Measured large, so that rounding of letters plays no part.
    length = font_at(100).getlength(white["text"]) / 100 * _LETTERS_MM + 0.6
    upright = white["is_across"] and room < length + 0.4
    x = paper.left_mm + scale * white["x_mm"]
    y = paper.top_mm + scale * white["y_mm"]
    half, tall = length / 2, 0.6 * _LETTERS_MM
    across, down = (tall, half) if upright else (half, tall)
    yield _rect(Edges(x - across, y - down, x + across, y + down), 'fill="#fff"')
    base = 0.36 * _LETTERS_MM
    x, y = (x + base, y) if upright else (x, y + base)
    yield _words(white["text"], x, y, upright=upright)


def _feed_arrow(paper: Edges, *, turned: bool) -> str:
    """
    An arrow out of the edge that enters the printer first.

    See `printplan.sizing.layout.lay_out` for how a picture is turned onto its sheet.
    """
    if turned:
        x, y = paper.right_mm - 1.0, paper.top_mm - 1.6
        data = f"M{x - 5:.2f} {y:.2f}h5m-1.2 -.8l1.2 .8l-1.2 .8"
    else:
        x, y = paper.left_mm - 1.6, paper.top_mm + 1.0
        data = f"M{x:.2f} {y + 5:.2f}v-5m-.8 1.2l.8 -1.2l.8 1.2"
    return _path(data, f'class="arrow" {_line(0.3)}')
