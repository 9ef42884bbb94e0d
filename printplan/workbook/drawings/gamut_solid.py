"""What does a gamut look like as a solid that can be turned?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import anywidget
import numpy as np
import traitlets

from printplan.workbook.drawings.gamut_frame import (
    RIB_STEP_DEG,
    RING_STEP_L,
    axis_reach,
    frame_lines,
)
from printplan.workbook.drawings.screen import screen_rgb

if TYPE_CHECKING:
    from printplan.workbook.drawings.gamut import NamedGamut

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

    Parameters
    ----------
    solid : NamedGamut
    frame : NamedGamut, optional

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
    """
    Names and volumes, a line for each gamut.

    Parameters
    ----------
    solid : NamedGamut
    frame : NamedGamut, optional

    Returns
    -------
    str
    """
    lines = [f"Solid   {solid.words}"]
    if frame is not None:
        lines.append(f"Wireframe   {frame.words}")
        lines.append(
            f"Rings every {RING_STEP_L:g} L*, ribs every {RIB_STEP_DEG:g}° of hue; "
            "faint where the solid reaches farther."
        )
    return "\n".join(lines)


def solid_description(solid: NamedGamut, frame: NamedGamut | None) -> str:
    """
    What is seen, for those who cannot see it.

    Parameters
    ----------
    solid : NamedGamut
    frame : NamedGamut, optional

    Returns
    -------
    str
    """
    within = "" if frame is None else f", with {frame.words} as a wireframe"
    return (
        f"Gamut in CIELAB: {solid.words} as a solid{within}. L* runs upwards, a* and "
        "b* across. Arrow keys turn it, plus and minus scale it, Home brings back the "
        "first view."
    )
