"""What does the plan's rendering make of the picture's colours and shadows?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from printplan.checks.finding import Finding, Source, note, weight
from printplan.checks.service import space_findings
from printplan.colour.black_point import is_compensated
from printplan.colour.intents import (
    SHADOW_L,
    SHADOW_STEPS,
    distinct_choices,
    own_intents,
    shadow_steps,
)
from printplan.colour.losses import (
    DEAD,
    FAR_OUT,
    OUT_OF_GAMUT,
    gamut_distance,
    summarize_distance,
)
from printplan.colour.spaces import named_profile
from printplan.pixels.consequences import consequences, plan_wedge
from printplan.pixels.sheet import varied
from printplan.spec import BlackPointCompensation, Delivery, Intent, NamedSpace

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.colour.profiles import Profile
    from printplan.pixels.consequences import Consequences
    from printplan.pixels.sheet import Sheet


DARK_L, CLOSED_L = 25.0, 1.0
"""Lightness up to which tones are shadows, and up to which they are closed in the
master already: our choice."""

# Shares of the picture from which something is noted, and warned of: our choice.
_FAR_OUT = 0.1
_LOST = (0.02, 0.1)
_SHADOWS = (0.01, 0.05)
_MOVED = (0.03, 0.1)
_LOW_KEY = (0.15, 0.6)

LEAST_SHADOW_STEPS = 12
"""Shadow steps that a picture with much in the shadows wants apart: our choice. Matte
papers keep some 8 to 10 of 20, glossy ones nearly all."""


def rendering_findings(sheet: Sheet) -> Iterator[Finding]:
    """What the plan's own rendering makes of the picture."""
    found = consequences(sheet)
    if sheet.delivered is sheet.profile and (
        sheet.plan.delivery.colour is Delivery.NAMED_SPACE
    ):
        yield from _about_space(sheet, found)
    else:
        yield from space_findings(sheet, found)
        yield from _about_reach(sheet, found)
    closed, lost = _merged(found)
    if closed > _SHADOWS[0]:
        yield Finding(
            level=weight(closed, _SHADOWS),
            topic="closed shadows",
            problem=f"{closed:.1%} of the picture are shadows up to L* {DARK_L:g} that "
            f"merge in the print; a warning from {_SHADOWS[1]:.0%} on.",
            remedy=_intent_remedy(sheet, 0, closed, _SHADOWS)
            + "open the shadows in the master, or choose a paper with a deeper black.",
            source=Source.OUR_CHOICE,
        )
    if lost > _LOST[0]:
        yield Finding(
            level=weight(lost, _LOST),
            topic="lost separation",
            problem=f"In {lost:.1%} of the picture tones above the shadows merge in "
            f"the print; a warning from {_LOST[1]:.0%} on.",
            remedy=_intent_remedy(sheet, 1, lost, _LOST)
            + "bring the strongest colours of the master in, or choose a paper that "
            "holds more.",
            source=Source.OUR_CHOICE,
        )
    yield from _about_shadow_steps(sheet, found)
    yield from _about_compensation(sheet)


def _about_reach(sheet: Sheet, found: Consequences) -> Iterator[Finding]:
    if found.reach.share_far_out > _FAR_OUT:
        yield note(
            topic="reach",
            problem=f"{found.reach.share_far_out:.0%} of the picture lies more than "
            f"{FAR_OUT:g} dE00 beyond what {sheet.delivered_name} holds, "
            f"{found.reach.share_out:.0%} more than {OUT_OF_GAMUT:g}; said from "
            f"{_FAR_OUT:.0%} on.",
            remedy="Look at the reach map and compare the intents, or choose a paper "
            "that holds more.",
            source=Source.OUR_CHOICE,
        )


def _merged(found: Consequences) -> tuple[float, float]:
    """Shares of the picture that merge: in the shadows, and above them."""
    merged = found.left.tone < DEAD
    lightness = found.lab[:, 0]
    dark = lightness <= DARK_L
    closed = merged & dark & (lightness > CLOSED_L)
    return float(closed.mean()), float((merged & ~dark).mean())


def _intent_remedy(
    sheet: Sheet, which: int, share: float, limits: tuple[float, float]
) -> str:
    """The intent that keeps most of such tones apart; ends before another way."""
    own = own_intents(sheet.delivered)
    # Those that no finding warns of.
    left = {
        choice: _merged(consequences(sheet, choice))[which]
        for choice in distinct_choices(sheet.delivered, sheet.master.profile)
        if choice.intent in own - {Intent.SATURATION, Intent.ICC_ABSOLUTE}
    }
    best = min(left, key=left.__getitem__, default=None)
    # Only what ends the finding, or makes a note of a warning, is worth a name.
    enough = limits[1] if share > limits[1] else limits[0]
    if best is None or left[best] > enough:
        return "No intent keeps them apart: "
    return (
        f'Set the intent to "{best.intent}" with black point compensation '
        f"{best.black_point_compensation}, which merges {left[best]:.1%}, "
    )


def _about_compensation(sheet: Sheet) -> Iterator[Finding]:
    """Compensation switched off with an intent that reads a table of its own."""
    colour = sheet.plan.spec.colour
    if (
        colour.intent in {Intent.MEDIA_RELATIVE, Intent.ICC_ABSOLUTE}
        or colour.black_point_compensation is BlackPointCompensation.ON
    ):
        return
    if is_compensated(sheet.delivered, colour.intent, BlackPointCompensation.OFF):
        yield note(
            topic="compensation fixed",
            problem=f"Black point compensation is off, and the profile of "
            f"{sheet.delivered_name} is of version 4, whose {colour.intent} intent is "
            "compensated whatever is asked.",
            remedy="Switch it on, so that the plan says what is done.",
            source="ICC.1:2022, 6.3.3",
        )
        return
    spec = sheet.plan.spec
    switched = replace(colour, black_point_compensation=BlackPointCompensation.ON)
    on = varied(sheet, replace(spec, colour=switched))
    without, with_it = (
        shadow_steps(plan_wedge(each, SHADOW_L)) for each in (sheet, on)
    )
    if with_it > without:
        yield note(
            topic="compensation off",
            problem=f"Without black point compensation {without} of {SHADOW_STEPS} "
            f"shadow steps stay apart, with it {with_it}: the {colour.intent} table of "
            f"{sheet.delivered_name} does not bring black to the paper's own.",
            remedy="Switch it on unless the deepest tones are to be cut.",
            source="ISO 18619:2015",
        )


def _about_space(sheet: Sheet, found: Consequences) -> Iterator[Finding]:
    """What a file for an outside service cuts off the colours."""
    far = found.reach.share_far_out
    if far <= _MOVED[0]:
        return
    holds = [
        space
        for space in NamedSpace
        if _far_out(found, named_profile(space)) <= _MOVED[0]
    ]
    remedy = "Bring the strongest colours in while you look at the proof."
    if holds:
        remedy = f'Deliver in "{holds[0]}", if the service takes it. {remedy}'
    yield Finding(
        level=weight(far, _MOVED),
        topic="cut to the space",
        problem=f"{found.clipped_share:.0%} of the picture lies outside "
        f"{sheet.delivered_name} and is cut at its limits; {far:.0%} moves by more "
        f"than {FAR_OUT:g} dE00, and {_MOVED[1]:.0%} is the limit.",
        remedy=remedy,
        source=Source.OUR_CHOICE,
    )


def _far_out(found: Consequences, space: Profile) -> float:
    return summarize_distance(gamut_distance(found.lab, space)).share_far_out


def _about_shadow_steps(sheet: Sheet, found: Consequences) -> Iterator[Finding]:
    lightness = found.lab[:, 0]
    low = float(((lightness > CLOSED_L) & (lightness <= SHADOW_STEPS)).mean())
    if low <= _LOW_KEY[0]:
        return
    steps = shadow_steps(plan_wedge(sheet, SHADOW_L))
    if steps < LEAST_SHADOW_STEPS:
        yield Finding(
            level=weight(low, _LOW_KEY),
            topic="shadow steps",
            problem=f"{low:.0%} of the picture lies below L* {SHADOW_STEPS}, and of "
            f"{SHADOW_STEPS} steps there {steps} stay apart on "
            f"{sheet.delivered_name}; {LEAST_SHADOW_STEPS} is the limit, and a "
            f"warning comes from {_LOW_KEY[1]:.0%} of the picture on.",
            remedy="Choose a paper with a deeper black, or lighten the print and look "
            "at a trial sheet in the light that it will hang in.",
            source=Source.OUR_CHOICE,
        )
