"""What speaks against this print, and what was done about it?"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.checks import Level, check_pixels, check_plan
from printplan.workbook.panels.controls import CONTROL
from printplan.workbook.panels.latest_only import LatestOnly
from printplan.workbook.panels.panel import Panel
from printplan.workbook.panels.words import counted_words, findings_words, header_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from printplan.checks import Finding
    from printplan.pixels.sheet import Sheet
    from printplan.spec import PrintSpec
    from printplan.workbook.bench import Bench
    from printplan.workbook.watchers import Change


LINE = CONTROL | {"style": {"description_width": "168px"}}
"""A line to write in whose label may be long."""

_ASKED = "<p>What was done about it? A few words for the record:</p>"


class ActionsTaken:
    """
    A line to write in for each finding that warns or stops.

    Parameters
    ----------
    changed : callable
        Called when an answer was typed.

    Attributes
    ----------
    fields : dict of str to ipywidgets.Text
        By the finding's `topic`; an answer stays here while its finding is gone.
    """

    def __init__(self, changed: Callable[[], None]) -> None:
        self.fields: dict[str, widgets.Text] = {}
        self._changed = changed
        self._asked = widgets.HTML(_ASKED)
        self._asked.add_class("printplan-words")
        self.ui = widgets.VBox()

    def show(self, findings: Iterable[Finding]) -> None:
        """Ask about these findings."""
        grave = {it.topic: None for it in findings if it.level is not Level.NOTE}
        asked = [self._asked, *map(self._field, grave)] if grave else []
        if self.ui.children != tuple(asked):  # who is typing stays in the field
            self.ui.children = asked

    def given(self, topics: Iterable[str]) -> dict[str, str]:
        """
        What was answered.

        Parameters
        ----------
        topics : iterable of str
            Of the findings of one print.

        Returns
        -------
        dict of str to str
            By `topic`; empty where an answer was taken back.
        """
        return {
            topic: self.fields[topic].value.strip()
            for topic in topics
            if topic in self.fields
        }

    def _field(self, topic: str) -> widgets.Text:
        if topic not in self.fields:
            field = widgets.Text(description=topic, continuous_update=False, **LINE)
            field.observe(lambda _: self._changed(), names="value")
            self.fields[topic] = field
        return self.fields[topic]


class CheckPanel(Panel):
    """Findings by their weight, kept up with the plan."""

    seat: ClassVar[str] = "check"
    depends_on: ClassVar[frozenset[str]] = frozenset()
    column_px: ClassVar[int] = 300
    title: ClassVar[str] = "What speaks against this print"

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench)
        self._checking: LatestOnly[list[Finding]] = LatestOnly(
            self._tell, self._complain, bench.holding
        )
        self.findings = widgets.HTML()
        self.findings.add_class("printplan-words")
        self.stage.children = [self.findings]
        self.stage.add_class("printplan-page")
        self._open([])
        self.status.value = (
            '<div role="status"><b>Exact</b>: what is said of plan, master, paper and '
            "profile. <b>Overview</b>: shares of the picture.</div>"
        )
        self._check()

    def plan_changed(self, change: Change) -> None:
        """Check a new plan, without waiting for the answer."""
        super().plan_changed(change)
        if change.refusal is None:
            self._check()

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until the findings are those of the plan.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return self._checking.settle(timeout_s)

    def _wish(self) -> PrintSpec:
        return self.bench.spec

    def _sync(self) -> None:
        plan = self.bench.plan
        self.words.value = (
            f"<p>{escape(plan.paper.name)} on {escape(plan.printer.name)}.</p>"
            f"{header_words(self.bench.sheet).html}"
        )

    def _check(self) -> None:
        self._checking.do(self._with_faults_shown(check_of(self.bench.sheet)))

    def _tell(self, findings: list[Finding]) -> None:
        counted = f"<p>{counted_words(findings)}</p>" if findings else ""
        self.findings.value = (
            f'<div role="status">{counted}{findings_words(findings).html}</div>'
        )


def check_of(sheet: Sheet) -> Callable[[], list[Finding]]:
    """
    How to check a sheet, for a worker.

    Returns
    -------
    callable
        Gives the findings, gravest first.
    """

    def compute() -> list[Finding]:
        order = ["stop", "warn", "note"]
        found = [*check_plan(sheet.plan), *check_pixels(sheet)]
        return sorted(found, key=lambda finding: order.index(finding.level))

    return compute
