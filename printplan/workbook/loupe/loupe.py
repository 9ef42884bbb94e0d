"""How does a notebook show the print's own pixels, and follow the plan?"""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple

import anywidget
import numpy as np
import traitlets

from printplan.colour.losses import FAR_OUT, OUT_OF_GAMUT
from printplan.errors import PrintPlanError
from printplan.pixels.look_here import look_here
from printplan.units import MM_PER_INCH, LengthUnit, px_from_mm
from printplan.workbook.drawings.paint import FULL_REACH_DELTA_E
from printplan.workbook.latest_only import LatestOnly
from printplan.workbook.loupe.card_match import (
    CARD_CORNER_MM,
    CARD_MM,
    MatchedScreen,
    matched_screens,
    remember_match,
)
from printplan.workbook.loupe.cutter import CutStore, Cutter
from printplan.workbook.loupe.frames import FrameWish, Layer, Zoom
from printplan.workbook.loupe.overviews import OverviewStore, reach_legend
from printplan.workbook.loupe.sides import SIDES
from printplan.workbook.pictures import SURROUND

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from contextlib import AbstractContextManager

    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet
    from printplan.workbook.bench import Bench, Change
    from printplan.workbook.loupe.card_match import MatchedScreens
    from printplan.workbook.loupe.frames import Frame
    from printplan.workbook.loupe.sides import Side

    Message = dict[str, Any]
    """What goes between browser and kernel, as JSON has it."""

    Cutting = tuple[Mapping[str, Any], Frame | PrintPlanError]
    """What a view asked for, and what was cut for it."""

    Reply = tuple[Message, list[bytes]]
    """A message and the pixels that go with it."""

_HERE = Path(__file__).parent

_BROWSER_PARTS = ("painting.js", "scales.js", "card.js", "page.js", "loupe.js")
"""One program for the browser, in the order of reading; only the last exports."""

_STOPS_DEPEND_ON = frozenset({"size", "colour", "sheet", "delivery"})
_STOPS_OVERVIEW_PX = 1200
_LOOK_HERE_PX = (900, 600)


class Loupe(anywidget.AnyWidget):
    """
    Windows into the print at exact pixels, with two sides and a divider.

    Parameters
    ----------
    bench : Bench
        The loupe shows its plan, and follows it.
    sides : sequence of Side, optional
        What can be looked at; the first two stand left and right at first.
    across_share, down_share : float, optional
        Where to look first: 0 is the left or upper end of the picture.
    height_px : int, optional
        Height of the picture in CSS pixels.
    slot : str, optional
        A newer loupe in the same slot replaces this one.

    Attributes
    ----------
    plan : dict
        Size of file and picture in pixels, density, number of the plan.
    stops : list of dict
        Look-here windows, once a view has asked for them.
    screens : list of list
        Width and height of matched screens in device pixels, and their device pixels
        per millimetre.
    problem : dict
        Problem and remedy of what concerns all views; empty if there is none.

    Notes
    -----
    Pixels are no traits and so are never saved with a notebook: each view asks for
    exactly the device pixels that it shows, and gets them in binary. A view keeps one
    request on its way; what it wants meanwhile replaces what it wanted before.
    """

    _esm: ClassVar[str] = "\n".join(
        (_HERE / part).read_text(encoding="utf-8") for part in _BROWSER_PARTS
    )
    _css: ClassVar[Path] = _HERE / "loupe.css"

    plan = traitlets.Dict().tag(sync=True)
    sides = traitlets.List(traitlets.Dict()).tag(sync=True)
    stops = traitlets.List(traitlets.Dict()).tag(sync=True)
    screens = traitlets.List(traitlets.List(traitlets.Float())).tag(sync=True)
    problem = traitlets.Dict().tag(sync=True)
    start = traitlets.List(traitlets.Float()).tag(sync=True)
    height_px = traitlets.Int().tag(sync=True)
    legend = traitlets.Dict().tag(sync=True)
    card = traitlets.Dict().tag(sync=True)
    surround = traitlets.List(traitlets.Int()).tag(sync=True)
    closed = traitlets.Unicode().tag(sync=True)
    shown = traitlets.List(traitlets.Unicode()).tag(sync=True)

    def __init__(  # noqa: PLR0913 - what to look at, and where first
        self,
        bench: Bench,
        *,
        sides: Sequence[Side] = SIDES,
        across_share: float = 0.5,
        down_share: float = 0.5,
        height_px: int = 600,
        slot: str = "loupe",
    ) -> None:
        super().__init__(
            plan=_plan_numbers(bench.sheet, 1),
            sides=[{"name": side.name, "words": side.words} for side in sides],
            start=[across_share, down_share],
            height_px=height_px,
            legend={
                "colours": reach_legend(),
                "last": FULL_REACH_DELTA_E,
                "ticks": [0, OUT_OF_GAMUT, FAR_OUT, 10, FULL_REACH_DELTA_E],
            },
            card={"mm": list(CARD_MM), "corner_mm": CARD_CORNER_MM},
            surround=list(SURROUND),
        )
        self._bench = bench
        self._sides = tuple(sides)
        self._overviews = OverviewStore()
        self._views: dict[str, _View] = {}
        self._searcher: LatestOnly[list[Message]] = LatestOnly(
            self._show_stops, self._show_error, bench.keep_master_open
        )
        self._wants_stops = False
        self._read_screens()
        self.on_msg(self._answer)
        bench.watch(slot, self)

    def plan_changed(self, change: Change) -> None:
        """Show a new plan; a spec that was refused changes nothing here."""
        if change.refusal is not None or not change.parts:
            return
        before = self.plan
        self.plan = _plan_numbers(self._bench.sheet, before["number"] + 1)
        if self.plan | {"number": 0} == before | {"number": 0}:
            # All views stand where they stood: they need not ask.
            for view in list(self._views.values()):
                if view.asked is not None:
                    known = {"has": view.asked["id"], "part": "divider" in view.asked}
                    self._cut(view, view.asked | known)
        if self._wants_stops and change.parts & _STOPS_DEPEND_ON:
            self._search()

    def show_sides(self, left: str, right: str) -> None:
        """Let all views show these two of the sides, by their names."""
        if self.shown == [left, right]:
            self.shown = []
        self.shown = [left, right]

    def replaced(self) -> None:
        """Give way to a newer loupe in this slot."""
        self.closed = "This loupe was opened again elsewhere."

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until all that was asked for has been answered.

        Parameters
        ----------
        timeout_s : float, optional
            For each view.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        views = list(self._views.values())
        return self._searcher.settle(timeout_s) and all(
            view.worker.settle(timeout_s) for view in views
        )

    def _answer(self, _: object, message: Message, __: Sequence[memoryview]) -> None:
        """Do what a view asks for."""
        kind = message.get("kind")
        if kind == "frame" and not self.closed:
            self._answer_frame(message)
        elif kind == "stops" and not self._wants_stops:
            self._wants_stops = True
            self._search()
        elif kind == "match":
            self._match(message)
        elif kind == "divider" and message["view"] in self._views:
            view = self._views[message["view"]]
            if view.asked is not None:
                view.asked["divider"] = message["divider"]
        elif kind == "gone":
            self._views.pop(message["view"], None)

    def _answer_frame(self, message: Message) -> None:
        """Cut what a view asks for, and remember it if the view follows."""
        view = self._views.get(message["view"])
        if view is None:
            view = self._views[message["view"]] = _View(
                self.send, self._show_error, self._bench.keep_master_open
            )
        if message.get("follows"):
            view.asked = message
        self._cut(view, message)

    def _cut(self, view: _View, message: Message) -> None:
        """Cut a frame in the view's own worker, for the plan as it is now."""
        cutter = Cutter(self._bench.sheet, self._sides, self._overviews, view.cuts)
        view.worker.do(partial(cut_frame, cutter, message))

    def _search(self) -> None:
        self._searcher.do(partial(_found_stops, self._bench.sheet))

    def _show_stops(self, stops: list[Message]) -> None:
        self.stops = stops

    def _show_error(self, error: PrintPlanError) -> None:
        self.problem = _problem(error)

    def _match(self, message: Message) -> None:
        try:
            screen = MatchedScreen(
                width_px=message["width_px"],
                height_px=message["height_px"],
                device_px_per_mm=message["device_px_per_mm"],
            )
            self.screens = _screen_numbers(remember_match(screen))
        except PrintPlanError as error:
            self._show_error(error)
        else:
            self.problem = {}

    def _read_screens(self) -> None:
        try:
            self.screens = _screen_numbers(matched_screens())
        except PrintPlanError as error:
            self._show_error(error)


class _View:
    """One view: its worker, what it asked for last, and what it has."""

    def __init__(
        self,
        send: Callable[[Message, list[bytes]], None],
        fail: Callable[[PrintPlanError], None],
        around: Callable[[], AbstractContextManager[None]],
    ) -> None:
        self.cuts = CutStore()
        self.asked: Message | None = None
        self._held: Held | None = None
        self._send = send
        self.worker: LatestOnly[Cutting] = LatestOnly(self._reply, fail, around)

    def _reply(self, cutting: Cutting) -> None:
        message, cut = cutting
        reply = frame_reply(message, cut, self._held)
        if not isinstance(cut, PrintPlanError):
            self._held = Held(message["id"], cut)
        self._send(*reply)


class Held(NamedTuple):
    """What a view holds: the number of its request, and the frame that it got."""

    number: int
    frame: Frame


def cut_frame(cutter: Cutter, message: Mapping[str, Any]) -> Cutting:
    """
    Cut what a view asks for.

    Parameters
    ----------
    message : mapping
        ``view``, ``id``, ``centre``, ``zoom``, ``scale``, ``width``, ``height``,
        ``sides`` and ``layer``; ``has`` is the number of the request whose frame the
        view shows; with ``part``, each side is cut as far as it is seen beside
        ``divider``, a share of the view's width or None.

    Returns
    -------
    message : mapping
        The same.
    cut : Frame or PrintPlanError
    """
    try:
        return message, cutter.frame(
            FrameWish(
                centre_px=tuple(message["centre"]),
                zoom=Zoom(message["zoom"]),
                scale=message["scale"],
                width_px=message["width"],
                height_px=message["height"],
                sides=tuple(message["sides"]),
                layer=Layer(message["layer"]),
                divider_share=message["divider"] if message.get("part") else None,
            )
        )
    except PrintPlanError as error:
        return message, error


def frame_reply(
    message: Mapping[str, Any], cut: Frame | PrintPlanError, held: Held | None = None
) -> Reply:
    """
    Answer a view's request with what was cut for it.

    Parameters
    ----------
    message : mapping
        See `cut_frame`.
    held : Held, optional
        What the view holds: a side whose pixels it has already is not sent again.

    Returns
    -------
    message : dict
        Where the pixels lie in the view, or ``problem`` and ``remedy``. A cut that is
        ``kept`` is the one of the frame that the view has, whose request was ``base``;
        ``from`` columns of print pixels lie before it. With ``part`` there may be
        more to either side than was sent.
    buffers : list of bytes
        Red, green, blue and opaque alpha of each side, row by row; empty where kept.
    """
    reply = {"kind": "frame", "view": message["view"], "id": message["id"]}
    if isinstance(cut, PrintPlanError):
        return reply | _problem(cut), []
    known = None
    if held is not None and message.get("has") == held.number:
        known = held.frame
    kept = [_is_kept(cut, known, number) for number in range(len(cut.cuts))]
    reply |= {
        "part": bool(message.get("part")),
        "base": 0 if held is None else held.number,
        "left": cut.left,
        "top": cut.top,
        "cuts": [
            {
                "columns": side.pixels.shape[1],
                "rows": side.pixels.shape[0],
                "repeat": side.repeat,
                "from": side.from_px,
                "kept": is_kept,
            }
            for side, is_kept in zip(cut.cuts, kept, strict=True)
        ],
        "words": cut.words,
        "layer_words": cut.layer_words,
    }
    return reply, [
        b"" if is_kept else _rgba(side.pixels)
        for side, is_kept in zip(cut.cuts, kept, strict=True)
    ]


def _is_kept(frame: Frame, known: Frame | None, number: int) -> bool:
    """Whether a side is the very one that the view shows, at the same place."""
    return (
        known is not None
        and number < len(known.cuts)
        and known.cuts[number] is frame.cuts[number]
        and (known.left, known.top) == (frame.left, frame.top)
    )


def _rgba(pixels: NDArray[np.uint8]) -> bytes:
    """Pixels as a canvas takes them."""
    whole = np.full((*pixels.shape[:2], 4), 255, np.uint8)
    whole[..., :3] = pixels
    return whole.tobytes()


def _plan_numbers(sheet: Sheet, number: int) -> Message:
    picture, unit = sheet.plan.picture_in_file, sheet.plan.spec.lengths_in
    return {
        "number": number,
        "width_px": sheet.size_px[0],
        "height_px": sheet.size_px[1],
        "picture": [picture.left, picture.top, picture.width, picture.height],
        "ppi": sheet.plan.ppi,
        "px_per_mm": px_from_mm(1.0, sheet.plan.ppi),
        "unit": unit,
        "unit_mm": MM_PER_INCH if unit is LengthUnit.INCHES else 1.0,
    }


def _screen_numbers(matched: MatchedScreens) -> list[list[float]]:
    return [
        [screen.width_px, screen.height_px, screen.device_px_per_mm]
        for screen in matched.screens
    ]


def _found_stops(sheet: Sheet) -> list[Message]:
    overview = sheet.overview(_STOPS_OVERVIEW_PX)
    return [
        {
            "box": [stop.box.left, stop.box.top, stop.box.width, stop.box.height],
            "words": " ".join((stop.words, *stop.also)),
        }
        for stop in look_here(sheet, overview, window_px=_LOOK_HERE_PX)
    ]


def _problem(error: PrintPlanError) -> Message:
    return {"problem": error.problem, "remedy": error.remedy}
