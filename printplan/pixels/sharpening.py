"""Which sharpening does this print need?"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.conversion import linear_to_device
from printplan.colour.profile_gate import paper_profile
from printplan.colour.proof import device_to_light
from printplan.colour.spaces import named_profile
from printplan.colour.transforms import luminance_weights
from printplan.colour.viewing import paper_luminance_cd_m2, paper_reflectance
from printplan.pixels.sharpening_spec import content_reason, sharpen_spec
from printplan.sharpening.calibration import KnownSpread, spread_on
from printplan.sharpening.chain import Chain
from printplan.sharpening.choice import MOST_RESTORE, choose_sharpening, halo_words
from printplan.sharpening.content import SEEN_GRAIN_L, SHARPENED_OVERSHOOT
from printplan.sharpening.effect import sharpening_effect
from printplan.sharpening.eye import PAPER_WHITE_CD_M2
from printplan.sharpening.halo import halo_arcmin
from printplan.sharpening.kernel import blur_of
from printplan.sharpening.lightness import luminance
from printplan.sharpening.limits import DecidingBound, SharpenLimits
from printplan.sharpening.simulated_edge import noise_shares, simulated_edge
from printplan.spec import ColourSpec, Delivery, Intent, NamedSpace, SharpenSpec
from printplan.units import mm_from_px, px_from_mm
from printplan.validation import require

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile
    from printplan.plan import PrintPlan
    from printplan.sharpening.choice import SharpenChoice
    from printplan.sharpening.content import ContentFacts
    from printplan.sharpening.effect import SharpenEffect
    from printplan.sharpening.kernel import Blur

    Floats = NDArray[np.float64]

ASSUMED_SOFTNESS_PX = 0.55
"""Softness of a picture without edges to measure, in print pixels, or in master pixels
where those are coarser: our choice, near that of the demo's sharp photographs."""

MIDDLE_TONE_L = 50.0
"""Tone that is looked at: our choice."""

DETAIL_TONES_L = (45.0, 55.0)
"""L* of the edge that stands for detail where a limit or a floor holds it, and for the
strongest of a picture that is even: our choice."""

GRAIN_SIGMAS = 2.0
"""Grain floor over the grain's standard deviation. Our choice: of normal noise it lets
a twentieth through, and detail of twice that contrast whole."""

_LEAST_HALO = 0.005
_FINEST_STEP = 0.001
_TONES = 257

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
    edge_sigma_px : float
        Of the master's edges, in print pixels, as it was reckoned with.
    sigma_is_assumed : bool
        Whether the picture has no edges to measure it by.
    reason : str
        One sentence on what the picture's content has to do with it.
    """

    choice: SharpenChoice
    spec: SharpenSpec
    spread: KnownSpread
    edge_sigma_px: float
    sigma_is_assumed: bool
    reason: str


def chosen_sharpening(
    plan: PrintPlan,
    content: ContentFacts,
    *,
    distance_mm: float,
    restore: float = 1.0,
    limits: SharpenLimits = _DEFAULT_LIMITS,
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

    A picture with grain gets a grain floor that spares it (`fitting_grain_floor_l`), or
    the one of the limits if that is higher.

    Gain and radius keep edges of low contrast within the halo limit. Strong ones gain
    more by the same, and have what resampling leaves beside them: the halo limit of
    the file is set so that the picture's strongest edge keeps to the limit in the
    print. The choice's numbers are those of `predicted_effect`.

    Examples
    --------
    ::

        content = picture_content(sheet)
        advice = chosen_sharpening(sheet.plan, content, distance_mm=400)
        sharper = varied(sheet, replace(sheet.plan.spec, sharpen=advice.spec))
    """
    spread = spread_on(plan.paper, plan.setup)
    chain = print_chain(plan, content, distance_mm=distance_mm)
    used_share = _used_share(content, limits)
    require("Restore", restore, 0, MOST_RESTORE, "(share of the loss)")
    floor_l = max(limits.grain_floor_l, fitting_grain_floor_l(content))
    limits = replace(limits, grain_floor_l=floor_l)
    choice = choose_sharpening(
        paper_psf_sigma_um=chain.spread,
        ppi=chain.ppi,
        master_edge_sigma_px=chain.master_edge_sigma_px,
        noise_l=content.noise_l,
        distance_mm=distance_mm,
        enlargement=chain.enlargement,
        luminance_cd_m2=chain.luminance_cd_m2,
        lightness_l=chain.lightness_l,
        restore=restore * used_share,
        limits=limits,
        unit=plan.spec.lengths_in,
    )
    tones_l = strongest_tones_l(content)
    allowed = max(limits.halo_limit * used_share, _LEAST_HALO)
    choice = _kept_low(plan, chain, choice, limits, allowed)
    if used_share < 1 and choice.deciding_bound is DecidingBound.RESTORE:
        why = (
            "The master's own sharpening decided: its edges overshoot already, and "
            f"leave {used_share:.0%} of the restore of {restore:g}."
        )
        choice = replace(choice, why=why)
    spec = sharpen_spec(choice, distance_mm=distance_mm, restore=restore, limits=limits)
    if spec.halo_limit_share is not None:
        choice, spec = _held_in_print(plan, chain, content, choice, spec, allowed)
    effect = _whole_effect(
        plan, chain, content, spec, choice.radius_px, choice.noise_counted_l
    )
    choice = replace(
        choice, **{field.name: getattr(effect, field.name) for field in fields(effect)}
    )
    return SharpenAdvice(
        choice=choice,
        spec=spec,
        spread=spread,
        edge_sigma_px=chain.master_edge_sigma_px,
        sigma_is_assumed=content.master_edge_sigma_px is None,
        reason=content_reason(
            content,
            choice,
            spec,
            edge_sigma_px=chain.master_edge_sigma_px,
            tones_l=tones_l,
            used_share=used_share,
        ),
    )


def fitting_grain_floor_l(content: ContentFacts) -> float:
    """
    Grain floor that spares the picture's grain.

    Returns
    -------
    float
        In L*, to a tenth; 0 for a picture without grain that is seen.
    """
    if content.grain_l < SEEN_GRAIN_L:
        return 0.0
    return min(round(GRAIN_SIGMAS * content.grain_l, 1), 10.0)


def print_chain(plan: PrintPlan, content: ContentFacts, *, distance_mm: float) -> Chain:
    """
    Master, resampling, paper and viewer of a print, as the choice reckons with them.

    Parameters
    ----------
    content : ContentFacts
        Of `picture_content` for a sheet of that size and crop.
    distance_mm : float
        Eye to paper, 50 to 50,000.

    Returns
    -------
    Chain
        For a tone of 50 L*.

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    edge_sigma_px = content.master_edge_sigma_px
    if edge_sigma_px is None:
        edge_sigma_px = ASSUMED_SOFTNESS_PX * max(plan.enlargement, 1.0)
    return Chain(
        spread=spread_on(plan.paper, plan.setup).spread,
        ppi=plan.ppi,
        master_edge_sigma_px=edge_sigma_px,
        enlargement=plan.enlargement,
        distance_mm=distance_mm,
        luminance_cd_m2=paper_white_cd_m2(plan),
        lightness_l=MIDDLE_TONE_L,
    )


def predicted_effect(
    plan: PrintPlan, content: ContentFacts, *, distance_mm: float
) -> SharpenEffect:
    """
    Predict what the plan's whole sharpening does in the print.

    Parameters
    ----------
    content : ContentFacts
        Of `picture_content` for a sheet of that size and crop.
    distance_mm : float
        Eye to paper, 50 to 50,000.

    Returns
    -------
    SharpenEffect
        Of gain, radius, halo limit and grain floor together. Every place that tells of
        halo, acutance or noise asks here.

    Raises
    ------
    SpecError
        If a number is outside its range.
    ProfileError
        If the paper's profile cannot be read.

    Notes
    -----
    The halo is that of an edge as strong as the picture's strongest and as soft as its
    sharpest, sent through the engine's own stages (`simulated_edge`); in a file in
    printer colour its tones are the paper's. Its resampling's own part is in it.

    With a halo limit or a grain floor, detail is what an edge of 10 L* in the middle
    tones gains by the stage, and noise what drawn noise gains. Without them, both
    follow from gain and radius alone.
    """
    return _whole_effect(
        plan,
        print_chain(plan, content, distance_mm=distance_mm),
        content,
        plan.spec.sharpen,
        blur_of(plan.spec.sharpen, plan.radius_px),
        max(content.noise_l, _DEFAULT_LIMITS.least_noise_l),
    )


def added_response(plan: PrintPlan, chain: Chain) -> Callable[[Floats], Floats] | None:
    """
    Contrast that the plan's sharpening adds in the file, where a limit or floor holds.

    Parameters
    ----------
    chain : Chain
        Of `print_chain`.

    Returns
    -------
    callable or None
        As `sharpening_effect` takes it; None where gain and radius alone say it.
    """
    return _added(chain, plan.spec.sharpen, blur_of(plan.spec.sharpen, plan.radius_px))


def _added(
    chain: Chain, sharpen: SharpenSpec, blur: Blur
) -> Callable[[Floats], Floats] | None:
    stage = _stage(sharpen)
    if stage.gain == 0 or (stage.halo_limit_share is None and stage.grain_floor_l == 0):
        return None
    return simulated_edge(chain, stage, blur, DETAIL_TONES_L).response_added


def strongest_tones_l(content: ContentFacts) -> tuple[float, float]:
    """
    L* of the two sides of the edge that the halo is told of.

    Returns
    -------
    tuple of float
        The picture's own, or `DETAIL_TONES_L` if it is even.
    """
    return content.edge_tones_l or DETAIL_TONES_L


def _whole_effect(  # noqa: PLR0913, PLR0917 - print, picture and sharpening
    plan: PrintPlan,
    chain: Chain,
    content: ContentFacts,
    sharpen: SharpenSpec,
    blur: Blur,
    noise_l: float,
) -> SharpenEffect:
    """What a sharpening does in a print, its limits included."""
    stage = _stage(sharpen)
    limited = stage.gain > 0 and stage.halo_limit_share is not None
    effect = sharpening_effect(
        chain,
        gain=stage.gain,
        blur=blur,
        noise_l=noise_l,
        grain_floor_l=stage.grain_floor_l,
        noise_passed=noise_shares(chain, stage, blur, noise_l) if limited else None,
        response_added=_added(chain, sharpen, blur),
    )
    edge = simulated_edge(
        chain, stage, blur, strongest_tones_l(content), _paper_tones(plan)
    )
    width_mm = mm_from_px(edge.in_print.width, chain.ppi)
    return replace(
        effect,
        overshoot_in_file=edge.in_file.overshoot,
        overshoot_in_print=edge.in_print.overshoot,
        halo_width_um=1000 * width_mm,
        halo_width_arcmin=halo_arcmin(width_mm, chain.distance_mm),
    )


def _stage(sharpen: SharpenSpec) -> SharpenSpec:
    """What of a sharpening the stage obeys; the rest is kept for the record."""
    return SharpenSpec(
        gain=sharpen.gain,
        halo_limit_share=sharpen.halo_limit_share,
        grain_floor_l=sharpen.grain_floor_l,
    )


def _kept_low(
    plan: PrintPlan,
    chain: Chain,
    choice: SharpenChoice,
    limits: SharpenLimits,
    allowed: float,
) -> SharpenChoice:
    """
    The choice with a gain that keeps edges of low contrast within the halo limit.

    The choice reckons in L*, but light spreads in paper as light: this takes a
    hundredth or so off a gain that goes up to the limit.
    """
    if choice.gain == 0:
        return choice

    def holds(gain: float) -> bool:
        spec = SharpenSpec(gain=gain, radius_mm=choice.radius_mm)
        return _print_halo(plan, chain, spec, DETAIL_TONES_L) <= allowed

    gain = _largest_within(holds, choice.gain)
    return choice if gain == choice.gain else _stopped(choice, gain, limits.halo_limit)


def _held_in_print(  # noqa: PLR0913, PLR0917 - print, picture and choice
    plan: PrintPlan,
    chain: Chain,
    content: ContentFacts,
    choice: SharpenChoice,
    spec: SharpenSpec,
    allowed: float,
) -> tuple[SharpenChoice, SharpenSpec]:
    """
    Hold the picture's strongest edge to the halo limit in the print.

    By the limit of the file, which spares weak edges as long as it is wide, or by the
    gain, whichever leaves detail more acutance.
    """
    tones_l = strongest_tones_l(content)

    def holds(**setting: float) -> bool:
        tried = replace(spec, **setting)  # type: ignore[arg-type]  # numbers alone
        return _print_halo(plan, chain, tried, tones_l) <= allowed

    def acutance(spec: SharpenSpec) -> float:
        effect = _whole_effect(
            plan, chain, content, spec, choice.radius_px, choice.noise_counted_l
        )
        return effect.acutance_after

    if holds():
        return choice, spec
    tight = _largest_within(
        lambda limit: holds(halo_limit_share=limit), spec.halo_limit_share or 0.0
    )
    low = _largest_within(lambda gain: holds(gain=gain), spec.gain)
    by_limit, by_gain = replace(spec, halo_limit_share=tight), replace(spec, gain=low)
    if low == 0 or acutance(by_limit) >= acutance(by_gain):
        return choice, by_limit
    halo_limit = spec.print_halo_limit_share or allowed
    return _stopped(choice, low, halo_limit), by_gain


def _stopped(choice: SharpenChoice, gain: float, halo_limit: float) -> SharpenChoice:
    """The choice with a gain that the halo limit stopped."""
    choice = replace(choice, gain=gain, restored=choice.restored * gain / choice.gain)
    if choice.deciding_bound is DecidingBound.RESTORE and choice.restored <= 1:
        return choice
    return replace(
        choice, deciding_bound=DecidingBound.HALO_LIMIT, why=halo_words(halo_limit)
    )


def _print_halo(
    plan: PrintPlan, chain: Chain, spec: SharpenSpec, tones_l: tuple[float, float]
) -> float:
    """Halo in the print of an edge under a sharpening not yet planned."""
    radius_px = px_from_mm(spec.radius_mm, plan.ppi)
    edge = simulated_edge(chain, _stage(spec), radius_px, tones_l, _paper_tones(plan))
    return edge.in_print.overshoot


def _largest_within(holds: Callable[[float], bool], most: float) -> float:
    """The largest value up to a given one for which something still holds."""
    if holds(most):
        return most
    least = 0.0
    while most - least > _FINEST_STEP:
        middle = (least + most) / 2
        least, most = (middle, most) if holds(middle) else (least, middle)
    return least


@lru_cache(maxsize=16)
def _neutrals_of(profile: Profile, colour: ColourSpec) -> tuple[float, ...]:
    """Luminance on paper of neutrals by the root of their luminance in the file."""
    root = np.linspace(0, 1, _TONES, dtype=np.float32)
    neutral = np.broadcast_to((root**2)[np.newaxis, np.newaxis], (3, 1, _TONES))
    to_device = linear_to_device(
        named_profile(NamedSpace.ROMM_RGB),
        profile,
        intent=colour.intent,
        black_point_compensation=colour.black_point_compensation,
    )
    device = to_device.from_linear(np.ascontiguousarray(neutral))
    light = device_to_light(profile, Intent.MEDIA_RELATIVE).from_device(device)
    weights = luminance_weights(named_profile(NamedSpace.SRGB))
    return tuple(np.maximum(luminance(light, weights)[0], 0.0).tolist())


def _paper_tones(plan: PrintPlan) -> tuple[float, ...] | None:
    """What the paper makes of neutrals, where the file holds the paper's colour."""
    if plan.delivery.colour is not Delivery.PRINTER_COLOUR:
        return None
    colour = plan.spec.colour
    return _neutrals_of(
        paper_profile(plan.setup.profile),
        ColourSpec(
            intent=colour.intent,
            black_point_compensation=colour.black_point_compensation,
        ),
    )


def paper_white_cd_m2(plan: PrintPlan) -> float:
    """
    Luminance of the paper's white where the print will hang.

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
    reflectance = paper_reflectance(paper_profile(plan.setup.profile))
    # In less light than that, sharpness is nobody's question.
    return max(
        paper_luminance_cd_m2(illuminance_lx, reflectance), _LEAST_LUMINANCE_CD_M2
    )


def _used_share(content: ContentFacts, limits: SharpenLimits) -> float:
    """Share of the sharpening that an already sharpened master leaves room for."""
    if not content.already_sharpened or content.overshoot_share is None:
        return 1.0
    taken = content.overshoot_share - SHARPENED_OVERSHOOT
    return max(0.0, 1 - taken / limits.halo_limit)
