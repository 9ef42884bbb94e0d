"""What does a gamut look like as a solid, where nothing can be turned?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from printplan.colour.gamut import is_inside
from printplan.workbook.drawings.gamut_frame import axis_reach, frame_lines
from printplan.workbook.drawings.gamut_solid import solid_legend
from printplan.workbook.drawings.ground import (
    BODY_PT,
    GROUND,
    INK,
    SMALL_PT,
    lay_ground,
)
from printplan.workbook.drawings.page import (
    WIDTH_CSS_PX,
    clear_axes,
    line_height,
    new_figure,
    place_axes,
    write,
)
from printplan.workbook.drawings.screen import screen_rgb

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from printplan.colour.gamut import GamutMesh
    from printplan.workbook.drawings.gamut import NamedGamut

    Floats = NDArray[np.float64]

VIEWS_DEG = ((22.0, -60.0), (22.0, 120.0))
"""Height and azimuth of the eye: two views from opposite sides show all of it."""

_EDGE = 20
_FIELD_HEIGHT = 390
_FAINT_ALPHA = 0.18
_SIGHT_STEP_LAB, _FARTHEST_LAB = 6.0, 260.0


def draw_solid(
    solid: NamedGamut,
    axes: Axes,
    frame: NamedGamut | None = None,
    *,
    view_deg: tuple[float, float] = VIEWS_DEG[0],
) -> Axes:
    """
    A gamut in its own colours, in three-dimensional axes.

    Parameters
    ----------
    solid : NamedGamut
    axes : Axes
        Made with the projection ``3d``.
    frame : NamedGamut, optional
        Drawn round it as a wireframe, against the same white; faint where the solid
        hides it.
    view_deg : tuple of float, optional
        Height and azimuth of the eye.

    Returns
    -------
    Axes
    """
    lay_ground(axes)
    axes.set_facecolor(GROUND)
    space: Any = axes  # Its third dimension is not in matplotlib's types.
    space.set_proj_type("ortho")
    space.view_init(elev=view_deg[0], azim=view_deg[1])
    space.computed_zorder = False
    lightness, a, b = solid.mesh.vertices_lab.T
    corners = solid.mesh.triangles
    surface = space.plot_trisurf(
        a, b, lightness, triangles=corners, linewidth=0.3, shade=False
    )
    faces = screen_rgb(solid.mesh.vertices_lab[corners].mean(axis=1)) / 255
    surface.set_facecolor(faces)
    surface.set_edgecolor(faces)
    if frame is not None:
        _draw_frame(frame_lines(frame.mesh), solid.mesh, view_deg, space)
    gamuts = [solid] if frame is None else [solid, frame]
    reach = axis_reach([gamut.mesh for gamut in gamuts])
    axes.set_xlim(-reach, reach)
    axes.set_ylim(-reach, reach)
    space.set_zlim(0, 100)
    space.set_box_aspect((2 * reach, 2 * reach, 100), zoom=1.05)
    axes.set_xlabel("a* (CIELAB units)", color=INK, fontsize=BODY_PT)
    axes.set_ylabel("b* (CIELAB units)", color=INK, fontsize=BODY_PT)
    space.set_zlabel("L*", color=INK, fontsize=BODY_PT)
    axes.tick_params(colors=INK, labelsize=SMALL_PT)
    for axis in (space.xaxis, space.yaxis, space.zaxis):
        axis.set_pane_color((0.36, 0.36, 0.36, 1.0))
        axis.line.set_color(INK)
    return axes


def solid_figure(
    solid: NamedGamut,
    frame: NamedGamut | None = None,
    *,
    views_deg: Sequence[tuple[float, float]] = VIEWS_DEG,
) -> Figure:
    """
    A gamut seen from several sides, with names and volumes.

    Parameters
    ----------
    solid : NamedGamut
    frame : NamedGamut, optional
    views_deg : sequence of (float, float), optional
        Height and azimuth of the eye.

    Returns
    -------
    Figure
    """
    legend = solid_legend(solid, frame)
    lines = len(legend.splitlines())
    height = 2 * _EDGE + _FIELD_HEIGHT + lines * line_height()
    figure = new_figure(WIDTH_CSS_PX, height)
    width = (WIDTH_CSS_PX - 5 * _EDGE) / len(views_deg)
    for number, view_deg in enumerate(views_deg):
        axes = place_axes(
            figure,
            _EDGE + number * width,
            _EDGE / 2,
            width,
            _FIELD_HEIGHT,
            projection="3d",
        )
        draw_solid(solid, axes, frame, view_deg=view_deg)
    foot = lines * line_height() + _EDGE
    words = clear_axes(
        place_axes(figure, 0, height - foot, WIDTH_CSS_PX, foot), WIDTH_CSS_PX, foot
    )
    write(words, _EDGE, 0, legend)
    return figure


def _draw_frame(
    lines: Sequence[Floats],
    mesh: GamutMesh,
    view_deg: tuple[float, float],
    space: Any,
) -> None:
    up, azimuth = np.radians(view_deg)
    towards_eye = np.array(
        [np.sin(up), np.cos(up) * np.cos(azimuth), np.cos(up) * np.sin(azimuth)]
    )
    for line in lines:
        seen = ~_is_hidden(line, mesh, towards_eye)
        for alpha, part in ((_FAINT_ALPHA, ~seen), (1.0, seen)):
            # A gap in a line is drawn by numbers that are none.
            drawn = np.where(part[:, None], line, np.nan)
            space.plot(
                drawn[:, 1],
                drawn[:, 2],
                drawn[:, 0],
                color=INK,
                linewidth=0.9,
                alpha=alpha,
                zorder=5,
            )


def _is_hidden(
    points_lab: Floats, mesh: GamutMesh, towards_eye: Floats
) -> NDArray[np.bool_]:
    """Whether the solid lies between points and an eye far away."""
    steps = np.arange(1.0, _FARTHEST_LAB, _SIGHT_STEP_LAB)
    sight = points_lab[:, None] + steps[None, :, None] * towards_eye
    return np.asarray(is_inside(mesh, sight).any(axis=1))
