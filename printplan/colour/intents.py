"""Which rendering intent keeps more of this picture on this paper, and why?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.black_point import adaptation
from printplan.colour.conversion import table_tag
from printplan.colour.difference import delta_e_2000, hue_angle_difference_deg
from printplan.colour.icc_file import read_icc
from printplan.colour.losses import (
    OUT_OF_GAMUT,
    DistanceSummary,
    dead_share,
    gamut_distance,
    separation,
    summarize_distance,
)
from printplan.colour.profiles import open_profile
from printplan.colour.proof import rendered_lab
from printplan.colour.tone import rendered_wedge, tone_steps
from printplan.colour.transforms import TABLE_OF_INTENT
from printplan.errors import SpecError
from printplan.spec import BlackPointCompensation, Intent
from printplan.validation import colour_array

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from printplan.colour.profiles import Profile, ProfileLike
    from printplan.colour.tone import ToneWedge

    Floats = NDArray[np.float64]

SHADOW_STEPS = 20
"""Steps of one L* from black upwards that shadow separation counts."""

SHADOW_L = np.arange(SHADOW_STEPS + 1.0)
"""L* of the greys between which they lie."""

COLOURED_CHROMA = 10.0
"""Chroma from which a hue is worth comparing. Our choice."""

SATURATED_SHARE = 0.1
"""Share that is coloured and out of gamut from which a picture counts as saturated for
a paper. Our choice for a rule of common practice that names no number."""

# What a judgement weighs, in dE00: our choice, and the only place where numbers of
# different kinds meet.
_TONE_DEAD_COST = 40.0
_CHROMA_DEAD_COST = 4.0
_SHADOW_STEP_COST = 0.15
_PRACTICE_BONUS = 0.5
# More than any photograph costs, so that what is warned of is never recommended.
_WARNED_OF_COST = 1000.0

# Two lines between blacks that differ by less, in XYZ with white at 1, print alike.
_SAME_LINE = 1e-6


@dataclass(frozen=True, slots=True)
class Choice:
    """A rendering intent with or without black point compensation."""

    intent: Intent
    black_point_compensation: BlackPointCompensation

    @property
    def words(self) -> str:
        """The choice as it stands in a table; ICC-absolute is never compensated."""
        if self.intent is Intent.ICC_ABSOLUTE:
            return self.intent.value
        on = self.black_point_compensation is BlackPointCompensation.ON
        return f"{self.intent} {'with' if on else 'without'} compensation"


CHOICES = (
    *(
        Choice(intent, wish)
        for intent in (Intent.PERCEPTUAL, Intent.MEDIA_RELATIVE, Intent.SATURATION)
        for wish in (BlackPointCompensation.ON, BlackPointCompensation.OFF)
    ),
    Choice(Intent.ICC_ABSOLUTE, BlackPointCompensation.OFF),
)
"""What is compared: every intent with and without compensation, where it has one."""


def alike_choices(
    paper: Profile, source: Profile | None = None
) -> dict[Choice, Choice]:
    """
    Which of `CHOICES` print the same.

    Parameters
    ----------
    source : Profile, optional
        Where the colours come from; without it a working space whose black is L* 0.

    Returns
    -------
    dict of Choice to Choice
        To each choice the first that goes through the same table along the same line:
        a perceptual table may bring black to the paper's own by itself, and version 4
        compensates it whatever is asked. Intents without a table of their own stay
        apart from the one that takes their place.

    Raises
    ------
    ProfileError
        If the profile is damaged.
    """
    first: dict[Choice, Choice] = {}
    known: list[tuple[Choice, tuple[str | None, bool], Floats]] = []
    own = own_intents(paper)
    for choice in CHOICES:
        table = table_tag(paper, "B2A", choice.intent), choice.intent in own
        line = np.concatenate(
            adaptation(source, paper, choice.intent, choice.black_point_compensation)
        )
        for other, its_table, its_line in known:
            if table == its_table and np.abs(line - its_line).max() < _SAME_LINE:
                first[choice] = other
                break
        else:
            known.append((choice, table, line))
            first[choice] = choice
    return first


def distinct_choices(paper: Profile, source: Profile | None = None) -> list[Choice]:
    """
    Those of `CHOICES` that differ in print: the first of each kind.

    Parameters
    ----------
    paper, source
        As for `alike_choices`.

    Raises
    ------
    ProfileError
        If the profile is damaged.
    """
    return list(dict.fromkeys(alike_choices(paper, source).values()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """
    What one choice does to a picture on a paper.

    Attributes
    ----------
    mean_delta_e, p95_delta_e : float
        Difference between master and print, each against its own white, dE00.
    tone_dead_share, chroma_dead_share : float
        Share of the picture where detail merges, 0 to 1.
    shadow_steps : int
        Of the `SHADOW_STEPS` darkest steps, how many stay apart: by `tone.LEAST_STEP_L`
        in print.
    black_lab, white_lab : tuple of float
        How L* 0 and 100 come out, ICC-absolute CIELAB under D50.
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
    black_lab: tuple[float, float, float]
    white_lab: tuple[float, float, float]
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
    distance : DistanceSummary
        What it can hold, whatever the intent.
    judgements : tuple of Judgement
        One for each of `CHOICES`, in that order; those that print alike have the same
        numbers.
    reason : str
        The evidence in a sentence or two.
    """

    distance: DistanceSummary
    judgements: tuple[Judgement, ...]
    recommended: Judgement
    reason: str

    def of(self, choice: Choice) -> Judgement:
        """
        The judgement of one choice.

        Parameters
        ----------
        choice : Choice
            With ICC-absolute, what is asked of compensation has no effect.
        """
        wish = choice.black_point_compensation
        if choice.intent is Intent.ICC_ABSOLUTE:
            wish = BlackPointCompensation.OFF
        wanted = Choice(choice.intent, wish)
        return next(it for it in self.judgements if it.choice == wanted)


def compare_intents(
    lab: ArrayLike,
    paper: ProfileLike,
    *,
    source: ProfileLike | None = None,
    lighten_l: float = 0.0,
) -> PaperJudgement:
    """
    What each rendering intent costs a picture on a paper, and which costs least.

    Parameters
    ----------
    lab : array_like of float, shape (..., 3)
        The picture's pixels, or a fair sample of them: CIELAB under D50, relative to
        the working space's white (`device_to_lab`), lightened as the plan asks.
    paper : Profile, path, bytes or name of a space
        Of the paper, or of a space that the file is delivered in.
    source : Profile, path, bytes or name of a space, optional
        Where the colours come from; without it a working space whose black is L* 0.
    lighten_l : float, optional
        As the plan has it, for the shadow steps.

    Raises
    ------
    ProfileError
        If the profile has no way to its device or back.
    SpecError
        If there are no colours, or they are no such array.

    Notes
    -----
    For each intent the mean CIEDE2000 of print and picture, the shares of merged tones
    and of merged chroma (`separation`) and the shadow steps lost, weighed in dE00 with
    weights of our choice.

    The numbers decide, after a prior of common practice (no source): saturated
    pictures perceptual, others media-relative with compensation. Saturation,
    ICC-absolute and an intent without a table of its own are shown, and never
    recommended where there is another.

    Examples
    --------
    sRGB as the target has no table of its own for the perceptual intent, so a picture
    of greys goes there media-relative:

    >>> greys = np.linspace(0, 100, 11)[:, None] * [1, 0, 0]
    >>> best = compare_intents(greys, "srgb").recommended
    >>> str(best.choice.intent), round(best.mean_delta_e, 1)
    ('media-relative', 0.0)
    """
    lab = colour_array(lab, "CIELAB colours").astype(np.float64, copy=False)
    lab, paper = lab.reshape(-1, 3), open_profile(paper)
    source = None if source is None else open_profile(source)
    if not lab.size:
        raise SpecError(
            "There are no colours to judge.", remedy="Give at least one pixel."
        )
    distance = gamut_distance(lab, paper)
    saturated_share = float(((distance > OUT_OF_GAMUT) & _coloured(lab)).mean())
    saturated = saturated_share > SATURATED_SHARE
    practice = Intent.PERCEPTUAL if saturated else Intent.MEDIA_RELATIVE
    first = alike_choices(paper, source)
    judged = {
        choice: _judge(
            lab,
            paper,
            choice,
            source=source,
            lighten_l=lighten_l,
            is_practice=_is_practice(choice, practice),
        )
        for choice in dict.fromkeys(first.values())
    }
    judgements = tuple(
        replace(judged[alike], choice=choice) for choice, alike in first.items()
    )
    best = min(judgements, key=lambda judgement: judgement.cost)
    return PaperJudgement(
        distance=summarize_distance(distance),
        judgements=judgements,
        recommended=best,
        reason=_reason(
            list(judged.values()),
            practice,
            saturated_share,
            "paper" if paper.device_class == "prtr" else "space",
        ),
    )


def own_intents(paper: Profile) -> frozenset[Intent]:
    """
    Intents for which a profile has a table to its device.

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
    return frozenset(it for it in Intent if f"B2A{TABLE_OF_INTENT[it]}" in tags)


def shadow_steps(wedge: ToneWedge) -> int:
    """
    How many of the `SHADOW_STEPS` darkest steps stay apart in print.

    Parameters
    ----------
    wedge : ToneWedge
        Its first steps are at `SHADOW_L`.
    """
    return int(tone_steps(wedge).is_separate[:SHADOW_STEPS].sum())


def _is_practice(choice: Choice, practice: Intent) -> bool:
    """Common practice names compensation with the media-relative intent alone."""
    on = choice.black_point_compensation is BlackPointCompensation.ON
    return choice.intent is practice and (on or practice is Intent.PERCEPTUAL)


def _judge(  # noqa: PLR0913 - a picture and its rendering
    lab: Floats,
    paper: Profile,
    choice: Choice,
    *,
    source: Profile | None,
    lighten_l: float,
    is_practice: bool,
) -> Judgement:
    wish = (choice.intent, choice.black_point_compensation)
    printed = rendered_lab(lab, paper, *wish, source=source)
    difference = delta_e_2000(lab, printed)
    left = separation(lab, paper, *wish, source=source)
    tone_dead, chroma_dead = dead_share(left.tone), dead_share(left.chroma)
    wedge = rendered_wedge(
        paper,
        intent=choice.intent,
        black_point_compensation=choice.black_point_compensation,
        source=source,
        source_l=np.append(SHADOW_L, 100.0),
        lighten_l=lighten_l,
    )
    steps = shadow_steps(wedge)
    black, white = wedge.step(0), wedge.step(-1)
    coloured = _coloured(lab)
    turns = np.abs(hue_angle_difference_deg(lab[coloured], printed[coloured]))
    spread = float(lab[:, 0].std())
    mean = float(difference.mean())
    own = choice.intent in own_intents(paper)
    cost = (
        mean
        + _TONE_DEAD_COST * tone_dead
        + _CHROMA_DEAD_COST * chroma_dead
        + _SHADOW_STEP_COST * (SHADOW_STEPS - steps)
        - _PRACTICE_BONUS * is_practice
    )
    if not own or choice.intent in {Intent.SATURATION, Intent.ICC_ABSOLUTE}:
        cost += _WARNED_OF_COST
    return Judgement(
        choice=choice,
        mean_delta_e=mean,
        p95_delta_e=float(np.percentile(difference, 95)),
        tone_dead_share=tone_dead,
        chroma_dead_share=chroma_dead,
        shadow_steps=steps,
        black_lab=(black.printed_l, black.printed_a, black.printed_b),
        white_lab=(white.printed_l, white.printed_a, white.printed_b),
        hue_shift_deg=float(turns.mean()) if coloured.any() else 0.0,
        contrast_kept=float(printed[:, 0].std()) / spread if spread else 1.0,
        has_own_table=own,
        cost=float(cost),
    )


def _coloured(lab: Floats) -> NDArray[np.bool_]:
    return np.asarray(np.hypot(lab[:, 1], lab[:, 2]) >= COLOURED_CHROMA)


def _reason(
    judged: list[Judgement], practice: Intent, saturated_share: float, what: str
) -> str:
    """The recommendation beside its nearest rival, and beside common practice."""
    best, *rivals = sorted(judged, key=lambda judgement: judgement.cost)
    told = (
        f"{_capital(best.choice.words)}: {best.tone_dead_share:.1%} of the tones "
        f"merge, {best.shadow_steps} of {SHADOW_STEPS} shadow steps stay apart and "
        f"the mean difference is {best.mean_delta_e:.1f} dE00"
    )
    if rivals:
        rival = rivals[0]
        told += (
            f"; {rival.choice.words} comes next with {rival.tone_dead_share:.1%}, "
            f"{rival.shadow_steps} and {rival.mean_delta_e:.1f}"
        )
    kind = "saturated" if practice is Intent.PERCEPTUAL else "not saturated"
    agrees = "agrees"
    if not _is_practice(best.choice, practice):
        agrees = f"would say {practice}"
        if practice is Intent.MEDIA_RELATIVE:
            agrees += " with compensation"
    return (
        f"{told}. Common practice {agrees}; the picture is {kind} "
        f"for this {what}: {saturated_share:.0%} of it is coloured and out of gamut."
    )


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
