"""Which nesting of a few rectangles is the shortest of all?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.sizing.nesting.guillotine import Item, Spot, least_length, ways_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    Places = list[tuple[int, Spot]]
    """Kinds and where they lie."""

    _Front = tuple[tuple[int, int], ...]
    """Left ends of its steps, and how deep each is."""


class CornerSearch:
    """
    All nestings by corners, shorter than a limit.

    Notes
    -----
    The front falls from left to right: it bounds all that lies left of and above some
    item placed. Items can always be placed in an order in which none lies behind the
    front of those before; pressed to the left and the top it then lies in a corner of
    that front [1]_. What the front holds beside the items is waste for good.

    References
    ----------
    .. [1] S. Martello, D. Pisinger & D. Vigo (2000), The three-dimensional bin packing
       problem, Operations Research 48(2), 256-267: corner points in two dimensions.
    """

    def __init__(
        self, kinds: Sequence[Item], counts: Sequence[int], width: int, limit: int
    ) -> None:
        self._kinds = kinds
        self._counts = counts
        self._left = list(counts)
        self._width = width
        self._limit = limit
        all_items = [k for k, n in zip(kinds, counts, strict=True) for _ in range(n)]
        self._bound = least_length(all_items, width)
        self._area = sum(it.width * it.height for it in all_items)
        self._seen: set[tuple[tuple[int, ...], _Front]] = set()
        self._placed: Places = []
        self._best: Places | None = None

    def search(self) -> Places | None:
        """The shortest below the limit, if there is one."""
        self._go(((0, 0),), self._area)
        return self._best

    def _go(self, front: _Front, area_left: int) -> None:
        if area_left == 0:
            self._limit, self._best = front[0][1], list(self._placed)
            return
        front = self._reachable(front)
        area = area_left + self._area_behind(front)
        key = (tuple(self._left), front)
        if area > self._width * (self._limit - 1) or key in self._seen:
            return
        self._seen.add(key)
        for kind, item in enumerate(self._kinds):
            if not self._left[kind] or self._limit == self._bound:
                continue
            self._left[kind] -= 1
            rest = area_left - item.width * item.height
            for across, along in ways_of(item):
                turned = (across, along) != (item.width, item.height)
                # Mirrored, the largest item lies in the left upper quarter.
                share = 2 if kind == 0 and self._counts[0] == 1 else 1
                for left, top in front:
                    if (
                        left * share + across > self._width
                        or top * share + along >= self._limit
                    ):
                        continue
                    self._placed.append((kind, Spot(left, top, turned)))
                    self._go(self._front_after(front, left + across, top + along), rest)
                    self._placed.pop()
            self._left[kind] += 1

    def _reachable(self, front: _Front) -> _Front:
        """Without the steps at the right that are too narrow for all that is left."""
        narrowest = min(
            min(across for across, _ in ways_of(item))
            for item, count in zip(self._kinds, self._left, strict=True)
            if count
        )
        most = self._width - narrowest
        return tuple(it for it in front if it[0] <= most)

    def _front_after(self, front: _Front, right: int, bottom: int) -> _Front:
        """The front once an item reaches that far."""
        start = next(start for start, deep in front if deep <= bottom)
        after = [*(it for it in front if it[1] > bottom), (start, bottom)]
        if right < self._width:
            depth = next(deep for begin, deep in reversed(front) if begin <= right)
            after += [(right, depth), *(it for it in front if it[0] > right)]
        return tuple(after)

    def _area_behind(self, front: _Front) -> int:
        ends = [start for start, _ in front[1:]] + [self._width]
        return sum(
            (end - start) * deep for (start, deep), end in zip(front, ends, strict=True)
        )
