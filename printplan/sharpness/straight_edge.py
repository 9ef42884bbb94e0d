"""Where in a picture is the strongest straight edge?"""

from __future__ import annotations

from dataclasses import replace
from itertools import islice
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from scipy import ndimage

from printplan.errors import SpecError
from printplan.sharpness.edge_place import (
    ALONG,
    ALONG_PX,
    EdgePlace,
    lines_across,
    positions_px,
    rise_px,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Picture = NDArray[np.float32]

LEAST_STEP_L = 8.0
"""Step that counts as an edge, at least: our choice, as in `picture_edges`."""

MOST_UNEVENNESS = 0.1
"""Wander of the tone on either side, over the step: beyond, a halo is not told from
what lies beside the edge. Our choice."""

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
# Share of the gradient's energy in one direction, nearly all where an edge is straight.
_LEAST_STRAIGHTNESS = 0.9
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

    Returns
    -------
    EdgePlace

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
    coefficients = ndimage.spline_filter(lightness, order=3, output=np.float32)
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
    down = ndimage.gaussian_filter(lightness, _GRADIENT_PX, order=(1, 0))
    across = ndimage.gaussian_filter(lightness, _GRADIENT_PX, order=(0, 1))
    steep = np.hypot(down, across)
    energy = [
        ndimage.uniform_filter(product, ALONG_PX + 1)
        for product in (down * down, across * across, down * across)
    ]
    along = np.hypot(energy[0] - energy[1], 2 * energy[2])
    straight = along >= _LEAST_STRAIGHTNESS * (energy[0] + energy[1])
    steep = np.where(straight, steep, 0)[reach:-reach, reach:-reach]
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
    for place in places:
        glance = lines_across(lightness, place, position[::4], order=0).mean(axis=0)
        dark, light, wander = _sides(glance, position[::4])
        step = light - dark
        if step >= 0.9 * LEAST_STEP_L and wander <= 1.5 * MOST_UNEVENNESS * step:
            kept.append(place)
    return kept


def _measured(
    coefficients: Picture, place: EdgePlace, position: Floats
) -> EdgePlace | None:
    """The place set on the edge's own line; None if it is no straight edge."""
    for _ in range(2):
        lines = lines_across(coefficients, place, position)
        dark, light, _ = _sides(lines.mean(axis=0), position)
        if light - dark < LEAST_STEP_L:
            return None
        crossing = _crossings(lines, (dark + light) / 2, position)
        if not np.isfinite(crossing).all():
            return None
        slope, start = np.polyfit(ALONG, crossing, 1)
        bend = crossing - np.polyval((slope, start), ALONG)
        if np.sqrt(np.mean(bend**2)) > LARGEST_BEND_PX:
            return None
        place = _moved(place, float(start), float(slope))
    profile = lines_across(coefficients, place, position).mean(axis=0)
    dark, light, wander = _sides(profile, position)
    step = light - dark
    if step < LEAST_STEP_L or wander > MOST_UNEVENNESS * step:
        return None
    edge = (profile - dark) / step
    past = max(float(edge.max()) - 1, -float(edge.min()))
    if past > MOST_PAST or rise_px(edge, position) > MOST_RISE * position[-1]:
        return None
    return replace(
        place,
        dark_l=dark,
        light_l=light,
        steepness_l_px=float(np.gradient(profile, position).max()),
    )


def _sides(profile: Floats, position: Floats) -> tuple[float, float, float]:
    """Tone of the dark side and of the light one, and how far either wanders."""
    even = _EVEN_FROM * position[-1]
    dark, light = profile[position <= -even], profile[position >= even]
    wander = max(float(np.ptp(dark)), float(np.ptp(light)))
    return float(dark.mean()), float(light.mean()), wander


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
