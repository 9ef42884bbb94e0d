"""What does sharpening give back of the detail that the print loses, as a curve?"""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
import numpy as np
from matplotlib.figure import Figure

from printplan.record.decision_sheet.sheet_drawing import VectorDrawing
from printplan.sharpening.chain import highest_seen_cycles_px, response_before
from printplan.sharpening.effect import response_after
from printplan.sharpening.response import cycles_per_mm
from printplan.units import MM_PER_INCH

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from printplan.sharpening.chain import Chain
    from printplan.sharpening.kernel import Blur

    Floats = NDArray[np.float64]
    Added = Callable[[Floats], Floats] | None

PATTERN_LABEL = "pattern on paper (cycles/mm)"
_POINTS = 400


def frequencies(chain: Chain) -> Floats:
    """Cycles per print pixel, from above 0 to the finest that counts."""
    highest = highest_seen_cycles_px(chain)
    return np.linspace(highest / _POINTS, highest, _POINTS)


def plot_responses(  # noqa: PLR0913 - print, sharpening and look
    chain: Chain,
    axes: Axes,
    *,
    gain: float,
    blur: Blur,
    added: Added = None,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
) -> tuple[Floats, Floats]:
    """
    Contrast that reaches the viewer, without and with sharpening.

    Parameters
    ----------
    chain : Chain
        Master, resampling, paper and viewer.
    blur : Blur
        Of the mask.
    added : callable, optional
        Contrast that sharpening adds where a limit or a floor holds it, as
        `sharpening_effect` takes it.
    before, after : dict, optional
        Look of the two lines, as matplotlib names it.

    Returns
    -------
    tuple of ndarray of float64
        Both curves, from patterns of no detail to the finest that the print pixels
        hold and the eye sees. Without gain only the first is drawn.
    """
    cycles_px = frequencies(chain)
    per_mm = cycles_per_mm(cycles_px, chain.ppi)
    without = response_before(chain, cycles_px)
    with_it = response_after(chain, cycles_px, gain, blur, added)
    axes.plot(per_mm, without, **{"label": "without sharpening", **(before or {})})
    if gain > 0:
        axes.plot(per_mm, with_it, **{"label": "with sharpening", **(after or {})})
    axes.set_xlim(0, float(per_mm[-1]))
    axes.set_ylim(0, 1.12 * max(1.0, float(without.max()), float(with_it.max())))
    return without, with_it


_STYLE: dict[Any, Any] = {
    "axes.grid": True,
    "axes.grid.axis": "y",
    "axes.linewidth": 0.4,
    "axes.spines.right": False,
    "axes.spines.top": False,
    "font.family": "DejaVu Sans",
    "font.size": 5.6,
    "grid.color": "#bfbfbf",
    "grid.linewidth": 0.3,
    "lines.linewidth": 1.4,
    "path.simplify": False,
    "svg.fonttype": "none",
    "svg.hashsalt": "printplan",
    "xtick.major.size": 2,
    "xtick.major.width": 0.4,
    "ytick.major.size": 0,
}


def draw_responses(  # noqa: PLR0913 - print, sharpening and place
    chain: Chain,
    *,
    gain: float,
    blur: Blur,
    width_mm: float,
    height_mm: float,
    added: Added = None,
) -> VectorDrawing:
    """
    The same in black on white, for a page.

    Parameters
    ----------
    chain, gain, blur, added
        As for `plot_responses`.
    width_mm, height_mm : float
        Of the drawing.

    Returns
    -------
    VectorDrawing
        Its words are letters, not outlines.
    """
    with mpl.rc_context(_STYLE):
        figure = Figure(
            (width_mm / MM_PER_INCH, height_mm / MM_PER_INCH), layout="constrained"
        )
        axes = figure.subplots()
        without, with_it = plot_responses(
            chain,
            axes,
            gain=gain,
            blur=blur,
            added=added,
            before={"color": "k", "lw": 0.9, "ls": (0, (4, 2.5)), "gid": "before"},
            after={"color": "k", "gid": "after"},
        )
        # Unclipped, so that the drawing names no part of itself by an address.
        for line in (*axes.lines, *axes.get_ygridlines()):
            line.set_clip_on(False)
        axes.set_xlabel(PATTERN_LABEL)
        axes.set_ylabel("contrast left")
        figure.legend(loc="outside upper right", ncols=2, frameon=False)
        file = BytesIO()
        nothing = dict.fromkeys(("Creator", "Date", "Format", "Type"))
        figure.savefig(file, format="svg", metadata=nothing)
    end = cycles_per_mm(highest_seen_cycles_px(chain), chain.ppi)
    return VectorDrawing(
        svg=file.getvalue().decode(),
        width_mm=width_mm,
        height_mm=height_mm,
        description="Contrast left in the print from coarse to fine patterns, up to "
        f"{end:.1f} cycles/mm: {without[-1]:.2f} at the finest without sharpening, "
        f"{with_it[-1]:.2f} with it.",
    )
