"""What does a hand that moves something on the sheet ask for?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from math import ceil, floor
from typing import TYPE_CHECKING

from printplan.sizing.boxes import Edges
from printplan.spec import Placement, SizeRule

if TYPE_CHECKING:
    from printplan.plan import PrintPlan
    from printplan.spec import PrintSpec

CENTRE_PULL_SHARE = 0.004
"""A pointer this near to the centre means the centre: as a share of the sheet's edge,
some 1.7 mm on 420 mm. Keys reach every place. Our choice."""

_SAME_MM = 1e-6
_SAME_PLACE_MM = 0.002


class Handle(StrEnum):
    """What is moved."""

    PICTURE = "picture"
    CROP = "crop"


class Hand(StrEnum):
    """What it is moved with."""

    POINTER = "pointer"
    KEYS = "keys"


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """
    One wish of a hand on the sheet.

    Attributes
    ----------
    hand : Hand
        A pointer is led: it finds the centre, and stops at what the printer reaches.
        Keys stop there too, but who then asks for more is told why there is no more.
    right_mm, down_mm : float
        Where to: of the picture, its centre from the sheet's; of the crop, the
        photograph's centre from the centre of the picture that is printed of it.
    """

    handle: Handle
    hand: Hand
    right_mm: float
    down_mm: float


def place_mm(plan: PrintPlan, handle: Handle) -> tuple[float, float]:
    """
    Where something is, in the manner of `Move`.

    Returns
    -------
    tuple of float
        Right, and down.
    """
    picture, sheet = plan.layout.block, plan.layout.sheet
    if handle is Handle.CROP:
        return _from_centre(whole_edges(plan), plan.layout.picture)
    asked = plan.spec.sheet
    if asked.placement is Placement.OFFSET:
        return asked.offset_right_mm, asked.offset_down_mm
    return _from_centre(picture, sheet)


def whole_edges(plan: PrintPlan) -> Edges:
    """
    Where the whole photograph would lie if nothing were cut.

    Returns
    -------
    Edges
        In millimetres on the sheet; equal to the picture where nothing is cut.
    """
    picture, crop, facts = plan.layout.picture, plan.crop, plan.facts
    across = _width(picture) / crop.width_px
    down = _height(picture) / crop.height_px
    left = picture.left_mm - crop.left_px * across
    top = picture.top_mm - crop.top_px * down
    return Edges(
        left, top, left + facts.width_px * across, top + facts.height_px * down
    )


def reach_mm(plan: PrintPlan, handle: Handle) -> Edges:
    """
    How far something can be moved.

    Returns
    -------
    Edges
        Of the places that `Move` may name: farthest left, up, right and down.
    """
    picture = plan.layout.picture
    if handle is Handle.CROP:
        whole = whole_edges(plan)
        across = (_width(whole) - _width(picture)) / 2
        down = (_height(whole) - _height(picture)) / 2
        return Edges(-across, -down, across, down)
    block, room = plan.layout.block, plan.layout.room
    across_mm, down_mm = _centre(plan.layout.sheet)
    return Edges(
        room.left_mm + _width(block) / 2 - across_mm,
        room.top_mm + _height(block) / 2 - down_mm,
        room.right_mm - _width(block) / 2 - across_mm,
        room.bottom_mm - _height(block) / 2 - down_mm,
    )


def wish_after(plan: PrintPlan, move: Move) -> PrintSpec:
    """The wish that a move makes of a plan's."""
    reach, sheet = reach_mm(plan, move.handle), plan.layout.sheet
    now = place_mm(plan, move.handle)
    right, down = (
        _towards(wished, here, low, high)
        if move.hand is Hand.KEYS
        else _led(wished, low, high, edge)
        for wished, here, low, high, edge in (
            (move.right_mm, now[0], reach.left_mm, reach.right_mm, sheet.right_mm),
            (move.down_mm, now[1], reach.top_mm, reach.bottom_mm, sheet.bottom_mm),
        )
    )
    if move.handle is Handle.CROP:
        return _cropped(plan, right, down)
    sheet_spec = replace(
        plan.spec.sheet,
        placement=Placement.OFFSET,
        # A thousandth of a millimetre: no dust of sums in the plan file.
        offset_right_mm=round(right, 3),
        offset_down_mm=round(down, 3),
    )
    return replace(plan.spec, sheet=sheet_spec)


def wish_as_before(plan: PrintPlan, before: PrintSpec) -> PrintSpec:
    """A plan's wish with place and crop as they were."""
    sheet = replace(
        plan.spec.sheet,
        placement=before.sheet.placement,
        offset_right_mm=before.sheet.offset_right_mm,
        offset_down_mm=before.sheet.offset_down_mm,
    )
    size = replace(
        plan.spec.size,
        crop_centre_x_share=before.size.crop_centre_x_share,
        crop_centre_y_share=before.size.crop_centre_y_share,
    )
    return replace(plan.spec, sheet=sheet, size=size)


def can_be_cropped(plan: PrintPlan) -> bool:
    """Whether there is something to choose about the crop."""
    reach = reach_mm(plan, Handle.CROP)
    is_slack = max(reach.right_mm, reach.bottom_mm) > _SAME_MM
    return plan.spec.size.rule is SizeRule.FILL and is_slack


def _cropped(plan: PrintPlan, right_mm: float, down_mm: float) -> PrintSpec:
    """The photograph so far right and down behind the picture's edges."""
    size, whole, reach = plan.spec.size, whole_edges(plan), reach_mm(plan, Handle.CROP)
    across, down = size.crop_centre_x_share, size.crop_centre_y_share
    if reach.right_mm > _SAME_MM:
        right_mm = min(max(right_mm, reach.left_mm), reach.right_mm)
        across = round(0.5 - right_mm / _width(whole), 6)
    if reach.bottom_mm > _SAME_MM:
        down_mm = min(max(down_mm, reach.top_mm), reach.bottom_mm)
        down = round(0.5 - down_mm / _height(whole), 6)
    cropped = replace(size, crop_centre_x_share=across, crop_centre_y_share=down)
    return replace(plan.spec, size=cropped)


def _led(wished: float, low: float, high: float, edge: float) -> float:
    """A pointer's wish on half millimetres, pulled to the centre, stopped."""
    if abs(wished) < CENTRE_PULL_SHARE * edge and low <= 0 <= high:
        return 0.0
    return _stopped(round(2 * wished) / 2, low, high)


def _towards(wished: float, here: float, low: float, high: float) -> float:
    """A key's wish: up to the stop, and beyond it from there, which is refused."""
    stopped = _stopped(wished, low, high)
    return wished if abs(stopped - here) < _SAME_PLACE_MM else stopped


def _stopped(wished: float, low: float, high: float) -> float:
    """A place within reach: a stop is rounded inwards, or what touches does not fit."""
    low = ceil((low - _SAME_MM) * 1000) / 1000
    high = floor((high + _SAME_MM) * 1000) / 1000
    return min(max(wished, low), high)


def _from_centre(inner: Edges, outer: Edges) -> tuple[float, float]:
    (x, y), (middle_x, middle_y) = _centre(inner), _centre(outer)
    return x - middle_x, y - middle_y


def _centre(edges: Edges) -> tuple[float, float]:
    return (edges.left_mm + edges.right_mm) / 2, (edges.top_mm + edges.bottom_mm) / 2


def _width(edges: Edges) -> float:
    return edges.right_mm - edges.left_mm


def _height(edges: Edges) -> float:
    return edges.bottom_mm - edges.top_mm
