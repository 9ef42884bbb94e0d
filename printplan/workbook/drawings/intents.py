"""Which rendering intent keeps more of this picture, seen side by side?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.colour.intents import SHADOW_STEPS
from printplan.workbook.drawings.side_by_side import Column, best_of, side_by_side

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from printplan.colour.intents import Choice, Judgement, PaperJudgement

RECOMMENDED = "recommended"
"""The word over the choice that the numbers speak for."""

ROW_LABELS = (
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

    Parameters
    ----------
    judgement : Judgement

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

    Parameters
    ----------
    judgements : sequence of Judgement

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
    return side_by_side(columns, ROW_LABELS, foot)
