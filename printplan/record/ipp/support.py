"""Does a printer take a ticket, and in which words of its own?"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

from printplan.errors import RecordError, did_you_mean
from printplan.record.ipp.job_ticket import listed
from printplan.record.ipp.keywords import ValueTag
from printplan.record.ipp.message import (
    Attribute,
    Localised,
    Range,
    members_of,
    one_value,
)
from printplan.units import LengthUnit, short_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from printplan.record.ipp.job_ticket import JobTicket
    from printplan.record.ipp.message import Content

_SOURCE, _TYPE = "media-source", "media-type"
_SIZE = "media-size"


@dataclass(frozen=True, slots=True, kw_only=True)
class PrinterWords:
    """
    What the user says about one printer's own words.

    Attributes
    ----------
    media_source : str
        The printer's word for the feed path; empty if the paper book's name of the
        feed path is that word.
    media_type : str
        The printer's word for the paper; empty if the paper book's ``media_type`` is
        that word.
    leave_out : tuple of str
        Attributes that this printer may decide by itself.
    """

    media_source: str = ""
    media_type: str = ""
    leave_out: tuple[str, ...] = ()


class _Refused(NamedTuple):
    """A value that the printer does not list, and those it lists."""

    name: str
    wanted: str
    offered: str


@dataclass(slots=True)
class _Findings:
    """What was found out on the way."""

    refused: list[_Refused] = field(default_factory=list)
    unknown: list[str] = field(default_factory=list)
    margins: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    unit: LengthUnit = LengthUnit.MM

    def sentences(self) -> tuple[str, ...]:
        notes = [*self.notes]
        if self.margins:
            notes.append(
                f"The printer's own {', '.join(self.margins)} lie inside the paper "
                "book's and are asked for."
            )
        if self.unknown:
            notes.append(
                f"The printer does not know {', '.join(self.unknown)}, so it is not "
                "told: measure the first print."
            )
        return tuple(notes)


def fit_ticket(
    ticket: JobTicket, printer: Mapping[str, Attribute], words: PrinterWords
) -> JobTicket:
    """
    Put a ticket into a printer's words.

    Parameters
    ----------
    printer : mapping of str to Attribute
        What the printer says of itself.

    Returns
    -------
    JobTicket
        What the printer has never heard of is left out, and its notes say so. A
        margin is the printer's own largest that is not above the plan's, so nothing
        of the picture is lost.

    Raises
    ------
    RecordError
        If the printer knows an attribute and does not list the value; nothing is
        guessed in its place. All such values are named at once.
    """
    _require_in_ticket(ticket, words.leave_out)
    findings = _Findings(unit=ticket.lengths_in)
    fitted = []
    for attribute in ticket.attributes:
        if attribute.name in words.leave_out:
            continue
        if attribute.name == "media-col":
            fitted.append(_fit_media(ticket, printer, words, findings))
        else:
            fitted.append(_fit(attribute, printer, findings))
    formats = printer.get("document-format-supported")
    if formats is not None and ticket.document_format not in formats.contents:
        raise RecordError(
            f"The printer does not take {ticket.document_format}; it takes "
            f"{listed(formats.contents)}.",
            remedy="Make the file with printplan render, and print it from a program "
            "that has this printer's driver.",
        )
    if findings.refused:
        raise _refusal(findings.refused)
    return replace(
        ticket,
        attributes=tuple(it for it in fitted if it is not None),
        notes=(*ticket.notes, *findings.sentences()),
    )


def _require_in_ticket(ticket: JobTicket, names: Iterable[str]) -> None:
    known = [it.name for it in ticket.attributes]
    known += [it.name for it in _members(ticket) if it.name != _SIZE]
    known += [_TYPE] if _TYPE not in known else []
    for name in names:
        if name not in known:
            raise RecordError(
                f'The ticket holds no attribute "{name}" that could be left out.',
                remedy=did_you_mean(name, known),
            )


def _members(ticket: JobTicket) -> tuple[Attribute, ...]:
    for attribute in ticket.attributes:
        if attribute.name == "media-col":
            return members_of(attribute.values[0].content)
    return ()


def _fit(
    attribute: Attribute, printer: Mapping[str, Attribute], findings: _Findings
) -> Attribute | None:
    """The attribute with the printer's own value, if it knows any."""
    offered = printer.get(f"{attribute.name}-supported")
    (wanted,) = attribute.contents
    if offered is None:
        findings.unknown.append(attribute.name)
        return None
    for value in offered.values:
        if _takes(value.content, wanted):
            # A name or a keyword goes back with the syntax that it came in.
            words = isinstance(value.content, str)
            return Attribute(attribute.name, (value,)) if words else attribute
    findings.refused.append(
        _Refused(attribute.name, _told(attribute), listed(offered.contents))
    )
    return None


def _takes(offered: Content, wanted: Content) -> bool:
    if isinstance(offered, Range):
        return isinstance(wanted, int) and offered.low <= wanted <= offered.high
    if isinstance(offered, Localised):
        return offered.text == wanted
    limits = members_of(offered)
    if limits:
        members = {it.name: it.contents for it in members_of(wanted)}
        return all(
            limit.name in members
            and any(_takes(it, members[limit.name][0]) for it in limit.contents)
            for limit in limits
        )
    return offered == wanted


def _fit_media(
    ticket: JobTicket,
    printer: Mapping[str, Attribute],
    words: PrinterWords,
    findings: _Findings,
) -> Attribute | None:
    known = printer.get("media-col-supported")
    if known is None:
        findings.notes.append(
            "The printer does not know media-col: it is told the size of the sheet "
            "alone, so set feed path and media type at the printer."
        )
        media = one_value("media", ValueTag.KEYWORD, ticket.media)
        return _fit(media, printer, findings)
    members = _in_words(_members(ticket), words)
    fitted = []
    for member in members:
        if member.name in words.leave_out:
            continue
        if member.name not in known.contents:
            findings.unknown.append(member.name)
        elif member.name.endswith("-margin"):
            fitted.append(_fit_margin(member, printer, findings))
        else:
            fitted.append(_fit(member, printer, findings))
    if _TYPE in known.contents and _TYPE not in {it.name for it in members}:
        _refuse_no_type(printer, words, findings)
    collection = tuple(it for it in fitted if it is not None)
    return one_value("media-col", ValueTag.BEGIN_COLLECTION, collection)


def _refuse_no_type(
    printer: Mapping[str, Attribute], words: PrinterWords, findings: _Findings
) -> None:
    """The paper book names no media type, and the printer wants one."""
    offered = printer.get(f"{_TYPE}-supported")
    if offered is not None and _TYPE not in words.leave_out:
        findings.refused.append(
            _Refused(_TYPE, f"a job without {_TYPE}", listed(offered.contents))
        )


def _in_words(
    members: tuple[Attribute, ...], words: PrinterWords
) -> tuple[Attribute, ...]:
    """The members with the feed path and the paper as the user named them."""
    given = {_SOURCE: words.media_source, _TYPE: words.media_type}
    named = {
        name: one_value(name, ValueTag.NAME_WITHOUT_LANGUAGE, word)
        for name, word in given.items()
        if word
    }
    return tuple(({it.name: it for it in members} | named).values())


def _fit_margin(
    margin: Attribute, printer: Mapping[str, Attribute], findings: _Findings
) -> Attribute | None:
    """The printer's largest margin that leaves all of the plan's printable area."""
    offered = printer.get(f"{margin.name}-supported")
    (wanted,) = margin.contents
    if offered is None or not isinstance(wanted, int):
        findings.unknown.append(margin.name)
        return None
    fitting = []
    for content in offered.contents:
        if isinstance(content, Range) and content.low <= wanted:
            fitting.append(min(content.high, wanted))
        elif isinstance(content, int) and content <= wanted:
            fitting.append(content)
    if not fitting:
        findings.refused.append(
            _Refused(margin.name, _told(margin), listed(offered.contents))
        )
        return None
    chosen = max(fitting)
    if chosen != wanted:
        edge = margin.name.removeprefix("media-").replace("-", " ")
        findings.margins.append(f"{edge} of {short_words(findings.unit, chosen / 100)}")
    return one_value(margin.name, ValueTag.INTEGER, chosen)


def _told(attribute: Attribute) -> str:
    return f"{attribute.name} {listed(attribute.contents)}"


def _refusal(refused: list[_Refused]) -> RecordError:
    names = [it.name for it in refused]
    remedies = [f"It takes {'; '.join(f'{it.name}: {it.offered}' for it in refused)}."]
    words = [f"--{name} WORD" for name in names if name in {_SOURCE, _TYPE}]
    if words:
        remedies.append(f"Say its own word with {' and '.join(words)}.")
    if _SIZE in names or "media" in names:
        remedies.append("Choose one of its sheets in the plan.")
    others = [it for it in names if it not in {_SOURCE, _TYPE, _SIZE, "media"}]
    if others:
        options = " ".join(f"--without {name}" for name in others)
        remedies.append(f"Change the plan, or let the printer decide: {options}.")
    return RecordError(
        f"The printer does not take {'; '.join(it.wanted for it in refused)}.",
        remedy=" ".join(remedies),
    )
