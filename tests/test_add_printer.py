"""A printer comes into the book by the command line, and its margins after it."""

import sys

import pytest
from ipp_printers import needs_printer, real_printer, service_discovery

from printplan.cli import main
from printplan.media import DriverColour
from printplan.record.paper_book import PaperBook, read_paper_book, write_paper_book
from printplan.units import LengthUnit

pytestmark = pytest.mark.xdist_group("ipp-printer")


@pytest.fixture
def book(tmp_path, monkeypatch):
    """An empty book in a folder of its own, where the commands run."""
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "paper-book.toml"
    write_paper_book(PaperBook(printers=(), papers=()), path)
    return path


@pytest.fixture
def command(monkeypatch, capsys):
    def run(*arguments):
        monkeypatch.setattr(sys, "argv", ["printplan", *map(str, arguments)])
        with pytest.raises(SystemExit) as end:
            main()
        said = capsys.readouterr()
        return end.value.code or 0, said.out, said.err

    return run


def test_a_printer_is_added_by_its_class(book, command):
    options = ["--driver-colour", "rgb", "--black-ink", "black", "--ppi", 360]
    options += ["--quality", "fine", "--quality", "normal", "--platen-gap", "wide"]
    status, said, problem = command(
        "add", "printer", "The tall one", "--class", "17in", *options
    )
    assert (status, problem) == (0, "")
    assert "black inks: black (typed)." in said
    # Typed is also what agrees with the starting value.
    assert "driver takes: RGB (typed)." in said
    assert "(our choice, check with the test page)" in said
    printer = read_paper_book(book).printer("The tall one")
    assert printer.driver_colour is DriverColour.RGB
    assert (printer.black_inks, printer.inks) == (("black",), ())
    assert printer.input_ppi == (360,)
    assert printer.qualities == ("fine", "normal")
    assert printer.platen_gaps == ("wide",)
    assert {it.margins_source for it in printer.feeds} == {
        "our choice, check with the test page"
    }


@needs_printer
def test_a_printer_is_added_from_itself(book, command, tmp_path_factory):
    folder = tmp_path_factory.mktemp("printer")
    with service_discovery(folder) as env, real_printer(folder, env) as real:
        status, said, problem = command("add", "printer", "--from", real.uri)
    assert (status, problem) == (0, "")
    assert "name: Tern Loft (the printer)." in said
    assert "main: thickness: 80 to 300 µm (our choice, look it up" in said
    printer = read_paper_book(book).printer("Tern Loft")
    assert printer.ipp_address == real.uri
    assert [it.name for it in printer.feeds] == ["main", "photo"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["The tall one"], "needs a name and a class"),
        (["--class", "24in"], "needs a name and a class"),
        (["Tall", "--class", "8in"], "'8in' is not one of"),
        (["Tall", "--from", "http://x"], "is no address of a printer"),
        (["Tall", "--class", "24in", "--black-ink", " "], "has no name"),
    ],
)
def test_what_is_missing_is_said_and_the_book_stays(book, command, arguments, said):
    before = book.read_bytes()
    status, _, problem = command("add", "printer", *arguments)
    assert status == 2
    assert said in problem
    assert book.read_bytes() == before


def test_a_printer_of_that_name_is_not_replaced(book, command):
    command("add", "printer", "Tall", "--class", "24in")
    before = book.read_bytes()
    status, _, problem = command("add", "printer", "Tall", "--class", "17in")
    assert status == 2
    assert "twice" in problem
    assert book.read_bytes() == before


def test_margins_go_from_the_page_into_the_book(book, command, tmp_path):
    command("add", "printer", "Tall", "--class", "24in")
    status, said, problem = command("margin-page", "--feed", "sheet feeder")
    assert (status, problem) == (0, "")
    assert (tmp_path / "margins-tall-sheet-feeder.pdf").read_bytes()[:5] == b"%PDF-"
    assert "is for A4" in said
    # The next one gets a name of its own.
    command("margin-page", "--feed", "sheet feeder")
    assert (tmp_path / "margins-tall-sheet-feeder-2.pdf").exists()
    readings = ["--leading", "3", "--trailing", "0.5in", "--left", "3.5", "--right", 3]
    status, said, problem = command("margins", "--sheet", "A4", *readings)
    assert (status, problem) == (0, "")
    assert "leading: 3 mm\ntrailing: 12.7 mm\nleft: 3.5 mm\nright: 3 mm\n" in said
    feed = read_paper_book(book).printer("Tall").feed("sheet feeder")
    assert feed.margins.trailing_mm == 12.7
    assert feed.margins_source.startswith("test page of 2")


@pytest.mark.usefixtures("book")
def test_a_scaling_driver_is_told_on_the_command_line(command):
    command("add", "printer", "Tall", "--class", "a3+")
    readings = ["--leading", 3, "--trailing", 3, "--left", 3, "--right", 3]
    lines = ["--line-across", "97 mm", "--line-along", "97 mm"]
    status, said, _ = command("margins", *readings, *lines)
    assert status == 0
    assert "warn: The page was printed at 97.0 %" in said
    assert "Set the scaling to 100 %" in said


def test_bare_numbers_are_in_the_studios_unit(book, command):
    empty = PaperBook(printers=(), papers=(), lengths_in=LengthUnit.INCHES)
    write_paper_book(empty, book, overwrite=True)
    command("add", "printer", "Tall", "--class", "24in")
    status, said, _ = command("margin-page", "--feed", "roll")
    assert "is for 24x8.5 in" in said
    assert "Blades:" in said
    readings = ["--leading", "0.2", "--trailing", "0.5", "--left", "0.1"]
    status, said, problem = command(
        "margins", "--feed", "roll", *readings, "--right", "0.1"
    )
    assert (status, problem) == (0, "")
    assert "leading: 0.2 in" in said
    margins = read_paper_book(book).printer("Tall").feed("roll").margins
    assert margins.leading_mm == pytest.approx(0.2 * 25.4, abs=0.1)


@pytest.mark.usefixtures("book")
def test_several_printers_want_a_name(command):
    status, _, problem = command("margin-page")
    assert (status, "has 0 printers" in problem) == (2, True)
    for name in ("Tall", "Small"):
        command("add", "printer", name, "--class", "a3+")
    status, _, problem = command("margin-page")
    assert status == 2
    assert '--printer. Known here: "Tall", "Small".' in problem
    assert command("margin-page", "--printer", "Small")[0] == 0


# Changing


def test_a_printer_is_renamed_and_retired_by_command(book, command):
    command("add", "printer", "Tall", "--class", "a3+")
    text = book.read_text("utf-8") + "# mine\n"
    book.write_text(text, "utf-8")
    status, said, problem = command(
        "change", "printer", "Tall", "--name", "Loft", "--out-of-use"
    )
    assert (status, problem) == (0, "")
    assert '"Loft" is out of use' in said
    assert "still found as Tall" in said
    printer = read_paper_book(book).printer("Tall")
    assert (printer.name, printer.in_use) == ("Loft", False)
    assert command("change", "printer", "Loft", "--in-use")[0] == 0
    assert read_paper_book(book).printer("Loft").in_use
    assert "# mine" in book.read_text("utf-8")


def test_a_paper_is_renamed_and_retired_by_command(studio, command, tmp_path):
    path = tmp_path / "studio.toml"
    write_paper_book(studio.book, path)
    name = studio.book.papers[0].name
    arguments = ["change", "paper", name, "--book", path, "--out-of-use"]
    status, said, problem = command(*arguments, "--name", "Old stock")
    assert (status, problem) == (0, "")
    assert '"Old stock" is out of use' in said
    paper = read_paper_book(path).paper(name)
    assert (paper.name, paper.in_use) == ("Old stock", False)
    assert paper.on_printer == studio.book.papers[0].on_printer


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["Tall"], "Nothing is to be changed"),
        (["Small", "--in-use"], 'has no printer "Small"'),
        (["Tall", "--name", " "], "has no name"),
    ],
)
def test_a_change_that_cannot_be_made_leaves_the_book(book, command, arguments, said):
    command("add", "printer", "Tall", "--class", "a3+")
    before = book.read_bytes()
    status, _, problem = command("change", "printer", *arguments)
    assert (status, said in problem) == (2, True)
    assert book.read_bytes() == before
