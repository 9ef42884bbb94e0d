"""What is done to pixels between master and file: stages, composed in one way."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING, Protocol, TypeVar, cast

import numpy as np

from printplan.errors import SpecError
from printplan.loops.dithering import round_by
from printplan.loops.memory import empty
from printplan.sharpening.kernel import blur_of
from printplan.sharpening.lightness import FULL_SCALE, lightened
from printplan.sharpening.unsharp import (
    Part,
    add_mask,
    blurred,
    sharpening_input,
    support_px,
    surroundings_px,
    without_ringing,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Sequence

    from numpy.typing import NDArray

    from printplan.pixels.resampled_light import ResampledLight
    from printplan.plan import PrintPlan
    from printplan.sharpening.kernel import Blur
    from printplan.sizing.boxes import Box
    from printplan.spec import SharpenSpec

    Planes = NDArray[np.float32]
    """Linear light of a region, shape (channels, rows, columns)."""

    Before = Callable[[Box], Planes]
    """Gives what the stages before have made of a region: not to be changed."""

_Kept = TypeVar("_Kept")


class Stage(Protocol):
    """
    One step from the master's light to the file's, for any region of the picture.

    What it makes of a pixel depends on its place in the picture and on pixels up to
    `reach_px` away, and on nothing else: not on where the region is cut. Equal
    stages do the same, since what is kept is found by them: write it frozen.
    """

    @property
    def reach_px(self) -> int:
        """How far round a region it asks for light, in print pixels."""

    def __call__(self, box: Box, before: Before) -> Planes:
        """
        Light of a region after this stage: a new array, C-contiguous.

        Parameters
        ----------
        box : Box
            The region in the picture.
        before : callable
            Gives any region of the picture before this stage.
        """


def staged(stages: Sequence[Stage], box: Box, source: Before) -> Planes:
    """
    Light of a region after all stages: the one way of every window and every file.

    Parameters
    ----------
    stages : sequence of Stage
        In their order.
    box : Box
        The region in the picture.
    source : callable
        Gives a region as it was resampled.

    Returns
    -------
    ndarray of float32, shape (channels, box.height, box.width)
    """
    if not stages:
        return source(box)
    *earlier, last = stages
    return last(box, lambda wider: staged(earlier, wider, source))


class RegionCache:
    """
    Keeps what stages have made of the latest small regions.

    What is kept is bit for bit what would be computed; arrays are not to be changed.
    """

    def __init__(self) -> None:
        self._kept: dict[str, OrderedDict[Hashable, object]] = {}
        self._lock = Lock()

    def forget(self) -> None:
        """Let go of all that is kept, before a whole file is worked through."""
        with self._lock:
            self._kept.clear()

    @staticmethod
    def keeps(box: Box) -> bool:
        """Whether a region is small enough to be kept."""
        return box.width * box.height <= _LARGEST_KEPT_PX

    def get(
        self, kind: str, box: Box, wish: Hashable, compute: Callable[[], _Kept]
    ) -> _Kept:
        """
        What is kept of a region, or what is computed now.

        Parameters
        ----------
        kind : str
            What it is; the latest of each kind are kept.
        wish : hashable
            All that it depends on beside the region.
        compute : callable
            Called without waiting for others, who may compute the same.
        """
        if not self.keeps(box):
            return compute()
        key = (box, wish)
        with self._lock:
            kept = self._kept.setdefault(kind, OrderedDict())
            if key in kept:
                kept.move_to_end(key)
                return cast("_Kept", kept[key])
        made = compute()
        with self._lock:
            kept = self._kept.setdefault(kind, OrderedDict())
            kept[key] = made
            if len(kept) > _MOST_KEPT:
                kept.popitem(last=False)
        return made


_MOST_KEPT = 8
"""Regions: a window is worked on in four, and two windows may be looked at."""

_LARGEST_KEPT_PX = 300_000
"""Of a region; all that are kept are then less than 90 MiB."""

_REACH_STEP_PX = 8
"""Sharpening asks for light so many times this far round a region, so that a radius
that changes a little finds the same light. Our choice."""


@dataclass(frozen=True, slots=True)
class Lighten:
    """Raise the middle tones; see `printplan.sharpening.lightness.lighten`."""

    lighten_l: float
    weights: tuple[float, ...]
    reach_px: int = 0

    def __call__(self, box: Box, before: Before) -> Planes:
        """Light with raised middle tones."""
        light = before(box)
        out = empty(light.shape)
        lightened(light, np.array(self.weights), self.lighten_l, out=out)
        return out


@dataclass(frozen=True, slots=True)
class Clip:
    """Take off what resampling left outside the limits of the space."""

    reach_px: int = 0

    def __call__(self, box: Box, before: Before) -> Planes:
        """Light from 0 to 1."""
        return before(box).clip(0.0, 1.0)


@dataclass(frozen=True, slots=True)
class Sharpen:
    """
    Unsharp masking of lightness; see `printplan.sharpening.unsharp`.

    Attributes
    ----------
    blur : float or Kernel
        Radius of the Gaussian in print pixels, or a kernel.
    lighten_l : float
        As the tones before it were lightened.
    after : tuple of Stage
        The stages before it: what is kept depends on all of them.
    light : ResampledLight
        Tells the master's own tones beside an edge.
    cache : RegionCache
        Keeps what does not change while gain, limit and floor are tried.
    """

    sharpen: SharpenSpec
    blur: Blur
    enlargement: float
    lighten_l: float
    weights: tuple[float, ...]
    after: tuple[Stage, ...]
    light: ResampledLight = field(compare=False)
    cache: RegionCache = field(compare=False)

    @property
    def reach_px(self) -> int:
        """How far the blur looks, or the surroundings of a halo lie, and a little."""
        needed_px = support_px(self.sharpen, self.blur, self.enlargement)
        return -(-needed_px // _REACH_STEP_PX) * _REACH_STEP_PX

    def __call__(self, box: Box, before: Before) -> Planes:
        """Sharpened light."""
        weights = np.array(self.weights)
        wider = box.grown(self.reach_px, self.light.picture)
        inner = box.moved(-wider.left, -wider.top)
        part = Part(inner.left, inner.top, inner.width, inner.height)
        start = self.cache.get(
            "sharpening input",
            wider,
            self.after,
            lambda: sharpening_input(before(wider), weights),
        )
        soft = around = None
        if self.cache.keeps(box):  # else it is made on the way
            soft = self.cache.get(
                "blur",
                box,
                (self.after, self.blur, wider),
                lambda: blurred(start, self.blur, part),
            )
        if self.sharpen.halo_limit_share is not None:
            around = self.cache.get(
                "surroundings",
                wider,
                self.after,
                lambda: without_ringing(
                    start, self.light.tones_near(wider, weights), self.lighten_l
                ),
            )
        out = empty((len(start.linear), box.height, box.width))
        reach_px = surroundings_px(self.blur, self.enlargement)
        return add_mask(
            start,
            self.blur,
            self.sharpen,
            reach_px,
            out=out,
            part=part,
            soft=soft,
            around=around,
        )


def stages_of(
    plan: PrintPlan,
    light: ResampledLight,
    weights: NDArray[np.float64],
    cache: RegionCache,
) -> tuple[Stage, ...]:
    """
    The stages of a plan, from resampled light to the light that the file encodes.

    Parameters
    ----------
    light : ResampledLight
        The master at print size.
    weights : ndarray of float64, shape (channels,)
        Luminance of each channel.
    cache : RegionCache
        Of that light.
    """
    stages: list[Stage] = []
    lighten_l = plan.spec.colour.lighten_l
    each = tuple(weights.tolist())
    if lighten_l != 0:
        stages.append(Lighten(lighten_l, each))
    if plan.spec.sharpen.gain > 0:
        stages.append(
            Sharpen(
                plan.spec.sharpen,
                blur_of(plan.spec.sharpen, plan.radius_px),
                plan.enlargement,
                lighten_l,
                each,
                tuple(stages),
                light,
                cache,
            )
        )
    else:
        stages.append(Clip())
    return tuple(stages)


def require_inside(box: Box, whole: Box, what: str) -> None:
    """
    Refuse a window that holds no pixel, or leaves the file.

    Raises
    ------
    SpecError
    """
    if box.width < 1 or box.height < 1 or whole.common(box) != box:
        raise SpecError(
            f"The window {box} is not inside {what} of {whole.width} × "
            f"{whole.height} px.",
            remedy="Ask for a box of at least one pixel inside the file.",
        )


def require_shown(longest_px: int) -> None:
    """
    Refuse an overview that is too small.

    Raises
    ------
    SpecError
    """
    if longest_px < 16:
        raise SpecError(
            f"An overview of {longest_px} px shows nothing.",
            remedy="Ask for 16 px or more, for example 1200.",
        )


def paper_white(space: str) -> int:
    """
    Device code that puts no ink on paper.

    Parameters
    ----------
    space : str
        ICC signature of the device space.

    Returns
    -------
    int
        0 for CMYK, which counts ink, else 65535.
    """
    return 0 if space == "CMYK" else FULL_SCALE


DITHER_TILE_PX = 256


def dithered_to_8_bit(
    values: NDArray[np.uint16], left: int, top: int, seed: int
) -> NDArray[np.uint8]:
    """
    Round 16-bit codes to 8 bits, up or down at random by what is left over.

    Parameters
    ----------
    values : ndarray of uint16, shape (rows, columns, channels)
    left, top : int
        Where the array lies in the file; the noise belongs to the place, so that
        any cut of the file is rounded alike.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, channels)
        Codes that 8 bits hold exactly, paper white among them, stay exact.

    Notes
    -----
    Rounding by a uniform random threshold keeps the mean of every area, so a slow
    gradient shows no steps (Roberts 1962, IRE Trans. Inf. Theory 8(2)).
    """
    rows, columns, channels = values.shape
    noise = np.empty(values.shape, np.float32)
    tile = DITHER_TILE_PX
    for tile_row in range(top // tile, (top + rows - 1) // tile + 1):
        for tile_column in range(left // tile, (left + columns - 1) // tile + 1):
            key = np.array([seed, tile_row << 32 | tile_column], np.uint64)
            generator = np.random.Generator(np.random.Philox(key=key))
            drawn = generator.random((tile, tile, channels), np.float32)
            row_from, column_from = tile_row * tile - top, tile_column * tile - left
            into = noise[
                max(row_from, 0) : row_from + tile,
                max(column_from, 0) : column_from + tile,
            ]
            row_skip, column_skip = max(-row_from, 0), max(-column_from, 0)
            into[...] = drawn[
                row_skip : row_skip + into.shape[0],
                column_skip : column_skip + into.shape[1],
            ]
    out = np.empty(values.shape, np.uint8)
    flat = np.ascontiguousarray(values).reshape(-1)
    round_by(flat, noise.reshape(-1), out.reshape(-1))
    return out
