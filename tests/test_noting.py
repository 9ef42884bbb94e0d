"""What a print takes is counted down once, and what is struck out comes back."""

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from recorded_print import recorded, small_studio

from printplan.checks import check_plan
from printplan.errors import RecordError
from printplan.media import MediaForm, Stock
from printplan.plan import resolve
from printplan.record import noting
from printplan.record.book_changes import change_paper
from printplan.record.journal.from_record import entry_from_record
from printplan.record.journal.stock_changes import Settled
from printplan.record.journal.view import read_journal
from printplan.record.noting import note_print, settle_stock, strike_print
from printplan.record.paper_book import read_paper_book
from printplan.record.record_file import record_text

NOON = datetime(2026, 5, 3, 12, tzinfo=UTC)
PAPER = "Fen Cotton 310"


@pytest.fixture(scope="module")
def record(studio, textured, tmp_path_factory):
    wish = small_studio(tmp_path_factory.mktemp("studio"), studio, textured)
    return recorded(wish, tmp_path_factory.mktemp("made") / "print")


@pytest.fixture
def book(record, tmp_path):
    """A paper book of this test alone, with 25 sheets of A4 as the demo has them."""
    path = tmp_path / "book.toml"
    path.write_bytes(Path(record.book).read_bytes())
    return path


@pytest.fixture
def journal(tmp_path):
    return tmp_path / "journal.db"


def entry_of(record, copies=1):
    return entry_from_record(record, printed_at=NOON, outcome="good", copies=copies)


def stock_in(book, size="A4"):
    stock = read_paper_book(book).paper(PAPER).stock
    return next(it for it in stock if it.words == size)


def left_in(book, size="A4"):
    return stock_in(book, size).left


def set_stock(book, *stock):
    change_paper(book, PAPER, lambda paper: replace(paper, stock=stock))


def note(journal, record, book, copies=1):
    noted = note_print(
        journal, entry_of(record, copies), record_text(record), book=book
    )
    return noted, settle_stock(journal, book, noted=noted)


def test_sheets_go_down_with_each_copy_and_come_back_exactly(journal, record, book):
    before = book.read_bytes()
    assert left_in(book) == 25
    first, (told,) = note(journal, record, book, copies=2)
    assert left_in(book) == 23
    assert told.words == "Fen Cotton 310, A4: 2 sheets taken, 23 sheets left."
    note(journal, record, book)
    assert left_in(book) == 22
    struck = strike_print(journal, first, why="Noted twice.", book=book)
    (told,) = settle_stock(journal, book, noted=struck)
    assert left_in(book) == 24
    assert "2 sheets put back" in told.words
    with read_journal(journal) as opened:
        (other,) = opened.entries()
    settle_stock(
        journal, book, noted=strike_print(journal, other, why="Not made.", book=book)
    )
    assert book.read_bytes() == before  # comments and all


def test_struck_twice_gives_back_once(journal, record, book):
    noted, _ = note(journal, record, book)
    struck = strike_print(journal, noted, why="Wrong.", book=book)
    settle_stock(journal, book, noted=struck)
    again = strike_print(journal, struck, why="Still wrong.", book=book)
    assert settle_stock(journal, book, noted=again) == ()
    assert left_in(book) == 25


def test_stock_never_goes_below_nothing_and_gives_back_what_it_took(
    journal, record, book
):
    set_stock(book, Stock(sheet="a4", sheets_left=1))
    noted, (told,) = note(journal, record, book, copies=3)
    assert left_in(book, "a4") == 0
    assert "1 sheet taken, 0 sheets left. The print used 3 sheets" in told.words
    assert note(journal, record, book)[1] == ()  # nothing is left to take
    struck = strike_print(journal, noted, why="Wrong.", book=book)
    settle_stock(journal, book, noted=struck)
    assert left_in(book, "a4") == 1


def test_roll_goes_down_by_the_length_cut_off(journal, record, book):
    """A landscape A4 enters by its shorter edge: 297 mm of roll (ISO 216)."""
    roll = Stock(roll_width_mm=210.0, roll_length_m=15.0, left_m=9.5, price_each=60.0)
    set_stock(book, roll)
    feeds = (replace(it, takes=MediaForm.ROLLS) for it in record.printer.feeds)
    rolled = replace(record, printer=replace(record.printer, feeds=tuple(feeds)))
    noted, (told,) = note(journal, rolled, book, copies=2)
    assert left_in(book, roll.words) == 8.906
    assert "0.594 m taken, 8.906 m left" in told.words
    struck = strike_print(journal, noted, why="Wrong.", book=book)
    settle_stock(journal, book, noted=struck)
    assert left_in(book, roll.words) == 9.5


@pytest.mark.parametrize(
    "stock", [(), (Stock(sheet="A3", sheets_left=3),), (Stock(sheet="A4"),)]
)
def test_what_nobody_counts_is_left_alone(journal, record, book, stock):
    set_stock(book, *stock)
    before = book.read_bytes()
    noted, told = note(journal, record, book)
    assert (noted.entry_id, told) == (1, ())
    assert book.read_bytes() == before


def test_without_a_book_nothing_is_counted(journal, record, tmp_path):
    none = tmp_path / "none.toml"
    noted = note_print(journal, entry_of(record), record_text(record), book=none)
    assert settle_stock(journal, none, noted=noted) == ()
    assert not none.exists()


def test_threshold_is_told_when_it_is_reached(journal, record, book):
    set_stock(book, Stock(sheet="A4", sheets_left=7, reorder_at=5))
    assert "is to be bought" not in note(journal, record, book)[1][0].words
    told = note(journal, record, book)[1][0].words
    assert "5 sheets left. More is to be bought at 5 sheets." in told


class TestStopped:
    """A computer that stops in between loses no sheet, and counts none twice."""

    def test_before_the_book_was_written(self, journal, record, book):
        note_print(journal, entry_of(record), record_text(record), book=book)
        assert left_in(book) == 25
        (told,) = settle_stock(journal, book)
        assert (left_in(book), told.settled) == (24, Settled.COUNTED)
        assert settle_stock(journal, book) == ()
        assert left_in(book) == 24

    def test_after_the_book_was_written(self, journal, record, book, monkeypatch):
        noted = note_print(journal, entry_of(record), record_text(record), book=book)
        real = noting._counted

        def stops(*arguments, **more):
            real(*arguments, **more)
            raise KeyboardInterrupt

        with monkeypatch.context() as patched:
            patched.setattr(noting, "_counted", stops)
            with pytest.raises(KeyboardInterrupt):
                settle_stock(journal, book, noted=noted)
        assert left_in(book) == 24
        (told,) = settle_stock(journal, book)
        assert (left_in(book), told.settled) == (24, Settled.COUNTED)

    def test_and_somebody_counted_meanwhile(self, journal, record, book):
        note_print(journal, entry_of(record), record_text(record), book=book)
        set_stock(book, Stock(sheet="A4", sheets_left=50))
        (told,) = settle_stock(journal, book)
        assert (left_in(book), told.settled) == (50, Settled.UNSURE)
        assert "count them" in told.words
        assert settle_stock(journal, book) == ()

    def test_and_the_size_went_out_of_the_book(self, journal, record, book):
        note_print(journal, entry_of(record), record_text(record), book=book)
        set_stock(book, Stock(sheet="A3", sheets_left=50))
        (told,) = settle_stock(journal, book)
        assert told.settled is Settled.GONE
        assert left_in(book, "A3") == 50


def test_book_edited_by_hand_between_is_counted_from_what_it_says(
    journal, record, book
):
    noted = note_print(journal, entry_of(record, 2), record_text(record), book=book)
    set_stock(book, Stock(sheet="A4", sheets_left=50))
    settle_stock(journal, book, noted=noted)
    assert left_in(book) == 48


def test_print_is_noted_though_the_book_cannot_be_changed(journal, record, book):
    """A book in brackets is read, and not written; the count is made up for later."""
    noted = note_print(journal, entry_of(record), record_text(record), book=book)
    whole = book.read_text("utf-8")
    book.write_text("no book", encoding="utf-8")
    with pytest.raises(RecordError):
        settle_stock(journal, book, noted=noted)
    with read_journal(journal) as opened:
        assert len(opened.entries()) == 1
    book.write_text(whole, encoding="utf-8")
    settle_stock(journal, book)
    assert left_in(book) == 24


def test_nothing_is_taken_for_a_print_that_was_not_noted(journal, record, book):
    with pytest.raises(RecordError):
        note_print(
            journal, entry_of(record), record_text(record), book=book, edition="None"
        )
    assert not journal.exists()
    note(journal, record, book)
    with pytest.raises(RecordError):
        note_print(
            journal, entry_of(record), record_text(record), book=book, edition="None"
        )
    assert settle_stock(journal, book) == ()
    assert left_in(book) == 24


def test_what_was_taken_is_written_once(journal, record, book):
    note(journal, record, book)
    with closing(sqlite3.connect(journal)) as raw:
        for verb in ("UPDATE stock_change SET after = 3", "DELETE FROM stock_settled"):
            with pytest.raises(sqlite3.IntegrityError, match="what was written stays"):
                raw.execute(verb)


def finding_of(record, stock, copies=1):
    spec = replace(record.spec, delivery=replace(record.spec.delivery, copies=copies))
    paper = replace(record.paper, stock=(stock,))
    plan = resolve(record.facts, paper, record.printer, spec)
    found = [it for it in check_plan(plan) if it.topic.startswith("paper ")]
    return found[0] if found else None


@pytest.mark.parametrize(
    ("left", "at", "copies", "level"),
    [
        (10, None, 2, None),
        (3, None, 2, None),
        (2, None, 2, "note"),
        (10, 5, 2, None),
        (7, 5, 2, "warn"),
        (1, 5, 2, "warn"),
        (None, 5, 2, None),
    ],
)
def test_last_sheets_are_told_before_they_are_printed_on(
    record, left, at, copies, level
):
    stock = Stock(sheet="A4", sheets_left=left, reorder_at=at)
    found = finding_of(record, stock, copies)
    assert (found and str(found.level)) == level


def test_words_before_the_last_sheets(record):
    found = finding_of(record, Stock(sheet="A4", sheets_left=3, reorder_at=2), 2)
    assert found.problem.startswith(
        "3 sheets of Fen Cotton 310, A4, left; this takes 2"
    )


def test_book_that_cannot_be_read_is_told_before_anything_is_noted(
    journal, record, book
):
    book.write_text("no book", encoding="utf-8")
    with pytest.raises(RecordError, match=r"book\.toml|the record"):
        note_print(journal, entry_of(record), record_text(record), book=book)
    assert not journal.exists()
