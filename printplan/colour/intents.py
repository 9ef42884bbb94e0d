"""Which rendering intent keeps more of this picture on this paper, and why?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.difference import delta_e_2000, hue_angle_difference_deg
from printplan.colour.icc_file import read_icc
from printplan.colour.reach import (
    OUT_OF_REACH,
    ReachSummary,
    reach_distance,
    summarize_reach,
)
from printplan.colour.rendering import rendered_lab
from printplan.colour.separation import dead_share, separation
from printplan.errors import SpecError
from printplan.spec import BlackPointCompensation, Intent

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile

    Floats = NDArray[np.float64]

SHADOW_STEPS = 20
"""Steps of one L* from black upwards that shadow separation counts."""

LEAST_STEP_L = 0.5
"""Step of printed L* that still counts as a step, as in `tone`."""

COLOURED_CHROMA = 10.0
"""Chroma from which a hue is worth comparing. Our choice."""

SATURATED_SHARE = 0.1
"""Share that is coloured and out of reach from which a picture counts as saturated for
a paper. Our choice for a rule of common practice that names no number."""

# What a judgement weighs, in dE00: our choice, and the only place where numbers of
# different kinds meet.
_TONE_DEAD_COST = 40.0
_CHROMA_DEAD_COST = 4.0
_SHADOW_STEP_COST = 0.15
_PRACTICE_BONUS = 0.5
_NOT_FOR_PHOTOGRAPHS_COST = 3.0


@dataclass(frozen=True, slots=True)
class Choice:
    """
    A rendering intent with or without black point compensation.

    Attributes
    ----------
    intent : Intent
    black_point_compensation : BlackPointCompensation
    """

    intent: Intent
    black_point_compensation: BlackPointCompensation

    @property
    def words(self) -> str:
        """The choice as it stands in a table."""
        if self.intent is not Intent.MEDIA_RELATIVE:
            return self.intent.value
        on = self.black_point_compensation is BlackPointCompensation.ON
        return f"{self.intent} {'with' if on else 'without'} compensation"


CHOICES = (
    Choice(Intent.PERCEPTUAL, BlackPointCompensation.OFF),
    Choice(Intent.MEDIA_RELATIVE, BlackPointCompensation.ON),
    Choice(Intent.MEDIA_RELATIVE, BlackPointCompensation.OFF),
    Choice(Intent.SATURATION, BlackPointCompensation.OFF),
    Choice(Intent.ICC_ABSOLUTE, BlackPointCompensation.OFF),
)
"""What is compared. Perceptual and saturation tables bring their own black."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """
    What one choice does to a picture on a paper.

    Attributes
    ----------
    choice : Choice
    mean_delta_e, p95_delta_e : float
        Difference between master and print, each against its own white, dE00.
    tone_dead_share, chroma_dead_share : float
        Share of the picture where detail merges, 0 to 1.
    shadow_steps : int
        Of the `SHADOW_STEPS` darkest steps, how many stay apart.
    hue_shift_deg : float
        Mean turn of hue of what is coloured, 0 to 180; 0 if nothing is.
    contrast_kept : float
        Spread of L* in the print by that in the master; 1 if the master has none.
    has_own_table : bool
        Whether the profile has a table for this intent.
    cost : float
        What the numbers weigh together, in dE00; the least is recommended.
    """

    choice: Choice
    mean_delta_e: float
    p95_delta_e: float
    tone_dead_share: float
    chroma_dead_share: float
    shadow_steps: int
    hue_shift_deg: float
    contrast_kept: float
    has_own_table: bool
    cost: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperJudgement:
    """
    What a paper can do for a picture.

    Attributes
    ----------
    reach : ReachSummary
        What it can hold, whatever the intent.
    judgements : tuple of Judgement
        One for each of `CHOICES`, in that order.
    recommended : Judgement
    reason : str
        The evidence in a sentence or two.
    """

    reach: ReachSummary
    judgements: tuple[Judgement, ...]
    recommended: Judgement
    reason: str


def judge_paper(lab: Floats, paper: Profile) -> PaperJudgement:
    """
    Compare the rendering intents for a picture on a paper.

    Parameters
    ----------
    lab : ndarray of float64, shape (colours, 3)
        The picture's pixels, or a fair sample of them: CIELAB under D50, relative to
        the working space's white.
    paper : Profile

    Returns
    -------
    PaperJudgement

    Raises
    ------
    ProfileError
        If the profile has no way to its device or back.
    SpecError
        If there are no colours.

    Notes
    -----
    The numbers decide, after a prior of common practice (no source): saturated
    pictures perceptual, others media-relative with compensation. Saturation and
    ICC-absolute are shown, and weighed as what photographs are not printed with.
    """
    if not lab.size:
        raise SpecError(
            "There are no colours to judge.", remedy="Give at least one pixel."
        )
    distance = reach_distance(lab, paper)
    saturated_share = float(((distance > OUT_OF_REACH) & _coloured(lab)).mean())
    practice = CHOICES[0 if saturated_share > SATURATED_SHARE else 1]
    judgements = tuple(_judge(lab, paper, choice, practice) for choice in CHOICES)
    best = min(judgements, key=lambda judgement: judgement.cost)
    return PaperJudgement(
        reach=summarize_reach(distance),
        judgements=judgements,
        recommended=best,
        reason=_reason(best, judgements, practice, saturated_share),
    )


def compare_papers(
    lab: Floats, papers: Mapping[str, Profile]
) -> list[tuple[str, PaperJudgement]]:
    """
    The same picture on several papers.

    Parameters
    ----------
    lab : ndarray of float64, shape (colours, 3)
        As for `judge_paper`.
    papers : mapping of str to Profile
        By the paper's name.

    Returns
    -------
    list of tuple of str and PaperJudgement
        The paper whose recommended intent costs least comes first.

    Raises
    ------
    ProfileError
        If a profile has no way to its device or back.
    SpecError
        If there are no colours.
    """
    judged = [(name, judge_paper(lab, profile)) for name, profile in papers.items()]
    return sorted(judged, key=lambda pair: pair[1].recommended.cost)


def own_intents(paper: Profile) -> frozenset[Intent]:
    """
    Intents for which a profile has a table to its device.

    Parameters
    ----------
    paper : Profile

    Returns
    -------
    frozenset of Intent
        ICC-absolute is computed from media-relative. A matrix profile has only
        these two.

    Raises
    ------
    ProfileError
        If the profile is damaged.
    """
    tags = read_icc(paper.data, where=paper.name).tags
    if not any(tag.startswith("B2A") for tag in tags):
        return frozenset({Intent.MEDIA_RELATIVE, Intent.ICC_ABSOLUTE})
    found = {
        intent
        for intent, tag in (
            (Intent.PERCEPTUAL, "B2A0"),
            (Intent.MEDIA_RELATIVE, "B2A1"),
            (Intent.ICC_ABSOLUTE, "B2A1"),
            (Intent.SATURATION, "B2A2"),
        )
        if tag in tags
    }
    return frozenset(found)


def _judge(lab: Floats, paper: Profile, choice: Choice, practice: Choice) -> Judgement:
    wish = (choice.intent, choice.black_point_compensation)
    printed = rendered_lab(lab, paper, *wish)
    difference = delta_e_2000(lab, printed)
    left = separation(lab, paper, *wish)
    tone_dead, chroma_dead = dead_share(left.tone), dead_share(left.chroma)
    ladder = np.zeros((SHADOW_STEPS + 1, 3))
    ladder[:, 0] = np.arange(SHADOW_STEPS + 1)
    rungs = np.diff(rendered_lab(ladder, paper, *wish)[:, 0])
    steps = int((rungs >= LEAST_STEP_L).sum())
    coloured = _coloured(lab)
    turns = np.abs(hue_angle_difference_deg(lab[coloured], printed[coloured]))
    spread = float(lab[:, 0].std())
    mean = float(difference.mean())
    cost = (
        mean
        + _TONE_DEAD_COST * tone_dead
        + _CHROMA_DEAD_COST * chroma_dead
        + _SHADOW_STEP_COST * (SHADOW_STEPS - steps)
        - _PRACTICE_BONUS * (choice == practice)
    )
    if choice.intent in {Intent.SATURATION, Intent.ICC_ABSOLUTE}:
        cost += _NOT_FOR_PHOTOGRAPHS_COST
    return Judgement(
        choice=choice,
        mean_delta_e=mean,
        p95_delta_e=float(np.percentile(difference, 95)),
        tone_dead_share=tone_dead,
        chroma_dead_share=chroma_dead,
        shadow_steps=steps,
        hue_shift_deg=float(turns.mean()) if coloured.any() else 0.0,
        contrast_kept=float(printed[:, 0].std()) / spread if spread else 1.0,
        has_own_table=choice.intent in own_intents(paper),
        cost=float(cost),
    )


def _coloured(lab: Floats) -> NDArray[np.bool_]:
    return np.asarray(np.hypot(lab[:, 1], lab[:, 2]) >= COLOURED_CHROMA)


def _reason(
    best: Judgement,
    judgements: tuple[Judgement, ...],
    practice: Choice,
    saturated_share: float,
) -> str:
    """The recommendation beside its nearest rival, and beside common practice."""
    rivals = sorted(judgements, key=lambda judgement: judgement.cost)
    rival = rivals[1]
    kind = "saturated" if practice == CHOICES[0] else "not saturated"
    agrees = "agrees" if practice == best.choice else f"would say {practice.words}"
    return (
        f"{_capital(best.choice.words)}: {best.tone_dead_share:.1%} of the tones "
        f"merge, {best.shadow_steps} of {SHADOW_STEPS} shadow steps stay apart and "
        f"the mean difference is {best.mean_delta_e:.1f} dE00; "
        f"{rival.choice.words} comes next with {rival.tone_dead_share:.1%}, "
        f"{rival.shadow_steps} and "
        f"{rival.mean_delta_e:.1f}. Common practice {agrees}; the picture is {kind} "
        f"for this paper: {saturated_share:.0%} of it is coloured and out of reach."
    )


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
