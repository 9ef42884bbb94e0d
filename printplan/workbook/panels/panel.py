"""What do all panels share? They ask the bench, show its answer and its refusals."""

from __future__ import annotations

from abc import ABC, abstractmethod
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from html import escape
from importlib.resources import as_file, files
from io import BytesIO
from typing import TYPE_CHECKING, ClassVar, TypeVar

import ipywidgets as widgets
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from printplan.errors import PrintPlanError
from printplan.workbook.panels.controls import Accessibility
from printplan.workbook.panels.latest_only import LatestOnly
from printplan.workbook.watchers import LAID_ANEW

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from numpy.typing import NDArray

    from printplan.spec import PrintSpec
    from printplan.workbook.bench import Bench
    from printplan.workbook.watchers import Change

    Pictures = Sequence[tuple[widgets.Image, bytes]]
    """Pictures to show, each in its place."""


SURROUND = (110, 110, 110)
"""sRGB grey round pictures: neutral, 16 % of white's luminance. ISO 3664:2009 wants
a neutral surround of 10 to 60 % (from memory)."""

TEXT = (245, 245, 245)

_GAP_PX = 20
_CAPTION_PX = 38
_CAPTION_SIZE_PX = 15


@dataclass(frozen=True, slots=True)
class Picture:
    """
    A picture for the page.

    Attributes
    ----------
    jpeg : bytes
        sRGB without an embedded profile, as a browser expects.
    description : str
        What it shows, for those who cannot see it.
    width_css_px : int or None
        Width on the page; None shows every pixel, however narrow the page.
    """

    jpeg: bytes
    description: str
    width_css_px: int | None = None

    def __repr__(self) -> str:
        return self.description

    def _repr_jpeg_(self) -> tuple[bytes, dict[str, int | bool]]:
        """The picture and how to show it, as IPython asks for it."""
        if self.width_css_px is None:
            return self.jpeg, {"unconfined": True}
        return self.jpeg, {"width": self.width_css_px}


@dataclass(frozen=True, slots=True)
class Words:
    """
    A few lines for the page.

    Attributes
    ----------
    text : str
        The same without marks.
    """

    html: str
    text: str

    def __repr__(self) -> str:
        return self.text

    def _repr_html_(self) -> str:
        """The lines, as IPython asks for them."""
        return self.html


def encoded(pixels: NDArray[np.uint8]) -> bytes:
    """
    Pixels as a JPEG for the page.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (rows, columns, 3)
        sRGB.

    Returns
    -------
    bytes
        Quality 90, chroma at full resolution.
    """
    file = BytesIO()
    Image.fromarray(pixels).save(file, "JPEG", quality=90, subsampling=0)
    return file.getvalue()


def mounted(
    pictures: Sequence[tuple[NDArray[np.uint8], str]],
) -> NDArray[np.uint8]:
    """
    Pictures beside each other on neutral grey, each above its caption.

    Parameters
    ----------
    pictures : sequence of (ndarray of uint8, str)
        sRGB of shape (rows, columns, 3), which is not scaled, and the caption.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
    """
    width = _GAP_PX + sum(pixels.shape[1] + _GAP_PX for pixels, _ in pictures)
    tallest = max(pixels.shape[0] for pixels, _ in pictures)
    ground = Image.new("RGB", (width, _GAP_PX + tallest + _CAPTION_PX), SURROUND)
    draw = ImageDraw.Draw(ground)
    left = _GAP_PX
    for pixels, caption in pictures:
        ground.paste(Image.fromarray(pixels), (left, _GAP_PX))
        draw.text(
            (left, _GAP_PX + pixels.shape[0] + 10),
            caption,
            TEXT,
            caption_font(_CAPTION_SIZE_PX),
        )
        left += pixels.shape[1] + _GAP_PX
    return np.asarray(ground)


@lru_cache(maxsize=4)
def caption_font(height_px: int) -> ImageFont.FreeTypeFont:
    """
    The type of all captions: it has the signs of the trade, such as × and µ.

    Returns
    -------
    FreeTypeFont
        DejaVu Sans, which matplotlib brings along.
    """
    source = files("matplotlib") / "mpl-data" / "fonts" / "ttf" / "DejaVuSans.ttf"
    with as_file(source) as path:
        return ImageFont.truetype(BytesIO(path.read_bytes()), height_px)


_Made = TypeVar("_Made")

_CSS = f"""<style>
.printplan-panel {{ container-type: inline-size; }}
.printplan-body {{ flex-flow: row wrap; gap: 12px; width: 100%; }}
.printplan-column {{ min-width: 0; }}
.printplan-seen {{ min-width: 0; flex: 1000 1 380px; }}
.printplan-stage {{
  background: rgb{SURROUND}; overflow: auto; border-radius: 2px;
  align-items: center; justify-content: center; min-width: 0; flex: 0 0 auto;
}}
.printplan-fits {{ padding: 10px; overflow: hidden; }}
.printplan-stage img {{ flex: none; }}
.printplan-fits img {{ max-width: 100%; height: auto; }}
.printplan-exact {{ justify-content: flex-start; }}
.printplan-exact img {{ max-width: none; image-rendering: pixelated; }}
.printplan-page {{ background: none; justify-content: flex-start;
  align-items: flex-start; }}
.printplan-dimmed > * {{ opacity: 0.35; }}
.printplan-column .widget-toggle-buttons {{
  display: flex; flex-flow: row nowrap; align-items: center;
}}
.printplan-column .widget-toggle-button {{ padding: 0 7px; margin: 2px 2px 2px 0; }}
.printplan-column .widget-toggle-buttons > label {{
  flex: none; text-align: right; margin: 0 8px 0 0;
}}
.printplan-words .widget-html-content, .printplan-problem,
.printplan-status .widget-html-content {{
  color: var(--jp-ui-font-color1); line-height: 1.45;
}}
.printplan-words {{ margin: 8px 4px; height: auto; }}
.printplan-words .widget-html-content {{ overflow-wrap: anywhere; }}
.printplan-panel .widget-html:has(> .widget-html-content:empty) {{ display: none; }}
.printplan-words ul {{ margin: 0; padding-left: 18px; }}
.printplan-words li {{ margin: 0 0 8px 0; }}
.printplan-words p {{ margin: 8px 0 4px 0; }}
.printplan-words table {{ border-spacing: 0; }}
.printplan-words th, .printplan-words td {{
  text-align: left; vertical-align: top; padding: 1px 12px 1px 0;
}}
.printplan-words th {{ font-weight: normal; white-space: nowrap; }}
.printplan-status {{ margin: 4px 0 0 0; height: auto; }}
.printplan-problem {{
  margin: 6px 4px; overflow-wrap: anywhere;
  border-left: 3px solid var(--jp-error-color1); padding: 2px 10px;
}}
.printplan-panel .widget-label, .printplan-panel .widget-readout,
.printplan-panel .widget-label-basic {{ color: var(--jp-ui-font-color1); }}
.printplan-panel .widget-dropdown > select {{
  appearance: auto; background-image: none;
}}
.printplan-panel .widget-button, .printplan-panel .widget-toggle-button {{
  color: var(--jp-ui-font-color1); background: var(--jp-layout-color2);
  border: 1px solid var(--jp-border-color1);
}}
.printplan-panel .widget-button:disabled {{ opacity: 0.6; }}
.printplan-panel .widget-toggle-button.mod-active {{
  box-shadow: none; background: var(--jp-layout-color3);
  border-color: var(--jp-ui-font-color1); text-decoration: underline;
  text-underline-offset: 3px;
}}
.printplan-panel .widget-button.mod-primary {{
  background: var(--jp-ui-font-color1); color: var(--jp-layout-color0);
}}
.printplan-panel :focus-visible {{
  outline: 2px solid var(--jp-ui-font-color1) !important; outline-offset: 2px;
}}
</style>"""


class Exactness(StrEnum):
    """What the pictures of a panel may be judged by."""

    EXACT = "Exact print pixels."
    OVERVIEW = "Overview: for colour and place only."


class Panel(ABC):
    """
    One step of the plan with what changes it.

    A change of a control becomes a whole new wish for the bench. When the bench
    follows, every panel is told and shows what became of it; when it refuses, this
    panel says why, and the last good picture stays, dimmed.

    Attributes
    ----------
    ui : ipywidgets.VBox
        What a notebook shows.
    """

    seat: ClassVar[str]
    """One panel of a kind sits at a bench."""

    depends_on: ClassVar[frozenset[str]]
    """Parts of the wish that change this panel's pictures."""

    column_px: ClassVar[int] = 312
    """Width of the controls."""

    title: ClassVar[str] = "panel"
    """What it is called, for those who do not see it."""

    exactness: ClassVar[Exactness | None] = None
    """What its pictures may be judged by; see `_say` for one that changes."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.message = widgets.HTML()
        self.words = widgets.HTML()
        self.words.add_class("printplan-words")
        self.status = widgets.HTML()
        self.status.add_class("printplan-status")
        self.stage = widgets.HBox()
        self.stage.add_class("printplan-stage")
        self.manners = Accessibility(self.title)
        self.ui = widgets.VBox()
        self.ui.add_class("printplan-panel")
        self._newest: LatestOnly[Pictures] = LatestOnly(
            self._show, self._complain, bench.holding
        )
        self._is_asking = False
        self._is_syncing = False

    @abstractmethod
    def _wish(self) -> PrintSpec:
        """What the controls ask for."""

    @abstractmethod
    def _sync(self) -> None:
        """Set the controls, and the words beside them, to the plan."""

    def _job(self) -> Callable[[], Pictures] | None:
        """How to compute this panel's pictures as things stand now."""
        return None

    def _lay_anew(self) -> None:  # noqa: B027 - most panels keep nothing of these
        """Fetch what was kept of master, paper or printer: it was exchanged."""

    def plan_changed(self, change: Change) -> None:
        """Show a new plan, or why there is none."""
        if change.refusal is not None:
            if self._is_asking:
                self._complain(change.refusal)
            return
        with self._faults_shown():
            self._be_content()
            if change.parts & LAID_ANEW:
                self._lay_anew()
            self._sync_quietly()
            if change.parts & (self.depends_on | LAID_ANEW):
                self.repaint()

    def replaced(self) -> None:
        """Give way to a newer panel of this kind."""
        self.ui.children = [widgets.HTML("This panel was opened again elsewhere.")]

    def repaint(self) -> None:
        """Compute this panel's pictures anew, without waiting for them."""
        job = self._job()
        if job is not None:
            self._newest.do(self._with_faults_shown(job))

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until the pictures are those of the plan.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return self._newest.settle(timeout_s)

    def _open(
        self, controls: Iterable[widgets.Widget], beside: widgets.Widget | None = None
    ) -> None:
        """Put the panel together, paint it and take its seat."""
        column = widgets.VBox(
            [*controls, self.message, self.words],
            layout={"flex": f"1 1 {self.column_px}px"},
        )
        column.add_class("printplan-column")
        seen = widgets.VBox([self.stage if beside is None else beside, self.status])
        seen.add_class("printplan-seen")
        body = widgets.HBox([column, seen])
        body.add_class("printplan-body")
        self.ui.children = [widgets.HTML(_CSS), self.manners, body]
        if self.exactness is not None:
            self._say(self.exactness)
        self._sync_quietly()
        job = self._job()
        if job is not None:
            self._paint(job)
        self.bench.watch(self.seat, self)

    def _paint(self, job: Callable[[], Pictures]) -> None:
        """Paint at once, so that a new panel is never empty."""
        try:
            self._show(job())
        except PrintPlanError as error:
            self._complain(error)

    def _on_wish(self, *controls: widgets.Widget) -> None:
        """Let these controls change the plan."""
        for control in controls:
            control.observe(self._guarded(self._ask), names="value")

    def _on_view(self, *controls: widgets.Widget) -> None:
        """Let these controls change what is looked at, and nothing else."""
        for control in controls:
            control.observe(self._guarded(self.repaint), names="value")

    def _ask(self) -> None:
        if self._is_syncing:
            return
        self._do(lambda: self.bench.ask(self._wish()))

    def _do(self, change: Callable[[], object]) -> None:
        """Change what lies on the bench; a refusal is shown here and told to all."""
        self._is_asking = True
        try:
            with self._faults_shown():
                try:
                    change()
                except PrintPlanError as error:
                    self.bench.refuse(error)
        finally:
            self._is_asking = False

    def _guarded(self, action: Callable[[], object]) -> Callable[..., None]:
        """An action as a callback of a control: what goes wrong in it is shown."""

        def call(*_: object) -> None:
            with self._faults_shown():
                try:
                    action()
                except PrintPlanError as error:
                    self._complain(error)

        return call

    def _with_faults_shown(self, job: Callable[[], _Made]) -> Callable[[], _Made]:
        """A job for a worker, whose faults are shown too."""

        def compute() -> _Made:
            with self._faults_shown():
                return job()

        return compute

    @contextmanager
    def _faults_shown(self) -> Iterator[None]:
        """Show a fault of our own here; the kernel's log gets its trace."""
        try:
            yield
        except PrintPlanError:
            raise
        except Exception as error:
            self._show_problem(
                f"This is a fault in printplan ({type(error).__name__}: {error}).",
                "The last plan is still here; keep it, and report the fault with what "
                "the notebook's log says.",
            )
            raise

    def _sync_quietly(self) -> None:
        self._is_syncing = True
        try:
            self._sync()
        finally:
            self._is_syncing = False

    def _show(self, pictures: Pictures) -> None:
        for place, jpeg in pictures:
            place.value = jpeg

    def _say(self, judged_by: Exactness | str) -> None:
        """Tell what the pictures may be judged by; the words before a colon first."""
        strong, _, rest = escape(judged_by).partition(":")
        rest = f":{rest}" if rest else ""
        self.status.value = f'<div role="status"><b>{strong}</b>{rest}</div>'

    def _complain(self, error: PrintPlanError) -> None:
        self._show_problem(error.problem, error.remedy)

    def _show_problem(self, problem: str, remedy: str) -> None:
        self.message.value = two_sentences_html(problem, remedy)
        self.stage.add_class("printplan-dimmed")

    def _be_content(self) -> None:
        self.message.value = ""
        self.stage.remove_class("printplan-dimmed")


def problem_html(error: PrintPlanError) -> str:
    """An error as two sentences for the page."""
    return two_sentences_html(error.problem, error.remedy)


def two_sentences_html(problem: str, remedy: str) -> str:
    """A problem and its remedy for the page."""
    return (
        f'<div class="printplan-problem" role="alert">{escape(problem)}<br>'
        f"<b>{escape(remedy)}</b></div>"
    )
