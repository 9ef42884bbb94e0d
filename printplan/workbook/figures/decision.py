"""How large is the print, what was decided, and how did prints come out?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from printplan.pixels.comparisons import printed_proof
from printplan.pixels.sharpening_spec import usual_distance_mm
from printplan.pixels.sheet import Appearance, Sheet
from printplan.record.decision_sheet.sheet_drawing import draw_sheet
from printplan.record.decision_sheet.write import html_page
from printplan.record.journal.misprints import before_after
from printplan.shown_text import escape, quoted
from printplan.workbook.drawings.misprints import misprint_words, misprints_figure
from printplan.workbook.drawings.page import as_drawing
from printplan.workbook.drawings.resolution import (
    resolution_figure,
    resolution_words,
)
from printplan.workbook.pictures import Picture, encoded, mounted
from printplan.workbook.previews import MASTER_PX, master_overview
from printplan.workbook.words import size_words

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from printplan.pixels.master import Master
    from printplan.record.decision_sheet.facts import DecisionFacts
    from printplan.record.journal.entry import JournalEntry
    from printplan.workbook.drawings.page import Drawing


_HEIGHT_CSS_PX, _DRAWING_CSS_PX = 760, 640
_DRAWING_MM = (100.0, 70.0)


@dataclass(frozen=True, slots=True)
class InlinePage:
    """
    Words and pictures inside the page.

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
        """The same, as IPython asks for it."""
        return self.html


def master_picture(of: Master | Sheet) -> Picture:
    """
    The whole master on the screen.

    Parameters
    ----------
    of : Master or Sheet
        The master, or a print of it.

    Returns
    -------
    Picture
        An overview.
    """
    master = of.master if isinstance(of, Sheet) else of
    facts = master.facts
    caption = (
        f"overview   ·   {facts.width_px} × {facts.height_px} px, {facts.bits} bits, "
        f"{facts.profile_name}"
    )
    pixels = mounted([(master_overview(master, MASTER_PX), caption)])
    return Picture(encoded(pixels), f"The master: {caption}.", pixels.shape[1])


def sheet_picture(sheet: Sheet) -> InlinePage:
    """
    The picture on its sheet, drawn to scale.

    Returns
    -------
    InlinePage
        An overview.
    """
    look = printed_proof(sheet, sheet.overview(MASTER_PX), Appearance.PAPER_ALONE)
    width_mm, height_mm = _DRAWING_MM
    drawing = draw_sheet(
        sheet.plan, encoded(look), width_mm=width_mm, height_mm=height_mm
    )
    # Black on light grey, whatever the page's own ground is.
    return InlinePage(
        '<figure style="margin: 0; padding: 12px; background: #d4d4d4; color: #000; '
        f'width: {_DRAWING_CSS_PX}px; max-width: 100%; box-sizing: border-box">'
        f'<img src="{drawing.data_uri}" alt="{escape(drawing.description)}" '
        'style="width: 100%"><figcaption>Overview, to scale '
        f"({escape(drawing.legend)})</figcaption></figure>",
        f"The sheet. {size_words(sheet.plan)}",
    )


def resolution_picture(sheet: Sheet) -> Drawing:
    """
    From how far away the master has enough pixels at this size.

    Returns
    -------
    Drawing
        Beside the distance that a print of this size is usually looked at from.
    """
    plan = sheet.plan
    usual_mm = usual_distance_mm(plan)
    size, unit = plan.picture_size, plan.spec.lengths_in
    return as_drawing(
        resolution_figure(size, plan.ppi, usual_mm, unit),
        resolution_words(size, usual_mm, unit),
    )


def decision_picture(facts: DecisionFacts) -> InlinePage:
    """
    The decision sheet as its HTML file shows it.

    Returns
    -------
    InlinePage
        In a frame of its own, where its style touches nothing else; it stays in the
        notebook without kernel, file or network.
    """
    return framed_page(html_page(facts), f"Decision sheet: {facts.title}, {facts.line}")


def framed_page(html: str, description: str) -> InlinePage:
    """A whole page in a frame of its own, as `decision_picture` shows one."""
    return InlinePage(
        f'<iframe title="{escape(description)}" sandbox '
        f'srcdoc="{quoted(html)}" style="width: 100%; '
        f'height: {_HEIGHT_CSS_PX}px; border: 1px solid #888; background: #fff">'
        "</iframe>",
        description,
    )


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
