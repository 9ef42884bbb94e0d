"""Which controls ask for what lies on the white: key line, marks, caption, bleed?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import ipywidgets as widgets

from printplan.spec import CaptionPart, Marks, WhiteSpec
from printplan.workbook.panels.controls import (
    CONTROL,
    LengthSlider,
    Slider,
    choice,
    line,
    show_if,
)

if TYPE_CHECKING:
    from printplan.plan import PrintPlan
    from printplan.spec import PrintSpec
    from printplan.units import LengthUnit
    from printplan.workbook.panels.controls import Control

_MARKS = [
    ("none", Marks.NONE),
    ("at the corners", Marks.CORNERS),
    ("a line to cut along", Marks.LINE),
]
_THICKEST_MM, _WIDEST_GAP_MM = 5.0, 40.0
_LARGEST_MM = 12.0
_WIDEST_DECKLE_MM, _WIDEST_BLEED_MM = 30.0, 10.0


class WhiteControls:
    """Key line, marks, caption and bleed; only those that matter are seen."""

    def __init__(self) -> None:
        self.key_line = LengthSlider(
            "key line", 0.0, _THICKEST_MM, step_mm=0.05, digits=2
        )
        self.key_gap = LengthSlider("white inside it", 0.0, _WIDEST_GAP_MM)
        self.key_tone = Slider("its lightness (L*)", 0.0, 100.0, 1.0, digits=0)
        self.marks = choice("cut marks", _MARKS)
        self.title = line("caption: title")
        self.edition = line("caption: edition", placeholder="3/25")
        self.date = line("caption: date")
        self.paper = widgets.Checkbox(description="caption: paper", **CONTROL)
        self.size = widgets.Checkbox(description="caption: size", **CONTROL)
        self.letters = LengthSlider("letters", 1.0, _LARGEST_MM, step_mm=0.1)
        self.caption_gap = LengthSlider("white above it", 0.5, _WIDEST_GAP_MM)
        self.deckle = LengthSlider("deckle", 0.0, _WIDEST_DECKLE_MM)
        self.bleed = LengthSlider("borderless bleed", 0.0, _WIDEST_BLEED_MM)
        self._key = (self.key_gap, self.key_tone)
        self._caption = (self.letters, self.caption_gap)
        self.controls: tuple[Control, ...] = (
            self.key_line,
            *self._key,
            self.marks,
            self.title,
            self.edition,
            self.paper,
            self.size,
            self.date,
            *self._caption,
            self.deckle,
            self.bleed,
        )

    def wish(self, spec: PrintSpec) -> PrintSpec:
        """The spec with this on its white."""
        told = {
            CaptionPart.TITLE: bool(self.title.value.strip()),
            CaptionPart.EDITION: bool(self.edition.value.strip()),
            CaptionPart.PAPER: self.paper.value,
            CaptionPart.SIZE: self.size.value,
            CaptionPart.DATE: bool(self.date.value.strip()),
        }
        white = WhiteSpec(
            key_line_mm=self.key_line.value_mm,
            key_line_gap_mm=self.key_gap.value_mm,
            key_line_l=self.key_tone.value,
            marks=self.marks.value,
            caption=tuple(part for part, is_told in told.items() if is_told),
            caption_title=self.title.value,
            caption_edition=self.edition.value,
            caption_date=self.date.value,
            caption_mm=self.letters.value_mm,
            caption_gap_mm=self.caption_gap.value_mm,
        )
        sheet = replace(
            spec.sheet,
            deckle_mm=self.deckle.value_mm,
            bleed_mm=self.bleed.value_mm,
        )
        return replace(spec, white=white, sheet=sheet)

    def show(self, plan: PrintPlan, unit: LengthUnit) -> None:
        """Set the controls to a plan, and show those that matter."""
        white, sheet = plan.spec.white, plan.spec.sheet
        self.key_line.show_length(white.key_line_mm, unit)
        self.key_gap.show_length(white.key_line_gap_mm, unit)
        self.key_tone.show(white.key_line_l)
        self.marks.value = white.marks
        for part, control in (
            (CaptionPart.TITLE, self.title),
            (CaptionPart.EDITION, self.edition),
            (CaptionPart.DATE, self.date),
        ):
            is_told = part in white.caption
            control.value = getattr(white, f"caption_{part}") if is_told else ""
        self.paper.value = CaptionPart.PAPER in white.caption
        self.size.value = CaptionPart.SIZE in white.caption
        self.letters.show_length(white.caption_mm, unit)
        self.caption_gap.show_length(white.caption_gap_mm, unit)
        self.deckle.show_length(sheet.deckle_mm, unit)
        self.bleed.show_length(sheet.bleed_mm, unit)
        show_if(white.key_line_mm > 0, *self._key)
        show_if(bool(white.caption), *self._caption)
        show_if(bool(plan.feed.borderless) or sheet.bleed_mm > 0, self.bleed)
