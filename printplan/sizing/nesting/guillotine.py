"""How are rectangles nested so that straight cuts from edge to edge part them?"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from math import prod
from random import Random
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

EXACT_UP_TO = 7
"""Items up to which the shortest nesting is found and proven."""

_TRIES = 40
_SEED = 1


class Item(NamedTuple):
    """A rectangle to be nested, in whole units of any kind."""

    width: int
    height: int
    may_turn: bool


class Spot(NamedTuple):
    """Where an item lies; turned, its height lies across."""

    left: int
    top: int
    turned: bool


@dataclass(frozen=True, slots=True)
class Packed:
    """
    Items nested in a strip.

    Attributes
    ----------
    length : int
        Of the strip that they take.
    spots : tuple of Spot
        In the order of the items.
    is_proven : bool
        Whether no nesting of that kind is shorter.
    """

    length: int
    spots: tuple[Spot, ...]
    is_proven: bool


class Shape(NamedTuple):
    """
    A block of items: one of them, or two blocks side by side or one below the other.

    Attributes
    ----------
    kind : int
        Of its only item; -1 for two blocks.
    turned : bool
        Whether that item is.
    is_beside : bool
        Whether the second block lies to the right of the first.
    """

    width: int
    height: int
    kind: int
    turned: bool = False
    is_beside: bool = False
    first: Shape | None = None
    second: Shape | None = None


Shapes = tuple[Shape, ...]
"""Of the same items: each wider and lower than the one before."""


def kinds_of(items: Sequence[Item]) -> tuple[list[Item], list[int]]:
    """
    Group items that are alike.

    Returns
    -------
    list of Item
        The kinds, the largest area first.
    list of int
        How many there are of each.
    """
    alike: dict[Item, int] = {}
    for item in items:
        alike[item] = alike.get(item, 0) + 1
    kinds = sorted(alike, key=lambda it: (-it.width * it.height, it))
    return kinds, [alike[it] for it in kinds]


def spots_of(
    items: Sequence[Item], kinds: Sequence[Item], placed: Iterable[tuple[int, Spot]]
) -> tuple[Spot, ...]:
    """
    Give the places found for kinds to the items, in their order.

    Parameters
    ----------
    placed : iterable of (int, Spot)
        Which kind lies where.
    """
    free: dict[Item, list[Spot]] = {it: [] for it in kinds}
    for kind, spot in placed:
        free[kinds[kind]].append(spot)
    for spots in free.values():
        spots.sort(key=lambda it: (-it.top, -it.left))
    return tuple(free[item].pop() for item in items)


def least_length(items: Sequence[Item], width: int) -> int:
    """
    A length that no nesting of the items can be shorter than.

    Returns
    -------
    int
        That of their area, or of the longest of them as it must lie.
    """
    area = sum(it.width * it.height for it in items)
    longest = max(
        min(along for across, along in ways_of(it) if across <= width) for it in items
    )
    return max(-(-area // width), longest)


def ways_of(item: Item) -> tuple[tuple[int, int], ...]:
    """Width and height of an item as it may lie."""
    upright = (item.width, item.height)
    turns = item.may_turn and item.width != item.height
    return (upright, upright[::-1]) if turns else (upright,)


def nest_guillotine(items: Sequence[Item], width: int, most: int) -> Packed | None:
    """
    Nest items in a strip so that straight cuts through part them.

    Parameters
    ----------
    items : sequence of Item
        At least one.
    width : int
        Of the strip.
    most : int
        Length that is there.

    Returns
    -------
    Packed or None
        None if none was found within that length.

    Notes
    -----
    Such a nesting is a tree of blocks. Up to `EXACT_UP_TO` items, every set of them
    is given all its blocks that are not both wider and longer than another one, from
    those of its parts: no nesting is left out [1]_. More are put in rows, and then a
    few rows at a time, drawn with the chances of one seed, are taken apart and nested
    exactly. The count of tries is fixed, and so the result is the same everywhere.

    References
    ----------
    .. [1] L. Stockmeyer (1983), Optimal orientations of cells in slicing floorplan
       designs, Information and Control 57(2-3), 91-101: joining two lists of shapes.
    """
    kinds, counts = kinds_of(items)
    leaves = [_leaf(it, number, width, most) for number, it in enumerate(kinds)]
    if not all(leaves):
        return None
    bound = least_length(items, width)
    rows = _best_rows(kinds, leaves, counts, width, bound)
    is_exact = len(items) <= EXACT_UP_TO
    if is_exact:
        # No longer than what is found already, which leaves little to look through.
        within = min(_length(rows), most)
        rows = list(_all_joined(leaves, counts, width, within)[-1:])
    length = _length(rows)
    if not rows or length > most:
        return None
    return Packed(
        length, spots_of(items, kinds, _placed(rows)), is_exact or length == bound
    )


def _leaf(item: Item, kind: int, width: int, most: int) -> Shapes:
    upright = (item.width, item.height)
    return _pareto(
        Shape(across, along, kind, (across, along) != upright)
        for across, along in ways_of(item)
        if across <= width and along <= most
    )


def _pareto(shapes: Iterable[Shape]) -> Shapes:
    """Shapes of which no other is at most as wide and at most as high."""
    kept: list[Shape] = []
    for shape in sorted(shapes, key=lambda it: it[:2]):
        if not kept or shape.height < kept[-1].height:
            kept.append(shape)
    return tuple(kept)


def _joined(
    one: Shapes, other: Shapes, width: int, most: int, largest: int
) -> Iterator[Shape]:
    """Two blocks side by side, then one below the other, up to an area."""
    at, by = 0, 0
    while at < len(one) and by < len(other):
        a, b = one[at], other[by]
        wide, high = a.width + b.width, max(a.height, b.height)
        if wide > width:
            break
        if wide * high <= largest:
            yield Shape(wide, high, -1, False, True, a, b)
        at += a.height == high
        by += b.height == high
    at, by = len(one) - 1, len(other) - 1
    while at >= 0 and by >= 0:
        a, b = one[at], other[by]
        wide, high = max(a.width, b.width), a.height + b.height
        if high > most:
            break
        if wide * high <= largest:
            yield Shape(wide, high, -1, False, False, a, b)
        at -= a.width == wide
        by -= b.width == wide


def _all_joined(
    leaves: Sequence[Shapes], counts: Sequence[int], width: int, most: int
) -> Shapes:
    """All shapes worth having of so many of each leaf, in a strip that long."""
    areas = [content(it[0]) if it else 0 for it in leaves]
    spare = width * most - sum(a * c for a, c in zip(areas, counts, strict=True))
    if spare < 0 or not all(leaves):
        return ()
    # A set of leaves is a number whose digits count them, each to a base of its own.
    steps = [prod(it + 1 for it in counts[:at]) for at in range(len(counts))]
    found: dict[int, Shapes] = dict(zip(steps, leaves, strict=True))
    for chosen in sorted(product(*(range(it + 1) for it in counts)), key=sum):
        if sum(chosen) < 2:
            continue
        # What a block wastes is lost: with more than there is to spare, it is no use.
        largest = spare + sum(a * c for a, c in zip(areas, chosen, strict=True))
        parts = [0]
        for digit, step in zip(chosen, steps, strict=True):
            parts = [it + more * step for more in range(digit + 1) for it in parts]
        whole = parts[-1]
        shapes: list[Shape] = []
        for part in parts[1:-1]:
            rest = whole - part
            if part <= rest and part in found and rest in found:
                shapes += _joined(found[part], found[rest], width, most, largest)
        if shapes:
            found[whole] = _pareto(shapes)
    all_steps = sum(c * step for c, step in zip(counts, steps, strict=True))
    return found.get(all_steps, ())


def content(shape: Shape) -> int:
    """Area of the items in a block."""
    if shape.first is None or shape.second is None:
        return shape.width * shape.height
    return content(shape.first) + content(shape.second)


def _best_rows(
    kinds: Sequence[Item],
    leaves: Sequence[Shapes],
    counts: Sequence[int],
    width: int,
    bound: int,
) -> list[Shape]:
    """The shorter of two ways to begin: items lying across, items standing."""
    starts = (_shelves(leaves, counts, width, pick) for pick in (-1, 0))
    if sum(counts) > EXACT_UP_TO:
        starts = (_nested_again(rows, kinds, width, bound) for rows in starts)
    return min(starts, key=_length)


def _shelves(
    leaves: Sequence[Shapes], counts: Sequence[int], width: int, pick: int
) -> list[Shape]:
    """Rows across the strip, each item in the first with room, the highest first."""
    shapes = [
        leaf[pick] for leaf, it in zip(leaves, counts, strict=True) for _ in range(it)
    ]
    rows: list[Shape] = []
    for shape in sorted(shapes, key=lambda it: (-it.height, -it.width, it.kind)):
        for at, row in enumerate(rows):
            if row.width + shape.width <= width:
                rows[at] = _beside(row, shape)
                break
        else:
            rows.append(shape)
    return rows


def _beside(one: Shape, other: Shape) -> Shape:
    wide, high = one.width + other.width, max(one.height, other.height)
    return Shape(wide, high, -1, is_beside=True, first=one, second=other)


def _nested_again(
    rows: list[Shape], kinds: Sequence[Item], width: int, bound: int
) -> list[Shape]:
    """Take a few rows at a time apart, and put them together in the best way."""
    chances = Random(_SEED)  # noqa: S311 - chances of a search
    for _ in range(_TRIES):
        if _length(rows) <= bound:
            break
        chosen = _few(rows, chances)
        few = [rows[it] for it in chosen]
        blocks = _apart(few)
        if blocks is None:
            continue
        leaves: dict[Shapes, int] = {}
        for block in blocks:
            turned = _turned(block, kinds)
            ways = (
                it for it in (block, turned) if it is not None and it.width <= width
            )
            leaf = _pareto(ways)
            leaves[leaf] = leaves.get(leaf, 0) + 1
        before = _length(few)
        found = _all_joined(list(leaves), list(leaves.values()), width, before)
        if found:
            rest = [it for at, it in enumerate(rows) if at not in chosen]
            rows = [*rest, *_rows_of(found[-1])]
    return rows


def _few(rows: list[Shape], chances: Random) -> set[int]:
    """Two to four rows, rather those that waste much."""
    count = min(len(rows), chances.choice((2, 2, 3, 3, 4)))
    weighed = []
    for at, row in enumerate(rows):
        waste = 1 - content(row) / (row.width * row.height)
        weighed.append((chances.random() ** (1 / (waste + 0.02)), at))
    return {at for _, at in sorted(weighed)[-count:]}


def _apart(rows: Sequence[Shape]) -> list[Shape] | None:
    """The same as smaller blocks, as many as are nested exactly; None if too many."""
    blocks = list(rows)
    while len(blocks) < EXACT_UP_TO:
        halves = [it for it in blocks if it.first is not None]
        if not halves:
            break
        widest = max(halves, key=lambda it: (_waste(it), it.width * it.height))
        blocks.remove(widest)
        blocks += [it for it in (widest.first, widest.second) if it is not None]
    return blocks if len(blocks) <= EXACT_UP_TO else None


def _waste(shape: Shape) -> int:
    return shape.width * shape.height - content(shape)


def _turned(shape: Shape, kinds: Sequence[Item]) -> Shape | None:
    """The same block turned, if all in it may be."""
    wide, high = shape.height, shape.width
    if shape.first is None or shape.second is None:
        if not kinds[shape.kind].may_turn:
            return None
        return Shape(wide, high, shape.kind, turned=not shape.turned)
    first, second = _turned(shape.first, kinds), _turned(shape.second, kinds)
    if first is None or second is None:
        return None
    across = not shape.is_beside
    return Shape(wide, high, -1, is_beside=across, first=first, second=second)


def _rows_of(shape: Shape) -> Iterator[Shape]:
    if shape.first is None or shape.second is None or shape.is_beside:
        yield shape
        return
    yield from _rows_of(shape.first)
    yield from _rows_of(shape.second)


def _length(rows: Iterable[Shape]) -> int:
    return sum(it.height for it in rows)


def _placed(rows: Iterable[Shape]) -> Iterator[tuple[int, Spot]]:
    top = 0
    for row in rows:
        yield from _places(row, 0, top)
        top += row.height


def _places(shape: Shape, left: int, top: int) -> Iterator[tuple[int, Spot]]:
    if shape.first is None or shape.second is None:
        yield shape.kind, Spot(left, top, shape.turned)
        return
    yield from _places(shape.first, left, top)
    if shape.is_beside:
        yield from _places(shape.second, left + shape.first.width, top)
    else:
        yield from _places(shape.second, left, top + shape.first.height)
