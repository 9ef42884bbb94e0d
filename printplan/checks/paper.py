"""Do paper, printer, ink, profile and feed belong together, and is enough kept?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.finding import Finding, Source, note, stop, warn
from printplan.foreign_file import is_regular
from printplan.media import MediaForm
from printplan.sizing.media_sizes import SAME_MM, media_size_mm
from printplan.spec import Delivery, NamedSpace
from printplan.units import at_most_words, length_words, short_words, span_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from printplan.media import Paper, PaperOnPrinter, Stock
    from printplan.plan import PrintPlan
    from printplan.units import LengthUnit


_ROUNDING = 1e-9


def stock_for(plan: PrintPlan) -> Stock | None:
    """
    The stock that a print is made on.

    Returns
    -------
    Stock or None
        A roll of that width for a feed path that takes rolls, else a sheet of that
        size; None if there is none.

    Raises
    ------
    SpecError
        If the stock names a sheet that is not known.
    """
    across, along = plan.layout.in_feed_mm
    for entry in plan.paper.stock:
        if entry.roll_width_mm is not None:
            is_it = plan.feed.takes is MediaForm.ROLLS and _same(
                entry.roll_width_mm, across
            )
        else:
            short, long = media_size_mm(entry.sheet or "")
            is_it = (
                plan.feed.takes is MediaForm.SHEETS
                and _same(short, min(across, along))
                and _same(long, max(across, along))
            )
        if is_it:
            return entry
    return None


def prints_left(plan: PrintPlan, entry: Stock) -> int | None:
    """
    For how many prints of a plan a stock is enough.

    Parameters
    ----------
    entry : Stock
        As `stock_for` gives it.

    Returns
    -------
    int or None
        None if nobody counts it. On a roll prints lie one below the other.
    """
    if entry.roll_width_mm is None:
        return entry.sheets_left
    if entry.left_m is None:
        return None
    _, along_mm = plan.layout.in_feed_mm
    return int(entry.left_m * 1000 / along_mm + _ROUNDING)


def _same(one_mm: float, other_mm: float) -> bool:
    return abs(one_mm - other_mm) <= SAME_MM


def paper_findings(plan: PrintPlan) -> Iterator[Finding]:
    """What paper, feed path and stock tell."""
    if plan.delivery.colour is Delivery.NAMED_SPACE:
        return  # an outside service prints on its own paper, through its own printer
    yield from _about_feed(plan)
    yield from _about_stock(plan)


def _about_feed(plan: PrintPlan) -> Iterator[Finding]:
    feed, paper, unit = plan.feed, plan.paper, plan.spec.lengths_in
    if feed.name not in plan.setup.feeds:
        yield stop(
            topic="feed path",
            problem=f"{paper.name} does not go through the {feed.name} of "
            f"{plan.printer.name}.",
            remedy=f"Choose one of: {', '.join(plan.setup.feeds)}.",
            source=Source.BOOK,
        )
    if not feed.thinnest_um <= paper.thickness_um <= feed.thickest_um:
        yield stop(
            topic="paper thickness",
            problem=f"{paper.name} is {paper.thickness_um:g} µm thick; the {feed.name} "
            f"takes {feed.thinnest_um:g} to {feed.thickest_um:g} µm.",
            remedy="Choose another feed path or another paper.",
            source=Source.BOOK,
        )
    across, along = plan.layout.in_feed_mm
    for what, length, low, high in (
        ("wide", across, feed.narrowest_mm, feed.widest_mm),
        ("long", along, feed.shortest_mm, feed.longest_mm),
    ):
        if not low <= length <= high:
            yield stop(
                topic="sheet in feed path",
                problem=f"The sheet is {length_words(unit, length)} {what}; the "
                f"{feed.name} takes {span_words(unit, low, high)}.",
                remedy="Choose another sheet or another feed path.",
                source=Source.BOOK,
            )
    longest_mm = plan.printer.longest_print_mm
    if longest_mm is not None and along > longest_mm:
        yield stop(
            topic="longest print",
            problem=f"The sheet is {length_words(unit, along)} long; "
            f"{plan.printer.name} prints at most {short_words(unit, longest_mm)}.",
            remedy=f"Choose a sheet of {at_most_words(unit, longest_mm)} or less.",
            source=Source.BOOK,
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
        yield warn(
            topic="not in stock",
            problem=f"{paper.name} is not kept as a {wanted}; there are: {kept}.",
            remedy="Choose one of these, or write the new size into the paper's stock.",
            source=Source.BOOK,
        )
        return
    left = prints_left(plan, entry)
    copies = plan.delivery.copies
    if left is None:
        return
    if left < copies:
        yield warn(
            topic="paper left",
            problem=f"{copies} print{'s' if copies > 1 else ''} of "
            f"{_size_words(entry, unit)} {'are' if copies > 1 else 'is'} asked for; "
            f"{paper.name} is left for {left}.",
            remedy=f"Make {left} now, or buy {copies - left} more."
            if left
            else "Buy more, or choose another size that is left.",
            source=Source.BOOK,
        )
        return
    yield from _about_last(plan, entry, copies)


def _about_last(plan: PrintPlan, entry: Stock, copies: int) -> Iterator[Finding]:
    """What is said before the last sheets, or metres, are printed on."""
    per_print = _per_print(plan, entry)
    after = max(0.0, (entry.left or 0.0) - copies * per_print)
    is_low = entry.reorder_at is not None and after <= entry.reorder_at
    if not is_low and after >= per_print - _ROUNDING:
        return
    told = stock_words(plan, entry)
    if is_low:
        yield warn(
            topic="paper runs low",
            problem=f"{told}, and more is to be bought at {entry.reorder_at:g}.",
            remedy="Buy more; if that was done, count anew in the paper book.",
            source=Source.BOOK,
        )
    else:
        yield note(
            topic="paper runs low",
            problem=f"{told}: no further print of this size is possible.",
            remedy="Buy more before this print goes wrong.",
            source=Source.BOOK,
        )


def _per_print(plan: PrintPlan, entry: Stock) -> float:
    """Sheets, or metres of roll, that one print takes."""
    if entry.roll_width_mm is None:
        return 1.0
    return plan.layout.in_feed_mm[1] / 1000


def stock_words(plan: PrintPlan, entry: Stock) -> str:
    """
    What is left of a stock, and what a plan's copies take of it.

    Parameters
    ----------
    entry : Stock
        As `stock_for` gives it.

    Returns
    -------
    str
        Such as ``3 sheets of Fen Cotton 310, A3, left; this takes 2``.
    """
    name = f"{plan.paper.name}, {_size_words(entry, plan.spec.lengths_in)}"
    if entry.left is None:
        return f"{name}: nobody counts it"
    takes = plan.delivery.copies * _per_print(plan, entry)
    return f"{_amount(entry.left, entry)} of {name}, left; this takes {takes:.3g}"


def _amount(left: float, entry: Stock) -> str:
    if entry.roll_width_mm is not None:
        return f"{left:.3g} m"
    return f"{left:g} sheet{'' if left == 1 else 's'}"


def _size_words(entry: Stock, unit: LengthUnit) -> str:
    """Which size a stock is, in a person's unit; a sheet by its name."""
    if entry.roll_width_mm is None:
        return entry.words
    return f"roll {short_words(unit, entry.roll_width_mm)} wide"


def pairing_findings(plan: PrintPlan, papers: Iterable[Paper]) -> Iterator[Finding]:
    """
    What the paper's settings on its printer tell.

    Parameters
    ----------
    papers : iterable of Paper
        All papers of the book; empty if not known.
    """
    setup, paper = plan.setup, plan.paper
    if setup.profile not in set(NamedSpace) and not is_regular(setup.profile):
        yield stop(
            topic="profile missing",
            problem=f"The profile of {paper.name} is not there: {setup.profile}.",
            remedy="Put it back, or name the right file in the paper book.",
            source=Source.BOOK,
        )
    if plan.delivery.colour is Delivery.NAMED_SPACE:
        return  # the profile serves the soft proof alone, and no ink of ours is used
    for other, pair in _others(plan, papers):
        yield warn(
            topic="profile shared",
            problem=f"The profile of {paper.name} on {setup.printer} is also that of "
            f"{other} on {pair.printer} ({pair.black_ink}, "
            f"{pair.media_type or 'no media type'}).",
            remedy="Find out which of the two it was made for, and name the other's "
            "own profile in the paper book.",
            source=ONE_PAIR,
        )
    if setup.black_ink not in plan.printer.black_inks:
        yield stop(
            topic="black ink",
            problem=f"{paper.name} wants {setup.black_ink}; {plan.printer.name} "
            f"has {', '.join(plan.printer.black_inks)}.",
            remedy="Correct the black ink in the paper book.",
            source=Source.BOOK,
        )
    if not setup.media_type:
        yield note(
            topic="media type",
            problem=f"The paper book does not say what the driver of "
            f"{plan.printer.name} calls {paper.name}.",
            remedy="Look up the media type that its profile was made with, and write "
            "it into the paper book.",
            source=Source.BOOK,
        )
    if not setup.profile_sha256:
        yield note(
            topic="profile not kept",
            problem=f"The paper book holds no hash of the profile of {paper.name}; a "
            "changed file would go unseen.",
            remedy="Write the profile's SHA-256 into the paper book.",
            source=Source.BOOK,
        )


ONE_PAIR = "common practice, no source: a profile is made for one paper on one printer"


def _others(
    plan: PrintPlan, papers: Iterable[Paper]
) -> Iterator[tuple[str, PaperOnPrinter]]:
    """Other pairs with the same profile, by its hash or its file."""
    own = plan.setup
    known = {it.name: it for it in (*papers, plan.paper)}
    for paper in known.values():
        for pair in paper.on_printer:
            if (paper.name, pair.words) == (plan.paper.name, own.words):
                continue
            hashes = (pair.profile_sha256, own.profile_sha256)
            if pair.profile == own.profile or (
                hashes[0] == hashes[1] and hashes[0] != ""
            ):
                yield paper.name, pair
