"""Which sharpening does each restore ask for, on one trial sheet?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.pixels.sharpening import chosen_sharpening
from printplan.pixels.trials.steps import restore_steps
from printplan.sharpness.choice import SharpenLimits

if TYPE_CHECKING:
    from collections.abc import Sequence

    from printplan.pixels.sheet import Sheet
    from printplan.pixels.trials.steps import TrialStep
    from printplan.sharpness.content import ContentFacts

_DEFAULT_LIMITS = SharpenLimits()


def restore_ladder(
    sheet: Sheet,
    content: ContentFacts,
    restores: Sequence[float],
    *,
    distance_mm: float,
    limits: SharpenLimits = _DEFAULT_LIMITS,
) -> list[TrialStep]:
    """
    Steps of restore, each with the sharpening chosen for it.

    Parameters
    ----------
    sheet : Sheet
        The print to try.
    content : ContentFacts
        Of `picture_content` for that sheet.
    restores : sequence of float
        Shares of the loss to put back, 0 to 1.5.
    distance_mm : float
        Eye to paper, 50 to 50,000.
    limits : SharpenLimits, optional

    Returns
    -------
    list of TrialStep
        For `make_trial`, in the order of `restores`.

    Raises
    ------
    SpecError
        If a number is outside its range.
    """
    choices = [
        (
            f"restore {restore:.3g}",
            chosen_sharpening(
                sheet.plan,
                content,
                distance_mm=distance_mm,
                restore=restore,
                limits=limits,
            ).spec,
        )
        for restore in restores
    ]
    return restore_steps(sheet, choices)
