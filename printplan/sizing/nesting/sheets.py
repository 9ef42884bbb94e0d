"""How many sheets of one size do rectangles need?"""

from __future__ import annotations

from itertools import combinations
from random import Random
from typing import TYPE_CHECKING

from printplan.sizing.nesting.guillotine import EXACT_UP_TO, Item, Packed, Spot, ways_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    Nest = Callable[[Sequence[Item], int, int], Packed | None]
    """Nests items in a strip; takes its width and the length that is there."""

    Free = tuple[int, int, int, int]
    """Left, top, width and height of what is still white on a sheet."""

    Filled = list[tuple[tuple[int, ...], Packed]]
    """Which items lie on each sheet, and where."""

_ORDERS = 60
_SEED = 1


def fill_sheets(
    items: Sequence[Item], width: int, height: int, nest: Nest
) -> tuple[Filled, bool] | None:
    """
    Nest items on as few sheets as there need be.

    Parameters
    ----------
    width, height : int
        Of a sheet.
    nest : callable
        `nest_free` or `nest_guillotine`.

    Returns
    -------
    list of (tuple of int, Packed), and bool
        Which items lie on each sheet, by their number, and where; the sheet that is
        least used comes last. Whether neither fewer sheets nor a shorter part of the
        last one would do. None if an item is larger than a sheet.

    Notes
    -----
    Up to `EXACT_UP_TO` items every way to deal them out is looked at. More are laid,
    each in the smallest white rectangle that takes it, which is then cut in two; of
    many orders, drawn with the chances of one seed, the best is kept.
    """
    if any(
        all(across > width or along > height for across, along in ways_of(it))
        for it in items
    ):
        return None
    if len(items) <= EXACT_UP_TO:
        return _dealt(items, width, height, nest), True
    return _laid(items, width, height, nest)


def _dealt(items: Sequence[Item], width: int, height: int, nest: Nest) -> Filled:
    """The best of all ways to deal a few items out."""
    known: dict[tuple[Item, ...], Packed | None] = {}
    fewest: dict[frozenset[int], tuple[frozenset[int], ...]] = {frozenset(): ()}

    def on_one(numbers: frozenset[int]) -> Packed | None:
        """Spots are in the order of the sorted items."""
        key = tuple(sorted(items[it] for it in numbers))
        if key not in known:
            area = sum(it.width * it.height for it in key)
            known[key] = nest(key, width, height) if area <= width * height else None
        return known[key]

    def dealt(numbers: frozenset[int]) -> tuple[frozenset[int], ...]:
        if numbers not in fewest:
            first = min(numbers)
            ways = (
                (sheet, *dealt(numbers - sheet))
                for sheet in _parts(numbers)
                if first in sheet and on_one(sheet) is not None
            )
            fewest[numbers] = min(ways, key=len)
        return fewest[numbers]

    every = frozenset(range(len(items)))
    count = len(dealt(every))
    lasts = [it for it in _parts(every) if len(dealt(every - it)) == count - 1]
    lengths = {it: packed.length for it in lasts if (packed := on_one(it)) is not None}
    last = min(lengths, key=lengths.__getitem__)
    filled: Filled = []
    for sheet in (*dealt(every - last), last):
        packed = on_one(sheet)
        if packed is not None:
            filled.append((tuple(sorted(sheet, key=items.__getitem__)), packed))
    return filled


def _parts(numbers: frozenset[int]) -> Iterator[frozenset[int]]:
    """All parts of a set but the empty one, the largest first."""
    for count in range(len(numbers), 0, -1):
        yield from map(frozenset, combinations(sorted(numbers), count))


def _laid(
    items: Sequence[Item], width: int, height: int, nest: Nest
) -> tuple[Filled, bool]:
    """The best of many orders; then the last sheet is nested once more."""
    chances = Random(_SEED)  # noqa: S311 - chances of a search
    area = sum(it.width * it.height for it in items)
    least = -(-area // (width * height))
    best: tuple[tuple[int, int], list[dict[int, Spot]]] | None = None
    for order in range(_ORDERS):
        noise = 0.0 if order < 2 else 0.4
        worth = [
            (max(it[:2]) if order % 2 else it.width * it.height)
            * (1 + noise * chances.random())
            for it in items
        ]
        numbers = sorted(range(len(items)), key=lambda it: (-worth[it], it))
        sheets = _laid_in_order(items, numbers, (width, height))
        score = len(sheets), _used(items, sheets[-1])
        if best is None or score < best[0]:
            best = score, sheets
    filled: Filled = []
    for sheet in best[1] if best else ():
        numbers = sorted(sheet)
        packed = Packed(
            _used(items, sheet), tuple(sheet[it] for it in numbers), is_proven=False
        )
        filled.append((tuple(numbers), packed))
    last, packed = filled[-1]
    again = nest([items[it] for it in last], width, height)
    if again is not None and again.length < packed.length:
        filled[-1] = last, again
    # Fewer sheets hold less than the area; of as many, another part may be on the last.
    is_proven = len(filled) == least == 1 and filled[-1][1].is_proven
    return filled, is_proven


def _used(items: Sequence[Item], sheet: dict[int, Spot]) -> int:
    return max(
        spot.top + (items[it].width if spot.turned else items[it].height)
        for it, spot in sheet.items()
    )


def _laid_in_order(
    items: Sequence[Item], numbers: Sequence[int], size: tuple[int, int]
) -> list[dict[int, Spot]]:
    """Each item on the first sheet with room, where it leaves the least beside it."""
    sheets: list[dict[int, Spot]] = []
    white: list[list[Free]] = []
    for number in numbers:
        item = items[number]
        for at in range(len(sheets) + 1):
            if at == len(sheets):
                sheets.append({})
                white.append([(0, 0, *size)])
            places = [
                (min(free[2] - across, free[3] - along), free, across, along)
                for free in white[at]
                for across, along in ways_of(item)
                if across <= free[2] and along <= free[3]
            ]
            if places:
                _, free, across, along = min(places)
                turned = (across, along) != (item.width, item.height)
                sheets[at][number] = Spot(free[0], free[1], turned)
                white[at].remove(free)
                white[at] += _cut_in_two(free, across, along)
                break
    return sheets


def _cut_in_two(free: Free, across: int, along: int) -> list[Free]:
    """What is left beside and below an item, by one straight cut."""
    left, top, wide, high = free
    # The larger of the two is left as large as can be.
    if wide - across > high - along:
        parts = [
            (left + across, top, wide - across, high),
            (left, top + along, across, high - along),
        ]
    else:
        parts = [
            (left + across, top, wide - across, along),
            (left, top + along, wide, high - along),
        ]
    return [it for it in parts if it[2] > 0 and it[3] > 0]
