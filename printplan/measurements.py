"""What did prints of one paper on one printer measure, as the paper book records it?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from typing import TYPE_CHECKING

from printplan.errors import SpecError
from printplan.units import MM_PER_INCH

if TYPE_CHECKING:
    from collections.abc import Sequence


_EARLIEST = date(1990, 1, 1)
"""An earlier date is a slip, such as the year 26. Our choice."""

# Chosen to catch a slip of the unit (0.03 for 30 µm) and a number in the wrong line,
# not to judge papers. Our choice.
_SIGMA_UM = (1.0, 500.0)
_SCAN_PPI = (100.0, 20_000.0)
_MOST_EDGES = 100_000
_DISTANCE_MM = (50.0, 50_000.0)
_RESTORE = (0.0, 1.5)

_MOST_CONTRAST = 1.2
"""A measured response may rise above 1 by its noise, and not by more than a scanner
that sharpens. Our choice."""

_FINEST_CYCLES_PX = 0.5
_ROUNDING = 1.001


@dataclass(frozen=True, slots=True, kw_only=True)
class SpreadReading:
    """
    What one scan of a trial sheet measured of the spread of ink and light.

    Attributes
    ----------
    on : date
        Day of the measurement.
    sigma_um : float
        Standard deviation of the Gaussian that fits best.
    uncertainty_um : float
        Its standard error, above 0 and below `sigma_um`.
    edges : int
        Edges that it was taken from.
    scan_ppi : float
        Resolution of the scan.
    cycles_per_mm : tuple of float
        Frequencies of the measured response, rising, above 0, two or more.
    contrast_left : tuple of float
        Contrast left at each of them, 1 for all of it.
    includes_scanner : bool
        Whether the scanner's own spread is in it, for want of a reference.
    """

    on: date
    sigma_um: float
    uncertainty_um: float
    edges: int
    scan_ppi: float
    cycles_per_mm: tuple[float, ...]
    contrast_left: tuple[float, ...]
    note: str = ""
    includes_scanner: bool = False

    def __post_init__(self) -> None:
        _require_day("A spread reading", self.on)
        owner = f"The spread reading of {self.on}"
        _require_range(f"{owner}: sigma_um", self.sigma_um, _SIGMA_UM, "µm")
        if not 0 < self.uncertainty_um < self.sigma_um:
            raise SpecError(
                f"{owner}: uncertainty_um is {self.uncertainty_um:g} µm and the "
                f"spread itself {self.sigma_um:g} µm.",
                remedy="Give the standard error that the measurement states, above 0 "
                "and below the spread; without one, measure again.",
            )
        _require_range(f"{owner}: edges", self.edges, (1, _MOST_EDGES), "edges")
        _require_range(f"{owner}: scan_ppi", self.scan_ppi, _SCAN_PPI, "ppi")
        self._require_curve(owner)

    def _require_curve(self, owner: str) -> None:
        places, values = self.cycles_per_mm, self.contrast_left
        if len(places) != len(values) or len(places) < 2:
            raise SpecError(
                f"{owner} has {len(places)} cycles_per_mm and {len(values)} "
                "contrast_left.",
                remedy="Give one contrast for each frequency, two or more of both.",
            )
        if not all(low < high for low, high in pairwise((0.0, *places))):
            raise SpecError(
                f"{owner}: cycles_per_mm do not rise from above 0.",
                remedy="Sort them with their contrasts, and leave out frequency 0: "
                "there it is 1.",
            )
        finest = _FINEST_CYCLES_PX * self.scan_ppi / MM_PER_INCH
        if not places[-1] <= _ROUNDING * finest:
            raise SpecError(
                f"{owner}: cycles_per_mm go up to {places[-1]:.4g}; a scan at "
                f"{self.scan_ppi:g} ppi shows {finest:.4g} at most.",
                remedy="Correct the scan's ppi, or give frequencies per millimetre.",
            )
        for value in values:
            if not 0 < value <= _MOST_CONTRAST:
                raise SpecError(
                    f"{owner}: contrast_left has {value:g}.",
                    remedy=f"Give contrasts above 0 and up to {_MOST_CONTRAST:g}, "
                    "with 1 for no loss; cut the curve off before it reaches 0.",
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class RestorePick:
    """
    Which patch of one trial sheet looked best.

    Attributes
    ----------
    on : date
        Day of the pick.
    offered : tuple of float
        Restore of each patch, two or more different ones.
    picked : float
        The one that looked best, out of those offered.
    distance_mm : float or None
        Distance it was looked at from; None if nobody noted it.
    """

    on: date
    offered: tuple[float, ...]
    picked: float
    distance_mm: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        _require_day("A restore pick", self.on)
        owner = f"The restore pick of {self.on}"
        for value in self.offered:
            _require_range(f"{owner}: offered", value, _RESTORE, "of the loss")
        different = sorted(set(self.offered))
        if len(different) < 2:
            raise SpecError(
                f"{owner} offered {len(different)} different patches.",
                remedy="Give two or more, such as 0.5, 0.75, 1 and 1.25.",
            )
        if self.picked not in different:
            shown = ", ".join(f"{value:g}" for value in different)
            raise SpecError(
                f"{owner}: picked is {self.picked:g}, which was not offered.",
                remedy=f"Give one of {shown}.",
            )
        if self.distance_mm is not None:
            _require_range(
                f"{owner}: distance_mm", self.distance_mm, _DISTANCE_MM, "mm"
            )


def require_unique(
    owner: str, readings: Sequence[SpreadReading], picks: Sequence[RestorePick]
) -> None:
    """
    Refuse a measurement that is recorded twice: it would count twice.

    Parameters
    ----------
    owner : str
        Whose measurements they are, for the error.
    readings : sequence of SpreadReading
        Two that differ in nothing but their notes are one.
    picks : sequence of RestorePick
        Two viewers may pick alike on one day; their notes tell them apart.

    Raises
    ------
    SpecError
        If one is there twice.
    """
    seen = set()
    for reading in readings:
        scan = replace(reading, note="")
        if scan in seen:
            raise SpecError(
                f"{owner} has a reading of {reading.on} twice in spread_readings.",
                remedy="Remove one; the same scan counts once.",
            )
        seen.add(scan)
    for number, pick in enumerate(picks):
        if pick in picks[:number]:
            raise SpecError(
                f"{owner} has a pick of {pick.on} twice in restore_picks.",
                remedy="Remove one, or tell two viewers apart by their notes.",
            )


def _require_day(owner: str, on: date) -> None:
    # A moment is a kind of date to Python, but comes back from a file as another.
    if type(on) is not date or on < _EARLIEST:
        raise SpecError(
            f"{owner} has the date {on}.",
            remedy=f"Give a day from {_EARLIEST} on, such as 2026-05-03.",
        )


def _require_range(
    what: str, given: float, limits: tuple[float, float], unit: str
) -> None:
    low, high = limits
    if not low <= given <= high:
        raise SpecError(
            f"{what} is {given:.9g} {unit}.",
            remedy=f"Give {low:g} to {high:g} {unit}.",
        )
