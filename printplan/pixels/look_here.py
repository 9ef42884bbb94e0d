"""Where in the picture does a decision show most?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.difference import delta_e_2000
from printplan.colour.intents import distinct_choices
from printplan.colour.losses import (
    MAP_POINTS,
    OUT_OF_GAMUT,
    gamut_distance,
    make_lattice,
    summarize_distance,
    tabulate,
)
from printplan.colour.proof import rendered_lab
from printplan.colour.transforms import colorants_xyz
from printplan.errors import SpecError
from printplan.pixels.consequences import judged, picture_colours
from printplan.pixels.maps import lab_of, reach_map
from printplan.pixels.search import (
    LEAST_OF_BEST,
    Windows,
    lightness_of,
    neighbour_steps,
    texture_of,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from printplan.colour.intents import Choice
    from printplan.colour.losses import LatticeTable
    from printplan.colour.profiles import Profile
    from printplan.pixels.sheet import Overview, Sheet
    from printplan.sizing.boxes import Box

    Floats = NDArray[np.float64]

DEEP_L, LIGHT_L = 20.0, 90.0
"""Tones of the master that count as deep, and as near paper white. Our choice."""

# What is worth opening a window for: our choice, each from the limit that it is near.
_AMID_L = 15.0  # So far others may be near: beyond, it is an edge and no texture.
_BLANK_L = 99.5  # White itself holds no detail, whatever lies beside it.
_LEAST_SHARE_OUT = 0.005
_LEAST_INTENT_DELTA_E = 0.5
_LEAST_SHARE_OF_TONES, _LEAST_TEXTURE_L = 0.01, 0.15
_LEAST_DETAIL_L = 0.5

_EXACT_CANDIDATES = 6


class Reason(StrEnum):
    """What is to be decided at a place."""

    REACH = "reach"
    INTENTS = "intents"
    DEEP_TONES = "deep-tones"
    LIGHT_TONES = "light-tones"
    FINE_DETAIL = "fine-detail"
    NOTHING_STANDS_OUT = "nothing-stands-out"


@dataclass(frozen=True, slots=True)
class LookHere:
    """
    A place worth opening at print pixels.

    Attributes
    ----------
    box : Box
        In file pixels, inside the picture.
    words : str
        Why there, in one sentence with its number.
    also : tuple of str
        Further decisions that show most at this very place, a sentence for each.
    """

    box: Box
    reason: Reason
    words: str
    also: tuple[str, ...] = ()


def look_here(
    sheet: Sheet,
    overview: Overview,
    most: int = 5,
    window_px: tuple[int, int] = (900, 600),
) -> tuple[LookHere, ...]:
    """
    Find the places that a photographer should look at before printing.

    Parameters
    ----------
    overview : Overview
        Of that sheet; the places are searched on it.
    most : int, optional
        Places wanted at most, 1 or more.
    window_px : tuple of int, optional
        Width and height of a window in print pixels; cut to the picture.

    Returns
    -------
    tuple of LookHere
        In the order of `Reason`, one at most for each; a window that is the best for
        two reasons is given once and names both. A picture in which nothing
        stands out gives its middle alone, and says so.

    Raises
    ------
    SpecError
        If no place, or an empty window, is asked for.
    ProfileError
        If the paper's profile has no way to its device or back.

    Notes
    -----
    A window is searched for each reason in turn, among those that share at most
    `search.MOST_SHARED` of their area with one that was found before. Numbers are of
    the window: distances are exact for its overview pixels, and fine detail is
    measured in print pixels, before sharpening, at the best few places.
    """
    if most < 1 or min(window_px) < 1:
        raise SpecError(
            f"{most} windows of {window_px[0]} × {window_px[1]} px were asked for.",
            remedy="Ask for 1 window or more, of 1 px or more, for example 900 × 600.",
        )
    search = _Search(sheet, overview, window_px)
    ways: tuple[Callable[[], LookHere | None], ...] = (
        search.reach,
        search.intents,
        search.deep_tones,
        search.light_tones,
        search.fine_detail,
    )
    found: dict[Box, LookHere] = {}
    for way in ways:
        place = way()
        if place is None:
            continue
        earlier = found.get(place.box)
        if earlier is not None:
            also = (*earlier.also, place.words)
            found[place.box] = replace(earlier, also=also)
        elif len(found) < most:
            search.windows.take(place.box)
            found[place.box] = place
    return tuple(found.values()) or (search.middle(),)


class _Search:
    """One picture, the quantities on its overview, and the windows already taken."""

    def __init__(
        self, sheet: Sheet, overview: Overview, window_px: tuple[int, int]
    ) -> None:
        self.sheet = sheet
        self.overview = overview
        self.windows = Windows(
            sheet.plan.picture_in_file,
            (overview.picture.width, overview.picture.height),
            window_px,
        )
        self.to_xyz = colorants_xyz(sheet.master.profile)
        self.texture = texture_of(overview.linear, self.to_xyz)
        self.distance = reach_map(sheet, overview).values

    def reach(self) -> LookHere | None:
        """Where colours are farthest from what the paper can hold."""
        box = self.windows.best(np.maximum(self.distance - OUT_OF_GAMUT, 0.0))
        if box is None:
            return None
        distance = gamut_distance(self._lab_in(box), self.sheet.delivered)
        share = float((distance > OUT_OF_GAMUT).mean())
        if share < _LEAST_SHARE_OUT:
            return None
        p95 = float(np.percentile(distance, 95))
        words = (
            f"Farthest from what {self.sheet.delivered_name} can hold: {share:.0%} of "
            "this window lies "
            f"more than {OUT_OF_GAMUT:g} dE00 away, and 95 of 100 pixels keep within "
            f"{p95:.1f}."
        )
        return LookHere(box, Reason.REACH, words)

    def intents(self) -> LookHere | None:
        """Where the two rendering intents that suit the picture best differ most."""
        judgement = judged(self.sheet)
        source, target = self.sheet.master.profile, self.sheet.delivered
        ranked = sorted(
            distinct_choices(target, source),
            key=lambda choice: judgement.of(choice).cost,
        )
        if len(ranked) < 2:
            return None
        first, second = ranked[:2]
        table = _choices_table(source, target, first, second)
        values = table.from_linear(self.overview.linear)[..., 0]
        box = self.windows.best(values)
        if box is None:
            return None
        lab = self._lab_in(box)
        mean = float(_choices_apart(lab, source, target, first, second).mean())
        if mean < _LEAST_INTENT_DELTA_E:
            return None
        words = (
            f"The intents differ most here: {first.words} and {second.words} are "
            f"{mean:.1f} dE00 apart on average in this window."
        )
        return LookHere(box, Reason.INTENTS, words)

    def deep_tones(self) -> LookHere | None:
        """Where there is most texture in the shadows."""
        return self._texture_of(
            (self.texture.lightness < DEEP_L)
            & (self.texture.lightest < DEEP_L + _AMID_L),
            Reason.DEEP_TONES,
            f"Most texture in the deepest tones (below L* {DEEP_L:g})",
        )

    def light_tones(self) -> LookHere | None:
        """Where there is most detail near paper white."""
        return self._texture_of(
            (self.texture.lightness > LIGHT_L)
            & (self.texture.lightness < _BLANK_L)
            & (self.texture.darkest > LIGHT_L - _AMID_L),
            Reason.LIGHT_TONES,
            f"Lightest detail, near paper white (above L* {LIGHT_L:g})",
        )

    def fine_detail(self) -> LookHere | None:
        """Where print pixels differ most from their neighbours."""
        steps = neighbour_steps(self.texture.lightness)
        free = self.windows.best_few(steps, _EXACT_CANDIDATES)
        exact = {box: self._exact_detail(box) for box in [*free, *self.windows.taken]}
        most = max(exact.values(), default=0.0)
        if most < _LEAST_DETAIL_L:
            return None
        # As in `Windows.best`: a window of its own has to be worth it.
        worth = [box for box in free if exact[box] >= LEAST_OF_BEST * most]
        box = max(worth or exact, key=exact.__getitem__)
        words = (
            "Most fine detail: neighbouring print pixels differ by "
            f"{exact[box]:.1f} L* on average, before sharpening."
        )
        return LookHere(box, Reason.FINE_DETAIL, words)

    def middle(self) -> LookHere:
        """The place for a picture in which nothing stands out."""
        lab = picture_colours(self.sheet)
        distance = gamut_distance(lab, self.sheet.delivered)
        farthest = summarize_distance(distance).p95_delta_e
        texture = float(self.texture.varies.mean())
        words = (
            "Nothing stands out, so this is the middle: 95 of 100 pixels are within "
            f"{farthest:.1f} dE00 of what {self.sheet.delivered_name} can hold, and "
            "lightness varies by "
            f"{texture:.2f} L* on average."
        )
        box = self.windows.middle()
        return LookHere(box, Reason.NOTHING_STANDS_OUT, words)

    def _texture_of(
        self, tones: NDArray[np.bool_], reason: Reason, what: str
    ) -> LookHere | None:
        """Where tones that count, amid such tones, have most texture in sum."""
        texture = self.texture.varies
        box = self.windows.best(np.where(tones, texture, np.float32(0)))
        if box is None:
            return None
        rows, columns = self.windows.slices(box)
        inside = tones[rows, columns]
        if inside.mean() < _LEAST_SHARE_OF_TONES:
            return None
        varies = float(texture[rows, columns][inside].mean())
        if varies < _LEAST_TEXTURE_L:
            return None
        words = (
            f"{what}: they fill {inside.mean():.0%} of this window and vary by "
            f"{varies:.1f} L* on average."
        )
        return LookHere(box, reason, words)

    def _lab_in(self, box: Box) -> Floats:
        """CIELAB of a window's overview pixels."""
        rows, columns = self.windows.slices(box)
        pixels = self.overview.linear[:, rows, columns]
        return lab_of(pixels, self.sheet.master.profile)

    def _exact_detail(self, box: Box) -> float:
        """Mean step between neighbouring print pixels of a window, L*."""
        picture = self.sheet.plan.picture_in_file
        region = self.sheet.light.region(box.moved(-picture.left, -picture.top))
        np.clip(region, 0.0, 1.0, out=region)
        return float(neighbour_steps(lightness_of(region, self.to_xyz)).mean())


def _choices_apart(
    lab: Floats, source: Profile, paper: Profile, first: Choice, second: Choice
) -> Floats:
    """Difference of two choices' prints of the same colours, dE00."""
    one, other = (
        rendered_lab(
            lab,
            paper,
            choice.intent,
            choice.black_point_compensation,
            source=source,
        )
        for choice in (first, second)
    )
    return np.asarray(delta_e_2000(one, other), np.float64)


@lru_cache(maxsize=8)
def _choices_table(
    source: Profile, paper: Profile, first: Choice, second: Choice
) -> LatticeTable:
    """`_choices_apart` for all colours of a working space, ready for pictures."""
    lattice = make_lattice(source, MAP_POINTS)
    return tabulate(lattice, _choices_apart(lattice.lab, source, paper, first, second))
