"""Has the master enough pixels for this size, and does the file have the right ones?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.finding import (
    BOOK,
    COMMON_PRACTICE,
    OUR_CHOICE,
    Finding,
    Level,
)
from printplan.size.sizing import acuity_ppi
from printplan.spec import SizeRule

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

ACUITY = "ISO 8596:2017, acuity 1.0, at the viewing distance"


def viewing_distance_mm(plan: PrintPlan) -> float:
    """
    Distance that the print is looked at from.

    Parameters
    ----------
    plan : PrintPlan

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

    Parameters
    ----------
    plan : PrintPlan

    Returns
    -------
    float
        What acuity 1.0 resolves, `LOW_PPI` at most.
    """
    return min(LOW_PPI, acuity_ppi(viewing_distance_mm(plan)))


def about_size(plan: PrintPlan) -> Iterator[Finding]:
    """
    What pixels, size and crop tell.

    Parameters
    ----------
    plan : PrintPlan

    Yields
    ------
    Finding
    """
    yield from _about_enlargement(plan)
    yield from _about_resolution(plan)
    yield from _about_crop(plan)


def _about_enlargement(plan: PrintPlan) -> Iterator[Finding]:
    found = plan.effective_ppi
    if found >= LOW_PPI:
        return
    needed, distance_mm = needed_ppi(plan), viewing_distance_mm(plan)
    widest_mm = int(plan.picture_size.width_mm * found / needed)
    problem = (
        f"The master gives {found:.1f} of its own pixels per inch at this size; "
        f"{LOW_PPI:.0f} to 300 are usual"
    )
    if found < needed:
        yield Finding(
            level=Level.WARN,
            about="enlargement",
            problem=f"{problem}, and the eye resolves "
            f"{acuity_ppi(distance_mm):.0f} from {distance_mm:.0f} mm.",
            remedy=f"Print at most {widest_mm} mm wide, or judge a trial from the "
            "viewing distance.",
            source=ACUITY if needed < LOW_PPI else COMMON_PRACTICE,
        )
    else:
        yield Finding(
            level=Level.NOTE,
            about="enlargement",
            problem=f"{problem}; from {distance_mm:.0f} mm the eye resolves no more "
            f"than {acuity_ppi(distance_mm):.0f}.",
            remedy="Keep the print at that distance; people who step up see the "
            "pixels.",
            source=ACUITY,
        )


def _about_resolution(plan: PrintPlan) -> Iterator[Finding]:
    ppi, taken = plan.ppi, plan.printer.input_ppi
    offered = ", ".join(f"{value:g}" for value in taken)
    if ppi < LOW_PPI <= plan.effective_ppi:
        forgiven = ppi >= needed_ppi(plan)
        yield Finding(
            level=Level.NOTE if forgiven else Level.WARN,
            about="low resolution",
            problem=f"The file has {ppi:g} ppi, and {LOW_PPI:.0f} to 300 are usual; "
            f"the master has {plan.effective_ppi:.0f}.",
            remedy=f"Choose one of {offered} ppi.",
            source=COMMON_PRACTICE,
        )
    if ppi not in taken:
        yield Finding(
            level=Level.NOTE,
            about="printer resolution",
            problem=f"The file has {ppi:g} ppi; {plan.printer.name} resamples what is "
            f"not {offered} ppi.",
            remedy="Choose one of these, so that no pixel is made twice.",
            source=BOOK,
        )
    useful = max(plan.effective_ppi, min(taken))
    if ppi > WASTEFUL_TIMES * useful or ppi > WASTEFUL_TIMES * max(taken):
        yield Finding(
            level=Level.NOTE,
            about="wasted resolution",
            problem=f"The file has {ppi:g} ppi; the master has only "
            f"{plan.effective_ppi:.0f}, and {plan.printer.name} takes up to "
            f"{max(taken):g}.",
            remedy=f"Choose {min(taken):g} ppi: the file gets smaller and shows as "
            "much.",
            source=OUR_CHOICE,
        )


def _about_crop(plan: PrintPlan) -> Iterator[Finding]:
    if plan.spec.size.rule is not SizeRule.FILL:
        return
    crop, facts = plan.picture_size.crop, plan.facts
    kept = crop.width_px * crop.height_px / (facts.width_px * facts.height_px)
    cut = 1 - kept
    if cut < SOME_CUT_SHARE:
        return
    size = plan.picture_size
    lies_across = (size.width_mm > size.height_mm) != (facts.width_px > facts.height_px)
    limit = ACROSS_CUT_SHARE if lies_across else MUCH_CUT_SHARE
    much = cut > limit
    remedy = 'Look at what is left, or choose the size rule "fit".'
    if much and lies_across:
        turned = f"{size.height_mm:g} × {size.width_mm:g} mm"
        remedy = f"Exchange width and height ({turned}). {remedy}"
    yield Finding(
        level=Level.WARN if much else Level.NOTE,
        about="crop",
        problem=f"The size cuts {cut:.0%} of the picture away; "
        + (
            f"more than {limit:.0%} is seldom meant."
            if much
            else f"more than {SOME_CUT_SHARE:.0%} is worth a look."
        ),
        remedy=remedy,
        source=OUR_CHOICE,
    )
