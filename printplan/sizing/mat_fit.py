"""Can a mat be cut as it is asked for, and would it hold its print?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.errors import FitError
from printplan.sizing.boxes import Sides
from printplan.sizing.mats import (
    MAT_OVERLAP_MM,
    MatPlan,
    is_as_frame,
    mat_as_asked,
    sharing,
    sides_between,
    size_mm,
    usual_opening_mm,
)
from printplan.spec import NARROWEST_BOARD_MM, SHORTEST_MM
from printplan.units import (
    LengthUnit,
    at_least_words,
    at_most_mm,
    at_most_words,
    length_words,
)

if TYPE_CHECKING:
    from printplan.sizing.boxes import Edges
    from printplan.spec import MountSpec


LEAST_HELD_MM = 3.0
"""Paper that must lie under the mat on each side to be held: as much as a mat usually
covers. Common practice, no source."""

SMALLEST_MATTED_MM = 2 * MAT_OVERLAP_MM + SHORTEST_MM + 1.0
"""Below it no opening that is taken covers the picture's edges as usual."""

_HAIR_MM = 1e-6


def mat_plan(
    picture: Edges,
    sheet: Edges,
    mount: MountSpec,
    *,
    unit: LengthUnit = LengthUnit.MM,
) -> MatPlan | None:
    """
    The mat and the frame of a print, if they can be made.

    Parameters
    ----------
    picture, sheet : Edges
        In millimetres.
    mount : MountSpec
        What is asked for.
    unit : LengthUnit, optional
        That a refusal speaks in.

    Returns
    -------
    MatPlan or None
        None without a mat.

    Raises
    ------
    FitError
        If it cannot be cut, or would not hold the print.

    Examples
    --------
    >>> from printplan.sizing.boxes import Edges
    >>> from printplan.spec import MountSpec
    >>> mount = MountSpec(mat_overlap_mm=3, mat_outer_width_mm=400,
    ...                   mat_outer_height_mm=300)
    >>> mat_plan(Edges(10, 20, 310, 220), Edges(0, 0, 420, 297), mount).margins
    Sides(left_mm=53.0, top_mm=53.0, right_mm=53.0, bottom_mm=53.0)
    """
    mat = mat_as_asked(picture, sheet, mount)
    if mat is None:
        return None
    refused = why_not_cut(mat, mount, unit) or why_not_held(mat, mount, unit)
    if refused is not None:
        raise refused
    return mat


def least_outer_mm(
    opening_mm: tuple[float, float], board: Sides, mount: MountSpec
) -> tuple[float, float]:
    """
    The smallest mat that leaves so much board round its opening.

    Parameters
    ----------
    opening_mm : tuple of float
        Width and height.
    board : Sides
        Least on each side; margins stay shared out as the mount asks.

    Returns
    -------
    tuple of float
        Width and height.
    """
    width, height = opening_mm
    share, more = sharing(mount.mat_margins, mount.mat_foot_mm)
    white = max(
        (board.top_mm + share * more) / share,
        (board.bottom_mm - share * more) / (1 - share),
    )
    return width + 2 * max(board.left_mm, board.right_mm), height + white


def why_not_cut(mat: MatPlan, mount: MountSpec, unit: LengthUnit) -> FitError | None:
    """What keeps a mat from being cut, with its remedy; None if nothing does."""
    width, height = size_mm(mat.opening)
    if min(width, height) < SHORTEST_MM - _HAIR_MM:
        most_mm = (min(size_mm(mat.picture)) - SHORTEST_MM) / 2
        return FitError(
            f"The mat covers {length_words(unit, mount.mat_overlap_mm or 0.0)} of each "
            f"edge of a picture of {length_words(unit, *size_mm(mat.picture))}, and "
            "leaves no opening.",
            remedy=f"Choose an overlap of {at_most_words(unit, most_mm)} or less."
            if most_mm > 0
            else "Choose a larger picture, or no mat.",
        )
    margins = mat.margins
    if mat.outer is None or margins is None:
        return None
    if margins.least_mm >= NARROWEST_BOARD_MM - _HAIR_MM:
        return None
    least = NARROWEST_BOARD_MM
    board = Sides(least, least, least, least)
    needed = least_outer_mm((width, height), board, mount)
    what = "frame" if is_as_frame(mount) else "mat"
    return FitError(
        f"An opening of {length_words(unit, width, height)} in a mat of "
        f"{length_words(unit, *size_mm(mat.outer))} leaves "
        f"{length_words(unit, max(margins.least_mm, 0.0))} of board on one side; "
        f"{length_words(unit, least)} can be cut.",
        remedy=f"Choose a {what} of at least {at_least_words(unit, *needed)}, or a "
        "smaller opening.",
    )


def why_not_held(mat: MatPlan, mount: MountSpec, unit: LengthUnit) -> FitError | None:
    """Why a mat would not hold its print, with the remedy; None if it does."""
    held = mat.paper_held
    if mount.reveal_mm is not None:
        return _white_not_held(mat, mount, unit)
    if held.least_mm >= -_HAIR_MM:
        return None
    tiny = min(size_mm(mat.picture)) < SMALLEST_MATTED_MM
    holds = at_most_words(unit, *usual_opening_mm(mat.picture))
    return FitError(
        f"The mat's opening is {length_words(unit, *size_mm(mat.opening))} and reaches "
        f"past the sheet of {length_words(unit, *size_mm(mat.sheet))}: nothing would "
        "hold the print.",
        remedy="Choose a larger picture, or no mat."
        if tiny
        else f"Choose an opening of {holds}, or a larger sheet.",
    )


def _white_not_held(
    mat: MatPlan, mount: MountSpec, unit: LengthUnit
) -> FitError | None:
    held_mm = mat.paper_held.least_mm
    if held_mm >= LEAST_HELD_MM - _HAIR_MM:
        return None
    there = (
        f"reaches {length_words(unit, -held_mm)} past the sheet"
        if held_mm < 0
        else f"leaves {length_words(unit, held_mm)} of paper under the mat"
    )
    white = sides_between(mat.sheet, mat.picture)
    round_mm = min(white.left_mm, white.top_mm, white.right_mm) - LEAST_HELD_MM
    below_mm = white.bottom_mm - LEAST_HELD_MM
    told = ""
    if mount.reveal_below_mm is None:
        round_mm = min(round_mm, below_mm)
    else:
        told = f" and {at_most_words(unit, max(below_mm, 0.0))} below it"
    remedy = "Choose a larger sheet, or a smaller picture."
    if at_most_mm(unit, min(round_mm, below_mm)) > 0:
        remedy = (
            f"Show at most {at_most_words(unit, round_mm)} round the picture{told}, or "
            "choose a larger sheet."
        )
    return FitError(
        f"The mat's opening shows white round the picture and {there}; "
        f"{length_words(unit, LEAST_HELD_MM)} on each side hold the print.",
        remedy=remedy,
    )
