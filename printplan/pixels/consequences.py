"""What does a plan's own rendering make of its picture?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import pi, sqrt
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import numpy as np
import scipy

from printplan.colour.black_point import adaptation
from printplan.colour.intents import Choice, compare_intents
from printplan.colour.losses import (
    DistanceSummary,
    Separation,
    gamut_distance,
    separation,
    summarize_distance,
)
from printplan.colour.spaces import xyz_from_lab
from printplan.colour.tone import rendered_wedge
from printplan.colour.transforms import colorants_xyz
from printplan.pixels.maps import lab_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.intents import PaperJudgement
    from printplan.colour.profiles import Profile
    from printplan.colour.tone import ToneWedge
    from printplan.pixels.resampled_light import ResampledLight
    from printplan.pixels.sheet import Sheet
    from printplan.spec import ColourSpec, PrintSpec

    Mask = NDArray[np.bool_]
    Floats = NDArray[np.float64]


NO_INK_LIGHT = 0.99
"""Linear light, in all channels, from which the paper gets no ink to speak of."""

LEAST_AREA = 0.008
"""Share of the picture from which one bare area is looked at: our choice. A sun or a
glint is smaller."""

# A lamp: its rim falls to this light within a few pixels of an overview, and what is
# beside it is this many times as light as what lies farther out. Our choice.
_RIM_LIGHT, _GLOW = 0.8, 1.2
_RIM_PX = (3.0, 6.0)
_EIGHT_NEIGHBOURS = np.ones((3, 3), np.bool_)


@dataclass(frozen=True, slots=True, kw_only=True)
class BareArea:
    """
    A connected area of bare paper inside a picture.

    Attributes
    ----------
    share : float
        Of the picture.
    is_light_source : bool
        Whether it looks like a lamp or a sun: a hard rim, and a glow around it.
    """

    share: float
    is_light_source: bool


def bare_areas(linear: NDArray[np.float32]) -> tuple[BareArea, ...]:
    """
    Find the larger areas inside a picture that get no ink.

    Parameters
    ----------
    linear : ndarray of float32, shape (channels, rows, columns)
        Linear light of an overview, 0 to 1.

    Returns
    -------
    tuple of BareArea
        Those of `LEAST_AREA` or more, largest first. What a straight way inside it
        joins to the picture's edge is left out: that is a sky.

    Notes
    -----
    A source of light is meant to be white. It has a rim, where the picture drops at
    once to what the lamp shines on, and that falls off gradually with distance. A
    surface that was overexposed has neither: it fades into white, or lies between
    tones that know nothing of it.
    """
    bare = np.asarray((linear >= NO_INK_LIGHT).all(axis=0))
    bare &= ~_reaches_edge(bare)
    if bare.mean() < LEAST_AREA:  # none is so large, and SciPy takes time to load
        return ()
    numbered, _ = scipy.ndimage.label(bare, _EIGHT_NEIGHBOURS)
    light = linear.mean(axis=0)
    found = []
    for number, around in enumerate(scipy.ndimage.find_objects(numbered), start=1):
        area = numbered[around] == number
        share = float(area.sum()) / bare.size
        if share >= LEAST_AREA:
            source = _is_light_source(light, numbered == number)
            found.append(BareArea(share=share, is_light_source=source))
    return tuple(sorted(found, key=lambda it: -it.share))


def _is_light_source(light: NDArray[np.float32], area: Mask) -> bool:
    distance_px = scipy.ndimage.distance_transform_edt(~area)
    radius_px = max(sqrt(float(area.sum()) / pi), 4 * _RIM_PX[1])
    beside = (distance_px >= _RIM_PX[0]) & (distance_px < _RIM_PX[1])
    farther = (distance_px >= 0.7 * radius_px) & (distance_px < 1.3 * radius_px)
    if not beside.any() or not farther.any():
        return False
    near, far = float(np.median(light[beside])), float(np.median(light[farther]))
    return near <= _RIM_LIGHT and near >= _GLOW * far


def _reaches_edge(mask: Mask) -> Mask:
    """Pixels from which a straight way in the mask leads to the picture's edge."""
    ways = []
    for axis in (0, 1):
        ways.append(np.logical_and.accumulate(mask, axis=axis))
        back = np.flip(np.logical_and.accumulate(np.flip(mask, axis), axis=axis), axis)
        ways.append(back)
    return np.asarray(np.logical_or.reduce(ways))


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
    reach : DistanceSummary
        What the paper, or the space that is delivered, can hold of them.
    left : Separation
        Of a small difference at each of them, by the plan's own intent.
    clipped_share : float
        Share that lies outside the space of the file and is cut at its limits, 0 to 1;
        0 for a paper, whose profile has no such limits.
    """

    lab: Floats
    reach: DistanceSummary
    left: Separation
    clipped_share: float


def choice_of(colour: ColourSpec) -> Choice:
    """The intent that a plan's colour names."""
    return Choice(colour.intent, colour.black_point_compensation)


def with_intent(spec: PrintSpec, choice: Choice) -> PrintSpec:
    """The same wish under another rendering intent."""
    colour = replace(
        spec.colour,
        intent=choice.intent,
        black_point_compensation=choice.black_point_compensation,
    )
    return replace(spec, colour=colour)


_sampled: WeakKeyDictionary[ResampledLight, dict[tuple[float, int, int], Floats]] = (
    WeakKeyDictionary()
)


def picture_colours(sheet: Sheet) -> Floats:
    """
    Colours of the picture, for every number that is quoted of it.

    Returns
    -------
    ndarray of float64, shape (colours, 3)
        CIELAB under D50, relative to the working space's white: pixels of the picture
        at `JUDGED_PX`, resampled and lightened but not sharpened, evenly spread and
        `MOST_COLOURS` at most. Not writable; kept with the sheet's light.
    """
    picture = sheet.plan.picture_in_file
    scale = min(JUDGED_PX / max(picture.width, picture.height), 1.0)
    width, height = (
        max(round(edge * scale), 1) for edge in (picture.width, picture.height)
    )
    kept = _sampled.setdefault(sheet.light, {})
    key = (sheet.plan.spec.colour.lighten_l, width, height)
    if key not in kept:
        linear = sheet.reduced_picture(width, height)
        lab = lab_of(linear, sheet.master.profile, MOST_COLOURS)
        lab.setflags(write=False)
        kept[key] = lab
    return kept[key]


def consequences(sheet: Sheet, choice: Choice | None = None) -> Consequences:
    """
    What a plan's own rendering makes of its picture.

    Parameters
    ----------
    choice : Choice, optional
        Another intent in place of the plan's own.

    Raises
    ------
    ProfileError
        If the profile has no way to its device or back.
    """
    lab, target = picture_colours(sheet), sheet.delivered
    choice = choice_of(sheet.plan.spec.colour) if choice is None else choice
    return Consequences(
        lab=lab,
        reach=summarize_distance(gamut_distance(lab, target)),
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
    paper : Profile, optional
        In place of `Sheet.delivered`.

    Raises
    ------
    ProfileError
        If the profile has no way to its device or back.
    """
    return compare_intents(
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
