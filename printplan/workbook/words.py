"""What do the plan's numbers say in plain words?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks import Level
from printplan.pixels.sharpening_spec import restore_words
from printplan.record.decision_sheet.mat_facts import mat_cautions, mat_section
from printplan.record.decision_sheet.print_facts import check_header
from printplan.sharpening.kernel import blur_of, sigma_of
from printplan.shown_text import escape
from printplan.units import LengthUnit, distance_words, length_text, length_words
from printplan.workbook.pictures import Words, table_words
from printplan.workbook.remedies import remedy_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from printplan.checks import Finding
    from printplan.errors import PrintPlanError
    from printplan.pixels.render import Rendered
    from printplan.pixels.scale_ends import ScaleEnds
    from printplan.pixels.sharpening import SharpenAdvice
    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.record.deliver import Delivered
    from printplan.sharpening.effect import SharpenEffect
    from printplan.spec import MasterFacts


MEASURING = "Measuring edges, noise and texture of the picture at this size."


def waiting_words(plan: PrintPlan, problem: PrintPlanError | None) -> Words:
    """
    The plan's sharpening while the picture's content is not known.

    Parameters
    ----------
    problem : PrintPlanError or None
        Why it cannot be known; None while it is being measured.
    """
    why = MEASURING if problem is None else f"{problem.problem} {remedy_words(problem)}"
    return _told([sharpening_words(plan), why], [])


def advice_words(
    plan: PrintPlan,
    effect: SharpenEffect,
    advice: SharpenAdvice,
    *,
    distance_mm: float,
) -> Words:
    """
    What the plan's sharpening does, beside what paper and distance ask for.

    Parameters
    ----------
    effect : SharpenEffect
        Of the plan's whole sharpening.
    advice : SharpenAdvice
        For the same print.
    distance_mm : float
        Eye to paper.

    Returns
    -------
    Words
        What decided, if the plan follows the advice; else what the advice would be.
    """
    choice = advice.choice
    restore = plan.spec.sharpen.restore
    if advice.spec == plan.spec.sharpen and restore is not None:
        why = f"{restore_words(restore, choice)} {choice.why}"
    else:
        why = (
            f"Paper and distance would ask for gain {choice.gain:.2f} and radius "
            f"{choice.radius_mm:.3f} mm. {choice.why}"
        )
    return _told(
        [sharpening_words(plan), why, advice.reason, advice.spread.words],
        effect_rows(effect, distance_mm=distance_mm, unit=plan.spec.lengths_in),
    )


def effect_rows(
    effect: SharpenEffect, *, distance_mm: float, unit: LengthUnit = LengthUnit.MM
) -> list[tuple[str, str, str]]:
    """
    What a sharpening does, as numbers without and with it.

    Parameters
    ----------
    distance_mm : float
        Eye to paper.

    Returns
    -------
    list of (str, str, str)
        What, without and with.
    """
    seen_from = distance_words(unit, round(distance_mm))
    return [
        (f"predicted, from {seen_from}", "without", "with"),
        ("acutance", f"{effect.acutance_before:.2f}", f"{effect.acutance_after:.2f}"),
        (
            "subjective quality factor",
            f"{effect.sqf_before:.2f}",
            f"{effect.sqf_after:.2f}",
        ),
        ("noise seen (thresholds)", *_noise(effect)),
        ("halo, print (of step)", "", f"{effect.overshoot_in_print:.1%}"),
        ("halo, file (of step)", "", f"{effect.overshoot_in_file:.1%}"),
        ("its width on paper (µm)", "", f"{effect.halo_width_um:.0f}"),
        ("its width at the eye (arcmin)", "", f"{effect.halo_width_arcmin:.1f}"),
    ]


def _noise(effect: SharpenEffect) -> tuple[str, str]:
    return f"{effect.visible_noise_before:.1f}", f"{effect.visible_noise_after:.1f}"


def _told(sentences: list[str], rows: list[tuple[str, str, str]]) -> Words:
    """Sentences with a table behind the first two of them."""
    paragraphs = [f"<p>{escape(it)}</p>" for it in sentences]
    table = table_words(rows[1:], head=rows[0], between=" ") if rows else Words("", "")
    return Words(
        "".join([*paragraphs[:2], table.html, *paragraphs[2:]]),
        "\n".join(filter(None, [*sentences[:2], table.text, *sentences[2:]])),
    )


def size_words(plan: PrintPlan, unit: LengthUnit = LengthUnit.MM) -> str:
    """Size and place in a few sentences."""
    size, layout = plan.picture_size, plan.layout
    width, height = length_text(size.width_mm, unit), length_text(size.height_mm, unit)
    return (
        f"Picture {width} × {height} {unit}, {plan.picture.width} × "
        f"{plan.picture.height} print pixels at {plan.ppi:g} ppi. "
        f"Sheet {plan.spec.sheet.media_size}, {layout.orientation}. The master gives "
        f"{plan.effective_ppi:.0f} of its own pixels per inch at this size."
    )


def mat_words(plan: PrintPlan) -> Words:
    """The mat with its cutter's list, and its frame; nothing while no size is given."""
    section = mat_section(plan)
    if section is None:
        return Words("", "")
    table = table_words(((it.what, it.value) for it in section.rows), between=": ")
    sentences = [*section.words, *mat_cautions(plan)]
    paragraphs = "".join(f"<p>{escape(it)}</p>" for it in sentences)
    return Words(
        f"{table.html}{paragraphs}",
        "\n".join(filter(None, [table.text, *sentences])),
    )


def header_words(sheet: Sheet) -> Words:
    """What is read first before a print is made."""
    rows = check_header(sheet.plan, file_profile=sheet.profile.name)
    return table_words(((row.what, row.value) for row in rows), between=": ")


def sharpening_words(plan: PrintPlan) -> str:
    """Sharpening in one line."""
    sharpen = plan.spec.sharpen
    sigma_px = sigma_of(blur_of(sharpen, plan.radius_px))
    return (
        f"Gain {sharpen.gain:.2f}, {sharpen.blur_words}, which is {sigma_px:.2f} print "
        f"pixels at {plan.ppi:g} ppi."
    )


def file_words(sheet: Sheet) -> str:
    """The file to come in one line."""
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
    """What should be known before ink is spent, the gravest first."""
    if not findings:
        nothing = "No findings."
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


def summary_words(findings: Sequence[Finding]) -> Words:
    """What speaks against a print in one line: how much, and the gravest of it."""
    grave = [it for it in findings if it.level is not Level.NOTE]
    if not grave:
        nothing = "Nothing speaks against this print."
        return Words(f'<span role="status">{nothing}</span>', nothing)
    counted, first = counted_words(grave), grave[0]
    told = f"{counted} {first.problem}"
    return Words(
        f'<span role="status" title="{escape(first.remedy)}"><b>{escape(counted)}</b> '
        f"{escape(first.problem)}</span>",
        told,
    )


def print_line(sheet: Sheet) -> str:
    """What will be printed, in one line."""
    plan = sheet.plan
    rows = {
        it.what: it.value for it in check_header(plan, file_profile=sheet.profile.name)
    }
    sheet_name = plan.spec.sheet.media_size
    sharpening = rows["Sharpening"].partition(", halo")[0]
    return " · ".join(
        (
            f"{rows['Picture']} on {sheet_name}",
            f"{plan.paper.name}, {plan.printer.name}",
            "not sharpened" if sharpening == "none" else f"sharpened: {sharpening}",
            rows["Intent"],
            rows["File"],
        )
    )


def counted_words(findings: Sequence[Finding]) -> str:
    """How many findings of each weight there are."""
    counts = {level: sum(it.level is level for it in findings) for level in _WEIGHTS}
    told = [f"{level} {count}" for level, count in counts.items() if count]
    return f"Found: {', '.join(told) or 'nothing'}."


def facts_words(facts: MasterFacts, ends: ScaleEnds | None = None) -> Words:
    """
    What the master is.

    Parameters
    ----------
    ends : ScaleEnds or None, optional
        Its pixels at the ends of their scale; None while they are not counted.
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
            "outside 0 to 1",
            f"{facts.clipped_share:.2%} of the numbers, which were cut"
            if facts.clipped_share > 0
            else "none of the numbers",
        ),
        ("at the ends", _ends_words(facts, ends)),
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
    return table_words(lines, between=": ")


def _ends_words(facts: MasterFacts, ends: ScaleEnds | None) -> str:
    if ends is not None:
        return ends.words
    return "not known: its profile has tables" if facts.profile_is_table else "…"


def rendered_words(rendered: Rendered, unit: LengthUnit = LengthUnit.MM) -> Words:
    """The finished file."""
    lines = (
        ("file", str(rendered.path)),
        ("pixels", f"{rendered.width_px} × {rendered.height_px} px"),
        ("on paper", length_words(unit, rendered.width_mm, rendered.height_mm)),
        ("resolution", f"{rendered.ppi:g} ppi"),
        ("length", f"{rendered.bytes_written / 1e6:.1f} MB"),
        ("SHA-256", rendered.sha256),
    )
    return table_words(lines, between=": ")


def order_words(made: Delivered) -> Words:
    """An order that lies ready to be sent."""
    lines = [("order", str(made.folder)), ("total", made.order.total)]
    for it in made.order.lines:
        lines += [
            ("file", f"{it.file}, {it.pixels}, {it.megabytes:.2f} MB"),
            ("ordered", f"{it.copies} × {it.size} on {it.paper}, bleed {it.bleed}"),
        ]
    lines += [("record", str(record)) for record in made.records]
    return table_words(lines, between=": ")
