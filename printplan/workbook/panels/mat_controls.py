"""Which mat and frame are asked for, by an opening and by what is round it?"""

from __future__ import annotations

from dataclasses import fields, replace
from enum import StrEnum
from math import ceil
from typing import TYPE_CHECKING, Any

from printplan.record.decision_sheet.sheet_drawing import mat_of
from printplan.sizing.mats import MAT_OVERLAP_MM, size_mm, usual_opening_mm
from printplan.spec import NARROWEST_BOARD_MM, MatMargins, MountSpec
from printplan.workbook.panels.controls import LengthSlider, choice, offer, show_if

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.plan import PrintPlan
    from printplan.spec import PrintSpec
    from printplan.units import LengthUnit
    from printplan.workbook.panels.controls import Control


class OpeningBy(StrEnum):
    """What the mat's opening follows from."""

    SIZE = "size"
    OVERLAP = "overlap"
    WHITE = "white"


class MatBy(StrEnum):
    """What the mat's own size follows from."""

    FRAME = "frame"
    SIZE = "size"
    MARGIN = "margin"


class Framing(StrEnum):
    """Whether there is a frame."""

    NONE = "none"
    SIZE = "size"


_OPENINGS = [
    ("its size", OpeningBy.SIZE),
    ("what it covers", OpeningBy.OVERLAP),
    ("white that it shows", OpeningBy.WHITE),
]
_FRAMES = [("none", Framing.NONE), ("by its glass", Framing.SIZE)]
_OWN_SIZES = [("its own size", MatBy.SIZE), ("its margins", MatBy.MARGIN)]
_MARGINS = [
    ("equal above and below", MatMargins.EQUAL),
    ("wider at the foot", MatMargins.BOTTOM_WEIGHTED),
    ("optical centre", MatMargins.OPTICAL_CENTRE),
]
_NARROWEST_MM = 40.0
_MOST_OVERLAP_MM, _MOST_WHITE_MM = 20.0, 100.0
_WIDEST_MARGIN_MM, _MOST_FOOT_MM, _MOST_REBATE_MM = 200.0, 80.0, 30.0
_LARGEST_MM = 1200.0
_FIRST_WHITE_MM, _FIRST_BELOW_MM = 10.0, 20.0
_FIRST_MARGIN_MM, _FIRST_FOOT_MM, _FIRST_REBATE_MM = 60.0, 10.0, 6.0
"""Lengths to begin with, to be replaced by one's own. Our choice."""

_NO_MAT: dict[str, Any] = {
    it.name: it.default
    for it in fields(MountSpec)
    if it.name.startswith(("mat_", "reveal_", "frame_"))
}
"""All that is said of a mat, as it is without one."""

_ROUND_MM = 10.0
"""A first mat is a multiple of it. Our choice."""


class MatControls:
    """
    Opening, board and frame, and only the lengths that they need.

    Parameters
    ----------
    is_wanted : callable
        Whether there is to be a mat.
    """

    def __init__(self, is_wanted: Callable[[], bool]) -> None:
        self._is_wanted = is_wanted
        self.opening_by = choice("opening by", _OPENINGS)
        self.opening_width = LengthSlider("opening width", _NARROWEST_MM, _NARROWEST_MM)
        self.opening_height = LengthSlider(
            "opening height", _NARROWEST_MM, _NARROWEST_MM
        )
        self.overlap = LengthSlider("overlap", 0.0, _MOST_OVERLAP_MM)
        self.white = LengthSlider("white round", 0.0, _MOST_WHITE_MM)
        self.white_below = LengthSlider("white below", 0.0, _MOST_WHITE_MM)
        self.frame = choice("frame", _FRAMES)
        self.frame_width = LengthSlider("frame width", _NARROWEST_MM, _LARGEST_MM)
        self.frame_height = LengthSlider("frame height", _NARROWEST_MM, _LARGEST_MM)
        self.rebate = LengthSlider("frame hides", 0.0, _MOST_REBATE_MM)
        self.mat_by = choice("mat size by", [("not decided", MatBy.FRAME), *_OWN_SIZES])
        self.mat_width = LengthSlider("mat width", _NARROWEST_MM, _LARGEST_MM)
        self.mat_height = LengthSlider("mat height", _NARROWEST_MM, _LARGEST_MM)
        self.margin = LengthSlider("margin", NARROWEST_BOARD_MM, _WIDEST_MARGIN_MM)
        self.margins = choice("margins", _MARGINS)
        self.foot = LengthSlider("foot wider by", 0.0, _MOST_FOOT_MM)
        self.controls: tuple[Control, ...] = (
            self.opening_by,
            self.opening_width,
            self.opening_height,
            self.overlap,
            self.white,
            self.white_below,
            self.frame,
            self.frame_width,
            self.frame_height,
            self.rebate,
            self.mat_by,
            self.mat_width,
            self.mat_height,
            self.margin,
            self.margins,
            self.foot,
        )

    def wish(self, spec: PrintSpec) -> PrintSpec:
        """The spec with this mat and frame, or without one."""
        asked = dict(_NO_MAT)
        if self._is_wanted():
            asked |= self._opening() | self._frame() | self._board()
        return replace(spec, mount=replace(spec.mount, **asked))

    def _opening(self) -> dict[str, float]:
        if self.opening_by.value is OpeningBy.OVERLAP:
            return {"mat_overlap_mm": self.overlap.value_mm}
        if self.opening_by.value is OpeningBy.WHITE:
            return {
                "reveal_mm": self.white.value_mm,
                "reveal_below_mm": self.white_below.value_mm,
            }
        return {
            "mat_opening_width_mm": self.opening_width.value_mm,
            "mat_opening_height_mm": self.opening_height.value_mm,
        }

    def _frame(self) -> dict[str, float]:
        if self.frame.value is Framing.NONE:
            return {}
        return {
            "frame_width_mm": self.frame_width.value_mm,
            "frame_height_mm": self.frame_height.value_mm,
            "frame_rebate_mm": self.rebate.value_mm,
        }

    def _board(self) -> dict[str, Any]:
        asked: dict[str, Any] = {"mat_margins": self.margins.value}
        if self.margins.value is MatMargins.BOTTOM_WEIGHTED:
            asked["mat_foot_mm"] = self.foot.value_mm
        if self.mat_by.value is MatBy.SIZE:
            asked["mat_outer_width_mm"] = self.mat_width.value_mm
            asked["mat_outer_height_mm"] = self.mat_height.value_mm
        elif self.mat_by.value is MatBy.MARGIN:
            asked["mat_margin_mm"] = self.margin.value_mm
        return asked

    def show(self, plan: PrintPlan, unit: LengthUnit) -> None:
        """Set the controls to a plan; what is hidden stands at what is usual."""
        mount = plan.spec.mount
        self._show_opening(plan, unit)
        self._show_sizes(plan, unit)
        framed = mount.frame_width_mm is not None
        by = _mat_by(mount)
        self.frame.value = Framing.SIZE if framed else Framing.NONE
        as_frame = "as the frame's glass" if framed else "not decided"
        offer(self.mat_by, [(as_frame, MatBy.FRAME), *_OWN_SIZES], by)
        self.margins.value = mount.mat_margins
        weighted = mount.mat_margins is MatMargins.BOTTOM_WEIGHTED
        has_mat = mount.has_mat
        decided = has_mat and (framed or by is not MatBy.FRAME)
        show_if(has_mat, self.opening_by, self.frame, self.mat_by)
        show_if(has_mat and framed, self.frame_width, self.frame_height, self.rebate)
        show_if(has_mat and by is MatBy.SIZE, self.mat_width, self.mat_height)
        show_if(has_mat and by is MatBy.MARGIN, self.margin)
        show_if(decided, self.margins)
        show_if(decided and weighted, self.foot)

    def _show_opening(self, plan: PrintPlan, unit: LengthUnit) -> None:
        mount, layout = plan.spec.mount, plan.layout
        by = _opening_by(mount)
        self.opening_by.value = by
        mat = mat_of(plan)
        shown = (
            usual_opening_mm(layout.picture) if mat is None else size_mm(mat.opening)
        )
        widest_mm = max(layout.width_mm, layout.height_mm)
        asked = (mount.mat_opening_width_mm, mount.mat_opening_height_mm)
        lengths = (self.opening_width, self.opening_height)
        for length, asked_mm, shown_mm in zip(lengths, asked, shown, strict=True):
            length.show_length(
                shown_mm if asked_mm is None else asked_mm, unit, high_mm=widest_mm
            )
        overlap_mm, white_mm = mount.mat_overlap_mm, mount.reveal_mm
        self.overlap.show_length(
            MAT_OVERLAP_MM if overlap_mm is None else overlap_mm, unit
        )
        self.white.show_length(_FIRST_WHITE_MM if white_mm is None else white_mm, unit)
        below_mm = white_mm if mount.reveal_below_mm is None else mount.reveal_below_mm
        self.white_below.show_length(
            _FIRST_BELOW_MM if below_mm is None else below_mm, unit
        )
        has_mat = mount.has_mat
        show_if(
            has_mat and by is OpeningBy.SIZE, self.opening_width, self.opening_height
        )
        show_if(has_mat and by is OpeningBy.OVERLAP, self.overlap)
        show_if(has_mat and by is OpeningBy.WHITE, self.white, self.white_below)

    def _show_sizes(self, plan: PrintPlan, unit: LengthUnit) -> None:
        """Sizes and margins of mat and frame; those not asked for as they would fit."""
        mount, mat = plan.spec.mount, mat_of(plan)
        if mat is None or mat.outer is None:
            fits = tuple(
                ceil((it + 2 * _FIRST_MARGIN_MM) / _ROUND_MM) * _ROUND_MM
                for it in (self.opening_width.value_mm, self.opening_height.value_mm)
            )
        else:
            fits = size_mm(mat.outer)
        margins = None if mat is None else mat.margins
        margin_mm = mount.mat_margin_mm
        if margin_mm is None:
            least_mm = _FIRST_MARGIN_MM if margins is None else margins.least_mm
            margin_mm = max(least_mm, NARROWEST_BOARD_MM)
        self.margin.show_length(margin_mm, unit)
        for lengths, asked in (
            (
                (self.mat_width, self.mat_height),
                (mount.mat_outer_width_mm, mount.mat_outer_height_mm),
            ),
            (
                (self.frame_width, self.frame_height),
                (mount.frame_width_mm, mount.frame_height_mm),
            ),
        ):
            for length, asked_mm, fits_mm in zip(lengths, asked, fits, strict=True):
                length.show_length(fits_mm if asked_mm is None else asked_mm, unit)
        framed = mount.frame_width_mm is not None
        rebate_mm = mount.frame_rebate_mm if framed else _FIRST_REBATE_MM
        self.rebate.show_length(rebate_mm, unit)
        weighted = mount.mat_margins is MatMargins.BOTTOM_WEIGHTED
        self.foot.show_length(mount.mat_foot_mm if weighted else _FIRST_FOOT_MM, unit)


def _opening_by(mount: MountSpec) -> OpeningBy:
    if mount.mat_overlap_mm is not None:
        return OpeningBy.OVERLAP
    return OpeningBy.SIZE if mount.reveal_mm is None else OpeningBy.WHITE


def _mat_by(mount: MountSpec) -> MatBy:
    if mount.mat_outer_width_mm is not None:
        return MatBy.SIZE
    return MatBy.FRAME if mount.mat_margin_mm is None else MatBy.MARGIN
