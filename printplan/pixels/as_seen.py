"""How does a window of the print look at its true size, spread by paper and eye?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache
from math import ceil, hypot
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.spaces import named_profile
from printplan.colour.transforms import tone_curves
from printplan.errors import SpecError
from printplan.pixels.print_light import print_light, spread_on_paper
from printplan.pixels.screen_kernel import screen_kernel
from printplan.pixels.sheet import Appearance
from printplan.pixels.stages import encode, encoding_tables
from printplan.sharpness.eye import (
    FINEST_SEEN_CYCLES_DEG,
    PAPER_WHITE_CD_M2,
    cycles_per_degree,
)
from printplan.sharpness.eye_optics import eye_spread_um
from printplan.sharpness.halo import halo_arcmin
from printplan.sharpness.ranges import require
from printplan.sharpness.response import (
    NYQUIST_CYCLES_PX,
    SpreadCurve,
    cycles_per_mm,
)
from printplan.spec import NamedSpace
from printplan.units import mm_from_px, px_from_mm, whole_px

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet
    from printplan.size.layout import Box

    Light = NDArray[np.float32]

LOWEST_PX_PER_MM, HIGHEST_PX_PER_MM = 1.0, 2000.0
"""Screen pixels for a millimetre of print: from a tenth of a dense screen to the
finest print pixels enlarged some twenty times. Our choice."""

LEAST_SCREEN_PX = 8
"""Edge of a picture that shows anything, at least: our choice."""

MOST_PX = 20_000_000
"""Pixels of print or screen in one picture, at most: our choice."""

# How far a measured response is reckoned with: light that travels farther in paper
# lifts whole areas. Our choice.
_TAIL_MM = 1.0


class EyeFilter(StrEnum):
    """Who blurs the picture as the eye's optics do."""

    NONE = "none"
    """The viewer's own eye, from where the screen takes the angle that the print will
    take: at true size, from the print's own distance."""

    AT_DISTANCE = "at-distance"
    """The computation, as an eye at the print's distance would: for a picture that is
    enlarged, or looked at from nearer by than the print will be."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AsSeen:
    """
    A window of the print at its true size, and what was done to it.

    Attributes
    ----------
    pixels : ndarray of uint8, shape (rows, columns, 3)
        sRGB.
    width_mm, height_mm : float
        Paper that the window covers.
    screen_px_per_mm : float
        Screen pixels for a millimetre of that paper.
    print_px_per_screen_px : float
        Print pixels that one screen pixel averages along an edge.
    eye_um : float
        Standard deviation of the eye's blur that is in the picture; 0 for none.
    screen_px_arcmin : float
        Angle of one screen pixel, seen as large as the print from its distance.
    words : str
        All this in sentences.
    """

    pixels: NDArray[np.uint8]
    width_mm: float
    height_mm: float
    screen_px_per_mm: float
    print_px_per_screen_px: float
    eye_um: float
    screen_px_arcmin: float
    words: str


def as_seen(  # noqa: PLR0913 - print, paper, viewer and screen
    sheet: Sheet,
    box: Box,
    *,
    spread: float | SpreadCurve,
    distance_mm: float,
    screen_px_per_mm: float,
    appearance: Appearance = Appearance.PAPER_ALONE,
    eye: EyeFilter = EyeFilter.NONE,
    white_cd_m2: float = PAPER_WHITE_CD_M2,
) -> AsSeen:
    """
    A window of the finished file as it will be seen on paper.

    Parameters
    ----------
    sheet : Sheet
    box : Box
        In file pixels, inside the file.
    spread : float or SpreadCurve
        Of printer and paper: standard deviation in µm, 0 to 500, or a measured
        response.
    distance_mm : float
        Eye to print, 50 to 50,000.
    screen_px_per_mm : float
        Screen pixels for a millimetre of print, 1 to 2000. For true size, the
        screen's own device pixels per millimetre; twice as many enlarge twice.
    appearance : Appearance, optional
    eye : EyeFilter, optional
        By default the eye's blur is left to the eye in front of the screen. Computed
        as well, it would blur twice.
    white_cd_m2 : float, optional
        Luminance of the paper's white; it sets the pupil.

    Returns
    -------
    AsSeen

    Raises
    ------
    SpecError
        If a number is outside its range, or the window is outside the file or too
        small or too large to be shown.

    Notes
    -----
    The file's own values, with neighbours, become the light that the paper's profile
    says; light is spread by the paper, by the eye if asked for, and averaged over the
    square of each screen pixel; the sum becomes sRGB codes. All that happens to
    linear light, and each pattern loses the product of the responses: Gaussian or
    measured curve, Gaussian of the eye, and sinc of the screen's pixel. The average
    has no overshoot of its own, as a sharper kernel would have: a halo in this
    picture is one of the print.

    Print pixels are read as the samples they are, up to half a cycle per pixel, so
    that their squares do not show when enlarged; how a printer draws them belongs to
    the spread. The window is laid centred on whole screen pixels; its borders may
    move by half of one. Beyond the file, its outermost pixels repeat.

    A screen shows less than the print: `AsSeen.words` says how much. Its white has
    to be as bright as the lit paper (`colour.viewing.match_display`).
    """
    if not isinstance(spread, SpreadCurve):
        require("Paper spread", spread, 0, 500, "µm")
    require("Viewing distance", distance_mm, 50, 50_000, "mm")
    require("Paper white", white_cd_m2, 1, 10_000, "cd/m²")
    require(
        "Screen density",
        screen_px_per_mm,
        LOWEST_PX_PER_MM,
        HIGHEST_PX_PER_MM,
        "px per mm of print",
    )
    ppi = sheet.plan.ppi
    step = px_from_mm(1 / screen_px_per_mm, ppi)
    size_px = whole_px(box.width / step), whole_px(box.height / step)
    _require_showable(box, size_px, step)
    at_distance = eye is EyeFilter.AT_DISTANCE
    eye_um = eye_spread_um(distance_mm, white_cd_m2) if at_distance else 0.0
    if isinstance(spread, SpreadCurve):
        tail = ceil(px_from_mm(_TAIL_MM, ppi))
        kernel = screen_kernel(px_from_mm(eye_um / 1000, ppi), step)
        light = print_light(sheet, box, appearance, kernel.margin_px + tail)
        light = spread_on_paper(light, spread, ppi)
    else:
        sigma_px = px_from_mm(hypot(spread, eye_um) / 1000, ppi)
        kernel = screen_kernel(sigma_px, step)
        light = print_light(sheet, box, appearance, kernel.margin_px)
    shown = kernel.averaged(light, size_px)
    screen_px_arcmin = halo_arcmin(1 / screen_px_per_mm, distance_mm)
    seen = AsSeen(
        pixels=_screen_codes(shown),
        width_mm=mm_from_px(box.width, ppi),
        height_mm=mm_from_px(box.height, ppi),
        screen_px_per_mm=screen_px_per_mm,
        print_px_per_screen_px=step,
        eye_um=eye_um,
        screen_px_arcmin=screen_px_arcmin,
        words="",
    )
    return replace(seen, words=_words(seen, spread, distance_mm, ppi))


def _require_showable(box: Box, size_px: tuple[int, int], step: float) -> None:
    """Refuse windows that give no picture, or one that memory does not hold."""
    if min(size_px) < LEAST_SCREEN_PX:
        needed = ceil(LEAST_SCREEN_PX * step - 1e-9)
        raise SpecError(
            f"The window of {box.width} × {box.height} print pixels gives "
            f"{size_px[0]} × {size_px[1]} px of the screen; {LEAST_SCREEN_PX} × "
            f"{LEAST_SCREEN_PX} is the least.",
            remedy=f"Open a window of {needed} × {needed} print pixels or more.",
        )
    most = max(box.width * box.height, size_px[0] * size_px[1])
    if most > MOST_PX:
        raise SpecError(
            f"The window has {box.width * box.height / 1e6:.0f} million print pixels "
            f"and gives {size_px[0] * size_px[1] / 1e6:.0f} million of the screen; "
            f"{MOST_PX / 1e6:.0f} million is the limit of both.",
            remedy="Open a window as large as the screen, for example 900 × 600 of "
            f"its pixels: {round(900 * step)} × {round(600 * step)} print pixels.",
        )


def _screen_codes(light: Light) -> NDArray[np.uint8]:
    """Linear light of sRGB as its codes of 8 bits."""
    codes = encode(light, _screen_tables())
    return ((codes.astype(np.uint32) + 128) // 257).astype(np.uint8)


@lru_cache(maxsize=1)
def _screen_tables() -> NDArray[np.uint16]:
    return encoding_tables(tone_curves(named_profile(NamedSpace.SRGB)))


def _words(
    seen: AsSeen, spread: float | SpreadCurve, distance_mm: float, ppi: float
) -> str:
    """What the picture is, what was done to it and what it cannot show."""
    step = seen.print_px_per_screen_px
    paper = (
        "by the paper's measured response"
        if isinstance(spread, SpreadCurve)
        else f"as a Gaussian of {spread:g} µm"
    )
    viewer = (
        f"Blurred as by an eye at {distance_mm:g} mm: {seen.eye_um:.0f} µm on paper."
        if seen.eye_um
        else "The eye's own blur is left to yours: at true size, look from "
        f"{distance_mm:g} mm; enlarged, from as many times that."
    )
    words = (
        f"{seen.width_mm:.1f} × {seen.height_mm:.1f} mm of the print, "
        f"{seen.screen_px_per_mm:.4g} screen pixels to its millimetre; each averages "
        f"{step:.2f} × {step:.2f} print pixels. Light is spread {paper}. {viewer}"
    )
    shown = seen.screen_px_per_mm / 2
    held = float(cycles_per_mm(NYQUIST_CYCLES_PX, ppi))
    resolved = FINEST_SEEN_CYCLES_DEG / float(cycles_per_degree(1.0, distance_mm))
    if shown < min(held, resolved):
        words += (
            f" This screen ends at {shown:.1f} cycles/mm, a pixel being "
            f"{seen.screen_px_arcmin:.1f} arcmin; the print holds {held:.1f}, so its "
            "finest detail will be crisper than it is here."
        )
    return words
