"""How does a part of a print look at its true size, spread by paper and eye?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from math import ceil, hypot
from typing import TYPE_CHECKING, Any

import numpy as np
import scipy

from printplan.colour.linear_light import encoded_image, linear_planes
from printplan.errors import SpecError
from printplan.processor_share import threads_at_most
from printplan.sharpening.eye import PAPER_WHITE_CD_M2, eye_psf_sigma_um
from printplan.sharpening.response import (
    SpreadCurve,
    box_mtf,
    cycles_per_mm,
    gaussian_mtf,
    spread_mtf,
)
from printplan.spec import NamedSpace, member
from printplan.units import px_from_mm, whole_px
from printplan.validation import require

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Light = NDArray[np.float32]
    Floats = NDArray[np.float64]


_MOST_THREADS = 2

LOWEST_PX_PER_MM, HIGHEST_PX_PER_MM = 1.0, 2000.0
"""Screen pixels for a millimetre of print: from a tenth of a dense screen to the
finest print pixels enlarged some twenty times. Our choice."""

LEAST_SCREEN_PX = 8
"""Edge of a picture that shows anything, at least: our choice."""

MOST_PX = 20_000_000
"""Pixels of print or screen in one picture, at most: our choice."""

# How far a measured response is followed: light that travels farther in paper
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


def seen_on_paper(  # noqa: PLR0913 - picture, paper, viewer and screen
    image: NDArray[Any],
    *,
    ppi: float,
    psf_sigma_um: float | SpreadCurve,
    distance_mm: float = 400.0,
    screen_px_per_mm: float | None = None,
    eye: EyeFilter | str = EyeFilter.NONE,
    space: NamedSpace | str = NamedSpace.SRGB,
) -> NDArray[Any]:
    """
    A picture as it will be seen on paper, for a screen.

    Parameters
    ----------
    image : ndarray, shape (rows, columns) or (rows, columns, 3)
        Print pixels: uint8, uint16, or float from 0 to 1. Not changed.
    ppi : float
        Print pixels per inch, 30 to 2400.
    psf_sigma_um : float or SpreadCurve
        Spread of ink and light in the paper: standard deviation in µm, 0 to 500, or a
        measured response.
    distance_mm : float, optional
        Eye to print, 50 to 50,000.
    screen_px_per_mm : float, optional
        Screen pixels for a millimetre of print, 1 to 2000; by default one for each
        print pixel.
    eye : EyeFilter or str, optional
        ``"at-distance"`` blurs as the eye's optics do from there; by default that is
        left to the eye in front of the screen.
    space : NamedSpace or str, optional
        That the picture's numbers are of.

    Returns
    -------
    ndarray
        Screen pixels, of the image's number type and space.

    Raises
    ------
    SpecError
        If it is no such array, a number is outside its range, or the picture is too
        small or too large to be shown.

    Notes
    -----
    Light, not codes, is multiplied by the Gaussian response exp(-2 π² σ² f²) of paper
    and eye and by the sinc of a screen pixel; see `light_on_screen`.

    Examples
    --------
    >>> lines = np.tile(np.array([[60, 200]], np.uint8), (64, 32))
    >>> seen = seen_on_paper(lines, ppi=300, psf_sigma_um=60)
    >>> bool(np.ptp(seen[20:40, 20:40]) < np.ptp(lines) / 3)  # fine lines lose contrast
    True
    """
    density = px_from_mm(1, ppi) if screen_px_per_mm is None else screen_px_per_mm
    require("Resolution", ppi, 30, 2400, "ppi")
    require_seen(psf_sigma_um, distance_mm, density, PAPER_WHITE_CD_M2)
    light, _ = linear_planes(image, space)
    rows, columns = light.shape[1:]
    step = px_from_mm(1 / density, ppi)
    size_px = whole_px(columns / step), whole_px(rows / step)
    require_showable((columns, rows), size_px, step)
    shown = light_on_screen(
        lambda margin_px: np.pad(
            light, ((0, 0), *[(margin_px, margin_px)] * 2), mode="edge"
        ),
        size_px,
        spread=psf_sigma_um,
        eye_um=eye_blur_um(
            member(EyeFilter, eye, "eye"), distance_mm, PAPER_WHITE_CD_M2
        ),
        ppi=ppi,
        step_px=step,
    )
    return encoded_image(shown, image, space)


def require_seen(
    spread: float | SpreadCurve,
    distance_mm: float,
    screen_px_per_mm: float,
    white_cd_m2: float,
) -> None:
    """
    Refuse numbers that no paper, viewer or screen has.

    Raises
    ------
    SpecError
        If one is outside its range.
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


def eye_blur_um(eye: EyeFilter, distance_mm: float, white_cd_m2: float) -> float:
    """Standard deviation of the eye's blur that is computed; 0 for none."""
    if eye is EyeFilter.AT_DISTANCE:
        return eye_psf_sigma_um(distance_mm, white_cd_m2)
    return 0.0


def light_on_screen(  # noqa: PLR0913 - print, paper, eye and screen
    light_with: Callable[[int], Light],
    size_px: tuple[int, int],
    *,
    spread: float | SpreadCurve,
    eye_um: float,
    ppi: float,
    step_px: float,
) -> Light:
    """
    Light of screen pixels, from that of print pixels that paper and eye spread.

    Parameters
    ----------
    light_with : callable
        Gives the linear light of the window with so many neighbours on each side.
    size_px : tuple of int
        Screen pixels, width and height.
    spread : float or SpreadCurve
        Of printer and paper.
    eye_um : float
        Standard deviation of the eye's blur on paper.
    step_px : float
        Print pixels from one screen pixel to the next.

    Returns
    -------
    ndarray of float32, shape (channels, height, width)
    """
    if isinstance(spread, SpreadCurve):
        kernel = screen_kernel(px_from_mm(eye_um / 1000, ppi), step_px)
        tail = ceil(px_from_mm(_TAIL_MM, ppi))
        light = spread_on_paper(light_with(kernel.margin_px + tail), spread, ppi)
    else:
        sigma_px = px_from_mm(hypot(spread, eye_um) / 1000, ppi)
        kernel = screen_kernel(sigma_px, step_px)
        light = light_with(kernel.margin_px)
    return kernel.averaged(light, size_px)


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
    down, across = (
        scipy.fft.next_fast_len(length, real=True) for length in (rows, columns)
    )
    padded = np.pad(
        light,
        [(0, 0)] * (light.ndim - 2) + [(0, down - rows), (0, across - columns)],
        mode="edge",
    )
    waves = np.hypot(scipy.fft.fftfreq(down)[:, None], scipy.fft.rfftfreq(across)[None])
    response = spread_mtf(cycles_per_mm(waves, ppi), spread).astype(np.float32)
    spectrum = scipy.fft.rfft2(padded, workers=threads_at_most(_MOST_THREADS))
    spectrum *= response
    done = scipy.fft.irfft2(
        spectrum, s=(down, across), workers=threads_at_most(_MOST_THREADS)
    )
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

    def _across(self, length: int, count: int) -> scipy.sparse.csr_array[np.float32]:
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
        return scipy.sparse.csr_array(
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
    kernel = scipy.fft.irfft(response, period * _STEPS_PER_PX)
    weight = kernel[: reach * _STEPS_PER_PX + 1]
    distance = np.arange(weight.size) / _STEPS_PER_PX
    fade = np.clip((distance - core) / (reach - core), 0.0, 1.0)
    weight *= (1 + np.cos(np.pi * fade)) / 2
    weight.setflags(write=False)
    return ScreenKernel(weight, reach, step_px)


def require_showable(
    window_px: tuple[int, int], size_px: tuple[int, int], step: float
) -> None:
    """Refuse windows that give no picture, or one that memory does not hold."""
    if min(size_px) < LEAST_SCREEN_PX:
        needed = ceil(LEAST_SCREEN_PX * step - 1e-9)
        raise SpecError(
            f"The window of {window_px[0]} × {window_px[1]} print pixels gives "
            f"{size_px[0]} × {size_px[1]} px of the screen; {LEAST_SCREEN_PX} × "
            f"{LEAST_SCREEN_PX} is the least.",
            remedy=f"Open a window of {needed} × {needed} print pixels or more.",
        )
    in_print, on_screen = (across * down for across, down in (window_px, size_px))
    if max(in_print, on_screen) > MOST_PX:
        raise SpecError(
            f"The window has {in_print / 1e6:.0f} million print pixels "
            f"and gives {on_screen / 1e6:.0f} million of the screen; "
            f"{MOST_PX / 1e6:.0f} million is the limit of both.",
            remedy="Open a window as large as the screen, for example 900 × 600 of "
            f"its pixels: {round(900 * step)} × {round(600 * step)} print pixels.",
        )
