"""How are several prints of one picture laid side by side with their numbers?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from operator import attrgetter, neg
from typing import TYPE_CHECKING, Literal

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
    from collections.abc import Callable, Sequence

    import numpy as np
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from printplan.colour.intents import Choice, Judgement, PaperJudgement
    from printplan.colour.losses import DistanceSummary


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
    distance : DistanceSummary
        Of its paper.
    judgement : Judgement
        Of its rendering intent.
    """

    picture_rgb: NDArray[np.uint8]
    heading: str
    mark: str
    distance: DistanceSummary
    judgement: Judgement

    @property
    def table_words(self) -> str:
        """Whether the profile has a table for the intent."""
        return "own" if self.judgement.has_own_table else "no own table"


def _rounded(decimals: int) -> Callable[[float], float]:
    return partial(round, ndigits=decimals)


@dataclass(frozen=True, slots=True)
class Row:
    """
    A row of the table below the prints.

    Attributes
    ----------
    label : str
        Quantity and unit.
    name : str
        Of what it shows of a column.
    form : str
        How that is shown.
    rank : callable or None
        Of a number as it is shown, least for the best: what looks equal is equal. None
        if none is better.
    """

    label: str
    name: str
    form: str
    rank: Callable[[float], float] | None

    def cells(self, columns: Sequence[Column]) -> list[tuple[str, bool]]:
        """What is shown of each column, and whether that is best: none of equals."""
        shown = [attrgetter(self.name)(column) for column in columns]
        words = [self.form.format(it) for it in shown]
        if self.rank is None:
            return [(word, False) for word in words]
        ranks = [self.rank(it) for it in shown]
        best = [rank == min(ranks) < max(ranks) for rank in ranks]
        return list(zip(words, best, strict=True))


_MEAN = Row("mean difference (dE00)", "judgement.mean_delta_e", "{:.1f}", _rounded(1))
_P95 = Row("95 of 100 within (dE00)", "judgement.p95_delta_e", "{:.1f}", _rounded(1))
_TONES = Row("tones merged", "judgement.tone_dead_share", "{:.1%}", _rounded(3))
_COLOURS = Row("colours merged", "judgement.chroma_dead_share", "{:.1%}", _rounded(3))
_STEPS = Row(f"shadow steps of {SHADOW_STEPS}", "judgement.shadow_steps", "{}", neg)
_HUE = Row("turn of hue (°)", "judgement.hue_shift_deg", "{:.1f}", _rounded(1))
# Neither less nor more contrast than the master's is better than the same.
_CONTRAST = Row(
    "contrast kept",
    "judgement.contrast_kept",
    "{:.0%}",
    lambda kept: round(abs(1 - kept), 2),
)
_TABLE = Row("table in profile", "table_words", "{}", None)
_OUT = Row(
    f"out of reach (> {OUT_OF_GAMUT:g} dE00)",
    "distance.share_out",
    "{:.1%}",
    _rounded(3),
)
_FAR_OUT = Row(
    f"far out (> {FAR_OUT:g} dE00)", "distance.share_far_out", "{:.1%}", _rounded(3)
)
_JUDGED = (_MEAN, _P95, _TONES, _COLOURS, _STEPS)
INTENT_ROWS = (*_JUDGED, _HUE, _CONTRAST, _TABLE)
PAPER_ROWS = (_OUT, _FAR_OUT, *_JUDGED, _CONTRAST)
"""What is judged of an intent, and of a paper with its recommended intent."""


def side_by_side(columns: Sequence[Column], rows: Sequence[Row], *foot: str) -> Figure:
    """
    Prints in a row, each above its numbers, and what follows from them.

    Parameters
    ----------
    columns : sequence of Column
        Their pictures have one shape.
    foot : str
        Sentences below, each beginning a line.
    """
    room = (WIDTH_CSS_PX - _LABELS_CSS_PX - 40) / len(columns) - 20
    width = min(room, _WIDEST_CSS_PX)
    down, across = columns[0].picture_rgb.shape[:2]
    height = min(width * down / across, _TALLEST_CSS_PX)
    headings = [
        [line for part in it.heading.splitlines() for line in wrapped(part, width)]
        for it in columns
    ]
    table = _ROW_CSS_PX * len(rows)
    head = _LINE_CSS_PX * (max(map(len, headings)) + 1) + 40
    figure = new_page(WIDTH_CSS_PX, head + height + table, "", *foot)
    ratios = [_LABELS_CSS_PX, *[width] * len(columns)]
    grid = figure.add_gridspec(
        2, len(ratios), width_ratios=ratios, height_ratios=[height, table]
    )
    labels = [(row.label, False) for row in rows]
    _write_cells(labels, figure.add_subplot(grid[1, 0]), align="left")
    cells = zip(*(row.cells(columns) for row in rows), strict=True)
    for place, (column, heading, below) in enumerate(
        zip(columns, headings, cells, strict=True), start=1
    ):
        draw_column(column, "\n".join(heading), figure.add_subplot(grid[0, place]))
        axes = figure.add_subplot(grid[1, place])
        if column.mark:
            axes.axhspan(0, len(rows), color=FIELD)
        _write_cells(below, axes, align="center")
    return figure


def draw_column(column: Column, heading: str, above: Axes) -> None:
    """Draw one print, its heading above it."""
    show_picture(column.picture_rgb, above)
    weight = "bold" if column.mark else "normal"
    look = {"loc": "center", "fontsize": BODY_PT, "fontweight": weight}
    title(above, heading, **look)
    if column.mark:
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


def _write_cells(
    cells: Sequence[tuple[str, bool]], axes: Axes, *, align: Literal["left", "center"]
) -> None:
    """Words under each other between thin lines, some of them bold."""
    clear_axes(axes)
    axes.set_xlim(0, 1)
    axes.set_ylim(len(cells), 0)
    for row, (words, bold) in enumerate(cells):
        axes.axhline(row, color=FAINT, linewidth=0.8, clip_on=False)
        axes.text(
            0.0 if align == "left" else 0.5,
            row + 0.5,
            words,
            color=INK,
            fontsize=BODY_PT,
            fontweight="bold" if bold else "normal",
            horizontalalignment=align,
            verticalalignment="center",
        )


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
    columns = [
        Column(
            picture_rgb=picture,
            heading=choice.words,
            mark="recommended" if choice == judgement.recommended.choice else "",
            distance=judgement.distance,
            judgement=by_choice[choice],
        )
        for choice, picture in proofs
    ]
    return side_by_side(
        columns,
        INTENT_ROWS,
        f"Overviews of the soft proof on {paper}. Bold: the best of its row.",
        judgement.reason,
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
    columns = [
        Column(
            picture_rgb=picture,
            heading=f"{name}\n{judgement.recommended.choice.words}",
            mark="" if number else "keeps most",
            distance=judgement.distance,
            judgement=judgement.recommended,
        )
        for number, ((name, judgement), (_, picture)) in enumerate(
            zip(compared, proofs, strict=True)
        )
    ]
    return side_by_side(
        columns,
        PAPER_ROWS,
        "Overviews of the soft proof, each paper with its own recommended intent.",
        "The paper that keeps most comes first. Bold: the best of its row.",
        *(f"{name} was not compared: {why}" for name, why in refusals),
    )
