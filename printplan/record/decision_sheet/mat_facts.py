"""What do mat and frame hide, and how is the mat cut: for the decision sheet?"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from printplan.record.decision_sheet.print_facts import Row, Section
from printplan.record.decision_sheet.sheet_drawing import mat_of
from printplan.sizing.mat_cutting import CUTTING_CAUTIONS, cutters_list
from printplan.sizing.mat_fit import why_not_cut, why_not_held
from printplan.sizing.mats import size_mm
from printplan.units import length_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.plan import PrintPlan
    from printplan.sizing.mats import MatPlan
    from printplan.units import LengthUnit


_HAIR_MM = 1e-6


def mat_section(plan: PrintPlan) -> Section | None:
    """
    The mat with its cutter's list, and its frame.

    Returns
    -------
    Section or None
        None without a mat, or while its size is not decided. A mat that cannot be
        cut, or holds nothing, has no list, and the words say why.
    """
    mat, unit, mount = mat_of(plan), plan.spec.lengths_in, plan.spec.mount
    if mat is None or mat.board is None:
        return None
    heading = "Mat and frame"
    refused = why_not_cut(mat, mount, unit) or why_not_held(mat, mount, unit)
    if refused is not None:
        return Section(
            heading=heading, rows=(), words=(refused.problem, refused.remedy)
        )
    listed = cutters_list(mat.board, unit)
    return Section(
        heading=heading,
        rows=(
            *(Row(line.what, _unbroken(line.value)) for line in listed.lines),
            *_hidden(mat, unit),
        ),
        words=listed.notes,
    )


def mat_cautions(plan: PrintPlan) -> tuple[str, ...]:
    """What to take care of with board, blade and glass, where there is a mat."""
    return CUTTING_CAUTIONS if plan.spec.mount.has_mat else ()


def _hidden(mat: MatPlan, unit: LengthUnit) -> Iterator[Row]:
    """What lies under mat and frame."""
    for what, sides in (
        ("Picture under the mat", mat.picture_hidden),
        ("White shown", mat.white_shown),
        ("Paper under the mat", mat.paper_held),
        ("Trim the sheet by", mat.paper_beyond),
    ):
        if sides is not None and max(sides.all_mm) > _HAIR_MM:
            yield Row(what, sides.in_words(unit))
    if mat.glazing is None or mat.sight is None or mat.mat_hidden is None:
        return
    yield Row(
        "Frame",
        f"glass {length_words(unit, *size_mm(mat.glazing))}, of which "
        f"{length_words(unit, *size_mm(mat.sight))} are seen",
    )
    yield Row("Mat under the frame", mat.mat_hidden.in_words(unit))


def _unbroken(words: str) -> str:
    """The words with no end of a line between a whole number and its fraction."""
    return re.sub(r"(\d) (\d+/\d+)", "\\1\N{NO-BREAK SPACE}\\2", words)
