"""What is on a trial sheet, pixel by pixel?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.spaces import decode
from printplan.pixels.stages import (
    dithered_to_8_bit,
    paper_white,
    require_inside,
    require_shown,
)
from printplan.sizing.boxes import Box
from printplan.spec import NamedSpace
from printplan.units import LengthUnit

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from printplan.pixels.sheet import Appearance, Sheet
    from printplan.pixels.trials.marks import Mark
    from printplan.pixels.trials.steps import TrialKey, TrialPatch
    from printplan.sizing.layout import SheetLayout
    from printplan.sizing.trial_layout import TrialLayout
    from printplan.spec import DeliverySpec

    Floats = NDArray[np.float64]
    Codes = NDArray[np.uint16]
    Values = NDArray[np.uint8] | NDArray[np.uint16]


_BAND_PIXELS = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialPlan:
    """
    What a trial's file is to be.

    Attributes
    ----------
    ppi : float
        The print's.
    page_mm : tuple of float
        Width and height of the paper that the file covers.
    delivery : DeliverySpec
        The print's.
    paper : SheetLayout
        The whole sheet in millimetres.
    lengths_in : LengthUnit
        The print's.
    """

    ppi: float
    page_mm: tuple[float, float]
    delivery: DeliverySpec
    paper: SheetLayout
    layout: TrialLayout
    lengths_in: LengthUnit = LengthUnit.MM

    @property
    def most_file_bytes(self) -> int | None:
        """None: a trial goes to no service that sets a limit."""
        return None


@dataclass(frozen=True, slots=True, eq=False)
class _Patch:
    """A window of a variant, and where it lies on the page."""

    box: Box
    variant: Sheet
    window: Box

    def values(self, part: Box) -> Values:
        """Values of the variant's own file, of a part given in the patch's pixels."""
        return self.variant.window(part.moved(self.window.left, self.window.top))


class TrialSheet:
    """
    A labelled page of variations, not yet computed.

    It is rendered as a `Sheet` is. Make it with `make_trial`.

    Parameters
    ----------
    sheet : Sheet
        The print that is tried.
    patches : sequence of (TrialPatch, Sheet)
        Each with the variant that it is a window of.
    marks : sequence of Mark
        Everything else, the later on the earlier.

    Attributes
    ----------
    profile : Profile
        What the file's numbers mean.
    size_px : tuple of int
        Width and height of the file.
    """

    def __init__(
        self,
        sheet: Sheet,
        plan: TrialPlan,
        patches: Sequence[tuple[TrialPatch, Sheet]],
        marks: Sequence[Mark],
        key: TrialKey,
    ) -> None:
        self.plan = plan
        self.key = key
        self.master = sheet.master
        self.profile = sheet.profile
        self.size_px = (plan.layout.file_box.width, plan.layout.file_box.height)
        self._sheet = sheet
        self._marks = tuple(marks)
        self._patches = tuple(
            _Patch(patch.on_page, variant, patch.window) for patch, variant in patches
        )

    @property
    def channels(self) -> int:
        """Channels of the file."""
        return self.profile.channels

    @property
    def dtype(self) -> np.dtype[np.uint8] | np.dtype[np.uint16]:
        """Number type of the file."""
        return self._sheet.dtype

    def window(self, box: Box) -> Values:
        """
        A box of the finished file, bit for bit.

        Parameters
        ----------
        box : Box
            In file pixels, inside the file.

        Returns
        -------
        ndarray of uint8 or uint16, shape (box.height, box.width, channels)

        Raises
        ------
        SpecError
            If the box is empty or leaves the file.
        """
        require_inside(box, self.plan.layout.file_box, "the trial's file")
        white = paper_white(self.profile.space)
        drawn = np.full((box.height, box.width, self.channels), white, np.uint16)
        for mark in self._marks:
            part = mark.box.common(box)
            if part is not None:
                drawn[_inside(part, box)] = mark.codes(
                    part.moved(-mark.box.left, -mark.box.top)
                )
        values: Values = drawn
        if self.dtype == np.uint8:
            seed = self.plan.delivery.dither_seed
            values = dithered_to_8_bit(drawn, box.left, box.top, seed)
        for patch in self._patches:
            part = patch.box.common(box)
            if part is not None:
                values[_inside(part, box)] = patch.values(
                    part.moved(-patch.box.left, -patch.box.top)
                )
        return values

    def bands(self) -> Iterator[tuple[int, Values]]:
        """
        The whole file from top to bottom, in full-width bands.

        Yields
        ------
        tuple of int and ndarray
            First row, and shape (rows, width, channels) of the file's number type.
        """
        width, height = self.size_px
        step = max(_BAND_PIXELS // width, 1)
        for top in range(0, height, step):
            rows = min(step, height - top)
            yield top, self.window(Box(0, top, width, rows))

    def proof_window(self, box: Box, appearance: Appearance) -> NDArray[np.uint8]:
        """
        A box of the trial as it will look printed, for an sRGB screen.

        Returns
        -------
        ndarray of uint8, shape (box.height, box.width, 3)
            sRGB.

        Raises
        ------
        SpecError
            If the box is empty or leaves the file.
        """
        return self._sheet.proof(self.window(box), appearance)

    def overview(self, longest_px: int, appearance: Appearance) -> NDArray[np.uint8]:
        """
        The whole trial at reduced size, for an sRGB screen: never to judge sharpness.

        Parameters
        ----------
        longest_px : int
            Longest edge, 16 or more; the result has at most so many pixels.

        Returns
        -------
        ndarray of uint8, shape (rows, columns, 3)
            sRGB; means of whole square cells, in linear light.

        Raises
        ------
        SpecError
            If the edge is too short to show anything.
        """
        require_shown(longest_px)
        width, height = self.size_px
        cell = -(-max(self.size_px) // longest_px)
        columns, rows = width // cell, height // cell
        shown = np.empty((rows, columns, 3), np.uint8)
        light, limits = _srgb_light()
        step = max(_BAND_PIXELS // (width * cell), 1)
        for first in range(0, rows, step):
            count = min(step, rows - first)
            box = Box(0, first * cell, columns * cell, count * cell)
            cells = light[self.proof_window(box, appearance)].reshape(
                count, cell, columns, cell, 3
            )
            means = cells.mean(axis=(1, 3))
            shown[first : first + count] = np.searchsorted(limits, means)
        return shown


def _inside(part: Box, box: Box) -> tuple[slice, slice]:
    """Rows and columns of a part in the pixels of a box that holds it."""
    top, left = part.top - box.top, part.left - box.left
    return slice(top, top + part.height), slice(left, left + part.width)


@lru_cache(maxsize=1)
def _srgb_light() -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Linear light of the 256 codes of sRGB, and the limits between them."""
    light = decode(NamedSpace.SRGB, np.arange(511) / 510).astype(np.float32)
    return light[::2], light[1::2]
