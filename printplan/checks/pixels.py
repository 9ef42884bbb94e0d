"""What do the files and the pixels behind a sheet tell?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from printplan.checks.finding import Finding, Level, Source, by_severity, warn, weight
from printplan.checks.master_pixels import master_pixel_findings, times_srgb
from printplan.checks.profile import profile_findings
from printplan.checks.rendering import rendering_findings
from printplan.checks.sharpness import sharpness_findings
from printplan.colour.transforms import colorants_xyz
from printplan.pixels.consequences import LEAST_AREA, bare_areas
from printplan.pixels.search import lightness_of
from printplan.pixels.sheet import varied
from printplan.spec import Extent, FileFormat

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from printplan.checks.finding import Decided
    from printplan.pixels.sheet import Overview, Sheet
    from printplan.sharpening.content import ContentFacts

    Mask = NDArray[np.bool_]


def check_pixels(
    sheet: Sheet,
    *,
    decided: Decided | None = None,
    content: ContentFacts | None = None,
) -> list[Finding]:
    """
    What the files and the pixels behind a sheet tell.

    Parameters
    ----------
    decided : Decided, optional
        What the profile was when the print was decided, to tell a change.
    content : ContentFacts, optional
        Of `picture_content`, if it is at hand; otherwise it is measured once for all
        variations of a print, which takes two seconds.

    Returns
    -------
    list of Finding
        Gravest first; empty if there is nothing to say.

    Raises
    ------
    MasterError
        If the master was closed, or its file changed since it was opened.
    ProfileError
        If the paper's profile has no way to its device or back.

    Notes
    -----
    Shares of the picture are taken from an overview, halo and noise from windows of
    the print's own pixels, and what a reduction would hide (traces of enlarging, empty
    codes, blocks) from samples of the master's.
    """
    return by_severity(
        [
            *profile_findings(sheet, decided),
            *rendering_findings(sheet),
            *picture_findings(sheet),
            *master_pixel_findings(sheet, content),
            *sharpness_findings(sheet, content),
        ]
    )


OVERVIEW_PX = 600
"""Longest edge of the overview that shares are taken from: our choice."""

# Shares of the picture from which something is noted, and warned of: our choice.
_NO_INK = 0.03
_WHITE_EDGE = (0.05, 0.25)

PAPER_WHITE_L = 97.0
"""Lightness that is not told from bare paper at an edge: our choice."""

_EDGE_SHARE = 1e-4
"""More than half a pixel is of any edge of a picture that large."""

LARGEST_TIFF_BYTES = 2**32
"""Offsets of TIFF 6.0 have 32 bits."""

# Area in the CIE 1931 diagram against that of sRGB, both adapted to D50, where 8 bits
# begin to be coarse and where they band: our choice.
_WIDE, _VERY_WIDE = 1.2, 1.6


def picture_findings(sheet: Sheet) -> Iterator[Finding]:
    """What an overview of the picture tells."""
    overview = _picture_alone(sheet)
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


def _about_whites(sheet: Sheet, overview: Overview) -> Iterator[Finding]:
    plan = sheet.plan
    holes = sum(
        it.share for it in bare_areas(overview.linear) if not it.is_light_source
    )
    if holes > 0:
        yield Finding(
            level=weight(holes, (LEAST_AREA, _NO_INK)),
            topic="bare highlights",
            problem=f"{holes:.1%} of the picture, inside it, gets no ink and shows as "
            f"holes of bare paper; a warning from {_NO_INK:.0%} on. Lamps and areas "
            f"below {LEAST_AREA:.1%} are not counted.",
            remedy="Hold the brightest tones of the master below L* 98 where they are "
            "to have a surface.",
            source=Source.OUR_CHOICE,
        )
    has_line = plan.spec.white.key_line_mm > 0
    if plan.picture == plan.sheet_px or has_line or _edge_is_covered(sheet):
        return
    lightness = lightness_of(overview.linear, colorants_xyz(sheet.master.profile))
    light = lightness >= PAPER_WHITE_L
    rim = np.concatenate([light[0], light[-1], light[:, 0], light[:, -1]])
    share = float(rim.mean())
    if share > _WHITE_EDGE[0]:
        yield Finding(
            level=weight(share, _WHITE_EDGE),
            topic="white edge",
            problem=f"{share:.0%} of the picture's edge is within "
            f"{100 - PAPER_WHITE_L:g} L* of the paper's white and will not be seen; "
            f"a warning from {_WHITE_EDGE[1]:.0%} on.",
            remedy="Add a key line round the picture, cover its edges with a mat, or "
            "tone them to L* 95.",
            source=Source.COMMON_PRACTICE,
        )


def _edge_is_covered(sheet: Sheet) -> bool:
    """Whether a mat lies over the picture's edges, or they go round a bar."""
    mount, size = sheet.plan.spec.mount, sheet.plan.picture_size
    opening = (mount.mat_opening_width_mm, mount.mat_opening_height_mm)
    covered = all(
        edge is not None and edge < length
        for edge, length in zip(opening, (size.width_mm, size.height_mm), strict=True)
    )
    spec = sheet.plan.spec
    goes_beyond = spec.wrap.is_wrapped or spec.sheet.bleed_mm > 0
    return covered or mount.wrap_mm > 0 or goes_beyond


def _about_bits(sheet: Sheet) -> Iterator[Finding]:
    facts, profile = sheet.plan.facts, sheet.master.source_profile
    if facts.bits > 8 or profile.is_table or profile.channels != 3:
        return
    times = times_srgb(profile)
    if times > _WIDE:
        yield Finding(
            level=Level.WARN if times > _VERY_WIDE else Level.NOTE,
            topic="8-bit wide gamut",
            problem=f"The master spreads 8 bits over {profile.name}, {times:.1f} times "
            f"the chromaticities of sRGB; {_VERY_WIDE:g} times is the limit.",
            remedy="Export it again from the original with 16 bits; changing the "
            "depth alone brings nothing back.",
            source=f"IEC 61966-2-1 for sRGB; the limit is {Source.OUR_CHOICE}",
        )


def _about_file(sheet: Sheet) -> Iterator[Finding]:
    if sheet.plan.delivery.file_format not in {FileFormat.TIFF_16, FileFormat.TIFF_8}:
        return
    width_px, height_px = sheet.size_px
    total = width_px * height_px * sheet.channels * sheet.dtype.itemsize
    if total > LARGEST_TIFF_BYTES:
        # At these the pixels fit, whichever way their edges are rounded.
        times = (LARGEST_TIFF_BYTES / total) ** 0.5 - _EDGE_SHARE
        fitting_ppi = sheet.plan.ppi * times
        yield warn(
            topic="file size",
            problem=f"The pixels take {total / 2**30:.1f} GiB; a TIFF file holds 4, so "
            "a BigTIFF is written, which not every print dialogue opens.",
            remedy="Choose "
            f"{int(fitting_ppi)} ppi or less, "
            "or try a small BigTIFF first.",
            source="TIFF 6.0: offsets of 32 bits",
        )
