"""How sharp are a picture's own edges, and were they sharpened before?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, inf
from typing import TYPE_CHECKING

import numpy as np
import scipy

from printplan.sharpening.edge_lines import (
    LEAST_STEP_L,
    MOST_UNEVENNESS,
    is_straight,
    sampled_across,
    sides,
    steps_to_level,
)
from printplan.sharpening.gaussian import slopes
from printplan.sharpening.noise import parts_of
from printplan.sharpening.response import ENLARGEMENTS
from printplan.validation import require

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Picture = NDArray[np.float32]


LEAST_STEP_NOISES = 10.0
"""Step of a strong edge in standard deviations of the noise, at least: our choice."""

FEWEST_EDGES = 30
"""Places on edges below which nothing is said: our choice."""

SHARPEST_SHARE = 0.1
"""Share of the edges, the sharpest, whose softest is the picture's softness."""

MOST_SOFTNESS = 1.6
"""Softness in units of the size that is looked for; above, look for larger ones."""

# Profiles across an edge, in units of the scale that is tried.
_REACH, _STEP, _PLATEAU = 8.0, 0.25, 5.0
_ALONG = np.arange(-3.0, 4.0)
_ACROSS = np.arange(-_REACH, _REACH + _STEP / 2, _STEP)
_GLANCE = np.array([-_REACH, -6.5, -_PLATEAU, _PLATEAU, 6.5, _REACH])
_MOST_EDGES = 4000
_SIZES = ((0.5, 0.75, 1.0), (2.0,), (4.0,))
# From 20 to 80 % a Gaussian edge takes 1.6832 standard deviations (normal quantiles).
_LOW, _HIGH, _RISE_SIGMAS = 0.2, 0.8, 1.6832424671458287
# Slope there, in steps per standard deviation, and the normal quantile of a tenth.
_SLOPE, _TENTH_SIGMAS = 0.2799619204, 1.2815515655
_TYPICAL_SHARE = 0.3
# Rank of the edge that stands for the strongest: a few stray ones lie above.
_STRONGEST_SHARE = 0.98


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureEdges:
    """
    What the strong straight edges of a picture show.

    Attributes
    ----------
    count : int
        Places on edges that were measured.
    edge_sigma_px : float or None
        Standard deviation of a Gaussian edge at the sharpest decile, resampling
        included; None with fewer than 30 places.
    overshoot_share : float or None
        Overshoot of the typical sharp edge over its step, mean of both sides.
    strongest_l : tuple of float or None
        L* of the dark and the light side of the edge that only a fiftieth of all
        exceeds in its step.
    """

    count: int
    edge_sigma_px: float | None = None
    overshoot_share: float | None = None
    strongest_l: tuple[float, float] | None = None


def picture_edges(
    lightness: Picture | Sequence[Picture], *, noise_l: float, enlargement: float
) -> PictureEdges:
    """
    Softness and overshoot of a picture's sharpest edges.

    Parameters
    ----------
    lightness : ndarray of float32, shape (rows, columns), or sequence of them
        L*, in print pixels: the picture, or parts that stand for it.
    noise_l : float
        Standard deviation of the noise.
    enlargement : float
        Print pixels per master pixel; sets the size at which edges are looked for.

    Raises
    ------
    SpecError
        If a number is outside its range.

    Notes
    -----
    Ridges of the gradient where its direction holds still; there, profiles across the
    edge are averaged over seven pixels along it. A profile counts if it runs from one
    even tone to another one. Its width is taken from 20 to 80 % of the step. Edges
    are looked for at three sizes, and the sharpest answer counts: the smallest needs
    the least even room, which a picture full of detail has little of, the largest
    finds the long edges. If only soft edges are found, two larger sizes follow. The
    typical sharp edge is the median of the sharpest profiles, so that noise and
    neighbours leave it; halos wider than five pixels are not seen.

    Noise scatters the widths, and the decile of what is scattered lies too low. Its
    distance from the median is made smaller by the scatter that the noise explains.
    Below 0.5 px, pixels say little: an edge of 0.4 px is found as some 0.45.
    """
    parts = parts_of(lightness)
    require("Noise", noise_l, 0, 100, "L*")
    require("Enlargement", enlargement, *ENLARGEMENTS, "print px per master px")
    found: list[PictureEdges] = []
    sizes: list[float] = []
    for group in _SIZES:
        if _trusted(found, sizes):
            break
        group_sizes = [factor * max(enlargement, 1.0) for factor in group]
        room = 2 * _margin(group_sizes[-1])
        wide = [part for part in parts if min(part.shape) > room]
        if not wide:
            break
        found += _edges_of_sizes(wide, group_sizes, noise_l)
        sizes += group_sizes
    answers = _trusted(found, sizes) or [
        e for e in found if e.edge_sigma_px is not None
    ]
    if not answers:
        return PictureEdges(count=max((edges.count for edges in found), default=0))
    sharpest = min(answers, key=lambda edges: edges.edge_sigma_px or inf)
    # A halo needs more room than the edge beside it: the widest size sees most of it.
    return replace(
        sharpest,
        overshoot_share=max(e.overshoot_share or 0.0 for e in answers),
        strongest_l=max((e.strongest_l or (0.0, 0.0) for e in answers), key=np.ptp),
    )


def _edges_of_sizes(
    parts: list[Picture], sizes: list[float], noise_l: float
) -> list[PictureEdges]:
    """What edges of all parts show, by the size that they are looked for at."""
    least_step = max(LEAST_STEP_L, LEAST_STEP_NOISES * noise_l)
    places: list[list[Floats]] = []
    for part in parts:
        ridges = _ridges(part, least_step, sizes)
        places.append(
            [_promising(part, ridges, least_step, noise_l, size) for size in sizes]
        )
    # Evenly over all parts, not the steepest: those would be the sharpest alone.
    counts = np.array([[it.shape[1] for it in of_part] for of_part in places])
    thinning = np.maximum(-(-counts.sum(axis=0) // _MOST_EDGES), 1)
    profiles: list[list[Floats]] = [[] for _ in sizes]
    for part, of_part in zip(parts, places, strict=True):
        coefficients = scipy.ndimage.spline_filter(part, order=3, output=np.float32)
        for index, size in enumerate(sizes):
            kept = of_part[index][:, :: thinning[index]]
            lines = sampled_across(
                coefficients, kept, _ACROSS * size, _ALONG * size, order=3
            )
            profiles[index].append(lines.mean(axis=1).astype(np.float64))
    judged = []
    for size, of_size in zip(sizes, profiles, strict=True):
        shares, tones = _even_ones(np.concatenate(of_size), least_step)
        judged.append(_judged(shares, tones, noise_l, size))
    return judged


def _trusted(found: list[PictureEdges], sizes: list[float]) -> list[PictureEdges]:
    """Answers from edges that are narrow enough for the size they were sought at."""
    return [
        edges
        for edges, size in zip(found, sizes, strict=True)
        if edges.edge_sigma_px is not None
        and edges.edge_sigma_px <= MOST_SOFTNESS * size
    ]


def _margin(size: float) -> int:
    """Pixels at the border from which profiles would leave the picture."""
    return ceil((_REACH + float(_ALONG[-1])) * size) + 2


def _ridges(lightness: Picture, least_step: float, sizes: list[float]) -> Floats:
    """Rows, columns and direction (down, across) of places on straight edges."""
    size = sizes[len(sizes) // 2]
    down, across = slopes(lightness, size)
    steep = np.sqrt(down * down + across * across)
    margin = _margin(sizes[-1])
    inner = (slice(margin, -margin), slice(margin, -margin))
    # A step seen through a Gaussian of 3 pixels, the softest edge looked for.
    strong = steep[inner] >= least_step / (np.sqrt(2 * np.pi) * 3 * size)
    vertical = np.abs(down[inner]) > np.abs(across[inner])
    down_peak, across_peak = (
        steep[inner] == scipy.ndimage.maximum_filter1d(steep, 3, axis=axis)[inner]
        for axis in (0, 1)
    )
    peak = np.where(vertical, down_peak, across_peak)
    rows, columns = np.nonzero(peak & strong)
    rows, columns = rows + margin, columns + margin
    width = 2 * ceil(3 * size) + 1
    energy = [
        scipy.ndimage.uniform_filter(product, width)[rows, columns]
        for product in (down * down, across * across, down * across)
    ]
    straight = is_straight(*energy)
    rows, columns = rows[straight], columns[straight]
    length = steep[rows, columns]
    return np.stack(
        [
            rows,
            columns,
            down[rows, columns] / length,
            across[rows, columns] / length,
        ]
    ).astype(np.float64)


def _promising(
    picture: Picture, ridges: Floats, least_step: float, noise_l: float, size: float
) -> Floats:
    """Ridges with a step between even tones, as far as a few pixels tell."""
    tones = sampled_across(picture, ridges, _GLANCE * size, np.zeros(1), order=0)
    dark, light, wander = sides(tones[:, 0], _GLANCE, _PLATEAU)
    step = light - dark
    # Single pixels wander by noise, three of them by 4 standard deviations at most.
    even = wander <= MOST_UNEVENNESS * step + 4 * noise_l
    return ridges[:, even & (step >= 0.9 * least_step)]


def _even_ones(profiles: Floats, least_step: float) -> tuple[Floats, Floats]:
    """Profiles from one even tone to another, as shares of the step, and the tones."""
    dark, light, wander = sides(profiles, _ACROSS, _PLATEAU)
    step = light - dark
    keep = (step >= least_step) & (wander <= MOST_UNEVENNESS * step)
    low, height = dark[keep], step[keep]
    shares = (profiles[keep] - low[:, np.newaxis]) / height[:, np.newaxis]
    return shares, np.stack([low, low + height])


def _judged(
    profiles: Floats, tones_l: Floats, noise_l: float, size: float
) -> PictureEdges:
    """Softness and overshoot of profiles from 0 to 1, whose pixels have some noise."""
    middle = _ACROSS.size // 2
    up = steps_to_level(profiles[:, middle:], _HIGH)
    down = steps_to_level(-profiles[:, middle::-1], -_LOW)
    rise = up + down
    # A profile that is beyond a level in its middle has its edge elsewhere.
    usable = np.isfinite(rise) & (np.minimum(up, down) > 0)
    count = int(usable.sum())
    if count < FEWEST_EDGES:
        return PictureEdges(count=count)
    steps = tones_l[1] - tones_l[0]
    noise = noise_l / float(np.median(steps))
    strongest = int(np.argsort(steps)[int(_STRONGEST_SHARE * (steps.size - 1))])
    softness = rise[usable] * (_STEP * size / _RISE_SIGMAS)
    sharp = softness <= np.quantile(softness, _TYPICAL_SHARE)
    typical = np.median(profiles[usable][sharp], axis=0)
    above = max(float(typical.max()) - 1, 0.0)
    below = max(-float(typical.min()), 0.0)
    return PictureEdges(
        count=count,
        edge_sigma_px=_sharpest(softness, noise, size),
        overshoot_share=(above + below) / 2,
        # Resampling rings past black and white, where no tone of the picture lies.
        strongest_l=(
            max(float(tones_l[0, strongest]), 0.0),
            min(float(tones_l[1, strongest]), 100.0),
        ),
    )


def _sharpest(softness: Floats, noise: float, size: float) -> float:
    """Sharpest decile, less the scatter that noise makes."""
    decile, middle = np.quantile(softness, [SHARPEST_SHARE, 0.5])
    # Two crossings, each displaced by noise over slope.
    apart = 1 + min(size, 1.0) * (_ALONG.size - 1)
    scatter = np.sqrt(2 / apart) * noise / (_SLOPE * _RISE_SIGMAS)
    explained = _TENTH_SIGMAS * scatter * middle
    below = np.sqrt(max((middle - decile) ** 2 - explained**2, 0.0))
    return float(middle - below)
