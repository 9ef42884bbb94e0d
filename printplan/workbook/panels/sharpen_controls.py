"""How does a photographer say which sharpening is wanted?"""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from typing import TYPE_CHECKING

import ipywidgets as widgets

from printplan.pixels.sharpening import chosen_sharpening
from printplan.pixels.sharpening_spec import (
    usual_distance_mm,
    usual_restore,
    wished_limits,
)
from printplan.sharpness.choose import MOST_RESTORE
from printplan.spec import SharpenSpec
from printplan.workbook.panels.controls import show_if, switch
from printplan.workbook.panels.sliders import Slider

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.pixels.sharpening import SharpenAdvice
    from printplan.plan import PrintPlan
    from printplan.sharpness.content import ContentFacts


class DecidedBy(StrEnum):
    """Who decides on gain and radius."""

    PAPER = "paper"
    """The paper's spread, the viewer's distance and the picture's content."""
    HAND = "hand"
    """The photographer."""


class SharpenControls:
    """
    The wish for sharpening: by paper and distance, or gain and radius by hand.

    Parameters
    ----------
    plan : PrintPlan
        What it begins with.

    Attributes
    ----------
    decided_by : ipywidgets.ToggleButtons
    restore, halo_limit, grain_floor, distance, gain, radius : Slider
        The grain floor serves both; the distance is looked from in both.
    ui : ipywidgets.VBox
    """

    def __init__(self, plan: PrintPlan) -> None:
        self.decided_by = switch(
            "decided by",
            [("paper, distance", DecidedBy.PAPER), ("hand", DecidedBy.HAND)],
        )
        self.restore = Slider("restore", 0.0, MOST_RESTORE, 0.05)
        self.halo_limit = Slider("halo limit", 0.01, 0.4, 0.005)
        self.halo_limit.ui.readout_format = ".1%"
        self.grain_floor = Slider("grain floor (L*)", 0.0, 4.0, 0.05)
        self.distance = Slider("seen from (mm)", 150.0, 3000.0, 10.0, digits=0)
        self.gain = Slider("gain", 0.0, 3.0, 0.05)
        self.radius = Slider("radius (mm)", 0.03, 0.6, 0.001, digits=3)
        self.restore.show(usual_restore(plan))
        self.halo_limit.show(wished_limits(plan.spec.sharpen).halo_limit)
        self.distance.show(usual_distance_mm(plan))
        self.ui = widgets.VBox(
            [
                self.decided_by,
                self.restore.ui,
                self.halo_limit.ui,
                self.gain.ui,
                self.radius.ui,
                self.grain_floor.ui,
                self.distance.ui,
            ]
        )

    @property
    def is_by_paper(self) -> bool:
        """Whether paper and distance decide."""
        return self.decided_by.value is DecidedBy.PAPER

    def on_wish(self, asked: Callable[[], None]) -> None:
        """
        Be told when another sharpening is wished for.

        Parameters
        ----------
        asked : callable
        """
        for slider in (
            self.restore,
            self.halo_limit,
            self.grain_floor,
            self.gain,
            self.radius,
        ):
            slider.on_move(asked)

    def show(self, spec: SharpenSpec) -> None:
        """
        Set the controls to a plan's sharpening.

        Parameters
        ----------
        spec : SharpenSpec
            What it does not say stays as it is: a plan by hand has no restore.
        """
        by_paper = spec.restore is not None and spec.distance_mm is not None
        self.decided_by.value = DecidedBy.PAPER if by_paper else DecidedBy.HAND
        self.gain.show(spec.gain)
        self.radius.show(spec.radius_mm)
        self.grain_floor.show(spec.grain_floor_l)
        if spec.restore is not None:
            self.restore.show(spec.restore)
        if spec.distance_mm is not None:
            self.distance.show(spec.distance_mm)
        if spec.print_halo_limit_share is not None:
            self.halo_limit.show(spec.print_halo_limit_share)
        self.show_those_that_matter()

    def show_those_that_matter(self) -> None:
        """Hide what the other way of deciding would ask."""
        show_if(self.is_by_paper, self.restore.ui, self.halo_limit.ui)
        show_if(not self.is_by_paper, self.gain.ui, self.radius.ui)

    def by_hand(self) -> SharpenSpec:
        """
        Gain and radius as they stand.

        Returns
        -------
        SharpenSpec
        """
        return SharpenSpec(
            gain=self.gain.value,
            radius_mm=self.radius.value,
            grain_floor_l=self.grain_floor.value,
        )

    def advice(self, plan: PrintPlan, content: ContentFacts) -> SharpenAdvice:
        """
        What paper and distance ask for, under the limits as they stand.

        Parameters
        ----------
        plan : PrintPlan
        content : ContentFacts

        Returns
        -------
        SharpenAdvice
        """
        return chosen_sharpening(
            plan,
            content,
            distance_mm=self.distance.value,
            restore=self.restore.value,
            limits=replace(
                wished_limits(plan.spec.sharpen),
                halo_limit=self.halo_limit.value,
                grain_floor_l=self.grain_floor.value,
            ),
        )
