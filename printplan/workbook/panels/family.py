"""How does one photograph become prints of several sizes, each looked at beside it?"""

from __future__ import annotations

import re
from base64 import b64encode
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets
from PIL import Image

from printplan.errors import SpecError
from printplan.own_folders import own_home
from printplan.pixels.family_strips import true_size_strips
from printplan.pixels.master import open_master
from printplan.pixels.sheet import Appearance, build_sheet
from printplan.record.family import (
    FamilyWish,
    family_problems,
    family_rows,
    plan_family,
    write_family,
)
from printplan.record.paper_book import read_paper_book
from printplan.record.studio_folder import BOOK_NAME, MASTERS_FOLDER, jobs_folder
from printplan.shown_text import escape
from printplan.spec import MasterSpec
from printplan.units import LengthUnit, length_words, parse_length_mm
from printplan.workbook.panels.book_panel import BookPanel
from printplan.workbook.panels.controls import (
    CONTROL,
    Slider,
    acts,
    choice,
    line,
    offer,
    show_if,
    text,
)
from printplan.workbook.panels.photo_chooser import PhotoChooser
from printplan.workbook.pictures import columns_html
from printplan.workbook.screen_scale import ScreenWidget, screen_scale

if TYPE_CHECKING:
    from printplan.errors import PrintPlanError
    from printplan.pixels.family_strips import TrueSizeStrip
    from printplan.record.family import Family

WIDEST_MM = 60.0
"""Edge of the detail in the largest print: four stand side by side on a laptop's
screen. Our choice."""

_SIZES = {LengthUnit.MM: "300, 600, 900", LengthUnit.INCHES: "12, 24, 36"}
_BAR_MM = 20.0


class FamilyPanel(BookPanel):
    """
    One photograph in several sizes: a table, and the same detail of each at true size.

    Parameters
    ----------
    folder : str or Path
        The studio's, with its paper book.

    Attributes
    ----------
    ui : ipywidgets.VBox
        What a notebook shows.
    table, strips : ipywidgets.HTML
        What is planned, and the details.
    """

    title: ClassVar[str] = "One photograph in several sizes"
    beside_px: ClassVar[int] = 780

    def __init__(self, folder: str | Path) -> None:
        self.folder = Path(folder).absolute()
        super().__init__(self.folder / BOOK_NAME)
        self._unit = LengthUnit.MM
        self._family: Family | None = None
        self.screen = ScreenWidget()
        self.table, self.strips = text(), text()
        self.sizes = line(
            "longest edges",
            tooltip="Longest edge of each print, with commas between",
        )
        self.printer = choice("printer", [])
        self.printer.tooltip = "A printer of the studio, or a print service"
        self.papers = widgets.SelectMultiple(
            description="papers",
            rows=5,
            tooltip="Each size is planned on each of them",
            **CONTROL,
        )
        self.distance = line(
            "distance",
            placeholder="what is usual at each size",
            tooltip="Eye to print, the same for all",
        )
        self.across = Slider("detail across", 0, 1, 0.01)
        self.down = Slider("detail down", 0, 1, 0.01)
        self.plan = widgets.Button(
            description="Plan these sizes",
            button_style="primary",
            tooltip="Choose intent and sharpening for each; nothing is written",
        )
        self.write = widgets.Button(
            description="Write these plans", tooltip="One job for each size and paper"
        )
        masters = self.folder / MASTERS_FOLDER
        places = [("this studio's masters", masters)] if masters.is_dir() else []
        places += [("my own folder", own_home())]
        self.chooser = PhotoChooser(
            folder=places[0][1], changed=self._photograph_changed, places=places
        )
        self._planning = self._worker(self._show_family, self._fail_planning)
        self._cutting = self._worker(self._show_strips)
        self.printer.observe(self._guarded(self._offer_papers), names="value")
        self.plan.on_click(self._guarded(self._start))
        self.write.on_click(self._guarded(self._write))
        for slider in (self.across, self.down):
            slider.show(0.5)
            slider.on_move(self._guarded(self._cut))
        self.screen.observe(self._guarded(self._cut), names=["width_px", "ratio"])
        self._detail = widgets.VBox([self.across.ui, self.down.ui, acts(self.write)])
        self._lay_out(
            [
                self.sizes,
                self.printer,
                self.papers,
                self.distance,
                acts(self.plan),
                self._detail,
                self.message,
                self.status,
            ],
            beside=self.table,
        )
        accessibility, body = self.ui.children
        self.ui.children = [
            accessibility,
            self.screen,
            self.chooser.ui,
            body,
            self.strips,
        ]
        self.accessibility.explain(self.ui)
        self._show_chosen()
        self._guarded(self.refresh)()

    def refresh(self) -> None:
        """
        Offer what the book holds now.

        Raises
        ------
        RecordError
            If the book cannot be read.
        """
        book = read_paper_book(self.book_path)
        self._unit = book.lengths_in
        self.sizes.description = f"longest edges ({self._unit})"
        self.distance.description = f"distance ({self._unit})"
        self.sizes.placeholder = _SIZES[self._unit]
        with self._quietly():
            makers = [it.name for it in book.makers if it.in_use]
            offer(self.printer, [(it, it) for it in makers], self.printer.value)
        self._offer_papers()

    def settle(self, timeout_s: float = 120.0) -> bool:
        """
        Wait until nothing is being planned or cut.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return self._planning.settle(timeout_s) and self._cutting.settle(timeout_s)

    def _offer_papers(self) -> None:
        if self.printer.value is None:
            return
        book = read_paper_book(self.book_path)
        by = book.printer(self.printer.value)
        names = [it.name for it in book.papers_on(by)]
        chosen = [it for it in self.papers.value if it in names]
        with self._quietly():
            self.papers.options = names
            self.papers.value = chosen or names[:1]

    def _photograph_changed(self) -> None:
        self._family = None
        self._show_chosen()

    def _show_chosen(self) -> None:
        is_chosen = self.chooser.selected is not None
        self.plan.disabled = not is_chosen
        show_if(self._family is not None, self._detail)
        if self._family is None:
            self.table.value = (
                "" if is_chosen else "<p>Choose a photograph above first.</p>"
            )
            self.strips.value = ""

    # Planning

    def _start(self) -> None:
        path = self.chooser.selected
        if path is None:
            raise SpecError("No photograph is chosen.", remedy="Choose one above.")
        typed = [it for it in re.split(r"[,;]", self.sizes.value) if it.strip()]
        distance = self.distance.value.strip()
        wish = FamilyWish(
            master=MasterSpec(file=str(path)),
            longest_mm=tuple(parse_length_mm(it.strip(), self._unit) for it in typed),
            papers=tuple(self.papers.value),
            printer=self.printer.value or "",
            distance_mm=parse_length_mm(distance, self._unit) if distance else None,
        )
        self.plan.disabled = True
        self._say("Planning each size.")
        book_path = self.book_path

        def report(words: str) -> None:
            self.page.do(lambda: self._say(words))

        self._planning.do(lambda: plan_family(book_path, wish, report))

    def _show_family(self, family: Family) -> None:
        self._family = family
        self.plan.disabled = False
        self._say("")
        self.table.value = _table_html(family)
        self._show_chosen()
        self._cut()

    def _fail_planning(self, error: PrintPlanError) -> None:
        self.plan.disabled = False
        self._fail(error)

    def _write(self) -> None:
        if self._family is None:
            return
        paths = write_family(self._family, jobs_folder(self.book_path))
        names = ", ".join(path.name for path in paths)
        self._say(f"Written into {jobs_folder(self.book_path)}: {names}.")

    # The same detail of each

    def _cut(self) -> None:
        family = self._family
        if family is None:
            return
        plans = [it.plan for it in family.members if it.plan is not None]
        if not plans:
            self.strips.value = ""
            return
        planned = next(it.planned for it in family.members if it.planned is not None)
        master_spec = planned.plan_file.master
        across, down = self.across.value, self.down.value

        def cut() -> tuple[Family, tuple[TrueSizeStrip, ...]]:
            master = open_master(
                master_spec.file,
                assume_profile=master_spec.assume_profile,
                alpha=master_spec.alpha,
            )
            with master:
                return family, true_size_strips(
                    [build_sheet(master, plan) for plan in plans],
                    Appearance.PAPER_IN_THE_ROOM,
                    across_share=across,
                    down_share=down,
                    widest_mm=WIDEST_MM,
                )

        self._cutting.do(cut)

    def _show_strips(self, cut: tuple[Family, tuple[TrueSizeStrip, ...]]) -> None:
        family, strips = cut
        if family is self._family:
            self.strips.value = self._strips_html(family, strips)

    def _strips_html(self, family: Family, strips: tuple[TrueSizeStrip, ...]) -> str:
        scale = screen_scale(self.screen)
        made = [it.plan for it in family.members if it.plan is not None]
        figures = []
        for plan, strip in zip(made, strips, strict=True):
            shown = BytesIO()
            Image.fromarray(strip.on_screen(scale.px_per_mm)).save(shown, "PNG")
            source = b64encode(shown.getvalue()).decode()
            size = length_words(family.unit, *plan.trimmed_mm)
            words = escape(f"{size} on {plan.paper.name}")
            width = scale.css_px(strip.width_mm)
            height = scale.css_px(strip.height_mm)
            figures.append(
                '<figure style="margin:0">'
                f'<img alt="The detail in {words}" '
                f'style="width:{width:.3f}px;height:{height:.3f}px;max-width:none" '
                f'src="data:image/png;base64,{source}">'
                f'<figcaption style="max-width:{max(width, 130):.0f}px">{words}'
                "</figcaption></figure>"
            )
        bar = scale.css_px(_BAR_MM)
        said = (
            "True size, by the card that this screen was matched to."
            if scale.is_matched
            else "Not true size yet: match this screen to a card in the loupe. Until "
            "then it has the density that browsers suppose."
        )
        return (
            f"<p><b>The same detail of each print.</b> {said} Exact print pixels as "
            "the paper shows them, scaled to the pixels of this screen: for what is "
            "seen from the print's distance, not to judge single pixels.</p>"
            '<div style="display:flex;gap:16px;align-items:flex-start;flex-wrap:wrap;'
            f'background:#6e6e6e;color:#f5f5f5;padding:16px">{"".join(figures)}</div>'
            f'<p><span style="display:inline-block;width:{bar:.3f}px;height:6px;'
            'border:1px solid currentColor;border-top:0;vertical-align:middle"></span> '
            f"{_BAR_MM:g} mm, to be checked with a ruler</p>"
        )


def _table_html(family: Family) -> str:
    head, *rows = family_rows(family)
    problems = "".join(f"<li>{escape(it)}</li>" for it in family_problems(family))
    return f"{columns_html(head, rows)}<p>{escape(family.largest_words)}</p>" + (
        f"<ul>{problems}</ul>" if problems else ""
    )
