"""Which few lines show the shape of a gamut without hiding what is inside it?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.gamut_section import leaf_at_hue, slice_at_lightness

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.colour.gamut import GamutMesh

    Floats = NDArray[np.float64]

RING_STEP_L = 10.0
RIB_STEP_DEG = 30.0


def frame_lines(mesh: GamutMesh) -> list[Floats]:
    """
    Rings of one lightness and ribs of one hue round a gamut.

    Parameters
    ----------
    mesh : GamutMesh

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
        for loop in slice_at_lightness(mesh, lightness)
    ]
    ribs = []
    for hue_deg in np.arange(0.0, 360.0, RIB_STEP_DEG).tolist():
        towards = np.array([np.cos(np.radians(hue_deg)), np.sin(np.radians(hue_deg))])
        ribs += [
            np.column_stack([leaf[:, 1], leaf[:, :1] * towards])
            for leaf in leaf_at_hue(mesh, hue_deg)
        ]
    return rings + ribs


def axis_reach(meshes: list[GamutMesh]) -> int:
    """
    How far the a* and b* axes have to go to stand out of gamuts.

    Parameters
    ----------
    meshes : list of GamutMesh

    Returns
    -------
    int
        CIELAB units, a multiple of 10.
    """
    farthest = max(np.abs(mesh.vertices_lab[:, 1:]).max() for mesh in meshes)
    return int(10 * np.ceil(farthest / 10))
