"""How many prints were lost before and after a day of change, and to what?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.record.journal.misprint_counts import before_after
from printplan.workbook.drawings.misprints import misprint_words, misprints_figure
from printplan.workbook.drawings.page import as_drawing

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from printplan.record.journal.kept import KeptEntry
    from printplan.workbook.drawings.page import Drawing


def journal_picture(
    entries: Sequence[KeptEntry], *, since: date, heading: str = "by the journal"
) -> Drawing:
    """
    Misprints by month round a day of change, and the causes with what they cost.

    Parameters
    ----------
    entries : sequence of KeptEntry
        From `JournalView.entries`.
    since : date
        First day of the second part.
    heading : str, optional
        Whose journal it is.

    Returns
    -------
    Drawing

    Raises
    ------
    SpecError
        If there is no print in the journal.
    """
    figure = misprints_figure(entries, since, heading=heading)
    return as_drawing(figure, misprint_words(before_after(entries, since)))
