"""What does the paper do to the colours?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.pixels.sheet import Appearance
from printplan.spec import BlackPointCompensation, ColourSpec, Intent
from printplan.workbook.panels.controls import Slider, choice, switch
from printplan.workbook.panels.panel import Panel
from printplan.workbook.pictures import encoded
from printplan.workbook.previews import (
    in_screen_colour,
    master_and_proof,
    master_preview,
    print_preview,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np
    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.spec import PrintSpec
    from printplan.workbook.bench import Bench
    from printplan.workbook.panels.panel import Pictures

_INTENTS = [
    ("perceptual", Intent.PERCEPTUAL),
    ("media-relative colorimetric", Intent.MEDIA_RELATIVE),
    ("saturation", Intent.SATURATION),
    ("ICC-absolute colorimetric", Intent.ICC_ABSOLUTE),
]
_COMPENSATION = [
    ("on", BlackPointCompensation.ON),
    ("off", BlackPointCompensation.OFF),
]
_APPEARANCES = [
    ("paper alone", Appearance.PAPER_ALONE),
    ("paper in the room", Appearance.PAPER_IN_THE_ROOM),
]
_MEANING = {
    Appearance.PAPER_ALONE: "Paper alone: as to an eye that takes this paper's white "
    "for white.",
    Appearance.PAPER_IN_THE_ROOM: "Paper in the room: with the paper's own white and "
    "deepest black, beside a whiter white.",
}


class ProofPanel(Panel):
    """Rendering intent and black point compensation, seen in a soft proof."""

    slot: ClassVar[str] = "proof"
    fits_stage: ClassVar[bool] = True
    depends_on: ClassVar[frozenset[str]] = frozenset(
        {"size", "colour", "sheet", "delivery"}
    )
    column_px: ClassVar[int] = 396
    title: ClassVar[str] = "Colours on this paper"

    def __init__(self, bench: Bench, *, column_only: bool = False) -> None:
        super().__init__(bench, column_only=column_only)
        self._master: tuple[PrintPlan, NDArray[np.uint8]] | None = None
        self.intent = choice("intent", _INTENTS)
        self.compensation = switch("black point", _COMPENSATION)
        self.lighten = Slider("lighten (L*)", -10.0, 10.0, 0.5, digits=1)
        self.appearance = switch("proof", _APPEARANCES)
        self.picture = widgets.Image(format="jpeg")
        self.stage.children = [self.picture]
        self.stage.add_class("printplan-fits")
        self._on_wish(self.intent, self.compensation, self.lighten)
        self._on_view(self.appearance)
        looking = [] if column_only else [self.appearance]
        self._open([self.intent, self.compensation, self.lighten, *looking])

    def _spec(self) -> PrintSpec:
        colour = ColourSpec(
            intent=self.intent.value,
            black_point_compensation=self.compensation.value,
            lighten_l=self.lighten.value,
        )
        return replace(self.bench.spec, colour=colour)

    def _sync(self) -> None:
        colour = self.bench.spec.colour
        self.intent.value = colour.intent
        self.compensation.value = colour.black_point_compensation
        self.lighten.show(colour.lighten_l)
        self.compensation.disabled = colour.intent is Intent.ICC_ABSOLUTE
        paper = self.bench.plan.paper.name
        self._show_status(
            f"Overview: first the master, then its soft proof on {paper}. For colour "
            "and place only."
        )
        self.accessibility.describe(
            self.picture, f"Overviews: the master beside its soft proof on {paper}."
        )

    def _job(self) -> Callable[[], Pictures]:
        sheet, appearance = self.bench.sheet, self.appearance.value
        shown_px = self.accessibility.stage_px or None
        self.words.value = _MEANING[appearance]

        def compute() -> Pictures:
            pair = master_and_proof(
                self._master_side(sheet),
                print_preview(sheet, appearance),
                sheet.plan,
                shown_px,
            )
            return [(self.picture, encoded(pair))]

        return compute

    def _master_side(self, sheet: Sheet) -> NDArray[np.uint8]:
        """The master's side, kept while size and place stay."""
        on_screen = in_screen_colour(sheet)
        kept = self._master
        if kept is None or kept[0] != on_screen.plan:
            kept = self._master = (on_screen.plan, master_preview(on_screen))
        return kept[1]
