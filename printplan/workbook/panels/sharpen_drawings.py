"""Which curves stand behind a choice of sharpening? They are drawn when asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import ipywidgets as widgets

from printplan.errors import PrintPlanError
from printplan.pixels.sharpening import added_response, predicted_effect, print_chain
from printplan.pixels.strongest_edge import strongest_edge
from printplan.sharpness.learned import spread_on
from printplan.workbook.drawings.edge_profile import edge_figure
from printplan.workbook.drawings.page import as_drawing
from printplan.workbook.drawings.response_curves import (
    response_words,
    responses_figure,
)
from printplan.workbook.panels.controls import acts
from printplan.workbook.panels.newest import Newest
from printplan.workbook.panels.panel import problem_html

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.pixels.sheet import Sheet
    from printplan.sharpness.content import ContentFacts
    from printplan.size.layout import Box
    from printplan.workbook.drawings.page import Drawing
    from printplan.workbook.panels.manners import Manners
    from printplan.workbook.panels.newest import Holding

    Drawings = list[Drawing | PrintPlanError]
    """What was drawn, or why it could not be, in the order of the fold-out."""


class SharpenDrawings:
    """
    A fold-out with the strongest edge and the responses, drawn at a press.

    Parameters
    ----------
    manners : Manners
        Of the panel that it belongs to.
    job : callable
        Gives the drawing to be done as things stand at the press; None if there is
        nothing to draw from yet.
    holding : callable
        As `Newest` takes it.

    Attributes
    ----------
    draw : ipywidgets.Button
    edge, responses : ipywidgets.Image
        Empty and hidden until they are drawn.
    ui : ipywidgets.Accordion
    """

    def __init__(
        self,
        manners: Manners,
        job: Callable[[], Callable[[], Drawings] | None],
        holding: Holding,
    ) -> None:
        self._manners = manners
        self._job = job
        self._newest: Newest[Drawings] = Newest(self._show, self._complain, holding)
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

        Parameters
        ----------
        timeout_s : float, optional

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
    sheet : Sheet
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
    sheet : Sheet
    box : Box
        In file pixels.
    distance_mm : float
        Eye to paper.

    Returns
    -------
    Drawing

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
    sheet : Sheet
    content : ContentFacts
        Of `picture_content` for that sheet.
    distance_mm : float
        Eye to paper.

    Returns
    -------
    Drawing
    """
    plan = sheet.plan
    chain = print_chain(plan, content, distance_mm=distance_mm)
    effect = predicted_effect(plan, content, distance_mm=distance_mm)
    figure = responses_figure(
        chain, effect, paper=plan.paper.name, added=added_response(plan, chain)
    )
    return as_drawing(figure, response_words(chain, effect))
