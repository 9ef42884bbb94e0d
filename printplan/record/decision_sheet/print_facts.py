"""How large is the print, where does it lie, and which file was made of it?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from printplan.record.decision_sheet.dialogue import sheet_words
from printplan.record.decision_sheet.section import NOT_KNOWN, Row, Section
from printplan.spec import Delivery, Extent, FileFormat
from printplan.units import MM_PER_INCH

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.record.record import KeptFile

_FORMATS = {
    FileFormat.TIFF_16: "TIFF, 16 bits",
    FileFormat.TIFF_8: "TIFF, 8 bits with dither",
    FileFormat.JPEG: "JPEG, 8 bits",
    FileFormat.PDF: "PDF page, 16 bits",
}
_WHOLE_SHARE = 0.9995


def print_section(plan: PrintPlan) -> Section:
    """
    Size, resolution and place.

    Parameters
    ----------
    plan : PrintPlan

    Returns
    -------
    Section
    """
    return Section(heading="Size and place", rows=tuple(_print_rows(plan)))


def _print_rows(plan: PrintPlan) -> Iterator[Row]:
    size, layout, paper, mount = (
        plan.picture_size,
        plan.layout,
        plan.paper,
        plan.spec.mount,
    )
    inches = [edge / MM_PER_INCH for edge in (size.width_mm, size.height_mm)]
    yield Row(
        "Picture",
        f"{size.width_mm:.1f} × {size.height_mm:.1f} mm "
        f"({inches[0]:.2f} × {inches[1]:.2f} in)",
    )
    yield Row(
        "Sheet",
        f"{sheet_words(plan.spec.sheet)}, {layout.width_mm:.1f} × "
        f"{layout.height_mm:.1f} mm, {layout.orientation}",
    )
    yield Row("White edges", _whites(plan))
    yield Row(
        "Paper",
        f"{paper.name}, {paper.surface}, {paper.weight_gsm:g} g/m², "
        f"{paper.thickness_um:g} µm",
    )
    yield Row(
        "Print pixels",
        f"{plan.picture.width} × {plan.picture.height} at {plan.ppi:g} ppi",
    )
    yield Row(
        "Master",
        f"{plan.facts.width_px} × {plan.facts.height_px} px: "
        f"{plan.effective_ppi:.0f} of its own per inch, {_resampled(plan)}",
    )
    crop = size.crop
    kept = crop.width_px * crop.height_px / (plan.facts.width_px * plan.facts.height_px)
    yield Row(
        "Cut",
        "none, the whole picture"
        if kept > _WHOLE_SHARE
        else f"{kept:.0%} of the master is kept",
    )
    if mount.mat_opening_width_mm is not None:
        yield Row(
            "Mat opening",
            f"{mount.mat_opening_width_mm:.1f} × {mount.mat_opening_height_mm:.1f} mm",
        )
    if mount.wrap_mm > 0:
        yield Row(
            "Canvas wrap",
            f"{mount.wrap_mm:.1f} mm round a bar of {mount.stretcher_depth_mm:.1f} mm",
        )
    yield Row("Copies", str(plan.delivery.copies))


def _resampled(plan: PrintPlan) -> str:
    enlargement = plan.enlargement
    if enlargement > 1:
        return f"enlarged {enlargement:.2f} times"
    if enlargement < 1:
        return f"reduced to {enlargement:.0%} along an edge"
    return "one for each print pixel"


def _whites(plan: PrintPlan) -> str:
    sheet, picture = plan.layout.sheet, plan.layout.picture
    sides = (
        ("left", picture.left_mm),
        ("top", picture.top_mm),
        ("right", sheet.right_mm - picture.right_mm),
        ("foot", sheet.bottom_mm - picture.bottom_mm),
    )
    return ", ".join(f"{side} {white_mm:.1f}" for side, white_mm in sides) + " mm"


def delivery_section(sheet: Sheet, rendered: KeptFile) -> Section:
    """
    The finished file.

    Parameters
    ----------
    sheet : Sheet
    rendered : KeptFile

    Returns
    -------
    Section
    """
    delivery = sheet.plan.delivery
    colour = {
        Delivery.PRINTER_COLOUR: "printer colour: converted to the paper's profile",
        Delivery.WORKING_COLOUR: "working colour: sized and sharpened, not converted",
        Delivery.NAMED_SPACE: f"{delivery.named_space}, for a print service",
    }[delivery.colour]
    whole = delivery.extent is Extent.SHEET
    rows = (
        Row("File", Path(rendered.path).name),
        Row(
            "Format",
            f"{_FORMATS[rendered.file_format]}, {rendered.bytes_written / 1e6:.1f} MB",
        ),
        Row(
            "Pixels",
            f"{rendered.width_px} × {rendered.height_px} at {rendered.ppi:g} ppi",
        ),
        Row("Covers", "the whole sheet" if whole else "the picture with its border"),
        Row("Colour", colour),
        Row("Tagged", sheet.profile.name),
    )
    return Section(heading="Delivery", rows=rows)


def room_rows(plan: PrintPlan) -> tuple[Row, ...]:
    """
    The light that print and display are looked at in.

    Parameters
    ----------
    plan : PrintPlan

    Returns
    -------
    tuple of Row
    """
    room = plan.spec.room
    light, display = room.illuminance_lx, room.display_cd_m2
    return (
        Row("Room light", NOT_KNOWN if light is None else f"{light:g} lx"),
        Row("Display white", NOT_KNOWN if display is None else f"{display:g} cd/m²"),
    )
