"""Which printer is it that answers at an address?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from printplan.errors import RecordError, SpecError
from printplan.media import BIT_DEPTHS, DriverColour
from printplan.record.ipp.http import printer_address
from printplan.record.ipp.job_ticket import content_words
from printplan.record.ipp.jobs import asked_attributes
from printplan.record.ipp.keywords import PrintQuality, ResolutionUnit, word_of
from printplan.record.ipp.media_described import (
    contents,
    feeds_described,
    pairs_of,
    texts,
)
from printplan.record.ipp.message import Resolution
from printplan.record.printer_classes import class_for, draft_of_class
from printplan.record.printer_draft import PrinterDraft, SaidBy
from printplan.spec import HIGHEST_PPI, LOWEST_PPI
from printplan.units import MM_PER_INCH

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from printplan.record.ipp.message import Attribute
    from printplan.record.printer_classes import PrinterClass

_DATABASE: Final = "media-col-database"
_BY_ITSELF: Final = "auto"
"""A printer's word for its own choice, which is neither paper nor source."""

_MM_PER_CM: Final = 10
_DIGITS: Final = 2
"""Decimals of a resolution that was told per centimetre. Our choice."""


def ask_printer(
    uri: str, *, name: str = "", kind: PrinterClass | None = None
) -> PrinterDraft:
    """
    Ask a printer what it is.

    Parameters
    ----------
    uri : str
        ``ipp://host:port/path``, or ``ipps://`` for an encrypted connection.
    name, kind
        As for `described_printer`.

    Returns
    -------
    PrinterDraft
        With that address.

    Raises
    ------
    RecordError
        If it cannot be asked, or says what no printer can be.

    Notes
    -----
    ``media-col-database`` is asked for by itself: a printer gives it only when it is
    named (PWG 5100.7), and some refuse to give it together with ``all``.
    """
    address = printer_address(uri)
    answer = asked_attributes(address)
    notes: tuple[str, ...] = ()
    try:
        answer |= asked_attributes(address, _DATABASE)
    except RecordError as error:
        notes = (f"Sizes and margins of each source are not told: {error.problem}",)
    draft = described_printer(answer, name=name, kind=kind)
    return replace(
        draft,
        printer=replace(draft.printer, ipp_address=uri),
        notes=(*notes, *draft.notes),
    )


def described_printer(
    answer: Mapping[str, Attribute],
    *,
    name: str = "",
    kind: PrinterClass | None = None,
) -> PrinterDraft:
    """
    Make a printer of what it answers.

    Parameters
    ----------
    answer : mapping of str to Attribute
        Of Get-Printer-Attributes.
    name : str, optional
        What the person calls it; else its own name.
    kind : PrinterClass, optional
        Gives what the printer does not say; by default the smallest class that takes
        its widest paper.

    Returns
    -------
    PrinterDraft
        Each value with who said it: what the printer does not say is our choice.

    Raises
    ------
    RecordError
        If it says what no printer can be.

    Notes
    -----
    Read are ``printer-info`` and ``printer-name`` [1]_, but no make and model, which
    is a brand; ``printer-resolution-supported``, ``print-quality-supported`` [1]_;
    ``media-type-supported`` and what `feeds_described` reads [2]_; inks out of
    ``printer-supply`` [3]_; and the colours and bits of ``pwg-raster-document-type-
    supported`` [4]_, since ``print-color-mode-supported`` tells colour from
    monochrome and no more. All but [1]_ from memory.

    A printer is not asked whether it is ready to print.

    References
    ----------
    .. [1] RFC 8011, Internet Printing Protocol/1.1: Model and Semantics, 5.2, 5.4.
    .. [2] PWG 5100.7-2023, IPP Job Extensions v2.1, 6.9.
    .. [3] PWG 5100.13-2023, IPP Driver Replacement Extensions v2.0 (values as in RFC
       3805, prtMarkerSupplies).
    .. [4] PWG 5102.4-2012, PWG Raster Format.
    """
    values = _values(answer)
    said = dict.fromkeys(values, SaidBy.PRINTER)
    try:
        media = feeds_described(answer)
        if kind is None:
            kind = class_for(media.widest_mm, takes_rolls=media.takes_rolls)
        base = draft_of_class(kind, name).printer
        feeds, feeds_said = media.feeds(base.feeds)
        printer = replace(base, feeds=feeds, **values)
    except SpecError as error:
        raise RecordError(
            f"The printer says what no printer can be. {error.problem}",
            remedy="Choose its class instead of asking it, and type what its manual "
            "says.",
        ) from error
    if name.strip():
        printer = replace(printer, name=name.strip())
        said["name"] = SaidBy.TYPED
    notes = media.notes
    if "name" not in said:
        notes += ("The printer has no name of its own: give it one.",)
    return PrinterDraft(printer=printer, said=said | feeds_said, notes=notes)


def _values(answer: Mapping[str, Attribute]) -> dict[str, Any]:
    """What a printer says of itself, by the fields of `Printer`; nothing empty."""
    inks = _inks(answer)
    colour, bits = _pixels(answer)
    values = {
        "name": _own_name(answer),
        "media_types": tuple(
            it for it in texts(answer, "media-type-supported") if it != _BY_ITSELF
        ),
        "qualities": tuple(
            word_of(PrintQuality, it)
            for it in contents(answer, "print-quality-supported")
            if isinstance(it, int)
        ),
        "driver_resolutions": _different(
            map(content_words, contents(answer, "printer-resolution-supported"))
        ),
        "input_ppi": _square_ppi(answer),
        "inks": inks,
        "black_inks": tuple(it for it in inks if _is_black(it)),
        "driver_colour": colour,
        "bit_depths": bits,
    }
    if not values["black_inks"]:
        values["inks"] = ()  # ours would not be among them
    return {name: value for name, value in values.items() if value}


def _own_name(answer: Mapping[str, Attribute]) -> str:
    """What its owner calls it; many carry maker and model in its place."""
    brand = {it.casefold() for it in texts(answer, "printer-make-and-model")}
    for attribute in ("printer-info", "printer-name"):
        for text in texts(answer, attribute):
            if text.casefold() not in brand:
                return text
    return ""


def _square_ppi(answer: Mapping[str, Attribute]) -> tuple[float, ...]:
    """Resolutions that are the same both ways, within what is taken here."""
    found = []
    for it in contents(answer, "printer-resolution-supported"):
        if isinstance(it, Resolution) and it.across == it.along:
            metric = it.unit == ResolutionUnit.DPCM
            scale = MM_PER_INCH / _MM_PER_CM if metric else 1.0
            found.append(round(it.across * scale, _DIGITS))
    return tuple(sorted({ppi for ppi in found if LOWEST_PPI <= ppi <= HIGHEST_PPI}))


def _inks(answer: Mapping[str, Attribute]) -> tuple[str, ...]:
    """Its inks by their colours, or by their descriptions where two are alike."""
    supplies = [pairs_of(it) for it in contents(answer, "printer-supply")]
    described = contents(answer, "printer-supply-description")
    if len(described) != len(supplies):
        described = ("",) * len(supplies)
    inks = [
        (supply.get("colorantname", ""), content_words(words))
        for supply, words in zip(supplies, described, strict=True)
        if supply.get("class") == "supplyThatIsConsumed"
        and supply.get("type", "").startswith("ink")
    ]
    colours = [colour for colour, _ in inks]
    names = [words for _, words in inks]
    told = all(it not in {"", "unknown", "other"} for it in colours)
    if not told or len(set(colours)) < len(colours):
        colours = names
    return _different(colours) if all(colours) else ()


def _is_black(ink: str) -> bool:
    """Whether an ink is a black one, and no light one, which is a grey."""
    words = ink.casefold()
    return "black" in words and "light" not in words


def _pixels(
    answer: Mapping[str, Attribute],
) -> tuple[DriverColour | None, tuple[int, ...]]:
    """Device colours and bits out of words such as ``adobe-rgb_16`` and ``cmyk_8``."""
    kinds = [
        it.rpartition("_") for it in texts(answer, "pwg-raster-document-type-supported")
    ]
    colours = {colour: bits for colour, _, bits in kinds}
    rgb = any(colour.endswith("rgb") for colour in colours)
    cmyk = "cmyk" in colours
    if not (rgb or cmyk):
        return None, ()
    wanted = "rgb" if rgb else "cmyk"
    depths = {bits for colour, _, bits in kinds if colour.endswith(wanted)}
    return (
        DriverColour.RGB if rgb else DriverColour.CMYK,
        tuple(it for it in BIT_DEPTHS if str(it) in depths),
    )


def _different(words: Iterable[str]) -> tuple[str, ...]:
    """Each once, whatever its case, in the printer's order."""
    return tuple(
        {it.strip().casefold(): it.strip() for it in words if it.strip()}.values()
    )
