"""A printer comes into the book by a form, changes there, and gets its margins."""

from dataclasses import replace
from pathlib import Path

import ipywidgets as widgets
import pytest
from ipp_printers import needs_printer, real_printer, service_discovery

from printplan.media import DriverColour, MediaForm
from printplan.record.book_changes import change_printer
from printplan.record.paper_book import PaperBook, read_paper_book, write_paper_book
from printplan.record.printer_classes import PrinterClass, draft_of_class
from printplan.units import LengthUnit
from printplan.workbook.panels import add_printer as panel_module
from printplan.workbook.panels.add_printer import AddPrinterPanel
from printplan.workbook.panels.controls import Accessibility

pytestmark = pytest.mark.xdist_group("ipp-printer")


def empty_book(folder, unit=LengthUnit.MM):
    path = folder / "paper-book.toml"
    write_paper_book(PaperBook(printers=(), papers=(), lengths_in=unit), path)
    return path


@pytest.fixture
def book(tmp_path):
    return empty_book(tmp_path)


@pytest.fixture
def added():
    return []


@pytest.fixture
def panel(book, added):
    return AddPrinterPanel(book, added.append)


def is_hidden(control):
    return control.layout.display == "none"


def add(panel, name="The tall one"):
    panel.form.name.value = name
    panel.add.click()
    assert panel.message.value == ""


# A new printer


def test_an_empty_book_opens_on_a_new_printer(panel):
    assert panel.which.options == (("a new one", ""),)
    assert is_hidden(panel.keep)
    assert is_hidden(panel.margins.ui)
    assert "Our choice" in panel.said.value
    assert "check with the test page" in panel.said.value
    assert panel.form.name.value == ""


def test_a_printer_without_a_name_is_refused_in_the_panel(panel, book):
    before = book.read_bytes()
    panel.add.click()
    assert "has no name" in panel.message.value
    assert 'role="alert"' in panel.message.value
    assert book.read_bytes() == before


def test_a_class_fills_the_form_and_a_button_the_book(panel, book, added):
    panel.kind.value = PrinterClass.ROLL_24
    panel.begin.click()
    assert [it.name.value for it in panel.form.feeds] == [
        "sheet feeder",
        "straight path",
        "roll",
    ]
    panel.form.driver_colour.value = DriverColour.CMYK
    panel.form.black_inks.ui.value = "black; warm black"
    panel.form.input_ppi.ui.value = "360; 720"
    panel.form.words["media_types"].ui.value = "Cotton, very heavy; Satin"
    feeder = panel.form.feeds[0]
    feeder.margins["leading"].ui.value = "3.2"
    feeder.across.ui.value = "100 to 610"
    feeder.borderless.ui.value = "a4; 4 x 6 in"
    add(panel)
    (printer,) = read_paper_book(book).printers
    assert added == [printer]
    assert printer.driver_colour is DriverColour.CMYK
    assert printer.black_inks == ("black", "warm black")
    assert printer.input_ppi == (360, 720)
    assert printer.media_types == ("Cotton, very heavy", "Satin")
    feed = printer.feeds[0]
    assert feed.margins.leading_mm == 3.2
    assert (feed.narrowest_mm, feed.widest_mm) == (100, 610)
    assert feed.borderless == ("A4", "4x6 in")
    sources = [it.margins_source for it in printer.feeds]
    assert sources == ["typed", *["our choice, check with the test page"] * 2]
    assert printer.feeds[2].takes is MediaForm.ROLLS
    assert panel.which.value == "The tall one"
    assert not is_hidden(panel.margins.ui)


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("across", "wide", "across (mm): &#x27;wide&#x27; is no range"),
        ("across", "600 to 100", "narrowest_mm is 600"),
        ("thickness", "80 to thick", "thickness (µm): &#x27;thick&#x27; is no number"),
        ("along", "100 to 900 furlongs", "is not a length"),
        ("borderless", "foolscap", "without margins: The media size"),
    ],
)
def test_what_is_no_value_is_refused_with_its_field(panel, book, field, typed, said):
    before = book.read_bytes()
    panel.form.name.value = "The tall one"
    getattr(panel.form.feeds[0], field).ui.value = typed
    panel.add.click()
    assert said in panel.message.value
    assert book.read_bytes() == before


def test_feed_paths_are_left_out_and_added(panel, book):
    feeder, path = panel.form.feeds
    feeder.ui.children[-1].children[0].click()
    assert panel.form.feeds == [path]
    # The last one cannot go: a printer takes paper somewhere.
    path.ui.children[-1].children[0].click()
    assert panel.form.feeds == [path]
    another = panel.form.ui.children[-1].children[0]
    another.click()
    panel.form.feeds[1].name.value = "rear slot"
    add(panel)
    (printer,) = read_paper_book(book).printers
    assert [it.name for it in printer.feeds] == ["straight path", "rear slot"]


def test_every_control_says_what_it_is_for(panel):
    """One line on hover for all that can be typed, chosen or pressed."""
    seen = []

    def walk(widget):
        if isinstance(widget, widgets.Box | widgets.Accordion):
            for child in widget.children:
                walk(child)
        elif not isinstance(widget, widgets.HTML | Accessibility):
            seen.append(widget)

    walk(panel.ui)
    add(panel)
    walk(panel.ui)
    buttons = {panel.add, panel.keep}  # their words say it all
    silent = [it.description for it in seen if not it.tooltip and it not in buttons]
    assert silent == []
    assert len(seen) > 40
    assert all("\n" not in (it.tooltip or "") for it in seen)
    # Stock controls with a label do not show it; the page is told which does.
    told = panel.accessibility.tips.values()
    fields = [it for it in seen if not isinstance(it, widgets.Button)]
    assert {it.tooltip for it in fields} == set(told)


# Asked


@needs_printer
def test_the_printers_answer_fills_the_form(panel, book, tmp_path_factory):
    folder = tmp_path_factory.mktemp("printer")
    with service_discovery(folder) as env, real_printer(folder, env) as real:
        panel.address.value = real.uri
        panel.ask.click()
        assert panel.settle()
    assert panel.message.value == ""
    assert not panel.ask.disabled
    assert "The printer answered" in panel.status.value
    assert panel.form.name.value == "Tern Loft"
    assert [it.name.value for it in panel.form.feeds] == ["main", "photo"]
    assert "Said by the printer" in panel.said.value
    panel.add.click()
    printer = read_paper_book(book).printer("Tern Loft")
    assert printer.ipp_address == real.uri
    assert printer.feeds[0].margins_source == "the printer"


def test_a_printer_that_is_not_there_is_told_in_the_panel(panel):
    panel.address.value = "http://nowhere"
    panel.ask.click()
    assert panel.settle()
    assert "is no address of a printer" in panel.message.value
    assert "ipp://NAME:631/ipp/print" in panel.message.value
    assert not panel.ask.disabled


def test_an_answer_does_not_replace_what_is_chosen_meanwhile(panel, monkeypatch):
    draft = draft_of_class(PrinterClass.INCH_17, "Late")
    add(panel)
    panel.which.value = ""

    def answers(*_, **__):
        panel.which.value = "The tall one"
        return draft

    monkeypatch.setattr(panel_module, "ask_printer", answers)
    panel.ask.click()
    assert panel.settle()
    assert panel.form.name.value == "The tall one"


def test_a_fault_while_asking_is_shown(panel, monkeypatch):
    seen = []
    monkeypatch.setattr("threading.excepthook", lambda it: seen.append(it.exc_type))

    def broken(*_, **__):
        raise ZeroDivisionError("by zero")

    monkeypatch.setattr(panel_module, "ask_printer", broken)
    panel.ask.click()
    assert panel.settle()
    assert "fault in printplan (ZeroDivisionError: by zero)" in panel.message.value
    assert not panel.ask.disabled
    assert seen == [ZeroDivisionError]


# One of the book


def test_a_printer_is_renamed_and_found_by_its_former_name(panel, book, added):
    add(panel)
    panel.form.name.value = "Loft"
    panel.keep.click()
    assert panel.message.value == ""
    assert panel.which.value == "Loft"
    printer = read_paper_book(book).printer("The tall one")
    assert (printer.name, printer.former_names) == ("Loft", ("The tall one",))
    assert added[-1] == printer


def test_a_printer_is_taken_out_of_use_and_back(panel, book):
    add(panel)
    panel.rest.click()
    assert not read_paper_book(book).printer("The tall one").in_use
    assert ("The tall one (out of use)", "The tall one") in panel.which.options
    panel.rest.click()
    assert read_paper_book(book).printer("The tall one").in_use


def test_what_was_not_touched_stays_to_the_last_digit(tmp_path):
    """In inches a length is shown to a hundredth; the book keeps what it has."""
    book = empty_book(tmp_path, LengthUnit.INCHES)
    printer = draft_of_class(PrinterClass.A3_PLUS, "Tall").printer
    feed = replace(printer.feeds[0], narrowest_mm=88.917, margins_source="test page")
    empty = PaperBook(printers=(), papers=(), lengths_in=LengthUnit.INCHES)
    kept = replace(empty, printers=(replace(printer, feeds=(feed,)),))
    write_paper_book(kept, book, overwrite=True)
    panel = AddPrinterPanel(book)
    panel.which.value = "Tall"
    assert panel.form.feeds[0].across.ui.value == "3.5 to 13"
    panel.form.words["qualities"].ui.value = "fine"
    panel.keep.click()
    assert panel.message.value == ""
    now = read_paper_book(book).printer("Tall")
    assert now == replace(kept.printers[0], qualities=("fine",))
    panel.form.feeds[0].margins["left"].ui.value = "0.25"
    panel.keep.click()
    margins = read_paper_book(book).printer("Tall").feeds[0].margins
    assert margins.left_mm == pytest.approx(0.25 * 25.4)


def test_a_book_that_was_changed_meanwhile_is_not_written_over(panel, book):
    add(panel)
    change_printer(book, "The tall one", lambda it: replace(it, note="by hand"))
    before = book.read_bytes()
    panel.form.black_inks.ui.value = "black"
    panel.keep.click()
    assert "changed in the book meanwhile" in panel.message.value
    assert book.read_bytes() == before
    # The form shows what is there now; the change made again goes in.
    panel.form.black_inks.ui.value = "black"
    panel.keep.click()
    printer = read_paper_book(book).printer("The tall one")
    assert (printer.note, printer.black_inks) == ("by hand", ("black",))


# Margins


def read_off(panel, **readings):
    for name, typed in readings.items():
        panel.margins.readings[name].value = typed


def test_the_margin_page_lies_beside_the_book(panel, book):
    add(panel)
    margins = panel.margins
    assert margins.sheet.value == "A4"
    margins.write.click()
    assert (book.parent / "margins-the-tall-one-sheet-feeder.pdf").exists()
    assert "at 100 %" in margins.written.value
    margins.write.click()
    assert "margins-the-tall-one-sheet-feeder-2.pdf" in margins.written.value


def test_readings_become_the_margins_of_the_book(panel, book, added):
    add(panel)
    margins = panel.margins
    margins.feed.value = "straight path"
    read_off(panel, leading="20", trailing="21.5", left="3", right="0.1in")
    margins.use.click()
    assert panel.message.value == ""
    feed = read_paper_book(book).printer("The tall one").feed("straight path")
    assert (feed.margins.leading_mm, feed.margins.trailing_mm) == (20, 21.5)
    assert feed.margins.right_mm == 2.6  # 2.54, up to a tenth
    assert feed.margins_source.startswith("test page of 2")
    assert added[-1].feed("straight path") == feed
    assert "are in the book" in margins.found.value
    # The form shows them, so that the next change does not put the old ones back.
    assert panel.form.feeds[1].margins["leading"].ui.value == "20"
    panel.form.words["qualities"].ui.value = "fine"
    panel.keep.click()
    assert panel.message.value == ""
    assert read_paper_book(book).printer("The tall one").feed("straight path") == feed


def test_a_scaling_driver_is_told_in_the_panel(panel):
    add(panel)
    read_off(panel, leading="3", trailing="3", left="3", right="3", line_along="97")
    panel.margins.use.click()
    assert "printed at 97.0 %" in panel.margins.found.value
    assert "scaling to 100 %" in panel.margins.found.value


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ({"leading": ""}, "The leading edge has no reading"),
        ({"left": "a lot"}, "left edge (mm): &#x27;a lot&#x27; is not a length"),
        ({"left": "90"}, "left edge is 90 mm"),
        ({"left": "3", "line_across": "3.94"}, "was measured as 3.94 mm"),
    ],
)
def test_impossible_readings_are_told_in_the_panel(panel, book, readings, said):
    add(panel)
    before = book.read_bytes()
    read_off(panel, **({"trailing": "3", "leading": "3", "right": "3"} | readings))
    panel.margins.use.click()
    assert said in panel.message.value
    assert book.read_bytes() == before


def test_margins_wait_until_what_was_typed_is_kept(panel, book):
    add(panel)
    read_off(panel, leading="3", trailing="3", left="3", right="3")
    panel.form.black_inks.ui.value = "black"
    before = book.read_bytes()
    panel.margins.use.click()
    assert "not in the book" in panel.message.value
    assert book.read_bytes() == before
    panel.keep.click()
    read_off(panel, leading="3", trailing="3", left="3", right="3")
    panel.margins.use.click()
    assert panel.message.value == ""


def test_another_feed_path_begins_without_the_readings_of_the_last(panel):
    add(panel)
    read_off(panel, leading="3")
    panel.margins.feed.value = "straight path"
    assert panel.margins.readings["leading"].value == ""
    assert panel.margins.readings["line_along"].value == "100"


def test_the_book_may_lie_anywhere(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "studio").mkdir()
    empty_book(tmp_path / "studio")
    panel = AddPrinterPanel(Path("studio/paper-book.toml"))
    monkeypatch.chdir("/")
    add(panel)
    panel.margins.write.click()
    assert list((tmp_path / "studio").glob("margins-*.pdf"))
