"""How much of its resolution has a picture: was it enlarged before, how many times?"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, sqrt
from typing import TYPE_CHECKING, Any

import numpy as np
import scipy

from printplan.errors import SpecError
from printplan.sizing.boxes import Box
from printplan.validation import image_planes

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SAMPLE_PX = 256
"""Edge of a sample in master pixels."""

MOST_SAMPLES = 48
"""Samples at most: three million pixels, a quarter of a second. Our choice."""

# ITU-R BT.601-7, 2.5.1: luma of coded RGB; JPEG (ITU-T T.871) compresses it.
_LUMA = np.array([0.299, 0.587, 0.114], np.float32)

LEAST_FACTOR, MOST_FACTOR = 1.4, 9.0
"""Enlargements that are looked for."""

PERIOD_PX = 240
"""Pixels over which a rhythm is looked for: a multiple of 2 to 6, 8 and 12, so that the
rhythms of the usual factors fall on whole cycles."""

_CLIP = 8.0  # Codes; beyond, an edge of the picture speaks and not the interpolation.
_QUIET = 0.05  # Codes; keeps even areas from counting as rhythm.
_BINS = PERIOD_PX // 2 + 1
_FREQUENCIES = np.arange(_BINS) / PERIOD_PX
_LOWEST_BIN = 24  # 0.1 cycles per pixel: below lies what pictures show.
_BACKGROUND_BINS = 31
_SAME = 2.6 / PERIOD_PX
# Where an 8 × 8 grid of JPEG blocks has its own rhythm (ITU-T T.81, A.1.1).
_BLOCK_FREQUENCIES = (1 / 8, 1 / 4, 3 / 8, 1 / 2)
_BLOCK_SAME = 1.5e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Enlargement:
    """
    An enlargement found in a picture.

    Attributes
    ----------
    factor : float
        Times, at least: where the traces fit two factors, the smaller one.
    rhythm : float
        Share by which differences between neighbours swell and ebb with it.
    drop_db : float
        Fall of the power spectrum across the finest detail of before.
    """

    factor: float
    rhythm: float
    drop_db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Trace:
    """One rhythm read as one factor, with the spectrum on both sides of its limit."""

    factor: float
    frequency: float
    rhythm: float
    order: int
    over_others: float
    drop_db: float
    near_drop_db: float
    head_db: float
    on_blocks: bool


def true_resolution(image: NDArray[Any]) -> float:
    """
    Share of a picture's resolution that is its own.

    Parameters
    ----------
    image : ndarray, shape (rows, columns) or (rows, columns, 3)
        Encoded as it is stored: uint8, uint16, or float from 0 to 1; 256 pixels high
        and wide at least.

    Returns
    -------
    float
        1 where there is no trace of enlargement, ½ for one that was enlarged twice: so
        many of the pixels along an edge hold detail, at most.

    Raises
    ------
    SpecError
        If it is no such array.

    Notes
    -----
    By `measured_enlargement`, in up to 48 samples.

    Examples
    --------
    >>> from PIL import Image
    >>> fine = np.random.default_rng(1).integers(0, 256, (400, 400), np.uint8)
    >>> true_resolution(fine)
    1.0
    >>> thrice = np.asarray(Image.fromarray(fine).resize((1200, 1200), Image.BICUBIC))
    >>> round(true_resolution(thrice), 2)
    0.33
    """
    planes, whole = image_planes(image)
    height, width = planes.shape[1:]
    boxes = sample_boxes(width, height)
    if not boxes:
        raise SpecError(
            f"The image is {width} × {height} px.",
            remedy=f"Give one of {SAMPLE_PX} px or more each way.",
        )
    coded = planes * np.float32(255)
    parts = [
        luma(coded[:, box.top : box.bottom, box.left : box.right]) for box in boxes
    ]
    found = measured_enlargement(parts, code_step=255 / whole)
    return 1.0 if found is None else 1 / found.factor


def sample_boxes(width_px: int, height_px: int) -> tuple[Box, ...]:
    """
    Where the samples of a picture lie.

    Returns
    -------
    tuple of Box
        `MOST_SAMPLES` at most; empty if the picture is smaller than one.
    """
    across, down = width_px // SAMPLE_PX, height_px // SAMPLE_PX
    if not across or not down:
        return ()
    step = max(1.0, sqrt(across * down / MOST_SAMPLES))
    lefts = _places(width_px, ceil(across / step))
    tops = _places(
        height_px, max(1, min(ceil(down / step), MOST_SAMPLES // len(lefts)))
    )
    return tuple(Box(left, top, SAMPLE_PX, SAMPLE_PX) for top in tops for left in lefts)


def _places(length_px: int, count: int) -> list[int]:
    last = length_px - SAMPLE_PX
    return (
        [last // 2]
        if count == 1
        else [index * last // (count - 1) for index in range(count)]
    )


def luma(codes: NDArray[Any]) -> NDArray[np.float32]:
    """
    Luma of stored numbers, on the scale of 8 bits.

    Parameters
    ----------
    codes : ndarray of uint8, uint16, or float from 0 to 255, shape (1 or 3, rows,
        columns)

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        0 to 255.
    """
    scaled = codes.astype(np.float32)
    if codes.dtype == np.uint16:
        scaled /= 257
    return scaled[0] if len(scaled) == 1 else np.tensordot(_LUMA, scaled, axes=1)


def measured_enlargement(
    planes: Sequence[NDArray[np.floating]], *, code_step: float
) -> Enlargement | None:
    """
    Measure how many times a picture was enlarged by interpolation.

    Parameters
    ----------
    planes : sequence of ndarray of float, shape (256, 256)
        Parts of its luma in its own pixels, 0 to 255; some with its finest detail.
    code_step : float
        Step of the stored codes on that scale: 1 for 8 bits, 1/257 for 16.

    Returns
    -------
    Enlargement or None
        None if there is no trace of an enlargement from `LEAST_FACTOR` to
        `MOST_FACTOR`, or nothing to measure.

    Notes
    -----
    Interpolated pixels lie at a few distances from the pixels of before, over and over
    again. The mean size of first and second differences therefore swells and ebbs
    along rows and columns with the frequency 1/factor cycles per pixel [1]_. First
    differences are needed too: at a factor of 2, second ones are alike by symmetry.

    A rhythm alone is no proof: reduced pictures and JPEG blocks have one as well. So
    the power spectrum of the sharpest parts must also fall where the detail of before
    ended, at 0.5/factor cycles per pixel: steeply for a strong interpolator, less for
    a linear one, whose rhythm is the stronger for it. Photographs that are merely soft
    fall as steeply, but without rhythm. The limits are our choice, set on nine
    photographs enlarged 1.5 to 8 times with linear, cubic and Lanczos interpolation,
    also sharpened: DEVELOPERS.md has the table.

    A rhythm of frequency f fits 1/f and 1/(1 − f). The spectrum tells them apart only
    where the interpolator was good; otherwise the smaller factor is given.

    References
    ----------
    .. [1] A. C. Gallagher, "Detection of linear and cubic interpolation in JPEG
       compressed images", Proc. 2nd Canadian Conf. on Computer and Robot Vision, 2005,
       65-72.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> fine = [rng.uniform(0, 255, (256, 256)) for _ in range(4)]
    >>> measured_enlargement(fine, code_step=1) is None
    True
    """
    if not planes:
        return None
    rhythms, spectrum = _rhythms_and_spectrum(planes)
    traces = [it for it in _traces(rhythms, spectrum, code_step) if _is_proof(it)]
    if not traces:
        return None
    found = max(traces, key=lambda it: it.rhythm)
    # The strongest line may be an overtone: then the ground line is there as well.
    grounds = (
        it
        for it in sorted(traces, key=lambda it: -it.factor)
        if _is_multiple(it.factor, found.factor)
        and it.rhythm >= 0.35 * found.rhythm
        and it.near_drop_db >= 18
    )
    found = next(grounds, found)
    alike = [it for it in traces if abs(it.frequency - found.frequency) < 2e-3]
    smallest = min(alike, key=lambda it: it.factor)
    largest = max(alike, key=lambda it: it.factor)
    if largest.near_drop_db >= 25 or smallest.head_db < 2 or _plainly_linear(alike):
        found = largest
    else:
        found = smallest
    return Enlargement(factor=found.factor, rhythm=found.rhythm, drop_db=found.drop_db)


def _is_multiple(factor: float, of: float) -> bool:
    return any(abs(factor / (times * of) - 1) < 0.03 for times in (2, 3, 4))


def _plainly_linear(alike: list[_Trace]) -> bool:
    """Second differences nearly vanish between the pixels of before: 3 times or so."""
    return max((it.rhythm for it in alike if it.order == 2), default=0.0) >= 0.58


def _is_proof(trace: _Trace) -> bool:
    """Whether a rhythm and a fall of the spectrum are an enlargement together."""
    factor, rhythm, drop = trace.factor, trace.rhythm, trace.drop_db
    twice = abs(factor - 2) < 0.02
    if trace.over_others < 1.05:
        return False
    # 3/8 is the blocks' own overtone, seldom an enlargement of 8/5 or 8/3.
    overtone = abs(trace.frequency - 3 / 8) < _BLOCK_SAME
    if trace.on_blocks and not twice and (trace.over_others < 2 or overtone):
        return False
    if factor < 1.9:
        return (
            (rhythm >= 0.25 and drop >= 9)
            or (rhythm >= 0.15 and drop >= 11 and trace.head_db >= 28)
            or (rhythm >= 0.035 and drop >= 22 and trace.head_db >= 33)
            or (rhythm >= 0.035 and drop >= 33 and trace.over_others > 1.5)
        )
    if factor < 3.9:
        # The softer a picture, the more rhythm an enlargement leaves in it.
        wanted = float(
            np.interp(trace.head_db, [0, 10, 20, 27], [0.30, 0.28, 0.18, 0.055])
        )
        return (
            (rhythm >= 0.28 and drop >= 20)
            or (
                rhythm >= wanted
                and drop >= 24
                and (twice or rhythm > 0.25 or trace.head_db >= 33)
            )
            or (rhythm >= 0.035 and drop >= (40 if twice else 38))
            or (twice and rhythm >= 0.035 and drop >= 28 and trace.head_db >= 30)
        )
    return (rhythm >= 0.05 and drop >= 26) or (rhythm >= 0.45 and drop >= 17)


def _rhythms_and_spectrum(
    planes: Sequence[NDArray[np.floating]],
) -> tuple[Floats, Floats]:
    """Depth of rhythms by order and frequency; power of the sharpest parts."""
    size = planes[0].shape[0]
    short = np.hanning(PERIOD_PX)
    short /= short.sum()
    whole = np.hanning(size).astype(np.float32)
    squares = np.zeros((2, _BINS))
    powers = []
    for plane in planes:
        for along in (plane, plane.T):
            for order in (1, 2):
                steps = np.minimum(np.abs(np.diff(along, order, axis=1)), _CLIP)
                course = steps.mean(axis=0)[:PERIOD_PX]
                course = course / (course.mean() + _QUIET) - 1
                depth = 2 * np.abs(np.fft.rfft((course - course.mean()) * short))
                squares[order - 1] += depth**2
            even = (along - along.mean(axis=1, keepdims=True)) * whole
            powers.append((np.abs(np.fft.rfft(even, axis=1)) ** 2).mean(axis=0))
    rhythms = np.sqrt(squares / (2 * len(planes)))
    rhythms[:, -1] /= 2  # The highest frequency stands once in a spectrum, not twice.
    return rhythms, np.percentile(powers, 95, axis=0)


def _peaks(values: Floats) -> NDArray[np.intp]:
    """Places above both neighbours, the middle of level ones: no end is a peak."""
    begins = np.flatnonzero(np.diff(values, prepend=np.nan) != 0)
    ends = np.append(begins[1:], len(values)) - 1
    rises = np.diff(values[begins]) > 0
    above = np.flatnonzero(rises[:-1] & ~rises[1:]) + 1
    middle: NDArray[np.intp] = (begins[above] + ends[above]) // 2
    return middle


def _traces(rhythms: Floats, spectrum: Floats, code_step: float) -> Iterator[_Trace]:
    """Every line that stands out, read as each factor that it fits."""
    size = 2 * (len(spectrum) - 1)
    frequency = np.arange(len(spectrum)) / size
    # White noise of rounding to 8 bits: its variance is 1/12 of a code squared.
    floor = float((np.hanning(size) ** 2).sum()) / 12
    power = np.maximum(spectrum - 1.6 * floor * code_step**2, 0.02 * floor)

    def level_db(at: float) -> float:
        return 10 * float(np.log10(np.interp(at, frequency, power)))

    for order, depths in enumerate(rhythms, start=1):
        background = scipy.ndimage.median_filter(
            depths, _BACKGROUND_BINS, mode="mirror"
        )
        lines = depths - background
        for place in [*_peaks(lines), _BINS - 1]:
            rhythm = float(lines[place])
            stands_out = rhythm >= max(0.03, 2.5 * background[place])
            at_end = place == _BINS - 1
            rises = not at_end or lines[place] >= 0.8 * lines[place - 1]
            if place < _LOWEST_BIN or not stands_out or not rises:
                continue
            at = 0.5 if place >= _BINS - 2 else _refined(lines, int(place))
            for factor in {1 / at, 1 / (1 - at)}:
                if not LEAST_FACTOR <= factor <= MOST_FACTOR:
                    continue
                kept = level_db(0.35 / factor)
                beyond = (frequency >= 0.62 / factor) & (frequency <= 0.49)
                beyond &= frequency <= 1 / factor
                near = (frequency >= 0.62 / factor) & (
                    frequency <= 0.8 / factor + 1 / size
                )
                yield _Trace(
                    factor=factor,
                    frequency=at,
                    rhythm=rhythm,
                    order=order,
                    over_others=rhythm / max(_strongest_other(lines, at), 1e-3),
                    drop_db=kept - 10 * float(np.log10(power[beyond].min())),
                    near_drop_db=kept - 10 * float(np.log10(power[near].min())),
                    head_db=kept - 10 * float(np.log10(floor)),
                    on_blocks=any(
                        abs(at - it) < _BLOCK_SAME for it in _BLOCK_FREQUENCIES
                    ),
                )


def _refined(lines: Floats, place: int) -> float:
    """Frequency of a line, by the parabola through its top."""
    before, top, after = (float(it) for it in lines[place - 1 : place + 2])
    return (place + 0.5 * (before - after) / (before - 2 * top + after)) / PERIOD_PX


def _strongest_other(lines: Floats, at: float) -> float:
    """Strongest line that is no overtone of this one, folded at half a cycle."""
    others = np.arange(_BINS) >= 20
    for times in range(12):
        overtone = (times * at) % 1
        others &= np.abs(_FREQUENCIES - min(overtone, 1 - overtone)) > _SAME
    return float(lines[others].max()) if others.any() else 0.0
