"""What do sharpening and paper make of the strongest edge in a window?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import atan2, ceil, degrees
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.losses import light_of_lightness
from printplan.colour.spaces import named_profile
from printplan.colour.transforms import colorants_xyz, luminance_weights
from printplan.errors import SpecError
from printplan.pixels.as_seen import print_light
from printplan.pixels.search import lightness_of
from printplan.pixels.sheet import Appearance, varied
from printplan.sharpening.as_seen import spread_on_paper
from printplan.sharpening.edge_lines import (
    across_edge,
    positions_px,
    rise_px,
    steps_to_level,
)
from printplan.sharpening.edge_trace import find_straight_edge
from printplan.sharpening.halo import halo_arcmin
from printplan.sharpening.lightness import luminance
from printplan.sharpening.response import SpreadCurve, spread_sigma_um
from printplan.spec import NamedSpace
from printplan.units import LengthUnit, distance_words, mm_from_px, px_from_mm
from printplan.validation import require

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet
    from printplan.sharpening.edge_lines import EdgePlace
    from printplan.sizing.boxes import Box

    Floats = NDArray[np.float64]
    Light = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class SideHalo:
    """
    The halo on one side of an edge.

    Attributes
    ----------
    overshoot_share : float
        Share of the edge's step in L* by which the crest passes the outermost tone
        that lay beside the edge before sharpening, 0 or more.
    crest_mm : float
        Of the highest point, or on the dark side the lowest, from the edge's middle
        outwards; 0 without a halo, as all that follows.
    begins_mm : float
        Where half of the overshoot is reached, from the middle outwards.
    width_um, width_arcmin : float
        From there to where it is left again, on paper and at the eye.
    """

    overshoot_share: float
    crest_mm: float
    begins_mm: float
    width_um: float
    width_arcmin: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeProfile:
    """
    Light across an edge at one stage.

    Attributes
    ----------
    luminance : ndarray of float64, shape (positions,)
        1 is bare paper, or the perfect white if the paper is seen in the room.
    lightness_l : ndarray of float64, shape (positions,)
        L* of that.
    light, dark : SideHalo
        On the light side, and on the dark one.
    rise_um : float
        Distance on paper from 10 to 90 % of the step.
    """

    luminance: Floats
    lightness_l: Floats
    light: SideHalo
    dark: SideHalo
    rise_um: float


def edge_profile(  # noqa: PLR0913, PLR0917 - a profile, what it was, and its scales
    lightness: Floats,
    before: Floats,
    place: EdgePlace,
    position: Floats,
    ppi: float,
    distance_mm: float,
) -> EdgeProfile:
    """
    Light, halos and rise of the lightness across an edge.

    Parameters
    ----------
    lightness, before : ndarray of float64, shape (positions,)
        L*, and that before sharpening.
    place : EdgePlace
        Whose even tones count as 0 and 1.
    position : ndarray of float64, shape (positions,)
        Print pixels, from the dark side to the light one; 0 in the middle.
    ppi : float
        Print pixels per inch.
    distance_mm : float
        Eye to print.
    """
    edge, was = (
        (it - place.dark_l) / (place.light_l - place.dark_l)
        for it in (lightness, before)
    )
    middle = position.size // 2
    out_mm = np.asarray(mm_from_px(1.0, ppi) * position[middle:])
    return EdgeProfile(
        luminance=light_of_lightness(np.maximum(lightness, 0.0) / 100),
        lightness_l=lightness,
        light=_side(out_mm, edge[middle:], was[middle:], distance_mm),
        dark=_side(out_mm, 1 - edge[middle::-1], 1 - was[middle::-1], distance_mm),
        rise_um=1000 * mm_from_px(rise_px(edge, position), ppi),
    )


def _side(out_mm: Floats, edge: Floats, before: Floats, distance_mm: float) -> SideHalo:
    """
    The first crest beside the edge; what rises farther out is the picture's own.

    A halo is seen against what lies beside it, which in a photograph is seldom the even
    tone farther out. Before sharpening, a crest has that even tone alone to pass.
    """
    fallen = np.flatnonzero(np.maximum.accumulate(edge) - edge > _NO_HALO)
    crest = int(edge[: fallen[0]].argmax()) if fallen.size else 0
    beside = min(float(before[: _BESIDE * crest // 2 + 1].max()), 1.0)
    overshoot = float(edge[crest]) - beside
    if not crest or overshoot <= 0:
        return SideHalo(
            overshoot_share=0.0,
            crest_mm=0.0,
            begins_mm=0.0,
            width_um=0.0,
            width_arcmin=0.0,
        )
    rising = np.flatnonzero(np.diff(edge[crest:]) > 0)
    valley = crest + int(rising[0]) if rising.size else edge.size - 1
    half = beside + overshoot / 2
    inner, outer = (
        min(float(steps_to_level(-part, -half)), part.size - 1)
        for part in (edge[crest::-1], edge[crest : valley + 1])
    )
    step_mm = float(out_mm[1])
    width_mm = step_mm * (inner + outer)
    return SideHalo(
        overshoot_share=overshoot,
        crest_mm=float(out_mm[crest]),
        begins_mm=step_mm * (crest - inner),
        width_um=1000 * width_mm,
        width_arcmin=halo_arcmin(width_mm, distance_mm),
    )


LEAST_ROOM_PX = 8.0
"""Even tone wanted beside an edge, at least, in print pixels: our choice."""

# Halves of the crest's distance out to which tones lie beside it: an edge before
# sharpening has come within 0.4 % of its even tone there. Our choice.
_BESIDE = 3

# What is worth words: our choice.
_NO_HALO, _OWN_HALO = 0.005, 0.03

# Light from farther away than this changes an edge by less than a code: our choice.
_TAIL_MM, _TAIL_PX = 1.0, 16


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StrongestEdge:
    """
    The steepest straight edge of a window, from the real pixels of the file.

    Attributes
    ----------
    box : Box
        The window, in file pixels.
    across_px, down_px : float
        Middle of the edge, in file pixels from the file's left top corner.
    angle_deg : float
        Of the edge's line against the vertical, −90 to 90, leaning right above 0.
    dark_l, light_l : float
        L* of the even tones beside it.
    position_mm : ndarray of float64, shape (positions,)
        Across the edge on paper, from the dark side to the light one; 0 in its middle.
    distance_mm : float
        Eye to print.
    spread : float or SpreadCurve
        Of printer and paper that was reckoned with.
    before, in_file, in_print : EdgeProfile
        Without sharpening; as the file asks for it; after light has spread in paper.
    words : str
        What came of it.
    """

    box: Box
    across_px: float
    down_px: float
    angle_deg: float
    dark_l: float
    light_l: float
    position_mm: Floats
    distance_mm: float
    spread: float | SpreadCurve
    before: EdgeProfile
    in_file: EdgeProfile
    in_print: EdgeProfile
    words: str


def strongest_edge(
    sheet: Sheet,
    box: Box,
    *,
    spread: float | SpreadCurve,
    distance_mm: float,
    appearance: Appearance = Appearance.PAPER_ALONE,
) -> StrongestEdge:
    """
    The steepest straight edge of a window and what becomes of it.

    Parameters
    ----------
    box : Box
        In file pixels, inside the file.
    spread : float or SpreadCurve
        Of printer and paper: standard deviation in µm, 0 to 500, or a measured
        response.
    distance_mm : float
        Eye to print, 50 to 50,000.

    Raises
    ------
    SpecError
        If a number is outside its range, the window is outside the file, or it has
        no straight edge between even tones.

    Notes
    -----
    The edge is sought before sharpening, and its place serves all three profiles, so
    that they lie on each other. L* is read by a spline between pixels and averaged
    over 17 print pixels along the edge. In the print, light of the file's own pixels
    spreads in two dimensions, as in `as_seen`. Overshoot and widths are of L*, in
    which sharpening works, against the tones beside the edge before sharpening, up to
    half again as far out as the crest: a grain floor, a halo limit and whatever lies
    beside the edge are in them, unlike in a prediction.
    """
    if not isinstance(spread, SpreadCurve):
        require("Paper spread", spread, 0, 500, "µm")
    require("Viewing distance", distance_mm, 50, 50_000, "mm")
    ppi = sheet.plan.ppi
    screen = named_profile(NamedSpace.SRGB)
    weights = luminance_weights(screen)
    edge_sigma_px = px_from_mm(spread_sigma_um(spread) / 1000, ppi)
    room_px = max(LEAST_ROOM_PX, 3 * (sheet.plan.radius_px + edge_sigma_px) + 4)

    spec = sheet.plan.spec
    plain = varied(sheet, replace(spec, sharpen=replace(spec.sharpen, gain=0.0)))
    before_light = np.clip(print_light(plain, box, appearance), 0.0, None)
    before_l = lightness_of(before_light, colorants_xyz(screen))
    place = find_straight_edge(before_l, room_px=room_px)
    margin = ceil(px_from_mm(_TAIL_MM, ppi)) + _TAIL_PX
    light = luminance(print_light(sheet, box, appearance, margin), weights)
    inner = slice(margin, -margin)
    planes = (
        before_l,
        _lightness(light[inner, inner]),
        _lightness(spread_on_paper(light, spread, ppi)[inner, inner]),
    )
    position = positions_px(room_px)
    lines = [across_edge(plane, place, position) for plane in planes]
    before, in_file, in_print = (
        edge_profile(line, lines[0], place, position, ppi, distance_mm)
        for line in lines
    )
    down, across = place.towards_light
    edge = StrongestEdge(
        box=box,
        across_px=box.left + place.column + 0.5,
        down_px=box.top + place.row + 0.5,
        angle_deg=(degrees(atan2(down, across)) + 90) % 180 - 90,
        dark_l=place.dark_l,
        light_l=place.light_l,
        position_mm=np.asarray(mm_from_px(1.0, ppi) * position),
        distance_mm=distance_mm,
        spread=spread,
        before=before,
        in_file=in_file,
        in_print=in_print,
        words="",
    )
    return replace(edge, words=_words(edge, sheet.plan.spec.lengths_in))


def strongest_edge_of(
    sheet: Sheet,
    boxes: Sequence[Box],
    *,
    spread: float | SpreadCurve,
    distance_mm: float,
    appearance: Appearance = Appearance.PAPER_ALONE,
) -> StrongestEdge:
    """
    The steepest straight edge of several windows, such as the look-here windows.

    Parameters
    ----------
    boxes : sequence of Box
        In file pixels.
    spread, distance_mm, appearance
        As `strongest_edge` takes them.

    Returns
    -------
    StrongestEdge
        By the rise before sharpening, L* per millimetre.

    Raises
    ------
    SpecError
        If no window has an edge; the first window's refusal is its cause.
    """
    edges: list[StrongestEdge] = []
    refused: list[SpecError] = []
    for box in boxes:
        try:
            edges.append(
                strongest_edge(
                    sheet,
                    box,
                    spread=spread,
                    distance_mm=distance_mm,
                    appearance=appearance,
                )
            )
        except SpecError as error:
            refused.append(error)
    if not edges:
        first = refused[0] if refused else None
        raise SpecError(
            f"None of {len(boxes)} windows shows a straight edge. "
            f"{first.problem if first else ''}".strip(),
            remedy=first.remedy if first else "Give one window or more.",
        ) from first
    return max(
        edges, key=lambda edge: (edge.light_l - edge.dark_l) / edge.before.rise_um
    )


def _lightness(light: Light) -> Light:
    """L* of luminance."""
    return lightness_of(np.clip(light, 0.0, None)[None], np.ones((3, 1)))


def _words(edge: StrongestEdge, unit: LengthUnit) -> str:
    """What sharpening and paper made of the edge."""
    own, file, paper = (
        profile.light for profile in (edge.before, edge.in_file, edge.in_print)
    )
    dark = edge.in_print.dark.overshoot_share
    words = (
        f"The strongest straight edge here goes from L* {edge.dark_l:.0f} to "
        f"{edge.light_l:.0f}. It rises from 10 to 90% within "
        f"{edge.before.rise_um:.0f} µm before sharpening, {edge.in_file.rise_um:.0f} "
        f"µm in the file and {edge.in_print.rise_um:.0f} µm in the print."
    )
    if own.overshoot_share >= _OWN_HALO:
        words += (
            f" Before any sharpening it overshoots by {own.overshoot_share:.0%} "
            "already: in the master, or by resampling."
        )
    if paper.overshoot_share < _NO_HALO:
        return f"{words} In the print it has no halo to speak of."
    return (
        f"{words} Its light side overshoots by {file.overshoot_share:.0%} in the file "
        f"and by {paper.overshoot_share:.0%} in the print; that halo is "
        f"{paper.width_um:.0f} µm wide, {paper.width_arcmin:.1f} arcmin at "
        f"{distance_words(unit, edge.distance_mm)}. Its dark side overshoots by "
        f"{dark:.0%} in the print."
    )
