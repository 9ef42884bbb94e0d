"""How are the pixels of a view cut from the sheet, for either side?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.errors import SpecError
from printplan.pixels.as_seen import as_seen
from printplan.pixels.maps import reach_map
from printplan.sharpening.calibration import spread_on
from printplan.units import px_from_mm, whole_px
from printplan.workbook.drawings.paint import paint_reach
from printplan.workbook.loupe.frames import (
    Cut,
    Frame,
    Layer,
    Zoom,
    place_overview,
    place_print_pixels,
    place_true_size,
    seen_part,
    shown_px,
)
from printplan.workbook.loupe.overviews import (
    OverviewStore,
    averaged,
    mean_of,
    reach_in,
    reach_words,
)
from printplan.workbook.loupe.sides import Spreading
from printplan.workbook.previews import in_8_bits

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from printplan.pixels.sheet import Overview, Sheet
    from printplan.sharpening.response import SpreadCurve
    from printplan.sizing.boxes import Box
    from printplan.workbook.loupe.frames import FrameWish, Placement
    from printplan.workbook.loupe.sides import Side


_SHORTEST_OVERVIEW_PX = 16

_ANY_DISTANCE_MM = 400.0
"""`as_seen` wants a distance for its words, which are not shown here."""


class CutStore:
    """
    The latest window of each side, which outlives a plan that does not change it:
    sharpening leaves the side before it as it was.
    """

    def __init__(self) -> None:
        self._kept: dict[str, tuple[tuple[object, ...], Box, Cut]] = {}

    def cut(
        self, name: str, basis: tuple[object, ...], part: Box, make: Callable[[], Cut]
    ) -> Cut:
        """
        The very cut of before if its basis is the same and it holds enough, or a new
        one.

        Parameters
        ----------
        basis : tuple
            All that the pixels depend on.
        part : Box
            What is wanted of the sheet.
        """
        kept = self._kept.get(name)
        if kept is None or kept[0] != basis or kept[1].common(part) != part:
            kept = self._kept[name] = (basis, part, make())
        return kept[2]


class Cutter:
    """
    The pixels of one plan, for any view.

    Parameters
    ----------
    sheet : Sheet
        The plan's own.
    overviews : OverviewStore
        May serve several plans in turn.
    cuts : CutStore, optional
        Likewise.
    """

    def __init__(
        self,
        sheet: Sheet,
        sides: Sequence[Side],
        overviews: OverviewStore,
        cuts: CutStore | None = None,
    ) -> None:
        self.sheet = sheet
        self._sides = {side.name: side for side in sides}
        self._sheets: dict[str, Sheet] = {}
        self._overviews = overviews
        self._cuts = CutStore() if cuts is None else cuts
        self._reduced: tuple[int, Overview, NDArray[np.float32]] | None = None

    def frame(self, wish: FrameWish) -> Frame:
        """
        What a view wants to see.

        Raises
        ------
        PrintPlanError
            If a side is not known, the view lies outside the file, or the print
            cannot be computed.
        """
        sides = [self._side(name) for name in wish.sides]
        if wish.zoom is Zoom.OVERVIEW:
            return self._overview_frame(wish, sides)
        is_exact, repeat = wish.zoom is Zoom.PRINT_PIXELS, int(wish.scale)
        placed = place_print_pixels if is_exact else place_true_size
        place = placed(self.sheet.size_px, wish)
        if is_exact:
            cuts = [
                self._window(side, place.box, self._part(wish, place, number), repeat)
                for number, side in enumerate(sides)
            ]
            words = f"{repeat}:1, each print pixel is " + (
                "one pixel of the screen"
                if repeat == 1
                else f"{repeat} × {repeat} pixels of the screen"
            )
        else:
            cuts = [
                Cut(pixels=self._true_size(side, place.box, wish.scale), repeat=1)
                for side in sides
            ]
            words = (
                f"true size, {1 / wish.scale:.2f} print pixels along a pixel of the "
                "screen, averaged in linear light"
            )
        layer_words = ""
        if wish.layer is Layer.REACH:
            linear, distance = reach_in(self.sheet, place.box)
            rows, columns = cuts[-1].pixels.shape[:2]
            cuts[-1] = _painted(cuts[-1], mean_of(distance, (columns, rows)))
            layer_words = reach_words(self.sheet, linear)
        return _frame(place, cuts, words, layer_words)

    def _window(self, side: Side, box: Box, part: Box, repeat: int) -> Cut:
        """Exact print pixels; where the paper spreads them, as fine as the screen."""
        if side.spreading is Spreading.IN_PAPER:
            return Cut(pixels=self._as_seen(side, box, float(repeat)), repeat=1)
        sheet = self._sheet(side)

        def window() -> Cut:
            if side.appearance is None:
                pixels = in_8_bits(sheet.window(part))
            else:
                pixels = sheet.proof_window(part, side.appearance)
            return Cut(pixels=pixels, repeat=repeat, from_px=part.left - box.left)

        return self._cuts.cut(side.name, (sheet.plan, box, repeat), part, window)

    @staticmethod
    def _part(wish: FrameWish, place: Placement, number: int) -> Box:
        """What is seen of a side; the layer is painted over all of it."""
        if wish.layer is Layer.NONE:
            return seen_part(place, int(wish.scale), wish, number)
        return place.box

    def _true_size(self, side: Side, box: Box, scale: float) -> NDArray[np.uint8]:
        if side.appearance is not None:
            return self._as_seen(side, box, scale)
        codes = self._sheet(side).window(box)
        return averaged(in_8_bits(codes), shown_px(box, scale))

    def _as_seen(self, side: Side, box: Box, scale: float) -> NDArray[np.uint8]:
        """Light of the print, averaged over the screen's pixels."""
        if side.appearance is None:
            raise SpecError(
                f'The side "{side.name}" has no paper for light to spread in.',
                remedy='Give it an appearance, for example "paper-alone".',
            )
        plan = self.sheet.plan
        spread: float | SpreadCurve = 0.0
        if side.spreading is Spreading.IN_PAPER:
            spread = spread_on(plan.paper, plan.setup).spread
        return as_seen(
            self._sheet(side),
            box,
            spread=spread,
            distance_mm=plan.spec.sharpen.distance_mm or _ANY_DISTANCE_MM,
            screen_px_per_mm=scale * px_from_mm(1.0, plan.ppi),
            appearance=side.appearance,
        ).pixels

    def _overview_frame(self, wish: FrameWish, sides: Sequence[Side]) -> Frame:
        longest_px = max(
            whole_px(max(self.sheet.size_px) * wish.scale), _SHORTEST_OVERVIEW_PX
        )
        wholes = [
            self._overviews.shown(self._sheet(side), side, longest_px) for side in sides
        ]
        rows, columns = wholes[0].shape[:2]
        place = place_overview((columns, rows), wish)
        box = place.box
        here = (slice(box.top, box.bottom), slice(box.left, box.right))
        cuts = [Cut(pixels=whole[here], repeat=1) for whole in wholes]
        words = (
            f"overview 1:{1 / wish.scale:.3g}, not sharpened: for colour and place, "
            "not to judge sharpness"
        )
        layer_words = ""
        if wish.layer is Layer.REACH:
            overview, distance = self._reduced_reach(longest_px)
            cuts[-1] = _painted(cuts[-1], distance[here])
            layer_words = reach_words(self.sheet, _linear_in(overview, box))
        return _frame(place, cuts, words, layer_words)

    def _reduced_reach(self, longest_px: int) -> tuple[Overview, NDArray[np.float32]]:
        """Overview and distances over the whole file, kept for the next move."""
        kept = self._reduced
        if kept is None or kept[0] != longest_px:
            overview = self.sheet.overview(longest_px)
            distance = np.zeros(overview.pixels.shape[:2], np.float32)
            inside = overview.picture
            distance[inside.top : inside.bottom, inside.left : inside.right] = (
                reach_map(self.sheet, overview).values
            )
            kept = self._reduced = (longest_px, overview, distance)
        return kept[1], kept[2]

    def _side(self, name: str) -> Side:
        if name not in self._sides:
            raise SpecError(
                f"This loupe has no side {name!r}.",
                remedy=f"Choose one of: {', '.join(self._sides)}.",
            )
        return self._sides[name]

    def _sheet(self, side: Side) -> Sheet:
        """The sheet of a side, composed once."""
        if side.name not in self._sheets:
            self._sheets[side.name] = side.of(self.sheet)
        return self._sheets[side.name]


def _frame(
    place: Placement, cuts: Sequence[Cut], words: str, layer_words: str
) -> Frame:
    return Frame(
        cuts=tuple(cuts),
        left=place.left,
        top=place.top,
        words=words,
        layer_words=layer_words,
    )


def _painted(cut: Cut, distance: NDArray[np.float32]) -> Cut:
    return Cut(pixels=paint_reach(cut.pixels, distance), repeat=cut.repeat)


def _linear_in(overview: Overview, box: Box) -> NDArray[np.float32] | None:
    """The picture's linear light in a box of its overview."""
    inside = overview.picture.common(box)
    if inside is None:
        return None
    here = inside.moved(-overview.picture.left, -overview.picture.top)
    return overview.linear[:, here.top : here.bottom, here.left : here.right]
