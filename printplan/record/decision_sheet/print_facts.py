"""How large is the print, where does it lie, and which file was made of it?"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import starmap
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.media import MediaForm
from printplan.record.decision_sheet.dialogue import intent_words, sheet_words
from printplan.record.decision_sheet.edge_facts import edge_facts
from printplan.sizing.mats import mat_edges, size_mm
from printplan.spec import Delivery, Extent, FileFormat
from printplan.units import LengthUnit, length_text, length_words, short_words

if TYPE_CHECKING:
    from collections.abc import Iterator
    from decimal import Decimal

    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.record.cost import CostBasis
    from printplan.record.record import RecordedFile


NOT_KNOWN = "not known"
"""Said where nothing is known."""


@dataclass(frozen=True, slots=True)
class Row:
    """
    One thing, and what is said of it.

    Attributes
    ----------
    what, value : str
    """

    what: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """
    One part of the page.

    Attributes
    ----------
    heading : str
    rows : tuple of Row
    words : tuple of str
        Sentences below the rows.
    """

    heading: str
    rows: tuple[Row, ...]
    words: tuple[str, ...] = ()


_FORMATS = {
    FileFormat.TIFF_16: "TIFF, 16 bits",
    FileFormat.TIFF_8: "TIFF, 8 bits with dither",
    FileFormat.JPEG: "JPEG, 8 bits",
    FileFormat.PDF: "PDF page, 16 bits",
}
_WHOLE_SHARE = 0.9995


def print_section(plan: PrintPlan) -> Section:
    """Size, resolution and place."""
    return Section(heading="Size and place", rows=tuple(_print_rows(plan)))


def _print_rows(plan: PrintPlan) -> Iterator[Row]:
    size, layout, paper, mount = (
        plan.picture_size,
        plan.layout,
        plan.paper,
        plan.spec.mount,
    )
    unit = plan.spec.lengths_in
    other = LengthUnit.MM if unit is LengthUnit.INCHES else LengthUnit.INCHES
    edges = (size.width_mm, size.height_mm)
    yield Row(
        "Front" if plan.spec.wrap.is_wrapped else "Picture",
        f"{length_words(unit, *edges)} ({length_words(other, *edges)})",
    )
    yield Row(
        "Sheet",
        f"{sheet_words(plan.spec.sheet)}, "
        f"{length_words(unit, layout.width_mm, layout.height_mm)}, "
        f"{layout.orientation}{_across(plan)}",
    )
    yield Row("White edges", white_words(plan))
    yield Row(
        "Paper",
        f"{paper.name}, {paper.surface}, {paper.weight_gsm:g} g/m², "
        f"{paper.thickness_um:g} µm",
    )
    yield Row(
        "Print pixels",
        f"{plan.front.width} × {plan.front.height} at {plan.ppi:g} ppi",
    )
    yield Row(
        "Master",
        f"{plan.facts.width_px} × {plan.facts.height_px} px: "
        f"{plan.effective_ppi:.0f} of its own per inch, {_resampled(plan)}",
    )
    crop = plan.crop
    kept = crop.width_px * crop.height_px / (plan.facts.width_px * plan.facts.height_px)
    yield Row(
        "Cut",
        "none, the whole picture"
        if kept > _WHOLE_SHARE
        else f"{kept:.0%} of the master is kept",
    )
    opening = mat_edges(layout.picture, mount)
    if opening is not None:
        yield Row("Mat opening", length_words(unit, *size_mm(opening)))
    if mount.wrap_mm > 0:
        yield Row(
            "Canvas wrap",
            f"{length_words(unit, mount.wrap_mm)} round a bar of "
            f"{length_words(unit, mount.stretcher_depth_mm)}",
        )
    yield from starmap(Row, edge_facts(plan))
    yield Row("Copies", str(plan.delivery.copies))


def _resampled(plan: PrintPlan) -> str:
    enlargement = plan.enlargement
    if enlargement > 1:
        return f"enlarged {enlargement:.2f} times"
    if enlargement < 1:
        return f"reduced to {enlargement:.0%} along an edge"
    return "one for each print pixel"


def white_words(plan: PrintPlan) -> str:
    """
    White paper on the four sides of the picture.

    Returns
    -------
    str
        Up to the edges of the sheet; of a picture that a print service puts on its
        own paper, the white in the file.
    """
    layout, unit = plan.layout, plan.spec.lengths_in
    of_file = plan.delivery.colour is Delivery.NAMED_SPACE
    paper = layout.sheet
    if of_file and plan.delivery.extent is Extent.PICTURE:
        paper = layout.inked
    picture = layout.block
    sides = (
        ("left", picture.left_mm - paper.left_mm),
        ("top", picture.top_mm - paper.top_mm),
        ("right", paper.right_mm - picture.right_mm),
        ("foot", paper.bottom_mm - picture.bottom_mm),
    )
    told = ", ".join(f"{side} {length_text(white, unit)}" for side, white in sides)
    return f"{told} {unit}"


def check_header(plan: PrintPlan, *, file_profile: str) -> tuple[Row, ...]:
    """
    What is read first before a print is made.

    Parameters
    ----------
    file_profile : str
        Name of the profile that the file carries.

    Returns
    -------
    tuple of Row
        Picture, white edges, sharpening, intent with its compensation, kind of file;
        lengths in the unit that they were asked in.
    """
    size, sharpen, unit = plan.picture_size, plan.spec.sharpen, plan.spec.lengths_in
    sharpened = "none"
    if sharpen.gain > 0:
        limit = sharpen.halo_limit_share
        sharpened = f"gain {sharpen.gain:.2f}, {sharpen.blur_words}, " + (
            "no halo limit" if limit is None else f"halo limit {limit:.0%} in the file"
        )
    done_by = {
        Delivery.PRINTER_COLOUR: "",
        Delivery.WORKING_COLOUR: ", to be set in the print dialogue",
        Delivery.NAMED_SPACE: "",
    }[plan.delivery.colour]
    page = length_words(unit, *plan.page_mm)
    return (
        Row(
            "Picture",
            f"{length_words(unit, size.width_mm, size.height_mm)} at {plan.ppi:g} ppi",
        ),
        Row("White edges", white_words(plan)),
        Row("Sharpening", sharpened),
        Row("Intent", intent_words(plan) + done_by),
        Row(
            "File",
            f"{_FORMATS[plan.delivery.file_format]}, {plan.file_box.width} × "
            f"{plan.file_box.height} px, {page}, in {file_profile}",
        ),
    )


def _across(plan: PrintPlan) -> str:
    """Which edge of a length of roll is the roll's width."""
    if plan.feed.takes is not MediaForm.ROLLS:
        return ""
    across_mm, _ = plan.layout.in_feed_mm
    return f", {short_words(plan.spec.lengths_in, across_mm)} across the roll"


def delivery_section(sheet: Sheet, rendered: RecordedFile) -> Section:
    """The finished file."""
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
    """The light that print and display are looked at in."""
    room = plan.spec.room
    light, display = room.illuminance_lx, room.display_cd_m2
    return (
        Row("Room light", NOT_KNOWN if light is None else f"{light:g} lx"),
        Row("Display white", NOT_KNOWN if display is None else f"{display:g} cd/m²"),
    )


def cost_section(basis: CostBasis | None, *, by_service: bool) -> Section:
    """
    Cost of one print in words.

    Parameters
    ----------
    basis : CostBasis or None
        None if nothing is known.
    by_service : bool
        Whether an outside service prints: paper and ink of this studio play no part.

    Returns
    -------
    Section
        What, and its cost with the numbers behind it. There is no sum of which a
        part is missing.
    """
    if by_service:
        rows = [Row("Price", f"the print service's, {NOT_KNOWN} here")]
    elif basis is None:
        rows = [Row(it, NOT_KNOWN) for it in ("Paper", "Ink", "Time")]
    else:
        rows = list(_cost_rows(basis))
    return Section(heading="Cost of one print", rows=tuple(rows))


def _cost_rows(basis: CostBasis) -> Iterator[Row]:
    """Paper, ink, time, own lines, and their sum if all of them are known."""
    parts = basis.parts
    yield Row(
        "Paper",
        _cost_words(basis, parts["paper"], basis.paper_amount, basis.paper_unit),
    )
    yield Row("Ink", _ink_words(basis, parts["ink"]))
    time_words = NOT_KNOWN if basis.minutes is None else f"{basis.minutes:.0f} min"
    if basis.hourly_rate is not None and basis.minutes is not None:
        time_words = (
            f"{_money(basis, parts['time'])} ({time_words} at {basis.hourly_rate:.2f} "
            "an hour)"
        )
    yield Row("Time", time_words)
    for line in basis.own:
        yield Row(line.what, _money(basis, parts[line.what]))
    if basis.total is not None:
        yield Row("Together", _money(basis, basis.total))
    yield Row("By", basis.source or NOT_KNOWN)


def _ink_words(basis: CostBasis, cost: Decimal | None) -> str:
    estimate = basis.estimate
    if basis.ink_ml is not None or estimate is None:
        return _cost_words(basis, cost, basis.ink_ml, "ml")
    if estimate.ml is None:
        return "not calibrated"
    if cost is None:
        return f"{estimate.amount_words}, its price {NOT_KNOWN}"
    _, low, high = basis.estimated_ink
    words = _money(basis, cost)
    if low is not None and high is not None:
        words += f", {low:.2f} to {high:.2f}"
    return (
        f"{words} (estimated {estimate.amount_words} at "
        f"{_each(basis.ink_price_per_ml or 0.0)})"
    )


def _money(basis: CostBasis, amount: Decimal | None) -> str:
    return NOT_KNOWN if amount is None else f"{amount} {basis.currency}".rstrip()


def _cost_words(
    basis: CostBasis, cost: Decimal | None, amount: float | None, unit: str
) -> str:
    if cost is None:
        known = "" if amount is None else f" ({amount:g} {unit})"
        return f"{NOT_KNOWN}{known}"
    price = basis.paper_price if unit == basis.paper_unit else basis.ink_price_per_ml
    return f"{_money(basis, cost)} ({amount:g} {unit} at {_each(price or 0.0)})"


def _each(price: float) -> str:
    """A price with its cents, or all of its digits where they are finer."""
    return f"{price:.2f}" if round(price, 2) == price else f"{price:g}"
