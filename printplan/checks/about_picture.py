"""What does the paper make of this picture's colours, shadows, whites and edges?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from printplan.checks.finding import (
    COMMON_PRACTICE,
    ICC,
    OUR_CHOICE,
    Finding,
    Level,
)
from printplan.colour.adaptation import is_compensated
from printplan.colour.intents import (
    SHADOW_L,
    SHADOW_STEPS,
    distinct_choices,
    own_intents,
    shadow_steps,
)
from printplan.colour.reach import (
    FAR_OUT,
    OUT_OF_REACH,
    reach_distance,
    summarize_reach,
)
from printplan.colour.separation import DEAD
from printplan.colour.spaces import named_profile
from printplan.colour.transforms import colorants_xyz
from printplan.pixels.consequences import consequences, plan_wedge
from printplan.pixels.sheet import varied
from printplan.pixels.texture import lightness_of
from printplan.spec import (
    BlackPointCompensation,
    Delivery,
    Extent,
    FileFormat,
    Intent,
    NamedSpace,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile
    from printplan.pixels.consequences import Consequences
    from printplan.pixels.sheet import Overview, Sheet

    Mask = NDArray[np.bool_]

OVERVIEW_PX = 600
"""Longest edge of the overview that shares are taken from: our choice."""

DARK_L, CLOSED_L = 25.0, 1.0
"""Lightness up to which tones are shadows, and up to which they are closed in the
master already: our choice."""

# Shares of the picture from which something is noted, and warned of: our choice.
_FAR_OUT = 0.1
_LOST = (0.02, 0.1)
_SHADOWS = (0.01, 0.05)
_NO_INK = (0.003, 0.03)
_WHITE_EDGE = (0.05, 0.25)
_MOVED = (0.03, 0.1)
_LOW_KEY = (0.15, 0.6)

LEAST_SHADOW_STEPS = 12
"""Shadow steps that a picture with much in the shadows wants apart: our choice. Matte
papers keep some 8 to 10 of 20, glossy ones nearly all."""

NO_INK_LIGHT = 0.99
"""Linear light, in all channels, from which the paper gets no ink to speak of."""

PAPER_WHITE_L = 97.0
"""Lightness that is not told from bare paper at an edge: our choice."""

_EDGE_SHARE = 1e-4
"""More than half a pixel is of any edge of a picture that large."""

LARGEST_TIFF_BYTES = 2**32
"""Offsets of TIFF 6.0 have 32 bits."""

# Area in the CIE 1931 diagram against that of sRGB, both adapted to D50, where 8 bits
# begin to be coarse and where they band: our choice.
_WIDE, _VERY_WIDE = 1.2, 1.6


def about_picture(sheet: Sheet) -> Iterator[Finding]:
    """
    What an overview of the picture tells.

    Parameters
    ----------
    sheet : Sheet

    Yields
    ------
    Finding
    """
    overview = _picture_alone(sheet)
    yield from _about_colours(sheet)
    yield from _about_whites(sheet, overview)
    yield from _about_bits(sheet)
    yield from _about_file(sheet)


def _picture_alone(sheet: Sheet) -> Overview:
    """An overview of the picture, however small it lies on its sheet."""
    spec = sheet.plan.spec
    alone = replace(
        spec,
        sheet=replace(spec.sheet, border_mm=0.0),
        delivery=replace(spec.delivery, extent=Extent.PICTURE),
    )
    return varied(sheet, alone).overview(OVERVIEW_PX)


def _about_colours(sheet: Sheet) -> Iterator[Finding]:
    found = consequences(sheet)
    if sheet.plan.delivery.colour is Delivery.NAMED_SPACE:
        yield from _about_space(sheet, found)
    elif found.reach.share_far_out > _FAR_OUT:
        yield Finding(
            level=Level.NOTE,
            about="reach",
            problem=f"{found.reach.share_far_out:.0%} of the picture lies more than "
            f"{FAR_OUT:g} dE00 beyond what {sheet.delivered_name} holds, "
            f"{found.reach.share_out:.0%} more than {OUT_OF_REACH:g}; said from "
            f"{_FAR_OUT:.0%} on.",
            remedy="Look at the reach map and compare the intents, or choose a paper "
            "that holds more.",
            source=OUR_CHOICE,
        )
    closed, lost = _merged(found)
    if closed > _SHADOWS[0]:
        yield Finding(
            level=_weight(closed, _SHADOWS),
            about="closed shadows",
            problem=f"{closed:.1%} of the picture are shadows up to L* {DARK_L:g} that "
            f"merge in the print; a warning from {_SHADOWS[1]:.0%} on.",
            remedy=_intent_remedy(sheet, 0, _SHADOWS[0])
            + "open the shadows in the master, or choose a paper with a deeper black.",
            source=OUR_CHOICE,
        )
    if lost > _LOST[0]:
        yield Finding(
            level=_weight(lost, _LOST),
            about="lost separation",
            problem=f"In {lost:.1%} of the picture tones above the shadows merge in "
            f"the print; a warning from {_LOST[1]:.0%} on.",
            remedy=_intent_remedy(sheet, 1, _LOST[0])
            + "bring the strongest colours of the master in, or choose a paper that "
            "holds more.",
            source=OUR_CHOICE,
        )
    yield from _about_shadow_steps(sheet, found)
    yield from _about_compensation(sheet)


def _merged(found: Consequences) -> tuple[float, float]:
    """Shares of the picture that merge: in the shadows, and above them."""
    merged = found.left.tone < DEAD
    lightness = found.lab[:, 0]
    dark = lightness <= DARK_L
    closed = merged & dark & (lightness > CLOSED_L)
    return float(closed.mean()), float((merged & ~dark).mean())


def _intent_remedy(sheet: Sheet, which: int, limit: float) -> str:
    """The intent that keeps such tones apart, if one does; ends before another way."""
    own = own_intents(sheet.delivered)
    # Those that no finding warns of.
    for choice in distinct_choices(sheet.delivered, sheet.master.profile):
        warned = choice.intent in {Intent.SATURATION, Intent.ICC_ABSOLUTE}
        if warned or choice.intent not in own:
            continue
        if _merged(consequences(sheet, choice))[which] <= limit:
            on = choice.black_point_compensation
            return (
                f'Set the intent to "{choice.intent}" with black point compensation '
                f"{on}, "
            )
    return "No intent keeps them apart: "


def _about_compensation(sheet: Sheet) -> Iterator[Finding]:
    """Compensation switched off with an intent that reads a table of its own."""
    colour = sheet.plan.spec.colour
    if (
        colour.intent in {Intent.MEDIA_RELATIVE, Intent.ICC_ABSOLUTE}
        or colour.black_point_compensation is BlackPointCompensation.ON
    ):
        return
    if is_compensated(sheet.delivered, colour.intent, BlackPointCompensation.OFF):
        yield Finding(
            level=Level.NOTE,
            about="compensation fixed",
            problem=f"Black point compensation is off, and the profile of "
            f"{sheet.delivered_name} is of version 4, whose {colour.intent} intent is "
            "compensated whatever is asked.",
            remedy="Switch it on, so that the plan says what is done.",
            source=f"{ICC}, 6.3.3",
        )
        return
    spec = sheet.plan.spec
    switched = replace(colour, black_point_compensation=BlackPointCompensation.ON)
    on = varied(sheet, replace(spec, colour=switched))
    without, with_it = (
        shadow_steps(plan_wedge(each, SHADOW_L)) for each in (sheet, on)
    )
    if with_it > without:
        yield Finding(
            level=Level.NOTE,
            about="compensation off",
            problem=f"Without black point compensation {without} of {SHADOW_STEPS} "
            f"shadow steps stay apart, with it {with_it}: the {colour.intent} table of "
            f"{sheet.delivered_name} does not bring black to the paper's own.",
            remedy="Switch it on unless the deepest tones are to be cut.",
            source="ISO 18619:2015",
        )


def _about_space(sheet: Sheet, found: Consequences) -> Iterator[Finding]:
    """What a file for an outside service cuts off the colours."""
    far = found.reach.share_far_out
    if far <= _MOVED[0]:
        return
    holds = [
        space
        for space in NamedSpace
        if _far_out(found, named_profile(space)) <= _MOVED[0]
    ]
    remedy = "Bring the strongest colours in while you look at the proof."
    if holds:
        remedy = f'Deliver in "{holds[0]}", if the service takes it. {remedy}'
    yield Finding(
        level=_weight(far, _MOVED),
        about="cut to the space",
        problem=f"{found.clipped_share:.0%} of the picture lies outside "
        f"{sheet.delivered_name} and is cut at its limits; {far:.0%} moves by more "
        f"than {FAR_OUT:g} dE00, and {_MOVED[1]:.0%} is the limit.",
        remedy=remedy,
        source=OUR_CHOICE,
    )


def _far_out(found: Consequences, space: Profile) -> float:
    return summarize_reach(reach_distance(found.lab, space)).share_far_out


def _about_shadow_steps(sheet: Sheet, found: Consequences) -> Iterator[Finding]:
    lightness = found.lab[:, 0]
    low = float(((lightness > CLOSED_L) & (lightness <= SHADOW_STEPS)).mean())
    if low <= _LOW_KEY[0]:
        return
    steps = shadow_steps(plan_wedge(sheet, SHADOW_L))
    if steps < LEAST_SHADOW_STEPS:
        yield Finding(
            level=_weight(low, _LOW_KEY),
            about="shadow steps",
            problem=f"{low:.0%} of the picture lies below L* {SHADOW_STEPS}, and of "
            f"{SHADOW_STEPS} steps there {steps} stay apart on "
            f"{sheet.delivered_name}; {LEAST_SHADOW_STEPS} is the limit, and a "
            f"warning comes from {_LOW_KEY[1]:.0%} of the picture on.",
            remedy="Choose a paper with a deeper black, or lighten the print and look "
            "at a trial sheet in the light that it will hang in.",
            source=OUR_CHOICE,
        )


def _about_whites(sheet: Sheet, overview: Overview) -> Iterator[Finding]:
    plan = sheet.plan
    bare = np.asarray((overview.linear >= NO_INK_LIGHT).all(axis=0))
    holes = float((bare & ~_reaches_edge(bare)).mean())
    if holes > _NO_INK[0]:
        yield Finding(
            level=_weight(holes, _NO_INK),
            about="bare highlights",
            problem=f"{holes:.1%} of the picture, inside it, gets no ink and shows as "
            f"holes of bare paper; a warning from {_NO_INK[1]:.0%} on.",
            remedy="Hold the brightest tones of the master below L* 98 where they are "
            "to have a surface.",
            source=OUR_CHOICE,
        )
    if plan.picture == plan.sheet_px or _edge_is_covered(sheet):
        return
    lightness = lightness_of(overview.linear, colorants_xyz(sheet.master.profile))
    light = lightness >= PAPER_WHITE_L
    rim = np.concatenate([light[0], light[-1], light[:, 0], light[:, -1]])
    share = float(rim.mean())
    if share > _WHITE_EDGE[0]:
        yield Finding(
            level=_weight(share, _WHITE_EDGE),
            about="white edge",
            problem=f"{share:.0%} of the picture's edge is within "
            f"{100 - PAPER_WHITE_L:g} L* of the paper's white and will not be seen; "
            f"a warning from {_WHITE_EDGE[1]:.0%} on.",
            remedy="Draw a key line round the picture in the master, cover its edges "
            "with a mat, or tone them to L* 95.",
            source=COMMON_PRACTICE,
        )


def _edge_is_covered(sheet: Sheet) -> bool:
    """Whether a mat lies over the picture's edges, or they go round a bar."""
    mount, size = sheet.plan.spec.mount, sheet.plan.picture_size
    opening = (mount.mat_opening_width_mm, mount.mat_opening_height_mm)
    covered = all(
        edge is not None and edge < length
        for edge, length in zip(opening, (size.width_mm, size.height_mm), strict=True)
    )
    return covered or mount.wrap_mm > 0


def _reaches_edge(mask: Mask) -> Mask:
    """Pixels from which a straight way in the mask leads to the picture's edge."""
    ways = []
    for axis in (0, 1):
        ways.append(np.logical_and.accumulate(mask, axis=axis))
        back = np.flip(np.logical_and.accumulate(np.flip(mask, axis), axis=axis), axis)
        ways.append(back)
    return np.asarray(np.logical_or.reduce(ways))


def _about_bits(sheet: Sheet) -> Iterator[Finding]:
    facts, profile = sheet.plan.facts, sheet.master.source_profile
    if facts.bits > 8 or profile.is_table or profile.channels != 3:
        return
    times = chromaticity_area(profile) / chromaticity_area(
        named_profile(NamedSpace.SRGB)
    )
    if times > _WIDE:
        yield Finding(
            level=Level.WARN if times > _VERY_WIDE else Level.NOTE,
            about="8-bit wide gamut",
            problem=f"The master spreads 8 bits over {profile.name}, {times:.1f} times "
            f"the chromaticities of sRGB; {_VERY_WIDE:g} times is the limit.",
            remedy="Export it again from the original with 16 bits; changing the "
            "depth alone brings nothing back.",
            source=f"IEC 61966-2-1 for sRGB; the limit is {OUR_CHOICE}",
        )


def chromaticity_area(profile: Profile) -> float:
    """
    Area of the triangle of a matrix profile's colorants in x and y, under D50.

    Parameters
    ----------
    profile : Profile

    Returns
    -------
    float
    """
    xyz = colorants_xyz(profile)
    x, y = (xyz / xyz.sum(axis=0))[:2]
    return float(abs((x[1] - x[0]) * (y[2] - y[0]) - (x[2] - x[0]) * (y[1] - y[0])) / 2)


def _about_file(sheet: Sheet) -> Iterator[Finding]:
    if sheet.plan.delivery.file_format not in {FileFormat.TIFF_16, FileFormat.TIFF_8}:
        return
    width_px, height_px = sheet.size_px
    total = width_px * height_px * sheet.channels * sheet.dtype.itemsize
    if total > LARGEST_TIFF_BYTES:
        yield Finding(
            level=Level.WARN,
            about="file size",
            problem=f"The pixels take {total / 2**30:.1f} GiB; a TIFF file holds 4, so "
            "a BigTIFF is written, which not every print dialogue opens.",
            remedy="Choose "
            f"{_fitting_ppi(sheet.plan.ppi, total)} ppi or less, "
            "or try a small BigTIFF first.",
            source="TIFF 6.0: offsets of 32 bits",
        )


def _fitting_ppi(ppi: float, total: int) -> int:
    """Whole ppi at which the pixels fit, whichever way their edges are rounded."""
    return int(ppi * (LARGEST_TIFF_BYTES / total) ** 0.5 - _EDGE_SHARE * ppi)


def _weight(share: float, limits: tuple[float, float]) -> Level:
    return Level.WARN if share > limits[1] else Level.NOTE
