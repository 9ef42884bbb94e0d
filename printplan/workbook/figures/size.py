"""How large does the picture get, and where does it lie?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.pixels.sharpening_spec import usual_distance_mm
from printplan.workbook.panels.looks import MASTER_PX, master_overview
from printplan.workbook.panels.mounting import Picture, encoded, mounted
from printplan.workbook.panels.sheet_drawing import DRAWING_CSS_PX, draw_sheet
from printplan.workbook.panels.words import size_words

if TYPE_CHECKING:
    from printplan.pixels.master import Master
    from printplan.pixels.sheet import Sheet
    from printplan.workbook.drawings.page import Drawing


def master_picture(master: Master) -> Picture:
    """
    The whole master on the screen.

    Parameters
    ----------
    master : Master

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

    Parameters
    ----------
    sheet : Sheet

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

    Parameters
    ----------
    sheet : Sheet

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
