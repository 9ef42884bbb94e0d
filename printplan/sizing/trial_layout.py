"""Where on a trial sheet do patches, targets and words go, in whole pixels?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from printplan.errors import FitError
from printplan.sizing.boxes import Box, Edges
from printplan.sizing.layout import lay_out
from printplan.sizing.media_sizes import sheet_in_feed_mm
from printplan.spec import Placement
from printplan.units import LengthUnit, at_most_mm, mm_from_px, short_words, whole_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from printplan.media import FeedPath
    from printplan.sizing.layout import SheetLayout
    from printplan.spec import SheetSpec


CLEAR_MM = 8.0
"""White kept at the sheet's edges even where the printer could print: hands hold it
there. Our choice."""

LEAST_AREA_MM = 60.0
"""Below this, words take all the room. Our choice."""

_SMALLER = tuple(share / 20 for share in range(19, 3, -1))
"""Shares of the patch size tried for a remedy."""


class TrialCover(StrEnum):
    """How much of its sheet a trial takes."""

    SHEET = "sheet"
    """The file covers the whole sheet."""

    STRIP = "strip"
    """The file covers the top of the sheet, as far as the trial needs; the rest stays
    white and can be printed on later."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialParts:
    """
    What has to find room on a trial sheet, in print pixels.

    Attributes
    ----------
    head_px, foot_px : int
        Heights of the words at the top, and of those at a strip's lower edge.
    patch_px : tuple of int
        Width and height of a patch.
    groups : tuple of int
        Groups of patches that belong together, and patches in each. A group has rows
        of its own where the height allows.
    caption_px : callable
        Height of the words under a patch, from the patch's width.
    blocks_px : sequence of tuple of int
        Widths and heights of the target blocks, in their order.
    gap_px : int
        White between neighbours.
    """

    head_px: int
    foot_px: int
    patch_px: tuple[int, int]
    groups: tuple[int, int]
    caption_px: Callable[[int], int]
    blocks_px: Sequence[tuple[int, int]]
    gap_px: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialLayout:
    """
    The places on a trial sheet, in pixels from the sheet's left top corner.

    Attributes
    ----------
    file_box : Box
        What the file covers.
    head, foot : Box
        The foot has no height on a whole sheet.
    patches, captions : tuple of Box
        Row by row; a caption lies under its patch.
    blocks : tuple of Box
        Of the targets, in their order.
    """

    file_box: Box
    head: Box
    foot: Box
    patches: tuple[Box, ...]
    captions: tuple[Box, ...]
    blocks: tuple[Box, ...]


def trial_paper(
    sheet: SheetSpec, feed: FeedPath, rolls_mm: Iterable[float] = ()
) -> SheetLayout:
    """
    The bare sheet that a trial is printed on.

    Parameters
    ----------
    sheet : SheetSpec
        `BY_PICTURE` stands for portrait, as there is no one picture; placement and
        border are not used.
    rolls_mm : iterable of float, optional
        As for `sheet_in_feed_mm`.

    Returns
    -------
    SheetLayout
        Its picture is a mere point in the middle.

    Raises
    ------
    FitError
        If the margins leave nothing of the sheet.
    """
    bare = replace(
        sheet,
        placement=Placement.CENTRED,
        offset_right_mm=0.0,
        offset_down_mm=0.0,
        border_mm=0.0,
    )
    media_mm = sheet_in_feed_mm(sheet, feed, rolls_mm=rolls_mm)
    return lay_out((1.0, 1.0), media_mm, feed.margins, bare)


def trial_area(paper: SheetLayout, ppi: float, unit: LengthUnit = LengthUnit.MM) -> Box:
    """
    The part of a sheet that a trial uses: printable, and clear of the edges.

    Parameters
    ----------
    paper : SheetLayout
        From `trial_paper`.

    Raises
    ------
    FitError
        If hardly anything of the sheet is left.
    """
    printable = paper.printable
    edges = Edges(
        max(printable.left_mm, CLEAR_MM),
        max(printable.top_mm, CLEAR_MM),
        min(printable.right_mm, paper.width_mm - CLEAR_MM),
        min(printable.bottom_mm, paper.height_mm - CLEAR_MM),
    )
    width, height = edges.right_mm - edges.left_mm, edges.bottom_mm - edges.top_mm
    if min(width, height) < LEAST_AREA_MM:
        raise FitError(
            f"The sheet leaves {whole_words(unit, max(width, 0), max(height, 0))} "
            f"between its margins; a trial takes {whole_words(unit, LEAST_AREA_MM)} of "
            "both at least.",
            remedy="Choose a larger sheet, such as A4.",
        )
    return edges.in_px(ppi)


def lay_out_trial(
    paper: SheetLayout,
    ppi: float,
    parts: TrialParts,
    cover: TrialCover,
    unit: LengthUnit = LengthUnit.MM,
) -> TrialLayout:
    """
    Lay a trial out from the top: head, patches, targets.

    Parameters
    ----------
    paper : SheetLayout
        From `trial_paper`.

    Returns
    -------
    TrialLayout
        Patches are whole pixels apart, all at the same pitch.

    Raises
    ------
    FitError
        If it does not go between the sheet's margins; it says how many patches do.
    """
    area = trial_area(paper, ppi, unit)
    widest = max((width for width, _ in parts.blocks_px), default=0)
    if widest > area.width:
        raise FitError(
            f"The targets are {_in_words(unit, ppi, widest)} wide; the sheet takes "
            f"{_in_words(unit, ppi, area.width)} between its margins.",
            remedy="Choose a larger sheet, or leave the targets out.",
        )
    foot = parts.foot_px if cover is TrialCover.STRIP else 0
    for places in _places(area, parts):
        layout = _laid(area, paper.sheet.in_px(ppi), parts, places, foot)
        if layout is not None:
            return layout
    raise _too_many(area, ppi, parts, foot, unit)


def _side_by_side(area: Box, parts: TrialParts, width_px: int) -> int:
    """Patches of that width that go side by side."""
    return (area.width + parts.gap_px) // (width_px + parts.gap_px)


def _places(area: Box, parts: TrialParts) -> Iterator[list[tuple[int, int]]]:
    """Row and column of each patch: every group in its own rows, then all in a row."""
    most = max(_side_by_side(area, parts, parts.patch_px[0]), 1)
    groups, each = parts.groups
    for count, size in ((groups, each), (1, groups * each)):
        # Rows of a group are filled evenly: four are two and two, not three and one.
        rows = -(-size // most)
        across = -(-size // rows) if rows else 1
        yield [
            (group * rows + number // across, number % across)
            for group in range(count)
            for number in range(size)
        ]


def _laid(
    area: Box, sheet: Box, parts: TrialParts, places: list[tuple[int, int]], foot: int
) -> TrialLayout | None:
    """All boxes, or None if they leave the area; a foot ends the file below itself."""
    width, height = parts.patch_px
    if places and width > area.width:
        return None
    caption = parts.caption_px(width)
    gap = parts.gap_px
    top = area.top + parts.head_px + gap
    patches = [
        Box(
            area.left + column * (width + gap),
            top + row * (height + caption + gap),
            width,
            height,
        )
        for row, column in places
    ]
    if patches:
        top = patches[-1].bottom + caption + gap
    blocks, bottom = _shelved(area, top, parts)
    if bottom + foot > area.bottom:
        return None
    return TrialLayout(
        file_box=Box(0, 0, sheet.width, bottom + foot if foot else sheet.height),
        head=Box(area.left, area.top, area.width, parts.head_px),
        foot=Box(area.left, bottom, area.width, foot),
        patches=tuple(patches),
        captions=tuple(
            Box(patch.left, patch.bottom, patch.width, caption) for patch in patches
        ),
        blocks=tuple(blocks),
    )


def _shelved(area: Box, top: int, parts: TrialParts) -> tuple[list[Box], int]:
    """Blocks side by side as long as there is room, then on the next shelf."""
    blocks: list[Box] = []
    left, depth = area.left, 0
    for width, height in parts.blocks_px:
        if left + width > area.right:
            left, top, depth = area.left, top + depth + parts.gap_px, 0
        blocks.append(Box(left, top, width, height))
        left += width + parts.gap_px
        depth = max(depth, height)
    return blocks, top + depth


def _room_for(area: Box, parts: TrialParts, size_px: tuple[int, int], foot: int) -> int:
    """How many patches of a size fit."""
    width, height = size_px
    if width > area.width:
        return 0
    _, bottom = _shelved(area, area.top + parts.head_px + parts.gap_px, parts)
    left_over = area.bottom - bottom - foot
    each = height + parts.caption_px(width) + parts.gap_px
    return max(left_over // each, 0) * _side_by_side(area, parts, width)


def _in_words(unit: LengthUnit, ppi: float, *lengths_px: int) -> str:
    return whole_words(unit, *(mm_from_px(it, ppi) for it in lengths_px))


def _too_many(
    area: Box, ppi: float, parts: TrialParts, foot: int, unit: LengthUnit
) -> FitError:
    """The refusal, with what would fit."""
    count = parts.groups[0] * parts.groups[1]
    room = (
        f"the sheet, which takes {_in_words(unit, ppi, area.width, area.height)} "
        "between its margins"
    )
    if not count:
        return FitError(
            f"The words and targets do not fit on {room}.",
            remedy="Choose a larger sheet, or leave the targets out.",
        )
    width, height = parts.patch_px
    fits = _room_for(area, parts, parts.patch_px, foot)
    size = _in_words(unit, ppi, width, height)
    problem = (
        f"{count} patches of {size} with their words and targets do not fit on "
        f"{room}: {fits} of that size do."
    )
    for share in _SMALLER:
        smaller = (round(width * share), round(height * share))
        if _room_for(area, parts, smaller, foot) >= count:
            edges_mm = [mm_from_px(it, ppi) for it in smaller]
            if unit is LengthUnit.MM:  # people set whole ones
                edges_mm = [int(it) for it in edges_mm]
            return FitError(
                problem,
                remedy="Choose patches of "
                f"{short_words(unit, *(at_most_mm(unit, it) for it in edges_mm))}, "
                "fewer patches, or a larger sheet.",
            )
    return FitError(
        problem, remedy="Choose fewer patches, a larger sheet, or no targets."
    )
