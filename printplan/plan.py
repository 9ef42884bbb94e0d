"""What will happen: wishes and facts resolved to one frozen plan in whole pixels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from printplan.errors import FitError, SpecError
from printplan.media.service import require_taken
from printplan.sizing.bleed import bled_size, ordered_sheet, require_exact
from printplan.sizing.boxes import Box, Edges
from printplan.sizing.layout import SheetLayout, lay_out
from printplan.sizing.media_sizes import (
    canonical_media_size,
    media_in_feed_mm,
    roll_width_mm,
)
from printplan.sizing.placing import Around
from printplan.sizing.print_size import Crop, PictureSize, print_size_mm
from printplan.sizing.white import white_room
from printplan.sizing.wrap import all_sides, continued_sides, front_size
from printplan.spec import Extent, Marks
from printplan.units import px_from_mm

if TYPE_CHECKING:
    from printplan.media import FeedPath, Paper, PaperOnPrinter, Printer
    from printplan.spec import DeliverySpec, MasterFacts, PrintSpec

MOST_PIXELS = 2_000_000_000
"""Pixels of the largest file made: above any print we could try. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintPlan:
    """
    One print, decided. After this no stage decides anything.

    Attributes
    ----------
    spec : PrintSpec
        What it was made from.
    setup : PaperOnPrinter
        The paper's settings on this printer.
    picture_size : PictureSize
        The picture as it is looked at, of a canvas its front, and its part of the
        master.
    crop : Crop
        What of the master is resampled: with what continues the front round a bar.
    layout : SheetLayout
        In millimetres.
    sheet_px : Box
        The whole sheet; left and top are 0.
    picture : Box
        What is resampled from the master, on the sheet.
    front, block : Box
        The picture as it is looked at, and the same with all sides of a wrap; both
        are the picture without one.
    file_box : Box
        The part of the sheet that the file covers; a borderless one reaches beyond it.
    radius_px : float
        Standard deviation of the sharpening's Gaussian.
    """

    facts: MasterFacts
    paper: Paper
    printer: Printer
    spec: PrintSpec
    setup: PaperOnPrinter
    feed: FeedPath
    picture_size: PictureSize
    crop: Crop
    layout: SheetLayout
    sheet_px: Box
    picture: Box
    front: Box
    block: Box
    file_box: Box
    radius_px: float

    @property
    def ppi(self) -> float:
        """Picture pixels per inch of paper."""
        return self.spec.size.ppi

    @property
    def delivery(self) -> DeliverySpec:
        """The finished file asked for."""
        return self.spec.delivery

    @property
    def enlargement(self) -> float:
        """Print pixels per master pixel along an edge; above 1 adds pixels."""
        return self.picture.width / self.crop.width_px

    @property
    def effective_ppi(self) -> float:
        """Master pixels per inch of paper."""
        return self.picture_size.effective_ppi

    @property
    def picture_in_file(self) -> Box:
        """The picture in the file's own pixels."""
        return self.in_file(self.picture)

    @property
    def has_edges(self) -> bool:
        """Whether more than the picture is printed: sides, or ink on the white."""
        white = self.spec.white
        inked = white.key_line_mm > 0 or white.marks is not Marks.NONE or white.caption
        return self.spec.wrap.is_wrapped or bool(inked)

    @property
    def printed(self) -> Edges:
        """All that is printed on the sheet: the picture, its sides, marks and words."""
        return self.layout.inked if self.has_edges else self.layout.picture

    @property
    def printed_m2(self) -> float:
        """Area of the picture with its sides, as printed."""
        block = self.layout.block
        width_mm = block.right_mm - block.left_mm
        return width_mm * (block.bottom_mm - block.top_mm) / 1e6

    def in_file(self, box: Box) -> Box:
        """A box of the sheet in the file's own pixels."""
        return box.moved(-self.file_box.left, -self.file_box.top)

    @property
    def page_mm(self) -> tuple[float, float]:
        """Width and height of the paper that the file covers."""
        if self.delivery.extent is Extent.SHEET:
            beyond_mm = 2 * self.spec.sheet.bleed_mm
            return self.layout.width_mm + beyond_mm, self.layout.height_mm + beyond_mm
        return print_size_mm(self.file_box.width, self.file_box.height, self.ppi)

    @property
    def trimmed_mm(self) -> tuple[float, float]:
        """Width and height of the picture once its bleed is cut off."""
        off_mm, size = 2 * self.delivery.bleed_mm, self.picture_size
        return size.width_mm - off_mm, size.height_mm - off_mm

    @property
    def most_file_bytes(self) -> int | None:
        """Longest file that the print's service takes; None without a limit."""
        service = self.printer.service
        return None if service is None else service.most_bytes


def resolve(
    facts: MasterFacts, paper: Paper, printer: Printer, spec: PrintSpec
) -> PrintPlan:
    """
    Make the plan of one print.

    Raises
    ------
    SpecError
        If the wishes name something that paper or printer do not have, or ask for
        an absurd number of pixels.
    FitError
        If the picture does not go on the sheet.
    """
    setup = paper.on(printer, spec.setup)
    feed = printer.feed(spec.sheet.feed)
    _require_borderless(spec, feed)
    size, crop = _size_and_crop(facts, spec)
    sheet = spec.sheet
    around = Around(
        sides=all_sides(spec.wrap),
        continued=continued_sides(spec.wrap),
        white=white_room(spec.white, spec.sheet.border_mm, folds=spec.wrap.is_wrapped),
        shrinks_across_percent=spec.wrap.shrinks_across_percent,
        shrinks_along_percent=spec.wrap.shrinks_along_percent,
    )
    if printer.service is not None:
        require_taken(printer.service, paper, spec)
        sheet = ordered_sheet(size, sheet, around)
    longest_mm = min(feed.longest_mm, printer.longest_print_mm or feed.longest_mm)
    layout = lay_out(
        (size.width_mm, size.height_mm),
        media_in_feed_mm(
            sheet,
            feed,
            rolls_mm=paper.rolls_mm,
            longest_print_mm=printer.longest_print_mm,
        ),
        feed.margins,
        sheet,
        around=around,
        roll_lengths_mm=(feed.shortest_mm, longest_mm),
        unit=spec.lengths_in,
    )
    ppi = spec.size.ppi
    sheet_px = layout.sheet.in_px(ppi)
    file_box = _file_edges(spec, layout).in_px(ppi)
    _require_sane(file_box, ppi)
    if spec.delivery.extent is Extent.PICTURE:
        require_exact(layout, spec)
    return PrintPlan(
        facts=facts,
        paper=paper,
        printer=printer,
        spec=spec,
        setup=setup,
        feed=feed,
        picture_size=size,
        crop=crop,
        layout=layout,
        sheet_px=sheet_px,
        picture=layout.picture.in_px(ppi),
        front=layout.front.in_px(ppi),
        block=layout.block.in_px(ppi),
        file_box=file_box,
        radius_px=px_from_mm(spec.sharpen.radius_mm, ppi),
    )


def _size_and_crop(facts: MasterFacts, spec: PrintSpec) -> tuple[PictureSize, Crop]:
    """The front, and what of the master is printed for it."""
    if spec.delivery.bleed_mm == 0:
        return front_size(facts.width_px, facts.height_px, spec.size, spec.wrap)
    if spec.wrap.is_wrapped:
        raise SpecError(
            f"A bleed of {spec.delivery.bleed_mm:g} mm is asked for, and sides for a "
            "canvas.",
            remedy="Choose one of the two: what is trimmed, or what goes round a bar.",
        )
    size = bled_size(facts.width_px, facts.height_px, spec)
    return size, size.crop


def _file_edges(spec: PrintSpec, layout: SheetLayout) -> Edges:
    """The paper that the file covers, and what it prints beyond."""
    if spec.delivery.extent is Extent.PICTURE:
        return layout.inked
    beyond_mm, sheet = spec.sheet.bleed_mm, layout.sheet
    return Edges(
        sheet.left_mm - beyond_mm,
        sheet.top_mm - beyond_mm,
        sheet.right_mm + beyond_mm,
        sheet.bottom_mm + beyond_mm,
    )


def _require_borderless(spec: PrintSpec, feed: FeedPath) -> None:
    """Refuse a bleed where the feed path leaves margins."""
    if spec.sheet.bleed_mm == 0:
        return
    offered = {canonical_media_size(it): it for it in feed.borderless}
    name = spec.sheet.media_size
    is_named = name != "custom" and roll_width_mm(name) is None
    if not is_named or canonical_media_size(name) not in offered:
        sizes = ", ".join(feed.borderless) or "no size"
        raise FitError(
            f"A bleed is asked for, and the {feed.name} prints {sizes} without "
            f"margins, not {name}.",
            remedy="Choose no bleed, or a size and feed path that print without "
            "margins; the paper book tells them.",
        )


def _require_sane(file_box: Box, ppi: float) -> None:
    pixels = file_box.width * file_box.height
    if pixels > MOST_PIXELS:
        # Edges may be rounded up at another resolution, each by less than a pixel.
        rounding = 1 / file_box.width + 1 / file_box.height
        fitting = ppi * ((MOST_PIXELS / pixels) ** 0.5 - rounding)
        raise SpecError(
            f"The file would be {file_box.width} × {file_box.height} px, "
            f"{pixels / 1e9:.1f} thousand million; at most {MOST_PIXELS / 1e9:g} are "
            "made.",
            remedy=f"Choose {int(fitting)} ppi or less, or less paper.",
        )
