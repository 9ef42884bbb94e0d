"""How large does the picture get, and where does it lie on its sheet?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from printplan.media import MediaForm
from printplan.sizing.media_sizes import roll_name, roll_width_mm
from printplan.spec import Orientation, Placement, RollWay, SizeRule, SizeSpec
from printplan.units import LengthUnit
from printplan.workbook.panels.controls import (
    LengthSlider,
    Slider,
    choice,
    choose,
    show_if,
    switch,
)
from printplan.workbook.panels.panel import Exactness, Panel
from printplan.workbook.pictures import encoded
from printplan.workbook.sheet_view.geometry import sheet_geometry
from printplan.workbook.sheet_view.moves import (
    Handle,
    Move,
    place_mm,
    wish_after,
    wish_as_before,
)
from printplan.workbook.sheet_view.sheet_view import (
    SheetView,
    printed_preview,
    whole_preview,
    whole_sheet,
)
from printplan.workbook.words import size_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.media import Paper, Printer
    from printplan.pixels.sheet import Sheet
    from printplan.spec import PrintSpec
    from printplan.workbook.bench import Bench
    from printplan.workbook.panels.panel import Pictures


_RULES = [
    ("width", SizeRule.WIDTH),
    ("height", SizeRule.HEIGHT),
    ("longest edge", SizeRule.LONGEST_EDGE),
    ("fit in an area", SizeRule.FIT),
    ("fill an area, cropped", SizeRule.FILL),
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
    ("by the picture", Orientation.BY_PICTURE),
    ("portrait", Orientation.PORTRAIT),
    ("landscape", Orientation.LANDSCAPE),
]
_PLACEMENTS = [
    ("centred", Placement.CENTRED),
    ("optical centre", Placement.OPTICAL_CENTRE),
    ("offset", Placement.OFFSET),
]
_ROLL_WAYS = [
    ("the way of least length", RollWay.LEAST_LENGTH),
    ("its width across", RollWay.WIDTH_ACROSS),
    ("its width along", RollWay.WIDTH_ALONG),
]
_SHORTEST_MM = 40.0
_FARTHEST_MM = 100.0
_WIDEST_BORDER_MM = 80.0


class SizePanel(Panel):
    """
    Size, resolution, sheet and place, by numbers and by hand.

    Attributes
    ----------
    view : SheetView
        The sheet, on which picture and crop are moved.
    """

    slot: ClassVar[str] = "size"
    title: ClassVar[str] = "Size and place"
    exactness: ClassVar[Exactness | None] = Exactness.OVERVIEW
    depends_on: ClassVar[frozenset[str]] = frozenset({"colour", "delivery"})
    """Of the photograph's colours; the sheet itself is drawn at every change."""

    column_px: ClassVar[int] = 424

    def __init__(self, bench: Bench, *, column_only: bool = False) -> None:
        super().__init__(bench, column_only=column_only)
        self._whole: Sheet | None = None
        self._by_hand: Callable[[], PrintSpec] | None = None
        self._before = bench.spec
        self._offered: tuple[Paper, Printer] | None = None
        self.view = SheetView(
            on_move=self._move, on_begin=self._begin, on_restore=self._restore
        )
        self.stage.children = [self.view]
        self.stage.add_class("printplan-sheet-stage")
        self.rule = choice("size by", _RULES)
        self.unit = switch("lengths in", _UNITS)
        self.lengths = {
            "width_mm": LengthSlider("width", _SHORTEST_MM, _SHORTEST_MM),
            "height_mm": LengthSlider("height", _SHORTEST_MM, _SHORTEST_MM),
            "longest_mm": LengthSlider("edge", _SHORTEST_MM, _SHORTEST_MM),
        }
        self.crop_across = Slider("crop, across", 0.0, 1.0, 0.01)
        self.crop_down = Slider("crop, down", 0.0, 1.0, 0.01)
        self.ppi = choice("resolution", [])
        self.media = choice("sheet", [])
        self.feed = choice("feed path", [])
        self.orientation = choice("orientation", _ORIENTATIONS)
        self.roll_way = choice("on the roll", _ROLL_WAYS)
        self.placement = choice("placement", _PLACEMENTS)
        self.right = LengthSlider(
            "offset right", -_FARTHEST_MM, _FARTHEST_MM, step_mm=0.1
        )
        self.down = LengthSlider(
            "offset down", -_FARTHEST_MM, _FARTHEST_MM, step_mm=0.1
        )
        self.border = LengthSlider("border", 0.0, _WIDEST_BORDER_MM)
        place = (self.right, self.down)
        above = [
            self.unit,
            self.rule,
            *self.lengths.values(),
            self.crop_across,
            self.crop_down,
            self.ppi,
            self.media,
            self.feed,
            self.orientation,
            self.roll_way,
            self.placement,
        ]
        self._on_wish(*above, self.border)
        for length in place:
            length.on_move(self._guarded(self._ask_for_offset))
        self._open([*above, *place, self.border])

    def _begin(self) -> None:
        self._before = self.bench.spec

    def _move(self, move: Move) -> None:
        self._ask_by_hand(lambda: wish_after(self.bench.plan, move))

    def _restore(self) -> None:
        self._ask_by_hand(lambda: wish_as_before(self.bench.plan, self._before))

    def _ask_by_hand(self, wish: Callable[[], PrintSpec]) -> None:
        """Ask for what a hand on the sheet wants, not for what the controls say."""
        self._by_hand = wish
        try:
            self._ask()
        finally:
            self._by_hand = None

    def _ask_for_offset(self) -> None:
        """A place that is set by number is an offset, however the picture lay."""
        if self.placement.value is Placement.OFFSET:
            self._ask()
        else:
            self.placement.value = Placement.OFFSET

    def _spec(self) -> PrintSpec:
        if self._by_hand is not None:
            return self._by_hand()
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
        is_roll = roll_width_mm(self.media.value) is not None
        sheet = replace(
            spec.sheet,
            media_size=self.media.value,
            width_mm=spec.sheet.width_mm if same else None,
            height_mm=spec.sheet.height_mm if same else None,
            feed=self.feed.value if same else self._feed_for(is_roll=is_roll),
            orientation=(Orientation.BY_PICTURE if is_roll else self.orientation.value),
            roll_way=self.roll_way.value,
            placement=self.placement.value,
            offset_right_mm=self.right.value_mm if offset else 0.0,
            offset_down_mm=self.down.value_mm if offset else 0.0,
            border_mm=self.border.value_mm,
        )
        return replace(
            spec,
            size=size,
            sheet=sheet,
            lengths_in=self.unit.value,
        )

    def _feed_for(self, *, is_roll: bool) -> str:
        """The feed path that is chosen, or the first that takes such paper."""
        plan = self.bench.plan
        form = MediaForm.ROLLS if is_roll else MediaForm.SHEETS
        taking = [
            it
            for it in (self.feed.value, *plan.setup.feeds)
            if plan.printer.feed(it).takes is form
        ]
        return str(taking[0] if taking else self.feed.value)

    def _sync(self) -> None:
        plan, size, sheet = self.bench.plan, self.bench.spec.size, self.bench.spec.sheet
        unit, printed = self.bench.spec.lengths_in, plan.picture_size
        self.unit.value = unit
        self.rule.value = size.rule
        is_roll = roll_width_mm(sheet.media_size) is not None
        longest_mm = max(plan.layout.width_mm, plan.layout.height_mm)
        if is_roll:
            most_mm = plan.printer.longest_print_mm or plan.feed.longest_mm
            longest_mm = min(plan.feed.longest_mm, most_mm)
        for name, printed_mm in (
            ("width_mm", printed.width_mm),
            ("height_mm", printed.height_mm),
            ("longest_mm", max(printed.width_mm, printed.height_mm)),
        ):
            asked_mm = getattr(size, name)
            self.lengths[name].show_length(
                printed_mm if asked_mm is None else asked_mm, unit, high_mm=longest_mm
            )
            show_if(name in _LENGTHS[size.rule], self.lengths[name])
        self.crop_across.show(size.crop_centre_x_share)
        self.crop_down.show(size.crop_centre_y_share)
        cropped = size.rule is SizeRule.FILL
        show_if(cropped, self.crop_across, self.crop_down)
        self._offer()
        choose(self.ppi, size.ppi)
        choose(self.media, sheet.media_size)
        choose(self.feed, sheet.feed)
        self.orientation.value = sheet.orientation
        self.roll_way.value = sheet.roll_way
        show_if(is_roll, self.roll_way)
        show_if(not is_roll, self.orientation)
        self.placement.value = sheet.placement
        right_mm, down_mm = place_mm(plan, Handle.PICTURE)
        self.right.show_length(right_mm, unit)
        self.down.show_length(down_mm, unit)
        self.border.show_length(sheet.border_mm, unit)
        self.words.value = size_words(plan, unit)
        self.view.show(sheet_geometry(plan, unit))

    def _offer(self) -> None:
        """Offer what paper and printer have, whenever one of them is another."""
        plan = self.bench.plan
        if self._offered == (plan.paper, plan.printer):
            return
        self._offered = (plan.paper, plan.printer)
        self.ppi.options = [(f"{ppi:g} ppi", ppi) for ppi in plan.printer.input_ppi]
        rolls = map(roll_name, plan.paper.rolls_mm)
        self.media.options = [(it, it) for it in (*plan.paper.sheets, *rolls)]
        self.feed.options = [(it, it) for it in plan.setup.feeds]

    def _pictures(self) -> Callable[[], Pictures]:
        """Computed always: the sheet on which the picture lies is a control."""
        return self._job()

    def _job(self) -> Callable[[], Pictures]:
        sheet = self.bench.sheet

        def compute() -> Pictures:
            if sheet.plan.has_edges:
                return [(self.view.printed, encoded(printed_preview(sheet)))]
            self._whole = whole_sheet(sheet, self._whole)
            return [(self.view, encoded(whole_preview(self._whole)))]

        return compute
