"""Does the mat suit the print, its sheet and its frame?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.finding import Finding, Level, Source, stop, warn
from printplan.sizing.mat_fit import (
    SMALLEST_MATTED_MM,
    least_outer_mm,
    why_not_cut,
    why_not_held,
)
from printplan.sizing.mats import (
    MAT_OVERLAP_MM,
    is_as_frame,
    mat_as_asked,
    sides_between,
    size_mm,
    usual_opening_mm,
)
from printplan.spec import SHORTEST_MM
from printplan.units import (
    at_least_words,
    at_most_mm,
    at_most_words,
    length_words,
    short_words,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.plan import PrintPlan
    from printplan.sizing.mats import MatPlan


LEAST_OVERLAP_MM = 1.0
"""By how much a mat must cover an edge that is to stay under it: cutting and hinging
wander by about that. Common practice, no source."""

SIGNATURE_MM = 10.0
"""White below a picture that takes a signature and a number in pencil. Our choice."""

LOOSE_MM = 1.5
"""Play of a mat in its frame on each side, up to which it stays where it is: rebates
are made some 3 mm larger than the glass is called (common practice, no source)."""

SEEN_MM = 0.2
"""Of a mat's edge, less is not seen beside a frame that hides none. Our choice."""

_HAIR_MM = 1e-6


def mat_findings(plan: PrintPlan) -> Iterator[Finding]:
    """What opening, board and frame tell."""
    layout, mount = plan.layout, plan.spec.mount
    mat = mat_as_asked(layout.picture, layout.sheet, mount)
    if mat is None:
        return
    unit = plan.spec.lengths_in
    uncut = why_not_cut(mat, mount, unit)
    if uncut is not None:
        is_open = min(size_mm(mat.opening)) >= SHORTEST_MM - _HAIR_MM
        yield stop(
            topic="mat cut" if is_open else "no opening",
            problem=uncut.problem,
            remedy=uncut.remedy,
            source=Source.OUR_CHOICE,
        )
        if not is_open:
            return
    unheld = why_not_held(mat, mount, unit)
    if unheld is not None:
        gone = mat.paper_held.least_mm < 0
        yield Finding(
            level=Level.STOP if gone else Level.WARN,
            topic="mat beyond sheet" if gone else "paper under mat",
            problem=unheld.problem,
            remedy=unheld.remedy,
            source=Source.PLAN if gone else Source.COMMON_PRACTICE,
        )
    elif mount.reveal_mm is None:
        yield from _about_opening(plan, mat)
    yield from _about_signature(plan, mat)
    if uncut is None:
        yield from _about_outside(plan, mat)
        yield from _about_frame(plan, mat)


def _about_opening(plan: PrintPlan, mat: MatPlan) -> Iterator[Finding]:
    """An opening that is to cover the picture's edges."""
    unit, size = plan.spec.lengths_in, plan.picture_size
    width, height = size_mm(mat.opening)
    opening = f"The mat's opening is {length_words(unit, width, height)}"
    picture = length_words(unit, size.width_mm, size.height_mm)
    covers = short_words(unit, MAT_OVERLAP_MM)
    overlap_mm = min(size.width_mm - width, size.height_mm - height) / 2
    holds = at_most_words(unit, *usual_opening_mm(mat.picture))
    choose = f"Choose {holds}, which covers {covers} of each edge"
    if min(size.width_mm, size.height_mm) < SMALLEST_MATTED_MM:
        choose = "Choose a larger picture, or no mat"
    elif plan.spec.mount.mat_overlap_mm is not None:
        choose = f"Choose an overlap of {at_least_words(unit, MAT_OVERLAP_MM)}"
    if overlap_mm < -_HAIR_MM:
        unless = "" if "no mat" in choose else ", unless the white is meant"
        yield warn(
            topic="mat opening",
            problem=f"{opening}, larger than the picture of {picture}: paper would "
            "show inside it.",
            remedy=f"{choose}{unless}.",
            source=Source.COMMON_PRACTICE,
        )
    elif overlap_mm < MAT_OVERLAP_MM - _HAIR_MM:
        yield Finding(
            level=Level.WARN if overlap_mm < LEAST_OVERLAP_MM else Level.NOTE,
            topic="mat opening",
            problem=f"{opening} and covers {length_words(unit, max(overlap_mm, 0))} of "
            f"an edge of the picture of {picture}; {covers} are usual, and below "
            f"{short_words(unit, LEAST_OVERLAP_MM)} white shows at the first slip.",
            remedy=f"{choose}.",
            source=Source.COMMON_PRACTICE,
        )


def _about_signature(plan: PrintPlan, mat: MatPlan) -> Iterator[Finding]:
    mount, unit = plan.spec.mount, plan.spec.lengths_in
    below_mm = mount.reveal_below_mm
    if below_mm is None or below_mm <= (mount.reveal_mm or 0.0):
        return
    if below_mm >= SIGNATURE_MM - _HAIR_MM:
        return
    white_mm = sides_between(mat.sheet, mat.picture).bottom_mm
    # What is told is rounded up, by less than a millimetre.
    fits = white_mm >= SIGNATURE_MM + MAT_OVERLAP_MM + 1.0
    yield warn(
        topic="signature room",
        problem=f"The mat shows {length_words(unit, below_mm)} of white below the "
        f"picture; a signature and a number take {short_words(unit, SIGNATURE_MM)}.",
        remedy=f"Show {at_least_words(unit, SIGNATURE_MM)} or more below it."
        if fits
        else "Choose a larger sheet or a higher place of the picture, or sign on the "
        "back.",
        source=Source.OUR_CHOICE,
    )


def _about_outside(plan: PrintPlan, mat: MatPlan) -> Iterator[Finding]:
    """Paper that sticks out past the mat."""
    beyond, unit = mat.paper_beyond, plan.spec.lengths_in
    if beyond is None or mat.outer is None or max(beyond.all_mm) <= _HAIR_MM:
        return
    needed = least_outer_mm(
        size_mm(mat.opening), mat.paper_held.positive, plan.spec.mount
    )
    trims = [
        f"{length_words(unit, it)} at the {side}"
        for side, it in zip(
            ("left", "top", "right", "foot"), beyond.all_mm, strict=True
        )
        if it > _HAIR_MM
    ]
    what = "frame" if is_as_frame(plan.spec.mount) else "mat"
    yield warn(
        topic="sheet beyond mat",
        problem=f"The sheet of {length_words(unit, *size_mm(mat.sheet))} sticks out "
        f"past the mat of {length_words(unit, *size_mm(mat.outer))}: "
        f"{', '.join(trims)}.",
        remedy=f"Choose a {what} of at least {at_least_words(unit, *needed)}, or trim "
        "the sheet once it is dry: along a steel rule with a guard, the hand behind "
        "the blade.",
        source=Source.PLAN,
    )


def _about_frame(plan: PrintPlan, mat: MatPlan) -> Iterator[Finding]:
    hidden, seen, mount = mat.mat_hidden, mat.margins_seen, plan.spec.mount
    if mat.outer is None or mat.glazing is None or hidden is None or seen is None:
        return
    unit = plan.spec.lengths_in
    outside, glass = size_mm(mat.outer), size_mm(mat.glazing)
    sizes = (
        f"The mat is {length_words(unit, *outside)}, the frame's glass "
        f"{length_words(unit, *glass)}"
    )
    play_mm = sides_between(mat.glazing, mat.outer)
    as_frame = (
        f"Choose a mat of {at_most_words(unit, *glass)}, or a frame that fits it."
    )
    if play_mm.least_mm < -_HAIR_MM:
        yield stop(
            topic="mat beyond frame",
            problem=f"{sizes}: it does not go in.",
            remedy=f"Choose a frame of at least {at_least_words(unit, *outside)}, or a "
            "smaller mat.",
            source=Source.PLAN,
        )
    elif hidden.least_mm < -SEEN_MM:
        yield stop(
            topic="loose in frame",
            problem=f"{sizes}, of which the frame hides "
            f"{length_words(unit, mount.frame_rebate_mm)} on each side: the mat's edge "
            "would be seen.",
            remedy=as_frame,
            source=Source.PLAN,
        )
    elif max(play_mm.all_mm) > LOOSE_MM + _HAIR_MM:
        yield warn(
            topic="loose in frame",
            problem=f"{sizes}: it can slip by "
            f"{length_words(unit, 2 * max(play_mm.all_mm))}.",
            remedy=as_frame,
            source=Source.COMMON_PRACTICE,
        )
    if seen.least_mm < -_HAIR_MM:
        most_mm = mount.frame_rebate_mm + seen.least_mm
        yield stop(
            topic="frame over opening",
            problem=f"The frame hides {length_words(unit, mount.frame_rebate_mm)} on "
            f"each side, and reaches {length_words(unit, -seen.least_mm)} into the "
            "mat's opening.",
            remedy=f"Choose a frame that hides {at_most_words(unit, most_mm)} or less, "
            "or a larger mat and frame."
            if at_most_mm(unit, most_mm) > 0
            else "Choose a larger frame.",
            source=Source.PLAN,
        )
