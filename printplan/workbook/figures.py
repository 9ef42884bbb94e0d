"""What does each step look like? Pictures that stay without the kernel."""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.pixels.sheet import Appearance
from printplan.workbook.panels.looks import (
    MASTER_PX,
    beside_master,
    in_screen_colour,
    master_look,
    master_overview,
    print_look,
    unsharpened,
    window_box,
    window_look,
)
from printplan.workbook.panels.mounting import Picture, encoded, mounted
from printplan.workbook.panels.sheet_drawing import DRAWING_CSS_PX, draw_sheet
from printplan.workbook.panels.words import sharpening_words, size_words

if TYPE_CHECKING:
    from printplan.pixels.master import Master
    from printplan.pixels.sheet import Sheet

_PANE_PX = (440, 600)


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


def sharpening_picture(
    sheet: Sheet, *, across_share: float = 0.5, down_share: float = 0.5
) -> Picture:
    """
    One place of the print without and with its sharpening, in print pixels.

    Parameters
    ----------
    sheet : Sheet
    across_share, down_share : float, optional
        Where in the picture: 0 is its left or upper end, 1 its right or lower.

    Returns
    -------
    Picture
        Exact windows: each pixel is one of the file.
    """
    box = window_box(sheet.plan, _PANE_PX, across_share, down_share)
    sharpen = sheet.plan.spec.sharpen
    pixels = mounted(
        [
            (window_look(unsharpened(sheet), box), "not sharpened"),
            (
                window_look(sheet, box),
                f"gain {sharpen.gain:.2f}, radius {sharpen.radius_mm:.3f} mm",
            ),
        ]
    )
    return Picture(encoded(pixels), f"Print pixels. {sharpening_words(sheet.plan)}")


def proof_picture(
    sheet: Sheet, *, appearance: Appearance = Appearance.PAPER_ALONE
) -> Picture:
    """
    The master beside the print as it will look.

    Parameters
    ----------
    sheet : Sheet
    appearance : Appearance, optional

    Returns
    -------
    Picture
        Overviews.
    """
    pixels = beside_master(
        master_look(in_screen_colour(sheet)), print_look(sheet, appearance), sheet.plan
    )
    return Picture(
        encoded(pixels),
        f"The master beside its soft proof on {sheet.plan.paper.name}, overviews.",
        pixels.shape[1],
    )
