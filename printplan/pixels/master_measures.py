"""What do a master's own pixels tell, whatever is printed of them?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import scipy

from printplan.colour.spaces import xyz_d50_from_linear
from printplan.colour.transforms import colorants_xyz, tone_curves
from printplan.pixels.kept_measures import KeptMeasures, master_key
from printplan.sizing.enlargement import (
    Enlargement,
    luma,
    measured_enlargement,
    sample_boxes,
)
from printplan.spec import NamedSpace

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from printplan.pixels.master import Master
    from printplan.sizing.boxes import Box
    from printplan.spec import MasterFacts

    Floats = NDArray[np.floating]
    Codes = NDArray[np.uint8] | NDArray[np.uint16]


# Linear light has no codes; a plain power gives it steps as even as codes have.
_POWER = 1 / 2.2


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """
    Parts of a master, spread evenly, in its own pixels.

    Attributes
    ----------
    boxes : tuple of Box
        Where they lie; each `SAMPLE_PX` wide and high.
    codes : tuple of ndarray, shape (channels, SAMPLE_PX, SAMPLE_PX)
        Stored numbers, uint8 or uint16.
    are_stored : bool
        False if the master's working pixels are linear light; `codes` are then that
        light to the power of 1/2.2, at 16 bits.
    """

    boxes: tuple[Box, ...]
    codes: tuple[NDArray[np.uint8] | NDArray[np.uint16], ...]
    are_stored: bool


def sample_master(master: Master) -> Samples:
    """
    Read the samples of a master.

    Returns
    -------
    Samples
        None in it if the picture is smaller than one sample.

    Raises
    ------
    MasterError
        If the master was closed, or its file changed since it was opened.

    Notes
    -----
    Only what lies in the samples is read, so a master of any size takes the same time
    and 20 MB.
    """
    boxes = sample_boxes(master.facts.width_px, master.facts.height_px)
    codes = []
    are_stored = True
    for box in boxes:
        found = master.codes(box)
        if found is None:
            are_stored = False
            light = master.linear(box) ** np.float32(_POWER)
            found = np.rint(light * 65535).astype(np.uint16)
        codes.append(found)
    return Samples(boxes=boxes, codes=tuple(codes), are_stored=are_stored)


BLOCK_PX = 8
"""Edge of a block: ITU-T T.81 (JPEG), A.1.1."""

VISIBLE_STEP = 3.0
"""Step along a block's edge that shows in even tones, in codes of 8 bits: about 1.2 L*
in the middle tones of sRGB. Our choice."""

_LARGEST_STEP = 32.0  # Codes; above, it is an edge of the picture. Our choice.
_EVEN = 1.5  # Codes between neighbours on both sides, up to which a place is even.


def visible_block_edges(
    planes: Sequence[Floats], corners: Sequence[tuple[int, int]]
) -> float:
    """
    Share of block edges that show as a step in even tones.

    Parameters
    ----------
    planes : sequence of ndarray of float, shape (rows, columns)
        Parts of the picture's luma in its own pixels, 0 to 255.
    corners : sequence of tuple of int
        Left and top of each part in the picture.

    Returns
    -------
    float
        0 to 1: the lesser of the shares along rows and along columns; 0 for no part.

    Notes
    -----
    Along eight pixels of an edge, the step is the mean of the difference across it
    less the mean of the differences on its two sides; it shows if it reaches
    `VISIBLE_STEP` and is at least three times as large as what lies around. The
    grid's place is not known after a crop, so the share is taken for all eight; what
    the best has over the next is that of the blocks, and what a picture of straight
    lines has at several places is not. Differences
    across block edges against those inside are how blocking is measured [1]_ [2]_;
    that only even places count, because texture hides blocks, follows [2]_.

    References
    ----------
    .. [1] Z. Wang, A. C. Bovik & B. L. Evans, "Blind measurement of blocking artifacts
       in images", Proc. IEEE Int. Conf. Image Processing 2000, vol. 3, 981-984.
    .. [2] H. R. Wu & M. Yuen, "A generalized block-edge impairment metric for video
       coding", IEEE Signal Processing Letters 4(11), 1997, 317-320.
    """
    if not planes:
        return 0.0
    shares = np.zeros((2, BLOCK_PX))
    for plane, (left, top) in zip(planes, corners, strict=True):
        for axis, (along, first) in enumerate(((plane, left), (plane.T, top))):
            shares[axis] += np.roll(_steps_by_place(along), first % BLOCK_PX)
    shares /= len(planes)
    first, second = np.sort(shares, axis=1)[:, :-3:-1].T
    return float((first - second).min())


def _steps_by_place(plane: Floats) -> NDArray[np.float64]:
    """Share of visible steps, by the place of the column they lie before."""
    steps = np.diff(plane, axis=1)
    before, across, after = steps[:, 1:-3], steps[:, 2:-2], steps[:, 3:-1]
    jump = across - (before + after) / 2
    around = (abs(steps[:, :-4]) + abs(before) + abs(after) + abs(steps[:, 4:])) / 4
    rows = len(plane) // BLOCK_PX * BLOCK_PX
    columns = jump.shape[1] // BLOCK_PX * BLOCK_PX
    jump, around = (
        it[:rows, :columns].reshape(-1, BLOCK_PX, columns).mean(axis=1)
        for it in (jump, around)
    )
    size = abs(jump)
    shows = (size >= VISIBLE_STEP) & (size <= _LARGEST_STEP)
    shows &= around <= np.maximum(_EVEN, size / 3)
    return np.asarray(shows.reshape(-1, BLOCK_PX).mean(axis=0))


_CLIPPED = 1 / 512  # Of full scale: half a code of 8 bits.
_NEXT = 4 / 255  # The four codes below, against which a pile is told.
_COLOURED = 0.9  # Least channel up to which a clipped pixel is a colour, not white.
_OUTSIDE = 0.003  # Linear light beyond sRGB that rounding does not explain.


@dataclass(frozen=True, slots=True, kw_only=True)
class CubeFaces:
    """
    How a picture's numbers meet the ends of their scale.

    Attributes
    ----------
    clipped_share : float
        Share of the pixels with a channel at its end and another well below.
    pile : float
        That share over the mean of the four codes before it.
    outside_share : float
        Share of the pixels whose colour lies outside sRGB, as tagged.
    """

    clipped_share: float
    pile: float
    outside_share: float


def cube_faces(
    parts: Sequence[Codes],
    tables: NDArray[np.float32],
    to_xyz: NDArray[np.float64],
) -> CubeFaces:
    """
    Measure how a picture's numbers meet the ends of their scale.

    Parameters
    ----------
    parts : sequence of ndarray of uint8 or uint16, shape (3, rows, columns)
        Parts of the picture, as stored.
    tables : ndarray of float32, shape (3, 256 or 65536)
        Linear light of each code.
    to_xyz : ndarray of float64, shape (3, 3)
        Linear light to XYZ under D50, of the space it is tagged with.

    Notes
    -----
    A camera's highlights in warm or cool light clip one channel before the others, in
    the space that its numbers are made for: pixels pile up where that channel ends. A
    conversion to a wider space takes these colours inside its range, since the ends of
    the wide space are colours that hardly anything has (those of ROMM RGB lie
    partly beyond the spectrum, ISO 22028-2). A pile at the ends of a wide space
    therefore tells numbers that were not converted. It is no proof: an exposure can
    be clipped in the wide space itself. Pixels that equal their neighbour are left
    out, for charts and graphics hold pure colours on purpose.

    Numbers that never clip are not told apart by this, nor two spaces whose ends are
    nearly the same, as those of sRGB and opRGB in red and blue.
    """
    to_srgb = np.linalg.inv(xyz_d50_from_linear(NamedSpace.SRGB)) @ to_xyz
    at_end = before = outside = judged = 0
    for part in parts:
        top = np.iinfo(part.dtype).max
        moved = (part[:, :, 1:] != part[:, :, :-1]).any(axis=0)
        codes = part[:, :, 1:][:, moved]
        judged += moved.size
        if codes.size == 0:
            continue
        highest = codes.max(axis=0) / top
        coloured = codes.min(axis=0) < _COLOURED * top
        ends = highest >= 1 - _CLIPPED
        at_end += int((ends & coloured).sum())
        near = ~ends & (highest >= 1 - _CLIPPED - _NEXT)
        before += int((near & coloured).sum())
        light = np.stack([table[it] for table, it in zip(tables, codes, strict=True)])
        srgb = to_srgb.astype(np.float32) @ light
        beyond = (srgb < -_OUTSIDE) | (srgb > 1 + 3 * _OUTSIDE)
        outside += int(beyond.any(axis=0).sum())
    judged = max(judged, 1)
    return CubeFaces(
        clipped_share=at_end / judged,
        pile=at_end / max(before / 4, 1),
        outside_share=outside / judged,
    )


_GENTLE = 0.06  # Share of full scale between neighbours: more is an edge, not a tone.
_ENDS = 0.01  # Share of the pixels left out at each end of the tones in use.
_FEWEST_PIXELS = 5000
_FEWEST_CODES = 32
_REACH = 17  # Codes to both sides in which a used code is looked for.
_EMPTY = 0.1  # Of the lower of the two, below which a code counts as empty.


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneLevels:
    """
    How finely a picture's tones are stored.

    Attributes
    ----------
    empty_share : float
        Share of the codes of 8 bits that stand empty between used ones, in the
        channel where it is largest.
    codes : int
        Codes of 8 bits between the darkest and lightest tones in use there.
    levels : int
        Different numbers in use, in the channel that has most.
    """

    empty_share: float
    codes: int
    levels: int


def tone_levels(parts: Sequence[Codes]) -> ToneLevels | None:
    """
    Find the codes that stand empty among the tones a picture uses.

    Parameters
    ----------
    parts : sequence of ndarray of uint8 or uint16, shape (channels, rows, columns)
        Parts of the picture, as stored.

    Returns
    -------
    ToneLevels or None
        None if too few pixels lie in gentle gradations to judge by.

    Notes
    -----
    Only pixels that differ from the next one, by less than 6 % of the scale, are
    counted: there a tone goes over into another, and a missing one shows as a contour.
    Flat patches of a chart and hard edges say nothing of that. Of the tones so counted
    the darkest and lightest hundredth are left out.

    Numbers of 16 bits are judged by the 256 codes that 8 bits would have. A code is
    empty if it has less than a tenth of what used codes have on both sides of it,
    within 17 codes: stretching leaves such gaps, a histogram's valleys do not.
    All limits are our choice.
    """
    found = [
        it for channel in _gentle(parts) if (it := _of_channel(channel)) is not None
    ]
    if not found:
        return None
    worst = max(found, key=lambda it: it.empty_share)
    return ToneLevels(
        empty_share=worst.empty_share,
        codes=worst.codes,
        levels=max(it.levels for it in found),
    )


def _gentle(parts: Sequence[Codes]) -> list[NDArray[np.int64]]:
    """Histogram of each channel's gentle gradations, over all codes."""
    if not parts:
        return []
    top = np.iinfo(parts[0].dtype).max
    counts = [np.zeros(top + 1, np.int64) for _ in parts[0]]
    for part in parts:
        for index, channel in enumerate(part):
            step = np.abs(np.diff(channel.astype(np.int32), axis=1))
            gentle = (step > 0) & (step <= _GENTLE * top)
            counts[index] += np.bincount(channel[:, :-1][gentle], minlength=top + 1)
    return counts


def _of_channel(counts: NDArray[np.int64]) -> ToneLevels | None:
    if counts.sum() < _FEWEST_PIXELS:
        return None
    levels = int(np.count_nonzero(counts))
    if len(counts) > 256:
        places = (np.arange(len(counts)) + 128) // 257
        counts = np.bincount(places, counts).astype(np.int64)
    reached = np.cumsum(counts) / counts.sum()
    first, last = np.searchsorted(reached, [_ENDS, 1 - _ENDS])
    if last - first < _FEWEST_CODES:
        return None
    # The largest count among the codes up to the reach below, and above.
    below = scipy.ndimage.maximum_filter1d(
        counts, _REACH, origin=_REACH // 2, mode="constant"
    )
    above = scipy.ndimage.maximum_filter1d(
        counts, _REACH, origin=-(_REACH // 2), mode="constant"
    )
    empty = counts < _EMPTY * np.minimum(below, above)
    return ToneLevels(
        empty_share=float(empty[first : last + 1].mean()),
        codes=int(last - first + 1),
        levels=levels,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class MasterMeasures:
    """
    What was measured in a master's own pixels.

    Attributes
    ----------
    enlargement : Enlargement or None
        None if there is no trace of one.
    block_share : float
        Share of JPEG block edges that show.
    tones : ToneLevels or None
        None if there are too few gradations, or the stored numbers are not at hand.
    faces : CubeFaces or None
        None for a grey master, or if the stored numbers are not at hand.
    """

    enlargement: Enlargement | None
    block_share: float
    tones: ToneLevels | None
    faces: CubeFaces | None


def _read_measures(told: dict[str, Any]) -> MasterMeasures:
    enlargement, tones, faces = (told[it] for it in ("enlargement", "tones", "faces"))
    return MasterMeasures(
        enlargement=None if enlargement is None else Enlargement(**enlargement),
        block_share=told["block_share"],
        tones=None if tones is None else ToneLevels(**tones),
        faces=None if faces is None else CubeFaces(**faces),
    )


_MOST_KEPT = 32
"""Files whose measures a process keeps: a run makes several sizes of each. Our choice.
"""

_kept: KeptMeasures[MasterFacts, MasterMeasures] = KeptMeasures(
    "master", _MOST_KEPT, _read_measures
)


def master_measures(master: Master) -> MasterMeasures:
    """
    Measure a master's own pixels in samples spread over it.

    Returns
    -------
    MasterMeasures
        Nothing found, if the picture is smaller than one sample. Taken once of a file
        and of each way to read it, see `KeptMeasures`.

    Raises
    ------
    MasterError
        If the master was closed, or its file changed since it was opened.
    """
    return _kept.of(master_key(master), lambda: _measured(master))


def _measured(master: Master) -> MasterMeasures:
    samples = sample_master(master)
    planes = [luma(it) for it in samples.codes]
    wide = bool(samples.codes) and samples.codes[0].dtype.itemsize == 2
    stored = samples.codes if samples.are_stored else ()
    faces, profile = None, master.source_profile
    if stored and profile.channels == 3 and not profile.is_table:
        curves = tone_curves(profile)
        faces = cube_faces(
            stored, curves if wide else curves[:, ::257], colorants_xyz(profile)
        )
    return MasterMeasures(
        enlargement=measured_enlargement(planes, code_step=1 / 257 if wide else 1.0),
        block_share=visible_block_edges(
            planes, [(box.left, box.top) for box in samples.boxes]
        ),
        tones=tone_levels(stored),
        faces=faces,
    )
