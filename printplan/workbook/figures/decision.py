"""How large is the print, what was decided, and how did prints come out?"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

from printplan.pixels.sharpening_spec import usual_distance_mm
from printplan.record.decision_sheet.write import html_page
from printplan.record.journal.misprints import before_after
from printplan.workbook.drawings.misprints import misprint_words, misprints_figure
from printplan.workbook.drawings.page import as_drawing
from printplan.workbook.panels.sheet_drawing import DRAWING_CSS_PX, draw_sheet
from printplan.workbook.pictures import Picture, encoded, mounted
from printplan.workbook.previews import MASTER_PX, master_overview
from printplan.workbook.words import size_words

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from printplan.pixels.master import Master
    from printplan.pixels.sheet import Sheet
    from printplan.record.decision_sheet.facts import DecisionFacts
    from printplan.record.journal.entry import JournalEntry
    from printplan.workbook.drawings.page import Drawing


def master_picture(master: Master) -> Picture:
    """
    The whole master on the screen.

    Returns
    -------
    Picture
        An overview.
    """
    facts = master.facts
    caption = (
        f"overview   ·   {facts.width_px} × {facts.height_px} px, {facts.bits} bits, "
        f"{facts.profile_name}"
    )
    pixels = mounted([(master_overview(master, MASTER_PX), caption)])
    return Picture(encoded(pixels), f"The master: {caption}.", pixels.shape[1])


def sheet_picture(sheet: Sheet) -> Picture:
    """
    The picture on its sheet, drawn to scale.

    Returns
    -------
    Picture
        An overview.
    """
    thumbnail = master_overview(sheet.master, MASTER_PX)
    return Picture(
        encoded(draw_sheet(sheet.plan, thumbnail)),
        f"The sheet. {size_words(sheet.plan)}",
        DRAWING_CSS_PX,
    )


def resolution_picture(sheet: Sheet) -> Drawing:
    """
    From how far away the master has enough pixels at this size.

    Returns
    -------
    Drawing
        Beside the distance that a print of this size is usually looked at from.
    """
    # Only this drawing needs matplotlib, and the first picture of a notebook is here.
    from printplan.workbook.drawings.page import as_drawing  # noqa: PLC0415
    from printplan.workbook.drawings.resolution import (  # noqa: PLC0415
        resolution_figure,
        resolution_words,
    )

    plan = sheet.plan
    usual_mm = usual_distance_mm(plan)
    size = plan.picture_size
    return as_drawing(
        resolution_figure(size, plan.ppi, usual_mm), resolution_words(size, usual_mm)
    )


_HEIGHT_CSS_PX = 760


@dataclass(frozen=True, slots=True)
class InlinePage:
    """
    A whole page inside the page.

    Attributes
    ----------
    html : str
        Holds all that it shows.
    """

    html: str
    description: str

    def __repr__(self) -> str:
        return self.description

    def _repr_html_(self) -> str:
        """The page in a frame of its own, where its style touches nothing else."""
        return (
            f'<iframe title="{escape(self.description)}" sandbox '
            f'srcdoc="{escape(self.html)}" style="width: 100%; '
            f'height: {_HEIGHT_CSS_PX}px; border: 1px solid #888; background: #fff">'
            "</iframe>"
        )


def decision_picture(facts: DecisionFacts) -> InlinePage:
    """
    The decision sheet as its HTML file shows it.

    Returns
    -------
    InlinePage
        It stays in the notebook without kernel, file or network.
    """
    return InlinePage(html_page(facts), f"Decision sheet: {facts.title}, {facts.line}")


def journal_picture(
    entries: Sequence[JournalEntry], *, since: date, heading: str = "by the journal"
) -> Drawing:
    """
    Misprints by month round a day of change, and the causes with what they cost.

    Parameters
    ----------
    entries : sequence of JournalEntry
        From `JournalView.entries`.
    since : date
        First day of the second part.
    heading : str, optional
        Whose journal it is.

    Raises
    ------
    SpecError
        If there is no print in the journal.
    """
    figure = misprints_figure(entries, since, heading=heading)
    return as_drawing(figure, misprint_words(before_after(entries, since)))
