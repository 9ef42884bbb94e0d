"""Nothing on a trial sheet runs off it or over something else."""

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printplan.errors import FitError
from printplan.media import Margins
from printplan.sizing.boxes import Box
from printplan.sizing.layout import lay_out
from printplan.sizing.trial_layout import (
    TrialCover,
    TrialParts,
    _room_for,
    lay_out_trial,
    trial_area,
)
from printplan.spec import SheetSpec

PPI = 300
# Drawn sheets are from the smallest that is taken to beyond A3, in millimetres.
EDGES_MM = st.floats(80, 450)
MARGINS_MM = st.floats(0, 20)
SIDES_PX = st.integers(20, 2500)


@st.composite
def papers(draw):
    margins = Margins(
        leading_mm=draw(MARGINS_MM),
        trailing_mm=draw(MARGINS_MM),
        left_mm=draw(MARGINS_MM),
        right_mm=draw(MARGINS_MM),
    )
    media_mm = draw(EDGES_MM), draw(EDGES_MM)
    spec = SheetSpec(
        media_size="custom", feed="front", width_mm=media_mm[0], height_mm=media_mm[1]
    )
    return lay_out((1.0, 1.0), media_mm, margins, spec)


@st.composite
def parts(draw):
    return TrialParts(
        head_px=draw(st.integers(0, 600)),
        foot_px=draw(st.integers(1, 200)),
        patch_px=(draw(SIDES_PX), draw(SIDES_PX)),
        groups=draw(st.tuples(st.integers(0, 4), st.integers(1, 6))),
        caption_px=lambda width: 40 + 2000 // width,
        blocks_px=draw(st.lists(st.tuples(SIDES_PX, SIDES_PX), max_size=6)),
        gap_px=draw(st.integers(0, 60)),
    )


def boxes_of(layout):
    return [
        ("head", layout.head),
        *(("patch", box) for box in layout.patches),
        *(("caption", box) for box in layout.captions),
        *(("block", box) for box in layout.blocks),
        *([("foot", layout.foot)] if layout.foot.height else []),
    ]


@pytest.mark.slow
@settings(max_examples=300)
@given(paper=papers(), parts=parts(), cover=st.sampled_from(TrialCover))
def test_every_box_lies_between_the_margins_and_on_no_other(paper, parts, cover):
    try:
        layout = lay_out_trial(paper, PPI, parts, cover)
    except FitError:
        return
    area = trial_area(paper, PPI)
    boxes = [(kind, box) for kind, box in boxes_of(layout) if box.height]
    for kind, box in boxes:
        assert area.common(box) == box, (kind, box, area)
        assert layout.file_box.common(box) == box, (kind, box, layout.file_box)
    for (_, one), (_, other) in combinations(boxes, 2):
        assert one.common(other) is None, (one, other)
    count = parts.groups[0] * parts.groups[1]
    assert len(layout.patches) == len(layout.captions) == count
    assert [(box.width, box.height) for box in layout.blocks] == list(parts.blocks_px)


def parts_with(blocks_px):
    return TrialParts(
        head_px=100,
        foot_px=50,
        patch_px=(400, 300),
        groups=(0, 1),
        caption_px=lambda _: 40,
        blocks_px=blocks_px,
        gap_px=10,
    )


def a4():
    media_mm = 210.0, 297.0
    margins = Margins(leading_mm=3, trailing_mm=14, left_mm=4, right_mm=5)
    return lay_out(
        (1.0, 1.0), media_mm, margins, SheetSpec(media_size="A4", feed="front")
    )


def test_a_block_that_just_fits_is_taken_and_one_pixel_more_is_refused():
    area = trial_area(a4(), PPI)
    room = area.height - 100 - 10
    whole = lay_out_trial(a4(), PPI, parts_with([(area.width, room)]), TrialCover.SHEET)
    # A sheet of 210 × 297 mm, from its own corner.
    assert whole.file_box == Box(0, 0, *(round(mm / 25.4 * PPI) for mm in (210, 297)))
    assert whole.blocks[0].right == area.right
    assert whole.blocks[0].bottom == area.bottom
    with pytest.raises(FitError, match="leave the targets out"):
        lay_out_trial(a4(), PPI, parts_with([(area.width + 1, room)]), TrialCover.SHEET)
    with pytest.raises(FitError, match=r"targets do not fit .* leave the targets out"):
        lay_out_trial(a4(), PPI, parts_with([(area.width, room + 1)]), TrialCover.SHEET)


def test_a_block_without_room_beside_the_last_goes_on_the_next_shelf():
    width = trial_area(a4(), PPI).width
    half = (width - 10) // 2
    layout = lay_out_trial(
        a4(), PPI, parts_with([(half, 90), (half, 120), (half, 30)]), TrialCover.SHEET
    )
    first, second, third = layout.blocks
    assert first.top == second.top
    assert second.left == first.right + 10
    assert (third.left, third.top) == (first.left, first.top + 120 + 10)


def test_patches_have_what_the_words_and_blocks_leave():
    """From above: 100 px of words, a gap, a block of 50; patches with a gap below."""
    parts = TrialParts(
        head_px=100,
        foot_px=0,
        patch_px=(100, 100),
        groups=(1, 1),
        caption_px=lambda _: 0,
        blocks_px=[(100, 50)],
        gap_px=10,
    )
    # (1000 - 160) // 110 rows of (1000 + 10) // 110.
    assert _room_for(Box(0, 0, 1000, 1000), parts, (100, 100), 0) == 7 * 9
