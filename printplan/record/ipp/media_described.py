"""Which ways for paper does a printer describe, with which sizes and margins?"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from printplan.media import FeedPath, Margins, MediaForm
from printplan.record.ipp.message import Localised, Range, members_of
from printplan.record.printer_draft import SaidBy, feed_key
from printplan.sizing.media_sizes import canonical_media_size

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from printplan.record.ipp.message import Attribute, Content

_AUTO: Final = "auto"
_HUNDREDTHS_PER_MM: Final = 100
_UM_PER_HUNDREDTH: Final = 10

# Edges of the sheet in portrait as PWG 5100.7 names them, and what they are here: as
# the job ticket tells a plan's margins.
_EDGES: Final = {
    "leading_mm": "media-top-margin",
    "trailing_mm": "media-bottom-margin",
    "left_mm": "media-left-margin",
    "right_mm": "media-right-margin",
}

# PWG 5101.1, 5: a self-describing name ends in the edges and their unit.
_NAMED_EDGES = re.compile(r"_([0-9.]+x[0-9.]+(?:mm|in))(?:_.*)?")

_ROLL_TRAY: Final = "continuousRoll"
"""A source that holds a roll (RFC 3805, prtInputType; from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Medium:
    """One entry of the printer's list: what it takes, where, with which margins."""

    source: str
    across: Range
    along: Range
    margins: Mapping[str, int]
    name: str

    @property
    def is_borderless(self) -> bool:
        return len(self.margins) == len(_EDGES) and not any(self.margins.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class DescribedMedia:
    """
    What a printer says of its sources.

    Attributes
    ----------
    sources : tuple of str
        Its own words for them; one that is empty if it names none.
    rolls : frozenset of str
        Those that hold a roll.
    listed, ready : tuple of _Medium
        What it takes, and what lies in it now.
    largest_margins : mapping of str to int
        Largest margin of each edge that is told for no source, in hundredths of a
        millimetre.
    thickness : Range or None
        In hundredths of a millimetre.
    """

    sources: tuple[str, ...]
    rolls: frozenset[str]
    listed: tuple[_Medium, ...]
    ready: tuple[_Medium, ...]
    largest_margins: Mapping[str, int]
    thickness: Range | None

    @property
    def takes_rolls(self) -> bool:
        """Whether any source holds a roll."""
        return bool(self.rolls)

    @property
    def widest_mm(self) -> float:
        """The widest paper that any source takes; 0 if none is told."""
        return max((it.across.high for it in self.listed), default=0) / (
            _HUNDREDTHS_PER_MM
        )

    @property
    def notes(self) -> tuple[str, ...]:
        """What to know of the answer."""
        if self.thickness is None or len(self.sources) < 2:
            return ()
        note = (
            "The printer tells one range of thickness for all its ways in; a feeder "
            "that bends the sheet takes less than a straight path."
        )
        return (note,)

    def feeds(
        self, base: tuple[FeedPath, ...]
    ) -> tuple[tuple[FeedPath, ...], dict[str, SaidBy]]:
        """
        Feed paths, and which of their parts the printer said.

        Parameters
        ----------
        base : tuple of FeedPath
            Give what it does not say: the first of the same form.

        Returns
        -------
        tuple of FeedPath, dict of str to SaidBy
            The latter by the keys of `PrinterDraft.said`.

        Raises
        ------
        SpecError
            If a number is one that no printer has.
        """
        feeds: list[FeedPath] = []
        said: dict[str, SaidBy] = {}
        for source in self.sources:
            form = MediaForm.ROLLS if source in self.rolls else MediaForm.SHEETS
            like = next((it for it in base if it.takes is form), base[0])
            parts = self._parts(source, form)
            values = {key: value for part in parts.values() for key, value in part}
            feed = replace(like, name=source or like.name, takes=form, **values)
            feeds.append(feed)
            told = [*parts, *(["takes"] if source else [])]
            said |= {feed_key(feed, part): SaidBy.PRINTER for part in told}
        return tuple(feeds), said

    def _parts(
        self, source: str, form: MediaForm
    ) -> dict[str, tuple[tuple[str, Any], ...]]:
        """What is told of one source: fields and values by the parts of a feed path."""
        listed = [it for it in self.listed if it.source in {source, ""}]
        ready = [it for it in self.ready if it.source == source]
        parts: dict[str, tuple[tuple[str, Any], ...]] = {}
        if listed:
            across = [edge for it in listed for edge in it.across]
            parts["across the feed"] = (
                ("narrowest_mm", _mm(min(across))),
                ("widest_mm", _mm(max(across))),
            )
        if along := [edge for it in listed for edge in it.along if edge > 0]:
            parts["along the feed"] = (
                ("shortest_mm", _mm(min(along))),
                ("longest_mm", _mm(max(along))),
            )
        if self.thickness is not None:
            thinnest, thickest = self.thickness
            parts["thickness"] = (
                ("thinnest_um", float(thinnest * _UM_PER_HUNDREDTH)),
                ("thickest_um", float(thickest * _UM_PER_HUNDREDTH)),
            )
        margins = (
            _largest([it for it in listed if not it.is_borderless])
            or _largest([it for it in ready if not it.is_borderless])
            or self.largest_margins
        )
        if len(margins) == len(_EDGES):
            told = Margins(**{edge: _mm(margins[edge]) for edge in _EDGES})
            parts["margins"] = (("margins", told),)
        borderless = dict.fromkeys(
            it.name for it in (*listed, *ready) if it.is_borderless and it.name
        )
        if borderless and form is MediaForm.SHEETS:
            parts["without margins"] = (("borderless", tuple(borderless)),)
        return parts


def feeds_described(answer: Mapping[str, Attribute]) -> DescribedMedia:
    """
    Read what a printer says of its sources.

    Parameters
    ----------
    answer : mapping of str to Attribute
        Of Get-Printer-Attributes; ``media-col-database`` has to be asked for by name.

    Returns
    -------
    DescribedMedia
        Lengths in hundredths of a millimetre.

    Notes
    -----
    Sizes are those of ``media-col-database`` that name the source or none, else of
    ``media-size-supported``; ``media-col-ready`` only says what lies in it now. A
    sheet goes in by its shorter edge. Margins are the largest of any entry that is
    not without margins: a smaller one may hold for another paper. Entries with four
    margins of 0 are sizes that the printer makes without a margin.

    References
    ----------
    .. [1] PWG 5100.7-2023, IPP Job Extensions v2.1, 6.9 (``media-col-database``,
       ``media-col-ready``, ``media-size-supported``, ``media-thickness-supported``,
       ``media-*-margin-supported``); from memory.
    .. [2] PWG 5100.13-2023, ``printer-input-tray``; RFC 3805; from memory.
    """
    sources = tuple(it for it in texts(answer, "media-source-supported") if it != _AUTO)
    trays = [pairs_of(it) for it in contents(answer, "printer-input-tray")]
    rolls = {it.get("name", "") for it in trays if it.get("type") == _ROLL_TRAY}
    rolls |= {it for it in sources if "roll" in it.split("-")}
    listed = _media(answer, "media-col-database")
    if not listed:
        listed = tuple(
            _medium((("media-size", size),))
            for size in contents(answer, "media-size-supported")
        )
    known = tuple(it for it in listed if it is not None)
    thickness = next(
        (
            it
            for it in contents(answer, "media-thickness-supported")
            if isinstance(it, Range)
        ),
        None,
    )
    return DescribedMedia(
        sources=sources or ("",),
        rolls=frozenset(rolls & set(sources)),
        listed=known,
        ready=tuple(it for it in _media(answer, "media-col-ready") if it is not None),
        largest_margins=_supported_margins(answer),
        thickness=thickness,
    )


def contents(answer: Mapping[str, Attribute], name: str) -> tuple[Content, ...]:
    """The values of an attribute; none if the printer does not tell it."""
    attribute = answer.get(name)
    return attribute.contents if attribute is not None else ()


def texts(answer: Mapping[str, Attribute], name: str) -> tuple[str, ...]:
    """Its values that are words, without blank ones."""
    words = (
        it.text if isinstance(it, Localised) else it for it in contents(answer, name)
    )
    return tuple(it.strip() for it in words if isinstance(it, str) and it.strip())


def pairs_of(content: Content) -> dict[str, str]:
    """
    The pairs in a value such as ``type=ink;class=…;colorantname=black``.

    Returns
    -------
    dict of str to str
        Empty for a value of another kind.
    """
    if isinstance(content, bytes):
        content = content.decode("utf-8", errors="replace")
    if not isinstance(content, str):
        return {}
    pairs = (it.partition("=") for it in content.split(";"))
    return {key.strip(): value.strip() for key, _, value in pairs if key.strip()}


def _media(answer: Mapping[str, Attribute], name: str) -> tuple[_Medium | None, ...]:
    return tuple(
        _medium(
            (it.name, it.contents[0]) for it in members_of(collection) if it.contents
        )
        for collection in contents(answer, name)
    )


def _medium(members: Iterable[tuple[str, Content]]) -> _Medium | None:
    """An entry of the printer's list; None if it tells no size."""
    told = dict(members)
    edges = {
        it.name: it.contents[0]
        for it in members_of(told.get("media-size"))
        if it.contents
    }
    x = _range(edges.get("x-dimension"))
    y = _range(edges.get("y-dimension"))
    if x is None or y is None:
        return None
    # A roll without an end is told as 0 long.
    fixed = x.low == x.high and y.low == y.high > 0
    across, along = (y, x) if fixed and y.low < x.low else (x, y)
    margins = {
        edge: number
        for edge, name in _EDGES.items()
        if isinstance(number := told.get(name), int)
    }
    source = told.get("media-source")
    if isinstance(source, Localised):
        source = source.text
    return _Medium(
        source=source if isinstance(source, str) else "",
        across=across,
        along=along,
        margins=margins,
        name=_size_name(told.get("media-size-name"), across, along) if fixed else "",
    )


def _range(content: Content) -> Range | None:
    if isinstance(content, Range):
        return content
    if isinstance(content, int):
        return Range(content, content)
    return None


def _size_name(named: Content, across: Range, along: Range) -> str:
    """What a sheet is called here, in inches where the printer names it so."""
    match = _NAMED_EDGES.search(named) if isinstance(named, str) else None
    edges = f"{_mm(across.low):g}x{_mm(along.low):g} mm"
    return canonical_media_size(match[1] if match else edges)


def _largest(media: list[_Medium]) -> dict[str, int]:
    """The largest margin of each edge that all of them tell."""
    return {
        edge: max(it.margins[edge] for it in media)
        for edge in _EDGES
        if media and all(edge in it.margins for it in media)
    }


def _supported_margins(answer: Mapping[str, Attribute]) -> dict[str, int]:
    """The largest margin of each edge; 0 alone says only that none is needed."""
    found = {}
    for edge, name in _EDGES.items():
        ranges = [_range(it) for it in contents(answer, f"{name}-supported")]
        largest = max((it.high for it in ranges if it is not None), default=0)
        if largest > 0:
            found[edge] = largest
    return found


def _mm(hundredths: int) -> float:
    """Lengths of media are hundredths of a millimetre (PWG 5100.7)."""
    return hundredths / _HUNDREDTHS_PER_MM
