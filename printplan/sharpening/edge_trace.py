"""Where in a region does its straight edge run, and may it be measured?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import islice
from math import ceil, degrees, radians, tan
from typing import TYPE_CHECKING

import numpy as np
import scipy
from numpy.polynomial import polynomial

from printplan.errors import SpecError
from printplan.sharpening.edge_lines import (
    ALONG,
    ALONG_PX,
    LEAST_STEP_L,
    MOST_UNEVENNESS,
    EdgePlace,
    is_straight,
    lines_across,
    positions_px,
    rise_px,
    sides,
)
from printplan.sharpening.gaussian import slopes
from printplan.sharpening.lightness import cie_lightness

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Picture = NDArray[np.float32]


LEAST_TILT_DEG, LARGEST_TILT_DEG = 3.0, 10.0
"""Tilts measured. ISO 12233 draws its edges at 5°, and a sheet lies a little askew on
a scanner; below 3° an edge would have to be long to meet the pixels everywhere."""

LEAST_L_CONTRAST = 8.0
"""Step in L* that is still measured: some 20 codes of an 8-bit scan. Our choice."""

LARGEST_CLIPPED_SHARE = 0.05
"""Pixels of one side at the end of the scale, at most: fewer are noise. Our choice."""

LEAST_CROSSINGS = 2.0
"""Columns of pixels that the edge must cross to meet them at all phases, twice."""

_LEAST_PX = 20
# Outer part of the region that shows what tone lies on each side.
_SIDE_SHARE = 0.15
_LOCATING_HALF_PX = 12.0
_SLACK = 0.5
_LARGEST_SKIPPED_SHARE = 0.25
_LEAST_RISE = 0.2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trace:
    """
    A region turned so that its edge runs downwards, dark at the left.

    Attributes
    ----------
    values : ndarray of float64, shape (lines, columns)
        The region's lines across the edge, without those where the edge is disturbed.
    distance_px : ndarray of float64, shape (lines, columns)
        Of each pixel from the edge, at right angles to it; negative in the dark.
    dark, light : float
        Levels of both sides, by the median.
    l_contrast : float
        L* of the light side less that of the dark side.
    angle_deg : float
        Tilt against the nearer pixel axis, unsigned.
    bend_px : float
        Height of the edge's arc, unsigned.
    """

    values: Floats
    distance_px: Floats
    dark: float
    light: float
    l_contrast: float
    angle_deg: float
    bend_px: float


def trace_edge(region: NDArray[np.floating]) -> Trace:
    """
    Find the curve of the one edge in a region.

    Parameters
    ----------
    region : ndarray of float, shape (rows, columns)
        Linear reflectance, 0 to 1.

    Raises
    ------
    SpecError
        If there is no edge that can be measured.
    """
    values, dark, light = _dark_left(_checked(region))
    contrast = float(cie_lightness(light) - cie_lightness(dark))
    if contrast < LEAST_L_CONTRAST:
        raise SpecError(
            f"Both sides of the edge differ by {abs(contrast):.1f} L*; it takes "
            f"{LEAST_L_CONTRAST:g}.",
            remedy="Measure an edge with more contrast, or check that the region "
            "holds the edge in its middle.",
        )
    _refuse_clipped(values)
    curve, kept = _curve(values, dark, light)
    lines, columns = values.shape
    along = _along(lines)
    slope = float(curve[1])
    angle_deg = abs(degrees(np.arctan(slope)))
    _refuse_tilt(angle_deg)
    crossed = lines * abs(slope)
    if crossed < LEAST_CROSSINGS:
        needed = ceil(LEAST_CROSSINGS / tan(radians(angle_deg)))
        raise SpecError(
            f"The edge is too short: {lines} lines at {angle_deg:.1f}° cross "
            f"{crossed:.1f} columns of pixels; {LEAST_CROSSINGS:g} is the least.",
            remedy=f"Measure {needed} lines or more: a longer edge, or a scan at "
            "more ppi.",
        )
    place = polynomial.polyval(along, curve)
    distance_px = (np.arange(columns) - place[:, None]) * np.cos(np.arctan(slope))
    return Trace(
        values=values[kept],
        distance_px=distance_px[kept],
        dark=dark,
        light=light,
        l_contrast=contrast,
        angle_deg=angle_deg,
        bend_px=float(np.abs(curve[2])) * ((lines - 1) / 2) ** 2,
    )


def _checked(region: NDArray[np.floating]) -> Floats:
    """The region as float64, if it can be a picture of linear reflectance at all."""
    values = np.asarray(region, np.float64)
    if values.ndim != 2 or min(values.shape) < _LEAST_PX:
        raise SpecError(
            f"The region has the shape {values.shape}; the edge is too short.",
            remedy=f"Give rows and columns of one grey channel, {_LEAST_PX} or more "
            "of each; 100 × 100 is comfortable.",
        )
    low, high = float(values.min()), float(values.max())
    # A NaN fails every comparison.
    if not (low >= -_SLACK and high <= 1 + _SLACK):
        raise SpecError(
            f"The region holds values from {low:g} to {high:g}.",
            remedy="Give linear reflectance from 0 to 1: divide codes by their "
            "largest and undo their encoding.",
        )
    return values


def _dark_left(values: Floats) -> tuple[Floats, float, float]:
    """Turn and mirror, so that the edge runs downwards with its dark side left."""
    # By means: a slanted edge ends in the middle of the other two borders, and there
    # a median would fall to either side.
    across, down = (np.diff(_ends(turned, np.mean)) for turned in (values, values.T))
    if abs(down) > abs(across):
        values, across = values.T, down
    if across < 0:
        values = values[:, ::-1]
    first, last = _ends(values, np.median)
    return values, first, last


def _ends(
    values: Floats, middle: Callable[[Floats], np.floating]
) -> tuple[float, float]:
    """Middle tone of the leftmost and of the rightmost columns."""
    strip = _strip(values)
    return float(middle(values[:, :strip])), float(middle(values[:, -strip:]))


def _strip(values: Floats) -> int:
    return max(int(values.shape[1] * _SIDE_SHARE), 2)


def _refuse_clipped(values: Floats) -> None:
    strip = _strip(values)
    shares = {
        "dark": float(np.mean(values[:, :strip] <= 0)),
        "light": float(np.mean(values[:, -strip:] >= 1)),
    }
    clipped = [side for side, share in shares.items() if share > LARGEST_CLIPPED_SHARE]
    if clipped:
        found = " and ".join(
            f"{shares[side]:.0%} of its {side} side" for side in clipped
        )
        raise SpecError(
            f"The edge is clipped: {found} lies at the end of the scale; "
            f"{LARGEST_CLIPPED_SHARE:.0%} is the limit.",
            remedy="Scan again without automatic exposure or contrast, or measure an "
            "edge between middle tones.",
        )


def _refuse_tilt(angle_deg: float) -> None:
    if not LEAST_TILT_DEG <= round(angle_deg, 1) <= LARGEST_TILT_DEG:
        raise SpecError(
            f"The edge is tilted by {angle_deg:.1f}° against the pixels; "
            f"{LEAST_TILT_DEG:g} to {LARGEST_TILT_DEG:g}° can be measured.",
            remedy="Lay the sheet so that its edges are 5° askew, or straight if the "
            "edges are drawn askew already, and scan again.",
        )


def _along(lines: int) -> Floats:
    """Places of the lines along the edge, from the middle."""
    return np.arange(lines, dtype=np.float64) - (lines - 1) / 2


def _curve(
    values: Floats, dark: float, light: float
) -> tuple[Floats, NDArray[np.bool_]]:
    """
    Parabola of the edge, and the lines that agree with it.

    The first place in a line is where a sharp edge would leave it as much light;
    then the centroid of the derivative, in a window that follows the curve.
    """
    lines, columns = values.shape
    along = _along(lines)
    place = np.sum(np.clip((light - values) / (light - dark), -1, 2), axis=1) - 0.5
    # A straight line first: the first places are too noisy to tell a bend.
    every = np.ones(lines, np.bool_)
    curve, kept = _fitted(along, place, every, degree=1)
    slopes = np.diff(values, axis=1)
    middles = np.arange(columns - 1) + 0.5
    half_px = min(_LOCATING_HALF_PX, columns / 4)
    for degree in (1, 2, 2):
        expected = polynomial.polyval(along, curve)
        beside = middles - expected[:, None]
        weight = np.cos(np.pi / 2 * np.clip(beside / half_px, -1, 1)) ** 2
        weighted = slopes * weight
        total = weighted.sum(axis=1)
        # A line that does not rise where it should has no centroid.
        rising = total > _LEAST_RISE * (light - dark)
        if np.mean(rising) < 1 - _LARGEST_SKIPPED_SHARE:
            kept = rising
            break
        off = (weighted * beside).sum(axis=1) / np.where(rising, total, 1)
        curve, kept = _fitted(along, expected + off, rising, degree)
    skipped = 1 - float(kept.mean())
    if skipped > _LARGEST_SKIPPED_SHARE:
        raise SpecError(
            f"{skipped:.0%} of the lines across the edge do not show it where the "
            f"others do; {_LARGEST_SKIPPED_SHARE:.0%} is the limit.",
            remedy="Give a region with one straight edge right through it, free of "
            "dust and scratches, or one with less noise.",
        )
    return curve, kept


def _fitted(
    along: Floats, place: Floats, usable: NDArray[np.bool_], degree: int
) -> tuple[Floats, NDArray[np.bool_]]:
    """Least squares without outliers: coefficients upwards, padded to a parabola."""
    kept = usable
    curve = np.zeros(degree + 1)
    for _ in range(4):
        fit = polynomial.polyfit(along[kept], place[kept], degree)
        curve = np.asarray(fit, np.float64)
        off = np.abs(place - polynomial.polyval(along, curve))
        # 1.4826: the median of absolute deviations of a normal law to its sigma.
        kept = usable & (off <= max(4 * 1.4826 * float(np.median(off[usable])), 0.25))
    return np.pad(curve, (0, 2 - degree)), kept


MOST_PAST = 0.15
"""How far the edge may pass its even tones before sharpening, over the step: beyond,
a line runs along it. Resampling alone makes up to a tenth. Our choice."""

MOST_RISE = 0.8
"""Width of the edge from 10 to 90 %, over the room beside it: beyond, it has no even
tone there. Our choice."""

LARGEST_BEND_PX = 0.35
"""Root mean square distance of the edge from a straight line, at most: our choice."""

# Places tried: the steepest of each square of so many pixels; and edges found that
# are compared.
_CELL_PX, _MOST_PLACES, _MOST_EDGES = 12, 240, 8
# Scale of the gradient: as wide as the sharpest edges that resampling leaves.
_GRADIENT_PX = 1.0
# Positions are looked at by so many in the search.
_SEARCH_EVERY = 2
# Profiles begin to count as even tone at this share of the room beside the edge.
_EVEN_FROM = 0.6


def find_straight_edge(lightness: Picture, *, room_px: float) -> EdgePlace:
    """
    The steepest edge that is straight and has an even tone on each side.

    Parameters
    ----------
    lightness : ndarray of float32, shape (rows, columns)
        L* before sharpening.
    room_px : float
        Even tone that is needed beside the edge: as far as sharpening reaches.

    Raises
    ------
    SpecError
        If there is none.

    Notes
    -----
    Ridges of the gradient where its direction holds still; there, the mean profile
    across the edge over 17 pixels along it. A straight line fitted to where each of
    those 17 lines passes the middle tone corrects place and direction.
    """
    reach = ceil(np.hypot(room_px, ALONG_PX)) + 2
    if min(lightness.shape) <= 2 * reach:
        raise SpecError(
            f"The window of {lightness.shape[1]} × {lightness.shape[0]} print pixels "
            f"has no room for an edge and {room_px:.0f} px of even tone beside it.",
            remedy=f"Open a window of {4 * reach} × {4 * reach} print pixels or more.",
        )
    coefficients = scipy.ndimage.spline_filter(lightness, order=3, output=np.float32)
    position = positions_px(room_px)[::_SEARCH_EVERY]
    places = _steepest(lightness, reach)
    tried = (
        _measured(coefficients, place, position)
        for place in _promising(lightness, places, position)
    )
    # They come from the steepest down, as pixels tell: the best is among the first.
    edges = list(islice(filter(None, tried), _MOST_EDGES))
    if not edges:
        raise SpecError(
            "There is no straight edge in this window with a step of "
            f"{LEAST_STEP_L:g} L* or more and {room_px:.0f} print pixels of even tone "
            "on each side.",
            remedy="Open a window on a plain outline, such as a rim or a stem before "
            "an even ground, or choose a smaller sharpening radius.",
        )
    return max(edges, key=lambda edge: edge.steepness_l_px)


def _steepest(lightness: Picture, reach: int) -> list[EdgePlace]:
    """Straight places, the steepest of each cell, from the steepest down."""
    down, across = slopes(lightness, _GRADIENT_PX)
    steep = np.hypot(down, across)
    energy = [
        scipy.ndimage.uniform_filter(product, ALONG_PX + 1)
        for product in (down * down, across * across, down * across)
    ]
    steep = np.where(is_straight(*energy), steep, 0)[reach:-reach, reach:-reach]
    rows, columns = (length // _CELL_PX + 1 for length in steep.shape)
    padded = np.zeros((rows * _CELL_PX, columns * _CELL_PX), np.float32)
    padded[: steep.shape[0], : steep.shape[1]] = steep
    cells = padded.reshape(rows, _CELL_PX, columns, _CELL_PX).swapaxes(1, 2)
    flat = cells.reshape(rows * columns, -1)
    inside, most = flat.argmax(axis=1), flat.max(axis=1)
    places = []
    for cell in np.argsort(-most)[:_MOST_PLACES]:
        if most[cell] <= 0:
            break
        row = int(cell // columns * _CELL_PX + inside[cell] // _CELL_PX + reach)
        column = int(cell % columns * _CELL_PX + inside[cell] % _CELL_PX + reach)
        # The mean direction round the place: half the angle of the energy's axis.
        turn = 0.5 * np.arctan2(
            2 * energy[2][row, column], energy[1][row, column] - energy[0][row, column]
        )
        normal = np.array([np.sin(turn), np.cos(turn)])
        normal *= np.sign(normal @ [down[row, column], across[row, column]]) or 1.0
        places.append(
            EdgePlace(
                row=row,
                column=column,
                towards_light=(float(normal[0]), float(normal[1])),
                dark_l=0.0,
                light_l=0.0,
                steepness_l_px=float(most[cell]),
            )
        )
    return places


def _promising(
    lightness: Picture, places: list[EdgePlace], position: Floats
) -> list[EdgePlace]:
    """Those with a step between even tones, as far as whole pixels tell."""
    kept = []
    glanced = position[::4]
    for place in places:
        glance = lines_across(lightness, place, glanced, order=0).mean(axis=0)
        dark, light, wander = sides(glance, glanced, _EVEN_FROM * position[-1])
        step = light - dark
        if step >= 0.9 * LEAST_STEP_L and wander <= 1.5 * MOST_UNEVENNESS * step:
            kept.append(place)
    return kept


def _measured(
    coefficients: Picture, place: EdgePlace, position: Floats
) -> EdgePlace | None:
    """The place set on the edge's own line; None if it is no straight edge."""
    even_from = _EVEN_FROM * position[-1]
    for _ in range(2):
        lines = lines_across(coefficients, place, position)
        dark, light, _ = sides(lines.mean(axis=0), position, even_from)
        if light - dark < LEAST_STEP_L:
            return None
        crossing = _crossings(lines, float(dark + light) / 2, position)
        if not np.isfinite(crossing).all():
            return None
        slope, start = np.polyfit(ALONG, crossing, 1)
        bend = crossing - np.polyval((slope, start), ALONG)
        if np.sqrt(np.mean(bend**2)) > LARGEST_BEND_PX:
            return None
        place = _moved(place, float(start), float(slope))
    profile = lines_across(coefficients, place, position).mean(axis=0)
    dark, light, wander = sides(profile, position, even_from)
    step = light - dark
    if step < LEAST_STEP_L or wander > MOST_UNEVENNESS * step:
        return None
    edge = (profile - dark) / step
    past = max(float(edge.max()) - 1, -float(edge.min()))
    if past > MOST_PAST or rise_px(edge, position) > MOST_RISE * position[-1]:
        return None
    return replace(
        place,
        dark_l=float(dark),
        light_l=float(light),
        steepness_l_px=float(np.gradient(profile, position).max()),
    )


def _crossings(lines: Floats, level: float, position: Floats) -> Floats:
    """Where each line passes a level, nearest to the middle; NaN if nowhere."""
    above = lines >= level
    rises = ~above[:, :-1] & above[:, 1:]
    away = np.where(rises, np.abs(position[:-1]), np.inf)
    at = away.argmin(axis=1)
    line = np.arange(len(lines))
    before, after = lines[line, at], lines[line, at + 1]
    with np.errstate(invalid="ignore", divide="ignore"):
        share = (level - before) / (after - before)
    found = position[at] + share * (position[1] - position[0])
    return np.where(rises.any(axis=1), found, np.nan)


def _moved(place: EdgePlace, by_px: float, slope: float) -> EdgePlace:
    """The place on a line that lies so far towards the light, and is turned so."""
    down, across = place.towards_light
    turn = np.arctan(slope)
    return replace(
        place,
        row=place.row + by_px * down,
        column=place.column + by_px * across,
        towards_light=(
            float(down * np.cos(turn) + across * np.sin(turn)),
            float(across * np.cos(turn) - down * np.sin(turn)),
        ),
    )
