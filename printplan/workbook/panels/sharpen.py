"""How much sharpening does the print need at its size?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets
import numpy as np

from printplan.spec import SharpenSpec
from printplan.workbook.panels.controls import switch
from printplan.workbook.panels.looks import (
    locator,
    master_overview,
    unsharpened,
    window_box,
    window_look,
)
from printplan.workbook.panels.mounting import SURROUND, encoded
from printplan.workbook.panels.panel import Panel
from printplan.workbook.panels.sliders import Slider
from printplan.workbook.panels.words import sharpening_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.size.layout import Box
    from printplan.spec import PrintSpec
    from printplan.workbook.bench import Bench
    from printplan.workbook.panels.panel import Pictures

_SIDES = "sides"
_AFTER = "after"
_BEFORE = "before"
_VIEWS = [
    ("after", _AFTER),
    ("before", _BEFORE),
    ("both", _SIDES),
]
WINDOW_PX = (900, 600)
"""Width and height of the window in which sharpness is judged."""

_LOCATOR_PX = 320
_SEAM_PX = 4


class SharpenPanel(Panel):
    """
    Gain and radius, seen in a window of print pixels.

    Parameters
    ----------
    bench : Bench
    across_share, down_share : float, optional
        Where to look first: 0 is the left or upper end of the picture.
    """

    seat: ClassVar[str] = "sharpen"
    depends_on: ClassVar[frozenset[str]] = frozenset(
        {"size", "sharpen", "colour", "sheet", "delivery"}
    )

    def __init__(
        self, bench: Bench, *, across_share: float = 0.5, down_share: float = 0.5
    ) -> None:
        super().__init__(bench)
        self._thumbnail = master_overview(bench.master, _LOCATOR_PX)
        self._before: tuple[PrintPlan, Box, NDArray[np.uint8]] | None = None
        self.gain = Slider("gain", 0.0, 3.0, 0.05)
        self.radius = Slider("radius (mm)", 0.03, 0.6, 0.001, digits=3)
        self.across = Slider("look, across", 0.0, 1.0, 0.01)
        self.down = Slider("look, down", 0.0, 1.0, 0.01)
        self.across.show(across_share)
        self.down.show(down_share)
        self.view = switch("show", _VIEWS)
        self.window = widgets.Image(format="jpeg")
        self.place = widgets.Image(format="jpeg")
        self.stage.children = [self.window]
        self.stage.add_class("printplan-exact")
        self.gain.on_move(self._ask)
        self.radius.on_move(self._ask)
        self.across.on_move(self.repaint)
        self.down.on_move(self.repaint)
        self._on_view(self.view)
        self._open(
            [
                self.gain.ui,
                self.radius.ui,
                self.view,
                self.across.ui,
                self.down.ui,
                self.place,
            ]
        )

    def _wish(self) -> PrintSpec:
        sharpen = SharpenSpec(gain=self.gain.value, radius_mm=self.radius.value)
        return replace(self.bench.spec, sharpen=sharpen)

    def _sync(self) -> None:
        self.gain.show(self.bench.spec.sharpen.gain)
        self.radius.show(self.bench.spec.sharpen.radius_mm)
        self.words.value = sharpening_words(self.bench.plan)

    def _job(self) -> Callable[[], Pictures]:
        sheet, view = self.bench.sheet, self.view.value
        across, down = self.across.value, self.down.value

        def compute() -> Pictures:
            width, height = WINDOW_PX
            size = ((width - _SEAM_PX) // 2, height) if view == _SIDES else WINDOW_PX
            box = window_box(sheet.plan, size, across, down)
            return [
                (self.window, encoded(self._look(sheet, box, view))),
                (self.place, encoded(locator(self._thumbnail, sheet.plan, box))),
            ]

        return compute

    def _look(self, sheet: Sheet, box: Box, view: str) -> NDArray[np.uint8]:
        if view == _BEFORE:
            return self._unsharpened_look(sheet, box)
        after = window_look(sheet, box)
        if view == _AFTER:
            return after
        seam = np.full((box.height, _SEAM_PX, 3), SURROUND, np.uint8)
        return np.hstack([self._unsharpened_look(sheet, box), seam, after])

    def _unsharpened_look(self, sheet: Sheet, box: Box) -> NDArray[np.uint8]:
        """The window before sharpening, kept while nothing else changes."""
        plain = unsharpened(sheet)
        kept = self._before
        if kept is None or kept[0] != plain.plan or kept[1] != box:
            kept = self._before = (plain.plan, box, window_look(plain, box))
        return kept[2]
