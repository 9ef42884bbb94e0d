"""Is the master what its pixels, bits and profile promise?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from printplan.checks.finding import Finding, Source, note, warn, weight
from printplan.checks.size import LOW_PPI, needed_ppi
from printplan.colour.spaces import named_profile
from printplan.colour.transforms import colorants_xyz
from printplan.errors import SpecError
from printplan.pixels.master_measures import master_measures
from printplan.pixels.picture_content import FEWEST_EDGES, picture_content
from printplan.pixels.scale_ends import scale_ends
from printplan.spec import NamedSpace
from printplan.units import LengthUnit, at_most_mm, short_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.colour.profiles import Profile
    from printplan.pixels.master_measures import CubeFaces, ToneLevels
    from printplan.pixels.scale_ends import ScaleEnds
    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.sharpening.content import ContentFacts
    from printplan.sizing.enlargement import Enlargement

FULL_SOFTNESS_PX = 0.75
"""Softness of an edge, as a Gaussian's standard deviation in pixels, that uses its
pixels well: its response is a half at 0.1874 / 0.75 = 0.25 cycles per pixel, half way
to the finest (ISO 12233 for the measure; the place is our choice)."""

LEAST_RESOLVED_SHARE = 0.5
"""Share of the pixels needed that a soft master may resolve: our choice. Of one that
was enlarged all are asked for, since a lens is forgiven what arithmetic is not."""

# Shares from which something is noted and warned of: our choice.
_EMPTY = (0.12, 0.3)
_BLOCKS = (0.03, 0.06)
_AT_END = 0.01

EIGHT_BIT_LEVELS = 256

# A pile of clipped colours in a wide space, and colours outside sRGB beside it.
_CLIPPED, _PILE, _OUTSIDE = 3e-4, 1.5, 4e-3
WIDE_TIMES = 1.6
"""Chromaticities of sRGB from which a space's ends are no colours of photographs: opRGB
has 1.3 times, ROMM RGB 2.6 times. Our choice."""


def master_pixel_findings(
    sheet: Sheet, content: ContentFacts | None
) -> Iterator[Finding]:
    """
    What the master's own pixels tell.

    Parameters
    ----------
    content : ContentFacts or None
        Measured if it is None; see `content_of`.
    """
    measures = master_measures(sheet.master)
    yield from _about_detail(
        sheet.plan, measures.enlargement, content_of(sheet, content)
    )
    if measures.tones is not None:
        yield from _about_tones(measures.tones, sheet.plan.facts.bits)
    yield from _about_blocks(measures.block_share)
    ends = scale_ends(sheet.master)
    if ends is not None:
        yield from _about_ends(ends)
    if measures.faces is not None:
        yield from _about_space(measures.faces, sheet.master.source_profile)


def _about_detail(
    plan: PrintPlan, enlargement: Enlargement | None, content: ContentFacts | None
) -> Iterator[Finding]:
    needed = needed_ppi(plan)
    if enlargement is not None:
        own_ppi = plan.effective_ppi / enlargement.factor
        if own_ppi < needed:
            yield _soft_master(
                plan,
                own_ppi,
                needed,
                f"Its pixels are those of a picture enlarged at least "
                f"{enlargement.factor:.1f} times",
            )
            return
    resolved = _resolved_ppi(plan, content)
    if resolved is None or plan.effective_ppi < needed:
        return
    limit = LEAST_RESOLVED_SHARE * needed
    if resolved < limit:
        yield _soft_master(
            plan, resolved, limit, "It was enlarged, compressed or out of focus before"
        )


def _resolved_ppi(plan: PrintPlan, content: ContentFacts | None) -> float | None:
    """What the sharpest edges are worth, if there are enough of them."""
    if content is None or content.master_edge_sigma_px is None:
        return None
    # Edges that overshoot can measure as soft as 0 px: then the master's pixels decide.
    finest_px = plan.ppi * FULL_SOFTNESS_PX / plan.effective_ppi
    return plan.ppi * FULL_SOFTNESS_PX / max(content.master_edge_sigma_px, finest_px)


def _soft_master(plan: PrintPlan, own_ppi: float, limit: float, why: str) -> Finding:
    # A smaller print is looked at from nearer, unless its distance is given.
    asked = limit
    if plan.spec.sharpen.distance_mm is None:
        asked *= LOW_PPI / needed_ppi(plan)
    width_mm = plan.picture_size.width_mm * own_ppi / asked
    # Softness measures a little differently at each size.
    smaller_mm, unit = 0.95 * width_mm, plan.spec.lengths_in
    if unit is LengthUnit.MM:  # people set whole ones
        smaller_mm = int(smaller_mm)
    smaller = short_words(unit, at_most_mm(unit, smaller_mm))
    return warn(
        topic="soft master",
        problem=f"The master has {plan.effective_ppi:.0f} pixels per inch, but its own "
        f"detail is worth {own_ppi:.0f} ppi at this size; {limit:.0f} is the limit. "
        f"{why}.",
        remedy=f"Print from the original file, or smaller: {smaller} wide.",
        source="Gallagher 2005 for traces of enlarging; the limit is "
        f"{Source.OUR_CHOICE}",
    )


def _about_tones(tones: ToneLevels, bits: int) -> Iterator[Finding]:
    if tones.empty_share > _EMPTY[0]:
        yield Finding(
            level=weight(tones.empty_share, _EMPTY),
            topic="posterised tones",
            problem=f"{tones.empty_share:.0%} of the {tones.codes} tones that the "
            f"master's gradations run through stand empty; a warning from "
            f"{_EMPTY[1]:.0%} on. Skies and skin may show contours.",
            remedy="Make the picture again from the raw file or a 16-bit original, "
            "with its curves applied there.",
            source=Source.OUR_CHOICE,
        )
    if bits > 8 and tones.levels <= EIGHT_BIT_LEVELS:
        yield note(
            topic="8-bit tones",
            problem=f"The master has {bits} bits per channel, but its gradations use "
            f"{tones.levels} numbers; 8 bits hold {EIGHT_BIT_LEVELS}.",
            remedy="Export it again from the original with 16 bits; changing the "
            "depth alone brings nothing back.",
            source=Source.OUR_CHOICE,
        )


def _about_blocks(share: float) -> Iterator[Finding]:
    if share > _BLOCKS[0]:
        yield Finding(
            level=weight(share, _BLOCKS),
            topic="compression blocks",
            problem=f"{share:.0%} of the edges of 8 × 8 pixel blocks show as steps in "
            f"even tones; a warning from {_BLOCKS[1]:.0%} on. The master was "
            "compressed hard as a JPEG.",
            remedy="Print from the file that was compressed; saving this one again in "
            "another format keeps the blocks.",
            source=f"Wu & Yuen 1997 for the measure; the limit is {Source.OUR_CHOICE}",
        )


def _about_ends(ends: ScaleEnds) -> Iterator[Finding]:
    if max(ends.white_any, ends.black_any) >= _AT_END:
        yield note(
            topic="ends of the scale",
            problem=f"The master's pixels {ends.words}; told from {_AT_END:.0%} on.",
            remedy="If detail is missing there, make the picture again from the raw "
            "file, less bright or less hard; no print brings it back.",
            source=Source.OUR_CHOICE,
        )


def _about_space(faces: CubeFaces, profile: Profile) -> Iterator[Finding]:
    if profile.is_table or times_srgb(profile) < WIDE_TIMES:
        return
    piled = faces.clipped_share >= _CLIPPED and faces.pile >= _PILE
    if piled and faces.outside_share >= _OUTSIDE:
        yield warn(
            topic="tagged space",
            problem=f"{faces.clipped_share:.2%} of the pixels are colours clipped at "
            f"the ends of {profile.name}, {faces.pile:.1f} times as many as just "
            f"below ({_PILE:g} is the limit), and {faces.outside_share:.1%} lie "
            "outside sRGB. Photographs hardly reach these ends: the numbers may have "
            "been made for sRGB and tagged, not converted.",
            remedy="Look whether its colours are too strong. If so, assign sRGB in the "
            "program it came from, and convert from there.",
            source=f"ISO 22028-2 for the space; the limits are {Source.OUR_CHOICE}",
        )


def times_srgb(profile: Profile) -> float:
    """
    Chromaticities of a matrix profile over those of sRGB.

    Returns
    -------
    float
        Area of the triangle of its colorants in x and y, over that of sRGB's, both
        under D50.
    """
    return _triangle(profile) / _triangle(named_profile(NamedSpace.SRGB))


def _triangle(profile: Profile) -> float:
    xyz = colorants_xyz(profile)
    x, y = (xyz / xyz.sum(axis=0))[:2]
    return float(abs((x[1] - x[0]) * (y[2] - y[0]) - (x[2] - x[0]) * (y[1] - y[0])) / 2)


def content_of(sheet: Sheet, given: ContentFacts | None) -> ContentFacts | None:
    """
    Content to judge a sheet's sharpening by.

    Parameters
    ----------
    given : ContentFacts or None
        Of `picture_content`, if it is at hand.

    Returns
    -------
    ContentFacts or None
        None if it cannot be measured: the picture is too small, or clipped all over.

    Notes
    -----
    Here even a whole picture with fewer than `FEWEST_EDGES` places on edges counts as
    one that says nothing of them: a false alarm costs more trust than a note is worth.
    Our choice.
    """
    try:
        content = picture_content(sheet) if given is None else given
    except SpecError:
        return None
    if content.edge_count >= FEWEST_EDGES:
        return content
    return replace(
        content,
        master_edge_sigma_px=None,
        edge_sigma_px=None,
        overshoot_share=None,
        already_sharpened=False,
    )
