"""What does a plan's own rendering make of its picture?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import numpy as np

from printplan.colour.adaptation import adaptation
from printplan.colour.intents import Choice, judge_paper
from printplan.colour.reach import ReachSummary, reach_distance, summarize_reach
from printplan.colour.separation import Separation, separation
from printplan.colour.spaces import lab_from_xyz, xyz_from_lab
from printplan.colour.tone import rendered_wedge
from printplan.colour.transforms import colorants_xyz

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.intents import PaperJudgement
    from printplan.colour.profiles import Profile
    from printplan.colour.tone import ToneWedge
    from printplan.pixels.sheet import Sheet
    from printplan.pixels.tiles import LinearTiles

    Floats = NDArray[np.float64]

JUDGED_PX = 800
"""Longest edge at which the picture is judged."""

MOST_COLOURS = 20_000
"""Pixels of it that are judged: a share of 5 % is then known within about 0.15 %."""

# Linear light, of full scale, by which a colour lies outside a space: rounding is less.
_OUTSIDE = 1e-5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Consequences:
    """
    What becomes of a picture's colours in its file.

    Attributes
    ----------
    lab : ndarray of float64, shape (colours, 3)
        The colours that were judged: CIELAB under D50, relative to white.
    reach : ReachSummary
        What the paper, or the space that is delivered, can hold of them.
    left : Separation
        Of a small difference at each of them, by the plan's own intent.
    clipped_share : float
        Share that lies outside the space of the file and is cut at its limits, 0 to 1;
        0 for a paper, whose profile has no such limits.
    """

    lab: Floats
    reach: ReachSummary
    left: Separation
    clipped_share: float


def plan_choice(sheet: Sheet) -> Choice:
    """
    The intent that a sheet's plan asks for.

    Parameters
    ----------
    sheet : Sheet

    Returns
    -------
    Choice
    """
    colour = sheet.plan.spec.colour
    return Choice(colour.intent, colour.black_point_compensation)


_sampled: WeakKeyDictionary[LinearTiles, dict[tuple[float, int, int], Floats]] = (
    WeakKeyDictionary()
)


def picture_colours(sheet: Sheet) -> Floats:
    """
    Colours of the picture, for every number that is quoted of it.

    Parameters
    ----------
    sheet : Sheet

    Returns
    -------
    ndarray of float64, shape (colours, 3)
        CIELAB under D50, relative to the working space's white: pixels of the picture
        at `JUDGED_PX`, resampled and lightened but not sharpened, evenly spread and
        `MOST_COLOURS` at most. Not writable; kept with the sheet's tiles.
    """
    picture = sheet.plan.picture_in_file
    scale = min(JUDGED_PX / max(picture.width, picture.height), 1.0)
    width, height = (
        max(round(edge * scale), 1) for edge in (picture.width, picture.height)
    )
    kept = _sampled.setdefault(sheet.tiles, {})
    key = (sheet.plan.spec.colour.lighten_l, width, height)
    if key not in kept:
        linear = sheet.reduced_picture(width, height)
        pixels = linear.reshape(linear.shape[0], -1)
        step = -(-pixels.shape[1] // MOST_COLOURS)
        sample = pixels[:, ::step].T.astype(np.float64)
        lab = lab_from_xyz(sample @ colorants_xyz(sheet.master.profile).T)
        lab.setflags(write=False)
        kept[key] = lab
    return kept[key]


def consequences(sheet: Sheet, choice: Choice | None = None) -> Consequences:
    """
    What a plan's own rendering makes of its picture.

    Parameters
    ----------
    sheet : Sheet
    choice : Choice, optional
        Another intent in place of the plan's own.

    Returns
    -------
    Consequences

    Raises
    ------
    ProfileError
        If the profile has no way to its device or back.
    """
    lab, target = picture_colours(sheet), sheet.delivered
    choice = plan_choice(sheet) if choice is None else choice
    return Consequences(
        lab=lab,
        reach=summarize_reach(reach_distance(lab, target)),
        left=separation(
            lab,
            target,
            choice.intent,
            choice.black_point_compensation,
            source=sheet.master.profile,
        ),
        clipped_share=_clipped_share(lab, target, choice, sheet.master.profile),
    )


def judged(sheet: Sheet, paper: Profile | None = None) -> PaperJudgement:
    """
    The rendering intents compared for a sheet's picture.

    Parameters
    ----------
    sheet : Sheet
    paper : Profile, optional
        In place of `Sheet.delivered`.

    Returns
    -------
    PaperJudgement

    Raises
    ------
    ProfileError
        If the profile has no way to its device or back.
    """
    return judge_paper(
        picture_colours(sheet),
        sheet.delivered if paper is None else paper,
        source=sheet.master.profile,
        lighten_l=sheet.plan.spec.colour.lighten_l,
    )


def plan_wedge(sheet: Sheet, source_l: Floats) -> ToneWedge:
    """
    Neutral steps of the master's space as the plan renders them.

    Parameters
    ----------
    sheet : Sheet
    source_l : ndarray of float64, shape (steps,)
        L* of the steps, rising.

    Returns
    -------
    ToneWedge
        Lightened as the plan asks, and printed by its intent.

    Raises
    ------
    ProfileError
        If the profile has no way to its device or back.
    """
    colour = sheet.plan.spec.colour
    return rendered_wedge(
        sheet.delivered,
        intent=colour.intent,
        black_point_compensation=colour.black_point_compensation,
        source=sheet.master.profile,
        source_l=source_l,
        lighten_l=colour.lighten_l,
    )


def _clipped_share(
    lab: Floats, target: Profile, choice: Choice, source: Profile
) -> float:
    """Share that leaves the target's channels; 0 where tables decide."""
    if target.is_table or target.channels != 3:
        return 0.0
    scale, offset = adaptation(
        source, target, choice.intent, choice.black_point_compensation
    )
    xyz = xyz_from_lab(lab) * scale + offset
    linear = xyz @ np.linalg.inv(colorants_xyz(target)).T
    outside = (linear < -_OUTSIDE) | (linear > 1 + _OUTSIDE)
    return float(outside.any(axis=1).mean())
