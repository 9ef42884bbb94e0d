"""What does the print go into, and in which light does it hang?"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from printplan.errors import SpecError
from printplan.spec.ranges import LONGEST_MM, SHORTEST_MM, UNSAID, in_range, take_words


class MatMargins(StrEnum):
    """How the board round a mat's opening is shared out."""

    EQUAL = "equal"
    BOTTOM_WEIGHTED = "bottom-weighted"
    OPTICAL_CENTRE = "optical-centre"


NARROWEST_BOARD_MM = 10.0
"""Narrowest strip of mat board that is planned: a guide has to lie on it, and it has to
stay flat. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MountSpec:
    """
    What the print is mounted in; it is checked and drawn, and changes no pixel.

    Attributes
    ----------
    mat_opening_width_mm, mat_opening_height_mm : float or None
        Opening of a mat as the picture stands, centred on the picture; None without a
        mat, or where the opening follows from the picture.
    wrap_mm : float
        Part of the picture along each edge that goes round a stretcher bar; 0 without
        one.
    stretcher_depth_mm : float
        Depth of the bar that the wrap goes round; 0 without one.
    mat_overlap_mm : float or None
        The opening follows from the picture, and covers so much of each edge.
    reveal_mm, reveal_below_mm : float or None
        The opening follows from the picture, and shows so much white round it, and so
        much below it; below as on the other sides if not given.
    mat_outer_width_mm, mat_outer_height_mm : float or None
        The mat itself. Without them it is as large as the frame's glass, or follows
        from its margin.
    mat_margin_mm : float or None
        Board to the left, to the right and above the opening.
    mat_margins : MatMargins
        How the board above and below the opening is shared out.
    mat_foot_mm : float
        With `BOTTOM_WEIGHTED`, by how much the foot is wider than the top.
    frame_width_mm, frame_height_mm : float or None
        Glass of the frame as it hangs: the size that frames are sold by.
    frame_rebate_mm : float
        By how much the frame lies over the glass on each side; 6 mm are common
        practice, no source.
    """

    mat_opening_width_mm: float | None = None
    mat_opening_height_mm: float | None = None
    wrap_mm: float = 0.0
    stretcher_depth_mm: float = 0.0
    mat_overlap_mm: float | None = field(default=None, metadata={UNSAID: True})
    reveal_mm: float | None = field(default=None, metadata={UNSAID: True})
    reveal_below_mm: float | None = field(default=None, metadata={UNSAID: True})
    mat_outer_width_mm: float | None = field(default=None, metadata={UNSAID: True})
    mat_outer_height_mm: float | None = field(default=None, metadata={UNSAID: True})
    mat_margin_mm: float | None = field(default=None, metadata={UNSAID: True})
    mat_margins: MatMargins = field(default=MatMargins.EQUAL, metadata={UNSAID: True})
    mat_foot_mm: float = field(default=0.0, metadata={UNSAID: True})
    frame_width_mm: float | None = field(default=None, metadata={UNSAID: True})
    frame_height_mm: float | None = field(default=None, metadata={UNSAID: True})
    frame_rebate_mm: float = field(default=6.0, metadata={UNSAID: True})

    @property
    def has_mat(self) -> bool:
        """Whether it says how a mat is opened."""
        asked = (self.mat_opening_width_mm, self.mat_overlap_mm, self.reveal_mm)
        return any(it is not None for it in asked)

    def __post_init__(self) -> None:
        take_words(self, mat_margins=MatMargins)
        for what, kind in (
            ("mat opening", "mat_opening"),
            ("mat", "mat_outer"),
            ("frame", "frame"),
        ):
            edges = (
                getattr(self, f"{kind}_width_mm"),
                getattr(self, f"{kind}_height_mm"),
            )
            if (edges[0] is None) != (edges[1] is None):
                raise SpecError(
                    f"One edge of the {what} is given, and the other is not.",
                    remedy=f"Give the {what.split()[-1]}'s width and its height, or "
                    "neither.",
                )
            for edge in edges:
                if edge is not None:
                    told = what[0].upper() + what[1:]
                    in_range(told, edge, SHORTEST_MM, LONGEST_MM, "mm")
        in_range("Wrap", self.wrap_mm, 0, 500, "mm")
        in_range("Stretcher depth", self.stretcher_depth_mm, 0, 500, "mm")
        for what, value, low, high in (
            ("Overlap of the mat", self.mat_overlap_mm, 0, 500),
            ("White in the mat's opening", self.reveal_mm, 0, 1000),
            ("White below the picture", self.reveal_below_mm, 0, 1000),
            ("Margin of the mat", self.mat_margin_mm, NARROWEST_BOARD_MM, 2000),
            ("Wider foot of the mat", self.mat_foot_mm, 0, 500),
            ("Rebate of the frame", self.frame_rebate_mm, 0, 500),
        ):
            if value is not None:
                in_range(what, value, low, high, "mm")
        self._require_one_mat()

    def _require_one_mat(self) -> None:
        """Refuse wishes for a mat that contradict each other, or lack one."""
        ways = (self.mat_opening_width_mm, self.mat_overlap_mm, self.reveal_mm)
        given = [it for it in ways if it is not None]
        if given[1:]:
            raise SpecError(
                "The mat's opening is given in more than one way.",
                remedy="Keep one: its size, its overlap, or the white that it shows.",
            )
        if self.mat_outer_width_mm is not None and self.mat_margin_mm is not None:
            raise SpecError(
                "The mat's own size and its margin are both given.",
                remedy="Keep one of the two; the other follows.",
            )
        if self.reveal_below_mm is not None and self.reveal_mm is None:
            raise SpecError(
                "White below the picture is asked for, and none round it.",
                remedy="Give the white round the picture as well; 0 is allowed.",
            )
        if self.mat_foot_mm > 0 and self.mat_margins is not MatMargins.BOTTOM_WEIGHTED:
            raise SpecError(
                f"A wider foot is asked for, and the mat's margins are "
                f"{self.mat_margins}.",
                remedy='Choose the margins "wider at the foot", or a foot of 0.',
            )
        sizes = (self.mat_outer_width_mm, self.mat_margin_mm, self.frame_width_mm)
        if not given and any(it is not None for it in sizes):
            raise SpecError(
                "A mat or a frame is given, and no opening of the mat.",
                remedy="Give the opening's size, its overlap (3 mm are usual), or the "
                "white that it shows.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomSpec:
    """
    The light that the print and the display are looked at in.

    Attributes
    ----------
    illuminance_lx : float or None
        Light on the print where it will hang; None if not known.
    display_cd_m2 : float or None
        Luminance of the display's white, as measured; None if not known.
    """

    illuminance_lx: float | None = None
    display_cd_m2: float | None = None

    def __post_init__(self) -> None:
        if self.illuminance_lx is not None:
            in_range("Light on the print", self.illuminance_lx, 1, 20_000, "lx")
        if self.display_cd_m2 is not None:
            in_range("Display white", self.display_cd_m2, 10, 5_000, "cd/m²")
