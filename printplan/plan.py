"""What will happen: wishes and facts resolved to one frozen plan in whole pixels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from printplan.errors import SpecError
from printplan.media.service import require_taken
from printplan.sizing.bleed import bled_size, ordered_sheet, require_exact
from printplan.sizing.layout import Box, SheetLayout, lay_out
from printplan.sizing.media_sizes import sheet_in_feed_mm
from printplan.sizing.print_size import PictureSize, print_size_mm
from printplan.spec import Extent
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
        Picture on paper, and the crop of the master.
    layout : SheetLayout
        In millimetres.
    sheet_px : Box
        The whole sheet; left and top are 0.
    picture : Box
        The picture on the sheet.
    file_box : Box
        The part of the sheet that the file covers.
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
    layout: SheetLayout
    sheet_px: Box
    picture: Box
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
        return self.picture.width / self.picture_size.crop.width_px

    @property
    def effective_ppi(self) -> float:
        """Master pixels per inch of paper."""
        return self.picture_size.effective_ppi

    @property
    def picture_in_file(self) -> Box:
        """The picture in the file's own pixels."""
        return self.picture.moved(-self.file_box.left, -self.file_box.top)

    @property
    def page_mm(self) -> tuple[float, float]:
        """Width and height of the paper that the file covers."""
        if self.delivery.extent is Extent.SHEET:
            return self.layout.width_mm, self.layout.height_mm
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
    size = bled_size(facts.width_px, facts.height_px, spec)
    sheet = spec.sheet
    if printer.service is not None:
        require_taken(printer.service, paper, spec)
        sheet = ordered_sheet(size, sheet)
    layout = lay_out(
        (size.width_mm, size.height_mm),
        sheet_in_feed_mm(
            sheet,
            feed,
            rolls_mm=paper.rolls_mm,
            longest_print_mm=printer.longest_print_mm,
        ),
        feed.margins,
        sheet,
        unit=spec.lengths_in,
    )
    ppi = spec.size.ppi
    sheet_px = layout.sheet.in_px(ppi)
    whole = spec.delivery.extent is Extent.SHEET
    file_box = sheet_px if whole else layout.bordered.in_px(ppi)
    _require_sane(file_box, ppi)
    if not whole:
        require_exact(layout, spec)
    return PrintPlan(
        facts=facts,
        paper=paper,
        printer=printer,
        spec=spec,
        setup=setup,
        feed=feed,
        picture_size=size,
        layout=layout,
        sheet_px=sheet_px,
        picture=layout.picture.in_px(ppi),
        file_box=file_box,
        radius_px=px_from_mm(spec.sharpen.radius_mm, ppi),
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
