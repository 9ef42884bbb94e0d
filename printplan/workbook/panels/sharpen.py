"""How much sharpening does the print need at its size?"""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from functools import partial
from time import sleep
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets
import numpy as np

from printplan.errors import PrintPlanError
from printplan.pixels.picture_content import (
    content_key,
    estimated_content,
    known_content,
    picture_content,
)
from printplan.pixels.sharpening import chosen_sharpening, predicted_effect
from printplan.pixels.sharpening_spec import (
    usual_distance_mm,
    usual_restore,
    wished_limits,
)
from printplan.sharpening.choice import MOST_RESTORE
from printplan.spec import SharpenSpec
from printplan.workbook import figures
from printplan.workbook.panels.controls import (
    LengthSlider,
    Slider,
    acts,
    show_if,
    switch,
    text,
)
from printplan.workbook.panels.panel import Panel
from printplan.workbook.pictures import SURROUND, encoded, problem_html
from printplan.workbook.previews import (
    locator,
    master_overview,
    seen_preview,
    unsharpened,
    window_box,
    window_preview,
)
from printplan.workbook.words import advice_words, waiting_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from printplan.pixels.master import Master
    from printplan.pixels.sharpening import SharpenAdvice
    from printplan.pixels.sheet import Sheet
    from printplan.sharpening.content import ContentFacts
    from printplan.sizing.boxes import Box
    from printplan.spec import PrintSpec
    from printplan.workbook.bench import Bench, Change
    from printplan.workbook.drawings.page import Drawing
    from printplan.workbook.panels.panel import Pictures

    Bytes = NDArray[np.uint8]


class Mode(StrEnum):
    """What gain and radius come from."""

    AUTO = "auto"
    """The paper's spread, the viewing distance and the picture's content."""
    MANUAL = "manual"
    """The photographer."""


class View(StrEnum):
    """What is looked at."""

    AFTER = "after"
    BEFORE = "before"
    SIDES = "sides"
    """Before and after, beside each other."""
    AS_SEEN = "as-seen"
    """Both through the paper's spread and an eye at the viewing distance."""


_VIEWS = [
    ("after", View.AFTER),
    ("before", View.BEFORE),
    ("both", View.SIDES),
    ("as seen", View.AS_SEEN),
]
_SHOWN = {
    View.AFTER: "Exact print pixels, after sharpening.",
    View.BEFORE: "Exact print pixels, before sharpening.",
    View.SIDES: "Exact print pixels: before sharpening on the left, after it on the "
    "right.",
    View.AS_SEEN: "Not the file's own pixels: as paper and an eye at the viewing "
    "distance leave them. Before sharpening on the left, after it on the right.",
}

WINDOW_PX = (600, 400)
"""Width and height of the window in which sharpness is judged, until the browser tells
how wide its place is; the width of an output of JupyterLab beside controls, about."""

_WIDEST_WINDOW_PX, _HIGHEST_WINDOW_PX = 1500, 700

SEAM_PX = 4
"""Width of the seam between before and after."""

_LOCATOR_PX = 320
_WORDS_WAIT_S = 0.06


class SharpenPanel(Panel):
    """
    Sharpening, auto or manual, seen in a window of print pixels.

    The picture's content is measured aside: the panel opens without it, and an auto
    sharpening that was asked for meanwhile is chosen when it is known. It is chosen
    anew when size, crop, paper or room change.

    Parameters
    ----------
    across_share, down_share : float, optional
        Where to look first: 0 is the left or upper end of the picture.

    Attributes
    ----------
    restore, halo_limit : Slider
        Of auto sharpening.
    gain, radius : Slider
        Of manual sharpening.
    grain_floor, distance : Slider
        Of both.
    """

    slot: ClassVar[str] = "sharpen"
    title: ClassVar[str] = "Sharpening"
    fits_stage: ClassVar[bool] = True
    column_px: ClassVar[int] = 384
    depends_on: ClassVar[frozenset[str]] = frozenset(
        {"size", "sharpen", "colour", "sheet", "delivery", "room"}
    )

    def __init__(
        self,
        bench: Bench,
        *,
        across_share: float = 0.5,
        down_share: float = 0.5,
        column_only: bool = False,
    ) -> None:
        super().__init__(bench, column_only=column_only)
        self._describing = self._worker(self._show_words)
        self._drawing = self._worker(self._show_drawings, self._show_undrawn)
        self._measuring = self._worker(self._content_known, self._content_failed)
        self._measured: object = None
        self._unmeasured: PrintPlanError | None = None
        self._waits = False
        self._is_estimate = False
        self._chosen_for = self._basis()
        self._thumbnail: tuple[Master, Bytes] | None = None
        self._located: tuple[object, bytes] | None = None
        self._before: tuple[object, Bytes] | None = None
        self._advised: tuple[object, SharpenAdvice] | None = None
        plan = bench.plan
        self.mode = switch("sharpening", [(it, it) for it in Mode])
        self.restore = Slider("restore", 0.0, MOST_RESTORE, 0.05)
        self.halo_limit = Slider("halo limit", 0.01, 0.4, 0.005)
        self.halo_limit.ui.readout_format = ".1%"
        self.gain = Slider("gain", 0.0, 3.0, 0.05)
        self.radius = Slider("radius (mm)", 0.03, 0.6, 0.001, digits=3)
        self.grain_floor = Slider("grain floor (L*)", 0.0, 4.0, 0.05)
        self.distance = LengthSlider(
            "viewing distance", 150.0, 3000.0, step_mm=10.0, digits=0
        )
        self.across = Slider("window, across", 0.0, 1.0, 0.01)
        self.down = Slider("window, down", 0.0, 1.0, 0.01)
        self.restore.show(usual_restore(plan))
        self.halo_limit.show(wished_limits(plan.spec.sharpen).halo_limit)
        self.distance.show_length(usual_distance_mm(plan), plan.spec.lengths_in)
        self.across.show(across_share)
        self.down.show(down_share)
        self.view = switch("show", _VIEWS)
        self.window = widgets.Image(format="jpeg")
        self.place = widgets.Image(format="jpeg")
        self.stage.children = [self.window]
        self.stage.add_class("printplan-exact")
        sliders = (
            self.restore,
            self.halo_limit,
            self.gain,
            self.radius,
            self.grain_floor,
        )
        self._on_wish(*sliders)
        self.distance.on_move(self._guarded(self._seen_from_elsewhere))
        self.mode.observe(self._guarded(self._mode_changed), names="value")
        looking = (self.view, self.across, self.down)
        self._on_view(*looking)
        self._open(
            [
                self.mode,
                *sliders,
                self.distance,
                *([] if column_only else [*looking, self.place]),
            ],
            widgets.VBox([self.stage, self._drawings()]),
        )

    def plan_changed(self, change: Change) -> None:
        """Show a new plan, and choose anew for another size, crop, paper or room."""
        super().plan_changed(change)
        basis = self._basis()
        if change.refusal is None and basis != self._chosen_for:
            self._chosen_for = basis
            if self.is_auto:
                self._guarded(self._ask)()

    @property
    def is_auto(self) -> bool:
        """Whether gain and radius are chosen by paper, distance and content."""
        return self.mode.value is Mode.AUTO

    def _spec(self) -> PrintSpec:
        sharpen = self.bench.spec.sharpen
        if not self.is_auto:
            sharpen = SharpenSpec(
                gain=self.gain.value,
                radius_mm=self.radius.value,
                grain_floor_l=self.grain_floor.value,
                kernel=sharpen.kernel,
            )
        elif (content := self._content()) is not None:
            sharpen = self._advice(content).spec
        return replace(self.bench.spec, sharpen=sharpen)

    def _sync(self) -> None:
        spec = self.bench.spec.sharpen
        if not self._waits:
            chosen = spec.restore is not None and spec.distance_mm is not None
            self.mode.value = Mode.AUTO if chosen else Mode.MANUAL
            for slider, value in (
                (self.gain, spec.gain),
                (self.radius, spec.radius_mm),
                (self.grain_floor, spec.grain_floor_l),
                (self.restore, spec.restore),
                (self.halo_limit, spec.print_halo_limit_share),
            ):
                if value is not None:  # a manual spec has no restore
                    slider.show(value)
            self.distance.show_length(
                self.distance.value_mm
                if spec.distance_mm is None
                else spec.distance_mm,
                self.bench.spec.lengths_in,
            )
            self._show_those_that_matter()
        self._describe()

    def _show_those_that_matter(self) -> None:
        show_if(self.is_auto, self.restore, self.halo_limit)
        show_if(not self.is_auto, self.gain, self.radius)

    def _ask(self) -> None:
        """Ask the bench, now or when the picture's content is known."""
        if self._is_syncing:
            return
        content = self._content()
        self._waits = self.is_auto and content is None
        self._is_estimate = self.is_auto and content != known_content(self.bench.plan)
        if not self._waits:
            super()._ask()
        elif self._unmeasured is not None:
            self._waits = False
            raise self._unmeasured

    def _mode_changed(self) -> None:
        self._show_those_that_matter()
        self._ask()

    def _seen_from_elsewhere(self) -> None:
        if self.is_auto:
            self._ask()
            return
        self._describe()
        if self.view.value is View.AS_SEEN:
            self.repaint()

    # The picture's content

    def _content(self) -> ContentFacts | None:
        """
        Content of the picture if it is known; else its measurement is begun.

        Until that is done, what another size of the picture lets expect is given.
        """
        sheet = self.bench.sheet
        content, key = known_content(sheet.plan), content_key(sheet.plan)
        if content is not None:
            self._measured = self._unmeasured = None
            return content
        if key != self._measured:
            self._measured, self._unmeasured = key, None
            self._measuring.do(lambda: picture_content(sheet))
        return None if self._unmeasured is not None else estimated_content(sheet.plan)

    def _content_known(self, _: ContentFacts) -> None:
        """Go on with what waited for the content, or was chosen by an estimate."""
        self._measured = None
        if self._waits or (self._is_estimate and self.is_auto):
            self._waits = self._is_estimate = False
            self._do(lambda: self.bench.ask(self._spec()))
        with self._faults_shown():
            self._describe()

    def _content_failed(self, problem: PrintPlanError) -> None:
        self._unmeasured = problem
        if self._waits:
            self._waits = False
            self._show_error(problem)
        self._describe()

    def _basis(self) -> tuple[object, ...]:
        """What an auto sharpening depends on, besides its sliders."""
        plan = self.bench.plan
        return content_key(plan), plan.ppi, plan.paper, plan.setup, plan.spec.room

    def _advice(self, content: ContentFacts) -> SharpenAdvice:
        """The auto sharpening, kept while nothing of it changes."""
        plan = self.bench.plan
        limits = replace(
            wished_limits(plan.spec.sharpen),
            halo_limit=self.halo_limit.value,
            grain_floor_l=self.grain_floor.value,
        )
        wish = {"distance_mm": self.distance.value_mm, "restore": self.restore.value}
        asked = (self._basis(), content, limits, *wish.values())
        if self._advised is None or self._advised[0] != asked:
            advice = chosen_sharpening(plan, content, limits=limits, **wish)
            self._advised = (asked, advice)
        return self._advised[1]

    def _describe(self) -> None:
        """Say what is known of the plan's sharpening."""
        plan, content = self.bench.plan, self._content()
        if content is None:
            self.words.value = waiting_words(plan, self._unmeasured).html
            return
        distance_mm = self.distance.value_mm

        def words() -> str:
            # The picture first, and its way to the page.
            self._painter.settle()
            sleep(_WORDS_WAIT_S)
            if plan is not self.bench.plan:
                return str(self.words.value)
            advice = self._advice(content)
            effect = predicted_effect(plan, content, distance_mm=distance_mm)
            return advice_words(plan, effect, advice, distance_mm=distance_mm).html

        self._describing.do(words)
        if self.edge.value or self.responses.value:
            self.note.value = "Drawn for an earlier plan: draw again."

    def _show_words(self, html: str) -> None:
        if self._unmeasured is None:  # else they were of an estimate
            self.words.value = html

    # The window

    def _job(self) -> Callable[[], Pictures]:
        sheet, view, distance_mm = (
            self.bench.sheet,
            self.view.value,
            self.distance.value_mm,
        )
        width, height = self.window_px
        if view in {View.SIDES, View.AS_SEEN}:
            width = (width - SEAM_PX) // 2
        box = self._box(sheet, (width, height))
        shown = _SHOWN[view]
        self.status.value = f'<div role="status">{shown}</div>'
        self.accessibility.describe(self.window, shown)
        self.accessibility.describe(self.place, "Where the window lies in the master.")
        return lambda: [
            (self.window, encoded(self._preview(sheet, view, box, distance_mm))),
            (self.place, self._locator(sheet, box)),
        ]

    @property
    def window_px(self) -> tuple[int, int]:
        """Width and height of all that is shown: as wide as its place on the page."""
        width = min(self.accessibility.stage_px or WINDOW_PX[0], _WIDEST_WINDOW_PX)
        return width, min(
            round(width * WINDOW_PX[1] / WINDOW_PX[0]), _HIGHEST_WINDOW_PX
        )

    def _box(self, sheet: Sheet, size_px: tuple[int, int]) -> Box:
        return window_box(sheet.plan, size_px, self.across.value, self.down.value)

    def _preview(self, sheet: Sheet, view: View, box: Box, distance_mm: float) -> Bytes:
        """Print pixels of a box; those before sharpening are kept for the next time."""

        def preview(of: Sheet) -> Bytes:
            if view is View.AS_SEEN:
                return seen_preview(of, box, distance_mm)
            return window_preview(of, box)

        if view is View.AFTER:
            return preview(sheet)
        plain = unsharpened(sheet)
        shown = (plain.plan, box, distance_mm if view is View.AS_SEEN else None)
        if self._before is None or self._before[0] != shown:
            self._before = (shown, preview(plain))
        before = self._before[1]
        if view is View.BEFORE:
            return before
        seam = np.full((box.height, SEAM_PX, 3), SURROUND, np.uint8)
        return np.hstack([before, seam, preview(sheet)])

    def _locator(self, sheet: Sheet, box: Box) -> bytes:
        """Where the window lies, kept as long as it lies there."""
        master, plan = sheet.master, sheet.plan
        if self._thumbnail is None or self._thumbnail[0] is not master:
            self._thumbnail = (master, master_overview(master, _LOCATOR_PX))
        wanted = (id(master), plan.picture_in_file, plan.crop, box)
        if self._located is None or self._located[0] != wanted:
            framed = locator(self._thumbnail[1], plan, box)
            self._located = (wanted, encoded(framed))
        return self._located[1]

    # Edge and responses, drawn at a press

    def _drawings(self) -> widgets.Accordion:
        """A fold-out for the strongest edge and the responses, empty at first."""
        self.draw = widgets.Button(description="Draw edge and responses")
        self.draw.on_click(self._guarded(self._draw))
        self.note = text("printplan-status")
        fitting = {"max_width": "100%", "object_fit": "contain", "display": "none"}
        self.edge = widgets.Image(format="png", layout=fitting)
        self.responses = widgets.Image(format="png", layout=fitting)
        folded = [acts(self.draw), self.note, self.edge, self.responses]
        return widgets.Accordion(
            [widgets.VBox(folded)],
            titles=("Strongest edge in the window, and frequency responses",),
            selected_index=None,
        )

    def _draw(self) -> None:
        self._content()
        sheet, content = self.bench.sheet, known_content(self.bench.plan)
        if content is None:
            self.note.value = "The picture is still being measured."
            return
        self.note.value = "Drawing."
        box, distance_mm = self._box(sheet, self.window_px), self.distance.value_mm
        self._drawing.do(
            lambda: [
                _drawn(
                    partial(figures.edge_picture, sheet, [box], distance_mm=distance_mm)
                ),
                figures.responses_picture(sheet, content, distance_mm=distance_mm),
            ]
        )

    def _show_drawings(self, drawings: list[Drawing | PrintPlanError]) -> None:
        self.note.value = ""
        for place, drawing in zip((self.edge, self.responses), drawings, strict=True):
            if isinstance(drawing, PrintPlanError):
                place.layout.display = "none"
                self._show_undrawn(drawing)
                continue
            place.value = drawing.png
            place.layout.width = f"{drawing.width_css_px}px"
            place.layout.display = None
            self.accessibility.describe(place, drawing.description)

    def _show_undrawn(self, error: PrintPlanError) -> None:
        self.note.value = problem_html(error)


def _drawn(draw: Callable[[], Drawing]) -> Drawing | PrintPlanError:
    """A drawing, or why there is none: a window need not hold an edge."""
    try:
        return draw()
    except PrintPlanError as error:
        return error
