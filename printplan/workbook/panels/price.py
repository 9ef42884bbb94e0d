"""At which price are prints of several jobs sold?"""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal, InvalidOperation
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import ipywidgets as widgets

from printplan.errors import SpecError
from printplan.free_name import free_path
from printplan.record.cost import OwnLine
from printplan.record.job_list import list_jobs
from printplan.record.price_page import write_price_sheet
from printplan.record.price_sheet import (
    TABLE_HEAD,
    Priced,
    Terms,
    price_cells,
    priced,
    terms_words,
)
from printplan.record.studio_folder import BOOK_NAME
from printplan.shown_text import escape
from printplan.workbook.panels.book_panel import BookPanel
from printplan.workbook.panels.controls import (
    CONTROL,
    acts,
    line,
    plain_row,
    show_if,
    text,
)
from printplan.workbook.pictures import columns_html, problem_html

if TYPE_CHECKING:
    from printplan.errors import PrintPlanError
    from printplan.record.job_list import JobList

_FIRST = "<p>Choose jobs, then work out their prices.</p>"
_Priced = tuple[tuple[Priced, ...], Terms]


class PricePanel(BookPanel):
    """
    What prints of a studio's jobs cost, and the price of each.

    Parameters
    ----------
    folder : str or Path
        The studio's, with its paper book.

    Attributes
    ----------
    jobs : ipywidgets.SelectMultiple
        Those that are priced together.
    table : ipywidgets.HTML
        Costs and prices as they were told last.
    """

    title: ClassVar[str] = "Prices of prints"
    beside_px: ClassVar[int] = 780

    def __init__(self, folder: str | Path) -> None:
        self.folder = Path(folder).absolute()
        super().__init__(self.folder / BOOK_NAME)
        self._priced: _Priced | None = None
        self._listing = self._worker(self._show_jobs)
        self._pricing = self._worker(self._show_prices, self._fail_pricing)
        self.jobs = widgets.SelectMultiple(
            description="jobs",
            rows=8,
            tooltip="Those that are priced together; several with Ctrl or Shift",
            **CONTROL,
        )
        self.mark_up = line(
            "mark-up factor", tooltip="The price is the cost times this"
        )
        self.step = line("round to", tooltip="Step of the prices: 0.01, 1, 5")
        self.own = line(
            "other costs",
            placeholder="mat board = 4.50; box = 2",
            tooltip="What else each print costs you, with a semicolon between",
        )
        self.ink = line(
            "ink (ml/m²)",
            placeholder="by the journal",
            tooltip="Stated by you; empty: learnt from the journal's measured prints",
        )
        self.mark_up.value, self.step.value = "2.5", "0.01"
        self.tell = widgets.Button(
            description="Work out the prices",
            button_style="primary",
            tooltip="Each master is opened; it takes a second or two for each",
        )
        self.again = widgets.Button(
            description="Look again", tooltip="Read the studio's folders anew"
        )
        self.write_page = widgets.Button(
            description="Write them as a page (PDF)", tooltip="Beside the paper book"
        )
        self.write_table = widgets.Button(
            description="Write them as a table (CSV)", tooltip="Beside the paper book"
        )
        self.jobs.add_class("printplan-below")
        self.table, self.problems = text(), text()
        self.table.value = _FIRST
        for button, press in (
            (self.tell, self._tell),
            (self.again, self.refresh),
            (self.write_page, partial(self._write, ".pdf")),
            (self.write_table, partial(self._write, ".csv")),
        ):
            button.on_click(self._guarded(press))
        self._lay_out(
            [
                self.jobs,
                self.mark_up,
                self.step,
                self.own,
                self.ink,
                acts(self.tell, self.again),
                self.message,
                self.status,
                self.problems,
            ],
            beside=widgets.VBox(
                [self.table, plain_row(self.write_page, self.write_table)],
                layout={"min_width": "0"},
            ),
        )
        self._allow(is_busy=False)
        self._guarded(self.refresh)()

    def refresh(self) -> None:
        """Offer the jobs that lie in the studio now; what is chosen stays."""
        folder = self.folder
        self._listing.do(lambda: list_jobs(folder))

    def settle(self, timeout_s: float = 120.0) -> bool:
        """
        Wait until nothing is being read or reckoned.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return all(it.settle(timeout_s) for it in (self._pricing, self._listing))

    def _show_jobs(self, listed: JobList) -> None:
        chosen = self.jobs.value
        options = [
            (self._name(it.plan_path), str(it.plan_path))
            for it in listed.jobs
            if it.wish is not None
        ]
        self.jobs.options = options
        known = {path for _, path in options}
        self.jobs.value = [it for it in chosen if it in known]
        self.problems.value = "".join(problem_html(it) for it in listed.problems)
        if not options:
            self._say("There is no job yet whose print could be priced.")

    def _name(self, path: Path) -> str:
        return path.relative_to(self.folder).with_suffix("").as_posix()

    def _tell(self) -> None:
        paths = [Path(it) for it in self.jobs.value]
        if not paths:
            raise SpecError(
                "No job is chosen.", remedy="Choose one or several at “jobs”."
            )
        terms = self._terms()
        self._allow(is_busy=True)
        self._say("Opening the masters, and reckoning.")
        self._pricing.do(lambda: (priced(paths, terms), terms))

    def _terms(self) -> Terms:
        ink = self.ink.value.strip()
        return Terms(
            mark_up=_number(self.mark_up),
            step=_number(self.step),
            own=own_lines(self.own.value),
            ink_ml_m2=float(_number(self.ink)) if ink else None,
        )

    def _show_prices(self, found: _Priced) -> None:
        rows, terms = self._priced = found
        self._say("")
        cells = map(_held_together, rows)
        table = columns_html(TABLE_HEAD, cells, caption="Prices")
        words = "".join(f"<p>{escape(it)}</p>" for it in terms_words(rows, terms))
        self.table.value = f"{table}{words}"
        self._allow(is_busy=False)

    def _fail_pricing(self, error: PrintPlanError) -> None:
        self._fail(error)
        self._allow(is_busy=False)

    def _write(self, ending: str) -> None:
        if self._priced is None:
            raise SpecError(
                "No prices were worked out yet.",
                remedy="Press “Work out the prices” first.",
            )
        rows, terms = self._priced
        now = datetime.now().astimezone()
        target = free_path(self.folder / f"prices-{now:%Y-%m-%d}{ending}")
        written = write_price_sheet(rows, terms, target, made_on=now)
        self._say(f"The prices are in {written.name}, beside the paper book.")

    def _allow(self, *, is_busy: bool) -> None:
        self.tell.disabled = is_busy
        show_if(self._priced is not None, self.write_page, self.write_table)


def _held_together(row: Priced) -> tuple[str, ...]:
    """Cells whose amounts of money break in no narrow column but before a bracket."""
    (name, paper), amounts = price_cells(row)[:2], price_cells(row)[2:]
    space = "\N{NO-BREAK SPACE}"
    name, colon, size = name.rpartition(": ")
    return (
        f"{name}{colon}{size.replace(' ', space)}",
        paper,
        *(it.replace(" ", space).replace(f"{space}(", " (") for it in amounts),
    )


def own_lines(typed: str) -> tuple[OwnLine, ...]:
    """
    Own lines of cost as a person types them.

    Examples
    --------
    >>> [(it.what, str(it.amount)) for it in own_lines("mat board = 4.50; box = 2")]
    [('mat board', '4.50'), ('box', '2')]
    """
    lines = []
    for one in filter(str.strip, typed.split(";")):
        what, _, amount = one.rpartition("=")
        lines.append(OwnLine(what=what.strip(), amount=_decimal(amount, "other costs")))
    return tuple(lines)


def _number(field: widgets.Text) -> Decimal:
    return _decimal(field.value, field.description)


def _decimal(typed: str, label: str) -> Decimal:
    try:
        number = Decimal(typed.strip())
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite():
        raise SpecError(
            f"{typed.strip()!r} at “{label}” is no decimal number.",
            remedy="Write it as 2.5 or 120; a line of cost is a name, the sign for "
            "equal and an amount.",
        )
    return number
