"""What does the print on the bench cost, and what is left to print it on?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from printplan.checks.paper import stock_for, stock_words
from printplan.errors import PrintPlanError
from printplan.foreign_file import is_there
from printplan.record.cost import plan_cost
from printplan.record.decision_sheet.print_facts import NOT_KNOWN, cost_section
from printplan.record.ink_estimate import ink_ml_of, journal_near
from printplan.record.paper_book import read_paper_book
from printplan.spec import Delivery
from printplan.workbook.pictures import table_words

if TYPE_CHECKING:
    from pathlib import Path

    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.record.paper_book import PaperBook
    from printplan.workbook.pictures import Words


def cost_of_sheet(sheet: Sheet, book_path: Path | None) -> Words:
    """
    Cost of one print and the stock it is made on, as the decision sheet tells them.

    Parameters
    ----------
    book_path : Path or None
        The paper book, whose stock counts as it is now; its journal lies beside it.

    Raises
    ------
    PrintPlanError
        If book or journal are there and cannot be read.
    """
    plan = sheet.plan
    book = None
    if book_path is not None and is_there(book_path):
        book = read_paper_book(book_path)
    journal = None if book_path is None else journal_near(book_path)
    basis = plan_cost(
        plan,
        ink_ml_of(sheet, journal),
        currency=(book.currency if book is not None else None) or "",
        hourly_rate=None if book is None else book.hourly_rate,
    )
    by_service = plan.delivery.colour is Delivery.NAMED_SPACE
    section = cost_section(basis, by_service=by_service)
    rows = [(it.what, it.value) for it in section.rows]
    if not by_service:
        rows.append(("Stock", _left(plan, book)))
    return table_words(rows, caption=section.heading)


def _left(plan: PrintPlan, book: PaperBook | None) -> str:
    if book is None:
        return NOT_KNOWN
    try:
        now = replace(plan, paper=book.paper(plan.paper.name))
    except PrintPlanError:  # it left the book
        return NOT_KNOWN
    stock = stock_for(now)
    return NOT_KNOWN if stock is None else stock_words(now, stock)
