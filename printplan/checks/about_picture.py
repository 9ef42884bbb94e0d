"""What does the paper make of this picture's colours, shadows, whites and edges?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from printplan.checks.about_master_pixels import chromaticity_area
from printplan.checks.finding import COMMON_PRACTICE, OUR_CHOICE, Finding, Level
from printplan.colour.reach import (
    FAR_OUT,
    OUT_OF_REACH,
    reach_distance,
    summarize_reach,
)
from printplan.colour.separation import DEAD, separation
from printplan.colour.transforms import colorants_xyz
from printplan.pixels.bare_areas import LEAST_AREA, bare_areas
from printplan.pixels.maps import picture_lab
from printplan.pixels.sheet import varied
from printplan.pixels.texture import lightness_of
from printplan.spec import BlackPointCompensation, Extent, FileFormat, Intent

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from printplan.pixels.sheet import Overview, Sheet

    Mask = NDArray[np.bool_]

OVERVIEW_PX = 600
"""Longest edge of the overview that shares are taken from: our choice."""

COLOURS = 6000
"""Pixels of it that are judged: a share of 5 % is then known within about 0.3 %."""

DARK_L, CLOSED_L = 25.0, 1.0
"""Lightness up to which tones are shadows, and up to which they are closed in the
master already: our choice."""

# Shares of the picture from which something is noted, and warned of: our choice.
_FAR_OUT = 0.1
_LOST = (0.02, 0.1)
_SHADOWS = (0.01, 0.05)
_NO_INK = 0.03
_WHITE_EDGE = (0.05, 0.25)

PAPER_WHITE_L = 97.0
"""Lightness that is not told from bare paper at an edge: our choice."""

LARGEST_TIFF_BYTES = 2**32
"""Offsets of TIFF 6.0 have 32 bits."""

# Area in the CIE 1931 diagram against that of sRGB, where 8 bits begin to be coarse
# (opRGB has 1.3 times, ROMM RGB 2.6 times) and where they band: our choice.
_WIDE, _VERY_WIDE = 1.2, 1.6
_SRGB_AREA = 0.1121


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
    yield from _about_colours(sheet, overview)
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


def _about_colours(sheet: Sheet, overview: Overview) -> Iterator[Finding]:
    lab = picture_lab(sheet, overview, COLOURS)
    reach = summarize_reach(reach_distance(lab, sheet.output))
    if reach.share_far_out > _FAR_OUT:
        yield Finding(
            level=Level.NOTE,
            about="reach",
            problem=f"{reach.share_far_out:.0%} of the picture lies more than "
            f"{FAR_OUT:g} dE00 beyond what {sheet.plan.paper.name} holds, "
            f"{reach.share_out:.0%} more than {OUT_OF_REACH:g}; said from "
            f"{_FAR_OUT:.0%} on.",
            remedy="Look at the reach map and compare the intents, or choose a paper "
            "that holds more.",
            source=OUR_CHOICE,
        )
    colour = sheet.plan.spec.colour
    left = separation(lab, sheet.output, colour.intent, colour.black_point_compensation)
    merged = left.tone < DEAD
    lightness = lab[:, 0]
    dark = lightness <= DARK_L
    closed = float((merged & dark & (lightness > CLOSED_L)).mean())
    lost = float((merged & ~dark).mean())
    off = (
        colour.intent is Intent.MEDIA_RELATIVE
        and colour.black_point_compensation is BlackPointCompensation.OFF
    )
    if closed > _SHADOWS[0]:
        yield Finding(
            level=_weight(closed, _SHADOWS),
            about="closed shadows",
            problem=f"{closed:.1%} of the picture are shadows up to L* {DARK_L:g} that "
            f"merge in the print; a warning from {_SHADOWS[1]:.0%} on.",
            remedy="Switch black point compensation on."
            if off
            else "Open the shadows in the master, compare the intents, or choose a "
            "paper with a deeper black.",
            source=OUR_CHOICE,
        )
    if lost > _LOST[0]:
        yield Finding(
            level=_weight(lost, _LOST),
            about="lost separation",
            problem=f"In {lost:.1%} of the picture tones above the shadows merge in "
            f"the print; a warning from {_LOST[1]:.0%} on.",
            remedy="Compare the intents; perceptual keeps more of strong colours. Or "
            "choose a paper that holds more.",
            source=OUR_CHOICE,
        )


def _about_whites(sheet: Sheet, overview: Overview) -> Iterator[Finding]:
    plan = sheet.plan
    holes = sum(
        it.share for it in bare_areas(overview.linear) if not it.is_light_source
    )
    if holes > 0:
        yield Finding(
            level=_weight(holes, (LEAST_AREA, _NO_INK)),
            about="bare highlights",
            problem=f"{holes:.1%} of the picture, inside it, gets no ink and shows as "
            f"holes of bare paper; a warning from {_NO_INK:.0%} on. Lamps and areas "
            f"below {LEAST_AREA:.1%} are not counted.",
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


def _about_bits(sheet: Sheet) -> Iterator[Finding]:
    facts, profile = sheet.plan.facts, sheet.master.source_profile
    if facts.bits > 8 or profile.is_table or profile.channels != 3:
        return
    times = chromaticity_area(profile) / _SRGB_AREA
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
            f"{int(sheet.plan.ppi * (LARGEST_TIFF_BYTES / total) ** 0.5)} ppi or less, "
            "or try a small BigTIFF first.",
            source="TIFF 6.0: offsets of 32 bits",
        )


def _weight(share: float, limits: tuple[float, float]) -> Level:
    return Level.WARN if share > limits[1] else Level.NOTE
