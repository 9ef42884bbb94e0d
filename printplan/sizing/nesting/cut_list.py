"""By which straight cuts, and in which order, are prints parted?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from printplan.errors import FitError
from printplan.sizing.boxes import Edges

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

_TOUCH_MM = 1e-4
"""Edges that are nearer than this are one: far below any blade, far above rounding."""


class Direction(StrEnum):
    """How a cut runs, as the paper went through the printer."""

    ACROSS = "across the feed"
    ALONG = "along the feed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """
    One straight cut through a part, from edge to edge.

    Attributes
    ----------
    number : int
        In the order of cutting, from 1 on each sheet.
    part : Edges
        What is cut, on its sheet.
    at_mm : float
        Where on the sheet: from its top, or from its left for a cut along the feed.
    set_mm : float
        From the part's own top or left edge: what a trimmer is set to.
    first, second : tuple of str
        Prints above, or to the left of the cut, and those on its other side; a side
        with none falls off.
    """

    number: int
    direction: Direction
    part: Edges
    at_mm: float
    set_mm: float
    first: tuple[str, ...]
    second: tuple[str, ...]

    @property
    def line(self) -> Edges:
        """From end to end."""
        part = self.part
        if self.direction is Direction.ACROSS:
            return Edges(part.left_mm, self.at_mm, part.right_mm, self.at_mm)
        return Edges(self.at_mm, part.top_mm, self.at_mm, part.bottom_mm)

    @property
    def halves(self) -> tuple[Edges, Edges]:
        """What lies on both sides of it."""
        return _halves(self.part, self.direction, self.at_mm)

    @property
    def falls_off(self) -> Edges | None:
        """White that falls off; None if there are prints on both sides."""
        first, second = self.halves
        if not self.first:
            return first
        return None if self.second else second


def cut_list(sheet: Edges, prints: Mapping[str, Edges]) -> tuple[Cut, ...]:
    """
    The straight cuts that free prints from their sheet.

    Parameters
    ----------
    sheet : Edges
        The whole sheet, or the length that is cut off a roll.
    prints : mapping of str to Edges
        By their names; none lies on another.

    Returns
    -------
    tuple of Cut
        White at the edges of a part falls off first; then the part is cut in two
        where no print is in the way, across the feed if it can be, and the upper or
        left part is finished before the other one is taken up.

    Raises
    ------
    FitError
        If some cut would go through a print.

    Examples
    --------
    >>> cuts = cut_list(Edges(0, 0, 100, 50), {"one": Edges(0, 0, 40, 50)})
    >>> [(cut.direction.value, cut.at_mm) for cut in cuts]
    [('along the feed', 40)]
    """
    found = _cuts(sheet, dict(prints))
    return tuple(
        Cut(
            number=number,
            direction=direction,
            part=part,
            at_mm=at_mm,
            set_mm=at_mm
            - (part.top_mm if direction is Direction.ACROSS else part.left_mm),
            first=tuple(sorted(first)),
            second=tuple(sorted(second)),
        )
        for number, (direction, part, at_mm, first, second) in enumerate(found, 1)
    )


_Found = tuple[Direction, Edges, float, "dict[str, Edges]", "dict[str, Edges]"]


def _cuts(part: Edges, prints: dict[str, Edges]) -> Iterator[_Found]:
    for direction in Direction:
        start, end = _ends(part, direction)
        first = min(_ends(it, direction)[0] for it in prints.values())
        last = max(_ends(it, direction)[1] for it in prints.values())
        if first - start > _TOUCH_MM:
            yield direction, part, first, {}, prints
            part = _halves(part, direction, first)[1]
        if end - last > _TOUCH_MM:
            yield direction, part, last, prints, {}
            part = _halves(part, direction, last)[0]
    if len(prints) == 1:
        return
    for direction in Direction:
        ordered = sorted(prints.items(), key=lambda it: _ends(it[1], direction))
        reach = _ends(ordered[0][1], direction)[1]
        for at, (_, edges) in enumerate(ordered):
            start, end = _ends(edges, direction)
            if at and start >= reach - _TOUCH_MM:
                first_part, second_part = dict(ordered[:at]), dict(ordered[at:])
                yield direction, part, reach, first_part, second_part
                halves = _halves(part, direction, reach)
                yield from _cuts(halves[0], first_part)
                yield from _cuts(halves[1], second_part)
                return
            reach = max(reach, end)
    names = ", ".join(sorted(prints))
    raise FitError(
        f"No straight cut parts these prints without going through one: {names}.",
        remedy="Nest them again for straight cuts, or cut them out one by one with a "
        "blade along a rule.",
    )


def _ends(edges: Edges, direction: Direction) -> tuple[float, float]:
    """Where something begins and ends along the way that a cut is set."""
    if direction is Direction.ACROSS:
        return edges.top_mm, edges.bottom_mm
    return edges.left_mm, edges.right_mm


def _halves(part: Edges, direction: Direction, at_mm: float) -> tuple[Edges, Edges]:
    left, top, right, bottom = (
        part.left_mm,
        part.top_mm,
        part.right_mm,
        part.bottom_mm,
    )
    if direction is Direction.ACROSS:
        return Edges(left, top, right, at_mm), Edges(left, at_mm, right, bottom)
    return Edges(left, top, at_mm, bottom), Edges(at_mm, top, right, bottom)
