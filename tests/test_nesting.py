"""Nestings against published tilings, closed forms and an independent search."""

from functools import cache
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printplan.errors import FitError, SpecError
from printplan.media import Margins
from printplan.sizing.boxes import Edges
from printplan.sizing.nesting.cut_list import Direction
from printplan.sizing.nesting.nest import Medium, Piece, nest
from printplan.units import LengthUnit

TOUCH_MM = 1e-3

# Perfect squared rectangles tile a rectangle with unequal squares and no rest, so the
# shortest strip of their width is known. The squares are given here by size: in the
# order of their tables, laid down one after the other, they would fall into place.
PERFECT = {
    # Z. Moroń (1925), O rozkładach prostokątów na kwadraty, Przegląd Mat.-Fiz. 3,
    # 152-153: both of its rectangles.
    "order 9, 33 × 32": (33, 32, (18, 15, 14, 10, 9, 8, 7, 4, 1)),
    "order 10, 65 × 47": (65, 47, (25, 24, 23, 22, 19, 17, 11, 6, 5, 3)),
    # R. L. Brooks, C. A. B. Smith, A. H. Stone & W. T. Tutte (1940), The dissection of
    # rectangles into squares, Duke Math. J. 7, 312-340: all of order 9. Sides as in
    # the catalogue at squaring.net, "9 69 61".
    "order 9, 69 × 61": (69, 61, (36, 33, 28, 25, 16, 9, 7, 5, 2)),
    # From memory; its area and a tiling found prove it.
    "order 11, 97 × 96": (97, 96, (56, 41, 40, 31, 26, 24, 17, 14, 12, 7, 2)),
    # A. J. W. Duijvestijn (1978), Simple perfect squared square of lowest order,
    # J. Combinatorial Theory B 25, 240-243; sides as in OEIS A014530.
    "order 21, 112 × 112": (
        112,
        112,
        (50, 42, 37, 35, 33, 29, 27, 25, 24, 19, 18, 17, 16, 15, 11, 9, 8, 7, 6, 4, 2),
    ),
}
WITHIN = 1.05


def roll(width_mm, length_mm=30_000, **more):
    return Medium(width_mm=width_mm, length_mm=length_mm, is_roll=True, **more)


def squares(sides, scale=1.0):
    return [
        Piece(name=str(side), width_mm=side * scale, height_mm=side * scale)
        for side in sides
    ]


def inside(edges, outer, touch_mm=TOUCH_MM):
    return (
        edges.left_mm >= outer.left_mm - touch_mm
        and edges.top_mm >= outer.top_mm - touch_mm
        and edges.right_mm <= outer.right_mm + touch_mm
        and edges.bottom_mm <= outer.bottom_mm + touch_mm
    )


def apart(one, other, gap_mm):
    """Whether a gap lies between two rectangles, beside or above each other."""
    return (
        max(
            one.left_mm - other.right_mm,
            other.left_mm - one.right_mm,
            one.top_mm - other.bottom_mm,
            other.top_mm - one.bottom_mm,
        )
        >= gap_mm - TOUCH_MM
    )


def require_sound(found):
    """All prints are there, inside what can be printed, and a gap apart."""
    margins, sheet = found.medium.margins, found.sheet
    printable = Edges(
        margins.left_mm,
        margins.leading_mm,
        sheet.right_mm - margins.right_mm,
        sheet.bottom_mm - margins.trailing_mm,
    )
    for placed in found.placements:
        assert inside(placed.edges, printable)
        assert 1 <= placed.sheet <= found.sheets
    for one, other in combinations(found.placements, 2):
        if one.sheet == other.sheet:
            assert apart(one.edges, other.edges, found.gap_mm)


@pytest.mark.parametrize("name", PERFECT)
@pytest.mark.parametrize("upright", [True, False])
def test_squares_of_a_perfect_rectangle_are_nested_within_5_percent(name, upright):
    wide, high, sides = PERFECT[name]
    assert sum(side**2 for side in sides) == wide * high
    width, length = (wide, high) if upright else (high, wide)
    found = nest(squares(sides), roll(width))
    require_sound(found)
    assert length <= found.used_mm <= length * WITHIN


def test_squares_of_whole_pixels_are_nested_as_well():
    """The square of order 21, 40 pixels of 360 to the inch for each of its units."""
    wide, high, sides = PERFECT["order 21, 112 × 112"]
    pixel_mm = 25.4 / 360
    medium = roll(wide * 40 * pixel_mm + 0.01, step_mm=pixel_mm)
    found = nest(squares(sides, 40 * pixel_mm), medium)
    require_sound(found)
    assert found.used_mm <= high * 40 * pixel_mm * WITHIN


def test_six_a4_sheets_need_630_mm_of_a_610_mm_roll():
    """Common practice, no source: three of 210 mm are 630, so two lie across."""
    found = nest([Piece(name="A4", width_mm=210, height_mm=297, copies=6)], roll(610))
    assert found.used_mm == 630
    assert found.is_proven
    assert all(it.turned for it in found.placements)


@settings(settings.get_profile("few"))
@given(
    across=st.integers(50, 600),
    along=st.integers(50, 600),
    copies=st.integers(1, 40),
    gap=st.integers(0, 10),
    straight=st.booleans(),
)
def test_equal_prints_that_may_not_turn_lie_in_full_rows(
    across, along, copies, gap, straight
):
    """Closed form: n go side by side, and every row is as long as one print."""
    piece = Piece(
        name="p", width_mm=across, height_mm=along, copies=copies, may_turn=False
    )
    found = nest([piece], roll(610), gap_mm=gap, straight_cuts=straight)
    rows = -(-copies // ((610 + gap) // (across + gap)))
    assert found.used_mm == pytest.approx(rows * along + (rows - 1) * gap)


# An independent search on a grid of unit cells: every cell in turn, row by row, is the
# left top corner of a piece or stays empty.
def shortest_on_grid(pieces, width):
    area = sum(w * h for w, h in pieces)
    length = max(-(-area // width), 1)
    while not grid_holds(tuple(sorted(pieces)), width, length):
        length += 1
    return length


def grid_holds(pieces, width, length):
    cells = width * length

    def go(taken, cell, left, spare):
        if not left:
            return True
        while cell < cells and taken >> cell & 1:
            cell += 1
        if cell >= cells:
            return False
        row, column = divmod(cell, width)
        for at, piece in enumerate(left):
            if at and piece == left[at - 1]:
                continue
            for w, h in {piece, piece[::-1]}:
                if column + w > width or row + h > length:
                    continue
                block = sum(
                    ((1 << w) - 1) << ((row + down) * width + column)
                    for down in range(h)
                )
                if not taken & block and go(
                    taken | block, cell + 1, left[:at] + left[at + 1 :], spare
                ):
                    return True
        return spare > 0 and go(taken, cell + 1, left, spare - 1)

    return go(0, 0, pieces, cells - sum(w * h for w, h in pieces))


# Another one for straight cuts: a rectangle holds pieces if some cut at a whole unit
# leaves two that hold them between them.
def shortest_by_cuts(pieces, width):
    @cache
    def holds(wide, high, left):
        if sum(w * h for w, h in left) > wide * high:
            return False
        if len(left) == 1:
            w, h = left[0]
            return (w <= wide and h <= high) or (h <= wide and w <= high)
        shares = [
            (one, tuple(it for at, it in enumerate(left) if at not in chosen))
            for count in range(1, len(left))
            for chosen in combinations(range(len(left)), count)
            for one in [tuple(left[it] for it in chosen)]
        ]
        return any(
            (holds(cut, high, one) and holds(wide - cut, high, other))
            for cut in range(1, wide)
            for one, other in shares
        ) or any(
            (holds(wide, cut, one) and holds(wide, high - cut, other))
            for cut in range(1, high)
            for one, other in shares
        )

    length = 1
    while not holds(width, length, tuple(sorted(pieces))):
        length += 1
    return length


def pieces_of(sizes):
    return [
        Piece(name=f"p{number}", width_mm=w, height_mm=h)
        for number, (w, h) in enumerate(sizes)
    ]


SMALL = st.tuples(st.integers(1, 5), st.integers(1, 5))


@settings(settings.get_profile("few"))
@given(sizes=st.lists(SMALL, min_size=1, max_size=7), width=st.integers(5, 7))
def test_few_prints_are_nested_as_short_as_a_search_of_all_cells_finds(sizes, width):
    found = nest(pieces_of(sizes), roll(width))
    require_sound(found)
    assert found.is_proven
    assert found.used_mm == shortest_on_grid(sizes, width)


@settings(settings.get_profile("few"))
@given(sizes=st.lists(SMALL, min_size=1, max_size=4), width=st.integers(5, 6))
def test_few_prints_for_straight_cuts_are_as_short_as_a_search_of_all_cuts_finds(
    sizes, width
):
    found = nest(pieces_of(sizes), roll(width), straight_cuts=True)
    require_sound(found)
    assert found.is_proven
    assert found.used_mm == shortest_by_cuts(sizes, width)


def test_straight_cuts_cost_length_where_only_a_pinwheel_fits():
    """Four 5 × 3 turn round a 2 × 2 in a square of 8: every cut goes through one."""
    free = nest(pieces_of([(5, 3)] * 4 + [(2, 2)]), roll(8))
    straight = nest(pieces_of([(5, 3)] * 4 + [(2, 2)]), roll(8), straight_cuts=True)
    assert free.used_mm == 8
    assert straight.used_mm > 8
    with pytest.raises(FitError, match="straight cuts"):
        free.cuts()


SIZES = st.tuples(
    st.floats(20, 280).map(lambda it: round(it, 2)),
    st.floats(20, 280).map(lambda it: round(it, 2)),
    st.integers(1, 3),
    st.booleans(),
)
MARGINS = st.builds(
    Margins,
    leading_mm=st.integers(0, 20),
    trailing_mm=st.integers(0, 20),
    left_mm=st.integers(0, 15),
    right_mm=st.integers(0, 15),
)


@st.composite
def nestings(draw, *, straight):
    pieces = [
        Piece(name=f"p{at}", width_mm=w, height_mm=h, copies=copies, may_turn=turns)
        for at, (w, h, copies, turns) in enumerate(
            draw(st.lists(SIZES, min_size=1, max_size=5))
        )
    ]
    is_roll = draw(st.booleans())
    medium = Medium(
        width_mm=draw(st.integers(320, 610)),
        length_mm=30_000 if is_roll else draw(st.integers(330, 900)),
        is_roll=is_roll,
        margins=draw(MARGINS),
    )
    gap_mm = draw(st.sampled_from([0.0, 3.0, 5.08]))
    found = nest(pieces, medium, gap_mm=gap_mm, straight_cuts=straight)
    return pieces, found


@settings(settings.get_profile("few"))
@given(case=nestings(straight=False))
def test_prints_lie_apart_inside_the_printable_area_each_in_its_size(case):
    pieces, found = case
    require_sound(found)
    wanted = {it.name: it for it in pieces}
    assert len(found.placements) == sum(it.copies for it in pieces)
    for placed in found.placements:
        piece = wanted[placed.name]
        size = (piece.width_mm, piece.height_mm)
        assert (placed.width_mm, placed.height_mm) == (
            size[::-1] if placed.turned else size
        )
        assert piece.may_turn or not placed.turned
    assert sum(map(found.paper_share, found.placements)) == pytest.approx(1)
    printed = sum(it.width_mm * it.height_mm * it.copies for it in pieces)
    assert found.waste_share == pytest.approx(1 - printed / found.paper_mm2)


@settings(settings.get_profile("few"))
@given(case=nestings(straight=True))
def test_the_cut_list_cuts_sheets_into_exactly_the_prints(case):
    """The cuts are made here, one after the other, on parts that are in hand."""
    _, found = case
    require_sound(found)
    for number in range(1, found.sheets + 1):
        parts = [found.sheet]
        for count, cut in enumerate(found.cuts(number), 1):
            assert cut.number == count
            (part,) = [it for it in parts if same(it, cut.part)]
            parts.remove(part)
            at = cut.set_mm
            if cut.direction is Direction.ACROSS:
                assert 0 < at < part.bottom_mm - part.top_mm
                middle = part.top_mm + at
                halves = (
                    Edges(part.left_mm, part.top_mm, part.right_mm, middle),
                    Edges(part.left_mm, middle, part.right_mm, part.bottom_mm),
                )
            else:
                assert 0 < at < part.right_mm - part.left_mm
                middle = part.left_mm + at
                halves = (
                    Edges(part.left_mm, part.top_mm, middle, part.bottom_mm),
                    Edges(middle, part.top_mm, part.right_mm, part.bottom_mm),
                )
            if cut.falls_off is not None:
                assert any(same(cut.falls_off, it) for it in halves)
            parts += [it for it in halves if not same(it, cut.falls_off)]
        prints = [it.edges for it in found.on_sheet(number)]
        assert len(parts) == len(prints)
        for edges in prints:
            assert sum(same(edges, it) for it in parts) == 1


def same(one, other):
    if other is None:
        return False
    return inside(one, other) and inside(other, one)


def test_gaps_and_margins_lie_where_they_belong():
    margins = Margins(leading_mm=10, trailing_mm=20, left_mm=5, right_mm=7)
    piece = Piece(name="p", width_mm=100, height_mm=50, copies=4, may_turn=False)
    found = nest([piece], roll(5 + 100 + 4 + 100 + 7, margins=margins), gap_mm=4)
    places = sorted((it.top_mm, it.left_mm) for it in found.placements)
    assert places == [(10, 5), (10, 109), (64, 5), (64, 109)]
    assert found.used_mm == 10 + 50 + 4 + 50 + 20


def test_prints_in_whole_inches_fill_a_roll_to_its_edge():
    """Three of 8 in lie across 24 in, though no decimal of a millimetre is whole."""
    piece = Piece(name="p", width_mm=203.2, height_mm=254, copies=3)
    assert nest([piece], roll(609.6)).used_mm == 254


@pytest.mark.parametrize("straight", [True, False])
def test_the_fewest_sheets_are_used_then_the_last_one_least(straight):
    """Closed form: two of 60 × 100 go on a sheet of 120 × 100, with 20 × 100 on a new
    one; beside one of 60 the small one is not worth a third sheet."""
    pieces = [
        Piece(name="large", width_mm=60, height_mm=100, copies=3, may_turn=False),
        Piece(name="small", width_mm=20, height_mm=30, may_turn=False),
    ]
    medium = Medium(width_mm=120, length_mm=100)
    found = nest(pieces, medium, straight_cuts=straight)
    assert found.sheets == 2
    assert found.is_proven
    assert found.used_mm == 100
    many = [Piece(name="p", width_mm=40, height_mm=50, copies=25, may_turn=False)]
    found = nest(many, medium, straight_cuts=straight)
    assert (found.sheets, found.used_mm) == (5, 50)


def test_the_same_is_found_again():
    pieces = pieces_of([(30 + 17 * at % 90, 40 + 31 * at % 110) for at in range(9)])
    assert nest(pieces, roll(300)) == nest(pieces, roll(300))


REFUSED = [
    ({"medium": roll(100)}, "larger medium"),
    ({"medium": roll(610, 300), "gap_mm": 0}, "120 mm more"),
    ({"medium": Medium(width_mm=210, length_mm=297, sheets=2)}, "buy 2 more"),
    ({"pieces": []}, "a name of its own"),
    ({"pieces": [Piece(name="p", width_mm=1, height_mm=1)] * 2}, "a name of its own"),
    ({"gap_mm": -1}, "0 mm or more"),
    ({"pieces": [Piece(name="p", width_mm=1, height_mm=1, copies=900)]}, "fewer"),
]


@pytest.mark.parametrize(("wish", "remedy"), REFUSED, ids=[it[1] for it in REFUSED])
def test_a_wish_that_cannot_be_met_is_refused_with_a_remedy(wish, remedy):
    a4 = [Piece(name="A4", width_mm=210, height_mm=297, copies=4)]
    wish = {"pieces": a4, "medium": roll(610), "gap_mm": 18, **wish}
    with pytest.raises(SpecError, match=remedy):
        nest(wish.pop("pieces"), wish.pop("medium"), **wish, unit=LengthUnit.MM)


def test_a_print_that_may_not_turn_and_does_not_fit_upright_is_refused():
    with pytest.raises(FitError, match="may not be turned"):
        nest([Piece(name="p", width_mm=70, height_mm=20, may_turn=False)], roll(50))
