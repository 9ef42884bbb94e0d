"""What was done about the findings, in the photographer's words?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import ipywidgets as widgets

from printplan.checks import Level
from printplan.workbook.panels.controls import CONTROL

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from printplan.checks import Finding

LINE = CONTROL | {"style": {"description_width": "168px"}}
"""A line to write in whose label may be long."""

_ASKED = "<p>What was done about it? A few words for the record:</p>"


class Answers:
    """
    A line to write in for each finding that warns or stops.

    Parameters
    ----------
    changed : callable
        Called when an answer was typed.

    Attributes
    ----------
    fields : dict of str to ipywidgets.Text
        By the finding's `about`; an answer stays here while its finding is gone.
    ui : ipywidgets.VBox
    """

    def __init__(self, changed: Callable[[], None]) -> None:
        self.fields: dict[str, widgets.Text] = {}
        self._changed = changed
        self._asked = widgets.HTML(_ASKED)
        self._asked.add_class("printplan-words")
        self.ui = widgets.VBox()

    def show(self, findings: Iterable[Finding]) -> None:
        """
        Ask about these findings.

        Parameters
        ----------
        findings : iterable of Finding
        """
        grave = {it.about: None for it in findings if it.level is not Level.NOTE}
        asked = [self._asked, *map(self._field, grave)] if grave else []
        if self.ui.children != tuple(asked):  # who is typing stays in the field
            self.ui.children = asked

    def given(self, abouts: Iterable[str]) -> dict[str, str]:
        """
        What was answered.

        Parameters
        ----------
        abouts : iterable of str
            Of the findings of one print.

        Returns
        -------
        dict of str to str
            By `about`; empty where an answer was taken back.
        """
        return {
            about: self.fields[about].value.strip()
            for about in abouts
            if about in self.fields
        }

    def _field(self, about: str) -> widgets.Text:
        if about not in self.fields:
            field = widgets.Text(description=about, continuous_update=False, **LINE)
            field.observe(lambda _: self._changed(), names="value")
            self.fields[about] = field
        return self.fields[about]
