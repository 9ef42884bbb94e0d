"""Which sharpening does a plan begin with, and why?"""

from __future__ import annotations

from dataclasses import replace
from math import hypot
from typing import TYPE_CHECKING

from printplan.sharpening.calibration import restore_on
from printplan.sharpening.content import MOST_SHARE, SEEN_GRAIN_L
from printplan.sharpening.halo import PIXEL_SIGMA_PX
from printplan.sharpening.limits import DecidingBound, SharpenLimits
from printplan.spec import SharpenSpec

if TYPE_CHECKING:
    from printplan.plan import PrintPlan
    from printplan.sharpening.choice import SharpenChoice
    from printplan.sharpening.content import ContentFacts


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

    Returns
    -------
    float
        The diagonal of the picture, rounded to 10 mm, and `NEAREST_MM` at least.
        Common practice, no source: once to twice the diagonal.
    """
    size = plan.picture_size
    return max(NEAREST_MM, float(round(hypot(size.width_mm, size.height_mm), -1)))


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


_SAME_RESTORE = 0.01


def content_reason(  # noqa: PLR0913 - picture, choice and what was reckoned with
    content: ContentFacts,
    choice: SharpenChoice,
    spec: SharpenSpec,
    *,
    edge_sigma_px: float,
    tones_l: tuple[float, float],
    used_share: float,
) -> str:
    """
    Say what the picture's content has to do with the sharpening chosen.

    Parameters
    ----------
    spec : SharpenSpec
        As it was chosen.
    edge_sigma_px : float
        Of the master's edges in print pixels, as it was reckoned with.
    tones_l : tuple of float
        L* of the two sides of the strongest edge, as it was reckoned with.
    used_share : float
        Share of the sharpening that is left after what the master already has.

    Returns
    -------
    str
        One sentence; an assumed softness and a master that was sharpened before are
        named in it.
    """
    parts = [_kind(content), _edges(content, edge_sigma_px), _noise(content, choice)]
    if content.grain_l >= SEEN_GRAIN_L and spec.grain_floor_l > 0:
        parts.append(
            f"its grain of {content.grain_l:.1f} L* is spared by a grain floor of "
            f"{spec.grain_floor_l:.1f} L*"
        )
    if spec.halo_limit_share is not None:
        dark_l, light_l = tones_l
        parts.append(
            f"an edge from L* {dark_l:.0f} to {light_l:.0f} is held to a halo of "
            f"{choice.overshoot_in_print:.0%} in the print"
        )
    if used_share < 1:
        parts.append(
            f"it was sharpened before (overshoot {content.overshoot_share:.0%}), so "
            f"{used_share:.0%} of the sharpening is used"
        )
    return f"{'; '.join(parts)}."


def restore_words(restore: float, choice: SharpenChoice) -> str:
    """
    Say which restore was asked for, and which one is really had.

    Parameters
    ----------
    restore : float
        As it was asked for.

    Returns
    -------
    str
        One sentence.
    """
    if choice.deciding_bound is DecidingBound.NOTHING_LOST:
        return f"Asked to restore {restore:g} of what paper and distance take."
    if abs(choice.restored - restore) < _SAME_RESTORE:
        return f"Chosen to restore {restore:g} of what paper and distance take."
    return (
        f"Asked to restore {restore:g} of what paper and distance take; limits leave "
        f"{choice.restored:.2f} of it."
    )


def _kind(content: ContentFacts) -> str:
    if content.smooth_share >= MOST_SHARE:
        return (
            f"Mostly smooth tones ({content.smooth_share:.0%} of the area), where "
            "noise shows sooner than missing sharpness"
        )
    if content.texture_share >= MOST_SHARE:
        return (
            f"Fine texture nearly everywhere ({content.texture_share:.0%} of the "
            "area), which is what sharpening brings back"
        )
    return (
        f"Smooth areas ({content.smooth_share:.0%}) beside texture "
        f"({content.texture_share:.0%}), so sharpness shows at edges and noise between"
    )


def _edges(content: ContentFacts, edge_sigma_px: float) -> str:
    if content.master_edge_sigma_px is None:
        return (
            "too few strong straight edges to measure, so a softness of "
            f"{edge_sigma_px:.2f} print pixels is assumed"
        )
    if edge_sigma_px < PIXEL_SIGMA_PX:
        return "its sharpest edges are as sharp as print pixels hold"
    return f"its sharpest edges are {edge_sigma_px:.2f} print pixels soft"


def _noise(content: ContentFacts, choice: SharpenChoice) -> str:
    noise = f"its noise of {content.noise_l:.2f} L*"
    if choice.noise_counted_l > content.noise_l:
        noise += f", counted as {choice.noise_counted_l:.2f},"
    seen = (
        f"will be seen at {choice.visible_noise_after:.1f} times the eye's threshold"
        if choice.visible_noise_after > 1
        else "stays below the eye's threshold"
    )
    held = " and held the gain" if choice.deciding_bound is DecidingBound.NOISE else ""
    return f"{noise} {seen}{held}"
