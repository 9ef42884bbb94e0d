"""Sheets and metres leave the paper book as prints are made."""

from dataclasses import replace
from threading import Thread
from types import SimpleNamespace

import pytest

from printplan.errors import RecordError
from printplan.media import MediaForm, Stock
from printplan.pixels.master import open_master
from printplan.record.paper_stock import take_from_stock
from printplan.record.papers import PaperBook, read_paper_book, write_paper_book
from printplan.spec import DeliverySpec


@pytest.fixture
def printed(studio, plan_for, tmp_path):
    """Three copies on A3, and a book of the same paper."""
    with open_master(studio.scenario.chart) as master:
        facts = SimpleNamespace(facts=master.facts)
    plan = plan_for(facts, delivery=DeliverySpec(copies=3))

    def with_stock(*stock):
        paper = replace(plan.paper, stock=stock)
        path = tmp_path / "papers.toml"
        book = PaperBook(printers=(plan.printer,), papers=(paper,))
        write_paper_book(book, path, overwrite=True)
        return path

    return plan, with_stock


def left(path):
    return read_paper_book(path).papers[0].stock


def test_copies_are_taken_from_their_own_size(printed):
    plan, with_stock = printed
    path = with_stock(
        Stock(sheet="A4", sheets_left=9), Stock(sheet="A3", sheets_left=7)
    )
    paper = take_from_stock(path, plan)
    assert [it.sheets_left for it in paper.stock] == [9, 4]
    assert left(path) == paper.stock
    take_from_stock(path, plan, prints=4)
    assert [it.sheets_left for it in left(path)] == [9, 0]


def test_more_than_are_left_are_not_taken(printed):
    plan, with_stock = printed
    path = with_stock(Stock(sheet="A3", sheets_left=2))
    with pytest.raises(RecordError, match=r"3 prints .* 2 left of A3\. Count again"):
        take_from_stock(path, plan)
    assert left(path)[0].sheets_left == 2
    with pytest.raises(RecordError, match="Give 1 or more"):
        take_from_stock(path, plan, prints=0)


def test_a_size_that_nobody_counts_stays(printed):
    plan, with_stock = printed
    path = with_stock(Stock(sheet="297x420 mm"))
    before = path.read_text()
    take_from_stock(path, plan)
    assert path.read_text() == before


def test_a_size_that_is_not_kept_is_named(printed):
    plan, with_stock = printed
    path = with_stock(Stock(sheet="A4", sheets_left=9))
    with pytest.raises(RecordError, match=r"not in stock in this size; there is A4\."):
        take_from_stock(path, plan)


def test_a_roll_gets_shorter_by_the_length_of_the_prints(printed):
    """An A3 sheet enters by its shorter edge: three of them are 3 × 0.420 m."""
    plan, with_stock = printed
    on_roll = replace(plan, feed=replace(plan.feed, takes=MediaForm.ROLLS))
    path = with_stock(
        Stock(sheet="A3", sheets_left=9), Stock(roll_width_mm=297.0, left_m=2.0)
    )
    take_from_stock(path, on_roll)
    assert [it.left_m for it in left(path)] == [None, pytest.approx(0.74)]
    with pytest.raises(RecordError, match="the book has 1 left of roll 297 mm"):
        take_from_stock(path, on_roll)


def test_two_that_print_at_once_both_count(printed):
    plan, with_stock = printed
    path = with_stock(Stock(sheet="A3", sheets_left=20))
    printers = [
        Thread(target=take_from_stock, args=(path, plan), kwargs={"prints": 1})
        for _ in range(6)
    ]
    for each in printers:
        each.start()
    for each in printers:
        each.join()
    assert left(path)[0].sheets_left == 14
