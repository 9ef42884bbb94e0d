"""Which sharpening does each restore ask for, on one trial sheet?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.errors import SpecError
from printplan.pixels.sharpening import chosen_sharpening
from printplan.pixels.trials.steps import restore_steps
from printplan.sharpness.choice import SharpenLimits

if TYPE_CHECKING:
    from collections.abc import Sequence

    from printplan.pixels.sharpening import SharpenAdvice
    from printplan.pixels.sheet import Sheet
    from printplan.pixels.trials.steps import TrialStep
    from printplan.sharpness.content import ContentFacts

LEAST_ACUTANCE_STEP = 0.01
"""Difference in acutance below which two patches count as alike: our choice, half of
what a print must gain for its sharpening to be worth a word."""

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
        If a number is outside its range, or two steps would look alike.

    Notes
    -----
    Where a limit stops the gain, more restore changes nothing, and a pick among
    patches that are alike says nothing of what is wanted. Such steps are refused, with
    those that do differ as remedy.
    """
    advised = {
        restore: chosen_sharpening(
            sheet.plan,
            content,
            distance_mm=distance_mm,
            restore=restore,
            limits=limits,
        )
        for restore in restores
    }
    _require_different(advised)
    return restore_steps(
        sheet,
        [(f"restore {restore:.3g}", advised[restore].spec) for restore in restores],
    )


def _require_different(advised: dict[float, SharpenAdvice]) -> None:
    """Refuse steps whose acutance in the print hardly differs from the one before."""
    kept: list[float] = []
    alike: list[float] = []
    for restore in sorted(advised):
        acutance = advised[restore].choice.acutance_after
        last = advised[kept[-1]].choice.acutance_after if kept else -1.0
        (kept if acutance - last >= LEAST_ACUTANCE_STEP else alike).append(restore)
    if not alike:
        return
    first = alike[0]
    below = max(restore for restore in kept if restore < first)
    choice = advised[first].choice
    remedy = (
        f"Try {', '.join(f'{restore:g}' for restore in kept)} alone, or relax what "
        "stopped it."
        if len(kept) > 1
        else "From this distance no restore makes a difference: try the patches from "
        "nearer, or under another limit."
    )
    raise SpecError(
        f"The steps restore {below:g} and {first:g} would look alike: acutance "
        f"{advised[below].choice.acutance_after:.3f} and {choice.acutance_after:.3f}; "
        f"{LEAST_ACUTANCE_STEP:g} apart is the limit. {choice.why}",
        remedy=remedy,
    )
