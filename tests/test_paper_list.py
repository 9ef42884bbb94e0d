"""Papers are renamed and taken out of use, and the book keeps its comments."""

from dataclasses import replace

import pytest

from printplan.record.paper_book import PaperBook, read_paper_book, write_paper_book
from printplan.workbook.panels.paper_list import PaperList

COTTON = "Fen Cotton 310"


@pytest.fixture
def book_path(studio, tmp_path):
    path = tmp_path / "paper-book.toml"
    papers = []
    for paper in studio.book.papers:
        (setup,) = paper.on_printer
        both = (setup, replace(setup, setup="best", quality="Best"))
        papers.append(
            replace(paper, on_printer=both if paper.name == COTTON else (setup,))
        )
    write_paper_book(replace(studio.book, papers=tuple(papers)), path)
    text = path.read_text("utf-8").replace("[[paper]]", "# mine\n[[paper]]", 1)
    path.write_text(text, "utf-8")
    return path


@pytest.fixture
def changed():
    return []


@pytest.fixture
def papers(book_path, changed):
    panel = PaperList(book_path, on_changed=changed.append)
    panel.paper.value = COTTON
    return panel


def is_hidden(control):
    return control.layout.display == "none"


def test_all_papers_are_offered_and_described(papers, studio):
    assert [name for _, name in papers.paper.options] == [
        it.name for it in studio.book.papers
    ]
    assert "fen-cotton-310.icc" in papers.words.value
    assert not is_hidden(papers.setup)
    papers.paper.value = "Heron Baryta 315"
    assert is_hidden(papers.setup)
    assert "heron-baryta-315.icc" in papers.words.value


def test_a_paper_goes_out_of_use_and_back(papers, book_path, changed):
    papers.rest.click()
    assert not read_paper_book(book_path).paper(COTTON).in_use
    assert (f"{COTTON} (out of use)", COTTON) in papers.paper.options
    assert "is out of use" in papers.status.value
    assert papers.paper.value == COTTON
    papers.rest.click()
    assert read_paper_book(book_path).paper(COTTON).in_use
    assert "# mine" in book_path.read_text("utf-8")
    assert [paper.in_use for paper in changed] == [False, True]


def test_one_setup_goes_out_of_use(papers, book_path):
    papers.setup.value = papers.setup.options[1][1]
    papers.rest_setup.click()
    setups = read_paper_book(book_path).paper(COTTON).on_printer
    assert [it.in_use for it in setups] == [True, False]
    # It stays chosen, so that the same button brings it back.
    papers.rest_setup.click()
    setups = read_paper_book(book_path).paper(COTTON).on_printer
    assert [it.in_use for it in setups] == [True, True]


def test_a_renamed_paper_is_found_by_both_names(papers, book_path):
    papers.name.value = "Heavy Cotton"
    papers.rename.click()
    book = read_paper_book(book_path)
    assert book.paper("Heavy Cotton") == book.paper(COTTON)
    assert papers.paper.value == "Heavy Cotton"
    assert "# mine" in book_path.read_text("utf-8")


@pytest.mark.parametrize(
    ("name", "remedy"), [("  ", "Type its new name"), ("heron baryta 315", "name of")]
)
def test_a_name_that_cannot_be_is_refused(name, remedy, papers, book_path):
    before = book_path.read_text("utf-8")
    papers.name.value = name
    papers.rename.click()
    assert remedy in papers.message.value
    assert book_path.read_text("utf-8") == before


def test_a_paper_added_meanwhile_is_shown_after_a_refresh(papers, book_path, studio):
    alone = PaperBook(printers=studio.book.printers, papers=studio.book.papers[:1])
    write_paper_book(alone, book_path, overwrite=True)
    papers.refresh()
    assert len(papers.paper.options) == 1
    assert papers.paper.value == studio.book.papers[0].name


def test_an_empty_book_says_so(book_path, studio):
    empty = PaperBook(printers=studio.book.printers, papers=())
    write_paper_book(empty, book_path, overwrite=True)
    panel = PaperList(book_path)
    assert "no paper yet" in panel.words.value
    assert panel.message.value == ""
