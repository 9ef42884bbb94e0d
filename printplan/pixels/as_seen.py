"""How does a window of the print look at its true size, spread by paper and eye?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.conversion import linear_to_codes
from printplan.colour.proof import device_to_light
from printplan.colour.spaces import named_profile
from printplan.pixels.sheet import APPEARANCE_INTENT, Appearance
from printplan.sharpening.as_seen import (
    EyeFilter,
    eye_blur_um,
    light_on_screen,
    require_seen,
    require_showable,
)
from printplan.sharpening.eye import (
    FINEST_SEEN_CYCLES_DEG,
    PAPER_WHITE_CD_M2,
    cycles_per_degree,
)
from printplan.sharpening.halo import halo_arcmin
from printplan.sharpening.response import (
    NYQUIST_CYCLES_PX,
    SpreadCurve,
    cycles_per_mm,
)
from printplan.sizing.boxes import Box
from printplan.spec import NamedSpace
from printplan.units import (
    distance_words,
    length_words,
    mm_from_px,
    px_from_mm,
    whole_px,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan

    Light = NDArray[np.float32]
    Floats = NDArray[np.float64]


_WORKERS = 2


def print_light(
    sheet: Sheet, box: Box, appearance: Appearance, margin_px: int = 0
) -> Light:
    """
    Light of a box of the file, before it spreads.

    Parameters
    ----------
    box : Box
        In file pixels, inside the file.
    margin_px : int, optional
        Neighbours wanted on each side; beyond the file its outermost pixels repeat.

    Returns
    -------
    ndarray of float32, shape (3, box.height + 2 margin, box.width + 2 margin)
        Linear red, green and blue of sRGB, from the file's exact values.

    Raises
    ------
    SpecError
        If the box is empty or leaves the file.
    """
    whole = Box(0, 0, *sheet.size_px)
    grown = box.grown(margin_px, whole) if whole.common(box) == box else box
    to_light = device_to_light(sheet.output, APPEARANCE_INTENT[appearance])
    light = to_light.from_device(sheet.printer_values(sheet.window(grown)))
    missing = (
        (margin_px - (box.top - grown.top), margin_px - (grown.bottom - box.bottom)),
        (margin_px - (box.left - grown.left), margin_px - (grown.right - box.right)),
    )
    if not np.any(missing):
        return light
    return np.pad(light, ((0, 0), *missing), mode="edge")


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
    eye : EyeFilter, optional
        By default the eye's blur is left to the eye in front of the screen. Computed
        as well, it would blur twice.
    white_cd_m2 : float, optional
        Luminance of the paper's white; it sets the pupil.

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
    require_seen(spread, distance_mm, screen_px_per_mm, white_cd_m2)
    ppi = sheet.plan.ppi
    step = px_from_mm(1 / screen_px_per_mm, ppi)
    size_px = whole_px(box.width / step), whole_px(box.height / step)
    require_showable((box.width, box.height), size_px, step)
    eye_um = eye_blur_um(eye, distance_mm, white_cd_m2)
    shown = light_on_screen(
        lambda margin_px: print_light(sheet, box, appearance, margin_px),
        size_px,
        spread=spread,
        eye_um=eye_um,
        ppi=ppi,
        step_px=step,
    )
    codes = linear_to_codes(named_profile(NamedSpace.SRGB)).from_linear(shown)
    screen_px_arcmin = halo_arcmin(1 / screen_px_per_mm, distance_mm)
    seen = AsSeen(
        # Linear light of sRGB as its codes of 8 bits.
        pixels=((codes.astype(np.uint32) + 128) // 257).astype(np.uint8),
        width_mm=mm_from_px(box.width, ppi),
        height_mm=mm_from_px(box.height, ppi),
        screen_px_per_mm=screen_px_per_mm,
        print_px_per_screen_px=step,
        eye_um=eye_um,
        screen_px_arcmin=screen_px_arcmin,
        words="",
    )
    return replace(seen, words=_words(seen, spread, distance_mm, sheet.plan))


def _words(
    seen: AsSeen, spread: float | SpreadCurve, distance_mm: float, plan: PrintPlan
) -> str:
    """What the picture is, what was done to it and what it cannot show."""
    unit = plan.spec.lengths_in
    seen_from = distance_words(unit, distance_mm)
    step = seen.print_px_per_screen_px
    paper = (
        "by the paper's measured response"
        if isinstance(spread, SpreadCurve)
        else f"as a Gaussian of {spread:g} µm"
    )
    viewer = (
        f"Blurred as by an eye at {seen_from}: {seen.eye_um:.0f} µm on paper."
        if seen.eye_um
        else "The eye's own blur is left to yours: at true size, look from "
        f"{seen_from}; enlarged, from as many times that."
    )
    words = (
        f"{length_words(unit, seen.width_mm, seen.height_mm)} of the print, "
        f"{seen.screen_px_per_mm:.4g} screen pixels to its millimetre; each averages "
        f"{step:.2f} × {step:.2f} print pixels. Light is spread {paper}. {viewer}"
    )
    shown = seen.screen_px_per_mm / 2
    held = float(cycles_per_mm(NYQUIST_CYCLES_PX, plan.ppi))
    resolved = FINEST_SEEN_CYCLES_DEG / float(cycles_per_degree(1.0, distance_mm))
    if shown < min(held, resolved):
        words += (
            f" This screen ends at {shown:.1f} cycles/mm, a pixel being "
            f"{seen.screen_px_arcmin:.1f} arcmin; the print holds {held:.1f}, so its "
            "finest detail will be crisper than it is here."
        )
    return words
