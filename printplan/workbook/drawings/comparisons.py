"""How are several prints of one picture laid side by side with their numbers?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from matplotlib.patches import Rectangle

from printplan.colour.intents import SHADOW_STEPS
from printplan.colour.losses import FAR_OUT, OUT_OF_GAMUT
from printplan.errors import SpecError
from printplan.workbook.drawings.page import (
    BODY_PT,
    FAINT,
    FIELD,
    INK,
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

    from printplan.colour.intents import Choice, Judgement, PaperJudgement


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
    heading : sequence of str
        Its heading in lines.
    place : tuple of float and grid
        Left edge, and where the parts lie.
    axes : Axes
        Measured in the page's pixels.
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


RECOMMENDED = "recommended"
"""The word over the choice that the numbers speak for."""

INTENT_ROW_LABELS = (
    "mean difference (dE00)",
    "95 of 100 within (dE00)",
    "tones merged",
    "colours merged",
    f"shadow steps of {SHADOW_STEPS}",
    "turn of hue (°)",
    "contrast kept",
    "table in profile",
)
"""Quantity and unit of what is judged of an intent."""

NO_OWN_TABLE = "no own table"

_BOLD = "Bold: the best of its row."


def judgement_cells(judgement: Judgement) -> tuple[str, ...]:
    """
    A judgement as it stands in the table.

    Returns
    -------
    tuple of str
        One for each of `ROW_LABELS`.
    """
    return (
        f"{judgement.mean_delta_e:.1f}",
        f"{judgement.p95_delta_e:.1f}",
        f"{judgement.tone_dead_share:.1%}",
        f"{judgement.chroma_dead_share:.1%}",
        f"{judgement.shadow_steps}",
        f"{judgement.hue_shift_deg:.1f}",
        f"{judgement.contrast_kept:.0%}",
        "own" if judgement.has_own_table else NO_OWN_TABLE,
    )


def judgement_bests(judgements: Sequence[Judgement]) -> list[tuple[bool, ...]]:
    """
    Which cells of several judgements are the best of their rows.

    Returns
    -------
    list of tuple of bool
        One tuple for each judgement, one flag for each of `ROW_LABELS`.
    """
    rows = [
        best_of([each.mean_delta_e for each in judgements], most=False, decimals=1),
        best_of([each.p95_delta_e for each in judgements], most=False, decimals=1),
        best_of([each.tone_dead_share for each in judgements], most=False, decimals=3),
        best_of(
            [each.chroma_dead_share for each in judgements], most=False, decimals=3
        ),
        best_of([each.shadow_steps for each in judgements], most=True, decimals=0),
        best_of([each.hue_shift_deg for each in judgements], most=False, decimals=1),
        # Neither less nor more contrast than the master's is better than the same.
        best_of(
            [abs(1 - each.contrast_kept) for each in judgements],
            most=False,
            decimals=2,
        ),
        (False,) * len(judgements),
    ]
    return list(zip(*rows, strict=True))


def intents_figure(
    proofs: Sequence[tuple[Choice, NDArray[np.uint8]]],
    judgement: PaperJudgement,
    *,
    paper: str,
) -> Figure:
    """
    Small proofs of each rendering intent above their numbers.

    Parameters
    ----------
    proofs : sequence of (Choice, ndarray of uint8 of shape (rows, columns, 3))
        sRGB of one shape, as `pixels.comparisons.intent_proofs` gives them.
    judgement : PaperJudgement
        Holds a judgement of each of these choices.
    paper : str
        The paper's name.

    Returns
    -------
    Figure
        One column has the word *recommended* over it.
    """
    by_choice = {each.choice: each for each in judgement.judgements}
    judged = [by_choice[choice] for choice, _ in proofs]
    bests = judgement_bests(judged)
    columns = [
        Column(
            picture_rgb=picture,
            heading=choice.words,
            mark=RECOMMENDED if choice == judgement.recommended.choice else "",
            cells=judgement_cells(each),
            best=best,
        )
        for (choice, picture), each, best in zip(proofs, judged, bests, strict=True)
    ]
    foot = [f"Overviews of the soft proof on {paper}. {_BOLD}", judgement.reason]
    return side_by_side(columns, INTENT_ROW_LABELS, foot)


KEEPS_MOST = "keeps most"
"""The word over the paper whose recommended intent costs least."""

PAPER_ROW_LABELS = (
    f"out of reach (> {OUT_OF_GAMUT:g} dE00)",
    f"far out (> {FAR_OUT:g} dE00)",
    "mean difference (dE00)",
    "95 of 100 within (dE00)",
    "tones merged",
    "colours merged",
    f"shadow steps of {SHADOW_STEPS}",
    "contrast kept",
)
"""Quantity and unit of what is judged of a paper."""


def paper_cells(judgement: PaperJudgement) -> tuple[str, ...]:
    """
    A paper's judgement as it stands in the table.

    Returns
    -------
    tuple of str
        One for each of `ROW_LABELS`; all but the first two of the recommended
        intent.
    """
    best = judgement.recommended
    return (
        f"{judgement.distance.share_out:.1%}",
        f"{judgement.distance.share_far_out:.1%}",
        f"{best.mean_delta_e:.1f}",
        f"{best.p95_delta_e:.1f}",
        f"{best.tone_dead_share:.1%}",
        f"{best.chroma_dead_share:.1%}",
        f"{best.shadow_steps}",
        f"{best.contrast_kept:.0%}",
    )


def papers_figure(
    compared: Sequence[tuple[str, PaperJudgement]],
    proofs: Sequence[tuple[str, NDArray[np.uint8]]],
    refusals: Sequence[tuple[str, str]] = (),
) -> Figure:
    """
    Small proofs on each paper above their numbers.

    Parameters
    ----------
    compared : sequence of (str, PaperJudgement)
        The papers' names and judgements, the best first.
    proofs : sequence of (str, ndarray of uint8 of shape (rows, columns, 3))
        The same papers in the same order, as `pixels.comparisons.paper_proofs` gives
        them; sRGB of one shape.
    refusals : sequence of (str, str), optional
        Papers that cannot take the print, and why.

    Raises
    ------
    SpecError
        If no paper can take the print.
    """
    if not compared:
        raise SpecError(
            f"None of {len(refusals)} papers can take this print.",
            remedy=refusals[0][1] if refusals else "Add papers to the paper book.",
        )
    bests = _bests([judgement for _, judgement in compared])
    columns = [
        Column(
            picture_rgb=picture,
            heading=f"{name}\n{judgement.recommended.choice.words}",
            mark=KEEPS_MOST if number == 0 else "",
            cells=paper_cells(judgement),
            best=bests[number],
        )
        for number, ((name, judgement), (_, picture)) in enumerate(
            zip(compared, proofs, strict=True)
        )
    ]
    foot = [
        "Overviews of the soft proof, each paper with its own recommended intent.",
        "The paper that keeps most comes first. Bold: the best of its row.",
    ]
    foot += [f"{name} was not compared: {why}" for name, why in refusals]
    return side_by_side(columns, PAPER_ROW_LABELS, foot)


def _bests(judgements: Sequence[PaperJudgement]) -> list[tuple[bool, ...]]:
    reaches = [judgement.distance for judgement in judgements]
    chosen = [judgement.recommended for judgement in judgements]
    rows = [
        best_of([each.share_out for each in reaches], most=False, decimals=3),
        best_of([each.share_far_out for each in reaches], most=False, decimals=3),
        best_of([each.mean_delta_e for each in chosen], most=False, decimals=1),
        best_of([each.p95_delta_e for each in chosen], most=False, decimals=1),
        best_of([each.tone_dead_share for each in chosen], most=False, decimals=3),
        best_of([each.chroma_dead_share for each in chosen], most=False, decimals=3),
        best_of([each.shadow_steps for each in chosen], most=True, decimals=0),
        best_of(
            [abs(1 - each.contrast_kept) for each in chosen], most=False, decimals=2
        ),
    ]
    return list(zip(*rows, strict=True))
