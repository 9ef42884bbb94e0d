"""Is the sharpening within its limits?"""

from __future__ import annotations

from dataclasses import replace
from math import ceil, floor
from typing import TYPE_CHECKING

from printplan.checks.finding import Finding, Level, Source, note, warn
from printplan.checks.master_pixels import content_of
from printplan.checks.size import viewing_distance_mm
from printplan.pixels.sharpening import (
    chosen_sharpening,
    predicted_effect,
    strongest_tones_l,
)
from printplan.pixels.sharpening_spec import usual_restore, wished_limits
from printplan.sharpening.content import SHARPENED_OVERSHOOT

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.sharpening.content import ContentFacts
    from printplan.sharpening.effect import SharpenEffect


LEEWAY = 1.25
"""Times a limit that is warned of; up to there it is noted. A choice made up to the
limit stays below, though other windows of the picture measure a little differently.
Our choice."""


ALL_SMOOTH_SHARE = 0.99
"""Smooth share of a picture that has nothing to sharpen, if it has no edges either: our
choice."""

LEAST_ACUTANCE = 0.02
"""Acutance that sharpening must add for its absence to be a fault: our choice."""

_HALVINGS = 12
# What is measured anew at another size scatters.
_SAFE_SHARE = 0.95
_MOST_FLOOR_L, _FLOOR_STEP_L = 10.0, 0.1


def sharpness_findings(sheet: Sheet, content: ContentFacts | None) -> Iterator[Finding]:
    """
    What edges and noise in the print's own pixels tell.

    Parameters
    ----------
    content : ContentFacts or None
        Measured if it is None; see `content_of`.
    """
    known = content_of(sheet, content)
    if known is None:
        if sheet.plan.spec.sharpen.gain > 0:
            yield note(
                topic="sharpening unjudged",
                problem="The picture is too small or too clipped to measure its edges "
                "and its noise; 128 print pixels each way are needed.",
                remedy="Judge the sharpening on a trial print.",
                source=Source.OUR_CHOICE,
            )
        return
    if sheet.plan.spec.sharpen.gain > 0:
        yield from _about_sharpening(sheet.plan, known)
    else:
        yield from _about_none(sheet.plan, known)


def _about_none(plan: PrintPlan, content: ContentFacts) -> Iterator[Finding]:
    """A print that would be better sharpened, and is not."""
    if (
        content.master_edge_sigma_px is None
        and content.smooth_share >= ALL_SMOOTH_SHARE
    ):
        return
    advice = chosen_sharpening(
        plan,
        content,
        distance_mm=viewing_distance_mm(plan),
        restore=usual_restore(plan),
        limits=wished_limits(plan.spec.sharpen),
    )
    choice, spec = advice.choice, advice.spec
    if choice.acutance_after - choice.acutance_before < LEAST_ACUTANCE:
        return
    remedy = f"Choose a gain of {spec.gain:.2f} and a radius of {spec.radius_mm:.3f} mm"
    if spec.halo_limit_share is not None:
        remedy += f", with a halo limit of {_rounded_down(spec.halo_limit_share):.2f} "
        remedy += "in the file"
    if spec.grain_floor_l > 0:
        remedy += f" and a grain floor of {spec.grain_floor_l:.1f} L*"
    yield warn(
        topic="not sharpened",
        problem="The print is not sharpened for paper and distance: its acutance is "
        f"{choice.acutance_before:.2f}, and would be {choice.acutance_after:.2f}.",
        remedy=f"{remedy}.",
        source=Source.OUR_CHOICE,
    )


def _about_sharpening(plan: PrintPlan, content: ContentFacts) -> Iterator[Finding]:
    sharpen, limits = plan.spec.sharpen, wished_limits(plan.spec.sharpen)
    had = content.overshoot_share if content.already_sharpened else None
    taken = 0.0 if had is None else had - SHARPENED_OVERSHOOT
    allowed = max(limits.halo_limit - taken, 0.0)
    if had is not None:
        yield Finding(
            level=Level.NOTE if allowed > 0 else Level.WARN,
            topic="sharpened before",
            problem=f"The master's edges overshoot by {had:.1%} already; "
            f"{SHARPENED_OVERSHOOT:.0%} counts as sharpened, and the halo limit "
            f"leaves {allowed:.1%}.",
            remedy="Sharpen less, or print from a master that was not sharpened.",
            source=Source.OUR_CHOICE,
        )
    effect = _effect(plan, content)
    halo = effect.overshoot_in_print
    if halo > allowed > 0:
        dark_l, light_l = strongest_tones_l(content)
        yield Finding(
            level=_weight(halo, allowed),
            topic="halo",
            problem=f"Edges in the print overshoot by {halo:.1%}, told for the "
            f"strongest, from L* {dark_l:.0f} to {light_l:.0f}; the limit is "
            f"{allowed:.1%}.",
            remedy=_less_halo(plan, content, allowed),
            source=Source.OUR_CHOICE,
        )
    noise_limit = max(1.0, (1 + limits.noise_rise) * effect.visible_noise_in_master)
    if effect.visible_noise_after > noise_limit:
        gain = _largest(
            lambda it: (
                _effect(plan, content, gain=it).visible_noise_after <= noise_limit
            ),
            sharpen.gain,
        )
        floor_l = _MOST_FLOOR_L - _largest(
            lambda it: (
                _effect(
                    plan, content, grain_floor_l=_MOST_FLOOR_L - it
                ).visible_noise_after
                <= noise_limit
            ),
            _MOST_FLOOR_L,
        )
        remedy = f"Choose a gain of {_rounded_down(gain):.2f} or less"
        if floor_l <= _MOST_FLOOR_L - _FLOOR_STEP_L:
            floor_l = ceil(floor_l / _FLOOR_STEP_L) * _FLOOR_STEP_L
            remedy += f", or a grain floor of {floor_l:.1f} L* or more"
        yield Finding(
            level=_weight(effect.visible_noise_after, noise_limit),
            topic="noise",
            problem=f"Noise in the print is {effect.visible_noise_after:.1f} times "
            f"what the eye just sees; the limit is {noise_limit:.1f}.",
            remedy=f"{remedy}.",
            source=f"Barten's threshold of the eye; the limit is {Source.OUR_CHOICE}",
        )


def _less_halo(plan: PrintPlan, content: ContentFacts, allowed: float) -> str:
    """Settings that each keep the halo within the limit."""
    sharpen = plan.spec.sharpen
    gain = _largest(
        lambda it: _effect(plan, content, gain=it).overshoot_in_print <= allowed,
        sharpen.gain,
    )
    limit = _largest(
        lambda it: (
            _effect(plan, content, halo_limit_share=it).overshoot_in_print <= allowed
        ),
        sharpen.halo_limit_share or 1.0,
    )
    held = f"set a halo limit of {_rounded_down(limit):.2f} or less in the file"
    if _rounded_down(gain) == 0:
        # Resampling alone leaves more beside so strong an edge than the limit.
        return f"{held[0].upper()}{held[1:]}."
    return f"Choose a gain of {_rounded_down(gain):.2f} or less, or {held}."


def _effect(plan: PrintPlan, content: ContentFacts, **changed: float) -> SharpenEffect:
    """What the plan's sharpening does, or would with another setting."""
    sharpen = replace(plan.spec.sharpen, **changed)  # type: ignore[arg-type]  # numbers
    return predicted_effect(
        replace(plan, spec=replace(plan.spec, sharpen=sharpen)),
        content,
        distance_mm=viewing_distance_mm(plan),
    )


def _largest(holds: Callable[[float], bool], most: float) -> float:
    """The largest value below one that breaks a limit, as halves find it; 0 if none."""
    least = 0.0
    for _ in range(_HALVINGS):
        middle = (least + most) / 2
        least, most = (middle, most) if holds(middle) else (least, middle)
    return least


def _rounded_down(value: float) -> float:
    """To hundredths, as a person sets it, and on the safe side."""
    return floor(100 * value) / 100


def _weight(found: float, limit: float) -> Level:
    return Level.WARN if found > LEEWAY * limit else Level.NOTE
