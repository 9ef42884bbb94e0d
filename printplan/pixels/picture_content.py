"""What is the printed picture made of, as far as sharpening cares?"""

from __future__ import annotations

from dataclasses import replace
from math import ceil, cos, floor, log, radians, sin
from typing import TYPE_CHECKING, Any

import numpy as np
import scipy

from printplan.colour.transforms import luminance_weights
from printplan.errors import SpecError
from printplan.pixels.kept_measures import KeptMeasures
from printplan.pixels.resampled_light import ResampledLight
from printplan.sharpening.content import (
    SHARPENED_OVERSHOOT,
    SMALLEST_PX,
    ContentFacts,
    measure_content,
    sigma_after_resampling,
)
from printplan.sharpening.halo import PIXEL_SIGMA_PX
from printplan.sharpening.lightness import lighten, lightness_of_light
from printplan.sharpening.noise import BandNoise, resampled_noise
from printplan.sharpening.picture_edges import PictureEdges, picture_edges
from printplan.sharpening.simulated_edge import light_of_l
from printplan.sizing.boxes import Box
from printplan.sizing.print_size import Crop
from printplan.sizing.resampling import resample_plane
from printplan.units import px_from_mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan

    ContentKey = tuple[str, str, Crop, tuple[int, int], float]

WHOLE_PIXELS = 16_000_000
"""Pixels up to which edges and noise are measured in the whole picture: those of the
print, or of the master if it has fewer. Our choice: it takes two to three seconds."""

SAMPLE_PIXELS = 12_000_000
"""Pixels of the parts that stand for a larger picture, about: our choice."""

KIND_PIXELS = 4_000_000
"""Print pixels that tell smooth areas from texture, if edges are measured in the
master's: our choice."""

WHOLE_PART_PX, PART_PX, KIND_PART_PX = 1024, 768, 512
"""Edge, about, of parts of a picture that is measured whole, of those that stand for a
larger one, and of those that tell its kind: our choice. Smaller ones see more places,
but edges near their borders are not measured."""

FEWEST_EDGES = 100
"""Places on edges below which parts say nothing of the picture's edges. Our choice: the
softness of 100 places scatters by 6 to 10 % if each is on an edge of its own, and in
the demo's photographs by 9 to 43 % where they lie in a few parts, because those on one
edge come together. What a whole picture has is no sample, and `picture_edges` takes
fewer."""

RESAMPLED_OVERSHOOT = 0.045
"""Overshoot of a resampled edge that `SHARPENED_OVERSHOOT` allows for already."""

MUCH_REDUCED = 0.8
"""Print pixels per master pixel up to which softness is looked up in the master: our
choice."""

# A drawn edge: columns and rows in pixels of the coarser side. It leans by 5°, as edges
# to measure do (ISO 12233).
_DRAWN_EDGE, _DRAWN_TILT = (56, 96), radians(5)
_HALVINGS = 7

# Parts begin and end at multiples of it: what is measured depends a little on where.
_GRID_PX = 256
# The golden section: shifts by it never fall into step.
_ROW_SHIFT = (5**0.5 - 1) / 2


MOST_KEPT = 64
"""Contents that a process keeps: some kilobytes in all."""


def _read_facts(told: dict[str, Any]) -> ContentFacts:
    tones_l = told["edge_tones_l"]
    return ContentFacts(
        **told
        | {
            "noise_by_tone": tuple(BandNoise(**it) for it in told["noise_by_tone"]),
            "edge_tones_l": None if tones_l is None else (tones_l[0], tones_l[1]),
        }
    )


_kept: KeptMeasures[ContentKey, ContentFacts] = KeptMeasures(
    "content", MOST_KEPT, _read_facts
)


def content_key(plan: PrintPlan) -> ContentKey:
    """
    What the content of a print depends on.

    Returns
    -------
    tuple
        Plans with the same one print the same picture, wherever it lies: its edges are
        rounded on the sheet, and may come together by a pixel as it is moved. So its
        pixels are counted as if it lay at the sheet's corner.
    """
    facts, size = plan.facts, plan.picture_size
    size_px = (
        max(round(px_from_mm(size.width_mm, plan.ppi)), 1),
        max(round(px_from_mm(size.height_mm, plan.ppi)), 1),
    )
    lighten_l = plan.spec.colour.lighten_l
    return facts.sha256, facts.profile_sha256, plan.crop, size_px, lighten_l


def known_content(plan: PrintPlan) -> ContentFacts | None:
    """What `picture_content` measured for such a plan, if it is kept."""
    return _kept.known(content_key(plan))


def estimated_content(plan: PrintPlan) -> ContentFacts | None:
    """
    Estimate a print's content from what was measured of the picture in another size.

    Returns
    -------
    ContentFacts or None
        None if nothing was measured of this picture, lightened as it is. That of the
        nearest size is taken, as resampling changes it: edges get wider by as much as
        the picture, and noise that was white in the master keeps `resampled_noise`.
        Shares of the area and the tones of edges are those that were found.

    Notes
    -----
    It takes no pixel, so a slider need not wait; `picture_content` tells what is true.
    The part of the picture that is printed may be another one.
    """
    sha256, profile_sha256, crop, size_px, lighten_l = content_key(plan)
    found = [
        (kept_size_px[0] / kept_crop.width_px, kept_crop == crop, facts)
        for (*picture, kept_crop, kept_size_px, kept_l), facts in _kept.all_known()
        if (*picture, kept_l) == (sha256, profile_sha256, lighten_l)
    ]
    if not found:
        return None
    enlargement = size_px[0] / crop.width_px
    before, _, facts = min(
        found, key=lambda it: (abs(log(it[0] / enlargement)), not it[1])
    )
    left = resampled_noise(enlargement) / resampled_noise(before)
    softness = facts.master_edge_sigma_px
    if softness is not None:
        softness *= enlargement / before
    return replace(
        facts,
        master_edge_sigma_px=softness,
        edge_sigma_px=None
        if softness is None
        else sigma_after_resampling(softness, enlargement),
        noise_l=left * facts.noise_l,
        noise_by_tone=tuple(
            replace(band, noise_l=left * band.noise_l) for band in facts.noise_by_tone
        ),
        grain_l=left * facts.grain_l,
        words=f"{facts.words.removesuffix('.')}; estimated from another size until it "
        "is measured.",
    )


def picture_content(sheet: Sheet) -> ContentFacts:
    """
    Measure the picture's edges, noise and texture at print size.

    Parameters
    ----------
    sheet : Sheet
        Its pixels are measured as its sharpening meets them: at print size, lightened
        for their room.

    Returns
    -------
    ContentFacts
        It holds as long as `content_key` stays the same, and is kept, see
        `KeptMeasures`: measuring takes seconds.

    Raises
    ------
    SpecError
        If the picture is smaller than 128 print pixels one way, or clipped all over.

    Notes
    -----
    Edges and noise are measured in print pixels, or in the master's if the print
    enlarges them; smooth and textured shares always in print pixels.

    Up to `WHOLE_PIXELS` the whole picture is measured. Of a larger one,
    `content_parts` are, and the words say so. How far these may be off depends on the
    picture: where little of it is in focus, softness hangs on whether they show it.
    """
    # Findings, words and choice ask at once: one measures, the others wait for it.
    return _kept.of(content_key(sheet.plan), lambda: _measured(sheet))


def _measured(sheet: Sheet) -> ContentFacts:
    *_, crop, size_px, _ = content_key(sheet.plan)
    light, enlargement = (
        ResampledLight(sheet.master, crop, size_px),
        sheet.plan.enlargement,
    )
    coarse = _in_master(light)
    whole = (coarse or light).picture
    pixels = whole.width * whole.height
    boxes = content_parts(whole, pixels if pixels <= WHOLE_PIXELS else SAMPLE_PIXELS)
    parts = [_lightness(sheet, coarse or light, box) for box in boxes]
    try:
        if coarse is None:
            facts = measure_content(parts, enlargement=enlargement)
        else:
            kind = _kind_parts(sheet, light)
            facts = measure_content(kind, enlargement=enlargement, in_master=parts)
    except SpecError as error:
        raise SpecError(
            error.problem,
            remedy="Set gain and radius by hand, or take a larger print, 128 px or "
            "more each way, of a master with tones between L* 2 and 98.",
        ) from error
    facts = _with_true_sigma(sheet, facts, in_master=coarse is not None)
    seen = sum(part.size for part in parts) / pixels
    return facts if seen == 1 else _of_parts(facts, len(parts), seen)


def _with_true_sigma(
    sheet: Sheet, facts: ContentFacts, *, in_master: bool
) -> ContentFacts:
    """
    The same with the softness of an edge that is measured alike.

    Where an edge is as sharp as pixels hold, its rise is that of pixels more than its
    own, and a strong edge that is even in light rises otherwise in L*. So edges of
    known softness in light are drawn, resampled as the picture was, and measured by
    the same code, until one is found as soft. Edges that were much reduced are looked
    up in the master.
    """
    enlargement, tones_l = sheet.plan.enlargement, facts.edge_tones_l
    measured, found = facts.master_edge_sigma_px, facts.edge_sigma_px
    if measured is None or found is None or tones_l is None:
        return facts
    scale = enlargement
    if in_master:
        scale, found = 1.0, measured / enlargement
    elif enlargement <= MUCH_REDUCED:
        edges = _edges_in_master(sheet, facts)
        if edges is not None and edges.edge_sigma_px is not None:
            scale, found = 1.0, edges.edge_sigma_px
    least, most = PIXEL_SIGMA_PX, max(2 * found / scale, 2 * PIXEL_SIGMA_PX)
    if (_drawn_edges(most, scale, tones_l).edge_sigma_px or 0.0) <= found:
        return facts
    for _ in range(_HALVINGS):
        middle = (least + most) / 2
        softer = (_drawn_edges(middle, scale, tones_l).edge_sigma_px or 0.0) > found
        least, most = (least, middle) if softer else (middle, most)
    facts = replace(facts, master_edge_sigma_px=least * enlargement)
    if in_master or facts.overshoot_share is None:
        return facts
    # What resampling leaves beside so strong an edge is no sharpening of the master.
    own = _drawn_edges(least, enlargement, tones_l).overshoot_share or 0.0
    overshoot = facts.overshoot_share - max(own - RESAMPLED_OVERSHOOT, 0.0)
    return replace(
        facts,
        overshoot_share=max(overshoot, 0.0),
        already_sharpened=overshoot > SHARPENED_OVERSHOOT,
    )


def _edges_in_master(sheet: Sheet, facts: ContentFacts) -> PictureEdges | None:
    """Edges in the pixels of a master that the print reduces; None if too few."""
    light = _in_whole_pixels(sheet.light)
    parts = _kind_parts(sheet, light)
    noise_l = facts.noise_l / resampled_noise(sheet.plan.enlargement)
    edges = picture_edges(parts, noise_l=noise_l, enlargement=1.0)
    whole = (
        sum(part.size for part in parts) == light.picture.width * light.picture.height
    )
    return edges if whole or edges.count >= FEWEST_EDGES else None


def _drawn_edges(
    edge_sigma_px: float, enlargement: float, tones_l: tuple[float, float]
) -> PictureEdges:
    """What is found of a drawn edge; its own softness is in master pixels."""
    coarser = max(enlargement, 1, edge_sigma_px * enlargement)
    size_px = (ceil(_DRAWN_EDGE[0] * coarser), ceil(_DRAWN_EDGE[1] * coarser))
    columns, rows = (ceil(length / enlargement) for length in size_px)
    down, across = np.mgrid[:rows, :columns] + 0.5
    dark, light = light_of_l(tones_l)
    away = (across - columns / 2) * cos(_DRAWN_TILT)
    away += (down - rows / 2) * sin(_DRAWN_TILT)
    edge = dark + (light - dark) * scipy.special.ndtr(away / edge_sigma_px)
    plane = edge.astype(np.float32)
    if enlargement != 1:
        box = (0.0, 0.0, size_px[0] / enlargement, size_px[1] / enlargement)
        plane = resample_plane(plane, box, size_px)
    lightness_l = lightness_of_light(plane[np.newaxis], np.ones(1))
    return picture_edges(lightness_l, noise_l=0.0, enlargement=enlargement)


def _of_parts(facts: ContentFacts, count: int, seen: float) -> ContentFacts:
    """The same, as far as parts say it of the picture."""
    words = facts.words.removesuffix(".")
    if facts.edge_count < FEWEST_EDGES:
        facts = replace(
            facts,
            master_edge_sigma_px=None,
            edge_sigma_px=None,
            overshoot_share=None,
            already_sharpened=False,
        )
    return replace(
        facts, words=f"{words}; measured in {count} parts, {seen:.0%} of the picture."
    )


def content_parts(
    picture: Box, most_pixels: int, part_px: int = PART_PX
) -> tuple[Box, ...]:
    """
    Parts that a picture is measured in.

    Parameters
    ----------
    picture : Box
        Left and top 0.
    most_pixels : int
        Pixels to measure, about.
    part_px : int, optional
        Edge of a part of a larger picture, about.

    Returns
    -------
    tuple of Box
        All of a picture that has no more pixels; of a larger one parts of about as
        many, evenly spread and always the same ones.
    """
    share = most_pixels / (picture.width * picture.height)
    edge = WHOLE_PART_PX if share >= 1 else part_px
    return tuple(
        Box(left, top, right - left, bottom - top)
        for row, (top, bottom) in enumerate(_cuts(picture.height, edge))
        for column, (left, right) in enumerate(_cuts(picture.width, edge))
        # Evenly along each row, and shifted from row to row.
        if (column * share + row * _ROW_SHIFT) % 1 < share
    )


def _cuts(length: int, edge: int) -> list[tuple[int, int]]:
    """Even stretches of a length, cut on the grid."""
    pieces = ceil(length / edge)
    places = [
        round(index * length / pieces / _GRID_PX) * _GRID_PX for index in range(pieces)
    ]
    return list(zip(places, [*places[1:], length], strict=True))


def _in_master(light: ResampledLight) -> ResampledLight | None:
    """The same crop in whole master pixels, if it has fewer but enough of them."""
    found = _in_whole_pixels(light)
    edges_px = (found.picture.width, found.picture.height)
    if min(edges_px) < SMALLEST_PX or edges_px[0] >= light.picture.width:
        return None
    return found


def _in_whole_pixels(light: ResampledLight) -> ResampledLight:
    """The same crop in whole master pixels."""
    crop = light.crop
    left, top = ceil(crop.left_px), ceil(crop.top_px)
    width = floor(crop.left_px + crop.width_px) - left
    height = floor(crop.top_px + crop.height_px) - top
    return ResampledLight(light.master, Crop(left, top, width, height), (width, height))


def _kind_parts(sheet: Sheet, light: ResampledLight) -> list[NDArray[np.float32]]:
    boxes = content_parts(light.picture, KIND_PIXELS, KIND_PART_PX)
    return [_lightness(sheet, light, box) for box in boxes]


def _lightness(sheet: Sheet, light: ResampledLight, box: Box) -> NDArray[np.float32]:
    """L* of a part of the picture as the sharpening meets it."""
    linear = light.region(box)
    weights = luminance_weights(sheet.master.profile)
    lighten_l = sheet.plan.spec.colour.lighten_l
    if lighten_l == 0:
        np.clip(linear, 0.0, 1.0, out=linear)
    else:
        lighten(linear, weights, lighten_l)
    return lightness_of_light(linear, weights)
