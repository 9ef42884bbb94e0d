"""Which tones separate, and what does the light of the room leave of them?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.intents import SHADOW_L
from printplan.colour.tone import neutrality, tone_scale
from printplan.colour.viewing import match_display, paper_reflectance
from printplan.errors import SpecError
from printplan.pixels.consequences import plan_choice, plan_wedge
from printplan.workbook.drawings.light import light_figure, shadow_rooms
from printplan.workbook.drawings.page import as_drawing
from printplan.workbook.drawings.tone import tone_figure, tone_words

if TYPE_CHECKING:
    from printplan.pixels.sheet import Sheet
    from printplan.workbook.drawings.page import Drawing


def light_picture(sheet: Sheet) -> Drawing:
    """
    Lit paper beside the display, and the shadow steps that several rooms leave.

    Parameters
    ----------
    sheet : Sheet
        Its plan's room says the light on the print and the display's white.

    Returns
    -------
    Drawing

    Raises
    ------
    SpecError
        If the plan does not say both.
    """
    plan, room = sheet.plan, sheet.plan.spec.room
    if room.illuminance_lx is None or room.display_cd_m2 is None:
        raise SpecError(
            "The plan does not say the light on the print and the display's white.",
            remedy="Measure both and set them: "
            "RoomSpec(illuminance_lx=500, display_cd_m2=120).",
        )
    reflectance = paper_reflectance(sheet.output)
    match = match_display(room.illuminance_lx, reflectance, room.display_cd_m2)
    shadows = plan_wedge(sheet, SHADOW_L)
    figure = light_figure(match, shadows, shadow_rooms(shadows), paper=plan.paper.name)
    return as_drawing(figure, f"{match.verdict} {match.advice}")


def tone_picture(sheet: Sheet) -> Drawing:
    """
    Which tones separate on the paper, and whether its greys stay grey.

    Parameters
    ----------
    sheet : Sheet

    Returns
    -------
    Drawing
        For the plan's rendering intent.
    """
    wedge = plan_wedge(sheet, np.arange(101.0))
    figure = tone_figure(
        wedge, paper=sheet.delivered_name, choice=plan_choice(sheet).words
    )
    return as_drawing(figure, tone_words(tone_scale(wedge), neutrality(wedge)))
