"""Which findings does this print have?"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

from printplan.checks import check_pixels, check_plan
from printplan.shown_text import escape
from printplan.workbook.panels.controls import text
from printplan.workbook.panels.panel import Panel
from printplan.workbook.words import counted_words, findings_words, header_words

if TYPE_CHECKING:
    from printplan.checks import Finding
    from printplan.pixels.sheet import Sheet
    from printplan.workbook.bench import Bench, Change


class CheckPanel(Panel):
    """Findings by their weight, kept up with the plan."""

    slot: ClassVar[str] = "check"
    depends_on: ClassVar[frozenset[str]] = frozenset()
    column_px: ClassVar[int] = 300
    title: ClassVar[str] = "Findings"

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench)
        self._checking = self._worker(self._show_findings)
        self.findings = text()
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

    def _sync(self) -> None:
        plan = self.bench.plan
        self.words.value = (
            f"<p>{escape(plan.paper.name)} on {escape(plan.printer.name)}.</p>"
            f"{header_words(self.bench.sheet).html}"
        )

    def _check(self) -> None:
        self._checking.do(partial(findings_of, self.bench.sheet))

    def _show_findings(self, findings: list[Finding]) -> None:
        counted = f"<p>{counted_words(findings)}</p>" if findings else ""
        self.findings.value = (
            f'<div role="status">{counted}{findings_words(findings).html}</div>'
        )


def findings_of(sheet: Sheet) -> list[Finding]:
    """What should be known before ink is spent on a sheet, the gravest first."""
    order = ["stop", "warn", "note"]
    found = [*check_plan(sheet.plan), *check_pixels(sheet)]
    return sorted(found, key=lambda finding: order.index(finding.level))
