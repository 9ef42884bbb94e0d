"""How large are a mat, its opening and its frame, and what do they hide?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from printplan.sizing.boxes import Edges, Sides
from printplan.sizing.placing import OPTICAL_TOP_SHARE
from printplan.spec import SHORTEST_MM, MatMargins

if TYPE_CHECKING:
    from printplan.spec import MountSpec


MAT_OVERLAP_MM = 3.0
"""By how much a mat usually covers each edge: common practice, no source."""


def sides_between(outer: Edges, inner: Edges) -> Sides:
    """
    How far one rectangle lies inside another on each side.

    Returns
    -------
    Sides
        Below 0 where it reaches out of it.

    Examples
    --------
    >>> sides_between(Edges(0, 0, 400, 300), Edges(53, 53, 347, 247))
    Sides(left_mm=53, top_mm=53, right_mm=53, bottom_mm=53)
    """
    return Sides(
        inner.left_mm - outer.left_mm,
        inner.top_mm - outer.top_mm,
        outer.right_mm - inner.right_mm,
        outer.bottom_mm - inner.bottom_mm,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class MatBoard:
    """
    A mat by itself, as it is cut.

    Attributes
    ----------
    width_mm, height_mm : float
        Outside, as it hangs.
    openings : tuple of Edges
        From its left top corner, seen from the front.
    """

    width_mm: float
    height_mm: float
    openings: tuple[Edges, ...]

    @property
    def margins(self) -> Sides:
        """Board round all openings together."""
        return Sides(
            min(it.left_mm for it in self.openings),
            min(it.top_mm for it in self.openings),
            self.width_mm - max(it.right_mm for it in self.openings),
            self.height_mm - max(it.bottom_mm for it in self.openings),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class MatPlan:
    """
    A mat over a print, and its frame, in millimetres from the sheet's left top corner.

    Attributes
    ----------
    sheet, picture : Edges
        What lies under the mat.
    opening : Edges
        Of the mat.
    outer : Edges or None
        The mat itself; None while its size is not decided.
    glazing, sight : Edges or None
        The frame's glass, and the edge of the frame that is seen round it; None
        without a frame, or without the size of the mat that it holds.
    """

    sheet: Edges
    picture: Edges
    opening: Edges
    outer: Edges | None = None
    glazing: Edges | None = None
    sight: Edges | None = None

    @property
    def margins(self) -> Sides | None:
        """Board round the opening."""
        return None if self.outer is None else sides_between(self.outer, self.opening)

    @property
    def margins_seen(self) -> Sides | None:
        """Board round the opening that the frame leaves in sight."""
        return None if self.sight is None else sides_between(self.sight, self.opening)

    @property
    def picture_hidden(self) -> Sides:
        """Picture under the mat."""
        return sides_between(self.picture, self.opening).positive

    @property
    def white_shown(self) -> Sides:
        """White paper between the opening's edge and the picture."""
        return sides_between(self.opening, self.picture).positive

    @property
    def paper_held(self) -> Sides:
        """Paper under the mat; below 0 where the opening reaches past it."""
        return sides_between(self.sheet, self.opening)

    @property
    def paper_beyond(self) -> Sides | None:
        """Paper that sticks out past the mat."""
        if self.outer is None:
            return None
        return sides_between(self.sheet, self.outer).positive

    @property
    def mat_hidden(self) -> Sides | None:
        """Mat under the frame; below 0 where its edge would be seen."""
        if self.outer is None or self.sight is None:
            return None
        return sides_between(self.outer, self.sight)

    @property
    def board(self) -> MatBoard | None:
        """The mat as it is cut; None while its size is not decided."""
        if self.outer is None:
            return None
        outer, opening = self.outer, self.opening
        return MatBoard(
            width_mm=outer.right_mm - outer.left_mm,
            height_mm=outer.bottom_mm - outer.top_mm,
            openings=(
                Edges(
                    opening.left_mm - outer.left_mm,
                    opening.top_mm - outer.top_mm,
                    opening.right_mm - outer.left_mm,
                    opening.bottom_mm - outer.top_mm,
                ),
            ),
        )


def mat_as_asked(picture: Edges, sheet: Edges, mount: MountSpec) -> MatPlan | None:
    """The mat and the frame that are asked for, also if they cannot be made."""
    opening = mat_edges(picture, mount)
    if opening is None:
        return None
    outer = _outer(opening, mount)
    glazing = sight = None
    if outer is not None and mount.frame_width_mm and mount.frame_height_mm:
        across_mm, down_mm = _middle(outer)
        glazing = _about(
            across_mm, down_mm, mount.frame_width_mm, mount.frame_height_mm
        )
        rebate = mount.frame_rebate_mm
        sight = _grown(glazing, Sides(-rebate, -rebate, -rebate, -rebate))
    return MatPlan(
        sheet=sheet,
        picture=picture,
        opening=opening,
        outer=outer,
        glazing=glazing,
        sight=sight,
    )


def mat_edges(picture: Edges, mount: MountSpec) -> Edges | None:
    """
    The opening of the mat.

    Parameters
    ----------
    picture : Edges
        In millimetres.

    Returns
    -------
    Edges or None
        None without a mat. One of a given size is centred on the picture; an opening
        larger than the sheet reaches past its edges.

    Examples
    --------
    >>> from printplan.spec import MountSpec
    >>> mount = MountSpec(mat_opening_width_mm=194, mat_opening_height_mm=94)
    >>> mat_edges(Edges(10, 20, 210, 120), mount)
    Edges(left_mm=13.0, top_mm=23.0, right_mm=207.0, bottom_mm=117.0)
    """
    if mount.mat_overlap_mm is not None:
        less = -mount.mat_overlap_mm
        return _grown(picture, Sides(less, less, less, less))
    if mount.reveal_mm is not None:
        more, below = mount.reveal_mm, mount.reveal_below_mm
        return _grown(
            picture, Sides(more, more, more, more if below is None else below)
        )
    width, height = mount.mat_opening_width_mm, mount.mat_opening_height_mm
    if width is None or height is None:
        return None
    return _about(*_middle(picture), width, height)


def is_as_frame(mount: MountSpec) -> bool:
    """Whether the mat takes its size from the frame."""
    own = (mount.mat_outer_width_mm, mount.mat_margin_mm)
    return mount.frame_width_mm is not None and own == (None, None)


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


def _outer(opening: Edges, mount: MountSpec) -> Edges | None:
    width, height = mount.mat_outer_width_mm, mount.mat_outer_height_mm
    if is_as_frame(mount):
        width, height = mount.frame_width_mm, mount.frame_height_mm
    outer_mm = None if width is None or height is None else (width, height)
    return outer_round(
        opening,
        outer_mm,
        mount.mat_margin_mm,
        mount.mat_margins,
        mount.mat_foot_mm,
    )


def outer_round(
    opening: Edges,
    outer_mm: tuple[float, float] | None,
    margin_mm: float | None,
    margins: MatMargins,
    foot_mm: float,
) -> Edges | None:
    """
    The mat round an opening, of a given size or with a given margin.

    Parameters
    ----------
    outer_mm : tuple of float or None
        Width and height.
    margin_mm : float or None
        Board to the left, to the right and above.
    margins : MatMargins
        How the board above and below is shared out.
    foot_mm : float
        With `BOTTOM_WEIGHTED`, by how much the foot is wider than the top.

    Returns
    -------
    Edges or None
        None if neither is given.
    """
    share, more = sharing(margins, foot_mm)
    if outer_mm is not None:
        width, height = size_mm(opening)
        side = (outer_mm[0] - width) / 2
        white = outer_mm[1] - height
        top = (white - more) * share
        made = _grown(opening, Sides(side, top, side, white - top))
        # Its size is the one that was given, to the last bit that a sum can keep.
        return replace(
            made,
            right_mm=made.left_mm + outer_mm[0],
            bottom_mm=made.top_mm + outer_mm[1],
        )
    if margin_mm is None:
        return None
    foot = margin_mm * (1 - share) / share + more
    return _grown(opening, Sides(margin_mm, margin_mm, margin_mm, foot))


def sharing(margins: MatMargins, foot_mm: float) -> tuple[float, float]:
    """Share of the board above the opening, but for what the foot has more; that."""
    if margins is MatMargins.OPTICAL_CENTRE:
        return OPTICAL_TOP_SHARE, 0.0
    return 0.5, foot_mm


def size_mm(edges: Edges) -> tuple[float, float]:
    """Width and height of a rectangle."""
    return edges.right_mm - edges.left_mm, edges.bottom_mm - edges.top_mm


def _middle(edges: Edges) -> tuple[float, float]:
    return (
        (edges.left_mm + edges.right_mm) / 2,
        (edges.top_mm + edges.bottom_mm) / 2,
    )


def _about(across_mm: float, down_mm: float, width: float, height: float) -> Edges:
    return Edges(
        across_mm - width / 2,
        down_mm - height / 2,
        across_mm + width / 2,
        down_mm + height / 2,
    )


def _grown(edges: Edges, by: Sides) -> Edges:
    return Edges(
        edges.left_mm - by.left_mm,
        edges.top_mm - by.top_mm,
        edges.right_mm + by.right_mm,
        edges.bottom_mm + by.bottom_mm,
    )
