"""How are several prints of one picture laid side by side with their numbers?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

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
    new_page,
    show_picture,
    title,
    wrapped,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from printplan.colour.intents import Choice, Judgement, PaperJudgement


_LABELS_CSS_PX, _WIDEST_CSS_PX, _TALLEST_CSS_PX = 176, 270, 300
_ROW_CSS_PX, _LINE_CSS_PX = 25, 19


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


def side_by_side(
    columns: Sequence[Column], row_labels: Sequence[str], *foot: str
) -> Figure:
    """
    Prints in a row, each above its numbers, and what follows from them.

    Parameters
    ----------
    columns : sequence of Column
        Their pictures have one shape.
    row_labels : sequence of str
        Quantity and unit of each row.
    foot : str
        Sentences below, each beginning a line.
    """
    room = (WIDTH_CSS_PX - _LABELS_CSS_PX - 40) / len(columns) - 20
    width = min(room, _WIDEST_CSS_PX)
    rows, across = columns[0].picture_rgb.shape[:2]
    height = min(width * rows / across, _TALLEST_CSS_PX)
    headings = [
        [line for part in it.heading.splitlines() for line in wrapped(part, width)]
        for it in columns
    ]
    table = _ROW_CSS_PX * len(row_labels)
    head = _LINE_CSS_PX * (max(map(len, headings)) + 1) + 40
    figure = new_page(WIDTH_CSS_PX, head + height + table, "", *foot)
    ratios = [_LABELS_CSS_PX, *[width] * len(columns)]
    grid = figure.add_gridspec(
        2, len(ratios), width_ratios=ratios, height_ratios=[height, table]
    )
    _write_cells(row_labels, figure.add_subplot(grid[1, 0]))
    for place, (column, heading) in enumerate(
        zip(columns, headings, strict=True), start=1
    ):
        draw_column(
            column,
            "\n".join(heading),
            figure.add_subplot(grid[0, place]),
            figure.add_subplot(grid[1, place]),
        )
    return figure


def draw_column(column: Column, heading: str, above: Axes, below: Axes) -> None:
    """
    One print, its heading above and its numbers below.

    Parameters
    ----------
    above, below : Axes
        For the picture, and for the numbers.
    """
    show_picture(column.picture_rgb, above)
    weight = "bold" if column.mark else "normal"
    look = {"loc": "center", "fontsize": BODY_PT, "fontweight": weight}
    title(above, heading, **look)
    if column.mark:
        below.axhspan(0, len(column.cells), color=FIELD)
        above.annotate(
            column.mark,
            (0.5, 1.0),
            (0, 14 + 1.2 * BODY_PT * len(heading.splitlines())),
            xycoords="axes fraction",
            textcoords="offset points",
            horizontalalignment="center",
            color=FIELD,
            fontsize=BODY_PT,
            fontweight="bold",
            bbox={"facecolor": INK, "edgecolor": INK, "pad": 3},
        )
    _write_cells(column.cells, below, column.best)


def _write_cells(
    cells: Sequence[str], axes: Axes, best: Sequence[bool] | None = None
) -> None:
    """Words under each other between thin lines; numbers have the best in bold."""
    clear_axes(axes)
    axes.set_xlim(0, 1)
    axes.set_ylim(len(cells), 0)
    for row, cell in enumerate(cells):
        # Longer than its column, so that the lines of all columns meet.
        line = axes.axhline(row, -0.1, 1.1, color=FAINT, linewidth=0.8, clip_on=False)
        line.set_in_layout(False)
        axes.text(
            0.5 if best else 0,
            row + 0.5,
            cell,
            color=INK,
            fontsize=BODY_PT,
            fontweight="bold" if best and best[row] else "normal",
            horizontalalignment="center" if best else "left",
            verticalalignment="center",
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
    return side_by_side(columns, INTENT_ROW_LABELS, *foot)


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
    return side_by_side(columns, PAPER_ROW_LABELS, *foot)


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
