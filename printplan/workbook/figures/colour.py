"""What do paper and room make of the colours and tones?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.intents import SHADOW_L
from printplan.colour.losses import dead_share
from printplan.colour.tone import neutrality, tone_scale
from printplan.colour.viewing import match_display, paper_reflectance
from printplan.errors import SpecError
from printplan.pixels.comparisons import (
    compare_on_papers,
    intent_proofs,
    paper_proofs,
    picture_proof,
)
from printplan.pixels.consequences import choice_of, consequences, judged, plan_wedge
from printplan.pixels.look_here import look_here
from printplan.pixels.maps import chroma_map, reach_map, tone_map
from printplan.pixels.sheet import Appearance
from printplan.workbook.drawings.comparisons import intents_figure, papers_figure
from printplan.workbook.drawings.light import light_figure, shadow_rooms
from printplan.workbook.drawings.maps import (
    Difference,
    places_figure,
    reach_figure,
    reach_words,
    separation_figure,
    separation_words,
)
from printplan.workbook.drawings.page import as_drawing, as_picture
from printplan.workbook.drawings.tone import tone_figure, tone_words
from printplan.workbook.pictures import Picture, encoded
from printplan.workbook.previews import (
    in_screen_colour,
    master_and_proof,
    master_preview,
    print_preview,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from printplan.media import Paper
    from printplan.pixels.look_here import LookHere
    from printplan.pixels.sheet import Sheet
    from printplan.workbook.drawings.page import Drawing


_MAP_PX, _COLUMN_PX = 1200, 400
_MAPS = {Difference.TONE: tone_map, Difference.CHROMA: chroma_map}


def proof_picture(
    sheet: Sheet, *, appearance: Appearance = Appearance.PAPER_ALONE
) -> Picture:
    """
    The master beside the print as it will look.

    Returns
    -------
    Picture
        Overviews.
    """
    pixels = master_and_proof(
        master_preview(in_screen_colour(sheet)),
        print_preview(sheet, appearance),
        sheet.plan,
    )
    return Picture(
        encoded(pixels),
        f"The master beside its soft proof on {sheet.plan.paper.name}, overviews.",
        pixels.shape[1],
    )


def intents_picture(
    sheet: Sheet, *, appearance: Appearance = Appearance.PAPER_ALONE
) -> Picture:
    """
    The rendering intents side by side with their numbers, and which one and why.

    Returns
    -------
    Picture
        Overviews.
    """
    judgement = judged(sheet)
    proofs = intent_proofs(sheet, _COLUMN_PX, appearance)
    paper = sheet.delivered_name
    figure = intents_figure(proofs, judgement, paper=paper)
    return as_picture(figure, f"Rendering intents on {paper}. {judgement.reason}")


def reach_picture(
    sheet: Sheet, *, appearance: Appearance = Appearance.PAPER_ALONE
) -> Picture:
    """
    The soft proof beside its reach map.

    Returns
    -------
    Picture
        Overviews.
    """
    overview = sheet.overview(_MAP_PX)
    summary = consequences(sheet).reach
    figure = reach_figure(
        picture_proof(sheet, overview, appearance),
        reach_map(sheet, overview).values,
        summary,
        paper=sheet.delivered_name,
    )
    return as_picture(figure, f"The reach map. {reach_words(summary)}")


def separation_picture(
    sheet: Sheet,
    difference: Difference = Difference.TONE,
    *,
    appearance: Appearance = Appearance.PAPER_ALONE,
) -> Picture:
    """
    The soft proof beside its map of lost separation.

    Parameters
    ----------
    difference : Difference, optional
        Of tone, or of colour.

    Returns
    -------
    Picture
        Overviews.
    """
    overview = sheet.overview(_MAP_PX)
    left = consequences(sheet).left
    share = dead_share(left.tone if difference is Difference.TONE else left.chroma)
    figure = separation_figure(
        picture_proof(sheet, overview, appearance),
        _MAPS[difference](sheet, overview).values,
        difference,
        share,
        paper=sheet.delivered_name,
        choice=choice_of(sheet.plan.spec.colour).words,
    )
    return as_picture(figure, f"Lost separation. {separation_words(difference, share)}")


def places_picture(sheet: Sheet, places: Sequence[LookHere] | None = None) -> Picture:
    """
    The picture with its look-here windows, and the reason for each.

    Parameters
    ----------
    places : sequence of LookHere, optional
        By default those that `look_here` finds.

    Returns
    -------
    Picture
        An overview.
    """
    overview = sheet.overview(_MAP_PX)
    found = look_here(sheet, overview) if places is None else places
    figure = places_figure(
        picture_proof(sheet, overview, Appearance.PAPER_ALONE),
        found,
        sheet.plan.picture_in_file,
    )
    words = " ".join(f"{number}: {it.words}" for number, it in enumerate(found, 1))
    return as_picture(figure, f"Look-here windows. {words}")


def papers_picture(
    sheet: Sheet,
    papers: Sequence[Paper],
    *,
    appearance: Appearance = Appearance.PAPER_ALONE,
) -> Picture:
    """
    The same print on several papers, each with its own recommended intent.

    Parameters
    ----------
    papers : sequence of Paper
        Such as all of the paper book.

    Returns
    -------
    Picture
        Overviews.

    Raises
    ------
    SpecError
        If no paper can take the print.
    """
    comparison = compare_on_papers(sheet, papers)
    figure = papers_figure(
        [(each.paper.name, each.judgement) for each in comparison.compared],
        paper_proofs(comparison, _COLUMN_PX, appearance),
        [(each.paper.name, str(each.error)) for each in comparison.refused],
    )
    order = ", ".join(each.paper.name for each in comparison.compared)
    return as_picture(figure, f"The print on several papers, the best first: {order}.")


def light_picture(sheet: Sheet) -> Drawing:
    """
    Lit paper beside the display, and the shadow steps that several rooms leave.

    Parameters
    ----------
    sheet : Sheet
        Its plan's room says the light on the print and the display's white.

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

    Returns
    -------
    Drawing
        For the plan's rendering intent.
    """
    wedge = plan_wedge(sheet, np.arange(101.0))
    figure = tone_figure(
        wedge,
        paper=sheet.delivered_name,
        choice=choice_of(sheet.plan.spec.colour).words,
    )
    return as_drawing(figure, tone_words(tone_scale(wedge), neutrality(wedge)))
