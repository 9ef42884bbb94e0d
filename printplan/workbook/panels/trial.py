"""Which sharpening looks best on this paper, by a printed sheet of trials?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.errors import PrintPlanError, SpecError
from printplan.free_name import free_paths
from printplan.pixels.look_here import look_here
from printplan.pixels.picture_content import picture_content
from printplan.pixels.render import ending_of, render
from printplan.pixels.sharpening_spec import usual_distance_mm, wished_limits
from printplan.pixels.trials.trial_sheet import (
    PATCH_RANGE_MM,
    TrialSpec,
    TrialTargets,
    make_trial,
    restore_ladder,
)
from printplan.record.margin_page import today
from printplan.record.trial_key import SavedTrialKey, write_trial_key
from printplan.shown_text import escape
from printplan.sizing.trial_layout import TrialCover
from printplan.spec import SheetSpec
from printplan.workbook.figures.sharpness import trial_picture
from printplan.workbook.panels.controls import (
    CONTROL,
    LengthSlider,
    acts,
    choice,
    choose,
    line,
    show_if,
    switch,
    text,
    when_changed,
)
from printplan.workbook.panels.making import Making
from printplan.workbook.panels.panel import Exactness, Panel
from printplan.workbook.panels.trial_answers import Answer, TrialAnswersPanel
from printplan.workbook.words import rendered_words

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from printplan.pixels.look_here import LookHere
    from printplan.pixels.sheet import Sheet
    from printplan.pixels.trials.page import TrialSheet
    from printplan.workbook.bench import Bench, Change
    from printplan.workbook.pictures import Picture


class Part(StrEnum):
    """What is done with trial sheets."""

    MAKE = "make"
    SCAN = "scan"
    PICK = "pick"


_PARTS = [
    ("make a sheet", Part.MAKE),
    ("read its scan", Part.SCAN),
    ("pick a patch", Part.PICK),
]
_COVERS = [("a whole sheet", TrialCover.SHEET), ("a strip of it", TrialCover.STRIP)]
_TARGETS = [
    ("squares, lines and greys", TrialTargets.DRAWN),
    ("none", TrialTargets.NONE),
]
_USUAL_STEPS = "0.25, 0.5, 0.75, 1"
_USUAL_PATCH_MM = (44.0, 33.0)
_LARGEST_PATCH_MM = 120.0
_MOST_STEPS = 12

_PLACES_OVERVIEW_PX = 1200
_USUAL_PLACES = 2
"""Of the places worth a look, those found last: fine detail shows sharpening best."""


@dataclass(frozen=True, slots=True)
class _Laid:
    """A trial sheet that was laid out, or why it could not be."""

    sheet: Sheet
    places: tuple[LookHere, ...]
    trial: TrialSheet | None = None
    picture: Picture | None = None
    problem: PrintPlanError | None = None


class TrialPanel(Panel):
    """
    A trial sheet of the print, and what its print teaches about the paper.

    Parameters
    ----------
    bench : Bench
        What a scan or a pick says goes into its paper book.

    Attributes
    ----------
    part : ipywidgets.ToggleButtons
        What is done: a sheet is made, its scan read, a patch picked.
    places : ipywidgets.VBox
        A box to tick for each place worth a look, once they are found.
    answers : TrialAnswersPanel
        Scan and pick.
    view : ipywidgets.VBox
        The picture of sheet or scan; a page that shows the controls alone has its own
        place for it.
    """

    slot: ClassVar[str] = "trial"
    depends_on: ClassVar[frozenset[str]] = frozenset()
    column_px: ClassVar[int] = 400
    title: ClassVar[str] = "Trial sheet"

    def __init__(self, bench: Bench, *, column_only: bool = False) -> None:
        super().__init__(bench, column_only=column_only)
        self._is_open = False
        self._laid: _Laid | None = None
        self._laid_for: Sheet | None = None
        self._known_places: tuple[Sheet, tuple[LookHere, ...]] | None = None
        self._laying = self._worker(self._show_laid)
        self._making = Making(
            fail=self._show_problem,
            faults=partial(self._faults_shown, aside=True),
            changed=self._allow,
        )
        self.cancel, self.progress = self._making.cancel, self._making.progress
        plan = bench.plan
        self.part = switch("", _PARTS)
        self.part.tooltip = "What is done with a trial sheet"
        self.part.tooltips = [
            "Lay out and render a sheet of patches",
            "What the scan of a printed sheet says of the paper",
            "Which patch looked best from its distance",
        ]
        self.restores = line("restore steps", value=_USUAL_STEPS)
        self.restores.tooltip = "Shares of the paper's loss to put back, 0 to 1.5"
        self.distance = LengthSlider("seen from", 150.0, 3000.0, step_mm=10.0, digits=0)
        self.distance.show_length(
            plan.spec.sharpen.distance_mm or usual_distance_mm(plan),
            plan.spec.lengths_in,
        )
        self.media = widgets.Combobox(
            description="sheet",
            continuous_update=False,
            tooltip="Of this paper, such as A4 or 8.5x11 in; a small one saves paper",
            **CONTROL,
        )
        self.feed = choice("feed path", [])
        self.feed.tooltip = "Way of the trial's sheet into the printer"
        self.cover = switch("covers", _COVERS)
        self.cover.tooltips = [
            "Patches all over the sheet",
            "The top alone; the rest stays white for another print",
        ]
        self.targets = choice("targets", _TARGETS)
        self.targets.tooltip = "A scan is measured on the squares"
        low_mm = PATCH_RANGE_MM[0]
        self.patch_width, self.patch_height = (
            LengthSlider(f"patch {name}", low_mm, _LARGEST_PATCH_MM, step_mm=1.0)
            for name in ("width", "height")
        )
        for slider, length_mm in zip(
            (self.patch_width, self.patch_height), _USUAL_PATCH_MM, strict=True
        ):
            slider.ui.tooltip = "Of each patch, at the scale of the print"
            slider.show_length(length_mm, plan.spec.lengths_in)
        self.places = widgets.VBox()
        self._places_words = text()
        self.lay_out = widgets.Button(
            description="Lay out the trial sheet",
            tooltip="Choose places and steps, and show the sheet; nothing is written",
        )
        self.make = widgets.Button(
            description="Render the trial sheet",
            button_style="primary",
            tooltip="Write its file, and its key beside it; nothing is written over",
        )
        self.result = text()
        self.picture = widgets.Image(format="jpeg")
        self.answers = TrialAnswersPanel(bench, self._show_answered)
        self.stage.children = [self.picture, self.answers.picture]
        self.stage.add_class("printplan-fits")
        self.view = widgets.VBox([self.stage, self.status])
        wishes = (
            self.restores,
            self.distance,
            self.media,
            self.feed,
            self.cover,
            self.targets,
            self.patch_width,
            self.patch_height,
        )
        for control in wishes:
            when_changed(control, self._guarded(self._again))
        self.sheet_part = widgets.VBox(
            [
                self.restores,
                self.distance.ui,
                self.media,
                self.feed,
                self.cover,
                self.targets,
                self.patch_width.ui,
                self.patch_height.ui,
                acts(self.lay_out),
                self._places_words,
                self.places,
                acts(self.make, self.cancel),
                self.progress,
                self.result,
            ]
        )
        self.part.observe(self._guarded(self._show_part), names="value")
        self.lay_out.on_click(self._guarded(self._lay_out))
        self.make.on_click(self._guarded(self._begin))
        self._open([self.part, self.sheet_part, self.answers.ui])
        self._is_open = True
        self._show_part()

    def plan_changed(self, change: Change) -> None:
        """Say that what is laid out was laid out for an earlier plan."""
        super().plan_changed(change)
        if change.refusal is None:
            self._outdate()
        self._allow()

    def settle(self, timeout_s: float = 120.0) -> bool:
        """
        Wait until nothing is being laid out, rendered, read or chosen.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        made = self._making.settle(timeout_s)
        return super().settle(timeout_s) and self.answers.settle(timeout_s) and made

    def _sync(self) -> None:
        plan = self.bench.plan
        unit = plan.spec.lengths_in
        for slider in (self.distance, self.patch_width, self.patch_height):
            slider.show_length(slider.value_mm, unit)
        sheet = plan.spec.sheet
        self.media.options = list(plan.paper.sheets)
        feeds = [(it, it) for it in plan.setup.feeds]
        if list(self.feed.options) != feeds:
            self.feed.options = feeds
            choose(self.feed, sheet.feed)
        if not self.media.value:
            self.media.value = sheet.media_size

    def _show_part(self) -> None:
        part = self.part.value
        show_if(part is Part.MAKE, self.sheet_part)
        show_if(part is not Part.MAKE, self.answers.ui)
        self.answers.show(Answer.SCAN if part is Part.SCAN else Answer.PICK)
        self._show_picture()
        self._allow()

    def _show_picture(self) -> None:
        """Show the sheet, or the scan that is read, or say that there is none yet."""
        part = self.part.value
        is_scan = part is Part.SCAN
        shown = self.answers.picture if is_scan else self.picture
        # Of a sheet made earlier there is only the print itself.
        elsewhere = part is Part.PICK and not self._is_picked_from
        for picture in (self.picture, self.answers.picture):
            show_if(picture is shown and bool(picture.value) and not elsewhere, picture)
        stale = part is Part.MAKE and self._is_stale
        if stale:
            self.stage.add_class("printplan-dimmed")
        else:
            self.stage.remove_class("printplan-dimmed")
        if elsewhere:
            words = "Pick on the printed sheet itself, where the print will hang."
        elif not shown.value:
            words = "No scan is read." if is_scan else "No trial sheet is laid out."
        elif stale:
            words = "Laid out for an earlier plan: lay it out again."
        else:
            words = Exactness.OVERVIEW
        self._show_status(words)

    @property
    def _is_stale(self) -> bool:
        return self._laid_for is not None and self._laid_for is not self.bench.sheet

    def _show_answered(self) -> None:
        if self._is_open:
            self._show_picture()

    @property
    def _is_picked_from(self) -> bool:
        """Whether the sheet that is laid out is the one that a patch is picked of."""
        laid, key = self._laid, self.answers.key
        if laid is None or laid.trial is None or key is None:
            return False
        return laid.trial.key == key

    def _allow(self) -> None:
        """Enable what makes sense now."""
        laid, refused = self._laid, self.bench.refusal is not None
        ready = laid is not None and laid.trial is not None and not self._is_stale
        self.make.disabled = not ready or refused or self._making.is_busy
        self.lay_out.disabled = refused
        self.cancel.disabled = not self._making.is_making
        show_if(self._making.is_making, self.cancel, self.progress)

    # Laying it out

    def _outdate(self) -> None:
        self._show_picture()
        if self._is_stale:
            self.places.children = ()
            self._places_words.value = ""

    def _again(self) -> None:
        """Lay it out anew as the controls say now, if it is laid out."""
        if self._laid_for is self.bench.sheet and not self._is_syncing:
            self._lay_out()

    def _lay_out(self) -> None:
        bench, sheet = self.bench, self.bench.sheet
        self._clear_error()
        restores = _restores(self.restores.value)
        spec = self._trial_spec()
        distance_mm = self.distance.value_mm
        ticked = [it.value for it in self.places.children]
        known = self._known_places
        self._laid, self._laid_for = None, sheet
        self._allow()
        self._show_status("Laying it out: the picture is being measured.")

        def compute() -> _Laid:
            if known is not None and known[0] is sheet:
                places = known[1]
            else:
                places = look_here(sheet, sheet.overview(_PLACES_OVERVIEW_PX))
            if len(ticked) == len(places):
                chosen = [it for it, is_on in zip(places, ticked, strict=True) if is_on]
            else:
                chosen = list(places[-_USUAL_PLACES:])
            try:
                steps = restore_ladder(
                    sheet,
                    picture_content(sheet),
                    restores,
                    distance_mm=distance_mm,
                    limits=wished_limits(bench.spec.sharpen),
                )
                windows = [it.box for it in chosen]
                _require_place(windows)
                trial = make_trial(sheet, steps, windows, spec)
                return _Laid(sheet, places, trial, trial_picture(trial))
            except PrintPlanError as error:
                return _Laid(sheet, places, problem=error)

        self._laying.do(compute)

    def _trial_spec(self) -> TrialSpec:
        return TrialSpec(
            sheet=SheetSpec(
                media_size=self.media.value.strip(), feed=self.feed.value or ""
            ),
            patch_width_mm=self.patch_width.value_mm,
            patch_height_mm=self.patch_height.value_mm,
            cover=self.cover.value,
            targets=self.targets.value,
            on=today(),
        )

    def _show_laid(self, laid: _Laid) -> None:
        self._laid = laid
        self._known_places = (laid.sheet, laid.places)
        if len(self.places.children) != len(laid.places):
            self._offer_places(laid.places)
        if laid.problem is not None:
            self._show_problem(laid.problem)
            self.picture.value = b""
        elif laid.picture is not None:
            self.picture.value = laid.picture.jpeg
            self.accessibility.describe(self.picture, laid.picture.description)
        self._show_picture()
        self._allow()

    def _offer_places(self, places: Sequence[LookHere]) -> None:
        boxes = []
        for number, place in enumerate(places, 1):
            box = widgets.Checkbox(
                value=number > len(places) - _USUAL_PLACES,
                description=f"{number}: {place.reason.replace('-', ' ')}",
                indent=False,
                tooltip=place.words,
            )
            box.observe(self._guarded(self._again), names="value")
            boxes.append(box)
        self.places.children = boxes
        self._places_words.value = "<p>Patches are cut out of these places:</p>"
        self.accessibility.explain(self.ui)

    # Rendering it

    def _begin(self) -> None:
        laid, bench = self._laid, self.bench
        if laid is None or laid.trial is None or self._is_stale:
            raise SpecError(
                "No trial sheet is laid out for this plan.",
                remedy='Press "Lay out the trial sheet" first.',
            )
        trial, plan = laid.trial, bench.plan
        self.result.value = ""
        self._clear_error()
        endings = (ending_of(plan.delivery.file_format), ".toml")
        path, key_path = free_paths(bench.folder, f"{bench.stem}-trial", endings)
        saved = SavedTrialKey(
            key=trial.key,
            paper=plan.paper.name,
            printer=plan.printer.name,
            on=today(),
        )
        make = partial(self._render, trial, path, saved, key_path)
        self._making.make(make, self.result, bench.keep_master_open())

    def _render(
        self, trial: TrialSheet, path: Path, saved: SavedTrialKey, key_path: Path
    ) -> None:
        rendered = render(trial, path, progress=self._making.show_progress)
        words = rendered_words(rendered, trial.plan.lengths_in).html
        self.page.do(partial(self._show_made, words))
        write_trial_key(saved, key_path)
        keyed = (
            f'<p role="status">Its key is {escape(key_path.name)}: keep it beside the '
            "sheet's file. Print the sheet at 100 %, without any conversion, and let "
            f"it dry.</p>{words}"
        )
        self.page.do(partial(self._show_made, keyed))
        self.page.do(partial(self.answers.find, key_path))

    def _show_made(self, html: str) -> None:
        self.result.value = html


def _restores(typed: str) -> tuple[float, ...]:
    """Steps of restore as they were typed."""
    remedy = 'Type numbers with commas between at "restore steps", such as 0.5, 1, 1.5.'
    try:
        found = tuple(float(it) for it in typed.replace(";", ",").split(",") if it)
    except ValueError as error:
        raise SpecError(f"{typed!r} are no steps of restore.", remedy=remedy) from error
    if not 1 <= len(set(found)) == len(found) <= _MOST_STEPS:
        raise SpecError(
            f"{typed!r} holds {len(found)} steps, {len(set(found))} of them different; "
            f"1 to {_MOST_STEPS} different ones are taken.",
            remedy=remedy,
        )
    return found


def _require_place(windows: Sequence[object]) -> None:
    if not windows:
        raise SpecError(
            "No place is ticked, so there is nothing to cut patches from.",
            remedy="Tick one or more of the places.",
        )
