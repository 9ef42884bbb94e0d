"""How are a mat's openings cut: where do they lie, and what is set at the cutter?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from printplan.errors import FitError
from printplan.sizing.boxes import Edges
from printplan.sizing.mats import MatBoard, outer_round, sides_between, size_mm
from printplan.spec import NARROWEST_BOARD_MM, SHORTEST_MM, MatMargins
from printplan.units import (
    LengthUnit,
    at_least_words,
    length_words,
    on_ruler_mm,
    ruler_words,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence


CUTTING_CAUTIONS = (
    (
        "Blades: cut along a steel rule with a guard, away from yourself, the other "
        "hand behind the blade."
    ),
    (
        "Mats: put in a new blade, for a dull one slips and tears; use a mat cutter as "
        "its maker's instructions say, and try its stops on an offcut."
    ),
    "Glass: its edges cut; wear gloves, and carry it upright.",
    "The rules of your place come before this list.",
)
"""Usual cautions: common practice, no source."""

TOLD_ERROR_MM = 0.2
"""A mark that lies farther than this from what was reckoned is told. Our choice."""

_HAIR_MM = 1e-6


@dataclass(frozen=True, slots=True)
class CutterLine:
    """
    One line of a cutter's list.

    Attributes
    ----------
    what, value : str
    """

    what: str
    value: str

    def __str__(self) -> str:
        return f"{self.what}: {self.value}"


@dataclass(frozen=True, slots=True, kw_only=True)
class CuttersList:
    """
    What a framer reads.

    Attributes
    ----------
    lines : tuple of CutterLine
    notes : tuple of str
        Sentences below them.
    """

    lines: tuple[CutterLine, ...]
    notes: tuple[str, ...]


def cutters_list(
    board: MatBoard, unit: LengthUnit = LengthUnit.MM, *, denominator: int = 16
) -> CuttersList:
    r"""
    A mat's lengths by ruler, for the one who cuts it.

    Parameters
    ----------
    unit : LengthUnit, optional
        To half a millimetre, or to the mark of a ruler in inches.
    denominator : int, optional
        Marks of that ruler in an inch, 16 or 32.

    Returns
    -------
    CuttersList
        Edges are rounded, each once, and lengths are what lies between them: on every
        line, margins and openings together are the mat.

    Examples
    --------
    >>> board = MatBoard(width_mm=400, height_mm=300,
    ...                  openings=(Edges(53, 53, 347, 247),))
    >>> print(*cutters_list(board).lines, sep="\n")
    Mat, outside: 400 × 300 mm
    Opening: 294 × 194 mm, 53 mm from the left, 53 mm from the top
    Borders: left 53, top 53, right 53, foot 53 mm
    """
    ruled = on_ruler(board, unit, denominator)

    def told(*lengths_mm: float) -> str:
        words = [ruler_words(it, unit, denominator) for it in lengths_mm]
        return " × ".join(
            [it.removesuffix(f" {unit}") for it in words[:-1]] + words[-1:]
        )

    def each(sides: tuple[float, float, float, float]) -> str:
        names = ("left", "top", "right", "foot")
        words = [
            f"{name} {ruler_words(it, unit, denominator).removesuffix(f' {unit}')}"
            for name, it in zip(names, sides, strict=True)
        ]
        return f"{', '.join(words)} {unit}"

    lines = [CutterLine("Mat, outside", told(ruled.width_mm, ruled.height_mm))]
    whole = Edges(0.0, 0.0, ruled.width_mm, ruled.height_mm)
    several = len(ruled.openings) > 1
    for number, opening in enumerate(ruled.openings, 1):
        name = f"Opening {number}" if several else "Opening"
        of = f" {number}" if several else ""
        sides = sides_between(whole, opening)
        lines += [
            CutterLine(
                name,
                f"{told(*size_mm(opening))}, {told(sides.left_mm)} from the left, "
                f"{told(sides.top_mm)} from the top",
            ),
            CutterLine(f"Borders{of}", each(sides.all_mm)),
        ]
    notes = [
        (
            "A bevel cutter's guide is set to the border that is cut along, its stops "
            "to the two borders at its ends."
        ),
        (
            "Seen from the front. A mat is marked and cut from its back, where left "
            "and right change places."
        ),
    ]
    error_mm = _farthest_mm(board, ruled)
    if error_mm > TOLD_ERROR_MM:
        step = f"1/{denominator} in" if unit is LengthUnit.INCHES else "half a mm"
        notes.insert(0, f"Rounded to {step}: up to {error_mm:.1f} mm off.")
    return CuttersList(lines=tuple(lines), notes=tuple(notes))


def on_ruler(board: MatBoard, unit: LengthUnit, denominator: int = 16) -> MatBoard:
    """
    The same mat with each edge on a mark of a ruler.

    Parameters
    ----------
    denominator : int, optional
        Marks of a ruler in an inch.
    """

    def ruled(length_mm: float) -> float:
        return on_ruler_mm(length_mm, unit, denominator)

    return MatBoard(
        width_mm=ruled(board.width_mm),
        height_mm=ruled(board.height_mm),
        openings=tuple(
            Edges(
                ruled(it.left_mm),
                ruled(it.top_mm),
                ruled(it.right_mm),
                ruled(it.bottom_mm),
            )
            for it in board.openings
        ),
    )


def _farthest_mm(board: MatBoard, ruled: MatBoard) -> float:
    """How far the edge that was moved most has been moved."""
    return max(abs(a - b) for a, b in zip(_edges(board), _edges(ruled), strict=True))


def _edges(board: MatBoard) -> Iterator[float]:
    yield from (board.width_mm, board.height_mm)
    for it in board.openings:
        yield from (it.left_mm, it.top_mm, it.right_mm, it.bottom_mm)


def windows_in_mat(  # noqa: PLR0913 - what a framer asks
    rows_mm: Sequence[Sequence[tuple[float, float]]],
    outer_mm: tuple[float, float] | None = None,
    *,
    bar_mm: float,
    margin_mm: float | None = None,
    margins: MatMargins = MatMargins.EQUAL,
    foot_mm: float = 0.0,
    unit: LengthUnit = LengthUnit.MM,
) -> MatBoard:
    """
    Several openings in one mat, with bars of one width between them.

    Parameters
    ----------
    rows_mm : sequence of sequences of (float, float)
        Width and height of each opening, row by row from the top: one row, one column
        of rows that hold one opening each, or a grid.
    outer_mm : tuple of float, optional
        The mat itself; or give the margin.
    bar_mm : float
        Board between two openings, and between two rows at their nearest.
    margin_mm : float, optional
        Board to the left, to the right and above.
    margins : MatMargins, optional
        How the board above and below is shared out.
    foot_mm : float, optional
        With `BOTTOM_WEIGHTED`, by how much the foot is wider than the top.
    unit : LengthUnit, optional
        That a refusal speaks in.

    Returns
    -------
    MatBoard
        Rows are centred across; in a row, openings are centred on one line.

    Raises
    ------
    FitError
        If a bar, a margin or an opening is too small to be cut.

    Examples
    --------
    Three upright openings in a row, 25 mm apart, in a mat of 500 × 300 mm: common
    practice is a bar narrower than the margins.

    >>> board = windows_in_mat([[(100, 150)] * 3], (500, 300), bar_mm=25)
    >>> [opening.left_mm for opening in board.openings], board.margins.top_mm
    ([75.0, 200.0, 325.0], 75.0)
    """
    every = [size for row in rows_mm for size in row]
    if not every or not all(rows_mm):
        raise FitError(
            "A row of the mat has no opening.",
            remedy="Give the width and height of at least one opening in each row.",
        )
    smallest = min(min(size) for size in every)
    for what, value, least in (
        ("opening", smallest, SHORTEST_MM),
        ("bar", bar_mm, NARROWEST_BOARD_MM),
    ):
        if value < least:
            raise FitError(
                f"The mat's narrowest {what} is {length_words(unit, value)}.",
                remedy=f"Choose {at_least_words(unit, least)} or more.",
            )
    widths = [sum(size[0] for size in row) + bar_mm * (len(row) - 1) for row in rows_mm]
    heights = [max(size[1] for size in row) for row in rows_mm]
    all_mm = max(widths), sum(heights) + bar_mm * (len(heights) - 1)
    outer = outer_round(Edges(0.0, 0.0, *all_mm), outer_mm, margin_mm, margins, foot_mm)
    if outer is None or (outer_mm is not None and margin_mm is not None):
        raise FitError(
            "A mat needs its own size or its margin, and not both.",
            remedy="Give one of the two; the other follows.",
        )
    around = sides_between(outer, Edges(0.0, 0.0, *all_mm))
    if around.least_mm < NARROWEST_BOARD_MM - _HAIR_MM:
        raise FitError(
            f"Openings and bars are {length_words(unit, *all_mm)}, in a mat of "
            f"{length_words(unit, *size_mm(outer))}.",
            remedy=f"Leave {at_least_words(unit, NARROWEST_BOARD_MM)} or more of board "
            "on each side: choose a larger mat, or smaller openings.",
        )
    return MatBoard(
        width_mm=size_mm(outer)[0],
        height_mm=size_mm(outer)[1],
        openings=tuple(
            _placed(rows_mm, bar_mm, around.left_mm + all_mm[0] / 2, around.top_mm)
        ),
    )


def _placed(
    rows_mm: Sequence[Sequence[tuple[float, float]]],
    bar_mm: float,
    middle_mm: float,
    top_mm: float,
) -> Iterator[Edges]:
    """Each opening, in rows about an upright line."""
    for row in rows_mm:
        width = sum(across for across, _ in row) + bar_mm * (len(row) - 1)
        height = max(down for _, down in row)
        left_mm = middle_mm - width / 2
        for across, down in row:
            above_mm = top_mm + (height - down) / 2
            yield Edges(left_mm, above_mm, left_mm + across, above_mm + down)
            left_mm += across + bar_mm
        top_mm += height + bar_mm
