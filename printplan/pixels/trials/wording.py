"""What do the words on a trial sheet say, how high and where?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from printplan.pixels.consequences import choice_of
from printplan.pixels.trials.lettering import Letters, lines_px
from printplan.pixels.trials.marks import Flat, Ink, corner
from printplan.pixels.trials.steps import lightness_words, sharpen_words
from printplan.pixels.trials.targets import INK_SHARE, Drawing
from printplan.sizing.boxes import Box
from printplan.sizing.trial_layout import TrialCover
from printplan.spec import Delivery
from printplan.units import whole_words

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import date

    from printplan.pixels.sheet import Sheet
    from printplan.pixels.trials.lettering import Line
    from printplan.pixels.trials.marks import Mark
    from printplan.pixels.trials.neutrals import NeutralScale
    from printplan.pixels.trials.steps import TrialStep
    from printplan.sizing.trial_layout import TrialLayout


CORNER_WORDS = "The solid corner is the top left."


def title(sheet: Sheet) -> str:
    """The head line."""
    return f"Trial of {Path(sheet.plan.facts.path).stem} on {sheet.plan.paper.name}"


def head_sentences(
    sheet: Sheet, steps: Sequence[TrialStep], feed: str, on: date | None
) -> list[str]:
    """
    What the sheet is and how to print it, in paragraphs.

    Parameters
    ----------
    feed : str
        The feed path of the trial's sheet.
    """
    plan = sheet.plan
    made = [f"{plan.printer.name}, {feed}", f"profile {sheet.output.name}"]
    made.append(f"master {Path(plan.facts.path).name}")
    if on is not None:
        made.append(on.isoformat())
    size = plan.picture_size
    told = whole_words(plan.spec.lengths_in, size.width_mm, size.height_mm)
    patches = f"Patches at the scale of the print of {told}, {plan.ppi:g} ppi"
    common = _common_words(steps)
    how = "Print without scaling, colour conversion or sharpening."
    if plan.delivery.colour is not Delivery.PRINTER_COLOUR:
        way = choice_of(plan.spec.colour).words
        how = f"Print without scaling or sharpening, converted {way}."
    return [
        f"{'; '.join(made)}.",
        f"{patches}{common}." if steps else f"{plan.ppi:g} ppi.",
        f"{how} {CORNER_WORDS}",
    ]


def _common_words(steps: Sequence[TrialStep]) -> str:
    """Colour settings that all steps share; what differs stands under the patches."""
    words = ""
    for said in _COLOUR_SAID:
        all_said = {said(step) for step in steps}
        if len(all_said) == 1:
            words += f"; {all_said.pop()}"
    return words


_COLOUR_SAID: tuple[Callable[[TrialStep], str], ...] = (
    lambda step: choice_of(step.spec.colour).words,
    lambda step: lightness_words(step.spec.colour.lighten_l),
)
"""What is said of a step's colour."""


def step_words(step: TrialStep, steps: Sequence[TrialStep]) -> str:
    """
    The settings under a patch: its sharpening, and what of its colour varies.

    Parameters
    ----------
    steps : sequence of TrialStep
        All of the sheet.
    """
    words = sharpen_words(step.spec.sharpen)
    words += [
        said(step) for said in _COLOUR_SAID if len({said(each) for each in steps}) > 1
    ]
    # What the label says already is not said again.
    return ", ".join(word for word in words if word not in step.label)


def foot_words(cover: TrialCover, sheet_mm: tuple[float, float]) -> str:
    """
    What to do with a strip; nothing on a whole sheet.

    Parameters
    ----------
    sheet_mm : tuple of float
        Width and height of the whole sheet.
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


GAP_MM = 5.0
"""White between the parts of a trial. Our choice, as are the lengths below."""

_CORNER_MM, _AIR_MM, _CUT_LINE_MM = 8.0, 1.0, 0.3


class Writing(Drawing):
    """
    The words of one trial but those of its targets, and its solid corner.

    Parameters
    ----------
    names : sequence of str
        Of all patches, step by step in each place.
    head_lines : sequence of str
        Paragraphs under the title.
    foot : str
        Words at the lower edge; empty for none.
    width_px : int
        That the page has for words.

    Attributes
    ----------
    head_px, foot_px : int
        Heights of head and foot.
    """

    def __init__(  # noqa: PLR0913 - one print, and all that is said of it
        self,
        sheet: Sheet,
        scale: NeutralScale,
        steps: Sequence[TrialStep],
        names: Sequence[str],
        *,
        head_lines: Sequence[str],
        foot: str,
        width_px: int,
    ) -> None:
        super().__init__(sheet, scale)
        self._steps = steps
        self._names = names
        self._corner_px = self._px(_CORNER_MM)
        self._indent_px = self._corner_px + self._px(GAP_MM)
        beside = max(width_px - self._indent_px, 1)
        self._head = self._wrapped(title(sheet), Letters.NAME, beside)
        for sentence in head_lines:
            self._head += self._wrapped(sentence, Letters.TEXT, beside)
        self._foot = self._wrapped(foot, Letters.TEXT, width_px)
        self.head_px = max(lines_px(self._head, self._ppi), self._corner_px)
        self.foot_px = 0
        if foot:
            self.foot_px = 2 * self._px(GAP_MM) + lines_px(self._foot, self._ppi)

    def caption_px(self, width_px: int) -> int:
        """
        Height of the tallest caption.

        Parameters
        ----------
        width_px : int
            Of a patch.
        """
        heights = [
            lines_px(self._caption(number, width_px), self._ppi)
            for number in range(len(self._names))
        ]
        return self._px(_AIR_MM) + max(heights, default=0)

    def marks(self, layout: TrialLayout) -> list[Mark]:
        """All of it in its places."""
        head, foot = layout.head, layout.foot
        ink = self._scale.luminance_at(INK_SHARE)
        mark = Box(head.left, head.top, self._corner_px, self._corner_px)
        solid = corner(self._corner_px)
        marks: list[Mark] = [
            Ink(box=mark, scale=self._scale, share=solid, luminance=ink),
            self._ink(self._head, head.left + self._indent_px, head.top, head.width),
        ]
        for number, caption in enumerate(layout.captions):
            lines = self._caption(number, caption.width)
            top = caption.top + self._px(_AIR_MM)
            marks.append(self._ink(lines, caption.left, top, caption.width))
        if self._foot:
            top = foot.top + self._px(GAP_MM)
            marks.append(self._ink(self._foot, foot.left, top, foot.width))
            line_px = max(self._px(_CUT_LINE_MM), 1)
            edge = Box(foot.left, foot.bottom - line_px, foot.width, line_px)
            marks.append(Flat(edge, self._scale.codes_of(ink)))
        return marks

    def _caption(self, number: int, width_px: int) -> list[Line]:
        step = self._steps[number % len(self._steps)]
        named = f"{self._names[number]}: {step.label}"
        label = self._wrapped(named, Letters.NAME, width_px)
        words = step_words(step, self._steps)
        return label + self._wrapped(words, Letters.TEXT, width_px)
