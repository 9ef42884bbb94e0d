"""How high are the words of a trial, and where do they go?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.pixels.trials.letters import Letters, lines_px, wrapped
from printplan.pixels.trials.marks import Flat, Ink, corner
from printplan.pixels.trials.targets import INK_SHARE, written
from printplan.pixels.trials.words import step_words, title
from printplan.size.layout import Box
from printplan.units import px_from_mm, whole_px

if TYPE_CHECKING:
    from collections.abc import Sequence

    from printplan.pixels.sheet import Sheet
    from printplan.pixels.trials.letters import Line
    from printplan.pixels.trials.marks import Mark
    from printplan.pixels.trials.neutral import NeutralScale
    from printplan.pixels.trials.steps import TrialStep
    from printplan.size.trial_layout import TrialLayout

GAP_MM = 5.0
"""White between the parts of a trial. Our choice, as are the lengths below."""

_CORNER_MM, _AIR_MM, _CUT_LINE_MM = 8.0, 1.0, 0.3


class Writing:
    """
    The words of one trial but those of its targets, and its solid corner.

    Parameters
    ----------
    sheet : Sheet
    steps : sequence of TrialStep
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
        steps: Sequence[TrialStep],
        names: Sequence[str],
        *,
        head_lines: Sequence[str],
        foot: str,
        width_px: int,
    ) -> None:
        self._steps = steps
        self._names = names
        self._ppi = sheet.plan.ppi
        self._corner_px = self._px(_CORNER_MM)
        self._indent_px = self._corner_px + self._px(GAP_MM)
        beside = max(width_px - self._indent_px, 1)
        self._head = wrapped(title(sheet), Letters.NAME, beside, self._ppi)
        for sentence in head_lines:
            self._head += wrapped(sentence, Letters.TEXT, beside, self._ppi)
        self._foot = wrapped(foot, Letters.TEXT, width_px, self._ppi) if foot else []
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

        Returns
        -------
        int
        """
        heights = [
            lines_px(self._caption(number, width_px), self._ppi)
            for number in range(len(self._names))
        ]
        return self._px(_AIR_MM) + max(heights, default=0)

    def marks(self, layout: TrialLayout, scale: NeutralScale) -> list[Mark]:
        """
        All of it in its places.

        Parameters
        ----------
        layout : TrialLayout
        scale : NeutralScale

        Returns
        -------
        list of Mark
        """
        head, foot = layout.head, layout.foot
        ink = scale.luminance_at(INK_SHARE)
        mark = Box(head.left, head.top, self._corner_px, self._corner_px)
        marks: list[Mark] = [
            Ink(box=mark, scale=scale, share=corner(self._corner_px), luminance=ink),
            self._written(self._head, head.moved(self._indent_px, 0), scale),
        ]
        for number, caption in enumerate(layout.captions):
            lines = self._caption(number, caption.width)
            place = caption.moved(0, self._px(_AIR_MM))
            marks.append(self._written(lines, place, scale))
        if self._foot:
            place = foot.moved(0, self._px(GAP_MM))
            marks.append(self._written(self._foot, place, scale))
            line_px = max(self._px(_CUT_LINE_MM), 1)
            edge = Box(foot.left, foot.bottom - line_px, foot.width, line_px)
            marks.append(Flat(edge, scale.codes_of(ink)))
        return marks

    def _caption(self, number: int, width_px: int) -> list[Line]:
        step = self._steps[number % len(self._steps)]
        named = f"{self._names[number]}: {step.label}"
        label = wrapped(named, Letters.NAME, width_px, self._ppi)
        words = step_words(step, self._steps)
        return label + wrapped(words, Letters.TEXT, width_px, self._ppi)

    def _written(self, lines: list[Line], place: Box, scale: NeutralScale) -> Mark:
        return written(lines, place, scale, self._ppi)

    def _px(self, length_mm: float) -> int:
        return whole_px(px_from_mm(length_mm, self._ppi))
