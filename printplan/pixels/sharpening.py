"""Which sharpening does this print need?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from printplan.colour.profiles import open_profile
from printplan.colour.viewing import paper_luminance_cd_m2, paper_reflectance
from printplan.pixels.sharpening_reason import content_reason
from printplan.pixels.sharpening_spec import sharpen_spec
from printplan.sharpness.chain import Chain
from printplan.sharpness.choice import DecidingBound, SharpenLimits
from printplan.sharpness.choose import MOST_RESTORE, choose_sharpening
from printplan.sharpness.content import SHARPENED_OVERSHOOT
from printplan.sharpness.effect import sharpening_effect
from printplan.sharpness.eye import PAPER_WHITE_CD_M2
from printplan.sharpness.learned import KnownSpread, spread_on
from printplan.sharpness.ranges import require

if TYPE_CHECKING:
    from printplan.plan import PrintPlan
    from printplan.sharpness.choice import SharpenChoice, SharpenEffect
    from printplan.sharpness.content import ContentFacts
    from printplan.spec import SharpenSpec

ASSUMED_SOFTNESS_PX = 0.55
"""Softness of a picture without edges to measure, in print pixels, or in master pixels
where those are coarser: our choice, near that of the demo's sharp photographs."""

MIDDLE_TONE_L = 50.0
"""Tone that is looked at: our choice."""

_LEAST_LUMINANCE_CD_M2 = 1.0
_DEFAULT_LIMITS = SharpenLimits()


@dataclass(frozen=True, slots=True, kw_only=True)
class SharpenAdvice:
    """
    The sharpening that a print needs, and why.

    Attributes
    ----------
    choice : SharpenChoice
        Gain and radius with what they do, and what decided.
    spec : SharpenSpec
        The same as a plan keeps it.
    spread : KnownSpread
        Of ink and light in the paper, as it was reckoned with.
    softness_px : float
        Of the master's edges, in print pixels, as it was reckoned with.
    softness_is_assumed : bool
        Whether the picture has no edges to measure it by.
    used_share : float
        Share of the sharpening that is left after what the master already has, 0 to 1.
    reason : str
        One sentence on what the picture's content has to do with it.
    """

    choice: SharpenChoice
    spec: SharpenSpec
    spread: KnownSpread
    softness_px: float
    softness_is_assumed: bool
    used_share: float
    reason: str


def chosen_sharpening(  # noqa: PLR0913 - print, picture, viewer and wish
    plan: PrintPlan,
    content: ContentFacts,
    *,
    distance_mm: float,
    restore: float = 1.0,
    limits: SharpenLimits = _DEFAULT_LIMITS,
    luminance_cd_m2: float | None = None,
) -> SharpenAdvice:
    """
    Choose the sharpening of a print by its paper, content and viewer.

    Parameters
    ----------
    plan : PrintPlan
        Its own sharpening does not matter.
    content : ContentFacts
        Of `picture_content` for a sheet of that size and crop.
    distance_mm : float
        Eye to paper, 50 to 50,000.
    restore : float, optional
        Share of the loss to put back, 0 to 1.5.
    limits : SharpenLimits, optional
    luminance_cd_m2 : float, optional
        Of the paper's white; by default that of the plan's room, see
        `paper_white_cd_m2`.

    Returns
    -------
    SharpenAdvice

    Raises
    ------
    SpecError
        If a number is outside its range, or the limits leave no radius.

    Notes
    -----
    The paper's spread is what its scans measured on this printer, else the estimate of
    the paper book; `SharpenAdvice.spread` says which. A picture without strong straight
    edges is taken to be as soft as `ASSUMED_SOFTNESS_PX`, and the reason says so.

    Edges that a master overshoots already come out with both halos. What they have
    above `SHARPENED_OVERSHOOT` is taken from the halo limit, and the wish shrinks with
    what is left of it, whichever limit decides. Our choice.

    Examples
    --------
    ::

        content = picture_content(sheet)
        advice = chosen_sharpening(sheet.plan, content, distance_mm=400)
        sharper = varied(sheet, replace(sheet.plan.spec, sharpen=advice.spec))
    """
    spread = spread_on(plan.paper, plan.setup)
    softness_px = _softness_px(plan, content)
    used_share = _used_share(content, limits)
    white = paper_white_cd_m2(plan) if luminance_cd_m2 is None else luminance_cd_m2
    require("Restore", restore, 0, MOST_RESTORE, "(share of the loss)")
    choice = choose_sharpening(
        paper_spread_um=spread.spread,
        ppi=plan.ppi,
        master_softness_px=softness_px,
        noise_l=content.noise_l,
        distance_mm=distance_mm,
        enlargement=plan.enlargement,
        luminance_cd_m2=white,
        lightness_l=MIDDLE_TONE_L,
        restore=restore * used_share,
        limits=limits,
    )
    if used_share < 1 and choice.deciding_bound is DecidingBound.RESTORE:
        choice = replace(choice, why=_sharpened_before(used_share, restore))
    return SharpenAdvice(
        choice=choice,
        spec=sharpen_spec(
            choice, distance_mm=distance_mm, restore=restore, limits=limits
        ),
        spread=spread,
        softness_px=softness_px,
        softness_is_assumed=content.master_softness_px is None,
        used_share=used_share,
        reason=content_reason(
            content, choice, softness_px=softness_px, used_share=used_share
        ),
    )


def print_chain(
    plan: PrintPlan,
    content: ContentFacts,
    *,
    distance_mm: float,
    luminance_cd_m2: float | None = None,
) -> Chain:
    """
    Master, resampling, paper and viewer of a print, as the choice reckons with them.

    Parameters
    ----------
    plan : PrintPlan
    content : ContentFacts
        Of `picture_content` for a sheet of that size and crop.
    distance_mm : float
        Eye to paper, 50 to 50,000.
    luminance_cd_m2 : float, optional
        Of the paper's white, as in `chosen_sharpening`.

    Returns
    -------
    Chain
        For a tone of 50 L*.

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    white = paper_white_cd_m2(plan) if luminance_cd_m2 is None else luminance_cd_m2
    return Chain(
        spread=spread_on(plan.paper, plan.setup).spread,
        ppi=plan.ppi,
        master_softness_px=_softness_px(plan, content),
        enlargement=plan.enlargement,
        distance_mm=distance_mm,
        luminance_cd_m2=white,
        lightness_l=MIDDLE_TONE_L,
    )


def predicted_effect(
    plan: PrintPlan, content: ContentFacts, *, distance_mm: float
) -> SharpenEffect:
    """
    Predict what the plan's own gain and radius do in the print.

    Parameters
    ----------
    plan : PrintPlan
    content : ContentFacts
        Of `picture_content` for a sheet of that size and crop.
    distance_mm : float
        Eye to paper, 50 to 50,000.

    Returns
    -------
    SharpenEffect
        Without the plan's halo limit, which may cut the overshoot further.

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    sharpen = plan.spec.sharpen
    return sharpening_effect(
        print_chain(plan, content, distance_mm=distance_mm),
        gain=sharpen.gain,
        radius_px=plan.radius_px,
        noise_l=max(content.noise_l, _DEFAULT_LIMITS.least_noise_l),
        grain_floor_l=sharpen.grain_floor_l,
    )


def paper_white_cd_m2(plan: PrintPlan) -> float:
    """
    Luminance of the paper's white where the print will hang.

    Parameters
    ----------
    plan : PrintPlan

    Returns
    -------
    float
        By the light of the plan's room and the paper's profile; without a room, that
        of a paper under 500 lx, the light for appraising prints (ISO 3664 P2).

    Raises
    ------
    ProfileError
        If the profile cannot be read.
    """
    illuminance_lx = plan.spec.room.illuminance_lx
    if illuminance_lx is None:
        return PAPER_WHITE_CD_M2
    reflectance = paper_reflectance(open_profile(plan.setup.profile))
    # In less light than that, sharpness is nobody's question.
    return max(
        paper_luminance_cd_m2(illuminance_lx, reflectance), _LEAST_LUMINANCE_CD_M2
    )


def _softness_px(plan: PrintPlan, content: ContentFacts) -> float:
    """Of the master's edges in print pixels, measured or assumed."""
    if content.master_softness_px is None:
        return ASSUMED_SOFTNESS_PX * max(plan.enlargement, 1.0)
    return content.master_softness_px


def _used_share(content: ContentFacts, limits: SharpenLimits) -> float:
    """Share of the sharpening that an already sharpened master leaves room for."""
    if not content.already_sharpened or content.overshoot_share is None:
        return 1.0
    taken = content.overshoot_share - SHARPENED_OVERSHOOT
    return max(0.0, 1 - taken / limits.halo_limit)


def _sharpened_before(used_share: float, restore: float) -> str:
    return (
        "The master's own sharpening decided: its edges overshoot already, and leave "
        f"{used_share:.0%} of the restore of {restore:g}."
    )
