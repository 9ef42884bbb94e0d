"""How does a window of the print look at its true size, spread by paper and eye?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache
from math import ceil, hypot
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft, sparse

from printplan.colour.proof import device_to_light
from printplan.colour.spaces import named_profile
from printplan.colour.transforms import tone_curves
from printplan.errors import SpecError
from printplan.pixels.sheet import APPEARANCE_INTENT, Appearance
from printplan.pixels.stages import encode, encoding_tables
from printplan.sharpening.eye import (
    FINEST_SEEN_CYCLES_DEG,
    PAPER_WHITE_CD_M2,
    cycles_per_degree,
    eye_psf_sigma_um,
)
from printplan.sharpening.halo import halo_arcmin
from printplan.sharpening.response import (
    NYQUIST_CYCLES_PX,
    SpreadCurve,
    box_mtf,
    cycles_per_mm,
    gaussian_mtf,
    spread_mtf,
)
from printplan.sizing.layout import Box
from printplan.spec import NamedSpace
from printplan.units import mm_from_px, px_from_mm, whole_px
from printplan.validation import require

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet

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


def spread_on_paper(light: Light, spread: float | SpreadCurve, ppi: float) -> Light:
    """
    Let light spread in the paper.

    Parameters
    ----------
    light : ndarray of float32, shape (..., rows, columns)
        Linear light of print pixels.
    spread : float or SpreadCurve
        Of printer and paper: standard deviation in µm, or a measured response, alike
        in all directions.
    ppi : float
        Print pixels per inch.

    Returns
    -------
    ndarray of float32, the same shape

    Notes
    -----
    Each pattern that pixels hold is multiplied by `spread_mtf`, by way of its Fourier
    transform. The array repeats beyond its edges: give it a margin and cut that off.
    """
    rows, columns = light.shape[-2:]
    down, across = (fft.next_fast_len(length, real=True) for length in (rows, columns))
    padded = np.pad(
        light,
        [(0, 0)] * (light.ndim - 2) + [(0, down - rows), (0, across - columns)],
        mode="edge",
    )
    waves = np.hypot(fft.fftfreq(down)[:, None], fft.rfftfreq(across)[None])
    response = spread_mtf(cycles_per_mm(waves, ppi), spread).astype(np.float32)
    spectrum = fft.rfft2(padded, workers=_WORKERS)
    spectrum *= response
    done = fft.irfft2(spectrum, s=(down, across), workers=_WORKERS)
    return np.ascontiguousarray(done[..., :rows, :columns], np.float32)


# The kernel is whole up to its core's end and fades to 0 over as many print pixels:
# only patterns within 0.06 cycles of the finest feel it.
_CORE_SIGMAS, _FADE_PX = 4.0, 16
_STEPS_PER_PX = 128


@dataclass(frozen=True, slots=True, eq=False)
class ScreenKernel:
    """
    What print pixels give to one screen pixel, along one axis.

    Attributes
    ----------
    weight : ndarray of float64, shape (distances,)
        Of a print pixel, by its distance from 0 in steps of 1/128 print pixel; not
        writable.
    reach_px : int
        Print pixels on each side that count.
    step_px : float
        Print pixels from one screen pixel to the next.
    """

    weight: Floats
    reach_px: int
    step_px: float

    @property
    def margin_px(self) -> int:
        """Neighbours needed: the outermost screen pixel may lie half outside."""
        return self.reach_px + ceil(self.step_px / 2) + 1

    def averaged(self, light: Light, size_px: tuple[int, int]) -> Light:
        """
        Light of screen pixels in the middle of the light of print pixels.

        Parameters
        ----------
        light : ndarray of float32, shape (channels, rows, columns)
            Of a window and `margin_px` neighbours on each side.
        size_px : tuple of int
            Screen pixels, width and height; no more than the window holds, give or
            take a half.

        Returns
        -------
        ndarray of float32, shape (channels, height, width)
        """
        columns, rows = size_px
        down = self._across(light.shape[1], rows)
        across = self._across(light.shape[2], columns)
        # Sparse products run on one thread: small dense ones wait for each other's
        # threads, ten times as long on a busy machine.
        return np.stack([(across @ (down @ plane).T).T for plane in light])

    def _across(self, length: int, count: int) -> sparse.csr_array[np.float32]:
        """From an axis of print pixels to one of screen pixels about its middle."""
        centres = length / 2 + (np.arange(count) - (count - 1) / 2) * self.step_px
        nearest = np.floor(centres).astype(np.intp)
        pixels = nearest[:, None] + np.arange(-self.reach_px, self.reach_px + 1)
        place = np.abs(pixels + 0.5 - centres[:, None]) * _STEPS_PER_PX
        at = np.minimum(place.astype(np.intp), self.weight.size - 2)
        low, high = self.weight[at], self.weight[at + 1]
        weights = low + np.minimum(place - at, 1.0) * (high - low)
        # Sum 1 for each screen pixel, so that an even tone stays.
        weights /= weights.sum(axis=1, keepdims=True)
        ends = np.arange(count + 1) * pixels.shape[1]
        return sparse.csr_array(
            (weights.astype(np.float32).ravel(), pixels.ravel(), ends),
            shape=(count, length),
        )


@lru_cache(maxsize=32)
def screen_kernel(sigma_px: float, step_px: float) -> ScreenKernel:
    """
    Kernel of a Gaussian blur and the average over a screen pixel.

    Parameters
    ----------
    sigma_px : float
        Standard deviation of the blur in print pixels; 0 for none.
    step_px : float
        Width of a screen pixel in print pixels, above 0.

    Notes
    -----
    The inverse transform of ``exp(−2 π² σ² f²) · sinc(f · step)`` up to half a cycle
    per print pixel: patterns that print pixels hold keep exactly that product, and
    their squares do not show when enlarged. Its far tails are faded out by a raised
    cosine.
    """
    core = _CORE_SIGMAS * sigma_px + step_px / 2
    reach = ceil(core) + _FADE_PX
    period = 4 * reach
    frequency = np.arange(period // 2 + 1) / period
    response = gaussian_mtf(frequency, sigma_px) * box_mtf(frequency, step_px)
    # The end of the range counts by half, as in any sum by trapezoids.
    response[-1] /= 2
    kernel = fft.irfft(response, period * _STEPS_PER_PX)
    weight = kernel[: reach * _STEPS_PER_PX + 1]
    distance = np.arange(weight.size) / _STEPS_PER_PX
    fade = np.clip((distance - core) / (reach - core), 0.0, 1.0)
    weight *= (1 + np.cos(np.pi * fade)) / 2
    weight.setflags(write=False)
    return ScreenKernel(weight, reach, step_px)


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
    eye_um = eye_psf_sigma_um(distance_mm, white_cd_m2) if at_distance else 0.0
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
