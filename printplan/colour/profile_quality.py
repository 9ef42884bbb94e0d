"""How good is an output profile, judged from the profile alone?"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.difference import delta_e_2000
from printplan.colour.facts import profile_facts
from printplan.colour.gamut import gamut_mesh, gamut_volume
from printplan.colour.gamut_rays import MID_GREY_LAB, ray_crossings
from printplan.colour.intents import SHADOW_L, own_intents, shadow_steps
from printplan.colour.losses import gamut_distance
from printplan.colour.profile_gate import require_output_profile
from printplan.colour.profiles import open_profile
from printplan.colour.proof import rendered_device, rendered_lab
from printplan.colour.tone import lightness_to_density, neutrality, rendered_wedge
from printplan.colour.transforms import device_to_lab
from printplan.errors import ProfileError
from printplan.spec import BlackPointCompensation, Intent

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.facts import ProfileFacts
    from printplan.colour.profiles import Profile, ProfileLike

    Floats = NDArray[np.float64]

_OFF, _ON = BlackPointCompensation.OFF, BlackPointCompensation.ON

# Device values along an axis: some thousands of colours for any number of channels,
# and not the grid points of tables, which have 2^n + 1, so that what lies between
# those is judged.
_GRID_POINTS = {1: 1024, 3: 14}

# Colours asked for along a line lie one CIELAB unit apart, up to this share of the way
# to the boundary: at the boundary itself, a colorimetric table has to bend.
_LINE_SHARE = 0.9

# Blacks and whites are left out of the judgement of greys: the ends take the cast of
# ink and paper, and have to.
GREYS_JUDGED_L = (10.0, 95.0)
"""L* of the greys, as asked for, whose cast is judged. Our choice."""

_LEAST_RANGE_L = 5.0
"""Lightness from white to black below which tables hold no picture. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundTrip:
    """
    How well colours that the device has are found again.

    Attributes
    ----------
    median_delta_e, p95_delta_e : float
        dE00 that half and 95 of 100 colours keep within.
    colours : int
        How many were tried.
    """

    median_delta_e: float
    p95_delta_e: float
    colours: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Smoothness:
    """
    How evenly colours follow each other along ramps.

    Attributes
    ----------
    p95_delta_e, worst_delta_e : float
        How far a colour lies off the middle of its two neighbours (half of the second
        difference), in dE00: 95 of 100 keep within the first.
    worst_lab : tuple of float
        Where the largest is, CIELAB relative to the paper's white.
    steps : int
        How many were judged.
    """

    p95_delta_e: float
    worst_delta_e: float
    worst_lab: tuple[float, float, float]
    steps: int


@dataclass(frozen=True, slots=True, kw_only=True)
class GreyBalance:
    """
    Cast of neutrals as one intent prints them, against the paper's white.

    Attributes
    ----------
    intent : Intent
        With black point compensation.
    mean_chroma, worst_chroma : float
        C*ab of the greys in `GREYS_JUDGED_L`.
    worst_l, worst_a, worst_b : float
        L* asked for where it is largest, and a*, b* there.
    black_lab : tuple of float
        How L* 0 prints, ICC-absolute.
    shadow_steps : int
        Of the twenty darkest steps of one L*, how many stay apart.
    """

    intent: Intent
    mean_chroma: float
    worst_chroma: float
    worst_l: float
    worst_a: float
    worst_b: float
    black_lab: tuple[float, float, float]
    shadow_steps: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileQuality:
    """
    An output profile's facts, and how good it is.

    Attributes
    ----------
    round_trip : RoundTrip
        Device to CIELAB, to device, to CIELAB, media-relative.
    there : Smoothness
        Of device ramps as the profile reads them: soft proofs and judgements.
    back : Smoothness
        Of even lines of colour as they print: the picture itself.
    greys : tuple of GreyBalance
        Perceptual, if it has a table of its own, and media-relative.
    black_l, black_density : float
        Darkest that a print gets: L*, ICC-absolute, and reflection density.
    volume : float or None
        Gamut volume in cubic CIELAB units; None for grey.
    ink_percent : float or None
        Greatest total of inks that it prints with; None where the driver decides.
    """

    facts: ProfileFacts
    round_trip: RoundTrip
    there: Smoothness
    back: Smoothness
    greys: tuple[GreyBalance, ...]
    black_l: float
    black_density: float
    volume: float | None
    ink_percent: float | None


def profile_quality(profile: ProfileLike) -> ProfileQuality:
    """
    Judge an output profile.

    Parameters
    ----------
    profile : Profile, path, bytes
        For grey, RGB or CMYK.

    Raises
    ------
    ProfileError
        If it is no output profile, is damaged, or its tables hold no picture.

    Notes
    -----
    Nothing is known of the print: a profile can be smooth, exact and that of another
    paper. All goes through the stages that files are made by (`rendered_lab`).

    *There and back*: an even grid of device values; of CMYK those without black and
    within the ink that the profile itself prints with. With black there are colours
    that its own separation never mixes, which would count as errors.

    *Smoothness*: straight, even lines of one CIELAB unit from mid grey towards 26
    directions, within the gamut, printed media-relative, and the greys, printed by
    each intent; for the other way, ramps of each primary and of pairs of them. A
    colour that lies on the line between its neighbours has a second difference of 0;
    where it does not, a sky shows an edge. A grey profile has its greys alone.
    """
    profile = require_output_profile(open_profile(profile))
    facts = profile_facts(profile)
    ink_percent = _greatest_ink_percent(profile)
    own = own_intents(profile)
    intents: list[Intent] = [
        it for it in (Intent.PERCEPTUAL, Intent.MEDIA_RELATIVE) if it in own
    ] or [Intent.PERCEPTUAL]
    greys = tuple(_grey_balance(profile, intent) for intent in intents)
    black_l = min(it.black_lab[0] for it in greys)
    return ProfileQuality(
        facts=facts,
        round_trip=_round_trip(profile, ink_percent),
        there=_smoothness([_read(profile, ramp) for ramp in _device_ramps(profile)]),
        back=_smoothness(_printed_lines(profile, intents)),
        greys=greys,
        black_l=black_l,
        black_density=lightness_to_density(min(max(black_l, 1e-3), 100.0)),
        volume=None if profile.space == "GRAY" else gamut_volume(gamut_mesh(profile)),
        ink_percent=ink_percent,
    )


def _read(profile: Profile, device: Floats) -> Floats:
    """Media-relative CIELAB of device values from 0 to 1."""
    codes = np.rint(device * 65535).astype(np.uint16)
    lab: Floats = device_to_lab(codes[None], profile, intent=Intent.MEDIA_RELATIVE)[0]
    return lab


def _device_grid(channels: int) -> Floats:
    """All mixtures of the channels; of CMYK, without black."""
    varied = min(channels, 3)
    axis = np.linspace(0, 1, _GRID_POINTS[varied])
    grid = np.meshgrid(*[axis] * varied, indexing="ij")
    mixed = np.stack(grid, axis=-1).reshape(-1, varied)
    return np.pad(mixed, ((0, 0), (0, channels - varied)))


def _lab_grid() -> Floats:
    """Colours all over CIELAB, far outside of any paper too."""
    l_star, a, b = np.meshgrid(
        np.linspace(0, 100, 21),
        np.linspace(-100, 100, 21),
        np.linspace(-100, 100, 21),
        indexing="ij",
    )
    return np.stack([l_star, a, b], axis=-1).reshape(-1, 3)


def _greatest_ink_percent(profile: Profile) -> float | None:
    if profile.space != "CMYK":
        return None
    most = 0.0
    for intent in own_intents(profile) - {Intent.ICC_ABSOLUTE} or {Intent.PERCEPTUAL}:
        device = rendered_device(_lab_grid(), profile, intent, _OFF)
        most = max(most, float(device.sum(axis=-1, dtype=np.float64).max()))
    return most / 655.35


def _round_trip(profile: Profile, ink_percent: float | None) -> RoundTrip:
    device = _device_grid(profile.channels)
    if ink_percent is not None:
        device = device[100 * device.sum(axis=1) <= ink_percent]
    away = gamut_distance(_read(profile, device), profile)
    return RoundTrip(
        median_delta_e=float(np.median(away)),
        p95_delta_e=float(np.percentile(away, 95)),
        colours=len(away),
    )


def _device_ramps(profile: Profile) -> list[Floats]:
    """From no primary to full ones, one and two at a time, and all of RGB together."""
    level = np.linspace(0, 1, 101)[:, None]
    channels = profile.channels
    ways = [way for way in product((0, 1), repeat=channels) if 0 < sum(way) < 3]
    if channels == 3:
        ways.append((1, 1, 1))
        # Towards white as well, through the light tints.
        return [level * way for way in ways] + [
            1 - level * (1 - np.array(way)) for way in ways if sum(way) < 3
        ]
    return [level * way for way in ways]


def _printed_lines(profile: Profile, intents: list[Intent]) -> list[Floats]:
    """Even lines of colour, as they come out of the printer."""
    greys = np.arange(101.0)[:, None] * [1.0, 0.0, 0.0]
    lines = [rendered_lab(greys, profile, intent, _ON) for intent in intents]
    if profile.space == "GRAY":
        return lines
    towards = np.array([way for way in product((-1.0, 0.0, 1.0), repeat=3) if any(way)])
    towards /= np.linalg.norm(towards, axis=1, keepdims=True)
    found = ray_crossings(gamut_mesh(profile), towards)
    for ray, direction in enumerate(towards):
        nearest = found.distance[found.ray == ray].min(initial=np.inf)
        if not np.isfinite(nearest):
            continue
        along = np.arange(0.0, _LINE_SHARE * nearest)[:, None]
        asked = MID_GREY_LAB + along * direction
        lines.append(rendered_lab(asked, profile, intents[-1], _OFF))
    return lines


def _smoothness(ramps: list[Floats]) -> Smoothness:
    ramps = [ramp for ramp in ramps if len(ramp) > 2]
    off = [delta_e_2000(it[1:-1], (it[:-2] + it[2:]) / 2) for it in ramps]
    places = np.concatenate([ramp[1:-1] for ramp in ramps])
    away = np.concatenate(off).astype(np.float64)
    l_star, a, b = places[away.argmax()].tolist()
    return Smoothness(
        p95_delta_e=float(np.percentile(away, 95)),
        worst_delta_e=float(away.max()),
        worst_lab=(l_star, a, b),
        steps=len(away),
    )


def _grey_balance(profile: Profile, intent: Intent) -> GreyBalance:
    wedge = rendered_wedge(profile, intent=intent, black_point_compensation=_ON)
    range_l = float(np.ptp(wedge.relative_lab[:, 0]))
    if range_l < _LEAST_RANGE_L:
        raise ProfileError(
            f"The {intent} table of {profile.name!r} prints black and white within "
            f"{range_l:.1f} L*; a poor paper has some 60.",
            remedy="Fetch the profile again; this table is empty.",
        )
    cast = neutrality(wedge)
    low, high = GREYS_JUDGED_L
    judged = np.flatnonzero((wedge.source_l >= low) & (wedge.source_l <= high))
    worst = int(judged[cast.chroma[judged].argmax()])
    black_l, black_a, black_b = wedge.printed_lab[0].tolist()
    shadows = rendered_wedge(
        profile,
        intent=intent,
        black_point_compensation=_ON,
        source_l=np.append(SHADOW_L, 100.0),
    )
    return GreyBalance(
        intent=intent,
        mean_chroma=float(cast.chroma[judged].mean()),
        worst_chroma=float(cast.chroma[worst]),
        worst_l=float(wedge.source_l[worst]),
        worst_a=float(cast.drift_a[worst]),
        worst_b=float(cast.drift_b[worst]),
        black_lab=(black_l, black_a, black_b),
        shadow_steps=shadow_steps(shadows),
    )
