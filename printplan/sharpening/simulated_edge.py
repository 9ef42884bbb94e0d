"""What do the engine's own stages and the paper make of one edge?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import ceil, erfc, hypot
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.losses import light_of_lightness
from printplan.sharpening.halo import PIXEL_SIGMA_PX, Halo, halo_of
from printplan.sharpening.kernel import KERNEL_SIGMAS, Kernel, line_kernel, sigma_of
from printplan.sharpening.lightness import cie_lightness
from printplan.sharpening.response import (
    cycles_per_mm,
    spread_mtf,
    spread_sigma_um,
)
from printplan.sharpening.unsharp import (
    add_mask,
    blurred,
    sharpening_input,
    surroundings_px,
    without_ringing,
)
from printplan.sizing.resampling import main_lobe, range_near, resample_plane
from printplan.units import px_from_mm
from printplan.validation import require

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from printplan.sharpening.chain import Chain
    from printplan.sharpening.kernel import Blur
    from printplan.sharpening.unsharp import SharpeningInput
    from printplan.spec import SharpenSpec

    Floats = NDArray[np.float64]
    PaperTones = tuple[float, ...]
    """Luminance that the paper gives a neutral, by even steps of the root of its
    luminance in the file, from 0 to 1."""

_EDGES = 64
"""Edges that are laid beside each other, each at another place between the pixels."""

_PLACES_PX = 16
"""Places of a profile per pixel of the coarser side."""

# Additive steps by the golden section never fall into step with the pixels.
_GOLDEN = (5**0.5 - 1) / 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SimulatedEdge:
    """
    An edge in the file and in the print.

    Attributes
    ----------
    in_file, in_print : Halo
        On the side of the edge that has more of it, width in print pixels. The mean
        along an edge that meets the pixels everywhere.
    position_px : ndarray of float64, shape (positions,)
        Across the edge, from its dark side to its light one; 0 in its middle.
    before, after : ndarray of float64, shape (positions,)
        L* in the file without and with sharpening, 0 on the dark side to 1 on the
        light side.
    """

    in_file: Halo
    in_print: Halo
    position_px: Floats
    before: Floats
    after: Floats

    def response_added(self, cycles_per_px: Floats) -> Floats:
        """
        Contrast that sharpening adds to the edge, pattern by pattern.

        Parameters
        ----------
        cycles_per_px : ndarray of float64, shape (frequencies,)

        Returns
        -------
        ndarray of float64, shape (frequencies,)
            To be added to the response without sharpening.
        """
        slope = np.diff(self.after - self.before)
        middle = (self.position_px[1:] + self.position_px[:-1]) / 2
        waves = np.cos(2 * np.pi * cycles_per_px[:, np.newaxis] * middle)
        # einsum wakes no threads; see `kernel_mtf`.
        return np.asarray(np.einsum("fp,p->f", waves, slope))


@lru_cache(maxsize=256)
def simulated_edge(
    chain: Chain,
    sharpen: SharpenSpec,
    blur: Blur,
    tones_l: tuple[float, float],
    paper_tones: PaperTones | None = None,
) -> SimulatedEdge:
    """
    Send an edge through resampling, sharpening and paper.

    Parameters
    ----------
    sharpen : SharpenSpec
        Gain, halo limit and grain floor.
    tones_l : tuple of float
        L* of its dark and its light side, 0 to 100.
    paper_tones : tuple of float, optional
        What the paper makes of neutrals, for a file in the printer's own colour; by
        default the file's own light is what spreads.

    Raises
    ------
    SpecError
        If the light side is not lighter than the dark one.

    Notes
    -----
    A Gaussian edge of the master's softness, even in linear light as a lens leaves it,
    is resampled, sharpened and held to the halo limit by the very functions that make
    the file, at 64 places between the pixels. Light spreads in the paper; overshoot is
    of L*, against the even tones beside the edge. So the dark side of a strong edge
    has what resampling alone leaves there, which in light is little and in L* much.
    """
    dark_l, light_l = tones_l
    require("Dark side of the edge", dark_l, 0, 100, "L*")
    require("Light side of the edge", light_l, dark_l + 0.1, 100.1, "L*")
    row = _edge_row(
        max(chain.master_edge_sigma_px / chain.enlargement, PIXEL_SIGMA_PX),
        chain.enlargement,
        tones_l,
        # What is even beside an edge: what sharpening and light reach, and its width.
        ceil(_room_px(chain, blur)),
    )
    reach_px = surroundings_px(blur, chain.enlargement)
    after = np.empty_like(row.start.linear)
    add_mask(row.start, blur, sharpen, reach_px, out=after, around=row.around)
    light = after[0, 0].astype(np.float64)
    before_l = row.profile(row.start.lightness[0].astype(np.float64))
    after_l = row.profile(cie_lightness(light))
    if paper_tones is not None:
        steps = np.linspace(0, 1, len(paper_tones))
        light = np.interp(np.sqrt(light), steps, paper_tones)
        tones = np.interp(np.sqrt(light_of_l(tones_l)), steps, paper_tones)
    else:
        tones = light_of_l(tones_l)
    spread = _spread_out(row.profile(light), row.position_px, chain)
    low, high = cie_lightness(tones)
    return SimulatedEdge(
        in_file=_worse_side(row.position_px, _share(after_l, dark_l, light_l)),
        in_print=_worse_side(
            row.position_px, _share(cie_lightness(np.maximum(spread, 0.0)), low, high)
        ),
        position_px=row.position_px,
        before=_share(before_l, dark_l, light_l),
        after=_share(after_l, dark_l, light_l),
    )


def light_of_l(lightness_l: ArrayLike) -> Floats:
    """Y of L*."""
    return light_of_lightness(np.asarray(lightness_l, np.float64) / 100)


def _share(lightness_l: Floats, dark_l: float, light_l: float) -> Floats:
    return (lightness_l - dark_l) / (light_l - dark_l)


def _worse_side(position_px: Floats, share: Floats) -> Halo:
    """Halo of the side that has more of it."""
    middle = position_px.size // 2
    outwards = position_px[middle:]
    sides = (share[middle:], 1 - share[middle::-1])
    return max(
        (halo_of(outwards, side) for side in sides), key=lambda halo: halo.overshoot
    )


def _room_px(chain: Chain, blur: Blur) -> float:
    coarser = max(chain.enlargement, 1.0)
    edge_sigma_px = hypot(chain.master_edge_sigma_px, coarser)
    support_px = (
        line_kernel(blur).size // 2
        if isinstance(blur, Kernel)
        else KERNEL_SIGMAS * blur
    )
    mask = max(support_px, surroundings_px(blur, chain.enlargement))
    spread_px = px_from_mm(spread_sigma_um(chain.spread) / 1000, chain.ppi)
    return float(4 + 3 * coarser + 5 * edge_sigma_px + 2 * mask + 4 * spread_px)


def _spread_out(light: Floats, position_px: Floats, chain: Chain) -> Floats:
    """Light that has spread in the paper."""
    # There and back again, so that the ends meet.
    whole = np.concatenate([light, light[::-1]])
    step_px = float(position_px[1] - position_px[0])
    waves = np.asarray(np.fft.rfftfreq(whole.size, step_px), np.float64)
    left = spread_mtf(cycles_per_mm(waves, chain.ppi), chain.spread)
    spread = np.fft.irfft(np.fft.rfft(whole) * left, whole.size)
    return np.asarray(spread[: light.size])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Row:
    """
    A row of print pixels with many edges, rising and falling in turn.

    Attributes
    ----------
    start : SharpeningInput
        What its sharpening starts from.
    around : ndarray of float32
        Lightness that halos are held to.
    position_px : ndarray of float64, shape (positions,)
        Of a profile.
    place : ndarray of int, shape (pixels,)
        Index of each pixel's place in the profile; beyond its ends for those that
        are not near an edge.
    """

    start: SharpeningInput
    around: NDArray[np.float32]
    position_px: Floats
    place: NDArray[np.intp]

    def profile(self, values: Floats) -> Floats:
        """Mean of all edges at each place of the profile."""
        positions = self.position_px.size
        near = (self.place >= 0) & (self.place < positions)
        total, count = (
            np.bincount(self.place[near], weights, positions)
            for weights in (values[near], None)
        )
        known = count > 0
        return np.interp(
            self.position_px, self.position_px[known], total[known] / count[known]
        )


_erfc = np.frompyfunc(erfc, 1, 1)
"""One by one: SciPy's takes 0.3 s to load, and edges are a few thousand numbers."""


@lru_cache(maxsize=16)
def _edge_row(
    edge_sigma_master_px: float,
    enlargement: float,
    tones_l: tuple[float, float],
    room_px: int,
) -> _Row:
    """Edges resampled from master to print pixels, at places all over the pixels."""
    segment = ceil(2 * room_px / enlargement)
    index = np.arange(_EDGES)
    # Over a few pixels of the coarser side, so that all places of both are met.
    moved = 4 * max(1.0, 1 / enlargement) * ((index * _GOLDEN) % 1 - 0.5)
    middle = segment * (index + 0.5) + moved
    place = np.arange(segment * _EDGES) + 0.5
    number = (place // segment).astype(np.intp)
    side = np.where(number % 2 == 0, 1.0, -1.0)
    dark, light = light_of_l(tones_l)
    away = side * (place - middle[number]) / edge_sigma_master_px
    rise = 0.5 * _erfc(-away / np.sqrt(2)).astype(np.float64)
    plane = (dark + (light - dark) * rise).astype(np.float32)[np.newaxis]
    pixels = int(segment * _EDGES * enlargement)
    box = (0.0, 0.0, pixels / enlargement, 1.0)
    resampled = plane if enlargement == 1 else resample_plane(plane, box, (pixels, 1))
    start = sharpening_input(np.ascontiguousarray(resampled[np.newaxis]), np.ones(1))
    near = None
    if enlargement != 1:
        one = (np.zeros(1, np.intp), np.zeros(1, np.intp))
        columns = main_lobe(0.0, 1 / enlargement, range(pixels), plane.shape[1])
        near = range_near(plane, one, columns)
    centre = (np.arange(pixels) + 0.5) / enlargement
    number = np.minimum((centre // segment).astype(np.intp), _EDGES - 1)
    side = np.where(number % 2 == 0, 1.0, -1.0)
    step_px = max(enlargement, 1.0) / _PLACES_PX
    half = ceil((room_px - 2 * max(enlargement, 1.0) - 2) / step_px)
    found = np.rint(side * (centre - middle[number]) * enlargement / step_px)
    return _Row(
        start=start,
        around=without_ringing(start, near),
        position_px=np.asarray(np.arange(-half, half + 1) * step_px, np.float64),
        place=found.astype(np.intp) + half,
    )


def noise_shares(
    chain: Chain, sharpen: SharpenSpec, blur: Blur, noise_l: float
) -> tuple[float, float]:
    """
    Share of noise that sharpening with a halo limit adds, of what it would without.

    Parameters
    ----------
    sharpen : SharpenSpec
        With a gain above 0.
    noise_l : float
        Standard deviation in L*, per print pixel; white in the master.

    Returns
    -------
    tuple of float
        What goes along with the noise, and its power, as `past_grain_floor` has them.

    Notes
    -----
    Drawn noise goes through the stage itself, since what the limit cuts has no closed
    form. The draw is always the same; its scatter is a hundredth.
    """
    drawn = _drawn_noise(chain.enlargement, max(_NOISE_PX, 8 * ceil(sigma_of(blur))))
    lightness_l = (50 + max(noise_l, 1e-3) * drawn).clip(2, 98)
    light = light_of_l(lightness_l).astype(np.float32)
    start = sharpening_input(light[np.newaxis], np.ones(1))
    soft = blurred(start, blur)
    reach_px = surroundings_px(blur, chain.enlargement)
    out = np.empty_like(start.linear)
    add_mask(start, blur, sharpen, reach_px, out=out, soft=soft)
    added = cie_lightness(out[0].astype(np.float64)) - start.lightness
    free = sharpen.gain * (start.lightness - soft).astype(np.float64)
    power = float((free**2).mean())
    return float((added * free).mean()) / power, float((added**2).mean()) / power


_NOISE_PX = 192


@lru_cache(maxsize=4)
def _drawn_noise(enlargement: float, edge_px: int) -> Floats:
    """Noise that was white before resampling, with a standard deviation of 1."""
    source = ceil(edge_px / enlargement)
    drawn = np.random.default_rng(1).normal(0, 1, (source, source)).astype(np.float32)
    extent = edge_px / enlargement
    noise = resample_plane(drawn, (0.0, 0.0, extent, extent), (edge_px, edge_px))
    return np.asarray(noise / noise.std(), np.float64)
