"""What does the sheet look like with the picture on it, drawn to scale?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw

from printplan.sizing.layout import fold_edges, mat_edges
from printplan.units import LengthUnit, length_text
from printplan.workbook.pictures import SURROUND, TEXT, caption_font
from printplan.workbook.sheet_view.geometry import legend_marks

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.plan import PrintPlan
    from printplan.sizing.layout import Edges
    from printplan.sizing.print_size import Crop

DRAWING_PX = (1280, 960)
"""Width and height of the drawing."""

DRAWING_CSS_PX = 640
"""Width at which it is shown: two of its pixels to one, for dense screens."""

_ROOM_PX = (1080, 700)
_TOP_PX = 90
_LABEL_SIZE_PX = 26
_FOOT_SIZE_PX = 24
_FOOT_LINE_PX = 36
_AWAY_PX = 34
_TICK_PX = 10
_HATCH_STEP_PX = 16
_WHITE = (255, 255, 255)
_PENCIL = (90, 90, 90)
_HATCH = (160, 160, 160)
_INK = (20, 20, 20)
_LINE_PX, _GROUND_PX = 4, 8
_DASH_PX, _DASH_STEP_PX = 18, 30
_DOT_PX, _DOT_STEP_PX = 6, 12


class _Drawing:
    """A sheet of paper on grey, and the scale that it is drawn at."""

    def __init__(self, plan: PrintPlan) -> None:
        sheet = plan.layout.sheet
        self.image = Image.new("RGB", DRAWING_PX, SURROUND)
        self.draw = ImageDraw.Draw(self.image)
        self.px_per_mm = min(
            _ROOM_PX[0] / sheet.right_mm, _ROOM_PX[1] / sheet.bottom_mm
        )
        self.left = (DRAWING_PX[0] - sheet.right_mm * self.px_per_mm) / 2
        self.top = _TOP_PX + (_ROOM_PX[1] - sheet.bottom_mm * self.px_per_mm) / 2

    def corners(self, edges: Edges) -> tuple[int, int, int, int]:
        """Left, top, right, bottom in the drawing, the last two excluded."""
        return (
            round(self.left + edges.left_mm * self.px_per_mm),
            round(self.top + edges.top_mm * self.px_per_mm),
            round(self.left + edges.right_mm * self.px_per_mm),
            round(self.top + edges.bottom_mm * self.px_per_mm),
        )

    def label(
        self,
        middle: tuple[float, float],
        text: str,
        *,
        colour: tuple[int, int, int],
        ground: tuple[int, int, int],
        upright: bool = False,
    ) -> None:
        """Words centred on a point, on a ground of their own; upright reads upward."""
        font = caption_font(_LABEL_SIZE_PX)
        length = round(font.getlength(text)) + 16
        tag = Image.new("RGB", (length, _LABEL_SIZE_PX + 8), ground)
        ImageDraw.Draw(tag).text(
            (length / 2, tag.height / 2), text, colour, font, anchor="mm"
        )
        if upright:
            tag = tag.transpose(Image.Transpose.ROTATE_90)
        self.image.paste(
            tag, (round(middle[0] - tag.width / 2), round(middle[1] - tag.height / 2))
        )

    def broken_line(self, edges: Edges, length_px: int, step_px: int) -> None:
        """A rectangle of dashes or dots on a light line, seen on every picture."""
        left, top, right, bottom = self.corners(edges)
        half = _GROUND_PX // 2
        grown = (left - half, top - half, right + half, bottom + half)
        self.draw.rectangle(grown, outline=_WHITE, width=_GROUND_PX)
        half = _LINE_PX // 2
        for x in range(left, right, step_px):
            end = min(x + length_px, right)
            for y in (top, bottom):
                self.draw.rectangle((x, y - half, end, y + half), _INK)
        for y in range(top, bottom, step_px):
            end = min(y + length_px, bottom)
            for x in (left, right):
                self.draw.rectangle((x - half, y, x + half, end), _INK)

    def width_line(self, left: int, right: int, y: int, text: str) -> None:
        """A measured width."""
        self.draw.line((left, y, right, y), TEXT, 2)
        for x in (left, right):
            self.draw.line((x, y - _TICK_PX, x, y + _TICK_PX), TEXT, 2)
        self.label(((left + right) / 2, y), text, colour=TEXT, ground=SURROUND)

    def height_line(self, top: int, bottom: int, x: int, text: str) -> None:
        """A measured height."""
        self.draw.line((x, top, x, bottom), TEXT, 2)
        for y in (top, bottom):
            self.draw.line((x - _TICK_PX, y, x + _TICK_PX, y), TEXT, 2)
        middle = (x, (top + bottom) / 2)
        self.label(middle, text, colour=TEXT, ground=SURROUND, upright=True)


def draw_sheet(
    plan: PrintPlan, thumbnail: NDArray[np.uint8], unit: LengthUnit = LengthUnit.MM
) -> NDArray[np.uint8]:
    """
    The picture on its sheet, to scale, with the lengths that matter.

    Parameters
    ----------
    thumbnail : ndarray of uint8, shape (rows, columns, 3)
        The whole master, small, in sRGB.
    unit : LengthUnit, optional
        Of the lengths written on it.

    Returns
    -------
    ndarray of uint8, shape (960, 1280, 3)
        Hatched is what the printer cannot reach, dashed the opening of a mat, dotted
        the fold of a canvas; the lengths at top and left are the sheet's, those at
        right and foot the picture's.
    """
    drawing = _Drawing(plan)
    _draw_paper(drawing, plan)
    _draw_picture(drawing, plan, thumbnail)
    _draw_mount(drawing, plan)
    _draw_lengths(drawing, plan, unit)
    _draw_white(drawing, plan, unit)
    _write_foot(drawing, plan, unit)
    return np.asarray(drawing.image)


def _draw_paper(drawing: _Drawing, plan: PrintPlan) -> None:
    left, top, right, bottom = drawing.corners(plan.layout.sheet)
    paper = Image.new("RGB", (right - left, bottom - top), _WHITE)
    hatch = ImageDraw.Draw(paper)
    for start in range(-paper.height, paper.width, _HATCH_STEP_PX):
        hatch.line((start, paper.height, start + paper.height, 0), _HATCH, 2)
    drawing.image.paste(paper, (left, top))
    left, top, right, bottom = drawing.corners(plan.layout.printable)
    drawing.draw.rectangle((left, top, right - 1, bottom - 1), _WHITE, _HATCH, 2)


def _draw_picture(
    drawing: _Drawing, plan: PrintPlan, thumbnail: NDArray[np.uint8]
) -> None:
    if plan.spec.sheet.border_mm > 0:
        left, top, right, bottom = drawing.corners(plan.layout.bordered)
        drawing.draw.rectangle((left, top, right - 1, bottom - 1), _WHITE, _PENCIL, 2)
    left, top, right, bottom = drawing.corners(plan.layout.picture)
    size = (max(right - left, 1), max(bottom - top, 1))
    small = Image.fromarray(thumbnail)
    box = _in_thumbnail(plan.picture_size.crop, plan, small.size)
    drawing.image.paste(small.resize(size, Image.Resampling.BOX, box), (left, top))


def _in_thumbnail(
    crop: Crop, plan: PrintPlan, size_px: tuple[int, int]
) -> tuple[float, float, float, float]:
    """The crop in pixels of the small picture."""
    x = size_px[0] / plan.facts.width_px
    y = size_px[1] / plan.facts.height_px
    return (
        crop.left_px * x,
        crop.top_px * y,
        min((crop.left_px + crop.width_px) * x, size_px[0]),
        min((crop.top_px + crop.height_px) * y, size_px[1]),
    )


def _draw_mount(drawing: _Drawing, plan: PrintPlan) -> None:
    fold = fold_edges(plan.layout.picture, plan.spec.mount)
    mat = mat_edges(plan.layout.picture, plan.spec.mount)
    if fold is not None:
        drawing.broken_line(fold, _DOT_PX, _DOT_STEP_PX)
    if mat is not None:
        drawing.broken_line(mat, _DASH_PX, _DASH_STEP_PX)


def _write_foot(drawing: _Drawing, plan: PrintPlan, unit: LengthUnit) -> None:
    """What the lines mean: as many words to a line as it holds, from the foot up."""
    font = caption_font(_FOOT_SIZE_PX)
    lines = ["overview, to scale"]
    for mark in legend_marks(plan, unit):
        words = f"{mark['kind']}: {mark['words']}"
        longer = f"{lines[-1]}   ·   {words}"
        if font.getlength(longer) > DRAWING_PX[0] - 40:
            lines.append(words)
        else:
            lines[-1] = longer
    for place, line in enumerate(reversed(lines)):
        y = DRAWING_PX[1] - 28 - place * _FOOT_LINE_PX
        drawing.draw.text((DRAWING_PX[0] / 2, y), line, TEXT, font, anchor="mm")


def _draw_lengths(drawing: _Drawing, plan: PrintPlan, unit: LengthUnit) -> None:
    layout, size = plan.layout, plan.picture_size
    sheet_width, sheet_height, width, height = (
        f"{length_text(length_mm, unit)} {unit}"
        for length_mm in (
            layout.width_mm,
            layout.height_mm,
            size.width_mm,
            size.height_mm,
        )
    )
    left, top, right, bottom = drawing.corners(layout.sheet)
    drawing.width_line(left, right, top - _AWAY_PX, sheet_width)
    drawing.height_line(top, bottom, left - _AWAY_PX, sheet_height)
    foot, side = bottom + _AWAY_PX, right + _AWAY_PX
    left, top, right, bottom = drawing.corners(layout.picture)
    drawing.width_line(left, right, foot, width)
    drawing.height_line(top, bottom, side, height)


def _draw_white(drawing: _Drawing, plan: PrintPlan, unit: LengthUnit) -> None:
    """Width of the white on each side, where there is room for the number."""
    sheet, picture = plan.layout.sheet, plan.layout.picture
    outer, inner = drawing.corners(sheet), drawing.corners(picture)
    middle_x, middle_y = (inner[0] + inner[2]) / 2, (inner[1] + inner[3]) / 2
    for from_px, to_px, length_mm, across in (
        (outer[0], inner[0], picture.left_mm, True),
        (inner[2], outer[2], sheet.right_mm - picture.right_mm, True),
        (outer[1], inner[1], picture.top_mm, False),
        (inner[3], outer[3], sheet.bottom_mm - picture.bottom_mm, False),
    ):
        text = length_text(length_mm, unit)
        needed = caption_font(_LABEL_SIZE_PX).getlength(text) if across else 34
        if to_px - from_px > needed + 20:
            between = (from_px + to_px) / 2
            place = (between, middle_y) if across else (middle_x, between)
            drawing.label(place, text, colour=_PENCIL, ground=_WHITE)
