"""Which papers and printers does the studio have, and where is that written?"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final, TypeVar

from printplan.errors import RecordError, SpecError, did_you_mean
from printplan.foreign_file import read_when_changed
from printplan.media import (
    DriverColour,
    Paper,
    Printer,
    Service,
    Surface,
    service_paper,
    service_printer,
)
from printplan.media.limits import require_currency
from printplan.record.atomic_write import FileHeader, read_text, write_text
from printplan.record.toml_reading import parse_text, value_from_table
from printplan.record.toml_writing import text_from_value
from printplan.sizing.media_sizes import canonical_media_size
from printplan.spec import UNSAID, NamedSpace
from printplan.units import LengthUnit

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable


_Named = TypeVar("_Named", Printer, Paper)

_HIGHEST_RATE = 1e6
"""A higher price of an hour is a slip. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperBook:
    """
    Printers, papers, and the settings of each pair; it agrees with itself.

    Attributes
    ----------
    currency : str or None
        Of all prices that name none: three capital letters (ISO 4217).
    lengths_in : LengthUnit
        Unit of the studio: new plans are asked, and answered, in it.
    hourly_rate : float or None
        What an hour of work costs, in `currency`; None if not said.
    services : tuple of Service
        Outside print services. Each is found as a printer, and its papers as papers,
        but they are none of the studio's.
    """

    printers: tuple[Printer, ...]
    papers: tuple[Paper, ...]
    currency: str | None = None
    lengths_in: LengthUnit = LengthUnit.MM
    hourly_rate: float | None = None
    services: tuple[Service, ...] = ()

    def __post_init__(self) -> None:
        _require_currency(self.currency)
        if self.hourly_rate is not None and not 0 <= self.hourly_rate <= _HIGHEST_RATE:
            raise RecordError(
                f"The book's hourly_rate is {self.hourly_rate:g}.",
                remedy=f"Give what an hour costs, 0 to {_HIGHEST_RATE:g}, or leave it "
                "out.",
            )
        _require_different("printers", [it.name for it in self.printers])
        _require_different("papers", [it.name for it in self.papers])
        _require_different("the printer or service", [it.name for it in self.makers])
        papers = [it.name for it in (*self.papers, *self.service_papers)]
        _require_different("the paper", papers)
        for paper in self.papers:
            owner = f'The paper "{paper.name}"'
            _require_sizes(owner, paper)
            for pair in paper.on_printer:
                known = [printer.name for printer in self.printers]
                _require_known(owner, "printer", [pair.printer], known)
                printer = _by_name("printer", pair.printer, self.printers)
                on_it = f'{owner} on "{printer.name}"'
                _require_known(on_it, "black ink", [pair.black_ink], printer.black_inks)
                feeds = [feed.name for feed in printer.feeds]
                _require_known(on_it, "feed path", pair.feeds, feeds)
                _require_profile_file(on_it, pair.profile)

    def paper(self, name: str) -> Paper:
        """
        The paper of that name, or that once had it.

        Raises
        ------
        RecordError
            If the book has no such paper.
        """
        return _by_name("paper", name, (*self.papers, *self.service_papers))

    def printer(self, name: str) -> Printer:
        """
        The printer of that name, or that once had it.

        Raises
        ------
        RecordError
            If the book has no such printer.
        """
        return _by_name("printer", name, self.makers)

    @property
    def makers(self) -> tuple[Printer, ...]:
        """Printers of the studio, then the services as plans take them."""
        return (*self.printers, *map(service_printer, self.services))

    @property
    def service_papers(self) -> tuple[Paper, ...]:
        """Papers of all services, as plans take them."""
        return tuple(
            service_paper(service, ordered)
            for service in self.services
            for ordered in service.papers
        )

    def papers_on(self, printer: Printer) -> list[Paper]:
        """Papers in use that a printer, or a service, prints on."""
        every = (*self.papers, *self.service_papers)
        return [it for it in every if it.in_use and it.setups(printer)]


def only_in_use(
    what: str, among: Iterable[_Named], *, where: str = "", remedy: str
) -> _Named:
    """
    The printer or paper that needs no name, as it is the only one in use.

    Parameters
    ----------
    what : str
        ``printer`` or ``paper``.
    where : str, optional
        What it is wanted for, as the end of a sentence.
    remedy : str
        What to do if there are several.

    Raises
    ------
    RecordError
        If there are several in use, or none.
    """
    in_use = [it for it in among if it.in_use]
    if len(in_use) == 1:
        return in_use[0]
    names = ", ".join(f'"{it.name}"' for it in in_use)
    raise RecordError(
        f"The paper book has {len(in_use)} {what}s in use{where}"
        f"{f': {names}' if names else ''}.",
        remedy=remedy if in_use else f"Add the {what} first.",
    )


def _by_name(what: str, name: str, among: tuple[_Named, ...]) -> _Named:
    for one in among:
        if one.name == name:
            return one
    for one in among:
        if name in one.former_names:
            return one
    raise RecordError(
        f'The paper book has no {what} "{name}".',
        remedy=did_you_mean(name, [one.name for one in among]),
    )


def _require_different(what: str, names: Iterable[str]) -> None:
    """Refuse names that differ in nothing but case."""
    seen = set()
    for name in names:
        if name.casefold() in seen:
            raise RecordError(
                f'The book has {what} "{name}" twice.',
                remedy="Remove one, or give each a name of its own.",
            )
        seen.add(name.casefold())


def _require_profile_file(owner: str, profile: str) -> None:
    """A printer of one's own prints by a profile, not in a named space."""
    if profile in set(NamedSpace):
        raise RecordError(
            f"{owner} names the space {profile} in place of a profile.",
            remedy="Name the file of the output profile made for this pair.",
        )


def _require_currency(currency: str | None) -> None:
    try:
        require_currency("The book", currency)
    except SpecError as error:
        raise RecordError(error.problem, remedy=error.remedy) from error


def _require_sizes(owner: str, paper: Paper) -> None:
    """Sheets are named so that their size is known, each size once."""
    seen: dict[str, str] = {}
    for size in paper.sheets:
        try:
            name = canonical_media_size(size)
        except SpecError as error:
            raise RecordError(
                f"{owner}, stock: {error.problem}", remedy=error.remedy
            ) from error
        if name in seen:
            raise RecordError(
                f'{owner} has the size {name} twice in stock, as "{seen[name]}" and '
                f'"{size}".',
                remedy="Remove one, and add its sheets to the other.",
            )
        seen[name] = size


def _require_known(
    owner: str, what: str, names: Iterable[str], known: Collection[str]
) -> None:
    for name in names:
        if name not in known:
            raise RecordError(
                f'{owner} names the {what} "{name}", which is not there.',
                remedy=did_you_mean(name, known),
            )


BOOK_HEADER: Final = FileHeader(
    name="printplan paper book",
    version=1,
    heading="Papers and printers of one studio. Your own comments stay. Any length\n"
    "name_mm may be given in inches instead: name_in.",
    former_keys=frozenset({"spread_um"}),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """A book as its file lays it out; a list without tables is left out."""

    currency: str | None = None
    lengths_in: LengthUnit = field(default=LengthUnit.MM, metadata={UNSAID: True})
    hourly_rate: float | None = field(default=None, metadata={UNSAID: True})
    printer: tuple[Printer, ...] | None = None
    paper: tuple[Paper, ...] | None = None
    service: tuple[Service, ...] | None = field(default=None, metadata={UNSAID: True})


def book_layout(book: PaperBook) -> _Layout:
    """A book as its file lays it out."""
    return _Layout(
        currency=book.currency,
        lengths_in=book.lengths_in,
        hourly_rate=book.hourly_rate,
        printer=book.printers or None,
        paper=book.papers or None,
        service=book.services or None,
    )


BOOK_COMMENTS: Final = {
    "currency": "of all prices that name none: ISO 4217, such as EUR",
    "lengths_in": f"{' | '.join(LengthUnit)}: unit of new plans",
    "hourly_rate": "what an hour of work costs, in the book's currency",
    "printer.black_inks": "of which one prints black at a time",
    "printer.input_ppi": "taken without resampling",
    "printer.bit_depths": "per channel",
    "printer.inks": "all of them",
    "printer.longest_print_mm": "that printer and driver make",
    "printer.ink_price_per_ml": "in the book's currency",
    "printer.m2_per_h": "area that it prints in an hour at the quality in use",
    "printer.driver_colour": f"{' | '.join(DriverColour)}: what the driver takes",
    "printer.media_types": "as the driver calls them",
    "printer.qualities": "as the driver calls them",
    "printer.driver_resolutions": "as the driver calls them",
    "printer.platen_gaps": "as the driver calls them",
    "printer.ipp_address": "ipp://host:port/path, if it answers there",
    "printer.in_use": "false: not offered for new plans",
    "printer.feeds": "one table for each way in",
    "printer.feeds.shortest_mm": "along the feed",
    "printer.feeds.longest_mm": "along the feed",
    "printer.feeds.narrowest_mm": "across the feed",
    "printer.feeds.widest_mm": "across the feed",
    "printer.feeds.thinnest_um": "thickness of paper, 1000 um = 1 mm",
    "printer.feeds.thickest_um": "thickness of paper",
    "printer.feeds.takes": "sheets | rolls",
    "printer.feeds.margins_source": "who says so of the margins",
    "printer.feeds.borderless": "sizes that it prints without a margin",
    "printer.feeds.margins": "what cannot be printed on",
    "printer.feeds.margins.leading_mm": "at the edge that enters first",
    "printer.feeds.margins.trailing_mm": "at the edge that enters last",
    "printer.feeds.margins.left_mm": "printed side up, leading edge at the top",
    "paper.surface": " | ".join(Surface),
    "paper.weight_gsm": "grams per square metre",
    "paper.psf_sigma_um": "estimated spread of ink and light (standard deviation); a "
    "reading goes before it",
    "paper.white_lab": "bare paper as measured: L*, a*, b* under D50",
    "paper.drying_h": "hours before stacking, framing or shipping",
    "paper.in_use": "false: not offered for new plans",
    "paper.stock": "one table for each size that is kept; a roll has roll_width_mm, "
    "roll_length_m and left_m",
    "paper.stock.sheet": "A3, 13x19 in and the like",
    "paper.stock.sheets_left": "leave it out if nobody counts",
    "paper.stock.reorder_at": "sheets, or metres of roll, at which more is bought",
    "paper.stock.price_each": "of one sheet, or of one whole roll",
    "paper.on_printer": "one table for each printer, or for each setup on it",
    "paper.on_printer.setup": "tells several on one printer apart",
    "paper.on_printer.quality": "as the driver calls it",
    "paper.on_printer.driver_resolution": "as the driver calls it",
    "paper.on_printer.platen_gap": "as the driver calls it",
    "paper.on_printer.ink_limit_percent": "greatest total of all inks set with it",
    "paper.on_printer.in_use": "false: not offered for new plans",
    "paper.on_printer.profile": "from this file's folder",
    "paper.on_printer.media_type": "as the printer's driver calls it",
    "paper.on_printer.profile_sha256": "of that file; empty if not yet taken",
    "paper.on_printer.spread_readings": "one table for each scan of a trial sheet; "
    "delete a wrong one",
    "paper.on_printer.spread_readings.sigma_um": "spread of ink and light (standard "
    "deviation)",
    "paper.on_printer.spread_readings.uncertainty_um": "its standard error",
    "paper.on_printer.spread_readings.edges": "that it was taken from",
    "paper.on_printer.spread_readings.includes_scanner": "whether the scanner's own "
    "spread is in it",
    "paper.on_printer.restore_picks": "one table for each trial sheet; delete a wrong "
    "one",
    "paper.on_printer.restore_picks.picked": "the patch that looked best",
    "paper.on_printer.restore_picks.distance_mm": "that it was looked at from",
    "service.named_spaces": "that it takes, the usual one first",
    "service.file_formats": "that it takes, the usual one first",
    "service.ppi": "that it asks for",
    "service.takes_converted": "files in the colour of a paper's proof_profile",
    "service.most_pixels": "width times height",
    "service.longest_px": "longer edge",
    "service.most_mb": "of one file, 1 MB = 1000000 bytes",
    "service.jpeg_quality": "least that it asks for, 1 to 100",
    "service.bleed_mm": "picture beyond the trimmed print on each side",
    "service.instructions": "what it wants to be told with each order",
    "service.in_use": "false: not offered for new plans",
    "service.papers": "one table for each paper that can be ordered",
    "service.papers.surface": " | ".join(Surface),
    "service.papers.psf_sigma_um": "estimated spread of ink and light",
    "service.papers.proof_profile": "its ICC profile, from this file's folder",
}
"""What a new book says behind the keys of its first printer and paper."""


def parse_book(text: str, where: str) -> PaperBook:
    """Read a book from its text; its profiles' paths are as written."""
    tables = parse_text(text, BOOK_HEADER, where=where)
    layout = value_from_table(_Layout, tables, where=where)
    try:
        return PaperBook(
            printers=layout.printer or (),
            papers=layout.paper or (),
            currency=layout.currency,
            lengths_in=layout.lengths_in,
            hourly_rate=layout.hourly_rate,
            services=layout.service or (),
        )
    except RecordError as error:
        raise RecordError(f"{where}: {error.problem}", remedy=error.remedy) from error


def with_profile_paths(paper: Paper, rewrite: Callable[[str], str]) -> Paper:
    """The same paper with other paths of its profiles; a named space has no path."""
    pairs = (
        it
        if it.profile in set(NamedSpace)
        else replace(it, profile=rewrite(it.profile))
        for it in paper.on_printer
    )
    return replace(paper, on_printer=tuple(pairs))


def with_book_profiles(book: PaperBook, rewrite: Callable[[str], str]) -> PaperBook:
    """The same book with other paths of its profiles."""
    papers = (with_profile_paths(paper, rewrite) for paper in book.papers)
    services = (with_proof_paths(service, rewrite) for service in book.services)
    return replace(book, papers=tuple(papers), services=tuple(services))


def with_proof_paths(service: Service, rewrite: Callable[[str], str]) -> Service:
    """The same service with other paths of its profiles."""
    papers = (
        replace(it, proof_profile=rewrite(it.proof_profile)) if it.proof_profile else it
        for it in service.papers
    )
    return replace(service, papers=tuple(papers))


def whole_profile_path(folder: Path, profile: str) -> str:
    """Absolute path of a profile, without steps up and down, as records have it."""
    path = folder / profile
    return str(path.resolve() if ".." in path.parts else path)


def profile_path_below(folder: Path, profile: str) -> str:
    """Path from the book's folder if the profile lies below it."""
    path = Path(profile)
    return (
        path.relative_to(folder).as_posix() if path.is_relative_to(folder) else profile
    )


def read_paper_book(path: str | Path) -> PaperBook:
    """
    Read a paper book.

    Returns
    -------
    PaperBook
        The profiles' paths are absolute. The profiles are not opened.

    Raises
    ------
    RecordError
        If it cannot be read, is not a paper book, or contradicts itself.
    SpecError
        If a value leaves its range.
    """
    folder = Path(path).absolute().parent
    book = parse_book(read_text(path), str(path))
    return with_book_profiles(book, lambda profile: whole_profile_path(folder, profile))


@read_when_changed(16)
def known_paper_book(path: str | Path) -> PaperBook:
    """
    The same, read again only when its file is another: for what often asks.

    Raises
    ------
    RecordError, SpecError
        As for `read_paper_book`.
    """
    return read_paper_book(path)


def write_paper_book(
    book: PaperBook, path: str | Path, *, overwrite: bool = False
) -> None:
    """
    Write a new paper book, whole or not at all.

    Parameters
    ----------
    book : PaperBook
        A profile below the folder of `path` is written as a relative path.
    overwrite : bool, optional
        Permits a book of that name to be replaced, with all comments in it; see
        `book_changes.change_book` for a change that keeps them.

    Raises
    ------
    RecordError
        If it exists already or cannot be written.
    """
    folder = Path(path).absolute().parent
    layout = book_layout(
        with_book_profiles(book, lambda it: profile_path_below(folder, it))
    )
    text = text_from_value(layout, BOOK_HEADER, BOOK_COMMENTS)
    write_text(text, path, BOOK_HEADER, overwrite=overwrite)
