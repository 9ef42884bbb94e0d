"""Has the master enough pixels for this size, and does the file have the right ones?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.finding import Finding, Level, Source, note, warn
from printplan.sizing.print_size import acuity_ppi
from printplan.spec import SHORTEST_MM, Delivery, SizeRule
from printplan.units import (
    LengthUnit,
    at_least_words,
    at_most_words,
    distance_words,
    length_words,
    short_words,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.plan import PrintPlan


LOW_PPI = 200.0
"""Common practice, no source: 200-300 picture pixels per inch at the final size."""

ACROSS_CUT_SHARE = 0.4
"""Share of its area that a picture laid across its place loses: our choice. A 3:2
picture loses 5/9, a 4:3 picture 7/16; in a square they lose a third and a quarter."""

MUCH_CUT_SHARE = 0.6
"""Share that a crop seldom takes on purpose: our choice. A 3:1 strip out of a 3:2
picture cuts half."""

SOME_CUT_SHARE = 0.1
"""Share from which a crop is worth a look: our choice."""

WASTEFUL_TIMES = 2.0
"""File pixels per pixel that the master has, or that the printer can use, from which
they only cost time: our choice."""

SMALL_SHARE = 0.1
"""Edges of the picture over those of its sheet below which a slip of the unit is
likelier than a wish: our choice. A picture of 38 mm on A2 has 0.064."""

_SERVICE_PPI = 300.0
"""What print services usually ask for: common practice, no source."""

_MM_PER_CM = 10

_HAIR = 1e-4
"""Far below what is told of a length or a resolution, and far above rounding."""

ACUITY = "ISO 8596:2017, acuity 1.0, at the viewing distance"


def viewing_distance_mm(plan: PrintPlan) -> float:
    """
    Distance that the print is looked at from.

    Returns
    -------
    float
        The plan's own if it names one, else the usual one for its size.
    """
    # Plans are checked without the libraries of pixels; this is asked of few.
    from printplan.pixels.sharpening_spec import usual_distance_mm  # noqa: PLC0415

    return plan.spec.sharpen.distance_mm or usual_distance_mm(plan)


def needed_ppi(plan: PrintPlan) -> float:
    """
    Picture pixels per inch that the eye asks for at its distance.

    Returns
    -------
    float
        What acuity 1.0 resolves, `LOW_PPI` at most.
    """
    return min(LOW_PPI, acuity_ppi(viewing_distance_mm(plan)))


def size_findings(plan: PrintPlan) -> Iterator[Finding]:
    """What pixels, size and crop tell."""
    yield from _about_enlargement(plan)
    yield from _about_resolution(plan)
    yield from _about_crop(plan)
    yield from _about_smallness(plan)


def _about_enlargement(plan: PrintPlan) -> Iterator[Finding]:
    found = plan.effective_ppi
    if found >= LOW_PPI - _HAIR:
        return
    needed, distance_mm = needed_ppi(plan), viewing_distance_mm(plan)
    times = _curing_times(plan)
    problem = (
        f"The master gives {found:.1f} of its own pixels per inch at this size; "
        f"{LOW_PPI:.0f} to 300 are usual"
    )
    if found < needed - _HAIR:
        yield warn(
            topic="enlargement",
            problem=f"{problem}, and the eye resolves "
            f"{acuity_ppi(distance_mm):.0f} from {_distance_words(plan)}.",
            remedy=f"Print at most {_asked_words(plan, times)}, or judge a trial from "
            "the viewing distance."
            if _shortest_asked_mm(plan, times) >= SHORTEST_MM
            else "Print from a master with more pixels: even the smallest size that is "
            "taken has too few.",
            source=ACUITY if needed < LOW_PPI else Source.COMMON_PRACTICE,
        )
    else:
        yield note(
            topic="enlargement",
            problem=f"{problem}; from {_distance_words(plan)} the eye resolves no more "
            f"than {acuity_ppi(distance_mm):.0f}.",
            remedy="Keep the print at that distance; people who step up see the "
            "pixels.",
            source=ACUITY,
        )


def _curing_times(plan: PrintPlan) -> float:
    """
    Times its size at which the master has pixels enough.

    Where no distance is named, a smaller print is looked at from nearer, so that its
    pixels gain nothing until they are `LOW_PPI` to the inch.
    """
    named = plan.spec.sharpen.distance_mm is not None
    return plan.effective_ppi / (needed_ppi(plan) if named else LOW_PPI)


def _asked_words(plan: PrintPlan, times: float, *, up: bool = False) -> str:
    """The length that was asked for, so many times as long: a wish that works."""
    size, unit = plan.picture_size, plan.spec.lengths_in
    rule = plan.spec.size.rule
    width_mm, height_mm = times * size.width_mm, times * size.height_mm
    words = at_least_words if up else at_most_words
    if rule is SizeRule.FIT:  # the shorter one only has to leave room
        width_mm, height_mm = (max(it, SHORTEST_MM) for it in (width_mm, height_mm))
    if rule in {SizeRule.FIT, SizeRule.FILL}:
        return words(unit, width_mm, height_mm)
    if rule is SizeRule.WIDTH:
        length_mm, which = width_mm, "wide"
    elif rule is SizeRule.HEIGHT:
        length_mm, which = height_mm, "high"
    else:
        length_mm, which = max(width_mm, height_mm), "along its longest edge"
    if unit is LengthUnit.MM and not up:
        # People set whole millimetres; exact ones stay what they are.
        return f"{int(length_mm * (1 + 1e-9))} mm {which}"
    return f"{words(unit, length_mm)} {which}"


def _shortest_asked_mm(plan: PrintPlan, times: float) -> float:
    """Shortest length that `_asked_words` names."""
    size, rule = plan.picture_size, plan.spec.size.rule
    width_mm, height_mm = times * size.width_mm, times * size.height_mm
    return {
        SizeRule.WIDTH: width_mm,
        SizeRule.HEIGHT: height_mm,
        SizeRule.LONGEST_EDGE: max(width_mm, height_mm),
        SizeRule.FIT: max(width_mm, height_mm),
    }.get(rule, min(width_mm, height_mm))


def _distance_words(plan: PrintPlan) -> str:
    return distance_words(plan.spec.lengths_in, round(viewing_distance_mm(plan)))


def _about_resolution(plan: PrintPlan) -> Iterator[Finding]:
    ppi, taken = plan.ppi, plan.printer.input_ppi
    by_service = plan.delivery.colour is Delivery.NAMED_SPACE
    offered = ", ".join(f"{value:g}" for value in taken)
    enough = ", ".join(f"{value:g}" for value in taken if value >= LOW_PPI)
    if ppi < LOW_PPI <= plan.effective_ppi:
        forgiven = ppi >= needed_ppi(plan)
        yield Finding(
            level=Level.NOTE if forgiven else Level.WARN,
            topic="low resolution",
            problem=f"The file has {ppi:g} ppi, and {LOW_PPI:.0f} to 300 are usual; "
            f"the master has {plan.effective_ppi:.0f}.",
            remedy=f"Choose {LOW_PPI:.0f} ppi or more."
            if by_service or not enough
            else f"Choose one of {enough} ppi.",
            source=Source.COMMON_PRACTICE,
        )
    if ppi not in taken and not by_service:
        yield note(
            topic="printer resolution",
            problem=f"The file has {ppi:g} ppi; {plan.printer.name} resamples what is "
            f"not {offered} ppi.",
            remedy="Choose one of these, so that no pixel is made twice.",
            source=Source.BOOK,
        )
    if by_service:  # which names no resolutions of its printer's
        useful, takes = max(plan.effective_ppi, _SERVICE_PPI), ""
        choice = f"{_SERVICE_PPI:g} ppi, or what the service asks for"
    else:
        useful = min(max(plan.effective_ppi, min(taken)), max(taken))
        takes = f", and {plan.printer.name} takes up to {max(taken):g}"
        choice = f"{min(taken):g} ppi"
    if ppi > WASTEFUL_TIMES * useful:
        yield note(
            topic="wasted resolution",
            problem=f"The file has {ppi:g} ppi; the master has only "
            f"{plan.effective_ppi:.0f}{takes}.",
            remedy=f"Choose {choice}: the file gets smaller and shows as much.",
            source=Source.OUR_CHOICE,
        )


def _about_crop(plan: PrintPlan) -> Iterator[Finding]:
    if plan.spec.size.rule is not SizeRule.FILL:
        return
    crop, facts = plan.crop, plan.facts
    kept = crop.width_px * crop.height_px / (facts.width_px * facts.height_px)
    cut = 1 - kept
    if cut < SOME_CUT_SHARE:
        return
    size = plan.picture_size
    lies_across = (size.width_mm > size.height_mm) != (facts.width_px > facts.height_px)
    limit = ACROSS_CUT_SHARE if lies_across else MUCH_CUT_SHARE
    much = cut > limit
    remedy = 'Look at what is left, or choose the size by "fit in an area".'
    shape, turned_shape = (
        facts.width_px / facts.height_px,
        size.height_mm / size.width_mm,
    )
    turned_cut = 1 - min(shape, turned_shape) / max(shape, turned_shape)
    if much and lies_across and turned_cut < min(cut - _HAIR, MUCH_CUT_SHARE):
        turned = short_words(plan.spec.lengths_in, size.height_mm, size.width_mm)
        remedy = f"Exchange width and height ({turned}). {remedy}"
    yield Finding(
        level=Level.WARN if much else Level.NOTE,
        topic="crop",
        problem=f"The size cuts {cut:.0%} of the picture away; "
        + (
            f"more than {limit:.0%} is seldom meant."
            if much
            else f"more than {SOME_CUT_SHARE:.0%} is worth a look."
        ),
        remedy=remedy,
        source=Source.OUR_CHOICE,
    )


def _about_smallness(plan: PrintPlan) -> Iterator[Finding]:
    """A picture that is lost on its sheet: mostly a slip of the unit."""
    layout, size, unit = plan.layout, plan.picture_size, plan.spec.lengths_in
    share = max(size.width_mm / layout.width_mm, size.height_mm / layout.height_mm)
    if share >= SMALL_SHARE - _HAIR:
        return
    slip = ""
    if unit is LengthUnit.MM and 2 * SMALL_SHARE <= _MM_PER_CM * share <= 1:
        ten_times = _asked_words(plan, _MM_PER_CM)
        slip = f"If centimetres were meant, choose {ten_times}. "
    yield warn(
        topic="small on its sheet",
        problem=f"The picture is {length_words(unit, size.width_mm, size.height_mm)} "
        f"on a sheet of {length_words(unit, layout.width_mm, layout.height_mm)}: it "
        f"takes {share:.1%} of the sheet's edges, and below {SMALL_SHARE:.0%} a slip "
        "of the unit is likely.",
        remedy=f"{slip}Choose {_asked_words(plan, SMALL_SHARE / share, up=True)} or "
        "more, or a smaller sheet, unless so much white is meant.",
        source=Source.OUR_CHOICE,
    )
