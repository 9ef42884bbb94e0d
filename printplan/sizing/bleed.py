"""How large is a file that goes beyond the trimmed print, or has to have so many px?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from printplan.errors import FitError, SpecError
from printplan.sizing.boxes import Sides
from printplan.sizing.print_size import picture_size
from printplan.spec import HIGHEST_PPI, LOWEST_PPI, Placement, SizeRule
from printplan.units import MM_PER_INCH, short_words

if TYPE_CHECKING:
    from printplan.sizing.layout import SheetLayout
    from printplan.sizing.placing import Around
    from printplan.sizing.print_size import PictureSize
    from printplan.spec import PrintSpec, SheetSpec

_PPI_DIGITS = 4
"""Decimals of a resolution that is told: 1e-4 ppi moves an edge of 60 m by 0.24 px."""


def bled_size(width_px: int, height_px: int, spec: PrintSpec) -> PictureSize:
    """
    The picture on paper with its bleed, and the crop that fills it.

    Parameters
    ----------
    width_px, height_px : int
        Master, as it is looked at.

    Returns
    -------
    PictureSize
        ``bleed_mm`` longer on each side than the size asked for, which is the trimmed
        print. The picture is enlarged evenly to cover it, so that a little of it is
        cut along one pair of edges.

    Raises
    ------
    SpecError
        If a white border is asked for as well, or the master has no pixels.

    Examples
    --------
    >>> from printplan.spec import DeliverySpec, PrintSpec, SheetSpec, SizeSpec
    >>> spec = PrintSpec(
    ...     size=SizeSpec(rule=SizeRule.WIDTH, width_mm=300, ppi=300),
    ...     sheet=SheetSpec(media_size="A3", feed="tray"),
    ...     delivery=DeliverySpec(extent="picture", bleed_mm=3))
    >>> size = bled_size(6000, 4000, spec)
    >>> size.width_mm, size.height_mm, round(size.crop.height_px)
    (306.0, 206.0, 4000)
    """
    size = picture_size(width_px, height_px, spec.size)
    bleed_mm = spec.delivery.bleed_mm
    if bleed_mm == 0:
        return size
    if spec.sheet.border_mm > 0:
        raise SpecError(
            f"A bleed of {bleed_mm:g} mm and a white border of "
            f"{spec.sheet.border_mm:g} mm are given.",
            remedy="Choose a white border of 0, or a bleed of 0.",
        )
    filled = replace(
        spec.size,
        rule=SizeRule.FILL,
        width_mm=size.width_mm + 2 * bleed_mm,
        height_mm=size.height_mm + 2 * bleed_mm,
        longest_mm=None,
    )
    return picture_size(width_px, height_px, filled)


def ordered_sheet(size: PictureSize, sheet: SheetSpec, around: Around) -> SheetSpec:
    """
    The sheet of a print that a service makes: what is printed and its white, no more.

    Parameters
    ----------
    size : PictureSize
        With its bleed, which is paper too until it is trimmed.
    around : Around
        Sides of a canvas, and white with marks and words.
    """
    white = around.white.whole if around.white is not None else Sides()
    # Equal on both sides, since the picture lies in the middle.
    across_mm, down_mm = (2 * max(it) for it in (white.across_mm, white.down_mm))
    return replace(
        sheet,
        media_size="custom",
        width_mm=size.width_mm + sum(around.sides.across_mm) + across_mm,
        height_mm=size.height_mm + sum(around.sides.down_mm) + down_mm,
        placement=Placement.CENTRED,
        offset_right_mm=0.0,
        offset_down_mm=0.0,
    )


def require_exact(layout: SheetLayout, spec: PrintSpec) -> None:
    """
    Refuse a plan whose file has other pixels than it has to have.

    Raises
    ------
    SpecError
        If another resolution would give them.
    FitError
        If none does, since the shape is another: a picture is never stretched.
    """
    delivery, unit = spec.delivery, spec.lengths_in
    width_px, height_px = delivery.exact_width_px, delivery.exact_height_px
    if width_px is None or height_px is None:
        return
    file = layout.inked
    box = file.in_px(spec.size.ppi)
    if (box.width, box.height) == (width_px, height_px):
        return
    told = f"The file would be {box.width} × {box.height} px"
    width_mm = file.right_mm - file.left_mm
    height_mm = file.bottom_mm - file.top_mm
    by_width = width_px * MM_PER_INCH / width_mm
    by_height = height_px * MM_PER_INCH / height_mm
    for ppi in (by_width, by_height, (by_width + by_height) / 2):
        value = round(ppi, _PPI_DIGITS)
        if not LOWEST_PPI <= value <= HIGHEST_PPI:
            continue
        fitting = file.in_px(value)
        if (fitting.width, fitting.height) == (width_px, height_px):
            raise SpecError(
                f"{told} at {spec.size.ppi:g} ppi; {width_px} × {height_px} px are "
                "asked for.",
                remedy=f"Choose {value:.{_PPI_DIGITS}f} ppi.",
            )
    around_mm = 2 * (spec.sheet.border_mm - delivery.bleed_mm)
    short_mm = min(width_mm / width_px, height_mm / height_px)
    ask = short_words(
        unit, width_px * short_mm - around_mm, height_px * short_mm - around_mm
    )
    raise FitError(
        f"{told}, and {width_px} × {height_px} px are asked for: of another shape, or "
        f"beyond {LOWEST_PPI:g} to {HIGHEST_PPI:g} ppi.",
        remedy='Choose the size by "fill an area, cropped", of '
        f"{ask}, or other pixels.",
    )
