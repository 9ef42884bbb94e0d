"""How does a wish change when a print service makes the print, or no longer does?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from printplan.media.service import AS_ORDERED
from printplan.pixels.picture_file import QUALITY
from printplan.sizing.media_sizes import media_size_mm
from printplan.spec import (
    HIGHEST_PPI,
    LOWEST_PPI,
    Delivery,
    DeliverySpec,
    Extent,
    FileFormat,
    Placement,
    SheetSpec,
)
from printplan.units import MM_PER_INCH

if TYPE_CHECKING:
    from printplan.media import Paper, Printer, Service
    from printplan.plan import PrintPlan
    from printplan.spec import PrintSpec


def for_printer(spec: PrintSpec, paper: Paper, printer: Printer) -> PrintSpec:
    """
    A wish as a service takes it, or as a printer of the studio does again.

    Returns
    -------
    PrintSpec
        For a service: the sheet is what is ordered, and the file of a kind that it
        takes, at its resolution, with its bleed where there is no white border. Back
        on a printer of the studio: the largest sheet that is kept of the paper, and a
        file in the printer's colour. The same wish where nothing of that changes.
    """
    if printer.service is not None:
        return _ordered(spec, printer.service)
    if spec.sheet.media_size != AS_ORDERED:
        return spec
    is_deep = max(printer.bit_depths) > 8
    return replace(
        spec,
        size=replace(spec.size, ppi=printer.input_ppi[0]),
        sheet=replace(
            spec.sheet,
            media_size=max(paper.sheets, key=_area_mm2, default=AS_ORDERED),
            feed=paper.on(printer).feeds[0],
        ),
        delivery=DeliverySpec(
            file_format=FileFormat.TIFF_16 if is_deep else FileFormat.TIFF_8,
            dither_seed=spec.delivery.dither_seed,
            copies=spec.delivery.copies,
        ),
    )


def _area_mm2(sheet: str) -> float:
    width_mm, height_mm = media_size_mm(sheet)
    return width_mm * height_mm


def with_exact_px(
    plan: PrintPlan, spec: PrintSpec, width_px: int, height_px: int
) -> PrintSpec:
    """
    A wish whose file is to have so many pixels, at the resolution that gives them.

    Parameters
    ----------
    plan : PrintPlan
        Of the same picture and size: it knows how much paper the file covers.

    Returns
    -------
    PrintSpec
        A plan of it is refused if the shape is another; see `require_exact`.
    """
    off_mm = 2 * (spec.delivery.bleed_mm - plan.delivery.bleed_mm)
    file = plan.layout.bordered
    # The longer edge is known best.
    edges = (
        (file.right_mm - file.left_mm, width_px),
        (file.bottom_mm - file.top_mm, height_px),
    )
    length_mm, length_px = max(edges)
    ppi = length_px * MM_PER_INCH / (length_mm + off_mm)
    ppi = min(max(ppi, LOWEST_PPI), HIGHEST_PPI)
    return replace(
        spec,
        size=replace(spec.size, ppi=round(ppi, 4)),
        delivery=replace(
            spec.delivery, exact_width_px=width_px, exact_height_px=height_px
        ),
    )


def service_delivery(service: Service, *, border_mm: float = 0.0) -> DeliverySpec:
    """
    The file that a service usually takes.

    Parameters
    ----------
    border_mm : float, optional
        White border of the print; one with a border has no bleed.
    """
    file_format = service.file_formats[0]
    quality = service.jpeg_quality if file_format is FileFormat.JPEG else None
    return DeliverySpec(
        colour=Delivery.NAMED_SPACE,
        named_space=service.named_spaces[0],
        file_format=file_format,
        extent=Extent.PICTURE,
        jpeg_quality=None if (quality or 1) <= QUALITY else quality,
        bleed_mm=0.0 if border_mm > 0 else service.bleed_mm,
    )


def _ordered(spec: PrintSpec, service: Service) -> PrintSpec:
    border_mm = spec.sheet.border_mm
    sheet = SheetSpec(
        media_size=AS_ORDERED,
        feed=AS_ORDERED,
        placement=Placement.CENTRED,
        border_mm=border_mm,
    )
    if spec.sheet.media_size == AS_ORDERED:
        return replace(spec, sheet=sheet, delivery=_taken(spec.delivery, service))
    usual = service_delivery(service, border_mm=border_mm)
    old = spec.delivery
    return replace(
        spec,
        size=replace(spec.size, ppi=service.ppi),
        sheet=sheet,
        delivery=replace(usual, copies=old.copies, dither_seed=old.dither_seed),
    )


def _taken(delivery: DeliverySpec, service: Service) -> DeliverySpec:
    """A file for a service, in a space and a format that another one takes."""
    kept = delivery.named_space
    space = kept if kept in service.named_spaces else service.named_spaces[0]
    file_format = delivery.file_format
    if file_format not in service.file_formats:
        file_format = service.file_formats[0]
    quality = delivery.jpeg_quality
    if file_format is not FileFormat.JPEG:
        quality = None
    elif (quality or QUALITY) < (service.jpeg_quality or 1):
        quality = service.jpeg_quality
    return replace(
        delivery,
        colour=Delivery.NAMED_SPACE,
        named_space=space,
        file_format=file_format,
        extent=Extent.PICTURE,
        jpeg_quality=quality,
    )
