"""What is in a file that holds many prints, pixel by pixel?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from printplan.errors import SpecError
from printplan.pixels.last_look import LastLook
from printplan.pixels.resampled_light import ResampledLight
from printplan.pixels.sheet import Sheet
from printplan.pixels.stages import paper_white, require_inside
from printplan.sizing.boxes import Box, Edges
from printplan.spec import Extent

if TYPE_CHECKING:
    from collections.abc import Generator, Iterator, Sequence

    from numpy.typing import NDArray

    from printplan.spec import DeliverySpec, MasterFacts

    Values = NDArray[np.uint8] | NDArray[np.uint16]

_BAND_PIXELS = 250_000
_LOOK_PX = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class NestedPrint:
    """
    A print and its place on the page.

    Attributes
    ----------
    sheet : Sheet
        Whose file covers the picture with its white border, and nothing else
        (`Extent.PICTURE`).
    left_mm, top_mm : float
        From the page's left top corner.
    turned : bool
        By 90 degrees anticlockwise, as `orientation-requested` 4 of IPP says (RFC
        8011, 5.2.10).
    """

    sheet: Sheet
    left_mm: float
    top_mm: float
    turned: bool = False

    @property
    def box(self) -> Box:
        """Its pixels on the page: as many as its own file has, from a rounded edge."""
        wide, high = self.sheet.size_px
        if self.turned:
            wide, high = high, wide
        ppi = self.sheet.plan.ppi
        start = Edges(self.left_mm, self.top_mm, self.left_mm, self.top_mm).in_px(ppi)
        return Box(start.left, start.top, wide, high)

    def own_box(self, part: Box) -> Box:
        """The box of the print's own file that a part of its place shows."""
        if not self.turned:
            return part
        wide, _ = self.sheet.size_px
        return Box(wide - part.bottom, part.left, part.height, part.width)

    def shown(self, values: Values) -> Values:
        """Values of the print's own file as they lie on the page."""
        return np.rot90(values) if self.turned else values

    def anew(self) -> NestedPrint:
        """The same, without anything that the sheet has kept."""
        old = self.sheet
        picture = old.plan.picture
        light = ResampledLight(
            old.master, old.plan.crop, (picture.width, picture.height)
        )
        return replace(self, sheet=Sheet(old.master, old.plan, light, old.output))


@dataclass(frozen=True, slots=True, kw_only=True)
class NestedPlan:
    """
    What is decided of the page.

    Attributes
    ----------
    ppi : float
        That of all prints.
    page_mm : tuple of float
        Width and height of the paper that the file covers.
    delivery : DeliverySpec
        Of the first print, with one copy; all are alike in what the file needs.
    """

    ppi: float
    page_mm: tuple[float, float]
    delivery: DeliverySpec

    @property
    def most_file_bytes(self) -> int | None:
        """None: a page of several prints goes to a printer of one's own."""
        return None


@dataclass(frozen=True, slots=True)
class JointCredits:
    """Stands for the masters of a page: the first one's facts with all credits."""

    facts: MasterFacts


class NestedPage:
    """
    Several finished prints on one page, not yet computed.

    Every print has, bit for bit, the pixels of its single file, dither included; all
    else is paper white.

    Parameters
    ----------
    prints : sequence of NestedPrint
        At least one, with open masters.
    page_mm : tuple of float
        Width and height of the paper that the file covers.

    Attributes
    ----------
    profile : Profile
        What the file's numbers mean.
    size_px : tuple of int
        Width and height of the file.

    Raises
    ------
    SpecError
        If the prints differ in what a file has once, lie on each other or leave the
        page.
    """

    def __init__(
        self, prints: Sequence[NestedPrint], page_mm: tuple[float, float]
    ) -> None:
        if not prints:
            raise SpecError("The page is empty.", remedy="Give at least one print.")
        first = prints[0].sheet
        require_alike([it.sheet for it in prints])
        page = Edges(0.0, 0.0, *page_mm).in_px(first.plan.ppi)
        _require_apart(prints, page)
        self.prints = tuple(prints)
        self.profile = first.profile
        self.size_px = (page.width, page.height)
        self.dtype = first.dtype
        self.master = JointCredits(_joint_facts([it.sheet for it in prints]))
        self.plan = NestedPlan(
            ppi=first.plan.ppi,
            page_mm=page_mm,
            delivery=replace(first.plan.delivery, copies=1),
        )
        self._page = page

    @property
    def channels(self) -> int:
        """Channels of the file."""
        return self.profile.channels

    def window(self, box: Box) -> Values:
        """
        A box of the finished file, bit for bit.

        Parameters
        ----------
        box : Box
            In file pixels, inside the file.

        Returns
        -------
        ndarray of uint8 or uint16, shape (box.height, box.width, channels)

        Raises
        ------
        SpecError
            If the box is empty or leaves the file.
        """
        require_inside(box, self._page, "the file of nested prints")
        values = self._white(box.height, box.width)
        for each in self.prints:
            part = each.box.common(box)
            if part is not None:
                own = each.own_box(part.moved(-each.box.left, -each.box.top))
                # What a sheet keeps would add up over the prints.
                shown = each.shown(each.anew().sheet.window(own))
                at = part.moved(-box.left, -box.top)
                values[at.top : at.bottom, at.left : at.right] = shown
        return values

    def bands(self) -> Iterator[tuple[int, Values]]:
        """
        The whole file from top to bottom, in full-width bands.

        Yields
        ------
        tuple of int and ndarray
            First row, and shape (rows, width, channels) of the file's number type.

        Notes
        -----
        A print is computed as its rows come, and let go when they have passed: memory
        follows the width of the page, not the number of prints.

        Raises
        ------
        RenderError
            If a picture cannot be computed, or becomes one single value.
        """
        width, height = self.size_px
        step = max(_BAND_PIXELS // width, 1)
        waiting = sorted(self.prints, key=lambda it: it.box.top, reverse=True)
        running: list[tuple[Box, _Rows]] = []
        try:
            for top in range(0, height, step):
                band = Box(0, top, width, min(step, height - top))
                while waiting and waiting[-1].box.top < band.bottom:
                    each = waiting.pop()
                    running.append((each.box, _Rows(each)))
                values = self._white(band.height, width)
                for box, rows in running:
                    part = box.common(band)
                    if part is not None:
                        at = part.top - top
                        rows.fill(values[at : at + part.height, box.left : box.right])
                    if box.bottom <= band.bottom:
                        rows.finish()
                running = [it for it in running if it[0].bottom > band.bottom]
                yield top, values
        finally:
            for _, rows in running:
                rows.close()

    def _white(self, rows: int, columns: int) -> Values:
        white = np.iinfo(self.dtype).max if paper_white(self.profile.space) else 0
        return np.full((rows, columns, self.channels), white, self.dtype)


class _Rows:
    """The rows of one print as they lie on the page, from the top."""

    def __init__(self, each: NestedPrint) -> None:
        self._chunks = _turned_chunks(each) if each.turned else _chunks(each)
        self._at_hand: Values | None = None

    def fill(self, place: Values) -> None:
        """Put the next rows into a place that is as wide as the print."""
        done = 0
        while done < len(place):
            if self._at_hand is None or not len(self._at_hand):
                self._at_hand = next(self._chunks)
            taken = self._at_hand[: len(place) - done]
            place[done : done + len(taken)] = taken
            self._at_hand = self._at_hand[len(taken) :]
            done += len(taken)

    def finish(self) -> None:
        """Let the print take its last look at itself."""
        self._at_hand = None
        for _ in self._chunks:
            pass

    def close(self) -> None:
        """Stop what is computed ahead."""
        self._chunks.close()


def _chunks(each: NestedPrint) -> Generator[Values]:
    for _, values in each.anew().sheet.bands():
        yield values


def _turned_chunks(each: NestedPrint) -> Generator[Values]:
    """Strips of the print's own file from its right edge to the left, each turned."""
    sheet = each.anew().sheet
    wide, high = sheet.size_px
    look = LastLook()
    look.at_light(sheet.reduced_picture(_LOOK_PX, _LOOK_PX))
    picture, step = sheet.plan.picture_in_file, _STRIP_PX
    edges = {0, wide, *range(picture.left, picture.right, step), picture.right}
    right = wide
    for left in sorted(edges - {wide}, reverse=True):
        values = sheet.window(Box(left, 0, right - left, high))
        part = picture.common(Box(left, 0, right - left, high))
        if part is not None:
            at = part.moved(-left, 0)
            inner = values[at.top : at.bottom, at.left : at.right]
            look.at_codes(inner.astype(np.uint16))
        sheet.cache.forget()
        yield np.rot90(values)
        right = left
    look.require_detail()


_STRIP_PX = 256
"""Columns of a turned print that are made at once: more are less work, and more memory.
Our choice."""


def require_alike(sheets: Sequence[Sheet]) -> None:
    """
    Refuse prints that differ in what a file has once.

    Raises
    ------
    SpecError
    """
    for other in sheets:
        _require_pair(sheets[0], other)


def _require_pair(first: Sheet, other: Sheet) -> None:
    for what, one, two in (
        ("paper", first.plan.paper.name, other.plan.paper.name),
        ("printer", first.plan.printer.name, other.plan.printer.name),
        ("setup of the paper", first.plan.setup.words, other.plan.setup.words),
        ("resolution", f"{first.plan.ppi:g} ppi", f"{other.plan.ppi:g} ppi"),
        ("file format", *(str(it.plan.delivery.file_format) for it in (first, other))),
        ("profile of the file", first.profile.name, other.profile.name),
    ):
        if one != two:
            raise SpecError(
                f"Two prints differ in their {what}: {one} and {two}.",
                remedy="Nest prints that are alike in paper, printer, setup, "
                "resolution, file format and delivery, or change one plan.",
            )
    if first.profile.data != other.profile.data or first.plan.ppi != other.plan.ppi:
        raise SpecError(
            "Two prints have different profiles of one name, or almost the same "
            "resolution.",
            remedy="Give both plans the same delivery and resolution.",
        )
    for sheet in (first, other):
        if sheet.plan.delivery.extent is not Extent.PICTURE:
            raise SpecError(
                "A print to be nested covers its whole sheet.",
                remedy=f'Choose the extent "{Extent.PICTURE}": the picture with its '
                "border.",
            )


def _require_apart(prints: Sequence[NestedPrint], page: Box) -> None:
    boxes = [it.box for it in prints]
    for number, box in enumerate(boxes):
        require_inside(box, page, "the page of nested prints")
        for other in boxes[:number]:
            if box.common(other) is not None:
                raise SpecError(
                    f"Two prints lie on each other, at {box} and {other}.",
                    remedy="Nest them again.",
                )


def _joint_facts(sheets: Sequence[Sheet]) -> MasterFacts:
    facts = [it.master.facts for it in sheets]
    makers = dict.fromkeys(it.creator for it in facts if it.creator)
    notices = dict.fromkeys(it.copyright_notice for it in facts if it.copyright_notice)
    return replace(
        facts[0], creator="; ".join(makers), copyright_notice="; ".join(notices)
    )
