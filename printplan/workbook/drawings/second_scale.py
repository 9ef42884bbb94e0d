"""How does a field carry a second scale along its top?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.workbook.drawings.ground import BODY_PT, INK, SMALL_PT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis


def draw_top_scale(per_unit: float, label: str, axes: Axes) -> Axis:
    """
    A scale that is a multiple of the one below.

    Parameters
    ----------
    per_unit : float
        Units of the upper scale in one of the lower, above 0.
    label : str
        Quantity and unit.
    axes : Axes

    Returns
    -------
    Axis
        For finer ticks.
    """
    above = axes.secondary_xaxis(
        "top",
        functions=(
            lambda values: np.multiply(values, per_unit),
            lambda values: np.divide(values, per_unit),
        ),
    )
    above.set_xlabel(label, color=INK, fontsize=BODY_PT)
    above.tick_params(which="both", colors=INK, labelsize=SMALL_PT)
    above.spines["top"].set_color(INK)
    return above.xaxis
