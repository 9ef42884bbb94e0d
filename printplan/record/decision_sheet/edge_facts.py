"""What is told of a roll's length, a canvas' sides and what lies on the white?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.edges import lost_at_edges_mm
from printplan.checks.paper import stock_for
from printplan.pixels.white_ink import caption_words
from printplan.sizing.media_sizes import roll_width_mm
from printplan.spec import Marks, WrapSide
from printplan.units import LengthUnit, length_text, length_words, short_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.plan import PrintPlan
    from printplan.spec import WrapSpec

_SIDES = ("left", "top", "right", "bottom")
_MARKS = {
    Marks.CORNERS: "marks at the corners to cut by",
    Marks.LINE: "a line to cut along",
}


def edge_facts(plan: PrintPlan) -> Iterator[tuple[str, str]]:
    """
    What lies round the picture, and how much paper it takes.

    Yields
    ------
    tuple of str
        What, and what is said of it; nothing of what a plan does not have.
    """
    unit, sheet = plan.spec.lengths_in, plan.spec.sheet
    if roll_width_mm(sheet.media_size) is not None:
        yield "Roll", _roll_words(plan, unit)
    if plan.spec.wrap.is_wrapped:
        yield "Canvas", wrap_words(plan.spec.wrap, unit)
        yield "Printed", _block_words(plan, unit)
    if white := white_ink_words(plan):
        yield "On the white", white
    if sheet.deckle_mm > 0:
        yield "Kept clear", f"{short_words(unit, sheet.deckle_mm)} of uneven edges"
    if sheet.bleed_mm > 0:
        sides = lost_at_edges_mm(plan).items()
        told = ", ".join(f"{side} {length_text(it, unit)}" for side, it in sides)
        yield "Lost", f"beyond the sheet: {told} {unit}"


def _roll_words(plan: PrintPlan, unit: LengthUnit) -> str:
    """How much is cut off for a print, and what is then left."""
    length_mm = plan.layout.in_feed_mm[1]
    way = "turned a quarter" if plan.layout.turned else "not turned"
    layout, printed = plan.layout, plan.layout.inked
    used = (printed.right_mm - printed.left_mm) * (printed.bottom_mm - printed.top_mm)
    waste = 1 - used / (layout.width_mm * layout.height_mm)
    words = (
        f"{length_words(unit, length_mm)} cut off for each print, {way}, {waste:.0%} "
        "of it beside picture and border"
    )
    stock = stock_for(plan)
    if stock is None or stock.left_m is None:
        return words
    copies = plan.delivery.copies
    left_m = stock.left_m - copies * length_mm / 1000
    all_of_them = "this print" if copies == 1 else f"{copies} prints"
    return f"{words}; after {all_of_them} {max(left_m, 0.0):.2f} m are left"


def wrap_words(wrap: WrapSpec, unit: LengthUnit) -> str:
    """Bar, turn-over, and what each side shows."""
    kinds = {side: getattr(wrap, side) for side in _SIDES}
    if len(set(kinds.values())) == 1:
        sides = f"all sides {_kind_words(kinds['left'], wrap, unit)}"
    else:
        sides = ", ".join(
            f"{side} {_kind_words(kind, wrap, unit)}" for side, kind in kinds.items()
        )
    return (
        f"bar {short_words(unit, wrap.bar_depth_mm)} deep, "
        f"{short_words(unit, wrap.turn_over_mm)} turned over; {sides}"
    )


def _kind_words(kind: WrapSide, wrap: WrapSpec, unit: LengthUnit) -> str:
    edge = short_words(unit, wrap.edge_mm)
    return {
        WrapSide.MIRRORED: "mirrored",
        WrapSide.STRETCHED: f"the edge of {edge} stretched",
        WrapSide.CONTINUED: "the picture continued",
        WrapSide.COLOUR: f"in sRGB {wrap.colour}",
        WrapSide.EDGE_MEAN: f"the mean of an edge of {edge}",
    }[kind]


def _block_words(plan: PrintPlan, unit: LengthUnit) -> str:
    """What is printed of front and sides, and for which shrinking."""
    block, wrap = plan.layout.block, plan.spec.wrap
    size = (block.right_mm - block.left_mm, block.bottom_mm - block.top_mm)
    words = f"front and sides {length_words(unit, *size)}"
    shrinks = (
        ("across", wrap.shrinks_across_percent),
        ("along", wrap.shrinks_along_percent),
    )
    told = [f"{share:g} % {way} the feed" for way, share in shrinks if share]
    return f"{words}, for a shrinking of {' and '.join(told)}" if told else words


def white_ink_words(plan: PrintPlan) -> str:
    """Key line, marks and caption; empty without any."""
    white, unit = plan.spec.white, plan.spec.lengths_in
    told = []
    if white.key_line_mm > 0:
        told.append(
            f"key line {short_words(unit, white.key_line_mm)}, "
            f"{short_words(unit, white.key_line_gap_mm)} outside the picture"
        )
    if white.marks is not Marks.NONE:
        folds = ", with marks of the folds" if plan.spec.wrap.is_wrapped else ""
        told.append(_MARKS[white.marks] + folds)
    if white.caption:
        told.append(f"caption “{caption_words(plan)}”")
    return "; ".join(told)
