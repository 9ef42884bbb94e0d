"""How much of the lost sharpness does this photographer want put back?"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from printplan.errors import SpecError
from printplan.sharpness.agreement import agreed
from printplan.sharpness.choose import MOST_RESTORE

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, slots=True, kw_only=True)
class RestoreTrial:
    """
    One trial sheet, and the patch picked from it.

    Attributes
    ----------
    offered : tuple of float
        Restore of each patch, 0 to 1.5, in any order, two or more different ones.
    picked : float
        The one that looked best, out of those offered.
    """

    offered: tuple[float, ...]
    picked: float

    def __post_init__(self) -> None:
        if not all(0 <= value <= MOST_RESTORE for value in self.offered):
            raise SpecError(
                f"The trial offers a restore from {min(self.offered):g} to "
                f"{max(self.offered):g}.",
                remedy=f"Offer values from 0 to {MOST_RESTORE:g}.",
            )
        if len(set(self.offered)) < 2:
            raise SpecError(
                f"The trial offers {len(set(self.offered))} different patches.",
                remedy="Offer two or more, such as 0.5, 0.75, 1 and 1.25.",
            )
        if self.picked not in self.offered:
            offered = ", ".join(f"{value:g}" for value in sorted(set(self.offered)))
            raise SpecError(
                f"The picked restore {self.picked:g} was not offered.",
                remedy=f"Pick one of {offered}.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Preference:
    """
    What several trials say about the restore wanted.

    Attributes
    ----------
    value : float
        Restore that is probably wanted.
    spread : float
        Its standard error.
    count : int
        Trials it was taken from.
    """

    value: float
    spread: float
    count: int


def preferred_restore(trials: Sequence[RestoreTrial]) -> Preference:
    """
    The restore that picked patches agree on.

    Parameters
    ----------
    trials : sequence of RestoreTrial
        One or more, in any order.

    Returns
    -------
    Preference

    Raises
    ------
    SpecError
        If there is no trial.

    Notes
    -----
    A pick says that the wish lies nearer to this patch than to its neighbours, so it
    counts as a reading with the error of an even chance over that stretch, its width
    over √12. Readings are joined by Huber's estimate, so that one pick in bad light
    does not carry the rest away.

    How far single picks lie apart is not known from one trial. The first guess is that
    of a blind pick, the offered range over √12, and it counts as one trial's worth of
    knowledge beside the scatter found: one trial leaves a wide spread, and it closes
    in with the number of trials and with how well they agree.

    Examples
    --------
    >>> offered = (0.5, 0.75, 1.0, 1.25)
    >>> once = preferred_restore([RestoreTrial(offered=offered, picked=0.75)])
    >>> once.value, round(once.spread, 2)
    (0.75, 0.22)
    >>> often = preferred_restore([RestoreTrial(offered=offered, picked=0.75)] * 4)
    >>> often.value, round(often.spread, 2)
    (0.75, 0.05)
    """
    if not trials:
        raise SpecError(
            "There is no trial to learn a preference from.",
            remedy="Print one trial sheet and pick its best patch.",
        )
    count = len(trials)
    picks = np.array([trial.picked for trial in trials])
    errors = np.array([_stretch(trial) for trial in trials]) / sqrt(12)
    blind = np.array([max(t.offered) - min(t.offered) for t in trials]) / sqrt(12)
    whole = agreed(picks, errors)
    guessed, found = float(np.mean(blind**2)), whole.scatter**2
    single = sqrt((guessed + (count - 1) * found) / count)
    return Preference(
        value=whole.value,
        spread=max(single / sqrt(count), whole.error),
        count=count,
    )


def _stretch(trial: RestoreTrial) -> float:
    """Width of the values that lie nearer to the pick than to its neighbours."""
    values = sorted(set(trial.offered))
    place = values.index(trial.picked)
    # Beyond the outermost patch the stretch is taken to be as wide as within.
    below = values[max(place - 1, 0) : place + 1]
    above = values[place : place + 2]
    halves = [(part[-1] - part[0]) / 2 for part in (below, above) if len(part) == 2]
    return 2 * sum(halves) / len(halves)
