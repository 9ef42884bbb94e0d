"""What does the print go into, and what is round the picture?"""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from typing import TYPE_CHECKING, ClassVar, Protocol

import ipywidgets as widgets

from printplan.pixels.block_view import block_picture
from printplan.pixels.comparisons import printed_proof
from printplan.pixels.sheet import Appearance
from printplan.record.decision_sheet.sheet_drawing import draw_sheet
from printplan.workbook.panels.controls import LengthSlider, choice, show_if
from printplan.workbook.panels.mat_controls import MatControls
from printplan.workbook.panels.panel import Exactness, Panel
from printplan.workbook.panels.white_controls import WhiteControls
from printplan.workbook.panels.wrap_controls import WrapControls
from printplan.workbook.pictures import encoded
from printplan.workbook.previews import MASTER_PX
from printplan.workbook.words import mat_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.spec import MountSpec, PrintSpec
    from printplan.units import LengthUnit
    from printplan.workbook.bench import Bench
    from printplan.workbook.panels.controls import Control
    from printplan.workbook.panels.panel import Pictures


class ControlGroup(Protocol):
    """
    Controls of one matter in a panel.

    Attributes
    ----------
    controls : tuple of Control
        From the top.
    """

    controls: tuple[Control, ...]

    def wish(self, spec: PrintSpec) -> PrintSpec:
        """The spec with what these controls ask for."""

    def show(self, plan: PrintPlan, unit: LengthUnit) -> None:
        """Set the controls to a plan, and show those that matter."""


class Mounting(StrEnum):
    """What the print goes into."""

    NOTHING = "nothing"
    MAT = "mat"
    STRETCHER = "stretcher"
    BOTH = "both"


_MOUNTINGS = [
    ("none", Mounting.NOTHING),
    ("mat", Mounting.MAT),
    ("stretcher", Mounting.STRETCHER),
    ("stretcher and mat", Mounting.BOTH),
]
_WITH_MAT = {Mounting.MAT, Mounting.BOTH}
_WITH_STRETCHER = {Mounting.STRETCHER, Mounting.BOTH}


def mounting_of(mount: MountSpec) -> Mounting:
    """What a mount is, in one word."""
    if mount.wrap_mm > 0 or mount.stretcher_depth_mm > 0:
        return Mounting.BOTH if mount.has_mat else Mounting.STRETCHER
    return Mounting.MAT if mount.has_mat else Mounting.NOTHING


_LEAST_WRAP_MM, _WIDEST_WRAP_MM = 5.0, 80.0
_DEEPEST_MM = 60.0
_FIRST_WRAP_MM, _FIRST_DEPTH_MM = 25.0, 20.0
"""Wrap and bar to begin with, to be replaced by one's own. Our choice."""


class StretcherControls:
    """Wrap and bar of a stretcher, if there is one."""

    def __init__(self, mounting: widgets.Dropdown) -> None:
        self._mounting = mounting
        self.wrap = LengthSlider("wrap", _LEAST_WRAP_MM, _WIDEST_WRAP_MM)
        self.depth = LengthSlider("bar depth", 0.0, _DEEPEST_MM)
        self.controls: tuple[Control, ...] = (self.wrap, self.depth)

    def wish(self, spec: PrintSpec) -> PrintSpec:
        """The spec with this stretcher, or without one."""
        with_stretcher = self._mounting.value in _WITH_STRETCHER
        mount = replace(
            spec.mount,
            wrap_mm=self.wrap.value_mm if with_stretcher else 0.0,
            stretcher_depth_mm=self.depth.value_mm if with_stretcher else 0.0,
        )
        return replace(spec, mount=mount)

    def show(self, plan: PrintPlan, unit: LengthUnit) -> None:
        """Set the controls to a plan; what is hidden stands at what is usual."""
        mount = plan.spec.mount
        with_stretcher = mounting_of(mount) in _WITH_STRETCHER
        self.wrap.show_length(mount.wrap_mm if with_stretcher else _FIRST_WRAP_MM, unit)
        depth_mm = mount.stretcher_depth_mm if with_stretcher else _FIRST_DEPTH_MM
        self.depth.show_length(depth_mm, unit)
        show_if(with_stretcher, *self.controls)


_DRAWING_MM = (150.0, 105.0)
_DRAWING_CSS_PX = 680


class MountPanel(Panel):
    """
    Mat and frame, canvas, and what lies on the white outside the picture.

    Attributes
    ----------
    groups : tuple of ControlGroup
        Each asks for its own part of the spec.
    """

    slot: ClassVar[str] = "mount"
    title: ClassVar[str] = "Mount and edges"
    exactness: ClassVar[Exactness | None] = Exactness.OVERVIEW
    depends_on: ClassVar[frozenset[str]] = frozenset(
        {
            *("size", "sheet", "colour", "mount", "wrap", "white"),
            *("delivery", "lengths_in"),
        }
    )
    column_px: ClassVar[int] = 424

    def __init__(self, bench: Bench, *, column_only: bool = False) -> None:
        super().__init__(bench, column_only=column_only)
        self.mounting = choice("mount", _MOUNTINGS)
        self.mat = MatControls(lambda: self.mounting.value in _WITH_MAT)
        self.stretcher = StretcherControls(self.mounting)
        self.wrap = WrapControls()
        self.white = WhiteControls()
        self.groups: tuple[ControlGroup, ...] = (
            self.mat,
            self.stretcher,
            self.wrap,
            self.white,
        )
        self.drawing = widgets.Image(
            format="svg+xml", layout={"width": f"{_DRAWING_CSS_PX}px"}
        )
        self.block = widgets.Image(format="jpeg", layout={"max_width": "100%"})
        self.block.add_class("printplan-block")
        self.accessibility.describe(
            self.block, "The canvas on its bar, from two corners: all four sides"
        )
        self.stage.children = [self.drawing]
        self.stage.add_class("printplan-fits")
        controls = [
            self.mounting,
            *(it for part in self.groups for it in part.controls),
        ]
        self._on_wish(*controls)
        self._open([*controls, self.block])

    def _spec(self) -> PrintSpec:
        spec = self.bench.spec
        for part in self.groups:
            spec = part.wish(spec)
        return spec

    def _sync(self) -> None:
        plan = self.bench.plan
        self.mounting.value = mounting_of(plan.spec.mount)
        for part in self.groups:
            part.show(plan, plan.spec.lengths_in)
        self.words.value = mat_words(plan).html
        show_if(plan.spec.wrap.is_wrapped and bool(self.block.value), self.block)

    def _pictures(self) -> Callable[[], Pictures] | None:
        """The block always: it is a part of the column."""
        is_wrapped = self.bench.spec.wrap.is_wrapped
        return self._job() if is_wrapped or not self._column_only else None

    def _show(self, pictures: Pictures) -> None:
        super()._show(pictures)
        show_if(self.bench.spec.wrap.is_wrapped, self.block)

    def _job(self) -> Callable[[], Pictures]:
        sheet, with_drawing = self.bench.sheet, not self._column_only

        def compute() -> Pictures:
            pictures = []
            if with_drawing:
                pictures.append((self.drawing, self._drawn(sheet)))
            if sheet.plan.spec.wrap.is_wrapped:
                look = block_picture(sheet, MASTER_PX, Appearance.PAPER_ALONE)
                pictures.append((self.block, encoded(look)))
            return pictures

        return compute

    def _drawn(self, sheet: Sheet) -> bytes:
        """The sheet with what is round the picture, in SVG."""
        look = printed_proof(sheet, sheet.overview(MASTER_PX), Appearance.PAPER_ALONE)
        width_mm, height_mm = _DRAWING_MM
        drawn = draw_sheet(
            sheet.plan, encoded(look), width_mm=width_mm, height_mm=height_mm
        )
        self.page.do(
            lambda: self.accessibility.describe(self.drawing, drawn.description)
        )
        return drawn.svg.encode()
