"""How is a place of the print shown without and with its sharpening?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from printplan.pixels.as_seen import EyeFilter, as_seen
from printplan.pixels.sharpening import paper_white_cd_m2
from printplan.sharpness.learned import spread_on
from printplan.units import px_from_mm
from printplan.workbook.panels.looks import unsharpened, window_box, window_look
from printplan.workbook.panels.mounting import SURROUND

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.size.layout import Box

    Bytes = NDArray[np.uint8]

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
    view : View
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
        plan : PrintPlan
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


class PrintLooks:
    """Looks at a print; what was shown before sharpening is kept for the next look."""

    def __init__(self) -> None:
        self._before: tuple[object, Bytes] | None = None

    def look(self, sheet: Sheet, looking: Looking, box: Box) -> Bytes:
        """
        Print pixels of a place, each a pixel of the view.

        Parameters
        ----------
        sheet : Sheet
        looking : Looking
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
        return window_look(sheet, box)
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
