"""How are several prints of one picture laid side by side with their numbers?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from matplotlib.patches import Rectangle

from printplan.workbook.drawings.ground import BODY_PT, FAINT, FIELD, INK
from printplan.workbook.drawings.page import (
    WIDTH_CSS_PX,
    clear_axes,
    line_height,
    new_figure,
    place_axes,
    wrapped,
    write,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

_EDGE, _GAP, _PAD = 20, 12, 8
_LABELS_WIDTH = 176
_TALLEST = 300
_WIDEST_COLUMN = 270
_ROW = 25


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """
    One of several prints.

    Attributes
    ----------
    picture_rgb : ndarray of uint8, shape (rows, columns, 3)
        sRGB.
    heading : str
    mark : str
        A word that singles it out; empty for the others.
    cells : tuple of str
        One for each row of the table.
    best : tuple of bool
        Whether the cell is the best of its row.
    """

    picture_rgb: NDArray[np.uint8]
    heading: str
    mark: str
    cells: tuple[str, ...]
    best: tuple[bool, ...]


@dataclass(frozen=True, slots=True)
class _Grid:
    """Where the parts lie, in the page's pixels."""

    column_width: float
    picture_height: float
    headings: tuple[tuple[str, ...], ...]
    foot: tuple[str, ...]
    rows: int

    @property
    def heading_height(self) -> float:
        lines = max(len(heading) for heading in self.headings)
        return lines * line_height() + line_height(BODY_PT) + 2 * _PAD

    @property
    def table_top(self) -> float:
        return _EDGE + self.heading_height + self.picture_height + _PAD

    @property
    def table_bottom(self) -> float:
        return self.table_top + self.rows * _ROW

    def baseline(self, row: int) -> float:
        return self.table_top + (row + 0.7) * _ROW

    @property
    def height(self) -> float:
        return self.table_bottom + _EDGE + len(self.foot) * line_height() + _EDGE


def side_by_side(
    columns: Sequence[Column], row_labels: Sequence[str], foot: Sequence[str]
) -> Figure:
    """
    Prints in a row, each above its numbers, and what follows from them.

    Parameters
    ----------
    columns : sequence of Column
        Their pictures have one shape.
    row_labels : sequence of str
        Quantity and unit of each row.
    foot : sequence of str
        Sentences below, each beginning a line.

    Returns
    -------
    Figure
    """
    grid = _grid(columns, len(row_labels), foot)
    width = _EDGE + _LABELS_WIDTH + len(columns) * (grid.column_width + _GAP) + _EDGE
    width = max(width, WIDTH_CSS_PX)
    figure = new_figure(width, grid.height)
    page = clear_axes(place_axes(figure, 0, 0, width, grid.height), width, grid.height)
    _draw_labels(row_labels, grid, width, page)
    for number, column in enumerate(columns):
        left = _EDGE + _LABELS_WIDTH + number * (grid.column_width + _GAP)
        draw_column(column, grid.headings[number], (left, grid), page)
    top = grid.table_bottom + _EDGE
    write(page, _EDGE, top, "\n".join(grid.foot))
    return figure


def draw_column(
    column: Column,
    heading: Sequence[str],
    place: tuple[float, _Grid],
    axes: Axes,
) -> Axes:
    """
    One print, its heading above and its numbers below.

    Parameters
    ----------
    column : Column
    heading : sequence of str
        Its heading in lines.
    place : tuple of float and grid
        Left edge, and where the parts lie.
    axes : Axes
        Measured in the page's pixels.

    Returns
    -------
    Axes
    """
    left, grid = place
    middle = left + grid.column_width / 2
    picture_top = _EDGE + grid.heading_height
    bottom = picture_top + grid.picture_height
    if column.mark:
        _draw_mark(column.mark, (left, grid), axes)
    text_top = picture_top - _PAD - len(heading) * line_height()
    write(
        axes,
        middle,
        text_top,
        "\n".join(heading),
        bold=bool(column.mark),
        align="center",
    )
    rows, columns = column.picture_rgb.shape[:2]
    width = min(grid.column_width, grid.picture_height * columns / rows)
    axes.imshow(
        column.picture_rgb,
        extent=(middle - width / 2, middle + width / 2, bottom, picture_top),
        aspect="auto",
        zorder=2,
    )
    for row, (cell, best) in enumerate(zip(column.cells, column.best, strict=True)):
        text = write(axes, middle, grid.baseline(row), cell, bold=best, align="center")
        text.set_verticalalignment("baseline")
    return axes


def _draw_mark(mark: str, place: tuple[float, _Grid], axes: Axes) -> None:
    """A frame round the whole column, with the word in its head."""
    left, grid = place
    top = _EDGE - 6
    axes.add_patch(
        Rectangle(
            (left - _GAP / 2, top),
            grid.column_width + _GAP,
            grid.table_bottom + 6 - top,
            facecolor="none",
            edgecolor=INK,
            linewidth=1.5,
            zorder=3,
        )
    )
    axes.add_patch(
        Rectangle(
            (left - _GAP / 2, top),
            grid.column_width + _GAP,
            line_height() + 6,
            facecolor=INK,
            edgecolor=INK,
            linewidth=1.5,
            zorder=3,
        )
    )
    middle = left + grid.column_width / 2
    write(
        axes, middle, top + 4, mark, bold=True, align="center", colour=FIELD
    ).set_zorder(4)


def _draw_labels(
    row_labels: Sequence[str], grid: _Grid, width: float, axes: Axes
) -> None:
    for row, label in enumerate(row_labels):
        top = grid.table_top + row * _ROW
        axes.plot([_EDGE, width - _EDGE], [top, top], color=FAINT, linewidth=0.8)
        text = write(axes, _EDGE, grid.baseline(row), label)
        text.set_verticalalignment("baseline")


def _grid(columns: Sequence[Column], rows: int, foot: Sequence[str]) -> _Grid:
    room = WIDTH_CSS_PX - 2 * _EDGE - _LABELS_WIDTH
    column_width = min(room / len(columns) - _GAP, _WIDEST_COLUMN)
    shape = columns[0].picture_rgb.shape
    return _Grid(
        column_width=column_width,
        picture_height=min(column_width * shape[0] / shape[1], _TALLEST),
        headings=tuple(
            tuple(
                line
                for part in column.heading.splitlines()
                for line in wrapped(part, column_width)
            )
            for column in columns
        ),
        foot=tuple(
            line
            for sentence in foot
            for line in wrapped(sentence, WIDTH_CSS_PX - 2 * _EDGE)
        ),
        rows=rows,
    )


def best_of(values: Sequence[float], *, most: bool, decimals: int) -> tuple[bool, ...]:
    """
    Which of several numbers are the best as they are shown.

    Parameters
    ----------
    values : sequence of float
    most : bool
        Whether the largest is the best.
    decimals : int
        That are shown: what looks equal is equal.

    Returns
    -------
    tuple of bool
        None is the best where all are equal.
    """
    shown = [round(value, decimals) for value in values]
    best = max(shown) if most else min(shown)
    if min(shown) == max(shown):
        return (False,) * len(shown)
    return tuple(value == best for value in shown)
