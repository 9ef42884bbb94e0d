"""Which pixels does each step show, and what does sharpening make of them?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw

from printplan.colour.conversion import linear_to_device
from printplan.colour.spaces import named_profile
from printplan.pixels.as_seen import as_seen
from printplan.pixels.sharpening import paper_white_cd_m2
from printplan.pixels.sheet import Appearance, varied
from printplan.sharpening.as_seen import EyeFilter
from printplan.sharpening.calibration import spread_on
from printplan.sizing.layout import Box
from printplan.spec import (
    BlackPointCompensation,
    ColourSpec,
    Delivery,
    DeliverySpec,
    Intent,
    NamedSpace,
)
from printplan.units import px_from_mm
from printplan.workbook.panels.panel import SURROUND, TEXT, mounted

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.master import Master
    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan

    Bytes = NDArray[np.uint8]


MASTER_PX = 900
"""Longest edge of a master on the page."""

PROOF_PX = 640
"""Longer edge of the picture and its white in a proof."""

_LARGEST_OVERVIEW_PX = 2400
"""Longest overview of a sheet that a small picture's proof is cut from."""

_SCREEN_COLOUR = ColourSpec(
    intent=Intent.MEDIA_RELATIVE, black_point_compensation=BlackPointCompensation.OFF
)
_WHITE_SHARE = 0.04
"""Paper left round the picture in a proof, as a share of the picture's longer edge:
enough to see the paper's white. Our choice."""


def master_overview(master: Master, longest_px: int) -> NDArray[np.uint8]:
    """
    The whole master, reduced.

    Parameters
    ----------
    longest_px : int
        The longer edge is at most that.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB. What the screen's space cannot hold is cut.
    """
    longest = max(master.facts.width_px, master.facts.height_px)
    pipeline = linear_to_device(
        master.profile,
        named_profile(NamedSpace.SRGB),
        intent=_SCREEN_COLOUR.intent,
        black_point_compensation=_SCREEN_COLOUR.black_point_compensation,
    )
    linear = master.reduced(ceil(longest / longest_px))
    return _in_8_bits(pipeline.from_linear(linear))


def beside_master(
    master: NDArray[np.uint8], proof: NDArray[np.uint8], plan: PrintPlan
) -> NDArray[np.uint8]:
    """
    Master and soft proof on one ground.

    Parameters
    ----------
    master, proof : ndarray of uint8, shape (rows, columns, 3)
        From `master_preview` and `print_preview`.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
    """
    return mounted(
        [
            (master, "overview   ·   master"),
            (proof, f"overview   ·   soft proof on {plan.paper.name}"),
        ]
    )


def unsharpened(sheet: Sheet) -> Sheet:
    """The same print without sharpening."""
    spec = sheet.plan.spec
    return varied(sheet, replace(spec, sharpen=replace(spec.sharpen, gain=0.0)))


def in_screen_colour(sheet: Sheet) -> Sheet:
    """
    The same sheet as if it were made for the screen, not sharpened.

    Returns
    -------
    Sheet
        In sRGB.
    """
    spec = unsharpened(sheet).plan.spec
    delivery = DeliverySpec(
        colour=Delivery.NAMED_SPACE,
        named_space=NamedSpace.SRGB,
        extent=spec.delivery.extent,
    )
    return varied(sheet, replace(spec, colour=_SCREEN_COLOUR, delivery=delivery))


def window_box(
    plan: PrintPlan, size_px: tuple[int, int], across_share: float, down_share: float
) -> Box:
    """
    A window into the picture.

    Parameters
    ----------
    size_px : tuple of int
        Width and height wanted; a smaller picture gives a smaller window.
    across_share, down_share : float
        0 is the left or upper end of the picture, 1 the right or lower.

    Returns
    -------
    Box
        In file pixels.
    """
    picture = plan.picture_in_file
    width = min(size_px[0], picture.width)
    height = min(size_px[1], picture.height)
    return Box(
        picture.left + round((picture.width - width) * across_share),
        picture.top + round((picture.height - height) * down_share),
        width,
        height,
    )


def locator(
    thumbnail: NDArray[np.uint8], plan: PrintPlan, box: Box
) -> NDArray[np.uint8]:
    """
    Where a window lies in the master.

    Parameters
    ----------
    thumbnail : ndarray of uint8, shape (rows, columns, 3)
        From `master_overview`.
    box : Box
        From `window_box`.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        The thumbnail with the window framed, on the ground of all pictures.
    """
    rows, columns = thumbnail.shape[:2]
    picture, crop = plan.picture_in_file, plan.picture_size.crop
    across = crop.width_px / picture.width * columns / plan.facts.width_px
    down = crop.height_px / picture.height * rows / plan.facts.height_px
    left = crop.left_px * columns / plan.facts.width_px
    top = crop.top_px * rows / plan.facts.height_px
    frame = (
        left + (box.left - picture.left) * across,
        top + (box.top - picture.top) * down,
        left + (box.right - picture.left) * across - 1,
        top + (box.bottom - picture.top) * down - 1,
    )
    image = Image.fromarray(thumbnail)
    draw = ImageDraw.Draw(image)
    draw.rectangle(frame, outline=SURROUND, width=4)
    draw.rectangle(frame, outline=TEXT, width=2)
    return mounted([(np.asarray(image), "overview")])


def window_preview(sheet: Sheet, box: Box) -> NDArray[np.uint8]:
    """
    Print pixels as they will look on the paper alone.

    Parameters
    ----------
    box : Box
        In file pixels.

    Returns
    -------
    ndarray of uint8, shape (box.height, box.width, 3)
        sRGB.
    """
    return sheet.proof_window(box, Appearance.PAPER_ALONE)


def master_preview(on_screen: Sheet) -> NDArray[np.uint8]:
    """
    The master's part that is printed, with a little white round it.

    Parameters
    ----------
    on_screen : Sheet
        From `in_screen_colour`.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB. What the screen's space cannot hold is cut.
    """
    return _in_8_bits(_overview(on_screen))


def print_preview(sheet: Sheet, appearance: Appearance) -> NDArray[np.uint8]:
    """
    The print as it will look, with a little of its paper.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB.
    """
    return sheet.proof(_overview(sheet), appearance)


def _overview(sheet: Sheet) -> NDArray[np.uint16]:
    """Picture and a little paper at reduced size, in the file's values."""
    picture = sheet.plan.picture_in_file
    white = round(max(picture.width, picture.height) * _WHITE_SHARE)
    shown = picture.grown(white, Box(0, 0, *sheet.size_px))
    longest_px = PROOF_PX * max(sheet.size_px) / max(shown.width, shown.height)
    overview = sheet.overview(min(round(longest_px), _LARGEST_OVERVIEW_PX))
    top, left = round(shown.top * overview.scale), round(shown.left * overview.scale)
    bottom = max(round(shown.bottom * overview.scale), top + 1)
    right = max(round(shown.right * overview.scale), left + 1)
    return overview.pixels[top:bottom, left:right]


def _in_8_bits(codes: NDArray[np.uint16]) -> NDArray[np.uint8]:
    return ((codes.astype(np.uint32) + 128) // 257).astype(np.uint8)


SEAM_PX = 4
"""Width of the seam between two states."""


class View(StrEnum):
    """What is looked at."""

    AFTER = "after"
    BEFORE = "before"
    SIDES = "sides"
    """Before and after, beside each other."""
    AS_SEEN = "as-seen"
    """Both through the paper's spread and an eye at the print's distance."""
    SEEN_BEFORE = "seen-before"
    SEEN_AFTER = "seen-after"


_PAIRS = {View.SIDES, View.AS_SEEN}
_ALONE_BEFORE = {View.BEFORE, View.SEEN_BEFORE}
_THROUGH_PAPER_AND_EYE = {View.AS_SEEN, View.SEEN_BEFORE, View.SEEN_AFTER}


@dataclass(frozen=True, slots=True, kw_only=True)
class Looking:
    """
    Where and how the print is looked at.

    Attributes
    ----------
    across_share, down_share : float
        0 is the left or upper end of the picture.
    distance_mm : float
        Eye to paper, for what is seen through paper and eye.
    """

    view: View
    across_share: float
    down_share: float
    distance_mm: float

    def box(self, plan: PrintPlan, size_px: tuple[int, int]) -> Box:
        """
        The part of the print that is shown.

        Parameters
        ----------
        size_px : tuple of int
            Width and height of the whole view.

        Returns
        -------
        Box
            In file pixels; half as wide where two states are shown.
        """
        width, height = size_px
        if self.view in _PAIRS:
            width = (width - SEAM_PX) // 2
        return window_box(plan, (width, height), self.across_share, self.down_share)


class PrintPreviews:
    """Looks at a print; what was shown before sharpening is kept for the next look."""

    def __init__(self) -> None:
        self._before: tuple[object, Bytes] | None = None

    def look(self, sheet: Sheet, looking: Looking, box: Box) -> Bytes:
        """
        Print pixels of a place, each a pixel of the view.

        Parameters
        ----------
        box : Box
            From `Looking.box`.

        Returns
        -------
        ndarray of uint8, shape (rows, columns, 3)
            sRGB.
        """
        if looking.view in _ALONE_BEFORE:
            return self._unsharpened(sheet, looking, box)
        after = _look(sheet, looking, box)
        if looking.view not in _PAIRS:
            return after
        seam = np.full((box.height, SEAM_PX, 3), SURROUND, np.uint8)
        return np.hstack([self._unsharpened(sheet, looking, box), seam, after])

    def _unsharpened(self, sheet: Sheet, looking: Looking, box: Box) -> Bytes:
        """Before sharpening, kept while nothing else changes."""
        plain = unsharpened(sheet)
        seen = looking.view in _THROUGH_PAPER_AND_EYE
        shown = (plain.plan, box, looking.distance_mm if seen else None)
        if self._before is None or self._before[0] != shown:
            self._before = (shown, _look(plain, looking, box))
        return self._before[1]


def _look(sheet: Sheet, looking: Looking, box: Box) -> Bytes:
    if looking.view not in _THROUGH_PAPER_AND_EYE:
        return window_preview(sheet, box)
    plan = sheet.plan
    return as_seen(
        sheet,
        box,
        spread=spread_on(plan.paper, plan.setup).spread,
        distance_mm=looking.distance_mm,
        # A screen pixel for each print pixel, as in the other views.
        screen_px_per_mm=px_from_mm(1.0, plan.ppi),
        eye=EyeFilter.AT_DISTANCE,
        white_cd_m2=paper_white_cd_m2(plan),
    ).pixels
