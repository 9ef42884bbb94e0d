"""What would an output profile's qualities mean in a print, and which are poor?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from printplan.checks.finding import Finding, Source, note, warn
from printplan.spec import Intent

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.colour.profile_quality import GreyBalance, ProfileQuality, Smoothness

ROUND_TRIP_DELTA_E = (1.0, 3.0)
"""dE00 of the round trip's median and 95 % that are warned of. Our choice: 1 is
about what is just told side by side (common practice, no source)."""

UNEVEN_DELTA_E = (0.25, 0.75)
"""dE00 off the middle of the neighbours, 95 % and worst, that are warned of. Our
choice: at 0.5 a colour is twice as far from one neighbour as one unit asks, and none
from the other."""

GREY_CHROMA = (1.5, 3.0)
"""C*ab of greys, mean and worst, that are warned of. Our choice; proofs are held to
about as much (ISO 12647-7, from memory)."""

PALEST_BLACK_L = 22.0
"""Black L* above which a photograph looks flat: D 1.45. Our choice; matte papers reach
D 1.6 to 1.75 (common practice, no source)."""

BRIGHTENED_B = -4.0
"""White's b* below which brighteners are likely: without them, paper is neutral to
yellowish. Common practice, no source."""

TINTED_CHROMA = 6.0
"""White's C*ab from which the paper's tint is plainly seen. Our choice."""

_NO_WHITE_DELTA = 0.3
_SRGB_VOLUME = 832_870
_KNOWN_VERSIONS = (2, 4)
_FETCH = "Ask the paper's maker for a newer profile, or have one made for your printer."


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileLine:
    """
    One fact of a profile.

    Attributes
    ----------
    what, value : str
        Its name, and what was found.
    means : str
        What it would mean in a print, in a sentence.
    finding : Finding or None
        What is poor in it, if anything.
    """

    what: str
    value: str
    means: str
    finding: Finding | None = None


def profile_lines(quality: ProfileQuality) -> tuple[ProfileLine, ...]:
    """
    All that should be known of a profile before a paper is printed with it.

    Parameters
    ----------
    quality : ProfileQuality
        From `profile_quality`.

    Returns
    -------
    tuple of ProfileLine
        Facts of the file first, then white, black and gamut, then how good it is.
    """
    lines = [
        _kind(quality),
        _intents(quality),
        _white(quality),
        _black(quality),
        *_gamut(quality),
        *_ink(quality),
        _round_trip(quality),
        _back(quality),
        _there(quality),
        *(_greys(quality, it) for it in quality.greys),
    ]
    return tuple(lines)


def quality_findings(quality: ProfileQuality) -> tuple[Finding, ...]:
    """What is poor in a profile, in the order of `profile_lines`."""
    lines = profile_lines(quality)
    return tuple(line.finding for line in lines if line.finding is not None)


def _kind(quality: ProfileQuality) -> ProfileLine:
    facts = quality.facts
    finding = None
    if int(facts.version.split(".", maxsplit=1)[0]) not in _KNOWN_VERSIONS:
        finding = warn(
            topic="profile's version",
            problem=f"The profile is of version {facts.version}; 2 and 4 are known "
            "here.",
            remedy="Ask the paper's maker for a profile of version 2 or 4.",
            source="ICC.1:2022, 7.2.4",
        )
    elif facts.is_as_made is False:
        finding = warn(
            topic="profile's ID",
            problem="The profile is not as it was made: its content has another ID "
            "than the one it carries. It was changed by a program that left the ID, "
            "or damaged on its way.",
            remedy=f"Compare it with the one its maker offers. {_FETCH}",
            source="ICC.1:2022, 7.2.18",
        )
    return ProfileLine(
        what="profile",
        value=f"{facts.name}: {facts.device_class} profile for {_space(quality)}, "
        f"version {facts.version}",
        means=f"The file for the printer is made in {_space(quality)}.",
        finding=finding,
    )


def _space(quality: ProfileQuality) -> str:
    return "grey" if quality.facts.space == "GRAY" else quality.facts.space


def _intents(quality: ProfileQuality) -> ProfileLine:
    own = quality.facts.intents
    finding = None
    lacking = [it for it in (Intent.PERCEPTUAL, Intent.MEDIA_RELATIVE) if it not in own]
    if lacking and quality.facts.is_table:
        finding = warn(
            topic="no table for intent",
            problem="The profile has no table of its own for the "
            f"{' and '.join(lacking)} intent; another one takes its place.",
            remedy=f"Print with {own[0]}, or: {_lower(_FETCH)}",
            source="ICC.1:2022, 8.4 and 9.2, tags B2A0 to B2A2",
        )
    kinds = ", ".join(own)
    return ProfileLine(
        what="rendering intents",
        value=kinds if quality.facts.is_table else f"{kinds}, from curves",
        means="Perceptual moves all colours to fit the paper; media-relative keeps "
        "those that fit and clips the others.",
        finding=finding,
    )


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


def _white(quality: ProfileQuality) -> ProfileLine:
    l_star, a, b = quality.facts.white_lab
    chroma = (a * a + b * b) ** 0.5
    finding = None
    if abs(l_star - 100) < _NO_WHITE_DELTA and chroma < _NO_WHITE_DELTA:
        finding = warn(
            topic="profile's white",
            problem="The profile gives its paper the white of a perfect diffuser "
            "(L*a*b* 100, 0, 0), which no paper has.",
            remedy="Measure the paper's white and write it into the paper book; do "
            "not trust this profile's ICC-absolute colours.",
            source="ICC.1:2022, 9.2, mediaWhitePointTag",
        )
    elif b < BRIGHTENED_B:
        finding = note(
            topic="profile's white",
            problem=f"The white is bluish (b* {b:.1f}); below {BRIGHTENED_B:g} "
            "brighteners are likely.",
            remedy="Look at prints in the light they will hang in: without "
            "ultraviolet, or with age, this white turns yellower.",
            source=Source.COMMON_PRACTICE,
        )
    elif chroma > TINTED_CHROMA:
        finding = note(
            topic="profile's white",
            problem=f"The white is {chroma:.1f} from neutral (C*ab); a tint is plainly "
            f"seen from {TINTED_CHROMA:g}.",
            remedy="Judge the soft proof with the paper's white shown.",
            source=Source.OUR_CHOICE,
        )
    return ProfileLine(
        what="paper white",
        value=f"L*a*b* {_lab_words(quality.facts.white_lab, digits=1)}",
        means="Nothing in the print is lighter than this, and all tones are seen "
        "against it.",
        finding=finding,
    )


def _black(quality: ProfileQuality) -> ProfileLine:
    finding = None
    if quality.black_l > PALEST_BLACK_L:
        finding = warn(
            topic="profile's black",
            problem=f"The darkest black prints at L* {quality.black_l:.1f}; above "
            f"{PALEST_BLACK_L:g} photographs look flat.",
            remedy="Check that the profile was made with the black ink for this "
            "surface and with this paper's media type in the driver.",
            source=Source.OUR_CHOICE,
        )
    steps = max(it.shadow_steps for it in quality.greys)
    return ProfileLine(
        what="darkest black",
        value=f"L* {quality.black_l:.1f}, density {quality.black_density:.2f}; "
        f"{steps} of the 20 darkest steps stay apart",
        means="The lower, the deeper the shadows; matte papers stop near L* 16, "
        "glossy ones near 4.",
        finding=finding,
    )


def _gamut(quality: ProfileQuality) -> Iterator[ProfileLine]:
    if quality.volume is None:
        return
    thousands = quality.volume / 1000
    yield ProfileLine(
        what="gamut volume",
        value=f"{thousands:.0f} thousand CIELAB units, "
        f"{quality.volume / _SRGB_VOLUME:.0%} of sRGB's",
        means="The larger, the more saturated colours stay as they are; the rest is "
        "moved or clipped.",
    )


def _ink(quality: ProfileQuality) -> Iterator[ProfileLine]:
    if quality.ink_percent is None:
        return
    yield ProfileLine(
        what="greatest total of inks",
        value=f"{quality.ink_percent:.0f} %",
        means="More than the paper takes up bleeds, dries slowly and cockles.",
    )


def _round_trip(quality: ProfileQuality) -> ProfileLine:
    found = quality.round_trip
    median, p95 = ROUND_TRIP_DELTA_E
    finding = None
    if found.median_delta_e > median or found.p95_delta_e > p95:
        finding = warn(
            topic="profile's round trip",
            problem="Colours that the printer has come back "
            f"{found.median_delta_e:.1f} dE00 away in the median and "
            f"{found.p95_delta_e:.1f} at 95 %; the limits are {median:g} and {p95:g}.",
            remedy=f"Do not trust it with exact colours. {_FETCH}",
            source=Source.OUR_CHOICE,
        )
    return ProfileLine(
        what="there and back",
        value=f"{found.median_delta_e:.2f} dE00 in the median, "
        f"{found.p95_delta_e:.2f} at 95 % of {found.colours} colours",
        means="So far is a colour that the paper can hold printed from what was asked.",
        finding=finding,
    )


def _is_uneven(found: Smoothness) -> bool:
    p95, worst = UNEVEN_DELTA_E
    return found.p95_delta_e > p95 or found.worst_delta_e > worst


def _uneven_words(found: Smoothness) -> str:
    """How far steps are off, where most, and how far they may be."""
    p95, worst = UNEVEN_DELTA_E
    return (
        f"{found.p95_delta_e:.2f} dE00 at 95 % and by {found.worst_delta_e:.2f} near "
        f"L*a*b* {_lab_words(found.worst_lab)}; the limits are {p95:g} and {worst:g}"
    )


def _back(quality: ProfileQuality) -> ProfileLine:
    found = quality.back
    finding = None
    if _is_uneven(found):
        finding = warn(
            topic="profile's smoothness",
            problem="Even ramps print unevenly: steps are off by "
            f"{_uneven_words(found)}.",
            remedy="Look for edges in skies and skin in the soft proof, or print a "
            f"ramp first. {_FETCH}",
            source=Source.OUR_CHOICE,
        )
    return ProfileLine(
        what="smoothness in print",
        value=f"{found.p95_delta_e:.2f} dE00 off at 95 % of {found.steps} steps, "
        f"{found.worst_delta_e:.2f} at the worst (L*a*b* "
        f"{_lab_words(found.worst_lab)})",
        means="Where even steps print unevenly, a sky or a grey background shows an "
        "edge.",
        finding=finding,
    )


def _there(quality: ProfileQuality) -> ProfileLine:
    found = quality.there
    finding = None
    if _is_uneven(found):
        finding = warn(
            topic="profile's smoothness in proof",
            problem="Ramps of the printer's colours are read back unevenly: off by "
            f"{_uneven_words(found)}.",
            remedy="Do not judge fine gradients there by the soft proof; print them "
            "small.",
            source=Source.OUR_CHOICE,
        )
    return ProfileLine(
        what="smoothness in the soft proof",
        value=f"{found.p95_delta_e:.2f} dE00 off at 95 % of {found.steps} steps, "
        f"{found.worst_delta_e:.2f} at the worst",
        means="An edge here is seen in the soft proof and is not in the print.",
        finding=finding,
    )


def _greys(quality: ProfileQuality, greys: GreyBalance) -> ProfileLine:
    mean, worst = GREY_CHROMA
    finding = None
    if greys.mean_chroma > mean or greys.worst_chroma > worst:
        finding = warn(
            topic="profile's greys",
            problem=f"Greys print {greys.mean_chroma:.1f} from the paper's neutral on "
            f"average and {greys.worst_chroma:.1f} at L* {greys.worst_l:.0f} (C*ab, "
            f"{greys.intent}); the limits are {mean:g} and {worst:g}.",
            remedy=f"Print black and white by another way of the driver. {_FETCH}",
            source=Source.OUR_CHOICE,
        )
    where = (
        f"{greys.worst_chroma:.2f} at the worst (L* {greys.worst_l:.0f}: a* "
        f"{_signed(greys.worst_a)}, b* {_signed(greys.worst_b)})"
    )
    alone = len(quality.greys) == 1
    return ProfileLine(
        what="greys" if alone else f"greys, {greys.intent}",
        value=f"{greys.mean_chroma:.2f} from neutral on average, {where}",
        means="A black-and-white picture takes this cast, most where it changes "
        "along the tones.",
        finding=finding,
    )


def _signed(value: float) -> str:
    return f"{value:+z.1f}"


def _lab_words(lab: tuple[float, float, float], *, digits: int = 0) -> str:
    # z: a number that is rounded to 0 has no sign.
    return ", ".join(f"{value:z.{digits}f}" for value in lab)
