"""Text of others stands where it is shown, and does nothing there."""

import csv
import io
import re
import shlex
import shutil
import subprocess
import sys
import tomllib
import unicodedata
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree as ET

import html5lib
import ipywidgets as widgets
import pikepdf
import pytest
import tifffile
from hostile_printers import hostile_printer, says, whole
from hypothesis import given
from hypothesis import strategies as st
from outside_tools import need
from recorded_print import recorded, small_studio

import printplan
from printplan.cli import main
from printplan.colour.spaces import named_profile
from printplan.errors import PrintPlanError, RecordError, SpecError
from printplan.foreign_file import named
from printplan.pixels.trials.lettering import Letters, text_width_px, wrapped
from printplan.record.decision_sheet.facts import decision_facts
from printplan.record.decision_sheet.pdf_sheet import pdf_sheet
from printplan.record.decision_sheet.sheet_drawing import draw_sheet
from printplan.record.decision_sheet.write import html_page
from printplan.record.ipp.keywords import LONGEST_OCTETS, GroupTag, ValueTag
from printplan.record.ipp.message import (
    Attribute,
    Group,
    Message,
    Value,
    encode_message,
)
from printplan.record.journal.entry import Outcome
from printplan.record.journal.from_record import entry_from_record
from printplan.record.journal.journal import create_journal, open_journal
from printplan.record.journal.view import journal_csv
from printplan.record.paper_book import read_paper_book, write_paper_book
from printplan.record.plan_file import open_plan_file, write_plan_file
from printplan.record.record_file import read_record, write_record
from printplan.record.reprint import open_record
from printplan.record.studio_folder import BOOK_NAME, JOURNAL_NAME
from printplan.shown_text import escape, shortened, visible
from printplan.spec import NamedSpace
from printplan.workbook.bench import Bench
from printplan.workbook.drawings.page import new_page, plain
from printplan.workbook.panels.check import CheckPanel
from printplan.workbook.panels.finish import FinishPanel
from printplan.workbook.panels.jobs import JobsPanel
from printplan.workbook.panels.journal import JournalPanel
from printplan.workbook.panels.master import MasterPanel
from printplan.workbook.panels.paper_list import PaperList
from printplan.workbook.panels.prints import PrintsPanel
from printplan.workbook.panels.size import SizePanel

MARKUP = '<script src="//x">a</script>"><img src=x onerror=a()>&amp;]]><!--'
CONTROLS = "\x1b[2J\x1b]0;t\x07\x9b31m\b\r\nforged\tline\x7f"
# What turns directions (Unicode Standard Annex 9, table 4, and its isolates).
TURNS = "\u202atab\u202b\u202c\u202d\u202egpj\u2066\u2067\u2068\u2069"
HIDDEN = "\u200b\u2060\ufeff\u2028\u2029\U000e0041\uffff"
ZALGO = "z" + "\u0301\u0330\u0489" * 12
KEPT = "São Tomé, Ærø, Zoë’s №5, 紙, עברית, नमस्ते, 👩\u200d🎨, \u00a0\u202f"
OTHERS = f"=HYPERLINK(1)|@SUM(1) $\\frac$ **b** [a](b) {MARKUP}{CONTROLS}{TURNS}"
ALL = f"{OTHERS}{HIDDEN}{ZALGO}{KEPT}"
LONG = "endless" * 600
BRIEF = "=A(1) **b** [a](b) <b>&amp;\x1b[2J\x07\r\n\u202egpj\u2066 $x$ Ærø"

ACTING = re.compile("[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ufeff\U000e0041]")


def test_nothing_that_acts_is_left():
    shown = visible(ALL)
    assert not ACTING.search(shown)
    assert shown.endswith(KEPT)
    assert ZALGO in shown
    assert MARKUP in shown
    assert "\\x1b[2J" in shown
    assert "\\u202egpj" in shown


@given(st.text(st.characters()))
def test_what_is_shown_is_valid_and_shown_again_alike(text):
    """Every code point, halves of pairs too; categories are those of Unicode."""
    shown = visible(text)
    shown.encode()
    assert visible(shown) == shown
    assert not {unicodedata.category(it) for it in shown} & {"Cc", "Cs", "Zl", "Zp"}
    element = f"<a b='{escape(text)}'>{escape(text)}</a>"
    assert ET.fromstring(element).text == (shown or None)  # noqa: S314 - our own


@given(st.text(st.characters(categories=["L", "M", "N", "P", "S", "Zs"])))
def test_letters_of_every_script_are_left_alone(text):
    assert visible(text) == text


def test_what_is_long_is_cut_in_its_middle():
    assert shortened("abc") == "abc"
    cut = shortened(LONG + "end")
    assert len(cut) < 310
    assert cut.startswith("endless")
    assert cut.endswith("end")
    assert named("\udcff\n") == "\\udcff\\n"


def test_error_shows_nothing_that_acts():
    error = SpecError(f"It is {ALL}.", remedy=f"Not {ALL}.")
    assert not ACTING.search(f"{error}{error!r}")
    assert isinstance(error, PrintPlanError)


@pytest.mark.parametrize(
    ("words", "where"),
    [
        ("html import escape", ["shown_text.py"]),
        ("html.escape", ["shown_text.py"]),
        ("click.echo", ["cli/telling.py"]),
        ("print(", []),
        ("innerHTML", []),
    ],
)
def test_there_is_one_way_to_the_page_and_to_the_terminal(words, where):
    package = Path(printplan.__file__).parent
    files = [*package.rglob("*.py"), *package.rglob("*.js")]
    calls = re.compile(rf"(?<![\w.]){re.escape(words)}")
    doctest = re.compile("^ *>>> .*$", re.MULTILINE)
    found = [
        path.relative_to(package).as_posix()
        for path in files
        if calls.search(doctest.sub("", path.read_text("utf-8")))
    ]
    assert set(found) <= set(where)


# A whole studio of it.


@pytest.fixture(scope="module", params=[BRIEF, ALL, LONG], ids=["brief", "all", "long"])
def text(request):
    return request.param


@pytest.fixture(scope="module")
def wish(text, studio, textured, tmp_path_factory):
    """A plan whose every word, and that of its book and master, is of others."""
    folder = tmp_path_factory.mktemp("studio")
    wish = small_studio(folder, studio, textured)
    name = f"m{text[:90].replace('/', ':')}.tif"
    xmp = (
        "<x:xmpmeta xmlns:x='adobe:ns:meta/'><rdf:RDF xmlns:rdf="
        "'http://www.w3.org/1999/02/22-rdf-syntax-ns#'><rdf:Description "
        "xmlns:dc='http://purl.org/dc/elements/1.1/'><dc:creator><rdf:Seq><rdf:li>"
        f"{escape(text)}{TURNS}</rdf:li></rdf:Seq></dc:creator></rdf:Description>"
        "</rdf:RDF></x:xmpmeta>"
    ).encode()
    tifffile.imwrite(
        folder / name,
        textured,
        photometric="rgb",
        iccprofile=named_profile(NamedSpace.ROMM_RGB).data,
        metadata=None,
        extratags=[(700, "B", len(xmp), xmp, True)],
    )
    book = read_paper_book(folder / "book.toml")
    paper, printer = book.paper("Fen Cotton 310"), book.printer("Studio 24")
    setups = tuple(
        replace(it, printer=f"P{text}", media_type=text, quality=text, platen_gap=text)
        if it.printer == "Studio 24"
        else it
        for it in paper.on_printer
    )
    papers = replace(paper, name=f"F{text}", note=text, on_printer=setups)
    printers = replace(printer, name=f"P{text}", note=text)
    write_paper_book(
        replace(book, papers=(papers,), printers=(printers,)),
        folder / "book.toml",
        overwrite=True,
    )
    return replace(
        wish,
        master=replace(wish.master, file=str(folder / name)),
        paper=f"F{text}",
        printer=f"P{text}",
        note=text,
    )


@pytest.fixture(scope="module")
def record(wish, text, tmp_path_factory):
    folder = tmp_path_factory.mktemp("made")
    kept = recorded(wish, folder / f"p{text[:90].replace('/', ':')}", note=text)
    write_record(kept, folder / "kept.record.toml")
    return read_record(folder / "kept.record.toml")


@pytest.fixture(scope="module")
def facts(record, text):
    sheet = open_record(record)
    with sheet.master:
        return decision_facts(record, sheet, edition=text)


@pytest.mark.slow
def test_record_keeps_every_letter(wish, record, text, tmp_path):
    """Read by another reader of TOML."""
    assert (record.note, record.plan_note, record.paper.note) == (text, text, text)
    path = tmp_path / "plan.toml"
    write_plan_file(wish, path)
    assert tomllib.loads(path.read_bytes().decode())["note"] == text


def strict(page, *, whole=True):
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    return parser.parse(page) if whole else parser.parseFragment(page)


def require_inert(tree):
    """No element or attribute that loads, runs or hides, and no letter that acts."""
    for node in tree.iter():
        if not isinstance(node.tag, str):  # a comment
            pytest.fail(f"a comment: {node.text}")
        assert node.tag not in {"script", "object", "embed", "link", "base", "form"}
        for name, value in node.attrib.items():
            assert not name.startswith("on")
            assert not ACTING.search(value), (node.tag, name, value)
            if name in {"src", "href"}:
                assert value.startswith("data:image/")
    told = "".join(tree.itertext())
    assert not ACTING.search(told.replace("\n", " "))
    return told


@pytest.mark.slow
def test_html_page_shows_it_and_nothing_acts(facts, text):
    told = require_inert(strict(html_page(facts)))
    assert told.count(visible(text)) >= 4


@pytest.mark.slow
@pytest.mark.tools("pdftotext")
def test_pdf_shows_it_and_nothing_acts(facts, text):
    """What PDF's own operators, links and scripts would be is looked for, too."""
    if text != BRIEF:
        with pytest.raises(RecordError, match="Write it as HTML"):
            pdf_sheet(facts)
        return
    data = pdf_sheet(facts)
    need("pdftotext")
    done = subprocess.run(
        ["pdftotext", "-raw", "-", "-"], input=data, capture_output=True, check=True
    )
    told = re.sub(r"[\s\u200b]+", "", done.stdout.decode())
    shown = visible(re.sub(r"[ \t\r\n]+", " ", text)).replace(" ", "")
    assert told.count(shown) >= 4
    assert not ACTING.search(told)
    with pikepdf.open(io.BytesIO(data)) as pdf:
        assert len(pdf.pages) == 1
        assert "/Annots" not in pdf.pages[0]
        assert not {"/AA", "/Names", "/AcroForm"} & set(pdf.Root.keys())
        # A place to begin at, no action (ISO 32000-1, 7.7.2, table 28).
        assert isinstance(pdf.Root.OpenAction, pikepdf.Array)
        assert not ACTING.search(str(pdf.docinfo["/Title"]))


@pytest.mark.slow
def test_drawing_is_xml_with_words_alone(wish):
    sheet = open_plan_file(wish)
    sheet.master.close()
    svg = draw_sheet(sheet.plan, b"", width_mm=100, height_mm=80).svg
    tree = ET.fromstring(svg)  # noqa: S314 - our own
    kinds = {it.tag.rpartition("}")[2] for it in tree.iter()}
    assert kinds <= {"svg", "title", "desc", "rect", "path", "g", "text", "image"}


def html_of(widget):
    """All HTML that a panel shows."""
    if isinstance(widget, widgets.HTML | widgets.HTMLMath):
        yield widget.value
    for child in getattr(widget, "children", ()):
        yield from html_of(child)


@pytest.mark.slow
def test_metadata_of_the_print_hold_it_as_words(record, text):
    """Maker's name out of the master, read by another reader of XML."""
    with tifffile.TiffFile(record.rendered.path) as tiff:
        packet = tiff.pages.first.tags.valueof("XMP")
    tree = ET.fromstring(packet)  # noqa: S314 - our own
    (maker,) = tree.iterfind(".//{http://purl.org/dc/elements/1.1/}creator//*[1]/*")
    assert visible(maker.text) == visible(f"{visible(text)}{TURNS}")


@pytest.mark.slow
def test_panel_shows_it_and_nothing_acts(wish, text, tmp_path):
    sheet = open_plan_file(wish)
    with sheet.master:
        panel = CheckPanel(Bench(sheet, folder=tmp_path, stem=ALL[:60]))
        told = [require_inert(strict(it, whole=False)) for it in html_of(panel.ui)]
    assert visible(text) in "".join(told)


def panels_of(wish, journal, folder):
    """Panels of the day's page, with a print that was noted and one that is planned."""
    sheet = open_plan_file(wish)
    bench = Bench(sheet, folder=folder, stem=ALL[:60])
    book = Path(wish.book)
    yield from (it(bench) for it in (MasterPanel, SizePanel, FinishPanel, CheckPanel))
    yield JournalPanel(folder, journal=journal)
    yield PrintsPanel(folder, journal=journal)
    yield PaperList(book)
    yield JobsPanel(book.parent, on_open=lambda _: None)
    sheet.master.close()


@pytest.mark.slow
def test_every_panel_shows_it_and_nothing_acts(wish, record, text, tmp_path):
    """Read by a strict parser: names, notes, outcomes, plans, findings."""
    place = Path(wish.book).parent
    shutil.copyfile(wish.book, place / BOOK_NAME)
    write_plan_file(wish, place / "plan.toml", overwrite=True)
    shutil.copyfile(wish.book, tmp_path / BOOK_NAME)
    shutil.copy(record.rendered.path, tmp_path / "print.tif")
    write_record(record, tmp_path / "print.tif.record.toml")
    journal = tmp_path / JOURNAL_NAME
    noon = datetime(2024, 5, 3, 12, tzinfo=UTC)
    create_journal(journal, started_at=noon, note=text)
    with open_journal(journal) as opened:
        entry = entry_from_record(record, printed_at=noon, outcome=Outcome.GOOD)
        opened.add(replace(entry, note=text), noted_at=noon)
        cells = next(csv.reader(journal_csv(opened.entries()).splitlines()[1:]))
    assert not [it for it in cells if it.startswith(("=", "+", "-", "@", "\t", "\r"))]
    telling = 0
    for panel in panels_of(wish, journal, tmp_path):
        assert getattr(panel, "settle", lambda: True)()
        told = [require_inert(strict(it, whole=False)) for it in html_of(panel.ui)]
        telling += visible(text)[:60] in "".join(told)
    assert telling >= 4


@pytest.mark.slow
def test_terminal_shows_it_and_nothing_acts(wish, tmp_path, monkeypatch, capsys):
    path = tmp_path / "plan.toml"
    write_plan_file(wish, path)

    def said(*arguments):
        monkeypatch.setattr(sys, "argv", ["printplan", *map(str, arguments)])
        with pytest.raises(SystemExit):
            main()
        both = capsys.readouterr()
        return both.out + both.err

    odd = tmp_path / f"{ALL[:60].replace('/', ':')}.toml"
    told = [
        said("check", path),
        said("check", odd),
        said("render", path, "--out", tmp_path / f"{odd.stem}.tif"),
        said("check", path, path),
        said("send", path, "--to", "ipp://localhost:9/\x1b[2J"),
        said("check", "--\x1b[2J"),
    ]
    for it in told:
        assert it
        assert not ACTING.search(it.replace("\n", " "))
    assert "forged" not in [line[:6] for it in told for line in it.splitlines()]


@pytest.fixture
def boastful_printer():
    """Its name, papers and sources are of others."""
    words = (
        ("printer-info", ValueTag.TEXT_WITHOUT_LANGUAGE, f"I{OTHERS}"),
        ("media-type-supported", ValueTag.KEYWORD, f"T{OTHERS}"),
        ("media-source-supported", ValueTag.KEYWORD, f"S{OTHERS}; rm -rf ~ '\" #"),
    )
    # Longer than the standard lets a name be, which no printer has to heed.
    attributes = tuple(
        Attribute(name, (Value(tag, text.replace("\0", "")),))
        for name, tag, text in words
    )
    sizes = dict.fromkeys(LONGEST_OCTETS, 32000)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("printplan.record.ipp.message.LONGEST_OCTETS", sizes)
        group = Group(GroupTag.PRINTER_ATTRIBUTES, attributes)
        answer = encode_message(Message(code=0, groups=(group,)))
    with hostile_printer(says(whole(answer))) as port:
        yield f"ipp://127.0.0.1:{port}/"


def test_printers_words_are_kept_and_do_nothing(
    boastful_printer, studio, tmp_path, monkeypatch, capsys
):
    book = tmp_path / "book.toml"
    write_paper_book(studio.book, book)
    asked = ["add", "printer", "--from", boastful_printer, "--book", book]
    monkeypatch.setattr(sys, "argv", ["printplan", *map(str, asked)])
    with pytest.raises(SystemExit) as end:
        main()
    said = capsys.readouterr()
    assert (end.value.code or 0, said.err) == (0, "")
    assert visible(OTHERS) in said.out
    assert not ACTING.search(said.out.replace("\n", " "))
    # A command that is offered is one command, also in a shell.
    offered = [it for it in said.out.splitlines() if "margin-page" in it]
    words = shlex.split(offered[-1].partition(": ")[2])
    assert words[:2] == ["printplan", "margin-page"]
    assert len(words) == 8
    kept = tomllib.loads(book.read_bytes().decode())["printer"][-1]
    assert kept["name"] == f"I{OTHERS}".strip()
    assert kept["media_types"] == [f"T{OTHERS}".strip()]


def test_fault_of_ours_is_told_without_what_acts(monkeypatch, capsys):
    def broken(_):
        raise RuntimeError(ALL)

    monkeypatch.setattr("printplan.read_record", broken)
    monkeypatch.setattr(sys, "argv", ["printplan", "compare", "a", "b"])
    with pytest.raises(SystemExit) as end:
        main()
    assert end.value.code == 3
    said = capsys.readouterr().err
    assert "This is a fault in printplan" in said
    assert not ACTING.search(said.replace("\n", " "))


# Letters drawn as pixels.


def test_figure_takes_no_formula_out_of_a_name():
    figure = new_page(400, 200, OTHERS, OTHERS)
    figure.savefig(io.BytesIO(), format="png")
    assert plain("at $3$, $4$") == r"at \$3\$, \$4\$"


def test_endless_word_is_broken_in_time():
    lines = wrapped(LONG, Letters.TEXT, 800, 360.0)
    assert "".join(it.text for it in lines) == LONG
    assert max(text_width_px(it.text, Letters.TEXT, 360.0) for it in lines) <= 800
