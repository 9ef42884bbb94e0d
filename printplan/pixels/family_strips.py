"""How does one detail of a master look in each of several prints, at its true size?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from printplan.errors import SpecError
from printplan.sizing.boxes import Box
from printplan.sizing.resampling import resample
from printplan.units import mm_from_px, px_from_mm, whole_px

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from printplan.pixels.sheet import Appearance, Sheet

_LEAST_PX = 8
"""Edge of a strip in print pixels below which nothing is seen. Our choice."""


@dataclass(frozen=True, slots=True, eq=False)
class TrueSizeStrip:
    """
    One detail in one print.

    Attributes
    ----------
    box : Box
        In file pixels of that print.
    pixels : ndarray of uint8, shape (box.height, box.width, 3)
        Its exact proof window, sRGB.
    width_mm, height_mm : float
        What it measures on paper.
    """

    box: Box
    pixels: NDArray[np.uint8]
    width_mm: float
    height_mm: float

    def on_screen(self, screen_px_per_mm: float) -> NDArray[np.uint8]:
        """
        The strip in a screen's own pixels, so that it measures what it does on paper.

        Parameters
        ----------
        screen_px_per_mm : float
            Of the screen, above 0.

        Returns
        -------
        ndarray of uint8, shape (rows, columns, 3)
            Resampled in linear light: for what is seen from the print's distance, not
            to judge single pixels.
        """
        width_px = max(whole_px(self.width_mm * screen_px_per_mm), 1)
        height_px = max(whole_px(self.height_mm * screen_px_per_mm), 1)
        shown: NDArray[np.uint8] = resample(self.pixels, width_px, height_px)
        return shown


def true_size_strips(
    sheets: Sequence[Sheet],
    appearance: Appearance,
    *,
    across_share: float = 0.5,
    down_share: float = 0.5,
    widest_mm: float = 60.0,
) -> tuple[TrueSizeStrip, ...]:
    """
    Cut the same detail of a master out of each of its prints.

    Parameters
    ----------
    sheets : sequence of Sheet
        Of the same master.
    across_share, down_share : float, optional
        Middle of the detail, as shares of the master's width and height, 0 to 1.
    widest_mm : float, optional
        Edge of the square detail in the largest print, above 0.

    Returns
    -------
    tuple of TrueSizeStrip
        In the order of the sheets. The detail is a square of the master, moved inside
        what all prints show of it; each strip is as large as its print makes that.

    Raises
    ------
    SpecError
        If there is no sheet, a number leaves its range, the prints share no part of
        the master, or the detail has hardly a pixel in the smallest of them.
    """
    shares = (across_share, down_share)
    if not sheets or not all(0 <= it <= 1 for it in shares) or not widest_mm > 0:
        raise SpecError(
            f"{len(sheets)} prints are compared at {across_share:g}, {down_share:g} of "
            f"the master, {widest_mm:g} mm wide.",
            remedy="Give one print or more, shares from 0 to 1 and a width above 0.",
        )
    crops = [it.plan.crop for it in sheets]
    left, top = max(it.left_px for it in crops), max(it.top_px for it in crops)
    right = min(it.left_px + it.width_px for it in crops)
    bottom = min(it.top_px + it.height_px for it in crops)
    largest = max(it.plan.enlargement / it.plan.ppi for it in sheets)
    edge_px = px_from_mm(widest_mm, 1 / largest)
    edge_px = min(edge_px, right - left, bottom - top)
    smallest = min(it.plan.enlargement for it in sheets)
    if edge_px * smallest < _LEAST_PX:
        raise SpecError(
            "The detail has hardly a pixel in the smallest of these prints.",
            remedy="Compare a larger detail, or prints that show the same of the "
            "master.",
        )
    facts = sheets[0].plan.facts
    x = _inside(across_share * facts.width_px - edge_px / 2, left, right - edge_px)
    y = _inside(down_share * facts.height_px - edge_px / 2, top, bottom - edge_px)
    return tuple(_strip(sheet, appearance, x, y, edge_px) for sheet in sheets)


def _inside(start: float, low: float, high: float) -> float:
    return min(max(start, low), high)


def _strip(
    sheet: Sheet, appearance: Appearance, x: float, y: float, edge_px: float
) -> TrueSizeStrip:
    plan, picture = sheet.plan, sheet.plan.picture_in_file
    crop = plan.crop
    # The crop is mapped onto the picture's whole pixels, each way by itself.
    across, down = picture.width / crop.width_px, picture.height / crop.height_px
    left = picture.left + whole_px((x - crop.left_px) * across)
    top = picture.top + whole_px((y - crop.top_px) * down)
    box = Box(left, top, whole_px(edge_px * across), whole_px(edge_px * down))
    box = picture.common(box) or box
    return TrueSizeStrip(
        box=box,
        pixels=sheet.proof_window(box, appearance),
        width_mm=mm_from_px(box.width, plan.ppi),
        height_mm=mm_from_px(box.height, plan.ppi),
    )
