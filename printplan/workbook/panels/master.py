"""Which photograph is printed, on which paper and by which printer?"""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.errors import PrintPlanError
from printplan.foreign_file import is_regular, state_of
from printplan.pixels.scale_ends import scale_ends
from printplan.shown_text import escape
from printplan.spec import AlphaRule, NamedSpace
from printplan.workbook.panels.controls import acts, choice, choose, show_if
from printplan.workbook.panels.file_chooser import FileChooser
from printplan.workbook.panels.panel import Exactness, Panel
from printplan.workbook.pictures import encoded
from printplan.workbook.previews import MASTER_PX, master_overview
from printplan.workbook.words import facts_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.pixels.master import Master
    from printplan.pixels.scale_ends import ScaleEnds
    from printplan.workbook.bench import Bench, Change
    from printplan.workbook.panels.panel import Pictures

MASTER_ENDINGS = (".tif", ".tiff", ".png", ".jpg", ".jpeg")
PROFILE_ENDINGS = (".icc", ".icm")

_BY_FILE = "by-file"
_UNTAGGED = [
    ("none: refuse an untagged master", ""),
    *[(str(space), str(space)) for space in NamedSpace],
    ("that of a file, chosen below", _BY_FILE),
]
_TRANSPARENT = [
    ("refuse a transparent master", AlphaRule.REFUSE),
    ("flatten it on paper white", AlphaRule.FLATTEN),
]


class MasterPanel(Panel):
    """The master and what it is, the paper and the printer."""

    slot: ClassVar[str] = "master"
    depends_on: ClassVar[frozenset[str]] = frozenset({"master"})
    column_px: ClassVar[int] = 440
    title: ClassVar[str] = "Master, paper and printer"
    exactness: ClassVar[Exactness | None] = Exactness.OVERVIEW

    def __init__(self, bench: Bench, *, column_only: bool = False) -> None:
        super().__init__(bench, column_only=column_only)
        self._offered: tuple[object, ...] = ()
        self._counted_of: Master | None = None
        self._counted: ScaleEnds | None = None
        self._counting = self._worker(self._show_ends)
        self.paper = choice("paper", [])
        self.printer = choice("printer", [])
        self.setup = choice("setup", [])
        folder = Path(bench.master_spec.file).parent
        self.chooser = FileChooser(
            "master",
            act="Open this master",
            endings=MASTER_ENDINGS,
            folder=folder,
            chosen=self._open_master,
        )
        self.untagged = choice("its colours are", _UNTAGGED)
        self.transparent = choice("transparency", _TRANSPARENT)
        self.assumed = FileChooser(
            "its profile",
            act="Assume this profile",
            endings=PROFILE_ENDINGS,
            folder=folder,
            chosen=self._assume,
        )
        self.missing = FileChooser(
            "profile",
            act="Write it into the paper book",
            endings=PROFILE_ENDINGS,
            folder=bench.folder,
            chosen=self._record_profile,
        )
        self.plan = FileChooser(
            "plan",
            act="Open this plan",
            endings=(".toml",),
            folder=bench.folder,
            chosen=lambda path: self._guarded(lambda: bench.open_plan(path))(),
        )
        self.cancel = widgets.Button(description="Cancel")
        self.picture = widgets.Image(format="jpeg")
        self.stage.children = [self.picture]
        self.stage.add_class("printplan-fits")
        for control in (self.paper, self.printer, self.setup):
            control.observe(self._guarded(self._change_paper), names="value")
        self.untagged.observe(self._guarded(self._show_choosers), names="value")
        self.cancel.on_click(self._guarded(partial(self._do, self._cancel)))
        master = [
            self.chooser.ui,
            self.untagged,
            self.transparent,
            self.assumed.ui,
        ]
        has_plan = bench.files is not None and not column_only
        plan = widgets.Accordion(
            [self.plan.ui], titles=("Another plan of the studio",), selected_index=None
        )
        self._open(
            [
                *([plan] if has_plan else []),
                self.paper,
                self.printer,
                self.setup,
                self.missing.ui,
                *([] if column_only else master),
                acts(self.cancel),
            ]
        )

    def plan_changed(self, change: Change) -> None:
        """Show the present master, paper and printer, or why others were refused."""
        super().plan_changed(change)
        show_if(self.bench.refusal is not None and self._is_asking, self.cancel)

    def _cancel(self) -> None:
        self.bench.ask(self.bench.spec)

    def _sync(self) -> None:
        bench, master = self.bench, self.bench.master_spec
        self._offer_papers()
        choose(self.paper, bench.paper.name)
        choose(self.printer, bench.printer.name)
        setups = [it.setup for it in bench.paper.setups(bench.printer)]
        self.setup.options = [(it or "the only one", it) for it in setups]
        self.setup.value = bench.plan.setup.setup
        show_if(len(setups) > 1, self.setup)
        self.chooser.show(Path(master.file))
        if bench.files is not None:
            self.plan.show(bench.files.plan_path)
        choose(self.untagged, master.assume_profile)
        self.transparent.value = master.alpha
        show_if(False, self.missing.ui, self.cancel)
        self._show_choosers()
        self.words.value = facts_words(bench.master.facts, self._ends()).html
        if bench.master is not self._counted_of:
            self._counting.do(partial(_counted, bench.master))
        self.accessibility.describe(
            self.picture, f"Overview of the master {Path(master.file).name}."
        )

    def _ends(self) -> ScaleEnds | None:
        """Pixels at the ends of the scale, if those of this master are counted."""
        return self._counted if self._counted_of is self.bench.master else None

    def _show_ends(self, found: tuple[Master, ScaleEnds | None]) -> None:
        self._counted_of, self._counted = found
        self.words.value = facts_words(self.bench.master.facts, self._ends()).html

    def _offer_papers(self) -> None:
        """Offer what the paper book holds; a bench without one has no choice."""
        bench = self.bench
        written = None if bench.files is None else state_of(bench.files.book_path)
        basis = (bench.paper.name, bench.printer.name, written)
        if basis == self._offered:
            return
        self._offered = basis
        # Those out of use are offered no more, but for the plan's own.
        papers, printers = [bench.paper.name], [bench.printer.name]
        if bench.files is not None:
            try:
                book = bench.book
            except PrintPlanError as error:
                self._show_problem(error)
            else:
                papers = [
                    it.name for it in book.papers if it.in_use or it.name in papers
                ]
                printers = [
                    it.name for it in book.printers if it.in_use or it.name in printers
                ]
        self.paper.options = [(name, name) for name in papers]
        self.printer.options = [(name, name) for name in printers]
        self.paper.disabled = self.printer.disabled = bench.files is None

    def _show_choosers(self) -> None:
        show_if(self.untagged.value == _BY_FILE, self.assumed.ui)

    def _change_paper(self) -> None:
        if self._is_syncing:
            return
        bench, paper, printer = self.bench, self.paper.value, self.printer.value
        same = (paper, printer) == (bench.paper.name, bench.printer.name)
        setup = self.setup.value if same else None
        self._do(lambda: bench.change_paper(paper, printer=printer, setup=setup))
        refused = self.bench.refusal is not None
        show_if(refused and self._lacks_profile(paper, printer), self.missing.ui)

    def _lacks_profile(self, paper: str, printer: str) -> bool:
        """Whether the paper book names a profile that is not there."""
        pairs = self.bench.book.paper(paper).on_printer
        return any(it.printer == printer and not is_regular(it.profile) for it in pairs)

    def _record_profile(self, path: Path) -> None:
        paper, printer = self.paper.value, self.printer.value
        self._do(lambda: self.bench.record_profile(path, paper=paper, printer=printer))

    def _open_master(self, path: Path) -> None:
        assumed = self.untagged.value
        if assumed == _BY_FILE:
            self.message.value = "<p>Choose the profile's file below.</p>"
            return
        self.message.value = f"<p>Reading {escape(path.name)} …</p>"
        self._do(
            lambda: self.bench.change_master(
                path, assume_profile=assumed, alpha=self.transparent.value
            )
        )

    def _assume(self, profile: Path) -> None:
        """Read the chosen master by the chosen profile."""
        choose(self.untagged, str(profile))
        self.chooser.act()

    def _job(self) -> Callable[[], Pictures]:
        master = self.bench.master

        def compute() -> Pictures:
            return [(self.picture, encoded(master_overview(master, MASTER_PX)))]

        return compute


def _counted(master: Master) -> tuple[Master, ScaleEnds | None]:
    return master, scale_ends(master)
