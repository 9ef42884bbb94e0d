"""How large does the picture get, and where does it lie on its sheet?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.spec import Orientation, Placement, SheetSpec, SizeRule, SizeSpec
from printplan.workbook.panels.controls import (
    choice,
    choose,
    show_if,
    switch,
)
from printplan.workbook.panels.lengths import LengthUnit
from printplan.workbook.panels.looks import MASTER_PX, master_overview
from printplan.workbook.panels.mounting import encoded
from printplan.workbook.panels.panel import Panel
from printplan.workbook.panels.sheet_drawing import DRAWING_CSS_PX, draw_sheet
from printplan.workbook.panels.sliders import LengthSlider, Slider
from printplan.workbook.panels.words import size_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.spec import PrintSpec
    from printplan.workbook.bench import Bench
    from printplan.workbook.panels.panel import Pictures

_RULES = [
    ("its width", SizeRule.WIDTH),
    ("its height", SizeRule.HEIGHT),
    ("its longest edge", SizeRule.LONGEST_EDGE),
    ("fitting inside an area", SizeRule.FIT),
    ("filling an area, cropped", SizeRule.FILL),
]
_LENGTHS = {
    SizeRule.WIDTH: ("width_mm",),
    SizeRule.HEIGHT: ("height_mm",),
    SizeRule.LONGEST_EDGE: ("longest_mm",),
    SizeRule.FIT: ("width_mm", "height_mm"),
    SizeRule.FILL: ("width_mm", "height_mm"),
}
_UNITS = [("millimetres", LengthUnit.MM), ("inches", LengthUnit.INCHES)]
_ORIENTATIONS = [
    ("as the picture lies", Orientation.BY_PICTURE),
    ("portrait", Orientation.PORTRAIT),
    ("landscape", Orientation.LANDSCAPE),
]
_PLACEMENTS = [
    ("centred", Placement.CENTRED),
    ("at the optical centre", Placement.OPTICAL_CENTRE),
    ("by an offset", Placement.OFFSET),
]
_SHORTEST_MM = 40.0
_FARTHEST_MM = 100.0
_WIDEST_BORDER_MM = 80.0


class SizePanel(Panel):
    """
    Size, resolution, sheet and place.

    Parameters
    ----------
    bench : Bench
    """

    seat: ClassVar[str] = "size"
    depends_on: ClassVar[frozenset[str]] = frozenset({"size", "sheet"})
    column_px: ClassVar[int] = 440

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench)
        self._thumbnail = master_overview(bench.master, MASTER_PX)
        self.picture = widgets.Image(
            format="jpeg", layout={"width": f"{DRAWING_CSS_PX}px"}
        )
        self.stage.children = [self.picture]
        self.stage.add_class("printplan-fits")
        self.rule = choice("size by", _RULES)
        self.unit = switch("lengths in", _UNITS)
        self.lengths = {
            "width_mm": LengthSlider("width", _SHORTEST_MM, _SHORTEST_MM),
            "height_mm": LengthSlider("height", _SHORTEST_MM, _SHORTEST_MM),
            "longest_mm": LengthSlider("edge", _SHORTEST_MM, _SHORTEST_MM),
        }
        self.crop_across = Slider("keep, across", 0.0, 1.0, 0.01)
        self.crop_down = Slider("keep, down", 0.0, 1.0, 0.01)
        own = [(f"{ppi:g} ppi", ppi) for ppi in bench.printer.input_ppi]
        self.ppi = choice("resolution", own)
        self.media = choice("sheet", [(it, it) for it in bench.paper.sheets])
        self.feed = choice("feed path", [(it, it) for it in bench.plan.setup.feeds])
        self.orientation = choice("sheet stands", _ORIENTATIONS)
        self.placement = choice("picture lies", _PLACEMENTS)
        self.right = LengthSlider("to the right", -_FARTHEST_MM, _FARTHEST_MM)
        self.down = LengthSlider("down", -_FARTHEST_MM, _FARTHEST_MM)
        self.border = LengthSlider("border", 0.0, _WIDEST_BORDER_MM)
        for length in (*self.lengths.values(), self.right, self.down, self.border):
            length.on_move(self._ask)
        for share in (self.crop_across, self.crop_down):
            share.on_move(self._ask)
        self._on_wish(
            self.rule,
            self.ppi,
            self.media,
            self.feed,
            self.orientation,
            self.placement,
        )
        self.unit.observe(lambda _: self._on_unit(), names="value")
        self._open(
            [
                self.unit,
                self.rule,
                *[it.ui for it in self.lengths.values()],
                self.crop_across.ui,
                self.crop_down.ui,
                self.ppi,
                self.media,
                self.feed,
                self.orientation,
                self.placement,
                self.right.ui,
                self.down.ui,
                self.border.ui,
            ]
        )

    def _on_unit(self) -> None:
        self._sync_quietly()
        self.repaint()

    def _wish(self) -> PrintSpec:
        spec, rule = self.bench.spec, self.rule.value
        size = SizeSpec(
            rule=rule,
            ppi=self.ppi.value,
            crop_centre_x_share=self.crop_across.value,
            crop_centre_y_share=self.crop_down.value,
            **{name: self.lengths[name].value_mm for name in _LENGTHS[rule]},
        )
        offset = self.placement.value is Placement.OFFSET
        same = self.media.value == spec.sheet.media_size
        sheet = SheetSpec(
            media_size=self.media.value,
            width_mm=spec.sheet.width_mm if same else None,
            height_mm=spec.sheet.height_mm if same else None,
            feed=self.feed.value,
            orientation=self.orientation.value,
            placement=self.placement.value,
            offset_right_mm=self.right.value_mm if offset else 0.0,
            offset_down_mm=self.down.value_mm if offset else 0.0,
            border_mm=self.border.value_mm,
        )
        return replace(spec, size=size, sheet=sheet)

    def _sync(self) -> None:
        plan, size, sheet = self.bench.plan, self.bench.spec.size, self.bench.spec.sheet
        unit, printed = self.unit.value, plan.picture_size
        self.rule.value = size.rule
        longest_mm = max(plan.layout.width_mm, plan.layout.height_mm)
        for name, printed_mm in (
            ("width_mm", printed.width_mm),
            ("height_mm", printed.height_mm),
            ("longest_mm", max(printed.width_mm, printed.height_mm)),
        ):
            asked_mm = getattr(size, name)
            self.lengths[name].show(
                printed_mm if asked_mm is None else asked_mm,
                unit=unit,
                high_mm=longest_mm,
            )
            show_if(name in _LENGTHS[size.rule], self.lengths[name].ui)
        self.crop_across.show(size.crop_centre_x_share)
        self.crop_down.show(size.crop_centre_y_share)
        cropped = size.rule is SizeRule.FILL
        show_if(cropped, self.crop_across.ui, self.crop_down.ui)
        choose(self.ppi, size.ppi)
        choose(self.media, sheet.media_size)
        choose(self.feed, sheet.feed)
        self.orientation.value = sheet.orientation
        self.placement.value = sheet.placement
        self.right.show(sheet.offset_right_mm, unit=unit)
        self.down.show(sheet.offset_down_mm, unit=unit)
        show_if(sheet.placement is Placement.OFFSET, self.right.ui, self.down.ui)
        self.border.show(sheet.border_mm, unit=unit)
        self.words.value = size_words(plan, unit)

    def _job(self) -> Callable[[], Pictures]:
        plan, unit = self.bench.plan, self.unit.value
        return lambda: [
            (self.picture, encoded(draw_sheet(plan, self._thumbnail, unit)))
        ]
