"""How are rectangles nested where blades may cut out one print at a time?"""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING, NamedTuple

from printplan.sizing.nesting.corners import CornerSearch
from printplan.sizing.nesting.guillotine import (
    EXACT_UP_TO,
    Item,
    Packed,
    Spot,
    kinds_of,
    least_length,
    nest_guillotine,
    spots_of,
    ways_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    Places = list[tuple[int, Spot]]
    """Kinds and where they lie."""

_ORDERS = 60
_SEED = 1
_STEPS_WITHOUT_WASTE = 40_000
_STEPS = 3_000
_SHARES = (0.2, 0.5)
"""Of the way from the least length to the best found, where the search looks."""

_SEARCHED_ITEMS = 60
_COLUMNS = 4096


def nest_free(items: Sequence[Item], width: int, most: int) -> Packed | None:
    """
    Nest items in a strip, wherever they fit.

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
    Up to `EXACT_UP_TO` items `CornerSearch` finds the shortest. For more, the lowest
    gap of the front is filled with what fits best, in many orders [1]_; then a search
    by depth looks for a nesting of a given, shorter length and gives up where a gap
    cannot be filled without wasting more than that length allows. Steps are counted,
    not time, and chances come of one seed: the result is the same everywhere.

    References
    ----------
    .. [1] E. K. Burke, G. Kendall & G. Whitwell (2004), A new placement heuristic for
       the orthogonal stock-cutting problem, Operations Research 52(4), 655-671.
    """
    kinds, counts = kinds_of(items)
    if any(all(across > width for across, _ in ways_of(it)) for it in kinds):
        return None
    bound = least_length(items, width)
    if bound > most:
        return None
    is_exact = len(items) <= EXACT_UP_TO
    found = None
    if not is_exact:
        found = _Depth(kinds, counts, width, bound, _STEPS_WITHOUT_WASTE).search()
    if found is not None:
        return Packed(bound, spots_of(items, kinds, found), is_proven=True)
    best = nest_guillotine(items, width, most)
    if best is not None and best.length == bound:
        return best
    limit = most + 1 if best is None else best.length
    placed = _searched(kinds, counts, width, limit)
    if placed is not None:
        limit = _length(kinds, placed)
    if is_exact:
        placed = CornerSearch(kinds, counts, width, limit).search() or placed
    if placed is None:
        return best and Packed(best.length, best.spots, is_exact)
    length = _length(kinds, placed)
    spots = spots_of(items, kinds, placed)
    return Packed(length, spots, is_exact or length == bound)


def _length(kinds: Sequence[Item], placed: Places) -> int:
    return max(
        spot.top + (kinds[kind].width if spot.turned else kinds[kind].height)
        for kind, spot in placed
    )


class _Gap(NamedTuple):
    """A step of the front of a strip: where it begins, how wide and how deep it is."""

    left: int
    width: int
    depth: int


_Sky = tuple[_Gap, ...]
"""From the left to the right edge; neighbours differ in depth."""


def _lowest(sky: _Sky) -> int:
    return min(range(len(sky)), key=lambda at: sky[at].depth)


def _walls(sky: _Sky, at: int, limit: int) -> tuple[int, int]:
    """Depth of the neighbours of a gap; edges of the strip reach as far as it does."""
    left = sky[at - 1].depth if at else limit
    right = sky[at + 1].depth if at + 1 < len(sky) else limit
    return left, right


def _level(steps: list[_Gap]) -> _Sky:
    """Neighbours of one depth are one step."""
    level: list[_Gap] = []
    for step in steps:
        if level and level[-1].depth == step.depth:
            before = level.pop()
            step = _Gap(before.left, before.width + step.width, step.depth)  # noqa: PLW2901
        if step.width:
            level.append(step)
    return tuple(level)


def _filled(sky: _Sky, at: int, across: int, along: int) -> _Sky:
    """The front after an item is put at the left of a gap."""
    gap = sky[at]
    item = _Gap(gap.left, across, gap.depth + along)
    rest = _Gap(gap.left + across, gap.width - across, gap.depth)
    return _level([*sky[:at], item, rest, *sky[at + 1 :]])


def _given_up(sky: _Sky, at: int, depth: int) -> _Sky:
    """The front after a gap is left white down to its lower neighbour."""
    gap = sky[at]
    return _level([*sky[:at], _Gap(gap.left, gap.width, depth), *sky[at + 1 :]])


def _searched(
    kinds: Sequence[Item], counts: Sequence[int], width: int, limit: int
) -> Places | None:
    """What is found below a limit by many orders, then by depth."""
    all_items = [k for k, n in zip(kinds, counts, strict=True) for _ in range(n)]
    bound = least_length(all_items, width)
    best: Places | None = None
    for placed in _fitted_in_orders(kinds, counts, width):
        length = _length(kinds, placed)
        if length < limit:
            limit, best = length, placed
    if limit == bound or len(all_items) > _SEARCHED_ITEMS:
        return best
    for share in _SHARES:
        length = bound + int(share * (limit - bound))
        found = _Depth(kinds, counts, width, length, _STEPS).search()
        if found is not None:
            return found
    return best


def _fitted_in_orders(
    kinds: Sequence[Item], counts: Sequence[int], width: int
) -> Iterator[Places]:
    """Fill the lowest gap with the item that fits best, as several rules see it."""
    chances = Random(_SEED)  # noqa: S311 - chances of a search
    ways = [
        (across, along, kind)
        for kind, item in enumerate(kinds)
        for across, along in ways_of(item)
        if across <= width
    ]
    for order in range(_ORDERS):
        noise = 0.0 if order < 3 else chances.choice((0.1, 0.3))
        power = (1.0, 0.5, 0.0)[order % 3]
        # Wide ones first, large ones first, or long ones first.
        worth = {
            way: way[0] ** power
            * way[1] ** (1 - power)
            * (1 + noise * chances.random())
            for way in ways
        }
        yield _fitted(kinds, list(counts), width, worth)


def _fitted(
    kinds: Sequence[Item],
    left: list[int],
    width: int,
    worth: dict[tuple[int, int, int], float],
) -> Places:
    sky: _Sky = (_Gap(0, width, 0),)
    placed: Places = []
    endless = sum(
        max(it.width, it.height) * n for it, n in zip(kinds, left, strict=True)
    )
    while any(left):
        at = _lowest(sky)
        gap, walls = sky[at], _walls(sky, at, endless)
        fitting = [it for it in worth if left[it[2]] and it[0] <= gap.width]
        if not fitting:
            sky = _given_up(sky, at, min(walls))
            continue
        way = max(
            fitting,
            key=lambda it: (it[0] == gap.width, gap.depth + it[1] in walls, worth[it]),
        )
        across, along, kind = way
        turned = (across, along) != (kinds[kind].width, kinds[kind].height)
        placed.append((kind, Spot(gap.left, gap.depth, turned)))
        left[kind] -= 1
        sky = _filled(sky, at, across, along)
    return placed


class _Depth:
    """A search for a nesting of a given length that wastes no more than that allows."""

    def __init__(
        self,
        kinds: Sequence[Item],
        counts: Sequence[int],
        width: int,
        length: int,
        steps: int,
    ) -> None:
        self._left = list(counts)
        self._width, self._length, self._steps = width, length, steps
        # Sums of widths are counted in columns, rounded so that none is called smaller.
        self._column = -(-width // _COLUMNS)
        self._ways = sorted(
            (
                (across, along, kind, (across, along) != (item.width, item.height))
                for kind, item in enumerate(kinds)
                for across, along in ways_of(item)
                if across <= width and along <= length
            ),
            reverse=True,
        )
        area = sum(
            it.width * it.height * n for it, n in zip(kinds, counts, strict=True)
        )
        self._spare = width * length - area
        self._seen: set[tuple[tuple[int, ...], _Sky]] = set()
        self._placed: Places = []

    def search(self) -> Places | None:
        """Where the kinds lie; None if nothing was found in so many steps."""
        if self._spare < 0:
            return None
        start = (_Gap(0, self._width, 0),)
        return self._placed if self._go(start, self._spare, sum(self._left)) else None

    def _go(self, sky: _Sky, spare: int, count: int) -> bool:
        if count == 0:
            return True
        key = (tuple(self._left), sky)
        if self._steps == 0 or key in self._seen:
            return False
        self._seen.add(key)
        self._steps -= 1
        at = _lowest(sky)
        gap, walls = sky[at], _walls(sky, at, self._length)
        high = min(walls) - gap.depth
        fitting = [
            way
            for way in self._ways
            if self._left[way[2]]
            and way[0] <= gap.width
            and gap.depth + way[1] <= self._length
        ]
        if (gap.width - self._widest(fitting, gap.width)) * high > spare:
            return False
        # What fills the gap exactly, or is level with a neighbour, is tried first.
        fitting.sort(
            key=lambda it: (
                (it[0] == gap.width) * (2 + (gap.depth + it[1] == walls[1]))
                + (gap.depth + it[1] == walls[0])
            ),
            reverse=True,
        )
        for across, along, kind, turned in fitting:
            self._left[kind] -= 1
            self._placed.append((kind, Spot(gap.left, gap.depth, turned)))
            if self._go(_filled(sky, at, across, along), spare, count - 1):
                return True
            self._placed.pop()
            self._left[kind] += 1
        waste = gap.width * high
        return (
            len(sky) > 1
            and waste <= spare
            and self._go(_given_up(sky, at, min(walls)), spare - waste, count)
        )

    def _widest(self, fitting: list[tuple[int, int, int, bool]], width: int) -> int:
        """No items that lie side by side in a gap are wider in all."""
        if not fitting:
            return 0
        column = self._column
        mask = (1 << (width // column + 1)) - 1
        sums, narrowest = 1, width
        for across, _, kind, _ in fitting:
            narrowest = min(narrowest, across)
            for _ in range(min(self._left[kind], width // across)):
                sums |= sums << (across // column) & mask
        rounding = (column - 1) * (width // narrowest)
        return min((sums.bit_length() - 1) * column + rounding, width)
