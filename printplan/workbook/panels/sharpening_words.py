"""What will the sharpening do in the print, and why was it chosen, in plain words?"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from printplan.pixels.sharpening_reason import restore_words
from printplan.workbook.panels.mounting import Words
from printplan.workbook.panels.words import sharpening_words

if TYPE_CHECKING:
    from printplan.errors import PrintPlanError
    from printplan.pixels.sharpening import SharpenAdvice
    from printplan.plan import PrintPlan
    from printplan.sharpness.choice import SharpenEffect

MEASURING = "Measuring edges, noise and texture of the picture at this size."


def waiting_words(plan: PrintPlan, problem: PrintPlanError | None) -> Words:
    """
    The plan's sharpening while the picture's content is not known.

    Parameters
    ----------
    plan : PrintPlan
    problem : PrintPlanError or None
        Why it cannot be known; None while it is being measured.

    Returns
    -------
    Words
    """
    why = MEASURING if problem is None else f"{problem.problem} {problem.remedy}"
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
    plan : PrintPlan
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
        effect_rows(effect, distance_mm=distance_mm),
    )


def effect_rows(
    effect: SharpenEffect, *, distance_mm: float
) -> list[tuple[str, str, str]]:
    """
    What a sharpening does, as numbers without and with it.

    Parameters
    ----------
    effect : SharpenEffect
    distance_mm : float
        Eye to paper.

    Returns
    -------
    list of (str, str, str)
        What, without and with.
    """
    return [
        (f"predicted, from {distance_mm:.0f} mm", "without", "with"),
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
    html = "".join(paragraphs[:2]) + _table(rows) + "".join(paragraphs[2:])
    lines = [" ".join(cells).rstrip() for cells in rows]
    return Words(html, "\n".join([*sentences[:2], *lines, *sentences[2:]]))


def _table(rows: list[tuple[str, str, str]]) -> str:
    if not rows:
        return ""
    head, *body = rows
    columns = "".join(f"<th scope='col'>{escape(cell)}</th>" for cell in head)
    lines = "".join(
        f"<tr><th scope='row'>{escape(what)}</th><td>{escape(without)}</td>"
        f"<td>{escape(with_it)}</td></tr>"
        for what, without, with_it in body
    )
    return f"<table><tr>{columns}</tr>{lines}</table>"
