"""Which paper keeps more of this picture, seen side by side?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.colour.intents import SHADOW_STEPS
from printplan.colour.reach import FAR_OUT, OUT_OF_REACH
from printplan.errors import SpecError
from printplan.workbook.drawings.side_by_side import Column, best_of, side_by_side

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from printplan.colour.intents import PaperJudgement

KEEPS_MOST = "keeps most"
"""The word over the paper whose recommended intent costs least."""

ROW_LABELS = (
    f"out of reach (> {OUT_OF_REACH:g} dE00)",
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

    Parameters
    ----------
    judgement : PaperJudgement

    Returns
    -------
    tuple of str
        One for each of `ROW_LABELS`; all but the first two of the recommended
        intent.
    """
    best = judgement.recommended
    return (
        f"{judgement.reach.share_out:.1%}",
        f"{judgement.reach.share_far_out:.1%}",
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
        The papers' names and judgements, the best first, as
        `colour.intents.compare_papers` sorts them.
    proofs : sequence of (str, ndarray of uint8 of shape (rows, columns, 3))
        The same papers in the same order, as `pixels.comparisons.paper_proofs` gives
        them; sRGB of one shape.
    refusals : sequence of (str, str), optional
        Papers that cannot take the print, and why.

    Returns
    -------
    Figure

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
    return side_by_side(columns, ROW_LABELS, foot)


def _bests(judgements: Sequence[PaperJudgement]) -> list[tuple[bool, ...]]:
    reaches = [judgement.reach for judgement in judgements]
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
