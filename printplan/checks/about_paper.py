"""Does this paper go through this feed path, and is enough of it there?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.finding import BOOK, Finding, Level
from printplan.checks.stock import prints_left, stock_for
from printplan.media import MediaForm
from printplan.spec import Delivery
from printplan.units import at_most_words, length_words, short_words, span_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.media import Stock
    from printplan.plan import PrintPlan
    from printplan.units import LengthUnit


def about_paper(plan: PrintPlan) -> Iterator[Finding]:
    """
    What paper, feed path and stock tell.

    Parameters
    ----------
    plan : PrintPlan

    Yields
    ------
    Finding
    """
    if plan.delivery.colour is Delivery.NAMED_SPACE:
        return  # an outside service prints on its own paper, through its own printer
    yield from _about_feed(plan)
    yield from _about_stock(plan)


def _about_feed(plan: PrintPlan) -> Iterator[Finding]:
    feed, paper, unit = plan.feed, plan.paper, plan.spec.lengths_in
    if feed.name not in plan.setup.feeds:
        yield Finding(
            level=Level.STOP,
            about="feed path",
            problem=f"{paper.name} does not go through the {feed.name} of "
            f"{plan.printer.name}.",
            remedy=f"Choose one of: {', '.join(plan.setup.feeds)}.",
            source=BOOK,
        )
    if not feed.thinnest_um <= paper.thickness_um <= feed.thickest_um:
        yield Finding(
            level=Level.STOP,
            about="paper thickness",
            problem=f"{paper.name} is {paper.thickness_um:g} µm thick; the {feed.name} "
            f"takes {feed.thinnest_um:g} to {feed.thickest_um:g} µm.",
            remedy="Choose another feed path or another paper.",
            source=BOOK,
        )
    across, along = plan.layout.in_feed_mm
    for what, length, low, high in (
        ("wide", across, feed.narrowest_mm, feed.widest_mm),
        ("long", along, feed.shortest_mm, feed.longest_mm),
    ):
        if not low <= length <= high:
            yield Finding(
                level=Level.STOP,
                about="sheet in feed path",
                problem=f"The sheet is {length_words(unit, length)} {what}; the "
                f"{feed.name} takes {span_words(unit, low, high)}.",
                remedy="Choose another sheet or another feed path.",
                source=BOOK,
            )
    longest_mm = plan.printer.longest_print_mm
    if longest_mm is not None and along > longest_mm:
        yield Finding(
            level=Level.STOP,
            about="longest print",
            problem=f"The sheet is {length_words(unit, along)} long; "
            f"{plan.printer.name} prints at most {short_words(unit, longest_mm)}.",
            remedy=f"Choose a sheet of {at_most_words(unit, longest_mm)} or less.",
            source=BOOK,
        )


def _about_stock(plan: PrintPlan) -> Iterator[Finding]:
    paper = plan.paper
    if not paper.stock:
        return
    across, along = plan.layout.in_feed_mm
    unit = plan.spec.lengths_in
    entry = stock_for(plan)
    if entry is None:
        rolls = plan.feed.takes is MediaForm.ROLLS
        wanted = (
            f"roll {short_words(unit, across)} wide"
            if rolls
            else f"sheet of {short_words(unit, across, along)}"
        )
        kept = ", ".join(_size_words(it, unit) for it in paper.stock)
        yield Finding(
            level=Level.WARN,
            about="not in stock",
            problem=f"{paper.name} is not kept as a {wanted}; there are: {kept}.",
            remedy="Choose one of these, or write the new size into the paper's stock.",
            source=BOOK,
        )
        return
    left = prints_left(plan, entry)
    copies = plan.delivery.copies
    if left is not None and left < copies:
        yield Finding(
            level=Level.WARN,
            about="paper left",
            problem=f"{copies} print{'s' if copies > 1 else ''} of "
            f"{_size_words(entry, unit)} {'are' if copies > 1 else 'is'} asked for; "
            f"{paper.name} is left for {left}.",
            remedy=f"Make {left} now, or buy {copies - left} more."
            if left
            else "Buy more, or choose another size that is left.",
            source=BOOK,
        )


def _size_words(entry: Stock, unit: LengthUnit) -> str:
    """Which size a stock is, in a person's unit; a sheet by its name."""
    if entry.roll_width_mm is None:
        return entry.words
    return f"roll {short_words(unit, entry.roll_width_mm)} wide"
