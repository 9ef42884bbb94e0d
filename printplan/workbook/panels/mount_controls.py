"""What does the print go into, and which lengths does that need?"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from printplan.size.mount_edges import usual_opening_mm
from printplan.spec import MountSpec
from printplan.workbook.panels.controls import choice, show_if
from printplan.workbook.panels.sliders import LengthSlider

if TYPE_CHECKING:
    from collections.abc import Callable

    import ipywidgets as widgets

    from printplan.plan import PrintPlan
    from printplan.units import LengthUnit

_NARROWEST_MM = 40.0
_LEAST_WRAP_MM, _WIDEST_WRAP_MM = 5.0, 80.0
_DEEPEST_MM = 60.0
_FIRST_WRAP_MM, _FIRST_DEPTH_MM = 25.0, 20.0
"""Wrap and bar to begin with, to be replaced by one's own. Our choice."""


class Mounting(StrEnum):
    """What the print goes into."""

    NOTHING = "nothing"
    MAT = "mat"
    STRETCHER = "stretcher"
    BOTH = "both"


_MOUNTINGS = [
    ("in nothing", Mounting.NOTHING),
    ("behind a mat", Mounting.MAT),
    ("round a stretcher", Mounting.STRETCHER),
    ("round a stretcher, in a mat", Mounting.BOTH),
]
_WITH_MAT = {Mounting.MAT, Mounting.BOTH}
_WITH_STRETCHER = {Mounting.STRETCHER, Mounting.BOTH}


class MountControls:
    """
    A choice of mount, and only the lengths that it needs.

    Attributes
    ----------
    mounting : ipywidgets.Dropdown
    opening_width, opening_height, wrap, depth : LengthSlider
    """

    def __init__(self) -> None:
        self.mounting = choice("mounted", _MOUNTINGS)
        self.opening_width = LengthSlider("opening", _NARROWEST_MM, _NARROWEST_MM)
        self.opening_height = LengthSlider("its height", _NARROWEST_MM, _NARROWEST_MM)
        self.wrap = LengthSlider("wrap", _LEAST_WRAP_MM, _WIDEST_WRAP_MM)
        self.depth = LengthSlider("bar depth", 0.0, _DEEPEST_MM)
        self._opening = (self.opening_width, self.opening_height)
        self._stretcher = (self.wrap, self.depth)

    @property
    def controls(self) -> list[widgets.Widget]:
        """All of them, in order."""
        lengths = (*self._opening, *self._stretcher)
        return [self.mounting, *[length.ui for length in lengths]]

    def on_change(self, ask: Callable[[], None]) -> None:
        """
        Be told when the user asks for another mount.

        Parameters
        ----------
        ask : callable
        """
        self.mounting.observe(lambda _: ask(), names="value")
        for length in (*self._opening, *self._stretcher):
            length.on_move(ask)

    def wish(self) -> MountSpec:
        """
        The mount that is asked for.

        Returns
        -------
        MountSpec
        """
        with_mat = self.mounting.value in _WITH_MAT
        with_stretcher = self.mounting.value in _WITH_STRETCHER
        return MountSpec(
            mat_opening_width_mm=self.opening_width.value_mm if with_mat else None,
            mat_opening_height_mm=self.opening_height.value_mm if with_mat else None,
            wrap_mm=self.wrap.value_mm if with_stretcher else 0.0,
            stretcher_depth_mm=self.depth.value_mm if with_stretcher else 0.0,
        )

    def show(self, plan: PrintPlan, unit: LengthUnit) -> None:
        """
        Set the controls to a plan; what is hidden stands at what is usual.

        Parameters
        ----------
        plan : PrintPlan
        unit : LengthUnit
        """
        mount, mounting = plan.spec.mount, mounting_of(plan.spec.mount)
        self.mounting.value = mounting
        usual = usual_opening_mm(plan.layout.picture)
        widest_mm = max(plan.layout.width_mm, plan.layout.height_mm)
        asked = (mount.mat_opening_width_mm, mount.mat_opening_height_mm)
        for length, asked_mm, usual_mm in zip(self._opening, asked, usual, strict=True):
            shown_mm = usual_mm if asked_mm is None else asked_mm
            length.show(shown_mm, unit=unit, high_mm=widest_mm)
        with_stretcher = mounting in _WITH_STRETCHER
        self.wrap.show(mount.wrap_mm if with_stretcher else _FIRST_WRAP_MM, unit=unit)
        depth_mm = mount.stretcher_depth_mm if with_stretcher else _FIRST_DEPTH_MM
        self.depth.show(depth_mm, unit=unit)
        show_if(mounting in _WITH_MAT, *[length.ui for length in self._opening])
        show_if(with_stretcher, *[length.ui for length in self._stretcher])


def mounting_of(mount: MountSpec) -> Mounting:
    """
    What a mount is, in one word.

    Parameters
    ----------
    mount : MountSpec

    Returns
    -------
    Mounting
    """
    with_mat = mount.mat_opening_width_mm is not None
    if mount.wrap_mm > 0 or mount.stretcher_depth_mm > 0:
        return Mounting.BOTH if with_mat else Mounting.STRETCHER
    return Mounting.MAT if with_mat else Mounting.NOTHING
