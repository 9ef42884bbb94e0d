"""A profile is chosen in the panel, judged there, and becomes a paper of the book."""

from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest
from profile_flaws import with_grid

from printplan.colour.profiles import open_profile
from printplan.media import Surface
from printplan.record.paper_book import PaperBook, read_paper_book, write_paper_book
from printplan.workbook.panels.add_paper import AddPaperPanel


@pytest.fixture
def book_path(studio, tmp_path):
    folder = tmp_path / "studio"
    folder.mkdir()
    path = folder / "paper-book.toml"
    printer = replace(studio.book.printers[0], qualities=("Draft", "Best"))
    write_paper_book(PaperBook(printers=(printer,), papers=()), path)
    return path


@pytest.fixture
def added():
    return []


@pytest.fixture
def panel(book_path, added):
    return AddPaperPanel(book_path, on_added=added.append)


@pytest.fixture
def cotton(studio):
    return Path(studio.book.paper("Fen Cotton 310").on_printer[0].profile)


def read(panel, path):
    panel.chooser.path.value = str(path)
    panel.chooser.go.click()
    assert panel.settle()


def type_in(panel, **typed):
    for key, value in typed.items():
        panel.fields[key].control.value = value


def is_hidden(control):
    return control.layout.display == "none"


def test_before_a_profile_is_read_there_is_no_form(panel):
    assert is_hidden(panel._form)
    assert is_hidden(panel.printer)
    assert panel.message.value == ""


def test_a_profile_is_judged_and_proposed_with_its_sources(panel, cotton):
    read(panel, cotton)
    assert "Nothing speaks against this profile." in panel.verdict.value
    assert "density 1.7" in panel.facts.value
    assert "what it means in a print" in panel.facts.value
    assert not is_hidden(panel._form)
    fields = panel.fields
    assert fields["surface"].control.value is Surface.MATTE
    assert "word" in fields["surface"].source.value
    assert fields["black_ink"].control.value == "matte black"
    assert fields["feeds"].control.value == ("front slot",)
    assert "Look it up" in fields["thickness_um"].source.value
    assert "Look it up" not in fields["name"].source.value
    tips = panel.accessibility.tips.values()
    for field in fields.values():
        assert field.source.value
        assert field.control.tooltip in tips


def test_the_button_writes_what_is_shown(panel, cotton, book_path, added):
    read(panel, cotton)
    panel.add.click()
    assert panel.message.value == ""
    (paper,) = read_paper_book(book_path).papers
    assert added == [paper]
    assert paper.surface is Surface.MATTE
    assert 'role="status"' in panel.status.value
    assert "is in the book" in panel.status.value
    assert is_hidden(panel._form)


def test_what_is_typed_goes_before_and_what_follows_follows(panel, cotton, book_path):
    read(panel, cotton)
    type_in(panel, surface=Surface.GLOSS, weight_gsm="250", sheets="a4; 17x22 in")
    fields = panel.fields
    assert "as you gave it" in fields["weight_gsm"].source.value
    assert fields["psf_sigma_um"].control.value == "25"
    assert fields["thickness_um"].control.value == "250"
    assert fields["feeds"].control.value == ("sheet feeder", "front slot")
    type_in(panel, psf_sigma_um="31,5", quality="Best", name="Own Gloss")
    panel.add.click()
    (paper,) = read_paper_book(book_path).papers
    assert (paper.name, paper.psf_sigma_um) == ("Own Gloss", 31.5)
    assert paper.sheets == ("A4", "17x22 in")
    assert paper.on_printer[0].quality == "Best"


def test_an_emptied_field_is_proposed_again(panel, cotton):
    read(panel, cotton)
    proposed = panel.fields["thickness_um"].control.value
    type_in(panel, thickness_um="300")
    assert "as you gave it" in panel.fields["thickness_um"].source.value
    type_in(panel, thickness_um="")
    assert panel.fields["thickness_um"].control.value == proposed


@pytest.mark.parametrize(
    ("field", "typed", "remedy"),
    [
        ("weight_gsm", "heavy", "empty the field"),
        ("thickness_um", "9000", "Give the thickness"),
        ("sheets", "A44", "A4"),
        ("white_lab", "96; x; 2", "empty the field"),
    ],
)
def test_what_cannot_be_meant_is_told_and_not_written(
    field, typed, remedy, panel, cotton, book_path
):
    read(panel, cotton)
    before = book_path.read_text("utf-8")
    good = panel.fields[field].control.value
    type_in(panel, **{field: typed})
    assert remedy in panel.message.value
    assert panel.add.disabled
    type_in(panel, **{field: good})
    assert panel.message.value == ""
    assert not panel.add.disabled
    assert book_path.read_text("utf-8") == before


def test_a_number_out_of_range_is_told_when_written(panel, cotton, book_path):
    read(panel, cotton)
    type_in(panel, drying_h="9000")
    panel.add.click()
    assert "the drying time on the data sheet" in panel.message.value
    assert read_paper_book(book_path).papers == ()
    assert not is_hidden(panel._form)


def test_a_known_paper_gets_a_setup(panel, cotton, book_path):
    read(panel, cotton)
    type_in(panel, name="Cotton")
    panel.add.click()
    read(panel, cotton)
    type_in(panel, name="cotton")
    assert is_hidden(panel.fields["weight_gsm"].ui)
    assert not is_hidden(panel.fields["black_ink"].ui)
    assert "setup" in panel.add.description
    type_in(panel, quality="Best")
    panel.add.click()
    (paper,) = read_paper_book(book_path).papers
    assert [it.setup for it in paper.on_printer] == ["", "matte black, Best"]
    told = unescape(panel.status.value)
    assert 'another setup in the book, "matte black, Best"' in told


@pytest.mark.parametrize("kind", ["press", "display", "cut"])
def test_an_unfit_profile_is_refused_with_its_remedy(
    kind, panel, cotton, fogra39_path, tmp_path, master_of, textured
):
    read(panel, cotton)
    path = tmp_path / "unfit.icc"
    path.write_bytes(
        {
            "press": fogra39_path.read_bytes,
            "display": lambda: master_of(textured).source_profile.data,
            "cut": lambda: cotton.read_bytes()[:5000],
        }[kind]()
    )
    read(panel, path)
    assert 'role="alert"' in panel.message.value
    assert "profile" in panel.message.value
    # Nothing is left of the profile before.
    assert panel.facts.value == panel.verdict.value == ""
    assert is_hidden(panel._form)
    read(panel, cotton)
    assert panel.message.value == ""
    assert not is_hidden(panel._form)


def test_a_poor_profile_is_warned_of(panel, cotton, tmp_path):
    poor = tmp_path / "poor.icc"
    shifted = with_grid(open_profile(cotton), "B2A1", lambda grid: grid + 4000)
    poor.write_bytes(shifted.data)
    read(panel, poor)
    assert "<b>warn</b>" in panel.verdict.value
    assert not panel.add.disabled


def test_a_book_without_a_printer_says_what_to_do(book_path):
    write_paper_book(PaperBook(printers=(), papers=()), book_path, overwrite=True)
    panel = AddPaperPanel(book_path)
    assert "Add the printer first" in panel.message.value


def test_another_printer_judges_anew(book_path, studio, cotton):
    first = studio.book.printers[0]
    other = replace(first, name="Other", black_inks=("black",), inks=())
    write_paper_book(
        PaperBook(printers=(first, other), papers=()), book_path, overwrite=True
    )
    panel = AddPaperPanel(book_path)
    assert not is_hidden(panel.printer)
    read(panel, cotton)
    panel.printer.value = "Other"
    assert panel.settle()
    assert panel.fields["black_ink"].control.value == "black"
    panel.add.click()
    (paper,) = read_paper_book(book_path).papers
    assert paper.on_printer[0].printer == "Other"
