"""How is the paper of finished prints taken out of stock?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from printplan.checks.stock import prints_left, stock_for
from printplan.errors import RecordError
from printplan.record.papers import change_paper

if TYPE_CHECKING:
    from pathlib import Path

    from printplan.media import Paper, Stock
    from printplan.plan import PrintPlan


def take_from_stock(
    book_path: str | Path, plan: PrintPlan, *, prints: int | None = None
) -> Paper:
    """
    Take the sheets or the metres of finished prints out of the paper book.

    Parameters
    ----------
    book_path : str or Path
        The paper book.
    plan : PrintPlan
        What was printed.
    prints : int, optional
        How many, misprints included; the plan's copies if not given.

    Returns
    -------
    Paper
        As the book now holds it; unchanged if nobody counts that size.

    Raises
    ------
    RecordError
        If the size is not in stock, fewer are left than were taken, or the book
        cannot be changed.

    Notes
    -----
    It begins with what the book holds now, so two that print at once both count; see
    `change_paper`.
    """
    taken = plan.delivery.copies if prints is None else prints
    if taken < 1:
        raise RecordError(
            f"{taken} prints cannot be taken from stock.",
            remedy="Give 1 or more; correct a wrong count in the paper book itself.",
        )

    def without(paper: Paper) -> Paper:
        now = replace(plan, paper=paper)
        entry = stock_for(now)
        if entry is None:
            kept = ", ".join(it.words for it in paper.stock) or "nothing"
            raise RecordError(
                f'"{paper.name}" is not in stock in this size; there is {kept}.',
                remedy="Write the size into the paper's stock in the paper book.",
            )
        left = prints_left(now, entry)
        if left is None:
            return paper
        if left < taken:
            raise RecordError(
                f'{taken} prints of "{paper.name}" were made, and the book has {left} '
                f"left of {entry.words}.",
                remedy="Count again, and correct what is left in the paper book.",
            )
        fewer = _fewer(now, entry, taken)
        stock = (fewer if it is entry else it for it in paper.stock)
        return replace(paper, stock=tuple(stock))

    return change_paper(book_path, plan.paper.name, without)


def _fewer(plan: PrintPlan, entry: Stock, taken: int) -> Stock:
    if entry.sheets_left is not None:
        return replace(entry, sheets_left=entry.sheets_left - taken)
    _, along_mm = plan.layout.in_feed_mm
    left_m = max((entry.left_m or 0.0) - taken * along_mm / 1000, 0.0)
    return replace(entry, left_m=round(left_m, 3))
