"""How much sharpening does the print need at its size?"""

from __future__ import annotations

from dataclasses import replace
from time import sleep
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.pixels.picture_content import content_key
from printplan.pixels.sharpening import predicted_effect
from printplan.workbook.panels.controls import Slider, switch
from printplan.workbook.panels.latest_only import BackgroundContent, LatestOnly
from printplan.workbook.panels.panel import Panel, encoded
from printplan.workbook.panels.previews import (
    Looking,
    PrintPreviews,
    View,
    locator,
    master_overview,
)
from printplan.workbook.panels.sharpen_controls import (
    SharpenControls,
    SharpenDrawings,
    drawn_both,
)
from printplan.workbook.panels.words import advice_words, waiting_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.pixels.sharpening import SharpenAdvice
    from printplan.pixels.sheet import Sheet
    from printplan.sharpening.content import ContentFacts
    from printplan.sizing.layout import Box
    from printplan.spec import PrintSpec
    from printplan.workbook.bench import Bench
    from printplan.workbook.panels.panel import Pictures
    from printplan.workbook.panels.sharpen_controls import Drawings
    from printplan.workbook.watchers import Change

_VIEWS = [
    ("after", View.AFTER),
    ("before", View.BEFORE),
    ("both", View.SIDES),
    ("as seen", View.AS_SEEN),
]
WINDOW_PX = (900, 600)
"""Width and height of the window in which sharpness is judged."""

_LOCATOR_PX = 320
_WORDS_WAIT_S = 0.06
_SHOWN = {
    View.AFTER: "Exact print pixels, after sharpening.",
    View.BEFORE: "Exact print pixels, before sharpening.",
    View.SIDES: "Exact print pixels: before sharpening on the left, after it on the "
    "right.",
    View.AS_SEEN: "Not the file's own pixels: as paper and an eye at the distance "
    "leave them. Before sharpening on the left, after it on the right.",
}


class SharpenPanel(Panel):
    """
    Sharpening by paper and distance or by hand, seen in a window of print pixels.

    The picture's content is measured aside: the panel opens without it, and a choice
    by paper and distance that was asked for meanwhile is made when it is known. Such
    a choice is made anew when size, crop, paper or room change.

    Parameters
    ----------
    across_share, down_share : float, optional
        Where to look first: 0 is the left or upper end of the picture.
    """

    seat: ClassVar[str] = "sharpen"
    title: ClassVar[str] = "sharpening"
    column_px: ClassVar[int] = 352
    depends_on: ClassVar[frozenset[str]] = frozenset(
        {"size", "sharpen", "colour", "sheet", "delivery", "room"}
    )

    def __init__(
        self, bench: Bench, *, across_share: float = 0.5, down_share: float = 0.5
    ) -> None:
        super().__init__(bench)
        self.content = BackgroundContent(self._content_known, bench.holding)
        self._thumbnail = master_overview(bench.master, _LOCATOR_PX)
        self._looks = PrintPreviews()
        self._telling: LatestOnly[str] = LatestOnly(
            self._show_words, self._complain, bench.holding
        )
        self._located: tuple[object, bytes] | None = None
        self._advised: tuple[object, SharpenAdvice] | None = None
        self._waits = False
        self._chosen_for = self._basis()
        self.controls = SharpenControls(bench.plan)
        self.across = Slider("look, across", 0.0, 1.0, 0.01)
        self.down = Slider("look, down", 0.0, 1.0, 0.01)
        self.across.show(across_share)
        self.down.show(down_share)
        self.view = switch("show", _VIEWS)
        self.window = widgets.Image(format="jpeg")
        self.place = widgets.Image(format="jpeg")
        self.stage.children = [self.window]
        self.stage.add_class("printplan-exact")
        self.controls.on_wish(self._wished)
        self.controls.distance.on_move(self._seen_from_elsewhere)
        self.controls.decided_by.observe(
            self._guarded(self._decided_otherwise), names="value"
        )
        self.across.on_move(self.repaint)
        self.down.on_move(self.repaint)
        self._on_view(self.view)
        self.drawings = SharpenDrawings(self.manners, self._drawing_job, bench.holding)
        seen = widgets.VBox([self.stage, self.drawings.ui])
        self._open(
            [
                self.controls.ui,
                self.view,
                self.across.ui,
                self.down.ui,
                self.place,
            ],
            seen,
        )

    @property
    def gain(self) -> Slider:
        """The gain, by hand."""
        return self.controls.gain

    @property
    def radius(self) -> Slider:
        """The radius, by hand."""
        return self.controls.radius

    @property
    def looking(self) -> Looking:
        """Where and how the print is looked at."""
        return Looking(
            view=self.view.value,
            across_share=self.across.value,
            down_share=self.down.value,
            distance_mm=self.controls.distance.value,
        )

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until content and pictures are those of the plan.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return (
            self.content.settle(timeout_s)
            and super().settle(timeout_s)
            and self._telling.settle(timeout_s)
            and self.drawings.settle(timeout_s)
        )

    def plan_changed(self, change: Change) -> None:
        """Show a new plan, and choose anew for another size, crop, paper or room."""
        super().plan_changed(change)
        basis = self._basis()
        if change.refusal is None and basis != self._chosen_for:
            self._chosen_for = basis
            if self.controls.is_by_paper:
                self._wished()

    def _wish(self) -> PrintSpec:
        if not self.controls.is_by_paper:
            sharpen = self.controls.by_hand()
        elif (content := self.content.of(self.bench.sheet)) is not None:
            sharpen = self._advice(content).spec
        else:
            sharpen = self.bench.spec.sharpen
        return replace(self.bench.spec, sharpen=sharpen)

    def _sync(self) -> None:
        if not self._waits:
            self.controls.show(self.bench.spec.sharpen)
        self._tell()

    def _lay_anew(self) -> None:
        self._thumbnail = master_overview(self.bench.master, _LOCATOR_PX)

    def _wished(self) -> None:
        """Ask the bench, now or when the picture's content is known."""
        if self._is_syncing:
            return
        needed = self.controls.is_by_paper
        if needed and self.content.of(self.bench.sheet) is None:
            if self.content.problem is not None:
                raise self.content.problem
            self._waits = True
            return
        self._waits = False
        self._ask()

    def _decided_otherwise(self) -> None:
        self.controls.show_those_that_matter()
        self._wished()

    def _seen_from_elsewhere(self) -> None:
        if self.controls.is_by_paper:
            self._wished()
            return
        self._tell()
        if self.view.value is View.AS_SEEN:
            self.repaint()

    def _content_known(self) -> None:
        """What waited for the content goes on, in the worker's thread."""
        problem = self.content.problem
        if self._waits and problem is not None:
            self._waits = False
            self._complain(problem)
        elif self._waits:
            self._waits = False
            self._do(lambda: self.bench.ask(self._wish()))
        with self._faults_shown():
            self._tell()

    def _tell(self) -> None:
        """Say what is known of the plan's sharpening."""
        plan = self.bench.plan
        content = self.content.of(self.bench.sheet)
        if content is None:
            self.words.value = waiting_words(plan, self.content.problem).html
            return
        distance_mm = self.controls.distance.value

        def words() -> str:
            # The picture first, and its way to the page.
            self._newest.settle()
            sleep(_WORDS_WAIT_S)
            if plan is not self.bench.plan:
                return str(self.words.value)
            advice = self._advice(content)
            effect = predicted_effect(plan, content, distance_mm=distance_mm)
            return advice_words(plan, effect, advice, distance_mm=distance_mm).html

        self._telling.do(self._with_faults_shown(words))
        self.drawings.outdated()

    def _show_words(self, html: str) -> None:
        self.words.value = html

    def _advice(self, content: ContentFacts) -> SharpenAdvice:
        """What paper and distance ask for, kept while nothing of it changes."""
        controls = self.controls
        asked = (
            self._basis(),
            controls.distance.value,
            controls.restore.value,
            controls.halo_limit.value,
            controls.grain_floor.value,
        )
        if self._advised is None or self._advised[0] != asked:
            self._advised = (asked, controls.advice(self.bench.plan, content))
        return self._advised[1]

    def _basis(self) -> tuple[object, ...]:
        """What a choice by paper and distance depends on, besides the wish."""
        plan = self.bench.plan
        return content_key(plan), plan.ppi, plan.paper, plan.setup, plan.spec.room

    def _drawing_job(self) -> Callable[[], Drawings] | None:
        sheet, looking = self.bench.sheet, self.looking
        content = self.content.of(sheet)
        if content is None:
            return None
        box = replace(looking, view=View.AFTER).box(sheet.plan, WINDOW_PX)
        return lambda: drawn_both(sheet, content, box, distance_mm=looking.distance_mm)

    def _job(self) -> Callable[[], Pictures]:
        sheet, looking = self.bench.sheet, self.looking
        shown = _SHOWN[looking.view]
        self.status.value = f'<div role="status">{shown}</div>'

        def compute() -> Pictures:
            box = looking.box(sheet.plan, WINDOW_PX)
            self.manners.describe(self.window, shown)
            self.manners.describe(self.place, "Where the window lies in the master.")
            return [
                (self.window, encoded(self._looks.look(sheet, looking, box))),
                (self.place, self._locator(sheet, box)),
            ]

        return compute

    def _locator(self, sheet: Sheet, box: Box) -> bytes:
        """Where the window lies, kept as long as it lies there."""
        picture, crop = sheet.plan.picture_in_file, sheet.plan.picture_size.crop
        wanted = (id(self._thumbnail), picture, crop, box)
        if self._located is None or self._located[0] != wanted:
            look = locator(self._thumbnail, sheet.plan, box)
            self._located = (wanted, encoded(look))
        return self._located[1]
