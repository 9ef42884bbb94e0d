"""Which entry of a paper's stock does a print use, and for how many is it enough?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.media import MediaForm
from printplan.size.media_sizes import SAME_MM, media_size_mm

if TYPE_CHECKING:
    from printplan.media import Stock
    from printplan.plan import PrintPlan

_ROUNDING = 1e-9


def stock_for(plan: PrintPlan) -> Stock | None:
    """
    The stock that a print is made on.

    Parameters
    ----------
    plan : PrintPlan

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
    plan : PrintPlan
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
