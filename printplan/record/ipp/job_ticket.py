"""Which attributes does the job of one plan have?"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from printplan.errors import RecordError
from printplan.record.ipp.keywords import (
    OrientationRequested,
    PrintQuality,
    PrintRenderingIntent,
    ResolutionUnit,
    ValueTag,
    word_of,
)
from printplan.record.ipp.message import (
    Attribute,
    Localised,
    Range,
    Resolution,
    members_of,
    one_value,
)
from printplan.shown_text import shortened, visible
from printplan.sizing.layout import NO_MARGINS
from printplan.sizing.media_sizes import pwg_media_size_name, roll_width_mm
from printplan.spec import BlackPointCompensation, Delivery, Extent, Intent
from printplan.units import LengthUnit, length_words, short_words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from printplan.plan import PrintPlan
    from printplan.record.ipp.message import Content


JsonValue: TypeAlias = "int | str | list[JsonValue] | dict[str, JsonValue] | None"


def json_table(attributes: tuple[Attribute, ...]) -> dict[str, JsonValue]:
    """
    Attributes as plain values under their names.

    Returns
    -------
    dict of str to JSON values
        A collection is a dict, several values are a list, dates and unknown syntaxes
        are hexadecimal digits.
    """
    return {it.name: _json_values(it) for it in attributes}


def content_words(content: Content) -> str:
    """
    A value as people write it.

    Parameters
    ----------
    content : Content
        As in `Value`.

    Returns
    -------
    str
        The size of a sheet in millimetres; other collections as JSON.

    Examples
    --------
    >>> content_words(Resolution(360, 360)), content_words(Range(1, 99))
    ('360 dpi', '1-99')
    """
    match content:
        case Resolution(across, along, unit):
            size = f"{across}" if across == along else f"{across} × {along}"
            return f"{size} {word_of(ResolutionUnit, unit)}"
        case Range(low, high):
            return f"{low}-{high}"
        case str() | int():
            return shortened(visible(str(content)))
    edges = {it.name: it.contents[0] for it in members_of(content) if it.values}
    if set(edges) == {"x-dimension", "y-dimension"}:
        return f"{_mm(edges['x-dimension'])} × {_mm(edges['y-dimension'])} mm"
    return shortened(visible(json.dumps(_json(content), ensure_ascii=False)))


def listed(contents: Iterable[Content]) -> str:
    """Values as people list them; of very many the first, and how many more."""
    words = [content_words(content) for content in contents]
    more = len(words) - _MOST_LISTED
    shown = ", ".join(words[:_MOST_LISTED])
    return f"{shown} and {more} more" if more > 0 else shown


_MOST_LISTED = 100
"""A list of sheets of a large printer is shorter. Our choice."""


def _mm(hundredths: Content) -> str:
    """Lengths of media are hundredths of a millimetre (PWG 5100.7)."""
    match hundredths:
        case Range(low, high):
            return f"{low / 100:g}-{high / 100:g}"
        case int():
            return f"{hundredths / 100:g}"
        case _:
            return content_words(hundredths)


def _json_values(attribute: Attribute) -> JsonValue:
    values = [_json(content) for content in attribute.contents]
    return values[0] if len(values) == 1 else values


def _json(content: Content) -> JsonValue:
    match content:
        case Resolution(across, along, unit):
            word = word_of(ResolutionUnit, unit)
            return {"across": across, "along": along, "unit": word}
        case Range(low, high):
            return {"low": low, "high": high}
        case str() | Localised():
            return visible(content if isinstance(content, str) else content.text)
        case int() | None:
            return content
        case bytes():
            return content.hex()
        case _:
            return json_table(content)


DOCUMENT_FORMAT = "application/pdf"
"""The page that goes with the ticket (RFC 8118)."""

_HUNDREDTHS_PER_MM = 100
"""Lengths in media-col are hundredths of a millimetre (PWG 5100.7, media-size)."""

_UM_PER_HUNDREDTH = 10

_INTENTS = {
    Intent.PERCEPTUAL: PrintRenderingIntent.PERCEPTUAL,
    Intent.MEDIA_RELATIVE: PrintRenderingIntent.RELATIVE,
    Intent.SATURATION: PrintRenderingIntent.SATURATION,
    Intent.ICC_ABSOLUTE: PrintRenderingIntent.ABSOLUTE,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class JobTicket:
    """
    The attributes of one print job.

    Attributes
    ----------
    attributes : tuple of Attribute
        Job template attributes, by the names of the standards.
    media : str
        The sheet's self-describing name (PWG 5101.1), for a printer that does not
        know ``media-col``.
    document_format : str
        Media type of the page.
    notes : tuple of str
        What the ticket cannot say.
    lengths_in : LengthUnit
        Unit of what is said about it; attributes are in hundredths of a millimetre.
    """

    attributes: tuple[Attribute, ...]
    media: str
    document_format: str = DOCUMENT_FORMAT
    notes: tuple[str, ...] = ()
    lengths_in: LengthUnit = LengthUnit.MM


def job_ticket(plan: PrintPlan) -> JobTicket:
    """
    Write the ticket of a plan.

    Parameters
    ----------
    plan : PrintPlan
        Its file must cover the whole sheet.

    Returns
    -------
    JobTicket
        Feed path and media type stand in it in the paper book's own words; which
        keywords a printer has for them, only that printer knows. See `fit_ticket`.

    Raises
    ------
    RecordError
        If the file covers the picture alone.

    Notes
    -----
    ``media-size`` and the margins are those of the sheet as it goes in: its
    ``x-dimension`` lies across the feed. A page that is looked at the other way is
    turned onto it by ``orientation-requested`` 4, as `lay_out` decides; one that lies
    on it as it goes in has 3, also where a length of roll is wider than long. The
    name in `JobTicket.media` has the shorter edge first, as the standard names sheets
    (from memory), and so does not tell which edge goes in.

    ``print-quality`` and ``printer-resolution`` are those that the paper is set up
    with. Without them quality is high, and the resolution that of the page, which so
    needs no resampling (our choice).

    ``print-rendering-intent`` is the plan's intent only where the printer is to
    convert. A page in printer colour has been converted already and carries the
    paper's own profile: ``relative`` is asked for, since from a profile to itself
    that intent changes least (our choice). The standards have no word for *do not
    convert*, which the notes say.

    A borderless page is larger than its sheet, whose margins are then 0; a page that
    is not scaled is centred on its sheet and clipped [3]_.

    ``print-color-mode`` is ``color`` for grey pictures too: a neutral print is made
    of all inks (our choice).

    References
    ----------
    .. [1] RFC 8011, Internet Printing Protocol/1.1: Model and Semantics, 5.2.
    .. [2] PWG 5100.7-2023, IPP Job Extensions v2.1 (``media-col``); from memory,
       like the next two.
    .. [3] PWG 5100.13-2023, IPP Driver Replacement Extensions v2.0
       (``print-scaling``, ``print-color-mode``, ``print-rendering-intent``).
    .. [4] PWG 5101.1-2013, PWG Media Standardized Names 2.0.
    """
    if plan.delivery.extent is not Extent.SHEET:
        raise RecordError(
            "The file of this plan covers the picture alone, so a printer would place "
            "it on the sheet as it likes.",
            remedy="Let the file cover the whole sheet.",
        )
    resolution, resolution_note = _resolution(plan)
    quality, quality_note = _quality(plan.setup.quality)
    turned = plan.layout.turned
    orientation = (
        OrientationRequested.LANDSCAPE if turned else OrientationRequested.PORTRAIT
    )
    attributes = (
        _integer("copies", plan.delivery.copies),
        _keyword("sides", "one-sided"),
        one_value("media-col", ValueTag.BEGIN_COLLECTION, _media_collection(plan)),
        _enum("orientation-requested", orientation),
        *resolution,
        *quality,
        _keyword("print-color-mode", "color"),
        _keyword("print-rendering-intent", _rendering_intent(plan)),
        _keyword("print-scaling", "none"),
    )
    across_mm, along_mm = plan.layout.in_feed_mm
    named = plan.spec.sheet.media_size
    by_edges = named == "custom" or roll_width_mm(named) is not None
    size = f"{across_mm:.6f}x{along_mm:.6f} mm" if by_edges else named
    return JobTicket(
        attributes=attributes,
        media=pwg_media_size_name(size),
        notes=(
            *resolution_note,
            *quality_note,
            *_colour_note(plan),
            *_edge_notes(plan),
        ),
        lengths_in=plan.spec.lengths_in,
    )


def ticket_json(ticket: JobTicket) -> str:
    """
    Write a ticket for people and programs.

    Returns
    -------
    str
        A JSON object with each attribute under the standards' name. Numbers that
        stand for words stay numbers, as they do in the standards; a resolution is an
        object of two numbers and their unit.
    """
    table = {"document-format": ticket.document_format} | json_table(ticket.attributes)
    return json.dumps(table, indent=2, ensure_ascii=False)


def _hundredths(length_mm: float) -> int:
    return round(length_mm * _HUNDREDTHS_PER_MM)


def _media_collection(plan: PrintPlan) -> tuple[Attribute, ...]:
    across_mm, along_mm = plan.layout.in_feed_mm
    margins = NO_MARGINS if plan.spec.sheet.bleed_mm > 0 else plan.feed.margins
    members = [
        one_value(
            "media-size",
            ValueTag.BEGIN_COLLECTION,
            (
                _integer("x-dimension", _hundredths(across_mm)),
                _integer("y-dimension", _hundredths(along_mm)),
            ),
        ),
        _integer("media-top-margin", _hundredths(margins.leading_mm)),
        _integer("media-bottom-margin", _hundredths(margins.trailing_mm)),
        _integer("media-left-margin", _hundredths(margins.left_mm)),
        _integer("media-right-margin", _hundredths(margins.right_mm)),
        _name("media-source", plan.feed.name),
    ]
    if plan.setup.media_type:
        members.append(_name("media-type", plan.setup.media_type))
    thickness = round(plan.paper.thickness_um / _UM_PER_HUNDREDTH)
    return (
        *members,
        _integer("media-thickness", thickness),
        _integer("media-weight-metric", round(plan.paper.weight_gsm)),
    )


def _resolution(plan: PrintPlan) -> tuple[tuple[Attribute, ...], tuple[str, ...]]:
    """The driver's resolution, or else the plan's, and why it is not told."""
    words, ppi = plan.setup.driver_resolution, plan.ppi
    match = _RESOLUTION.fullmatch(words)
    if words and match is None:
        note = (
            f'IPP holds resolutions as numbers, so the printer is not told "{words}": '
            "set it at the printer."
        )
        return (), (note,)
    if match is not None:
        across, along = int(match[1]), int(match[2] or match[1])
    elif ppi == round(ppi):
        across = along = round(ppi)
    else:
        note = f"IPP holds whole numbers, so the printer is not told {ppi:g} ppi."
        return (), (note,)
    value = Resolution(across, along)
    return (one_value("printer-resolution", ValueTag.RESOLUTION, value),), ()


_RESOLUTION = re.compile(r"\s*(\d{2,5})\s*(?:[x×]\s*(\d{2,5})\s*)?(?:dpi|ppi)?\s*")


def _quality(words: str) -> tuple[tuple[Attribute, ...], tuple[str, ...]]:
    """Quality in the protocol's words, high unless another is set up."""
    if not words:
        return (_enum("print-quality", PrintQuality.HIGH),), ()
    for quality in PrintQuality:
        if words.strip().casefold() == quality.word:
            return (_enum("print-quality", quality),), ()
    known = ", ".join(quality.word for quality in PrintQuality)
    note = (
        f'IPP knows the qualities {known}, so the printer is not told "{words}": set '
        "it at the printer."
    )
    return (), (note,)


def _rendering_intent(plan: PrintPlan) -> PrintRenderingIntent:
    if plan.delivery.colour is Delivery.PRINTER_COLOUR:
        return PrintRenderingIntent.RELATIVE
    colour = plan.spec.colour
    compensated = colour.black_point_compensation is BlackPointCompensation.ON
    if colour.intent is Intent.MEDIA_RELATIVE and compensated:
        return PrintRenderingIntent.RELATIVE_BPC
    return _INTENTS[colour.intent]


def _colour_note(plan: PrintPlan) -> tuple[str, ...]:
    if plan.delivery.colour is not Delivery.PRINTER_COLOUR:
        return _compensation_note(plan)
    note = (
        f"The page is in the colours of {plan.paper.name} already, and IPP has no word "
        "for that: see that the printer itself corrects no colours."
    )
    return (note,)


def _edge_notes(plan: PrintPlan) -> tuple[str, ...]:
    """What is to be done by hand with the edges of the print."""
    unit, sheet, wrap = plan.spec.lengths_in, plan.spec.sheet, plan.spec.wrap
    notes = []
    if roll_width_mm(sheet.media_size) is not None:
        cut = length_words(unit, plan.layout.in_feed_mm[1])
        notes.append(
            f"The page is {cut} of a roll: see that the printer cuts there, or cut it "
            "by hand."
        )
    if wrap.is_wrapped:
        notes.append(
            "The page is a canvas with its sides, for a bar "
            f"{short_words(unit, wrap.bar_depth_mm)} deep: IPP has no word for where "
            "it folds."
        )
    if sheet.bleed_mm > 0:
        notes.append(
            f"The page reaches {short_words(unit, sheet.bleed_mm)} beyond each edge "
            "of its sheet: see that the printer neither shrinks nor enlarges it."
        )
    if plan.spec.mount.has_mat:
        notes.append("The print goes under a mat: what it hides is on no ticket.")
    return tuple(notes)


def _compensation_note(plan: PrintPlan) -> tuple[str, ...]:
    """What the keywords of the standard leave open: only ``relative`` has a twin."""
    colour = plan.spec.colour
    if colour.intent in {Intent.MEDIA_RELATIVE, Intent.ICC_ABSOLUTE}:
        return ()
    note = (
        f"The page is to be converted with the {colour.intent} intent and black point "
        f"compensation {colour.black_point_compensation}, and IPP has no word for the "
        "latter with that intent: see how the printer has it set."
    )
    return (note,)


def _integer(name: str, number: int) -> Attribute:
    return one_value(name, ValueTag.INTEGER, number)


def _enum(name: str, number: int) -> Attribute:
    return one_value(name, ValueTag.ENUM, int(number))


def _keyword(name: str, word: str) -> Attribute:
    return one_value(name, ValueTag.KEYWORD, str(word))


def _name(name: str, words: str) -> Attribute:
    return one_value(name, ValueTag.NAME_WITHOUT_LANGUAGE, words)
