"""What do the plan's numbers say in plain words?"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from printplan.workbook.panels.lengths import LengthUnit, length_text
from printplan.workbook.panels.mounting import Words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from printplan.checks import Finding
    from printplan.pixels.render import Rendered
    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan


def size_words(plan: PrintPlan, unit: LengthUnit = LengthUnit.MM) -> str:
    """
    Size and place in a few sentences.

    Parameters
    ----------
    plan : PrintPlan
    unit : LengthUnit, optional

    Returns
    -------
    str
    """
    size, layout = plan.picture_size, plan.layout
    width, height = length_text(size.width_mm, unit), length_text(size.height_mm, unit)
    return (
        f"Picture {width} × {height} {unit}, {plan.picture.width} × "
        f"{plan.picture.height} print pixels at {plan.ppi:g} ppi. "
        f"Sheet {plan.spec.sheet.media_size}, {layout.orientation}. The master gives "
        f"{plan.effective_ppi:.0f} of its own pixels per inch at this size."
    )


def sharpening_words(plan: PrintPlan) -> str:
    """
    Sharpening in one line.

    Parameters
    ----------
    plan : PrintPlan

    Returns
    -------
    str
    """
    sharpen = plan.spec.sharpen
    return (
        f"Gain {sharpen.gain:.2f}, radius {sharpen.radius_mm:.3f} mm, which is "
        f"{plan.radius_px:.2f} print pixels at {plan.ppi:g} ppi."
    )


def file_words(sheet: Sheet) -> str:
    """
    The file to come in one line.

    Parameters
    ----------
    sheet : Sheet

    Returns
    -------
    str
    """
    width_mm, height_mm = sheet.plan.page_mm
    return (
        f"{sheet.size_px[0]} × {sheet.size_px[1]} px at {sheet.plan.ppi:g} ppi, "
        f"{width_mm:.1f} × {height_mm:.1f} mm of paper, "
        f"{sheet.dtype.itemsize * 8} bits, in {sheet.profile.name}."
    )


def findings_words(findings: Sequence[Finding]) -> Words:
    """
    What should be known before ink is spent.

    Parameters
    ----------
    findings : sequence of Finding

    Returns
    -------
    Words
    """
    if not findings:
        nothing = "Nothing speaks against this print."
        return Words(f"<p>{nothing}</p>", nothing)
    rows = "".join(
        f"<li><b>{escape(it.level)}</b> &nbsp;{escape(it.problem)} "
        f"<i>{escape(it.remedy)}</i></li>"
        for it in findings
    )
    return Words(f"<ul>{rows}</ul>", "\n".join(str(it) for it in findings))


def rendered_words(rendered: Rendered) -> Words:
    """
    The finished file.

    Parameters
    ----------
    rendered : Rendered

    Returns
    -------
    Words
    """
    lines = (
        ("file", str(rendered.path)),
        ("pixels", f"{rendered.width_px} × {rendered.height_px} px"),
        ("on paper", f"{rendered.width_mm:.1f} × {rendered.height_mm:.1f} mm"),
        ("resolution", f"{rendered.ppi:g} ppi"),
        ("length", f"{rendered.bytes_written / 1e6:.1f} MB"),
        ("SHA-256", rendered.sha256),
    )
    rows = "".join(
        f"<tr><th style='text-align:left'>{what}</th>"
        f"<td style='text-align:left;overflow-wrap:anywhere'>{escape(value)}</td></tr>"
        for what, value in lines
    )
    text = "\n".join(f"{what}: {value}" for what, value in lines)
    return Words(f"<table>{rows}</table>", text)
