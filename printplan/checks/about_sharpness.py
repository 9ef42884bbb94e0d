"""Is the sharpening within its limits?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.about_size import viewing_distance_mm
from printplan.checks.finding import OUR_CHOICE, Finding, Level
from printplan.checks.known_content import content_of
from printplan.pixels.sharpening import predicted_effect
from printplan.pixels.sharpening_spec import wished_limits
from printplan.sharpness.content import SHARPENED_OVERSHOOT

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.sharpness.content import ContentFacts

LEEWAY = 1.25
"""Times a limit that is warned of; up to there it is noted. A choice made up to the
limit stays below, though other windows of the picture measure a little differently.
Our choice."""


def about_sharpness(sheet: Sheet, content: ContentFacts | None) -> Iterator[Finding]:
    """
    What edges and noise in the print's own pixels tell.

    Parameters
    ----------
    sheet : Sheet
    content : ContentFacts or None
        Measured if it is None; see `content_of`.

    Yields
    ------
    Finding
    """
    known = content_of(sheet, content)
    if known is None:
        if sheet.plan.spec.sharpen.gain > 0:
            yield Finding(
                level=Level.NOTE,
                about="sharpening unjudged",
                problem="The picture is too small or too clipped to measure its edges "
                "and its noise; 128 print pixels each way are needed.",
                remedy="Judge the sharpening on a trial print.",
                source=OUR_CHOICE,
            )
        return
    if sheet.plan.spec.sharpen.gain > 0:
        yield from _about_sharpening(sheet.plan, known)


def _about_sharpening(plan: PrintPlan, content: ContentFacts) -> Iterator[Finding]:
    sharpen, limits = plan.spec.sharpen, wished_limits(plan.spec.sharpen)
    had = content.overshoot_share if content.already_sharpened else None
    taken = 0.0 if had is None else had - SHARPENED_OVERSHOOT
    allowed = max(limits.halo_limit - taken, 0.0)
    if had is not None:
        yield Finding(
            level=Level.NOTE if allowed > 0 else Level.WARN,
            about="sharpened before",
            problem=f"The master's edges overshoot by {had:.1%} already; "
            f"{SHARPENED_OVERSHOOT:.0%} counts as sharpened, and the halo limit "
            f"leaves {allowed:.1%}.",
            remedy="Sharpen less, or print from a master that was not sharpened.",
            source=OUR_CHOICE,
        )
    effect = predicted_effect(plan, content, distance_mm=viewing_distance_mm(plan))
    halo = effect.overshoot_in_print
    if sharpen.halo_limit_share is not None and effect.overshoot_in_file > 0:
        halo *= min(1.0, sharpen.halo_limit_share / effect.overshoot_in_file)
    if halo > allowed > 0:
        gain = sharpen.gain * allowed / halo
        yield Finding(
            level=_weight(halo, allowed),
            about="halo",
            problem=f"Edges in the print overshoot by {halo:.1%}; the limit is "
            f"{allowed:.1%}.",
            remedy=f"Choose a gain of {gain:.2f} or less, or a smaller radius.",
            source=OUR_CHOICE,
        )
    noise_limit = max(1.0, (1 + limits.noise_rise) * effect.visible_noise_in_master)
    if effect.visible_noise_after > noise_limit:
        yield Finding(
            level=_weight(effect.visible_noise_after, noise_limit),
            about="noise",
            problem=f"Noise in the print is {effect.visible_noise_after:.1f} times "
            f"what the eye just sees; the limit is {noise_limit:.1f}.",
            remedy="Choose a lower gain or a higher grain floor.",
            source=f"Barten's threshold of the eye; the limit is {OUR_CHOICE}",
        )


def _weight(found: float, limit: float) -> Level:
    return Level.WARN if found > LEEWAY * limit else Level.NOTE
