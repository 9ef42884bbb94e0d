"""What does the sheet view draw, in millimetres and in words?"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict

from printplan.record.decision_sheet.sheet_drawing import (
    Mark,
    White,
    drawn_extent,
    fold_of,
    legend_marks,
    mat_covers,
    sheet_description,
    whites,
)
from printplan.sizing.mats import mat_edges
from printplan.units import MM_PER_INCH, LengthUnit, length_text
from printplan.workbook.sheet_view.moves import (
    Handle,
    can_be_cropped,
    place_mm,
    reach_mm,
    whole_edges,
)

if TYPE_CHECKING:
    from printplan.plan import PrintPlan
    from printplan.sizing.boxes import Edges

    Corners = list[float]
    """Left, top, right, bottom in millimetres from the sheet's left top corner."""

_CENTRED_MM = 0.05
"""Less is read as no offset: lengths are told in tenths of a millimetre."""


class Grip(TypedDict):
    """Something that can be moved."""

    label: str
    words: str
    right_mm: float
    down_mm: float
    reach: Corners


class Ring(TypedDict):
    """What hides a part of the sheet: a mat or a frame."""

    kind: str
    outer: Corners
    inner: Corners


class SheetGeometry(TypedDict):
    """All that the browser needs to draw the sheet, as plain values."""

    description: str
    unit: str
    mm_per_unit: float
    extent: Corners
    sheet: Corners
    printable: Corners
    bordered: Corners | None
    picture: Corners
    cut_to: Corners
    shown: Corners | None
    whole: Corners
    mat: Corners | None
    fold: Corners | None
    covers: list[Ring]
    whites: list[White]
    legend: list[Mark]
    picture_grip: Grip
    crop_grip: Grip | None


def sheet_geometry(plan: PrintPlan, unit: LengthUnit) -> SheetGeometry:
    """
    The sheet of a plan for the browser to draw.

    Parameters
    ----------
    unit : LengthUnit
        Of the lengths in words; numbers are millimetres.
    """
    layout, mount = plan.layout, plan.spec.mount
    mat = mat_edges(layout.picture, mount)
    fold = fold_of(plan)
    has_border = plan.spec.sheet.border_mm > 0
    return {
        "description": sheet_description(plan, unit),
        "unit": str(unit),
        "mm_per_unit": MM_PER_INCH if unit is LengthUnit.INCHES else 1.0,
        "extent": _corners(drawn_extent(plan)),
        "sheet": _corners(layout.sheet),
        "printable": _corners(layout.printable),
        "bordered": _corners(layout.bordered) if has_border else None,
        "picture": _corners(layout.block),
        "cut_to": _corners(layout.picture),
        "shown": _corners(plan.printed) if plan.has_edges else None,
        "whole": _corners(whole_edges(plan)),
        "mat": None if mat is None else _corners(mat),
        "fold": None if fold is None else _corners(fold),
        "covers": [
            {
                "kind": it.kind,
                "outer": _corners(it.outer),
                "inner": _corners(it.inner),
            }
            for it in mat_covers(plan, unit)
        ],
        "whites": whites(plan, unit),
        "legend": legend_marks(plan, unit),
        "picture_grip": _grip(plan, Handle.PICTURE, unit),
        "crop_grip": _grip(plan, Handle.CROP, unit) if can_be_cropped(plan) else None,
    }


def place_words(right_mm: float, down_mm: float, unit: LengthUnit) -> str:
    """
    A place relative to a centre, as it is said.

    Examples
    --------
    >>> place_words(12, -3, LengthUnit.MM)
    '12.0 mm right of centre, 3.0 mm above centre'
    >>> place_words(0, 0, LengthUnit.MM)
    'in the centre'
    """
    across = _side_words(right_mm, ("left of", "right of"), unit)
    down = _side_words(down_mm, ("above", "below"), unit)
    return ", ".join(words for words in (across, down) if words) or "in the centre"


def _side_words(length_mm: float, sides: tuple[str, str], unit: LengthUnit) -> str:
    if abs(length_mm) < _CENTRED_MM:
        return ""
    return f"{length_text(abs(length_mm), unit)} {unit} {sides[length_mm > 0]} centre"


def _grip(plan: PrintPlan, handle: Handle, unit: LengthUnit) -> Grip:
    right_mm, down_mm = place_mm(plan, handle)
    where = place_words(right_mm, down_mm, unit)
    if handle is Handle.CROP:
        label, words = (
            "Part of the photograph that is printed",
            f"crop: photograph {where}",
        )
    else:
        label, words = "Place of the picture on the sheet", f"picture {where}"
    return {
        "label": label,
        "words": words,
        "right_mm": right_mm,
        "down_mm": down_mm,
        "reach": _corners(reach_mm(plan, handle)),
    }


def _corners(edges: Edges) -> Corners:
    return [edges.left_mm, edges.top_mm, edges.right_mm, edges.bottom_mm]
