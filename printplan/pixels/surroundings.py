"""What lies in the file beside the picture: sides of a canvas, ink on the white?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.pixels.white_ink import drawn_on_white, light_of_grey
from printplan.pixels.wrapping import SIDES, edge_strip, light_of_colour, wrapping_of
from printplan.sizing.boxes import Box
from printplan.spec import WrapSide

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile
    from printplan.pixels.white_ink import Drawn
    from printplan.pixels.wrapping import Wrapping
    from printplan.plan import PrintPlan

    Coded = Callable[[NDArray[np.float32]], NDArray[np.uint16]]
    """Numbers of the file, shape (rows, columns, channels), of linear light."""

    Reduced = Callable[[tuple[int, int]], NDArray[np.float32]]
    """The picture's light at a width and height, lightened but not sharpened."""

MEAN_PX = 1000
"""Longest edge of the reduced picture that a mean is taken of. Our choice."""


class Surroundings:
    """
    What is made round a picture on its sheet.

    Parameters
    ----------
    profile : Profile
        The master's: colours of sides and ink are light in it, as the picture is.
    coded : callable
        Makes the file's numbers of linear light.
    reduced : callable
        Asked for the picture whose edge's mean a side shows.
    """

    def __init__(
        self, plan: PrintPlan, profile: Profile, coded: Coded, reduced: Reduced
    ) -> None:
        self._plan = plan
        self._profile = profile
        self._coded = coded
        self._reduced = reduced
        self._wrapping = wrapping_of(plan)
        self._drawn = drawn_on_white(plan)
        self._colours: dict[str, NDArray[np.uint16]] = {}

    @property
    def is_wrapped(self) -> bool:
        """Whether the block is more than the picture."""
        return self._wrapping is not None

    def block(
        self, box: Box, finished: Callable[[Box], NDArray[np.uint16]]
    ) -> NDArray[np.uint16]:
        """
        A part of the picture with its sides.

        Parameters
        ----------
        box : Box
            In the block's own pixels.
        finished : callable
            Gives a box of the picture, in its pixels, as the file's numbers.

        Returns
        -------
        ndarray of uint16, shape (box.height, box.width, channels)
        """
        if self._wrapping is None:
            return finished(box)
        source = self._wrapping.source(box)
        if source is None:
            return self._made(self._wrapping, box, None, Box(0, 0, 0, 0))
        return self._made(self._wrapping, box, finished(source), source)

    def put_sides(self, placed: NDArray[np.uint16], band: Box) -> None:
        """
        Put the sides of a wrap to the left and right of rows of the picture.

        Parameters
        ----------
        placed : ndarray of uint16, shape (band.height, file width, channels)
            Rows of the file, with the picture.
        band : Box
            Where they lie in the picture.
        """
        if self._wrapping is None:
            return
        block, picture = self._plan.block, self._plan.picture
        down = picture.top - block.top + band.top
        box = Box(0, down, block.width, band.height)
        picture, block = self._plan.in_file(picture), self._plan.in_file(block)
        own = placed[:, picture.left : picture.right]
        made = self._made(self._wrapping, box, own, band)
        placed[:, block.left : block.right] = made

    def reduced(
        self,
        picture: NDArray[np.uint16],
        boxes: tuple[Box, Box, Box],
        scale: float,
    ) -> NDArray[np.uint16]:
        """
        The whole block of an overview.

        Parameters
        ----------
        picture : ndarray of uint16, shape (rows, columns, channels)
            The whole picture, reduced.
        boxes : tuple of Box
            Block, front and picture in the overview.
        scale : float
            Overview pixels per file pixel.
        """
        wrapping = wrapping_of(self._plan, boxes, scale)
        if wrapping is None:
            return picture
        block, _, own = boxes
        box, whole = Box(0, 0, block.width, block.height), Box(0, 0, *_size(own))
        return self._made(wrapping, box, picture, whole)

    def draw(self, placed: NDArray[np.uint16], box: Box) -> None:
        """Draw what is printed on the white into a box of the file."""
        self._draw(self._drawn, placed, box)

    def draw_reduced(self, placed: NDArray[np.uint16], scale: float) -> None:
        """Draw it into an overview of the whole file."""
        height, width = placed.shape[:2]
        drawn = drawn_on_white(self._plan, scale)
        self._draw(drawn, placed, Box(0, 0, width, height))

    def _made(
        self,
        wrapping: Wrapping,
        box: Box,
        picture: NDArray[np.uint16] | None,
        source: Box,
    ) -> NDArray[np.uint16]:
        colours = self._side_colours()
        if picture is None:
            channels = len(next(iter(colours.values())))
            picture = np.empty((0, 0, channels), np.uint16)
        return wrapping.made(box, picture, source, colours)

    def _side_colours(self) -> dict[str, NDArray[np.uint16]]:
        """File numbers of the sides that show one colour."""
        wrap = self._plan.spec.wrap
        for side in SIDES:
            kind = getattr(wrap, side)
            if side in self._colours:
                continue
            if kind is WrapSide.COLOUR:
                light = light_of_colour(wrap.colour, self._profile)
            elif kind is WrapSide.EDGE_MEAN:
                light = self._mean_light(edge_strip(self._plan, side))
            else:
                continue
            self._colours[side] = self._code(light)
        return self._colours

    def _code(self, light: NDArray[np.float64]) -> NDArray[np.uint16]:
        """File number of one light."""
        return self._coded(light.astype(np.float32)[:, None, None]).reshape(-1)

    def _mean_light(self, box: Box) -> NDArray[np.float64]:
        """
        Mean of the picture's light in a box.

        Taken of the reduced picture: the same for every window, and quick enough for a
        slider. Sharpening leaves means alone but for what it clips.
        """
        picture = self._plan.picture
        scale = min(MEAN_PX / max(picture.width, picture.height), 1.0)
        width, height = (
            max(round(it * scale), 1) for it in (picture.width, picture.height)
        )
        light = self._reduced((width, height))
        left, right = _inside(box.left * scale, box.right * scale, width)
        top, bottom = _inside(box.top * scale, box.bottom * scale, height)
        edge = light[:, top:bottom, left:right]
        return np.asarray(edge.mean(axis=(1, 2), dtype=np.float64))

    def _draw(
        self, drawn: tuple[Drawn, ...], placed: NDArray[np.uint16], box: Box
    ) -> None:
        for one in drawn:
            part = one.box.common(box)
            if part is None:
                continue
            at = part.moved(-box.left, -box.top)
            own = part.moved(-one.box.left, -one.box.top)
            target = placed[at.top : at.bottom, at.left : at.right]
            light = light_of_grey(one.lightness_l, self._profile.channels)
            code = self._code(light).astype(np.float32)
            if one.coverage is None:
                target[...] = code
                continue
            share = one.coverage[own.top : own.bottom, own.left : own.right, None]
            paper = target.astype(np.float32)
            target[...] = np.rint(paper + (code - paper) * (share / np.float32(255)))


def _size(box: Box) -> tuple[int, int]:
    return box.width, box.height


def _inside(start: float, stop: float, length: int) -> tuple[int, int]:
    """Whole pixels of a stretch, one at least."""
    first = min(round(start), length - 1)
    return first, max(min(round(stop), length), first + 1)
