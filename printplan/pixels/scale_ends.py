"""How many of a master's pixels lie at the ends of its scale?"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printplan.pixels.kept_measures import KeptMeasures, master_key
from printplan.pixels.master_file import BAND_PIXELS
from printplan.pixels.master_reading import MOST_THREADS
from printplan.processor_share import threads_at_most
from printplan.sizing.boxes import Box

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.master import Master
    from printplan.spec import MasterFacts

_MOST_KEPT = 32
"""Files whose counts a process keeps. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleEnds:
    """
    Shares of a picture's pixels at the ends of their scale.

    Where one channel ends, its detail is lost and the colour is wrong; where all do,
    there is nothing but white or black.

    Attributes
    ----------
    white_any, black_any : float
        With the largest, and the smallest number in one channel or more.
    white_all, black_all : float
        In all channels.
    """

    white_any: float
    white_all: float
    black_any: float
    black_all: float

    @property
    def words(self) -> str:
        """Both ends in one line."""
        return (
            f"at white {_share_words(self.white_any, self.white_all)}; "
            f"at black {_share_words(self.black_any, self.black_all)}"
        )


_kept: KeptMeasures[MasterFacts, ScaleEnds] = KeptMeasures(
    "ends", _MOST_KEPT, lambda told: ScaleEnds(**told)
)


def scale_ends(master: Master) -> ScaleEnds | None:
    """
    Count the pixels of a master that lie at the ends of its scale.

    Returns
    -------
    ScaleEnds or None
        Of all pixels, counted once of a file and of each way to read it, see
        `KeptMeasures`. None if its profile has tables: then no stored numbers are at
        hand.

    Raises
    ------
    MasterError
        If the master was closed, or its file changed since it was opened.

    Notes
    -----
    Of numbers in floating point those outside 0 to 1 were cut and lie at an end. What
    was transparent lies on paper white, and is white.

    50 million pixels of 16 bits take 0.2 seconds on two processors.
    """
    if master.facts.profile_is_table:
        return None
    return _kept.of(master_key(master), lambda: _counted(master))


def clipping_words(master: Master) -> str:
    """What of a master was cut, and what lies at the ends of its scale, in a line."""
    share, ends = master.facts.clipped_share, scale_ends(master)
    cut = f"{share:.2%} of the numbers" if share > 0 else "none of the numbers"
    told = "its profile has tables" if ends is None else ends.words
    return f"outside 0 to 1 {cut}; {told}"


def _counted(master: Master) -> ScaleEnds:
    width_px, height_px = master.facts.width_px, master.facts.height_px
    rows = max(1, BAND_PIXELS // width_px)

    def count(top: int) -> NDArray[np.int64]:
        box = Box(0, top, width_px, min(rows, height_px - top))
        ends = _at_ends(master, box)
        found = [(it.any(axis=0), it.all(axis=0)) for it in ends]
        return np.array([np.count_nonzero(it) for pair in found for it in pair])

    with ThreadPoolExecutor(threads_at_most(MOST_THREADS)) as pool:
        counts = sum(pool.map(count, range(0, height_px, rows)), np.zeros(4, np.int64))
    white_any, white_all, black_any, black_all = counts / (width_px * height_px)
    return ScaleEnds(
        white_any=float(white_any),
        white_all=float(white_all),
        black_any=float(black_any),
        black_all=float(black_all),
    )


def _at_ends(master: Master, box: Box) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Where the channels of a box are white, and where they are black."""
    codes = master.codes(box)
    if codes is None:
        light = master.linear(box)
        return light >= 1.0, light <= 0.0
    top = np.iinfo(codes.dtype).max
    return (
        (codes == 0, codes == top) if master.is_negative else (codes == top, codes == 0)
    )


def _share_words(in_any: float, in_all: float) -> str:
    if in_any == 0:
        return "none"
    shown = f"{_percent(in_any)} of the pixels"
    if in_any == in_all:
        return shown
    return f"{shown} in a channel or more, {_percent(in_all)} in all"


def _percent(share: float) -> str:
    return "under 0.01%" if 0 < share < 1e-4 else f"{share:.2%}"
