"""How are picture and crop moved by hand on a sheet that is drawn to scale?"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

import anywidget
import traitlets

from printplan.pixels.sheet import Appearance, build_sheet, varied
from printplan.plan import resolve
from printplan.spec import (
    Extent,
    MountSpec,
    Orientation,
    SharpenSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
    WhiteSpec,
    WrapSpec,
)
from printplan.units import mm_from_px
from printplan.workbook.sheet_view.moves import Hand, Handle, Move

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np
    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet
    from printplan.spec import PrintSpec
    from printplan.workbook.sheet_view.geometry import SheetGeometry


LONGEST_PX = 1200
"""Longer edge of the look: two pixels to one of the page on dense screens."""

_PPI = 300.0
_ROOM_MM = 450.0
"""More than two of the widest margins that a feed path can have."""


def whole_sheet(sheet: Sheet, kept: Sheet | None = None) -> Sheet:
    """
    The whole photograph, small, in the colour of a sheet's plan.

    Parameters
    ----------
    kept : Sheet, optional
        What this function gave before; its pixels are used again if they serve.

    Returns
    -------
    Sheet
        Whose file is the picture alone, not sharpened.
    """
    plan = sheet.plan
    small = resolve(plan.facts, plan.paper, plan.printer, _small(plan.spec))
    return build_sheet(sheet.master, small, reuse=kept)


def whole_preview(whole: Sheet) -> NDArray[np.uint8]:
    """
    The whole photograph as it will look on the paper alone.

    Parameters
    ----------
    whole : Sheet
        From `whole_sheet`.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB; an overview.
    """
    return whole.proof(whole.overview(LONGEST_PX).pixels, Appearance.PAPER_ALONE)


def printed_preview(sheet: Sheet) -> NDArray[np.uint8]:
    """
    All that is printed, as it will look on the paper alone.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB; an overview.
    """
    spec = sheet.plan.spec
    alone = replace(spec.delivery, extent=Extent.PICTURE)
    printed = varied(sheet, replace(spec, delivery=alone))
    return printed.proof(printed.overview(LONGEST_PX).pixels, Appearance.PAPER_ALONE)


def _small(spec: PrintSpec) -> PrintSpec:
    longest_mm = mm_from_px(LONGEST_PX, _PPI)
    edge_mm = longest_mm + _ROOM_MM
    return replace(
        spec,
        size=SizeSpec(rule=SizeRule.LONGEST_EDGE, longest_mm=longest_mm, ppi=_PPI),
        sheet=SheetSpec(
            media_size="custom",
            feed=spec.sheet.feed,
            width_mm=edge_mm,
            height_mm=edge_mm,
            orientation=Orientation.PORTRAIT,
        ),
        sharpen=SharpenSpec(),
        mount=MountSpec(),
        wrap=WrapSpec(),
        white=WhiteSpec(),
        delivery=replace(spec.delivery, extent=Extent.PICTURE),
    )


class PrintedPlace:
    """Where a picture of all that is printed goes; see `printed_preview`."""

    def __init__(self, view: SheetView) -> None:
        self._view = view

    @property
    def value(self) -> bytes:
        """What the view shows, as a JPEG in sRGB."""
        return self._view.value

    @value.setter
    def value(self, jpeg: bytes) -> None:
        self._view.show_picture(jpeg, is_printed=True)


_HERE = Path(__file__).parent


class SheetView(anywidget.AnyWidget):
    """
    The sheet to scale, moved by pointer and keys.

    The browser draws what it is given and sends a wish in millimetres, the next one
    only after the answer to the last. Whoever listens decides, and shows the geometry
    that came of it.

    Parameters
    ----------
    on_move : callable
        Takes a `Move`.
    on_begin : callable
        Told when a hand begins: what lies there now is what Escape brings back.
    on_restore : callable
        Told that the hand wants back what was there when it began.

    Attributes
    ----------
    geometry : dict
        A `SheetGeometry`.
    printed : PrintedPlace
        Takes a picture of all that is printed instead of the whole photograph.

    Notes
    -----
    The picture is no trait and so is never saved with a notebook: each view asks for
    it and gets it in binary.
    """

    _esm: ClassVar[Path] = _HERE / "sheet_view.js"
    _css: ClassVar[Path] = _HERE / "sheet_view.css"

    geometry = traitlets.Dict().tag(sync=True)

    def __init__(
        self,
        *,
        on_move: Callable[[Move], None],
        on_begin: Callable[[], None],
        on_restore: Callable[[], None],
    ) -> None:
        super().__init__()
        self._jpeg = b""
        self._is_printed = False
        self.printed = PrintedPlace(self)
        self._on_move = on_move
        self._on_begin = on_begin
        self._on_restore = on_restore
        self._gesture = ""
        self.on_msg(self._on_message)

    @property
    def value(self) -> bytes:
        """The whole photograph as a JPEG in sRGB; setting it shows it in all views."""
        return self._jpeg

    @value.setter
    def value(self, jpeg: bytes) -> None:
        self.show_picture(jpeg, is_printed=False)

    def show_picture(self, jpeg: bytes, *, is_printed: bool) -> None:
        """
        Show a picture in all views.

        Parameters
        ----------
        is_printed : bool
            Whether it is all that is printed, with sides, marks and words, and not
            the whole photograph.
        """
        self._jpeg, self._is_printed = jpeg, is_printed
        self._send_picture()

    def show(self, geometry: SheetGeometry) -> None:
        """Draw a sheet."""
        self.geometry = dict(geometry)

    def _send_picture(self) -> None:
        if self._jpeg:
            message = {"kind": "picture", "is_printed": self._is_printed}
            self.send(message, [self._jpeg])

    def _on_message(self, _: object, message: dict[str, Any], __: object) -> None:
        """Take a wish, and answer whatever became of it: the browser waits for it."""
        if message["kind"] == "picture":
            self._send_picture()
            return
        try:
            self._take(message)
        finally:
            self.send(
                {
                    "kind": "answer",
                    "view": message["view"],
                    "number": message["number"],
                }
            )

    def _take(self, message: dict[str, Any]) -> None:
        gesture = f"{message['view']} {message['gesture']}"
        if message["kind"] == "restore":
            if gesture == self._gesture:
                self._on_restore()
            return
        if gesture != self._gesture:
            self._gesture = gesture
            self._on_begin()
        self._on_move(
            Move(
                handle=Handle(message["handle"]),
                hand=Hand(message["hand"]),
                right_mm=float(message["right_mm"]),
                down_mm=float(message["down_mm"]),
            )
        )
