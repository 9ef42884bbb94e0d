"""How is a trial sheet made of a print, its variations and a few places?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import product
from typing import TYPE_CHECKING

from printplan.errors import SpecError
from printplan.pixels.consequences import choice_of
from printplan.pixels.sharpening import chosen_sharpening
from printplan.pixels.sheet import varied
from printplan.pixels.trials.neutrals import neutral_scale
from printplan.pixels.trials.page import TrialPlan, TrialSheet
from printplan.pixels.trials.steps import (
    TrialKey,
    TrialPatch,
    patch_names,
    require_one_print,
    restore_steps,
)
from printplan.pixels.trials.targets import Targets, drawn_squares
from printplan.pixels.trials.wording import GAP_MM, Writing, foot_words, head_sentences
from printplan.plan import MOST_PIXELS
from printplan.sharpening.limits import SharpenLimits
from printplan.sizing.boxes import Box
from printplan.sizing.trial_layout import (
    TrialCover,
    TrialParts,
    lay_out_trial,
    trial_area,
    trial_paper,
)
from printplan.spec import member
from printplan.units import mm_from_px, px_from_mm, whole_px

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from printplan.pixels.sharpening import SharpenAdvice
    from printplan.pixels.sheet import Sheet
    from printplan.pixels.trials.steps import TrialStep
    from printplan.sharpening.content import ContentFacts
    from printplan.sizing.layout import SheetLayout
    from printplan.spec import SheetSpec


LEAST_ACUTANCE_STEP = 0.01
"""Difference in acutance below which two patches count as alike: our choice, half of
what a print must gain for its sharpening to be worth a word."""

_DEFAULT_LIMITS = SharpenLimits()


def restore_ladder(
    sheet: Sheet,
    content: ContentFacts,
    restores: Sequence[float],
    *,
    distance_mm: float,
    limits: SharpenLimits = _DEFAULT_LIMITS,
) -> list[TrialStep]:
    """
    Steps of restore, each with the sharpening chosen for it.

    Parameters
    ----------
    sheet : Sheet
        The print to try.
    content : ContentFacts
        Of `picture_content` for that sheet.
    restores : sequence of float
        Shares of the loss to put back, 0 to 1.5.
    distance_mm : float
        Eye to paper, 50 to 50,000.

    Returns
    -------
    list of TrialStep
        For `make_trial`, in the order of `restores`.

    Raises
    ------
    SpecError
        If a number is outside its range, or two steps would look alike.

    Notes
    -----
    Where a limit stops the gain, more restore changes nothing, and a pick among
    patches that are alike says nothing of what is wanted. Such steps are refused, with
    those that do differ as remedy.
    """
    advised = {
        restore: chosen_sharpening(
            sheet.plan,
            content,
            distance_mm=distance_mm,
            restore=restore,
            limits=limits,
        )
        for restore in restores
    }
    _require_different(advised)
    return restore_steps(
        sheet,
        [(f"restore {restore:.3g}", advised[restore].spec) for restore in restores],
    )


def _require_different(advised: dict[float, SharpenAdvice]) -> None:
    """Refuse steps whose acutance in the print hardly differs from the one before."""
    kept: list[float] = []
    alike: list[float] = []
    for restore in sorted(advised):
        acutance = advised[restore].choice.acutance_after
        last = advised[kept[-1]].choice.acutance_after if kept else -1.0
        (kept if acutance - last >= LEAST_ACUTANCE_STEP else alike).append(restore)
    if not alike:
        return
    first = alike[0]
    below = max(restore for restore in kept if restore < first)
    choice = advised[first].choice
    remedy = (
        f"Try {', '.join(f'{restore:g}' for restore in kept)} alone, or relax what "
        "stopped it."
        if len(kept) > 1
        else "From this distance no restore makes a difference: try the patches from "
        "nearer, or under another limit."
    )
    raise SpecError(
        f"The steps restore {below:g} and {first:g} would look alike: acutance "
        f"{advised[below].choice.acutance_after:.3f} and {choice.acutance_after:.3f}; "
        f"{LEAST_ACUTANCE_STEP:g} apart is the limit. {choice.why}",
        remedy=remedy,
    )


PATCH_RANGE_MM = (10.0, 400.0)
"""Edges of a patch that are taken: a window smaller than a stamp tells nothing. Our
choice."""


class TrialTargets(StrEnum):
    """Whether the sheet carries targets beside its patches."""

    DRAWN = "drawn"
    """Slanted squares, groups of lines and a tone wedge."""

    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialSpec:
    """
    The trial sheet asked for.

    Attributes
    ----------
    sheet : SheetSpec
        Size, feed path and orientation of the sheet to use; of the print's own paper.
    patch_width_mm, patch_height_mm : float
        Rounded to whole print pixels, and cut to the picture.
    on : date or None
        Written at the head.
    """

    sheet: SheetSpec
    patch_width_mm: float = 60.0
    patch_height_mm: float = 45.0
    cover: TrialCover = TrialCover.SHEET
    targets: TrialTargets = TrialTargets.DRAWN
    on: date | None = None

    def __post_init__(self) -> None:
        for name, kind in (("cover", TrialCover), ("targets", TrialTargets)):
            word = member(kind, getattr(self, name), f"The trial's {name}")
            object.__setattr__(self, name, word)
        low, high = PATCH_RANGE_MM
        for name in ("width", "height"):
            value = getattr(self, f"patch_{name}_mm")
            if not low <= value <= high:
                raise SpecError(
                    f"The {name} of a patch is {value:g} mm.",
                    remedy=f"Give {low:g} to {high:g} mm; 60 × 45 mm is a good start.",
                )


def make_trial(
    sheet: Sheet,
    steps: Sequence[TrialStep],
    windows: Sequence[Box],
    spec: TrialSpec,
) -> TrialSheet:
    """
    Lay a trial sheet out; nothing is computed yet.

    Parameters
    ----------
    sheet : Sheet
        The print to try.
    steps : sequence of TrialStep
        From `restore_steps`, `lightness_steps`, `intent_steps` or `plain_steps`.
    windows : sequence of Box
        Places in the print's file. A patch is cut from the middle of each, moved
        into the picture where it would leave it. With neither steps nor windows, the
        sheet holds targets alone.

    Raises
    ------
    SpecError
        If steps differ in more than sharpening and colour, a window lies outside the
        picture, there is nothing to print, or more than can be named.
    FitError
        If it does not go on the sheet; it says how many patches do.

    Notes
    -----
    A patch is a window of the variant's own file, at the print's own scale: what the
    whole print would hold there, bit for bit.
    """
    _require_something(steps, windows, spec)
    require_one_print(sheet, steps)
    plan = sheet.plan
    paper = trial_paper(
        spec.sheet, plan.printer.feed(spec.sheet.feed), plan.paper.rolls_mm
    )
    _require_sane(paper, sheet.plan.ppi)
    # As asked for, or the whole picture if that is smaller.
    picture = plan.picture_in_file
    patch_px = (
        min(_px(spec.patch_width_mm, sheet), picture.width),
        min(_px(spec.patch_height_mm, sheet), picture.height),
    )
    places = [_patch_window(sheet, window, patch_px) for window in windows]
    names = patch_names(len(steps), len(places)) if steps else []
    scale = neutral_scale(sheet)
    targets = None
    if spec.targets is TrialTargets.DRAWN:
        targets = Targets(sheet, scale, choice_of(sheet.plan.spec.colour).words)
    writing = Writing(
        sheet,
        scale,
        steps,
        names,
        head_lines=head_sentences(sheet, steps, spec.sheet.feed, spec.on),
        foot=foot_words(spec.cover, (paper.width_mm, paper.height_mm)),
        width_px=trial_area(paper, sheet.plan.ppi, plan.spec.lengths_in).width,
    )
    layout = lay_out_trial(
        paper,
        sheet.plan.ppi,
        TrialParts(
            head_px=writing.head_px,
            foot_px=writing.foot_px,
            patch_px=patch_px,
            # Groups of patches that belong together, and patches in each.
            groups=(len(places), len(steps)) if len(steps) != 1 else (1, len(places)),
            caption_px=writing.caption_px,
            blocks_px=targets.sizes_px if targets else (),
            gap_px=_px(GAP_MM, sheet),
        ),
        spec.cover,
        plan.spec.lengths_in,
    )
    variants = [
        sheet if step.spec == plan.spec else varied(sheet, step.spec) for step in steps
    ]
    patches = [
        (
            TrialPatch(
                name=name,
                label=step.label,
                window=place,
                on_page=on_page,
                sharpen=step.spec.sharpen,
                colour=step.spec.colour,
            ),
            variant,
        )
        for (place, (step, variant)), name, on_page in zip(
            product(places, zip(steps, variants, strict=True)),
            names,
            layout.patches,
            strict=True,
        )
    ]
    height_mm = paper.height_mm
    if spec.cover is TrialCover.STRIP:
        height_mm = mm_from_px(layout.file_box.height, plan.ppi)
    marks = writing.marks(layout)
    if targets:
        marks += targets.marks(layout.blocks)
    return TrialSheet(
        sheet,
        TrialPlan(
            ppi=plan.ppi,
            page_mm=(paper.width_mm, height_mm),
            delivery=plan.delivery,
            paper=paper,
            layout=layout,
            lengths_in=plan.spec.lengths_in,
        ),
        patches,
        marks,
        TrialKey(
            patches=tuple(patch for patch, _ in patches),
            squares=drawn_squares(scale, sheet.plan.ppi) if targets else None,
        ),
    )


def _px(length_mm: float, sheet: Sheet) -> int:
    return whole_px(px_from_mm(length_mm, sheet.plan.ppi))


def _patch_window(sheet: Sheet, window: Box, patch_px: tuple[int, int]) -> Box:
    """The patch in the middle of a window, moved into the picture if need be."""
    picture = sheet.plan.picture_in_file
    if window.common(picture) is None:
        raise SpecError(
            f"The window {window} lies outside the picture, which is {picture} in "
            "the print's file.",
            remedy="Choose a place inside the picture, such as one of the look-here "
            "windows.",
        )
    width, height = patch_px
    left = window.left + (window.width - width) // 2
    top = window.top + (window.height - height) // 2
    return Box(
        min(max(left, picture.left), picture.right - width),
        min(max(top, picture.top), picture.bottom - height),
        width,
        height,
    )


def _require_something(
    steps: Sequence[TrialStep], windows: Sequence[Box], spec: TrialSpec
) -> None:
    if bool(steps) != bool(windows):
        raise SpecError(
            f"The trial has {len(steps)} steps and {len(windows)} windows.",
            remedy="Give one or more of both, or neither for a sheet of targets.",
        )
    if not steps and spec.targets is TrialTargets.NONE:
        raise SpecError(
            "The trial has neither patches nor targets.",
            remedy="Give steps and windows, or let the targets be drawn.",
        )


def _require_sane(paper: SheetLayout, ppi: float) -> None:
    sheet = paper.sheet.in_px(ppi)
    if sheet.width * sheet.height > MOST_PIXELS:
        raise SpecError(
            f"The trial's sheet has {sheet.width} × {sheet.height} px; at most "
            f"{MOST_PIXELS / 1e9:g} thousand million are made.",
            remedy="Choose a smaller sheet, such as A4.",
        )
