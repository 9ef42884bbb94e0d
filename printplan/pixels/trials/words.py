"""What do the words on a trial sheet say?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from printplan.pixels.trials.steps import intent_words, lightness_words, sharpen_words
from printplan.size.trial_layout import TrialCover
from printplan.spec import Delivery

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from printplan.pixels.sheet import Sheet
    from printplan.pixels.trials.steps import TrialStep

CORNER_WORDS = "The solid corner is the top left."


def title(sheet: Sheet) -> str:
    """
    The head line.

    Parameters
    ----------
    sheet : Sheet

    Returns
    -------
    str
    """
    return f"Trial of {Path(sheet.plan.facts.path).stem} on {sheet.plan.paper.name}"


def head_sentences(
    sheet: Sheet, steps: Sequence[TrialStep], feed: str, on: date | None
) -> list[str]:
    """
    What the sheet is and how to print it, in paragraphs.

    Parameters
    ----------
    sheet : Sheet
    steps : sequence of TrialStep
    feed : str
        The feed path of the trial's sheet.
    on : date or None

    Returns
    -------
    list of str
    """
    plan = sheet.plan
    made = [f"{plan.printer.name}, {feed}", f"profile {sheet.output.name}"]
    made.append(f"master {Path(plan.facts.path).name}")
    if on is not None:
        made.append(on.isoformat())
    size = plan.picture_size
    patches = f"Patches at the scale of the print of {size.width_mm:.0f} × "
    patches += f"{size.height_mm:.0f} mm, {plan.ppi:g} ppi"
    common = _common_words(steps)
    return [
        f"{'; '.join(made)}.",
        f"{patches}{common}." if steps else f"{plan.ppi:g} ppi.",
        f"{_how_to_print(sheet)} {CORNER_WORDS}",
    ]


def _common_words(steps: Sequence[TrialStep]) -> str:
    """Colour settings that all steps share; what differs stands under the patches."""
    words = ""
    for said in (_intent_said, _lightness_said):
        all_said = {said(step) for step in steps}
        if len(all_said) == 1:
            words += f"; {all_said.pop()}"
    return words


def _intent_said(step: TrialStep) -> str:
    return intent_words(step.spec.colour)


def _lightness_said(step: TrialStep) -> str:
    return lightness_words(step.spec.colour.lighten_l)


def _how_to_print(sheet: Sheet) -> str:
    if sheet.plan.delivery.colour is Delivery.PRINTER_COLOUR:
        return "Print without scaling, colour conversion or sharpening."
    way = intent_words(sheet.plan.spec.colour)
    return f"Print without scaling or sharpening, converted {way}."


def step_words(step: TrialStep, steps: Sequence[TrialStep]) -> str:
    """
    The settings under a patch: its sharpening, and what of its colour varies.

    Parameters
    ----------
    step : TrialStep
    steps : sequence of TrialStep
        All of the sheet.

    Returns
    -------
    str
    """
    words = sharpen_words(step.spec.sharpen)
    words += [
        said(step)
        for said in (_intent_said, _lightness_said)
        if len({said(each) for each in steps}) > 1
    ]
    # What the label says already is not said again.
    return ", ".join(word for word in words if word not in step.label)


def foot_words(cover: TrialCover, sheet_mm: tuple[float, float]) -> str:
    """
    What to do with a strip; nothing on a whole sheet.

    Parameters
    ----------
    cover : TrialCover
    sheet_mm : tuple of float
        Width and height of the whole sheet.

    Returns
    -------
    str
    """
    if cover is TrialCover.SHEET:
        return ""
    return (
        f"This strip is the top of a sheet of {sheet_mm[0]:.0f} × {sheet_mm[1]:.0f} "
        "mm; the rest stays white for another print. To cut it off at the line: a "
        "sharp blade along a safety ruler on a cutting mat, fingers behind the ruler's "
        "guard. "
        "What the makers' sheets and local rules say comes first."
    )
