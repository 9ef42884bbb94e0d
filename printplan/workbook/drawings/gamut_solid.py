"""What does a gamut look like as a solid?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

import anywidget
import numpy as np
import traitlets

from printplan.colour.gamut import section_at_hue, section_at_lightness
from printplan.colour.gamut_rays import is_inside
from printplan.workbook.drawings.page import (
    BODY_PT,
    GROUND,
    INK,
    SMALL_PT,
    WIDTH_CSS_PX,
    lay_ground,
    new_page,
    screen_rgb,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from printplan.colour.gamut_rays import GamutMesh
    from printplan.workbook.drawings.gamut import NamedGamut

    Floats = NDArray[np.float64]


RING_STEP_L = 10.0
RIB_STEP_DEG = 30.0


def frame_lines(mesh: GamutMesh) -> list[Floats]:
    """
    Rings of one lightness and ribs of one hue round a gamut.

    Returns
    -------
    list of ndarray of float64, shape (points, 3)
        L*, a*, b* along each line: a ring every `RING_STEP_L` and a rib every
        `RIB_STEP_DEG`. They say more than the edges of triangles, of which there
        are thousands.
    """
    rings = [
        np.column_stack([np.full(len(loop), lightness), loop])
        for lightness in np.arange(RING_STEP_L, 100.0, RING_STEP_L).tolist()
        for loop in section_at_lightness(mesh, lightness)
    ]
    ribs = []
    for hue_deg in np.arange(0.0, 360.0, RIB_STEP_DEG).tolist():
        towards = np.array([np.cos(np.radians(hue_deg)), np.sin(np.radians(hue_deg))])
        ribs += [
            np.column_stack([leaf[:, 1], leaf[:, :1] * towards])
            for leaf in section_at_hue(mesh, hue_deg)
        ]
    return rings + ribs


def axis_reach(meshes: list[GamutMesh]) -> int:
    """
    How far the a* and b* axes have to go to stand out of gamuts.

    Returns
    -------
    int
        CIELAB units, a multiple of 10.
    """
    farthest = max(np.abs(mesh.vertices_lab[:, 1:]).max() for mesh in meshes)
    return int(10 * np.ceil(farthest / 10))


_HERE = Path(__file__).parent


class GamutSolid(anywidget.AnyWidget):
    """
    A gamut in its own colours, to be turned by mouse or keys.

    Parameters
    ----------
    solid : NamedGamut
        Drawn as a solid; its colours are those of an sRGB screen, with less chroma
        where that cannot show them.
    frame : NamedGamut, optional
        Drawn round it as a wireframe, against the same white.

    Attributes
    ----------
    description : str
        What is seen and which keys do what, for those who cannot see it.
    legend : str
        Names and volumes.
    axis_reach : int
        End of the a* and b* axes, CIELAB units.

    Notes
    -----
    The mesh is no trait and so is never saved with a notebook: each view asks for it
    and gets it in binary. Where there is no kernel, use `gamut_view`.
    """

    _esm: ClassVar[Path] = _HERE / "gamut_solid.js"
    _css: ClassVar[Path] = _HERE / "gamut_solid.css"

    description = traitlets.Unicode().tag(sync=True)
    legend = traitlets.Unicode().tag(sync=True)
    axis_reach = traitlets.Int().tag(sync=True)

    def __init__(self, solid: NamedGamut, frame: NamedGamut | None = None) -> None:
        gamuts = [solid] if frame is None else [solid, frame]
        super().__init__(
            description=solid_description(solid, frame),
            legend=solid_legend(solid, frame),
            axis_reach=axis_reach([gamut.mesh for gamut in gamuts]),
        )
        self._buffers = mesh_buffers(solid, frame)
        self.on_msg(self._answer)

    def _answer(
        self, _: object, message: dict[str, object], __: list[memoryview]
    ) -> None:
        """Send the mesh to the view that asks for it."""
        if message.get("kind") == "solid":
            self.send(
                {"kind": "solid", "asked": message.get("asked")}, list(self._buffers)
            )


def mesh_buffers(solid: NamedGamut, frame: NamedGamut | None) -> tuple[bytes, ...]:
    """
    What a view needs to draw, in binary.

    Returns
    -------
    tuple of bytes
        The solid's points (float32 L*, a*, b*), its triangles (uint32, three
        points each), the points' colours (uint8 sRGB); the frame's points (float32)
        and how many of them each line has (uint32). All little-endian.
    """
    lines = [] if frame is None else frame_lines(frame.mesh)
    line_points = np.concatenate(lines) if lines else np.empty((0, 3))
    return (
        solid.mesh.vertices_lab.astype("<f4").tobytes(),
        solid.mesh.triangles.astype("<u4").tobytes(),
        screen_rgb(solid.mesh.vertices_lab).tobytes(),
        line_points.astype("<f4").tobytes(),
        np.array([len(line) for line in lines], "<u4").tobytes(),
    )


def solid_legend(solid: NamedGamut, frame: NamedGamut | None) -> str:
    """Names and volumes, a line for each gamut."""
    lines = [f"Solid   {solid.words}"]
    if frame is not None:
        lines.append(f"Wireframe   {frame.words}")
        lines.append(
            f"Rings every {RING_STEP_L:g} L*, ribs every {RIB_STEP_DEG:g}° of hue; "
            "faint where the solid reaches farther."
        )
    return "\n".join(lines)


def solid_description(solid: NamedGamut, frame: NamedGamut | None) -> str:
    """What is seen, for those who cannot see it."""
    within = "" if frame is None else f", with {frame.words} as a wireframe"
    return (
        f"Gamut in CIELAB: {solid.words} as a solid{within}. L* runs upwards, a* and "
        "b* across. Arrow keys turn it, plus and minus scale it, Home brings back the "
        "first view."
    )


VIEWS_DEG = ((22.0, -60.0), (22.0, 120.0))
"""Height and azimuth of the eye: two views from opposite sides show all of it."""

_FIELD_CSS_PX = 400
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
    axes : Axes
        Made with the projection ``3d``.
    frame : NamedGamut, optional
        Drawn round it as a wireframe, against the same white; faint where the solid
        hides it.
    view_deg : tuple of float, optional
        Height and azimuth of the eye.
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
    views_deg : sequence of (float, float), optional
        Height and azimuth of the eye.
    """
    legend = solid_legend(solid, frame).splitlines()
    figure = new_page(WIDTH_CSS_PX, _FIELD_CSS_PX, "", *legend)
    # The labels of three axes are not known to matplotlib's layout.
    figure.set_layout_engine("none")
    foot = 1 - _FIELD_CSS_PX / (figure.get_figheight() * figure.dpi)
    width = 1 / len(views_deg)
    for number, view_deg in enumerate(views_deg):
        place = (number * width, foot, 0.94 * width, 1 - foot)
        axes = figure.add_axes(place, projection="3d")
        draw_solid(solid, axes, frame, view_deg=view_deg)
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
