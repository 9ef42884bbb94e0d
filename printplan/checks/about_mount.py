"""Does the print suit its mat, its border and its stretcher?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.finding import COMMON_PRACTICE, OUR_CHOICE, PLAN, Finding, Level
from printplan.size.mount_edges import MAT_OVERLAP_MM, fold_edges, mat_edges

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.plan import PrintPlan

THINNEST_BORDER_MM = 3.0
"""Border that can still be cut evenly: a cut wanders by about 1 mm, which shows in a
thinner one. Our choice."""

FOLD_MM = 5.0
"""Picture wanted past the back edge of a stretcher bar, so that no white shows there.
Common practice, no source."""


def about_mount(plan: PrintPlan) -> Iterator[Finding]:
    """
    What mat, border and stretcher tell.

    Parameters
    ----------
    plan : PrintPlan

    Yields
    ------
    Finding
    """
    yield from _about_mat(plan)
    yield from _about_wrap(plan)
    border_mm = plan.spec.sheet.border_mm
    if 0 < border_mm < THINNEST_BORDER_MM:
        yield Finding(
            level=Level.WARN,
            about="thin border",
            problem=f"The border is {border_mm:g} mm; below {THINNEST_BORDER_MM:g} mm "
            "an uneven cut shows.",
            remedy=f"Choose {THINNEST_BORDER_MM:g} mm or more, or none. Cut along a "
            "steel rule with a guard, the hand behind the blade, and follow the "
            "cutter's own instructions.",
            source=OUR_CHOICE,
        )


def _about_mat(plan: PrintPlan) -> Iterator[Finding]:
    layout = plan.layout
    mat = mat_edges(layout.picture, plan.spec.mount)
    if mat is None:
        return
    width, height = mat.right_mm - mat.left_mm, mat.bottom_mm - mat.top_mm
    opening = f"The mat's opening is {width:.1f} × {height:.1f} mm"
    size = plan.picture_size
    holds = (
        f"{max(size.width_mm - 2 * MAT_OVERLAP_MM, 0):.1f} × "
        f"{max(size.height_mm - 2 * MAT_OVERLAP_MM, 0):.1f} mm"
    )
    if (
        mat.left_mm < 0
        or mat.top_mm < 0
        or mat.right_mm > layout.width_mm
        or mat.bottom_mm > layout.height_mm
    ):
        yield Finding(
            level=Level.STOP,
            about="mat beyond sheet",
            problem=f"{opening} and reaches past the sheet of {layout.width_mm:.1f} × "
            f"{layout.height_mm:.1f} mm: nothing would hold the print.",
            remedy=f"Choose an opening of {holds}, or a larger sheet.",
            source=PLAN,
        )
    elif width > size.width_mm or height > size.height_mm:
        yield Finding(
            level=Level.WARN,
            about="mat opening",
            problem=f"{opening}, larger than the picture of {size.width_mm:.1f} × "
            f"{size.height_mm:.1f} mm: paper would show inside it.",
            remedy=f"Choose {holds}, which covers {MAT_OVERLAP_MM:g} mm of each edge, "
            "unless the white is meant.",
            source=COMMON_PRACTICE,
        )


def _about_wrap(plan: PrintPlan) -> Iterator[Finding]:
    mount, picture = plan.spec.mount, plan.layout.picture
    depth_mm, wrap_mm = mount.stretcher_depth_mm, mount.wrap_mm
    if wrap_mm > 0 and fold_edges(picture, mount) is None:
        yield Finding(
            level=Level.STOP,
            about="wrap",
            problem=f"A wrap of {wrap_mm:g} mm on all sides leaves no front of a "
            f"picture of {plan.picture_size.width_mm:.1f} × "
            f"{plan.picture_size.height_mm:.1f} mm.",
            remedy="Choose a smaller wrap or a larger picture.",
            source=PLAN,
        )
    elif depth_mm > 0 and wrap_mm < depth_mm + FOLD_MM:
        yield Finding(
            level=Level.WARN,
            about="wrap",
            problem=f"The picture wraps {wrap_mm:g} mm round a bar {depth_mm:g} mm "
            f"deep; {depth_mm + FOLD_MM:g} mm cover it with its fold.",
            remedy=f"Choose a wrap of {depth_mm + FOLD_MM:g} mm or more, or a thinner "
            "bar.",
            source=COMMON_PRACTICE,
        )
