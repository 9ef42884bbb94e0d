"""What do sharpening, paper and distance make of the picture's detail?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from printplan.pixels.picture_content import picture_content
from printplan.pixels.sharpening import (
    added_response,
    chosen_sharpening,
    predicted_effect,
    print_chain,
)
from printplan.pixels.sharpening_spec import usual_distance_mm, usual_restore
from printplan.pixels.sheet import Appearance, varied
from printplan.pixels.strongest_edge import strongest_edge_of
from printplan.sharpening.calibration import spread_on
from printplan.sharpening.limits import SharpenLimits
from printplan.units import distance_words, whole_words
from printplan.workbook.drawings.page import as_drawing
from printplan.workbook.drawings.response import (
    edge_figure,
    response_words,
    responses_figure,
)
from printplan.workbook.pictures import Picture, encoded, mounted
from printplan.workbook.previews import (
    seen_preview,
    unsharpened,
    window_box,
    window_preview,
)
from printplan.workbook.words import advice_words, sharpening_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from printplan.pixels.sheet import Sheet
    from printplan.pixels.trials.page import TrialSheet
    from printplan.pixels.trials.scan_file import Scan
    from printplan.plan import PrintPlan
    from printplan.sharpening.content import ContentFacts
    from printplan.sizing.boxes import Box
    from printplan.workbook.drawings.page import Drawing


# Two, four and three in a row fit what a page of 1024 px leaves an output.
_PANE_PX = (398, 600)
_NARROW_PANE_PX = (189, 420)
_MIDDLE_PANE_PX = (258, 420)
_EDGE_WINDOW_PX = (900, 600)
_DEFAULT_LIMITS = SharpenLimits()
_DISTANCES_MM = (250.0, 500.0, 1000.0)


def sharpening_picture(
    sheet: Sheet, *, across_share: float = 0.5, down_share: float = 0.5
) -> Picture:
    """
    One place of the print without and with its sharpening, in print pixels.

    Parameters
    ----------
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
            (window_preview(unsharpened(sheet), box), "not sharpened"),
            (
                window_preview(sheet, box),
                f"gain {sharpen.gain:.2f}, {sharpen.blur_words}",
            ),
        ]
    )
    return Picture(encoded(pixels), f"Print pixels. {sharpening_words(sheet.plan)}")


def choice_picture(  # noqa: PLR0913 - viewer, wish and place
    sheet: Sheet,
    content: ContentFacts | None = None,
    *,
    distance_mm: float | None = None,
    restore: float | None = None,
    limits: SharpenLimits = _DEFAULT_LIMITS,
    across_share: float = 0.5,
    down_share: float = 0.5,
) -> Picture:
    """
    One place of the print without and with the sharpening that it needs.

    Parameters
    ----------
    sheet : Sheet
        Its own sharpening does not matter.
    content : ContentFacts, optional
        Of `picture_content` for that sheet, if it is at hand.
    distance_mm : float, optional
        Eye to paper; by default what the plan's sharpening was chosen for, or
        `usual_distance_mm`.
    restore : float, optional
        Share of the loss to put back; see `usual_restore`.
    across_share, down_share : float, optional
        Where in the picture: 0 is its left or upper end, 1 its right or lower.

    Returns
    -------
    Picture
        Exact windows as they stand in the file, then as the paper and an eye at the
        distance leave them; what was chosen and why is its description.
    """
    plan = sheet.plan
    distance_mm = _seen_from_mm(sheet, distance_mm)
    advice = chosen_sharpening(
        plan,
        picture_content(sheet) if content is None else content,
        distance_mm=distance_mm,
        restore=usual_restore(plan) if restore is None else restore,
        limits=limits,
    )
    chosen = varied(sheet, replace(plan.spec, sharpen=advice.spec))
    box = window_box(plan, _NARROW_PANE_PX, across_share, down_share)
    both = ((unsharpened(sheet), "not sharpened"), (chosen, "as chosen"))
    panes = [(window_preview(it, box), caption) for it, caption in both]
    panes += [
        (seen_preview(it, box, distance_mm), f"{caption}, as seen")
        for it, caption in both
    ]
    words = advice_words(chosen.plan, advice.choice, advice, distance_mm=distance_mm)
    return Picture(encoded(mounted(panes)), f"Print pixels. {words.text}")


def as_seen_picture(
    sheet: Sheet,
    *,
    distances_mm: Sequence[float] = _DISTANCES_MM,
    across_share: float = 0.5,
    down_share: float = 0.5,
) -> Picture:
    """
    One place of the print as paper leaves it and as an eye gets it, near and far.

    Parameters
    ----------
    distances_mm : sequence of float, optional
        Eye to paper, one pane for each.
    across_share, down_share : float, optional
        Where in the picture: 0 is its left or upper end, 1 its right or lower.

    Returns
    -------
    Picture
        Enlarged alike: a pixel for each print pixel. Not the file's own pixels.
    """
    box = window_box(sheet.plan, _MIDDLE_PANE_PX, across_share, down_share)
    unit = sheet.plan.spec.lengths_in
    told = [distance_words(unit, it) for it in distances_mm]
    panes = [
        (seen_preview(sheet, box, distance_mm), f"as seen from {words}, enlarged")
        for distance_mm, words in zip(distances_mm, told, strict=True)
    ]
    near = ", ".join(words.removesuffix(f" {unit}") for words in told)
    return Picture(
        encoded(mounted(panes)),
        f"One place of the print as seen on {sheet.plan.paper.name} from {near} "
        f"{unit}.",
    )


def edge_picture(
    sheet: Sheet,
    boxes: Sequence[Box] | None = None,
    *,
    distance_mm: float | None = None,
) -> Drawing:
    """
    The picture's strongest edge before sharpening, in the file and in the print.

    Parameters
    ----------
    boxes : sequence of Box, optional
        Windows to search, in file pixels; by default nine all over the picture.
    distance_mm : float, optional
        Eye to paper; by default what the plan's sharpening was chosen for, or
        `usual_distance_mm`.

    Raises
    ------
    SpecError
        If no window has a straight edge between even tones.
    """
    plan = sheet.plan
    if boxes is None:
        boxes = _windows_all_over(plan)
    edge = strongest_edge_of(
        sheet,
        boxes,
        spread=spread_on(plan.paper, plan.setup).spread,
        distance_mm=_seen_from_mm(sheet, distance_mm),
    )
    return as_drawing(edge_figure(edge, paper=plan.paper.name), edge.words)


def responses_picture(
    sheet: Sheet,
    content: ContentFacts | None = None,
    *,
    distance_mm: float | None = None,
) -> Drawing:
    """
    What each step of the print does to detail, and what reaches the eye.

    Parameters
    ----------
    content : ContentFacts, optional
        Of `picture_content` for that sheet, if it is at hand.
    distance_mm : float, optional
        Eye to paper; by default what the plan's sharpening was chosen for, or
        `usual_distance_mm`.

    Returns
    -------
    Drawing
        Of the plan's own gain and radius.
    """
    plan, distance_mm = sheet.plan, _seen_from_mm(sheet, distance_mm)
    if content is None:
        content = picture_content(sheet)
    chain = print_chain(plan, content, distance_mm=distance_mm)
    effect = predicted_effect(plan, content, distance_mm=distance_mm)
    figure = responses_figure(
        chain, effect, paper=plan.paper.name, added=added_response(plan, chain)
    )
    return as_drawing(figure, response_words(chain, effect))


def _windows_all_over(plan: PrintPlan) -> list[Box]:
    """Rows of windows; a small picture gives fewer, and each of them once."""
    boxes = (
        window_box(plan, _EDGE_WINDOW_PX, across_share, down_share)
        for down_share in (0.0, 0.5, 1.0)
        for across_share in (0.0, 0.5, 1.0)
    )
    return list(dict.fromkeys(boxes))


def _seen_from_mm(sheet: Sheet, distance_mm: float | None) -> float:
    """The distance asked for, or else that of the plan's own choice, or the usual."""
    chosen_for = sheet.plan.spec.sharpen.distance_mm
    if distance_mm is not None:
        return distance_mm
    return usual_distance_mm(sheet.plan) if chosen_for is None else chosen_for


_TRIAL_PX = 2400
_TALLEST_CSS_PX, _WIDEST_CSS_PX = 900, 1000
_SCAN_PX = 760


def trial_picture(
    trial: TrialSheet, *, appearance: Appearance = Appearance.PAPER_ALONE
) -> Picture:
    """
    A trial sheet as it will look printed.

    Returns
    -------
    Picture
        An overview: to see what is where, never to judge sharpness.
    """
    size = whole_words(trial.plan.lengths_in, *trial.plan.page_mm)
    caption = f"overview   ·   {size}, {_what(trial)}"
    pixels = mounted([(trial.overview(_TRIAL_PX, appearance), caption)])
    rows, columns = pixels.shape[:2]
    width = min(columns / 2, _WIDEST_CSS_PX, _TALLEST_CSS_PX * columns / rows)
    return Picture(encoded(pixels), f"The trial sheet: {caption}.", round(width))


def _what(trial: TrialSheet) -> str:
    names = [patch.name for patch in trial.key.patches]
    if len(names) > 1:
        return f"{len(names)} patches, {names[0]} to {names[-1]}"
    return f"1 patch, {names[0]}" if names else "targets"


def scan_picture(scan: Scan) -> Picture:
    """
    A scan, as it was read.

    Returns
    -------
    Picture
        An overview in grey, in steps that are more even to the eye.
    """
    codes = np.rint(np.clip(scan.shown, 0, 1) * 255).astype(np.uint8)
    image = Image.fromarray(codes)
    image.thumbnail((_SCAN_PX, _SCAN_PX))
    grey = np.repeat(np.asarray(image)[..., None], 3, axis=2)
    rows, columns = codes.shape
    size = f"{columns} × {rows} px at {scan.ppi:g} ppi"
    caption = f"overview   ·   {scan.path.name}, {size}"
    pixels = mounted([(grey, caption)])
    return Picture(encoded(pixels), f"The scan: {caption}.", pixels.shape[1])
