"""How is a sharpening asked for, and which curves stand behind it?"""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from typing import TYPE_CHECKING

import ipywidgets as widgets

from printplan.errors import PrintPlanError
from printplan.pixels.sharpening import (
    added_response,
    chosen_sharpening,
    predicted_effect,
    print_chain,
)
from printplan.pixels.sharpening_spec import (
    usual_distance_mm,
    usual_restore,
    wished_limits,
)
from printplan.pixels.strongest_edge import strongest_edge
from printplan.sharpening.calibration import spread_on
from printplan.sharpening.choice import MOST_RESTORE
from printplan.spec import SharpenSpec
from printplan.workbook.drawings.page import as_drawing
from printplan.workbook.drawings.response import (
    edge_figure,
    response_words,
    responses_figure,
)
from printplan.workbook.panels.controls import Slider, acts, show_if, switch
from printplan.workbook.panels.latest_only import LatestOnly
from printplan.workbook.panels.panel import problem_html

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.pixels.sharpening import SharpenAdvice
    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.sharpening.content import ContentFacts
    from printplan.sizing.layout import Box
    from printplan.workbook.drawings.page import Drawing
    from printplan.workbook.panels.controls import Accessibility
    from printplan.workbook.panels.latest_only import Holding

    Drawings = list[Drawing | PrintPlanError]
    """What was drawn, or why it could not be, in the order of the fold-out."""


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
    restore, halo_limit, grain_floor, distance, gain, radius : Slider
        The grain floor serves both; the distance is looked from in both.
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
        """Be told when another sharpening is wished for."""
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
        self._kernel = spec.kernel
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
        """Gain and radius as they stand."""
        return SharpenSpec(
            gain=self.gain.value,
            radius_mm=self.radius.value,
            grain_floor_l=self.grain_floor.value,
            kernel=self._kernel,
        )

    def advice(self, plan: PrintPlan, content: ContentFacts) -> SharpenAdvice:
        """What paper and distance ask for, under the limits as they stand."""
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


class SharpenDrawings:
    """
    A fold-out with the strongest edge and the responses, drawn at a press.

    Parameters
    ----------
    manners : Accessibility
        Of the panel that it belongs to.
    job : callable
        Gives the drawing to be done as things stand at the press; None if there is
        nothing to draw from yet.
    holding : callable
        As `LatestOnly` takes it.

    Attributes
    ----------
    edge, responses : ipywidgets.Image
        Empty and hidden until they are drawn.
    """

    def __init__(
        self,
        manners: Accessibility,
        job: Callable[[], Callable[[], Drawings] | None],
        holding: Holding,
    ) -> None:
        self._manners = manners
        self._job = job
        self._newest: LatestOnly[Drawings] = LatestOnly(
            self._show, self._complain, holding
        )
        self.draw = widgets.Button(description="draw edge and responses")
        self.note = widgets.HTML()
        self.note.add_class("printplan-status")
        fitting = {"max_width": "100%", "object_fit": "contain", "display": "none"}
        self.edge = widgets.Image(format="png", layout=fitting)
        self.responses = widgets.Image(format="png", layout=fitting)
        self._places = (self.edge, self.responses)
        folded = widgets.VBox([acts(self.draw), self.note, *self._places])
        self.ui = widgets.Accordion(
            [folded],
            titles=("strongest edge in the window, and responses",),
            selected_index=None,
        )
        self.draw.on_click(self._pressed)

    def outdated(self) -> None:
        """Say that what was drawn belongs to an earlier plan."""
        if any(place.value for place in self._places):
            self.note.value = "Drawn for an earlier choice: draw again."

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until nothing is being drawn.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return self._newest.settle(timeout_s)

    def _pressed(self, _: widgets.Button) -> None:
        job = self._job()
        if job is None:
            self.note.value = "The picture is still being measured."
            return
        self.note.value = "Drawing."
        self._newest.do(job)

    def _show(self, drawings: Drawings) -> None:
        refusals = [it for it in drawings if isinstance(it, PrintPlanError)]
        self.note.value = "".join(problem_html(it) for it in refusals)
        for place, drawing in zip(self._places, drawings, strict=True):
            if isinstance(drawing, PrintPlanError):
                place.layout.display = "none"
                continue
            place.value = drawing.png
            place.layout.width = f"{drawing.width_css_px}px"
            place.layout.display = None
            self._manners.describe(place, drawing.description)

    def _complain(self, error: PrintPlanError) -> None:
        self.note.value = problem_html(error)


def drawn_both(
    sheet: Sheet, content: ContentFacts, box: Box, *, distance_mm: float
) -> Drawings:
    """
    The edge of a window and the responses of its print.

    Parameters
    ----------
    content : ContentFacts
        Of `picture_content` for that sheet.
    box : Box
        In file pixels.
    distance_mm : float
        Eye to paper.

    Returns
    -------
    list of Drawing or PrintPlanError
        A window without an edge gives the reason in the place of its drawing.
    """
    edge: Drawing | PrintPlanError
    try:
        edge = drawn_edge(sheet, box, distance_mm=distance_mm)
    except PrintPlanError as error:
        edge = error
    return [edge, drawn_responses(sheet, content, distance_mm=distance_mm)]


def drawn_edge(sheet: Sheet, box: Box, *, distance_mm: float) -> Drawing:
    """
    The strongest edge of a window before sharpening, in the file and in the print.

    Parameters
    ----------
    box : Box
        In file pixels.
    distance_mm : float
        Eye to paper.

    Raises
    ------
    SpecError
        If the window has no straight edge between even tones.
    """
    plan = sheet.plan
    spread = spread_on(plan.paper, plan.setup).spread
    edge = strongest_edge(sheet, box, spread=spread, distance_mm=distance_mm)
    return as_drawing(edge_figure(edge, paper=plan.paper.name), edge.words)


def drawn_responses(
    sheet: Sheet, content: ContentFacts, *, distance_mm: float
) -> Drawing:
    """
    What each step of the print does to detail, and what reaches the eye.

    Parameters
    ----------
    content : ContentFacts
        Of `picture_content` for that sheet.
    distance_mm : float
        Eye to paper.
    """
    plan = sheet.plan
    chain = print_chain(plan, content, distance_mm=distance_mm)
    effect = predicted_effect(plan, content, distance_mm=distance_mm)
    figure = responses_figure(
        chain, effect, paper=plan.paper.name, added=added_response(plan, chain)
    )
    return as_drawing(figure, response_words(chain, effect))
