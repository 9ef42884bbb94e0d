"""How does a figure keep up with the bench, and stay when the kernel is gone?"""

from __future__ import annotations

from dataclasses import replace
from hashlib import sha256
from threading import Lock
from time import monotonic, sleep
from typing import TYPE_CHECKING, Any, Protocol

from IPython.display import display

from printplan.errors import PrintPlanError
from printplan.pixels.sheet import varied
from printplan.shown_text import escape
from printplan.workbook.bench import MATERIAL
from printplan.workbook.latest_only import LatestOnly
from printplan.workbook.pictures import Words, problem_html

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.pixels.sheet import Sheet
    from printplan.spec import (
        ColourSpec,
        MountSpec,
        RoomSpec,
        SharpenSpec,
        SheetSpec,
        SizeSpec,
    )
    from printplan.workbook.bench import Bench, Change


class Shown(Protocol):
    """A picture, a drawing or words for the page."""

    def _repr_html_(self) -> str: ...


_COLOURS = frozenset({"size", "sheet", "colour", "delivery"})
_DEPENDS_ON = {
    "master_picture": frozenset[str](),
    "sheet_picture": _COLOURS | {"mount", "lengths_in"},
    "resolution_picture": frozenset({"size", "lengths_in"}),
    "proof_picture": _COLOURS,
    "intents_picture": _COLOURS,
    "reach_picture": _COLOURS,
    "separation_picture": _COLOURS,
    "papers_picture": _COLOURS,
    "gamut_picture": _COLOURS,
}
"""Parts of the spec on which a figure depends, besides `MATERIAL`; every other figure
depends on all of them."""

_QUIET_S = 0.25
"""How long nothing may change before figures are drawn: the panels' own pictures come
first. Our choice."""

_SOON_S = 0.5
"""Figures that took longer than this say that they are being redrawn. Our choice."""

_ONE_AT_A_TIME = Lock()
"""Figures are many; drawn at once they would leave no processor to the panels."""


def live(  # noqa: PLR0913 - the parts of a spec
    draw: Callable[..., Shown],
    bench: Bench,
    *,
    size: SizeSpec | None = None,
    sharpen: SharpenSpec | None = None,
    colour: ColourSpec | None = None,
    sheet: SheetSpec | None = None,
    mount: MountSpec | None = None,
    room: RoomSpec | None = None,
    **settings: Any,
) -> LiveFigure:
    """
    A figure that is drawn again whenever the bench changes what it shows.

    Parameters
    ----------
    draw : callable
        Takes a sheet, such as `figures.proof_picture`.
    size, sharpen, colour, sheet, mount, room
        Parts of the spec that the figure asks for itself; the rest is the bench's,
        which stays as it is.
    **settings
        Given to `draw`.

    Returns
    -------
    LiveFigure
        The last expression of a cell, or given to ``display``.
    """
    asked = {
        "size": size,
        "sharpen": sharpen,
        "colour": colour,
        "sheet": sheet,
        "mount": mount,
        "room": room,
    }
    own = {part: it for part, it in asked.items() if it is not None}
    return LiveFigure(draw, bench, own, settings)


class LiveFigure:
    """
    A figure of the bench's print; see `live`.

    Parameters
    ----------
    own : dict
        Parts of the spec that are not the bench's, by their names.
    settings : dict
        Given to `draw`.

    Notes
    -----
    It is no widget: the picture is the cell's own output, which Jupyter exchanges by
    its ``display_id``, so the notebook keeps the latest without a kernel. The same
    figure in several cells has one `display_id`, and is drawn once for all of them.
    """

    def __init__(
        self,
        draw: Callable[..., Shown],
        bench: Bench,
        own: dict[str, Any],
        settings: dict[str, Any],
    ) -> None:
        self.bench = bench
        self._draw, self._own, self._settings = draw, own, settings
        every = frozenset(bench.spec.__dataclass_fields__)
        depends_on = _DEPENDS_ON.get(draw.__name__, every) - set(own)
        self.depends_on = depends_on | MATERIAL
        self._slot = f"figure {draw.__name__} {own!r} {settings!r}"
        digest = sha256(f"{id(bench)} {self._slot}".encode()).hexdigest()
        self.display_id = f"printplan-{digest[:16]}"
        self.shown: Shown = Words("", "")
        self._asked, self._took_s = 0, 0.0
        self._worker = LatestOnly(self._show, self._fail, bench.keep_master_open)

    def __repr__(self) -> str:
        return repr(self.shown)

    def _ipython_display_(self) -> None:
        """Draw it in the cell that asks for it, and keep it up from then on."""
        try:
            self.shown = self._drawn()
        except PrintPlanError as error:
            self.shown = _problem(error)
        self._put(self.shown)
        self.bench.watch(self._slot, self)

    def plan_changed(self, change: Change) -> None:
        """Draw it again, if it shows something that changed."""
        if change.parts & self.depends_on:
            self._asked += 1
            number = self._asked
            self._worker.do(lambda: self._redrawn(number))

    def replaced(self) -> None:
        """Leave the place on the page to the same figure of a later run."""
        self._asked += 1

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until it shows the bench's print.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return self._worker.settle(timeout_s)

    def _drawn(self) -> Shown:
        began = monotonic()
        sheet: Sheet = self.bench.sheet
        if self._own:
            sheet = varied(sheet, replace(sheet.plan.spec, **self._own))
        shown = self._draw(sheet, **self._settings)
        self._took_s = monotonic() - began
        return shown

    def _redrawn(self, number: int) -> Shown | None:
        """The figure of the bench as it is then; None if that was asked for again."""
        sleep(_QUIET_S)
        if number == self._asked and self._took_s > _SOON_S:
            self._put(_dimmed(self.shown), update=True)
        with _ONE_AT_A_TIME:
            return self._drawn() if number == self._asked else None

    def _show(self, shown: Shown | None) -> None:
        if shown is not None:
            self.shown = shown
            self._put(shown, update=True)

    def _fail(self, error: PrintPlanError) -> None:
        self._show(_problem(error))

    def _put(self, shown: Shown, *, update: bool = False) -> None:
        display(shown, display_id=self.display_id, update=update)  # type: ignore[no-untyped-call]


def _problem(error: PrintPlanError) -> Words:
    return Words(problem_html(error), str(error))


def _dimmed(shown: Shown) -> Words:
    """What is there, while the next is drawn."""
    words = "Of the plan before; being redrawn."
    return Words(
        f'<div style="opacity: 0.35">{shown._repr_html_()}</div><p>{escape(words)}</p>',
        words,
    )
