"""How do the master's colours become the paper's, and why so?"""

from __future__ import annotations

from dataclasses import replace
from math import isfinite
from typing import TYPE_CHECKING

from printplan.colour.intents import SHADOW_STEPS
from printplan.colour.profile_facts import profile_facts
from printplan.pixels.consequences import plan_choice
from printplan.record.decision_sheet.dialogue import intent_words
from printplan.record.decision_sheet.print_facts import room_rows
from printplan.record.decision_sheet.section import Row, Section

if TYPE_CHECKING:
    from printplan.colour.intents import Judgement, PaperJudgement
    from printplan.pixels.sheet import Sheet


def colour_section(sheet: Sheet, judgement: PaperJudgement) -> Section:
    """
    Profiles, intent, and what the paper can hold.

    Parameters
    ----------
    sheet : Sheet
    judgement : PaperJudgement
        Of that sheet.

    Returns
    -------
    Section

    Raises
    ------
    ProfileError
        If the paper's profile cannot be read from its device.
    """
    plan, target = sheet.plan, profile_facts(sheet.delivered)
    lighten_l, facts = plan.spec.colour.lighten_l, plan.facts
    assumed = ", assumed: it carried none" if facts.profile_is_assumed else ""
    chosen = judgement.of(plan_choice(sheet))
    best = judgement.recommended
    white, black = target.white_lab, target.black_lab
    # A space for screens has no density.
    density = ""
    if isfinite(target.black_density):
        density = f" (density {target.black_density:.2f})"
    reach = judgement.reach
    rows = (
        Row("From", f"{facts.profile_name}{assumed}"),
        Row("To", sheet.delivered.name),
        Row(
            "Its ends",
            f"white L* {white[0]:.1f}, a* {white[1]:.1f}, b* {white[2]:.1f}; black "
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
