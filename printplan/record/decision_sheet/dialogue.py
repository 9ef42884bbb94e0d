"""What is set in the print dialogue, and done by hand before and after?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from printplan.media import MediaForm
from printplan.spec import (
    BlackPointCompensation,
    Delivery,
    Extent,
    FileFormat,
    Intent,
    SheetSpec,
)
from printplan.units import length_words, short_words

if TYPE_CHECKING:
    from printplan.media import PaperOnPrinter
    from printplan.plan import PrintPlan


def heading_by_hand(plan: PrintPlan) -> str:
    """Where the checks by hand are made."""
    if plan.delivery.colour is Delivery.NAMED_SPACE:
        return "With the order, by hand"
    return "At the printer, by hand"


def checks_by_hand(plan: PrintPlan) -> tuple[str, ...]:
    """
    What to do before and after the sheet goes in.

    Returns
    -------
    tuple of str
        In order; for an outside service nothing of this studio's printer. Common
        practice, no source.
    """
    if plan.delivery.colour is Delivery.NAMED_SPACE:
        return _WITH_ORDER
    hours = plan.paper.drying_h
    drying = f"{hours:g} h" if hours is not None else "as its data sheet says"
    return (
        "Nozzle check printed on plain paper: every line whole",
        f"{_capital(plan.setup.black_ink)} is in use, and ink is left in all colours",
        "Feed path and platen clean; dust brushed or blown off the sheet",
        "Curl flattened: no corner stands up to the head",
        (
            "Printable side found, as the paper's maker says, and turned as the "
            f"{plan.feed.name} wants it"
        ),
        "Edge with the arrow enters first; sheet straight against its guide",
        f"After printing: lies flat and dries {drying} before it is stacked or framed",
    )


_WITH_ORDER = (
    "The service's own sheet read: kind of file, colour space, size, border",
    "File opened once as it will be sent: size and profile are those of this page",
    "A small print ordered first where the run is dear",
    "What comes is measured against the picture's size, and looked at in good light",
    "Handled with clean hands or gloves until it is framed",
)

CAUTIONS = (
    (
        "Blades: cut away from yourself along a metal safety rule, with the other hand "
        "behind the edge; sheathe the blade."
    ),
    (
        "Sprays, varnishes, adhesives, solvents: ventilate, keep flames away, wear "
        "what the safety data sheet says."
    ),
    "Rolls and boards are heavy: lift from the knees, two people for a large roll.",
    "The makers' sheets and the rules of your place come before this page.",
)
"""Usual cautions: common practice, no source."""


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


INTENT_WORDS = {
    Intent.PERCEPTUAL: "perceptual",
    Intent.MEDIA_RELATIVE: "media-relative colorimetric",
    Intent.SATURATION: "saturation",
    Intent.ICC_ABSOLUTE: "ICC-absolute colorimetric",
}
"""Rendering intents by the names of ICC.1:2022, clause 6.2."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """
    One thing to set.

    Attributes
    ----------
    attribute : str
        Its name in IPP (RFC 8011, PWG 5100.7 and 5100.13; from memory), by which a
        setting is known whatever a dialogue calls it; empty if it has none.
    """

    what: str
    value: str
    attribute: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialogue:
    """
    All that has to be right where the file is handed to the printer.

    Attributes
    ----------
    off : tuple of str
        What must be switched off.
    """

    heading: str
    settings: tuple[Setting, ...]
    off: tuple[str, ...]


def dialogue_of(plan: PrintPlan, *, profile: str, file_profile: str) -> Dialogue:
    """
    The settings for the file of a plan.

    Parameters
    ----------
    profile : str
        Name of the paper's profile.
    file_profile : str
        Name of the profile that the file carries.

    Returns
    -------
    Dialogue
        For an outside service, what to order instead.
    """
    if plan.delivery.colour is Delivery.NAMED_SPACE:
        return _order(plan, file_profile)
    return Dialogue(
        heading="Set in the print dialogue",
        settings=(*_paper_settings(plan), *_colour_settings(plan, profile)),
        off=_off(plan),
    )


def intent_words(plan: PrintPlan) -> str:
    """
    The rendering intent, with its black point compensation.

    Returns
    -------
    str
        ICC-absolute has no compensation.
    """
    colour = plan.spec.colour
    words = INTENT_WORDS[colour.intent]
    if colour.intent is Intent.ICC_ABSOLUTE:
        return words
    on = colour.black_point_compensation is BlackPointCompensation.ON
    return f"{words}, black point compensation {'on' if on else 'off'}"


def sheet_words(spec: SheetSpec) -> str:
    """The sheet's size as it is asked for."""
    return "custom size" if spec.media_size == "custom" else spec.media_size


def page_words(plan: PrintPlan) -> str:
    """The page as it goes in: its name, its width across the feed, then its length."""
    edges = short_words(plan.spec.lengths_in, *plan.layout.in_feed_mm)
    words = f"{sheet_words(plan.spec.sheet)}, {edges}"
    if plan.feed.takes is MediaForm.ROLLS:
        words += " (across the roll × cut off it)"
    return words


def _orientation_words(plan: PrintPlan) -> str:
    """How the picture is seen, and whether that is how the paper goes in."""
    layout = plan.layout
    across_mm, along_mm = layout.in_feed_mm
    if across_mm <= along_mm:
        return str(layout.orientation)
    lies = "a quarter turned on the page" if layout.turned else "not turned"
    return f"{layout.orientation}, {lies}: the page is wider than long"


def _paper_settings(plan: PrintPlan) -> tuple[Setting, ...]:
    layout, setup = plan.layout, plan.setup
    place = layout.inked
    whole = plan.delivery.extent is Extent.SHEET
    unit = plan.spec.lengths_in
    return (
        Setting(what="Printer", value=plan.printer.name),
        Setting(
            what="Page size",
            value=page_words(plan),
            attribute="media-size",
        ),
        Setting(
            what="Orientation",
            value=_orientation_words(plan),
            attribute="orientation-requested",
        ),
        Setting(what="Paper source", value=plan.feed.name, attribute="media-source"),
        Setting(
            what="Paper type",
            value=setup.media_type
            or "not known: look it up in the driver, and keep it in the paper book",
            attribute="media-type",
        ),
        Setting(what="Black ink", value=setup.black_ink),
        Setting(what="Scaling", value="none (100 %)", attribute="print-scaling"),
        *_borderless(plan),
        Setting(
            what="Place",
            value=(
                "the file is the whole sheet: no margins added, from the sheet's corner"
                if plan.spec.sheet.bleed_mm == 0
                else "in the middle: what reaches beyond the sheet is lost on all sides"
            )
            if whole
            else f"left edge {length_words(unit, place.left_mm)}, top edge "
            f"{length_words(unit, place.top_mm)} from the sheet's corner",
        ),
        Setting(
            what="Quality",
            value=setup.quality
            or "the one that the profile was made with; not known here",
            attribute="print-quality",
        ),
        *_set_with_profile(setup),
        Setting(what="Sides", value="one-sided", attribute="sides"),
        Setting(what="Copies", value=str(plan.delivery.copies), attribute="copies"),
    )


def _borderless(plan: PrintPlan) -> tuple[Setting, ...]:
    """How a print without margins is asked for, if it is one."""
    bleed_mm, unit = plan.spec.sheet.bleed_mm, plan.spec.lengths_in
    if bleed_mm == 0:
        return ()
    value = (
        "none (borderless), without enlargement: the file reaches "
        f"{short_words(unit, bleed_mm)} beyond each edge of the sheet"
    )
    return (Setting(what="Margins", value=value),)


def _set_with_profile(setup: PaperOnPrinter) -> tuple[Setting, ...]:
    """What the profile was made with, as far as the paper book says."""
    limit = setup.ink_limit_percent
    settings = (
        Setting(
            what="Driver resolution",
            value=setup.driver_resolution,
            attribute="printer-resolution",
        ),
        Setting(what="Platen gap", value=setup.platen_gap),
        Setting(
            what="Ink limit",
            value="" if limit is None else f"{limit:g} % of all inks together",
        ),
    )
    return tuple(it for it in settings if it.value)


def _colour_settings(plan: PrintPlan, profile: str) -> tuple[Setting, ...]:
    if plan.delivery.colour is Delivery.PRINTER_COLOUR:
        return (
            Setting(
                what="Colour",
                value="no conversion anywhere: the file holds the printer's own "
                "numbers already",
            ),
        )
    return (
        Setting(
            what="Colour",
            value=f"converted once, by the dialogue, to the profile {profile}",
        ),
        Setting(
            what="Intent",
            value=intent_words(plan),
            attribute="print-rendering-intent",
        ),
    )


def _off(plan: PrintPlan) -> tuple[str, ...]:
    ready = plan.delivery.colour is Delivery.PRINTER_COLOUR
    words = [
        "colour conversion in the dialogue and colour adjustment in the driver"
        if ready
        else "colour adjustment in the driver: only the dialogue converts",
        "fitting to the page, enlarging for printing without borders, cropping",
        "sharpening, noise reduction, automatic improvement",
        "draft quality and ink saving",
        "mirror image, several pages on a sheet, added marks or titles",
    ]
    if plan.delivery.file_format is FileFormat.TIFF_16 and 16 in (
        plan.printer.bit_depths
    ):
        words.append("reduction to 8 bits, where there is a choice")
    return tuple(words)


def _order(plan: PrintPlan, file_profile: str) -> Dialogue:
    size, delivery = plan.picture_size, plan.delivery
    unit = plan.spec.lengths_in
    return Dialogue(
        heading="Order from the print service",
        settings=(
            Setting(what="File", value=f"in {file_profile}, tagged so"),
            Setting(what="File on paper", value=length_words(unit, *plan.page_mm)),
            Setting(
                what="Picture",
                value=length_words(unit, size.width_mm, size.height_mm),
            ),
            Setting(what="Scaling", value="none (100 %)", attribute="print-scaling"),
            Setting(what="Paper", value=plan.paper.name),
            Setting(
                what="Colour",
                value="converted from the profile in the file, "
                f"{intent_words(plan)}, without correction by eye or machine",
                attribute="print-rendering-intent",
            ),
            Setting(what="Copies", value=str(delivery.copies), attribute="copies"),
        ),
        off=(
            "automatic correction of colour and tone",
            "sharpening: the file is sharpened for this size and paper",
            "fitting to the page, cropping to a standard shape",
        ),
    )
