"""What sheet does a plan file describe?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.pixels.master import open_master
from printplan.pixels.sheet import build_sheet
from printplan.plan import resolve
from printplan.record.papers import read_paper_book
from printplan.record.plan_file import read_plan_file

if TYPE_CHECKING:
    from pathlib import Path

    from printplan.pixels.sheet import Sheet
    from printplan.record.plan_file import PlanFile


def open_plan(path: str | Path) -> Sheet:
    """
    Read a plan file and open all that it names.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    Sheet
        Nothing is computed yet. Close its master when done with it.

    Raises
    ------
    PrintPlanError
        If the plan, its paper book, its master or the paper's profile cannot be
        read, or the print cannot be made as asked.
    """
    return open_wish(read_plan_file(path).resolved(path))


def open_wish(wish: PlanFile) -> Sheet:
    """
    Open all that a plan names.

    Parameters
    ----------
    wish : PlanFile
        With whole paths, as `PlanFile.resolved` gives it.

    Returns
    -------
    Sheet
        As from `open_plan`.

    Raises
    ------
    PrintPlanError
        As from `open_plan`.
    """
    book = read_paper_book(wish.book)
    paper, printer = book.paper(wish.paper), book.printer(wish.printer)
    master = open_master(
        wish.master.file,
        assume_profile=wish.master.assume_profile,
        alpha=wish.master.alpha,
    )
    try:
        plan = resolve(master.facts, paper, printer, wish.spec)
        return build_sheet(master, plan)
    except BaseException:
        master.close()
        raise
