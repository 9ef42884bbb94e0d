"""Which controls ask for the sides of a canvas?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import ipywidgets as widgets

from printplan.spec import WrapSide, WrapSpec
from printplan.workbook.panels.controls import (
    CONTROL,
    LengthSlider,
    Slider,
    choice,
    show_if,
)

if TYPE_CHECKING:
    from printplan.plan import PrintPlan
    from printplan.spec import PrintSpec
    from printplan.units import LengthUnit
    from printplan.workbook.panels.controls import Control

_NONE, _EACH = "none", "each"
_KINDS = [
    ("mirrored at the fold", WrapSide.MIRRORED),
    ("edge stretched", WrapSide.STRETCHED),
    ("picture continued", WrapSide.CONTINUED),
    ("one colour", WrapSide.COLOUR),
    ("mean of the edge", WrapSide.EDGE_MEAN),
]
_ALL = [("none", _NONE), *_KINDS, ("each side its own", _EACH)]
_SIDES = ("left", "top", "right", "bottom")

_THINNEST_MM, _DEEPEST_MM = 5.0, 80.0
_WIDEST_EDGE_MM = 50.0
_MOST_PERCENT = 3.0
_FIRST_DEPTH_MM, _FIRST_TURN_OVER_MM = 40.0, 25.0
"""Bar and turn-over to begin with, to be replaced by one's own. Our choice."""


class WrapControls:
    """Bar, sides and shrinking of a canvas; only those that matter are seen."""

    def __init__(self) -> None:
        self.kind = choice("canvas sides", _ALL)
        self.kind.tooltip = "Sides are printed beside the size asked, for a bar"
        self.depth = LengthSlider("bar depth", _THINNEST_MM, _DEEPEST_MM)
        self.turn_over = LengthSlider("turned over", 0.0, _DEEPEST_MM)
        self.each = {side: choice(f"{side} side", _KINDS) for side in _SIDES}
        self.colour = widgets.ColorPicker(
            description="colour (sRGB)", value="#ffffff", **CONTROL
        )
        self.edge = LengthSlider("edge used", 1.0, _WIDEST_EDGE_MM)
        self.across = Slider(
            "shrinks across (%)", -_MOST_PERCENT, _MOST_PERCENT, 0.05, digits=2
        )
        self.along = Slider(
            "shrinks along (%)", -_MOST_PERCENT, _MOST_PERCENT, 0.05, digits=2
        )
        self.controls: tuple[Control, ...] = (
            self.kind,
            self.depth,
            self.turn_over,
            *self.each.values(),
            self.colour,
            self.edge,
            self.across,
            self.along,
        )

    def wish(self, spec: PrintSpec) -> PrintSpec:
        """The spec with these sides, or with none."""
        kind = self.kind.value
        if kind == _NONE:
            return replace(spec, wrap=WrapSpec())
        sides = {
            side: control.value if kind == _EACH else kind
            for side, control in self.each.items()
        }
        wrap = WrapSpec(
            bar_depth_mm=self.depth.value_mm,
            turn_over_mm=self.turn_over.value_mm,
            colour=self.colour.value,
            edge_mm=self.edge.value_mm,
            shrinks_across_percent=self.across.value,
            shrinks_along_percent=self.along.value,
            **sides,
        )
        # Of two ways to go round a bar the one that was chosen last stays.
        mount = replace(spec.mount, wrap_mm=0.0, stretcher_depth_mm=0.0)
        return replace(spec, wrap=wrap, mount=mount)

    def show(self, plan: PrintPlan, unit: LengthUnit) -> None:
        """Set the controls to a plan; what is hidden stands at what is usual."""
        wrap = plan.spec.wrap
        kinds = {side: getattr(wrap, side) for side in _SIDES}
        shown = set(kinds.values()) if wrap.is_wrapped else set()
        each = self.kind.value == _EACH or len(shown) > 1
        if not wrap.is_wrapped:
            self.kind.value = _NONE
        else:
            self.kind.value = _EACH if each else kinds["left"]
        depth_mm = wrap.bar_depth_mm if wrap.is_wrapped else _FIRST_DEPTH_MM
        self.depth.show_length(depth_mm, unit)
        over_mm = wrap.turn_over_mm if wrap.is_wrapped else _FIRST_TURN_OVER_MM
        self.turn_over.show_length(over_mm, unit)
        for side, control in self.each.items():
            control.value = kinds[side]
        self.colour.value = wrap.colour
        self.edge.show_length(wrap.edge_mm, unit)
        self.across.show(wrap.shrinks_across_percent)
        self.along.show(wrap.shrinks_along_percent)
        show_if(wrap.is_wrapped, self.depth, self.turn_over, self.across, self.along)
        show_if(wrap.is_wrapped and each, *self.each.values())
        show_if(WrapSide.COLOUR in shown, self.colour)
        with_edge = bool(shown & {WrapSide.STRETCHED, WrapSide.EDGE_MEAN})
        show_if(with_edge, self.edge)
