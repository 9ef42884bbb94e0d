"""What does the same print look like under other intents, and on other papers?"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from printplan.colour.intents import Choice, distinct_choices
from printplan.errors import PrintPlanError
from printplan.pixels.consequences import judged, with_intent
from printplan.pixels.sheet import build_sheet, varied
from printplan.plan import resolve

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from printplan.colour.intents import PaperJudgement
    from printplan.media import Paper
    from printplan.pixels.sheet import Appearance, Overview, Sheet
    from printplan.plan import PrintPlan


@dataclass(frozen=True, slots=True, eq=False)
class ComparedPaper:
    """
    The print on one paper, as that paper prints it best.

    Attributes
    ----------
    sheet : Sheet
        With the intent that is recommended for this paper.
    """

    paper: Paper
    sheet: Sheet
    judgement: PaperJudgement


@dataclass(frozen=True, slots=True, eq=False)
class RefusedPaper:
    """
    A paper that cannot take the print as it was asked for.

    Attributes
    ----------
    error : PrintPlanError
        Why, and what to do about it.
    """

    paper: Paper
    error: PrintPlanError


@dataclass(frozen=True, slots=True, eq=False)
class PaperComparison:
    """
    One print on several papers.

    Attributes
    ----------
    compared : tuple of ComparedPaper
        The paper whose recommended intent costs least comes first.
    refused : tuple of RefusedPaper
        In the order in which they were given.
    """

    compared: tuple[ComparedPaper, ...]
    refused: tuple[RefusedPaper, ...]


def picture_proof(
    sheet: Sheet, overview: Overview, appearance: Appearance
) -> NDArray[np.uint8]:
    """
    The picture's part of an overview as the print will look.

    Parameters
    ----------
    overview : Overview
        Of that sheet.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB, of the same size as the maps of that overview.
    """
    box = overview.picture
    return sheet.proof(
        overview.pixels[box.top : box.bottom, box.left : box.right], appearance
    )


def printed_proof(
    sheet: Sheet, overview: Overview, appearance: Appearance
) -> NDArray[np.uint8]:
    """
    All that is printed, of an overview, as it will look: see `PrintPlan.printed`.

    Parameters
    ----------
    overview : Overview
        Of that sheet.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB; without sides, marks and words the same as `picture_proof`.
    """
    plan, scale = sheet.plan, overview.scale
    if not plan.has_edges:
        return picture_proof(sheet, overview, appearance)
    box = plan.in_file(plan.printed.in_px(plan.ppi))
    rows = slice(max(round(box.top * scale), 0), round(box.bottom * scale))
    columns = slice(max(round(box.left * scale), 0), round(box.right * scale))
    return sheet.proof(overview.pixels[rows, columns], appearance)


def with_choice(sheet: Sheet, choice: Choice) -> Sheet:
    """
    The same print under another rendering intent.

    Parameters
    ----------
    sheet : Sheet
        Its resampled pixels are shared.

    Raises
    ------
    PrintPlanError
        If it cannot be made.
    """
    return varied(sheet, with_intent(sheet.plan.spec, choice))


def intent_proofs(
    sheet: Sheet, longest_px: int, appearance: Appearance
) -> list[tuple[Choice, NDArray[np.uint8]]]:
    """
    Small proofs of the picture under each rendering intent.

    Parameters
    ----------
    longest_px : int
        Longest edge of a proof, give or take a pixel, 16 or more; a print with
        fewer pixels gives those that it has.

    Returns
    -------
    list of (Choice, ndarray of uint8 of shape (rows, columns, 3))
        Those that differ in print, in the order of `colour.intents.CHOICES`; sRGB.

    Raises
    ------
    PrintPlanError
        If one of them cannot be made.
    """
    return [
        (choice, _proof(with_choice(sheet, choice), longest_px, appearance))
        for choice in distinct_choices(sheet.delivered, sheet.master.profile)
    ]


def compare_on_papers(sheet: Sheet, book_papers: Sequence[Paper]) -> PaperComparison:
    """
    Try the same print on several papers of the plan's printer.

    Returns
    -------
    PaperComparison
        Every paper given is in it, among those compared or among those refused.

    Notes
    -----
    Size, sharpening, sheet and delivery stay. The plan's feed path is kept where the
    paper can go through it; otherwise the first of the paper's own paths on which
    the picture fits is taken.
    """
    compared: list[ComparedPaper] = []
    refused: list[RefusedPaper] = []
    for paper in book_papers:
        try:
            trial = build_sheet(sheet.master, _plan_on(sheet.plan, paper), reuse=sheet)
            judgement = judged(trial, trial.output)
            best = with_choice(trial, judgement.recommended.choice)
            compared.append(ComparedPaper(paper, best, judgement))
        except PrintPlanError as error:
            refused.append(RefusedPaper(paper, error))
    compared.sort(key=lambda each: each.judgement.recommended.cost)
    return PaperComparison(tuple(compared), tuple(refused))


def paper_proofs(
    comparison: PaperComparison, longest_px: int, appearance: Appearance
) -> list[tuple[str, NDArray[np.uint8]]]:
    """
    Small proofs of the picture on each paper, with that paper's recommended intent.

    Parameters
    ----------
    longest_px : int
        As for `intent_proofs`.

    Returns
    -------
    list of (str, ndarray of uint8 of shape (rows, columns, 3))
        The papers' names and sRGB pixels, in the order of the comparison.
    """
    return [
        (each.paper.name, _proof(each.sheet, longest_px, appearance))
        for each in comparison.compared
    ]


def _plan_on(old: PrintPlan, paper: Paper) -> PrintPlan:
    """The plan on the first feed path that takes the picture on this paper."""
    setup = old.spec.setup if paper.name == old.paper.name else ""
    taken = paper.on(old.printer, setup).feeds
    # Stable: the plan's own path first, then the paper's own order.
    feeds = sorted(taken, key=lambda name: name != old.feed.name)

    def through(feed: str) -> PrintPlan:
        sheet = replace(old.spec.sheet, feed=feed)
        spec = replace(old.spec, sheet=sheet, setup=setup)
        return resolve(old.facts, paper, old.printer, spec)

    try:
        return through(feeds[0])
    except PrintPlanError:
        for feed in feeds[1:]:
            with suppress(PrintPlanError):
                return through(feed)
        raise


def _proof(sheet: Sheet, longest_px: int, appearance: Appearance) -> NDArray[np.uint8]:
    """The picture alone at that size: the sheet's overview is as much larger."""
    picture = sheet.plan.picture_in_file
    share = max(picture.width, picture.height) / max(sheet.size_px)
    longest = min(round(longest_px / share), max(sheet.size_px))
    return picture_proof(sheet, sheet.overview(longest), appearance)
