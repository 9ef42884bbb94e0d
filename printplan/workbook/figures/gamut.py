"""Which colours do papers reach, beside the screen's and the picture's own?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.colour.gamut import gamut_mesh
from printplan.colour.gamut_overlap import picture_solid
from printplan.colour.profiles import open_profile
from printplan.colour.spaces import named_profile
from printplan.colour.transforms import WhiteReference
from printplan.pixels.maps import lab_of
from printplan.spec import NamedSpace
from printplan.workbook.drawings.gamut import NamedGamut, coverage_words, slices_figure
from printplan.workbook.drawings.gamut_solid import solid_description, solid_figure
from printplan.workbook.drawings.page import as_drawing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from printplan.media import Paper, Printer
    from printplan.pixels.sheet import Sheet
    from printplan.workbook.drawings.page import Drawing

_OVERVIEW_PX = 1200
_MOST_COLOURS = 200_000


def paper_gamut(paper: Paper, printer: Printer) -> NamedGamut:
    """
    The colours of a paper on a printer, against the paper's own white.

    Raises
    ------
    PrintPlanError
        If the paper was never set up for that printer, or its profile cannot be read.
    """
    profile = open_profile(paper.on(printer).profile)
    return NamedGamut(paper.name, gamut_mesh(profile, white=WhiteReference.PAPER))


def screen_gamut() -> NamedGamut:
    """The colours of an sRGB screen."""
    return NamedGamut("sRGB", gamut_mesh(named_profile(NamedSpace.SRGB)))


def gamut_picture(sheet: Sheet, papers: Sequence[Paper]) -> Drawing:
    """
    Slices through the gamuts of papers, over the picture's own colours.

    Parameters
    ----------
    papers : sequence of Paper
        Up to five; the screen's gamut is drawn beside theirs.

    Raises
    ------
    PrintPlanError
        As for `paper_gamut`.
    """
    printer = sheet.plan.printer
    gamuts = [*(paper_gamut(paper, printer) for paper in papers), screen_gamut()]
    overview = sheet.overview(_OVERVIEW_PX)
    colours = picture_solid(
        lab_of(overview.linear, sheet.master.profile, _MOST_COLOURS)
    )
    words = " ".join(coverage_words(gamuts, colours))
    return as_drawing(slices_figure(gamuts, colours), f"Gamuts in slices. {words}")


def solid_picture(solid: NamedGamut, frame: NamedGamut | None = None) -> Drawing:
    """
    A gamut as a solid, from several sides.

    Parameters
    ----------
    frame : NamedGamut, optional
        Drawn round it as lines.
    """
    return as_drawing(solid_figure(solid, frame), solid_description(solid, frame))
