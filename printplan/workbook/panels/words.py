"""What do the plan's numbers say in plain words?"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from printplan.checks import Level
from printplan.record.decision_sheet.print_facts import check_header
from printplan.units import LengthUnit, length_text, length_words
from printplan.workbook.panels.mounting import Words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from printplan.checks import Finding
    from printplan.pixels.render import Rendered
    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.spec import MasterFacts


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


def header_words(sheet: Sheet) -> Words:
    """
    What is read first before a print is made.

    Parameters
    ----------
    sheet : Sheet

    Returns
    -------
    Words
    """
    rows = check_header(sheet.plan, file_profile=sheet.profile.name)
    return _table_words((row.what, row.value) for row in rows)


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
    plan = sheet.plan
    return (
        f"{sheet.size_px[0]} × {sheet.size_px[1]} px at {plan.ppi:g} ppi, "
        f"{length_words(plan.spec.lengths_in, *plan.page_mm)} of paper, "
        f"{sheet.dtype.itemsize * 8} bits, in {sheet.profile.name}."
    )


_WEIGHTS = {
    Level.STOP: "would waste the sheet",
    Level.WARN: "look into it first",
    Level.NOTE: "good to know",
}


def findings_words(findings: Sequence[Finding]) -> Words:
    """
    What should be known before ink is spent, the gravest first.

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
    groups: list[str] = []
    lines: list[str] = []
    for level, meaning in _WEIGHTS.items():
        found = [it for it in findings if it.level is level]
        if not found:
            continue
        rows = "".join(
            f"<li>{escape(it.problem)} <i>{escape(it.remedy)}</i></li>" for it in found
        )
        groups.append(f"<p><b>{level}</b>: {meaning}</p><ul>{rows}</ul>")
        lines.extend(map(str, found))
    return Words("".join(groups), "\n".join(lines))


def counted_words(findings: Sequence[Finding]) -> str:
    """
    How many findings of each weight there are.

    Parameters
    ----------
    findings : sequence of Finding

    Returns
    -------
    str
    """
    counts = {level: sum(it.level is level for it in findings) for level in _WEIGHTS}
    told = [f"{level} {count}" for level, count in counts.items() if count]
    return f"Found: {', '.join(told) or 'nothing'}."


def facts_words(facts: MasterFacts) -> Words:
    """
    What the master is.

    Parameters
    ----------
    facts : MasterFacts

    Returns
    -------
    Words
    """
    numbers = "floating point" if facts.is_float else "whole numbers"
    depth = f"{facts.bits} bits per channel, {numbers}"
    if facts.bits == 8:
        depth += "; it was reduced to 8 bits before it came here"
    profile = facts.profile_name
    if facts.profile_is_assumed:
        profile += ", assumed: the file carries none"
    if facts.profile_is_table:
        profile += ", by tables; read once into linear ROMM RGB"
    flag = facts.orientation_flag
    millions = facts.width_px * facts.height_px / 1e6
    lines = [
        ("file", facts.path),
        ("format", facts.file_format),
        ("pixels", f"{facts.width_px} × {facts.height_px}, {millions:.1f} million"),
        ("depth", depth),
        ("channels", "grey" if facts.channels == 1 else "RGB"),
        ("profile", profile),
        (
            "orientation flag",
            "1, as stored" if flag == 1 else f"{flag}, turned as it says",
        ),
        (
            "clipped",
            f"{facts.clipped_share:.2%} of the numbers lay outside 0 to 1"
            if facts.clipped_share > 0
            else "none of the numbers lay outside 0 to 1",
        ),
    ]
    if facts.alpha_was_flattened:
        lines.append(("transparency", "laid on paper white"))
    if facts.page_count > 1:
        lines.append(("pages", f"{facts.page_count}; the first is printed"))
    if facts.creator or facts.copyright_notice:
        told = " · ".join(filter(None, (facts.creator, facts.copyright_notice)))
        lines.append(("carried over", told))
    if facts.has_location:
        lines.append(("place", "the file says where it was taken; never carried over"))
    return _table_words(lines)


def rendered_words(rendered: Rendered, unit: LengthUnit = LengthUnit.MM) -> Words:
    """
    The finished file.

    Parameters
    ----------
    rendered : Rendered
    unit : LengthUnit, optional

    Returns
    -------
    Words
    """
    lines = (
        ("file", str(rendered.path)),
        ("pixels", f"{rendered.width_px} × {rendered.height_px} px"),
        ("on paper", length_words(unit, rendered.width_mm, rendered.height_mm)),
        ("resolution", f"{rendered.ppi:g} ppi"),
        ("length", f"{rendered.bytes_written / 1e6:.1f} MB"),
        ("SHA-256", rendered.sha256),
    )
    return _table_words(lines)


def _table_words(lines: Iterable[tuple[str, str]]) -> Words:
    lines = list(lines)
    rows = "".join(
        f"<tr><th scope='row' style='text-align:left'>{what}</th>"
        f"<td style='text-align:left;overflow-wrap:anywhere'>{escape(value)}</td></tr>"
        for what, value in lines
    )
    text = "\n".join(f"{what}: {value}" for what, value in lines)
    return Words(f"<table>{rows}</table>", text)
