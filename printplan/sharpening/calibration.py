"""What do a paper's own prints say of its spread, and of the restore wanted?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import sqrt
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import scipy

from printplan.errors import SpecError
from printplan.sharpening.choice import MOST_RESTORE
from printplan.sharpening.response import SpreadCurve

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from printplan.measurements import RestorePick, SpreadReading
    from printplan.media import Paper, PaperOnPrinter

    Floats = NDArray[np.float64]


_HUBER_SIGMAS = 1.345
"""Huber (1964), doi:10.1214/aoms/1177703732: a reading this many standard deviations
off starts to count less. At 1.345 the estimate keeps 95 % of the mean's efficiency
where all is normal (textbook value, from memory)."""

# The median of absolute deviations of a normal law, to its standard deviation.
_NORMAL_MAD = 1.4826


class RobustMean(NamedTuple):
    """
    One number out of several readings.

    Attributes
    ----------
    scatter : float
        Standard deviation of one reading among the others, blind to outliers; 0 if
        there is one reading only.
    error : float
        Standard error of the value.
    """

    value: float
    scatter: float
    error: float


def huber_mean(readings: Floats, errors: Floats) -> RobustMean:
    """
    Huber's estimate of what readings of one number agree on.

    Parameters
    ----------
    readings : ndarray of float64, shape (count,)
        One or more.
    errors : ndarray of float64, shape (count,)
        Their own standard errors, above 0.

    Raises
    ------
    SpecError
        If there is no reading, or one or its error is no number or not above 0.

    Notes
    -----
    Readings that scatter more than their errors say have something more between
    them; its variance is added to all of theirs. The error of the value is the
    larger of what errors and scatter make of it.

    Examples
    --------
    >>> readings = np.array([0.9, 1.0, 1.1, 7.0])
    >>> round(huber_mean(readings, np.full(4, 0.1)).value, 2)
    1.07
    """
    if not (
        0 < readings.size == errors.size
        and np.isfinite(readings).all()
        and np.isfinite(errors).all()
        and (errors > 0).all()
    ):
        raise SpecError(
            f"{readings.size} readings and {errors.size} errors are to agree; some may "
            "be no numbers, or their errors not above 0.",
            remedy="Give one reading or more, each with its own error above 0.",
        )
    centre = float(np.median(readings))
    scatter = _NORMAL_MAD * float(np.median(np.abs(readings - centre)))
    between = max(scatter**2 - float(np.median(errors**2)), 0.0)
    weights = 1 / (errors**2 + between)
    for _ in range(50):
        off = np.abs(readings - centre) * np.sqrt(weights)
        kept = weights * np.minimum(1, _HUBER_SIGMAS / np.maximum(off, 1e-12))
        moved = centre + float(np.sum(kept * (readings - centre)) / np.sum(kept))
        done = abs(moved - centre) <= 1e-9 * max(abs(centre), 1e-12)
        centre = moved
        if done:
            break
    by_errors = float(1 / np.sqrt(np.sum(1 / errors**2)))
    by_scatter = scatter / np.sqrt(readings.size)
    return RobustMean(centre, scatter, max(by_errors, float(by_scatter)))


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


def preferred_restore(trials: Sequence[RestoreTrial | RestorePick]) -> Preference:
    """
    The restore that picked patches agree on.

    Parameters
    ----------
    trials : sequence of RestoreTrial or RestorePick
        One or more, in any order.

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
    whole = huber_mean(picks, errors)
    guessed, found = float(np.mean(blind**2)), whole.scatter**2
    single = sqrt((guessed + (count - 1) * found) / count)
    return Preference(
        value=whole.value,
        spread=max(single / sqrt(count), whole.error),
        count=count,
    )


def _stretch(trial: RestoreTrial | RestorePick) -> float:
    """Width of the values that lie nearer to the pick than to its neighbours."""
    values = sorted(set(trial.offered))
    place = values.index(trial.picked)
    # Beyond the outermost patch the stretch is taken to be as wide as within.
    below = values[max(place - 1, 0) : place + 1]
    above = values[place : place + 2]
    halves = [(part[-1] - part[0]) / 2 for part in (below, above) if len(part) == 2]
    return 2 * sum(halves) / len(halves)


LEAST_CHANCE = 0.01
"""Readings that good errors would throw so far apart less often than this are said to
disagree. Our choice."""

_CURVE_POINTS = 24
_LEAST_ERROR = 0.001


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownSpread:
    """
    The spread of ink and light to use, and how it is known.

    Attributes
    ----------
    spread : float or SpreadCurve
        As `choose_sharpening` and `spread_mtf` take it: the measured response, or
        the estimated standard deviation in µm.
    sigma_um : float
        Standard deviation in one number.
    uncertainty_um : float or None
        Its standard error; None for an estimate that nobody measured.
    count : int
        Readings that it was taken from; 0 for an estimate.
    words : str
        Which it is and how sure, for people.
    """

    spread: float | SpreadCurve
    sigma_um: float
    uncertainty_um: float | None
    count: int
    words: str


def spread_on(paper: Paper, setup: PaperOnPrinter) -> KnownSpread:
    """
    The spread to use for a paper on a printer.

    Parameters
    ----------
    setup : PaperOnPrinter
        The paper's own settings on that printer.

    Returns
    -------
    KnownSpread
        By the readings kept for the pair that are without the scanner's own spread;
        without one, the paper's estimate, or less if a scan measured less.

    Notes
    -----
    A scan without the scanner's own response measured paper and scanner together: the
    paper spreads less than that, and nobody knows how much. So such readings are no
    measurement of the paper. They bound its estimate: one above the bound is not
    believed, and the bound is taken.

    Standard deviations are joined by Huber's estimate, so that a scan of the wrong
    sheet does not carry the others away. They are said to disagree where Cochran's Q
    [1]_, their weighted squares about the weighted mean, exceeds what their standard
    errors would give by chance (`LEAST_CHANCE`, the chi-squared law); the standard
    error then grows with their scatter.

    The response comes from all readings too. Each is stretched along frequency until
    its own standard deviation is the joint one, and the median is taken point by
    point, as far as half of them reach. Width and shape are so learned apart: a
    reading that is too wide keeps its say in the shape, and none, the newest
    included, decides alone. One reading alone stays as it was measured.

    References
    ----------
    .. [1] Cochran (1954), Biometrics 10(1), 101-129, doi:10.2307/3001666.
    """
    every = setup.spread_readings
    readings = tuple(it for it in every if not it.includes_scanner)
    if readings:
        return _joined(readings)
    start = f"The spread of {paper.psf_sigma_um:.3g} µm is the paper book's estimate"
    estimate = KnownSpread(
        spread=paper.psf_sigma_um,
        sigma_um=paper.psf_sigma_um,
        uncertainty_um=None,
        count=0,
        words=f"{start}, not measured: print a trial sheet and scan it to know.",
    )
    if not every:
        return estimate
    whole = _joined(every)
    bound = "The scanner's own spread is in it, so the paper's is smaller"
    if paper.psf_sigma_um < whole.sigma_um:
        return replace(
            estimate,
            words=f"{start}. What was measured is only a bound: {whole.words} {bound}: "
            "scan with a reference to know.",
        )
    return replace(
        whole,
        words=f"{whole.words} {bound}; the paper book's estimate of "
        f"{paper.psf_sigma_um:.3g} µm is larger still, so the bound is used: scan "
        "with a reference to know.",
    )


def _joined(readings: tuple[SpreadReading, ...]) -> KnownSpread:
    """What readings of one kind say together."""
    sigmas = np.array([reading.sigma_um for reading in readings])
    errors = np.array([reading.uncertainty_um for reading in readings])
    whole = huber_mean(sigmas, errors)
    return KnownSpread(
        spread=_joint_curve(readings, whole.value),
        sigma_um=whole.value,
        uncertainty_um=whole.error,
        count=len(readings),
        words=_known_words(readings, whole.value, whole.error)
        + _disagreement(readings, sigmas, errors, whole.value),
    )


def restore_on(setup: PaperOnPrinter) -> Preference | None:
    """
    The restore that picked patches ask for on a paper and printer.

    Returns
    -------
    Preference or None
        None if nobody has picked one yet.
    """
    return preferred_restore(setup.restore_picks) if setup.restore_picks else None


def _joint_curve(readings: tuple[SpreadReading, ...], sigma_um: float) -> SpreadCurve:
    """The shape that readings share, at the width that they agree on."""
    if len(readings) == 1:
        (only,) = readings
        return SpreadCurve(cycles_per_mm=only.cycles_per_mm, values=only.contrast_left)
    # In cycles per standard deviation, where all readings are of one width.
    places = [np.array([0.0, *it.cycles_per_mm]) * it.sigma_um for it in readings]
    end = float(np.median([place[-1] for place in places]))
    common = np.linspace(0, end, _CURVE_POINTS + 1)[1:]
    values = np.nanmedian(
        [
            np.interp(common, place, [1.0, *it.contrast_left], right=np.nan)
            for place, it in zip(places, readings, strict=True)
        ],
        axis=0,
    )
    return SpreadCurve(
        cycles_per_mm=tuple((common / sigma_um).tolist()),
        values=tuple(values.tolist()),
    )


def _known_words(
    readings: tuple[SpreadReading, ...], sigma_um: float, error_um: float
) -> str:
    first = f"The spread is {with_error(sigma_um, error_um)} µm (standard error), "
    days = sorted(reading.on for reading in readings)
    if len(readings) == 1:
        edges = readings[0].edges
        return (
            f"{first}measured on {days[0]} from {edges} edge{'s' if edges > 1 else ''}."
        )
    when = (
        f"on {days[0]}" if days[0] == days[-1] else f"between {days[0]} and {days[-1]}"
    )
    return f"{first}measured by {len(readings)} scans {when}."


def with_error(value: float, error: float) -> str:
    """
    A measured number and its standard error, with as many digits as both need.

    Parameters
    ----------
    error : float
        0 or more.

    Examples
    --------
    >>> with_error(28.4372, 0.0965), with_error(28.4372, 0.0321)
    ('28.4 ± 0.1', '28.44 ± 0.03')
    """
    if error < _LEAST_ERROR:
        return f"{value:.3f} ± less than {_LEAST_ERROR:g}"
    digits = next(it for it in (1, 2, 3) if round(error, it) > 0)
    return f"{value:.{digits}f} ± {error:.{digits}f}"


def _disagreement(
    readings: tuple[SpreadReading, ...],
    sigmas: Floats,
    errors: Floats,
    sigma_um: float,
) -> str:
    """A sentence about readings that contradict each other; empty if none do."""
    weights = 1 / errors**2
    mean = float(np.average(sigmas, weights=weights))
    q = float(np.sum(weights * (sigmas - mean) ** 2))
    if len(readings) == 1 or scipy.special.chdtrc(len(readings) - 1, q) >= LEAST_CHANCE:
        return ""
    odd = readings[int(np.argmax(np.abs(sigmas - sigma_um)))]
    # Of two, neither is the odd one.
    which = f", the one of {odd.on} farthest off" if len(readings) > 2 else ""
    return (
        f" They lie from {sigmas.min():.1f} to {sigmas.max():.1f} µm, farther apart "
        f"than their errors allow{which}: scan once more, or forget a wrong one."
    )
