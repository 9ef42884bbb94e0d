"""Which wish for sharpening does a plan begin with, and how does it keep one?"""

from __future__ import annotations

from dataclasses import replace
from math import hypot
from typing import TYPE_CHECKING

from printplan.sharpness.choice import SharpenLimits
from printplan.sharpness.learned import restore_on
from printplan.spec import SharpenSpec

if TYPE_CHECKING:
    from printplan.plan import PrintPlan
    from printplan.sharpness.choice import SharpenChoice

LIMIT_MARGIN = 2.0
"""Halo limit in the file over the overshoot that stands for the limit in the print. The
stage counts an edge's step from pixels three radii away, and on soft edges these hold
little more than half of it. Our choice."""

LARGEST_FILE_LIMIT = 2.0
"""Halo limit in the file that a `SharpenSpec` takes at most."""

NEAREST_MM = 250.0
"""Distance that a small print is looked at from: common practice, no source."""

_DEFAULT_LIMITS = SharpenLimits()


def usual_distance_mm(plan: PrintPlan) -> float:
    """
    Distance that a print of this size is usually looked at from.

    Parameters
    ----------
    plan : PrintPlan

    Returns
    -------
    float
        The diagonal of the picture, rounded to 10 mm, and `NEAREST_MM` at least.
        Common practice, no source: once to twice the diagonal.
    """
    return distance_of_mm(plan.picture_size.width_mm, plan.picture_size.height_mm)


def distance_of_mm(width_mm: float, height_mm: float) -> float:
    """
    Distance that a picture of a size is usually looked at from.

    Parameters
    ----------
    width_mm, height_mm : float

    Returns
    -------
    float
        As `usual_distance_mm`.
    """
    return max(NEAREST_MM, float(round(hypot(width_mm, height_mm), -1)))


def usual_distance_words(width_mm: float, height_mm: float) -> str:
    """
    Why that is the usual distance.

    Parameters
    ----------
    width_mm, height_mm : float
        Of the picture.

    Returns
    -------
    str
        That it is the diagonal, or the nearest that small prints are held at.
    """
    nearer = hypot(width_mm, height_mm) < NEAREST_MM
    return "as near as small prints are held" if nearer else "its diagonal"


def usual_restore(plan: PrintPlan) -> float:
    """
    Restore to begin with on this paper and printer.

    Parameters
    ----------
    plan : PrintPlan

    Returns
    -------
    float
        What was picked from its trial sheets; 1, all of the loss, if nobody has yet.
    """
    preference = restore_on(plan.setup)
    return 1.0 if preference is None else preference.value


def sharpen_spec(
    choice: SharpenChoice,
    *,
    distance_mm: float,
    restore: float,
    limits: SharpenLimits = _DEFAULT_LIMITS,
) -> SharpenSpec:
    """
    A choice as a plan keeps it, with the wish that it came from.

    Parameters
    ----------
    choice : SharpenChoice
    distance_mm, restore, limits
        As they were given to `chosen_sharpening`.

    Returns
    -------
    SharpenSpec
        `wished_limits` reads the limits back.
    """
    return SharpenSpec(
        gain=choice.gain,
        radius_mm=choice.radius_mm,
        halo_limit_share=file_halo_limit(choice, limits.halo_limit),
        grain_floor_l=choice.grain_floor_l,
        restore=restore,
        distance_mm=distance_mm,
        print_halo_limit_share=limits.halo_limit,
    )


def wished_limits(spec: SharpenSpec) -> SharpenLimits:
    """
    The limits that a plan's sharpening was chosen under.

    Parameters
    ----------
    spec : SharpenSpec

    Returns
    -------
    SharpenLimits
        With the usual halo limit if the plan names none.
    """
    halo = spec.print_halo_limit_share
    return replace(
        _DEFAULT_LIMITS,
        halo_limit=_DEFAULT_LIMITS.halo_limit if halo is None else halo,
        grain_floor_l=spec.grain_floor_l,
    )


def file_halo_limit(choice: SharpenChoice, print_halo_limit: float) -> float | None:
    """
    Overshoot in the file that the stage may let pass.

    Parameters
    ----------
    choice : SharpenChoice
    print_halo_limit : float
        Greatest overshoot in the print, as a share of the edge.

    Returns
    -------
    float or None
        As a share of the range of a pixel's surroundings; None if nothing is sharpened.

    Notes
    -----
    Paper leaves ``overshoot_in_print / overshoot_in_file`` of a halo on the picture's
    own edges, so an overshoot of the file reaches the limit in the print when it is
    the limit over that share. The choice keeps to the limit on those edges, so they
    are sharpened as predicted, and the stage only holds what stands out farther:
    single pixels, fine lines, and edges sharper than the picture's. Paper takes more
    of a narrower halo, so these stay below the limit in the print. `LIMIT_MARGIN` is
    added, and `LARGEST_FILE_LIMIT` ends it where paper leaves hardly anything.
    """
    in_file, in_print = choice.overshoot_in_file, choice.overshoot_in_print
    if choice.gain == 0:
        return None
    if in_print * LARGEST_FILE_LIMIT <= LIMIT_MARGIN * print_halo_limit * in_file:
        return LARGEST_FILE_LIMIT
    return LIMIT_MARGIN * print_halo_limit * in_file / in_print
