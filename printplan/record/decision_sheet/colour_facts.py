"""How are the print's colours and its sharpening told, and why were they chosen?"""

from __future__ import annotations

from dataclasses import replace
from math import isclose, isfinite
from typing import TYPE_CHECKING

from printplan.colour.facts import profile_facts
from printplan.colour.intents import SHADOW_STEPS
from printplan.errors import SpecError
from printplan.pixels.consequences import choice_of
from printplan.pixels.picture_content import picture_content
from printplan.pixels.scale_ends import clipping_words
from printplan.pixels.sharpening import (
    added_response,
    chosen_sharpening,
    predicted_effect,
    print_chain,
)
from printplan.pixels.sharpening_spec import (
    restore_words,
    usual_distance_mm,
    usual_distance_words,
    wished_limits,
)
from printplan.record.decision_sheet.dialogue import intent_words
from printplan.record.decision_sheet.print_facts import (
    NOT_KNOWN,
    Row,
    Section,
    room_rows,
)
from printplan.record.decision_sheet.response_graph import draw_responses
from printplan.sharpening.kernel import blur_of, sigma_of
from printplan.units import distance_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.colour.intents import Judgement, PaperJudgement
    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.record.decision_sheet.sheet_drawing import VectorDrawing
    from printplan.sharpening.content import ContentFacts
    from printplan.sharpening.effect import SharpenEffect
    from printplan.spec import SharpenSpec


def colour_section(sheet: Sheet, judgement: PaperJudgement) -> Section:
    """
    Profiles, intent, and what the paper can hold.

    Parameters
    ----------
    judgement : PaperJudgement
        Of that sheet.

    Raises
    ------
    ProfileError
        If the paper's profile cannot be read from its device.
    """
    plan, target = sheet.plan, profile_facts(sheet.delivered)
    lighten_l, facts = plan.spec.colour.lighten_l, plan.facts
    assumed = ", assumed: it carried none" if facts.profile_is_assumed else ""
    chosen = judgement.of(choice_of(sheet.plan.spec.colour))
    best = judgement.recommended
    white, black = target.white_lab, target.black_lab
    # A space for screens has no density.
    density = ""
    if isfinite(target.black_density):
        density = f" (density {target.black_density:.2f})"
    reach = judgement.distance
    rows = (
        Row("From", f"{facts.profile_name}{assumed}"),
        Row("Master clipped", clipping_words(sheet.master)),
        Row("To", sheet.delivered.name),
        Row(
            "Its ends",
            f"white L* {white[0]:.1f}, a* {white[1]:z.1f}, b* {white[2]:z.1f}; black "
            f"L* {black[0]:.1f}{density}",
        ),
        Row("Intent", intent_words(plan)),
        Row(
            "Lightened",
            f"by {lighten_l:+.1f} L* in the middle tones" if lighten_l else "no",
        ),
        *room_rows(plan),
        Row(
            "Out of reach",
            f"{reach.share_out:.1%} of the picture by more than 2 dE00, "
            f"{reach.share_far_out:.1%} by more than 5",
        ),
        Row(
            "In the print",
            f"{chosen.tone_dead_share:.1%} of tones merge, {chosen.shadow_steps} of "
            f"{SHADOW_STEPS} shadow steps stay apart; mean {chosen.mean_delta_e:.1f} "
            f"dE00, 95 of 100 places within {chosen.p95_delta_e:.1f}",
        ),
        Row(
            "Black prints",
            f"L* {chosen.black_lab[0]:.1f} for L* 0 of the master, by this intent",
        ),
    )
    follows = (
        "The intent chosen is the one that the numbers recommend."
        if _prints_alike(chosen, best)
        else f"The numbers recommend {best.choice.words}; another was chosen."
    )
    return Section(heading="Colour", rows=rows, words=(follows, judgement.reason))


def _prints_alike(chosen: Judgement, best: Judgement) -> bool:
    """Whether two choices are one rendering, as all are in a space without tables."""
    same = replace(
        chosen, choice=best.choice, has_own_table=best.has_own_table, cost=best.cost
    )
    return same == best


GRAPH_MM = (60.0, 34.0)
"""Size of the curve."""

_HEADING = "Sharpening"
_SAME = 1e-3


def sharpening_facts(sheet: Sheet) -> tuple[Section, VectorDrawing | None]:
    """
    The sharpening in words and as a curve.

    Returns
    -------
    VectorDrawing or None
        None if the picture's content cannot be measured; the words say why.
    """
    plan = sheet.plan
    sharpen = plan.spec.sharpen
    rows = tuple(_set_rows(plan))
    distance_mm = sharpen.distance_mm or usual_distance_mm(plan)
    try:
        content = picture_content(sheet)
        effect = predicted_effect(plan, content, distance_mm=distance_mm)
        chain = print_chain(plan, content, distance_mm=distance_mm)
    except SpecError as error:
        why = f"What it does is {NOT_KNOWN}: {error.problem}"
        return Section(heading=_HEADING, rows=rows, words=(why,)), None
    drawing = draw_responses(
        chain,
        gain=sharpen.gain,
        blur=blur_of(plan.spec.sharpen, plan.radius_px),
        width_mm=GRAPH_MM[0],
        height_mm=GRAPH_MM[1],
        added=added_response(plan, chain),
    )
    usual = ""
    if sharpen.distance_mm is None:
        size = plan.picture_size
        usual = f", {usual_distance_words(size.width_mm, size.height_mm)}"
    seen_from = distance_words(plan.spec.lengths_in, round(distance_mm))
    rows += tuple(_effect_rows(effect, f"{seen_from}{usual}"))
    words = _why(plan, content, distance_mm)
    return Section(heading=_HEADING, rows=rows, words=words), drawing


def _set_rows(plan: PrintPlan) -> Iterator[Row]:
    sharpen = plan.spec.sharpen
    if sharpen.gain == 0:
        yield Row("Set", "none: as it was resampled")
        return
    yield Row(
        "Set",
        f"gain {sharpen.gain:.2f}, {sharpen.blur_words} "
        f"({sigma_of(blur_of(sharpen, plan.radius_px)):.2f} print pixels)",
    )
    limit, floor = sharpen.halo_limit_share, sharpen.grain_floor_l
    yield Row("Halo limit", "none" if limit is None else f"{limit:.0%} in the file")
    yield Row("Grain floor", f"{floor:.2g} L*" if floor else "none")


def _effect_rows(effect: SharpenEffect, seen_from: str) -> Iterator[Row]:
    yield Row("Seen from", seen_from)
    if effect.gain > 0:
        yield Row(
            "Halo in print",
            f"{effect.overshoot_in_print:.0%} of the edge, "
            f"{effect.halo_width_um:.0f} µm wide",
        )
    yield Row(
        "Acutance",
        f"{effect.acutance_before:.2f} without, {effect.acutance_after:.2f} with it",
    )
    yield Row(
        "Noise",
        f"{effect.visible_noise_before:.1f} without, {effect.visible_noise_after:.1f} "
        "with it, times the eye's threshold",
    )


def _why(plan: PrintPlan, content: ContentFacts, distance_mm: float) -> tuple[str, ...]:
    sharpen = plan.spec.sharpen
    if sharpen.restore is None:
        return (f"Set by hand. The picture: {content.words}",)
    advice = chosen_sharpening(
        plan,
        content,
        distance_mm=distance_mm,
        restore=sharpen.restore,
        limits=wished_limits(sharpen),
    )
    wish = restore_words(sharpen.restore, advice.choice)
    if _alike(sharpen, advice.spec):
        return (wish, advice.choice.why, advice.reason)
    return (
        (
            f"{wish} For that, gain {advice.spec.gain:.2f} and radius "
            f"{advice.spec.radius_mm:.3f} mm would be chosen now; what is set was "
            "changed by hand, or for another paper or picture."
        ),
    )


def _alike(one: SharpenSpec, other: SharpenSpec) -> bool:
    return isclose(one.gain, other.gain, rel_tol=_SAME, abs_tol=_SAME) and isclose(
        one.radius_mm, other.radius_mm, rel_tol=_SAME
    )
