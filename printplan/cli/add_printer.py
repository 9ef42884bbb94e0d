"""`printplan add printer`, and its margins: how does a printer come into the book?"""

from __future__ import annotations

from shlex import quote
from typing import TYPE_CHECKING, Any

import click

from printplan.cli.telling import BOOK, PATH, tell

if TYPE_CHECKING:
    from pathlib import Path

    from printplan.media import FeedPath, Printer
    from printplan.record.paper_book import PaperBook
    from printplan.record.printer_draft import PrinterDraft

_PRINTER = click.option(
    "--printer", default="", help="Its name in the book, if there are several."
)
_FEED = click.option(
    "--feed", default="", help="Feed path by its name; the first by itself."
)
_SHEET = click.option(
    "--sheet",
    default="",
    help="Its sheet: A4, 8.5x11 in; of a roll, width and length. Office paper by "
    "itself.",
)
_CLASSES = ("a3+", "17in", "24in", "44in")
"""In the order of `PrinterClass`."""


@click.command(name="printer")
@click.argument("name", default="")
@BOOK
@click.option("--from", "address", default="", help="Ask it: ipp://host:port/path.")
@click.option(
    "--class",
    "kind",
    type=click.Choice(_CLASSES, case_sensitive=False),
    help="Starting values: sheets up to A3+ or 17 in, rolls of 24 or 44 in.",
)
@click.option(
    "--driver-colour",
    type=click.Choice(["RGB", "CMYK"], case_sensitive=False),
    help="What its driver takes.",
)
@click.option("--black-ink", multiple=True, help="One that prints black at a time.")
@click.option(
    "--ppi",
    type=float,
    multiple=True,
    help="A resolution that it takes without resampling.",
)
@click.option("--media-type", multiple=True, help="As the driver calls it.")
@click.option("--quality", multiple=True, help="As the driver calls it.")
@click.option("--driver-resolution", multiple=True, help="As the driver calls it.")
@click.option("--platen-gap", multiple=True, help="As the driver calls it.")
def add_printer(
    name: str,
    book: Path,
    *,
    address: str,
    kind: str | None,
    driver_colour: str | None,
    **told: Any,
) -> None:
    """Write a printer into the book, and say who says each of its values."""
    from dataclasses import replace  # noqa: PLC0415

    from printplan.media import DriverColour  # noqa: PLC0415
    from printplan.record.book_changes import add_printer as add_to  # noqa: PLC0415

    papers = _book(book)
    draft = _draft(name, address, kind)
    _require_name(draft)
    typed = {_FIELDS[option]: values for option, values in told.items() if values}
    printer = replace(draft.printer, **typed)
    if printer.black_inks != draft.printer.black_inks:
        printer = replace(printer, inks=())
    if driver_colour is not None:
        printer = replace(printer, driver_colour=DriverColour(driver_colour.upper()))
    draft = draft.typed(printer, *typed, *(["driver_colour"] if driver_colour else []))
    for row in draft.rows(papers.lengths_in):
        tell(f"{row.what}: {row.value} ({row.words}).")
    for note in draft.notes:
        tell(note)
    added = add_to(book, draft.printer)
    tell(f'The printer "{added.name}" is in {book}.')
    for feed in added.feeds:
        if not feed.margins_source.startswith("test page"):
            tell(
                f"Its true margins: printplan margin-page --book {quote(str(book))} "
                f"--printer {quote(added.name)} --feed {quote(feed.name)}"
            )


_FIELDS = {
    "black_ink": "black_inks",
    "ppi": "input_ppi",
    "media_type": "media_types",
    "quality": "qualities",
    "driver_resolution": "driver_resolutions",
    "platen_gap": "platen_gaps",
}
"""Field of a printer that each option gives."""


@click.command(name="margin-page")
@BOOK
@_PRINTER
@_FEED
@_SHEET
@click.option("--out", type=PATH, help="The PDF; by default a free name here.")
def margin_page(
    book: Path, *, printer: str, feed: str, sheet: str, out: Path | None
) -> None:
    """Write a page of rulers, to be printed at 100 % and read."""
    from printplan.free_name import free_path  # noqa: PLC0415
    from printplan.record.margin_page import (  # noqa: PLC0415
        cautions,
        margin_page_name,
        today,
    )
    from printplan.record.margin_page import margin_page as write_page  # noqa: PLC0415
    from printplan.record.margin_sheet import usual_sheet  # noqa: PLC0415

    papers = _book(book)
    by, way = _chosen(papers, printer, feed)
    sheet = sheet or usual_sheet(way, papers.lengths_in)
    path = write_page(
        by,
        way,
        sheet,
        out or free_path(margin_page_name(by, way)),
        made_on=today(),
        unit=papers.lengths_in,
    )
    tell(f"{path} is for {sheet}: {way.name} of {by.name}.")
    tell("Print it at 100 %, read its rulers, and type the numbers in:")
    tell(
        f"printplan margins --book {quote(str(book))} --printer {quote(by.name)} "
        f"--feed {quote(way.name)} --sheet {quote(sheet)} --leading … "
        "--trailing … --left … --right … --line-across … --line-along …"
    )
    for caution in cautions(way):
        tell(caution)


@click.command()
@BOOK
@_PRINTER
@_FEED
@_SHEET
@click.option("--leading", required=True, help="First whole line of its ruler.")
@click.option("--trailing", required=True, help="The same at the trailing edge.")
@click.option("--left", required=True, help="The same at the left edge.")
@click.option("--right", required=True, help="The same at the right edge.")
@click.option("--line-across", default="100 mm", help="Length of the line across.")
@click.option("--line-along", default="100 mm", help="Length of the line along.")
@click.option("--cross-from-leading", help="Leading edge to the lines' crossing.")
@click.option("--cross-from-left", help="Left edge to the lines' crossing.")
def margins(
    book: Path, *, printer: str, feed: str, sheet: str, **read: str | None
) -> None:
    """Take what was read off the page as the feed path's true margins."""
    from printplan.record.margin_page import today  # noqa: PLC0415
    from printplan.record.margin_sheet import (  # noqa: PLC0415
        sheet_on_feed_mm,
        usual_sheet,
    )
    from printplan.record.margins_read import (  # noqa: PLC0415
        MarginReadings,
        margins_read,
        use_margins,
    )
    from printplan.units import parse_length_mm, short_words  # noqa: PLC0415

    papers = _book(book)
    unit = papers.lengths_in
    by, way = _chosen(papers, printer, feed)
    readings = MarginReadings(
        **{
            f"{edge}_mm": parse_length_mm(text, unit)
            for edge, text in read.items()
            if text is not None
        }
    )
    found = margins_read(
        way,
        sheet_on_feed_mm(way, sheet or usual_sheet(way, unit), unit),
        readings,
        read_on=today(),
        unit=unit,
    )
    use_margins(book, by.name, found)
    for finding in found.findings:
        tell(str(finding))
    for edge in ("leading", "trailing", "left", "right"):
        margin_mm = getattr(found.feed.margins, f"{edge}_mm")
        tell(f"{edge}: {short_words(unit, margin_mm)}")
    tell(f"They are in {book}: {found.feed.margins_source}.")


def _book(path: Path) -> PaperBook:
    """Read a paper book."""
    from printplan.record.paper_book import read_paper_book  # noqa: PLC0415

    return read_paper_book(path)


def _draft(name: str, address: str, kind: str | None) -> PrinterDraft:
    """What the printer says, or what its class begins with."""
    from printplan.errors import SpecError  # noqa: PLC0415
    from printplan.record.printer_classes import (  # noqa: PLC0415
        PrinterClass,
        draft_of_class,
    )

    chosen = None
    if kind is not None:
        chosen = list(PrinterClass)[_CLASSES.index(kind.lower())]
    if address:
        from printplan.record.ipp.printer_description import (  # noqa: PLC0415
            ask_printer,
        )

        return ask_printer(address, name=name, kind=chosen)
    if chosen is None or not name.strip():
        raise SpecError(
            "A printer that is not asked needs a name and a class.",
            remedy='Write printplan add printer "NAME" --class a3+ (or 17in, 24in, '
            "44in), or --from ipp://NAME/ipp/print to ask it.",
        )
    return draft_of_class(chosen, name)


def _require_name(draft: PrinterDraft) -> None:
    from printplan.errors import SpecError  # noqa: PLC0415
    from printplan.record.printer_draft import SaidBy  # noqa: PLC0415

    if draft.by("name") is SaidBy.OUR_CHOICE:
        raise SpecError(
            "The printer tells no name of its own but its brand's.",
            remedy='Give it one: write printplan add printer "NAME", and the rest as '
            "before.",
        )


def _chosen(book: PaperBook, printer: str, feed: str) -> tuple[Printer, FeedPath]:
    """The printer and the feed path meant; the only printer needs no name."""
    from printplan.errors import SpecError, did_you_mean  # noqa: PLC0415

    if not printer and len(book.printers) != 1:
        names = [it.name for it in book.printers]
        raise SpecError(
            f"The paper book has {len(names)} printers.",
            remedy=f"Name one with --printer. {did_you_mean('', names)}"
            if names
            else "Add one with printplan add printer.",
        )
    by = book.printer(printer) if printer else book.printers[0]
    return by, by.feed(feed) if feed else by.feeds[0]
