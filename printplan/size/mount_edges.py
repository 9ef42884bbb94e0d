"""Where do the mat's opening and the fold of a canvas wrap lie on the sheet?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.size.layout import Edges
from printplan.spec import SHORTEST_MM

if TYPE_CHECKING:
    from printplan.spec import MountSpec

MAT_OVERLAP_MM = 3.0
"""By how much a mat usually covers each edge: common practice, no source."""


def mat_edges(picture: Edges, mount: MountSpec) -> Edges | None:
    """
    The opening of the mat, centred on the picture.

    Parameters
    ----------
    picture : Edges
        In millimetres.
    mount : MountSpec

    Returns
    -------
    Edges or None
        None without a mat. An opening larger than the sheet reaches past its edges.

    Examples
    --------
    >>> from printplan.spec import MountSpec
    >>> mount = MountSpec(mat_opening_width_mm=194, mat_opening_height_mm=94)
    >>> mat_edges(Edges(10, 20, 210, 120), mount)
    Edges(left_mm=13.0, top_mm=23.0, right_mm=207.0, bottom_mm=117.0)
    """
    width, height = mount.mat_opening_width_mm, mount.mat_opening_height_mm
    if width is None or height is None:
        return None
    across_mm = (picture.left_mm + picture.right_mm) / 2
    down_mm = (picture.top_mm + picture.bottom_mm) / 2
    return Edges(
        across_mm - width / 2,
        down_mm - height / 2,
        across_mm + width / 2,
        down_mm + height / 2,
    )


def fold_edges(picture: Edges, mount: MountSpec) -> Edges | None:
    """
    Where the picture folds over a stretcher bar; what lies inside is its front.

    Parameters
    ----------
    picture : Edges
        In millimetres.
    mount : MountSpec

    Returns
    -------
    Edges or None
        None without a wrap, and where the wraps of two sides leave no front.
    """
    wrap_mm = mount.wrap_mm
    front = Edges(
        picture.left_mm + wrap_mm,
        picture.top_mm + wrap_mm,
        picture.right_mm - wrap_mm,
        picture.bottom_mm - wrap_mm,
    )
    is_front = front.left_mm < front.right_mm and front.top_mm < front.bottom_mm
    return front if wrap_mm > 0 and is_front else None


def usual_opening_mm(picture: Edges) -> tuple[float, float]:
    """
    Width and height of a mat's opening that holds a picture by its edges.

    Parameters
    ----------
    picture : Edges
        In millimetres.

    Returns
    -------
    tuple of float
        Never below the shortest edge that is taken.

    Examples
    --------
    >>> usual_opening_mm(Edges(10, 20, 210, 120))
    (194.0, 94.0)
    """
    edges = picture.right_mm - picture.left_mm, picture.bottom_mm - picture.top_mm
    width, height = (max(edge - 2 * MAT_OVERLAP_MM, SHORTEST_MM) for edge in edges)
    return width, height
