"""Cost, stock, certificate and prices on the page are those of plan, book, journal."""

import shutil
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from recorded_print import recorded, small_studio

from printplan.errors import RecordError
from printplan.media import Stock
from printplan.record import noting
from printplan.record.book_changes import change_book, change_paper, change_printer
from printplan.record.journal.view import read_journal
from printplan.record.paper_book import read_paper_book
from printplan.record.plan_file import write_plan_file
from printplan.record.price_sheet import Terms, priced
from printplan.record.sidecar import write_sidecar_record
from printplan.record.studio_folder import BOOK_NAME, JOURNAL_NAME
from printplan.workbook.bench import Bench
from printplan.workbook.panels.finish import FinishPanel
from printplan.workbook.panels.price import PricePanel
from printplan.workbook.panels.prints import PrintsPanel, Question

PAPER = "Fen Cotton 310"


@pytest.fixture(scope="module")
def base(studio, textured, tmp_path_factory):
    """A studio with one job, its finished file and record."""
    folder = tmp_path_factory.mktemp("base") / "studio"
    wish = small_studio(folder, studio, textured)
    (folder / "book.toml").rename(folder / BOOK_NAME)
    (folder / "jobs").mkdir()
    wish = replace(wish, book=str(folder / BOOK_NAME))
    write_plan_file(
        replace(
            wish,
            master=replace(wish.master, file="../master.tif"),
            book=f"../{BOOK_NAME}",
        ),
        folder / "jobs" / "print.toml",
    )
    write_sidecar_record(recorded(wish, folder / "jobs" / "print"))
    return folder


@pytest.fixture
def folder(base, tmp_path):
    return Path(shutil.copytree(base, tmp_path / "studio"))


def left(folder):
    stock = read_paper_book(folder / BOOK_NAME).paper(PAPER).stock
    return next(it.left for it in stock if it.words == "A4")


class TestFinish:
    def told(self, folder):
        with Bench.open(folder / "jobs" / "print.toml") as bench:
            panel = FinishPanel(bench)
            assert panel.settle()
            return panel.cost.value

    def test_what_is_not_known_is_said(self, folder):
        told = self.told(folder)
        assert "2.40 EUR (1 sheet at 2.40)" in told
        assert "not calibrated: no measured prints" in told
        assert "Together" not in told
        assert "25 sheets of Fen Cotton 310, A4, left; this takes 1" in told

    def test_time_and_last_sheets_are_told(self, folder):
        book = folder / BOOK_NAME
        change_book(book, lambda it: replace(it, hourly_rate=36.0))
        change_printer(book, "Studio 24", lambda it: replace(it, m2_per_h=0.5))
        stock = (Stock(sheet="A4", sheets_left=1, price_each=2.4),)
        change_paper(book, PAPER, lambda it: replace(it, stock=stock))
        told = self.told(folder)
        # 9450 mm² at 0.5 m²/h are 1.134 min; at 36.00 an hour 0.68.
        assert "0.68 EUR (1 min at 36.00 an hour)" in told
        assert "1 sheet of Fen Cotton 310, A4, left; this takes 1" in told


class TestPrintsMade:
    @pytest.fixture
    def panel(self, folder):
        panel = PrintsPanel(folder)
        assert panel.settle()
        panel.question.value = Question.OUTCOME
        assert panel.settle()
        return panel

    def note(self, panel, **typed):
        for name, value in typed.items():
            getattr(panel.journal, name).value = value
        panel.journal.add.click()
        assert panel.settle()

    def edition(self, panel):
        panel.journal.edition.index = len(panel.journal.edition.options) - 1
        self.note(panel, new_title="Waves", new_size=5)

    def test_stock_goes_down_with_the_note_and_comes_back(self, panel, folder):
        self.note(panel, copies="2")
        assert left(folder) == 23
        assert "A4: 2 sheets taken, 23 sheets left." in panel.journal.noted.value
        panel.journal.why.value = "Noted twice."
        panel.journal.strike.click()
        assert panel.settle()
        assert left(folder) == 25
        assert "2 sheets put back, 25 sheets left." in panel.journal.written.value

    def test_print_is_noted_though_the_book_cannot_be_written(
        self, panel, folder, monkeypatch
    ):
        def refused(*_arguments, **_more):
            raise RecordError("The book is locked.", remedy="Close it elsewhere.")

        with monkeypatch.context() as patched:
            patched.setattr(noting, "change_book", refused)
            self.note(panel)
        told = panel.journal.noted.value
        assert "Noted as entry 1" in told
        assert "The stock is not counted yet: The book is locked." in told
        assert left(folder) == 25
        self.note(panel)
        assert left(folder) == 23
        assert "made up for with the next print" not in panel.journal.noted.value

    def test_certificate_is_offered_for_a_number_alone(self, panel, folder):
        assert panel.certificate.ui.layout.display == "none"
        self.note(panel)
        assert panel.certificate.ui.layout.display == "none"
        self.edition(panel)
        form = panel.certificate
        assert form.ui.layout.display is None
        assert [words for words, _ in form.number.options] == ["1/5 of “Waves”"]
        form.write.click()
        assert panel.settle()
        assert "names no artist" in form.message.value
        form.artist.value = "A. Tern (invented)"
        form.write.click()
        assert panel.settle()
        assert "Number 1/5 is certified" in form.status.value
        assert (folder / "jobs" / "certificate-print-1.pdf").exists()
        assert form.number.layout.display == "none"
        with read_journal(folder / JOURNAL_NAME) as opened:
            assert [it.number for it in opened.certificates()] == [1]


class TestPrices:
    @pytest.fixture
    def panel(self, folder):
        panel = PricePanel(folder)
        assert panel.settle()
        return panel

    def press(self, panel, button):
        button.click()
        assert panel.settle()

    def test_prices_are_those_of_the_plans(self, panel, folder):
        assert panel.write_page.layout.display == "none"
        panel.jobs.value = [value for _, value in panel.jobs.options]
        panel.ink.value, panel.own.value = "100", "mat board = 4.50"
        self.press(panel, panel.tell)
        (row,) = priced([folder / "jobs" / "print.toml"], Terms(ink_ml_m2=100.0))
        # The same and a mat: (cost + 4.50) × 2.5.
        price = (row.basis.total + Decimal("4.50")) * Decimal("2.5")
        assert f"{price:.2f}\N{NO-BREAK SPACE}EUR" in panel.table.value
        assert [name for name, _ in panel.jobs.options] == ["jobs/print"]
        for button, ending in ((panel.write_page, "pdf"), (panel.write_table, "csv")):
            self.press(panel, button)
            assert len(list(folder.glob(f"prices-*.{ending}"))) == 1

    def test_what_is_typed_wrong_is_told(self, panel):
        self.press(panel, panel.tell)
        assert "No job is chosen" in panel.message.value
        panel.jobs.value = [value for _, value in panel.jobs.options]
        for field, typed in ((panel.mark_up, "much"), (panel.own, "box")):
            before, field.value = field.value, typed
            self.press(panel, panel.tell)
            assert "printplan-problem" in panel.message.value
            field.value = before
        assert "<table" not in panel.table.value

    def test_studio_without_jobs_says_so(self, tmp_path, folder):
        empty = tmp_path / "empty"
        empty.mkdir()
        shutil.copy(folder / BOOK_NAME, empty / BOOK_NAME)
        panel = PricePanel(empty)
        assert panel.settle()
        assert "There is no job yet" in panel.status.value
