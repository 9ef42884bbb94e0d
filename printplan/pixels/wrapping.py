"""What does each pixel show of a picture that goes round a bar?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.spaces import decode, xyz_d50_from_linear
from printplan.colour.transforms import colorants_xyz
from printplan.sizing.boxes import Box
from printplan.spec import NamedSpace, WrapSide
from printplan.units import px_from_mm, whole_px

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile
    from printplan.plan import PrintPlan

SIDES = ("left", "top", "right", "bottom")

_COLOURED = {WrapSide.COLOUR, WrapSide.EDGE_MEAN}


@dataclass(frozen=True, slots=True)
class _Way:
    """
    Where the pixels along one edge of the block come from in the picture.

    Attributes
    ----------
    first, second : ndarray of intp, shape (pixels,)
        Pixels of the picture that lie before and after the place.
    share : ndarray of float32, shape (pixels,)
        Of the second.
    side : ndarray of int8, shape (pixels,)
        Which side shows a colour there: -1 the one before, 1 the one after, 0 none.
    """

    first: NDArray[np.intp]
    second: NDArray[np.intp]
    share: NDArray[np.float32]
    side: NDArray[np.int8]


class Wrapping:
    """
    The block of a wrapped picture: its front, and the sides made of it.

    Each pixel of the block is one of the picture, or lies between two of them along
    each edge, or shows a colour. Where it comes from depends on its place alone, so
    any cut of the block is the same.

    Parameters
    ----------
    block, front, picture : Box
        On one grid of pixels; the picture is the front with what continues it.
    sides : mapping of str to WrapSide
        By ``left``, ``top``, ``right`` and ``bottom``.
    edge_px : float
        How much of the front's edge is stretched.
    """

    def __init__(
        self,
        block: Box,
        front: Box,
        picture: Box,
        sides: Mapping[str, WrapSide],
        edge_px: float,
    ) -> None:
        self._across = _way(
            (block.left, block.right),
            (front.left, front.right),
            (picture.left, picture.right),
            (sides["left"], sides["right"]),
            edge_px,
        )
        self._down = _way(
            (block.top, block.bottom),
            (front.top, front.bottom),
            (picture.top, picture.bottom),
            (sides["top"], sides["bottom"]),
            edge_px,
        )

    def source(self, box: Box) -> Box | None:
        """
        What of the picture a part of the block is made of.

        Parameters
        ----------
        box : Box
            In the block's own pixels.

        Returns
        -------
        Box or None
            In the picture's pixels; None where all is colour.
        """
        across, down = self._stretches(box)
        if across is None or down is None:
            return None
        (left, right), (top, bottom) = across, down
        return Box(left, top, right - left, bottom - top)

    def made(
        self,
        box: Box,
        picture: NDArray[np.uint16],
        source: Box,
        colours: Mapping[str, NDArray[np.uint16]],
    ) -> NDArray[np.uint16]:
        """
        A part of the block.

        Parameters
        ----------
        box : Box
            In the block's own pixels.
        picture : ndarray of uint16, shape (source.height, source.width, channels)
            That part of the picture, finished.
        source : Box
            From `source`; an empty one where all is colour.
        colours : mapping of str to ndarray of uint16, shape (channels,)
            Of the sides in one colour.

        Returns
        -------
        ndarray of uint16, shape (box.height, box.width, channels)
        """
        rows = slice(box.top, box.bottom)
        columns = slice(box.left, box.right)
        channels = picture.shape[2]
        if picture.size:
            made = _taken(picture, self._down, rows, source.top, axis=0)
            made = _taken(made, self._across, columns, source.left, axis=1)
        else:
            made = np.zeros((box.height, box.width, channels), np.uint16)
        if colours and np.may_share_memory(made, picture):
            made = made.copy()
        for name, value in (("top", -1), ("bottom", 1)):
            if name in colours:
                made[self._down.side[rows] == value] = colours[name]
        for name, value in (("left", -1), ("right", 1)):
            if name in colours:
                made[:, self._across.side[columns] == value] = colours[name]
        return made

    def _stretches(
        self, box: Box
    ) -> tuple[tuple[int, int] | None, tuple[int, int] | None]:
        return (
            _stretch(self._across, slice(box.left, box.right)),
            _stretch(self._down, slice(box.top, box.bottom)),
        )


def wrapping_of(
    plan: PrintPlan, boxes: tuple[Box, Box, Box] | None = None, scale: float = 1.0
) -> Wrapping | None:
    """
    How a plan's picture goes round its bar.

    Parameters
    ----------
    boxes : tuple of Box, optional
        Block, front and picture on a grid that is coarser by ``scale``; by default
        the plan's own.

    Returns
    -------
    Wrapping or None
        None without a bar.
    """
    wrap = plan.spec.wrap
    if not wrap.is_wrapped:
        return None
    block, front, picture = boxes or (plan.block, plan.front, plan.picture)
    edge_px = px_from_mm(wrap.edge_mm, plan.ppi * scale)
    return Wrapping(
        block, front, picture, {it: getattr(wrap, it) for it in SIDES}, edge_px
    )


def edge_strip(plan: PrintPlan, side: str) -> Box:
    """
    The edge of the front that gives the mean colour of a side.

    Parameters
    ----------
    side : str
        One of `SIDES`.

    Returns
    -------
    Box
        In the picture's pixels.
    """
    front = plan.front.moved(-plan.picture.left, -plan.picture.top)
    edge_px = max(whole_px(px_from_mm(plan.spec.wrap.edge_mm, plan.ppi)), 1)
    across, down = min(edge_px, front.width), min(edge_px, front.height)
    return {
        "left": Box(front.left, front.top, across, front.height),
        "right": Box(front.right - across, front.top, across, front.height),
        "top": Box(front.left, front.top, front.width, down),
        "bottom": Box(front.left, front.bottom - down, front.width, down),
    }[side]


def light_of_colour(colour: str, profile: Profile) -> NDArray[np.float64]:
    """
    A colour of sRGB in the linear light of a master's profile.

    Parameters
    ----------
    colour : str
        ``#rrggbb``.
    profile : Profile
        A matrix or grey profile.

    Returns
    -------
    ndarray of float64, shape (channels,)
        0 to 1; in a space that lacks the colour, the nearest by channels.
    """
    codes = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    xyz = xyz_d50_from_linear(NamedSpace.SRGB) @ decode(NamedSpace.SRGB, codes)
    columns = colorants_xyz(profile)
    is_grey = columns.shape[1] == 1
    light = xyz[1:2] / columns[1] if is_grey else np.linalg.solve(columns, xyz)
    return np.asarray(np.clip(light, 0.0, 1.0))


def _stretch(way: _Way, part: slice) -> tuple[int, int] | None:
    """First pixel of the picture that is needed, and the one after the last."""
    shown = way.side[part] == 0
    if not shown.any():
        return None
    low = int(way.first[part][shown].min())
    return low, int(way.second[part][shown].max()) + 1


def _taken(
    pixels: NDArray[np.uint16], way: _Way, part: slice, start: int, *, axis: int
) -> NDArray[np.uint16]:
    """Pixels from their places along one axis."""
    most = pixels.shape[axis] - 1
    # Coloured places need no pixel; they may point beyond what was computed.
    first = np.clip(way.first[part] - start, 0, most)
    low, count = int(first[0]), len(first)
    share = way.share[part]
    if not share.any() and np.array_equal(first, np.arange(low, low + count)):
        whole = (slice(None),) * axis
        return pixels[(*whole, slice(low, low + count))]  # the front, as it is
    one = np.take(pixels, first, axis=axis)
    between = np.flatnonzero(share)
    if not len(between):
        return one
    second = np.clip(way.second[part][between] - start, 0, most)
    other = np.take(pixels, second, axis=axis).astype(np.float32)
    shape = (-1, 1, 1) if axis == 0 else (1, -1, 1)
    weight = share[between].reshape(shape)
    at = (between,) if axis == 0 else (slice(None), between)
    near = one[at].astype(np.float32)
    one[at] = np.rint(near + weight * (other - near)).astype(np.uint16)
    return one


def _way(
    block: tuple[int, int],
    front: tuple[int, int],
    picture: tuple[int, int],
    sides: tuple[WrapSide, WrapSide],
    edge_px: float,
) -> _Way:
    """Where the pixels of one edge come from."""
    place = np.arange(block[0], block[1])
    length = front[1] - front[0]
    at = place.astype(np.float64)
    side = np.zeros(len(place), np.int8)
    for sign, kind, outside, deep_px in (
        (-1, sides[0], front[0] - 1 - place, front[0] - block[0]),
        (1, sides[1], place - front[1], block[1] - front[1]),
    ):
        here = outside >= 0
        if kind in _COLOURED:
            side[here] = sign
        if kind is WrapSide.CONTINUED:
            continue
        # How deep inside the fold it is taken from.
        depth = outside.astype(np.float64)
        if kind is WrapSide.STRETCHED and deep_px > 0:
            taken_px = min(edge_px, length)
            depth = np.clip((depth + 0.5) * taken_px / deep_px - 0.5, 0, length - 1)
        else:
            # Beyond the far edge of a narrow front the mirror turns again.
            depth = depth % (2 * length)
            depth = np.minimum(depth, 2 * length - 1 - depth)
        inside = front[0] + depth if sign < 0 else front[1] - 1 - depth
        at[here] = inside[here]
    at = np.clip(at - picture[0], 0, picture[1] - picture[0] - 1)
    first = np.floor(at).astype(np.intp)
    share = (at - first).astype(np.float32)
    second = np.where(share > 0, first + 1, first)
    return _Way(first, second, share, side)
