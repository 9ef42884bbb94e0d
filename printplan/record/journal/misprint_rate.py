"""How many of all prints are lost, and how surely do the counts say so?"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

from scipy.stats import binomtest

from printplan.errors import RecordError

CONFIDENCE = 0.95
"""Share of intervals, in the long run, that hold the true share. Convention."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """
    A share with its interval.

    Attributes
    ----------
    lost, prints : int
        Misprints, out of all prints.
    share : float or None
        0 to 1; None of no prints at all.
    low, high : float
        Wilson score interval of `CONFIDENCE`; 0 and 1 of no prints.
    """

    lost: int
    prints: int
    share: float | None
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RateFall:
    """
    How much lower the second of two shares is.

    Attributes
    ----------
    fall : float
        First share less the second, -1 to 1; below 0 if it rose.
    low, high : float
        Its interval of `CONFIDENCE`. If 0 lies in it, the counts do not tell whether
        the share fell at all.
    """

    fall: float
    low: float
    high: float


def misprint_rate(lost: int, prints: int) -> Rate:
    """
    Share of prints lost, with its Wilson score interval.

    Parameters
    ----------
    lost : int
    prints : int
        All prints, the lost ones too.

    Returns
    -------
    Rate

    Raises
    ------
    RecordError
        If more are lost than were made, or a count is below 0.

    Notes
    -----
    The Wilson interval [1]_ stays within 0 and 1 and says something sensible of 0 in
    10, where share ± two standard errors says "0 to 0" [2]_. It takes each print as
    drawn by itself. Copies that were spoiled together, by one wrong setting, are
    really one loss: with many such the interval is too narrow.

    References
    ----------
    .. [1] E. B. Wilson (1927), Probable inference, the law of succession, and
       statistical inference, J. Am. Stat. Assoc. 22(158), 209-212.
    .. [2] R. G. Newcombe (1998), Two-sided confidence intervals for the single
       proportion: comparison of seven methods, Stat. Med. 17(8), 857-872.

    Examples
    --------
    >>> rate = misprint_rate(81, 263)
    >>> round(rate.low, 4), round(rate.high, 4)
    (0.2553, 0.3662)
    """
    if not 0 <= lost <= prints:
        raise RecordError(
            f"{lost} of {prints} prints are given as lost.",
            remedy="Give counts from 0 up, the lost ones being part of all.",
        )
    if prints == 0:
        return Rate(lost=0, prints=0, share=None, low=0.0, high=1.0)
    interval = binomtest(lost, prints).proportion_ci(CONFIDENCE, method="wilson")
    return Rate(
        lost=lost,
        prints=prints,
        share=lost / prints,
        low=float(interval.low),
        high=float(interval.high),
    )


def rate_fall(before: Rate, after: Rate) -> RateFall | None:
    """
    How much the share fell between two sets of prints.

    Parameters
    ----------
    before, after : Rate
        Of different prints.

    Returns
    -------
    RateFall or None
        None if one of the sets is empty.

    Notes
    -----
    Newcombe's hybrid of the two Wilson intervals, method 10 of [1]_. It says how far
    the shares lie apart, and nothing about why.

    References
    ----------
    .. [1] R. G. Newcombe (1998), Interval estimation for the difference between
       independent proportions: comparison of eleven methods, Stat. Med. 17(8),
       873-890.
    """
    if before.share is None or after.share is None:
        return None
    fall = before.share - after.share
    return RateFall(
        fall=fall,
        low=fall - hypot(before.share - before.low, after.high - after.share),
        high=fall + hypot(before.high - before.share, after.share - after.low),
    )
