"""What does sharpening give back of the detail that the print loses, as a curve?"""

from __future__ import annotations

from math import floor, log10
from typing import TYPE_CHECKING

import numpy as np

from printplan.record.decision_sheet.drawing import (
    Anchor,
    Mark,
    Path,
    Text,
    VectorDrawing,
)
from printplan.sharpening.chain import highest_seen_cycles_px, response_before
from printplan.sharpening.effect import response_after
from printplan.sharpening.response import cycles_per_mm

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from printplan.sharpening.chain import Chain
    from printplan.sharpening.kernel import Blur

    Floats = NDArray[np.float64]

_POINTS = 120
_LEFT_MM, _TOP_MM, _RIGHT_MM, _FOOT_MM = 6.5, 4.2, 1.5, 6.6
_LETTERS_MM = 2.0
_MOST_STEPS = 6
_FAINT = 0.75


def draw_responses(  # noqa: PLR0913 - print, sharpening and place
    chain: Chain,
    *,
    gain: float,
    blur: Blur,
    width_mm: float,
    height_mm: float,
    added: Callable[[Floats], Floats] | None = None,
) -> VectorDrawing:
    """
    Contrast that reaches the viewer, without and with sharpening.

    Parameters
    ----------
    chain : Chain
        Master, resampling, paper and viewer.
    radius_px : float
        Standard deviation of the mask in print pixels.
    width_mm, height_mm : float
        Of the drawing.
    added : callable, optional
        Contrast that sharpening adds where a limit or a floor holds it, as
        `sharpening_effect` takes it.

    Returns
    -------
    VectorDrawing
        From patterns of no detail to the finest that the print pixels hold and the
        eye sees.
    """
    highest = highest_seen_cycles_px(chain)
    cycles_px = np.linspace(highest / _POINTS, highest, _POINTS)
    before = response_before(chain, cycles_px)
    after = response_after(chain, cycles_px, gain, blur, added)
    per_mm = cycles_per_mm(cycles_px, chain.ppi)
    tallest = 1.08 * max(1.0, float(before.max()), float(after.max()))
    right_mm, bottom_mm = width_mm - _RIGHT_MM, height_mm - _FOOT_MM

    def place(cycles_mm: float, contrast: float) -> tuple[float, float]:
        return (
            _LEFT_MM + cycles_mm / float(per_mm[-1]) * (right_mm - _LEFT_MM),
            bottom_mm - contrast / tallest * (bottom_mm - _TOP_MM),
        )

    def curve(contrast: NDArray[np.float64]) -> tuple[tuple[float, float], ...]:
        pairs = zip(per_mm.tolist(), contrast.tolist(), strict=True)
        return tuple(place(*pair) for pair in pairs)

    marks: list[Mark] = []
    for value in _ticks(tallest):
        left, down = place(0, value)
        line = ((left, down), (right_mm, down))
        marks.append(Path(points_mm=line, width_mm=0.1, grey=_FAINT))
        label = _label(f"{value:g}", left - 0.8, down + 0.7, Anchor.END)
        marks.append(label)
    for value in _ticks(float(per_mm[-1])):
        across, down = place(value, 0)
        tick = ((across, down), (across, down + 0.8))
        marks.append(Path(points_mm=tick, width_mm=0.15))
        marks.append(_label(f"{value:g}", across, down + 2.9, Anchor.MIDDLE))
    axes = ((_LEFT_MM, _TOP_MM), (_LEFT_MM, bottom_mm), (right_mm, bottom_mm))
    marks.append(Path(points_mm=axes, width_mm=0.15))
    marks.append(Path(points_mm=curve(before), width_mm=0.3, dash_mm=(1.2, 0.8)))
    if gain > 0:
        marks.append(Path(points_mm=curve(after), width_mm=0.5))
    marks += _legend(right_mm, sharpened=gain > 0)
    middle_mm = (_LEFT_MM + right_mm) / 2
    words = "pattern on paper, cycles/mm"
    marks.append(_label(words, middle_mm, height_mm - 0.6, Anchor.MIDDLE))
    middle_mm = (_TOP_MM + bottom_mm) / 2
    marks.append(
        Text(
            text="contrast left",
            across_mm=2.0,
            down_mm=middle_mm,
            size_mm=_LETTERS_MM,
            anchor=Anchor.MIDDLE,
            angle_deg=90.0,
        )
    )
    return VectorDrawing(
        width_mm=width_mm,
        height_mm=height_mm,
        marks=tuple(marks),
        description="Contrast left in the print from coarse to fine patterns, up to "
        f"{float(per_mm[-1]):.1f} cycles/mm: {before[-1]:.2f} at the finest without "
        f"sharpening, {after[-1]:.2f} with it.",
    )


def _legend(right_mm: float, *, sharpened: bool) -> Iterator[Mark]:
    yield from _sample("without sharpening", right_mm - 26.0, 0.3, (1.2, 0.8))
    if sharpened:
        yield from _sample("with sharpening", right_mm - 51.0, 0.5, ())


def _sample(
    words: str, left_mm: float, width_mm: float, dash_mm: tuple[float, ...]
) -> Iterator[Mark]:
    """A piece of a curve above the field, and its name."""
    line = ((left_mm, 1.6), (left_mm + 4.0, 1.6))
    yield Path(points_mm=line, width_mm=width_mm, dash_mm=dash_mm)
    yield _label(words, left_mm + 4.8, 2.3, Anchor.START)


def _label(words: str, across_mm: float, down_mm: float, anchor: Anchor) -> Text:
    return Text(
        text=words,
        across_mm=across_mm,
        down_mm=down_mm,
        size_mm=_LETTERS_MM,
        anchor=anchor,
    )


def _ticks(highest: float) -> list[float]:
    """Round numbers from 0 on, `_MOST_STEPS` steps at most."""
    power = 10.0 ** floor(log10(highest / _MOST_STEPS))
    step = next(
        power * factor
        for factor in (1, 2, 5, 10)
        if highest / (power * factor) <= _MOST_STEPS
    )
    return [step * number for number in range(floor(highest / step) + 1)]
