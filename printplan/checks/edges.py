"""Do wrap, bleed, marks and words suit the print and its paper?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.finding import Finding, Source, note, warn
from printplan.checks.placement import FOLD_MM
from printplan.media import Surface
from printplan.spec import Extent, Marks
from printplan.units import at_least_words, length_words, short_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.plan import PrintPlan

_HAIR_MM = 1e-6


def edge_findings(plan: PrintPlan) -> Iterator[Finding]:
    """What sides of a canvas, bleed and marks tell."""
    yield from _about_sides(plan)
    yield from _about_bleed(plan)
    yield from _about_marks(plan)


def _about_sides(plan: PrintPlan) -> Iterator[Finding]:
    wrap, unit = plan.spec.wrap, plan.spec.lengths_in
    if not wrap.is_wrapped:
        return
    if plan.paper.surface is not Surface.CANVAS:
        yield warn(
            topic="wrap on paper",
            problem=f"{plan.paper.name} is a {plan.paper.surface} paper and is to be "
            "folded round a bar; coatings of papers crack at a fold.",
            remedy="Choose a canvas, or mount the paper flat.",
            source=Source.COMMON_PRACTICE,
        )
    if wrap.turn_over_mm < FOLD_MM - _HAIR_MM:
        yield warn(
            topic="turn-over",
            problem=f"{short_words(unit, wrap.turn_over_mm)} are printed past the back "
            f"edge of the bar; below {short_words(unit, FOLD_MM)} white shows there "
            "when the canvas is not folded to the hair.",
            remedy=f"Choose a turn-over of {at_least_words(unit, FOLD_MM)} or more.",
            source=Source.COMMON_PRACTICE,
        )
    if wrap.shrinks_across_percent == wrap.shrinks_along_percent == 0:
        yield note(
            topic="canvas shrinks",
            problem="No shrinking of the canvas is reckoned with; many change by about "
            "a per cent when they are coated, dried and stretched.",
            remedy="Print two marks a known length apart, measure them on a stretched "
            "piece, and give the change. Stretch with pliers and staples as their "
            "makers say, with eyes protected.",
            source=Source.COMMON_PRACTICE,
        )


def _about_bleed(plan: PrintPlan) -> Iterator[Finding]:
    bleed_mm, unit = plan.spec.sheet.bleed_mm, plan.spec.lengths_in
    if bleed_mm == 0:
        return
    lost = lost_at_edges_mm(plan)
    short = [side for side, length_mm in lost.items() if length_mm < bleed_mm - 0.5]
    if short:
        layout = plan.layout
        needed = (layout.width_mm + 2 * bleed_mm, layout.height_mm + 2 * bleed_mm)
        yield warn(
            topic="white strip",
            problem=f"The picture does not reach {short_words(unit, bleed_mm)} beyond "
            f"the sheet at {' and '.join(short)}; white can show where the sheet is "
            "fed askew.",
            remedy=f"Let it fill an area of {at_least_words(unit, *needed)}, centred.",
            source=Source.PLAN,
        )
    told = ", ".join(f"{side} {length_words(unit, it)}" for side, it in lost.items())
    yield note(
        topic="lost at the edges",
        problem=f"Of the picture this much lies beyond the sheet and is lost: {told}.",
        remedy="Keep what matters away from the edges, or print with margins.",
        source=Source.PLAN,
    )


def lost_at_edges_mm(plan: PrintPlan) -> dict[str, float]:
    """What of a borderless picture lies beyond each edge of its sheet."""
    layout, block = plan.layout, plan.layout.block
    return {
        "left": max(-block.left_mm, 0.0),
        "top": max(-block.top_mm, 0.0),
        "right": max(block.right_mm - layout.width_mm, 0.0),
        "foot": max(block.bottom_mm - layout.height_mm, 0.0),
    }


def _about_marks(plan: PrintPlan) -> Iterator[Finding]:
    white = plan.spec.white
    if white.marks is Marks.NONE:
        return
    if plan.spec.sheet.bleed_mm > 0:
        yield warn(
            topic="marks beyond sheet",
            problem="Marks for cutting are asked for, and the picture reaches beyond "
            "the sheet: they are not printed.",
            remedy="Choose no marks, or a print with margins.",
            source=Source.PLAN,
        )
    elif plan.delivery.extent is Extent.SHEET and plan.spec.mount.wrap_mm > 0:
        yield note(
            topic="fold without marks",
            problem="The picture's own edges go round the bar; marks show the cut, and "
            "none the fold.",
            remedy="Let the sides be added to the size: their folds are marked.",
            source=Source.PLAN,
        )
